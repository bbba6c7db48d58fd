"""Which facts of a house an answer of a rule rests on."""

from __future__ import annotations

from ampcite.engine.plan import Bound, BoundRule
from ampcite.engine.state import EvaluationState
from ampcite.house.parts import Part
from ampcite.house.roof_quantities import QUANTITIES

Key = tuple[str, str]
"""A kind of part and the path of a field of it."""

Place = tuple[Part, str]
"""A part and the path of a field of it."""


def facts_read(state: EvaluationState, bound: Bound, rule: BoundRule, part: Part) -> frozenset[Place]:
    """The facts of this house that an answer of a rule about a part rests on, those of its quantities included."""
    by_name = {d.name: d for d in bound.derived}
    out: set[Place] = set()
    seen: set[tuple[str, int]] = set()
    waiting = [(part, rule.inputs)]
    while waiting:
        here, inputs = waiting.pop()
        for path in inputs.values():
            if path.leaf is None:
                continue
            for target in state.parts(path.steps, here):
                if target.number < 0:
                    continue
                if not path.derived:
                    out.add((target, path.leaf))
                elif (path.leaf, target.number) not in seen:
                    seen.add((path.leaf, target.number))
                    quantity = by_name.get(path.leaf)
                    if quantity is None:
                        out |= _outlined(state, path.leaf)
                    elif quantity.kind == target.kind:  # A name of several kinds of parts may lead to one of another.
                        waiting.append((target, quantity.inputs))
    return frozenset(out)


def _outlined(state: EvaluationState, quantity: str) -> set[Place]:
    """The outlines that a quantity of the roof may be reckoned from."""
    parts = state.description.parts
    return {(p, field) for kind in QUANTITIES[quantity].reads for p in parts[kind] or ()
            for field in ("outline", "gap") if field in p.facts}  # fmt: skip
