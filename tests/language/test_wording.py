"""What a formula looks like in a worked line: its signs, its brackets, its functions, with a place for each value.

Source: the project's own definition; a person reads these lines beside the clause, so each is written out here.
"""

from __future__ import annotations

import pytest
from formulas import FEET, FLAG, NAMES, PLAIN, SCOPE, TEXT, VOLTS

from ampcite.language.formula import FUNCTIONS, parse
from ampcite.language.logic import ABSENT, Barred, Unknown
from ampcite.language.tree import Type
from ampcite.language.wording import Piece, Slot, format_value, line_of, listed, show, words


def said(pieces: tuple[Piece, ...]) -> str:
    """The pieces as one text: a value as its name in braces, two ways as both with a stroke between them."""
    return "".join(
        piece if isinstance(piece, str) else f"{{{piece.name}}}" if isinstance(piece, Slot)
        else f"<{said(piece.yes)}|{said(piece.no)}>"
        for piece in pieces
    )  # fmt: skip


@pytest.mark.parametrize(
    ("formula", "line"),
    [
        ("voltage + spare - limit", "voltage {voltage} + spare {spare} − limit {limit}"),
        ("voltage - (spare - limit)", "voltage {voltage} − (spare {spare} − limit {limit})"),
        ("voltage - (spare + limit)", "voltage {voltage} − (spare {spare} + limit {limit})"),
        ("voltage + (spare + limit)", "voltage {voltage} + spare {spare} + limit {limit}"),
        ("(voltage + spare) * factor", "(voltage {voltage} + spare {spare}) × factor {factor}"),
        ("voltage * factor * factor", "voltage {voltage} × factor {factor} × factor {factor}"),
        ("voltage / (factor * factor)", "voltage {voltage} ÷ (factor {factor} × factor {factor})"),
        ("voltage / factor / factor", "voltage {voltage} ÷ factor {factor} ÷ factor {factor}"),
        ("voltage * (1 + factor)", "voltage {voltage} × (1 + factor {factor})"),
        ("-(voltage + spare)", "−(voltage {voltage} + spare {spare})"),
        ("-voltage * factor", "−voltage {voltage} × factor {factor}"),
        ("voltage <= limit", "voltage {voltage} ≤ limit {limit}"),
        ("voltage < limit", "voltage {voltage} < limit {limit}"),
        ("voltage >= limit", "voltage {voltage} ≥ limit {limit}"),
        ("voltage > limit", "voltage {voltage} > limit {limit}"),
        ("voltage == limit", "voltage {voltage} = limit {limit}"),
        ("voltage != limit", "voltage {voltage} ≠ limit {limit}"),
        ("voltage <= limit + spare", "voltage {voltage} ≤ limit {limit} + spare {spare}"),
        ("place == 'attic'", "place {place} (asked: attic)"),
        ("place != 'attic'", "place {place} (not: attic)"),
        ("place == 'attic' or place == 'garage'", "place {place} (asked: attic or garage)"),
        ("place == 'attic' or built_on == 'x'", "place {place} (asked: attic) or built on {built_on} (asked: x)"),
        ("place == 'attic' or place != 'garage'", "place {place} (asked: attic) or place {place} (not: garage)"),
        ("wet", "wet"),
        ("not in_sight", "not: in sight"),
        ("not (wet or in_sight)", "not: (wet or in sight)"),
        ("wet and in_sight and voltage > limit", "wet and in sight and voltage {voltage} > limit {limit}"),
        ("wet and (in_sight or voltage > limit)", "wet and (in sight or voltage {voltage} > limit {limit})"),
        ("absent(gap)", "none given: (gap {gap})"),
        ("not absent(gap)", "gap is given"),
        ("voltage if wet else limit", "<voltage {voltage}|limit {limit}>"),
        ("(voltage if wet else limit + spare) * factor",
         "<voltage {voltage}|(limit {limit} + spare {spare})> × factor {factor}"),
        ("ampacity(place)", "Table 310.16 (place {place})"),
        ("ampacity('8 AWG')", "Table 310.16 (8 AWG)"),
    ],
)  # fmt: skip
def test_a_formula_as_it_is_read(formula: str, line: str) -> None:
    assert said(show(parse(formula, SCOPE), {})) == line


