"""What many tests use: packs loaded once a process, rulebooks, shipped houses, and years as the test data say them.

Plain functions rather than fixtures, because lists of cases and strategies of hypothesis need them too.
"""

from __future__ import annotations

import copy
import json
import os
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import pint
import pytest

import ampcite
from ampcite.base.editions import BUILDING, ELECTRICAL
from ampcite.base.resources import houses, plan_sets
from ampcite.house.change import LEFT_OUT, change
from ampcite.house.part_types import Group, PartType, models, part_types
from ampcite.house.phrase import parse
from ampcite.house.values import merged
from ampcite.house.write import barred
from ampcite.law import load
from ampcite.law.load import ReadPack, load_pack
from ampcite.law.records import Pack, Rule
from ampcite.law.registry import pack_folders

SHARE = float(os.environ.get("AMPCITE_EXAMPLES", "0.04"))
"""What share of a property's examples hypothesis tries: 1 among the exhaustive tests; more than 1 explores."""

T = TypeVar("T")

TESTS = Path(__file__).parent
ROOT = TESTS.parent
SHIPPED = {path.stem: path for path in houses()}
"""The files of the shipped houses, by name."""

LAWFUL = {path.stem: path for path in [*plan_sets(), *sorted((TESTS / "houses" / "lawful").glob("*.json"))]}
"""The files of the lawful houses unlike the shipped ones, the shipped plan set among them, by name."""

FOLDERS: Mapping[str, Path] = pack_folders()


def read_once(read: Callable[[Path], ReadPack]) -> Callable[[Path], ReadPack]:
    """A reader of packs that reads those of this project once: they do not change while tests run."""
    known = cache(read)
    own = frozenset(FOLDERS.values())
    return lambda where: known(where) if where in own else read(where)


load.read_pack = read_once(load.read_pack)
PACKS: Mapping[str, Pack] = {name: load_pack(folder) for name, folder in FOLDERS.items()}
"""Every pack of this project, by the name of its folder."""

KNOWN: Mapping[str, tuple[int, ...]] = {
    code: tuple(sorted({year for pack in PACKS.values() for year in pack.editions[code]}))
    for code in (ELECTRICAL, BUILDING)
}
"""The editions that the packs know, by code."""

EDITIONS = KNOWN[ELECTRICAL]


def both(edition: int) -> dict[str, int]:
    """An edition of the electrical code and the residential and fire codes that are tried beside it."""
    beside = max(year for year in KNOWN[BUILDING] if year <= edition + 1)
    return {ELECTRICAL: edition, BUILDING: beside}


@cache
def rulebook(edition: int, packs: tuple[str, ...] | None = None, code: str = "") -> ampcite.Rulebook:
    """The rules of packs (of all that are no local law) at an edition.

    Args:
        edition: the year of the electrical code, or of the code named.
        packs: names of packs.
        code: the one code asked; "" for both, the residential and fire codes of about the same year beside it.
    """
    return ampcite.load({code: edition} if code else both(edition), packs)


@cache
def judged(edition: int, packs: tuple[str, ...]) -> tuple[str, ...]:
    """The rules of some packs among those of all, so that one rulebook does for every mistake."""
    named = {rule for name in packs for rule in PACKS[name].rules}
    return tuple(rule.id for rule in rulebook(edition).bound.rules if rule.id in named)


def examples(count: int) -> int:
    """How many of a property's examples are tried; the same ones in every run, unless it explores."""
    return max(5, round(count * SHARE))


def sample(cases: Iterable[T], one_in: int) -> Any:
    """A mark for what is tried in many cases: one in so many of them, all among the exhaustive tests."""
    whole = list(cases)
    return [pytest.param(case, marks=pytest.mark.sampled) for case in (whole if SHARE >= 1 else whole[::one_in])]


@cache
def pint_units() -> Any:
    """The units of pint, which take a fifth of a second to make."""
    return pint.UnitRegistry()


@cache
def _text(name: str) -> str:
    return SHIPPED[name].read_text("utf-8")


def shipped_house(name: str) -> dict[str, Any]:
    """A shipped house, made anew, to be changed at will."""
    house: dict[str, Any] = json.loads(_text(name))
    return house


