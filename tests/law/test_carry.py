"""Layers of local law carried over to later editions: what the report admits, and what the second pack is.

Counties and ordinances are own inventions; the sections and figures are those of the shipped packs.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import ampcite
from ampcite.authoring import scaffold
from ampcite.authoring.lint import FAULT, remarks
from ampcite.command.main import main
from ampcite.law.applied import Law
from ampcite.law.registry import chosen_folders
from shared import filled, sample, shipped_house

OWN = """
[[parameter]]
name = "elm_reach"
meaning = "reach of the county's ladder"
unit = "in"
stricter = "lower"
value = { 2017 = "70" }
clause = { 2017 = "section 9" }
read = { 2017 = "ordinance" }
"""
EMERGENCY = ["emergency-disconnect-missing", "emergency-disconnect-label-missing",
             "emergency-disconnect-label-misworded"]  # fmt: skip


def layer(where: Path, edition: int, changes: list[dict[str, Any]], more: str = "") -> Path:
    where.mkdir(parents=True)
    head = scaffold.layer(where.name, "Elm County", "county", {"electrical": edition})["pack.toml"]
    (where / "pack.toml").write_text(filled(head), "utf-8")
    usual = {"why": "It snows.", "clause": "section 1", "read": "ordinance"}
    texts = []
    for change in changes:
        lines = "".join(f"{key} = {json.dumps(value)}\n" for key, value in {**change, **usual}.items())
        texts.append(f"# why {change['id']} was made\n[[amend]]\n{lines}")
    (where / "changes.toml").write_text("\n".join(texts), "utf-8")
    (where / "own.toml").write_text(more, "utf-8")
    return where


def carry(where: Path, edition: int, *words: str) -> tuple[dict[str, str], Path]:
    into = where.parent / "carried"
    given = ["--edition", str(edition), "--write", str(into), *words]
    out = CliRunner().invoke(main, ["pack", "carry", str(where), *given])
    assert out.exception is None or isinstance(out.exception, SystemExit), out.exception
    lines = dict(line.split(": ", 1) for line in out.output.splitlines() if ": " in line)
    new = where.parent / f"{where.name}-{edition}"
    into.rename(new)
    return lines, new


def fill(where: Path) -> Path:
    head = where / "pack.toml"
    head.write_text(filled(head.read_text("utf-8")), "utf-8")
    return where


def said(where: Path) -> list[str]:
    first, *others = chosen_folders([where])
    return [str(one) for one in remarks(first, others) if one.severity == FAULT]


CHANGES = [
    {"id": "handles", "do": "tighten", "parameter": "handle_height_limit", "expects": "79", "to": "72"},
    {"id": "own", "do": "tighten", "parameter": "elm_reach", "expects": "70", "to": "66"},
    {"id": "old", "do": "waive", "rule": "handle-too-high", "expects": "404.8(A)", "until": "2019-12-31"},
    {"id": "lock", "do": "refer", "rule": "pv-disconnect-not-lockable", "expects": "690.13(E)", "to": "the utility"},
]


def test_what_becomes_of_each_change_and_how_sure_that_is(tmp_path: Path) -> None:
    found, _ = carry(layer(tmp_path / "elm", 2017, CHANGES, OWN), 2020, "--from", "2021-01-01")
    assert found["handles"].startswith("still applies: highest position")
    assert found["own"].startswith("still applies: reach of the county's ladder is still 70 in")
    assert found["old"] == "expired: it ends on 2019-12-31, before 2021-01-01"
    assert found["lock"].startswith("still applies")


def test_a_section_that_grows_is_said_and_left_to_decide(tmp_path: Path) -> None:
    change = {"id": "cabins", "do": "strike", "section": "230.85", "rules": EMERGENCY}
    found, new = carry(layer(tmp_path / "elm", 2020, [change]), 2023)
    assert found["cabins"].startswith("grown: it also has ") and "emergency-letters-too-small" in found["cabins"]
    text = (new / "changes.toml").read_text("utf-8")
    assert "# to decide: cabins: grown" in text and "# why cabins was made" in text
    assert said(fill(new)) == []


def test_numbers_from_memory_are_said_to_be(tmp_path: Path) -> None:
    change = {"id": "surge", "do": "strike", "rule": "surge-protection-missing", "expects": "230.67(A)-(D)"}
    found, new = carry(layer(tmp_path / "elm", 2020, [change]), 2023)
    memory = "from memory" in found["surge"]
    assert memory == ("# to decide: surge" in (new / "changes.toml").read_text("utf-8"))
    found, _ = carry(layer(tmp_path / "b" / "elm", 2020, [change]), 2026)
    assert "(from memory: look it up before relying on it)" in found["surge"]


def test_the_draft_is_a_second_pack_beside_the_first(tmp_path: Path) -> None:
    old = layer(tmp_path / "elm", 2017, CHANGES, OWN)
    before = {path.name: path.read_bytes() for path in old.iterdir()}
    _, new = carry(old, 2020, "--from", "2026-07-01")
    assert {path.name: path.read_bytes() for path in old.iterdir()} == before
    assert any("number of the ordinance" in one for one in said(new)), "the place to be filled in is told"
    assert said(fill(new)) == []
    text = (new / "changes.toml").read_text("utf-8")
    assert "# left out: old: expired" in text and '# id = "old"' in text and "# why old was made" in text
    law = {}
    for day in ("2026-06-30", "2026-07-01"):
        house = ampcite.read({"codes": {"jurisdiction": "elm", "application_date": day}})
        found = ampcite.law_for(house, [old, new])
        assert found is not None
        law[day] = (found.editions, [path.name for path in found.layers])
    assert law == {"2026-06-30": ({"electrical": 2017}, ["elm"]), "2026-07-01": ({"electrical": 2020}, ["elm-2020"])}


@pytest.mark.parametrize("change", sample(CHANGES[:2] + CHANGES[3:], 3), ids=lambda one: one["id"])
def test_carried_twice_it_is_as_the_law_written_anew(change: dict[str, Any], tmp_path: Path) -> None:
    old = layer(tmp_path / "elm", 2017, [change], OWN)
    _, first = carry(old, 2020)
    _, second = carry(fill(first), 2023)
    (tmp_path / "anew").mkdir()
    clause = {"lock": {"expects": "690.13(E)"}}.get(change["id"], {})
    own = re.sub("2017", "2023", OWN)
    anew = layer(tmp_path / "anew" / "elm", 2023, [{**change, **clause}], own)
    verdicts = []
    for where in (fill(second), anew):
        book = ampcite.load(Law({"electrical": 2023}, (), "2026-03-10", ()), [where])
        report = ampcite.check(book, ampcite.read(shipped_house("converter-strings")))
        verdicts.append([(f.rule, f.about, f.verdict) for f in report.findings])
    assert verdicts[0] == verdicts[1]
