"""Every item of published checklists is answered: by a rule, by a rule and a person, or by a question.

Source: the 267 items gathered from published plan-review, inspection and commissioning checklists, in our words, in
``src/ampcite/items.csv``.
"""

from __future__ import annotations

import re
from collections import Counter

import pytest

from ampcite.reference.coverage import comments, covering, items
from shared import PACKS

BY = covering(PACKS.values())
ITEMS = items()


def test_the_items_are_all_there() -> None:
    assert Counter(item["decides"] for item in ITEMS) == {"machine": 135, "partly": 96, "eye": 36}
    assert len({item["id"] for item in ITEMS}) == 267
    for item in ITEMS:
        assert re.fullmatch(r"[A-Z]{3,4}-[0-9]{2}", item["id"]) and item["title"]
        halves = bool(item["machine half"]), bool(item["person half"])
        assert halves == ((True, True) if item["decides"] == "partly" else (False, False))


def test_no_rule_covers_an_item_that_is_not() -> None:
    assert set(BY) == {item["id"] for item in ITEMS}


@pytest.mark.parametrize("item", ITEMS, ids=lambda i: i["id"])
def test_an_item_is_answered(item: dict[str, str]) -> None:
    decided = [rule for rule in BY[item["id"]] if not rule.asks]
    asked = [rule for rule in BY[item["id"]] if rule.asks]
    assert asked if item["decides"] == "eye" else decided, item["title"]


def test_the_counts() -> None:
    machine = [i for i in ITEMS if i["decides"] != "eye" and any(not r.asks for r in BY[i["id"]])]
    eye = [i for i in ITEMS if i["decides"] == "eye" and any(r.asks for r in BY[i["id"]])]
    assert (len(machine), len(eye)) == (231, 36)


def test_every_kind_of_comment_is_made_or_its_absence_explained() -> None:
    """Source: 197 kinds of comments gathered from review records and published lists of corrections, in our words."""
    known = {rule for pack in PACKS.values() for rule in pack.rules}
    kinds = comments()
    assert len(kinds) == len({kind["id"] for kind in kinds}) == 197
    for kind in kinds:
        assert set(kind["rules"].split()) <= known, kind["id"]
        assert kind["comment"] and kind["discipline"] and (kind["rules"] or kind["note"].endswith(".")), kind["id"]
    assert sum(bool(kind["rules"]) for kind in kinds) >= 107 + 70
