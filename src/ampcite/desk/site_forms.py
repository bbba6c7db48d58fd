"""The sheet for the day on site as a page with a form, as CSV, and as a workbook."""

from __future__ import annotations

from collections.abc import Iterator

import attrs

from ampcite.base.spreadsheet import as_csv, as_workbook
from ampcite.desk.handover import FORM
from ampcite.desk.site import DONE, EYE, Line, SiteSheet
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
    work: dict[str, list[Line]] = {}
    eyes: dict[str, list[tuple[int, Line]]] = {}
    for line in readable(sheet.lines):
        if line.name:
            of = eyes.setdefault(line.place.removeprefix(EYE), [])
            of.append((1 + sum(map(len, eyes.values())), line))
        else:
            work.setdefault(line.place, []).append(line)
    page: str = template("site.html.j2", "desk").render(
        title=readable(sheet.title), cautions=sheet.cautions, form=FORM, short=SHORT,
        places=[(place, tuple(_tables(lines))) for place, lines in work.items()], eyes=tuple(eyes.items()),
    )  # fmt: skip
    return page


SHORT = {"as required": "ok", "not as required": "not", "nothing of the kind": "none"}
"""What most questions for the eye let one choose between, as it is printed beside a box."""


@attrs.frozen
class Table:
    """Lines that are drawn together: those of a list as rows with the same columns, or lines that stand alone.

    Attributes:
        lines: that stand alone.
        columns: a line of each column.
        rows: what each row is about, and its line in each column; None where there is none.
        minds: what to mind in all of them.
    """

    lines: tuple[Line, ...] = ()
    columns: tuple[Line, ...] = ()
    rows: tuple[tuple[str, tuple[Line | None, ...]], ...] = ()
    minds: tuple[str, ...] = ()

    @property
    def flows(self) -> bool:
        """Whether its rows are run on, on paper: what a maker asks stands in them, or words to choose from."""
        return any(line is not None and (line.asked or line.choices) for _, cells in self.rows for line in cells)


def _tables(lines: list[Line]) -> Iterator[Table]:
    lists: dict[str, list[Line]] = {}
    for line in lines:
        lists.setdefault(line.id.rsplit("/", 2)[0] if line.of else line.id, []).append(line)
    for some in lists.values():
        columns = {line.what: line for line in reversed(some)}
        names = list(dict.fromkeys(line.what for line in some))
        if len(names) == 1:
            yield Table(tuple(some))
            continue
        rows: dict[str, dict[str, Line]] = {}
        for line in some:
            rows.setdefault(line.id.rpartition("/")[0], {})[line.what] = line
        yield Table(
            (), tuple(columns[what] for what in names),
            tuple((next(iter(row.values())).of, tuple(map(row.get, names))) for row in rows.values()),
            tuple(dict.fromkeys(line.caution for line in some if line.caution)),
        )  # fmt: skip