def years(said: str) -> tuple[int, ...]:
    """The editions that test data name: "2017", "2014 to 2020", "from 2023", several of them after semicolons.

    What holds "from" an edition holds for all later ones the packs know, so that a new edition changes no line but
    those it makes untrue.
    """
    out: list[int] = []
    for piece in said.split("; "):
        words = piece.split()
        first, last = int(words[-1 if words[0] == "from" else 0]), int(words[-1])
        known = next(found for found in KNOWN.values() if first in found and (words[0] == "from" or last in found))
        out += [year for year in known if first <= year and (words[0] == "from" or year <= last)]
    if sorted(set(out)) != out:
        raise ValueError(f"editions {said!r} are not in their order, each once")
    return tuple(out)


def plain(document: dict[str, Any]) -> dict[str, Any]:
    """A description with every fact at its part, conductors as objects and lists as arrays."""
    said = {key: value for key, value in document.items() if key not in ("equipment", "catalogue")}
    return _plain(said, part_types()[""].body, document.get("equipment", {}))


def _plain(value: dict[str, Any], group: Group, equipment: dict[str, Any]) -> dict[str, Any]:
    out = {}
    for key, item in value.items():
        if key in group.groups and isinstance(item, str):
            how = group.groups[key].phrase
            assert how is not None
            out[key] = {k: int(v) if k == "parallel_sets" else v for k, v in parse(how, item).items()}
        elif key in group.groups and item is not None:
            out[key] = _plain(item, group.groups[key], equipment)
        elif key in group.lists and not group.lists[key].entries:
            word = next((w for w in ("all", "only") if w in item), "")
            kind, each, rows = group.lists[key], item.get("each", {}) if word else {}, item[word] if word else item
            out[key] = [
                _plain(merged({**_of_each(each, one, kind), **_of_model(one, kind, value, i, equipment)}, one),
                       kind.body, equipment)
                for i, one in enumerate(rows)
            ]  # fmt: skip
        else:
            out[key] = item
    return out


def _of_each(each: dict[str, Any], one: dict[str, Any], kind: PartType) -> dict[str, Any]:
    """What is said for each part of a list and can belong to this one."""
    return {key: said for key, said in each.items() if not barred({**each, **one}, kind, key)}


def _of_model(one: dict[str, Any], kind: PartType, above: dict[str, Any], i: int,
              equipment: dict[str, Any]) -> dict[str, Any]:  # fmt: skip
    if kind.model is None:
        return {}
    owner, name = (kind.parent, above.get("model")) if kind.model_key else (kind, one.get("model"))
    said = equipment.get(owner.name.replace("/", ".") if owner else "", {}).get(name, {})
    if kind.model_key:
        said = said.get(kind.model_key, {})
        return said[i] if isinstance(said, list) else said
    return {key: item for key, item in said.items() if key in kind.model.fields}


def steps(run: Callable[[], object]) -> int:
    """How many lines of Python a call runs: a count of work that no machine changes."""
    count = 0

    def trace(frame: object, event: str, arg: object) -> Any:
        nonlocal count
        count += event == "line"
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        run()
    finally:
        sys.settrace(before)
    return count


def filled(text: str) -> str:
    """A file of a new pack with its placeholders filled in."""
    return re.sub(r'(?<=")\[([a-z][a-z ]*)\]', r"\1", text)


def rests_on(packs: list[Pack], one: Rule) -> set[str]:
    """The words of a rule and of the quantities it rests on, the names of figures, tables and quantities among them."""
    quantities = {name: d for pack in packs for name, d in pack.derived.items()}
    sentences = [text for by in (one.passes, one.fails, one.remedy) for text in by.texts.values()]
    scopes = [formula for _, formula in one.scopes]
    texts = [one.applies, *scopes, one.holds, *one.let.values(), *one.inputs.values(), *sentences]
    names = _words([*texts, *(f"{w.holds} {w.says}" for w in one.alternatives)])
    seen: set[str] = set()
    while more := {name for name in names - seen if name in quantities}:
        seen |= more
        for name in more:
            d = quantities[name]
            said = [" ".join([c.when, c.value, c.says, *c.let.values()]) for c in d.cases]
            names |= _words([*said, *d.inputs.values()])
    return names


