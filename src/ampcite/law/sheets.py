"""The CSV files of a pack as spreadsheets save them: read where that is safe, refused with the reason where not."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator

import attrs

from ampcite.base.errors import short

Rows = tuple[tuple[str, ...], ...]
_GROUPED = re.compile(r"-?\d{1,3}(,\d{3})+(\.\d+)?")
_DECIMAL_COMMA = re.compile(r"-?\d+,\d+")


@attrs.frozen
class SheetFault:
    """What is wrong in a CSV file: the line of it, 0 where the whole file is meant, and a sentence."""

    line: int
    said: str

    @property
    def place(self) -> str:
        return f"line {self.line}" if self.line else ""


def read_rows(data: bytes) -> tuple[Rows, list[SheetFault]]:
    """The cells of a CSV file, header first, and all that is wrong with it; the rows are whole where nothing is.

    A byte-order mark, either kind of line end, semicolons or tabs in place of commas, and the empty rows and columns
    that spreadsheets leave at the end are read as they are meant.
    """
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return (), [SheetFault(0, "is UTF-16 text, as some spreadsheets save it; save it as CSV UTF-8")]
    if data[:4] == b"PK\x03\x04":
        return (), [SheetFault(0, "is a spreadsheet under the name of a CSV file; save it as CSV UTF-8")]
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data[: fault.start].count(b"\n") + 1
        return (), [SheetFault(line, "is not UTF-8 text; save it as CSV UTF-8")]
    if "\0" in text:
        return (), [SheetFault(0, "holds signs that are no text; save it as CSV UTF-8")]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text))
    rows: list[tuple[int, list[str]]] = []
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells):
                rows.append((reader.line_num, cells))
    except csv.Error as fault:
        return (), [SheetFault(reader.line_num, f"can't be read as CSV: {fault}")]
    if len(rows) < 2:
        return (), [SheetFault(0, "has no rows under its header")]
    width = max(len(rows[0][1]) - _empty_end(rows[0][1]), 1)
    rows = [(line, cells[:width] if not any(cells[width:]) else cells) for line, cells in rows]
    return tuple(tuple(cells) for _, cells in rows), list(_faults(rows))


def _faults(rows: list[tuple[int, list[str]]]) -> Iterator[SheetFault]:
    at, header = rows[0]
    for name in [name for name, times in Counter(header).items() if times > 1 and name]:
        yield SheetFault(at, f'has the column "{name[:60]}" twice')
    if "" in header:
        yield SheetFault(at, f"has no name for column {header.index('') + 1}; name it or take it out")
    for line, cells in rows:
        if len(cells) != len(header):
            yield SheetFault(line, f"has {len(cells)} cells; the header has {len(header)}")
        for cell in cells:
            if _GROUPED.fullmatch(cell):
                yield SheetFault(line, f"has the cell {short(cell)}; write it without the comma, "
                                       f"{cell.replace(',', '')}, or with a stop, if that is meant")  # fmt: skip
            elif _DECIMAL_COMMA.fullmatch(cell):
                yield SheetFault(line, f"has the cell {short(cell)}; write {cell.replace(',', '.')} with a stop")


def _delimiter(text: str) -> str:
    """What parts the cells of the header."""
    header = text.lstrip("\r\n").partition("\n")[0]
    return next((sign for sign in (";", "\t") if sign in header and "," not in header), ",")


def _empty_end(cells: list[str]) -> int:
    """How many cells at the end are empty."""
    count = 0
    for cell in reversed(cells):
        if cell:
            break
        count += 1
    return count
