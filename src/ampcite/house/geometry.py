"""Distances, areas and clear strips on the planes of a roof.

Points are in feet, in the plane of the roof (true distances along the slope); every length that comes out is in
inches and every area in square feet. Nothing here knows a code's figure: what is reckoned is how wide the widest
pathway is, and a rule says how wide it has to be.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from ampcite.house import shapes
from ampcite.house.shapes import NEAR, Outline, Point, across, dot

INCHES = 12.0
HALVINGS = 48
"""How often the room for a square is halved: from any roof's size to far below what anyone can measure."""


class Plane(NamedTuple):
    """A plane of a roof.

    Attributes:
        outline: its corners, in order.
        kinds: what the edge from each corner to the next one is: "eave", "ridge", "hip", "valley", "rake" or "wall".
    """

    outline: Outline
    kinds: tuple[str, ...]

    def edges(self, *kinds: str) -> tuple[Outline, ...]:
        """The edges of certain kinds, each as its two ends."""
        ends = zip(self.outline, (*self.outline[1:], self.outline[0]), strict=True)
        return tuple(edge for edge, kind in zip(ends, self.kinds, strict=True) if kind in kinds)

    def edge(self, number: int) -> Outline:
        """One edge as its two ends."""
        return (self.outline[number], self.outline[(number + 1) % len(self.outline)])


class Strip(NamedTuple):
    """A straight clear strip: how wide, in inches, and between which two lines, in feet across ``direction``."""

    width: float
    start: float
    end: float
    direction: Point


def refusals() -> tuple[type[Exception], ...]:
    """What is raised where points lie so that nothing can be reckoned from them."""
    return (ArithmeticError, ValueError)


@lru_cache(maxsize=4096)
def fault(outline: Outline) -> str:
    """What is wrong with an outline, or ""; it must be one area whose edges do not cross."""
    return "" if shapes.simple(outline) else "its outline crosses or touches itself"


def area(outlines: Iterable[Outline]) -> float:
    """The area of several outlines together, in square feet; what two of them share counts once."""
    return shapes.area(tuple(outlines))


def length(outline: Outline) -> float:
    """The longest way along a figure, in feet, measured along one of its sides."""
    ways = [_along(a, b) for a, b in shapes.edges(outline)]
    return max(max(at) - min(at) for way in ways if (at := [dot(point, way) for point in outline]))


def common(one: Outline, others: Iterable[Outline]) -> float:
    """The area that an outline has in common with others, in square feet."""
    return shapes.common(one, tuple(others))


def distance(line: Outline, outlines: Iterable[Outline]) -> float:
    """The shortest distance from a line or outline to the nearest of some outlines, in inches."""
    return shapes.nearest(line, outlines) * INCHES


def square_before(line: Outline, body: Outline, blocks: tuple[Outline, ...]) -> float:
    """The side of the largest clear square on a straight line, away from a body that ends at it, in inches.

    The square stands between the ends of the line or, where it is wider, on the whole of it; where the body lies on
    both sides of the line, the side with less room counts. Infinite where the blocks bound no square.
    """
    a, b = line
    left = across(_along(a, b))
    own = {shapes.side(a, b, point) for point in body} - {0}
    return min(_square(a, b, way, blocks) for sign, way in ((-1, left), (1, (-left[0], -left[1]))) if own != {-sign})


def _square(a: Point, b: Point, way: Point, blocks: tuple[Outline, ...]) -> float:
    left, low, right, high = shapes.box((a, b, *(point for block in blocks for point in block)))
    clear, blocked = 0.0, 2 * math.hypot(right - left, high - low) + 1
    if _has_square(a, b, way, blocked, blocks):
        return math.inf
    for _ in range(HALVINGS):
        middle = (clear + blocked) / 2
        clear, blocked = (middle, blocked) if _has_square(a, b, way, middle, blocks) else (clear, middle)
    return round(clear * INCHES, 5)


def _has_square(a: Point, b: Point, way: Point, size: float, blocks: tuple[Outline, ...]) -> bool:
    """Whether a clear square of a size stands on a line: between its ends or, where it is wider, on the whole of it."""
    along = _along(a, b)
    more = max(size - math.dist(a, b), 0.0)
    foot = (_move(a, along, -more), _move(b, along, more))
    head = (_move(foot[0], way, size), _move(foot[1], way, size))
    ground = Plane((*foot, *reversed(head)), ("eave", "rake", "ridge", "rake"))
    return any(strip.width >= (size - NEAR) * INCHES for strip in _clear(ground, way, (foot,), (head,), blocks, ()))


