"""What a formula is refused for: one clause that says what is wrong, and what is known instead.

Source: the project's own definition (docs/language.md). The clauses are written out, as an author of packs reads them.
"""

from __future__ import annotations

import pytest
from formulas import FEET, NAMES, PLAIN, SCOPE, VOLTS

from ampcite.language.formula import FUNCTIONS, MAX_DEPTH, MAX_LENGTH, FormulaError, parse
from ampcite.language.tree import Choose, Compare, Const, Logic, Node, Type
from ampcite.language.units import unit


def refused(formula: str) -> str:
    with pytest.raises(FormulaError) as caught:
        parse(formula, SCOPE)
    return str(caught.value)


DOT, WAY = "a dot (an attribute)", "compares in a way that formulas may not"
SAID = {
    "voltge": 'uses the name "voltge", which is not defined; did you mean "voltage"?',
    "voltage +": '"voltage +" is not a formula: something is missing in it, or left over',
    "voltage = limit": '"voltage = limit" is not a formula; write == to compare',
    "voltage > 2": "holds the figure 2; give it a name in [[parameter]] or a table",
    "voltage > 1.25": "holds 1.25; figures belong in [[parameter]] or a table",
    "voltage.real": f"uses {DOT}, which formulas may not",
    "lengths[0]": "uses square brackets, which formulas may not",
    "lambda: wet": "uses a lambda, which formulas may not",
    "[x for x in lengths]": "uses a comprehension, which formulas may not",
    "count(x for x in lengths)": "uses a comprehension, which formulas may not",
    "{x for x in lengths}": "uses a comprehension, which formulas may not",
    "{x: x for x in lengths}": "uses a comprehension, which formulas may not",
    "f'{place}'": "uses an f-string, which formulas may not",
    "(min)(voltage)(limit)": "uses a call of something that is not a plain name, which formulas may not",
    "voltage ** limit": "uses an operator other than + - * /, which formulas may not",
    "+voltage": "uses an operator other than minus and not, which formulas may not",
    "(x := voltage)": "uses an assignment, which formulas may not",
    "min(*lengths)": "uses a star, which formulas may not",
    "(voltage, limit)": "uses a list of values, which formulas may not",
    "[voltage, limit]": "uses a list of values, which formulas may not",
    "{'a': voltage}": "uses curly brackets, which formulas may not",
    "{voltage}": "uses curly brackets, which formulas may not",
    "min(a=voltage)": "calls with a keyword argument, which formulas may not",
    "wet is in_sight": WAY,
    "place not in ('attic',)": WAY,
    "wet + voltage": "reckons with wet (a yes or no), which is not one number",
    "voltage - lengths": "reckons with lengths (ft), which is not one number",
    "-place": "reckons with place (a text), which is not one number",
    "not voltage": "asks whether voltage (V) is true, which is not a yes or no",
    "wet and factor": "asks whether factor (no unit) is true, which is not a yes or no",
    "not flags": "asks whether flags (a list, each a yes or no) is true, which is not a yes or no",
    "wet and voltage + limit": "asks whether a value in V is true, which is not a yes or no",
    "wet and factor * factor": "asks whether a value in no unit is true, which is not a yes or no",
    "voltage if place else limit": "asks whether place (a text) is true, which is not a yes or no",
    "voltage + gap": "adds voltage (V) and gap (ft), whose units do not fit",
    "voltage - gap": "subtracts voltage (V) and gap (ft), whose units do not fit",
    "voltage > gap": "compares voltage (V) and gap (ft), whose units do not fit",
    "voltage > place": "compares voltage (V) and place (a text), which are not of one kind",
    "voltage > lengths": "compares voltage (V) and lengths (ft), which are not of one kind",
    "parts == parts": "compares parts (a list of parts) and parts (a list of parts), which are not of one kind",
    "outline == outline": "compares outline (an outline) and outline (an outline), which are not of one kind",
    "kinds == kinds": "compares kinds (a list, each a text) whole; use one of its parts",
    "place < 'attic'": "orders place (a text) and 'attic', which are not numbers",
    "wet >= in_sight": "orders wet (a yes or no) and in_sight (a yes or no), which are not numbers",
    "voltage if wet else gap": "gives one of voltage (V) and gap (ft), whose units do not fit",
    "room == 'atic'": 'compares room (a text) and "atic", which it can never be; did you mean "attic"?',
    "'sewer' == room": 'compares room (a text) and "sewer", which it can never be; known here: "attic", "garage"',
    "room in ('attic', 'cellar')": 'compares room (a text) and "cellar", which it can never be; '
                                   'known here: "attic", "garage"',
    "place in kinds": 'uses "in" without a list of texts in round brackets; for one text write ==',
    "largst(lengths)": 'calls "largst", which is neither a function nor a table here; did you mean "largest"?',
    "ampcity(place)": 'calls "ampcity", which is neither a function nor a table here; did you mean "ampacity"?',
    "has(rooms, 'atic')": 'looks for "atic", which can never occur; did you mean "attic"?',
    "ampacity()": "looks up ampacity with 0 keys; it has 1",
    "cover(gap)": "looks up cover with 1 keys; it has 2",
    "ampacity(voltage)": "looks up ampacity with voltage (V) where the key is a text",
    "ampacity(kinds)": "looks up ampacity with kinds (a list, each a text) where the key is a text",
    "cover(voltage, room)": "looks up cover with voltage (V) where the key is a number in ft",
    "cover(gap, 'atic')": 'looks up cover with "atic", which is no key; did you mean "attic"?',
}  # fmt: skip


