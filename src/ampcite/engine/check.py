"""The check itself: a rulebook and a description go in, a report comes out. No files, no clock, no state."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import attrs

from ampcite.base.errors import ArgumentError, nearest, wrong_argument
from ampcite.base.frozen import FrozenDict
from ampcite.base.lazy import LazyMapping, LazySequence
from ampcite.engine.findings import Finding, NotApplicable, Project, Report
from ampcite.engine.machine import Machine
from ampcite.engine.plan import PART_BITS
from ampcite.engine.rulebook import Rulebook
from ampcite.engine.state import EvaluationState
from ampcite.house.part_types import part_types
from ampcite.house.parts import Description, Part
from ampcite.house.read import with_given
from ampcite.language.logic import Unknown, Verdict

if TYPE_CHECKING:
    from ampcite.engine.again import Place


def check(rulebook: Rulebook, description: Description, *, rules: Iterable[str] | None = None,
          since: Report | None = None) -> Report:  # fmt: skip
    """The rules of the rulebook asked of every part of the description they speak of.

    Args:
        rulebook: from :func:`ampcite.load`.
        description: from :func:`ampcite.read`.
        rules: ids of rules, or names of families, where not all are asked.
        since: an earlier report by the same rulebook on a description that differs in few facts: what does not rest
            on them is taken from it. The answers are those of a whole check; only the time it takes is shorter.

    Returns:
        The report. The same arguments always give the same report.

    Raises:
        ArgumentError: when an argument is something else, or names a rule that the rulebook does not have, or that is
            not in force, with the reason.
    """
    if not isinstance(rulebook, Rulebook):
        raise wrong_argument("check takes a rulebook from load", rulebook)
    if not isinstance(description, Description):
        raise wrong_argument("check takes a description from read", description)
    if rulebook.codes or rulebook.bound.facts:
        description = with_given(description, rulebook.given)
    machine = rulebook.machine
    asked = None if rules is None else _chosen(machine, rules)
    verdicts = _since(since, machine, description, asked) or judge(EvaluationState(machine, description), asked)
    return Report(
        source=description.source,
        project=_project(description),
        editions=rulebook.editions,
        law=rulebook.law,
        counts=verdicts.counts(),
        undecided=len(verdicts.open),
        not_passed=LazySequence(verdicts.not_passed, len(verdicts.broken) + len(verdicts.open)),
        passed=LazyMapping(verdicts.passed),
        passes=LazySequence(verdicts.passes, len(verdicts.kept)),
        not_applicable=LazySequence(verdicts.not_applicable, verdicts.not_applicable_count),
        packs=rulebook.packs,
        unread=LazySequence(lambda: _unread(rulebook.bound.reads, description)),
        to_state=description.to_state,
        taken_over=description.taken_over,
        part_ids=LazyMapping(lambda: description.part_ids),
        verdicts=verdicts,
    )


def _since(report: Any, machine: Machine, description: Description, asked: frozenset[int] | None) -> Verdicts | None:
    """What an earlier report says of a description that differs in facts alone, brought up to date."""
    if report is None:
        return None
    if not isinstance(report, Report):
        raise wrong_argument("since is a report from check", report)
    old = report.verdicts
    if old is None or old.state.machine is not machine or old.asked != asked:
        return None
    from ampcite.engine.again import differences

    changes = differences(old.state.description, description)
    return None if changes is None else judge_again(old, description, changes)


Answered = tuple[Verdict, bool]
"""A verdict, and whether it was decided."""


@attrs.frozen(eq=False)
class Verdicts:
    """What was found, without words: keys of rules and parts, kept, broken or open.

    Attributes:
        state: the description, with what was reckoned of it.
        asked: the numbers of the rules that were asked; None where all were.
    """

    state: EvaluationState
    asked: frozenset[int] | None
    kept: list[int]
    broken: list[int]
    open: list[int]

    def keys_kept(self) -> list[tuple[str, str]]:
        """The id of the rule and the pointer of the part of everything that passes."""
        rules, parts = self.state.machine.bound.rules, self.state.description.numbered
        return [(rules[key >> PART_BITS].id, parts[key & _PLACE].pointer) for key in self.kept]

    def answers(self) -> dict[int, Answered]:
        """By key: the verdict, and whether it was decided."""
        fails = self.state.machine.fails
        out = {key: (Verdict.FAIL if fails[key >> PART_BITS] else Verdict.WARN, True) for key in self.broken}
        out |= dict.fromkeys(self.open, (Verdict.WARN, False))
        return out | dict.fromkeys(self.kept, (Verdict.PASS, True))

    def finding(self, key: int, answered: Answered | None) -> Finding | None:
        """The finding of a key."""
        return None if answered is None else self._made([(key, *answered)])[0]

    def __reduce__(self) -> tuple[type[None], tuple[()]]:
        """What is sent elsewhere leaves this behind: a report that arrives can be read, but not gone on from."""
        return type(None), ()

    def counts(self) -> Mapping[str, int]:
        """How many findings of each verdict."""
        failed = sum(self.state.machine.fails[key >> PART_BITS] for key in self.broken)
        return FrozenDict({"pass": len(self.kept), "warn": len(self.broken) - failed + len(self.open), "fail": failed})

    def not_passed(self) -> tuple[Finding, ...]:
        """What fails, then what warns; within a verdict in the order of rules and parts."""
        if not (self.broken or self.open):
            return ()
        fails = self.state.machine.fails
        failures = sorted(key for key in self.broken if fails[key >> PART_BITS])
        warned = frozenset(key for key in self.broken if not fails[key >> PART_BITS])
        warnings = ((key, Verdict.WARN, key in warned) for key in sorted((*warned, *self.open)))
        return self._made([*((key, Verdict.FAIL, True) for key in failures), *warnings])

    def passes(self) -> tuple[Finding, ...]:
        """What passes, in the order of rules and parts."""
        return self._made([(key, Verdict.PASS, True) for key in sorted(self.kept)])

    def passed(self) -> dict[str, tuple[str, ...]]:
        """The ids of the parts that pass, by rule."""
        rules, ids = self.state.machine.bound.heads, self.state.description.part_ids
        names = [ids[part.pointer] for part in self.state.description.numbered]
        out: dict[int, list[str]] = {}
        for key in sorted(self.kept):
            number, name = key >> PART_BITS, names[key & _PLACE]
            if number in out:
                out[number].append(name)
            else:
                out[number] = [name]
        return {rules[number].id: tuple(found) for number, found in out.items()}

    def _made(self, found: list[tuple[int, Verdict, bool]]) -> tuple[Finding, ...]:
        state, parts = self.state, self.state.description.numbered
        return tuple([Finding(state, key >> PART_BITS, parts[key & _PLACE], verdict, decided)
                      if key & _PLACE < _UNLISTED else self._of_a_list(key, verdict, decided)
                      for key, verdict, decided in found])  # fmt: skip

    def _of_a_list(self, key: int, verdict: Verdict, decided: bool) -> Finding:
        """The finding of a rule that has no parts to ask, since nobody has given their list."""
        number, place = key >> PART_BITS, key & _PLACE
        kind = self.state.machine.bound.heads[number].kind
        part, pointer = self.state.description.unlisted[kind][place - _UNLISTED]
        return Finding(self.state, number, part, verdict, decided, pointer)

    def not_applicable_count(self) -> int:
        """How many :meth:`not_applicable` gives."""
        machine, asked, description = self.state.machine, self.asked, self.state.description
        parts, unlisted = description.parts, description.unlisted
        rules = machine.rules_by_kind if asked is None else Counter(machine.bound.heads[i].kind for i in asked)
        pairs = sum(count * (len(parts[kind] or ()) or not unlisted[kind]) for kind, count in rules.items())
        found = len(self.kept) + len(self.broken) + sum(key & _PLACE < _UNLISTED for key in self.open)
        return pairs - found + (len(machine.bound.not_in_force) if asked is None else 0)

    def not_applicable(self) -> tuple[NotApplicable, ...]:
        """The rules that do not apply to a part, have none to apply to, or are not in force."""
        bound, description = self.state.machine.bound, self.state.description
        found = {*self.kept, *self.broken, *self.open}
        asked = [(i, r) for i, r in enumerate(bound.rules) if self.asked is None or i in self.asked]
        out = [NotApplicable(rule.id, part.pointer, part.label, rule.scope, rule.clauses)
               for i, rule in asked for part in description.parts[rule.kind] or ()
               if (i << PART_BITS) + part.number not in found]  # fmt: skip
        empty = {kind.name: kind.title for kind in part_types().values()
                 if not description.parts[kind.name] and not description.unlisted[kind.name]}  # fmt: skip
        out += [NotApplicable(rule.id, "/" + rule.kind.replace("/", "/*/"), "",
                              f"there is no {empty[rule.kind]} to ask it of", rule.clauses)
                for _, rule in asked if rule.kind in empty]  # fmt: skip
        if self.asked is None:
            out += [NotApplicable(rule, "", "", reason) for rule, reason in bound.not_in_force]
        return tuple(out)


_UNLISTED = 1 << (PART_BITS - 1)
"""From this number on, the place of a key is that of a list that is not given."""
_PLACE = (1 << PART_BITS) - 1


def judge(state: EvaluationState, asked: frozenset[int] | None = None) -> Verdicts:
    """Asks rules, all or those of some numbers, of every part they speak of."""
    machine, description = state.machine, state.description
    out = Verdicts(state, asked, [], [], [])
    later: list[int] = []
    single: list[int] = []
    groups = machine.groups_with(asked)
    for number, group in groups:
        if state.generated and (asked is None or asked.issuperset(group.rules)):
            parts = description.parts[group.kind]
            if parts:
                machine.run(number)(state, parts, out.kept.append, out.broken.append, out.open.append, later.append)
        else:
            single += group.rules if asked is None else asked.intersection(group.rules)
    if later:
        for key in later:
            _with_care(out, key >> PART_BITS, state.description.numbered[key & _PLACE])
    for number in single:
        for part in description.parts[machine.bound.heads[number].kind] or ():
            _with_care(out, number, part)
    lacking = {kind: len(lists) for kind, lists in description.unlisted.items() if lists}
    if lacking:
        for _, group in groups:
            for i in range(lacking.get(group.kind, 0)):
                out.open.extend((number << PART_BITS) + _UNLISTED + i for number in group.rules
                                if asked is None or number in asked)  # fmt: skip
    return out


def judge_again(old: Verdicts, description: Description, changes: Iterable[Place]) -> Verdicts:
    """Asks again only what rests on facts that have changed; the answers are those of asking everything.

    Args:
        old: the verdicts before the change, which stay as they are.
        description: one of the same shape in which the facts are changed.
        changes: the parts of that description and the fields that differ, none of them an id or a reference.
    """
    from ampcite.engine.again import reckon_again

    state, touched = reckon_again(old.state, description, changes)
    keys = {(rule << PART_BITS) + part for rule, part in touched if old.asked is None or rule in old.asked}
    left = ([key for key in found if key not in keys] for found in (old.kept, old.broken, old.open))
    out = Verdicts(state, old.asked, *left)
    for key in keys:
        _with_care(out, key >> PART_BITS, state.description.numbered[key & _PLACE])
    return out


def differing(before: Verdicts, after: Verdicts) -> tuple[tuple[Finding | None, Finding | None], ...]:
    """The findings whose verdict differs, before and after; None where the rule does not apply.

    Both must be of descriptions of one shape, and of one rulebook.
    """
    was, now = before.answers(), after.answers()
    keys = sorted({key for key, _ in was.items() ^ now.items()})
    return tuple((before.finding(key, was.get(key)), after.finding(key, now.get(key))) for key in keys)


def _with_care(out: Verdicts, number: int, part: Part) -> None:
    holds = out.state.machine.rule(number).judge(out.state, part)
    if holds is None:
        return
    found = out.kept if holds is True else out.open if isinstance(holds, Unknown) else out.broken
    found.append((number << PART_BITS) + part.number)


def _chosen(machine: Machine, rules: Iterable[str]) -> frozenset[int]:
    """The numbers of rules named by id or family."""
    if isinstance(rules, str | bytes) or not isinstance(rules, Iterable):
        raise wrong_argument("rules are given as a list of ids or families", rules)
    families: dict[str, list[int]] = {}
    for group in machine.groups:
        families.setdefault(group.family, []).extend(group.rules)
    out, outside = set[int](), dict(machine.bound.not_in_force)
    for name in rules:
        if not isinstance(name, str):
            raise wrong_argument("a rule is named by a text", name)
        if name in machine.by_id:
            out.add(machine.by_id[name])
        elif name in families:
            out.update(families[name])
        elif name in outside:
            raise ArgumentError(f'the rule "{name}" is not asked here: {outside[name]}')
        else:
            known = [*families, *machine.by_id]
            raise ArgumentError(f'no rule and no family is called "{name}"; {nearest(name, known)}')
    return frozenset(out)


def _project(description: Description) -> Project:
    facts = description.whole.facts

    def text(path: str) -> str:
        return str(facts[path]) if isinstance(facts.get(path), str) else ""

    revision = facts.get("project/revision")
    number = int(revision) if isinstance(revision, int | float) else None
    return Project(text("project/name"), text("project/address"), number, text("stage"))


def _unread(reads: frozenset[str], description: Description) -> tuple[str, ...]:
    """The lists and objects that are given and of which no rule reads anything."""
    groups, lists = _never_read(reads)
    given, parts = description.whole.facts, description.parts
    found = [title for key, title in groups if key in given]
    return tuple(dict.fromkeys([*found, *(title for name, title in lists if parts[name])]))


@lru_cache(maxsize=64)
def _never_read(reads: frozenset[str]) -> tuple[tuple[tuple[str, str], ...], ...]:
    """The objects and the lists of a description of which nothing is read, each with its title."""
    groups = tuple((key, group.title) for key, group in part_types()[""].body.groups.items()
                   if key not in reads and key not in _ABOUT_THE_PAPER)  # fmt: skip
    lists = tuple((name, kind.list_title) for name, kind in part_types().items() if name and name not in reads)
    return groups, lists


_ABOUT_THE_PAPER = ("project", "codes")
