"""One submission of a batch: from its bytes to what the tables say of it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import attrs

from ampcite.api import load
from ampcite.base.errors import AmpciteError, Complaint, InputError
from ampcite.base.stages import is_later
from ampcite.engine.check import check
from ampcite.engine.findings import Finding, Report
from ampcite.engine.rulebook import Rulebook, span
from ampcite.house.parts import Description
from ampcite.house.read import read
from ampcite.law.adoption import Application, law_among, layers_known
from ampcite.law.applied import Law
from ampcite.law.files import content as pack_content
from ampcite.law.files import digest as pack_digest
from ampcite.law.records import Pack
from ampcite.law.registry import chosen_folders, pack_folders
from ampcite.letters.form import Form, form_of
from ampcite.letters.texts import readable
from ampcite.reviewing.words import asked

CLEAN, ADVICE, UNDECIDED, CORRECT, UNUSABLE = "clean", "advice", "undecided", "to correct", "unusable"
OUTCOMES = (CORRECT, UNDECIDED, ADVICE, CLEAN, UNUSABLE)
"""What can come of a submission, in the order that a summary lists it."""

MOST_REASONS = 5
MOST_TEXT = 4000
"""So many complaints, and characters of a text, a table repeats."""

MOST_VALUES = 50_000
"""A submission of more values is set aside: a whole house has 3000, and to say what is wrong with each takes time."""

FORM = 2
"""The form in which results are kept; another number, where that changes, so that none of the old form is taken."""

Row = dict[str, Any]


@attrs.frozen
class Task:
    """How the submissions of a batch are checked.

    Attributes:
        stage: of all of them; "" where each says its own. One that says none is taken as at plan review.
        editions: of the codes, where they are not those a submission names.
        packs: names or folders; none for those that apply.
        catalogue: equipment models for all of them.
        version: of this package.
        identity: names everything besides a submission that its result rests on.
        carried: the files of packs that are given by folder or zip, by the pack's name, for workers elsewhere.
    """

    stage: str = ""
    editions: Mapping[str, int] = attrs.Factory(dict)
    packs: tuple[str, ...] = ()
    catalogue: Mapping[str, Any] | None = attrs.field(default=None, eq=False)
    version: str = ""
    identity: str = ""
    carried: Mapping[str, Mapping[str, bytes]] = attrs.Factory(dict)


def carried(task: Task) -> dict[str, dict[str, bytes]]:
    """The packs that are given by folder or zip file, by content."""
    return {name: pack_content(Path(name)) for name in task.packs if "/" in name or Path(name).exists()}


def identity(task: Task) -> str:
    """Everything besides submissions that results rest on: this package, the packs, the catalogue."""
    folders = [*pack_folders().values(), *(chosen_folders(task.packs) if task.packs else ())]
    packs = sorted({pack_digest(pack_content(folder)) for folder in folders})
    catalogue = json.dumps(task.catalogue, sort_keys=True) if task.catalogue is not None else ""
    return hashlib.sha256(repr((FORM, task.version, packs, catalogue)).encode()).hexdigest()


def digest(data: bytes) -> str:
    """SHA-256 of a submission."""
    return hashlib.sha256(data).hexdigest()


def key(task: Task, content: str, name: str, fault: str) -> str:
    """What a result is kept under: everything that it rests on.

    Args:
        content: the digest of the submission.
        name, fault: of one that can't be read, what it is called and why; nothing else is known of it.
    """
    said = json.dumps([task.identity, task.stage, sorted(task.editions.items()), task.packs, content,
                       [name, fault] if fault else []])  # fmt: skip
    return hashlib.sha256(said.encode("ascii")).hexdigest()


def result(task: Task, data: bytes, fault: str = "") -> Row:
    """What the tables say of a submission, its name aside: a row of submissions, and rows of findings under it."""
    if fault or data.count(b",") > MOST_VALUES:
        return unusable(fault or f"holds more than the {MOST_VALUES} values a submission may have")
    try:
        description = read(data, "", task.catalogue)
        rulebook, packs = _rulebook(task, description)
        report = check(rulebook, description)
    except AmpciteError as trouble:
        said = [": ".join(filter(None, (c.place, c.message))) for c in trouble.complaints]
        more = [f"and {len(said) - MOST_REASONS} more faults"] if len(said) > MOST_REASONS else []
        return unusable("; ".join([*said[:MOST_REASONS], *more]))
    except (RecursionError, MemoryError) as trouble:
        return unusable(f"is too large or too deep to be checked ({type(trouble).__name__})")
    form = form_for(str(description.whole.facts.get("codes/jurisdiction", "")), description)
    now = task.stage or description.stage or "plan review"
    findings = [_finding(f, now, form, packs) for f in report.not_passed]
    return _submission(report, description, now, findings) | {"findings": findings}


Ready = tuple[Rulebook, Mapping[str, str]]
"""A rulebook, and the pack of each of its rules."""


def _rulebook(task: Task, description: Description) -> Ready:
    facts = description.whole.facts
    given = bool(task.editions or task.packs)
    editions = {**description.editions, **task.editions}
    where = "" if given else str(facts.get("codes/jurisdiction", ""))
    day = str(facts.get("codes/application_date", ""))
    if not where and "electrical" not in editions:
        raise InputError([Complaint("", "/codes/electrical_edition", "is not given; no edition is named")])
    if where:
        law = law_among(Application(where, facts, description.editions, ""), _layers())
        when = _span(law.layers, law.date)
        rulebook, of = _of_span(tuple(sorted(law.editions.items())), law.layers, when, _Held(law))
        return rulebook.for_law(law.said, law.codes), of
    return _of_editions(tuple(sorted(editions.items())), task.packs, day)


@attrs.frozen(eq=False)
class _Held:
    """What a cache passes on and does not compare."""

    held: Any

    def __hash__(self) -> int:
        return 0

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Held)


@cache
def _layers() -> Mapping[str, Pack]:
    """The layers of local law, as they were when this process began."""
    return layers_known()


@lru_cache(10_000)
def _span(layers: tuple[Path, ...], day: str) -> str:
    return span(layers, day)


@lru_cache(64)
def _of_span(editions: tuple[tuple[str, int], ...], layers: tuple[Path, ...], when: str, law: _Held) -> Ready:
    """The rules of one span of dates; they are the same for every application in it."""
    return _ready(load(law.held))


@lru_cache(64)
def _of_editions(editions: tuple[tuple[str, int], ...], packs: tuple[str, ...], day: str) -> Ready:
    return _ready(load(Law(dict(editions), (), day, ()), [Path(p) if "/" in p else p for p in packs] or None))


def _ready(rulebook: Rulebook) -> Ready:
    return rulebook, {rule.id: rule.pack for rule in rulebook.bound.rules}


def form_for(jurisdiction: str, description: Description) -> Form:
    """The form of letters of a jurisdiction, whose disciplines the tables use."""
    return _form(jurisdiction, _Held(description))


@lru_cache(64)
def _form(jurisdiction: str, held: _Held) -> Form:
    return form_of(held.held)


def _finding(f: Finding, now: str, form: Form, packs: Mapping[str, str]) -> Row:
    return {
        "rule": f.rule, "title": f.title, "family": f.family,
        "discipline": form.discipline(packs.get(f.rule, ""), f.family), "force": f.force,
        "verdict": f.verdict.value, "decided": f.decided, "stage": f.stage,
        "later": not f.decided and is_later(f.stage, now), "part": _text(f.part), "label": _text(f.label),
        "note": _text(f.note), "clauses": "; ".join(map(str, f.citations)), "remedy": _text(f.remedy),
        "missing": _text("; ".join(dict.fromkeys(map(asked, f.missing)))) if f.missing else _text(f.asks),
        "waived": f.waived,
    }  # fmt: skip


def _submission(report: Report, description: Description, now: str, findings: Sequence[Row]) -> Row:
    said = description.whole.facts
    counts = {
        "fails": sum(f["verdict"] == "fail" for f in findings),
        "advice": sum(f["decided"] and f["verdict"] == "warn" for f in findings),
        "undecided": sum(not f["decided"] and not f["later"] for f in findings),
        "later": sum(f["later"] for f in findings), "passes": len(report.passes),
    }  # fmt: skip
    return {
        "outcome": _outcome(report, counts), "reason": None,
        "permit": _fact(said.get("project/permit")), "project": _fact(report.project.name),
        "address": _fact(report.project.address), "contractor": _fact(said.get("project/contractor")),
        "revision": report.project.revision, "stage": now,
        "jurisdiction": _fact(said.get("codes/jurisdiction")),
        "electrical_edition": report.editions.get("electrical"), "building_edition": report.editions.get("building"),
        **counts, "packs": "; ".join(f"{p.name} {p.version} {p.digest[:12]}" for p in report.packs),
    }  # fmt: skip


def _outcome(report: Report, counts: Mapping[str, int]) -> str:
    """What is not decided never looks clean; nor does what is still an example's, or marked as still to be stated."""
    if counts["fails"]:
        return CORRECT
    if not report.checked or counts["undecided"] or report.taken_over or report.to_state:
        return UNDECIDED
    return ADVICE if counts["advice"] else CLEAN


def unusable(reason: str) -> Row:
    """The row of a submission that can't be checked."""
    empty = dict.fromkeys(("permit", "project", "address", "contractor", "revision", "stage", "jurisdiction",
                           "electrical_edition", "building_edition", "packs"))  # fmt: skip
    zeros = dict.fromkeys(("fails", "advice", "undecided", "later", "passes"), 0)
    return {"outcome": UNUSABLE, "reason": _text(reason), **empty, **zeros, "findings": []}


def _fact(value: object) -> str | None:
    return _text(value) if isinstance(value, str) and value else None


def _text(text: str) -> str:
    """A text as a table can hold it."""
    out: str = readable(text)
    return out if len(out) <= MOST_TEXT else out[:MOST_TEXT] + "..."
