"""What is kept on disk between runs: bytes under a key, in the user's cache folder.

``AMPCITE_CACHE`` names another folder by its full path; empty turns it off. Nothing here is ever needed: what is not
there, is damaged, or might be somebody else's is made anew.

What is kept may hold code, so a folder is used only where nobody but its user and the system could have put or moved
anything: it and every folder above it belong to one of them and are closed to other writers. A relative path would
lead into whatever folder the command is run in, and is not used; nor is a named folder where owners can't be told.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import stat
import sys
import time
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

from ampcite.base.resources import shipped

_DIGEST = 32
_KEPT_SECONDS = 30 * 24 * 3600
"""How long what is kept, or was left by a run that was cut off, stays: until something is kept after that."""


def key_of(*what: object) -> str:
    """What something is kept under that this package, as it is, makes of its schemas and of what is named besides;
    "" where nothing may be kept."""
    if _folder() is None:
        return ""
    return hashlib.sha256(repr((what, _own_stamps(), sys.version)).encode("utf-8", "surrogatepass")).hexdigest()


@lru_cache(maxsize=1)
def _own_stamps() -> list[str]:
    return [*stamps_of(Path(__file__).parent.parent, (".py",)), *stamps_of(shipped("schemas"), (".json",))]


def stamps_of(where: Path, endings: tuple[str, ...]) -> list[str]:
    """The files of a folder, or the one file, each with its size and the time of its last change.

    As Python does for its own compiled files, a file is taken to be as it was while these are.
    """
    if where.is_file():
        stat = where.stat()
        return [f"{where}\0{stat.st_size}\0{stat.st_mtime_ns}"]
    out, waiting = [], [str(where)]
    while waiting:
        folder = waiting.pop()
        with os.scandir(folder) as found:
            for entry in found:
                if entry.is_dir():
                    waiting.append(entry.path)
                elif entry.name.endswith(endings):
                    stat = entry.stat()
                    out.append(f"{entry.path}\0{stat.st_size}\0{stat.st_mtime_ns}")
    return sorted(out)


def read_cache(key: str) -> bytes | None:
    """What was kept under a key; None where nothing was, where it is damaged, or where others may have written it."""
    if not key:
        return None
    try:
        folder = _folder()
        if folder is None or not _closed(folder):
            return None
        file = os.open(folder / f"{key}.rules", os.O_RDONLY | _NO_LINK | _BINARY)
        with os.fdopen(file, "rb", buffering=0) as kept:
            if not _own(os.fstat(file)):
                return None
            digest, data = kept.read(_DIGEST), kept.read()
    except OSError:
        return None
    return data if digest == _digest(key, data) else None


def write_cache(key: str, data: bytes) -> None:
    """Keeps bytes under a key, where that can be done; what is older than a month goes."""
    if not key:
        return
    with contextlib.suppress(OSError):
        folder = _folder()
        if folder is None:
            return
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not _closed(folder):
            return
        with _new(folder) as new:
            new.write_bytes(_digest(key, data) + data)
            new.replace(folder / f"{key}.rules")
        _sweep(folder)


_NO_LINK = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
_BINARY = getattr(os, "O_BINARY", 0)


def _digest(key: str, data: bytes) -> bytes:
    whole = hashlib.sha256(key.encode())
    whole.update(data)
    return whole.digest()


@contextlib.contextmanager
def _new(folder: Path) -> Iterator[Path]:
    """A new file of a name nobody can foretell; gone at the end, unless it got its own name by then."""
    path = folder / f"{os.urandom(16).hex()}.new"
    os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    try:
        yield path
    finally:
        path.unlink(missing_ok=True)


def _sweep(folder: Path) -> None:
    before = time.time() - _KEPT_SECONDS
    for path in folder.iterdir():
        with contextlib.suppress(OSError):
            if path.suffix in (".rules", ".new") and path.lstat().st_mtime < before:
                path.unlink()


def _folder() -> Path | None:
    """The cache folder, its links followed; None where there is none to be used."""
    named = os.environ.get("AMPCITE_CACHE")
    if named is None:
        import platformdirs

        try:
            named = platformdirs.user_cache_dir("ampcite", appauthor=False)
        except (RuntimeError, KeyError):  # no home
            return None
    elif os.name != "posix":
        return None
    return Path(os.path.realpath(named)) if os.path.isabs(named) else None


def _closed(folder: Path) -> bool:
    """Whether nobody but the user and the system could have put anything into a folder, or a folder in its place."""
    if os.name != "posix":
        return True
    above = [path.stat() for path in folder.parents]
    return _own(folder.stat()) and all(
        one.st_uid in (0, os.getuid()) and (not one.st_mode & 0o022 or one.st_mode & stat.S_ISVTX) for one in above
    )


def _own(one: os.stat_result) -> bool:
    return os.name != "posix" or (one.st_uid == os.getuid() and not one.st_mode & 0o022)
