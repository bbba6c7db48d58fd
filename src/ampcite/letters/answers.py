"""The response list that goes with a letter: a line for each item, filled in by the applicant and read back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from ampcite.base.errors import Complaint, InputError, short
from ampcite.base.spreadsheet import as_csv, as_said, as_workbook, rows_of_file
from ampcite.letters.records import Letter
from ampcite.letters.rounds import Answer

COLUMNS = ("item", "discipline", "sheet", "about", "to settle it", "your answer", "changed on sheet")
WIDTHS = (6, 18, 24, 40, 60, 50, 20)


def rows(letter: Letter) -> Iterator[tuple[str, ...]]:
    """A line for each item that has to be answered, the last two columns left to the applicant."""
    for item in letter.must:
        yield str(item.number), item.discipline, item.sheet, item.heading, item.cure, "", ""
    for one in letter.asked:
        yield str(one.number), letter.phrases["information"], "", one.of, one.says, "", ""


def to_csv(letter: Letter) -> str:
    """The list as CSV; no cell is a formula."""
    return as_csv([COLUMNS, *rows(letter)])


def to_xlsx(letter: Letter) -> bytes:
    """The list as a workbook; every cell is text, and the same letter gives the same bytes.

    Raises:
        ModuleNotFoundError: where XlsxWriter is not installed (``pip install 'ampcite[desk]'``).
    """
    return as_workbook(letter.head.title, "answers", [COLUMNS, *rows(letter)], WIDTHS, (5, 6))


def read_answers(path: str | Path) -> dict[int, Answer]:
    """The answers of a response list, CSV or XLSX, by item; lines left blank are no answers.

    Raises:
        InputError: when it can't be read or is no such list, or answers one item twice.
    """
    name, table = str(path), rows_of_file(path)
    head = [cell.strip().lower() for cell in table[0]] if table else []
    lacks = [column for column in ("item", "your answer") if column not in head]
    if lacks:
        raise InputError([Complaint(name, "line 1", f"has no column \"{lacks[0]}\"; keep the list's own columns")])
    places = {column: head.index(column) for column in ("item", "your answer", "changed on sheet") if column in head}
    out: dict[int, Answer] = {}
    complaints = []
    for i, row in enumerate(table[1:], 2):
        said = {column: row[place].strip() if place < len(row) else "" for column, place in places.items()}
        answer = Answer(as_said(said["your answer"]), as_said(said.get("changed on sheet", "")))
        if not answer.says and not answer.sheet:
            continue
        number = said["item"].removesuffix(".0").removesuffix(".")
        if not (number.isascii() and number.isdigit() and len(number) < 8):
            complaints.append(Complaint(name, f"line {i}", f"answers the item {short(said['item'])}; give its number"))
        elif int(number) in out:
            complaints.append(Complaint(name, f"line {i}", f"answers item {number} a second time; keep one line"))
        else:
            out[int(number)] = answer
    if complaints:
        raise InputError(complaints)
    return out
