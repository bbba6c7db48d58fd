"""The items of an earlier round in a new one: numbers that stay, what is cured, what is open, what was not changed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import attrs

from ampcite.engine.findings import Finding
from ampcite.house.parts import Description
from ampcite.letters.compare import Comparison
from ampcite.letters.records import Asked, Item, Key
from ampcite.reviewing.comments import Review
from ampcite.reviewing.reads import facts_read

FACT, OWN = "fact", "reviewer"
"""What a key begins with that is no rule: a fact that is asked for, and a comment of the reviewer's own."""


@attrs.frozen
class Answer:
    """What an applicant answered to an item: in words, and where it was changed."""

    says: str
    sheet: str = ""

    def __str__(self) -> str:
        return f"{self.says} ({self.sheet})" if self.sheet and self.says else self.says or self.sheet


@attrs.frozen
class Earlier:
    """The record of the last round.

    Attributes:
        round: its number.
        last: the highest number any round has given.
        items, asked: what it asked.
        description: the submission it was about.
    """

    round: int
    last: int
    items: tuple[Item, ...]
    asked: tuple[Asked, ...]
    description: Description

    @property
    def numbered(self) -> tuple[Item | Asked, ...]:
        """Everything that has a number."""
        return (*self.items, *self.asked)


def key_of(finding: Finding) -> Key:
    """What a finding is about, to be known again: its rule and the id of its part."""
    return finding.rule, finding.part


def fact_key(place: str, part_ids: Mapping[str, str]) -> Key:
    """What a missing fact is about: the id of the part it is of, and its place there.

    Args:
        place: JSON Pointer of the fact.
        part_ids: the id of every part by its pointer.
    """
    steps = place.split("/")
    for end in range(len(steps), 1, -1):
        above = "/".join(steps[:end])
        if above in part_ids:
            return FACT, f"{part_ids[above]}/{'/'.join(steps[end:])}"
    return FACT, place


class Rounds:
    """Numbers and states of items, by what they are about.

    Attributes:
        number: of this round.
        comparison: this submission beside the last; None in the first round.
    """

    def __init__(self, earlier: Earlier | None, review: Review, description: Description) -> None:
        self._earlier, self._review = earlier, review
        self.number = earlier.round + 1 if earlier else 1
        self.comparison = Comparison(earlier.description, description) if earlier else None
        self._last = earlier.last if earlier else 0
        self._by_key: dict[Key, int] = {}
        for item in earlier.numbered if earlier else ():
            for key in item.keys:
                self._by_key.setdefault(self.now(key), item.number)
        self._given: set[int] = set()

    def now(self, key: Key) -> Key:
        """A key of the last round as it would be in this one."""
        assert self.comparison is not None
        kind, name = key
        if kind == OWN:
            return key
        if kind != FACT:
            return kind, self.comparison.renamed.get(name, f"\0gone {name}")
        part, sep, field = name.rpartition("/")
        while part and part not in self.comparison.renamed:
            part, _, more = part.rpartition("/")
            field = f"{more}/{field}"
        return kind, f"{self.comparison.renamed.get(part, part)}{sep}{field}"

    def was(self, key: Key) -> int | None:
        """The number under which something stood in the last round."""
        return self._by_key.get(key)

    def split(self, findings: Sequence[Finding]) -> list[list[Finding]]:
        """Findings of one comment, apart by the items they stood under; new ones with the first of those."""
        groups: dict[int | None, list[Finding]] = {}
        for f in findings:
            groups.setdefault(self.was(key_of(f)), []).append(f)
        new = groups.pop(None, [])
        out = list(groups.values())
        if not out:
            return [new] if new else []
        out[0] += new
        return out

    def numbered(self, keys: Iterable[Key]) -> tuple[int | None, bool]:
        """The number an item keeps, and whether it is an old one; (None, True) for a piece of an item numbered
        already."""
        for key in keys:
            number = self.was(key)
            if number is not None:
                if number in self._given:
                    return None, True
                self._given.add(number)
                return number, True
        return None, False

    def next(self) -> int:
        """A number that no round has given."""
        self._last += 1
        return self._last

    @property
    def last(self) -> int:
        """The highest number given so far."""
        return self._last

    def untouched(self, findings: Iterable[Finding]) -> bool:
        """Whether nothing that findings rest on is other than in the last submission."""
        if self.comparison is None or self._review.report.verdicts is None:
            return False
        state = self._review.report.verdicts.state
        bound, numbers = state.machine.bound, state.machine.by_id
        lost = {part.kind for part in (*self.comparison.gone, *self.comparison.added)}
        for f in findings:
            rule = bound.rules[numbers[f.rule]]
            part = next((p for p in state.description.numbered if p.pointer == f.about), None)
            read = facts_read(state, bound, rule, part) if part is not None else frozenset()
            if lost & {where.kind for where, _ in read} or rule.kind in lost:
                return False
            if any((where.pointer, path) in self.comparison.changed for where, path in read):
                return False
        return True