CALLS = {
    "min": ("min(voltage, limit)", "the smaller of (voltage {voltage}; limit {limit})"),
    "max": ("max(voltage, limit, 0)", "the larger of (voltage {voltage}; limit {limit}; 0)"),
    "abs": ("abs(voltage - limit)", "the size of (voltage {voltage} − limit {limit})"),
    "root": ("root(factor)", "the square root of (factor {factor})"),
    "whole": ("whole(factor)", "the whole part of (factor {factor})"),
    "percent": ("percent(factor)", "factor {factor}"),
    "sum": ("sum(lengths)", "the sum of (lengths {lengths})"),
    "largest": ("largest(lengths)", "the largest of (lengths {lengths})"),
    "least": ("least(lengths)", "the least of (lengths {lengths})"),
    "count": ("count(kinds)", "the number of (kinds {kinds})"),
    "how_many": ("how_many(kinds, 'RS-485')", "how many of (kinds {kinds}; RS-485)"),
    "has": ("has(kinds, 'RS-485')", "among (kinds {kinds}; RS-485)"),
    "all_are": ("all_are(kinds, 'RS-485')", "all of (kinds {kinds}; RS-485)"),
    "at_largest": ("at_largest(lengths, kinds)", "the one with the largest of (lengths {lengths}; kinds {kinds})"),
    "at_least": ("at_least(lengths, kinds)", "the one with the least of (lengths {lengths}; kinds {kinds})"),
    "any_is": ("any_is(flags)", "any of (flags {flags})"),
    "alike": ("alike(kinds)", "all alike: (kinds {kinds})"),
    "day": ("day(built_on)", "the day of (built on {built_on})"),
    "begins": ("begins(place, 'photovoltaic')", "words borne, first words asked: (place {place}; photovoltaic)"),
    "bears": ("bears(place, 'rapid ... shutdown')", "words borne, words asked: (place {place}; rapid ... shutdown)"),
    "absent": ("absent(gap)", "none given: (gap {gap})"),
}


def test_every_function_has_words() -> None:
    assert set(CALLS) == set(FUNCTIONS)


@pytest.mark.parametrize("name", CALLS)
def test_a_function_as_it_is_read(name: str) -> None:
    formula, line = CALLS[name]
    assert said(show(parse(formula, SCOPE), {})) == line


def test_parts_can_only_be_counted() -> None:
    assert said(show(parse("count(parts)", SCOPE), {})) == "the number of parts"


def test_the_line_of_a_named_value() -> None:
    assert said(line_of("highest_voltage", parse("voltage + spare", SCOPE), {})) == (
        "highest voltage = voltage {voltage} + spare {spare} = {highest_voltage}")  # fmt: skip
    assert said(line_of("highest_voltage", parse("voltage", SCOPE), {})) == "highest voltage = {highest_voltage}"
    assert said(line_of("nothing", parse("0", SCOPE), {})) == "nothing = {nothing}"


@pytest.mark.parametrize(
    ("value", "kind", "text"),
    [
        (Unknown(("/x",)), VOLTS, "not known"), (Barred(("a table",)), VOLTS, "not permitted"), (ABSENT, VOLTS, "none"),
        ((), NAMES["lengths"], "none"), ((1.0, 2.5), NAMES["lengths"], "1, 2.5 ft"), (12.0, FEET, "12 ft"),
        ((1.0, ABSENT), NAMES["lengths"], "1, none ft"), (3.0, PLAIN, "3"), (4.0, Type("number"), "4"),
        (True, FLAG, "yes"), (False, FLAG, "no"), ((True, False, ABSENT), NAMES["flags"], "yes, no, none"),
        (("RS-485", "USB"), NAMES["kinds"], "RS-485, USB"), ("attic", TEXT, "attic"),
        ((Unknown(("/x",)), "USB"), NAMES["kinds"], "not known, USB"),
    ],
)  # fmt: skip
def test_a_value_in_words(value: object, kind: Type, text: str) -> None:
    assert format_value(value, kind) == text


def test_of_many_values_the_first_ten_are_said() -> None:
    assert listed(list("abcdefghij")) == "a, b, c, d, e, f, g, h, i, j"
    assert listed(list("abcdefghijkl")) == "a, b, c, d, e, f, g, h, i, j and 2 more"
    assert words("a_name_of_many") == "a name of many"


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (VOLTS, "a number in V"), (PLAIN, "a plain number"), (Type("number"), "a plain number"), (TEXT, "a text"),
        (FLAG, "a yes or no"), (NAMES["parts"], "a list of parts"), (Type("outline"), "an outline"),
        (NAMES["lengths"], "a list, each a number in ft"), (NAMES["kinds"], "a list, each a text"),
    ],
)  # fmt: skip
def test_a_type_in_words(kind: Type, text: str) -> None:
    assert kind.words() == text
