"""Many reports as JSON Lines after ``schemas/report-lines.schema.json``: what they share, then a line for each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ampcite.base.resources import own_version
from ampcite.engine.findings import CAUTIONS
from ampcite.report.as_json import Tables, body, encode, refusal
from ampcite.report.entries import Detail, Entry, Refused, report_of

LINES = "https://ampcite.invalid/schemas/1.0/report-lines.schema.json"
COMMENTS = False
UTF_8 = True


def write(entries: Iterable[Entry], detail: Detail) -> Iterator[str]:
    """The line of what the others share, then theirs."""
    tables = Tables()
    lines = [_line(entry, detail, tables) for entry in entries]
    head = {"schema": LINES, "ampcite": own_version(), **tables.as_dict(), "cautions": CAUTIONS}
    yield from (f"{line}\n" for line in [encode(lambda _: head), *lines])


def _line(entry: Entry, detail: Detail, tables: Tables) -> str:
    if isinstance(entry, Refused):
        return refusal(entry)
    return encode(lambda number: body(report_of(entry), detail, tables, number))
