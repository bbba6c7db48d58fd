"""Points of lines and areas on a plane, as one text: "0,0 44,0 44,16 0,16", or "44 x 16 at 4,1" for a rectangle."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from ampcite.language.quantities import read_quantity

Points = tuple[tuple[float, ...], ...]

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)"
_POINT = rf"{_NUMBER}\s*,\s*{_NUMBER}"
_TEXT = re.compile(rf"\s*({_POINT}(?:[\s;]+{_POINT})*)\s*([a-z]*)\s*")
_BOX = re.compile(rf"\s*({_NUMBER})\s*x\s*({_NUMBER})(?:\s+at\s+({_POINT}))?\s*([a-z]*)\s*")
CORNERS = 4
FURTHEST = 100_000
"""No point lies further from where a plane begins, in any unit."""


@lru_cache(maxsize=4096)
def read_points(text: str, unit: str) -> Points:
    """The points that a text says, in a unit.

    Args:
        text: points "x,y" apart by spaces, or width "x" height of a rectangle, with "at" and its lower left corner
            where that is not 0,0; a unit may follow.
        unit: in which the points are wanted, and in which they are where the text names none.

    Raises:
        ValueError: with what is wrong, in half a sentence.
    """
    box, found = _BOX.fullmatch(text), _TEXT.fullmatch(text)
    said = box or found
    if said is None:
        like = '"0,0 44,0 44,16 0,16"; a rectangle may be "44 x 16 at 4,1"'
        raise ValueError(f"is no list of points; write them as in {like}")
    by = float(read_quantity(f"1 {said[said.re.groups]}", unit)) if said[said.re.groups] else 1.0

    def point(pair: str) -> tuple[float, ...]:
        return tuple([float(number) * by for number in pair.split(",")])

    if box is None:
        return tuple([point(pair) for pair in re.findall(_POINT, said[1])])
    (x, y), width, height = point(box[3] or "0,0"), float(box[1]) * by, float(box[2]) * by
    return (x, y), (x + width, y), (x + width, y + height), (x, y + height)


def write_points(points: Sequence[Sequence[float]]) -> str:
    """The text of points: of a rectangle that begins at its lower left corner its sides, of others every point."""
    corner = [f"{a:.10g},{b:.10g}" for a, b in points]
    if len(points) == CORNERS:
        (x, y), (right, _), (_, top), _ = points
        if tuple(map(tuple, points)) == ((x, y), (right, y), (right, top), (x, top)) and right > x and top > y:
            sides = f"{right - x:.10g} x {top - y:.10g}"
            said = sides if x == y == 0 else f"{sides} at {corner[0]}"
            if read_points(said, "") == tuple(map(tuple, points)):
                return said
    return " ".join(corner)
