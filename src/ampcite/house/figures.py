"""Numbers and outlines of fields, of texts too: read, and held to the bounds of the field."""

from __future__ import annotations

from functools import lru_cache

from ampcite.base.errors import short
from ampcite.house.part_types import Field
from ampcite.house.points import FURTHEST, Points, read_points
from ampcite.house.validate import out_of_bounds
from ampcite.language.quantities import read_quantity

LARGEST = 1e15
"""No number of a house is larger."""


@lru_cache(maxsize=4096)
def read_figure(text: str, field: Field) -> tuple[float, tuple[str, ...]]:
    """The number that a text says in the unit of a field, and what is wrong with it; 0 where it says none."""
    try:
        value = read_quantity(text, field.unit)
    except ValueError as fault:
        return 0.0, (f'"{text[:60]}" {fault}',)
    unit = f" {field.unit}" if field.unit else ""
    faults = [out_of_bounds(value, bound, limit, field.title, unit) for bound, limit, bad in (
        ("minimum", field.low, field.low is not None and value < field.low),
        ("exclusiveMinimum", field.above, field.above is not None and value <= field.above),
        ("maximum", field.high, field.high is not None and value > field.high),
    ) if bad and limit is not None]  # fmt: skip
    if absurd := too_large(value, field):
        return 0.0, (*faults, *absurd)
    return value, tuple(faults)


def too_large(value: float, field: Field) -> tuple[str, ...]:
    """What is wrong with a number that no house could have; nothing with any other."""
    return () if -LARGEST <= value <= LARGEST else (f"is {short(value)}, which is no {field.title} anyone could build",)


def drawn(text: str, field: Field) -> tuple[Points, str]:
    """The points of a line or an area, which are one text, and what is wrong with them ("" for nothing)."""
    try:
        points = read_points(text, field.unit)
    except ValueError as fault:
        return (), f"{short(text)} {fault}"
    least, most = int(field.low or 0), int(field.high or 0)
    if not least <= len(points) <= most:
        some = f"{least}" if least == most else f"{least} to {most}"
        return points, f"has {len(points)} points; {field.title} has {some}"
    far = any(abs(n) > FURTHEST for point in points for n in point)
    return points, f"goes further than {FURTHEST} {field.unit}" if far else ""


def reads(text: str, unit: str) -> bool:
    """Whether a text is a number in a unit, or one that can be turned into it."""
    try:
        read_quantity(text, unit)
    except ValueError:
        return False
    return True
