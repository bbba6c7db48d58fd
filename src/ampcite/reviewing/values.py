"""What a fact could be instead: the other choices, standard sizes, what rules ask for, and where a limit lies."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

from ampcite.engine.findings import Finding
from ampcite.engine.rulebook import Rulebook
from ampcite.house.part_types import Field
from ampcite.house.points import write_points
from ampcite.language.functions import GAP
from ampcite.language.logic import ABSENT
from ampcite.language.quantities import read_quantity
from ampcite.language.units import known_units, same_dimension

if TYPE_CHECKING:
    from ampcite.language.tree import Node

FIGURES = 3
"""A value that follows from a limit is rounded, to the safe side, to this many figures."""

NEIGHBOURS = 3
"""Of a number of things, so many more and fewer are tried."""

SMALLEST = 1e-9
"""What is nearer to nothing than this is nothing: no unit of the trade is so large."""

MOST_DOWN, MOST_UP = 0.25, 0.5
"""A number of things is made smaller or larger by these shares, or by one, at most: more is another design."""


class Value(NamedTuple):
    """Another value of a fact, as a description says it and as one that has been read holds it.

    ``rank`` is lower for values that need no explaining: what is said elsewhere, a standard size.
    """

    said: Any
    fact: Any
    rank: int = 0


def other_values(field: Field, said: Any, fact: Any, findings: Iterable[Finding], others: Iterable[Any],
                 alike: Iterable[Any], rulebook: Rulebook) -> Iterator[Value]:  # fmt: skip
    """What a fact could be instead of what it is.

    Args:
        field: the field.
        said: what the description says, in its own unit.
        fact: the same as read.
        findings: the findings that one hopes to clear.
        others: the facts of other parts that those rest on.
        alike: what is said in the same field of other parts of the house.
        rulebook: whose tables know the standard sizes.
    """
    if field.kind == "flag" and fact is not ABSENT:
        yield Value(not fact, not fact)
    elif field.kind == "text" and field.choices:
        yield from _choices(field, fact, alike)
    elif field.kind == "text" and not field.many:
        asked = [value for f in findings for value, _ in f.figures.values() if isinstance(value, str)]
        texts = [*asked, *sorted(o for o in others if isinstance(o, str))]  # a rule names first what it asks first
        whole = dict.fromkeys(text.replace(GAP, " ") for text in texts)
        yield from (Value(text, text) for text in whole if text != fact)
    elif field.kind == "number" and not field.many:
        yield from _numbers(field, said, fact, findings, others, rulebook)


def _choices(field: Field, fact: Any, alike: Iterable[Any]) -> Iterator[Value]:
    """The other choices: those that the house has elsewhere first, then those that stand near, the later first."""
    if field.many:
        if field.changed_by == "author" and (fact is ABSENT or not fact):
            return
        has = () if fact is ABSENT else tuple(fact)
        for choice in field.choices:
            without = tuple(c for c in has if c != choice)
            changed = (*has, choice) if choice not in has else without
            yield Value(list(changed), changed)
        return
    if fact not in field.choices:
        return
    at, here = field.choices.index(fact), set() if is_size(field) else set(alike)
    for i, choice in enumerate(field.choices):
        if choice != fact:
            yield Value(choice, choice, 0 if choice in here else abs(i - at) * 2 + (i < at))


def is_size(field: Field) -> bool:
    """Whether the choices of a field are sizes, from small to large."""
    return all(str(choice)[:1].isdigit() for choice in field.choices)


def _numbers(field: Field, said: Any, fact: Any, findings: Iterable[Finding], others: Iterable[Any],
             rulebook: Rulebook) -> Iterator[Value]:  # fmt: skip
    """Standard sizes about what rules ask for, then what they ask for itself, rounded both ways."""
    asked: set[float] = {float(o) for o in others if isinstance(o, int | float) and not isinstance(o, bool)}
    for f in findings:
        for value, unit in f.figures.values():
            if isinstance(value, int | float) and same_dimension(unit, field.unit):
                asked.add(convert(value, unit, field.unit))
    if field.whole and not field.unit and isinstance(fact, int | float):
        asked |= {fact + n for n in range(-NEIGHBOURS, NEIGHBOURS + 1)}
    unit = given_unit(said, field)
    seen = {fact}
    for size in standard_sizes(rulebook).get(field.unit, ()):
        if size not in seen:
            seen.add(size)
            yield in_unit(size, unit, field, said, 1 if fact is ABSENT and size not in asked else 0)
    for number in sorted(asked):
        shown = convert(number, field.unit, unit)
        whole = field.whole or (not field.unit and float(shown).is_integer())
        for rounded in (math.floor(shown), math.ceil(shown)) if whole else (_cut(shown, -1), _cut(shown, 1)):
            one = in_unit(convert(rounded, unit, field.unit), unit, field, said, 1)
            if one.fact not in seen and _allowed(field, fact, one.fact):
                seen.add(one.fact)
                yield one


def _allowed(field: Field, fact: Any, value: float) -> bool:
    counted = not field.unit and field.changed_by != "author" and isinstance(fact, int | float)
    if counted and not min(fact - 1, fact * (1 - MOST_DOWN)) <= value <= max(fact + 1, fact * (1 + MOST_UP)):
        return False
    low = field.low is None or value >= field.low
    return low and (field.above is None or value > field.above) and (field.high is None or value <= field.high)


def said_at(document: Any, pointer: str) -> Any:
    """What a description says at a place, at the part or for its whole list; None where it says it otherwise."""
    here, each = document, None
    for step in (s.replace("~1", "/").replace("~0", "~") for s in pointer.split("/")[1:]):
        if isinstance(here, list):
            here = here[int(step)]
        elif not isinstance(here, Mapping):
            return None
        elif step in here:
            each = here.get("each") if step in ("all", "only") else each
            here = here[step]
        elif each is not None and step in each:
            here, each = each[step], None
        else:
            return None
    return here


def past_limit(field: Field, said: Any, fact: float, limit: float, up: bool) -> Value | None:
    """The value just past a limit, on the side that is wanted, in figures that a person would write."""
    unit = given_unit(said, field)
    shown = convert(limit, field.unit, unit)
    if not math.isfinite(shown):
        return None
    near = round(shown)
    whole = near if math.isclose(shown, near, rel_tol=1e-9) else math.ceil(shown) if up else math.floor(shown)
    rounded = whole if field.whole or not field.unit else _cut(shown, 1 if up else -1)
    one = in_unit(convert(rounded, unit, field.unit), unit, field, said, 2)
    return one if _allowed(field, fact, one.fact) else None


def given_unit(said: Any, field: Field) -> str:
    """The unit in which a description gives a quantity."""
    if isinstance(said, str):
        number, _, unit = said.strip().partition(" ")
        if unit in known_units() and "/" not in number:
            return unit
    return field.unit


def in_unit(value: float, unit: str, field: Field, said: Any, rank: int) -> Value:
    """A number in the unit of the schema as a description would say it: in the unit of what it said before."""
    shown = convert(value, field.unit, unit)
    near = round(shown)
    number = near if math.isclose(shown, near, rel_tol=1e-12, abs_tol=1e-12) else float(f"{shown:.6g}")
    if not isinstance(said, str):
        return Value(number, number, rank)
    text = f"{number} {unit}".strip()
    return Value(text, read_quantity(text, field.unit), rank)


def convert(value: float, unit: str, to: str) -> float:
    """A number in another unit of its dimension."""
    return value if unit == to else read_quantity(f"{float(value)!r} {unit}".strip(), to)


def _cut(value: float, way: int) -> float:
    """A number with a few figures, not below it (way 1) or not above it (way -1)."""
    if abs(value) < SMALLEST:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(abs(value))) - FIGURES + 1)
    times = value / step
    near = round(times)
    if math.isclose(times, near, rel_tol=1e-9):
        return float(f"{near * step:.{FIGURES}g}")
    return float(f"{(math.ceil(times) if way > 0 else math.floor(times)) * step:.{FIGURES}g}")


@lru_cache(maxsize=4)
def standard_sizes(rulebook: Rulebook) -> Mapping[str, tuple[float, ...]]:
    """Unit to the standard sizes that the tables of a rulebook list: tables that give back what they look for."""
    out: dict[str, set[float]] = {}
    bound = rulebook.bound
    from ampcite.language.tree import Lookup, walk

    trees: list[Node | None] = []
    for rule in bound.rules:
        trees += [rule.applies, rule.holds, *(n for _, n in rule.let), *(a.holds for a in rule.alternatives)]
    for derived in bound.derived:
        trees += [n for c in derived.cases for n in (c.when, c.value, *(n for _, n in c.let))]
    for tree in trees:
        for node in walk(tree) if tree is not None else ():
            if isinstance(node, Lookup) and node.type.unit is not None:
                table = bound.tables[node.table]
                if list(table.columns.values()) == [table.row_keys]:
                    out.setdefault(node.type.unit.name, set()).update(float(k) for k in table.row_keys)
    return {unit: tuple(sorted(sizes)) for unit, sizes in out.items()}


SIDES = (("left", "right"), ("lower", "upper"))
"""The sides of a rectangle drawn as one looks up the slope, by axis."""


def drawn_back(outline: Any, axis: int, end: int, inches: int) -> Value | None:
    """An outline along the axes with one side drawn back; None where it runs aslant, or nothing would be left.

    Args:
        outline: its corners, in ft.
        axis: 0 for a left or right side, 1 for a lower or upper one.
        end: 0 for the first of these, 1 for the second.
        inches: how far.
    """
    if any(a[0] != b[0] and a[1] != b[1] for a, b in zip(outline, (*outline[1:], outline[0]), strict=True)):
        return None
    places = [point[axis] for point in outline]
    low, high = min(places), max(places)
    line = round(high - inches / 12 if end else low + inches / 12, 4)
    if not low < line < high:
        return None
    moved: list[tuple[float, float]] = []
    for point in outline:
        place = min(point[axis], line) if end else max(point[axis], line)
        corner = (place, point[1]) if axis == 0 else (point[0], place)
        if corner not in moved[-1:]:
            moved.append(corner)
    corners = tuple(p for i, p in enumerate(moved) if not _between(moved[i - 1], p, moved[(i + 1) % len(moved)]))
    return Value(write_points(corners), corners, inches)


def _between(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    """Whether a corner is none: the outline runs straight on, or there and back."""
    return b == c or any(a[i] == b[i] == c[i] for i in (0, 1))
