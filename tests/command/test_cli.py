"""The command line as its user meets it: statuses, streams, words. Source: the project's own description of it."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from ampcite.base.resources import designs, houses, load_schema, plan_sets
from ampcite.command.main import main

HOUSE = houses()[0]


def run(*words: str, text: str | None = None) -> Result:
    return CliRunner().invoke(main, list(words), input=text)


@pytest.fixture
def broken(tmp_path: Path) -> Path:
    house = json.loads(HOUSE.read_text("utf-8"))
    house["readings"]["strings"]["all"][0]["safety_voltage"] = -15.1
    path = tmp_path / "broken.json"
    path.write_text(json.dumps(house), "utf-8")
    return path


def test_a_good_house() -> None:
    out = run("check", str(HOUSE))
    assert out.exit_code == 0
    assert "\nPASS: every rule that applies is kept." in out.stdout and len(out.stdout.splitlines()) <= 60
    assert "not an approval" in " ".join(out.stdout.split())


def test_a_broken_house_leads_with_who_and_what_and_what_must_change(broken: Path) -> None:
    out = run("check", str(broken))
    assert out.exit_code == 1
    first = out.stdout.splitlines()[0]
    assert "an invented example" in first and "14 Alder Street" in first and "revision" in first
    order = ["\nFAIL: ", "not an approval", "\nMust change\n", "\n1. String", "polarity", "Clause:", "Cure:", "\nKept:"]
    places = [out.stdout.index(words) for words in order]
    assert places == sorted(places)
    assert out.stdout.index("Cure:") < out.stdout.index("\nKept:") and "\x1b" not in out.stdout


def test_json_is_after_its_schema(broken: Path) -> None:
    one = json.loads(run("check", str(broken), "--format", "json").stdout)
    jsonschema.Draft202012Validator(load_schema("report.schema.json")).validate(one)
    assert one["verdict"] == "fail" and one["findings"][0]["rule"] == "string-polarity-reversed"
    two = json.loads(run("check", str(HOUSE), str(broken), "--format", "json").stdout)
    assert [r["verdict"] for r in two] == ["pass", "fail"]


def test_json_lines_have_a_head_and_a_line_for_each_file(broken: Path, tmp_path: Path) -> None:
    out = run("check", str(HOUSE), str(broken), str(tmp_path / "nowhere.json"), "--format", "jsonl")
    head, *lines = map(json.loads, out.stdout.splitlines())
    assert out.exit_code == 2 and "string-polarity-reversed" in head["rules"]
    assert [line.get("verdict") for line in lines] == ["pass", "fail", None]
    assert "can't be read" in lines[2]["complaints"][0]["message"]


def test_every_writes_passes_and_what_does_not_apply_as_json() -> None:
    one = json.loads(run("check", str(HOUSE), "--every", "--format", "json").stdout)
    assert len(one["findings"]) == one["counts"]["pass"] and one["not_applicable"] and "passed" not in one


@pytest.fixture
def undecided(tmp_path: Path) -> Path:
    house = json.loads(HOUSE.read_text("utf-8"))
    del house["readings"]["weather"]
    path = tmp_path / "undecided.json"
    path.write_text(json.dumps(house), "utf-8")
    return path


def test_what_is_undecided_never_looks_clean(broken: Path, undecided: Path, tmp_path: Path) -> None:
    assert run("check", str(undecided)).exit_code == 4
    assert run("check", str(undecided), str(HOUSE)).exit_code == 4
    assert run("check", str(undecided), str(broken)).exit_code == 1
    (tmp_path / "empty.json").write_text('{"codes": {"electrical_edition": 2020}}')
    words = [str(p) for p in (HOUSE, broken, undecided, tmp_path / "empty.json", tmp_path / "nowhere.json")]
    out = run("check", *words)
    summary = out.stdout.splitlines()[-6:]
    assert summary[0] == ("In all 5 submissions: 1 can't be used, 1 fails, 2 undecided, 1 passes")
    assert [line[2:19].strip() for line in summary[1:]] == [
        "passes", "fails", "undecided", "undecided", "can't be used"]  # fmt: skip
    assert "0 fail, 0 warn, 1 undecided, " in summary[3] and summary[2][19:].startswith("1 fail, 0 warn, 0 undecided")
    project = json.loads(HOUSE.read_text("utf-8"))["project"]
    assert f"{project['name']}, {project['address']}, revision {project['revision']}; " in summary[3]
    assert "undecided.json" in summary[3]
    assert out.exit_code == 2 and run("check", *words[:-1]).exit_code == 1


def test_several_files_give_the_most_serious_status(broken: Path, tmp_path: Path) -> None:
    assert run("check", str(HOUSE), str(broken)).exit_code == 1
    out = run("check", str(broken), str(tmp_path / "nowhere.json"), str(HOUSE))
    assert out.exit_code == 2
    assert "nowhere.json" in out.stderr and "polarity" in out.stdout


def test_standard_input_and_edition() -> None:
    out = run("check", "-", "--edition", "2017", text=HOUSE.read_text("utf-8"))
    assert out.exit_code == 0
    assert "against the 2017 electrical code" in out.stdout
    assert run("check", "-", text="{}").exit_code == 2
    assert "--edition" in run("check", "-", text="{}").stderr


def test_nothing_checked_has_a_status_of_its_own() -> None:
    out = run("check", "-", "--edition", "2020", text="{}")
    assert out.exit_code == 3
    assert "NOTHING WAS CHECKED" in out.stdout


def test_an_edition_no_pack_has() -> None:
    out = run("check", str(HOUSE), "--edition", "1999")
    assert out.exit_code == 2
    assert "1999" in out.stderr and out.stdout.strip() == ""


def test_a_pack_by_name_and_by_folder(tmp_path: Path) -> None:
    out = json.loads(run("check", str(HOUSE), "--pack", "communications", "--format", "json").stdout)
    assert {p["name"] for p in out["packs"]} == {"communications"}
    out2 = run("check", str(HOUSE), "--pack", "comunications")
    assert out2.exit_code == 2 and "communications" in out2.stderr
    assert run("check", str(HOUSE), "--pack", str(tmp_path)).exit_code == 2


def test_every_adds_passes_with_arithmetic_and_what_does_not_apply() -> None:
    plain, full = run("check", str(HOUSE)).stdout, run("check", str(HOUSE), "--every").stdout
    assert "Worked:" not in plain and "Worked:" in full
    assert "Does not apply" in full and "Room left" in full


def test_examples_are_printed_and_can_be_checked() -> None:
    names = run("example", "list").stdout.split()
    assert names == [p.stem for p in (*houses(), *plan_sets(), *designs())]
    assert run("example").stdout == HOUSE.read_text("utf-8")
    unfinished = {path.stem for path in designs()}
    for name in names:
        assert run("check", "-", text=run("example", name).stdout).exit_code == (4 if name in unfinished else 0)
    out = run("example", "micro")
    assert out.exit_code == 2 and "microinverters" in out.stderr


def test_packs_rules_and_one_rule() -> None:
    assert "electrical" in run("packs").stdout
    listed = run("rules", "--pack", "commissioning").stdout
    assert "safety-voltage-off" in listed and "string-fuse-missing" not in listed
    page = run("rule", "device-over-conductor-ampacity").stdout
    for word in ("240.4(B)", "800 A", "Kept", "Broken", "Cure", "Examples", "not an approval"):
        assert word in page
    out = run("rule", "device-over-conductor-ampacty")
    assert out.exit_code == 2 and "device-over-conductor-ampacity" in out.stderr


def test_help_carries_the_caution() -> None:
    for words in (["--help"], ["check", "--help"]):
        assert "not an approval" in " ".join(run(*words).stdout.split())
