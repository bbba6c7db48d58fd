"""The report as plain text: what must change first, readable without colour, cautions last."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator

from ampcite.base.editions import CODES, codes_in_words
from ampcite.engine.findings import Finding, NotApplicable, Report
from ampcite.house.part_types import place_field, place_title
from ampcite.language.logic import Verdict
from ampcite.language.units import unit_words
from ampcite.language.wording import fine, sentence

WIDTH = 100


def write(report: Report, every: bool) -> str:
    """The report in words; with ``every``, passes are written out and what does not apply is listed."""
    return "\n".join(_lines(report, every)) + "\n"


def _lines(report: Report, every: bool) -> Iterator[str]:
    fails = _alike(f for f in report.findings if f.verdict is Verdict.FAIL)
    asked = [f for f in report.findings if f.asks]
    open_ = [f for f in report.findings if not f.decided and not f.asks]
    warns = _alike(f for f in report.findings if f.verdict is Verdict.WARN and f.decided)
    passes = [f for f in report.findings if f.verdict is Verdict.PASS]
    yield f"{report.source}, checked against {codes_in_words(report.editions)}"
    for sentence_ in report.law:
        yield from _wrap(sentence_, "  ")
    for code, words in CODES.items():
        if code not in report.editions:
            yield f"The edition of the {words} is not stated; their rules were not asked."
    yield _summary(fails, warns, asked, open_, passes, len(report.not_applicable))
    if fails:
        yield from _head("Must change")
        yield from _findings(fails, 1)
    if warns:
        yield from _head("Should be looked at")
        yield from _findings(warns, 1 + len(fails))
    if open_:
        yield from _head("Can't be decided yet, and so not passed")
        yield from _open(open_)
    if asked:
        yield from _head("To be looked at on site, by a qualified person")
        yield from _questions(asked)
    yield from _head("Kept")
    if every:
        yield from _findings(_alike(passes), 1 + len(fails) + len(warns))
    else:
        yield from _kept(passes)
    if every and report.not_applicable:
        yield from _head("Does not apply")
        yield from _aside(report)
    changes = sorted(dict.fromkeys(c for f in report.findings for c in f.local), key=lambda c: c.effect != "looser")
    if changes:
        yield from _head("Local law that counted here, relaxations first")
        for change in changes:
            yield from _wrap(f"- {change}.", "  ")
    if report.unread:
        yield from _head("Described, but read by no rule")
        yield from _wrap(", ".join(report.unread), "")
    yield from _head("Read this with care")
    for caution in report.cautions:
        yield from _wrap(f"- {caution}", "  ")
    yield from _wrap("Packs: " + "; ".join(f"{p.name} {p.version} ({p.digest[:12]})" for p in report.packs), "  ")


_Alike = list[list[Finding]]


def _alike(findings: Iterable[Finding]) -> _Alike:
    """Findings that say the same of the same part, together."""
    same: dict[tuple[str, str], list[Finding]] = {}
    for f in findings:
        same.setdefault((f.about, f.note), []).append(f)
    return list(same.values())


def _summary(fails: _Alike, warns: _Alike, asked: list[Finding], open_: list[Finding], passes: list[Finding],
             aside: int) -> str:  # fmt: skip
    if not (fails or warns or passes):
        return f"Nothing was checked: no rule could be decided ({len(open_)} lack facts, {aside} do not apply)"
    verdict = "FAIL" if fails else "WARN" if warns or open_ or asked else "PASS"
    questions = f"{len(asked)} to be seen on site, " if asked else ""
    return (f"{verdict}: {len(fails)} must change, {len(warns)} to look at, {len(open_)} can't be decided yet, "
            f"{questions}{len(passes)} kept, {aside} do not apply")  # fmt: skip


def _head(text: str) -> Iterator[str]:
    yield ""
    yield text
    yield "-" * len(text)


def _findings(groups: _Alike, first: int) -> Iterator[str]:
    for number, (f, *others) in enumerate(groups, first):
        yield from _wrap(f"{number}. {f.verdict.upper()}  {f.note}", "   ")
        for one in (f, *others):
            yield from _wrap(f"Rule: {one.title} ({one.rule})", "     ", "   ")
        clauses = dict.fromkeys(str(c) for one in (f, *others) for c in one.citations)
        yield from _wrap(f"Clause: {'; '.join(clauses)}", "     ", "   ")
        for change in dict.fromkeys(c for one in (f, *others) for c in one.local):
            yield from _wrap(f"Local law: {change}.", "     ", "   ")
        for i, line in enumerate(dict.fromkeys(line for one in (f, *others) for line in one.worked)):
            yield from _wrap(line, "           ", "   Worked: " if i == 0 else "           ")
        if f.margin is not None and f.margin[0] != 0:
            word = "Room left" if f.verdict is Verdict.PASS else "Off the limit by"
            yield f"   {word}: {_figure(abs(f.margin[0]))}{unit_words(f.margin[1])}"
        for remedy in dict.fromkeys(one.remedy for one in (f, *others) if one.remedy):
            yield from _wrap(f"Cure: {remedy}", "     ", "   ")
        yield ""


def _questions(findings: list[Finding]) -> Iterator[str]:
    for f in findings:
        yield from _wrap(f"- {f.asks} ({'; '.join(str(c) for c in f.citations)})", "  ")


def _aside(report: Report) -> Iterator[str]:
    by_rule: dict[tuple[str, str], list[NotApplicable]] = {}
    for aside in report.not_applicable:
        by_rule.setdefault((aside.rule, aside.why), []).append(aside)
    for (rule, why), asides in by_rule.items():
        first = asides[0]
        more = f" and {len(asides) - 1} more" if len(asides) > 1 else ""
        said = f"not for {first.label}{more}; it is for {why}" if first.label else why
        clauses = f" ({'; '.join(str(c) for c in first.citations)})" if first.citations else ""
        yield from _wrap(f"- {rule}: {said}{clauses}", "    ", "  ")


def _figure(value: float) -> str:
    return fine(float(f"{value:.5g}"))


def _open(findings: list[Finding]) -> Iterator[str]:
    """What to state, grouped by what is missing, the same fact of many parts once."""
    by_need: dict[tuple[str, ...], list[Finding]] = {}
    for f in findings:
        by_need.setdefault(tuple(dict.fromkeys(map(_any_place, f.missing))) or (f.note,), []).append(f)
    for need, group in sorted(by_need.items(), key=lambda item: -len(item[1])):
        if group[0].missing:
            places = {p: None for f in group for p in f.missing}
            yield from _wrap("- State " + ", ".join(_fact(general, places) for general in need), "  ")
        else:
            yield from _wrap(f"- {group[0].note}", "  ")
        yield from _wrap("for: " + "; ".join(dict.fromkeys(f.title for f in group)), "    ", "  ")


def _any_place(pointer: str) -> str:
    return re.sub(r"/[0-9]+(?=/|$)", "/*", pointer)


def _fact(general: str, places: Iterable[str]) -> str:
    """A missing fact by name, with its place, or how many places lack it."""
    here = [p for p in places if _any_place(p) == general]
    field = place_field(here[0])
    words = f"{place_title(here[0])} ({here[0] if len(here) == 1 else f'{general}, {len(here)} places'})"
    if field is None:
        return words
    if field.choices and len(field.choices) <= 8:
        return f"{words}: {', '.join(chr(34) + str(c) + chr(34) for c in field.choices)}"
    return f"{words}: true or false" if field.kind == "flag" else words


def _kept(passes: list[Finding]) -> Iterator[str]:
    by_family: dict[str, dict[str, int]] = {}
    for f in passes:
        titles = by_family.setdefault(f.family, {})
        titles[f.title] = titles.get(f.title, 0) + 1
    for family, titles in by_family.items():
        yield f"{sentence(family)}:"
        for title, count in titles.items():
            yield from _wrap(f"- {title}" + (f" ({count} times)" if count > 1 else ""), "    ", "  ")
    if not passes:
        yield "Nothing yet."


def _wrap(text: str, later: str, first: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=later, break_on_hyphens=False,
                         break_long_words=False)  # fmt: skip
