"""Law by section: struck, narrowed, waived, handed over or adopted as a whole, with the list of rules it touches.

Sections and figures of the shipped packs; towns and ordinances are own inventions.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import ampcite
from ampcite.authoring import scaffold
from ampcite.authoring.testing import document
from ampcite.command.main import main
from ampcite.law.applied import Law
from ampcite.law.load import load_pack
from ampcite.law.migrate import migration_statuses
from ampcite.law.section import held, plain, within
from shared import PACKS, filled

EMERGENCY = ["emergency-disconnect-missing", "emergency-disconnect-label-missing",
             "emergency-disconnect-label-misworded"]  # fmt: skip
HOUSE = {
    "project/dwelling_type": "one-family",
    "service/work": "new service",
    "service/rating": 100,
    "service/disconnects": 1,
    "disconnects/0/role": "service disconnect",
    "disconnects/0/place": "inside",
    "disconnects/0/readily_accessible": True,
    "disconnects/0/emergency_marking": "none",
    "disconnects/0/distance_to_dwelling": 0,
}


def layer(folder: Path, base: int = 2020, /, **change: Any) -> Path:
    where = folder / "elm-county"
    where.mkdir(parents=True)
    head = scaffold.layer("elm-county", "Elm County", "county", {"electrical": base})["pack.toml"]
    (where / "pack.toml").write_text(head, "utf-8")
    said = {"id": "one", "why": "x", "clause": "1", "read": "ordinance", **change}
    text = "\n".join(f"{key} = {toml(value)}" for key, value in said.items())
    (where / "changes.toml").write_text(f"[[amend]]\n{text}\n", "utf-8")
    return where


def toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {toml(v)}" for k, v in value.items()) + " }"
    return json.dumps(value)


def report(where: Path, edition: int = 2020, date: str = "2026-03-10", **more: Any) -> ampcite.Report:
    book = ampcite.load(Law({"electrical": edition}, (), date, ()), [where])
    return ampcite.check(book, ampcite.read(document({**HOUSE, **more})))


def verdicts(found: ampcite.Report, rule: str = EMERGENCY[0]) -> list[str]:
    return [f.verdict.value for f in found.of(rule)]


def refused(where: Path, edition: int = 2020) -> str:
    with pytest.raises(ampcite.PackError) as caught:
        ampcite.load(Law({"electrical": edition}, (), "2026-03-10", ()), [where])
    (complaint,) = caught.value.complaints
    assert complaint.file.endswith("elm-county/changes.toml") and complaint.place == 'amend "one"'
    return complaint.message


def test_a_section_is_struck_as_a_whole(tmp_path: Path) -> None:
    where = layer(tmp_path, do="strike", section="230.85", rules=EMERGENCY)
    found = report(where)
    assert {rule: verdicts(found, rule) for rule in EMERGENCY} == {rule: [] for rule in EMERGENCY}
    struck = {aside.rule: aside.reason for aside in found.not_applicable if aside.rule in EMERGENCY}
    assert len(struck) == 3 and all("struck by Elm County" in reason for reason in struck.values())


def test_a_section_is_narrowed_waived_and_handed_over(tmp_path: Path) -> None:
    inputs = {"mark": "/service/ground_fault_protected"}
    where = layer(tmp_path, do="narrow", section="230.85", rules=EMERGENCY, where="mark", inputs=inputs, scope="some")
    assert verdicts(report(where)) == ["warn"], "whether it is marked is not known"
    assert verdicts(report(where, **{"service/ground_fault_protected": True})) == ["fail"]
    assert verdicts(report(where, **{"service/ground_fault_protected": False})) == []


@pytest.mark.parametrize(
    ("change", "verdict"),
    [({"do": "waive", "until": "2026-12-31"}, "warn"), ({"do": "refer", "to": "the fire department"}, "warn")],
)
def test_a_section_is_waived_or_handed_over(tmp_path: Path, change: dict[str, Any], verdict: str) -> None:
    where = layer(tmp_path, section="230.85", rules=EMERGENCY, **change)
    assert verdicts(report(where)) == [verdict]


def test_without_its_rules_a_section_is_refused_with_the_list(tmp_path: Path) -> None:
    said = refused(layer(tmp_path, do="strike", section="230.85"))
    assert said.startswith("does not say which rules it means; section 230.85 has rules = [")
    assert all(f'"{name}"' in said for name in EMERGENCY)


def test_a_section_that_has_grown_is_pinned_and_the_check_says_what_is_new(tmp_path: Path) -> None:
    where = layer(tmp_path, do="strike", section="230.85", rules=EMERGENCY[:1])
    assert verdicts(report(where)) == []
    (where / "pack.toml").write_text(filled((where / "pack.toml").read_text("utf-8")), "utf-8")
    out = CliRunner().invoke(main, ["pack", "check", str(where)])
    assert out.exit_code == 0
    (said,) = [line for line in out.output.splitlines() if "does not touch all of section" in line]
    assert said.startswith('remark: changes.toml:2: amend "one": ')
    assert EMERGENCY[1] in said and EMERGENCY[0] not in said


def test_a_rule_that_the_section_does_not_have_is_refused(tmp_path: Path) -> None:
    said = refused(layer(tmp_path, do="strike", section="230.85", rules=[*EMERGENCY, "handle-too-high"]))
    assert said.startswith("lists what section 230.85 does not have in the 2020 edition: handle-too-high")


def test_a_section_that_no_rule_rests_on(tmp_path: Path) -> None:
    assert "on which no rule rests" in refused(layer(tmp_path, do="strike", section="999.9"))
    assert "has rules = [" in refused(layer(tmp_path / "empty", do="strike", section="230.85", rules=[]))
    assert "on which no rule rests" in refused(
        layer(tmp_path / "adopt", do="adopt", section="999.9", edition="2023", rules=[])
    )


def test_a_section_that_no_rule_rests_on_yet_is_kept_on_record(tmp_path: Path) -> None:
    where = layer(tmp_path, do="strike", section="210.12", rules=[])
    assert verdicts(report(where)) == verdicts(report(layer(tmp_path / "b", do="strike", section="999.9", rules=[])))
    (where / "pack.toml").write_text(filled((where / "pack.toml").read_text("utf-8")), "utf-8")
    out = CliRunner().invoke(main, ["pack", "check", str(where)])
    assert out.exit_code == 0
    assert 'amend "one": is kept on record: no rule rests on section 210.12' in out.output
    carried = CliRunner().invoke(main, ["pack", "carry", str(where), "--edition", "2023"])
    assert "one: still applies: no rule rests on it there" in carried.output
    assert CliRunner().invoke(main, ["pack", "pages", str(where), str(tmp_path / "pages")]).exit_code == 0
    page = (tmp_path / "pages" / "changes.md").read_text("utf-8")
    assert "| section 210.12 | struck | not judged by these packs |" in page


def test_a_section_kept_on_record_that_gets_a_rule_is_said_to_grow(tmp_path: Path) -> None:
    where = layer(tmp_path, 2017, do="strike", section="230.85", rules=[])
    carried = CliRunner().invoke(main, ["pack", "carry", str(where), "--edition", "2020"])
    assert "one: grown: it has emergency-disconnect-missing" in carried.output


def test_a_section_and_a_rule_in_one_change(tmp_path: Path) -> None:
    where = layer(tmp_path, do="strike", section="230.85", rules=EMERGENCY, rule=EMERGENCY[0], expects="230.85")
    assert "names a rule and a section" in refused(where)


@pytest.mark.parametrize(
    ("section", "before", "after", "now"),
    [
        ("690.56(C)", 2017, 2020, "690.56(C)"), ("690.56(C)", 2020, 2023, "690.12(D)"),
        ("690.31(G)", 2017, 2020, "690.31(D)"), ("110.3(B)", 2017, 2020, "110.3(B)"),
        ("344.26", 2020, 2023, "344.24(B)"), ("705.12", 2020, 2023, "705.12"),
    ],
)  # fmt: skip
def test_a_section_is_looked_for_where_most_of_its_rules_rest(
    section: str, before: int, after: int, now: str, tmp_path: Path
) -> None:
    """Where it stands is said by the same place of a rule's clauses, not by whichever of them comes first."""
    packs = [pack for pack in PACKS.values() if not pack.authority]
    rules = [*held(packs, section, {"electrical": before}).rules]
    one = load_pack(layer(tmp_path, before, do="strike", section=section, rules=rules))
    (found,) = migration_statuses(one, packs, {"electrical": after})
    assert found.section == now, found.message
    assert found.outcome in ("grown", "still applies" if section == now else "renumbered")
    assert (f"{section} is {now} in that edition" in found.message) == (section != now)


