"""A report as JSON, sized for its reader: what is not a pass in full, each rule, clause and part said once."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any

import attrs

from ampcite.base.resources import own_version
from ampcite.engine.findings import Clause, Finding, Project, Report
from ampcite.language.logic import Verdict
from ampcite.report.entries import Detail, Entry, Refused

if TYPE_CHECKING:
    from ampcite.reviewing.comments import Review

try:
    import orjson
except ImportError:  # where there is no build of it, such as in a browser: the same bytes, more slowly
    orjson = None  # type: ignore[assignment]

REPORT = "https://ampcite.invalid/schemas/1.0/report.schema.json"

_Number = Callable[[float | str], Any]
"""What is written for the value of a figure."""


COMMENTS = True
UTF_8 = True


def write(entries: Iterable[Entry], detail: Detail) -> Iterator[str]:
    """One submission as one JSON text, several as a list of them; of one that can't be checked alone, nothing."""
    whole = list(entries)
    texts = [refusal(entry) if isinstance(entry, Refused) else to_json(entry, detail) for entry in whole]
    if len(texts) > 1:
        yield "[" + ",\n".join(texts) + "]\n"
    elif texts and not isinstance(whole[0], Refused):
        yield f"{texts[0]}\n"


def to_dict(report: Report | Review, detail: Detail) -> dict[str, Any]:
    """The report as JSON values, after ``schemas/report.schema.json``; of a review with its comments."""
    out = _whole(report, detail, _same)
    if "passed" in out:
        out["passed"] = {rule: list(ids) for rule, ids in out["passed"].items()}
    return out


def to_json(report: Report | Review, detail: Detail) -> str:
    """The report as a JSON text on one line, after ``schemas/report.schema.json``; of a review with its comments."""
    return encode(lambda number: _whole(report, detail, number))


def refusal(entry: Refused) -> str:
    """Why a submission can't be checked, as a JSON text on one line."""
    complaints = [{"file": c.file, "place": c.place, "message": c.message} for c in entry.fault.complaints]
    return encode(lambda _: {"source": entry.source, "complaints": complaints})


# --- what is said once -------------------------------------------------------------------------------------------


class _Table(dict[Any, int]):
    """Things said once and referred to by number, from 0."""

    def __missing__(self, thing: Any) -> int:
        number = self[thing] = len(self)
        return number


class Tables:
    """What the findings of one report, or of many, share."""

    def __init__(self) -> None:
        self.rules: dict[str, dict[str, Any]] = {}
        self.clauses, self.changes, self.packs = _Table(), _Table(), _Table()

    def as_dict(self) -> dict[str, Any]:
        sources = _Table()
        clauses = [{"clause": c.clause, "source": sources[_source(c)]} for c in self.clauses]
        return {
            "rules": self.rules,
            "clauses": clauses,
            "sources": [
                {"work": work, "edition": edition, "read": read, "standing": standing}
                for work, edition, read, standing in sources
            ],
            "changes": [attrs.asdict(change) for change in self.changes],
            "packs": [{"name": pack.name, "version": pack.version, "digest": pack.digest} for pack in self.packs],
        }


def _source(clause: Clause) -> tuple[str, int, str, str]:
    return clause.work, clause.edition, clause.read, clause.standing


# --- one report --------------------------------------------------------------------------------------------------


def _whole(given: Report | Review, detail: Detail, number: _Number) -> dict[str, Any]:
    tables = Tables()
    review, report = (None, given) if isinstance(given, Report) else (given, given.report)
    found = body(report, detail, tables, number)
    if review is not None:
        found["review"] = _review(review, _shown(report, detail))
    head = {"schema": REPORT, "ampcite": own_version()}
    return {**head, **found, **tables.as_dict(), "cautions": list(report.cautions)}  # packs by name, not by number


def body(report: Report, detail: Detail, tables: Tables, number: _Number) -> dict[str, Any]:
    """What is said of one report alone; what reports share goes into the tables."""
    rules: dict[str, dict[str, Any]] = {}
    parts: dict[str, dict[str, str]] = {}
    findings: list[dict[str, Any]] = []
    for f in _shown(report, detail):
        parts.setdefault(f.part, {"about": f.about, "label": f.label})
        rule = {"title": f.title, "family": f.family, "force": f.force, "second_read": f.second_read,
                "standing": f.standing}  # fmt: skip
        if tables.rules.setdefault(f.rule, rule) != rule:
            rules[f.rule] = rule
        findings.append(_finding(f, tables, number))
    out: dict[str, Any] = {
        "source": report.source,
        "project": _project(report.project),
        "editions": dict(report.editions),
        "law": list(report.law),
        "verdict": report.verdict.value,
        "checked": report.checked,
        "counts": {**report.counts, "undecided": report.undecided, "not_applicable": len(report.not_applicable)},
        "packs": [tables.packs[pack] for pack in report.packs],
        "findings": findings,
        "parts": parts,
    }
    if not (detail.passes or detail.failures_only):
        out["passed"] = dict(report.passed.items())
    if detail.not_applicable:
        out["not_applicable"] = _not_applicable(report, tables)
    if rules:
        out["rules"] = rules
    out |= {key: list(said) for key, said in (("to_state", report.to_state), ("taken_over", report.taken_over)) if said}
    return {**out, "unread": list(report.unread)}