def outside(plane: Outline, outline: Outline) -> float:
    """How far an outline sticks out beyond a plane, in inches."""
    return max(0.0 if shapes.inside(p, plane) else _to_edge(p, plane) for p in outline) * INCHES


def inset(plane: Outline, outline: Outline) -> float:
    """The shortest distance from an outline to the edges of its plane, in inches; 0 where it reaches beyond them."""
    return shapes.apart(plane, outline) * INCHES if shapes.inside(outline[0], plane) else 0.0


def _to_edge(point: Point, outline: Outline) -> float:
    return min(shapes.to_line(point, a, b) for a, b in shapes.edges(outline))


def reach(plane: Plane, number: int) -> float:
    """How far a plane reaches from one of its edges, square to it, in inches."""
    (x, y), other = plane.edge(number)
    square = across(_along((x, y), other))
    return max(abs(dot((a - x, b - y), square)) for a, b in plane.outline) * INCHES


def band(plane: Plane, number: int, width: float) -> Outline:
    """The part of a plane beside one of its edges, so many inches wide."""
    a, b = plane.edge(number)
    inward = across(_along(a, b))
    by = width / INCHES if shapes.signed_area(plane.outline) > 0 else -width / INCHES
    return (a, b, _move(b, inward, by), _move(a, inward, by))


@lru_cache(maxsize=4096)
def strips(plane: Plane, blocks: tuple[Outline, ...], wires: tuple[Outline, ...] = ()) -> tuple[tuple[Strip, ...], ...]:
    """The clear straight strips from an eave to the ridge: for each direction those it has, widest first.

    A strip runs square to an eave, or along a hip, valley or rake. Where a plane has no ridge it comes to its top at
    a hip, and the strip has to lie along one; where it has no hip either, at a wall.

    Args:
        plane: the roof plane.
        blocks: outlines no strip may touch.
        wires: lines no strip may cross.
    """
    bottom = plane.edges("eave")
    tops = plane.edges("ridge")
    beside: tuple[Outline, ...] = ()
    if not tops:
        beside = plane.edges("hip")
        tops = beside or plane.edges("wall")
    ways = [_along(*edge) for edge in (beside or plane.edges("hip", "valley", "rake"))]
    ways += [across(_along(*edge)) for edge in bottom if not beside]
    found = []
    for way in _different(ways):
        touching = [dot(edge[0], across(way)) for edge in beside if _parallel(_along(*edge), way)]
        mine = tuple(s for s in _clear(plane, way, bottom, tops, blocks, wires)
                     if not beside or any(min(abs(s.start - t), abs(s.end - t)) < NEAR for t in touching))  # fmt: skip
        if mine:
            found.append(mine)
    return tuple(found)


def two_widths(found: Sequence[Sequence[Strip]]) -> tuple[float, float]:
    """How wide one pathway can be, and how wide two can both be, apart or side by side in one strip; in inches."""
    first = max((mine[0].width for mine in found), default=0.0)
    second = max((mine[1].width for mine in found if len(mine) > 1), default=0.0)
    return first, max(second, first / 2)


def below(plane: Plane, foot: Outline) -> Outline:
    """The part of the slope below a line, down past the eave."""
    down = _down(plane)
    far = _far(plane)
    (a, b), (c, d) = foot
    return ((a, b), (c, d), (c + far * down[0], d + far * down[1]), (a + far * down[0], b + far * down[1]))


def strip_up_to(plane: Plane, foot: Outline, blocks: tuple[Outline, ...]) -> float:
    """The widest clear straight strip from the eave up to a line on the plane (the foot of a window), in inches."""
    down = _down(plane)
    side = across(down)
    level, far = max(dot(end, down) for end in foot), _far(plane)
    middle = _at(down, dot(foot[0], side), level)
    cut = (_move(middle, side, -far), _move(middle, side, far))
    lower = (*cut, _move(cut[1], down, far), _move(cut[0], down, far))
    start, end = sorted(dot(point, side) for point in foot)
    found = _clear(plane, (-down[0], -down[1]), plane.edges("eave"), (cut,), blocks, (), lower)
    return max((s.width for s in found if _overlap(s, side, start, end)), default=0.0)


def _far(plane: Plane) -> float:
    """Farther than any part of a plane is from any other."""
    left, low, right, high = shapes.box(plane.outline)
    return 2 * math.hypot(right - left, high - low) + 1


