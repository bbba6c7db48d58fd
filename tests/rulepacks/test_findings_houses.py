"""Houses that an audit's findings were about: what it called a false alarm passes, what it called a wrong pass fails.

Each is a shipped or a lawful house with a change or two, and names the finding by list and number, as the tables of
``tests/settled`` do. Why a change is lawful or not is told by the clause that its rule cites. The makes and towns are
invented.
"""

from __future__ import annotations

import csv
import json
from collections import Counter
from typing import Any

import pytest

import ampcite
from shared import (
    BROKEN,
    LAWFUL,
    PACKS,
    ROOT,
    SHIPPED,
    TESTS,
    judged,
    plain,
    rulebook,
    sample,
    shipped_house,
    with_mistake,
    years,
)  # fmt: skip

HOUSES: dict[str, list[dict[str, Any]]] = json.loads((TESTS / "houses" / "findings.json").read_text("utf-8"))
"""Lawful and unlawful houses: the finding, a house, what is changed, the rule it is about and its editions.

Where nothing is said to be changed, the change is that of the house of this name in ``tests/houses/broken``.
"""

CHANGES = {(one["house"], one["name"]): one for one in BROKEN}


def house(name: str) -> dict[str, Any]:
    if name in SHIPPED:
        return shipped_house(name)
    document: dict[str, Any] = json.loads(LAWFUL[name].read_text("utf-8"))
    return document


def verdicts(one: dict[str, Any], rule: str = "") -> dict[int, set[str]]:
    """By edition, the verdicts of a rule on a house, or of all rules that are decided."""
    change = one if "set" in one else CHANGES[one["house"], one["name"]]
    description = ampcite.read(with_mistake(house(one["house"]), change))
    out = {}
    for edition in years(one["editions"]) if "set" in one else change["editions"]:
        report = ampcite.check(rulebook(edition), description)
        asked = judged(edition, tuple(change.get("packs", PACKS)))
        found = report.of(rule) if rule else [f for f in report.findings if f.rule in asked]
        out[edition] = {f.verdict for f in found if f.decided}
    return out


@pytest.mark.parametrize("one", sample(HOUSES["lawful"], 3), ids=lambda one: f"{one['finding']}: {one['name']}")
def test_what_was_a_false_alarm_passes(one: dict[str, Any]) -> None:
    """No rule fails it, and the rule that did passes or does not apply."""
    for edition, found in verdicts(one).items():
        assert "fail" not in found, edition
    for edition, found in verdicts(one, one["rule"]).items():
        assert found <= {"pass"}, edition


@pytest.mark.parametrize("one", sample(HOUSES["unlawful"], 3), ids=lambda one: f"{one['finding']}: {one['name']}")
def test_what_was_a_wrong_pass_fails(one: dict[str, Any]) -> None:
    """By the rule that should find it, as a failure, or as advice where no clause forbids it."""
    for edition, found in verdicts(one, one["rule"]).items():
        assert one.get("verdict", "fail") in found, edition


def test_forty_are_lawful_and_sixty_are_not() -> None:
    assert len(HOUSES["lawful"]) >= 40 and len(HOUSES["unlawful"]) >= 60
    for kind in HOUSES.values():
        names = Counter((one["house"], one["name"]) for one in kind)
        assert [name for name, count in names.items() if count > 1] == []


@pytest.mark.parametrize("one", [one for kind in HOUSES.values() for one in kind], ids=lambda one: one["finding"])
def test_each_names_a_finding_that_is_settled(one: dict[str, Any]) -> None:
    listed, number = one["finding"].split(" ")
    settled = set()
    for table in (TESTS / "settled").glob("*.csv"):
        with table.open(newline="", encoding="utf-8") as file:
            settled |= {(row["list"], row["number"]) for row in csv.DictReader(file)}
    assert (listed, number) in settled
    assert one["rule"] in {name for pack in PACKS.values() for name in pack.rules}


# --- what no change of one house shows ---------------------------------------------------------------------------


def test_breakers_that_are_not_all_leave_their_sum_open() -> None:
    """A 125 A busbar with the source's breaker alone keeps the sum of all devices, if it is all there is."""
    document = shipped_house("converter-strings")
    (panel,) = [one for one in document["panels"] if one["id"] == "MAIN"]
    (source,) = [one for one in plain(document)["panels"][0]["breakers"] if one["serves"] == "source"]
    found = {}
    for how_far in ("all", "only"):
        panel |= {"bus_rating": 125, "main_overcurrent": 125, "breakers": {how_far: [source]}}
        report = ampcite.check(rulebook(2020), ampcite.read(document))
        (found[how_far],) = [f.verdict for f in report.of("busbar-overloaded-by-sources") if f.about == "/panels/0"]
    assert found == {"all": "pass", "only": "warn"}


@pytest.mark.parametrize(("standard", "verdict"), [("NFPA 13D", "fail"), ("IRC P2904", "fail"), ("other", "pass")])
def test_the_sprinklers_of_a_dwelling_are_no_sprinklers_of_its_attic(standard: str, verdict: str) -> None:
    """An invented city takes sprinklers for metal in attics; the dwelling standards leave attics out."""
    document = plain(house("battery-backup"))
    attic = [(i, j) for i, c in enumerate(document["circuits"]) if c["kind"] in ("pv source", "converter output")
             for j, s in enumerate(c["segments"]) if s["place"] == "attic"]  # fmt: skip
    assert attic
    raceway = document["circuits"][attic[0][0]]["segments"][attic[0][1]]["raceway"]
    place = next(i for i, one in enumerate(document["raceways"]) if one["id"] == raceway)
    changes = {f"/raceways/{place}/kind": "PVC schedule 40", "/roof/sprinklers": standard}
    here = {"/codes/jurisdiction": "port-selwick", "/codes/application_date": "2026-06-01"}
    description = ampcite.read(with_mistake(house("battery-backup"), {"set": changes | here}))
    report = ampcite.check(ampcite.load(ampcite.law_for(description)), description)
    assert {f.verdict for f in report.of("dc-inside-building-without-metal")} == {verdict}


def test_lag_screws_hold_by_the_formula_behind_their_table() -> None:
    """1800 G^1.5 D^0.75 pounds an inch, the formula that the table of the standard is made with; rounded to a pound."""
    with (ROOT / "rulepacks" / "roof" / "lag_withdrawal.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert {"0.31", "0.44", "0.68", "0.71", "0.73"} <= {row["specific_gravity"] for row in rows}
    for row in rows:
        gravity = float(row.pop("specific_gravity"))
        for size, cell in row.items():
            over, under = size.removesuffix(" in").split("/")
            assert abs(1800 * gravity**1.5 * (int(over) / int(under)) ** 0.75 - float(cell)) <= 0.6, (gravity, size)
