"""The same geometry by shapely, as the package had it before it did without: what the tests hold its own to.

Points are in feet; lengths that come out are in inches and areas in square feet.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Any

import attrs

Point = tuple[float, float]
Outline = tuple[Point, ...]

INCHES = 12.0
NEAR = 1e-7
"""What two places on a roof may differ by, in feet, and still be one; far below what anyone can measure."""


@attrs.frozen
class Plane:
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


@attrs.frozen
class Strip:
    """A straight clear strip: how wide, in inches, and between which two lines, in feet across ``direction``."""

    width: float
    start: float
    end: float
    direction: Point


def refusals() -> tuple[type[Exception], ...]:
    """What is raised where points lie so that nothing can be reckoned from them."""
    return (_shapely().errors.GEOSException, ArithmeticError, ValueError)


def fault(outline: Outline) -> str:
    """What is wrong with an outline, or ""; it must be one area whose edges do not cross."""
    return "" if _shape(outline).is_valid else "its outline crosses or touches itself"


def area(outlines: Iterable[Outline]) -> float:
    """The area of several outlines together, in square feet; what two of them share counts once."""
    return float(_union(tuple(outlines)).area)


def common(one: Outline, others: Iterable[Outline]) -> float:
    """The area that an outline has in common with others, in square feet."""
    return float(_shape(one).intersection(_union(tuple(others))).area)


def distance(line: Outline, outlines: Iterable[Outline]) -> float:
    """The shortest distance from a line or outline to the nearest of some outlines, in inches."""
    return float(min(_shape(line).distance(_shape(other)) for other in outlines)) * INCHES


def outside(plane: Outline, outline: Outline) -> float:
    """How far an outline sticks out beyond a plane, in inches."""
    inside = _shape(plane)
    return float(max(_shapely().Point(corner).distance(inside) for corner in outline)) * INCHES


def inset(plane: Outline, outline: Outline) -> float:
    """The shortest distance from an outline to the edges of its plane, in inches; 0 where it reaches beyond them."""
    edge = _shape(plane).exterior
    return float(edge.distance(_shape(outline))) * INCHES if _shape(plane).covers(_shape(outline)) else 0.0


def reach(plane: Plane, number: int) -> float:
    """How far a plane reaches from one of its edges, square to it, in inches."""
    (x, y), other = plane.edge(number)
    across = _across(_along((x, y), other))
    return max(abs(_dot((a - x, b - y), across)) for a, b in plane.outline) * INCHES


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
    ways += [_across(_along(*edge)) for edge in bottom if not beside]
    found = []
    for way in _different(ways):
        touching = [_dot(edge[0], _across(way)) for edge in beside if _parallel(_along(*edge), way)]
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
    far = 2 * max(math.dist(a, b) for a in plane.outline for b in plane.outline)
    (a, b), (c, d) = foot
    return ((a, b), (c, d), (c + far * down[0], d + far * down[1]), (a + far * down[0], b + far * down[1]))


def strip_up_to(plane: Plane, foot: Outline, blocks: tuple[Outline, ...]) -> float:
    """The widest clear straight strip from the eave up to a line on the plane (the foot of a window), in inches."""
    down = _down(plane)
    across = _across(down)
    level = max(_dot(end, down) for end in foot)
    far = 2 * max(math.dist(a, b) for a in plane.outline for b in plane.outline) + 1
    middle = (down[0] * level + across[0] * _dot(foot[0], across), down[1] * level + across[1] * _dot(foot[0], across))
    cut = (_move(middle, across, -far), _move(middle, across, far))
    lower = _shape((*cut, _move(cut[1], down, far), _move(cut[0], down, far)))
    start, end = sorted(_dot(point, across) for point in foot)
    found = _clear(plane, (-down[0], -down[1]), plane.edges("eave"), (cut,), blocks, (), lower)
    return max((s.width for s in found if _overlap(s, across, start, end)), default=0.0)


def _overlap(strip: Strip, across: Point, start: float, end: float) -> bool:
    sign = 1 if _dot(_across(strip.direction), across) > 0 else -1
    low, high = sorted((sign * strip.start, sign * strip.end))
    return low < end - NEAR and high > start + NEAR


def _clear(plane: Plane, way: Point, bottom: Sequence[Outline], tops: Sequence[Outline], blocks: tuple[Outline, ...],
           wires: tuple[Outline, ...], within: Any = None) -> tuple[Strip, ...]:  # fmt: skip
    """The clear strips of one direction, widest first.

    Across the direction, nothing changes between one corner of anything and the next; so one line between each two
    of them says of the whole space between them whether it runs clear from bottom to top.
    """
    shapely = _shapely()
    across = _across(way)
    region = _shape(plane.outline) if within is None else _shape(plane.outline).intersection(within)
    free = region.difference(_union(blocks))
    obstacles = [shapely.LineString(wire).intersection(free) for wire in wires]
    ends = [p for edge in (*bottom, *tops) for p in edge]
    corners = [*ends, *_corners(free), *(p for wire in obstacles for p in _corners(wire))]
    places = sorted({_dot(p, across) for p in corners})
    places = [t for i, t in enumerate(places) if i == 0 or t - places[i - 1] > NEAR]
    far = [_dot(p, way) for p in corners]
    low, high = min(far) - 1, max(far) + 1
    at_bottom, at_top = _lines(bottom), _lines(tops)
    found: list[tuple[float, float]] = []
    for start, end in pairwise(places):
        middle = (start + end) / 2
        line = shapely.LineString([_place(across, way, middle, low), _place(across, way, middle, high)])
        if not any(_runs(part, at_bottom, at_top, obstacles) for part in _parts(line.intersection(free))):
            continue
        if found and found[-1][1] == start and not _wire_along(wires, across, start):
            found[-1] = (found[-1][0], end)
        else:
            found.append((start, end))
    out = [Strip((end - start) * INCHES, start, end, way) for start, end in found]
    return tuple(sorted(out, key=lambda strip: -strip.width))


def _runs(part: Any, bottom: Any, top: Any, wires: Sequence[Any]) -> bool:
    """Whether a clear line runs from the bottom to the top."""
    ends = [_shapely().Point(part.coords[i]) for i in (0, -1)]
    joins = any(a.distance(bottom) < NEAR and b.distance(top) < NEAR for a, b in (ends, ends[::-1]))
    return joins and not any(part.intersects(wire) for wire in wires)


def _wire_along(wires: Sequence[Outline], across: Point, place: float) -> bool:
    """Whether a stretch of a wire lies along the line at a place."""
    return any(abs(_dot(a, across) - place) < NEAR and abs(_dot(b, across) - place) < NEAR
               for wire in wires for a, b in pairwise(wire))  # fmt: skip


def _down(plane: Plane) -> Point:
    """The direction down the slope: square to the longest eave, away from the plane."""
    a, b = max(plane.edges("eave"), key=lambda edge: math.dist(*edge))
    across = _across(_along(a, b))
    inside = _shape(plane.outline).representative_point()
    side = _dot((inside.x - a[0], inside.y - a[1]), across)
    return (-across[0], -across[1]) if side > 0 else across


# --- small steps ---------------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def _shapely() -> Any:
    import shapely

    return shapely


@lru_cache(maxsize=4096)
def _shape(outline: Outline) -> Any:
    kind = _shapely().Polygon if len(outline) > 2 else _shapely().LineString
    return kind(outline)


@lru_cache(maxsize=4096)
def _union(outlines: tuple[Outline, ...]) -> Any:
    return _shapely().union_all([_shape(outline) for outline in outlines])


def _lines(edges: Sequence[Outline]) -> Any:
    return _shapely().MultiLineString([list(edge) for edge in edges])


def _corners(shape: Any) -> list[Point]:
    return [(float(x), float(y)) for x, y in _shapely().get_coordinates(shape)]


def _parts(shape: Any) -> list[Any]:
    parts = list(shape.geoms) if hasattr(shape, "geoms") else [shape]
    return [part for part in parts if part.geom_type == "LineString" and part.length > NEAR]


def _along(a: Point, b: Point) -> Point:
    length = math.dist(a, b) or 1.0
    return ((b[0] - a[0]) / length, (b[1] - a[1]) / length)


def _across(way: Point) -> Point:
    return (-way[1], way[0])


def _dot(a: Point, b: Point) -> float:
    return a[0] * b[0] + a[1] * b[1]


def _move(point: Point, way: Point, by: float) -> Point:
    return (point[0] + way[0] * by, point[1] + way[1] * by)


def _place(across: Point, way: Point, side: float, along: float) -> Point:
    return (across[0] * side + way[0] * along, across[1] * side + way[1] * along)


def _parallel(a: Point, b: Point) -> bool:
    return abs(a[0] * b[1] - a[1] * b[0]) < NEAR


def _different(ways: Sequence[Point]) -> list[Point]:
    out: list[Point] = []
    for way in ways:
        if not any(_parallel(way, other) for other in out):
            out.append(way)
    return out
