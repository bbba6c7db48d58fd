"""A house on the bench: facts are changed, what rests on them is asked again, and they are put back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from ampcite.engine.check import Verdicts, judge
from ampcite.engine.findings import Finding
from ampcite.engine.rulebook import Rulebook
from ampcite.engine.state import EvaluationState
from ampcite.house.part_types import part_types
from ampcite.house.parts import Description
from ampcite.house.read import read_own, with_given
from ampcite.language.logic import ABSENT, Verdict
from ampcite.reviewing.claims import COMPARED, SAID, Claims
from ampcite.reviewing.reads import Key, Place, facts_read

About = tuple[str, str]
"""Id of a rule, and the pointer of the part it speaks of: what an answer is known by."""

Answers = Mapping[About, int]
"""How bad each answer is, after :func:`severity`; a rule that does not apply to a part gives none."""


class Bench:
    """One house, tried with some facts changed. The description itself is never touched: the bench has its own copy.

    Only what rests on the changed facts is asked again, so that a trial costs a fraction of a check. Facts that lead to
    other parts can't be changed here.

    Attributes:
        trials: how many there were.
        asked_of_changes: the rules that ask something of a fact only because the work changes it.
    """

    def __init__(self, rulebook: Rulebook, description: Description) -> None:
        self.rulebook = rulebook
        self.machine = rulebook.machine
        self.catalogue = description.catalogue
        self.house = self._read(description.document)
        self.parts = {part.pointer: part for parts in self.house.parts.values() for part in parts or ()}
        self.readers = rulebook.machine.readers
        self.claims = Claims(self.house)
        self.state = EvaluationState(self.machine, self.house)
        for kind, number in self.machine.kinds():
            for part in self.house.parts[kind] or ():
                self.state.value(number, part)
        self.trials = 0
        self._before: dict[int, Answers] = {}
        earlier = [(kind.name, field.earlier) for kind in part_types().values()
                   for field in kind.fields.values() if field.earlier]  # fmt: skip
        self.asked_of_changes = frozenset(i for key in earlier for i in self.readers.resting(*key).rules)

    def _read(self, document: Mapping[str, Any]) -> Description:
        own = read_own(document, self.catalogue)
        return with_given(own, given) if (given := self.rulebook.given) else own

    def whole(self, document: Mapping[str, Any]) -> Answers:
        """What every rule that is not kept answers of another description of the house.

        Raises:
            InputError: when it can't be read.
        """
        verdicts = judge(EvaluationState(self.machine, self._read(document)))
        return {(f.rule, f.about): severity(f) for f in verdicts.not_passed()}

    def number(self, key: About) -> int:
        """The number of the rule of an answer."""
        return self.machine.by_id[key[0]]

    def facts(self, key: About) -> frozenset[Place]:
        """The facts of the house that an answer rests on."""
        rule = self.rulebook.bound.rules[self.number(key)]
        found = facts_read(self.state, self.rulebook.bound, rule, self.parts[key[1]])
        claimed = {part for part, field in found if part.kind == SAID and field in COMPARED}
        return found.union(*(self.claims.places(part) for part in claimed))

    def entailed(self, changes: Mapping[Place, Any]) -> dict[Place, Any]:
        """What a change says besides: of a fact that the work did not change so far, what it was before."""
        out: dict[Place, Any] = {}
        for (part, path), value in changes.items():
            field = part_types()[part.kind].fields.get(path)
            if field is not None and field.earlier and part.facts.get(field.earlier) is ABSENT:
                was = part.facts.get(path)
                if was is not None and was is not ABSENT and was != value:
                    out[part, field.earlier] = was
        return out

    def touched(self, changes: Mapping[Place, Any]) -> frozenset[int]:
        """The rules that rest on some facts."""
        changes = {**self.entailed(changes), **changes}
        return frozenset(i for key in self._keys(changes) for i in self.readers.resting(*key).rules)

    def before(self, rules: Iterable[int]) -> Answers:
        """What some rules answer with nothing changed."""
        out: dict[About, int] = {}
        for i in rules:
            if i not in self._before:
                self._before[i] = _answers(judge(self.state, frozenset([i])))
            out.update(self._before[i])
        return out

    def ask(self, changes: Mapping[Place, Any], rules: Iterable[int]) -> Answers:
        """What some rules answer with facts changed.

        Args:
            changes: facts in the form in which a description that has been read holds them.
            rules: numbers of rules, as :meth:`touched` gives them.
        """
        with self._changed(changes) as state:
            return _answers(judge(state, frozenset(rules)))

    def look(self, changes: Mapping[Place, Any], keys: Iterable[About]) -> dict[About, Finding]:
        """Some answers with facts changed, as findings with their figures and margins."""
        wanted = set(keys)
        with self._changed(changes) as state:
            verdicts = judge(state, frozenset(self.machine.by_id[rule] for rule, _ in wanted))
            found = {(f.rule, f.about): f for f in (*verdicts.not_passed(), *verdicts.passes())}
            for key in found.keys() & wanted:
                _ = found[key].figures, found[key].margin
        return {key: found[key] for key in wanted if key in found}

    def _keys(self, changes: Mapping[Place, Any]) -> list[Key]:
        """The fields that change, those of claims about them included."""
        own = [(part.kind, field) for part, field in changes]
        return [*own, *((SAID, name) for name in COMPARED)] if self.claims.touched(changes) else own

    @contextmanager
    def _changed(self, changes: Mapping[Place, Any]) -> Iterator[EvaluationState]:
        """The house with facts changed; what does not rest on them is not reckoned again."""
        self.trials += 1
        changes = {**self.entailed(changes), **changes}
        claimed = self.claims.touched(changes)
        places = [*changes, *((said, name) for said in claimed for name in COMPARED)]
        kept = {(part, field): part.facts.get(field) for part, field in places}
        state = self.state.copy(self.house)
        anew = {number for key in self._keys(changes) for number in self.readers.resting(*key).quantities}
        for number in anew:
            state.forget(number)
        for key in [key for key in state.reasons if key[0] in anew]:
            del state.reasons[key]
        try:
            _put(changes)
            for said in claimed:
                self.claims.compare(said)
            yield state
        finally:
            _put(kept)


def severity(finding: Finding) -> int:
    """How bad an answer is: 0 for a pass, 1 for advice not followed, 2 for undecided, 3 for a failure."""
    if finding.verdict is Verdict.PASS:
        return 0
    return 3 if finding.verdict is Verdict.FAIL else 1 if finding.decided else 2


def _answers(verdicts: Verdicts) -> Answers:
    return {**dict.fromkeys(verdicts.keys_kept(), 0), **{(f.rule, f.about): severity(f) for f in verdicts.not_passed()}}


def _put(facts: Mapping[Place, Any]) -> None:
    for (part, field), value in facts.items():
        own: Any = part.facts
        if value is None:
            own.pop(field, None)
        else:
            own[field] = value
