"""The quantities that are reckoned from the outlines of a roof: what rules call them, and what they mean."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

PLANES, EDGES, ARRAYS, CONDUITS = "roof/planes", "roof/planes/edges", "roof/arrays", "roof/conduits"
OBSTRUCTIONS, OPENINGS = "roof/obstructions", "roof/escape_openings"


class Quantity(NamedTuple):
    """A quantity that is reckoned from outlines.

    Attributes:
        name: what rules call it.
        kind: the kind of part it is reckoned for.
        meaning: what it is.
        unit: of the number.
        nullable: whether there may be none.
        reads: the kinds of parts whose outlines it is reckoned from.
    """

    name: str
    kind: str
    meaning: str
    unit: str = "in"
    nullable: bool = False
    reads: tuple[str, ...] = (PLANES, EDGES, ARRAYS)


_FREE = (PLANES, EDGES, ARRAYS, OBSTRUCTIONS)
QUANTITIES: Mapping[str, Quantity] = {
    q.name: q
    for q in (
        Quantity("roof_plan_area", "", "plan-view area of all roof planes together", "ft2"),
        Quantity("array_plan_area", "", "plan-view area of all arrays together, older ones among them", "ft2",
                 reads=_FREE),
        Quantity("covered_share", "", "share of the plan-view roof area that arrays cover, older ones among them", "%",
                 reads=_FREE),
        Quantity("building_share", PLANES, "share of the plan-view roof area of the plane's building that arrays "
                 "cover, older ones among them", "%", reads=_FREE),
        Quantity("plane_share", PLANES, "share of a roof plane that arrays cover", "%"),
        Quantity("pathway_width", PLANES, "widest straight strip from an eave to the ridge, clear of arrays and of "
                 "obstructions nobody can walk over", reads=_FREE),
        Quantity("second_pathway_width", PLANES, "width that two such strips on one plane can both have", reads=_FREE),
        Quantity("unobstructed_pathway_width", PLANES, "widest such strip that is clear of vents and conduit as well",
                 reads=(*_FREE, CONDUITS)),
        Quantity("straddling_width", PLANES, "widest clear strip that straddles a hip or valley from eave to ridge, "
                 "both sides together; none where the plane shares no such hip or valley", nullable=True, reads=_FREE),
        Quantity("pathway_width_apart", PLANES, "widest straight strip from an eave to the ridge that leaves clear "
                 "strips astride the hips and valleys of the plane alone", reads=_FREE),
        Quantity("strip_astride", EDGES, "width of the clear strip astride a hip or valley from eave to ridge, both "
                 "sides together; none for other edges", nullable=True, reads=_FREE),
        Quantity("strip_on_this_side", EDGES, "how much of that strip lies on the plane of the edge", nullable=True,
                 reads=_FREE),
        Quantity("distance_to_array", EDGES, "shortest distance from a roof edge to an array on its plane; none where "
                 "the plane has no array", nullable=True),
        Quantity("outline_area", ARRAYS, "area of an array in the plane of the roof", "ft2"),
        Quantity("overhang", ARRAYS, "how far an array reaches beyond its roof plane"),
        Quantity("array_length", ARRAYS, "longest way along an array, measured along one of its sides", "ft"),
        Quantity("gap_to_array", ARRAYS, "shortest distance from an array to the next one on its plane; none where it "
                 "is alone there", nullable=True),
        Quantity("edge_distance", ARRAYS, "shortest distance from an array to an edge of its roof plane"),
        Quantity("nearest_array", OBSTRUCTIONS, "shortest distance from an obstruction to an array, 0 where one lies "
                 "over it; none where its plane has no array", nullable=True, reads=_FREE),
        Quantity("covering_gap", OBSTRUCTIONS, "height above the roof of the lowest array that lies over an "
                 "obstruction; none where none does", nullable=True, reads=_FREE),
        Quantity("service_distance", OBSTRUCTIONS, "side of the largest square clear of arrays before the control side "
                 "of equipment, between its ends or on the whole of it; none where no array bounds one", nullable=True,
                 reads=_FREE),
        Quantity("modules_below", OPENINGS, "area of arrays on the slope below an escape opening", "ft2"),
        Quantity("escape_path_width", OPENINGS, "widest clear straight strip from the eave up to an escape opening",
                 reads=_FREE),
    )
}  # fmt: skip
