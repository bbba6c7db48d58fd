"""The sheet for the day on site as a page with a form, as CSV, and as a workbook."""

from __future__ import annotations

from collections.abc import Iterator

import attrs

from ampcite.base.spreadsheet import as_csv, as_workbook
from ampcite.desk.handover import FORM
from ampcite.desk.site import DONE, Line, SiteSheet
from ampcite.letters.as_html import template
from ampcite.letters.texts import readable

COLUMNS = ("place", "what", "in order", "unit", "reading", "photo", "mind", "choices", "line")
WIDTHS = (16, 60, 30, 8, 20, 7, 40, 40, 34)


def rows(sheet: SiteSheet) -> Iterator[tuple[str, ...]]:
    """A row for each line; the reading is left blank."""
    for line in sheet.lines:
        choices = ", ".join(line.choices) or {"flag": "yes, no", DONE: "yes"}.get(line.kind, "")
        photo = "photo" if line.photo else ""
        cells = (line.place, line.says, line.expected, line.unit, "", photo, line.caution, choices)
        yield (*(readable(cell) for cell in cells), line.id)


def to_csv(sheet: SiteSheet) -> str:
    """The sheet as CSV; no cell is a formula."""
    return as_csv([COLUMNS, *rows(sheet)])


def to_xlsx(sheet: SiteSheet) -> bytes:
    """The sheet as a workbook of texts; the same sheet gives the same bytes."""
    return as_workbook(readable(sheet.title), "site", [COLUMNS, *rows(sheet)], WIDTHS, (4,))


def to_html(sheet: SiteSheet) -> str:
    """The sheet as a page that prints on a sheet of paper, and is filled in on a phone.

    What is typed is saved as a file of its own. On paper the questions for the eye stand with their names and boxes
    in front, and in full at the back.
    """
    places: dict[str, list[Line]] = {}
    for line in readable(sheet.lines):
        places.setdefault(line.place, []).append(line)
    page: str = template("site.html.j2", "desk").render(
        title=readable(sheet.title), cautions=sheet.cautions, form=FORM, alike=SEEN,
        places=[(place, _tables(lines)) for place, lines in places.items()],
    )  # fmt: skip
    return page


SEEN = ("as required", "not as required")
"""The choices of most questions for the eye, which have a column each."""


@attrs.frozen
class Table:
    """Lines that are drawn together: those of a list as rows, each with the same columns, or one that stands alone.

    Attributes:
        columns: a line of each column; none where ``rows`` holds one line that stands alone.
        rows: what each row is about, and its line in each column; None where there is none.
    """

    columns: tuple[Line, ...]
    rows: tuple[tuple[str, tuple[Line | None, ...]], ...]


def _tables(lines: list[Line]) -> Iterator[Table]:
    lists: dict[str, list[Line]] = {}
    for line in lines:
        lists.setdefault(line.id.rsplit("/", 2)[0] if line.of else line.id, []).append(line)
    for some in lists.values():
        if not some[0].of:
            yield Table((), (("", (some[0],)),))
            continue
        names = list(dict.fromkeys(line.what for line in some))
        rows: dict[str, dict[str, Line]] = {}
        for line in some:
            rows.setdefault(line.id.rpartition("/")[0], {})[line.what] = line
        columns = {line.what: line for line in reversed(some)}
        yield Table(tuple(columns[what] for what in names),
                    tuple((next(iter(row.values())).of, tuple(map(row.get, names))) for row in rows.values()))
