"""Outlines on a plane: whether one crosses itself, areas, distances, and what stands along every line across them.

Points are pairs of numbers of one unit; lengths come out in that unit and areas in its square. Nothing here knows of
roofs. Written out, since the libraries for it are compiled and can't be had everywhere (a browser), and a roof needs
little of them; the tests hold every function to shapely.

The heart of it is :func:`columns`: across a direction, nothing changes between one corner or crossing and the next, so
a single line in each such column tells of all of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

Point = tuple[float, float]
Outline = tuple[Point, ...]
Box = tuple[float, float, float, float]

NEAR = 1e-7
"""What two places may differ by and still be one; of feet, far below what anyone can measure."""
_ROUNDING = 8e-16


def dot(a: Point, b: Point) -> float:
    return a[0] * b[0] + a[1] * b[1]


def across(way: Point) -> Point:
    """The direction square to another, to its left."""
    return (-way[1], way[0])


def edges(outline: Outline) -> Iterator[tuple[Point, Point]]:
    """The edges of an outline; of a line (two points), the line."""
    yield from pairwise(outline)
    if len(outline) > 2:
        yield outline[-1], outline[0]


@lru_cache(maxsize=4096)
def box(outline: Outline) -> Box:
    """The least and largest coordinates of an outline."""
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    return min(xs), min(ys), max(xs), max(ys)


def signed_area(outline: Outline) -> float:
    """The area of an outline that does not cross itself, negative where its corners run clockwise."""
    ox, oy = outline[0]
    return sum((a - ox) * (d - oy) - (c - ox) * (b - oy) for (a, b), (c, d) in edges(outline)) / 2


def side(a: Point, b: Point, p: Point) -> int:
    """On which side of the line from a to b a point lies: 1 left, -1 right, 0 on it; exactly."""
    left, right = (b[0] - a[0]) * (p[1] - a[1]), (b[1] - a[1]) * (p[0] - a[0])
    found = left - right
    if abs(found) <= _ROUNDING * (abs(left) + abs(right)):
        (ax, ay), (bx, by), (px, py) = (tuple(map(Fraction, one)) for one in (a, b, p))
        exact = (bx - ax) * (py - ay) - (by - ay) * (px - ax)
        return (exact > 0) - (exact < 0)
    return 1 if found > 0 else -1


def meet(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether two straight lines, from a to b and from c to d, have a point in common."""
    if (max(a[0], b[0]) < min(c[0], d[0]) or max(c[0], d[0]) < min(a[0], b[0])
            or max(a[1], b[1]) < min(c[1], d[1]) or max(c[1], d[1]) < min(a[1], b[1])):  # fmt: skip
        return False
    return side(a, b, c) * side(a, b, d) <= 0 and side(c, d, a) * side(c, d, b) <= 0


@lru_cache(maxsize=4096)
def simple(outline: Outline) -> bool:
    """Whether an outline bounds one area: it has corners enough, and its edges neither cross nor touch."""
    corners = [p for p, q in zip(outline, (*outline[1:], outline[0]), strict=True) if p != q]
    count = len(corners)
    if count < 3:
        return False
    for before, at, after in zip((corners[-1], *corners), corners, (*corners[1:], corners[0]), strict=False):
        back, on = (before[0] - at[0], before[1] - at[1]), (after[0] - at[0], after[1] - at[1])
        if side(before, at, after) == 0 and dot(back, on) > 0:
            return False
    spans = sorted((min(a[0], b[0]), max(a[0], b[0]), i, a, b) for i, (a, b) in enumerate(edges(tuple(corners))))
    for place, (_, end, i, a, b) in enumerate(spans):
        for later in range(place + 1, len(spans)):
            start, _, j, c, d = spans[later]
            if start > end:
                break
            if (i - j) % count not in (1, count - 1) and meet(a, b, c, d):
                return False
    return True


def inside(point: Point, outline: Outline) -> bool:
    """Whether a point lies in an outline or on its edge."""
    x, y = point
    left, low, right, high = box(outline)
    if not (left <= x <= right and low <= y <= high):
        return False
    odd = False
    for a, b in edges(outline):
        which = side(a, b, point)
        if which == 0 and min(a[0], b[0]) <= x <= max(a[0], b[0]) and min(a[1], b[1]) <= y <= max(a[1], b[1]):
            return True
        if (a[1] > y) != (b[1] > y) and (which > 0) == (b[1] > a[1]):
            odd = not odd
    return odd


