"""One comment for each cause, with a cure that has been tried.

The causes below are those that a queue of submissions showed with many findings each: what a reviewer writes of each is
one comment. The cures were settled by hand before the search was asked.
"""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Callable, Mapping
from typing import Any

import pytest

import ampcite
from ampcite.base.resources import plan_sets
from ampcite.house.change import change
from ampcite.house.part_types import part_types
from ampcite.house.parts import Part
from ampcite.reviewing.bench import severity
from ampcite.reviewing.comments import applied
from shared import BROKEN, SHARE, broken, rulebook, sample, shipped_house

MISTAKES = list({(one["house"], one["name"]): one for one in BROKEN}.values())
LARGE = [one for one in MISTAKES if len(one["set"]) == 1 and len(one["fails"]) + len(one["warns"]) > 3]
SOME = MISTAKES if SHARE >= 1 else LARGE[::2] + [one for one in MISTAKES[::108] if one not in LARGE[::2]]
"""In every run a few mistakes, more of those of one fact that break many rules; all of them where more is explored."""

MOST_COMMENTS_EACH = 2.5


def reviewed(house: dict[str, Any], edition: int = 2020, packs: tuple[str, ...] | None = None) -> ampcite.Review:
    return ampcite.review(rulebook(edition, packs), ampcite.read(house))


def key(finding: ampcite.Finding) -> tuple[str, str]:
    return finding.rule, finding.about


@pytest.mark.parametrize("one", sample(SOME, 2), ids=lambda one: f"{one['house']}: {one['name']}")
def test_every_finding_is_in_one_place_and_every_tried_cure_cures(one: dict[str, Any]) -> None:
    house, edition, packs = broken(one), one["editions"][0], tuple(one["packs"])
    before = copy.deepcopy(house)
    review = reviewed(house, edition, packs)
    placed = [key(f) for c in review.comments for f in c.findings]
    placed += [key(f) for m in (*review.missing, *review.unbegun) for f in m.findings]
    placed += [key(f) for found in (review.looks, *review.later.values()) for f in found]
    assert sorted(placed) == sorted(key(f) for f in review.report.findings if f.verdict != "pass")
    was = {key(f): severity(f) for f in review.report.findings}
    for comment in review.comments:
        assert comment.cure and comment.citations and comment.parts
        if comment.settles:
            after = reviewed(applied(house, comment.changes, comment.drops), edition, packs).report
            now = {key(f): severity(f) for f in after.findings}
            assert [key(f) for f in comment.findings if now.get(key(f))] == []
            assert [k for k, bad in now.items() if bad > was.get(k, 0)] == []
    assert house == before


@pytest.mark.sampled
def test_a_mistake_of_one_fact_is_seldom_more_than_one_comment(capsys: pytest.CaptureFixture[str]) -> None:
    """Counted where one fact was changed and more than one rule answered; without what the whole house breaks there.

    A change that is listed once for each edition is one mistake, counted at the first.
    """
    found, said, mistakes = 0, 0, 0
    changes = {(one["house"], json.dumps([one["set"], one.get("leave_out")])): one for one in reversed(SOME)}
    for one in changes.values():
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
    assert mistakes > (50 if SHARE >= 1 else 3) and said <= MOST_COMMENTS_EACH * mistakes


# --- known causes ---------------------------------------------------------------------------------------------


Mistake = Callable[[Part], Mapping[str, Any]]
"""What a mistake changes of a part: field to value; nothing where it does not touch it."""


def mistaken(name: str, kind: str, mistake: Mistake) -> dict[str, Any]:
    """A shipped house with a mistake made in each part of a kind, in whatever form the house says it."""
    house = shipped_house(name)
    for part in ampcite.read(house).parts[kind] or ():
        for field, value in mistake(part).items():
            house = change(house, part.where(field), value)
    return house


def fact(part: Part, field: str) -> Any:
    return part.facts.get(field)


def thhn_in_wet_raceways(part: Part) -> Mapping[str, Any]:
    return {"conductor/insulation": "THHN"} if fact(part, "conductor/insulation") == "THWN-2" else {}


def a_utility_that_gives_22_ka(part: Part) -> Mapping[str, Any]:
    return {"service/available_fault_current": 22000}


def fahrenheit_without_its_unit(part: Part) -> Mapping[str, Any]:
    return {"site/design_high": 94}


