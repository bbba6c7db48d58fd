"""Geometry on roofs: against figures reckoned by hand, against properties of planes, and what is missing is named.

Sources: the figures are reckoned by hand on squared paper, as the comments show; withdrawal values after the formula
W = 1800 G^(3/2) D^(3/4) that stands beside the table of the wood design specification. Roofs and arrays are invented.
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import ampcite
import both_ways
import shared
from ampcite.house import geometry
from ampcite.house.geometry import Plane
from ampcite.house.points import read_points, write_points
from ampcite.house.roof_quantities import QUANTITIES
from ampcite.house.shapes import Outline
from ampcite.house.write import written
from ampcite.language.logic import close
from shared import examples

GABLE = ("eave", "rake", "ridge", "rake")
HIPPED = ("eave", "hip", "ridge", "hip")


def box(x: float, y: float, w: float, h: float) -> Outline:
    return ((x, y), (x + w, y), (x + w, y + h), (x, y + h))


def widths(plane: Plane, *blocks: Outline, wires: tuple[Outline, ...] = ()) -> tuple[float, float]:
    return geometry.two_widths(geometry.strips(plane, blocks, wires))


PLANE = Plane(box(0, 0, 40, 16), GABLE)


# --- by hand ----------------------------------------------------------------------------------------------------


def test_a_bent_run_of_conduit_blocks_only_where_it_runs() -> None:
    # From inside the roof straight down past the eave at 10 ft, then back up over the eave at 11 ft to 12 ft: it
    # divides the roof at 10 ft and blocks 11 to 12 ft; the foot between 10 and 11 ft is free.
    (found,) = geometry.strips(PLANE, (), (((10, 1), (10, -1), (12, 1)),))
    assert [strip.width for strip in found] == pytest.approx([28 * 12, 10 * 12, 1 * 12])


def test_strips_beside_an_array_on_a_gable_roof() -> None:
    # 40 ft of eave, array from 3 ft to 35 ft: 3 ft and 5 ft are left.
    assert widths(PLANE, box(3, 1, 32, 14)) == pytest.approx((60, 36))


def test_an_array_that_leaves_the_ridge_free_still_closes_the_slope_below_it() -> None:
    assert widths(PLANE, box(0, 0, 40, 2)) == (0, 0)


def test_an_array_is_as_long_as_it_reaches_along_one_of_its_sides() -> None:
    # A box of 32 ft by 14 ft; the same turned so that its sides run 3 to 4; an L of 20 ft whose longest side has 16 ft.
    turned = ((0.0, 0.0), (19.2, 25.6), (8.0, 34.0), (-11.2, 8.4))
    bent = ((0.0, 0.0), (16.0, 0.0), (16.0, 4.0), (20.0, 4.0), (20.0, 8.0), (0.0, 8.0))
    assert [geometry.length(one) for one in (box(3, 1, 32, 14), turned, bent)] == pytest.approx([32, 32, 20])


def test_two_arrays_leave_three_strips() -> None:
    # 0 to 4, 14 to 20 and 36 to 40 are free.
    assert widths(PLANE, box(4, 1, 10, 12), box(20, 2, 16, 12)) == pytest.approx((72, 48))


def test_one_strip_of_six_feet_holds_two_pathways_of_three() -> None:
    assert widths(PLANE, box(6, 1, 34, 14)) == pytest.approx((72, 36))


def test_arrays_that_leave_a_bent_way_leave_no_pathway() -> None:
    # The lower array leaves 0 to 4 ft free, the upper one 36 to 40 ft; nothing straight goes through.
    assert widths(PLANE, box(4, 0, 36, 7), box(0, 9, 36, 7)) == (0, 0)


def test_a_ridge_shorter_than_the_eave_bounds_a_strip_square_to_the_eave() -> None:
    # Ridge from 10 to 30 ft; the array from 10 to 27 ft blocks all of it but 3 ft. Two small arrays low at the sides
    # keep strips along the hips narrower.
    hip = Plane(((0, 0), (40, 0), (30, 10), (10, 10)), HIPPED)
    low = (((2, 0.5), (9, 0.5), (9, 1.5), (2.2, 1.5)), ((31, 0.5), (38, 0.5), (37.8, 1.5), (31, 1.5)))
    assert widths(hip, box(10, 1, 17, 8), *low)[0] == pytest.approx(36)


def test_a_strip_along_the_hip_counts() -> None:
    # Hips rise at 45 degrees. The array's nearest corner (12, 8) lies (12 - 8) / root 2 = 2.828 ft from the left hip,
    # the right side mirrors it.
    hip = Plane(((0, 0), (40, 0), (30, 10), (10, 10)), HIPPED)
    array = ((6, 1), (34, 1), (28, 8), (12, 8))
    assert widths(hip, array)[0] == pytest.approx(4 / math.sqrt(2) * 12)


def test_a_plane_without_a_ridge_is_left_along_a_hip() -> None:
    # A hip end of 28 ft and 14 ft high; the array's corner (8, 1) lies 7 / root 2 ft from the hip, (12, 9) 3 / root 2.
    end = Plane(((0, 0), (28, 0), (14, 14)), ("eave", "hip", "hip"))
    assert widths(end, ((8, 1), (20, 1), (16, 9), (12, 9)))[0] == pytest.approx(3 / math.sqrt(2) * 12)


def test_a_slope_against_a_wall_is_left_at_the_wall() -> None:
    assert widths(Plane(box(0, 0, 10, 8), ("eave", "rake", "wall", "rake")), box(3, 1, 7, 5))[0] == pytest.approx(36)


def test_a_dormer_cuts_the_slope() -> None:
    # An outline with a notch from 10 to 20 ft at the eave: above it no strip reaches the eave.
    notched = Plane(((0, 0), (10, 0), (10, 6), (20, 6), (20, 0), (40, 0), (40, 16), (0, 16)),
                    ("eave", "wall", "wall", "wall", "eave", "rake", "ridge", "rake"))  # fmt: skip
    assert widths(notched) == pytest.approx((240, 120))


def test_an_array_that_reaches_over_a_hip_counts_as_far_as_it_lies_on_the_plane() -> None:
    # The array from 1 to 1.5 ft and 3 ft high crosses the hip at (1.5, 1.5): along the other hip the strip is free from
    # the line through that point on, and the lines from 3 to 28 ft of eave are 25 / root 2 ft apart.
    end = Plane(((0, 0), (28, 0), (14, 14)), ("eave", "hip", "hip"))
    assert widths(end, box(1, 0, 0.5, 3))[0] == pytest.approx(25 / math.sqrt(2) * 12)


def test_conduit_divides_a_strip_lengthwise_and_closes_it_across() -> None:
    # 3 ft beside the array; a run up the slope at 1 ft leaves 2 ft, one across leaves nothing.
    array = box(3, 0, 37, 15)
    assert widths(PLANE, array, wires=(((1, 0), (1, 16)),))[0] == pytest.approx(24)
    assert widths(PLANE, array, wires=(((0, 4), (3, 4)),)) == (0, 0)


def test_distances_areas_and_overhangs() -> None:
    array = box(2, 1, 10, 12)
    assert geometry.distance(PLANE.edge(2), [array]) == pytest.approx(36)  # 16 ft less 13
    assert geometry.inset(PLANE.outline, array) == pytest.approx(12)
    assert geometry.outside(PLANE.outline, array) == 0
    assert geometry.outside(PLANE.outline, box(33, 1, 8, 5)) == pytest.approx(12)
    assert geometry.inset(PLANE.outline, box(33, 1, 8, 5)) == 0
    assert geometry.area([box(0, 0, 4, 4), box(2, 0, 4, 4)]) == pytest.approx(24)  # the common 8 sq ft count once
    # from a hip at 45 degrees: the corner (6, 2) lies 4 / root 2 ft away
    hip = Plane(((0, 0), (40, 0), (30, 10), (10, 10)), HIPPED)
    assert geometry.distance(hip.edge(3), [box(6, 1, 10, 1)]) == pytest.approx(4 / math.sqrt(2) * 12)


@pytest.mark.parametrize(
    ("line", "blocks", "expected"),
    [
        (((0, 0), (4, 0)), [box(-9, 2.5, 20, 2)], 30.0),
        (((0, 0), (4, 0)), [box(-9, 1, 10.5, 9)], 30.0),
        (((0, 0), (4, 0)), [box(-9, 1, 12, 9), box(4, 1, 9, 9)], 12.0),
        (((0, 0), (2, 0)), [box(-9, 0, 8.7, 9), box(2.2, 0, 9, 9)], 30.0),
        (((0, 0), (2, 0)), [box(0.9, 1, 0.2, 9)], 12.0),
        (((0, 0), (4, 0)), [box(4, 0, 9, 9)], math.inf),
        (((0, 0), (4, 0)), [box(0, -9, 4, 9)], math.inf),
        (((0, 0), (4, 0)), [], math.inf),
        (((0, -1), (4, -1)), [box(-9, -4, 20, 1)], 24.0),
    ],
)
def test_the_largest_square_before_a_line(line: Outline, blocks: list[Outline], expected: float) -> None:
    assert geometry.square_before(line, box(0, -2, 4, 2), tuple(blocks)) == pytest.approx(expected, abs=1e-4)


def test_below_a_window_lies_what_is_between_it_and_the_eave() -> None:
    foot = ((10.0, 8.0), (13.0, 8.0))
    assert geometry.common(geometry.below(PLANE, foot), [box(11, 2, 10, 4)]) == pytest.approx(8)  # 2 ft by 4 ft
    assert geometry.common(geometry.below(PLANE, foot), [box(0, 9, 40, 4)]) == 0
    assert geometry.strip_up_to(PLANE, foot, (box(0, 1, 9, 4), box(14, 1, 10, 4))) == pytest.approx(60)  # 9 to 14 ft
    assert geometry.strip_up_to(PLANE, foot, (box(11, 1, 1, 4),)) == pytest.approx(28 * 12)  # 12 to 40 ft


def test_an_outline_that_crosses_itself_is_no_outline() -> None:
    assert "crosses" in geometry.fault(((0, 0), (4, 4), (4, 0), (0, 4)))
    assert geometry.fault(((0, 0), (4, 4), (8, 8)))
    assert not geometry.fault(PLANE.outline)


# --- properties -------------------------------------------------------------------------------------------------

SIDE = st.integers(0, 40).map(lambda n: n / 2)
BOXES = st.lists(
    st.tuples(SIDE, SIDE.map(lambda y: y * 0.7), st.integers(1, 20), st.integers(1, 12)), min_size=0, max_size=4
).map(lambda found: tuple(box(x, y, w / 2, h / 2) for x, y, w, h in found))
SHAPES = st.sampled_from([
    Plane(box(0, 0, 24, 14), GABLE),
    Plane(((0, 0), (24, 0), (17, 14), (7, 14)), HIPPED),
    Plane(((0, 0), (28, 0), (14, 14)), ("eave", "hip", "hip")),
    Plane(((0, 0), (18, 0), (24, 14), (0, 14)), ("eave", "valley", "ridge", "rake")),
])  # fmt: skip


def turned(outline: Outline, angle: float, dx: float, dy: float, mirror: bool) -> Outline:
    c, s = math.cos(angle), math.sin(angle)
    flip = -1 if mirror else 1
    return tuple((c * x * flip - s * y + dx, s * x * flip + c * y + dy) for x, y in outline)


@settings(max_examples=examples(60))
@given(SHAPES, BOXES, st.floats(-3, 3), st.floats(-100, 100), st.floats(-100, 100), st.booleans())
def test_moving_turning_and_mirroring_a_roof_changes_nothing(
    plane: Plane, blocks: tuple[Outline, ...], angle: float, dx: float, dy: float, mirror: bool
) -> None:
    def move(outline: Outline) -> Outline:
        return turned(outline, angle, dx, dy, mirror)

    moved = Plane(move(plane.outline), plane.kinds)
    others = tuple(map(move, blocks))
    assert widths(moved, *others) == pytest.approx(widths(plane, *blocks), abs=1e-5)
    for number in range(len(plane.kinds)):
        assert geometry.reach(moved, number) == pytest.approx(geometry.reach(plane, number), abs=1e-5)
        if blocks:
            near = geometry.distance(plane.edge(number), blocks)
            assert geometry.distance(moved.edge(number), others) == pytest.approx(near, abs=1e-5)
    foot = ((10.0, 7.0), (12.0, 7.0))
    assert geometry.strip_up_to(moved, move(foot), others) == pytest.approx(
        geometry.strip_up_to(plane, foot, blocks), abs=1e-5
    )
    for own, other in zip(blocks, others, strict=True):
        assert geometry.outside(moved.outline, other) == pytest.approx(geometry.outside(plane.outline, own), abs=1e-5)


@settings(max_examples=examples(60))
@given(SHAPES, BOXES, st.floats(0.1, 1), st.integers(0, 3))
def test_shrinking_or_removing_an_array_never_narrows_a_pathway(
    plane: Plane, blocks: tuple[Outline, ...], share: float, which: int
) -> None:
    before = widths(plane, *blocks)
    smaller = []
    for i, outline in enumerate(blocks):
        mx, my = (sum(axis) / len(outline) for axis in zip(*outline, strict=True))
        k = share if i == which % len(blocks) else 1.0
        smaller.append(tuple((mx + (x - mx) * k, my + (y - my) * k) for x, y in outline))
    for after in (widths(plane, *smaller), widths(plane, *blocks[1:])):
        assert all(a >= b - 1e-6 for a, b in zip(after, before, strict=True))
    for number in range(len(plane.kinds)):
        if blocks:
            near = geometry.distance(plane.edge(number), blocks)
            assert geometry.distance(plane.edge(number), smaller) >= near - 1e-6


@settings(max_examples=examples(60))
@given(SHAPES, BOXES)
def test_a_strip_is_as_wide_as_a_walker_who_fits_through(plane: Plane, blocks: tuple[Outline, ...]) -> None:
    """Erosion says the same: a disc as wide as the strip gets from the eave to the top, where the arrays leave room."""
    import shapely

    free = shapely.Polygon(plane.outline).difference(shapely.union_all([shapely.Polygon(b) for b in blocks]))
    width = widths(plane, *blocks)[0]
    assume(width >= 1)
    strip = max((mine[0] for mine in geometry.strips(plane, blocks)), key=lambda s: s.width)
    across, along = (-strip.direction[1], strip.direction[0]), strip.direction
    lines = []
    for share in (0.02, 0.5, 0.98):
        side = strip.start + (strip.end - strip.start) * share
        ends = [(across[0] * side + along[0] * t, across[1] * side + along[1] * t) for t in (-100, 100)]
        lines.append(shapely.LineString(ends).intersection(free))
    assert all(line.length > 0 for line in lines)
    reach = [shapely.LineString(edge) for edge in plane.edges("eave")]
    assert all(any(line.distance(edge) < 1e-6 for edge in reach) for line in lines)


# --- in a description -------------------------------------------------------------------------------------------

PACK = shared.PACKS["roof"]


def rulebook(edition: int) -> ampcite.Rulebook:
    return shared.rulebook(edition, ("roof",), "building")


def house(name: str = "converter-strings") -> dict[str, Any]:
    return shared.plain(shared.shipped_house(name))


def west_array(x: float, y: float) -> list[list[float]]:
    """The outline of the converter house's west array, five modules below and four above, its corner at a point."""
    steps = ((0, 0), (18.8, 0), (18.8, 5.7), (15, 5.7), (15, 11.4), (0, 11.4))
    return [[x + across, y + up] for across, up in steps]


