"""Lists for spreadsheets: written so that no cell is a formula, and read back as people save them."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from ampcite.base.errors import Complaint, InputError

FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""How a text begins that a spreadsheet would take for a formula."""

MOST = 10_000_000
"""A list of more bytes, packed or not, is refused."""


def as_text(cell: str) -> str:
    """A text that a spreadsheet takes for no formula."""
    return f"'{cell}" if cell.startswith(FORMULA) else cell


def as_said(cell: str) -> str:
    """A cell without the sign that keeps a spreadsheet from reading it as a formula."""
    return cell[1:] if cell[:1] == "'" and cell[1:].startswith(FORMULA) else cell


def as_csv(rows: Iterable[Sequence[str]], mark: bool = True) -> str:
    """Rows of texts as CSV, the header first; no cell is a formula.

    Args:
        mark: whether it begins with a byte-order mark, by which spreadsheets know a file for UTF-8; a stream has none.
    """
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([as_text(cell) for cell in row] for row in rows)
    return ("\ufeff" if mark else "") + out.getvalue()


def as_workbook(title: str, name: str, cells: Iterable[Sequence[str]], widths: Sequence[int],
             blanks: Sequence[int]) -> bytes:  # fmt: skip
    """A workbook of one sheet whose cells are all text; the same cells give the same bytes.

    Args:
        title: of the workbook.
        name: of its sheet.
        cells: the rows, the header first.
        widths: of the columns, in letters.
        blanks: the columns that are to be filled in.

    Raises:
        ModuleNotFoundError: where XlsxWriter is not installed (``pip install 'ampcite[desk]'``).
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
