"""What is reckoned from the outlines of a roof: for every plane, edge, array and obstruction, used like a derived one.

The only room that knows both the description's roof and the geometry; a rule reads these quantities by their names.
Nothing is reckoned where no rule of the rulebook asks for it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from functools import reduce
from itertools import compress, pairwise
from operator import or_
from typing import Any, TypeVar

import attrs

from ampcite.house import astride, geometry
from ampcite.house.geometry import Plane
from ampcite.house.parts import Part
from ampcite.house.roof_quantities import ARRAYS, CONDUITS, EDGES, OBSTRUCTIONS, PLANES, QUANTITIES
from ampcite.house.shapes import Outline
from ampcite.language.logic import ABSENT, Unknown
from ampcite.language.units import unit_words

T = TypeVar("T")

OLDER = "older array"
"""Modules that were there before this work: of the roof covered, and nobody can walk over them."""

HARD = frozenset({"skylight", "mechanical unit", "flue or chimney", "attic fan or turbine", OLDER, "other"})
"""Obstructions nobody can walk over or stand on; the others are vents and the like, that should be few in a pathway."""

Found = tuple[Any, Callable[[], str]]
"""A value (a number or ABSENT) and what says how it was reckoned, in words."""


def compute(roof: Roof, name: str, part: Part) -> Any:
    """A quantity of one part: a number, ABSENT, or an Unknown."""
    try:
        value, _ = _REACH[name](roof, part)
    except _Gap as gap:
        return gap.unknown
    except geometry.refusals():
        return Unknown(why=f"nothing can be reckoned from the points given for {part.label}")
    if value is ABSENT:
        return ABSENT
    return float(value) if math.isfinite(value) else Unknown(why="the figures given lead to no finite number")


def worked_line(roof: Roof, name: str, part: Part) -> str:
    """How a quantity that has a value was reckoned, in words."""
    value, how = _REACH[name](roof, part)
    return f"{name.replace('_', ' ')} = {how()} = {_plain(value, QUANTITIES[name].unit)}"


def _plain(value: float, unit: str) -> str:
    text = f"{value:.5g}"
    return f"{text if 'e' not in text else f'{value:.0f}'}{unit_words(unit)}"


def _area(outlines: Iterable[Outline]) -> str:
    return _plain(geometry.area(outlines), "ft2")


class _Gap(Exception):
    """Facts that are not stated, as pointers; ``why`` where something stated can't be used."""

    def __init__(self, missing: Iterable[str] = (), why: str = "") -> None:
        self.unknown = Unknown(frozenset(missing), why)


def _once(method: Callable[[Roof, Part], T]) -> Callable[[Roof, Part], T]:
    """A method whose answer for a part is kept; that something is missing is found anew."""
    name = method.__name__

    def kept(roof: Roof, part: Part) -> T:
        key = name, part.number
        if key not in roof.known:
            roof.known[key] = method(roof, part)
        found: T = roof.known[key]
        return found

    return kept


