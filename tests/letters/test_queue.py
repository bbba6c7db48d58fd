"""The queue of sixty submissions through two rounds: the letters say exactly which mistakes are cured, open and new.

Round 1 has some of the planted mistakes of a submission, round 2 others: what is only in the first is cured, what is in
both is open, what is only in the second is new. For the second round a sheet is put in front and labels change order.
"""

from __future__ import annotations

import copy
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

import ampcite
from ampcite.letters.compose import compose
from ampcite.letters.kept import read_record, to_record
from ampcite.letters.records import NEW, OPEN, Item, Letter
from ampcite.letters.rounds import Earlier
from shared import rulebook
from submissions import Planted, Submission, cured, queue

SEED = 1


def rearranged(document: dict[str, Any]) -> dict[str, Any]:
    """The same submission with a sheet of notes in front and its labels in another order."""
    out = copy.deepcopy(document)
    labels, papers = (out[key]["all"] if isinstance(out[key], dict) else out[key] for key in ("labels", "documents"))
    labels.reverse()
    each = out["documents"].get("each", {}) if isinstance(out["documents"], dict) else {}
    sheet = next(one for one in papers if {**each, **one}.get("kind") == "plan sheet")
    papers.insert(0, {**sheet, "id": "G-0 general notes", "drawings": [], "shows": []})
    return out


def letter_of(document: dict[str, Any], earlier: Earlier | None = None) -> Letter:
    description = ampcite.read(document)
    review = ampcite.review(rulebook(description.editions["electrical"]), description)
    return compose(review, description, date="2026-04-01", earlier=earlier)


def of_rules(items: Iterable[Item], rules: frozenset[str]) -> list[Item]:
    return [item for item in items if rules & {rule for rule, _ in item.keys}]


def second_round(one: Submission, folder: Path) -> Counter[str]:
    """Plays both rounds of a submission; counts its mistakes by what the second letter has to say of them."""
    third = max(1, len(one.planted) // 3)
    gone, stays, comes = one.planted[:third], one.planted[third:-third], one.planted[-third:]
    if len(one.planted) < 3:
        gone, stays, comes = one.planted[:1], one.planted[1:], ()
    first, second = cured(one.description, comes), rearranged(cured(one.description, gone))
    before = letter_of(first)
    path = folder / "r.record.json"
    path.write_text(to_record(before, ampcite.read(first), None, "0"), "utf-8")
    after = letter_of(second, read_record(path))
    numbers = {item.number: item for item in before.items}
    settled = {s.number for s in after.settled}

    def only(some: tuple[Planted, ...], others: tuple[Planted, ...]) -> frozenset[str]:
        """The rules that must name some mistakes, and that no other may have broken too."""
        taken = frozenset[str]().union(*(p.rules | p.also for p in others))
        return frozenset[str]().union(*(p.rules for p in some)) - taken

    left = {item.number: item for item in after.items}
    for item in of_rules(before.items, only(gone, (*stays, *comes))):
        whole = {rule for rule, _ in item.keys} & only(gone, (*stays, *comes))
        still = {rule for rule, _ in left[item.number].keys} if item.number in left else set()
        assert not whole & still and (item.number in settled or left[item.number].cured), (one.id, item.heading)
    for item in of_rules(after.items, only(stays, (*gone, *comes))):
        assert item.state == OPEN and item.number in numbers, (one.id, item.heading)
    for item in of_rules(after.items, only(comes, (*gone, *stays))):
        assert item.state == NEW and item.number not in numbers, (one.id, item.heading)
    for p in (*stays, *comes):
        assert of_rules(after.items, p.rules), (one.id, p.kind)
    allowed = frozenset[str]().union(*(p.rules | p.also for p in (*stays, *comes)))
    for item in after.items:
        assert {rule for rule, _ in item.keys} <= allowed, (one.id, item.heading)
    assert {item.number for item in after.items if item.state == OPEN} | settled == set(numbers)
    return Counter(cured=len(gone), open=len(stays), new=len(comes))


def test_two_rounds_of_a_sample(tmp_path: Path) -> None:
    counts = sum((second_round(one, tmp_path) for one in queue(SEED, 8, 28)), Counter[str]())
    assert min(counts[word] for word in ("cured", "open", "new")) >= 6


@pytest.mark.exhaustive
def test_two_rounds_of_the_whole_queue(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    counts = sum((second_round(one, tmp_path) for one in queue(SEED)), Counter[str]())
    with capsys.disabled():
        print(f"\n{counts.total()} mistakes: {dict(counts)}")
    assert counts.total() == 200 and min(counts.values()) >= 50
