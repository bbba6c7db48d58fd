"""Several submissions at once: a line for each, by what came of it, and how many of each there are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

import attrs

from ampcite.base.editions import codes_in_words
from ampcite.engine.findings import Project, Report
from ampcite.language.logic import Verdict
from ampcite.report.entries import Entry, Refused, report_of

FAILS, WARNS, UNDECIDED, PASSES = "fails", "warns", "undecided", "passes"
UNCHECKED, REFUSED = "nothing checked", "can't be used"
_ORDER = (REFUSED, FAILS, UNCHECKED, UNDECIDED, WARNS, PASSES)


@attrs.frozen
class Line:
    """What came of one submission.

    Attributes:
        source: its file, and the edition where several were asked for.
        outcome: one of ``_ORDER``; "passes" only where every rule that applies was decided and passes.
        counts: in words: how many findings of each verdict, those not decided apart.
        project: which submission it is.
    """

    source: str
    outcome: str
    counts: str = ""
    project: Project = attrs.Factory(Project)


def line(entry: Entry) -> Line:
    """The line of a submission."""
    if isinstance(entry, Refused):
        return Line(entry.source + (f", {entry.edition} edition" if entry.edition else ""), REFUSED)
    report, later = report_of(entry), 0 if isinstance(entry, Report) else sum(map(len, entry.later.values()))
    counts, undecided = report.counts, report.undecided
    said = f"{counts['fail']} fail, {counts['warn'] - undecided} warn, {undecided - later} undecided, "
    said += f"{later} for a later stage, {counts['pass']} pass" if later else f"{counts['pass']} pass"
    return Line(f"{report.source}, {codes_in_words(report.editions)}", outcome(report, later), said, report.project)


def outcome(report: Report, later: int = 0) -> str:
    """What came of a submission, in a word or two: what is not decided never looks like a pass.

    Args:
        report: of the submission.
        later: how many of its undecided findings belong to a later stage.
    """
    if not report.checked:
        return UNCHECKED
    if report.verdict is Verdict.FAIL:
        return FAILS
    if report.undecided > later or report.taken_over:
        return UNDECIDED
    return WARNS if any(f.decided for f in report.not_passed) else PASSES


def write(lines: Sequence[Line]) -> str:
    """All submissions, in the order they were given, under how many there are of each outcome."""
    return "\n".join(_lines(lines)) + "\n"


def _lines(lines: Sequence[Line]) -> Iterator[str]:
    found = Counter(one.outcome for one in lines)
    yield f"In all {len(lines)} submissions: " + ", ".join(f"{found[o]} {o}" for o in _ORDER if found[o])
    for one in lines:
        project = one.project
        revision = "" if project.revision is None else f"revision {project.revision}"
        who = ", ".join(text for text in (project.name, project.address, revision, project.stage) if text)
        yield f"  {one.outcome:<17}" + "; ".join(text for text in (one.counts, who, one.source) if text)
