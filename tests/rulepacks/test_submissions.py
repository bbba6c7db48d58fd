"""Three whole submissions, each with five believable mistakes: all are found, by the rules named, and nothing else.

Plan, application, labels, roof outlines, storage, readings and all packs together. The houses are invented. Each
mistake was chosen for the rule that must find it; the further rules that notice it too were looked at one by one.
"""

from __future__ import annotations

import copy
from typing import Any

import pytest

import ampcite
from ampcite.house.change import change
from shared import SHIPPED, rulebook, shipped_house, years

TRIED = years("from 2020")
HOUSES = {name: shipped_house(name) for name in SHIPPED}
Mistake = tuple[str, dict[str, Any], set[str]]
MISTAKES: dict[str, list[Mistake]] = {
    "converter-strings": [
        (
            "10 AWG conductors on the inverter's 40 A breaker",
            {"/circuits/4/conductor/size": "10 AWG"},
            {"conductor-too-small-before-correction", "device-over-conductor-ampacity",
             "device-too-large-for-small-conductor", "voltage-rise-over-makers-limit"},
        ),
        ("26 modules on the permit application", {"/claims/10/says/quantity": 26}, {"plan-states-otherwise"}),
        (
            "the west array pushed up to the ridge",
            {"/roof/arrays/1/outline": [[4, 3.9], [22.8, 3.9], [22.8, 9.6], [19, 9.6], [19, 15.3], [4, 15.3]]},
            {"array-too-near-ridge"},
        ),
        (
            "string 1 with its leads reversed",
            {"/readings/strings/0/safety_voltage": -15.1},
            {"string-polarity-reversed"},
        ),
        (
            "the warning at the solar breaker written by hand",
            {"/labels/7/hand_written": True},
            {"label-written-by-hand"},
        ),
    ],
    "microinverters": [
        (
            "a trunk cable listed for 20 A",
            {"/module_electronics/0/trunk_cable_current": 20},
            {"trunk-cable-not-protected", "trunk-cable-overloaded"},
        ),
        (
            "a plan that adds the microinverters up at their peak power",
            {"/claims/3/says/ac_power": "7.7 kW"},
            {"plan-states-otherwise"},
        ),
        (
            "a truss that was cut",
            {"/roof/planes/0/framing/altered": "cut, spliced or notched further"},
            {"framing-altered-without-engineer"},
        ),
        ("1/2 in conduit to the disconnect", {"/raceways/3/trade_size": "1/2"}, {"raceway-overfilled"}),
        (
            "no one-line diagram",
            {"/documents/1/drawings": ["equipment schedule"]},
            {"one-line-diagram-missing"},
        ),
    ],
    "plain-strings": [
        (
            "10 kWh on the one-line diagram for a battery of 9.6 kWh",
            {"/storage/0/one_line_energy": 10},
            {"storage-energy-not-on-one-line"},
        ),
        (
            "no bollards before the battery, which is not marked for residences",
            {"/storage/0/impact_protection": None, "/storage/0/residential_marking": "not marked for residences"},
            {"storage-in-path-of-vehicles"},
        ),
        (
            "nine attachments left out",
            {"/roof/arrays/0/attachments": 21},
            {"too-few-attachments", "point-load-over-simple-paths"},
        ),
        (
            "the solar breaker beside the main",
            {"/panels/0/breakers/0/position": "at the supply end"},
            {"busbar-overloaded-by-sources"},
        ),
        (
            "a sixteenth module in string 1",
            {"/strings/0/modules_in_series": 16},
            {"string-voltage-over-dwelling-limit", "string-voltage-over-inverter-limit",
             "dc-disconnect-voltage-too-low", "max-dc-voltage-label-wrong", "module-number-not-that-of-strings",
             "string-electronics-do-not-fit-its-modules",
             "string-voltage-off-expectation", "working-space-too-shallow"},
        ),
    ],
}  # fmt: skip
CASES = [(house, edition) for house in MISTAKES for edition in TRIED]


def with_mistakes(house: str, mistakes: list[Mistake]) -> dict[str, Any]:
    document = copy.deepcopy(HOUSES[house])
    for _, changes, _ in mistakes:
        for pointer, value in changes.items():
            before, document = document, change(document, pointer, value)
            assert before != document
    return document


def found(document: dict[str, Any], edition: int) -> set[str]:
    report = ampcite.check(rulebook(edition), ampcite.read(document))
    assert all(f.decided for f in report.findings)
    return {f.rule for f in report.findings if f.verdict != "pass"}


@pytest.mark.parametrize(("house", "edition"), CASES)
def test_all_five_are_found_and_nothing_else(house: str, edition: int) -> None:
    five = MISTAKES[house]
    assert len(five) == 5
    assert found(with_mistakes(house, five), edition) == {rule for _, _, rules in five for rule in rules}


@pytest.mark.parametrize(("house", "edition"), CASES)
def test_each_by_itself_is_found_by_its_own_rules(house: str, edition: int) -> None:
    for mistake in MISTAKES[house]:
        assert found(with_mistakes(house, [mistake]), edition) == mistake[2], mistake[0]


@pytest.mark.parametrize("house", HOUSES)
def test_a_submission_holds_what_a_submission_holds(house: str) -> None:
    document = HOUSES[house]
    for key in ("documents", "claims", "labels", "roof", "readings", "grounding", "panels", "codes"):
        assert key in document, key
    assert all("outline" in plane for plane in document["roof"]["planes"]["all"] if plane.get("outline") is not None)
    assert any(HOUSES[name].get("storage") for name in HOUSES)