def broken_rules(document: dict[str, Any], edition: int) -> set[str]:
    report = ampcite.check(rulebook(edition), ampcite.read(written(document)))
    return {f.rule for f in report.findings if f.verdict != "pass"}


@pytest.mark.parametrize("edition", PACK.editions["building"])
@pytest.mark.parametrize("name", ["converter-strings", "microinverters", "plain-strings"])
def test_a_shipped_house_passes_at_every_building_edition(name: str, edition: int) -> None:
    report = ampcite.check(rulebook(edition), ampcite.read(written(house(name))))
    assert [(f.rule, f.note) for f in report.findings if f.verdict != "pass"] == []


def test_2015_asks_for_three_feet_below_the_ridge_and_2018_for_half_of_it_on_a_small_share() -> None:
    document = house()
    document["roof"]["arrays"][1]["outline"] = west_array(4, 2.6)  # 2 ft below the ridge
    assert broken_rules(document, 2015) == {"array-in-ridge-ventilation-strip"}
    assert broken_rules(document, 2018) == set()


def test_2015_asks_for_two_pathways_on_a_gable_slope_and_2018_for_one() -> None:
    document = house("microinverters")
    document["roof"]["arrays"][0]["outline"] = box(0.5, 0.9, 41.8, 11.4)
    assert broken_rules(document, 2015) == set()  # 7.7 ft on one side hold two pathways
    document["roof"]["obstructions"].append({"id": "SKY", "kind": "skylight", "plane": "SOUTH", "height": 6,
        "outline": box(47.9, 5, 1, 3)})  # fmt: skip
    assert broken_rules(document, 2015) == {"slope-without-two-pathways"}
    assert broken_rules(document, 2018) == set()


