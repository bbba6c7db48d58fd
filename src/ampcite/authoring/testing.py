"""A rule's examples are its tests: this room turns them into descriptions and says whether each holds.

An example describes what its rule reads and no more, or names a shipped house and what is changed in it. In an example
the text ``none`` stands for JSON's ``null``, ``any figure`` for a number that must not matter (1 and 1000 are tried, or
the ends of what the field takes; ``any figure from 2 to 40``: these), ``either 10 AWG or 4 AWG`` for a text of which it
must not matter which it is, and a part that gets no id goes by its place: ``circuits/0`` is ``circuits-0``.
"""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Any

import attrs

from ampcite.base.editions import Editions
from ampcite.base.errors import Complaint, InputError, PackError
from ampcite.base.resources import load_house
from ampcite.engine.check import check
from ampcite.engine.findings import Finding
from ampcite.engine.rulebook import Rulebook
from ampcite.house.change import change as changed
from ampcite.house.part_types import Group, part_types, place_field
from ampcite.house.parts import Description
from ampcite.house.read import read
from ampcite.house.write import written
from ampcite.language.logic import close, worst
from ampcite.language.quantities import read_quantity
from ampcite.law.changes import Amendment
from ampcite.law.overlay import amend
from ampcite.law.records import Example, Pack, Rule

ANY = re.compile(r"any figure(?: from ([0-9.]+))?(?: to ([0-9.]+))?")
EITHER = re.compile(r"either (.+) or (.+)")


@attrs.frozen
class Trial:
    """One description an example stands for, and what is expected of it.

    Attributes:
        edition: the edition of the rule's own code that is tried.
        editions: that, and the latest the pack knows of the other.
        date: the date of the application, where changes of local law depend on it.
        expected: the verdict; "" where the rule must not apply; "kept" or "broken" at either side of a limit.
        margin: what the finding's margin must be, where the example is at its limit (0).
        figures: figures the finding must show.
        worked: words that a worked line, the finding's sentence or one of its clauses must hold.
    """

    rule: str
    edition: int
    editions: Editions
    date: str
    says: str
    document: Mapping[str, Any]
    expected: str
    margin: float | None = None
    figures: Mapping[str, float | str] = attrs.Factory(dict)
    worked: str = ""


def trials(pack: Pack, rule: Rule) -> Iterator[Trial]:
    """The trials of a rule's examples, for every edition each is meant for."""
    for example in rule.examples:
        yield from trials_of(pack, rule, example)


def trials_of(pack: Pack, rule: Rule, example: Example) -> Iterator[Trial]:
    """The trials of one example of a rule, for every edition it is meant for."""
    for edition in example.editions or _editions(pack, rule):
        editions = pack.authority.against if pack.authority else {**_latest(pack), rule.code: edition}
        yield from _of_one(rule, edition, editions, "", example)


def local_trials(layer: Pack, change: Amendment, rules: Mapping[str, Rule], date: str) -> Iterator[Trial]:
    """The trials of the examples of a layer's change, at the editions it is written against.

    Args:
        layer: a layer of local law.
        change: the change.
        rules: the rules of the layer and of the packs it changes, as the layer leaves them.
        date: a date on which the change holds; "" where that does not matter.
    """
    assert layer.authority is not None
    against = layer.authority.against
    for name, example in change.tests:
        rule = rules[name]
        yield from _of_one(rule, against[rule.code], against, date, example)


def layer_trials(layer: Pack, bases: Sequence[Pack], file: str | None = None) -> Iterator[Trial]:
    """The trials of a layer's own rules and of its changes, each on a date on which it holds.

    Args:
        layer: a layer of local law.
        bases: the packs it changes, and those they need.
        file: only what stands in this file of the layer.
    """
    assert layer.authority is not None
    usual = max((change.some_date for change in layer.amendments), default="")
    for rule in layer.rules.values():
        if file in (None, rule.file):
            yield from (attrs.evolve(trial, date=usual) for trial in trials(layer, rule))
    for change in layer.amendments:
        if file in (None, change.file):
            date = change.some_date or usual
            law = amend(bases, [layer], layer.authority.against, date)
            yield from local_trials(layer, change, {n: r for p in law for n, r in p.rules.items()}, date)


def _of_one(rule: Rule, edition: int, editions: Editions, date: str, example: Example) -> Iterator[Trial]:
    said = repr(example.given)
    for i in range(2 if ANY.search(said) or EITHER.search(said) else 1):
        given = {path: _filled(value, path, i) for path, value in example.given.items()}
        yield from _of_figures(rule, edition, editions, date, attrs.evolve(example, given=given))


def _filled(value: Any, path: str, i: int) -> Any:
    """A value with the small figure (0) or the large one (1) that its field takes, where it may be any; of two, one."""
    if isinstance(value, Mapping):
        return {key: _filled(one, f"{path}/{key}", i) for key, one in value.items()}
    if isinstance(value, list):
        return [_filled(one, f"{path}/{at}", i) for at, one in enumerate(value)]
    if not isinstance(value, str):
        return value
    if two := EITHER.fullmatch(value):
        return two[1 + i]
    found = ANY.fullmatch(value)
    if found is None:
        return value
    field = place_field(path)
    if field is not None and field.choices:
        return (field.choices[0], field.choices[-1])[i]
    least, most = (None, None) if field is None or field.kind == "outline" else (field.low, field.high)
    small, large = json.loads(found[1] or "1"), json.loads(found[2] or "1000")
    if not found[1] and (field is None or not field.whole):
        small = large / 1000
    return (small if least is None else max(small, least), large if most is None else min(large, most))[i]