@attrs.frozen(eq=False)
class Roof:
    """The outlines of a description, as far as they are known; for one check, in which no fact changes."""

    house: Part
    known: dict[tuple[str, int], Any] = attrs.field(factory=dict, repr=False)

    def listed(self, part: Part, key: str) -> tuple[Part, ...]:
        found: tuple[Part, ...] | None = part.links.get(key)
        if found is None:
            raise _Gap([f"{part.pointer}/{key}"])
        return found

    def fact(self, part: Part, key: str) -> Any:
        value = part.facts.get(key)
        if value is None:
            raise _Gap([f"{part.pointer}/{key}"])
        return value

    def every(self, parts: Iterable[Part], reach: Callable[[Part], Any]) -> tuple[Any, ...]:
        """What is reached from each of several parts; all that is missing for any of them is named at once."""
        found, gaps = [], list[Unknown]()
        for part in parts:
            try:
                found.append(reach(part))
            except _Gap as gap:
                gaps.append(gap.unknown)
        if gaps:
            together = reduce(or_, gaps)
            raise _Gap(together.missing, together.why)
        return tuple(found)

    @_once
    def outline(self, part: Part) -> Outline:
        value: Outline = self.fact(part, "outline")
        if why := geometry.fault(value):
            raise _Gap(why=f"{part.label}: {why}")
        return value

    def holder(self, part: Part) -> Part:
        """The roof plane that an array, an obstruction or an opening is on, or that an edge belongs to."""
        if ".." in part.links and part.kind == EDGES:
            edge_of: Part = part.links[".."]
            return edge_of
        self.fact(part, "plane")
        found: Part = part.links["plane"]
        return found

    @_once
    def plane(self, part: Part) -> Plane:
        outline = self.outline(part)
        edges = self.listed(part, "edges")
        if len(edges) != len(outline):
            raise _Gap(
                why=f"{part.label} has {len(outline)} corners and {len(edges)} edges; each corner begins one edge"
            )
        return Plane(outline, self.every(edges, lambda edge: self.fact(edge, "kind")))

    @_once
    def sloped(self, part: Part) -> Plane:
        plane = self.plane(part)
        if not plane.edges("eave"):
            raise _Gap(why=f"no edge of {part.label} is an eave")
        return plane

    def on(self, plane: Part, kind: str) -> tuple[Part, ...]:
        """The arrays, obstructions or conduits on a plane."""
        key = kind, self.house.number
        if key not in self.known:
            every = self.listed(self.house, kind)
            numbers = self.every(every, lambda part: self.holder(part).number)
            self.known[key] = {n: tuple(compress(every, map(n.__eq__, numbers))) for n in set(numbers)}
        found: tuple[Part, ...] = self.known[key].get(plane.number, ())
        return found

    @_once
    def arrays(self, plane: Part) -> tuple[Outline, ...]:
        return self.every(self.on(plane, ARRAYS), self.outline)

    @_once
    def covered(self, plane: Part) -> tuple[Outline, ...]:
        """What is covered by modules, those that were there before included."""
        return self.arrays(plane) + self.others(plane, frozenset({OLDER}))

    @_once
    def blocks(self, plane: Part) -> tuple[Outline, ...]:
        """What nobody can walk over: arrays and hard obstructions."""
        return self.arrays(plane) + self.others(plane, HARD)

    def others(self, plane: Part, kinds: frozenset[str]) -> tuple[Outline, ...]:
        """The obstructions of certain kinds on a plane."""
        every = self.on(plane, OBSTRUCTIONS)
        self.every(every, lambda part: self.fact(part, "kind"))
        return self.every([part for part in every if part.facts["kind"] in kinds], self.outline)

    def flat(self, plane: Part) -> float:
        """What an area on a plane is multiplied by to be its plan-view area."""
        return 12.0 / math.hypot(float(self.fact(plane, "rise_in_12")), 12.0)


# --- the whole -----------------------------------------------------------------------------------------------


def _roof_plan_area(roof: Roof, house: Part) -> Found:
    return _plan_area(roof, roof.listed(house, PLANES))


def _plan_area(roof: Roof, planes: tuple[Part, ...]) -> Found:
    def one(plane: Part) -> float:
        own = geometry.area([roof.outline(plane)]) if "outline" in plane.facts else roof.fact(plane, "area")
        return float(own) * roof.flat(plane)

    areas = roof.every(planes, one)
    if not areas:
        raise _Gap(why="no roof plane is described")
    return sum(areas), lambda: f"in plan view: {' + '.join(_shares(planes, areas))}"


def _shares(planes: Iterable[Part], areas: Iterable[float]) -> list[str]:
    return [f"{plane.label} {_plain(area, 'ft2')}" for plane, area in zip(planes, areas, strict=True)]


def _array_plan_area(roof: Roof, house: Part) -> Found:
    roof.listed(house, ARRAYS)
    return _covered_area(roof, roof.listed(house, PLANES))


def _covered_area(roof: Roof, among: tuple[Part, ...]) -> Found:
    planes = [plane for plane in among if roof.on(plane, ARRAYS) or roof.on(plane, OBSTRUCTIONS)]
    areas = roof.every(planes, lambda plane: geometry.area(roof.covered(plane)) * roof.flat(plane))
    shares = [f"on {plane.label} {_plain(area, 'ft2')}" for plane, area in zip(planes, areas, strict=True) if area]
    return sum(areas), lambda: f"in plan view: {' + '.join(shares) or 'no array'}"