@pytest.mark.parametrize(("after", "sure"), [(2020, True), (2026, False)])
def test_where_a_section_stands_is_as_sure_as_its_rules_were_read_there(after: int, sure: bool, tmp_path: Path) -> None:
    packs = [pack for pack in PACKS.values() if not pack.authority]
    rules = [*held(packs, "690.56(C)", {"electrical": 2017}).rules]
    one = load_pack(layer(tmp_path, 2017, do="strike", section="690.56(C)", rules=rules))
    (found,) = migration_statuses(one, packs, {"electrical": after})
    assert found.sure is sure


# --- a section of another edition ------------------------------------------------------------------------------------


def test_a_section_is_adopted_from_a_later_edition(tmp_path: Path) -> None:
    """A town under the 2017 code writes in the emergency disconnect of 2020."""
    where = layer(tmp_path, 2017, do="adopt", section="230.85", edition="2020", rules=EMERGENCY)
    assert verdicts(report(where, 2017)) == ["fail"]
    found = report(where, 2017).of(EMERGENCY[0])[0]
    assert "NEC 2020 230.85" in str(found.citations[0])
    assert found.local[0].local == "as NEC 2020 230.85 has it" and "2017 edition" in found.local[0].model
    there = ampcite.check(ampcite.load({"electrical": 2020}), ampcite.read(document(HOUSE))).of(EMERGENCY[0])[0]
    assert (found.note, found.remedy) == (there.note, there.remedy) and found.note and found.remedy
    outside = {"disconnects/0/place": "outside",
               "disconnects/0/emergency_marking": "emergency disconnect, service disconnect"}  # fmt: skip
    (kept,) = report(where, 2017, **outside).of(EMERGENCY[0])
    assert kept.verdict.value == "pass" and kept.note and kept.note != found.note
    plain_2017 = ampcite.load({"electrical": 2017}, "electrical")
    assert ampcite.check(plain_2017, ampcite.read(document(HOUSE))).of(EMERGENCY[0]) == ()


