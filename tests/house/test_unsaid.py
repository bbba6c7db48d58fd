"""What nobody says: where its absence would break a rule, it is asked for; where all is listed, it is not there."""

from __future__ import annotations

from typing import Any

import pytest

import ampcite
from ampcite.house.change import LEFT_OUT, change
from shared import rulebook, shipped_house


def answers(document: dict[str, Any], rule: str) -> set[tuple[str, bool]]:
    """The verdicts of a rule, each with whether it is decided."""
    report = ampcite.check(rulebook(2020), ampcite.read(document), rules=[rule])
    return {(f.verdict.value, f.decided) for f in report.of(rule)}


def test_silence_about_a_load_calculation_is_asked() -> None:
    house = change(shipped_house("converter-strings"), "/panels/0/main_before", 225)
    rule = "reduced-main-under-load"
    assert answers({**house, "all_listed": False}, rule) == {("warn", False)}
    assert answers(house, rule) == {("fail", True)}


@pytest.mark.parametrize("key", ["storage", "other_equipment"])
def test_a_list_is_empty_by_that_word_only_where_its_meaning_says_so(key: str) -> None:
    """Storage that is not listed is not there; of equipment with no home of its own nothing is known."""
    house = shipped_house("plain-strings")
    parts = ampcite.read(change(house, f"/{key}", LEFT_OUT)).parts[key]
    assert parts == (() if key == "storage" else None)
    assert ampcite.read({**change(house, f"/{key}", LEFT_OUT), "all_listed": False}).parts[key] is None


def test_a_list_that_may_go_on_stays_open_whatever_is_said_of_all() -> None:
    whole = ampcite.read({"all_listed": True, "storage": {"only": []}, "ground_arrays": "?"})
    assert whole.parts["storage"] is None and whole.parts["ground_arrays"] is None
