"""The tables of a batch as CSV and Parquet; their columns are those of the published schemas of their rows."""

from __future__ import annotations

import csv
import os
import tempfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import TracebackType
from typing import Any

from ampcite.base.resources import load_schema
from ampcite.base.spreadsheet import as_text

ROWS = 2000
"""So many rows are held before they are written."""


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


class Table:
    """One table that is written row by row to CSV and Parquet, and is there whole when the ``with`` ends well."""

    def __init__(self, folder: Path, name: str) -> None:
        self.folder, self.name, self.columns = folder, name, list(columns(name))

    def __enter__(self) -> Table:
        from pyarrow import parquet

        self._parts = [self._part(ending) for ending in ("csv", "parquet")]
        self._csv = open(self._parts[0], "w", encoding="utf-8", newline="")
        self._writer = csv.writer(self._csv)
        self._writer.writerow(self.columns)
        self._arrow = _arrow(self.name)
        self._parquet = parquet.ParquetWriter(self._parts[1], self._arrow, compression="zstd")
        self._rows: list[Mapping[str, Any]] = []
        return self

    def _part(self, ending: str) -> str:
        handle, name = tempfile.mkstemp(dir=self.folder, prefix=f".{self.name}.{ending}.", suffix=".part")
        os.close(handle)
        return name

    def add(self, row: Mapping[str, Any]) -> None:
        """Adds a row."""
        self._writer.writerow([_cell(row[column]) for column in self.columns])
        self._rows.append(row)
        if len(self._rows) == ROWS:
            self._flush()

    def _flush(self) -> None:
        import pyarrow as pa

        if self._rows:
            rows = [{column: row[column] for column in self.columns} for row in self._rows]
            self._parquet.write_table(pa.Table.from_pylist(rows, self._arrow))
            self._rows = []

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None,
                 trace: TracebackType | None) -> None:  # fmt: skip
        if kind is None:
            self._flush()
        self._csv.close()
        self._parquet.close()
        for part, ending in zip(self._parts, ("csv", "parquet"), strict=True):
            if kind is None:
                with open(part, "rb") as file:
                    os.fsync(file.fileno())
                os.chmod(part, 0o644)
                os.replace(part, self.folder / f"{self.name}.{ending}")
            else:
                os.unlink(part)


def _cell(value: Any) -> str:
    """A value as CSV has it; a text is one that no spreadsheet takes for a formula."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return as_text(value) if isinstance(value, str) else str(value)
