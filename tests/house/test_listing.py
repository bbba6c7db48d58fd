"""Listings as labels print them."""

from __future__ import annotations

import pytest

import ampcite
from ampcite.house.listing import standards


@pytest.mark.parametrize(("printed", "read"), [
    ("UL 1741", "UL 1741"), ("UL1741", "UL 1741"), ("ul 1741 sb", "UL 1741 SB"), ("UL 1741-SB", "UL 1741 SB"),
    ("UL 1741 Supplement SA", "UL 1741 SA"), ("UL 1741 CRD PCS", "UL 1741 CRD PCS"),
    ("UL1741SB", "UL 1741 SB"), ("UL 1741SA", "UL 1741 SA"), ("UL 1741 (SB)", "UL 1741 SB"),
    ("UL 489B:2016", "UL 489B"),
    ("UL 61730-1", "UL 61730"), ("UL 61730-1-2", "UL 61730"), ("UL 2703 Ed. 1", "UL 2703"),
    ("UL 2703, 1st edition", "UL 2703"),
    ("UL 9540 (2nd Ed.)", "UL 9540"), ("UL 1741:2021", "UL 1741"), ("UL 98B", "UL 98B"),
    ("UL 514A", "UL 514A"), ("UL67", "UL 67"), ("UL 486A-486B", "UL 486A 486B"), ("IEC 62109-1", "IEC 62109"),
    ("listed", "listed"), ("a field label of 2024", "a field label of 2024"),
])  # fmt: skip
def test_one_way_of_writing(printed: str, read: str) -> None:
    assert standards(printed) == (read,)
    assert standards(read) == (read,)


@pytest.mark.parametrize(("printed", "part"), [("UL 248-14", "UL 248-14"), ("UL 248-4:2010", "UL 248-4")])
def test_a_part_of_another_thing_is_named_beside_its_standard(printed: str, part: str) -> None:
    assert standards(printed) == standards(part) == (part, "UL 248")
    assert standards("UL 248") == ("UL 248",)


def test_the_year_of_the_interconnection_standard_is_named() -> None:
    assert standards("IEEE 1547-2018") == ("IEEE 1547-2018", "IEEE 1547")
    assert standards("IEEE 1547-2003")[0] != standards("IEEE 1547-2018")[0]


def test_a_part_has_each_standard_once() -> None:
    listing = ["UL 61730-1", "UL 61730-2", "UL 1703"]
    document = {"equipment": {"modules": {"M-1": {"make": "A make", "listing": listing}}}}
    house = ampcite.read({**document, "modules": [{"id": "M", "model": "M-1"}]})
    [module] = house.parts["modules"]
    assert module.facts["listing"] == ("UL 61730", "UL 1703")


@pytest.mark.parametrize("asked", ["UL 1741 SB", "UL1741-SB", "UL 1741 Supplement SB"])
def test_what_the_utility_asks_is_read_as_what_a_label_prints(asked: str) -> None:
    house = ampcite.read({"authority": {"grid_support_listing": asked}, "grounding": {"mounting_listing": ["UL2703"]}})
    [whole] = house.parts[""]
    assert whole.facts["authority/grid_support_listing"] == "UL 1741 SB"
    assert whole.facts["grounding/mounting_listing"] == ("UL 2703",)
