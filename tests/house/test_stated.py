"""How much a description states: few values, and no rule lost for it that was decided when it stated twice as many."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import ampcite
from ampcite.base.resources import designs, houses, plan_sets
from shared import rulebook

MOST = {
    "converter-strings": (1000, 418), "microinverters": (1000, 334), "plain-strings": (1000, 454),
    "micro-two-branches": (550, 233), "hundred-amp-service": (550, 285), "strings-and-wiring": (90, 40),
}  # fmt: skip
"""By shipped example: the most values it may state, and the least rules that are decided of it at the 2020 edition."""


def values(document: Any) -> int:
    """How many values a description states: every text, number, flag and null, and every empty list or object.

    An outline or a conductor in one text is one value, as a person writes it.
    """
    if isinstance(document, dict | list) and document:
        return sum(map(values, document.values() if isinstance(document, dict) else document))
    return 1


def test_every_leaf_is_a_value() -> None:
    assert values({"a": [], "b": {}, "c": None, "d": [1, "2", False], "e": {"f": [{"g": 1}, {}]}}) == 8


@pytest.mark.parametrize("path", [*houses(), *plan_sets(), *designs()], ids=lambda path: path.stem)
def test_a_shipped_example_states_no_more_than_it_has_to(path: Path) -> None:
    most, least = MOST[path.stem]
    assert values(json.loads(path.read_text("utf-8"))) <= most
    report = ampcite.check(rulebook(2020), ampcite.read(path))
    assert len({f.rule for f in report.findings if f.decided}) >= least


@pytest.mark.parametrize("path", plan_sets(), ids=lambda path: path.stem)
def test_a_shipped_plan_set_passes_as_far_as_can_be_known_at_its_stage(path: Path) -> None:
    review = ampcite.review(rulebook(2020), ampcite.read(path))
    assert not review.comments and not review.missing and not review.unbegun
    assert "PASS as far as it can be known at plan review" in ampcite.to_text(review)
