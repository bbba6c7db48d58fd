"""What only an eye can settle stays open until somebody has looked, and no answer sets a question aside.

An audit answered every question of a house with "nothing of the kind", and said of another that nothing had been
looked at: both passed clean. Whether there is something to look at follows from the description; that it is not there
can be answered only where the description can't tell. Source: the project's own contract.
"""

from __future__ import annotations

import pytest

import ampcite
from ampcite.base.editions import ELECTRICAL
from ampcite.house.part_types import part_types
from shared import EDITIONS, PACKS, SHIPPED, rulebook, sample, shipped_house

NONE = "nothing of the kind"
FIELDS = {path: field for path, field in part_types()[""].fields.items() if path.startswith("observations/")}
ASKING = {name for pack in PACKS.values() for name, rule in pack.rules.items() if rule.asks}
CANT_TELL = {
    "observations/boxes_behind_modules": "where a box stands under an array is not described",
    "observations/fine_strand_terminals": "how finely a conductor is stranded is not described",
    "observations/fire_separations": "whether a run goes through a fire separation is not described",
    "observations/metals_in_contact": "what an existing lug is made of is not described",
    "observations/panel_condition": "a new panel is not told from one that was there",
    "observations/panel_rating_label": "a new panel is not told from one that was there",
    "observations/rough_work_visible": "not every authority has a rough inspection",
}
"""Questions of which the answer may be that there is nothing of the kind, and why the description can't tell."""


def unseen(name: str) -> ampcite.Description:
    house = shipped_house(name)
    del house["observations"]
    return ampcite.read(house)


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize("name", SHIPPED)
def test_a_house_at_which_nobody_looked_has_its_questions_open(name: str, edition: int) -> None:
    """Every question that is answered of the house is open without the answers, and asks; but for one that the
    edition asks of a solidly grounded array alone, of which none of these houses has one.
    """
    seen = ampcite.check(rulebook(edition), ampcite.read(shipped_house(name)))
    answered = {f.rule for f in seen.findings} & ASKING
    report = ampcite.check(rulebook(edition), unseen(name))
    open_ = {f.rule for f in report.findings if not f.decided}
    assert len(answered) > 40
    unasked = answered & {"knockout-not-bonded"} if edition >= 2020 else set()
    assert answered - open_ == unasked
    assert all(f.verdict == ("pass" if f.rule in unasked else "warn") for f in report.findings if f.rule in answered)


def test_only_what_the_description_cant_tell_can_be_answered_with_none() -> None:
    assert {path for path, field in FIELDS.items() if NONE in field.choices} == set(CANT_TELL)


@pytest.mark.parametrize("path", sample([path for path in FIELDS if path not in CANT_TELL], 6))
def test_that_something_described_is_not_there_is_no_answer(path: str) -> None:
    house = shipped_house("converter-strings")
    house["observations"][path.partition("/")[2]] = NONE
    with pytest.raises(ampcite.InputError) as caught:
        ampcite.read(house)
    assert [c.place for c in caught.value.complaints] == [f"/{path}"]


def test_nobody_has_looked_is_said_by_leaving_the_answers_out() -> None:
    house = shipped_house("converter-strings") | {"observations": None}
    with pytest.raises(ampcite.InputError):
        ampcite.read(house)
    report = ampcite.check(rulebook(2023, code=ELECTRICAL), unseen("converter-strings"))
    assert "array-cables-on-roof" in {f.rule for f in report.findings if not f.decided}
