"""Which facts a rule or a quantity reads, of any house (by field) and of this one (by part)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache

import attrs

from ampcite.engine.plan import Bound, BoundRule, Path
from ampcite.engine.rulebook import Rulebook
from ampcite.engine.state import EvaluationState
from ampcite.house.part_types import part_types
from ampcite.house.parts import Part
from ampcite.house.roof_quantities import QUANTITIES

Key = tuple[str, str]
"""A kind of part and the path of a field of it; or :data:`QUANTITY` and its name."""

Place = tuple[Part, str]
"""A part and the path of a field of it."""


@attrs.frozen(eq=False)
class Readers:
    """What reads a field.

    Attributes:
        quantities: a field to the quantities that rest on it, by name: those from outlines and derived ones.
        rules: a field to the numbers of the rules that rest on it, directly or through quantities.
        kinds: a quantity, by name, to the kind of part it is reckoned for.
    """

    quantities: Mapping[Key, frozenset[str]]
    rules: Mapping[Key, tuple[int, ...]]
    kinds: Mapping[str, str]


@lru_cache(maxsize=4)
def readers(rulebook: Rulebook) -> Readers:
    """What reads each field, for the rules and quantities of a rulebook."""
    bound = rulebook.bound
    rests: dict[str, frozenset[Key]] = {}
    for name in bound.reckoned:
        rests[name] = frozenset((kind, field) for kind in QUANTITIES[name].reads for field in _OUTLINED)

    def all_keys(kind: str, inputs: Mapping[str, Path]) -> frozenset[Key]:
        own = {key for path in inputs.values() for key in _keys(kind, path)}
        return frozenset(own).union(*(rests[name] for where, name in own if where == QUANTITY and name in rests))

    for derived in bound.derived:
        rests[derived.name] = all_keys(derived.kind, derived.inputs)
    quantities: dict[Key, set[str]] = {}
    for name, keys in rests.items():
        for key in keys:
            quantities.setdefault(key, set()).add(name)
    rules: dict[Key, list[int]] = {}
    for i, rule in enumerate(bound.rules):
        for key in all_keys(rule.kind, rule.inputs):
            rules.setdefault(key, []).append(i)
    kinds = {name: QUANTITIES[name].kind for name in bound.reckoned} | {d.name: d.kind for d in bound.derived}
    return Readers({k: frozenset(v) for k, v in quantities.items()}, {k: tuple(v) for k, v in rules.items()}, kinds)


QUANTITY = "quantity"
_OUTLINED = ("outline", "rise_in_12", "area", "gap", "foot", "line", "control_side", "kind", "plane", "joins")
"""The fields from which quantities of the roof are reckoned."""


def _keys(kind: str, path: Path) -> Iterator[Key]:
    here: set[str] = {kind}
    for how, key in path.steps:
        if how == "whole":
            here = {""}
            continue
        after: set[str] = set()
        for name in here:
            one = part_types()[name]
            if key == "..":
                assert one.parent is not None
                after.add(one.parent.name)
            elif "[" in key:
                after.add(key.partition("[")[0])
            elif key in one.children:
                after.add(one.children[key].name)
            elif key in one.references:
                yield name, key
                after.update(one.references[key].refers)
        here = after
    if path.leaf is None:
        return
    if path.derived:
        yield QUANTITY, path.leaf
    else:
        yield from ((name, path.leaf) for name in here)


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