def _project(project: Project) -> dict[str, Any]:
    said = {"name": project.name, "address": project.address, "revision": project.revision, "stage": project.stage}
    return {key: value for key, value in said.items() if value not in ("", None)}


def _shown(report: Report, detail: Detail) -> list[Finding]:
    """The findings that are given in full."""
    least = Verdict.FAIL if detail.failures_only else Verdict.PASS
    return [f for f in (report.findings if detail.passes else report.not_passed) if f.verdict >= least]


def _review(review: Review, shown: Iterable[Finding]) -> dict[str, Any]:
    """What a reviewer makes of the findings, each by its place in the list of those that are given."""
    at = {id(f): i for i, f in enumerate(shown)}

    def places(findings: Iterable[Finding]) -> list[int]:
        return [at[id(f)] for f in findings if id(f) in at]

    comments = [{"findings": places(c.findings), "cure": c.cure, "parts": list(c.parts), "changes": dict(c.changes),
                 "drops": list(c.drops), "follows": list(c.follows)} for c in review.comments]  # fmt: skip
    missing = [{"findings": places(m.findings), "asked": m.asked, "of": m.of, "places": list(m.places)}
               for m in (*review.missing, *review.unbegun)]  # fmt: skip
    return {
        "stage": review.stage,
        "subjects": list(review.subjects),
        "comments": [one for one in comments if one["findings"]],
        "missing": [one for one in missing if one["findings"]],
        "looks": places(review.looks),
        "later": {stage: places(found) for stage, found in review.later.items()},
    }


def _finding(f: Finding, tables: Tables, number: _Number) -> dict[str, Any]:
    out: dict[str, Any] = {
        "rule": f.rule,
        "part": f.part,
        "verdict": f.verdict.value,
        "note": f.note,
        "clauses": [tables.clauses[c] for c in f.citations],
        "figures": {name: {"value": number(value), "unit": unit} for name, (value, unit) in f.figures.items()},
        "worked": list(f.worked),
    }
    if f.margin is not None:
        out["margin"] = {"value": number(f.margin[0]), "unit": f.margin[1]}
    if f.remedy:
        out["remedy"] = f.remedy
    if f.missing:
        out["missing"] = list(f.missing)
    if not f.decided:
        out["decided"] = False
    if f.local:
        out["changes"] = [tables.changes[c] for c in f.local]
    if f.waived:
        out["waived"] = f.waived
    if f.asks:
        out["asks"] = f.asks
    return out


def _not_applicable(report: Report, tables: Tables) -> list[dict[str, Any]]:
    """What does not apply, by rule and reason."""
    groups: dict[tuple[str, str], dict[str, Any]] = {}
    for aside in report.not_applicable:
        group = groups.get((aside.rule, aside.why))
        if group is None:
            reason = f"it is for {aside.why}" if aside.label else aside.why
            group = groups[aside.rule, aside.why] = {"rule": aside.rule, "reason": reason}
            if aside.citations:
                group["clauses"] = [tables.clauses[c] for c in aside.citations]
        if aside.label:
            group.setdefault("parts", []).append(report.part_ids[aside.about])
    return list(groups.values())


# --- numbers and bytes -------------------------------------------------------------------------------------------


def _same(value: float | str) -> Any:
    return value


def _exact(value: float | str) -> Any:
    """A number as Python writes it: the fast encoder writes very small and very large ones in another way."""
    if isinstance(value, str) or not value or 1e-4 <= abs(value) < 1e15:
        return value
    return orjson.Fragment(json.dumps(value))


def encode(make: Callable[[_Number], Any]) -> str:
    """A JSON text on one line; numbers are written as Python writes them, by whatever encoder there is."""
    if orjson is not None:
        try:
            return orjson.dumps(make(_exact)).decode()
        except TypeError:  # half of a surrogate pair, as the name of a file can hold one
            pass
    text = json.dumps(make(_same), ensure_ascii=False, separators=(",", ":"))
    return text.encode("utf-8", "backslashreplace").decode()
