"""The package's own plane geometry gives what shapely gives, on random outlines and on the awkward ones.

Outside reference: shapely (GEOS), asked in ``by_shapely.py``. Outlines are random stars, boxes on a grid that share
corners and edges, and rings of random grid points of which most cross themselves.
"""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import by_shapely as reference
from ampcite.house import geometry, shapes
from ampcite.house.geometry import Plane
from ampcite.house.shapes import Outline
from shared import examples, steps

CLOSE = pytest.approx
grid = st.integers(0, 12).map(float)
grid_points = st.tuples(grid, grid)


@st.composite
def stars(draw: st.DrawFn, most: int = 12) -> Outline:
    """An outline around a middle, its corners at growing angles: of any shape but never crossing itself."""
    count = draw(st.integers(3, most))
    x, y = draw(st.floats(0, 40)), draw(st.floats(0, 20))
    steps = draw(st.lists(st.floats(0.2, 1), min_size=count, max_size=count))
    radii = draw(st.lists(st.floats(0.5, 12), min_size=count, max_size=count))
    whole, angle, out = sum(steps), 0.0, []
    for step, radius in zip(steps, radii, strict=True):
        angle += 2 * math.pi * step / whole
        out.append((x + radius * math.cos(angle), y + radius * math.sin(angle)))
    return tuple(out[:: draw(st.sampled_from([1, -1]))])


@st.composite
def boxes(draw: st.DrawFn) -> Outline:
    x, y, w, h = draw(grid), draw(grid), draw(st.integers(1, 6)), draw(st.integers(1, 6))
    return ((x, y), (x + w, y), (x + w, y + h), (x, y + h))


outlines = st.one_of(stars(), boxes()).filter(lambda o: shapely.Polygon(o).is_valid)
several = st.lists(outlines, min_size=1, max_size=5).map(tuple)
lines = st.tuples(grid_points, grid_points).filter(lambda line: line[0] != line[1])


@settings(max_examples=examples(600), deadline=None)
@given(st.lists(grid_points, min_size=3, max_size=7).map(tuple))
def test_whether_an_outline_bounds_one_area(ring: Outline) -> None:
    assert shapes.simple(ring) is bool(shapely.Polygon(ring).is_valid)


@settings(max_examples=examples(200), deadline=None)
@given(stars(30))
def test_whether_a_random_outline_bounds_one_area(ring: Outline) -> None:
    assert shapes.simple(ring) is bool(shapely.Polygon(ring).is_valid)


@settings(max_examples=examples(200), deadline=None)
@given(several)
def test_areas(some: tuple[Outline, ...]) -> None:
    assert geometry.area(some) == CLOSE(reference.area(some), rel=1e-9, abs=1e-6)


@settings(max_examples=examples(200), deadline=None)
@given(outlines, several)
def test_areas_in_common(one: Outline, others: tuple[Outline, ...]) -> None:
    assert geometry.common(one, others) == CLOSE(reference.common(one, others), rel=1e-9, abs=1e-6)


@settings(max_examples=examples(300), deadline=None)
@given(st.one_of(outlines, lines), several)
def test_distances(one: Outline, others: tuple[Outline, ...]) -> None:
    assert geometry.distance(one, others) == CLOSE(reference.distance(one, others), rel=1e-9, abs=1e-9)


@settings(max_examples=examples(300), deadline=None)
@given(outlines, outlines)
def test_how_far_an_outline_sticks_out_or_stays_within(plane: Outline, own: Outline) -> None:
    assert geometry.outside(plane, own) == CLOSE(reference.outside(plane, own), rel=1e-9, abs=1e-9)
    assert geometry.inset(plane, own) == CLOSE(reference.inset(plane, own), rel=1e-9, abs=1e-9)


@settings(max_examples=examples(300), deadline=None)
@given(outlines, grid_points)
def test_points_inside(outline: Outline, point: tuple[float, float]) -> None:
    assert shapes.inside(point, outline) is bool(shapely.Polygon(outline).covers(shapely.Point(point)))


# --- strips ----------------------------------------------------------------------------------------------------------


@st.composite
def planes(draw: st.DrawFn) -> Plane:
    """Roof planes: gables, hips, trapezes, triangles under a hip, and an L; turned and moved."""
    w, h = draw(st.floats(20, 50)), draw(st.floats(8, 25))
    cut = draw(st.floats(1, w / 2 - 1))
    corners, kinds = draw(st.sampled_from([
        (((0, 0), (w, 0), (w, h), (0, h)), ("eave", "rake", "ridge", "rake")),
        (((0, 0), (w, 0), (w - cut, h), (cut, h)), ("eave", "hip", "ridge", "hip")),
        (((0, 0), (w, 0), (w - cut, h), (0, h)), ("eave", "valley", "ridge", "rake")),
        (((0, 0), (w, 0), (cut, h)), ("eave", "hip", "hip")),
        (((0, 0), (w, 0), (w, h), (0, h)), ("eave", "rake", "wall", "rake")),
        (((0, 0), (cut, 0), (cut, h / 3), (w, h / 3), (w, h), (0, h)),
         ("eave", "wall", "eave", "rake", "ridge", "rake")),
    ]))  # fmt: skip
    angle, dx, dy = draw(st.floats(-3, 3)), draw(st.floats(-50, 50)), draw(st.floats(-50, 50))
    c, s = math.cos(angle), math.sin(angle)
    moved = tuple((dx + c * x - s * y, dy + s * x + c * y) for x, y in corners)
    return Plane(moved, kinds)