def an_array_drawn_past_the_rake(part: Part) -> Mapping[str, Any]:
    if fact(part, "plane") != "SOUTH":
        return {}
    outline, plane = fact(part, "outline"), part.links["plane"]
    right, rake = max(x for x, _ in outline), max(x for x, _ in plane.facts["outline"])
    return {"outline": [[rake + 0.3 if x == right else x, y] for x, y in outline]}


def output_conductor_of_12_awg(part: Part) -> Mapping[str, Any]:
    return {"conductor/size": "12 AWG"} if fact(part, "kind") == "inverter output" else {}


def pvc_in_the_attic(part: Part) -> Mapping[str, Any]:
    changes = {"kind": "PVC schedule 40", "straight_run": "30 ft", "expansion_travel": None}
    return changes if fact(part, "id") == "RW-ATTIC" else {}


def two_modules_more_on_paper(part: Part) -> Mapping[str, Any]:
    return {"quantity": fact(part, "quantity") + 2}


def two_modules_moved_to_string_1(part: Part) -> Mapping[str, Any]:
    more = 2 if fact(part, "id") == "S1" else -2
    return {field: fact(part, field) + more for field in ("modules_in_series", "units") if fact(part, field)}


@pytest.mark.parametrize(
    ("name", "kind", "mistake", "least", "cure"),
    [
        ("converter-strings", "", a_utility_that_gives_22_ka, 9, "to 22 kA or more"),
        ("converter-strings", "", fahrenheit_without_its_unit, 6, "from 94 °C to 34.45 °C"),
        ("converter-strings", "circuits", output_conductor_of_12_awg, 6, "to 8 AWG"),
        ("plain-strings", "circuits", output_conductor_of_12_awg, 5, "to 6 AWG"),
        ("converter-strings", "raceways", pvc_in_the_attic, 4, "to EMT"),
        ("plain-strings", "raceways", pvc_in_the_attic, 4, "to EMT"),
        ("converter-strings", "modules", two_modules_more_on_paper, 8, "from 26 to 24"),
        ("plain-strings", "modules", two_modules_more_on_paper, 7, "from 32 to 30"),
        ("converter-strings", "roof/arrays", an_array_drawn_past_the_rake, 2, "Draw back the "),
        ("plain-strings", "roof/arrays", an_array_drawn_past_the_rake, 4, "Draw back the right side"),
        ("converter-strings", "strings", two_modules_moved_to_string_1, 5, "of string S1 from 17 to 15"),
        ("plain-strings", "strings", two_modules_moved_to_string_1, 5, "of string S1 from 17 to 15"),
        ("converter-strings", "circuits", thhn_in_wet_raceways, 12, "from THHN to THWN-2"),
        ("plain-strings", "circuits", thhn_in_wet_raceways, 5, "from THHN to THWN-2"),
    ],
)
def test_a_known_cause_is_one_comment(name: str, kind: str, mistake: Mistake, least: int, cure: str) -> None:
    review = reviewed(mistaken(name, kind, mistake))
    assert len(review.report.not_passed) >= least and all(c.settles for c in review.comments)
    assert [cure in c.cure for c in review.comments] == [True], [c.cure for c in review.comments]


def dry_wire_of_two_kinds(part: Part) -> Mapping[str, Any]:
    """THHN in the output of the inverter and RHH in the others, which both become THWN-2."""
    kinds = {"inverter output": "THHN"}
    dry = kinds.get(str(fact(part, "kind")), "RHH")
    return {"conductor/insulation": dry} if fact(part, "conductor/insulation") == "THWN-2" else {}


def test_a_cure_of_parts_that_differ_does_not_say_of_all_what_the_first_is() -> None:
    cures = [c.cure for c in reviewed(mistaken("converter-strings", "circuits", dry_wire_of_two_kinds)).comments]
    together = [cure for cure in cures if "and" in cure and "to THWN-2" in cure]
    assert together and not any("from THHN" in cure or "from RHH" in cure for cure in together), cures