def _covered_share(roof: Roof, house: Part) -> Found:
    return _share(roof, roof.listed(house, PLANES))


def _building_share(roof: Roof, part: Part) -> Found:
    planes = roof.listed(roof.house, PLANES)
    roof.every(planes, lambda plane: roof.fact(plane, "building"))
    return _share(roof, tuple(plane for plane in planes if plane.facts["building"] == part.facts["building"]))


def _share(roof: Roof, planes: tuple[Part, ...]) -> Found:
    reaches = iter((_covered_area, _plan_area))
    (arrays, _), (whole, _) = roof.every((roof.house, roof.house), lambda _: next(reaches)(roof, planes))
    return 100.0 * arrays / whole, lambda: (
        f"arrays {_plain(arrays, 'ft2')} ÷ roof {_plain(whole, 'ft2')}, both in plan view"
    )


# --- planes and their edges ----------------------------------------------------------------------------------


def _plane_share(roof: Roof, part: Part) -> Found:
    outline, arrays = roof.outline(part), roof.arrays(part)
    covered, whole = geometry.common(outline, arrays), geometry.area([outline])
    return 100.0 * covered / whole, lambda: f"arrays {_plain(covered, 'ft2')} ÷ roof plane {_plain(whole, 'ft2')}"


def _past(plane: Plane, blocks: Iterable[Outline]) -> str:
    return f"on {_area([plane.outline])} of roof past {_area(blocks)} of arrays and obstructions"


def _pathway_width(roof: Roof, part: Part) -> Found:
    plane, blocks = roof.sloped(part), roof.blocks(part)
    width, _ = geometry.two_widths(geometry.strips(plane, blocks))
    return width, lambda: f"widest straight strip from eave to ridge {_past(plane, blocks)}"


def _second_pathway_width(roof: Roof, part: Part) -> Found:
    plane, blocks = roof.sloped(part), roof.blocks(part)
    _, width = geometry.two_widths(geometry.strips(plane, blocks))
    return width, lambda: f"width that two straight strips from eave to ridge can have {_past(plane, blocks)}"


def _unobstructed_pathway_width(roof: Roof, part: Part) -> Found:
    plane = roof.sloped(part)
    blocks = roof.arrays(part) + roof.every(roof.on(part, OBSTRUCTIONS), roof.outline)
    wires = roof.every(roof.on(part, CONDUITS), lambda run: roof.fact(run, "line"))
    width, _ = geometry.two_widths(geometry.strips(plane, blocks, wires))
    run = sum(math.dist(a, b) for wire in wires for a, b in pairwise(wire))
    past = f"and past {_plain(run, 'ft')} of conduit"
    return width, lambda: f"widest straight strip from eave to ridge {_past(plane, blocks)}, {past}"


def _distance_to_array(roof: Roof, part: Part) -> Found:
    holder = roof.holder(part)
    arrays = roof.arrays(holder)
    if not arrays:
        return ABSENT, str
    plane = roof.plane(holder)
    edge = plane.edge(roof.listed(holder, "edges").index(part))
    return geometry.distance(edge, arrays), lambda: (
        f"shortest distance from this edge of {_plain(math.dist(*edge), 'ft')} to {_area(arrays)} of arrays "
        f"on {_area([plane.outline])} of roof"
    )


# --- arrays, obstructions, openings --------------------------------------------------------------------------


def _outline_area(roof: Roof, part: Part) -> Found:
    return geometry.area([roof.outline(part)]), lambda: "area of its outline in the plane of the roof"


def _overhang(roof: Roof, part: Part) -> Found:
    plane, own = roof.outline(roof.holder(part)), roof.outline(part)
    return geometry.outside(plane, own), lambda: f"how far {_parts_of(plane, own)} sticks out"


