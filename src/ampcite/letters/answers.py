"""The response list that goes with a letter: a line for each item, filled in by the applicant and read back."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from ampcite.base.errors import Complaint, InputError, short
from ampcite.letters.records import Letter
from ampcite.letters.rounds import Answer

COLUMNS = ("item", "discipline", "sheet", "about", "to settle it", "your answer", "changed on sheet")
WIDTHS = (6, 18, 24, 40, 60, 50, 20)
FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""How a text begins that a spreadsheet would take for a formula."""

MOST = 10_000_000
"""A list of more bytes, packed or not, is refused."""


def rows(letter: Letter) -> Iterator[tuple[str, ...]]:
    """A line for each item that has to be answered, the last two columns left to the applicant."""
    for item in letter.must:
        yield str(item.number), item.discipline, item.sheet, item.heading, item.cure, "", ""
    for one in letter.asked:
        yield str(one.number), letter.phrases["information"], "", one.of, one.says, "", ""


def to_csv(letter: Letter) -> str:
    """The list as CSV, with a byte-order mark so that spreadsheets read it as UTF-8; no cell is a formula."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows([as_text(cell) for cell in row] for row in rows(letter))
    return "\ufeff" + out.getvalue()


def as_text(cell: str) -> str:
    """A text that a spreadsheet takes for no formula."""
    return f"'{cell}" if cell.startswith(FORMULA) else cell


def to_xlsx(letter: Letter) -> bytes:
    """The list as a workbook; every cell is text, and the same letter gives the same bytes.

    Raises:
        ModuleNotFoundError: where XlsxWriter is not installed (``pip install 'ampcite[desk]'``).
    """
    return workbook(letter.head.title, "answers", [COLUMNS, *rows(letter)], WIDTHS, (5, 6))


def workbook(title: str, name: str, cells: Iterable[Sequence[str]], widths: Sequence[int],
             blanks: Sequence[int]) -> bytes:  # fmt: skip
    """A workbook of one sheet whose cells are all text; the same cells give the same bytes.

    Args:
        title: of the workbook.
        name: of its sheet.
        cells: the rows, the header first.
        widths: of the columns, in letters.
        blanks: the columns that are to be filled in.
    """
    import datetime

    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False,
                                     "strings_to_numbers": False})  # fmt: skip
    book.set_properties({"title": title[:200], "created": datetime.datetime(1980, 1, 1)})
    sheet = book.add_worksheet(name)
    bold, text, blank = (book.add_format({"text_wrap": True, "valign": "top", **more})
                         for more in ({"bold": True}, {}, {"bg_color": "#FFF8EC", "border": 1}))  # fmt: skip
    for j, width in enumerate(widths):
        sheet.set_column(j, j, width)
    for i, row in enumerate(cells):
        for j, cell in enumerate(row):
            form = bold if i == 0 else blank if j in blanks else text
            sheet.write_string(i, j, cell, form) if cell else sheet.write_blank(i, j, None, form)
    sheet.freeze_panes(1, 0)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    book.close()
    return out.getvalue()


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
        answer = Answer(_said(said["your answer"]), _said(said.get("changed on sheet", "")))
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


def rows_of_file(path: str | Path) -> list[list[str]]:
    """The cells of a CSV file, or of the first sheet of a workbook, as texts.

    Raises:
        InputError: when it can't be read or is neither.
    """
    name = str(path)
    try:
        data = Path(path).read_bytes()
    except OSError as fault:
        raise InputError([Complaint(name, "", f"can't be read: {fault.strerror}")]) from None
    return list(_workbook(data, name) if data[:2] == b"PK" else _csv(data, name))


def _said(cell: str) -> str:
    """A cell without the sign that keeps a spreadsheet from reading it as a formula."""
    return cell[1:] if cell[:1] == "'" and cell[1:].startswith(FORMULA) else cell


def _csv(data: bytes, name: str) -> Iterable[list[str]]:
    if len(data) > MOST:
        raise InputError([Complaint(name, "", f"is larger than the {MOST} bytes such a list may have")])
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", "replace")  # as spreadsheets of one vendor save it
    if "\0" in text:
        raise InputError([Complaint(name, "", "is neither CSV nor a workbook")])
    first = text.partition("\n")[0]
    try:
        return list(csv.reader(io.StringIO(text), delimiter=";" if first.count(";") > first.count(",") else ","))
    except csv.Error as fault:
        raise InputError([Complaint(name, "", f"can't be read as CSV: {fault}")]) from None


def _workbook(data: bytes, name: str) -> Iterator[list[str]]:
    """The rows of the first sheet; what unpacks to too much is refused before it is read."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if sum(one.file_size for one in archive.infolist()) > MOST:
                said = f"unpacks to more than the {MOST} bytes such a list may have"
                raise InputError([Complaint(name, "", said)])
        import openpyxl

        book: Any = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        for row in book.worksheets[0].iter_rows(values_only=True):
            yield ["" if cell is None else str(cell) for cell in row]
    except InputError:
        raise
    except ModuleNotFoundError:
        raise
    except Exception as fault:  # a damaged workbook fails in many ways inside the library
        raise InputError([Complaint(name, "", f"can't be read as a workbook: {str(fault)[:120]}")]) from None
