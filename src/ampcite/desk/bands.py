"""In which band a reading is in order: found by asking the rules, so that local law and makers' figures count."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from ampcite.house.part_types import part_types
from ampcite.reviewing.bench import Bench
from ampcite.reviewing.reads import Place

STEPS, HALVINGS = 40, 22
"""So many growing steps are taken until something is found, and so many halvings settle where it begins."""

Band = tuple[float | None, float | None]
"""The lowest and the highest value that is in order; None where there is no limit."""


def band(bench: Bench, place: Place, near: float, together: Mapping[Place, float] | None = None,
         beside: Mapping[Place, Any] | None = None) -> Band | None:  # fmt: skip
    """The band around a value in which no rule that reads a fact finds anything.

    Args:
        bench: a house in which everything else that those rules read is stated.
        place: the fact.
        near: a value that is in order.
        together: facts that move in proportion, with their values at that one.
        beside: facts that are other than on the bench, and stay.

    Returns:
        The band; None where even that value is not in order, or no rule reads the fact.
    """
    part, path = place
    moving = {place: near, **(together or {})}
    rules = bench.touched({place: near})

    def fine(value: float) -> bool:
        share = value / near if near else 1.0
        changes = {**(beside or {}), **{where: at * share for where, at in moving.items()}, place: value}
        return not any(bench.ask(changes, rules).values())

    if not rules or not fine(near):
        return None
    field = part_types()[part.kind].fields[path]
    step = abs(near) * 0.02 or 0.5
    least = field.low if field.low is not None else field.above
    return _edge(fine, near, -step, least), _edge(fine, near, step, field.high)


def _edge(fine: Callable[[float], bool], near: float, step: float, end: float | None) -> float | None:
    """The last value in order on the way from one that is; None where there is no end of them."""
    inside, outside, began = near, None, abs(step)
    for _ in range(STEPS):
        at = inside + step
        if end is not None and (at <= end if step < 0 else at >= end):
            if fine(end):
                return None
            outside = end
            break
        if not fine(at):
            outside = at
            break
        inside, step = at, step * 1.7
    if outside is None:
        return None
    for _ in range(HALVINGS):
        middle = (inside + outside) / 2
        inside, outside = (middle, outside) if fine(middle) else (inside, middle)
    return next((r for digits in range(4) if abs((r := round(inside, digits)) - inside) < began * 1e-3 and fine(r)),
                inside)  # fmt: skip