def test_2015_keeps_modules_off_a_valley_that_has_some_on_both_sides() -> None:
    document = house()
    # beside the valley WEST-2, and on the plane beyond it
    document["roof"]["arrays"][1]["outline"] = west_array(6, 1)
    assert broken_rules(document, 2015) == set()
    small = {**document["roof"]["arrays"][1], "id": "A-NW", "plane": "NORTH-W", "modules": 1,
             "outline": box(-5.5, 8, 4, 4), "racking_weight": 10, "attachments": 4}  # fmt: skip
    document["roof"]["arrays"].append(small)
    document["modules"][0]["quantity"] = 25
    document["roof"]["planes"][3] |= {"framing": document["roof"]["planes"][0]["framing"]}
    assert "array-too-near-hip-or-valley" in broken_rules(document, 2015)
    assert "array-too-near-hip-or-valley" not in broken_rules(document, 2018)


def test_a_hip_roof_of_2015_needs_a_pathway_on_each_slope() -> None:
    document = house("microinverters")
    document["roof"]["planes"][0]["edges"][1]["kind"] = document["roof"]["planes"][0]["edges"][3]["kind"] = "hip"
    for number in (1, 3):
        document["roof"]["planes"][0]["edges"][number]["joins"] = None
    assert broken_rules(document, 2015) == set()
    document["roof"]["arrays"][0]["outline"] = box(2, 0.9, 46.5, 11.4)
    assert "hip-slope-without-pathway" in broken_rules(document, 2015)


