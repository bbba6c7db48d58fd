"""A failure behind which there is memory alone says "verify first", and can be held as a warning."""

from __future__ import annotations

import pickle

import pytest

import ampcite
from ampcite.api import HELD
from ampcite.engine.findings import VERIFY_FIRST, Clause
from ampcite.house.write import written
from shared import plain, shipped_house

UNLISTED = "inverter-not-interactive"  # rests on Article 705 of 2020, which was read nowhere


@pytest.fixture(scope="module")
def unlisted() -> ampcite.Description:
    house = plain(shipped_house("converter-strings"))
    house["inverters"][0]["listing"] = ["UL 62109"]
    return ampcite.read(written(house))


def _finding(report: ampcite.Report) -> ampcite.Finding:
    [finding] = [one for one in report.of(UNLISTED) if one.verdict.value != "pass"]
    return finding


def test_what_rests_on_memory_alone_says_so_first(unlisted: ampcite.Description) -> None:
    finding = _finding(ampcite.check(ampcite.load(unlisted.editions, "electrical"), unlisted))
    assert finding.verdict.value == "fail"
    assert finding.note.startswith(VERIFY_FIRST)
    assert all(clause.unconfirmed for clause in finding.citations)


def test_the_switch_holds_it_as_a_warning(unlisted: ampcite.Description) -> None:
    rulebook = ampcite.load(unlisted.editions, "electrical", hold_unconfirmed=True)
    for book in (rulebook, pickle.loads(pickle.dumps(rulebook))):
        report = ampcite.check(book, unlisted)
        finding = _finding(report)
        assert (finding.verdict.value, finding.decided, finding.force) == ("warn", True, "requirement")
        assert finding.note.startswith(VERIFY_FIRST)
        assert HELD in report.law


def test_the_switch_leaves_what_was_read_alone() -> None:
    """Every rule fails as before but those of which no clause was read; at 2020 there are some of both."""
    editions = {"electrical": 2020, "building": 2021}
    fails, held = (ampcite.load(editions, hold_unconfirmed=hold).machine for hold in (False, True))
    for rule, before, after in zip(fails.bound.rules, fails.fails, held.fails, strict=True):
        assert after == (before and not all(clause.unconfirmed for clause in rule.clauses)), rule.id
    assert any(held.fails) and sum(held.fails) < sum(fails.fails)


@pytest.mark.parametrize(("read", "unconfirmed"), [
    ("from memory, unconfirmed", True),
    ("2026 figures and section numbers from articles or memory, unconfirmed, , 2026", True),
    ("common practice, no source", False),
    ("National Electrical Code 2017, machine-read copy in a public repository, NFPA, 2017", False),
])  # fmt: skip
def test_what_was_read_nowhere(read: str, unconfirmed: bool) -> None:
    assert Clause("NEC 2026", 2026, "690.4", read).unconfirmed is unconfirmed
