"""The effect of a change of law on one page: by clause, counts of houses; as text, table and page.

Layers and houses: the shipped houses, and invented layers of the tests.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner

import ampcite
from ampcite.authoring.effect import FAILING, OTHER, RELIEVED, UNDECIDED, Shift, shifts
from ampcite.command.main import main
from shared import SHIPPED, TESTS, rulebook, shipped_house

OSSARY = str(TESTS / "local" / "ossary-state")
Told = Mapping[str, tuple[int, str, str]]


def queue(where: Path) -> Path:
    """Two shipped houses, and a file that is none."""
    where.mkdir()
    for name in ("converter-strings", "microinverters"):
        (where / f"{name}.json").write_text(SHIPPED[name].read_text("utf-8"), "utf-8")
    (where / "bad.json").write_text(json.dumps({"rooof": {}}), "utf-8")
    return where


def effect(houses: Path, *words: str) -> tuple[int, str, str]:
    """Status, output and errors of the command."""
    out = CliRunner().invoke(main, ["effect", str(houses), *words])
    return out.exit_code, out.stdout, out.stderr


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Told:
    """What the command says of the state's law, by form."""
    houses = queue(tmp_path_factory.mktemp("effect") / "houses")
    return {form: effect(houses, "--after", OSSARY, "--format", form) for form in ("text", "csv", "html")}


def test_the_page_counts_houses_by_clause_and_sets_a_bad_file_aside(told: Told) -> None:
    status, out, _ = told["text"]
    assert status == 0
    assert out.startswith(
        "The effect of State of Ossary (invented), compared with the law without it\n2 houses: 2 newly failing"
    )
    clause = 'Ossary Construction Act (invented), section 8: The submission holds "State application form"'
    assert f"{clause}: required here; the model code has no such rule\n  newly failing: 2\n" in out
    assert "newly failing: microinverters.json: the system (not asked before, fail now)" in out
    assert "Set aside:" in out and "rooof" in out and "Traceback" not in out
    assert len(out.splitlines()) < 60


def test_the_table_has_a_row_for_each_clause_house_and_rule(told: Told) -> None:
    status, out, err = told["csv"]
    rows = list(csv.DictReader(io.StringIO(out)))
    assert status == 0 and "set aside" in err
    form = [row for row in rows if row["rule"] == "statewide-form"]
    assert {(Path(row["house"]).name, row["before"], row["after"]) for row in form} == {
        ("converter-strings.json", "not asked", "fail"), ("microinverters.json", "not asked", "fail"),
    }  # fmt: skip


def test_no_cell_of_the_table_is_a_formula(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("=1+1.json").write_text(SHIPPED["microinverters"].read_text("utf-8"), "utf-8")
    _, out, _ = effect(Path("=1+1.json"), "--after", OSSARY, "--format", "csv")
    rows = list(csv.reader(io.StringIO(out)))
    assert any("1+1.json" in cell for row in rows for cell in row)
    assert not [cell for row in rows for cell in row if cell.startswith(("=", "+", "-", "@"))]


def test_what_a_law_narrows_is_named_by_its_own_clause(told: Told) -> None:
    _, out, _ = told["csv"]
    rows = csv.DictReader(io.StringIO(out))
    causes = {row["clause"] for row in rows if row["rule"] == "disconnect-too-far-from-meter"}
    assert causes and all("Ossary Construction Act" in cause for cause in causes)


class _Sound(HTMLParser):
    """Follows the tags of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.heads = 0

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag != "meta":
            self.open.append(tag)
        self.heads += tag == "th"

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_the_page_for_a_council_is_sound(told: Told) -> None:
    status, out, _ = told["html"]
    page = _Sound()
    page.feed(out)
    assert status == 0 and page.open == [] and page.heads > 5
    assert "2 houses:" in out and "&quot;State application form&quot;" in out


def test_nothing_changes_and_nothing_can_be_read(tmp_path: Path) -> None:
    houses = queue(tmp_path / "houses")
    assert "Nothing changes." in effect(houses, "--after", "2020", "--before", "2020")[1]
    (houses / "converter-strings.json").write_text("{", "utf-8")
    (houses / "microinverters.json").unlink()
    assert effect(houses, "--after", OSSARY)[0] == 2


@pytest.mark.parametrize(
    ("before", "after", "kind"),
    [
        ("pass", "fail", FAILING), ("undecided", "fail", FAILING), ("not asked", "warn", FAILING),
        ("fail", "pass", RELIEVED), ("fail", "warn", RELIEVED), ("warn", "not asked", RELIEVED),
        ("fail", "undecided", UNDECIDED), ("not asked", "undecided", UNDECIDED), ("warn", "undecided", UNDECIDED),
        ("undecided", "pass", OTHER), ("undecided", "not asked", OTHER), ("not asked", "pass", OTHER),
    ],
)  # fmt: skip
def test_what_a_change_does_to_a_verdict(before: str, after: str, kind: str) -> None:
    """Relieved is only what failed or was advised against; what nobody could decide was no burden."""
    assert Shift("house.json", "rule", "Title", "part", before, after, (), ()).kind == kind


def test_what_was_only_undecided_before_is_not_called_relieved() -> None:
    house = shipped_house("converter-strings")
    del house["service"]
    found = shifts(rulebook(2023), rulebook(2017), [ampcite.read(house)])
    open_before = [shift for shift in found if shift.before == "undecided"]
    assert open_before and not [shift for shift in open_before if shift.kind == RELIEVED]
    assert any(shift.after == "not asked" for shift in open_before)
