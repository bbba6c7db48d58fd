"""A house fails only by a code in force, or by a demand that its description states: lint, and every shipped pack."""

from __future__ import annotations

from pathlib import Path

import pytest

from ampcite.authoring.lint import FAULT, remarks, unfounded
from shared import FOLDERS, PACKS, sample

HEAD = """
[pack]
name = "force"
title = "rules of unlike force"
version = "1"
editions = [2017, 2020]
[pack.works]
nec = "NEC {edition}"
maker = { title = "Maker's instructions:", force = "demand" }
practice = { title = "Common practice:", force = "advice" }
[pack.sources]
practice = { title = "common practice, no source", body = "", year = "" }
[pack.readings]
practice = { 2017 = "practice" }
"""

RULE = """
[[rule]]
id = "run-too-long"
title = "A run is short"
family = "runs"
force = "FORCE"
covers = []
each = "/communications/*"
inputs = { length = "length", longest = "separation_from_power" }
holds = "length <= longest"
passes = "{each} is short."
fails = "{each} is long."
remedy = "Shorten it."
cite = [CITE]
"""

EXAMPLES = """
[[run-too-long.example]]
set = { "communications/0/length" = 1, "communications/0/separation_from_power" = "2 ft" }
verdict = "pass"
[[run-too-long.example]]
set = { "communications/0/length" = 3, "communications/0/separation_from_power" = "2 ft" }
verdict = "VERDICT"
"""


def said(tmp_path: Path, cite: str, force: str = "requirement") -> list[str]:
    """The faults that lint finds in a pack with one rule."""
    (tmp_path / "pack.toml").write_text(HEAD, "utf-8")
    (tmp_path / "runs.toml").write_text(RULE.replace("CITE", cite).replace("FORCE", force), "utf-8")
    verdict = "fail" if force == "requirement" else "warn"
    (tmp_path / "runs.examples.toml").write_text(EXAMPLES.replace("VERDICT", verdict), "utf-8")
    return [remark.message for remark in remarks(tmp_path, []) if remark.severity == FAULT]


CODE = '{ work = "nec", clause = { 2017 = "1.1" }, read = "practice" }'
LATER = '{ work = "nec", clause = { 2020 = "1.1" }, read = "practice" }'
ENDED = '{ work = "nec", clause = { 2017 = "1.1", 2020 = "withdrawn" }, read = "practice" }'
PRACTICE = '{ work = "practice", clause = { 2017 = "short runs" }, read = "practice" }'
MAKER = '{ work = "maker", clause = { 2017 = "length" }, read = "practice" }'
STATED = '{ work = "maker", clause = { 2017 = "length" }, read = "practice", stated = "longest" }'


@pytest.mark.parametrize("cite", [CODE, STATED, f"{PRACTICE}, {CODE}", f"{LATER}, {STATED}"])
def test_a_code_or_a_stated_demand_lets_a_house_fail(tmp_path: Path, cite: str) -> None:
    assert said(tmp_path, cite) == []


@pytest.mark.parametrize(("cite", "edition"), [
    (PRACTICE, 2017), (MAKER, 2017), (f"{PRACTICE}, {MAKER}", 2017), (f"{PRACTICE}, {LATER}", 2017),
    (f"{PRACTICE}, {ENDED}", 2020),
])  # fmt: skip
def test_practice_alone_fails_no_house_at_any_edition(tmp_path: Path, cite: str, edition: int) -> None:
    [fault] = said(tmp_path, cite)
    assert f"at the {edition} edition no code in force" in fault


def test_practice_advises(tmp_path: Path) -> None:
    assert said(tmp_path, PRACTICE, "recommendation") == []


def test_a_demand_is_stated_by_an_input(tmp_path: Path) -> None:
    [fault] = said(tmp_path, STATED.replace("longest", "longer"))
    assert 'stated by "longer", which is no input' in fault


@pytest.mark.parametrize("name", PACKS)
def test_no_rule_of_a_shipped_pack_fails_a_house_by_practice(name: str) -> None:
    rules = PACKS[name].rules.values()
    assert [rule.id for rule in rules if rule.force == "requirement" and unfounded(PACKS[name], rule)] == []


@pytest.mark.parametrize("name", sample(PACKS, 8))
def test_a_shipped_pack_has_no_fault(name: str) -> None:
    """At every edition it knows."""
    others = [FOLDERS[other] for other in PACKS if other != name and not PACKS[other].authority]
    assert [str(remark) for remark in remarks(FOLDERS[name], others) if remark.severity == FAULT] == []
