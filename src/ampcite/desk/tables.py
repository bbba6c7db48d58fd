"""The tables of a batch as CSV and Parquet; their columns are those of the published schemas of their rows."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cache
from pathlib import Path
from types import TracebackType
from typing import Any

from ampcite.base.resources import load_schema
from ampcite.base.spreadsheet import FORMULA

ROWS = 2000
"""So many rows are held before they are written."""

MARK = "\ufeff".encode()
"""What a CSV file begins with, by which spreadsheets know it for UTF-8; what reads data passes it over."""


@cache
def columns(table: str) -> Mapping[str, Mapping[str, Any]]:
    """The columns of a table, "submissions" or "findings", in their order, each with its schema."""
    out: Mapping[str, Mapping[str, Any]] = load_schema(f"{table}-row.schema.json")["properties"]
    return out


def _arrow(table: str) -> Any:
    import pyarrow as pa

    kinds = {"string": pa.string(), "integer": pa.int64(), "boolean": pa.bool_()}
    fields = []
    for name, said in columns(table).items():
        types = said["type"] if isinstance(said["type"], list) else [said["type"]]
        fields.append(pa.field(name, kinds[types[0]], "null" in types, {"description": said["description"]}))
    return pa.schema(fields)


def by_column(findings: Sequence[Mapping[str, Any]]) -> dict[str, list[Any]]:
    """Findings of one submission column by column, as they are kept: fewer bytes, and quick to put together."""
    return {name: [f[name] for f in findings] for name in columns("findings") if name not in OF_SUBMISSION}


OF_SUBMISSION = ("submission", "digest")
"""The columns of a finding that say whose it is, and are put in when the table is made."""


class Table:
    """One table that is written to CSV and Parquet, and is there whole when the ``with`` ends well.

    Each file is written by a thread of its own while the next rows are gathered: Arrow lets go of the interpreter.
    """

    def __init__(self, folder: Path, name: str) -> None:
        self.folder, self.name = folder, name

    def __enter__(self) -> Table:
        from pyarrow import OSFile, csv, parquet

        self._parts = [self._part(ending) for ending in ("csv", "parquet")]
        self._arrow = _arrow(self.name)
        self._text = OSFile(self._parts[0], "wb")
        self._text.write(MARK)
        self._csv = csv.CSVWriter(self._text, self._arrow, write_options=csv.WriteOptions(quoting_style="needed"))
        self._parquet = parquet.ParquetWriter(self._parts[1], self._arrow, compression="zstd")
        self._columns: dict[str, list[Any]] = {name: [] for name in columns(self.name)}
        self._count = 0
        self._writers = [ThreadPoolExecutor(1), ThreadPoolExecutor(1)]
        self._writing: list[Future[None]] = []
        return self

    def _part(self, ending: str) -> str:
        handle, name = tempfile.mkstemp(dir=self.folder, prefix=f".{self.name}.{ending}.", suffix=".part")
        os.close(handle)
        return name

    def add(self, rows: Mapping[str, Sequence[Any]], count: int, **same: Any) -> None:
        """Adds rows.

        Args:
            rows: the values of each column.
            count: how many rows.
            same: the value of those columns that have the same in all of them.
        """
        for name, values in self._columns.items():
            values.extend([same[name]] * count if name in same else rows[name])
        self._count += count
        if self._count >= ROWS:
            self._flush()

    def _flush(self) -> None:
        import pyarrow as pa

        if self._count:
            table = pa.table(self._columns, self._arrow)
            self._written()
            self._writing = [self._writers[0].submit(lambda: self._csv.write_table(_without_formulas(table))),
                             self._writers[1].submit(self._parquet.write_table, table)]  # fmt: skip
            self._columns = {name: [] for name in self._columns}
            self._count = 0

    def _written(self) -> None:
        """Waits for the rows under way, so that no more than these are held; raises what went wrong with them."""
        for one in self._writing:
            one.result()
        self._writing = []

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None,
                 trace: TracebackType | None) -> None:  # fmt: skip
        try:
            if kind is None:
                self._flush()
                self._written()
        finally:
            for writer in self._writers:
                writer.shutdown()
        self._csv.close()
        self._text.close()
        self._parquet.close()
        for part, ending in zip(self._parts, ("csv", "parquet"), strict=True):
            if kind is None:
                with open(part, "rb") as file:
                    os.fsync(file.fileno())
                os.chmod(part, 0o644)
                os.replace(part, self.folder / f"{self.name}.{ending}")
            else:
                os.unlink(part)


def _without_formulas(table: Any) -> Any:
    """The table with its texts such that no spreadsheet takes one for a formula."""
    import pyarrow as pa
    from pyarrow import compute

    signs = "".join(map(re.escape, FORMULA))
    for i, field in enumerate(table.schema):
        if field.type == pa.string():
            column = table.column(i)
            there = compute.match_substring_regex(column, f"^[{signs}]")
            if compute.any(there).as_py():
                kept = compute.if_else(there, compute.binary_join_element_wise("'", column, ""), column)
                table = table.set_column(i, field, kept)
    return table
