"""A queue of submissions with planted mistakes: each is found, in about one comment, and nothing else is said."""

from __future__ import annotations

import json
from collections.abc import Sequence

import pytest

from shared import plain
from submissions import HOUSES, LISTED, MISTAKES, SUBMISSIONS, Found, Submission, alone, cured, found, house, queue

SEED = 1
THOROUGH = [4, 5, 6]
MOST_COMMENTS = 1.15
"""How many comments there may be for each mistake."""


def holds(reviewed: Sequence[Found]) -> None:
    planted = [p for one in reviewed for p in one.submission.planted]
    assert [(one.submission.id, p.kind, list(p.changes)) for one in reviewed for p in one.missed] == []
    assert {one.submission.id: one.unrelated for one in reviewed if one.unrelated} == {}
    assert {one.submission.id: one.open for one in reviewed if one.open} == {}
    comments = sum(len(one.comments) for one in reviewed)
    print(f"{len(reviewed)} submissions, {len(planted)} mistakes, {comments} comments")
    assert comments <= MOST_COMMENTS * len(planted)


def test_every_mistake_of_a_sample_is_found_and_said_once() -> None:
    holds([found(one) for one in queue(SEED, 12, 40)])


@pytest.mark.parametrize("seed", [
    pytest.param(seed, marks=pytest.mark.thorough if seed in THOROUGH else pytest.mark.exhaustive)
    for seed in range(SEED, 11)
])  # fmt: skip
def test_every_mistake_of_the_queue_is_found_and_said_once(seed: int) -> None:
    reviewed = [found(one) for one in queue(seed)]
    planted = [p for one in reviewed for p in one.submission.planted]
    assert (len(reviewed), len(planted)) == (SUBMISSIONS, MISTAKES)
    assert len({p.kind for p in planted}) >= 70
    holds(reviewed)


@pytest.mark.exhaustive
@pytest.mark.parametrize("name", HOUSES)
def test_every_mistake_is_found_by_itself_wherever_it_can_be_made(name: str) -> None:
    reviewed = [found(one) for one in alone(name)]
    assert len(reviewed) >= 60
    holds(reviewed)


def test_a_queue_is_the_same_for_the_same_seed_and_another_for_another() -> None:
    first, same, other = (json.dumps([s.description for s in queue(seed, 6, 20)]) for seed in (4, 4, 5))
    assert first == same != other


def test_what_is_cured_is_as_it_was_and_the_rest_stays() -> None:
    for one in queue(SEED, 12, 40):
        first, *rest = one.planted
        left = cured(one.description, rest)
        assert plain(left) != plain(one.description)
        assert found(Submission(one.id, left, (first,))).missed == ()
        right = cured(left, [first])
        assert plain(right) == plain(cured(one.description, one.planted)) == plain(house(one.id.partition("-")[2]))


def test_the_mistakes_are_of_seventy_kinds_and_each_names_its_rules() -> None:
    kinds = [one["kind"] for one in LISTED]
    assert len(set(kinds)) == len(kinds) >= 70
    assert all(one["rules"] and one["set"] for one in LISTED)
