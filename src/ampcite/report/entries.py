"""What writers of reports are given: one entry a submission, and how much of it is asked for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple, Protocol

import attrs

from ampcite.base.errors import AmpciteError
from ampcite.engine.findings import Report
from ampcite.reviewing.comments import Review


class Detail(NamedTuple):
    """How much of a report is written.

    Attributes:
        passes: passes in full, not only by rule and part.
        not_applicable: what does not apply, with the reason.
        failures_only: neither warnings nor passes.
    """

    passes: bool = False
    not_applicable: bool = False
    failures_only: bool = False


@attrs.frozen
class Refused:
    """A submission that can't be checked, and why; ``edition`` is the one asked for, where one was."""

    source: str
    fault: AmpciteError
    edition: int | None = None


Entry = Report | Review | Refused


class Writer(Protocol):
    """A module that writes reports.

    Attributes:
        COMMENTS: whether it is given reviews, with comments and cures, which take longer; else it is given reports.
        UTF_8: whether its text is UTF-8 wherever it goes; else it is put into the signs that a terminal has.
    """

    COMMENTS: bool
    UTF_8: bool

    def write(self, entries: Iterable[Entry], detail: Detail) -> Iterator[str]:
        """The text of submissions, in pieces that are written as they come."""
        ...


def report_of(entry: Report | Review) -> Report:
    """The report of a submission that could be checked."""
    return entry if isinstance(entry, Report) else entry.report
