"""A layer carried over to other editions: the files of a second pack, while the first judges old applications."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

import tomli

from ampcite.base.editions import BUILDING, CODES, ELECTRICAL, Editions, codes_in_words
from ampcite.law.files import EXAMPLES, content
from ampcite.law.migrate import GROWN, MOVED, OUT, MigrationStatus
from ampcite.law.records import Pack

NOT_YET = "2999-01-01"
"""The first application date of a draft until somebody says it."""

_OF_BEFORE = re.compile(r"(?m)^# (?:Carried over to |to decide: )[^\n]*\n\n?")
"""What an earlier draft said; the one made of it says it anew, where it still holds."""


def draft(layer: Pack, found: Sequence[MigrationStatus], editions: Editions, begins: str = "") -> dict[str, str]:
    """The files of a layer carried over: what it expects put right, what falls away as a comment where it stood.

    It has a name, a version and an adoption of its own, for the same jurisdiction.

    Args:
        layer: the layer.
        found: what becomes of each change.
        editions: the editions it is carried over to.
        begins: the first application date under them, year-month-day; "" where it is not known yet.
    """
    import tomlkit

    assert layer.authority is not None
    by_id = {status.id: status for status in found}
    out = {}
    for name, data in content(Path(layer.folder)).items():
        text = _OF_BEFORE.sub("", data.decode("utf-8-sig"))
        if name.endswith(EXAMPLES):
            whole = tomlkit.parse(text)
            for key in [key for key in whole if key in by_id and by_id[key].outcome in OUT]:
                whole.remove(key)
            text = tomlkit.dumps(whole)
        elif name.endswith(".toml"):
            text = "".join(_block(block, by_id) for block in _blocks(text))
            if name == "pack.toml":
                text = _head(text, layer, editions, begins)
        out[name] = text
    return out


def name_of(layer: Pack, editions: Editions) -> str:
    """The name of the second pack: that of the first with the year of what changes."""
    assert layer.authority is not None
    years = [str(year) for code, year in editions.items() if layer.authority.against.get(code) != year]
    return "-".join([re.sub(r"(-\d{4})+$", "", layer.name), *(years or [str(max(editions.values()))])])


def _blocks(text: str) -> list[str]:
    """A TOML file cut before each table, its comments with the table they stand above."""
    cut = re.split(r"(?m)^(?=(?:#[^\n]*\n)*\[)", text)
    return [piece for piece in cut if piece]


def _block(text: str, by_id: Mapping[str, MigrationStatus]) -> str:
    import tomlkit

    changes = tomli.loads(text).get("amend", [])
    status = by_id.get(changes[0]["id"]) if changes else None
    if status is None or "id" not in changes[0]:
        return "" if re.search(r"(?m)^\[\[adoption\]\]", text) else text
    if status.outcome in OUT:
        gone = [f"# {line}".rstrip() for line in text.strip().splitlines()]
        lines = [f"# left out: {status.id}: {status.words}", *gone]
        return "\n".join(lines) + "\n\n"
    whole = tomlkit.parse(text)
    one = whole["amend"][0]
    if status.expects and "expects" in one:
        one["expects"] = status.expects
    if status.rules:
        one["section"] = status.section
        one["rules"] = list(status.rules)
    decide = status.outcome in (MOVED, GROWN) or not status.sure
    return (f"# to decide: {status.id}: {status.words}\n" if decide else "") + tomlkit.dumps(whole)


def _head(text: str, layer: Pack, editions: Editions, begins: str) -> str:
    import tomlkit

    assert layer.authority is not None
    whole = tomlkit.parse(text)
    pack, authority = whole["pack"], whole["authority"]
    pack["name"], pack["version"] = name_of(layer, editions), "0.1.0"
    for code in authority["against"]:
        authority["against"][code] = editions[code]
    authority["jurisdiction"] = layer.authority.jurisdiction or layer.name
    for key, code in (("editions", ELECTRICAL), ("building_editions", BUILDING)):
        listed = pack.get(key)
        if listed is not None and code in editions and editions[code] not in listed:
            listed.append(editions[code])
    others = [name for adoption in layer.adoptions[-1:] for name in adoption.layers if name != layer.name]
    lines = [f"# Carried over to {codes_in_words(editions)}. The old pack goes on judging applications of before.",
             "", tomlkit.dumps(whole).strip(), "", "[[adoption]]",
             f'begins = "{begins or NOT_YET}"' + ("" if begins else "   # the first day of application"),
             *(f"{code} = {editions[code]}" for code in CODES if code in editions),
             f"layers = {json.dumps([name_of(layer, editions)])}"
             + (f"   # before also {', '.join(others)}" if others else ""),
             'ordinance = "[number of the ordinance]"']  # fmt: skip
    return "\n".join(lines) + "\n"
