"""Marks: a value still to be stated counts as not stated, and one still an example's as not this house's."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import ampcite
from ampcite.house.marks import STILL_TO_STATE, marked_as_taken_over, stated, still_of_example
from shared import both, examples, rulebook, shipped_house


@pytest.mark.parametrize(
    ("marked", "left", "places"),
    [
        ({"site": {"design_low": "?", "design_high": 30}}, {"site": {"design_high": 30}}, ["/site/design_low"]),
        ({"site": {"design_low": "?"}}, {}, ["/site/design_low"]),
        ({"backup": {"system": "?"}}, {}, ["/backup/system"]),
        ({"storage": ["?"]}, {}, ["/storage/0"]),
        ({"storage": []}, {"storage": []}, []),
        ({"backup": None}, {"backup": None}, []),
        ({"raceways": {"each": {"kind": "EMT"}, "all": "?"}}, {}, ["/raceways/all"]),
        ({"equipment": {"modules": {"M": {"voc": "?"}}}}, {"equipment": {"modules": {"M": {}}}},
         ["/equipment/modules/M/voc"]),
        ({"project": {"name": "who?"}}, {"project": {"name": "who?"}}, []),
    ],
)  # fmt: skip
def test_what_is_marked_is_not_stated(marked: dict[str, Any], left: dict[str, Any], places: list[str]) -> None:
    assert stated(marked)[:2] == (left, tuple(places))


def leaves(value: Any, place: str = "") -> list[str]:
    if isinstance(value, dict):
        return [p for key, item in value.items() for p in leaves(item, f"{place}/{key}")]
    if isinstance(value, list):
        return [p for i, item in enumerate(value) for p in leaves(item, f"{place}/{i}")]
    return [place]


def put(document: Any, place: str, value: Any) -> None:
    *way, last = place.split("/")[1:]
    for step in way:
        document = document[int(step)] if isinstance(document, list) else document[step]
    document[int(last) if isinstance(document, list) else last] = value


PLACES = [p for p in leaves(shipped_house("microinverters")) if not p.endswith("/id") and "~" not in p]


@given(place=st.sampled_from(PLACES))
@settings(max_examples=examples(40), deadline=None)
def test_a_mark_can_stand_for_any_value_and_never_makes_a_house_fail(place: str) -> None:
    house = shipped_house("microinverters")
    put(house, place, STILL_TO_STATE)
    description = ampcite.read(house)
    assert description.to_state == (place,)
    report = ampcite.check(rulebook(2020), description)
    assert report.to_state == (place,)
    assert not [f.note for f in report.not_passed if f.decided and f.verdict is ampcite.Verdict.FAIL]


def test_what_one_part_marks_is_not_said_for_it_by_what_each_part_says() -> None:
    rows = [{"id": "A", "modules_in_series": 8}, {"id": "B", "units": "?"}]
    strings = ampcite.read({"strings": {"each": {"units": 9}, "all": rows}}).parts["strings"]
    assert strings is not None
    assert [part.facts.get("units") for part in strings] == [9, None]


WIRES = {"each": {"use": "ungrounded", "count": 2}, "all": [{"size": "8 AWG"}, {"use": "equipment ground"}]}
"""The conductors of a raceway: two of one use, and one of another."""


def uses(raceways: dict[str, Any]) -> list[list[Any]]:
    found = ampcite.read({"raceways": raceways}).parts["raceways"] or ()
    return [[wire.facts.get("use") for wire in part.links["other_conductors"] or ()] for part in found]


def test_a_mark_in_what_is_said_for_each_part_counts_at_every_part() -> None:
    marked = {**WIRES, "all": [{"size": "8 AWG"}, {"size": "10 AWG", "use": "?"}]}
    assert uses({"each": {"other_conductors": WIRES}, "all": [{"id": "R"}]}) == [["ungrounded", "equipment ground"]]
    own = {"id": "Q", "other_conductors": {"all": [{"use": "signal"}, {"use": "equipment ground"}]}}
    assert uses({"each": {"other_conductors": marked}, "all": [{"id": "R"}, own]}) == [
        ["ungrounded", None], ["signal", "equipment ground"]]  # fmt: skip


def test_a_marked_list_is_not_known_though_something_is_said_for_each_of_its_parts() -> None:
    said = {"each": {"other_conductors": WIRES}, "all": [{"id": "R", "other_conductors": {"all": "?"}}, {"id": "Q"}]}
    first, second = ampcite.read({"raceways": said}).parts["raceways"] or ()
    assert first.links["other_conductors"] is None
    assert len(second.links["other_conductors"] or ()) == 2


def test_a_mark_in_an_object_leaves_nothing_of_it_that_says_there_is_one() -> None:
    said = {"each": {"overcurrent": {"rating": 20}}, "all": [{"id": "A", "overcurrent": {"rating": "?"}}, {"id": "B"}]}
    found = ampcite.read({"circuits": said}).parts["circuits"] or ()
    assert [part.facts.get("overcurrent") for part in found] == [None, True]


@pytest.mark.parametrize("word", ["all", "only"])
def test_a_list_that_one_part_marks_is_not_taken_from_what_each_part_says(word: str) -> None:
    segments = {"each": {"place": "attic"}, word: [{"length": 10}]}
    circuits = {"each": {"segments": segments}, "all": [{"id": "C1"}, {"id": "C2", "segments": {word: "?"}}]}
    description = ampcite.read({"circuits": circuits})
    assert description.to_state == (f"/circuits/all/1/segments/{word}",)
    assert [part.pointer.partition("/segments")[0] for part in description.parts["circuits/segments"] or ()] == [
        "/circuits/all/0"
    ]


@pytest.mark.parametrize("word", ["all", "only"])
def test_a_list_that_is_open_is_not_filled_from_what_is_said_for_each(word: str) -> None:
    """Also where what is said for each row of that list is open in part."""
    terminals = {"each": {"accepts": "copper only", "temperature": "?"}, word: "?"}
    rows = [{"id": "C1"}, {"id": "C2", "terminals": terminals}]
    description = ampcite.read({"circuits": {"each": {"terminals": [{"place": "a lug"}]}, "all": rows}})
    found = [part.pointer for part in description.parts["circuits/terminals"] or ()]
    assert found == ["/circuits/all/0/terminals/0"]


def test_values_of_an_example_count_until_they_are_changed_or_meant() -> None:
    house = marked_as_taken_over(shipped_house("plain-strings"))
    every = still_of_example(house)
    assert set(every) == set(house["taken_over"])
    assert "/site/design_low" in every
    assert "/modules/0/id" not in every
    house["site"]["design_low"] = "11 degF"
    del house["taken_over"]["/site/wind_speed"]
    assert set(every) - set(still_of_example(house)) == {"/site/design_low", "/site/wind_speed"}


def test_a_house_that_is_still_an_example_does_not_pass() -> None:
    book = ampcite.load(both(2020))
    plain, marked = shipped_house("plain-strings"), marked_as_taken_over(shipped_house("plain-strings"))
    assert ampcite.check(book, ampcite.read(plain)).verdict is ampcite.Verdict.PASS
    description = ampcite.read(marked)
    report = ampcite.check(book, description)
    assert report.verdict is ampcite.Verdict.WARN
    assert set(json.loads(ampcite.to_json(report))["taken_over"]) == set(marked["taken_over"])
    text = ampcite.to_text(ampcite.review(book, description))
    assert f"{len(marked['taken_over'])} values are still the example's" in " ".join(text.split())
