"""One comment for each cause, with a cure that has been tried.

The causes below are those that a queue of submissions showed with many findings each: what a reviewer writes of each is
one comment. The cures were settled by hand before the search was asked.
"""

from __future__ import annotations

import copy
from typing import Any

import pytest

import ampcite
from ampcite.house.part_types import part_types
from ampcite.reviewing.bench import severity
from ampcite.reviewing.comments import applied
from shared import BROKEN, SHARE, broken, rulebook, shipped_house

MISTAKES = list({(one["house"], one["name"]): one for one in BROKEN}.values())
SOME = [one for i, one in enumerate(MISTAKES) if SHARE >= 1 or i % 9 == 0 or len(one["fails"]) + len(one["warns"]) > 3]
"""In every run each ninth mistake, and those that break many rules; all of them where more is explored."""

MOST_COMMENTS_EACH = 2.5


def reviewed(house: dict[str, Any], edition: int = 2020, packs: tuple[str, ...] | None = None) -> ampcite.Review:
    return ampcite.review(rulebook(edition, packs), ampcite.read(house))


def key(finding: ampcite.Finding) -> tuple[str, str]:
    return finding.rule, finding.about


@pytest.mark.parametrize("one", SOME, ids=lambda one: f"{one['house']}: {one['name']}")
def test_every_finding_is_in_one_place_and_every_tried_cure_cures(one: dict[str, Any]) -> None:
    house, edition, packs = broken(one), one["editions"][0], tuple(one["packs"])
    before = copy.deepcopy(house)
    review = reviewed(house, edition, packs)
    placed = [key(f) for c in review.comments for f in c.findings]
    placed += [key(f) for m in review.missing for f in m.findings] + [key(f) for f in review.looks]
    assert sorted(placed) == sorted(key(f) for f in review.report.findings if f.verdict != "pass")
    was = {key(f): severity(f) for f in review.report.findings}
    for comment in review.comments:
        assert comment.cure and comment.citations and comment.parts
        if comment.settles:
            after = reviewed(applied(house, comment.changes), edition, packs).report
            now = {key(f): severity(f) for f in after.findings}
            assert [key(f) for f in comment.findings if now.get(key(f))] == []
            assert [k for k, bad in now.items() if bad > was.get(k, 0)] == []
    assert house == before


def test_a_mistake_of_one_fact_is_seldom_more_than_one_comment(capsys: pytest.CaptureFixture[str]) -> None:
    """Counted where one fact was changed and more than one rule answered; without what the whole house breaks there."""
    found, said, mistakes = 0, 0, 0
    for one in SOME:
        edition, packs = one["editions"][-1], tuple(one["packs"])
        sound = reviewed(shipped_house(one["house"]), edition, packs).report
        whole = {key(f) for f in sound.findings if f.verdict != "pass"}
        comments = [c for c in reviewed(broken(one), edition, packs).comments if {key(f) for f in c.findings} - whole]
        decided = [f for c in comments for f in c.findings]
        if len(one["set"]) == 1 and len(decided) > 1:
            mistakes, found, said = mistakes + 1, found + len(decided), said + len(comments)
            if SHARE >= 1 and len(comments) > 1:
                with capsys.disabled():
                    print(f"{len(decided)} findings, {len(comments)} comments: {one['house']}, {one['name']}")
    with capsys.disabled():
        print(f"\n{mistakes} mistakes of one fact: {found} findings, {said} comments")
    assert mistakes > 5 and said <= MOST_COMMENTS_EACH * mistakes


# --- known causes ---------------------------------------------------------------------------------------------


def thhn_in_wet_raceways(house: dict[str, Any]) -> None:
    for circuit in house["circuits"]:
        circuit["conductor"] = circuit["conductor"].replace("THWN-2", "THHN")


def a_utility_that_gives_22_ka(house: dict[str, Any]) -> None:
    house["service"]["available_fault_current"] = 22000


def an_array_drawn_to_the_rake(house: dict[str, Any]) -> None:
    array = house["roof"]["arrays"][0]
    rake = max(x for x, _ in house["roof"]["planes"][0]["outline"])
    right = max(x for x, _ in array["outline"])
    array["outline"] = [[rake - 0.5 if x == right else x, y] for x, y in array["outline"]]


def output_conductor_of_12_awg(house: dict[str, Any]) -> None:
    for circuit in house["circuits"]:
        if circuit["kind"] == "inverter output":
            circuit["conductor"] = "12 AWG" + circuit["conductor"].partition("AWG")[2]