def distance(one: Outline, other: Outline) -> float:
    """The shortest distance between two outlines or lines, 0 where they have a point in common."""
    if (len(other) > 2 and inside(one[0], other)) or (len(one) > 2 and inside(other[0], one)):
        return 0.0
    return apart(one, other)


@lru_cache(maxsize=4096)
def apart(one: Outline, other: Outline) -> float:
    """The shortest distance between the edges of two outlines, or two lines."""
    best = math.inf
    theirs = [(a, b, box((a, b))) for a, b in edges(other)]
    whole = box(other)
    for a, b in edges(one):
        mine = box((a, b))
        if _between(mine, whole) >= best:
            continue
        for c, d, around in theirs:
            if _between(mine, around) >= best:
                continue
            if meet(a, b, c, d):
                return 0.0
            best = min(best, to_line(a, c, d), to_line(b, c, d), to_line(c, a, b), to_line(d, a, b))
    return best


def nearest(one: Outline, others: Iterable[Outline]) -> float:
    """The shortest distance from an outline or line to any of others."""
    best, mine = math.inf, box(one)
    for far, other in sorted((_between(mine, box(other)), other) for other in others):
        if far >= best:
            break
        best = min(best, distance(one, other))
    return best


def to_line(point: Point, a: Point, b: Point) -> float:
    """The distance from a point to the straight line from a to b."""
    dx, dy, px, py = b[0] - a[0], b[1] - a[1], point[0] - a[0], point[1] - a[1]
    square = dx * dx + dy * dy
    along = min(1.0, max(0.0, (px * dx + py * dy) / square)) if square else 0.0
    return math.hypot(px - along * dx, py - along * dy)


def _between(a: Box, b: Box) -> float:
    """How far two boxes lie apart."""
    return math.hypot(max(b[0] - a[2], a[0] - b[2], 0.0), max(b[1] - a[3], a[1] - b[3], 0.0))


@lru_cache(maxsize=4096)
def crossings(one: Outline, other: Outline) -> tuple[Point, ...]:
    """Where the edges of two outlines or lines cross; of edges that run along one another, nothing."""
    around, about = box(one), box(other)
    if _between(around, about) > 0:
        return ()
    mine = [edge for edge in edges(one) if _between(box(edge), about) == 0]
    theirs = [edge for edge in edges(other) if _between(box(edge), around) == 0]
    out = []
    for a, b in mine:
        for c, d in theirs:
            if meet(a, b, c, d):
                bx, by, dx, dy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
                turn = bx * dy - by * dx
                if turn:
                    t = ((c[0] - a[0]) * dy - (c[1] - a[1]) * dx) / turn
                    out.append((a[0] + t * bx, a[1] + t * by))
    return tuple(out)


# --- columns -------------------------------------------------------------------------------------------------


class Edge(NamedTuple):
    """An edge in a turned plane: ``t`` runs across the direction, ``s`` along it."""

    t: float
    s: float
    end: float
    slope: float

    def at(self, t: float) -> float:
        return self.s + (t - self.t) * self.slope


Span = tuple[Edge, Edge]
"""What lies between two edges, the lower one first."""


class Column(NamedTuple):
    """What lies between two places across a direction: for each group of outlines, the spans that it covers."""

    start: float
    end: float
    spans: tuple[tuple[Span, ...], ...]

    @property
    def middle(self) -> float:
        return (self.start + self.end) / 2


