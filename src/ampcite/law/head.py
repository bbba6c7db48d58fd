"""The head of a pack: what can be told of it without reading it whole."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from ampcite.base.cache import key_of, read_cache, write_cache
from ampcite.law.files import content


class Head(NamedTuple):
    """What can be told of a pack without reading it whole.

    Attributes:
        needs: packs whose figures and quantities it uses.
        layer: whether an authority speaks in it; then it is a layer of local law.
    """

    name: str
    needs: tuple[str, ...]
    layer: bool


def head(where: Path) -> Head:
    """The head of a pack; an empty one where it can't be read (loading says why)."""
    try:
        stat = (where if where.is_file() else where / "pack.toml").stat()
    except (OSError, ValueError):
        return Head(where.stem, (), False)
    return _read(where, stat.st_size, stat.st_mtime_ns)


@lru_cache(maxsize=256)
def _read(where: Path, *stamp: int) -> Head:
    """The head of a pack whose file has a size and a time of its last change. Kept between runs."""
    key = key_of("head", str(where), *stamp)
    data = read_cache(key)
    if data is None:
        found = _parsed(where)
        write_cache(key, json.dumps(found).encode())
        return found
    name, needs, layer = json.loads(data)
    return Head(name, tuple(needs), layer)


def _parsed(where: Path) -> Head:
    import tomli

    try:
        data = content(where)["pack.toml"] if where.is_file() else (where / "pack.toml").read_bytes()
        whole = tomli.loads(data.decode("utf-8-sig"))
        needs = tuple(n for n in whole["pack"].get("needs", ()) if isinstance(n, str))
        return Head(str(whole["pack"]["name"]), needs, "authority" in whole)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return Head(where.stem, (), False)