def pvc_in_the_attic(house: dict[str, Any]) -> None:
    raceway = next(r for r in house["raceways"] if r["id"] == "RW-ATTIC")
    raceway.update(kind="PVC schedule 40", straight_run="30 ft", expansion_travel=None)


def two_modules_more_on_paper(house: dict[str, Any]) -> None:
    house["modules"][0]["quantity"] += 2


def two_modules_moved_to_string_1(house: dict[str, Any]) -> None:
    for string, more in zip(house["strings"], (2, -2), strict=True):
        string["modules_in_series"] += more
        string["units"] += more


def conductors_counted_as_two(house: dict[str, Any]) -> None:
    for circuit in house["circuits"]:
        for segment in circuit["segments"]:
            if segment["current_carrying_conductors"] is not None:
                segment["current_carrying_conductors"] = 2


@pytest.mark.parametrize(
    ("name", "mistake", "least", "cure"),
    [
        ("converter-strings", a_utility_that_gives_22_ka, 9, "to 22 kA or more"),
        ("converter-strings", output_conductor_of_12_awg, 6, "to 8 AWG or larger"),
        ("plain-strings", output_conductor_of_12_awg, 5, "to 6 AWG or larger"),
        ("converter-strings", pvc_in_the_attic, 4, "to EMT"),
        ("plain-strings", pvc_in_the_attic, 4, "to EMT"),
        ("converter-strings", two_modules_more_on_paper, 8, "from 26 to 24"),
        ("plain-strings", two_modules_more_on_paper, 8, "from 32 to 30"),
        ("converter-strings", an_array_drawn_to_the_rake, 2, "Draw back the "),
        ("converter-strings", two_modules_moved_to_string_1, 5, "of string S1 from 17 to 15"),
        ("plain-strings", two_modules_moved_to_string_1, 8, "of string S1 from 17 to 15"),
        ("plain-strings", an_array_drawn_to_the_rake, 4, "Draw back the right side"),
        ("converter-strings", conductors_counted_as_two, 6, "for 4 current-carrying conductors"),
        ("plain-strings", conductors_counted_as_two, 6, "for 4 current-carrying conductors"),
    ],
)
def test_a_known_cause_is_one_comment(name: str, mistake: Any, least: int, cure: str) -> None:
    house = shipped_house(name)
    mistake(house)
    review = reviewed(house)
    assert len([f for f in review.report.findings if f.verdict != "pass"]) >= least
    assert [cure in c.cure for c in review.comments] == [True], [c.cure for c in review.comments]


def test_thhn_in_wet_raceways_is_one_comment_for_each_kind_of_circuit() -> None:
    house = shipped_house("converter-strings")
    thhn_in_wet_raceways(house)
    review = reviewed(house)
    assert sum(len(c.findings) for c in review.comments) >= 12
    assert len(review.comments) <= 2 and all(c.settles and "from THHN to" in c.cure for c in review.comments)


# --- what can be changed --------------------------------------------------------------------------------------


def test_what_can_be_changed_says_by_whom_and_neither_site_nor_reading_can() -> None:
    marked = {f"{kind}/{path}": field.changed_by
              for kind, part_type in part_types().items() for path, field in part_type.fields.items()}  # fmt: skip
    assert set(marked.values()) == {"", "designer", "author", "crew"}
    fixed = ("/readings/", "readings/", "/site/", "/codes/", "roof/planes/", "modules/listing")
    assert not [path for path, by in marked.items() if by and path.startswith(fixed)]


def test_parts_are_named_together() -> None:
    from ampcite.reviewing.words import listed_parts

    assert listed_parts(["breaker 1 of panel MAIN", "breaker 2 of panel MAIN"]) == "breakers 1 and 2 of panel MAIN"
    assert listed_parts(["string S1"]) == "string S1"
    assert listed_parts(["string S1", "circuit A", "string S2"]) == "strings S1 and S2 and circuit A"
    assert listed_parts(["segment 2 of circuit X", "segment 1 of circuit Y"]) == \
        "segment 2 of circuit X and segment 1 of circuit Y"  # fmt: skip


@pytest.mark.parametrize(
    ("number", "unit", "words"),
    [
        (0.375, "in", "3/8 in"), (1.5, "in", "1 1/2 in"), (36, "in", "36 in"), (6.583, "ft", "6 ft 7 in"),
        (0.5, "ft", "6 in"), (12, "ft", "12 ft"), (22, "kA", "22 kA"), (-30, "degF", "-30 °F"), (24, "", "24"),
        (23.1, "%", "23.1%"),
    ],
)  # fmt: skip
def test_quantities_as_the_trade_writes_them(number: float, unit: str, words: str) -> None:
    from ampcite.reviewing.words import quantity

    assert quantity(number, unit) == words