LOWERED: dict[str, tuple[dict[str, Any], float | None, tuple[float, bool] | None]] = {
    "the load fits": ({"bus_rating": 200}, 120, (150, True)),
    "the load does not fit": ({"bus_rating": 200}, 190, None),
    "the load is at the main": ({"bus_rating": 200}, 150, (150, True)),
    "the load is a step over the main": ({"bus_rating": 200}, 151, None),
    "no load calculation is shown": ({"bus_rating": 200}, None, None),
    "the load is not known": ({"bus_rating": 200}, math.nan, (150, False)),
    "a dwelling keeps 100 A": ({"bus_rating": 100, "main_overcurrent": 100}, 50, None),
}
"""What the panel has, the calculated load (none where it is not shown, no number where it is not known); the main that
a cure may propose, and whether it settles the comment."""


@pytest.mark.parametrize("case", LOWERED)
def test_a_main_is_lowered_by_a_cure_only_as_far_as_clauses_let_a_lowered_main_go(case: str) -> None:
    """A cure that lowers a main is such a change itself, whether or not the description had one before."""
    panel, load, proposed = LOWERED[case]
    house = {**shipped_house("plain-strings"), "claims": []}
    for field, value in panel.items():
        house = change(house, f"/panels/0/{field}", value)
    house = change(house, "/service/calculated_load", "?" if load is not None and math.isnan(load) else load)
    (comment,) = [c for c in reviewed(house).comments
                  if any(f.rule == "busbar-overloaded-by-sources" for f in c.findings)]  # fmt: skip
    found = {pointer.rpartition("/")[2]: value for pointer, value in comment.changes.items()}
    if proposed is None:
        assert "main_overcurrent" not in found and "or less" in comment.cure
    else:
        assert (found["main_overcurrent"], comment.settles) == proposed and found["main_before"] == 200
        assert comment.settles or "the mains of the service still carry the calculated load" in comment.follows[0]


def test_one_cause_is_one_comment_even_where_more_has_to_follow() -> None:
    """At -30 degF both strings are too long: a designer has more to settle than one number, but the cause is one."""
    house = change(shipped_house("plain-strings"), "/site/design_low", "-30 degF")
    first = reviewed(house).comments[0]
    assert {"string-voltage-over-dwelling-limit", "string-voltage-over-inverter-limit",
            "dc-disconnect-voltage-too-low"} <= {f.rule for f in first.findings}  # fmt: skip
    assert first.parts == ("string S1", "string S2") and "from 15 to 13" in first.cure
    assert first.follows and not first.settles
    assert "but more has to follow" in " ".join(ampcite.to_text(reviewed(house)).split())


def test_a_paper_without_drawings_is_not_made_a_sheet_by_a_cure() -> None:
    one = next(m for m in MISTAKES if m["name"] == "no roof plan")
    review = reviewed(broken(one), one["editions"][0])
    (comment,) = (c for c in review.comments if "roof-plan-missing" in {f.rule for f in c.findings})
    drawn = {str(d.facts["id"]) for d in ampcite.read(broken(one)).parts["documents"] or ()
             if isinstance(d.facts.get("drawings"), tuple) and d.facts["drawings"]}  # fmt: skip
    assert not comment.changes or {part.removeprefix("document ") for part in comment.parts} <= drawn


def test_a_working_space_is_commented_on_whatever_stands_in_it() -> None:
    """Its voltage is that of a panel, an inverter, a disconnect or a storage unit, whichever its name leads to."""
    house = shipped_house("converter-strings")
    for i, equipment in enumerate(("MAIN", "INV", "AC-DISC")):
        review = reviewed(change(house, f"/working_spaces/{i}/depth", "20 in"))
        assert house["working_spaces"]["all"][i]["equipment"] == equipment
        assert [{f.rule for f in c.findings} for c in review.comments] == [{"working-space-too-shallow"}]


# --- stages and subjects --------------------------------------------------------------------------------------