def _overlap(strip: Strip, side: Point, start: float, end: float) -> bool:
    sign = 1 if dot(across(strip.direction), side) > 0 else -1
    low, high = sorted((sign * strip.start, sign * strip.end))
    return low < end - NEAR and high > start + NEAR


def _clear(plane: Plane, way: Point, bottom: Sequence[Outline], tops: Sequence[Outline], blocks: tuple[Outline, ...],
           wires: tuple[Outline, ...], within: Outline | None = None) -> tuple[Strip, ...]:  # fmt: skip
    """The clear strips of one direction, widest first: the columns in which a line runs clear from bottom to top."""
    others = (plane.outline, *blocks, *([within] if within else []))
    corners = [p for edge in (*bottom, *tops, *wires) for p in edge]
    runs = [run for wire in wires for run in pairwise(wire)]
    corners += [p for run in runs for other in others for p in shapes.crossings(run, other)]
    found: list[tuple[float, float, float, float]] = []
    for column in shapes.columns(way, [[plane.outline], blocks, [within] if within else []], corners):
        t = column.middle
        region, blocked, inner = column.spans
        for low, high in shapes.left_free(shapes.both(region, inner, t) if within else region, blocked, t):
            foot, head = low.at(t), high.at(t)
            if head - foot <= NEAR or not _runs(_at(way, t, foot), _at(way, t, head), bottom, tops):
                continue
            if any(_crosses(run, way, t, foot, head) for run in runs):
                continue
            before = found[-1] if found else None
            if before is not None and before[1] == column.start and not _run_along(runs, way, *before[1:], foot, head):
                found[-1] = (before[0], column.end, foot, head)
            else:
                found.append((column.start, column.end, foot, head))
            break
    out = [Strip((end - start) * INCHES, start, end, way) for start, end, _, _ in found]
    return tuple(sorted(out, key=lambda strip: -strip.width))


def _runs(foot: Point, head: Point, bottom: Sequence[Outline], tops: Sequence[Outline]) -> bool:
    """Whether a clear line runs from the bottom to the top."""
    return any(all(min(shapes.to_line(p, *edge) for edge in edges) < NEAR for p, edges in ((a, bottom), (b, tops)))
               for a, b in ((foot, head), (head, foot)))  # fmt: skip


def _crosses(run: Outline, way: Point, t: float, foot: float, head: float) -> bool:
    """Whether a straight run of wire crosses a clear line."""
    (u, s), (v, r) = ((dot(p, across(way)), dot(p, way)) for p in run)
    if u == v or not min(u, v) <= t <= max(u, v):
        return False
    return foot - NEAR <= s + (r - s) * (t - u) / (v - u) <= head + NEAR


def _run_along(runs: Iterable[Outline], way: Point, place: float, *reach: float) -> bool:
    """Whether a straight run of wire lies along the line at a place, where the columns beside it are clear."""
    for run in runs:
        (u, s), (v, r) = ((dot(p, across(way)), dot(p, way)) for p in run)
        if max(abs(u - place), abs(v - place)) < NEAR and min(s, r) <= max(reach) and max(s, r) >= min(reach):
            return True
    return False


def _down(plane: Plane) -> Point:
    """The direction down the slope: square to the longest eave, away from the plane."""
    a, b = max(plane.edges("eave"), key=lambda edge: math.dist(*edge))
    left = across(_along(a, b))
    return (-left[0], -left[1]) if shapes.signed_area(plane.outline) > 0 else left


# --- small steps ---------------------------------------------------------------------------------------------


def _along(a: Point, b: Point) -> Point:
    length = math.dist(a, b) or 1.0
    return ((b[0] - a[0]) / length, (b[1] - a[1]) / length)


def _at(way: Point, side: float, along: float) -> Point:
    """The point at a place across and along a direction."""
    return (way[0] * along - way[1] * side, way[1] * along + way[0] * side)


def _move(point: Point, way: Point, by: float) -> Point:
    return (point[0] + way[0] * by, point[1] + way[1] * by)


def _parallel(a: Point, b: Point) -> bool:
    return abs(a[0] * b[1] - a[1] * b[0]) < NEAR


def _different(ways: Sequence[Point]) -> list[Point]:
    out: list[Point] = []
    for way in ways:
        if not any(_parallel(way, other) for other in out):
            out.append(way)
    return out
