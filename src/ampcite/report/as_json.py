"""The report as JSON values, after ``schemas/report.schema.json``."""

from __future__ import annotations

from typing import Any

import attrs

from ampcite.engine.findings import Finding, NotApplicable, Report


def plain(report: Report, version: str) -> dict[str, Any]:
    """The report as JSON values, after ``schemas/report.schema.json``."""
    return {
        "ampcite": version,
        "source": report.source,
        "editions": dict(report.editions),
        "law": list(report.law),
        "verdict": report.verdict.value,
        "counts": report.counts,
        "packs": [attrs.asdict(p) for p in report.packs],
        "findings": [_finding(f) for f in report.findings],
        "unread": list(report.unread),
        "not_applicable": [_aside(a) for a in report.not_applicable],
        "cautions": list(report.cautions),
    }


def _aside(a: NotApplicable) -> dict[str, Any]:
    out: dict[str, Any] = {"rule": a.rule, "about": a.about, "reason": a.reason}
    if a.citations:
        out["clauses"] = [str(c) for c in a.citations]
    return out


def _finding(f: Finding) -> dict[str, Any]:
    out: dict[str, Any] = {
        "rule": f.rule, "title": f.title, "family": f.family, "force": f.force, "verdict": f.verdict.value,
        "about": f.about, "label": f.label, "note": f.note,
        "citations": [{"work": c.work, "edition": c.edition, "clause": c.clause, "read": c.read} for c in f.citations],
        "figures": {name: {"value": value, "unit": unit} for name, (value, unit) in f.figures.items()},
        "worked": list(f.worked),
    }  # fmt: skip
    if f.margin is not None:
        out["margin"] = {"value": f.margin[0], "unit": f.margin[1]}
    if f.remedy:
        out["remedy"] = f.remedy
    if f.missing:
        out["missing"] = list(f.missing)
    if not f.decided:
        out["decided"] = False
    if f.local:
        out["local"] = [attrs.asdict(c) for c in f.local]
    if f.waived:
        out["waived"] = f.waived
    if f.asks:
        out["asks"] = f.asks
    return out