def _of_figures(rule: Rule, edition: int, editions: Editions, date: str, example: Example) -> Iterator[Trial]:
    if not example.vary:
        described = _described(example, example.given)
        yield Trial(rule.id, edition, editions, date, example.says, described, example.verdict or "",
                    figures=example.figures, worked=example.worked)  # fmt: skip
        return
    at, step = _numbers(example)
    up = example.passes in ("at or above", "above")
    open_ended = example.passes in ("above", "below")
    bad = "fail" if rule.force == "requirement" else "warn"
    for value, good, where in (
        (at, not open_ended, "at the limit"),
        (at + step, up, "a step above"),
        (at - step, not up, "a step below"),
    ):
        given = {**example.given, example.vary: value}
        says = f"{example.says or example.vary}, {where}"
        yield Trial(rule.id, edition, editions, date, says, _described(example, given), "pass" if good else bad,
                    0.0 if where == "at the limit" and not open_ended else None,
                    {} if good else example.figures, example.worked if good else "")  # fmt: skip


def _described(example: Example, given: Mapping[str, object]) -> Mapping[str, Any]:
    """The description of an example: what it gives and no more, or the shipped house it names, changed by that."""
    if not example.house:
        return document(given)
    out: Mapping[str, Any] = load_house(example.house)
    for path, value in given.items():
        try:
            out = changed(out, f"/{path}", None if value == "none" else value)
        except (KeyError, IndexError):
            said = f'sets "{path}", of which the house {example.house} has no such place'
            raise PackError([Complaint("", f'example "{example.says}"', said)]) from None
    return out


def _editions(pack: Pack, rule: Rule) -> list[int]:
    """The editions at which a rule's examples are tried: of a layer of local law, the one it is written against."""
    if pack.authority:
        return [pack.authority.against[rule.code]]
    return [e for e in pack.editions[rule.code] if rule.in_force(e)]


def _latest(pack: Pack) -> dict[str, int]:
    return {code: max(years) for code, years in pack.editions.items() if years}


def answer(rulebook: Rulebook, trial: Trial) -> tuple[str, tuple[Finding, ...]]:
    """What the rule answers to a trial: its worst verdict, "" where it does not apply, and its findings."""
    if trial.rule in dict(rulebook.bound.not_in_force):
        return "", ()
    found = check(rulebook, _read(json.dumps(trial.document)), rules=[trial.rule]).of(trial.rule)
    return (worst(f.verdict for f in found).value if found else ""), found


@lru_cache(maxsize=16)
def _read(text: str) -> Description:
    """A description, read once for the editions at which it is tried one after the other."""
    return read(json.loads(text))


def faults(rulebook: Rulebook, trial: Trial) -> list[str]:
    """What is wrong with the answer to a trial; empty where all is as expected."""
    try:
        got, found = answer(rulebook, trial)
    except InputError as error:
        return [f"describes what can't be: {one.place.removeprefix('/')} {one.message}" for one in error.complaints]
    out = []
    if got != trial.expected:
        out.append(f'answers "{got or "does not apply"}", expected "{trial.expected or "does not apply"}"')
    if any(f.missing for f in found):
        out.append(f"lacks {', '.join(m for f in found for m in f.missing)}")
    if not all(f.decided for f in found):
        out.append(f"is not decided: {found[0].note}")
    if trial.margin is not None and found and found[0].margin is not None:
        value = min((f.margin[0] for f in found if f.margin), key=abs)
        if abs(value - trial.margin) > 1e-6:
            out.append(f"has a margin of {value!r}, expected {trial.margin!r}")
    if trial.worked and not any(trial.worked in line for f in found for line in (*f.worked, f.note,
                                                                                 *map(str, f.citations))):  # fmt: skip
        out.append(f'says nowhere "{trial.worked}"')
    shown = found[0].figures if found else {}
    for name, want in trial.figures.items():
        shows = shown.get(name, ("nothing", ""))[0]
        if shows != want and (isinstance(shows, str) or isinstance(want, str) or not close(shows, want)):
            out.append(f'shows {shows!r} as "{name}", expected {want!r}')
    return out


def document(given: Mapping[str, object]) -> dict[str, Any]:
    """The description that pointers and values make up."""
    out: dict[str, Any] = {}
    for path, value in given.items():
        steps: list[str | int] = [int(s) if s.isdigit() else s for s in path.split("/")]
        here: Any = out
        for step, after in pairwise(steps):
            here = _step(here, step, [] if isinstance(after, int) else {})
        _put(here, steps[-1], None if value == "none" else value)
    _name(out, part_types()[""].body, "")
    return written(out)


def _step(here: Any, step: str | int, empty: Any) -> Any:
    if isinstance(step, int):
        while len(here) <= step:
            here.append(type(empty)())
        return here[step]
    if here.get(step) is None:
        here[step] = empty
    return here[step]


def _put(here: Any, step: str | int, value: object) -> None:
    if isinstance(step, int):
        while len(here) <= step:
            here.append(None)
    here[step] = copy.deepcopy(value)


def _name(value: Any, group: Group, place: str) -> None:
    for key, below in group.groups.items():
        if isinstance(value.get(key), dict):
            _name(value[key], below, f"{place}{key}-")
    for key, kind in group.lists.items():
        for i, item in enumerate(value.get(key) or ()):
            if isinstance(item, dict):
                if "id" in kind.fields and "id" not in item:
                    item["id"] = f"{place}{key}-{i}"
                _name(item, kind.body, f"{place}{key}-{i}-")


def _numbers(example: Example) -> tuple[float, float]:
    field = place_field(example.vary)
    assert field is not None
    at, step = example.at, example.step
    return (read_quantity(at, field.unit) if isinstance(at, str) else float(str(at)),
            read_quantity(step, field.unit) if isinstance(step, str) else float(str(step)))  # fmt: skip
