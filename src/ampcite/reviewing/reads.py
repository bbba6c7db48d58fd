"""Which facts a rule or a quantity reads, of any house (by field) and of this one (by part)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache

import attrs

from ampcite.engine.evaluate import World
from ampcite.engine.plan import Bound, BoundRule, Path
from ampcite.engine.rulebook import Rulebook
from ampcite.house.part_types import part_types
from ampcite.house.read import Part
from ampcite.house.roof import QUANTITIES

Key = tuple[str, str]
"""A kind of part and the path of a field of it; or :data:`QUANTITY` and its name."""

Place = tuple[Part, str]
"""A part and the path of a field of it."""


@attrs.frozen(eq=False)
class Readers:
    """What reads a field, and what a rule needs.

    Attributes:
        quantities: a field to the quantities that rest on it, by name: those from outlines and derived ones.
        rules: a field to the numbers of the rules that rest on it, directly or through quantities.
        needs: the number of a rule to the quantities it rests on, by name.
        order: the derived quantities, by name, to their place in the order in which they are reckoned.
    """

    quantities: Mapping[Key, frozenset[str]]
    rules: Mapping[Key, tuple[int, ...]]
    needs: tuple[frozenset[str], ...]
    order: Mapping[str, int]


@lru_cache(maxsize=4)
def readers(rulebook: Rulebook) -> Readers:
    """What reads each field, for the rules and quantities of a rulebook."""
    bound = rulebook.bound
    rests: dict[str, frozenset[Key]] = {}
    for name in bound.reckoned:
        rests[name] = frozenset((kind, field) for kind in QUANTITIES[name].reads for field in _OUTLINED)

    def all_keys(kind: str, inputs: Mapping[str, Path]) -> tuple[frozenset[Key], frozenset[str]]:
        own = {key for path in inputs.values() for key in _keys(kind, path)}
        names = {name for where, name in own if where == QUANTITY}
        return (frozenset(own).union(*(rests[n] for n in names if n in rests)),
                frozenset(names).union(*(needs[n] for n in names if n in needs)))  # fmt: skip

    needs: dict[str, frozenset[str]] = {}
    for derived in bound.derived:
        rests[derived.name], needs[derived.name] = all_keys(derived.kind, derived.inputs)
    quantities: dict[Key, set[str]] = {}
    for name, keys in rests.items():
        for key in keys:
            quantities.setdefault(key, set()).add(name)
    rules: dict[Key, list[int]] = {}
    needed = []
    for i, rule in enumerate(bound.rules):
        keys, names = all_keys(rule.kind, rule.inputs)
        needed.append(names)
        for key in keys:
            rules.setdefault(key, []).append(i)
    return Readers({k: frozenset(v) for k, v in quantities.items()}, {k: tuple(v) for k, v in rules.items()},
                   tuple(needed), {d.name: i for i, d in enumerate(bound.derived)})  # fmt: skip


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


def facts_read(world: World, bound: Bound, rule: BoundRule, part: Part) -> frozenset[Place]:
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
            for target in world.parts(path, here):
                if target.number < 0:
                    continue
                if not path.derived:
                    out.add((target, path.leaf))
                elif (path.leaf, target.number) not in seen:
                    seen.add((path.leaf, target.number))
                    if path.leaf in by_name:
                        waiting.append((target, by_name[path.leaf].inputs))
                    else:
                        out |= _outlined(world, path.leaf)
    return frozenset(out)


def _outlined(world: World, quantity: str) -> set[Place]:
    """The outlines that a quantity of the roof may be reckoned from."""
    parts = world.description.parts
    return {(p, field) for kind in QUANTITIES[quantity].reads for p in parts[kind] or ()
            for field in ("outline", "gap") if field in p.facts}  # fmt: skip
