"""The sheet for the day on site as a page with a form, as CSV, and as a workbook."""

from __future__ import annotations

from collections.abc import Iterator

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
    """The sheet as a page that prints, and is filled in on a phone: what is typed is saved as a file of its own."""
    places: list[tuple[str, list[Line]]] = []
    for line in sheet.lines:
        if not places or places[-1][0] != line.place:
            places.append((line.place, []))
        places[-1][1].append(line)
    page: str = template("site.html.j2", "desk").render(
        title=readable(sheet.title), cautions=sheet.cautions, form=FORM,
        places=[(place, readable(tuple(lines))) for place, lines in places],
    )  # fmt: skip
    return page
