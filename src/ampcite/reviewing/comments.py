"""What a reviewer writes of a house: one comment for each cause, with the cure; what is missing; what to look at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import attrs

from ampcite.base.errors import InputError
from ampcite.engine.check import check
from ampcite.engine.findings import Clause, Finding, Report
from ampcite.engine.rulebook import Rulebook
from ampcite.house.change import change
from ampcite.house.parts import Description
from ampcite.language.logic import Verdict, worst
from ampcite.law.changes import Change
from ampcite.reviewing.bench import Answers, Bench
from ampcite.reviewing.cures import Cure, Search
from ampcite.reviewing.words import asked, cure_words, listed_parts


@attrs.frozen
class Comment:
    """Findings with one cause.

    Attributes:
        findings: what it rests on, the gravest first; several, where one change cures them or where several parts have
            the same fault.
        parts: what the parts are called that it is about, in the order of the description.
        cure: what would settle it, in words.
        changes: JSON Pointer to value: the same as changes of the description; none where it was not tried.
    """

    findings: tuple[Finding, ...]
    parts: tuple[str, ...]
    cure: str
    changes: Mapping[str, Any] = attrs.Factory(dict)

    @property
    def settles(self) -> bool:
        """Whether the cure was tried: it clears every finding of this comment and makes nothing else worse."""
        return bool(self.changes)

    @property
    def verdict(self) -> Verdict:
        """The worst verdict of its findings."""
        return worst(f.verdict for f in self.findings)

    @property
    def citations(self) -> tuple[Clause, ...]:
        """The clauses its findings rest on, each once."""
        return tuple(dict.fromkeys(c for f in self.findings for c in f.citations))

    @property
    def local(self) -> tuple[Change, ...]:
        """What local law changed in them, each once."""
        return tuple(dict.fromkeys(c for f in self.findings for c in f.local))


@attrs.frozen
class Missing:
    """A fact that nobody has stated, and the findings that wait for it.

    Attributes:
        findings: those that are listed with this fact; each stands with the one of its facts that most wait for.
        places: JSON Pointers of the fact, of every part that lacks it.
        asked: what to state, in words.
        waiting: how many findings lack it, those listed with other facts included.
    """

    findings: tuple[Finding, ...]
    places: tuple[str, ...]
    asked: str
    waiting: int


@attrs.frozen
class Review:
    """A report and what a reviewer writes of it. Every finding that is not a pass stands in exactly one place.

    Attributes:
        report: what every rule answered.
        comments: what must change, then what is advised, each with its cure.
        missing: what nobody has stated, that most rules wait for first.
        looks: questions for a person on site.
    """

    report: Report
    comments: tuple[Comment, ...]
    missing: tuple[Missing, ...]
    looks: tuple[Finding, ...]


def review(rulebook: Rulebook, description: Description) -> Review:
    """Checks a description, and puts what was found as a reviewer would: by cause, with cures that have been tried.

    Args:
        rulebook: from :func:`ampcite.load`.
        description: from :func:`ampcite.read`.
    """
    report = check(rulebook, description)
    open_ = report.not_passed
    decided = [f for f in open_ if f.decided]
    comments = tuple(_comments(rulebook, description, decided)) if decided else ()
    looks = tuple(f for f in open_ if not f.decided and f.asks)
    missing = tuple(_missing([f for f in open_ if not f.decided and not f.asks]))
    return Review(report, comments, missing, looks)


def _comments(rulebook: Rulebook, description: Description, findings: Sequence[Finding]) -> Iterable[Comment]:
    bench = Bench(rulebook, description)
    by_key = {(f.rule, f.about): f for f in findings}
    before = bench.whole(description.document)
    left, out = dict(by_key), list[Comment]()
    for group in _merged(Search(bench, findings).cures()):
        group.sort(key=lambda cure: cure.steps[0].place[0].number)
        keys = {key for cure in group for key in cure.clears}
        comment = _tried(bench, group, [f for key, f in by_key.items() if key in keys])
        if _settles(bench, description.document, comment, before):
            out.append(comment)
            left = {key: f for key, f in left.items() if key not in keys}
    out += _same_fault(left.values())
    order = {id(f): i for i, f in enumerate(findings)}
    return sorted(out, key=lambda c: (c.verdict is not Verdict.FAIL, min(order[id(f)] for f in c.findings)))


def _settles(bench: Bench, document: Mapping[str, Any], comment: Comment, before: Answers) -> bool:
    """Whether a comment's changes, made to the description itself and checked again in whole, do what they should."""
    try:
        after = bench.whole(applied(document, comment.changes))
    except (InputError, KeyError):
        return False
    cleared = not any((f.rule, f.about) in after for f in comment.findings)
    return cleared and all(bad <= before.get(key, 0) for key, bad in after.items())


def _tried(bench: Bench, group: Sequence[Cure], findings: Sequence[Finding]) -> Comment:
    changes = {s.place[0].where(s.place[1]): s.value.said for cure in group for s in cure.steps}
    parts = dict.fromkeys(s.place[0].label for cure in group for s in cure.steps[:1])
    return Comment(tuple(findings), tuple(parts), cure_words(bench, group, findings), changes)


def _merged(cures: Sequence[Cure]) -> list[list[Cure]]:
    """Cures that change the same fields of several parts to the same values for the same rules, together."""
    groups: list[list[Cure]] = []
    for cure in cures:
        for group in groups:
            if _pattern(cure) == _pattern(group[0]) and _rules(cure) & _rules(group[0]):
                group.append(cure)
                break
        else:
            groups.append([cure])
    return groups


def _pattern(cure: Cure) -> Any:
    return [(s.place[0].kind, s.place[1], s.value.fact) for s in cure.steps]


def _rules(cure: Cure) -> set[str]:
    return {rule for rule, _ in cure.clears}


def _same_fault(findings: Iterable[Finding]) -> Iterable[Comment]:
    """Findings for which no cure was found: one comment for all parts of which one rule says the same."""
    same: dict[tuple[str, str], list[Finding]] = {}
    for f in findings:
        same.setdefault((f.rule, f.remedy.replace(f.label, "")), []).append(f)
    for (_, _), group in same.items():
        labels = tuple(dict.fromkeys(f.label for f in group))
        cure = group[0].remedy
        if len(labels) > 1 and labels[0] in cure:
            cure += f" The same for {listed_parts(labels[1:])}."
        yield Comment(tuple(group), labels, cure)


def _missing(findings: Sequence[Finding]) -> Iterable[Missing]:
    """What is missing, that most findings wait for first; each finding with the first of its facts."""
    general = {id(f): tuple(dict.fromkeys(map(_any_place, f.missing))) for f in findings}
    waiting: dict[str, int] = {}
    for facts in general.values():
        for fact in facts:
            waiting[fact] = waiting.get(fact, 0) + 1
    ranked = sorted(waiting, key=lambda fact: -waiting[fact])
    left = list(findings)
    for fact in ranked:
        here = [f for f in left if fact in general[id(f)]]
        places = tuple(dict.fromkeys(p for f in findings for p in f.missing if _any_place(p) == fact))
        yield Missing(tuple(here), places, asked(places), waiting[fact])
        left = [f for f in left if fact not in general[id(f)]]
    for f in left:
        yield Missing((f,), (), f.note, 1)


def _any_place(pointer: str) -> str:
    return "/".join("*" if step.isdigit() else step for step in pointer.split("/"))


def applied(document: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """A description with changes put in. The one that was given is left as it was."""
    out = dict(document)
    for pointer, value in changes.items():
        out = change(out, pointer, value)
    return out
