"""What tests of letters use: a shipped house with several mistakes in it, and the letter of a house."""

from __future__ import annotations

from functools import cache
from typing import Any

import ampcite
from ampcite.letters.compose import compose
from ampcite.letters.records import Letter
from shared import BROKEN, rulebook, shipped_house, with_mistake

DAY = "2026-04-01"


MOST_MISTAKES = 20


@cache
def _all_mistakes(house: str) -> tuple[int, ...]:
    """The places in ``BROKEN`` of mistakes that one house can hold together."""
    document, out = shipped_house(house), []
    for i, one in enumerate(BROKEN):
        if one["house"] == house and 2020 in one["editions"] and len(out) < MOST_MISTAKES:
            try:
                after = with_mistake(document, one)
                ampcite.read(after)
            except (ampcite.InputError, AssertionError, KeyError, IndexError):
                continue
            document = after
            out.append(i)
    return tuple(out)


def _mistakes(house: str, count: int) -> tuple[int, ...]:
    """The first of them, so many."""
    assert count <= MOST_MISTAKES
    return _all_mistakes(house)[:count]


def many_mistakes(house: str = "converter-strings", count: int = 12) -> dict[str, Any]:
    """A house with so many mistakes of ``BROKEN`` in it."""
    document = shipped_house(house)
    for i in _mistakes(house, count):
        document = with_mistake(document, BROKEN[i])
    return document


def letter_of(document: dict[str, Any], stage: str = "plan review", **more: Any) -> Letter:
    """The letter of a description by all packs at the 2020 edition."""
    description = ampcite.read(document)
    return compose(ampcite.review(rulebook(2020), description, stage=stage), description, date=DAY, **more)
