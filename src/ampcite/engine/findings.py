"""Findings, and the report they make up."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import attrs

from ampcite.base.errors import nearest
from ampcite.base.frozen import FrozenDict
from ampcite.language.logic import Verdict, worst
from ampcite.law.changes import Change
from ampcite.law.records import PackUsed

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
    """

    work: str
    edition: int
    clause: str
    read: str

    def __str__(self) -> str:
        doubt = ", from memory, unconfirmed" if self.read.startswith("from memory") else ""
        return f"{self.work} {self.clause.replace('; ', ' and ')}{doubt}"


class Finding(NamedTuple):
    """One answer of one rule about one part of the house.

    A named tuple, since a check makes hundreds of these and a frozen class takes four times as long to make.

    Attributes:
        rule: id of the rule.
        title: what the rule requires.
        family: the family of rules it belongs to.
        force: "requirement" or "recommendation".
        verdict: pass, warn or fail.
        about: JSON Pointer of the part; empty for the whole system.
        label: what a person calls that part.
        note: the finding in plain words.
        citations: the clauses it rests on.
        figures: name to (value, unit).
        worked: the arithmetic, line by line.
        margin: (distance to the limit, unit), negative where the limit is passed; None where there is no one limit.
        remedy: what would cure it; empty for a pass.
        missing: JSON Pointers of the facts that would decide.
        decided: False where the rule could not be decided; its verdict is then warn.
        local: what local law changed in what the finding rests on, and what the model code has.
        waived: by whom, until when and why the rule is waived; its verdict is then never fail.
        asks: what a person has to look at on site, where nobody has stated it yet.
    """

    rule: str
    title: str
    family: str
    force: str
    verdict: Verdict
    about: str
    label: str
    note: str
    citations: tuple[Clause, ...]
    figures: Mapping[str, tuple[float | str, str]]
    worked: tuple[str, ...]
    margin: tuple[float, str] | None = None
    remedy: str = ""
    missing: tuple[str, ...] = ()
    decided: bool = True
    asks: str = ""
    local: tuple[Change, ...] = ()
    waived: str = ""


class Aside(NamedTuple):
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
        findings: failures first, then warnings, then passes; within each in the order of rules and parts.
        not_applicable: rules that do not apply, with the reason.
        packs: the packs that took part.
        unread: what the description speaks of and no rule in use reads.
        part_ids: the id of every part by its JSON Pointer, as :func:`ampcite.house.naming.part_id` makes it.
    """

    source: str
    project: Project
    editions: Mapping[str, int]
    law: tuple[str, ...]
    findings: tuple[Finding, ...]
    not_applicable: tuple[Aside, ...]
    packs: tuple[PackUsed, ...]
    unread: tuple[str, ...] = ()
    part_ids: Mapping[str, str] = FrozenDict()
    cautions: tuple[str, ...] = CAUTIONS

    @property
    def verdict(self) -> Verdict:
        """The worst verdict of all findings; warn where nothing was checked, which is never a pass."""
        return worst(f.verdict for f in self.findings) if self.findings else Verdict.WARN

    @property
    def checked(self) -> bool:
        """Whether any rule was decided at all."""
        return any(f.decided for f in self.findings)

    @property
    def counts(self) -> dict[str, int]:
        """How many findings of each verdict, "pass", "warn" and "fail"; those not decided are among the warnings."""
        out = dict.fromkeys(map(str, Verdict), 0)
        for finding in self.findings:
            out[finding.verdict] += 1
        return out

    @property
    def undecided(self) -> int:
        """How many of the warnings are there because facts are missing or nobody has looked yet."""
        return sum(not f.decided for f in self.findings)

    def of(self, rule: str) -> tuple[Finding, ...]:
        """The findings of one rule; none where it does not apply.

        Raises:
            KeyError: when the report knows no such rule, with the nearest that it does.
        """
        known = {f.rule for f in self.findings} | {a.rule for a in self.not_applicable}
        if rule not in known:
            raise KeyError(f'no rule is called "{rule}"; {nearest(rule, sorted(known))}')
        return tuple(f for f in self.findings if f.rule == rule)


def ordered(findings: list[Finding]) -> tuple[Finding, ...]:
    """Findings with what must change first; the order within a verdict is kept."""
    return tuple(sorted(findings, key=lambda f: -f.verdict.severity))
