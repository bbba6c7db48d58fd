"""The two ways of running a rule, generated code and closures, each on its own, so that one is held to the other.

What the program says in words comes from the closures alone; what has to agree is every verdict and every value.
"""

from __future__ import annotations

from typing import Any

import ampcite
from ampcite.engine.check import Verdicts, judge
from ampcite.engine.state import PENDING, EvaluationState
from ampcite.house.parts import Part


def carefully(book: ampcite.Rulebook, description: ampcite.Description) -> Verdicts:
    """The verdicts when no generated code runs."""
    return judge(EvaluationState(book.machine, description, generated=False))


def agree(book: ampcite.Rulebook, description: ampcite.Description) -> None:
    """Holds generated code and closures to the same verdicts, and to the same value wherever both reckoned one."""
    fast, slow = judge(EvaluationState(book.machine, description)), carefully(book, description)
    for what in ("kept", "broken", "open"):
        assert sorted(getattr(fast, what)) == sorted(getattr(slow, what)), what
    parts = {p.number: p for some in description.parts.values() for p in some or ()}
    for name, quantity in book.machine.numbers.items():
        for number, part in parts.items():
            value = fast.state.values[quantity].get(number, PENDING)
            if value is not PENDING:
                other = slow.state.value(quantity, part)
                assert fast.state.value(quantity, part) == other, (name, part.label, value, other)


class _Watching(EvaluationState):
    handed: list[str]

    def careful(self, quantity: int, part: Part) -> Any:
        name = next(name for name, number in self.machine.numbers.items() if number == quantity)
        self.handed.append(f"{name} {part.label}")
        return super().careful(quantity, part)


def handed_over(book: ampcite.Rulebook, description: ampcite.Description) -> list[str]:
    """What generated code leaves to the closures: names of quantities and rules, each with the label of the part."""
    machine, parts = book.machine, {p.number: p for some in description.parts.values() for p in some or ()}
    state = _Watching(machine, description)
    state.handed = []
    later: list[int] = []
    for number, group in enumerate(machine.groups):
        machine.run(number)(state, description.parts[group.kind] or (), _ignore, _ignore, _ignore, later.append)
    return state.handed + [f"{book.bound.rules[key >> 20].id} {parts[key & 0xFFFFF].label}" for key in later]


def _ignore(_: int) -> None:
    pass
