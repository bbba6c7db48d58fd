"""What a change of facts touches: only what rests on them is reckoned and asked again.

A path of a rule or quantity leads from parts of one kind to facts or quantities of others. Followed backwards, it says
for a fact that has changed which rules, of which parts, may answer otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from ampcite.engine.plan import Bound, Path
from ampcite.engine.state import PENDING, EvaluationState
from ampcite.house.part_types import part_types
from ampcite.house.parts import Description, Part
from ampcite.house.roof_quantities import QUANTITIES

Steps = tuple[tuple[str, str], ...]
Place = tuple[Part, str]
"""A part and the path of one of its fields."""


class Reader(NamedTuple):
    """A rule or quantity that reads something, from parts of a kind by steps."""

    rule: bool
    number: int
    kind: str
    steps: Steps


class Resting(NamedTuple):
    """What rests on a field of a kind of part, directly or through quantities: rules and quantities, by number."""

    rules: frozenset[int]
    quantities: frozenset[int]


class Readers:
    """Who reads each field of a kind of part, and who reads each quantity, by its number."""

    def __init__(self, bound: Bound, numbers: Mapping[str, int]) -> None:
        self.of_field: dict[tuple[str, str], set[Reader]] = {}
        self.of_quantity: dict[int, set[Reader]] = {}
        self.from_outlines: dict[str, set[int]] = {}
        self._resting: dict[tuple[str, str], Resting] = {}
        for name in bound.reckoned:
            for kind in (QUANTITIES[name].kind, *QUANTITIES[name].reads):
                self.from_outlines.setdefault(kind, set()).add(numbers[name])
        for derived in bound.derived:
            self._add(False, numbers[derived.name], derived.kind, derived.inputs, numbers)
        for number, rule in enumerate(bound.rules):
            self._add(True, number, rule.kind, rule.inputs, numbers)

    def _add(self, rule: bool, number: int, kind: str, inputs: Mapping[str, Path],
             numbers: Mapping[str, int]) -> None:  # fmt: skip
        for path in inputs.values():
            if path.leaf is None:
                continue
            reader = Reader(rule, number, kind, path.steps)
            if path.derived:
                self.of_quantity.setdefault(numbers[path.leaf], set()).add(reader)
            else:
                for end in _ends(kind, path.steps):
                    self.of_field.setdefault((end, path.leaf), set()).add(reader)


    def resting(self, kind: str, field: str) -> Resting:
        """What rests on a field, of whatever parts."""
        if (kind, field) not in self._resting:
            rules, quantities = set[int](), set[int]()
            waiting = list(self.from_outlines.get(kind, ()))
            found = set(self.of_field.get((kind, field), ()))
            while found or waiting:
                rules.update(one.number for one in found if one.rule)
                waiting += [one.number for one in found if not one.rule]
                fresh = set(waiting) - quantities
                quantities |= fresh
                found = {reader for number in fresh for reader in self.of_quantity.get(number, ())}
                waiting = []
            self._resting[kind, field] = Resting(frozenset(rules), frozenset(quantities))
        return self._resting[kind, field]


def _ends(kind: str, steps: Steps) -> Iterator[str]:
    """The kinds of parts that steps may lead to."""
    here = {kind}
    for how, key in steps:
        there: set[str] = set()
        for name in here:
            one = part_types()[name]
            if how == "whole":
                there.add("")
            elif key == "..":
                there |= {one.parent.name} if one.parent is not None else set()
            elif "[" in key:
                there.add(key.partition("[")[0])
            elif key in one.children:
                there.add(one.children[key].name)
            elif key in one.references:
                there |= set(one.references[key].refers)
        here = there
    yield from here


def differences(old: Description, new: Description) -> list[Place] | None:
    """The facts that two descriptions of one shape have different; None where they differ in more than such facts."""
    out: list[Place] = []
    if old.size != new.size:
        return None
    for kind, before in old.parts.items():
        after = new.parts[kind]
        if before is None or after is None or len(before) != len(after):
            if before is after:
                continue
            return None
        for some, others in ((old.unlisted, new.unlisted), (old.partly, new.partly)):
            if (some[kind] or others[kind]) and [p for _, p in some[kind]] != [p for _, p in others[kind]]:
                return None
        for a, b in zip(before, after, strict=True):  # parts of one place are in one list of one part
            if a.pointer != b.pointer or a.number != b.number or a.model != b.model:
                return None
            if a.facts != b.facts:
                fields = [f for f in {**a.facts, **b.facts} if a.facts.get(f) != b.facts.get(f)]
                if not part_types()[kind].references.keys().isdisjoint(fields) or "id" in fields:
                    return None
                out += [(b, field) for field in fields]
    return out


class Touched(NamedTuple):
    """What rests on facts that have changed: the state with its quantities reckoned anew, and rules with parts."""

    state: EvaluationState
    rules: set[tuple[int, int]]


def reckon_again(old: EvaluationState, description: Description, changes: Iterable[Place]) -> Touched:
    """Reckons again what rests on facts that have changed.

    Args:
        old: the state before the change; it is left as it is.
        description: one of the same shape, in which the facts are changed.
        changes: the parts and fields that differ, none of them an id or a reference.
    """
    machine, state = old.machine, old.copy(description)
    readers, parts = machine.readers, state.description.numbered
    rules: set[tuple[int, int]] = set()
    waiting: dict[int, set[int]] = {}

    def tell(found: Iterable[Reader], number: int) -> None:
        for rule, reader, kind, steps in found:
            sources = (number,) if not steps else state.sources(kind, steps).get(number, ())
            if rule:
                rules.update((reader, source) for source in sources if parts[source].kind == kind)
            elif sources:
                waiting.setdefault(reader, set()).update(s for s in sources if parts[s].kind == kind)

    for part, field in changes:
        tell(readers.of_field.get((part.kind, field), ()), part.number)
        for quantity in readers.from_outlines.get(part.kind, ()):
            name = machine.bound.reckoned[quantity]
            waiting.setdefault(quantity, set()).update(p.number for p in
                                                       description.parts[QUANTITIES[name].kind] or ())  # fmt: skip
    while waiting:
        quantity = min(waiting)
        before = old.values[quantity]
        state.values[quantity] = after = before.copy()
        for number in waiting.pop(quantity):
            was = after.pop(number, PENDING)
            state.reasons.pop((quantity, number), None)
            if was is not PENDING:
                now = state.value(quantity, parts[number])
                if now == (old.reason(quantity, old.description.numbered[number]) if was is None else was):
                    continue
            tell(readers.of_quantity.get(quantity, ()), number)
    return Touched(state, rules)
