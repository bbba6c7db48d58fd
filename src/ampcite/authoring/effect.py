"""What a change of law does to descriptions: which verdicts differ between two rulebooks, by what, and at how many."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import attrs

from ampcite.engine.check import check
from ampcite.engine.findings import Finding, Report
from ampcite.engine.rulebook import Rulebook
from ampcite.house.part_types import place_title
from ampcite.house.parts import Description
from ampcite.language.logic import Verdict, worst
from ampcite.language.printing import fine
from ampcite.language.units import unit_words

NOT_ASKED, OPEN = "not asked", "undecided"
FAILING, RELIEVED, UNDECIDED, OTHER = "newly failing", "newly passing", "newly undecided", "changed, none failing"
KINDS = (FAILING, RELIEVED, UNDECIDED, OTHER)
"""What a change can do to a verdict, the gravest first; the last: newly asked or no longer, without a breach."""


@attrs.frozen
class Shift:
    """One verdict that differs.

    Attributes:
        source: the description's file.
        rule, title: the rule.
        label: what a person calls the part it is about.
        before, after: the verdicts under the two sets of law; "not asked" where the rule does not apply or is not
            in force, "undecided" where the description does not say enough.
        why: the figures, clauses or changes of local law that differ, in words.
        causes: the clauses responsible, each with what it says.
        missing: what the description does not state, in words, where that leaves it undecided.
    """

    source: str
    rule: str
    title: str
    label: str
    before: str
    after: str
    why: tuple[str, ...]
    causes: tuple[str, ...]
    missing: tuple[str, ...] = ()

    @property
    def kind(self) -> str:
        """What it comes to, a word of ``KINDS``."""
        if self.after == Verdict.FAIL or (self.after == Verdict.WARN and self.before != Verdict.FAIL):
            return FAILING
        if self.after == OPEN:
            return UNDECIDED
        return RELIEVED if self.before in (Verdict.FAIL, Verdict.WARN) else OTHER


@attrs.frozen
class Effect:
    """What one clause does to houses.

    Attributes:
        cause: the clause, with what it says.
        houses: by kind of shift, the files of the houses, each with the shifts.
    """

    cause: str
    houses: dict[str, dict[str, tuple[Shift, ...]]]

    def count(self, kind: str) -> int:
        """At how many houses it does something."""
        return len(self.houses.get(kind, {}))


def by_cause(found: Iterable[Shift]) -> list[Effect]:
    """Shifts by the clause responsible: those that break most houses first."""
    table: dict[str, dict[str, dict[str, tuple[Shift, ...]]]] = {}
    for shift in found:
        for cause in shift.causes:
            houses = table.setdefault(cause, {}).setdefault(shift.kind, {})
            houses[shift.source] = (*houses.get(shift.source, ()), shift)
    effects = [Effect(cause, houses) for cause, houses in table.items()]
    return sorted(effects, key=lambda one: ([-one.count(kind) for kind in KINDS], one.cause))


def shifts(before: Rulebook, after: Rulebook, descriptions: Iterable[Description]) -> list[Shift]:
    """Every verdict that differs between two rulebooks, over descriptions."""
    return [shift for one in descriptions for shift in _of_one(check(before, one), check(after, one), before, after)]


def _of_one(before: Report, after: Report, old: Rulebook, new: Rulebook) -> Iterable[Shift]:
    first, second = _by_part(before), _by_part(after)
    for key in dict.fromkeys([*first, *second]):
        a, b = first.get(key, ()), second.get(key, ())
        was, now = map(_said_by, (a, b))
        if was != now:
            some = (a or b)[0]
            why, causes = tuple(_why(key[0], a, b, before, after)), _causes(key[0], a or b, old, new)
            missing = tuple(sorted({place_title(place).removeprefix("the ") for f in b for place in f.missing}))
            yield Shift(before.source, some.rule, some.title, some.label or "the whole system", was, now,
                        why, causes, missing)  # fmt: skip


def _said_by(found: Sequence[Finding]) -> str:
    """What findings about one part come to, in a word."""
    if not found:
        return NOT_ASKED
    verdict = worst(f.verdict for f in found)
    return verdict.value if verdict is not Verdict.WARN or all(f.decided for f in found) else OPEN


def _by_part(report: Report) -> dict[tuple[str, str], tuple[Finding, ...]]:
    out: dict[tuple[str, str], tuple[Finding, ...]] = {}
    for f in report.findings:
        out[f.rule, f.about] = (*out.get((f.rule, f.about), ()), f)
    return out


def _causes(rule: str, found: Sequence[Finding], old: Rulebook, new: Rulebook) -> tuple[str, ...]:
    """The clauses responsible for a difference: those of local law that differ, or else the rule's own."""
    local = [{f"{c.place}: {c.what}: {c.local} here; the model code has {c.model}" for c in effect.changes}
             if (effect := book.bound.local.get(rule)) else set() for book in (old, new)]  # fmt: skip
    if local[0] ^ local[1]:
        return tuple(sorted(local[0] ^ local[1]))
    clause = next((f"{c.work} {c.clause}: " for c in found[0].citations), "")
    return (f"{clause}{found[0].title}",)


def _why(rule: str, a: tuple[Finding, ...], b: tuple[Finding, ...], before: Report, after: Report) -> Iterable[str]:
    for found, report, when in ((a, before, "before"), (b, after, "after")):
        if not found:
            asides = [x.reason for x in report.not_applicable if x.rule == rule]
            yield f"{when}: {asides[0] if asides else 'no such rule'}"
    if a and b:
        for name in sorted(a[0].figures.keys() & b[0].figures.keys()):
            (x, unit), (y, _) = a[0].figures[name], b[0].figures[name]
            if x != y:
                yield f"{name}: {_said(x)}{unit_words(unit)} before, {_said(y)}{unit_words(unit)} after"
        clauses = [", ".join(str(c) for c in found[0].citations) for found in (a, b)]
        if clauses[0] != clauses[1]:
            yield f"clause: {clauses[0]} before, {clauses[1]} after"
    changes = [{str(c) for f in found for c in f.local} for found in (a, b)]
    yield from sorted(changes[0] ^ changes[1])
    yield from sorted({f.waived for f in b if f.waived} - {f.waived for f in a})


def _said(value: float | str) -> str:
    return value if isinstance(value, str) else fine(value)
