"""The search for changes that cure findings: each is tried on the house before it is offered."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

import attrs

from ampcite.engine.findings import Finding
from ampcite.house.part_types import Field, part_types
from ampcite.house.parts import Part
from ampcite.language.logic import ABSENT
from ampcite.language.wording import words
from ampcite.reviewing.bench import About, Bench, severity
from ampcite.reviewing.claims import SAID
from ampcite.reviewing.reads import Place
from ampcite.reviewing.values import (
    SIDES,
    Value,
    convert,
    drawn_back,
    given_unit,
    in_unit,
    other_values,
    past_limit,
    said_at,
)

MOST_STEPS, MOST_PAPERS = 4, 12
"""A cure changes at most so many facts of the design, and so many on paper that have to follow; what needs more than
that needs a designer's thought."""

READINGS = "/readings"
"""Where a description holds what was measured: a reading is a reason to look for a fault, not to change the design."""

MOST_TRIALS = 3000
"""When so many trials are spent, changes that break something else are no longer followed up."""

FURTHEST, STRIDE = 180, 6
"""How far, in inches, one side of an array is drawn back at most, and in which strides that is first tried."""


@attrs.frozen
class Step:
    """One fact changed: the part and field, and what it says instead."""

    place: Place
    value: Value

    @property
    def pointer(self) -> str:
        """Where the description says it."""
        part, path = self.place
        return part.pointer if part.kind == SAID else part.where(path)


@attrs.frozen
class Cure:
    """Facts changed together, and the findings that this clears."""

    steps: tuple[Step, ...]
    clears: frozenset[About]
    keeps: frozenset[About]
    """Those of the cleared that then pass; the others no longer apply."""
    follows: frozenset[About] = frozenset()
    """What it makes worse, where nothing was found that puts that right: what then has to follow."""

    @property
    def changes(self) -> dict[Place, Any]:
        """The facts that it changes, to what they are then."""
        return {step.place: step.value.fact for step in self.steps}


Try = Callable[[Value], "Cure | None"]
"""Tries another value of a fact: what it clears, if anything."""


