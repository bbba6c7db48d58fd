"""The command that writes letters: statuses, files, and what it refuses. Source: docs/letters.md."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from ampcite.base.resources import houses
from ampcite.command.main import main

HOUSE = houses()[0]


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["letter", *map(str, words)])


@pytest.fixture
def broken(tmp_path: Path) -> Path:
    house = json.loads(HOUSE.read_text("utf-8"))
    house["panels"][0]["breakers"]["all"][0]["rating"] = 60
    path = tmp_path / "broken.json"
    path.write_text(json.dumps(house), "utf-8")
    return path


def test_statuses_tell_corrections_information_and_nothing_apart(broken: Path, tmp_path: Path) -> None:
    assert run(HOUSE, "--out", tmp_path / "a.html", "--date", "2026-04-01").exit_code == 0
    assert run(broken, "--out", tmp_path / "b.html", "--date", "2026-04-01").exit_code == 1
    house = json.loads(HOUSE.read_text("utf-8"))
    del house["service"]["rating"]
    (tmp_path / "less.json").write_text(json.dumps(house), "utf-8")
    assert run(tmp_path / "less.json", "--out", tmp_path / "c.html").exit_code == 4
    assert sorted(p.name for p in tmp_path.glob("*.record.json")) == ["a.record.json", "b.record.json", "c.record.json"]
    assert not list(tmp_path.glob(".*"))


def test_it_is_the_letter_of_plan_review_where_nobody_says_the_stage(tmp_path: Path) -> None:
    house = json.loads(HOUSE.read_text("utf-8"))
    del house["readings"], house["observations"]
    (tmp_path / "h.json").write_text(json.dumps(house), "utf-8")
    assert run(tmp_path / "h.json", "--out", tmp_path / "h.html").exit_code == 0
    assert run(tmp_path / "h.json", "--out", tmp_path / "h.html", "--stage", "handover").exit_code == 4


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--out", "letter.odt"], 'ends in ".odt"'),
        (["--out", "letter.html", "--date", "2026-02-30"], "no day of the calendar"),
        (["--out", "letter.html", "--answers", "a.csv"], "name its record with --round"),
        (["--out", "letter.html", "--round", "none.json"], "can't be read"),
        (["--out", "no/such/folder/letter.html"], "can't be written"),
    ],
)
def test_what_it_refuses(words: list[str], said: str, broken: Path, tmp_path: Path,
                         monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    out = run(broken, *words)
    assert out.exit_code == 2 and said in out.stderr
    assert [p.name for p in tmp_path.iterdir()] == ["broken.json"]


def test_nothing_it_is_made_from_is_written_over(broken: Path, tmp_path: Path) -> None:
    run(broken, "--out", tmp_path / "one.html", "--date", "2026-04-01")
    before = (tmp_path / "one.record.json").read_bytes()
    out = run(broken, "--out", tmp_path / "one.html", "--round", tmp_path / "one.record.json")
    assert out.exit_code == 2 and "written over" in out.stderr
    assert (tmp_path / "one.record.json").read_bytes() == before


def test_the_designers_own_sheet_has_the_same_comments_and_no_record(broken: Path, tmp_path: Path) -> None:
    out = run(broken, "--before-sending", "--out", tmp_path / "fix.html", "--out", tmp_path / "fix.pdf", "--out",
              tmp_path / "fix.docx", "--out", tmp_path / "fix.xlsx", "--date", "2026-04-01")  # fmt: skip
    assert out.exit_code == 1 and out.stdout.startswith("Fix these before you send it")
    assert not list(tmp_path.glob("*.record.json"))
    page = (tmp_path / "fix.html").read_text("utf-8")
    run(broken, "--out", tmp_path / "letter.html", "--date", "2026-04-01")
    letter = (tmp_path / "letter.html").read_text("utf-8")
    assert page.count('class="item"') == letter.count('class="item"') > 0
    assert "Signature" in letter and "Signature" not in page
    assert run(broken, "--before-sending", "--round", "r.json", "--out", tmp_path / "x.html").exit_code == 2