@pytest.mark.parametrize(
    ("leave_out", "missing"),
    [
        (["arrays"], "/roof/arrays"),
        (["planes", 0, "outline"], "/roof/planes/0/outline"),
        (["planes", 0, "edges"], "/roof/planes/0/edges"),
        (["planes", 0, "edges", 2, "kind"], "/roof/planes/0/edges/2/kind"),
        (["arrays", 0, "outline"], "/roof/arrays/0/outline"),
        (["arrays", 0, "plane"], "/roof/arrays/0/plane"),
        (["obstructions"], "/roof/obstructions"),
        (["obstructions", 0, "kind"], "/roof/obstructions/0/kind"),
        (["planes", 0, "rise_in_12"], "/roof/planes/0/rise_in_12"),
    ],
)
def test_what_is_left_out_of_the_roof_is_asked_for_and_never_passes_over(leave_out: list[Any], missing: str) -> None:
    document = {**house(), "all_listed": False}
    here = document["roof"]
    for step in leave_out[:-1]:
        here = here[step]
    del here[leave_out[-1]]
    report = ampcite.check(rulebook(2021), ampcite.read(written(document)))
    asked = [f for f in report.findings if missing in f.missing]
    assert asked and all(f.verdict == "warn" for f in asked)
    assert not [f for f in report.findings if f.verdict == "fail"]


