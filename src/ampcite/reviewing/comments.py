"""What a reviewer writes of a house: one comment for each cause, with the cure; what is missing; what to look at."""

from __future__ import annotations

import copy
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import attrs

from ampcite.base.errors import ArgumentError, InputError, nearest, short, wrong_argument
from ampcite.base.stages import STAGES, is_later
from ampcite.engine.check import check
from ampcite.engine.findings import Clause, Finding, Report
from ampcite.engine.rulebook import Rulebook
from ampcite.house.belonging import NOT_BELONGING
from ampcite.house.change import LEFT_OUT, change
from ampcite.house.part_types import place_field
from ampcite.house.parts import Description
from ampcite.house.read import read
from ampcite.language.logic import Verdict, worst
from ampcite.reviewing.subjects import rules_about
from ampcite.reviewing.words import asked, cure_words, listed_parts, owners

if TYPE_CHECKING:
    from ampcite.law.changes import Change
    from ampcite.reviewing.bench import Answers, Bench
    from ampcite.reviewing.cures import Cure


@attrs.frozen
class Comment:
    """Findings with one cause.

    Attributes:
        findings: what it rests on, the gravest first; several, where one change cures them or where several parts have
            the same fault.
        parts: what the parts are called that it is about, in the order of the description.
        cure: what would settle it, in words.
        changes: JSON Pointer to value: the same as changes of the description; none where it was not tried.
        drops: JSON Pointers of what the description then has to leave out, because it can't belong any more.
        follows: what rules then ask that was in order before: the changes clear the findings, but more has to follow.
    """

    findings: tuple[Finding, ...]
    parts: tuple[str, ...]
    cure: str
    changes: Mapping[str, Any] = attrs.Factory(dict)
    drops: tuple[str, ...] = ()
    follows: tuple[str, ...] = ()

    @property
    def settles(self) -> bool:
        """Whether the cure was tried: it clears every finding of this comment and makes nothing else worse."""
        return bool(self.changes) and not self.follows

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
        of: the parts or models it is of, by id; "" for the whole.
        waiting: how many findings lack it, those listed with other facts included.
    """

    findings: tuple[Finding, ...]
    places: tuple[str, ...]
    asked: str
    of: str
    waiting: int


@attrs.frozen
class Review:
    """A report and what a reviewer writes of it. Every finding that is not a pass stands in exactly one place.

    Attributes:
        report: what every rule answered.
        stage: the stage the job is at; "" where nobody says.
        subjects: those it was asked about; none for all.
        comments: what must change, then what is advised, each with its cure.
        missing: what nobody has stated, that most rules wait for first.
        unbegun: what the description does not speak of at all, the same.
        looks: questions for a person on site.
        later: stage to what can't be known before it.
    """

    report: Report
    stage: str
    subjects: tuple[str, ...]
    comments: tuple[Comment, ...]
    missing: tuple[Missing, ...]
    unbegun: tuple[Missing, ...]
    looks: tuple[Finding, ...]
    later: Mapping[str, tuple[Finding, ...]]


def review(rulebook: Rulebook, description: Description, *, stage: str = "", subjects: Iterable[str] = ()) -> Review:
    """Checks a description, and puts what was found as a reviewer would: by cause, with cures that have been tried.

    Args:
        rulebook: from :func:`ampcite.load`.
        description: from :func:`ampcite.read`.
        stage: the stage the job is at, where it is another than the description says: "design", "plan review",
            "rough", "final" or "handover". What can't be known by then is put apart.
        subjects: subjects of :data:`ampcite.reviewing.subjects.SUBJECTS` or families of rules; by default those
            that the description names, else all.

    Raises:
        ArgumentError: when an argument is something else, or names no stage or no subject.
    """
    if not isinstance(rulebook, Rulebook):
        raise wrong_argument("review takes a rulebook from load", rulebook)
    if not isinstance(description, Description):
        raise wrong_argument("review takes a description from read", description)
    description = at_stage(description, stage)
    now, asked = description.stage, tuple(subjects) or description.subjects
    report = check(rulebook, description, rules=rules_about(rulebook.bound, asked) if asked else None)
    decided = [f for f in report.not_passed if f.decided]
    open_ = [f for f in report.not_passed if not f.decided]
    later = {one: tuple(f for f in open_ if f.stage == one) for one in STAGES if is_later(one, now)}
    open_ = [f for f in open_ if not is_later(f.stage, now)]
    missing = tuple(_missing([f for f in open_ if not f.asks], report.part_ids))
    return Review(
        report=report,
        stage=now or "",
        subjects=asked,
        comments=tuple(_comments(rulebook, description, decided)) if decided else (),
        missing=tuple(one for one in missing if not _unbegun(one)),
        unbegun=tuple(one for one in missing if _unbegun(one)),
        looks=tuple(f for f in open_ if f.asks),
        later={one: found for one, found in later.items() if found},
    )


def at_stage(description: Description, stage: str) -> Description:
    """A description of a job that is at another stage; the same where "" is given.

    Raises:
        ArgumentError: when there is no such stage.
    """
    if not stage:
        return description
    if stage not in STAGES:
        raise ArgumentError(f"no stage is called {short(stage)}; {nearest(str(stage), STAGES)}")
    return read({**description.document, "stage": stage}, description.source, description.catalogue)


def _comments(rulebook: Rulebook, description: Description, findings: Sequence[Finding]) -> Iterable[Comment]:
    from ampcite.reviewing.bench import Bench
    from ampcite.reviewing.cures import Search

    bench = Bench(rulebook, description)
    by_key = {(f.rule, f.about): f for f in findings}
    before = bench.whole(description.document)
    left, out = dict(by_key), list[Comment]()
    for group in _merged(Search(bench, findings).cures()):
        group.sort(key=lambda cure: cure.steps[0].place[0].number)
        keys = {key for cure in group for key in cure.clears}
        tried = _tried(bench, group, [f for key, f in by_key.items() if key in keys])
        comment = _settling(bench, description.document, tried, before)
        if comment is not None:
            out.append(comment)
            left = {key: f for key, f in left.items() if key not in keys}
    out += _same_fault(left.values())
    order = {id(f): i for i, f in enumerate(findings)}
    return sorted(out, key=lambda c: (c.verdict is not Verdict.FAIL, min(order[id(f)] for f in c.findings)))


def _settling(bench: Bench, document: Mapping[str, Any], comment: Comment, before: Answers) -> Comment | None:
    """A comment whose changes, made to the description itself and checked again in whole, do what they should."""
    after: Answers | None = None
    while after is None:
        try:
            after = bench.whole(applied(document, comment.changes, comment.drops))
        except KeyError:
            return None
        except InputError as fault:
            drops = tuple(c.place for c in fault.complaints if c.message.endswith(NOT_BELONGING))
            if len(drops) < len(fault.complaints) or not set(drops) - set(comment.drops):
                return None
            comment = attrs.evolve(comment, drops=(*comment.drops, *drops))
    cleared = not any((f.rule, f.about) in after for f in comment.findings)
    worse = any(bad > before.get(key, 0) for key, bad in after.items())
    return comment if cleared and (comment.follows or not worse) else None


def _tried(bench: Bench, group: Sequence[Cure], findings: Sequence[Finding]) -> Comment:
    changes = {s.pointer: s.value.said for cure in group for s in cure.steps}
    for (part, path), was in (one for cure in group for one in bench.entailed(cure.changes).items()):
        changes[part.where(path)] = was
    parts = dict.fromkeys(s.place[0].label for cure in group for s in cure.steps[:1])
    titles = {rule: bench.rulebook.bound.rules[bench.machine.by_id[rule]].title
              for cure in group for rule, _ in sorted(cure.follows)}  # fmt: skip
    words = cure_words(bench, group, findings)
    return Comment(tuple(findings), tuple(parts), words, changes, follows=tuple(titles.values()))


def _merged(cures: Sequence[Cure]) -> list[list[Cure]]:
    """Cures that change the same fields of several parts to the same values for the same rules, together."""
    groups: list[list[Cure]] = []
    for cure in cures:
        for group in groups:
            same = bool(cure.follows) == bool(group[0].follows)
            if same and _pattern(cure) == _pattern(group[0]) and _rules(cure) & _rules(group[0]):
                group.append(cure)
                break
        else:
            groups.append([cure])
    return groups


def _pattern(cure: Cure) -> Any:
    return [(s.place[0].kind, s.place[1], repr(s.value.said)) for s in cure.steps]


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


def _missing(findings: Sequence[Finding], part_ids: Mapping[str, str]) -> Iterable[Missing]:
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
        yield Missing(tuple(here), places, asked(places[0]), owners(places, part_ids), waiting[fact])
        left = [f for f in left if fact not in general[id(f)]]
    for f in left:
        yield Missing((f,), (), f.note, "", 1)


def _unbegun(missing: Missing) -> bool:
    """Whether what is missing is no single fact, but a list or an object that is not there at all."""
    return bool(missing.places) and place_field(missing.places[0]) is None


def _any_place(pointer: str) -> str:
    return "/".join("*" if step.isdigit() else step for step in pointer.split("/"))


def applied(document: Mapping[str, Any], changes: Mapping[str, Any], drops: Iterable[str] = ()) -> dict[str, Any]:
    """A description with changes put in and facts left out. The one that was given is left as it was."""
    out = dict(document)
    for pointer, value in changes.items():
        out = _claimed(out, pointer, value) if pointer.startswith("/claims/") else change(out, pointer, value)
    for pointer in drops:
        out = change(out, pointer, LEFT_OUT)
    return out


def _claimed(document: Mapping[str, Any], pointer: str, value: Any) -> dict[str, Any]:
    """A description whose claim says something else."""
    out: dict[str, Any] = copy.deepcopy(dict(document))
    *steps, last = (step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:])
    here: Any = out
    for step in steps:
        here = here[int(step)] if isinstance(here, list) else here[step]
    here[last] = value
    return out