def _words(texts: list[str]) -> set[str]:
    return set(re.findall("[a-z_][a-z0-9_]*", " ".join(texts)))


def prune(value: Any, group: Group, said: dict[str, Any]) -> None:
    """Takes out of a part what can't belong to it by what it says itself; most of what the reader would refuse."""
    above = f"{group.path}/" if group.path else ""
    for key in [key for key in value if barred(said, group.part_type, above + key)]:
        del value[key]
    for key, below in group.groups.items():
        if isinstance(value.get(key), dict):
            prune(value[key], below, said)
    for key, child in group.lists.items():
        rows = value.get(key)
        each = rows.get("each", {}) if isinstance(rows, dict) else {}
        prune(each, child.body, {})  # what is said for each holds for those parts it can belong to
        for one in rows.get("all", rows.get("only", ())) if isinstance(rows, dict) else rows or ():
            prune(one, child.body, merged(each, one))


def fitting(document: dict[str, Any]) -> dict[str, Any]:
    """The description without what can't belong to its parts, for those who draw or change facts one by one."""
    out = copy.deepcopy(document)
    prune(out, part_types()[""].body, out)
    for name, kind in models().items():
        for one in out.get("equipment", {}).get(name, {}).values():
            prune(one, kind.model or kind.body, one)
    while True:
        try:
            ampcite.read(out)
            return out
        except ampcite.InputError as fault:
            places = {c.place for c in fault.complaints if c.message.endswith("leave it out")}
            if not places:
                raise
            left = copy.deepcopy(out)
            for place in sorted(places, reverse=True):
                *way, last = [step.replace("~1", "/").replace("~0", "~") for step in place.split("/")[1:]]
                here: Any = out
                try:
                    for step in way:
                        here = here[int(step)] if isinstance(here, list) else here[step]
                    del here[int(last) if isinstance(here, list) else last]
                except KeyError:  # it is said for each part of a list, and was refused there too
                    continue
            if out == left:
                raise


# --- broken houses --------------------------------------------------------------------------------------------

def _in_examples() -> Iterator[dict[str, Any]]:
    """The mistakes that examples of rules make in a shipped house: that rule answers, and no other of its pack."""
    for name, pack in PACKS.items():
        for rule in pack.rules.values():
            for one in rule.examples:
                if one.house and one.verdict in ("fail", "warn"):
                    asked = {y: both(y)[rule.code] for y in EDITIONS if both(y)[rule.code] in pack.editions[rule.code]}
                    fires = [y for y, edition in asked.items()
                             if rule.in_force(edition) and edition in (one.editions or (edition,))]  # fmt: skip
                    told = {"house": one.house, "name": one.says, "packs": [name],
                            "set": {f"/{k}": None if v == "none" else v for k, v in one.given.items()}}  # fmt: skip
                    for editions, broken in ((fires, [rule.id]), (asked.keys() - fires, [])):
                        if editions:
                            fails, warns = (broken, []) if one.verdict == "fail" else ([], broken)
                            yield {**told, "editions": tuple(sorted(editions)), "fails": fails, "warns": warns}


BROKEN: list[dict[str, Any]] = [
    {**one, "packs": file["packs"], "editions": years(one["editions"])}
    for path in sorted((TESTS / "houses" / "broken").glob("*.json"))
    for file in [json.loads(path.read_text("utf-8"))]
    for one in file["entries"]
]
"""Mistakes, each with the packs it is judged by: those its file names, or the pack of the rule it is an example of."""
BROKEN += _in_examples()


def changed(document: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """The document with values put in; a pointer one past the end of a list adds to it."""
    for pointer, value in changes.items():
        after = change(document, pointer, value)
        assert after != document, f"{pointer} is so already"
        document = after
    return document


def broken(one: dict[str, Any]) -> dict[str, Any]:
    """The shipped house with the mistake in it."""
    return with_mistake(shipped_house(one["house"]), one)


def with_mistake(document: dict[str, Any], one: dict[str, Any]) -> dict[str, Any]:
    """A house with a mistake in it: what is set, and what is left out."""
    document = changed(document, one["set"])
    for pointer in one.get("leave_out", ()):
        document = change(document, pointer, LEFT_OUT)
    return document
