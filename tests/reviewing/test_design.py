"""The shipped design: few values, one screen, its limits first with their figures, and what is open named as open."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

import ampcite
from ampcite.base.resources import designs
from ampcite.house.change import change
from shared import EDITIONS, rulebook, sample

MOST_VALUES, MOST_LINES = 90, 40
DESIGNS = {path.stem: path for path in designs()}


def values(document: Any) -> int:
    """How many values a description states."""
    if isinstance(document, dict):
        return sum(map(values, document.values()))
    return sum(map(values, document)) if isinstance(document, list) else 1


def design() -> dict[str, Any]:
    document: dict[str, Any] = json.loads(DESIGNS["strings-and-wiring"].read_text("utf-8"))
    return document


def written(document: dict[str, Any], edition: int = 2023) -> str:
    book = ampcite.load({"electrical": edition})
    return ampcite.to_text(ampcite.review(book, ampcite.read(document)))


def section(text: str, title: str) -> str:
    found = re.search(rf"^{title}\n-+\n(.*?)(?:\n\n|\Z)", text, re.M | re.S)
    return " ".join(found[1].split()) if found else ""


@pytest.mark.parametrize("name", DESIGNS)
def test_it_states_few_values_and_its_report_is_one_screen(name: str) -> None:
    document = json.loads(DESIGNS[name].read_text("utf-8"))
    assert document["stage"] == "design"
    assert values(document) <= MOST_VALUES
    assert len(written(document).splitlines()) <= MOST_LINES


def test_the_limits_come_first_with_their_figures() -> None:
    text = written(design())
    titles = re.findall(r"^(.+)\n-{3,}$", text, re.M)
    assert titles[0] == "Limits"
    # -0.25 %/degC below 25 degC, 36 kelvin down to -11 degC: 38.9 V * 1.09 = 42.401 V a module
    limits = section(text, "Limits")
    for modules, string in ((12, "S1"), (10, "S2")):
        coldest = f"{modules * 42.401:.4g}"
        assert f"On the coldest day string {string} reaches {coldest} V; the inverter takes 600 V." in limits


def test_one_module_more_than_the_coldest_day_allows_must_change_first() -> None:
    document = change(design(), "/strings/0/modules_in_series", 15)  # 15 * 42.401 V is 636 V
    text = written(document)
    titles = re.findall(r"^(.+)\n-{3,}$", text, re.M)
    assert titles[0] == "Must change"
    assert "S1 reaches 636 V; the inverter takes 600 V at most" in section(text, "Must change")


@pytest.mark.parametrize("edition", sample(EDITIONS[::-1], 3))
def test_it_fails_at_no_edition_and_leaves_only_raceways_and_panels_unsaid(edition: int) -> None:
    review = ampcite.review(rulebook(edition, code="electrical"), ampcite.read(design()))
    assert not review.comments
    assert {place for one in (*review.missing, *review.unbegun) for place in one.places} <= {"/raceways", "/panels"}
    assert len(review.report.passes) > 50