DESIGN: dict[str, Any] = {
    "codes": {"electrical_edition": 2020},
    "site": {"design_low": "-8 degF", "design_high": "94 degF"},
    "equipment": {
        "modules": {"HN-430": {
            "max_power": 430, "voc": 39.4, "vmp": 33, "isc": 13.8, "imp": 13.03, "voc_coefficient": "-0.25 %/degC",
            "max_system_voltage": 1000, "max_series_fuse": 25, "cell_technology": "crystalline silicon"}},
        "module_electronics": {"MW-460": {
            "kind": "dc-to-dc converter", "max_input_voltage": 65, "max_input_current": 15, "max_input_power": 460,
            "string_max_voltage": 540, "rated_output_current": 15, "max_output_voltage": 70,
            "min_units_per_string": 9, "max_units_per_string": 19, "max_string_power": 5900}},
        "inverters": {"FS-6000": {
            "max_dc_voltage": 540, "ac_voltage": 240, "max_ac_current": 25, "max_ac_overcurrent": 40,
            "inputs": {"max_current": 16, "max_short_circuit_current": 25}}},
    },
    "modules": [{"id": "M", "model": "HN-430", "quantity": 23}],
    "module_electronics": [{"id": "C", "model": "MW-460", "module": "M", "quantity": 23, "modules_per_unit": 1}],
    "inverters": [{"id": "INV", "model": "FS-6000", "inputs": [{"id": "IN-1"}, {"id": "IN-2"}]}],
    "strings": [
        {"id": "S1", "input": "IN-1", "module": "M", "electronics": "C", "modules_in_series": 12, "units": 12},
        {"id": "S2", "input": "IN-2", "module": "M", "electronics": "C", "modules_in_series": 11, "units": 11},
    ],
}  # fmt: skip
"""A design of the strings alone. Invented makes and figures."""


def asked_about(house: dict[str, Any], stage: str, *subjects: str) -> ampcite.Review:
    book = rulebook(2020, None, "electrical")
    return ampcite.review(book, ampcite.read(house), stage=stage, subjects=subjects)


def test_a_design_leads_with_the_limits_of_its_strings() -> None:
    text = ampcite.to_text(asked_about(DESIGN, "design", "strings"))
    assert text.index("\nLimits\n") < text.index("Not stated") < text.index("Not described at all")
    assert "String S1 reaches 540 V at most, as its converters allow; the inverter takes 540 V." in text
    assert "String S1 has 5160 W of modules; the maker allows 5900 W." in text
    assert "at design, on strings only" in text


def test_what_belongs_to_a_later_stage_is_put_apart_and_is_no_pass() -> None:
    by_stage = {stage: asked_about(DESIGN, stage) for stage in ("design", "plan review", "handover")}
    waiting = [len(r.looks) + sum(len(m.findings) for m in (*r.missing, *r.unbegun)) for r in by_stage.values()]
    later = [sum(map(len, r.later.values())) for r in by_stage.values()]
    assert waiting == sorted(waiting) and waiting[0] < waiting[-1]
    assert later == sorted(later, reverse=True) and later[-1] == 0 < later[0]
    assert list(by_stage["design"].later) == ["plan review", "rough", "final", "handover"]
    assert all(a + b == waiting[-1] for a, b in zip(waiting, later, strict=True))
    assert "To be checked at rough" in ampcite.to_text(by_stage["design"])


def test_a_subject_never_begun_is_one_line() -> None:
    text = ampcite.to_text(asked_about(DESIGN, "design"))
    assert [line for line in text.splitlines() if "storage units" in line] == \
        [line for line in text.splitlines() if line.startswith("- No word on the storage units (")]  # fmt: skip


def test_subjects_are_words_of_the_trade_or_families() -> None:
    strings, both = asked_about(DESIGN, "design", "strings"), asked_about(DESIGN, "design", "strings", "grounding")
    assert {f.family for f in strings.report.findings} < {f.family for f in both.report.findings}
    with pytest.raises(ampcite.ArgumentError, match='no subject is called "string"; did you mean "strings"'):
        asked_about(DESIGN, "design", "string")
    with pytest.raises(ampcite.ArgumentError, match="no stage is called"):
        asked_about(DESIGN, "sketch")


def test_every_family_of_a_subject_is_one_of_the_packs() -> None:
    from ampcite.reviewing.subjects import SUBJECTS

    families = {rule.family for rule in rulebook(2020).bound.rules}
    assert {family for of in SUBJECTS.values() for family in of} <= families


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


def test_nobody_can_say_for_another_what_meets_a_demand() -> None:
    """A cure puts no words where there are none; the rule's own advice stands."""
    plan_set = json.loads(plan_sets()[0].read_text("utf-8"))
    demand = {"about": "set of plans", "demand": "changes clouded", "asked_in": "a checklist", "met_by": None}
    review = reviewed(change(plan_set, "/authority/demands/0", demand))
    (comment,) = (c for c in review.comments if "set-not-as-asked" in {f.rule for f in c.findings})
    assert not comment.changes
    assert comment.cure.startswith("Bring the set into that form")