def _edge_distance(roof: Roof, part: Part) -> Found:
    plane, own = roof.outline(roof.holder(part)), roof.outline(part)
    return geometry.inset(plane, own), lambda: f"shortest distance to an edge from {_parts_of(plane, own)}"


def _array_length(roof: Roof, part: Part) -> Found:
    own = roof.outline(part)
    return geometry.length(own), lambda: f"longest way along a side of {_area([own])}"


def _gap_to_array(roof: Roof, part: Part) -> Found:
    others = roof.every([a for a in roof.on(roof.holder(part), ARRAYS) if a is not part], roof.outline)
    return _to_arrays(roof.outline(part), others)


def _parts_of(plane: Outline, own: Outline) -> str:
    return f"{_area([own])} on a roof plane of {_area([plane])}"


def _nearest_array(roof: Roof, part: Part) -> Found:
    return _to_arrays(roof.outline(part), roof.arrays(roof.holder(part)))


def _service_distance(roof: Roof, part: Part) -> Found:
    side, arrays = roof.fact(part, "control_side"), roof.arrays(roof.holder(part))
    if not arrays or side is ABSENT:
        return ABSENT, str
    largest = geometry.square_before(side, roof.outline(part), arrays)
    return ABSENT if math.isinf(largest) else largest, lambda: (
        f"side of the largest clear square before {_plain(math.dist(*side), 'ft')} past {_area(arrays)} of arrays"
    )


def _to_arrays(own: Any, arrays: tuple[Outline, ...]) -> Found:
    if not arrays or own is ABSENT:
        return ABSENT, str
    return geometry.distance(own, arrays), lambda: (
        f"shortest distance from {_area([own]) if len(own) > 2 else _plain(math.dist(*own), 'ft')} "
        f"to {_area(arrays)} of arrays"
    )


def _covering_gap(roof: Roof, part: Part) -> Found:
    own = roof.outline(part)
    over = [a for a in roof.on(roof.holder(part), ARRAYS) if geometry.common(own, [roof.outline(a)]) > 0]
    if not over:
        return ABSENT, str
    lowest = min(over, key=lambda array: float(roof.fact(array, "gap")))
    array = roof.outline(lowest)
    return roof.fact(lowest, "gap"), lambda: (
        f"gap under {lowest.label} of {_area([array])}, "
        f"which lies over {_plain(geometry.common(own, [array]), 'ft2')} of it"
    )


def _modules_below(roof: Roof, part: Part) -> Found:
    holder = roof.holder(part)
    plane, arrays = roof.sloped(holder), roof.arrays(holder)
    foot = roof.fact(part, "foot")
    return geometry.common(geometry.below(plane, foot), arrays), lambda: (
        f"part of {_area(arrays)} of arrays on {_area([plane.outline])} of roof "
        f"below the opening of {_plain(math.dist(*foot), 'ft')}"
    )


def _escape_path_width(roof: Roof, part: Part) -> Found:
    holder = roof.holder(part)
    plane, blocks = roof.sloped(holder), roof.blocks(holder)
    foot = roof.fact(part, "foot")
    return geometry.strip_up_to(plane, foot, blocks), lambda: (
        f"widest straight strip from the eave up to the opening of {_plain(math.dist(*foot), 'ft')} "
        f"{_past(plane, blocks)}"
    )


_REACH: Mapping[str, Callable[[Roof, Part], Found]] = {
    "roof_plan_area": _roof_plan_area, "array_plan_area": _array_plan_area, "covered_share": _covered_share,
    "building_share": _building_share, "array_length": _array_length, "gap_to_array": _gap_to_array,
    "plane_share": _plane_share, "pathway_width": _pathway_width, "second_pathway_width": _second_pathway_width,
    "unobstructed_pathway_width": _unobstructed_pathway_width, **astride.REACH,
    "distance_to_array": _distance_to_array, "outline_area": _outline_area, "overhang": _overhang,
    "edge_distance": _edge_distance, "nearest_array": _nearest_array, "covering_gap": _covering_gap,
    "service_distance": _service_distance, "modules_below": _modules_below, "escape_path_width": _escape_path_width,
}  # fmt: skip
