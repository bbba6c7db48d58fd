"""A rulebook under another law of the same span of dates: the same rules, other words."""

from __future__ import annotations

import pickle

import pytest

import ampcite
from shared import rulebook, shipped_house


def test_the_same_rules_under_another_law() -> None:
    book = rulebook(2020)
    other = book.for_law(("An invented town took it up in 2021.",), {"electrical_edition": 2020})
    assert (other.law, dict(other.codes)) == (("An invented town took it up in 2021.",), {"electrical_edition": 2020})
    assert other.given["codes/electrical_edition"] == 2020 and "codes/electrical_edition" not in book.given
    assert (other.bound, other.machine, other.code, other.packs) == (book.bound, book.machine, book.code, book.packs)
    assert (book.law, dict(book.codes)) == ((), {}), "the first is as it was"
    with pytest.raises(TypeError):
        other.codes["electrical_edition"] = 2023  # type: ignore[index]


def test_it_can_be_sent_and_judges_alike() -> None:
    house = ampcite.read(shipped_house("plain-strings"))
    book = rulebook(2020).for_law(("Invented.",), {})
    sent = pickle.loads(pickle.dumps(book))
    one, two = ampcite.check(book, house), ampcite.check(sent, house)
    assert one.law == two.law == ("Invented.",) and one.counts == two.counts
    assert list(one.findings) == list(two.findings)
