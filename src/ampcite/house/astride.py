"""Clear strips astride hips and valleys: how wide they are together, how wide on either plane, and what is apart."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from ampcite.house import geometry
from ampcite.house.parts import Part
from ampcite.house.shapes import Outline
from ampcite.language.logic import ABSENT

if TYPE_CHECKING:
    from ampcite.house.roof import Found, Roof


def straddling_width(roof: Roof, part: Part) -> Found:
    found = [(*sides, edge) for edge in roof.listed(part, "edges") if (sides := _sides(roof, edge))]
    if not found:
        return ABSENT, str
    here, there, edge = max(found, key=lambda one: one[0] + one[1])
    return here + there, lambda: _told(here, there, edge)


def strip_astride(roof: Roof, edge: Part) -> Found:
    sides = _sides(roof, edge)
    return (ABSENT, str) if sides is None else (sum(sides), lambda: _told(*sides, edge))


def strip_on_this_side(roof: Roof, edge: Part) -> Found:
    sides = _sides(roof, edge)
    return (ABSENT, str) if sides is None else (sides[0], lambda: f"clear beside {edge.label}")


def pathway_width_apart(roof: Roof, part: Part) -> Found:
    """The widest strip on a plane that leaves both halves of what lies astride its hips and valleys alone."""
    plane, blocks = roof.sloped(part), roof.blocks(part)
    edges = [(number, sides) for number, edge in enumerate(roof.listed(part, "edges")) if (sides := _sides(roof, edge))]
    bands = tuple(geometry.band(plane, number, min(sides)) for number, sides in edges if min(sides) > 0)
    width, _ = geometry.two_widths(geometry.strips(plane, blocks + bands))
    return width, lambda: "widest straight strip from eave to ridge apart from those astride hips and valleys"


REACH: Mapping[str, Callable[[Any, Part], Any]] = {
    "straddling_width": straddling_width, "strip_astride": strip_astride, "strip_on_this_side": strip_on_this_side,
    "pathway_width_apart": pathway_width_apart,
}  # fmt: skip


def _told(here: float, there: float, edge: Part) -> str:
    return f"{here:.5g} in on this side of {edge.label} + {there:.5g} in beyond it"


def _sides(roof: Roof, edge: Part) -> tuple[float, float] | None:
    """How wide a shared hip or valley that runs up is clear on this side and beyond it; none for any other edge."""
    if roof.fact(edge, "kind") not in ("hip", "valley") or roof.fact(edge, "joins") is ABSENT:
        return None
    other = _other_side(roof, edge)
    if other is None or not (_runs_up(roof, edge) and _runs_up(roof, other)):
        return None
    return _beside(roof, edge), _beside(roof, other)


def _other_side(roof: Roof, edge: Part) -> Part | None:
    """The same hip or valley as an edge of the plane beyond it."""
    part = roof.holder(edge)
    beyond = roof.listed(edge.links["joins"], "edges")
    same = [o for o in beyond if o.links["joins"] is part and o.facts.get("kind") == edge.facts["kind"]]
    return same[0] if same else None


def _runs_up(roof: Roof, edge: Part) -> bool:
    """Whether a hip or valley runs from an eave up to a ridge, or to the peak where hips meet."""
    kinds = roof.plane(roof.holder(edge)).kinds
    number = roof.listed(roof.holder(edge), "edges").index(edge)
    ends = {kinds[number - 1], kinds[(number + 1) % len(kinds)]}
    return "eave" in ends and bool(ends & {"ridge", "hip"})


def _beside(roof: Roof, edge: Part) -> float:
    """How wide the strip beside an edge is clear."""
    holder = roof.holder(edge)
    plane, number = roof.plane(holder), roof.listed(holder, "edges").index(edge)
    blocks: tuple[Outline, ...] = roof.blocks(holder)
    limit = geometry.reach(plane, number)
    return min(limit, geometry.distance(plane.edge(number), blocks)) if blocks else limit
