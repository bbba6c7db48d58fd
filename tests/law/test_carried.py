"""Two whole packs carried from 2017 to 2020 to 2023 by the command, held to the same law written anew for 2023.

``tests/carried/2017`` holds the two packs, after published changes; ``tests/carried/2023`` the same ordinances written
for that edition from their own words, without the draft. Who carries knows neither: it fills in what the check asks.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

import ampcite
from ampcite.authoring.testing import faults, layer_trials
from ampcite.command.main import main
from ampcite.law.applied import Law
from ampcite.law.load import load_pack
from ampcite.law.registry import changed_by
from shared import SHIPPED, TESTS

CARRIED = TESTS / "carried"
LAWFUL = sorted((TESTS / "houses" / "lawful").glob("*.json"))


def run(*words: str) -> tuple[int, str]:
    out = CliRunner().invoke(main, list(words))
    assert out.exception is None or isinstance(out.exception, SystemExit), out.exception
    return out.exit_code, out.output


def carried(where: Path, edition: int, begins: str) -> Path:
    """The next pack, with the one thing that the check asks for filled in."""
    into = where.parent / f"next-{edition}"
    status, said = run("pack", "carry", str(where), "--edition", str(edition), "--from", begins, "--write", str(into))
    assert status in (0, 1), said  # 1 where a change is superseded or gone
    _, told = run("pack", "check", str(into))
    assert "number of the ordinance" in told and "1 fault, 0 remarks" in told
    head = into / "pack.toml"
    head.write_text(head.read_text("utf-8").replace("[number of the ordinance]", "Ordinance 9 (invented)"), "utf-8")
    assert run("pack", "check", str(into))[0] == 0
    assert run("pack", "try", str(into))[0] == 0
    return into


@pytest.mark.thorough
@pytest.mark.parametrize("name", ["ossary-state", "lindle-city"])
def test_carried_twice_it_judges_as_the_law_written_anew(name: str, tmp_path: Path) -> None:
    old = tmp_path / name
    shutil.copytree(CARRIED / "2017" / name, old)
    new = carried(carried(old, 2020, "2021-01-01"), 2023, "2024-01-01")
    anew = CARRIED / "2023" / name
    editions = {"electrical": 2023, "building": 2018}
    houses = [ampcite.read(json.loads(path.read_text("utf-8"))) for path in (*SHIPPED.values(), *LAWFUL)]
    verdicts = []
    for where in (new, anew):
        book = ampcite.load(Law(editions, (), "2024-03-10", ()), [where])
        reports = [ampcite.check(book, house) for house in houses]
        verdicts.append([{(f.rule, f.about, str(f.verdict), f.note) for f in one.findings} for one in reports])
        if where == new:
            trials = list(layer_trials(load_pack(anew), [load_pack(path) for path in changed_by(anew)]))
            assert trials and [faults(book, trial) for trial in trials] == [[]] * len(trials)
    assert verdicts[0] == verdicts[1]


OF_A_TABLE_UNREAD_AT_2020 = """
[[amend]]
id = "less-in-free-air"
do = "replace"
table = "free_air_ampacity"
row = "10 AWG"
column = "copper 60"
expects = "40"
to = "38"
why = "Invented."
clause = "section 40"
read = "act"
"""
"""A change of a cell that was read in the texts of 2017 and 2023, and not in that of 2020."""


@pytest.mark.thorough
def test_nothing_of_an_earlier_draft_is_left_in_a_later_one(tmp_path: Path) -> None:
    old = tmp_path / "lindle-city"
    shutil.copytree(CARRIED / "2017" / "lindle-city", old)
    with (old / "changes.toml").open("a", encoding="utf-8") as changes:
        changes.write(OF_A_TABLE_UNREAD_AT_2020)
    first = carried(old, 2020, "2021-01-01")
    assert "# to decide: less-in-free-air" in (first / "changes.toml").read_text("utf-8")
    second = carried(first, 2023, "2024-01-01")
    assert "less-in-free-air: still applies" not in (second / "changes.toml").read_text("utf-8")
    assert (second / "pack.toml").read_text("utf-8").count("# Carried over to") == 1
    assert "# left out: emergency-disconnect-of-a-later-edition: superseded" in (second / "changes.toml").read_text(
        "utf-8"
    )
