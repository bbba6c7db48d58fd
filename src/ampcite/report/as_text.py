"""A review as plain text: the first page says what must change; readable without colour and aloud."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from ampcite.base.editions import CODES, codes_in_words
from ampcite.base.stages import STAGES
from ampcite.engine.findings import Finding, NotApplicable, Report
from ampcite.language.logic import Verdict
from ampcite.language.printing import fine, sentence
from ampcite.language.units import unit_words
from ampcite.report import batch
from ampcite.report.entries import Detail, Entry
from ampcite.reviewing.comments import Comment, Missing, Review
from ampcite.reviewing.telling import heading, notes, telling

WIDTH = 100
STRING_LIMITS = "string voltage"
"""The family of rules whose answers about strings are the limits that a designer asks for first."""


COMMENTS = True
UTF_8 = False


def write(entries: Iterable[Entry], detail: Detail) -> Iterator[str]:
    """Each submission in words; after several, a line for each."""
    lines, before = [], ""
    for entry in entries:
        lines.append(batch.line(entry))
        if isinstance(entry, Review):
            yield before + to_text(entry, detail.passes)
            before = "\n"
    if len(lines) > 1:
        yield before + batch.write(lines)


def to_text(review: Review, every: bool) -> str:
    """The review in words; with ``every``, passes are written out and what does not apply is listed."""
    return "\n".join(_lines(review, every)) + "\n"


def _lines(review: Review, every: bool) -> Iterator[str]:
    report = review.report
    yield from _top(review)
    yield from _section("Limits", _limits(review))
    must = [c for c in review.comments if c.verdict is Verdict.FAIL]
    advice = [c for c in review.comments if c.verdict is not Verdict.FAIL]
    yield from _section("Must change", _comments(report, must, 1))
    yield from _section("Advice", _comments(report, advice, 1 + len(must)))
    yield from _section("Not stated, and so not passed; what most answers wait for comes first",
                        _missing(review.missing, 1 + len(review.comments)))  # fmt: skip
    yield from _section("Not described at all", _unbegun(review.unbegun))
    yield from _section("To be looked at on site, by a qualified person", _looks(review.looks))
    for stage, findings in review.later.items():
        yield from _section(f"To be checked at {stage}", _later(findings, every))
    if every:
        yield from _section("Kept", _passes(report.passes))
        yield from _section("Does not apply", _aside(report.not_applicable))
    told = {change for comment in review.comments for change in comment.local}
    changes = sorted(dict.fromkeys(c for f in report.findings for c in f.local if c not in told),
                     key=lambda c: c.effect != "looser")  # fmt: skip
    yield from _section(f"Local law that {'also ' if told else ''}counted here, relaxations first",
                        (line for c in changes for line in _wrap(f"- {c}.", "  ")))  # fmt: skip
    yield ""
    if report.passes and not every:
        kept = f"Kept: {len(report.passes)} answers; with --every they are written out, with their figures."
        yield from _wrap(kept, "  ")
    if report.unread:
        yield from _wrap(f"Described, but read by no rule: {', '.join(report.unread)}.", "  ")
    yield from _wrap("Packs: " + "; ".join(f"{p.name} {p.version} ({p.digest[:12]})" for p in report.packs), "  ")


def _top(review: Review) -> Iterator[str]:
    """Which submission, by which law, with what outcome; and what this is not."""
    report, project = review.report, review.report.project
    names = [project.name, project.address, f"revision {project.revision}" if project.revision is not None else ""]
    if any(names):
        yield from _wrap(sentence(", ".join(n for n in names if n)), "")
    stage = f", at {review.stage}" if review.stage else ""
    stage += f", on {' and '.join(review.subjects)} only" if review.subjects else ""
    yield from _wrap(f"{report.source}, checked against {codes_in_words(report.editions)}{stage}", "  ")
    for sentence_ in report.law:
        yield from _wrap(sentence_, "  ")
    for code, words in CODES.items():
        if code not in report.editions:
            yield f"The edition of the {words} is not stated; their rules were not asked."
    yield ""
    yield from _wrap(_outcome(review), "")
    yield ""
    for caution in report.cautions:
        yield from _wrap(caution, "  ", "  ")


def _outcome(review: Review) -> str:
    report = review.report
    must = sum(1 for c in review.comments if c.verdict is Verdict.FAIL)
    advice = len(review.comments) - must
    waiting = sum(len(m.findings) for m in (*review.missing, *review.unbegun))
    parts = []
    if must:
        parts.append(_times(must, "comment must be settled", "comments must be settled"))
    if advice:
        parts.append(_times(advice, "gives advice", "give advice"))
    if waiting:
        facts = _times(len(review.missing) + len(review.unbegun), "thing is not stated", "things are not stated")
        parts.append(f"{facts}, for which {_times(waiting, 'answer waits', 'answers wait')}")
    if review.looks:
        parts.append(_times(len(review.looks), "thing is to be seen on site", "things are to be seen on site"))
    later = sum(map(len, review.later.values()))
    if later:
        parts.append(_times(later, "answer belongs to a later stage", "answers belong to later stages"))
    parts.append(_times(len(report.passes), "answer is a pass", "answers are passes"))
    if report.to_state:
        parts.append(_times(len(report.to_state), 'value is still marked "?"', 'values are still marked "?"'))
    if report.taken_over:
        parts.append(_times(len(report.taken_over), "value is still the example's", "values are still the example's"))
    if not report.checked:
        head = "NOTHING WAS CHECKED: no rule could be decided."
    elif must:
        head = "FAIL: it can't be accepted as it is."
    elif waiting or review.looks:
        head = "WARN: nothing fails, but not everything could be decided, so this is not a pass."
    elif report.taken_over:
        head = "WARN: nothing fails, but it is not yet this house that was described, so this is not a pass."
    elif advice:
        head = "WARN: nothing fails; advice is given."
    elif later:
        head = f"PASS as far as it can be known at {review.stage}."
    else:
        head = "PASS: every rule that applies is kept."
    return f"{head} {sentence('; '.join(parts))}."


def _times(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _section(title: str, lines: Iterable[str]) -> Iterator[str]:
    first = True
    for line in lines:
        if first:
            yield from ("", title, "-" * len(title))
            first = False
        yield line


def _comments(report: Report, comments: Sequence[Comment], first: int) -> Iterator[str]:
    for number, comment in enumerate(comments, first):
        if number > first:
            yield ""
        about = heading(report, comment.findings, comment.parts, comment.changes)
        yield from _wrap(f"{number}. {about}", "   ")
        for note in notes(comment.findings):
            yield from _wrap(note, "   ", "   ")
        for line in telling(comment.findings[0].worked):
            yield from _wrap(line, "       ", "     ")
        yield from _wrap(f"Clause: {'; '.join(dict.fromkeys(map(str, comment.citations)))}.", "           ", "   ")
        for change in comment.local:
            yield from _wrap(f"Local law: {change}.", "           ", "   ")
        tried = ""
        if comment.changes:
            number_of = len(comment.findings)
            these = "this" if number_of == 1 else "both findings" if number_of == 2 else f"all {number_of} findings"
            rest = f", but more has to follow: {'; '.join(comment.follows)}" if comment.follows else ""
            rest = rest or " and breaks nothing"
            tried = f" (Tried: it settles {these}{rest}.)"
        yield from _wrap(f"Cure: {comment.cure}{tried}", "         ", "   ")


def _missing(missing: Sequence[Missing], first: int) -> Iterator[str]:
    """What is missing, numbered; what one answer alone waits for, together for each part."""
    alone: dict[str, list[Missing]] = {}
    for one in missing:
        if one.waiting == 1 and one.places:
            alone.setdefault(one.of, []).append(one)
    number = first
    for one in missing:
        of = f" of {one.of}" if one.of else ""
        if not one.places:
            yield from _wrap(f"{number}. {one.asked}", "    ")
        elif one.waiting > 1:
            yield from _wrap(f"{number}. State {one.asked}{of}; {one.waiting} answers wait for it.", "    ")
        elif one is alone[one.of][0]:
            facts = "; ".join(other.asked for other in alone[one.of])
            said = f"State {facts}{of}; 1 answer waits for it"
            if len(alone[one.of]) > 1:
                said = f"State{of}: {facts}; 1 answer waits for each"
            yield from _wrap(f"{number}. {said}.", "    ")
        else:
            continue
        number += 1


def _limits(review: Review) -> Iterator[str]:
    """Of a design, what its strings leave to their limits: what a designer asks first."""
    if review.stage != STAGES[0] or review.comments:
        return
    limits = [f for f in review.report.passes
              if f.family == STRING_LIMITS and f.margin is not None and f.about.startswith("/strings")]  # fmt: skip
    for note in notes(limits):
        yield from _wrap(f"- {note}", "  ")


def _unbegun(missing: Sequence[Missing]) -> Iterator[str]:
    for one in missing:
        waits = _times(one.waiting, "answer waits", "answers wait")
        yield from _wrap(f"- No word on {one.asked} ({waits}).", "  ")


def _later(findings: Sequence[Finding], every: bool) -> Iterator[str]:
    titles: dict[str, dict[str, None]] = {}
    for f in findings:
        titles.setdefault(f.family, {})[f.asks or f.title] = None
    if not every:
        yield from _wrap("; ".join(f"{family}: {len(found)}" for family, found in titles.items()) + ".", "")
        return
    for family, found in titles.items():
        yield f"{sentence(family)}:"
        for title in found:
            yield from _wrap(f"- {title}", "    ", "  ")


def _looks(findings: Sequence[Finding]) -> Iterator[str]:
    by_family: dict[str, list[Finding]] = {}
    for f in findings:
        by_family.setdefault(f.family, []).append(f)
    for family, group in by_family.items():
        yield f"{sentence(family)}:"
        for f in group:
            yield from _wrap(f"- {f.asks} ({'; '.join(map(str, f.citations))})", "    ", "  ")


def _passes(passes: Sequence[Finding]) -> Iterator[str]:
    same: dict[tuple[str, str], list[Finding]] = {}
    for f in passes:
        same.setdefault((f.about, f.note), []).append(f)
    for f, *others in same.values():
        yield from _wrap(f"- {f.note}", "  ")
        for one in (f, *others):
            yield from _wrap(f"Rule: {one.title} ({one.rule})", "      ", "    ")
        clauses = dict.fromkeys(str(c) for one in (f, *others) for c in one.citations)
        yield from _wrap(f"Clause: {'; '.join(clauses)}", "      ", "    ")
        for i, line in enumerate(dict.fromkeys(line for one in (f, *others) for line in one.worked)):
            yield from _wrap(line, "            ", "    Worked: " if i == 0 else "            ")
        if f.margin is not None and f.margin[0] > 0:
            yield f"    Room left: {_figure(f.margin[0])}{unit_words(f.margin[1])}"


def _figure(value: float) -> str:
    return fine(float(f"{value:.5g}"))


def _aside(asides: Sequence[NotApplicable]) -> Iterator[str]:
    by_rule: dict[tuple[str, str], list[NotApplicable]] = {}
    for aside in asides:
        by_rule.setdefault((aside.rule, aside.why), []).append(aside)
    for (rule, why), group in by_rule.items():
        first = group[0]
        more = f" and {len(group) - 1} more" if len(group) > 1 else ""
        said = f"not for {first.label}{more}; it is for {why}" if first.label else why
        clauses = f" ({'; '.join(str(c) for c in first.citations)})" if first.citations else ""
        yield from _wrap(f"- {rule}: {said}{clauses}", "    ", "  ")


def _wrap(text: str, later: str, first: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=later, break_on_hyphens=False,
                         break_long_words=False)  # fmt: skip
