"""A house on the bench: facts are changed, what rests on them is asked again, and they are put back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ampcite.engine.evaluate import World, begin
from ampcite.engine.explain import derive, judge, unlisted
from ampcite.engine.findings import Finding
from ampcite.engine.rulebook import Rulebook
from ampcite.house.read import Description, Part, read, with_codes
from ampcite.house.roof import reckon
from ampcite.language.logic import Unknown, Verdict
from ampcite.reviewing.reads import Key, Place, facts_read, readers

About = tuple[str, str]
"""Id of a rule, and the pointer of the part it speaks of: what an answer is known by."""


class Bench:
    """One house, tried with some facts changed. The description itself is never touched: the bench has its own copy.

    Only what rests on the changed facts is asked again, so that a trial costs a fraction of a check. Facts that lead to
    other parts can't be changed here.
    """

    def __init__(self, rulebook: Rulebook, description: Description) -> None:
        self.rulebook = rulebook
        own = read(description.document, description.source)
        self.house = with_codes(own, rulebook.codes) if rulebook.codes else own
        self.parts = {part.pointer: part for parts in self.house.parts.values() for part in parts or ()}
        self.readers = readers(rulebook)
        self.world = begin(rulebook.bound, self.house)
        self._derive(self.world, range(len(rulebook.bound.derived)))
        self.number = {rule.id: i for i, rule in enumerate(rulebook.bound.rules)}
        self.trials = 0
        self._before: dict[int, dict[About, Finding]] = {}

    def facts(self, finding: Finding) -> frozenset[Place]:
        """The facts of the house that a finding rests on."""
        bound = self.rulebook.bound
        rule = bound.rules[self.number[finding.rule]]
        return facts_read(self.world, bound, rule, self.parts[finding.about])

    def before(self, rules: Iterable[int]) -> dict[About, Finding]:
        """What some rules answer with nothing changed."""
        out: dict[About, Finding] = {}
        for i in rules:
            if i not in self._before:
                self._before[i] = self._judge(self.world, [i])
            out |= self._before[i]
        return out

    def touched(self, changes: Mapping[Place, Any]) -> list[int]:
        """The rules that rest on some facts."""
        return sorted({i for key in _keys(changes) for i in self.readers.rules.get(key, ())})

    def ask(self, changes: Mapping[Place, Any], rules: Iterable[int]) -> dict[About, Finding]:
        """What some rules answer with facts changed; of those that then do not apply, nothing.

        Args:
            changes: facts in the form in which a description that has been read holds them.
            rules: numbers of rules, as :meth:`touched` gives them.
        """
        self.trials += 1
        kept = {(part, field): part.facts.get(field) for part, field in changes}
        try:
            for (part, field), value in changes.items():
                _put(part, field, value)
            asked = list(rules)
            return self._judge(self._again(_keys(changes), asked), asked)
        finally:
            for (part, field), value in kept.items():
                _put(part, field, value)

    def _again(self, keys: Iterable[Key], rules: Iterable[int]) -> World:
        """The world with what rests on some fields, and some rules need, reckoned anew."""
        changed = frozenset[str]().union(*(self.readers.quantities.get(key, frozenset()) for key in keys))
        names = changed & frozenset[str]().union(*(self.readers.needs[i] for i in rules))
        reckoned = sorted(names - self.readers.order.keys())
        derived = sorted(self.readers.order[n] for n in names & self.readers.order.keys())
        old, places = self.world, self.house.size + 2
        values = {**old.values, **{name: [None] * places for name in names}}
        lines: Any = {**old.lines, **{name: [()] * places for name in names}}
        reasons = {key: why for key, why in old.reasons.items() if key[0] not in names}
        world = World(self.house, values, reasons, lines)
        for name, part, value, line in reckon(self.house, reckoned):
            if isinstance(value, Unknown):
                reasons[name, part.number] = value
                continue
            values[name][part.number] = value
            lines[name][part.number] = ((part, line),) if line else ()
        self._derive(world, derived)
        return world

    def _derive(self, world: World, which: Iterable[int]) -> None:
        bound, careful = self.rulebook.bound, list[Part]()
        for i in which:
            self.rulebook.derive[i](world, None, None, careful.append)
            for part in careful:
                derive(world, bound, bound.derived[i], part)
            careful.clear()

    def _judge(self, world: World, which: Iterable[int]) -> dict[About, Finding]:
        bound, careful, found = self.rulebook.bound, list[Part](), list[Finding]()
        for i in which:
            self.rulebook.judge[i](world, found.append, _ignore, careful.append)
            for part in careful:
                one = judge(world, bound, bound.rules[i], part)
                if one is not None:
                    found.append(one)
            careful.clear()
            for holder, pointer in self.house.unlisted[bound.rules[i].kind]:
                found.append(unlisted(bound.rules[i], holder, pointer))
        return {(f.rule, f.about): f for f in found}


def severity(finding: Finding | None) -> int:
    """How bad an answer is: 0 for a pass or none, 1 for advice not followed, 2 for undecided, 3 for a failure."""
    if finding is None or finding.verdict is Verdict.PASS:
        return 0
    return 3 if finding.verdict is Verdict.FAIL else 1 if finding.decided else 2


def _ignore(_: object) -> None:
    return None


def _keys(changes: Iterable[Place]) -> list[Key]:
    return [(part.kind, field) for part, field in changes]


def _put(part: Part, field: str, value: Any) -> None:
    facts: Any = part.facts
    if value is None:
        facts.pop(field, None)
    else:
        facts[field] = value
