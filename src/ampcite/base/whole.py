"""Files that are there whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path


def write_whole(path: Path, data: bytes | Iterable[bytes]) -> None:
    """Writes a file beside its place, and moves it there when it is whole and on the disk; nobody sees half of it.

    Args:
        path: its place.
        data: its bytes, or its pieces one after the other.

    Raises:
        OSError: when it can't be written; what was there before is left as it was.
    """
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:40]}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.writelines((data,) if isinstance(data, bytes) else data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, 0o666 & ~_umask())
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
