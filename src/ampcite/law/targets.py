"""What a layer of local law changes, told without reading it and the packs it changes whole."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, NamedTuple

import tomli

from ampcite.base.errors import PackError
from ampcite.house.part_types import part_types
from ampcite.law.files import EXAMPLES, content
from ampcite.law.section import plain

_TARGETS = ("parameter", "table", "rule")
_DEFINED = re.compile(r"""^\s*(?:id|name)\s*=\s*["']([^"']+)["']""", re.M)


class Targets(NamedTuple):
    """What a layer changes: names of figures, tables and rules; numbers of sections and paths of facts that it sets."""

    names: set[str]
    places: set[str]


def targets(where: Path) -> Targets:
    """What a layer changes, as far as its files can be read."""
    out, places = set[str](), set[str]()
    for value in _tables(where):
        changes = value.get("amend", [])
        for one in changes if isinstance(changes, list) else []:
            said: dict[str, Any] = one if isinstance(one, dict) else {}
            out |= {said[key] for key in _TARGETS if isinstance(said.get(key), str)}
            listed = said.get("rules", [])
            out |= {name for name in listed if isinstance(name, str)} if isinstance(listed, list) else set()
            places |= {plain(said["section"])} if isinstance(said.get("section"), str) else set()
            places |= {said["fact"].strip("/").lower()} if isinstance(said.get("fact"), str) else set()
    return Targets(out, places)


def _tables(where: Path) -> list[dict[str, Any]]:
    try:
        files = content(where)
    except PackError:
        return []
    out = []
    for name, data in files.items():
        if name.endswith(".toml") and not name.endswith(EXAMPLES):
            try:
                out.append(tomli.loads(data.decode("utf-8-sig")))
            except (ValueError, RecursionError):
                continue
    return out


def quantities_read(where: Path) -> set[str]:
    """What the changes and rules of a layer read that is no fact of a description: quantities, by the ends of paths."""
    given = {path.rpartition("/")[2] for kind in part_types().values()
             for path in (*kind.fields, *kind.groups, *kind.children)}  # fmt: skip
    ends = set[str]()
    for value in _tables(where):
        for kind in ("amend", "rule", "derived"):
            for one in value[kind] if isinstance(value.get(kind), list) else []:
                inputs = one.get("inputs") if isinstance(one, dict) else None
                paths = inputs.values() if isinstance(inputs, dict) else ()
                ends |= {path.rpartition("/")[2] for path in paths if isinstance(path, str)}
    return {end for end in ends if end.isidentifier()} - given


def hits(where: Path, wanted: Targets) -> set[str]:
    """The names among those wanted that a pack defines, and the sections and facts that it speaks of."""
    try:
        files = content(where)
    except PackError:
        return set()
    texts = [data.decode("utf-8-sig", "replace") for name, data in files.items()
             if name.endswith(".toml") and not name.endswith(EXAMPLES)]  # fmt: skip
    found = {name for text in texts for name in _DEFINED.findall(text)} & wanted.names
    return found | {place for place in wanted.places if any(place in text.lower() for text in texts)}
