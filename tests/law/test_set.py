"""Facts that local law sets: what may be set to what, and that a list of words is set as a list.

The layers are written here, over the shipped packs; the ordinances are invented.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import ampcite
from ampcite.authoring.testing import document
from ampcite.law.applied import Law

HEAD = """
[pack]
name = "set-town"
title = "Set Town (invented)"
version = "1"
editions = [2020]
building_editions = [2021]
work = "local"
[pack.works]
local = "Set Town Code (invented),"
[pack.sources]
act = { title = "An invented act", body = "Set Town (invented)", year = "2024" }
[authority]
name = "Set Town (invented)"
level = "city"
against = { electrical = 2020, building = 2021 }
[[amend]]
id = "it-is-so"
do = "set"
fact = "FACT"
to = "TO"
why = "Invented."
clause = "1"
read = "act"
"""
YARDS = "/authority/ground_arrays/barred_yards"


def book(where: Path, fact: str, to: str, more: str = "") -> ampcite.Rulebook:
    head, _, change = HEAD.partition("[[amend]]")
    (where / "pack.toml").write_text(head, "utf-8")
    change = change.replace("FACT", fact).replace('to = "TO"', more or f'to = "{to}"')
    (where / "changes.toml").write_text(f"[[amend]]{change}", "utf-8")
    return ampcite.load(Law({"electrical": 2020, "building": 2021}, (), "", ()), [where])


@pytest.mark.parametrize(
    ("fact", "to", "said"),
    [
        ("/authority/no_such_fact", "1", "which is no fact of the whole"),
        ("/roof/access_exceptions_adopted", "perhaps", 'it is "true" or "false"'),
        ("/site/wind_speed", "none", "which there always is"),
        ("/site/wind_speed", "fast", "sets design wind speed to"),
        ("/site/wind_exposure", "E", "known here"),
        (YARDS, "front, back", '"back"'),
    ],
    ids=["no fact", "no yes or no", "always there", "no number", "no word of the field", "one word of a list wrong"],
)
def test_what_cannot_be_set_is_refused(fact: str, to: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(ampcite.PackError, match="it-is-so") as caught:
        book(tmp_path, fact, to)
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("to", "yard", "expected"),
    [
        ("front, side", "side", "fail"),
        ("front, side", "rear", "pass"),
        ("front", "side", "pass"),
        ("none", "front", "pass"),
    ],
)
def test_a_list_of_words_is_set_as_a_list(to: str, yard: str, expected: str, tmp_path: Path) -> None:
    house = ampcite.read({"ground_arrays": [{"id": "G", "yard": yard}]})
    report = ampcite.check(book(tmp_path, YARDS, to), house)
    found = report.of("ground-array-in-barred-yard")
    assert [str(f.verdict) for f in found] == [expected]


@pytest.mark.parametrize(
    ("to", "stated", "expected"),
    [("front, side", ["side", "front", "rear"], "pass"), ("front, side", ["front"], "fail"), ("none", [], "pass"),
     ("none", ["rear"], "fail")],
)  # fmt: skip
def test_whoever_states_fewer_of_them_is_told(to: str, stated: list[str], expected: str, tmp_path: Path) -> None:
    house = ampcite.read({"authority": {"ground_arrays": {"barred_yards": stated}}})
    assert [str(f.verdict) for f in ampcite.check(book(tmp_path, YARDS, to), house).of("it-is-so")] == [expected]


@pytest.mark.parametrize(
    ("fact", "to", "stricter", "stated", "local"),
    [
        ("/roof/access_exceptions_adopted", "true", "", False, "yes"),
        ("/site/wind_speed", "120 mph", "", "110 mph", "120 mph"),
        ("/site/wind_speed", "120 mph", "higher", "110 mph", "at least 120 mph"),
    ],
)
def test_the_finding_shows_what_the_law_sets_where_the_code_says_nothing(fact: str, to: str, stricter: str, stated: Any,
                                                                       local: str, tmp_path: Path) -> None:  # fmt: skip
    more = f'to = "{to}"\nstricter = "{stricter}"' if stricter else f'to = "{to}"'
    law = book(tmp_path, fact, to, more)
    (found,) = ampcite.check(law, ampcite.read(document({fact[1:]: stated}))).of("it-is-so")
    (change,) = found.local
    assert (change.model, change.local) == ("nothing of it; the applicant states it", local)
    assert local.split()[-1] in found.note and str(found.citations[0]) == "Set Town Code (invented), 1"
