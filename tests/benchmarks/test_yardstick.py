"""The yardstick of the speed benchmark says what the program says: the same findings, notes, figures and lines.

Only then does a comparison of their speeds compare like with like. The yardstick was written by hand from the packs'
rules and shares no code with the program, so each also stands witness for the other.
"""

from __future__ import annotations

import copy
import importlib.util
import json
import math
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

import ampcite
from ampcite.base.resources import houses
from ampcite.house.change import change
from ampcite.language import wording
from shared import plain, years

EDITION = 2020
HERE = Path(__file__).parent
SHIPPED = {path.stem: path for path in houses()}
BROKEN: list[dict[str, Any]] = json.loads((HERE.parent / "houses" / "broken" / "core.json").read_text("utf-8"))[
    "entries"
]


def module(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, HERE / f"{name}.py")
    assert spec and spec.loader
    out = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(out)
    return out


yardstick, core = module("yardstick"), module("core")


def house(name: str) -> dict[str, Any]:
    return json.loads(SHIPPED[name].read_text("utf-8"))


def changed(one: dict[str, Any]) -> dict[str, Any]:
    """A house with a mistake in it; a pointer one past the end of a list adds to it."""
    document = house(one["house"])
    for pointer, value in one["set"].items():
        document = change(document, pointer, value)
    return document


@cache
def rulebook() -> ampcite.Rulebook:
    book: ampcite.Rulebook = core.core_rulebook(EDITION)
    return book


def report_of(document: dict[str, Any]) -> ampcite.Report:
    return ampcite.check(rulebook(), ampcite.read(document))


WORDS = ("rule", "title", "verdict", "about", "label", "note", "remedy")


def by_place(findings: list[dict[str, Any]]) -> dict[tuple[str, str], dict[str, Any]]:
    out = {(f["rule"], f["about"]): f for f in findings}
    assert len(out) == len(findings)
    return out


def of_program(report: ampcite.Report) -> dict[tuple[str, str], dict[str, Any]]:
    return by_place([
        {
            **{name: str(getattr(f, name)) for name in WORDS},
            "citations": [str(c) for c in f.citations],
            "figures": dict(f.figures),
            "worked": list(f.worked),
            "margin": f.margin,
        }
        for f in report.findings
    ])  # fmt: skip


def alike(a: Any, b: Any, scale: float = 0.0) -> bool:
    """Whether two values with units are the same to one part in 10^12 (of ``scale``, if that is larger)."""
    if isinstance(a[0], str) or isinstance(b[0], str):
        return a == b
    return a[1] == b[1] and math.isclose(a[0], b[0], rel_tol=1e-12, abs_tol=1e-12 * scale)


def assert_same_answers(document: dict[str, Any]) -> None:
    """Rules, parts, verdicts, words, citations, figures and margins of the two, and what does not apply."""
    report = report_of(document)
    theirs = of_program(report)
    before = copy.deepcopy(document)
    findings, asides = yardstick.judge(yardstick.House(plain(document)))
    assert document == before
    ours = by_place(findings)
    assert {(*at, f["verdict"]) for at, f in ours.items()} == {(*at, f["verdict"]) for at, f in theirs.items()}
    assert [f["verdict"] for f in findings] == [f.verdict for f in report.findings]
    for at, mine in ours.items():
        their = theirs[at]
        assert {n: mine[n] for n in WORDS} == {n: their[n] for n in WORDS}
        assert list(mine["citations"]) == their["citations"], at
        assert mine["figures"].keys() == their["figures"].keys(), at
        for name, figure in mine["figures"].items():
            assert alike(figure, their["figures"][name]), (at, name, figure, their["figures"][name])
        assert (mine["margin"] is None) == (their["margin"] is None), at
        if mine["margin"] is not None:
            largest = max(abs(v) for v, _ in mine["figures"].values() if not isinstance(v, str))
            assert alike(mine["margin"], their["margin"], largest), at
    told = {(a.rule, a.about) for a in report.not_applicable if a.reason.startswith("does not apply to")}
    assert set(asides) == told
    assert len(asides) == len(told)


def assert_same_lines(document: dict[str, Any]) -> None:
    theirs = of_program(report_of(document))
    for at, mine in by_place(yardstick.check(plain(document))).items():
        assert arithmetic(mine["worked"]) == arithmetic(theirs[at]["worked"]), at


def arithmetic(lines: Iterable[str]) -> list[str]:
    """The lines in no order, none twice."""
    out = sorted(lines)
    assert len(set(out)) == len(out)
    return out


NOT_PERMITTED = {"THHN in the outdoor conduit of the inverter output"}
"""Left out: the tables do not permit the changed part, and the yardstick stops where a table has no figure."""

WORDED_OTHERWISE = {"a 20 A breaker for alternating current put into the dc run of string 1"}
"""A dc rating that is said to be none: the yardstick writes a line of the comparison that ends in "no", the
program none. The verdict, note, figures and remedy are the same."""

USED = [
    pytest.param(one, id=f"{one['house']}: {one['name']}")
    for one in BROKEN
    if EDITION in years(one["editions"]) and not one.get("leave_out") and one["name"] not in NOT_PERMITTED
]


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_house_gets_the_same_findings(name: str) -> None:
    assert_same_answers(house(name))


@pytest.mark.parametrize("name", SHIPPED)
def test_the_arithmetic_of_a_shipped_house_is_written_the_same(name: str) -> None:
    assert_same_lines(house(name))


@pytest.mark.parametrize("one", USED)
def test_a_broken_house_gets_the_same_findings(one: dict[str, Any]) -> None:
    assert_same_answers(changed(one))


@pytest.mark.parametrize("one", [p for p in USED if p.values[0]["name"] not in WORDED_OTHERWISE])
def test_the_arithmetic_of_a_broken_house_is_written_the_same(one: dict[str, Any]) -> None:
    assert_same_lines(changed(one))


def test_what_is_left_out_is_little() -> None:
    names = {one["name"] for one in BROKEN}
    assert names >= NOT_PERMITTED | WORDED_OTHERWISE
    assert len(USED) >= 40


def test_a_check_leaves_nothing_behind() -> None:
    """The same house twice, and a prepared house judged twice, give the same findings."""
    document = house("converter-strings")
    prepared = yardstick.House(plain(document))
    assert yardstick.judge(prepared) == yardstick.judge(prepared)
    assert yardstick.check(plain(document)) == yardstick.check(document) == yardstick.judge(prepared)[0]


@pytest.mark.parametrize("value", [0, 14, 0.1, -0.26, 99999.96, 105600.0, 133100.4, -2500000, 0.000012345678, 1e15])
def test_numbers_are_written_the_same(value: float) -> None:
    assert yardstick.coarse(value) == wording.coarse(value)
    assert yardstick.fine(value) == wording.fine(value)


def test_the_yardstick_has_every_rule_in_force() -> None:
    ids = [rule.id for rule, _ in yardstick.RULES]
    assert sorted(ids) == sorted(rule.id for rule in rulebook().bound.rules)
    assert len(ids) == 86
