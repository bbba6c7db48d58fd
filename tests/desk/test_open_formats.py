"""The tables of a queue opened by what people have: DuckDB, pandas, and a spreadsheet (LibreOffice)."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

import duckdb
import openpyxl
import pandas as pd
import pytest

from ampcite.base.resources import load_schema
from ampcite.desk.batch import review_all
from ampcite.desk.judge import Task
from ampcite.desk.sources import entries_of
from browser import needs_office
from letters_shared import many_mistakes
from shared import shipped_house

TABLES = ("submissions", "findings")
CONTRACTOR = "=Ünlü & Søn\u201d, \"invented\";\nsecond line"
"""Letters beyond ASCII, quotes, separators, a line break, and the sign of a formula in front."""


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What a run made of a clean house, a house with mistakes, one that lacks facts, and a file that is none."""
    where = tmp_path_factory.mktemp("open")
    lacking = shipped_house("plain-strings")
    del lacking["service"]
    broken = many_mistakes("converter-strings", 12)
    broken["project"] |= {"contractor": CONTRACTOR, "permit": "0042", "name": "2026-01-02"}
    queue = {"clean": shipped_house("microinverters"), "broken": broken, "lacking": lacking, "none": []}
    (where / "queue").mkdir()
    for name, house in queue.items():
        (where / "queue" / f"{name}.json").write_text(json.dumps(house), "utf-8")
    review_all(entries_of(where / "queue"), where / "out", Task(), "0")
    return where / "out"


def columns(table: str) -> list[str]:
    return list(load_schema(f"{table}-row.schema.json")["properties"])


def of_parquet(out: Path, table: str) -> list[dict[str, Any]]:
    """The rows as they are, to be held against what others read."""
    from pyarrow import parquet

    rows: list[dict[str, Any]] = parquet.read_table(out / f"{table}.parquet").to_pylist()
    return rows


@pytest.mark.parametrize("table", TABLES)
def test_duckdb_reads_both_forms_of_a_table_alike(out: Path, table: str) -> None:
    stored = duckdb.sql(f"select * from '{out / table}.parquet'")
    assert stored.columns == columns(table)
    assert stored.fetchall() == [tuple(row.values()) for row in of_parquet(out, table)]
    text = duckdb.sql(f"select * from read_csv('{out / table}.csv', all_varchar = true)")
    assert text.columns == columns(table)
    assert len(text.fetchall()) == len(of_parquet(out, table)) > 3


def test_duckdb_answers_what_a_reviewer_asks_across_both_tables(out: Path) -> None:
    [(contractor, fails, counted)] = duckdb.sql(
        f"""select s.contractor, s.fails, count(*) from '{out}/submissions.parquet' s
            join '{out}/findings.parquet' f on f.submission = s.name and f.verdict = 'fail'
            group by all order by 2 desc limit 1"""
    ).fetchall()
    assert contractor == CONTRACTOR.replace("\n", "\ufffd") or contractor == CONTRACTOR
    assert fails == counted > 5


@pytest.mark.parametrize("table", TABLES)
def test_pandas_reads_both_forms_of_a_table_alike(out: Path, table: str) -> None:
    stored = pd.read_parquet(out / f"{table}.parquet")
    assert list(stored.columns) == columns(table) and len(stored) == len(of_parquet(out, table))
    text = pd.read_csv(out / f"{table}.csv", dtype=str, keep_default_na=False)
    assert list(text.columns) == columns(table) and len(text) == len(stored)
    for name in columns(table):
        for was, now in zip((row[name] for row in of_parquet(out, table)), text[name], strict=True):
            said = "" if was is None else str(was).lower() if isinstance(was, bool) else str(was)
            assert now.replace("\r\n", "\n") in (said, f"'{said}"), name


@pytest.mark.thorough
@needs_office
@pytest.mark.parametrize("table", TABLES)
def test_a_spreadsheet_opens_the_csv_with_every_letter_and_no_formula(out: Path, table: str, tmp_path: Path) -> None:
    """LibreOffice; on a screen it shows first what it takes a file for, here it is told: commas, quotes, UTF-8."""
    subprocess.run(
        ["soffice", f"-env:UserInstallation={(tmp_path / 'office').as_uri()}", "--headless", "--infilter=CSV:44,34,76",
         "--convert-to", "xlsx", "--outdir", str(tmp_path), str(out / f"{table}.csv")],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    sheet = openpyxl.load_workbook(tmp_path / f"{table}.xlsx").worksheets[0]
    rows = list(sheet.iter_rows())
    assert [cell.value for cell in rows[0]] == columns(table)
    assert len(rows) == 1 + len(of_parquet(out, table))
    assert not [cell for row in rows for cell in row if cell.data_type == "f"]
    text = " ".join(str(cell.value) for row in rows for cell in row if cell.value is not None)
    stored = [str(value) for row in of_parquet(out, table) for value in row.values() if isinstance(value, str)]
    beyond = [said for said in stored if not said.isascii() and "\n" not in said]
    assert all(said in text for said in beyond)
    if table == "submissions":
        assert "Ünlü & Søn”" in text and any("=Ünlü" in str(cell.value) for cell in rows[1])