class Search:
    """Looks for cures of the decided findings of one house."""

    def __init__(self, bench: Bench, targets: Sequence[Finding]) -> None:
        self.bench = bench
        self.targets = {(f.rule, f.about): f for f in targets}
        self.facts = {key: bench.facts(key) for key in self.targets}
        self.named: dict[Place, list[Value]] = {}
        for key, finding in self.targets.items():
            for place, value in self._named(key, finding):
                self.named.setdefault(place, []).append(value)

    def cures(self) -> list[Cure]:
        """Cures for what can be cured, the most telling first; no finding is cleared by two of them.

        Where the change that clears most can't be made without breaking something, what it clears is still one cause.
        """
        found = sorted(self._candidates(), key=lambda c: self._worth(c, self.targets.keys()), reverse=True)
        open_, out, rejected = set(self.targets), list[Cure](), list[Cure]()
        while found and open_:
            best = max(found, key=lambda c: self._worth(c, open_))
            if not best.clears & open_:
                break
            found.remove(best)
            if all(about.startswith(READINGS) for _, about in best.keeps & open_):
                continue
            added = self._added(best)
            if added and self._asks_more(best, added):
                self._take(attrs.evolve(best, follows=added), open_, out)
                continue
            if added:
                longer = self._with_more(best, added) if self.bench.trials < MOST_TRIALS else None
                if longer is not None and longer.keeps & open_:
                    found.append(longer)
                else:
                    rejected.append(attrs.evolve(best, follows=added))
                continue
            wider = (one for one in rejected if one.clears & open_ > best.clears & open_ and self._is_cause(one, open_))
            self._take(next(wider, best), open_, out)
        for one in rejected:
            if self._is_cause(one, open_):
                self._take(one, open_, out)
        return out

    def _is_cause(self, cure: Cure, open_: set[About]) -> bool:
        """Whether a change that breaks something still shows that several findings have one cause."""
        left = cure.clears & open_
        fails = any(severity(self.targets[key]) == 3 for key in left)
        return fails and len({rule for rule, _ in left}) > 1

    def _take(self, cure: Cure, open_: set[About], out: list[Cure]) -> None:
        cleared = frozenset(cure.clears & open_)
        out.append(attrs.evolve(cure, clears=cleared, keeps=cure.keeps & cleared))
        open_ -= cleared

    def _worth(self, cure: Cure, open_: Iterable[About]) -> tuple[Any, ...]:
        """How good a cure is: failures cleared, with what else is said of the same parts, by few and small changes.

        Advice about other parts does not count, so that it draws no cure further than the failures ask.
        """
        cleared = cure.clears & set(open_)
        failed = {key for key in cleared if severity(self.targets[key]) == 3}
        places = {about for _, about in failed}
        here = {key for key in cleared if not places or key[1] in places}
        near = sum(1 for step in cure.steps for _, about in cleared
                   if f"{step.place[0].pointer}/".startswith(f"{about}/"))  # fmt: skip
        passes = len(cure.keeps & here)
        return (len(failed), len(here), passes, -len(cure.steps), near, -sum(s.value.rank for s in cure.steps),
                -sum(_distance(s) for s in cure.steps), [s.place[0].number for s in cure.steps])  # fmt: skip

    def _named(self, key: About, finding: Finding) -> Iterator[tuple[Place, Value]]:
        """What the rule itself would change first: facts, and what they should be."""
        rule = self.bench.rulebook.bound.rules[self.bench.number(key)]
        for name, wanted in rule.cure.items():
            path = rule.inputs[name]
            value, unit = finding.figures.get(words(wanted), (wanted, ""))
            for part in self.bench.state.parts(path.steps, self.bench.parts[key[1]]):
                field = _any_field(part, path.leaf or "")
                if field is None or field.home != "part" or path.leaf not in part.facts:
                    continue
                said = self.said((part, field.path))
                if isinstance(value, str):
                    yield (part, field.path), Value(value, value, -1)
                else:
                    number = convert(float(value), unit, field.unit)
                    yield (part, field.path), in_unit(number, given_unit(said, field), field, said, -1)

    def _candidates(self) -> Iterator[Cure]:
        """Every change of one fact that clears something, whatever else it does."""
        reading: dict[Place, list[About]] = {}
        for key, places in self.facts.items():
            for place in places:
                if _field(place) is not None or place in self.named:
                    reading.setdefault(place, []).append(key)
        for place in sorted(reading, key=_order):
            yield from self._changes(place, reading[place], {}, self.targets, self.facts)

    def _changes(self, place: Place, keys: list[About], given: Mapping[Place, Any], findings: Mapping[About, Finding],
                 facts: Mapping[About, frozenset[Place]]) -> Iterator[Cure]:  # fmt: skip
        """The changes of one fact that clear some of the findings that read it, on top of changes already made."""
        part, path = place
        field = _field(place) or _any_field(part, path)
        assert field is not None
        if part.kind == SAID:
            yield from self._said(place, keys, given)
            return
        fact, said = part.facts[path], self.said(place)
        others = [given.get((p, f), p.facts[f]) for key in keys for p, f in facts[key]
                  if p is not part and f in p.facts and _alike(_any_field(p, f), field)]  # fmt: skip
        siblings = self._alike(part, path)
        rules = {self.bench.number(key) for key in keys}
        seen: set[frozenset[About]] = set()

        def tried(value: Value) -> Cure | None:
            answers = self.bench.ask({**given, place: value.fact}, rules)
            clears = frozenset(key for key in keys if not answers.get(key))
            if not clears:
                return None
            return Cure((Step(place, value),), clears, frozenset(k for k in clears if k in answers))

        if field.kind == "outline":
            yield from self._back(place, fact, tried)
            return
        options = [findings[key] for key in keys]
        values = list(self.named.get(place, ()))
        if field.changed_by:
            values += other_values(field, said, fact, options, others, siblings, self.bench.rulebook)
        for value in sorted(values, key=lambda v: (v.rank, _far(v.fact, fact))):
            cure = tried(value)
            if cure is not None and cure.clears not in seen:
                seen.add(cure.clears)
                yield cure
        if field.changed_by and field.kind == "number" and not field.many and isinstance(fact, int | float):
            for key in keys:
                cure = self._at_limit(place, field, said, float(fact), key, tried)
                if cure is not None and cure.clears not in seen:
                    seen.add(cure.clears)
                    yield cure

    def _said(self, place: Place, keys: list[About], given: Mapping[Place, Any]) -> Iterator[Cure]:
        """A claim that says what the fact is."""
        answers = self.bench.ask({**given, place: True}, {self.bench.number(key) for key in keys})
        clears = frozenset(key for key in keys if not answers.get(key))
        if clears:
            step = Step(place, Value(self._printed(place[0]), True))
            yield Cure((step,), clears, frozenset(key for key in clears if key in answers))

    def _printed(self, said: Part) -> Any:
        """A fact as the claim about it would print it: in its own unit and with as many digits."""
        printed, places = said_at(self.bench.house.document, said.pointer), list(self.bench.claims.places(said))
        part, path = places[0]
        field = part_types()[part.kind].fields.get(path)
        fact = part.facts.get(path)
        if len(places) > 1 or field is None or field.kind != "number" or not isinstance(fact, int | float):
            return said.facts["fact"]
        unit = given_unit(printed, field)
        number = convert(float(fact), field.unit, unit)
        digits = len(str(printed).partition(" ")[0].partition(".")[2])
        rounded = round(number, max(digits, 2)) if digits or abs(number - round(number)) > 1e-9 else round(number)
        return f"{rounded:.10g} {unit}".strip() if isinstance(printed, str) else rounded

    def _alike(self, part: Part, path: str) -> list[Any]:
        """What is said in a field of other parts: of those of the same kind, or of all where these say nothing else."""
        parts = [p for p in self.bench.house.parts[part.kind] or () if p.facts.get(path) != part.facts.get(path)]
        same = [p for p in parts if p.facts.get("kind") == part.facts.get("kind")]
        return [p.facts.get(path) for p in same or parts]

    def _back(self, place: Place, outline: Any, tried: Try) -> Iterator[Cure]:
        """An array with one side drawn back, as little as clears what drawing it back can clear."""
        def back(axis: int, end: int, inches: int) -> Cure | None:
            value = drawn_back(outline, axis, end, inches)
            return tried(value) if value is not None else None

        for axis, names in enumerate(SIDES):
            for end in range(len(names)):
                strides = [cure for inches in range(STRIDE, FURTHEST, STRIDE) if (cure := back(axis, end, inches))]
                if not strides:
                    continue
                best = max(strides, key=lambda c: (len(c.clears), -c.steps[0].value.rank))
                least, most = best.steps[0].value.rank - STRIDE, best.steps[0].value.rank
                while most - least > 1:
                    cure = back(axis, end, (middle := (least + most) // 2))
                    if cure is not None and cure.clears >= best.clears:
                        best, most = cure, middle
                    else:
                        least = middle
                yield best

    def _at_limit(self, place: Place, field: Field, said: Any, fact: float, key: About,
                  tried: Try) -> Cure | None:  # fmt: skip
        """The value at which a finding's margin comes to nothing, by following its slope twice."""
        margin = self.targets[key].margin if key in self.targets else None
        if margin is None or margin[0] >= 0:
            return None
        x, y = fact, margin[0]
        for _ in range(2):
            step = max(abs(x) * 1e-3, 1e-3)
            beyond = self._margin(place, x + step, key)
            if beyond is None or beyond == y:
                return None
            slope = (beyond - y) / step
            value = past_limit(field, said, fact, x - y / slope, slope > 0)
            cure = tried(value) if value is not None else None
            if value is None or (cure is not None and key in cure.clears):
                return cure
            after = self._margin(place, value.fact, key)
            if after is None:
                return None
            x, y = float(value.fact), after
        return None

    def _margin(self, place: Place, value: Any, key: About) -> float | None:
        found = self.bench.look({place: value}, [key]).get(key)
        return found.margin[0] if found is not None and found.margin is not None else None

    def _added(self, cure: Cure) -> frozenset[About]:
        """What a cure makes worse than it was."""
        changes = cure.changes
        rules = self.bench.touched(changes)
        before = self.bench.before(rules)
        return frozenset(key for key, bad in self.bench.ask(changes, rules).items() if bad > before.get(key, 0))

    def _asks_more(self, cure: Cure, added: frozenset[About]) -> bool:
        """Whether all that a change makes worse is what has to be shown of such a change, and nobody has stated yet."""
        asked = self.bench.asked_of_changes
        if not all(self.bench.number(key) in asked for key in added):
            return False
        answers = self.bench.ask(cure.changes, {self.bench.number(key) for key in added})
        return all(answers[key] == 2 for key in added)

    def _with_more(self, cure: Cure, added: frozenset[About]) -> Cure | None:
        """A cure with further changes, so that it breaks nothing; None where a few do not do."""
        seen = {added}
        while added and self.bench.trials < MOST_TRIALS:
            papers = sum(1 for step in cure.steps if _author(step.place))
            if papers > MOST_PAPERS or len(cure.steps) - papers > MOST_STEPS:
                return None
            given = cure.changes
            findings = self.bench.look(given, added)
            facts = {key: self.bench.facts(key) for key in findings}
            reading: dict[Place, list[About]] = {}
            for key, places in facts.items():
                for place in places:
                    if place not in given and _field(place) is not None:
                        reading.setdefault(place, []).append(key)
            fields = {(place[0].kind, place[1]) for place in given}
            options = []
            for place in sorted(reading, key=_order):
                for more in self._changes(place, reading[place], given, findings, facts):
                    longer = Cure((*cure.steps, *more.steps), cure.clears, cure.keeps)
                    still = self._added(longer)
                    if still not in seen and self._still_clears(longer):
                        options.append(((place[0].kind, place[1]) not in fields, len(still), longer, still))
            if not options:
                return None
            _, _, cure, added = min(options, key=lambda option: option[:2])
            seen.add(added)
        return None if added else self._whole(cure)

    def _whole(self, cure: Cure) -> Cure:
        """A cure of several steps with everything that it clears in the end."""
        touched = self.bench.touched(cure.changes)
        asked = [key for key in self.targets if self.bench.number(key) in touched]
        answers = self.bench.ask(cure.changes, {self.bench.number(key) for key in asked})
        clears = frozenset(key for key in asked if not answers.get(key))
        return Cure(cure.steps, clears, frozenset(key for key in clears if key in answers))

    def _still_clears(self, cure: Cure) -> bool:
        answers = self.bench.ask(cure.changes, {self.bench.number(key) for key in cure.clears})
        return not any(answers.get(key) for key in cure.clears)

    def said(self, place: Place) -> Any:
        """What the description says at a place, in its own words and unit."""
        return said_at(self.bench.house.document, place[0].where(place[1]))


CLAIM = Field("agrees", "what is printed", "", "flag", changed_by="author")
"""Stands for the field that a claim speaks of: its author can print it as it is."""


def _order(place: Place) -> tuple[int, str]:
    return place[0].number, place[1]


def _field(place: Place) -> Field | None:
    """The field of a place, if somebody can change it and it is said to be something."""
    part, path = place
    if part.kind == SAID:
        return CLAIM if path == "agrees" and "fact" in part.facts and part.facts.get(path) is False else None
    field = _any_field(part, path)
    if field is None or not field.changed_by or field.other is not None or field.refers or field.home != "part":
        return None
    group = path.rpartition("/")[0]
    inside = bool(group) and part.facts.get(group) in (None, ABSENT)
    return field if path in part.facts and not inside else None


def _author(place: Place) -> bool:
    field = _any_field(*place)
    return place[0].kind == SAID or (field is not None and field.changed_by == "author")


def _any_field(part: Any, path: str) -> Field | None:
    return part_types()[part.kind].fields.get(path)


def _alike(one: Field | None, other: Field) -> bool:
    return one is not None and (one.kind, one.unit, one.many) == (other.kind, other.unit, other.many)


def _distance(step: Step) -> float:
    part, path = step.place
    return _far(step.value.fact, part.facts[path])


def _far(value: Any, fact: Any) -> float:
    if isinstance(value, int | float) and isinstance(fact, int | float):
        return abs(value - fact) / (abs(value) + abs(fact) or 1)
    if isinstance(value, tuple) and isinstance(fact, tuple):
        return abs(len(value) - len(fact)) + (len(value) < len(fact)) * 0.5
    return 1.0
