"""What an audit found stays settled: each finding names the rule it is about and what holds the answer.

``settled/AREA.csv``: the list and the number a finding had there, the rule it is now about, and where the answer is:
an example of that rule by its words, a test, or the file of a pack whose note states the reading that was chosen.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from shared import FOLDERS, PACKS, ROOT, TESTS

LISTS = {"findings", "wrong-passes", "false-alarms", "electrical", "building"}
RULES = {rule.id: rule for pack in PACKS.values() for rule in pack.rules.values()}
FILES = sorted((TESTS / "settled").glob("*.csv"))


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def fault(row: dict[str, str]) -> str:
    """What is wrong with a row; nothing, where what it names holds its answer."""
    how, _, what = row["where"].partition(": ")
    rule = RULES.get(row["rule"])
    if rule is None:
        return "no such rule"
    if row["list"] not in LISTS or not row["number"].isdigit() or row["answer"] not in ("mended", "answered"):
        return "an unknown list, number or answer"
    if how == "example":
        return "" if what in {one.says for one in rule.examples} else "no such example"
    if how == "test":
        file, _, name = what.partition("::")
        path = ROOT / file
        return "" if path.is_file() and f"def {name}(" in path.read_text("utf-8") else "no such test"
    if how == "note":
        pack, _, file = what.partition(" ")
        path = FOLDERS[pack] / file
        lines = path.read_text("utf-8").splitlines() if path.is_file() else []
        return "" if any(line.startswith(("#", "note =")) for line in lines) else "no such note"
    return "names neither an example nor a test nor a note"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_each_finding_is_held_by_what_it_names(path: Path) -> None:
    wrong = [f"{path.name}:{i}: {row['rule']}: {said}" for i, row in enumerate(rows(path), 2) if (said := fault(row))]
    assert wrong == []


def test_no_finding_is_settled_twice_by_one_rule() -> None:
    every = [(row["list"], row["number"], row["rule"]) for path in FILES for row in rows(path)]
    assert len(set(every)) == len(every), sorted(one for one in every if every.count(one) > 1)
