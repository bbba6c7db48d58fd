"""The example houses: each passes, and every believable mistake is found, and nothing else.

Which rules a broken house breaks was worked out by hand from the code's figures before the program was asked; the
clauses are cited by the rules themselves. The houses, makes and towns are invented. The figures of the editions
(a table of roof temperatures by height in 2014, roof clearance 7/8 in until 2020 and 3/4 in from 2023, rapid shutdown
within 10 s and 240 VA in 2014, carports exempt from 2023, an array without exposed metal no longer a way from 2023)
have the sources the electrical pack names: the 2017 text, the 2022 California text, whose base is 2020, the 2023 text
of chapters 1 to 4, and trade articles about 2014, about article 690 of 2023 and about 2026.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import jsonschema_rs
import pytest

import ampcite
import shared
from ampcite.base.resources import shipped
from ampcite.law.head import head
from shared import BROKEN, EDITIONS, FOLDERS, SHIPPED, TESTS, both, broken, changed, judged, rulebook, shipped_house

HERE = TESTS / "houses"
LABELS: dict[str, dict[str, dict[str, Any]]] = json.loads((HERE / "labels.json").read_text("utf-8"))
"""The labels of the shipped houses under an edition whose words and colours are others: edition, house, changes."""

MODEL_PACKS = {name for name, folder in FOLDERS.items() if not head(folder).layer}
"""The packs of the model codes, which are used where nobody names any."""

NEVER_FIRES: set[str] = set()
"""Rules that no broken house makes fail or warn."""


def report_of(document: Any, edition: int, packs: tuple[str, ...] | None = None) -> ampcite.Report:
    """Of the rules of some packs, or of all."""
    rules = None if packs is None else judged(edition, packs)
    description = document if isinstance(document, ampcite.Description) else ampcite.read(document)
    return ampcite.check(rulebook(edition), description, rules=rules)


def rules_that(report: ampcite.Report, verdict: str) -> set[str]:
    return {f.rule for f in report.not_passed if f.verdict == verdict}


def test_three_houses_are_shipped_and_the_converter_house_comes_first() -> None:
    assert list(SHIPPED) == ["converter-strings", "microinverters", "plain-strings"]


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_house_passes_with_nothing_left_open(name: str, edition: int) -> None:
    report = report_of(changed(shipped_house(name), LABELS.get(str(edition), {}).get(name, {})), edition)
    assert [(f.rule, f.about, f.note) for f in report.findings if f.verdict != "pass"] == []
    assert not [f for f in report.findings if f.missing]
    assert [f.rule for f in report.findings if "not known" in " ".join([f.note, *f.worked])] == []
    assert {p.name for p in report.packs} == MODEL_PACKS
    asked = {f.rule for f in report.findings} | {a.rule for a in report.not_applicable}
    bound = rulebook(edition).bound
    assert asked == {r.id for r in bound.rules} | {rule for rule, _ in bound.not_in_force}


def test_what_nobody_stated_is_in_no_sentence_of_a_rule_that_is_kept() -> None:
    house = shipped_house("plain-strings")
    del house["roof"]["planes"]["each"]["framing"]["kind"]
    found = [f for f in report_of(house, 2020).findings if f.verdict == "pass"]
    told = {f.note for f in found if f.rule == "framing-altered-without-engineer"}
    assert told == {
        f"Roof plane {plane}: Framing cut beyond what the code lets anybody cut has a design."
        for plane in ("SOUTH", "GARAGE")
    }
    assert [f.rule for f in found if "not known" in f.note] == []


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_house_says_it_is_invented(name: str) -> None:
    document = shipped_house(name)
    assert "invented" in document["project"]["name"]
    assert "invented" in document["project"]["address"]
    makes = [model["make"] for kind, models in document["equipment"].items() if kind != "circuits.terminals"
             for model in models.values()]  # fmt: skip
    assert makes and all("invented" in make for make in makes)


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_house_is_printed_prettily_and_keeps_to_the_schema(name: str) -> None:
    text = SHIPPED[name].read_text("utf-8")
    assert text == json.dumps(json.loads(text), indent=2, ensure_ascii=False) + "\n"
    schema = json.loads((shipped("schemas") / "description.schema.json").read_text("utf-8"))
    jsonschema.Draft202012Validator(schema).validate(json.loads(text))


@cache
def quick_validator() -> Any:
    return jsonschema_rs.Draft202012Validator(report_validator().schema)


def called(one: dict[str, Any]) -> str:
    return f"{one['house']}: {one['name']}"


def keeps_to_its_schema(report: ampcite.Report) -> bool:
    written = json.loads(ampcite.to_json(report))
    fails = sum(f["verdict"] == "fail" for f in written["findings"])
    return quick_validator().is_valid(written) and written["counts"]["fail"] == fails


@pytest.mark.parametrize("one", shared.sample(BROKEN, 11), ids=called)
def test_a_broken_house_breaks_exactly_these_rules(one: dict[str, Any]) -> None:
    """At every edition it is listed for; each fault is explained and has a cure.

    The report as JSON keeps to its schema, here at the latest edition listed.
    """
    description = ampcite.read(broken(one))
    reports = {year: report_of(description, year, tuple(one["packs"])) for year in one["editions"]}
    found = {year: (sorted(rules_that(r, "fail")), sorted(rules_that(r, "warn"))) for year, r in reports.items()}
    assert found == dict.fromkeys(one["editions"], (one["fails"], one["warns"]))
    for report in reports.values():
        for finding in report.not_passed:
            assert finding.note and finding.remedy and finding.citations, finding.rule
            assert "{" not in finding.note + finding.remedy
    assert keeps_to_its_schema(reports[max(reports)])


@pytest.mark.exhaustive
@pytest.mark.parametrize("one", BROKEN, ids=called)
def test_the_report_of_a_broken_house_at_earlier_editions_keeps_to_its_schema(one: dict[str, Any]) -> None:
    description = ampcite.read(broken(one))
    for edition in one["editions"][:-1]:
        assert keeps_to_its_schema(report_of(description, edition, tuple(one["packs"]))), edition


@pytest.mark.parametrize("name", SHIPPED)
def test_every_house_is_broken_in_at_least_eight_ways(name: str) -> None:
    assert len({one["name"] for one in BROKEN if one["house"] == name}) >= 8


def test_every_rule_fires_on_some_broken_house() -> None:
    """By what the mistakes list, which the test above holds them to."""
    fired = {rule for one in BROKEN for rule in (*one["fails"], *one["warns"])}
    known = {rule.id for edition in EDITIONS for rule in rulebook(edition).bound.rules}
    assert known - fired == NEVER_FIRES


def test_a_change_listed_by_edition_has_another_outcome_in_another_edition() -> None:
    """Each is listed for every edition, so that what an edition excuses is tested beside what another asks."""
    listed: dict[tuple[str, str], dict[int, tuple[tuple[str, ...], tuple[str, ...]]]] = {}
    for one in BROKEN:
        if one["editions"] != EDITIONS:
            change = (one["house"], json.dumps([one["set"], one.get("leave_out")], sort_keys=True))
            outcome = tuple(one["fails"]), tuple(one["warns"])
            listed.setdefault(change, {}).update(dict.fromkeys(one["editions"], outcome))
    for change, outcomes in listed.items():
        assert sorted(outcomes) == list(EDITIONS) and len(set(outcomes.values())) > 1, change
    assert len([found for found in listed.values() if any(not fails for fails, _ in found.values())]) >= 7


# --- the house whose verdict depends on the edition -----------------------------------------------------------

WEIR_COTTAGE = HERE / "edition-difference.json"
INSIDE = "array-inside-boundary-not-controlled"
ABOUT_IT = ("electrical", "commissioning")
"""The packs that the house is described for."""


@pytest.mark.parametrize(
    ("edition", "verdict"), [(2014, "pass"), (2017, "pass"), (2020, "pass"), (2023, "fail"), (2026, "fail")]
)
def test_an_array_without_exposed_metal_is_accepted_until_2020_and_not_from_2023(edition: int, verdict: str) -> None:
    """690.12(B)(2)(3) of 2017 and 2020, read in the pack's sources; withdrawn in 2023 (trade articles).

    In 2014 nothing is asked inside the array, and 2026 goes on as 2023 (trade articles).
    """
    report = report_of(WEIR_COTTAGE, edition, ABOUT_IT)
    assert report.verdict == verdict
    assert {f.rule for f in report.findings if f.verdict != "pass"} == ({INSIDE} if verdict == "fail" else set())
    assert not [f for f in report.findings if f.missing]


@pytest.mark.parametrize("edition", [2017, 2020])
def test_the_earlier_editions_say_by_which_way_the_array_is_accepted(edition: int) -> None:
    (finding,) = report_of(WEIR_COTTAGE, edition, ABOUT_IT).of(INSIDE)
    assert "no exposed wiring or conductive parts" in finding.note
    assert "9.5 ft" in finding.note and "8 ft" in finding.note and "this edition accepts" in finding.note
    assert [(c.edition, c.clause) for c in finding.citations] == [(edition, "690.12(B)(2)")]


def test_the_2023_finding_says_what_changed() -> None:
    (finding,) = report_of(WEIR_COTTAGE, 2023, ABOUT_IT).of(INSIDE)
    assert "without exposed metal" in finding.note and "2020" in finding.note and "from 2023 on" in finding.note
    assert [(c.work, c.clause) for c in finding.citations] == [("NEC 2023", "690.12(B)(2)")]
    assert "hazard control" in finding.remedy and "80 V" in finding.remedy


def test_a_rule_of_which_an_edition_knows_one_way_has_a_margin() -> None:
    """1.25 times 30 A against a 40 A breaker; the 2026 edition knows a second way, so that no one limit counts."""
    for edition, margin in ((2023, (2.5, "A")), (2026, None)):
        report = report_of(SHIPPED["converter-strings"], edition, ("electrical",))
        (finding,) = report.of("device-too-small-for-continuous-current")
        assert finding.margin == margin


# --- the report as JSON ---------------------------------------------------------------------------------------


@cache
def report_validator() -> jsonschema.Draft202012Validator:
    schema = json.loads((shipped("schemas") / "report.schema.json").read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize("path", [*SHIPPED.values(), WEIR_COTTAGE], ids=lambda p: p.stem)
def test_the_report_of_a_house_as_json_keeps_to_its_schema(path: Path, edition: int) -> None:
    written = json.loads(ampcite.to_json(report_of(path, edition)))
    assert [error.message for error in report_validator().iter_errors(written)] == []
    assert written["editions"] == both(edition) and written["passed"]
