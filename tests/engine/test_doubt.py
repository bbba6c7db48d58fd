"""Generated code says itself that something leaves a rule open; closures are asked for little but words.

What is handed to closures takes ten times as long. How much may be is counted, not timed: at most one answer in forty
of a house of which one fact in twelve is left open.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

import pytest

import ampcite
import both_ways
from shared import EDITIONS, SHIPPED, rulebook, shipped_house

ONE_IN = 12


def leaves(value: Any, steps: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The places of all plain values that stand under a name."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, below in items:
        if isinstance(below, dict | list):
            yield from leaves(below, (*steps, key))
        elif isinstance(key, str) and key != "id":
            yield (*steps, key)


def with_open_facts(name: str) -> ampcite.Description:
    """A shipped house with one fact in twelve still to be stated."""
    house = shipped_house(name)
    out = copy.deepcopy(house)
    for steps in list(leaves(house))[::ONE_IN]:
        here: Any = out
        for step in steps[:-1]:
            here = here[step]
        here[steps[-1]] = "?"
    return ampcite.read(out)


@pytest.mark.parametrize("name", SHIPPED)
def test_little_is_handed_to_closures_where_facts_are_open(name: str) -> None:
    book, description = rulebook(EDITIONS[-2]), with_open_facts(name)
    report = ampcite.check(book, description)
    assert len([f for f in report.findings if f.missing]) > 20
    assert len(both_ways.handed_over(book, description)) <= len(report.findings) / 40


@pytest.mark.parametrize("name", SHIPPED)
def test_both_ways_agree_where_facts_are_open(name: str) -> None:
    both_ways.agree(rulebook(EDITIONS[-2]), with_open_facts(name))


def test_what_stands_in_a_list_or_not_is_open_where_the_word_is_not_known() -> None:
    """A working space says the id of what it belongs to; its voltage is looked for among three lists of ids."""
    house = shipped_house("plain-strings")
    house["working_spaces"]["all"][0]["equipment"] = "?"
    description = ampcite.read(house)
    assert not [one for one in both_ways.handed_over(rulebook(EDITIONS[-2]), description) if "working" in one]
    both_ways.agree(rulebook(EDITIONS[-2]), description)