def test_adopting_a_section_that_the_edition_does_not_have_is_refused(tmp_path: Path) -> None:
    said = refused(layer(tmp_path, 2020, do="adopt", section="230.85", edition="2017", rules=EMERGENCY), 2020)
    assert "does not have in the 2017 edition" in said


@pytest.mark.thorough
def test_every_section_can_be_adopted_from_every_other_edition(tmp_path: Path) -> None:
    """With its figures: what differs between the editions gets a name of its own, and binds."""
    from ampcite.engine.bind import bind
    from ampcite.law.overlay import lay

    packs = [pack for pack in PACKS.values() if not pack.authority]
    tried = 0
    for base, year in ((2017, 2023), (2023, 2017), (2020, 2026)):
        for section in ("690.8", "690.12", "705.12", "310.15", "690.31", "250.66"):
            rules = list(held(packs, section, {"electrical": year}).rules)
            if not rules:
                continue
            folder = tmp_path / f"{base}-{year}-{section.replace('.', '-')}"
            folder.mkdir()
            change = layer(folder, base, do="adopt", section=section, edition=str(year), rules=rules)
            laid, complaints = lay(packs, [load_pack(change)], {"electrical": base})
            assert complaints == []
            for pack in laid:
                for figure in (*pack.parameters.values(), *pack.tables.values()):
                    assert set(figure.citation.read.texts.values()) <= pack.sources.keys(), (pack.name, figure.name)
            bound = bind(laid, {"electrical": base})
            assert set(rules) <= {rule.id for rule in bound.rules}
            tried += len(rules)
    assert tried > 50


# --- the look-up -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("section", "edition", "words"),
    [
        ("230.85", 2020, [*EMERGENCY, 'section = "230.85", rules = ["emergency-disconnect-missing", ']),
        ("690.56(C)", 2020, ["shutdown_label_distance = 3 ft (690.56(C)(2); lower is stricter)"]),
        ("Table 110.26(A)(1)", 2020, ["working_space_depth", "rows (volts_to_ground_at_most): 150, 600", "columns: 1"]),
        ("R324.6", 2021, ["ridge_setback_small = 18 in"]),
    ],
)
def test_a_section_looked_up(section: str, edition: int, words: list[str]) -> None:
    out = CliRunner().invoke(main, ["sections", section, "--edition", str(edition)])
    assert out.exit_code == 0
    assert all(word in out.output for word in words), out.output


def test_of_a_section_that_has_moved_the_latest_edition_that_has_it_is_shown() -> None:
    out = CliRunner().invoke(main, ["sections", "R324.6.2"]).output
    assert "residential and fire codes 2021" in out or "residential and fire codes 2018" in out


@pytest.mark.parametrize(
    ("part", "whole", "is_in"),
    [("690.12(B)(2)", "690.12", True), ("690.12", "690.12(B)", False), ("690.121", "690.12", False),
     ("690.12", "690", True), ("r328.7", "r328", True)],
)  # fmt: skip
def test_what_is_in_a_section(part: str, whole: str, is_in: bool) -> None:
    assert within(plain(part), plain(whole)) is is_in


@pytest.mark.parametrize("written", ["230.85.", "Section 230.85:", " NEC 2020 230.85, ", "§ 230.85;", "Art. 230.85"])
def test_a_number_is_taken_as_people_write_it(written: str) -> None:
    assert plain(written) == "230.85"