@pytest.mark.parametrize("formula", SAID)
def test_why_a_formula_is_refused(formula: str) -> None:
    assert refused(formula) == SAID[formula]


TAKES_OTHERS = {
    "min": ("voltage",), "max": ("voltage",), "abs": ("lengths",), "whole": ("voltage",), "root": ("voltage",),
    "percent": ("gap",), "sum": ("voltage",), "largest": ("kinds",), "least": ("voltage",), "count": ("voltage",),
    "has": ("kinds",),
    "how_many": ("place", "'a'"), "all_are": ("kinds", "kinds"), "at_largest": ("kinds", "lengths"),
    "at_least": ("lengths", "lengths"), "any_is": ("wet",), "alike": ("flags",), "bears": ("kinds", "'a'"),
    "begins": ("place", "kinds"), "day": ("voltage",), "absent": ("voltage + limit",),
}  # fmt: skip


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_function_says_what_it_gives_when_it_is_given_something_else(name: str) -> None:
    said = refused(f"{name}({', '.join(TAKES_OTHERS[name])})")
    assert said.startswith(f"calls {name} with ") and said.endswith(f"; {name} gives {FUNCTIONS[name]}")
    assert f"calls {name} with nothing; " in refused(f"{name}()")


def test_what_a_function_was_given_is_said() -> None:
    assert refused("whole(voltage)") == (
        "calls whole with voltage (V); whole gives the whole part of a plain number, forgiving one part in 10^9")
    assert refused("has(place, voltage)").startswith("calls has with place (a text), voltage (V); has gives")


def test_long_and_deep_formulas() -> None:
    assert (MAX_LENGTH, MAX_DEPTH) == (400, 24), "as docs/language.md has it"
    assert parse(" " + "1" + " " * (MAX_LENGTH - 2), SCOPE) == Const(1.0, PLAIN)
    assert refused("1" + " " * MAX_LENGTH) == (
        f"is {MAX_LENGTH + 1} characters long; a formula has at most {MAX_LENGTH}: name a part of it in `let`")
    assert parse("-" * MAX_DEPTH + "voltage", SCOPE).type == VOLTS
    assert refused("-" * (MAX_DEPTH + 1) + "voltage") == (
        f"is nested more than {MAX_DEPTH} deep; name a part of it in `let`")
    name = "n" * 80
    assert f'the name "{"n" * 60}", which' in refused(name)
    assert f'calls "{"n" * 60}", which' in refused(f"{name}(wet)")
    assert refused("9" * 30) == f"holds the figure {'9' * 20}; give it a name in [[parameter]] or a table"
    assert refused(f"{'x' * 70} +").startswith(f'"{"x" * 60}" is not a formula')


# --- the types that come out ---------------------------------------------------------------------------------------

TYPES: dict[str, Type] = {
    "voltage + limit": VOLTS, "voltage * factor": VOLTS, "-gap": FEET,
    "voltage / limit": PLAIN, "min(0, voltage)": VOLTS, "max(voltage, 0)": VOLTS, "0 if wet else gap": FEET,
    "gap if wet else 0": FEET, "sum(lengths)": FEET, "count(parts)": PLAIN, "count(kinds)": PLAIN,
    "percent(factor)": Type("number", unit("%")), "how_many(kinds, 'a')": PLAIN, "day(built_on)": PLAIN,
    "whole(factor)": PLAIN, "abs(gap)": FEET, "cover(gap, room)": FEET, "at_least(lengths, kinds)": Type("text"),
}  # fmt: skip


@pytest.mark.parametrize("formula", TYPES)
def test_the_type_of_what_comes_out(formula: str) -> None:
    assert parse(formula, SCOPE).type == TYPES[formula]


@pytest.mark.parametrize("formula", [
    "voltage < limit", "not wet", "wet or in_sight", "has(kinds, 'a')", "all_are(kinds, 'a')", "all_are(flags)",
    "any_is(flags)", "alike(kinds)", "alike(lengths)", "bears(place, 'a')", "begins(place, 'a')", "absent(gap)",
    "room in ('attic', 'garage')", "0 < voltage <= limit",
])  # fmt: skip
def test_statements_are_yes_or_no(formula: str) -> None:
    assert parse(formula, SCOPE).type == NAMES["wet"]


def shape(node: Node) -> str:
    """A statement with its brackets, names and figures as they are."""
    match node:
        case Logic(op=op, parts=parts):
            return f"({f' {op} '.join(map(shape, parts))})" if len(parts) > 1 else f"({op} {shape(parts[0])})"
        case Compare(op=op, left=left, right=right):
            return f"{shape(left)} {op} {shape(right)}"
        case Choose(condition=condition, yes=yes, no=no):
            return f"[{shape(condition)}: {shape(yes)}, {shape(no)}]"
    return str(getattr(node, "name", getattr(node, "value", node)))


@pytest.mark.parametrize(("formula", "read"), [
    ("spare < voltage <= limit", "(spare < voltage and voltage <= limit)"),
    ("room in ('attic', 'garage')", "(room == attic or room == garage)"),
    ("wet and not in_sight or wet", "((wet and (not in_sight)) or wet)"),
    ("voltage if wet else 0", "[wet: voltage, 0.0]"), ("True", "True"), ("place != 'x'", "place != x"),
])  # fmt: skip
def test_how_a_statement_is_read(formula: str, read: str) -> None:
    assert shape(parse(formula, SCOPE)) == read
