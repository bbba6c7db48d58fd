"""Findings, and the report they make up."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple, NoReturn

import attrs

from ampcite.base.errors import nearest
from ampcite.base.frozen import FrozenDict
from ampcite.base.lazy import LazySequence, made_once
from ampcite.base.stages import latest
from ampcite.house.part_types import place
from ampcite.language.logic import Verdict
from ampcite.language.printing import sentence

if TYPE_CHECKING:
    from ampcite.engine.check import Verdicts
    from ampcite.engine.explain import Answer, OpenAnswer
    from ampcite.engine.plan import BoundRule, LocalEffect, RuleHead
    from ampcite.engine.state import EvaluationState
    from ampcite.house.parts import Part
    from ampcite.law.changes import Change
    from ampcite.law.files import PackUsed

CAUTIONS = (
    "Direct current from an array can kill and is present whenever there is light; work on it is for qualified "
    "persons with the right test instruments and protective equipment.",
    "Use listed equipment only, installed as its listing and its maker's instructions say.",
    "This is a second pair of eyes, not an approval: the local authority having jurisdiction, the utility and "
    "licensed practice decide.",
    "It judges only what the description says; what was not described was not checked.",
)


@attrs.frozen
class Clause:
    """A clause as cited in a finding.

    Attributes:
        work: title of the code or standard.
        edition: its edition.
        clause: number of the clause.
        read: where the clause or figure was read.
        standing: how far: one of :data:`ampcite.law.standing.STANDINGS`.
    """

    work: str
    edition: int
    clause: str
    read: str
    standing: str = ""

    @property
    def unconfirmed(self) -> bool:
        """Whether it rests on memory or on articles alone, and was read nowhere."""
        return self.read.endswith("unconfirmed") or ", unconfirmed," in self.read

    def __str__(self) -> str:
        doubt = ", from memory, unconfirmed" if self.read.startswith("from memory") else ""
        return f"{self.work} {self.clause.replace('; ', ' and ')}{doubt}"


VERIFY_FIRST = "Verify first, since the clause was read nowhere:"
"""What leads a failure behind which there is memory alone."""


class Finding:
    """One answer of one rule about one part of the house. It can't be changed; its words are made when they are read.

    Attributes:
        rule: id of the rule.
        title: what the rule requires.
        family: the family of rules it belongs to.
        force: "requirement" or "recommendation".
        second_read: whether someone who did not write the rule has read it against the text of this edition.
        standing: how far the clauses and figures of the rule were read, by the weakest of them; one of
            :data:`ampcite.law.standing.STANDINGS`.
        verdict: pass, warn or fail.
        part: the id of the part, as :attr:`ampcite.Description.part_ids` makes it; empty for the whole system.
        about: JSON Pointer of the part; empty for the whole system.
        label: what a person calls that part.
        note: the finding in plain words.
        citations: the clauses it rests on, of those of the rule that speak of the part.
        figures: name to (value, unit).
        worked: the arithmetic, line by line.
        margin: (distance to the limit, unit), negative where the limit is passed; None where there is no one limit.
        remedy: what would cure it; empty for a pass.
        missing: JSON Pointers of the facts that would decide.
        stage: the first stage of a job at which it can be answered: of an undecided one, the last at which one of the
            missing facts can be known.
        decided: False where the rule could not be decided; its verdict is then warn.
        local: what local law changed in what the finding rests on, and what the model code has.
        waived: by whom, until when and why the rule is waived; its verdict is then never fail.
        asks: what a person has to look at on site, where nobody has stated it yet.
    """

    rule: str
    title: str
    family: str
    force: str
    second_read: bool
    standing: str
    verdict: Verdict
    about: str
    label: str
    decided: bool
    _state: EvaluationState
    _number: int
    _part: Part
    _unlisted: str
    _unconfirmed: bool

    def __init__(self, state: EvaluationState, number: int, part: Part, verdict: Verdict, decided: bool = True,
                 unlisted: str = "") -> None:  # fmt: skip
        own = self.__dict__
        own.update(state.machine.said_of[number])
        own["about"], own["label"] = part.pointer, part.label
        own["_state"], own["_number"], own["_part"] = state, number, part
        own["verdict"], own["decided"], own["_unlisted"] = verdict, decided, unlisted

    @made_once
    def _rule(self) -> BoundRule:
        return self._state.machine.bound.rules[self._number]

    @made_once
    def _answer(self) -> Answer | OpenAnswer:
        return self._state.machine.answer(self._state, self._number, self._part, self.verdict, self.decided,
                                          self._unlisted)  # fmt: skip

    @made_once
    def _effect(self) -> LocalEffect | None:
        return self._state.machine.bound.local.get(self.rule)

    @made_once
    def part(self) -> str:
        return self._state.description.part_ids[self._part.pointer]

    @made_once
    def citations(self) -> tuple[Clause, ...]:
        rule = self._rule
        if not rule.speaks or self._unlisted:
            return rule.clauses
        return self._state.machine.rule(self._number).clauses(self._state, self._part)

    @made_once
    def note(self) -> str:
        note = self._answer.note
        if self.decided and self.verdict is not Verdict.PASS and self.force == "requirement" and self._unconfirmed:
            note = f"{VERIFY_FIRST} {note}"
        return apply_local_law(note, self.verdict, self.decided, self.force, self._effect)

    @made_once
    def figures(self) -> Mapping[str, tuple[float | str, str]]:
        return FrozenDict(self._answer.figures)

    @made_once
    def worked(self) -> tuple[str, ...]:
        return self._answer.worked

    @made_once
    def margin(self) -> tuple[float, str] | None:
        return self._answer.margin

    @made_once
    def remedy(self) -> str:
        return "" if self.verdict is Verdict.PASS else self._answer.remedy

    @made_once
    def missing(self) -> tuple[str, ...]:
        return () if self.decided else self._answer.missing

    @made_once
    def stage(self) -> str:
        if self.decided or not self.missing:
            return self._rule.stage
        return latest(*(place(pointer).stage for pointer in self.missing))

    @made_once
    def asks(self) -> str:
        return "" if self.decided else self._answer.asks

    @made_once
    def local(self) -> tuple[Change, ...]:
        return self._effect.changes if self._effect is not None else ()

    @made_once
    def waived(self) -> str:
        return self._effect.waived if self._effect is not None else ""

    def __setattr__(self, name: str, value: object) -> NoReturn:
        raise AttributeError("a finding can't be changed")

    def __delattr__(self, name: str) -> NoReturn:
        raise AttributeError("a finding can't be changed")

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Finding):
            return NotImplemented
        return all(getattr(self, name) == getattr(other, name) for name in FINDING_FIELDS)

    def __hash__(self) -> int:
        return hash((self.rule, self.about, self.verdict))

    def __repr__(self) -> str:
        return f"<Finding {self.verdict} {self.rule} {self.part or 'the system'}>"

    def __deepcopy__(self, _: Any) -> Finding:
        return self

    def __replace__(self, **changes: Any) -> Finding:
        """A finding with some of what it says replaced, as ``copy.replace`` of Python 3.13 asks for."""
        return _restored({name: getattr(self, name) for name in FINDING_FIELDS} | changes)

    def __reduce__(self) -> tuple[Callable[[dict[str, Any]], Finding], tuple[dict[str, Any]]]:
        return _restored, ({name: getattr(self, name) for name in FINDING_FIELDS},)


FINDING_FIELDS = (
    "rule", "title", "family", "force", "second_read", "standing", "verdict", "part", "about", "label", "note",
    "citations", "figures", "worked", "margin", "remedy", "missing", "decided", "stage", "asks", "local", "waived",
)  # fmt: skip
"""What a finding says, in its order."""


def said_of(head: RuleHead) -> dict[str, Any]:
    """What every finding of a rule says."""
    return {"rule": head.id, "title": head.title, "family": head.family, "force": head.force,
            "second_read": head.second_read, "standing": head.standing, "_unconfirmed": head.unconfirmed}  # fmt: skip


def _restored(values: dict[str, Any]) -> Finding:
    """A finding as it was sent, with all its words."""
    finding = object.__new__(Finding)
    finding.__dict__.update(values)
    return finding


def apply_local_law(note: str, verdict: Verdict, decided: bool, force: str, effect: LocalEffect | None) -> str:
    """The note of a finding, led by what local law says where it is waived or left to others, and so does not fail."""
    if effect is None or verdict is Verdict.PASS or not decided:
        return note
    if effect.waived:
        return f"{sentence(effect.waived)}. As it stands: {note}"
    if effect.referred and force == "requirement":
        return f"{sentence(effect.referred)}. By the model code: {note}"
    return note


class NotApplicable(NamedTuple):
    """A rule that does not apply to a part, and why.

    Attributes:
        rule: id of the rule.
        about: JSON Pointer of the part, or of the list there is none in.
        label: what a person calls the part; empty where ``why`` says it all.
        why: what the rule is for, or why it has nothing to ask.
        citations: the clauses the rule rests on; none where it is not in force.
    """

    rule: str
    about: str
    label: str
    why: str
    citations: tuple[Clause, ...] = ()

    @property
    def reason(self) -> str:
        """The reason in words."""
        return f"does not apply to {self.label}: it is for {self.why}" if self.label else self.why


@attrs.frozen
class Project:
    """Which submission a report is of, in the words of the description; "" or None where it does not say.

    Attributes:
        name: of the project.
        address: of the house.
        revision: of the submission, 0 for the first.
        stage: at which it was checked.
    """

    name: str = ""
    address: str = ""
    revision: int | None = None
    stage: str = ""


@attrs.frozen
class Report:
    """What a rulebook says of a description.

    Attributes:
        source: the description's file.
        project: which submission it is of.
        editions: the edition of each code that was applied.
        law: why that law applies, and which layers of local law: sentences; none where the caller chose.
        counts: how many findings of each verdict, "pass", "warn" and "fail"; those not decided are among the warnings.
        undecided: how many of the warnings are there because facts are missing or nobody has looked yet.
        not_passed: the failures, then the warnings; within each in the order of rules and parts.
        passed: the ids of the parts that pass, by rule.
        passes: the passes, in the order of rules and parts.
        findings: all of them: failures first, then warnings, then passes.
        not_applicable: rules that do not apply, with the reason.
        packs: the packs that took part.
        unread: what the description speaks of and no rule in use reads.
        to_state: JSON Pointers of what the description marks as still to be stated.
        taken_over: JSON Pointers of the values that are still those of an example.
        verdicts: what a later check can go on from; None where the report was sent here.
        part_ids: the id of every part by its JSON Pointer, as :attr:`ampcite.Description.part_ids` makes it.
    """

    source: str
    project: Project
    editions: Mapping[str, int]
    law: tuple[str, ...]
    counts: Mapping[str, int]
    undecided: int
    not_passed: Sequence[Finding]
    passed: Mapping[str, Sequence[str]]
    passes: Sequence[Finding]
    not_applicable: Sequence[NotApplicable]
    packs: tuple[PackUsed, ...]
    unread: Sequence[str] = ()
    to_state: tuple[str, ...] = ()
    taken_over: tuple[str, ...] = ()
    part_ids: Mapping[str, str] = FrozenDict()
    cautions: tuple[str, ...] = CAUTIONS
    verdicts: Verdicts | None = attrs.field(default=None, eq=False, repr=False)
    findings: Sequence[Finding] = attrs.field(init=False, eq=False, repr=False)

    @findings.default
    def _findings(self) -> Sequence[Finding]:
        return LazySequence(lambda: (*self.not_passed, *self.passes), len(self.not_passed) + len(self.passes))

    @property
    def verdict(self) -> Verdict:
        """The worst verdict of all findings; warn where nothing was checked, or values are still an example's."""
        if self.counts["fail"]:
            return Verdict.FAIL
        return Verdict.PASS if self.counts["pass"] and not self.counts["warn"] and not self.taken_over else Verdict.WARN

    @property
    def checked(self) -> bool:
        """Whether any rule was decided at all."""
        return sum(self.counts.values()) > self.undecided

    def of(self, rule: str) -> tuple[Finding, ...]:
        """The findings of one rule; none where it does not apply.

        Raises:
            KeyError: when the report knows no such rule, with the nearest that it does.
        """
        known = {f.rule for f in self.findings} | {a.rule for a in self.not_applicable}
        if rule not in known:
            raise KeyError(f'no rule is called "{rule}"; {nearest(rule, sorted(known))}')
        return tuple(f for f in self.findings if f.rule == rule)

