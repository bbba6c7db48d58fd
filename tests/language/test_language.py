"""The rule language itself: functions, operators, units, tables, what is not known, sentences, and odd texts.

Every formula runs twice: as generated code and the careful way, which must agree. Where no other source is named,
what is expected is the project's own definition (docs/language.md, docs/functions.md, docs/concepts.md) worked out by
hand. Outside references: pint for units; Kleene's strong three-valued logic, from memory; Python's own operators.
All houses, packs and figures are own inventions.
"""

from __future__ import annotations

import itertools
import json
import math
from pathlib import Path
from typing import Any

import pint
import pytest

import ampcite
import both_ways
from ampcite import Finding, Rulebook, check
from ampcite.house.write import written
from ampcite.language.formula import FUNCTIONS
from ampcite.language.functions import whole
from ampcite.language.logic import Barred, Unknown, both, close, denied, either
from ampcite.language.printing import coarse, fine
from ampcite.language.tables import Table
from shared import pint_units

Document = dict[str, Any]
Record = dict[str, Any]


@pytest.fixture(autouse=True)
def no_cache(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("AMPCITE_CACHE", "")


# --- small packs -------------------------------------------------------------------------------------------------

READ = {"work": "own", "clause": {"2020": "1.1"}, "read": {"2020": "made"}}
HEAD = {"name": "small", "title": "An invented pack", "version": "1", "editions": [2020, 2023],
        "works": {"own": "Invented rules"}, "sources": {"made": {"title": "own invention", "body": "",
        "year": ""}}}  # fmt: skip
RULE = {"id": "asked", "title": "What is asked", "family": "small", "force": "requirement", "each": "/",
        "passes": "Kept.", "fails": "Broken.", "remedy": "Mend it.", "cite": [READ]}  # fmt: skip


def toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{toml(k)} = {toml(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def figure(name: str, unit: str, value: Any, **more: Any) -> Record:
    """A parameter; a value by edition, or one for all."""
    values = value if isinstance(value, dict) else {"2020": value}
    return {"name": name, "meaning": name, "unit": unit, "stricter": "neither", "value": values, **READ, **more}


def table(name: str, csv: Any, match: str = "exact", key: str | None = "ft", unit: str | None = "ft",
          conditions: tuple[Record, ...] = (), **more: Any) -> Record:  # fmt: skip
    """A table whose cells come along under "csv": text for all editions, or by edition."""
    cells = csv if isinstance(csv, dict) else {"2020": csv}
    return {"name": name, "meaning": name, "file": {year: f"{name}_{year}.csv" for year in cells},
            "row": {"header": "key", "match": match, **({"unit": key} if key is not None else {})},
            **({"unit": unit} if unit is not None else {}), "conditions": list(conditions), **READ,
            **more, "csv": {f"{name}_{year}.csv": text for year, text in cells.items()}}  # fmt: skip


def load(folder: Path, *rules: Record, figures: tuple[Record, ...] = (), tables: tuple[Record, ...] = (),
         derived: tuple[Record, ...] = (), edition: int = 2020) -> Rulebook:  # fmt: skip
    """The rulebook of a pack made of these records; a rule's missing fields are filled in."""
    pack = folder / f"pack{len(list(folder.iterdir()))}"
    pack.mkdir()
    lines = ["[pack]", *(f"{k} = {toml(v)}" for k, v in HEAD.items())]
    (pack / "pack.toml").write_text("\n".join(lines), "utf-8")
    lines = []
    for kind, records in (("parameter", figures), ("table", tables), ("derived", derived), ("rule", rules)):
        for record in records:
            for name, text in record.get("csv", {}).items():
                (pack / name).write_text(text, "utf-8")
            record = {**RULE, **record} if kind == "rule" else record
            lines += [f"[[{kind}]]", *(f"{k} = {toml(v)}" for k, v in record.items() if k != "csv")]
    (pack / "rules.toml").write_text("\n".join(lines), "utf-8")
    ids = [{**RULE, **record}["id"] for record in rules]
    tests = [f'[[{name}.example]]\nset = {{ "project/name" = "x" }}\nverdict = "pass"\n' for name in dict.fromkeys(ids)]
    (pack / "rules.examples.toml").write_text("\n".join(tests), "utf-8")
    return ampcite.load(edition, [pack])


def refused(folder: Path, *rules: Record, **more: Any) -> str:
    with pytest.raises(ampcite.PackError) as caught:
        load(folder, *rules, **more)
    return str(caught.value)


def handed_over(book: Rulebook, document: Document) -> list[str]:
    """The parts that the generated code leaves to the closures."""
    return both_ways.handed_over(book, ampcite.read(written(document)))


def ask(book: Rulebook, document: Document) -> tuple[Finding, ...]:
    """The findings of a check, on whose verdicts and values the two ways have to agree."""
    description = ampcite.read(written(document))
    both_ways.agree(book, description)
    return tuple(check(book, description).findings)


def answer(folder: Path, formula: str, document: Document | None = None, slow: bool = False, **more: Any) -> str:
    """What a formula gives, in words: by generated code, the careful way, in a rule and as a derived quantity.

    Args:
        slow: whether something is not known or no plain value, which generated code may leave to the careful path.

    The rule is broken, since a kept one says nothing that is not known.
    """
    return asked(folder, formula, document, slow, **more).note.split(" / ")[0].removeprefix("It is ")


def asked(folder: Path, formula: str, document: Document | None = None, slow: bool = False, *,
          inputs: Record | None = None, **more: Any) -> Finding:  # fmt: skip
    paths = inputs or {}
    rule = {"inputs": {**paths, "named": "project/name", "scope": "project/scope", "reckoned": "reckoned"},
            "let": {"value": formula},
            "holds": "named != named and scope == named and value == value and reckoned == reckoned",
            "fails": "It is {value} / {reckoned}"}  # fmt: skip
    reckoned = {"name": "reckoned", "meaning": "the same as a quantity", "each": "/", "inputs": paths, "value": formula}
    book = load(folder, rule, derived=(reckoned,), **more)
    whole_house = {"project": {"name": "Elm", "scope": "roof"}, **(document or {})}
    (finding,) = ask(book, whole_house)
    assert slow or not handed_over(book, whole_house), "generated code answers what is known"
    unscoped = {**whole_house, "project": {"name": "Elm"}}
    (other,) = ask(book, unscoped)
    both_ways.agree(book, ampcite.read(written(unscoped)))  # something that is not asked for is not known
    assert (other.note, other.figures) == (finding.note, finding.figures), "which changes nothing"
    value, reckoned_value = finding.note.removeprefix("It is ").split(" / ")
    assert value == reckoned_value
    return finding


def number(finding: Finding) -> tuple[float, str]:
    value, unit = finding.figures["value"]
    assert isinstance(value, int | float)
    return value, unit


# --- functions ---------------------------------------------------------------------------------------------------

RUNS = {"lengths": "communications/*/length", "gaps": "communications/*/separation_from_power",
        "kinds": "communications/*/kind", "names": "communications/*/id", "runs": "communications/*",
        "outside": "communications/*/outdoors", "open": "storage/*/outside_shutdown/readily_accessible",
        "metals": "circuits/*/equipment_ground/material",
        "wires": "circuits/*/voltage", "devices": "storage/*/outside_shutdown",
        "planned": "monitoring/other_sources", "reporting": "readings/reporting_count",
        "one_gap": "rapid_shutdown/distance_to_grounded_metal", "source": "site/design_low_source"}  # fmt: skip
MISSING = object()


def runs(**columns: list[Any]) -> Document:
    """Communication runs by columns; MISSING leaves a field out."""
    count = max(map(len, columns.values()))
    rows = [{"id": f"R{i + 1}", **{k: v[i] for k, v in columns.items() if v[i] is not MISSING}} for i in range(count)]
    return {"communications": rows}


def circuits(**columns: list[Any]) -> Document:
    return {"circuits": runs(**columns)["communications"]}


def units(*shutdowns: Any) -> Document:
    return {"storage": runs(outside_shutdown=list(shutdowns))["communications"]}


def station(words: str | None) -> Document:
    return {"site": {"design_low_source": words}}


NONE_RUN: Document = {"communications": []}
TEXT, OTHER = "RS-485", "twisted-pair ethernet"
CU, AL = {"material": "copper"}, {"material": "aluminum"}
YES, NO, UNSAID = {"readily_accessible": True}, {"readily_accessible": False}, {"shows_position": True}
NOT_KNOWN = "not known"
# function: (formula, house, what comes out, and "slow" where the careful path may have to say it)

def counts(planned: int, reporting: int) -> Document:
    """A house with two counts."""
    return {"monitoring": {"other_sources": planned}, "readings": {"reporting_count": reporting}}


CASES: dict[str, list[tuple[Any, ...]]] = {
    "min": [("min(planned, reporting)", counts(9, 4), "4"),
            ("min(planned, reporting, 1)", counts(9, 4), "1"),
            ("min(planned, reporting)", counts(4, 4), "4"),
            ("min(planned, reporting)", {"monitoring": {"other_sources": 4}}, NOT_KNOWN, "slow"),
            ("min(one_gap, one_gap)", {"rapid_shutdown": {"distance_to_grounded_metal": None}}, NOT_KNOWN,
            "slow")],
    "max": [("max(planned, reporting)", counts(9, 4), "9"),
            ("max(planned, reporting, 0)", counts(0, 0), "0"),
            ("max(planned, reporting)", {"readings": {"reporting_count": 4}}, NOT_KNOWN, "slow"),
            ("max(one_gap, one_gap)", {"rapid_shutdown": {"distance_to_grounded_metal": None}}, NOT_KNOWN,
            "slow")],
    "abs": [("abs(reporting - planned)", counts(9, 4), "5"),
            ("abs(planned - reporting)", counts(9, 4), "5"),
            ("abs(planned - planned)", {"monitoring": {"other_sources": 9}}, "0"),
            ("abs(planned)", {"readings": {}}, NOT_KNOWN, "slow"),
            ("abs(one_gap)", {"rapid_shutdown": {"distance_to_grounded_metal": None}}, NOT_KNOWN, "slow")],
    "whole": [("whole(planned / reporting)", counts(9, 4), "2"),
              ("whole(planned / reporting)", counts(8, 4), "2"),
              ("whole(-planned / reporting)", counts(9, 4), "-3"),
              ("whole(planned / reporting)", counts(0, 4), "0"),
              ("whole(planned / reporting)", counts(9, 0),
              NOT_KNOWN,
               "slow"),
              ("whole(planned)", {"readings": {}}, NOT_KNOWN, "slow")],
    "root": [("root(planned / reporting)", counts(9, 4), "1.5"),
             ("root(planned / reporting)", counts(0, 4), "0"),
             ("root(-planned / reporting)", counts(9, 4), NOT_KNOWN, "slow"),
             ("root(planned)", {"readings": {}}, NOT_KNOWN, "slow")],
    "percent": [("percent(planned / reporting)", counts(1, 4), "25%"),
                ("percent(0)", {}, "0%"), ("percent(1)", {}, "100%"),
                ("percent(planned)", {"readings": {}}, NOT_KNOWN, "slow")],
    "sum": [("sum(lengths)", runs(length=[1, 2.5, 4]), "7.5 ft"), ("sum(lengths)", runs(length=[3]), "3 ft"),
            ("sum(lengths)", NONE_RUN, "0 ft"), ("sum(lengths)", {}, NOT_KNOWN, "slow"),
            ("sum(lengths)", runs(length=[1, MISSING]), NOT_KNOWN, "slow"),
            ("sum(gaps)", runs(separation_from_power=[1, None]), NOT_KNOWN, "slow"),
            ("sum(gaps)", runs(separation_from_power=[None]), NOT_KNOWN, "slow")],
    "largest": [("largest(lengths)", runs(length=[1, 4, 2.5]), "4 ft"), ("largest(lengths)",
    runs(length=[3]), "3 ft"),
                ("largest(lengths)", runs(length=[4, 4]), "4 ft"),
                ("largest(lengths)", NONE_RUN, NOT_KNOWN, "slow"),
                ("largest(lengths)", runs(length=[1, MISSING]), NOT_KNOWN, "slow"),
                ("largest(gaps)", runs(separation_from_power=[1, None]), NOT_KNOWN, "slow"),
                ("largest(gaps)", runs(separation_from_power=[None]), NOT_KNOWN, "slow")],
    "least": [("least(lengths)", runs(length=[4, 1, 2.5]), "1 ft"), ("least(lengths)", runs(length=[3]),
    "3 ft"),
              ("least(lengths)", runs(length=[0, 0]), "0 ft"), ("least(lengths)", NONE_RUN, NOT_KNOWN,
              "slow"),
              ("least(lengths)", runs(length=[MISSING, 1]), NOT_KNOWN, "slow"),
              ("least(gaps)", runs(separation_from_power=[None, 1]), NOT_KNOWN, "slow"),
              ("least(gaps)", runs(separation_from_power=[None]), NOT_KNOWN, "slow")],
    "count": [("count(runs)", runs(length=[1, 2, 3]), "3"), ("count(runs)", NONE_RUN, "0"),
              ("count(runs)", {}, NOT_KNOWN, "slow"), ("count(lengths)", runs(length=[5]), "1"),
              ("count(lengths)", runs(length=[5, MISSING]), "2", "slow"),
              ("count(gaps)", runs(separation_from_power=[5, None]), "2")],
    "how_many": [(f"how_many(kinds, '{TEXT}')", runs(kind=[TEXT, OTHER, TEXT]), "2"),
                 (f"how_many(kinds, '{TEXT}')", runs(kind=[OTHER]), "0"),
                 (f"how_many(kinds, '{TEXT}')", NONE_RUN, "0"),
                 (f"how_many(kinds, '{TEXT}')", runs(kind=[TEXT, MISSING]), NOT_KNOWN, "slow"),
                 (f"how_many(kinds, '{TEXT}')", {}, NOT_KNOWN, "slow")],
    "has": [(f"has(kinds, '{TEXT}')", runs(kind=[OTHER, TEXT]), "yes"),
            (f"has(kinds, '{TEXT}')", runs(kind=[OTHER]), "no"), (f"has(kinds, '{TEXT}')", NONE_RUN, "no"),
            (f"has(kinds, '{TEXT}')", runs(kind=[MISSING, TEXT]), "yes", "slow"),
            (f"has(kinds, '{TEXT}')", runs(kind=[MISSING, OTHER]), NOT_KNOWN, "slow"),
            (f"has(kinds, '{TEXT}')", {}, NOT_KNOWN, "slow"),
            ("has(metals, 'copper')", circuits(equipment_ground=[None, CU]), "yes"),
            ("has(metals, 'copper')", circuits(equipment_ground=[None, AL]), "no"),
            ("has(names, 'R2')", runs(length=[1, 2]), "yes")],
    "all_are": [(f"all_are(kinds, '{TEXT}')", runs(kind=[TEXT, TEXT]), "yes"),
                (f"all_are(kinds, '{TEXT}')", runs(kind=[TEXT, OTHER]), "no"),
                (f"all_are(kinds, '{TEXT}')", runs(kind=[TEXT]), "yes"),
                (f"all_are(kinds, '{TEXT}')", NONE_RUN, "yes"),
                (f"all_are(kinds, '{TEXT}')", runs(kind=[MISSING, OTHER]), "no", "slow"),
                (f"all_are(kinds, '{TEXT}')", runs(kind=[MISSING, TEXT]), NOT_KNOWN, "slow"),
                ("all_are(metals, 'copper')", circuits(equipment_ground=[None, CU]), "no"),
                ("all_are(outside)", runs(outdoors=[True, True]), "yes"),
                ("all_are(outside)", runs(outdoors=[True, False]), "no"), ("all_are(outside)", NONE_RUN,
                "yes"),
                ("all_are(outside)", runs(outdoors=[False, MISSING]), "no", "slow"),
                ("all_are(outside)", runs(outdoors=[True, MISSING]), NOT_KNOWN, "slow"),
                ("all_are(open)", units(YES, None), "no"),
                ("all_are(open)", units(YES, UNSAID), NOT_KNOWN, "slow")],
    "any_is": [("any_is(outside)", runs(outdoors=[False, True]), "yes"),
               ("any_is(outside)", runs(outdoors=[False, False]), "no"), ("any_is(outside)", NONE_RUN, "no"),
               ("any_is(outside)", runs(outdoors=[True, MISSING]), "yes", "slow"),
               ("any_is(outside)", runs(outdoors=[False, MISSING]), NOT_KNOWN, "slow"),
               ("any_is(open)", units(YES, None), "yes")],
    "at_largest": [("at_largest(lengths, names)", runs(length=[1, 7, 2]), "R2"),
                   ("at_largest(lengths, names)", runs(length=[7, 7, 2]), "R1"),
                   ("at_largest(lengths, names)", runs(length=[7]), "R1"),
                   ("at_largest(lengths, names)", NONE_RUN, NOT_KNOWN, "slow"),
                   ("at_largest(lengths, names)", runs(length=[1, MISSING]), NOT_KNOWN, "slow"),
                   ("at_largest(lengths, kinds)", runs(length=[1, 2], kind=[TEXT, MISSING]), NOT_KNOWN,
                   "slow"),
                   ("at_largest(lengths, kinds)", runs(length=[3, 2], kind=[TEXT, MISSING]), TEXT, "slow"),
                   ("at_largest(gaps, names)", runs(separation_from_power=[1, None]), NOT_KNOWN, "slow")],
    "at_least": [("at_least(lengths, names)", runs(length=[3, 1, 2]), "R2"),
                 ("at_least(lengths, names)", runs(length=[3, 1, 1]), "R2"),
                 ("at_least(lengths, names)", runs(length=[7]), "R1"),
                 ("at_least(lengths, names)", NONE_RUN, NOT_KNOWN, "slow"),
                 ("at_least(lengths, names)", runs(length=[1, MISSING]), NOT_KNOWN, "slow"),
                 ("at_least(lengths, kinds)", runs(length=[2, 1], kind=[TEXT, MISSING]), NOT_KNOWN, "slow"),
                 ("at_least(gaps, names)", runs(separation_from_power=[1, None]), NOT_KNOWN, "slow")],
    "alike": [("alike(lengths)", runs(length=[4, 4, 4]), "yes"), ("alike(lengths)", runs(length=[4, 4, 5]),
    "no"),
              ("alike(lengths)", runs(length=[4]), "yes"), ("alike(lengths)", NONE_RUN, "yes"),
              ("alike(lengths)", runs(length=["0.3 ft", "3.6 in", "0.09144 m"]), "yes"),
              ("alike(lengths)", runs(length=[4, MISSING]), NOT_KNOWN, "slow"),
              ("alike(kinds)", runs(kind=[TEXT, TEXT]), "yes"), ("alike(kinds)", runs(kind=[TEXT, OTHER]),
              "no"),
              ("alike(kinds)", runs(kind=[TEXT, MISSING]), NOT_KNOWN, "slow"),
              ("alike(lengths)", {}, NOT_KNOWN, "slow")],
    "bears": [("bears(source, 'high voltage ... keep out')", station("HIGH-VOLTAGE: keep  out!"), "yes"),
              ("bears(source, 'keep out ... high voltage')", station("High voltage. Keep out"), "yes"),
              ("bears(source, 'high voltage ... keep off')", station("High voltage. Keep out"), "no"),
              ("bears(source, 'high voltage')", station("High voltages"), "no"),
              ("bears(source, 'high voltage')", station(None), NOT_KNOWN, "slow"),
              ("bears(source, 'high voltage')", {"site": {}}, NOT_KNOWN, "slow")],
    "begins": [("begins(source, 'high voltage')", station("HIGH-VOLTAGE: keep  out!"), "yes"),
               ("begins(source, 'keep out')", station("High voltage. Keep out"), "no"),
               ("begins(source, 'high voltage')", station("High voltages"), "no"),
               ("begins(source, 'high voltage')", station(None), NOT_KNOWN, "slow"),
               ("begins(source, 'high voltage')", {"site": {}}, NOT_KNOWN, "slow")],
    "day": [("day(source)", {"site": {"design_low_source": "0001-01-01"}}, "1"),
            ("day(source)", {"site": {"design_low_source": "0001-03-01"}}, "60"),
            ("day(source) - day(source)", {"site": {"design_low_source": "2024-02-29"}}, "0"),
            ("day(source)", {"site": {"design_low_source": "2026-02-29"}}, NOT_KNOWN, "slow"),
            ("day(source)", {"site": {"design_low_source": "2026-W09-1"}}, NOT_KNOWN, "slow"),
            ("day(source)", {"site": {"design_low_source": "a station"}}, NOT_KNOWN, "slow"),
            ("day(source)", {"site": {"design_low_source": None}}, NOT_KNOWN, "slow"),
            ("day(source)", {"site": {}}, NOT_KNOWN, "slow")],
    "absent": [("absent(source)", {"site": {"design_low_source": None}}, "yes"),
               ("absent(source)", {"site": {"design_low_source": "a station"}}, "no"),
               ("absent(source)", {"site": {}}, NOT_KNOWN, "slow"),
               ("absent(gaps)", runs(separation_from_power=[1, None]), "yes"),
               ("absent(gaps)", runs(separation_from_power=[1, 2]), "no"), ("absent(gaps)", NONE_RUN, "no"),
               ("absent(gaps)", runs(separation_from_power=[MISSING, None]), "yes", "slow"),
               ("absent(gaps)", runs(separation_from_power=[MISSING, 1]), NOT_KNOWN, "slow"),
               ("absent(devices)", units(YES, None), "yes"),
               ("absent(open)", units(None), "yes")],
}  # fmt: skip


@pytest.mark.parametrize("case", [pytest.param(c, id=f"{c[0]}-{i}") for i, c in
                                  enumerate(c for several in CASES.values() for c in several)])  # fmt: skip
def test_what_a_function_gives(case: tuple[Any, ...], tmp_path: Path) -> None:
    """Source: the sentence about each function in docs/functions.md, worked by hand."""
    formula, document, expected, *slow = case
    assert answer(tmp_path, formula, document, bool(slow), inputs=RUNS) == expected


def test_every_function_has_cases() -> None:
    assert set(CASES) == set(FUNCTIONS)
    for name, several in CASES.items():
        assert all(f"{name}(" in formula for formula, *_ in several)
        assert any(len(case) == 3 for case in several) and any(len(case) == 4 for case in several)


@pytest.mark.parametrize(("formula", "document"), [
    ("how_many(metals, 'copper')", circuits(equipment_ground=[None, CU])),
    ("alike(metals)", circuits(equipment_ground=[None, CU])),
    ("alike(metals)", circuits(equipment_ground=[None, None])),
    ("alike(gaps)", runs(separation_from_power=[4, None])),
    ("alike(gaps)", runs(separation_from_power=[None, 4])),
    ("at_largest(gaps, names)", runs(separation_from_power=[None])),
    ("at_least(gaps, names)", runs(separation_from_power=[None])),
    ("at_least(wires, metals)", circuits(voltage=[1], equipment_ground=[None])),
])  # fmt: skip
def test_none_in_a_list_means_the_same_on_both_paths(formula: str, document: Document, tmp_path: Path) -> None:
    reckoned = {"name": "reckoned", "meaning": "a value", "each": "/", "inputs": RUNS, "value": formula}
    book = load(tmp_path, {"inputs": {"value": "reckoned"}, "holds": "value == value"}, derived=(reckoned,))
    ask(book, {"project": {"name": "Elm"}, **document})


def test_a_statement_said_twice_is_worked_once(tmp_path: Path) -> None:
    """On both paths alike."""
    (finding,) = ask(load(tmp_path, {"inputs": HAND, "holds": "a > b and a > b"}), HOUSE)
    assert len(finding.worked) == 1


@pytest.mark.parametrize(("text", "expected"), [("UL-invented", "yes"), ("other", "no")])
def test_a_list_of_texts_of_one_part(text: str, expected: str, tmp_path: Path) -> None:
    house = {"storage": [{"id": "B", "listing": ["UL-invented", "another"]}]}
    rule = {"each": "/storage/*", "inputs": {"listing": "listing"}, "holds": f"has(listing, '{text}')"}
    (finding,) = ask(load(tmp_path, rule), house)
    assert finding.verdict == ("pass" if expected == "yes" else "fail")


@pytest.mark.parametrize("formula", ["has(listing, 'x')", "count(listing) > 0", "how_many(listing, 'x') > 0",
                                     "all_are(listing, 'x')", "alike(listing)"])  # fmt: skip
def test_a_list_of_a_part_that_is_none(formula: str, tmp_path: Path) -> None:
    """A string without electronics: the listings of none are not a list, and nothing may break over it."""
    house = {"strings": [{"id": "S", "electronics": None}]}
    rule = {"each": "/strings/*", "inputs": {"listing": "electronics/listing"}, "holds": formula}
    (finding,) = ask(load(tmp_path, rule), house)
    assert finding.label == "string S"


def test_whether_a_list_of_a_part_that_is_none_is_none(tmp_path: Path) -> None:
    house = {"strings": [{"id": "S", "electronics": None}]}
    rule = {"each": "/strings/*", "inputs": {"listing": "electronics/listing"}, "holds": "absent(listing)"}
    (finding,) = ask(load(tmp_path, rule), house)
    assert finding.verdict == "pass"


def test_two_lists_of_different_orders(tmp_path: Path) -> None:
    """docs/functions.md: at_largest is of two lists of one order; others are refused, or at least do no harm."""
    rule = {"inputs": {"lengths": "communications/*/length", "names": "circuits/*/id"},
            "let": {"value": "at_largest(lengths, names)"}, "holds": "value == value"}  # fmt: skip
    try:
        book = load(tmp_path, rule)
    except ampcite.PackError:
        return
    house = {**runs(length=[1, 2, 3]), "circuits": [{"id": "C1"}]}
    (finding,) = ask(book, house)
    assert not finding.decided


@pytest.mark.parametrize("formula", ["has(kinds, kinds)", "all_are(kinds, kinds)", "how_many(kinds, kinds) > 0"])
def test_a_list_is_not_a_given_text(formula: str, tmp_path: Path) -> None:
    assert "kinds" in refused(tmp_path, {"inputs": RUNS, "holds": formula})


def test_a_figure_is_never_absent(tmp_path: Path) -> None:
    rule = {"each": "/communications/*", "inputs": {"length": "length"}, "holds": "absent(limit) or length <= limit"}
    try:
        book = load(tmp_path, rule, figures=(figure("limit", "ft", "10"),))
    except ampcite.PackError:
        return
    assert [f.verdict for f in ask(book, runs(length=[1]))] == ["pass"]


# --- operators ---------------------------------------------------------------------------------------------------

A, B, C = 7, 4, 2
HAND = {"a": "monitoring/other_sources", "b": "readings/reporting_count",
        "c": "rapid_shutdown/systems_on_service",
        "out": "rapid_shutdown/provided", "listed": "rapid_shutdown/listed_system",
        "kind": "rapid_shutdown/array_place"}  # fmt: skip
GROUND = "ground, circuits enter a dwelling"
HOUSE: Document = {"monitoring": {"other_sources": A}, "readings": {"reporting_count": B},
                   "rapid_shutdown": {"systems_on_service": C, "provided": True, "listed_system": False,
                                      "array_place": GROUND}}  # fmt: skip


@pytest.mark.parametrize("formula", [
    "a + b", "a - b", "b - a", "a * b", "a / b", "-a", "--a", "-a + b", "-(a + b)", "a - (b - c)",
    "a - b - c",
    "a / (b / c)", "a / b / c", "a / (b * c)", "a * (b + c)", "(a + b) * c", "a + b * c", "-a * b",
    "a - -b", "1 - a",
    "0 - a", "a * 0", "1 / c", "a if out else b", "a if listed else b", "a if a < b else b if b < c else c",
    "(a if out else b) * c", "a - (b if listed else c)", "min(a, b) - max(b, c)", "abs(b - a) / c",
])  # fmt: skip
def test_arithmetic_is_that_of_python(formula: str, tmp_path: Path) -> None:
    """Source: Python's own operators on the same figures (no units here)."""
    expected = eval(formula, {"a": A, "b": B, "c": C, "out": True, "listed": False})
    value, unit = number(asked(tmp_path, formula, HOUSE, inputs=HAND))
    assert (value, unit) == (expected, "")


@pytest.mark.parametrize("formula", [
    "a < b", "a <= b", "a > b", "a >= b", "a == b", "a != b", "a == a", "a != a", "a <= a", "a < a",
    "c < b < a",
    "c < b < b", "c <= b <= b", "a > b > c", "a >= b > c == c", "a != b != c", "c < b > a", "0 <= a",
    "a > 0", "0 == a",
    "0 < b - b", "b - b == 0", "a >= 1", "0 < c < a", "1 <= c <= a", "not out", "not listed", "not not out",
    "out and not listed", "out and listed", "listed or out", "listed or listed", "not (listed or out)",
    "out and listed or out", "listed and listed or out", "(out or out) and listed", "out == listed",
    "out != listed",
    "out == True", "listed == False", "kind == 'x' if listed else kind != 'x'", "listed if out else out",
    f"kind == '{GROUND}'", f"kind != '{GROUND}'", f"'{GROUND}' == kind", f"kind in ('{GROUND}',)",
    f"kind in ('on a building', '{GROUND}')", "kind in ('on a building', 'detached open structure')",
    f"not kind in ('{GROUND}',)",
])  # fmt: skip
def test_statements_are_those_of_python(formula: str, tmp_path: Path) -> None:
    """Source: Python's own operators on the same values."""
    names = {"a": A, "b": B, "c": C, "out": True, "listed": False, "kind": GROUND}
    formula = formula.replace("'x'", "'on a building'")
    expected = eval(formula, {}, names)
    assert answer(tmp_path, formula, HOUSE, inputs=HAND) == ("yes" if expected else "no")
    (finding,) = ask(load(tmp_path, {"inputs": HAND, "holds": formula}), HOUSE)
    assert finding.verdict == ("pass" if expected else "fail")
    if "kind ==" not in formula and "if" not in formula:
        assert finding.worked[-1].endswith(": yes" if expected else ": no")


def test_a_division_by_zero_is_not_decided(tmp_path: Path) -> None:
    house = counts(7, 0)
    assert answer(tmp_path, "a / b", house, True, inputs={"a": HAND["a"], "b": HAND["b"]}) == NOT_KNOWN
    (finding,) = ask(load(tmp_path, {"inputs": HAND, "holds": "a / b > 1"}), house)
    assert (finding.verdict, finding.decided) == ("warn", False)
    assert "zero" in finding.note
    (finding,) = ask(load(tmp_path, {"inputs": HAND, "holds": "b == 0 or a / b > 1"}), house)
    assert finding.verdict == "pass"
    (finding,) = ask(load(tmp_path, {"inputs": HAND, "holds": "a / b > 1 or b == 0"}), house)
    assert finding.verdict == "pass", "either order"


def test_a_product_too_large_for_a_number_is_not_decided(tmp_path: Path) -> None:
    """22 lengths of 1e15 make 1e330, which no float holds."""
    rule = {"each": "/communications/*", "inputs": {"x": "length"}, "let": {"share": "x / one_foot"},
            "holds": "*".join(["share"] * 22) + " > 1"}  # fmt: skip
    book = load(tmp_path, rule, figures=(figure("one_foot", "ft", "1"),))
    house = runs(length=[1e15])
    (finding,) = ask(book, house)
    assert "inf" not in " ".join(finding.worked)
    assert (finding.verdict, finding.decided) == ("warn", False)


@pytest.mark.parametrize(("formula", "expected"), [
    ("long >= 0", True), ("0 < long", True), ("0 == gap", True), ("gap != 0", False), ("0 <= gap < long",
    True),
    ("temp < 0", True), ("0 > temp", True), ("volts > 0", True), ("max(long, 0) == long", True),
    ("(long if out else 0) == long", True), ("-temp > 0", True),
])  # fmt: skip
def test_nothing_is_nothing_in_every_unit(formula: str, expected: bool, tmp_path: Path) -> None:
    """Source: zero of any (difference) unit is zero; pint agrees that 0 ft == 0 in."""
    ureg: Any = pint_units()
    assert ureg.Quantity(0, "ft") == ureg.Quantity(0, "in")
    paths = {"long": "rapid_shutdown/boundary_distance", "gap": "rapid_shutdown/entry_distance",
             "temp": "site/design_low", "volts": "service/voltage", "out": "rapid_shutdown/provided"}  # fmt: skip
    house = {"rapid_shutdown": {"boundary_distance": 3, "entry_distance": 0, "provided": True},
             "site": {"design_low": -5}, "service": {"voltage": 240}}  # fmt: skip
    assert answer(tmp_path, formula, house, inputs=paths) == ("yes" if expected else "no")


@pytest.mark.parametrize("formula", ["max(0, limit) <= one", "min(0, limit) <= one",
    "(0 if out else limit) <= one",
                                     "max(0, limit, wait) >= limit"])  # fmt: skip
def test_a_zero_in_front_does_not_take_the_unit_away(formula: str, tmp_path: Path) -> None:
    """A length stays a length: it can't be compared with a plain number, nor put beside a time (law 4)."""
    said = refused(tmp_path, {"inputs": {"out": "rapid_shutdown/provided"}, "let": {"value": formula},
        "holds": "out"},
                   figures=(figure("limit", "ft", "3"), figure("one", "", "1"), figure("wait", "s", "30")))  # fmt: skip
    assert "unit" in said


def test_a_zero_in_front_does_not_mix_feet_and_inches(tmp_path: Path) -> None:
    """Source: pint, 30 in is less than 3 ft."""
    ureg: Any = pint_units()
    assert max(ureg.Quantity(3, "ft"), ureg.Quantity(30, "in")) == ureg.Quantity(3, "ft")
    value, unit = number(asked(tmp_path, "max(0, three_feet, thirty_inches)",
                               figures=(figure("three_feet", "ft", "3"), figure("thirty_inches", "in",
                                   "30"))))  # fmt: skip
    assert ureg.Quantity(value, unit or "dimensionless") == ureg.Quantity(3, "ft")


# --- the tolerance -----------------------------------------------------------------------------------------------

LIMIT = 1_000_000_000
UNDER, AT_LOW, AT_HIGH, OVER = 999_999_998.9, 999_999_999, 1_000_000_001, 1_000_000_001.1
TOLERANCE: dict[str, dict[float, bool]] = {
    "<=": {UNDER: True, AT_LOW: True, LIMIT: True, AT_HIGH: True, OVER: False},
    "<": {UNDER: True, AT_LOW: False, LIMIT: False, AT_HIGH: False, OVER: False},
    ">=": {UNDER: False, AT_LOW: True, LIMIT: True, AT_HIGH: True, OVER: True},
    ">": {UNDER: False, AT_LOW: False, LIMIT: False, AT_HIGH: False, OVER: True},
    "==": {UNDER: False, AT_LOW: True, LIMIT: True, AT_HIGH: True, OVER: False},
    "!=": {UNDER: True, AT_LOW: False, LIMIT: False, AT_HIGH: False, OVER: True},
}


@pytest.mark.parametrize("op", TOLERANCE)
@pytest.mark.parametrize("form", ["length {op} limit", "length {op} limit_in_inches",
    "length * 1 {op} limit + 0 * limit",
                                  "limit {back} length"])  # fmt: skip
def test_comparisons_forgive_one_part_in_a_thousand_million(op: str, form: str, tmp_path: Path) -> None:
    """1 ft on 1 000 000 000 ft is one part in 10^9 (docs/concepts.md), 1.1 ft is more."""
    back = {"<=": ">=", "<": ">", ">=": "<=", ">": "<"}.get(op, op)
    rule = {"each": "/communications/*", "inputs": {"length": "length"}, "holds": form.format(op=op, back=back)}
    book = load(tmp_path, rule, figures=(figure("limit", "ft", str(LIMIT)),
                                         figure("limit_in_inches", "in", str(LIMIT * 12))))  # fmt: skip
    found = {f.label: f.verdict for f in ask(book, runs(length=list(TOLERANCE[op])))}
    for i, (length, holds) in enumerate(TOLERANCE[op].items(), 1):
        assert found[f"communication run R{i}"] == ("pass" if holds else "fail"), (length, op)
    assert not handed_over(book, runs(length=list(TOLERANCE[op])))


def test_the_tolerance_itself() -> None:
    assert close(1e9, 1e9 - 1) and not close(1e9, 1e9 - 1.1)
    assert close(-1e9, -1e9 + 1) and not close(-1e9, 1e9)
    assert close(0.0, 0.0) and not close(0.0, 1e-300), "of nothing, no part is forgiven"
    assert close(0.1 + 0.2, 0.3)


@pytest.mark.parametrize(("length", "expected"), [
    (499_999_999.5, 500_000_000), (499_999_999.4, 499_999_999), (99_999_999.9, 100_000_000),
    (99_999_999.89, 99_999_999), (100_000_000.1, 100_000_000), (2.9999999971, 3), (2.9999999969, 2),
    (0.999999998, 0),
    (7, 7), (0.5, 0),
])  # fmt: skip
def test_whole_forgives_one_part_in_a_thousand_million(length: float, expected: int, tmp_path: Path) -> None:
    rule = {"each": "/communications/*", "inputs": {"length": "length"},
        "let": {"value": "whole(length / one_foot)"},
            "holds": "value >= 0"}  # fmt: skip
    (finding,) = ask(load(tmp_path, rule, figures=(figure("one_foot", "ft", "1"),)), runs(length=[length]))
    assert number(finding) == (expected, "")
    assert whole(float(length)) == expected


NEXT = "key,cell\n10,1\n1000000000,2\n3000000000,3\n"
LOOKED_UP: dict[str, dict[float, float | None]] = {
    "next at or above": {UNDER: 2, AT_LOW: 2, LIMIT: 2, AT_HIGH: 2, OVER: 3},
    "next at or below": {UNDER: 1, AT_LOW: 2, LIMIT: 2, AT_HIGH: 2, OVER: 2},
}


@pytest.mark.parametrize("match", LOOKED_UP)
def test_look_ups_forgive_one_part_in_a_thousand_million(match: str, tmp_path: Path) -> None:
    for length, expected in LOOKED_UP[match].items():
        found = look(tmp_path, table("spacing", NEXT, match), length)
        assert found.figures.get("value") == (None if expected is None else (expected, "ft")), (length, match)


def test_cells_forgive_one_part_in_a_thousand_million(tmp_path: Path) -> None:
    sizes = table("size", "key,cell\nsmall,1000000000\nlarge,3000000000\n", "cell at or above", "ft", None)
    words = {UNDER: "small", LIMIT: "small", AT_HIGH: "small", OVER: "large"}
    for length, word in words.items():
        assert look(tmp_path, sizes, length, "size(length)").note == f"It is {word}."


# --- units, against pint -----------------------------------------------------------------------------------------

PINT = {"": "dimensionless", "%": "percent", "V": "volt", "mV": "millivolt", "kV": "kilovolt", "A": "ampere",
        "mA": "milliampere", "kA": "kiloampere", "W": "watt", "kW": "kilowatt", "ohm": "ohm",
        "ohm/kft": "ohm / kilofoot", "ft": "foot", "in": "inch", "m": "meter", "mm": "millimeter",
        "ft2": "foot ** 2", "degC": "delta_degC", "%/degC": "percent / delta_degC",
        "V/degC": "volt / delta_degC",
        "mV/degC": "millivolt / delta_degC", "s": "second", "min": "minute"}  # fmt: skip
Given = dict[str, tuple[str, str]]
UNITS: list[tuple[str, Given, str | None]] = [
    ("a + b", {"a": ("ft", "3.5"), "b": ("in", "7")}, "ft"), ("b + a", {"a": ("ft", "3.5"), "b": ("in",
    "7")}, "in"),
    ("a - b", {"a": ("ft", "3.5"), "b": ("in", "7")}, "ft"), ("a - b", {"a": ("mm", "900"), "b": ("ft",
    "1")}, "mm"),
    ("-a - b", {"a": ("ft", "3.5"), "b": ("in", "7")}, "ft"), ("a + b", {"a": ("", "0.5"), "b": ("%",
    "30")}, ""),
    ("a + b", {"a": ("%", "30"), "b": ("", "0.5")}, "%"), ("1 - a", {"a": ("%", "3")}, ""),
    ("1 + a", {"a": ("%", "3")}, ""), ("a * b", {"a": ("V", "240"), "b": ("%", "3")}, "V"),
    ("b * a", {"a": ("V", "240"), "b": ("%", "3")}, "V"), ("a / b", {"a": ("V", "240"), "b": ("%", "80")},
    "V"),
    ("percent(a / b)", {"a": ("V", "3"), "b": ("V", "240")}, "%"),
    ("a / b", {"a": ("ft", "3"), "b": ("in", "9")}, ""),
    ("a * b", {"a": ("V/degC", "-0.12"), "b": ("degC", "35")}, "V"),
    ("a * b", {"a": ("mV/degC", "-120"), "b": ("degC", "35")}, "V"),
    ("a * b", {"a": ("%/degC", "-0.27"), "b": ("degC", "35")}, ""),
    ("c * (1 + a * b)", {"a": ("%/degC", "-0.27"), "b": ("degC", "-35"), "c": ("V", "41.2")}, "V"),
    ("c + a * b", {"a": ("V/degC", "-0.12"), "b": ("degC", "-35"), "c": ("V", "41.2")}, "V"),
    ("a / b", {"a": ("V", "3"), "b": ("degC", "5")}, "V/degC"), ("a / b", {"a": ("%", "3"), "b": ("degC",
    "5")}, None),
    ("a * b", {"a": ("A", "12"), "b": ("ohm", "0.5")}, "V"), ("a * b", {"a": ("mA", "12"), "b": ("ohm",
    "0.5")}, "V"),
    ("r * l * i", {"r": ("ohm/kft", "1.24"), "l": ("ft", "70"), "i": ("A", "32")}, "V"),
    ("i * l * r", {"r": ("ohm/kft", "1.24"), "l": ("ft", "70"), "i": ("A", "32")}, "V"),
    ("i * (l * r)", {"r": ("ohm/kft", "1.24"), "l": ("in", "840"), "i": ("A", "32")}, "V"),
    ("(l + l) * r * i / v", {"r": ("ohm/kft", "1.24"), "l": ("ft", "70"), "i": ("A", "32"), "v": ("V",
    "240")}, ""),
    ("r * l", {"r": ("ohm/kft", "1.24"), "l": ("m", "70")}, "ohm"),
    ("w / v", {"w": ("W", "7600"), "v": ("V", "240")}, "A"), ("w / v", {"w": ("kW", "7.6"), "v": ("V",
    "240")}, "A"),
    ("w / i", {"w": ("W", "7600"), "i": ("A", "32")}, "V"), ("v * i", {"v": ("V", "240"), "i": ("A", "32")},
    "W"),
    ("v * i", {"v": ("kV", "0.24"), "i": ("A", "32")}, "W"), ("v / i", {"v": ("V", "240"), "i": ("A",
    "32")}, "ohm"),
    ("v / r", {"v": ("V", "240"), "r": ("ohm", "8")}, "A"), ("a * b", {"a": ("ft", "3"), "b": ("ft", "4")},
    "ft2"),
    ("a * b", {"a": ("in", "36"), "b": ("ft", "4")}, "ft2"), ("a / b", {"a": ("ft2", "12"), "b": ("in",
    "36")}, "ft"),
    ("a * b / b", {"a": ("ft", "3"), "b": ("V", "4")}, "ft"), ("a / b * b", {"a": ("ft", "3"), "b": ("s",
    "4")}, "ft"),
    ("min(a, b)", {"a": ("ft", "3"), "b": ("in", "30")}, "ft"), ("max(a, b)", {"a": ("in", "30"),
    "b": ("ft", "3")}, "in"),
    ("min(a, b, c)", {"a": ("m", "1"), "b": ("ft", "3"), "c": ("in", "37")}, "m"),
    ("max(a, b)", {"a": ("%", "3"), "b": ("", "0.04")}, "%"), ("abs(a - b)", {"a": ("ft", "3"), "b": ("m",
    "1")}, "ft"),
    ("a if a > b else b", {"a": ("ft", "3"), "b": ("m", "1")}, "ft"),
    ("a if a < b else b", {"a": ("ft", "3"), "b": ("m", "1")}, "ft"), ("a + b", {"a": ("s", "30"),
    "b": ("min", "2")}, "s"),
]  # fmt: skip


@pytest.mark.parametrize(("formula", "given", "unit"), UNITS, ids=[f"{i} {u[0]}" for i, u in enumerate(UNITS)])
def test_units_are_reckoned_as_pint_does(formula: str, given: Given, unit: str | None, tmp_path: Path) -> None:
    """Source: pint evaluates the same formula on its own quantities; the unit named is where the result ends."""
    ureg: Any = pint_units()
    names: dict[str, Any] = {n: ureg.Quantity(float(v), PINT[u]) for n, (u, v) in given.items()}
    expected = eval(formula, {**names, "percent": lambda x: x.to("percent"), "one": 1})
    finding = asked(tmp_path, formula, figures=tuple(figure(n, u, v) for n, (u, v) in given.items()))
    value, found = number(finding)
    if unit is not None:
        assert found == unit
    if found in PINT:
        assert math.isclose(value, expected.to(PINT[found]).magnitude, rel_tol=1e-12), (value, found, expected)
    else:
        base = ureg.Quantity(value, found.replace("/", " / ").replace("%", "percent").replace("degC", "delta_degC"))
        assert math.isclose(base.to_base_units().magnitude, expected.to_base_units().magnitude, rel_tol=1e-12)


@pytest.mark.parametrize(("formula", "given"), [
    ("a == b", {"a": ("ft", "3.5"), "b": ("in", "42")}), ("a <= b", {"a": ("ft", "3.5"), "b": ("in",
    "41.9")}),
    ("b < a", {"a": ("ft", "3.5"), "b": ("in", "41.9")}), ("a == b", {"a": ("%", "3"), "b": ("", "0.03")}),
    ("a > b", {"a": ("", "0.031"), "b": ("%", "3")}), ("a < b < c", {"a": ("in", "11"), "b": ("ft", "1"),
    "c": ("m", "1")}),
    ("a < b < c", {"a": ("m", "1"), "b": ("ft", "4"), "c": ("in", "47")}), ("a == b", {"a": ("kV", "0.6"),
    "b": ("V", "600")}),
    ("a * b >= c", {"a": ("A", "10"), "b": ("ohm", "2"), "c": ("mV", "20001")}),
    ("a == b", {"a": ("mm", "914.4"), "b": ("ft", "3")}), ("a != b", {"a": ("min", "0.5"), "b": ("s", "30")}),
])  # fmt: skip
def test_units_are_compared_as_pint_does(formula: str, given: Given, tmp_path: Path) -> None:
    """Source: pint, with figures well apart or exactly alike (so that no rounding of its own counts)."""
    ureg: Any = pint_units()
    names = {n: round(ureg.Quantity(float(v), PINT[u]).to_base_units(), 9) for n, (u, v) in given.items()}
    expected = bool(eval(formula, {}, names))
    records = tuple(figure(n, u, v) for n, (u, v) in given.items())
    assert answer(tmp_path, formula, figures=records) == ("yes" if expected else "no")


def test_a_unit_among_several_is_turned_as_well(tmp_path: Path) -> None:
    """Source: pint, 36 in is 3 ft; a list after "in" is no exception (or it is refused)."""
    assert pint_units().Quantity(36, "in") == pint_units().Quantity(3, "ft")
    rule = {"each": "/working_spaces/*", "inputs": {"depth": "depth"}, "holds": "depth in (three, four)"}
    try:
        book = load(tmp_path, rule, figures=(figure("three", "ft", "3"), figure("four", "ft", "4")))
    except ampcite.PackError:
        return
    (finding,) = ask(book, {"working_spaces": [{"depth": 36}]})
    assert finding.verdict == "pass"


def test_a_temperature_in_fahrenheit_is_a_temperature(tmp_path: Path) -> None:
    """Source: pint, 41 degF is 5 degC. A figure in degF against a temperature is turned so, or it is refused."""
    ureg: Any = pint_units()
    assert math.isclose(ureg.Quantity(41, "degF").to("degC").magnitude, 5)
    rule = {"inputs": {"low": "site/design_low"}, "holds": "low >= least_temperature"}
    try:
        book = load(tmp_path, rule, figures=(figure("least_temperature", "degF", "41"),))
    except ampcite.PackError:
        return
    assert [f.verdict for f in ask(book, {"site": {"design_low": 6}})] == ["pass"]
    assert [f.verdict for f in ask(book, {"site": {"design_low": 4}})] == ["fail"]


@pytest.mark.parametrize("formula", [
    "ft + s", "ft - v", "ft + plain", "plain + ft", "ft <= v", "min(ft, v)", "v * ft <= ft", "v / i + v",
    "whole(ft)",
    "whole(ft * ft)", "percent(ft)", "percent(v)", "ft if yes else s", "ft == 1", "ft + 1", "1 < ft",
    "volts_per <= per",
    "v * volts_per == v", "ohms * ft == ohms",
])  # fmt: skip
def test_units_that_do_not_fit_are_refused(formula: str, tmp_path: Path) -> None:
    """Source: pint raises a DimensionalityError for each (checked here where pint can evaluate it)."""
    given = {
        "ft": "ft",
        "s": "s",
        "v": "V",
        "i": "A",
        "plain": "",
        "volts_per": "V/degC",
        "per": "%/degC",
        "ohms": "ohm",
    }
    ureg: Any = pint_units()
    if not any(word in formula for word in ("min", "whole", "percent", "if", "==", "1 <")):
        with pytest.raises(pint.DimensionalityError):
            eval(formula, {n: ureg.Quantity(2.0, PINT[u]) for n, u in given.items()})
    refused(tmp_path, {"inputs": {"yes": "rapid_shutdown/provided"}, "let": {"value": formula},
        "holds": "yes"},
            figures=tuple(figure(n, u, "2") for n, u in given.items()))  # fmt: skip


# --- tables ------------------------------------------------------------------------------------------------------


def look(folder: Path, spec: Record, length: Any, formula: str = "spacing(length)", **more: Any) -> Finding:
    """The finding of a rule that looks something up for one run of a length; "value" is what it found."""
    rule = {"each": "/communications/*", "inputs": {"length": "length", "kind": "kind",
        "gap": "separation_from_power"},
            "let": {"value": formula}, "holds": "length != length", "fails": "It is {value}."}  # fmt: skip
    row = {"id": "R", "length": length, "kind": TEXT, "separation_from_power": 24}
    (finding,) = ask(load(folder, rule, tables=(spec,), **more), {"communications": [row]})
    return finding


NUMBERS = "key,cell\n10,1\n20,2\n40,not permitted\n80,8\n"
PLACES: list[tuple[str, float, str, str]] = [
    ("exact", 10, "not known", "1 ft"), ("exact", 20, "not known", "2 ft"), ("exact", 15, "not known",
    NOT_KNOWN),
    ("exact", 40, "not known", "not permitted"), ("exact", 100, "not permitted", NOT_KNOWN),
    ("next at or above", 0, "not known", "1 ft"), ("next at or above", 10, "not known", "1 ft"),
    ("next at or above", 10.001, "not known", "2 ft"), ("next at or above", 20, "not known", "2 ft"),
    ("next at or above", 21, "not known", "not permitted"), ("next at or above", 41, "not known", "8 ft"),
    ("next at or above", 80, "not known", "8 ft"), ("next at or above", 80.001, "not known", NOT_KNOWN),
    ("next at or above", 80.001, "not permitted", "not permitted"),
    ("next at or below", 10, "not known", "1 ft"), ("next at or below", 9.999, "not known", NOT_KNOWN),
    ("next at or below", 9.999, "not permitted", "not permitted"), ("next at or below", 19.999, "not known",
    "1 ft"),
    ("next at or below", 20, "not known", "2 ft"), ("next at or below", 40, "not known", "not permitted"),
    ("next at or below", 80, "not known", "8 ft"), ("next at or below", 1000, "not known", "8 ft"),
    ("next at or below", 1000, "not permitted", "8 ft"),
]  # fmt: skip


@pytest.mark.parametrize(("match", "length", "beyond", "expected"), PLACES)
def test_how_a_row_is_found(match: str, length: float, beyond: str, expected: str, tmp_path: Path) -> None:
    for csv in (NUMBERS, "key,cell\n80,8\n20,2\n40,not permitted\n10,1\n"):  # the order of the file does not matter
        found = look(tmp_path, table("spacing", csv, match, beyond=beyond), length)
        assert found.note == f"It is {expected}."


@pytest.mark.parametrize(("length", "beyond", "expected"), [
    (0, "not known", "tiny"), (5, "not known", "tiny"), (5.001, "not known", "large"), (30, "not known",
    "large"),
    (30.001, "not known", NOT_KNOWN), (30.001, "not permitted", "not permitted"),
])  # fmt: skip
def test_a_table_read_backwards(length: float, beyond: str, expected: str, tmp_path: Path) -> None:
    """The first row whose cell is at or above the number; a cell that is not permitted never is."""
    csv = "key,cell\ntiny,5\nmiddle,not permitted\nlarge,30\n"
    spec = table("size", csv, "cell at or above", "ft", None, beyond=beyond)
    assert look(tmp_path, spec, length, "size(length)").note == f"It is {expected}."


def test_a_table_read_backwards_by_condition(tmp_path: Path) -> None:
    csv = "key,RS-485,wireless\nsmall,10,30\nlarge,20,40\n"
    spec = table("size", csv, "cell at or above", "ft", None, ({"name": "kind"},))
    assert look(tmp_path, spec, 15, "size(length, kind)").note == "It is large."
    assert look(tmp_path, spec, 15, "size(length, 'wireless')").note == "It is small."


def test_a_table_of_one_column_gives_its_own_key(tmp_path: Path) -> None:
    for match, length, expected in (("next at or above", 16, "20 ft"), ("next at or above", 20, "20 ft"),
                                    ("next at or above", 61, NOT_KNOWN), ("next at or below", 16, "15 ft"),
                                    ("exact", 15, "15 ft")):  # fmt: skip
        spec = table("rating", "key\n15\n20\n60\n", match)
        assert look(tmp_path, spec, length, "rating(length)").note == f"It is {expected}."


TWO = "key,copper 60,copper 75,aluminum 60,aluminum 75\n10,1,2,3,4\n20,5,6,7,not permitted\n"
METAL = ({"name": "metal"}, {"name": "limit", "unit": "degC"})


@pytest.mark.parametrize(("metal", "limit", "expected"), [
    ("copper", "sixty", "5 ft"), ("copper", "seventy_five", "6 ft"), ("aluminum", "sixty", "7 ft"),
    ("aluminum", "seventy_five", "not permitted"), ("copper", "ninety", NOT_KNOWN),
])  # fmt: skip
@pytest.mark.parametrize("match", ["exact", "next at or above", "next at or below"])
def test_columns_by_two_conditions(metal: str, limit: str, expected: str, match: str, tmp_path: Path) -> None:
    spec = table("spacing", TWO, match, conditions=METAL)
    figures = (figure("sixty", "degC", "60"), figure("seventy_five", "degC", "75.0"), figure("ninety", "degC", "90"))
    found = look(tmp_path, spec, 20, f"spacing(length, '{metal}', {limit})", figures=figures)
    assert found.note == f"It is {expected}."


@pytest.mark.parametrize(("name", "expected"), [("half", "1 ft"), ("cold", "2 ft"), ("whole_foot", "3 ft")])
def test_columns_by_a_number(name: str, expected: str, tmp_path: Path) -> None:
    """Also a fraction, a negative number, and a number in another unit of the same kind (12 in is 1 ft)."""
    spec = table("spacing", "key,0.5,-10,1\n10,1,2,3\n", conditions=({"name": "number", "unit": "ft"},))
    figures = (figure("half", "ft", "0.5"), figure("cold", "ft", "-10"), figure("whole_foot", "in", "12"))
    assert look(tmp_path, spec, 10, f"spacing(length, {name})", figures=figures).note == f"It is {expected}."


def test_a_condition_that_is_a_text_of_digits(tmp_path: Path) -> None:
    spec = table("spacing", "key,240,208\n10,1,2\n", conditions=({"name": "text"},))
    assert look(tmp_path, spec, 10, "spacing(length, '208')").note == "It is 2 ft."


def test_table_keys_are_turned_into_the_unit_of_the_table(tmp_path: Path) -> None:
    """Source: pint, 24 in is 2 ft and 10 ft is 120 in."""
    ureg: Any = pint_units()
    assert (ureg.Quantity(24, "in"), ureg.Quantity(10, "ft")) == (ureg.Quantity(2, "ft"), ureg.Quantity(120, "in"))
    assert look(tmp_path, table("spacing", "key,cell\n2,7\n"), 10, "spacing(gap)").note == "It is 7 ft."
    for match in ("exact", "next at or above", "next at or below"):
        assert look(tmp_path, table("spacing", "key,cell\n120,7\n", match, "in"), 10).note == "It is 7 ft."
    spec = table("size", "key,cell\nsmall,119.9\nlarge,120\n", "cell at or above", "in", None)
    assert look(tmp_path, spec, 10, "size(length)").note == "It is large."


def test_texts_as_keys_and_cells(tmp_path: Path) -> None:
    spec = table("colour", f"key,cell\n{TEXT},grey\n{OTHER},none needed\n", "exact", None, None)
    assert look(tmp_path, spec, 1, "colour(kind)").note == "It is grey."
    assert look(tmp_path, spec, 1, f"colour('{OTHER}')").note == "It is none needed."
    assert "cellula" in refused(tmp_path, {"inputs": {"n": "project/name"}, "let": {"v": "colour('cellula')"},
                                           "holds": "n == v"}, tables=(spec,))  # fmt: skip


def test_a_key_that_is_none_or_not_known(tmp_path: Path) -> None:
    spec = table("spacing", NUMBERS, "next at or above", "in")
    rule = {"each": "/communications/*", "inputs": {"gap": "separation_from_power"}, "holds": "spacing(gap) > 0"}
    book = load(tmp_path, rule, tables=(spec,))
    none, unsaid = ask(book, runs(separation_from_power=[None, MISSING]))
    assert none.missing == ("/communications/0/separation_from_power",)
    assert unsaid.missing == ("/communications/1/separation_from_power",)


def test_a_table_by_edition(tmp_path: Path) -> None:
    spec = table("spacing", {"2020": "key,cell\n10,1\n", "2023": "key,cell\n10,9\n"})
    assert look(tmp_path, spec, 10, edition=2020).note == "It is 1 ft."
    assert look(tmp_path, spec, 10, edition=2023).note == "It is 9 ft."
    later = table("spacing", {"2023": "key,cell\n10,9\n"})
    with pytest.raises(ampcite.PackError, match="spacing"):
        look(tmp_path, later, 10, edition=2020)


def test_a_figure_by_edition(tmp_path: Path) -> None:
    rule = {"each": "/communications/*", "inputs": {"length": "length"}, "holds": "length <= limit"}
    limit = figure("limit", "ft", {"2020": "10", "2023": "5"})
    for edition, verdict in ((2020, "pass"), (2023, "fail")):
        assert ask(load(tmp_path, rule, figures=(limit,), edition=edition), runs(length=[8]))[0].verdict == verdict


def test_a_table_that_bars_fails_a_rule_and_its_denial(tmp_path: Path) -> None:
    """verdict.py: a barred operand makes a statement untrue, and its denial untrue as well."""
    spec = table("spacing", NUMBERS)
    for holds in ("spacing(length) > 0", "not spacing(length) > 0", "spacing(length) <= 0"):
        rule = {"each": "/communications/*", "inputs": {"length": "length"}, "holds": holds}
        (finding,) = ask(load(tmp_path, rule, tables=(spec,)), runs(length=[40]))
        assert (finding.verdict, finding.decided, finding.missing) == ("fail", True, ())


def test_the_quick_look_up_gives_what_the_careful_one_gives() -> None:
    """Every match, many keys, also between, before and beyond the rows; the two are written apart."""
    keys = (-5.0, 0.0, 10.0, 10.5, 400.0)
    for match, beyond in itertools.product(
        ("exact", "next at or above", "next at or below"), ("not known", "not permitted")
    ):
        one = Table("t", "T", match, keys, {"a b": (1.0, 2.0, "not permitted", 4.0, 5.0)}, beyond, 2)
        quick = one.compiled_lookup()
        for key in [k + d for k in keys for d in (-1e-3, -1e-12, 0.0, 1e-12, 1e-3)]:
            slow = one.find(key, "a", "b")
            try:
                fast: Any = quick(key, "a", "b")
            except LookupError:
                fast = None
            except Exception as fault:
                assert type(fault).__name__ == "NoEntry"
                fast = None
            if fast is not None:
                assert fast == slow, (match, key)
            elif match != "exact":
                assert isinstance(slow, Unknown | Barred), (match, key)


# --- what is not known -------------------------------------------------------------------------------------------

T, F, U, X = True, False, Unknown(frozenset({"/a"})), Barred("no")
MARK = {"T": T, "F": F, "U": U, "X": X}


def mark(value: Any) -> str:
    return "T" if value is True else "F" if value is False else "U" if isinstance(value, Unknown) else "X"


@pytest.mark.parametrize(("function", "rows"), [
    (both, {"T": "TFU", "F": "FFF", "U": "UFU"}), (either, {"T": "TTT", "F": "TFU", "U": "TUU"}),
])  # fmt: skip
def test_kleenes_tables(function: Any, rows: dict[str, str]) -> None:
    """Source: Kleene's strong three-valued logic, from memory; columns in the order true, untrue, unknown."""
    for left, row in rows.items():
        for right, expected in zip("TFU", row, strict=True):
            assert mark(function([MARK[left], MARK[right]])) == expected, (left, right)
    assert [mark(denied(v)) for v in (T, F, U)] == ["F", "T", "U"]


def test_what_is_barred_beside_the_rest() -> None:
    """The project's own definition: barred is never true, nor is its denial; an unknown may still save an "or"."""
    assert [mark(both([X, v])) for v in (T, F, U, X)] == ["X", "F", "X", "X"]
    assert [mark(both([v, X])) for v in (T, F, U, X)] == ["X", "F", "X", "X"]
    assert [mark(either([X, v])) for v in (T, F, U, X)] == ["T", "X", "U", "X"]
    assert [mark(either([v, X])) for v in (T, F, U, X)] == ["T", "X", "U", "X"]
    assert mark(denied(X)) == "X"
    assert mark(both([])) == "T" and mark(either([])) == "F"


STATES = {"T": "t", "F": "f", "U": "u", "V": "w", "X": "bar(named) == 'y'"}
FLAGS = {"t": "rapid_shutdown/provided", "f": "rapid_shutdown/listed_system",
         "u": "rapid_shutdown/backup_runs_inverter",
         "w": "rapid_shutdown/initiators_grouped", "named": "project/name"}  # fmt: skip
KNOWN: Document = {"project": {"name": "Elm"}, "rapid_shutdown": {"provided": True, "listed_system": False}}
BAR = table("bar", "key,cell\nElm,not permitted\n", "exact", None, None)
AT_U, AT_W = "/rapid_shutdown/backup_runs_inverter", "/rapid_shutdown/initiators_grouped"


def outcome(folder: Path, formula: str, document: Document = KNOWN) -> tuple[str, tuple[str, ...]]:
    """T, F or U for a statement asked of a house, and what is listed as missing."""
    (finding,) = ask(load(folder, {"inputs": FLAGS, "holds": formula}, tables=(BAR,)), document)
    return ("U" if not finding.decided else "T" if finding.verdict == "pass" else "F"), finding.missing


@pytest.mark.parametrize("word", ["and", "or"])
def test_rules_follow_the_tables(word: str, tmp_path: Path) -> None:
    """Source: as above; a barred statement is broken. The missing facts are those of the sides that decide nothing."""
    for left, right in itertools.product(STATES, repeat=2):
        a, b = ("U" if s == "V" else s for s in (left, right))
        expected = mark((both if word == "and" else either)([MARK[a], MARK[b]])).replace("X", "F")
        second = STATES[right] if left != right else f"not not ({STATES[right]})"
        found, missing = outcome(tmp_path, f"({STATES[left]}) {word} ({second})")
        assert found == expected, (left, word, right)
        sides = {AT_U: "U", AT_W: "V"}
        assert missing == (tuple(sorted(p for p, s in sides.items() if s in (left, right))) if found == "U" else ())


@pytest.mark.parametrize(("formula", "expected", "missing"), [
    ("u", "U", (AT_U,)), ("not u", "U", (AT_U,)), ("not not u", "U", (AT_U,)), ("not f", "T", ()), ("not t",
    "F", ()),
    ("(u and f) or w", "U", (AT_W,)), ("(u or t) and w", "U", (AT_W,)), ("(u and t) or w", "U", (AT_W, AT_U)),
    ("not (u and f)", "T", ()), ("not (u or t)", "F", ()), ("u and w and f", "F", ()), ("u or w or t", "T",
    ()),
    ("u if t else w", "U", (AT_U,)), ("u if f else w", "U", (AT_W,)), ("t if u else f", "U", (AT_U,)),
    ("w if u else f", "U", (AT_U,)), ("u == w", "U", (AT_W, AT_U)), ("u == t", "U", (AT_U,)),
    ("u and (w and f)", "F", ()), ("t and (u or (w and f))", "U", (AT_U,)),
])  # fmt: skip
def test_what_is_missing_is_what_would_decide(formula: str, expected: str, missing: tuple[str, ...],
                                              tmp_path: Path) -> None:  # fmt: skip
    """Source: the project's own definition, worked by hand from Kleene's tables."""
    found = outcome(tmp_path, formula)
    assert found == (expected, tuple(sorted(missing)))


@pytest.mark.parametrize("formula", ["(u and f) or w", "(u or t) and w", "(u and t) or w", "u and w",
    "u or w", "not u",
                                     "t and (u or (w and f))", "u == w"])  # fmt: skip
def test_filling_in_what_is_missing_decides(formula: str, tmp_path: Path) -> None:
    """And it decides as two-valued logic does (source: Python's own operators)."""
    _, missing = outcome(tmp_path, formula)
    assert missing
    for values in itertools.product((True, False), repeat=len(missing)):
        filled = {**KNOWN["rapid_shutdown"], **{p.split("/")[-1]: v for p, v in zip(missing, values, strict=True)}}
        said = {n: filled.get(path.split("/")[-1], False) for n, path in FLAGS.items() if n != "named"}
        found, rest = outcome(tmp_path, formula, {**KNOWN, "rapid_shutdown": filled})
        assert (found, rest) == ("T" if eval(formula, {}, said) else "F", ())


def test_missing_figures_of_a_sum_are_all_listed(tmp_path: Path) -> None:
    paths = {"a": "service/voltage", "b": "readings/line_to_line"}
    (finding,) = ask(load(tmp_path, {"inputs": paths, "holds": "a + b > 0"}), {})
    assert finding.missing == ("/readings/line_to_line", "/service/voltage")
    (finding,) = ask(load(tmp_path, {"inputs": paths, "holds": "a + b > 0"}), {"service": {"voltage": 240}})
    assert finding.missing == ("/readings/line_to_line",)
    assert finding.note.startswith("This rule can't be decided for the system; not stated: ")


def test_whether_a_rule_applies_may_be_unknown(tmp_path: Path) -> None:
    rule = {"inputs": FLAGS, "applies": "u", "scope": "houses of that kind", "holds": "f"}
    (finding,) = ask(load(tmp_path, rule), KNOWN)
    assert (finding.verdict, finding.missing, finding.decided) == ("warn", (AT_U,), False)
    for value, count in ((True, 1), (False, 0)):
        house = {**KNOWN, "rapid_shutdown": {**KNOWN["rapid_shutdown"], "backup_runs_inverter": value}}
        assert len(ask(load(tmp_path, rule), house)) == count
    (beside,) = (load(tmp_path, {**rule, "applies": "u and f"}),)
    assert ask(beside, KNOWN) == ()
    assert [a.rule for a in check(beside, ampcite.read(KNOWN)).not_applicable] == ["asked"]


# --- none, not known, and empty ----------------------------------------------------------------------------------

ELECTRONICS = [{"id": "E", "kind": "microinverter"}, {"id": "E2"}]


@pytest.mark.parametrize(("string", "expected", "missing"), [
    ({"electronics": "E"}, "T", ()), ({"electronics": None}, "F", ()),
    ({}, "U", ("/strings/0/electronics",)), ({"electronics": "E2"}, "U", ("/module_electronics/1/model",)),
])  # fmt: skip
def test_none_and_not_known_through_a_reference(string: Document, expected: str, missing: tuple[str, ...],
                                                tmp_path: Path) -> None:  # fmt: skip
    house = {"module_electronics": ELECTRONICS, "strings": [{"id": "S", **string}]}
    marks = {"T": "pass", "F": "fail", "U": "warn"}
    for holds, word in (("kind == 'microinverter'", expected),
                        ("not kind != 'microinverter'", expected),
                        ("kind in ('microinverter', 'shutdown device')", expected),
                        ("not absent(kind)", expected)):  # fmt: skip
        rule = {"each": "/strings/*", "inputs": {"kind": "electronics/kind"}, "holds": holds}
        (finding,) = ask(load(tmp_path, rule), house)
        assert (finding.verdict, finding.missing) == (marks[word], missing), holds


@pytest.mark.parametrize(("unit", "absent", "open_to_all", "missing"), [
    ({"outside_shutdown": None}, "yes", "no", ()), ({}, NOT_KNOWN, NOT_KNOWN, ("outside_shutdown",)),
    ({"outside_shutdown": {}}, "no", NOT_KNOWN, ("outside_shutdown/readily_accessible",)),
    ({"outside_shutdown": {"readily_accessible": True}}, "no", "yes", ()),
    ({"outside_shutdown": {"readily_accessible": False}}, "no", "no", ()),
])  # fmt: skip
def test_none_and_not_known_in_a_nested_object(unit: Document, absent: str, open_to_all: str,
                                               missing: tuple[str, ...], tmp_path: Path) -> None:  # fmt: skip
    marks = {"yes": "pass", "no": "fail", NOT_KNOWN: "warn"}
    paths = {"device": "outside_shutdown", "open": "outside_shutdown/readily_accessible"}
    book = load(tmp_path, {"id": "a", "each": "/storage/*", "inputs": paths, "holds": "absent(device)"},
                {"id": "b", "each": "/storage/*", "inputs": paths, "holds": "open"})  # fmt: skip
    found = {f.rule: f for f in ask(book, {"storage": [{"id": "B", **unit}]})}
    assert (found["a"].verdict, found["b"].verdict) == (marks[absent], marks[open_to_all])
    wanted = found["b"].missing
    assert wanted in (tuple(f"/storage/0/{m}" for m in missing), ("/storage/0/outside_shutdown/readily_accessible",))
    assert bool(wanted) == bool(missing)


def test_none_is_not_zero(tmp_path: Path) -> None:
    """An order with none is not decided; an equality with none is untrue."""
    rule = {"each": "/communications/*", "inputs": {"gap": "separation_from_power"}}
    house = runs(separation_from_power=[None])
    for holds, verdict in (("gap >= 0", "warn"), ("gap == 0", "fail"), ("gap != 0", "pass"),
        ("gap + gap == 0", "warn"),
                           ("absent(gap) or gap >= 0", "pass"), ("not absent(gap) and gap > 0", "fail"),
                           ("gap > 0 and not absent(gap)", "fail")):  # fmt: skip
        (finding,) = ask(load(tmp_path, {**rule, "holds": holds}), house)
        assert finding.verdict == verdict, holds
        if verdict == "warn":
            assert finding.missing == ("/communications/0/separation_from_power",)


@pytest.mark.parametrize(("house", "verdict", "missing"), [
    ({}, "warn", ("/strings",)), ({"strings": []}, "fail", ()), ({"strings": [{"id": "S"}]}, "pass", ()),
])  # fmt: skip
def test_a_list_missing_empty_or_given(house: Document, verdict: str, missing: tuple[str, ...], tmp_path: Path) -> None:
    (finding,) = ask(load(tmp_path, {"inputs": {"strings": "strings/*"}, "holds": "count(strings) > 0"}), house)
    assert (finding.verdict, finding.missing) == (verdict, missing)


@pytest.mark.parametrize(("circuit", "verdict", "missing"), [
    ({}, "warn", ("/circuits/0/strings",)), ({"strings": []}, "fail", ()), ({"strings": ["S"]}, "pass", ()),
])  # fmt: skip
def test_a_list_of_references_missing_empty_or_given(circuit: Document, verdict: str, missing: tuple[str,
    ...],
                                                     tmp_path: Path) -> None:  # fmt: skip
    rule = {"each": "/circuits/*", "inputs": {"strings": "strings/*"}, "holds": "count(strings) > 0"}
    (finding,) = ask(load(tmp_path, rule), {"strings": [{"id": "S"}], "circuits": [{"id": "C", **circuit}]})
    assert (finding.verdict, finding.missing) == (verdict, missing)


INVERTER: Document = {"inverters": [{"id": "INV", "inputs": [{"id": "I1"}, {"id": "I2"}]}]}


@pytest.mark.parametrize(("strings", "counts", "missing"), [
    ([{"id": "S1", "input": "I1"}, {"id": "S2", "input": "I1"}], ["2", "0"], ()),
    ([], ["0", "0"], ()), (None, [NOT_KNOWN] * 2, ("/strings",)),
    ([{"id": "S1", "input": "I1"}, {"id": "S2"}], [NOT_KNOWN] * 2, ("/strings/1/input",)),
])  # fmt: skip
def test_who_refers_to_a_part(strings: Any, counts: list[str], missing: tuple[str, ...], tmp_path: Path) -> None:
    """`strings[input]`: nobody knows how many, while one string does not say where it goes."""
    house = INVERTER if strings is None else {**INVERTER, "strings": strings}
    rule = {"each": "/inverters/*/inputs/*", "inputs": {"strings": "strings[input]"},
        "let": {"n": "count(strings)"},
            "holds": "n >= 0", "passes": "{n}"}  # fmt: skip
    found = ask(load(tmp_path, rule), house)
    assert [f.note if f.decided else NOT_KNOWN for f in found] == counts
    assert all(f.missing == missing for f in found)


def test_figures_of_who_refers_to_a_part(tmp_path: Path) -> None:
    rule = {"each": "/inverters/*/inputs/*", "inputs": {"many": "strings[input]/modules_in_series"},
            "holds": "sum(many) == 0"}  # fmt: skip
    house = {**INVERTER, "strings": [{"id": "S1", "input": "I1", "modules_in_series": 9}, {"id": "S2", "input": "I1"}]}
    found = {f.about: f for f in ask(load(tmp_path, rule), house)}
    assert found["/inverters/0/inputs/0"].missing == ("/strings/1/modules_in_series",)
    assert found["/inverters/0/inputs/1"].verdict == "pass"


def test_a_quantity_that_fits_no_case_is_none(tmp_path: Path) -> None:
    derived = {"name": "slack", "meaning": "slack", "each": "/communications/*", "unit": "ft",
               "inputs": {"kind": "kind", "length": "length"},
               "case": [{"when": f"kind == '{TEXT}'", "value": "length"}]}  # fmt: skip
    rule = {"each": "/communications/*", "inputs": {"slack": "slack"}, "holds": "absent(slack)"}
    book = load(tmp_path, rule, derived=(derived,))
    found = {f.label[-2:]: f.verdict for f in ask(book, runs(kind=[TEXT, OTHER, MISSING, TEXT],
                                                              length=[1, 1, 1, MISSING]))}  # fmt: skip
    assert found == {"R1": "fail", "R2": "pass", "R3": "warn", "R4": "warn"}


def test_an_input_may_have_the_name_of_a_quantity_that_an_edition_lacks(tmp_path: Path) -> None:
    young = figure("young", "ft", {"2023": "1"})
    lacked = {"name": "slack", "meaning": "slack", "each": "/communications/*", "unit": "ft",
              "inputs": {"length": "length"}, "value": "length - young"}  # fmt: skip
    kept = {"name": "twice", "meaning": "twice", "each": "/communications/*", "unit": "ft",
            "inputs": {"slack": "length"}, "let": {"young": "slack"}, "value": "slack + young"}  # fmt: skip
    rule = {"each": "/communications/*", "inputs": {"twice": "twice"}, "holds": "twice >= 0",
            "passes": "It is {twice}."}  # fmt: skip
    book = load(tmp_path, rule, derived=(lacked, kept), figures=(young,))
    assert [f.note for f in ask(book, runs(kind=[TEXT], length=[3]))] == ["It is 6 ft."]


def test_what_a_figure_decides_alone_needs_no_fact(tmp_path: Path) -> None:
    """By both ways: a limit that may be one of two decides where both are kept; so does a figure beside an unknown."""
    figures = (figure("little", "ft", "1"), figure("much", "ft", "2"), figure("free", "", "1"))
    row = {"each": "/communications/*", "inputs": {"out": "outdoors", "long": "length"}}
    either = {**row, "let": {"most": "much if out else little"}, "holds": "long <= most"}
    lengths: list[Any] = [1, 1.5, 3]
    found = ask(load(tmp_path, either, figures=figures), runs(kind=[TEXT] * 3, length=lengths))
    assert {f.label[-2:]: f.verdict for f in found} == {"R1": "pass", "R2": "warn", "R3": "fail"}
    beside = {**row, "holds": "not out and (free == 1 or long <= little)"}
    document = runs(kind=[TEXT] * 3, outdoors=[True, False, MISSING])
    found = ask(load(tmp_path, beside, figures=figures), document)
    assert {f.label[-2:]: f.verdict for f in found} == {"R1": "fail", "R2": "pass", "R3": "warn"}


@pytest.mark.parametrize(("reckoned", "much"), [
    ("long + least", "12"), ("long - least", "8"), ("max(long + least, long)", "12"),
    ("largest(lengths) + least", "12"), ("abs(least - long)", "8"),
])  # fmt: skip
def test_what_is_reckoned_from_one_of_two_is_not_that_one(reckoned: str, much: str, tmp_path: Path) -> None:
    """A sum with a part that may be 1 ft or 2 ft may be one of two as well, so that the part decides nothing."""
    figures = (figure("little", "ft", "1"), figure("more", "ft", "2"), figure("asked_for", "ft", much))
    rule = {"each": "/communications/*", "let": {"least": "more if out else little", "total": reckoned},
            "inputs": {"out": "outdoors", "long": "length", "lengths": "/communications/*/length"},
            "holds": "total == asked_for"}  # fmt: skip
    book = load(tmp_path, rule, figures=figures)
    for outdoors, verdict in ([True], "pass"), ([False], "fail"), ([MISSING], "warn"):
        [found] = ask(book, runs(kind=[TEXT], length=[10], outdoors=outdoors))
        assert found.verdict == verdict, found.note


def test_the_first_case_that_is_true_counts(tmp_path: Path) -> None:
    derived = {"name": "slack", "meaning": "slack", "each": "/communications/*", "unit": "in",
               "inputs": {"length": "length", "out": "outdoors"},
               "case": [{"when": "out", "let": {"twice": "length + length"}, "value": "twice"},
                        {"when": "length > limit", "value": "length"}, {"value": "limit"}]}  # fmt: skip
    rule = {
        "each": "/communications/*",
        "inputs": {"slack": "slack"},
        "holds": "slack >= 0",
        "passes": "It is {slack}.",
    }
    book = load(tmp_path, rule, derived=(derived,), figures=(figure("limit", "ft", "5"),))
    house = runs(length=[10, 10, 1, 10], outdoors=[True, False, False, MISSING])
    assert [f.note for f in sorted(ask(book, house), key=lambda f: f.about)][:3] == [
        "It is 240 in.", "It is 120 in.", "It is 60 in."]  # fmt: skip
    assert [f.missing for f in ask(book, house) if not f.decided] == [("/communications/3/outdoors",)]


# --- ways --------------------------------------------------------------------------------------------------------


def way(name: str, holds: str, **more: Any) -> Record:
    return {"name": name, "holds": holds, "says": f"{name.capitalize()} is the way.", **more}


def by_ways(folder: Path, *several: Record, edition: int = 2020, document: Document = KNOWN) -> Finding:
    rule = {"inputs": FLAGS, "way": list(several), "passes": "{way}", "fails": "No way is kept."}
    (finding,) = ask(load(folder, rule, tables=(BAR,), edition=edition), document)
    return finding


def test_the_first_way_that_holds_is_named(tmp_path: Path) -> None:
    first, second, third = way("one", "f"), way("two", "t"), way("three", "t")
    found = by_ways(tmp_path, first, second, third)
    assert (found.verdict, found.note) == ("pass", "Two is the way.")
    assert found.worked == ("two: t: yes",)
    found = by_ways(tmp_path, third, second, first)
    assert found.note == "Three is the way."
    found = by_ways(tmp_path, first, way("no", "not t"))
    assert (found.verdict, found.note, len(found.worked)) == ("fail", "No way is kept.", 2)


def test_an_unknown_way_beside_others(tmp_path: Path) -> None:
    assert by_ways(tmp_path, way("unknown", "u"), way("two", "t")).note == "Two is the way."
    assert by_ways(tmp_path, way("two", "t"), way("unknown", "u")).note == "Two is the way."
    found = by_ways(tmp_path, way("unknown", "u"), way("two", "f"), way("three", "w"))
    assert (found.verdict, found.decided, found.missing) == ("warn", False, (AT_U, AT_W))


def test_a_barred_way_beside_others(tmp_path: Path) -> None:
    bar = way("barred", "bar(named) == 'y'")
    assert by_ways(tmp_path, bar, way("two", "t")).note == "Two is the way."
    assert by_ways(tmp_path, bar, way("two", "f")).verdict == "fail"
    assert by_ways(tmp_path, bar, way("unknown", "u")).missing == (AT_U,)


def test_ways_come_and_go_by_edition(tmp_path: Path) -> None:
    old, new, always = way("old", "t", withdrawn=2023), way("new", "t", begins=2023), way("always", "f")
    assert by_ways(tmp_path, old, new, always, edition=2020).note == "Old is the way."
    assert by_ways(tmp_path, old, new, always, edition=2023).note == "New is the way."
    assert by_ways(tmp_path, way("old", "t", withdrawn=2023), always, edition=2023).verdict == "fail"
    assert by_ways(tmp_path, way("new", "t", begins=2023), always, edition=2020).verdict == "fail"


def test_a_rule_comes_and_goes_by_edition(tmp_path: Path) -> None:
    rule = {"inputs": FLAGS, "holds": "t"}
    for dates, inside in (({"begins": 2023}, {2020: 0, 2023: 1}), ({"withdrawn": 2023}, {2020: 1, 2023: 0})):
        for edition, count in inside.items():
            book = load(tmp_path, {**rule, **dates}, {**rule, "id": "other"}, edition=edition)
            assert len([f for f in ask(book, KNOWN) if f.rule == "asked"]) == count
            assert len(check(book, ampcite.read(KNOWN)).not_applicable) == 1 - count


def test_a_way_inside_a_longer_sentence(tmp_path: Path) -> None:
    rule = {"each": "/communications/*", "inputs": {"out": "outdoors"}, "passes": "Kept: {way}",
            "way": [{"name": "one", "holds": "out", "says": "{each} is outdoors."}]}  # fmt: skip
    (finding,) = ask(load(tmp_path, rule), runs(outdoors=[True]))
    assert finding.note == "Kept: communication run R1 is outdoors."


# --- sentences ---------------------------------------------------------------------------------------------------


def test_sentences_by_edition(tmp_path: Path) -> None:
    rule = {"inputs": FLAGS, "holds": "t", "passes": {"2020": "Kept as in 2020.", "2023": "Kept as in 2023."}}
    other = {"id": "other", "inputs": FLAGS, "holds": "f", "fails": {"2020": "Old.", "2023": "New."},
             "remedy": {"2020": "Old cure.", "2023": "New cure."}}  # fmt: skip
    for edition, notes in (
        (2020, ("Old.", "Old cure.", "Kept as in 2020.")),
        (2023, ("New.", "New cure.", "Kept as in 2023.")),
    ):
        fail, good = ask(load(tmp_path, rule, other, edition=edition), KNOWN)
        assert (fail.note, fail.remedy, good.note) == notes


@pytest.mark.parametrize(("gap", "expected"), [(None, "Its gap is not asked for."), (2, "Its gap is 2 in."),
                                               (0, "Its gap is 0 in.")])  # fmt: skip
def test_words_for_none(gap: Any, expected: str, tmp_path: Path) -> None:
    rule = {"each": "/communications/*", "inputs": {"gap": "separation_from_power", "long": "length"},
            "holds": "long > 0 or absent(gap)", "passes": "Its gap is {gap|not asked for}.",
            "fails": "Its gap is {gap|not asked for}."}  # fmt: skip
    for length in (1, 0, MISSING):
        book = load(tmp_path, rule)
        for finding in ask(book, runs(separation_from_power=[gap], length=[length])):
            assert finding.note == expected or not finding.decided


def test_every_type_has_words(tmp_path: Path) -> None:
    paths = {"text": "kind", "flag": "outdoors", "long": "length", "gap": "separation_from_power",
             "all_kinds": "/communications/*/kind", "all_gaps": "/communications/*/separation_from_power",
             "all_flags": "/communications/*/outdoors", "rate": "/modules/*/voc_coefficient",
             "nobody": "/strings/*/id"}  # fmt: skip
    rule = {"each": "/communications/*", "inputs": paths, "holds": "long > 0",
            "passes": "{text}; {flag}; {long}; {gap}; {all_kinds}; "
                      "{all_gaps}; {all_flags}; {rate}; {nobody}"}  # fmt: skip
    house = {**runs(kind=[TEXT, OTHER], outdoors=[True, False], length=[1.5, 2],
        separation_from_power=[None, 4]),
             "modules": [{"id": "M", "voc_coefficient": -0.27}], "strings": []}  # fmt: skip
    one, two = ask(load(tmp_path, rule), house)
    assert one.note == f"{TEXT}; yes; 1.5 ft; none; {TEXT}, {OTHER}; none, 4 in; yes, no; -0.27%/°C; none".replace(
        "-0.27%/", "-0.27 %/")  # fmt: skip
    assert two.note.startswith(f"{OTHER[0].upper()}{OTHER[1:]}; no; 2 ft; 4 in; ")


@pytest.mark.parametrize("where", ["a slot", "a number asked about", "a list asked about"])
def test_parts_are_never_printed_as_records(where: str, tmp_path: Path) -> None:
    """A list of parts in words is its parts' names, or it is refused; never a record of the program."""
    rule = {"inputs": {"runs": "communications/*", "n": "project/name"}, "holds": "n == n", "passes": "All: {runs}."}
    if where == "a number asked about":
        rule |= {"holds": "count(runs) > 0", "passes": "Kept."}
    elif where == "a list asked about":
        rule |= {"holds": "not absent(runs) or n == n", "passes": "Kept."}
    try:
        book = load(tmp_path, rule)
    except ampcite.PackError:
        return
    (finding,) = ask(book, {"project": {"name": "x"}, **runs(length=[1, 2])})
    said = " ".join((finding.note, *finding.worked))
    assert "Part(" not in said and "pointer" not in said


def test_a_sentence_begins_with_a_capital(tmp_path: Path) -> None:
    rule = {"each": "/communications/*", "inputs": {"out": "outdoors", "text": "kind"}, "holds": "out",
            "passes": "{each} and {each} are fine.", "fails": "{text} of {each}.",
            "remedy": "Move {each}."}  # fmt: skip
    bad, good = ask(load(tmp_path, rule), runs(outdoors=[True, False], kind=[OTHER, OTHER]))
    assert good.note == "Communication run R1 and communication run R1 are fine."
    assert bad.note == "Twisted-pair ethernet of communication run R2."
    assert bad.remedy == "Move communication run R2."


@pytest.mark.parametrize(("text", "note"), [("it is fine.", "It is fine."), ("élan is fine.", "Élan is fine."),
                                            ("{out} is it.", "Yes is it.")])  # fmt: skip
def test_a_note_begins_with_a_capital_whatever_it_begins_with(text: str, note: str, tmp_path: Path) -> None:
    rule = {"each": "/communications/*", "inputs": {"out": "outdoors"}, "holds": "out", "passes": text}
    (finding,) = ask(load(tmp_path, rule), runs(outdoors=[True]))
    assert finding.note == note


def test_the_label_of_a_part_without_an_id(tmp_path: Path) -> None:
    rule = {"each": "/circuits/*/segments/*", "inputs": {"wet": "wet"}, "holds": "wet", "passes": "{each} is wet."}
    (finding,) = ask(load(tmp_path, rule), {"circuits": [{"id": "C", "segments": [{"wet": True}]}]})
    assert finding.note == "Segment 1 of circuit C is wet."


CLOSE = ((15.1, 15.1000001), (15.1000001, 15.1), (99999.5, 99999.51), (0.00012345678, 0.00012345679), (1e6,
    1000001),
         (1200.52, 1200.55), (3.0000001, 3), (15.1, 15.10000002))  # fmt: skip


def told_apart(finding: Finding) -> None:
    """No printed figure is on both sides of a comparison that says they differ."""
    if finding.verdict != "fail":
        return
    words = finding.note.rstrip(".").split(" is not at least ")
    assert words[0] != words[1], finding.note
    for line in finding.worked:
        if " ≥ " in line and line.endswith(": no"):
            left, right = (side.split(" ft")[0].split()[-1] for side in line.removesuffix(": no").split(" ≥ "))
            assert left != right, line


@pytest.mark.parametrize(("a", "b"), CLOSE)
@pytest.mark.parametrize("form", ["{a} >= {b}", "{a} >= {b} and out", "not {a} < {b}", "{a} >= {b} or not out"])
def test_close_figures_are_printed_so_that_they_differ(a: float, b: float, form: str, tmp_path: Path) -> None:
    """ "15.1 A is not at least 15.1 A" must never be said (law 5), in whatever statement the figures stand."""
    rule = {"inputs": {"a": "rapid_shutdown/boundary_distance", "b": "rapid_shutdown/entry_distance",
                       "out": "rapid_shutdown/provided"},
            "holds": form.format(a="a", b="b"), "fails": "{a} is not at least {b}."}  # fmt: skip
    house = {"rapid_shutdown": {"boundary_distance": a, "entry_distance": b, "provided": True}}
    (finding,) = ask(load(tmp_path, rule), house)
    told_apart(finding)
    if form == "{a} >= {b}":
        assert finding.margin == (a - b, "ft")


@pytest.mark.parametrize(("a", "b"), CLOSE)
def test_close_figures_in_ways_are_printed_so_that_they_differ(a: float, b: float, tmp_path: Path) -> None:
    rule = {"inputs": {"a": "rapid_shutdown/boundary_distance", "b": "rapid_shutdown/entry_distance"},
            "way": [{"name": "w", "holds": "a >= b", "says": "Kept."}],
            "fails": "{a} is not at least {b}."}  # fmt: skip
    house = {"rapid_shutdown": {"boundary_distance": a, "entry_distance": b}}
    (finding,) = ask(load(tmp_path, rule), house)
    told_apart(finding)


@pytest.mark.parametrize(("length", "limit"), [("15.1", "15.1000001"), ("1200.52", "1200.55"), ("99.999995",
    "100"),
                                               ("1000000", "1000001")])  # fmt: skip
def test_a_figure_close_to_a_parameter_is_printed_so_that_they_differ(length: str, limit: str, tmp_path: Path) -> None:
    rule = {"each": "/communications/*", "inputs": {"length": "length"}, "holds": "length >= limit",
            "fails": "{length} is not at least {limit}."}  # fmt: skip
    (finding,) = ask(load(tmp_path, rule, figures=(figure("limit", "ft", limit),)), runs(length=[float(length)]))
    assert finding.verdict == "fail"
    told_apart(finding)


@pytest.mark.parametrize("value", [1e-12, 0.00001, 0.0001234567, 1, 12345.678, 123456.7, 1000000, 1e9, 123456789012345])
def test_no_figure_is_in_powers_of_ten(value: float, tmp_path: Path) -> None:
    text = f"{value:.20f}".rstrip("0").rstrip(".")
    rule = {"each": "/communications/*", "inputs": {"length": "length"}, "let": {"twice": "length + limit"},
            "holds": "length <= limit", "passes": "{length}, {limit}, {twice}."}  # fmt: skip
    (finding,) = ask(load(tmp_path, rule, figures=(figure("limit", "ft", text),)), runs(length=[value]))
    said = " ".join((finding.note, *finding.worked))
    assert not any(c.isdigit() and d == "e" for c, d in itertools.pairwise(said)), said


@pytest.mark.parametrize(("value", "short", "long"), [
    (0, "0", "0"),
    (1 / 3, "0.3333", "0.333333333333"), (1e5, "100000", "100000"), (1e15, "1000000000000000",
    "1000000000000000"),
    (1e-7, "0.0000001", "0.0000001"), (-2.5, "-2.5", "-2.5"),
    (123456.789, "123500", "123456.789"), (26240, "26240", "26240"),
])  # fmt: skip
def test_how_a_number_is_written(value: float, short: str, long: str) -> None:
    """wording.py: four figures and all of a whole number, or twelve, never in powers of ten."""
    assert (coarse(value), fine(value)) == (short, long)


@pytest.mark.parametrize("count", [10, 11, 25])
def test_long_lists_are_cut(count: int, tmp_path: Path) -> None:
    rule = {"inputs": {"lengths": "communications/*/length", "names": "communications/*/id"},
            "holds": "sum(lengths) > 0", "passes": "{names}: {lengths}."}  # fmt: skip
    (finding,) = ask(load(tmp_path, rule), runs(length=list(range(1, count + 1))))
    assert finding.note.startswith("R1, R2, ")
    assert "R10" in finding.note and "R11" not in finding.note
    assert ", 10" in finding.note.split(": ")[1] and ", 11" not in finding.note
    assert ("more" in finding.note) == (count > 10)
    if count > 10:
        assert finding.note.count(f" and {count - 10} more") == 2
    assert len(finding.note) < 120 and finding.note.endswith(" ft.")


# --- texts that try to break out ---------------------------------------------------------------------------------

ODD = {
    "quotes": "a\"b'c\"\"\"d'''e", "backslashes": "\\ \\n \\x41 \\u0041 \\",
    "newlines": "two\nlines\r\n\tand",
    "line separators": "a\u2028b\u2029c\x85d\x0b\x0ce", "percent": "%s %(x)s %%", "dollar": "$x $(x) `x`",
    "code": "\" + __import__('os').getcwd() + \"", "hash": "# '''",
    "attribute of the generated code": "p.label way w out",
    "subscript of the generated code": "V_oc[0] and L_max[1]", "direction": "\u202eabc\u202c\u200b\ufeff",
    "beyond the basic plane": "\U0001f600 \U00020000", "private plane": "\U000f0000 \U00100001",
    "flag tags": "\U0001f3f4\U000e0067\U000e007f", "nul and bell": "a\x00b\x07", "markup": "<b>&amp;</b>",
}  # fmt: skip
BRACES = {"a name of a character": "\\N{DIGIT ONE}", "dollar and braces": "${x}",
    "class": "{each.__class__}", "slot": "{length}", "slot of a rule": "{each} {way} {x!r} {0} {}",
    "doubled": "{{each}}",
          "unbalanced": "}{ { }", "nested": "{a{b}c}"}  # fmt: skip


@pytest.mark.parametrize("case", [*ODD, *BRACES])
def test_an_odd_text_of_a_house_comes_out_as_it_is(case: str, tmp_path: Path) -> None:
    text = {**ODD, **BRACES}[case]
    rule = {"each": "/disconnects/*", "inputs": {"high": "handle_height", "name": "id",
        "note": "/project/name",
                                                "names": "/disconnects/*/id"},
            "holds": "high <= limit", "passes": "{each}|{name}|{note}|{names}|{high}",
            "fails": "{each}|{name}|{note}|{names}|{high}",
            "remedy": "Lower {each}, {name}."}  # fmt: skip
    book = load(tmp_path, rule, figures=(figure("limit", "in", "5"),))
    house = {"project": {"name": text}, "disconnects": [{"id": text, "handle_height": 9}]}
    (finding,) = ask(book, house)
    assert finding.label == f"disconnect {text}"
    assert finding.note == f"Disconnect {text}|{text}|{text}|{text}|9 in"
    assert finding.remedy == f"Lower disconnect {text}, {text}."
    assert not handed_over(book, house)
    back = json.loads(ampcite.to_json(check(book, ampcite.read(house))))
    assert back["findings"][0]["note"] == finding.note
    (unsaid,) = ask(book, {**house, "disconnects": [{"id": text}]})
    assert f"disconnect {text}" in unsaid.note


@pytest.mark.parametrize("case", ODD)
def test_an_odd_text_of_a_pack_comes_out_as_it_is(case: str, tmp_path: Path) -> None:
    text = ODD[case]
    rule = {"title": f"T {text}", "family": text, "each": "/communications/*",
            "inputs": {"length": "length", "kind": "kind", "name": "id", "gap": "separation_from_power"},
            "let": {"value": "spacing(length)"},
            "holds": "value >= 0 and (absent(gap) or gap > 0)",
            "passes": f"A {text} {{length}} {{gap|{text}}}", "fails": f"B {text}",
            "remedy": f"C {text}"}  # fmt: skip
    spec = table("spacing", "key,cell\n1,1\n2,2\n", clause={"2020": f"Table {text}"})
    book = load(tmp_path, rule, tables=(spec,))
    house = runs(length=[1, 2], kind=[TEXT, TEXT], separation_from_power=[None, 0])
    bad, good = ask(book, house)
    assert (good.title, good.family, good.note) == (f"T {text}", text, f"A {text} 1 ft {text}")
    assert (bad.note, bad.remedy) == (f"B {text}", f"C {text}")
    assert any(f"Table {text} (length 1 ft)" in line for line in good.worked)
    assert not handed_over(book, house)


@pytest.mark.parametrize("case", ODD)
def test_an_odd_text_in_a_way_and_a_case_comes_out_as_it_is(case: str, tmp_path: Path) -> None:
    text = ODD[case]
    derived = {"name": "slack", "meaning": text, "each": "/communications/*", "unit": "ft",
        "inputs": {"length": "length"},
               "case": [{"value": "length", "says": f"Since {text}"}]}  # fmt: skip
    rule = {"each": "/communications/*", "inputs": {"slack": "slack"}, "passes": "{way}",
            "way": [{"name": text, "holds": "slack > 0", "says": f"Says {text}"}]}  # fmt: skip
    book = load(tmp_path, rule, derived=(derived,))
    (finding,) = ask(book, runs(length=[1]))
    assert finding.note == f"Says {text}"
    assert f"Since {text}" in finding.worked and f"{text}: slack 1 ft > 0: yes" in finding.worked
    assert not handed_over(book, runs(length=[1]))


@pytest.mark.parametrize(
    "text", ["a\\'b", 'a"b', "{x}", "{x.__class__}", "%s", "\\\\", "\\n", "\u2028", "\\u2028", "é"]
)
def test_an_odd_text_in_a_formula_is_that_text(text: str, tmp_path: Path) -> None:
    """Source: Python's own reading of the same literal."""
    literal = f"'{text}'" if "'" not in text or "\\'" in text else f'"{text}"'
    meant = eval(literal)
    rule = {"inputs": {"name": "project/name"}, "holds": f"name == {literal}"}
    book = load(tmp_path, rule)
    for name, verdict in ((meant, "pass"), (meant + "x", "fail")):
        (finding,) = ask(book, {"project": {"name": name}})
        assert finding.verdict == verdict
        assert finding.worked == (f"name {name} (asked: {meant}): {'yes' if verdict == 'pass' else 'no'}",)


@pytest.mark.parametrize("name", ["p", "out", "world", "house", "lines", "way_", "m", "w", "good", "o_0",
    "e_1", "close",
                                  "len", "figures", "aside", "slow", "same", "over", "at", "type", "self",
                                  "v_v", "min",
                                  "sum", "count", "note", "print", "exec"])  # fmt: skip
def test_a_name_never_meets_one_of_the_generated_code(name: str, tmp_path: Path) -> None:
    """An input, a let, a figure and a quantity of every such name."""
    derived = {"name": f"{name}_d", "meaning": "m", "each": "/communications/*", "inputs": {name: "length"},
               "case": [{"let": {f"{name}_l": f"{name} + {name}"}, "value": f"{name}_l"}]}  # fmt: skip
    rule = {"each": "/communications/*", "inputs": {name: "length", f"{name}_d": f"{name}_d",
        "others": "/communications/*/length"},
            "let": {f"{name}_x": f"max({name}, {name}_d)"},
            "holds": f"{name}_x >= {name}_f and sum(others) > 0",
            "passes": f"{{{name}}} {{{name}_x}} {{{name}_f}} {{{name}_d}} {{others}}"}  # fmt: skip
    book = load(tmp_path, rule, derived=(derived,), figures=(figure(f"{name}_f", "ft", "3"),))
    (finding,) = ask(book, runs(length=[2]))
    assert finding.note == "2 ft 4 ft 3 ft 4 ft 2 ft"
    assert not handed_over(book, runs(length=[2]))