@pytest.mark.parametrize("edition", [2015, 2021])
@pytest.mark.parametrize("name", ["converter-strings", "microinverters", "plain-strings"])
def test_generated_code_and_closures_find_the_same(name: str, edition: int) -> None:
    both_ways.agree(rulebook(edition), ampcite.read(written(house(name))))


@pytest.mark.parametrize("name", ["converter-strings", "microinverters", "plain-strings"])
def test_a_roof_that_is_fully_known_never_needs_the_closures(name: str) -> None:
    known = house(name)
    known["roof"].setdefault("access_exceptions_adopted", True)  # which one of the houses leaves open
    assert both_ways.handed_over(rulebook(2021), ampcite.read(written(known))) == []


def test_the_lower_of_two_arrays_over_a_vent_counts() -> None:
    document = house()
    document["roof"]["obstructions"][0] |= {"outline": box(10, 5, 0.5, 0.5), "height": 2, "diameter": 2}
    assert broken_rules(document, 2021) == set()  # 4 in of gap leave 2 in over a pipe of 2 in
    second = {**document["roof"]["arrays"][0], "id": "A-LOW", "gap": 2.2}
    document["roof"]["arrays"].append(second)
    assert "plumbing-vent-choked-by-array" in broken_rules(document, 2021)


def test_an_outline_that_can_not_be_is_said_so() -> None:
    document = house()
    document["roof"]["arrays"][0]["outline"] = [[0, 0], [4, 4], [4, 0], [0, 4]]
    document["roof"]["planes"][1]["edges"].pop()
    report = ampcite.check(rulebook(2021), ampcite.read(written(document)))
    notes = " ".join(f.note for f in report.findings if f.verdict == "warn")
    assert "array A-SOUTH: its outline crosses or touches itself" in notes
    assert "roof plane WEST has 4 corners and 3 edges" in notes