@st.composite
def on(draw: st.DrawFn, plane: Plane, most: int) -> Outline:
    """A small outline somewhere about a plane."""
    middle = [sum(axis) / len(plane.outline) for axis in zip(*plane.outline, strict=True)]
    x, y = middle[0] + draw(st.floats(-20, 20)), middle[1] + draw(st.floats(-20, 20))
    star = draw(stars(most).filter(lambda o: shapely.Polygon(o).is_valid))
    ox, oy = star[0]
    share = draw(st.floats(0.1, 1))
    return tuple((x + (a - ox) * share, y + (b - oy) * share) for a, b in star)


@settings(max_examples=examples(250), deadline=None)
@given(st.data())
def test_clear_strips(data: st.DataObject) -> None:
    plane = data.draw(planes())
    blocks = tuple(data.draw(st.lists(on(plane, 6), max_size=5)))
    wires = tuple(data.draw(on(plane, 4)) for _ in range(data.draw(st.integers(0, 2))))
    expected = reference.strips(plane, blocks, wires)  # type: ignore[arg-type]
    found = geometry.strips(plane, blocks, wires)
    assert [len(mine) for mine in found] == [len(mine) for mine in expected]
    for mine, theirs in zip(found, expected, strict=True):
        assert [s.width for s in mine] == CLOSE([s.width for s in theirs], rel=1e-6, abs=1e-5)
    assert geometry.two_widths(found) == CLOSE(reference.two_widths(expected), rel=1e-6, abs=1e-5)  # type: ignore[arg-type]


@settings(max_examples=examples(200), deadline=None)
@given(st.data())
def test_clear_strips_up_to_a_window(data: st.DataObject) -> None:
    plane = data.draw(planes())
    blocks = tuple(data.draw(st.lists(on(plane, 6), max_size=4)))
    (a, b), (c, d) = plane.edge(0)
    at, length, up = data.draw(st.floats(0.1, 0.6)), data.draw(st.floats(0.05, 0.3)), data.draw(st.floats(0.5, 6))
    left = (-(d - b) / math.dist((a, b), (c, d)), (c - a) / math.dist((a, b), (c, d)))
    foot = tuple((a + t * (c - a) + up * left[0], b + t * (d - b) + up * left[1]) for t in (at, at + length))
    expected = reference.strip_up_to(plane, foot, blocks)  # type: ignore[arg-type]
    assert geometry.strip_up_to(plane, foot, blocks) == CLOSE(expected, rel=1e-6, abs=1e-5)
    below = geometry.below(plane, foot)
    assert geometry.common(below, blocks) == CLOSE(
        reference.common(reference.below(plane, foot), blocks), rel=1e-9, abs=1e-6)  # type: ignore[arg-type]  # fmt: skip


# --- cost ------------------------------------------------------------------------------------------------------------


def crowded(arrays: int, obstructions: int, points: int) -> tuple[Plane, tuple[Outline, ...]]:
    """A long roof with rows of arrays and round obstructions of many points."""
    blocks: list[Outline] = []
    for i in range(arrays):
        blocks.append(((10.0 * i + 1, 1.0), (10.0 * i + 8, 1.0), (10.0 * i + 8, 14.0), (10.0 * i + 1, 14.0)))
    for i in range(obstructions):
        x, y = 10.0 * arrays * (i + 0.5) / obstructions, 15.0
        turns = [2 * math.pi * k / points for k in range(points)]
        blocks.append(tuple((x + 0.4 * math.cos(t), y + 0.4 * math.sin(t)) for t in turns))
    w = 10.0 * arrays
    return Plane(((0, 0), (w, 0), (w, 16), (0, 16)), ("eave", "rake", "ridge", "rake")), tuple(blocks)


@pytest.mark.parametrize(
    ("name", "small", "large", "grown"),
    [("parts", (10, 10, 8), (40, 40, 8), 4), ("points", (5, 10, 20), (5, 10, 80), 4)],
)  # fmt: skip
def test_strips_cost_what_the_roof_is_large(name: str, small: tuple[int, int, int], large: tuple[int, int, int],
                                            grown: int) -> None:  # fmt: skip
    """Of so many times the parts or points at most twice so many times the work; the square would be more."""
    shapes.crossings.cache_clear()
    geometry.strips.cache_clear()
    costs = [steps(lambda size=size: geometry.strips(*crowded(*size))) for size in (small, large)]
    assert costs[1] / costs[0] < 2 * grown, (name, costs)


def test_nearest_and_common_areas_look_only_at_what_is_near() -> None:
    costs = []
    for many in (20, 80):
        _, blocks = crowded(many, many, 12)
        costs.append(steps(lambda blocks=blocks: (geometry.distance(blocks[0], blocks[1:]),
                                                  geometry.common(blocks[0], blocks[1:]))))  # fmt: skip
    assert costs[1] / costs[0] < 8, costs


def test_what_a_crowded_roof_gives_is_what_shapely_gives() -> None:
    plane, blocks = crowded(10, 20, 40)
    wires = (((5.0, 14.5), (95.0, 14.5), (95.0, 3.0)),)
    for some in ((), wires):
        mine, theirs = geometry.strips(plane, blocks, some), reference.strips(plane, blocks, some)  # type: ignore[arg-type]
        assert [[s.width for s in one] for one in mine] == [CLOSE([s.width for s in one]) for one in theirs]
    assert geometry.area(blocks) == CLOSE(reference.area(blocks))
    assert sum(math.dist(a, b) for a, b in pairwise(blocks[0])) > 0
