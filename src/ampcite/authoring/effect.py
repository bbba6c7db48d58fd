"""What a change of law does to descriptions: which verdicts differ between two rulebooks, and by what."""

from __future__ import annotations

from collections.abc import Iterable

import attrs

from ampcite.engine.check import check
from ampcite.engine.findings import Finding, Report
from ampcite.engine.rulebook import Rulebook
from ampcite.house.parts import Description
from ampcite.language.logic import worst
from ampcite.language.printing import fine
from ampcite.language.units import unit_words

NOT_ASKED = "not asked"


@attrs.frozen
class Shift:
    """One verdict that differs.

    Attributes:
        source: the description's file.
        rule, title: the rule.
        label: what a person calls the part it is about.
        before, after: the verdicts under the two sets of law; "not asked" where the rule does not apply or is not
            in force.
        why: the figures, clauses or changes of local law that differ, in words.
    """

    source: str
    rule: str
    title: str
    label: str
    before: str
    after: str
    why: tuple[str, ...]


def shifts(before: Rulebook, after: Rulebook, descriptions: Iterable[Description]) -> list[Shift]:
    """Every verdict that differs between two rulebooks, over descriptions."""
    return [shift for one in descriptions for shift in _of_one(check(before, one), check(after, one))]


def _of_one(before: Report, after: Report) -> Iterable[Shift]:
    first, second = _by_part(before), _by_part(after)
    for key in dict.fromkeys([*first, *second]):
        a, b = first.get(key, ()), second.get(key, ())
        was, now = (worst(f.verdict for f in found).value if found else NOT_ASKED for found in (a, b))
        if was != now:
            some = (a or b)[0]
            yield Shift(before.source, some.rule, some.title, some.label or "the whole system", was, now,
                        tuple(_why(key[0], a, b, before, after)))  # fmt: skip


def _by_part(report: Report) -> dict[tuple[str, str], tuple[Finding, ...]]:
    out: dict[tuple[str, str], tuple[Finding, ...]] = {}
    for f in report.findings:
        out[f.rule, f.about] = (*out.get((f.rule, f.about), ()), f)
    return out


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
