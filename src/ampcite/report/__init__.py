"""Reports written for their readers: every module ``as_NAME`` in here is a writer, and is found by that.

What a writer has is told by :class:`ampcite.report.entries.Writer`.
"""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, cast

if TYPE_CHECKING:
    from ampcite.report.entries import Writer

_PREFIX = "as_"


def writers() -> tuple[str, ...]:
    """The names of the writers, "text" first."""
    found = [path.stem.removeprefix(_PREFIX) for folder in __path__ for path in Path(folder).iterdir()
             if path.stem.startswith(_PREFIX)]  # fmt: skip
    return tuple(sorted(found, key=lambda name: (name != "text", name)))


def writer(name: str) -> Writer:
    """The writer of a name that :func:`writers` gives."""
    return cast("Writer", import_module(f"{__name__}.{_PREFIX}{name}"))