def test_an_outline_may_name_a_unit_and_must_be_points_of_lengths() -> None:
    document = house()
    feet = document["roof"]["arrays"][0]["outline"]
    inches = write_points([(12 * x, 12 * y) for x, y in read_points(feet, "ft")])
    document["roof"]["arrays"][0]["outline"] = f"{inches} in"
    assert broken_rules(document, 2021) == set()
    for said, words in (("4,1 8,1 8,4 lb", "lb"), ("4,1 8,1", "has 2 points"), ("4;1", "no list of points"),
                        ("4 x 3 at 200000,1", "goes further")):  # fmt: skip
        document["roof"]["arrays"][0]["outline"] = said
        with pytest.raises(ampcite.InputError, match=f"/roof/arrays/0/outline.*{words}"):
            ampcite.read(written(document))


corner = st.tuples(*[st.decimals(-999, 999, places=2).map(float)] * 2)


@given(st.lists(corner, min_size=2, max_size=8))
def test_points_are_read_as_they_are_written(points: list[tuple[float, float]]) -> None:
    assert read_points(write_points(points), "ft") == tuple(points)


@given(corner, st.decimals("0.01", 99, places=2).map(float), st.decimals("0.01", 99, places=2).map(float))
def test_a_rectangle_is_written_by_its_sides(corner: tuple[float, float], width: float, height: float) -> None:
    x, y = corner
    points = read_points(f"{width} x {height} at {x},{y}", "ft")
    assert points == ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
    assert read_points(f"{width}x{height} m", "ft")[2] == pytest.approx((width / 0.3048, height / 0.3048))


def test_every_quantity_from_outlines_is_read_by_some_rule() -> None:
    bound = {name for edition in PACK.editions["building"] for name in rulebook(edition).bound.reckoned}
    local_law_reads = {"array_plan_area", "roof_plan_area", "plane_share", "array_length", "gap_to_array"}
    assert bound | local_law_reads == set(QUANTITIES)


def test_withdrawal_values_follow_their_formula() -> None:
    rows = PACK.tables["lag_withdrawal"].rows["lag_withdrawal.csv"]
    for gravity, *cells in rows[1:]:
        for diameter, cell in zip((0.25, 0.3125, 0.375, 0.4375, 0.5), cells, strict=True):
            assert abs(float(cell) - 1800 * float(gravity) ** 1.5 * diameter**0.75) <= 1.01


def test_a_ring_of_a_quarter_of_the_diameter_opens_as_much_as_the_pipe() -> None:
    share = float(PACK.parameters["vent_open_share"].value.at(2018) or 0)
    for diameter in (1.5, 2, 3, 4):
        assert close(math.pi * diameter * share * diameter, math.pi * diameter**2 / 4)
