"""Every finding of an audit that a table in tests/settled calls settled names what holds it so.

A row says the list and number of the finding, the rule it is now about, whether the rule was mended or the finding
answered, and where that stands: ``example: `` and what an example of that rule says, ``test: `` and ``path::name``, or
``note: `` and pack and file whose note gives the reading. The lists were drawn up by auditors outside the project, so
they are no part of it; a number stands for one entry. Source: the project's own contract.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from pathlib import Path

import pytest

from shared import FOLDERS, PACKS, ROOT, TESTS

LENGTH = {"findings": 306, "wrong-passes": 31, "false-alarms": 14, "electrical": 51, "building": 18}
"""How many entries each list has."""

TABLES = sorted((TESTS / "settled").glob("*.csv"))
RULES = {name: rule for pack in PACKS.values() for name, rule in pack.rules.items()}


def rows(table: Path) -> list[dict[str, str]]:
    with table.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file, strict=True))


def fault(row: dict[str, str]) -> str:
    """What is wrong with a row; "" where nothing is."""
    if list(row) != ["list", "number", "rule", "answer", "where"] or None in row.values():
        return "not five columns"
    listed, number, rule, where = row["list"], row["number"], row["rule"], row["where"]
    if not number.isdecimal() or not 1 <= int(number) <= LENGTH.get(listed, 0):
        return f"no entry {number} in the list {listed!r}"
    if rule not in RULES:
        return f"no rule {rule!r}"
    if row["answer"] not in ("mended", "answered"):
        return f"neither mended nor answered: {row['answer']!r}"
    kind, _, what = where.partition(": ")
    if kind == "example":
        return "" if any(what == e.says for e in RULES[rule].examples) else f"no example of {rule} says {what!r}"
    if kind == "test":
        path, _, name = what.partition("::")
        name = re.escape(name.partition("[")[0].rpartition("::")[2])
        known = (ROOT / path).is_file() and re.search(rf"^\s*def {name}\(", (ROOT / path).read_text("utf-8"), re.M)
        return "" if known else f"no test {what}"
    if kind == "note":
        pack, _, file = what.partition(" ")
        noted = pack in FOLDERS and (FOLDERS[pack] / file).is_file() and re.search(
            r"^\s*(\S*\.?note = |#)", (FOLDERS[pack] / file).read_text("utf-8"), re.M)  # fmt: skip
        return "" if noted else f"no note in {what}"
    return f"neither an example, a test nor a note: {where!r}"


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.stem)
def test_each_row_names_what_holds_it(table: Path) -> None:
    assert rows(table)
    assert [f"{table.name}:{i}: {said}" for i, row in enumerate(rows(table), 2) if (said := fault(row))] == []


def test_no_entry_is_settled_twice(capsys: pytest.CaptureFixture[str]) -> None:
    seen = Counter((row["list"], row["number"]) for table in TABLES for row in rows(table))
    done = Counter(listed for listed, _ in seen)
    with capsys.disabled():
        print("\n" + "; ".join(f"{listed}: {done[listed]} of {n} settled" for listed, n in LENGTH.items()))
    assert [key for key, count in seen.items() if count > 1] == []


def test_every_entry_of_every_list_is_settled() -> None:
    settled = {(row["list"], int(row["number"])) for table in TABLES for row in rows(table)}
    asked = {(listed, number) for listed, length in LENGTH.items() for number in range(1, length + 1)}
    assert sorted(asked - settled) == []


GOOD = {"list": "findings", "number": "1", "rule": "voltage-drop-over-target", "answer": "mended",
        "where": "example: two sets halve it"}  # fmt: skip


@pytest.mark.parametrize("change", [
    {"list": "complaints"}, {"number": "0"}, {"number": "307"}, {"number": ""}, {"rule": "voltage-drop"},
    {"answer": "done"}, {"where": "example: three sets halve it"}, {"where": "test: tests/test_settled.py::test_no"},
    {"where": "note: electrical no.toml"}, {"where": "two sets halve it"},
])  # fmt: skip
def test_a_row_that_names_nothing_is_seen(change: dict[str, str]) -> None:
    assert fault(GOOD) == ""
    assert fault({**GOOD, "where": "test: tests/test_settled.py::test_no_entry_is_settled_twice"}) == ""
    assert fault({**GOOD, "where": "note: commissioning ac-side.toml"}) == ""
    assert fault({**GOOD, **change}) != ""
