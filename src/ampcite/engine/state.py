"""What is known while a description is checked: facts by their paths, and quantities reckoned when first asked for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from ampcite.house.part_types import part_types
from ampcite.house.parts import ABSENT_PART, UNKNOWN_PART, Description, Part
from ampcite.language.logic import ABSENT, Barred, OneOf, Unknown, close

if TYPE_CHECKING:
    from ampcite.engine.machine import Machine
    from ampcite.engine.plan import Path
    from ampcite.house.roof import Roof

Steps = tuple[tuple[str, str], ...]

PENDING = object()
"""Stands for a quantity nobody has asked for yet."""

_NOWHERE = {UNKNOWN_PART.number: None, ABSENT_PART.number: ABSENT}
"""The values of a quantity before anybody has asked: of a part not known, and of one that is not there."""

Line = tuple[Part, str]
"""A worked line and the part it is about."""


class EvaluationState:
    """A description being checked against bound rules.

    Attributes:
        machine: what runs the rules.
        description: the description.
        generated: whether generated code may run; without it the closures answer everything.
        derive: by number of a quantity, what reckons it for one part.
        house: its whole.
        values: by number of the quantity: by number of a part the value, ``ABSENT``, or None where it has none; what
            nobody has asked for is not in it.
        reasons: (number of the quantity, number of the part) to the Unknown or Barred that stands for a missing value.
        lines: the same to the worked lines, once somebody has read them.
    """

    __slots__ = ("_roof", "_sources", "derive", "description", "generated", "house", "lines", "machine", "reasons",
                 "values")  # fmt: skip

    def __init__(self, machine: Machine, description: Description, generated: bool = True) -> None:
        self.machine = machine
        self.generated = generated
        self.derive: Sequence[Callable[[EvaluationState, Part], Any]] = \
            machine.derive if generated else machine.derive_with_care  # fmt: skip
        self.description = description
        self.house = description.whole
        self.values: list[dict[int, Any]] = [_NOWHERE.copy() for _ in machine.derive]
        self.reasons: dict[tuple[int, int], Unknown | Barred] = {}
        self._roof: Roof | None = None
        self._sources: dict[tuple[str, Steps], dict[int, tuple[int, ...]]] = {}
        self.lines: dict[tuple[int, int], tuple[Line, ...]] = {}

    def copy(self, description: Description) -> EvaluationState:
        """The same for a description of the same shape; its values are shared, to be replaced, not changed."""
        out = object.__new__(EvaluationState)
        out.machine, out.generated, out.derive = self.machine, self.generated, self.derive
        out.description, out.house = description, description.whole
        out.values, out.reasons, out.lines = self.values[:], dict(self.reasons), {}
        out._roof, out._sources = None, self._sources
        return out

    def forget(self, quantity: int) -> None:
        """Lets go of what was reckoned of a quantity, here and not in what this was copied from."""
        self.values[quantity] = _NOWHERE.copy()

    def roof(self) -> Roof:
        """The outlines of the house."""
        if self._roof is None:
            from ampcite.house.roof import Roof

            self._roof = Roof(self.house)
        return self._roof

    def sources(self, kind: str, steps: Steps) -> dict[int, tuple[int, ...]]:
        """By number of a part: the numbers of the parts of a kind from which steps lead to it."""
        key = kind, steps
        if key not in self._sources:
            found: dict[int, list[int]] = {}
            for part in self.description.parts[kind] or ():
                for target in self.parts(steps, part):
                    found.setdefault(target.number, []).append(part.number)
            self._sources[key] = {number: tuple(sources) for number, sources in found.items()}
        return self._sources[key]

    def value(self, quantity: int, part: Part) -> Any:
        """The value of a quantity, or the Unknown, Barred or ``ABSENT`` that stands for it."""
        value = self.values[quantity].get(part.number, PENDING)
        if value is PENDING:
            value = self.derive[quantity](self, part)
        return self.reason(quantity, part) if value is None else value

    def reason(self, quantity: int, part: Part) -> Unknown | Barred:
        """Why a quantity has no value; generated code leaves that to whoever asks."""
        if (quantity, part.number) not in self.reasons:
            if part.number < 0:
                return Unknown()
            self.careful(quantity, part)
        return self.reasons[quantity, part.number]

    def keep(self, quantity: int, part: Part, value: Any) -> Any:
        """Keeps a value that was reckoned with care; gives it, or None where it has none."""
        if isinstance(value, Unknown | Barred):
            self.reasons[quantity, part.number] = value
            value = None
        self.values[quantity][part.number] = value
        return value

    def careful(self, quantity: int, part: Part) -> Any:
        """Reckons a quantity of which something may not be known; the value, or None where it has none."""
        return self.keep(quantity, part, self.machine.quantity(quantity).value(self, part))

    def follow(self, path: Path, part: Part) -> tuple[Any, str]:
        """The value a path leads to from a part, and the pointer of where it is or should be."""
        here, place = part, part.pointer
        parts: tuple[Part, ...] | None = None
        for how, key in path.steps:
            if how == "whole":
                here, place = self.house, ""
            elif how == "many":
                found = here.links.get(key)
                if found is None:
                    return self.unlisted(here, key), f"{here.pointer}/{key}"
                parts, place = tuple(found), f"{here.pointer}/{key}"
            elif parts is not None:
                parts = tuple(one_step(p, key) for p in parts)
            else:
                place, before = f"{here.pointer}/{key}" if key != ".." else here.pointer, here
                here = one_step(here, key)
                if here is UNKNOWN_PART:
                    return self.nowhere(before, key, place), place
        if path.leaf is None:
            return parts, place
        if parts is None:
            return self.leaf(path, here, place)
        return tuple(self.leaf(path, p, p.pointer or place)[0] for p in parts), place

    def nowhere(self, part: Part, key: str, place: str) -> Unknown:
        """Why a reference leads nowhere: nobody has said where, or the list it names a part of is not given."""
        if key in part.facts:
            kinds = part_types()[part.kind].references[key].refers
            lists = frozenset(pointer for kind in kinds for _, pointer in self.description.unlisted[kind])
            if lists:
                return Unknown(lists)
        return Unknown(frozenset({place}))

    def leaf(self, path: Path, part: Part, place: str) -> tuple[Any, str]:
        """The fact or quantity of one part that a path ends at, and the pointer of the fact."""
        assert path.leaf is not None
        if part is ABSENT_PART:
            return ABSENT, place
        if part is UNKNOWN_PART:
            return Unknown(frozenset({place})), place
        if path.derived:
            return self.value(self.machine.numbers[path.leaf], part), ""
        where = part.where(path.leaf)
        value = part.facts.get(path.leaf)
        return (Unknown(frozenset({where})) if value is None else value), where

    def parts(self, steps: Steps, part: Part) -> tuple[Part, ...]:
        """The parts that the steps of a path lead to."""
        here: tuple[Part, ...] = (part,)
        for how, key in steps:
            if how == "whole":
                here = (self.house,)
            elif how == "many":
                here = tuple(here[0].links.get(key) or ())
            else:
                here = tuple(one_step(p, key) for p in here)
        return here

    def unlisted(self, part: Part, key: str) -> Unknown:
        """Why the parts a list would lead to are not known."""
        if "[" not in key:
            return Unknown(frozenset({f"{part.pointer}/{key}"}))
        name, _, field = key.rstrip("]").partition("[")
        if "/*/" in field:
            inner, _, field = field.partition("/*/")
            name = f"{name}/{inner}"
        lists = {pointer for _, pointer in (*self.description.unlisted[name], *self.description.partly[name])}
        return Unknown(frozenset(lists or {p.where(field) for p in self.description.parts[name] or ()
                                           if field not in p.facts}))  # fmt: skip


def one_step(part: Part, key: str) -> Part:
    """Where a reference of a part leads; nowhere from a part that is not known or not there."""
    if part is UNKNOWN_PART or part is ABSENT_PART:
        return part
    found: Part = part.links[key]
    return found


def only_unknown(state: EvaluationState, quantity: int, *parts: Part) -> None:
    """Raises LookupError where closures have more to say of a quantity than that it is not known at some parts: a table
    bars it, or it is one of two numbers. Only closures find that, and keep it as the reason."""
    for part in parts:
        if isinstance(state.reasons.get((quantity, part.number)), Barred | OneOf):
            raise LookupError


def one_of_two(yes: Any, no: Any) -> Any:
    """What a choice gives of which the condition is not known: the number that both sides give, or None.

    Raises LookupError where it is one of two numbers: what is so of both has to be asked of closures.
    """
    if type(yes) not in _NUMBERS or type(no) not in _NUMBERS:
        return None
    if close(yes, no):
        return yes
    raise LookupError


_NUMBERS = (int, float)
