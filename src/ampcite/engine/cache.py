"""What is kept on disk between runs: bytes under a key, in the user's cache folder.

``AMPCITE_CACHE`` names another folder; empty turns it off. Nothing here is ever needed: what is not there, or can't be
trusted, is made anew.
"""

from __future__ import annotations

import os
from pathlib import Path


def read_cache(key: str) -> bytes | None:
    """What was kept under a key; None where nothing was, or where others may have written it."""
    folder = _folder()
    if folder is None:
        return None
    path = folder / f"{key}.rules"
    try:
        if os.name == "posix":
            for one in (folder.stat(), path.stat()):
                if one.st_uid != os.getuid() or one.st_mode & 0o022:
                    return None
        return path.read_bytes()
    except OSError:
        return None


def write_cache(key: str, data: bytes) -> None:
    """Keeps bytes under a key, where that can be done."""
    folder = _folder()
    if folder is None:
        return
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        new = folder / f"{key}.{os.getpid()}.new"
        with os.fdopen(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as out:
            out.write(data)
        new.replace(folder / f"{key}.rules")
    except OSError:
        return


def _folder() -> Path | None:
    named = os.environ.get("AMPCITE_CACHE")
    if named == "":
        return None
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_cache_dir("ampcite", appauthor=False))