def columns(way: Point, groups: Sequence[Sequence[Outline]], more: Iterable[Point] = ()) -> Iterator[Column]:
    """The columns along a direction in which nothing changes, from right to left across it.

    Args:
        way: the direction, of length 1.
        groups: outlines that do not cross themselves; what any of a group covers, the group covers.
        more: further points at which a column has to end.
    """
    turned = across(way)
    outlines = [outline for group in groups for outline in group]
    points = [*more, *(p for outline in outlines for p in outline)]
    points += [p for a, b in _neighbours(outlines) for p in crossings(a, b)]
    waiting: list[tuple[Point, Point, int, int]] = []
    for g, group in enumerate(groups):
        for o, outline in enumerate(group):
            around = tuple((dot(p, turned), dot(p, way)) for p in outline)
            waiting += [(min(a, b), max(a, b), g, o) for a, b in edges(around) if a[0] != b[0]]
    waiting.sort()
    places = sorted(dot(p, turned) for p in points)
    active: list[tuple[int, int, Edge]] = []
    taken = 0
    before = places[0] if places else 0.0
    for place in places[1:]:
        if place - before <= NEAR:
            continue
        middle = (before + place) / 2
        while taken < len(waiting) and waiting[taken][0][0] < middle:
            (t, s), (u, v), g, o = waiting[taken]
            active.append((g, o, Edge(t, s, u, (v - s) / (u - t))))
            taken += 1
        active = [one for one in active if one[2].end > middle]
        yield Column(before, place, tuple(_covered(active, g, middle) for g in range(len(groups))))
        before = place


def _neighbours(outlines: Iterable[Outline]) -> Iterator[tuple[Outline, Outline]]:
    """The pairs of outlines whose boxes have a place in common from left to right."""
    waiting = sorted((box(outline), outline) for outline in outlines)
    for i, (mine, one) in enumerate(waiting):
        for j in range(i + 1, len(waiting)):
            around, other = waiting[j]
            if around[0] > mine[2]:
                break
            yield one, other


def _covered(active: Sequence[tuple[int, int, Edge]], group: int, t: float) -> tuple[Span, ...]:
    """What a group covers at a place, as spans that do not touch."""
    rows = sorted(((o, edge.at(t), edge) for g, o, edge in active if g == group), key=lambda row: row[:2])
    pairs = sorted(((low[1], high[1], low[2], high[2]) for low, high in zip(rows[::2], rows[1::2], strict=False)),
                   key=lambda pair: pair[:2])  # fmt: skip
    out: list[Span] = []
    reach = -math.inf
    for low, high, lower, upper in pairs:
        if low > reach:
            out.append((lower, upper))
            reach = high
        elif high > reach:
            out[-1] = (out[-1][0], upper)
            reach = high
    return tuple(out)


def both(one: Sequence[Span], other: Sequence[Span], t: float) -> tuple[Span, ...]:
    """What two groups cover together, at a place."""
    out = []
    for a, b in one:
        for c, d in other:
            low, high = max(a, c, key=lambda edge: edge.at(t)), min(b, d, key=lambda edge: edge.at(t))
            if low.at(t) < high.at(t):
                out.append((low, high))
    return tuple(out)


def left_free(one: Sequence[Span], other: Sequence[Span], t: float) -> tuple[Span, ...]:
    """What one group covers and the other does not, at a place."""
    out = []
    for low, high in one:
        for c, d in other:
            if d.at(t) <= low.at(t) or c.at(t) >= high.at(t):
                continue
            if c.at(t) > low.at(t):
                out.append((low, c))
            low = d
        if low.at(t) < high.at(t):
            out.append((low, high))
    return tuple(out)


_UP = (0.0, 1.0)


def _sum(found: Iterable[tuple[Column, Iterable[Span]]]) -> float:
    return math.fsum(
        (high.at(c.start) - low.at(c.start) + high.at(c.end) - low.at(c.end)) / 2 * (c.end - c.start)
        for c, spans in found
        for low, high in spans
    )


@lru_cache(maxsize=4096)
def area(outlines: tuple[Outline, ...]) -> float:
    """The area of outlines together; what several of them share counts once."""
    if len(outlines) == 1:
        return abs(signed_area(outlines[0]))
    return _sum((column, column.spans[0]) for column in columns(_UP, [outlines]))


@lru_cache(maxsize=4096)
def common(one: Outline, others: tuple[Outline, ...]) -> float:
    """The area that an outline has in common with others."""
    around = box(one)
    near = [other for other in others if _between(around, box(other)) == 0]
    return _sum((c, both(c.spans[0], c.spans[1], c.middle)) for c in columns(_UP, [[one], near])) if near else 0.0
