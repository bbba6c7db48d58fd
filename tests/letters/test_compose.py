"""What stands in a letter: every finding in one place, numbered as it is printed, in the words of the local pack.

The houses and mistakes are those of this project's own tests, all invented.
"""

from __future__ import annotations

from pathlib import Path

import jsonschema
import pytest
import tomli

import ampcite
from ampcite.base.resources import load_schema
from ampcite.letters import form as forms
from ampcite.letters.edits import Edits, read_edits
from ampcite.letters.form import day_after, make_form
from ampcite.letters.records import CLEAN, CONDITIONS, CORRECTIONS, INFORMATION
from ampcite.letters.texts import readable
from ampcite.reviewing.telling import telling
from letters_shared import letter_of, many_mistakes
from shared import FOLDERS, PACKS, SHIPPED, rulebook, sample, shipped_house

HOUSES = sorted(SHIPPED)


def fields(text: str, tmp_path: Path, name: str = "edits.toml") -> Edits:
    (tmp_path / name).write_text(text, "utf-8")
    return read_edits(tmp_path / name)


@pytest.mark.parametrize("house", sample(HOUSES, 3))
def test_every_finding_that_is_no_pass_stands_in_the_letter_once(house: str) -> None:
    document = many_mistakes(house, 20)
    review = ampcite.review(rulebook(2020), ampcite.read(document), stage="plan review")
    letter = letter_of(document)
    decided = {(f.rule, f.part) for f in review.report.not_passed if f.decided}
    placed = [key for item in letter.items for key in item.keys]
    assert sorted(placed) == sorted(decided) and decided
    undecided = [f for f in review.report.not_passed if not f.decided]
    waiting = {(f.rule, f.part) for m in (*review.missing, *review.unbegun) for f in m.findings}
    seen_later = {(f.rule, f.part) for found in (review.looks, *review.later.values()) for f in found}
    assert waiting | seen_later == {(f.rule, f.part) for f in undecided}
    assert bool(letter.asked) == bool(waiting)
    own = [note for note in letter.notes if note.startswith("Look yourself")]
    assert (bool(letter.looks) or bool(own)) == bool(seen_later)


@pytest.mark.parametrize("house", HOUSES)
def test_items_are_numbered_as_they_are_printed_and_say_what_is_shown_asked_and_to_be_done(house: str) -> None:
    letter = letter_of(many_mistakes(house, 20))
    assert [one.number for one in (*letter.items, *letter.asked)] == list(range(1, 1 + len(letter.numbered)))
    assert [item.must for item in letter.items] == sorted((item.must for item in letter.items), reverse=True)
    for item in letter.items:
        assert item.heading and item.shown and item.required and item.cure
        assert all(one.clauses for one in item.required)
    groups = [(item.must, item.discipline, item.sheet) for item in letter.items]
    assert len([g for i, g in enumerate(groups) if g not in groups[:i]]) == len(
        [g for i, g in enumerate(groups) if i == 0 or g != groups[i - 1]]
    ), "a sheet of a discipline is one group"


def test_kinds_of_letters_and_none_is_an_approval() -> None:
    clean = shipped_house("converter-strings")
    assert letter_of(clean, "handover").kind == CLEAN
    broken = many_mistakes()
    assert letter_of(broken).kind == CORRECTIONS
    unstated = shipped_house("converter-strings")
    del unstated["service"]["rating"]
    assert letter_of(unstated).kind == INFORMATION
    unseen = shipped_house("converter-strings")
    del unseen["observations"]
    assert letter_of(unseen).kind == CONDITIONS
    for one in (clean, broken, unstated, unseen):
        letter = letter_of(one)
        assert "approved" not in " ".join((letter.head.title, letter.opening)).lower()
        assert any("an approval" in text for text in (*letter.basis, *letter.cautions))


def test_what_a_reviewer_has_to_see_on_paper_is_told_the_reviewer_and_not_the_applicant() -> None:
    house = shipped_house("converter-strings")
    del house["observations"]
    letter = letter_of(house)
    assert any(note.startswith("Look yourself: ") and "sheet" in note for note in letter.notes)
    assert [look for look in letter.looks if not look.stage and look.place == "papers"] == []


def test_what_an_example_left_in_place_is_no_clean_letter() -> None:
    house = shipped_house("converter-strings") | {"taken_over": {"/service/rating": 200}}
    taken = ampcite.read(house).taken_over
    if taken:
        assert letter_of(house).kind == INFORMATION
    house = shipped_house("converter-strings")
    house["service"]["rating"] = "?"
    assert letter_of(house).kind == INFORMATION


def test_every_family_of_the_shipped_packs_has_a_discipline() -> None:
    form = make_form({}, "")
    general = {pack.name for pack in PACKS.values() if pack.authority is None}
    for pack in PACKS.values():
        for rule in pack.rules.values():
            if pack.name in general:
                assert form.discipline(pack.name, rule.family) != form.phrases["other"], (pack.name, rule.family)
    assert form.discipline("roof", "roof access") == "Fire access and fire class"
    assert form.discipline("roof", "framing") == "Structural"
    assert form.discipline("larchmoor-county", "a family of its own") == form.phrases["other"]


def test_the_general_form_keeps_to_the_schema_of_packs() -> None:
    whole = tomli.loads(Path(forms.__file__).with_name("form.toml").read_text("utf-8"))
    schema = load_schema("pack.schema.json")
    jsonschema.validate(whole["letter"], schema["properties"]["letter"])
    assert set(whole["letter"]["phrases"]) == set(schema["properties"]["letter"]["properties"]["phrases"]["properties"])


def test_comments_stand_under_the_sheet_that_shows_what_they_are_about() -> None:
    house = shipped_house("converter-strings")
    house["labels"]["all"][1]["text"] = "SOLAR"
    house["panels"][0]["breakers"]["all"][0]["rating"] = 60
    sheets = {item.heading: (item.discipline, item.sheet) for item in letter_of(house).items}
    assert ("Labels", "sheet PV-2 (one-line diagram, label schedule)") in sheets.values()
    assert ("Electrical", "sheet PV-2 (one-line diagram, label schedule)") in sheets.values()
    for one in house["documents"]["all"]:
        one.pop("drawings", None)
    assert {item.sheet for item in letter_of(house).items if item.discipline == "Electrical"} == {""}


def test_arithmetic_is_figures_and_not_yes_or_no() -> None:
    house = shipped_house("converter-strings")
    house["strings"]["all"][0]["units"] = 60
    worked = [line for item in letter_of(house).items for line in item.worked]
    assert "converters 60 ≤ most 22: no" in worked and all(any(c.isdigit() for c in line) for line in worked)
    assert telling(("not: sleeve: no", "rating 60 A <= 40 A: no", "wet: no")) == ["rating 60 A <= 40 A: no"]


def test_what_is_about_the_whole_is_headed_by_its_facts_and_not_by_the_requirement() -> None:
    house = shipped_house("converter-strings")
    house["readings"]["line_to_line"] = 300
    house["project"]["scope_includes"] = ["storage"]
    letter = letter_of(house, "handover")
    headings = {item.heading: [one.says.rstrip(".") for one in item.required] for item in letter.items}
    assert "Measured voltage line to line, service voltage between ungrounded conductors" in headings
    assert "Works the scope of work names, PV systems on the service" in headings
    assert not [heading for heading, required in headings.items() if heading in required]


# --- the local pack --------------------------------------------------------------------------------------------


def test_header_phrases_days_and_disciplines_are_the_local_packs(tmp_path: Path) -> None:
    house = shipped_house("converter-strings")
    house["codes"] = {"jurisdiction": "larchmoor-county", "application_date": "2026-03-10"}
    house["panels"][0]["breakers"]["all"][0]["rating"] = 60
    description = ampcite.read(house)
    rules = ampcite.load(ampcite.law_for(description))
    from ampcite.letters.compose import compose

    letter = compose(ampcite.review(rules, description, stage="plan review"), description, date="2026-04-01")
    assert letter.head.authority[0] == "Larchmoor County (invented)"
    assert any("2026-09-28" in text for text in letter.closing), "180 days after the letter"
    assert any("triangle" in text for text in letter.instructions)
    local = PACKS["larchmoor-county"].letter
    assert local["header"] and (FOLDERS["larchmoor-county"] / "letter.toml").is_file()


def test_days_are_counted_with_and_without_weekends() -> None:
    assert day_after("2026-04-01", 180) == "2026-09-28"
    assert day_after("2026-04-03", 1, working=True) == "2026-04-06", "a Friday; the next working day is a Monday"
    assert day_after("2026-04-01", 10, working=True) == "2026-04-15"


def test_a_word_nobody_knows_stays_as_it_is() -> None:
    form = make_form({"header": ["{authority} {nonsense} {__class__}"]}, "Town")
    assert form.header == ("Town {nonsense} {__class__}",)


# --- the reviewer's edits --------------------------------------------------------------------------------------


def overloaded() -> dict[str, object]:
    house = shipped_house("converter-strings")
    house["panels"][0]["breakers"]["all"][0]["rating"] = 60
    return house


def test_a_withdrawn_comment_is_not_sent(tmp_path: Path) -> None:
    before = letter_of(overloaded())
    rule, part = before.items[0].keys[0]
    edits = fields(f'[[withdraw]]\nrule = "{rule}"\npart = "{part}"\nreason = "seen on the sheet"\n', tmp_path)
    after = letter_of(overloaded(), edits=edits)
    assert (rule, part) not in {key for item in after.items for key in item.keys}
    assert after.notes == before.notes or len(after.notes) <= len(before.notes)


def test_a_waiver_shows_reason_owner_and_end_and_is_reported_when_it_has_ended(tmp_path: Path) -> None:
    rule, part = letter_of(overloaded()).items[0].keys[0]
    words = f'[[waive]]\nrule = "{rule}"\npart = "{part}"\nreason = "board of appeals"\nowner = "A. Official"\n'
    letter = letter_of(overloaded(), edits=fields(words + 'until = "2026-04-01"\n', tmp_path))
    assert [w.why for w in letter.waived] == ["board of appeals (A. Official, until 2026-04-01)"]
    assert (rule, part) not in {key for item in letter.items for key in item.keys}
    ended = letter_of(overloaded(), edits=fields(words + 'until = "2026-03-31"\n', tmp_path))
    assert ended.waived == () and (rule, part) in {key for item in ended.items for key in item.keys}
    assert any("ended 2026-03-31" in note for note in ended.notes)


def test_an_edit_that_meets_nothing_is_reported(tmp_path: Path) -> None:
    words = '[[waive]]\nrule = "no-such"\nreason = "r"\nowner = "o"\nuntil = "2027-01-01"\n'
    letter = letter_of(overloaded(), edits=fields(words, tmp_path))
    assert any('"waive" of no-such meets no comment' in note for note in letter.notes)
    assert letter.kind == CORRECTIONS


def test_other_words_and_comments_of_ones_own(tmp_path: Path) -> None:
    rule, _ = letter_of(overloaded()).items[0].keys[0]
    words = f"""
[[reword]]
rule = "{rule}"
note = "See also the photograph."
cure = "Fit the breaker the plan names."

[[add]]
id = "gate-code"
discipline = "Site"
sheet = "PV-1"
heading = "Gate"
required = "The gate opens for the inspector."
cure = "Send the code of the gate."
"""
    letter = letter_of(overloaded(), edits=fields(words, tmp_path))
    item = next(i for i in letter.items if rule in dict(i.keys))
    assert item.shown[-1] == "See also the photograph." and item.cure == "Fit the breaker the plan names."
    own = next(i for i in letter.items if i.reviewer)
    assert (own.discipline, own.sheet, own.heading, own.must) == ("Site", "PV-1", "Gate", True)
    assert own.number == max(i.number for i in letter.must), "a group that the form does not know comes last"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[waive]]\nrule = 'a'\n", "lacks"),
        ("[[waive]]\nrule = 'a'\nreason = 'r'\nowner = 'o'\nuntil = '2026-02-30'\n", "no day of the calendar"),
        ("[[withdraw]]\nrule = 'a'\nreason = 'r'\nwhy = 1\n", '"why" is not known here'),
        ("[[drop]]\n", '"drop" is not known here'),
        ("[[add]]\nid = 'a'\nheading = 'h'\nrequired = 'r'\ncure = 'c'\n" * 2, "twice"),
        ("not toml", "is not TOML"),
    ],
)
def test_bad_edits_are_refused_in_a_sentence(text: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(ampcite.InputError, match=said):
        fields(text, tmp_path)


def test_edits_that_are_not_there(tmp_path: Path) -> None:
    with pytest.raises(ampcite.InputError, match="can't be read"):
        read_edits(tmp_path / "none.toml")


# --- texts -----------------------------------------------------------------------------------------------------


def test_signs_that_no_page_shows_or_that_turn_its_direction_are_marked() -> None:
    assert readable("a\u202eb\x00c\ud800d\ne\tf") == "a\ufffdb\ufffdc\ufffdd\ne\tf"
    assert readable(("a\x1b", ("b",))) == ("a\ufffd", ("b",))


def test_arguments_of_another_type_are_refused() -> None:
    from ampcite.letters.compose import compose

    description = ampcite.read(shipped_house("converter-strings"))
    with pytest.raises(ampcite.ArgumentError, match="what review gives"):
        compose(ampcite.check(rulebook(2020), description), description)  # type: ignore[arg-type]
    with pytest.raises(ampcite.ArgumentError, match="the description"):
        compose(ampcite.review(rulebook(2020), description), {})  # type: ignore[arg-type]


def test_a_comment_is_not_headed_by_what_only_says_whether_its_rule_applies() -> None:
    house = shipped_house("converter-strings")
    for one in house["documents"]["all"]:
        one.pop("calculations", None)
    headings = {item.heading for item in letter_of(house).items}
    assert headings and not any("waived" in heading.lower() for heading in headings)
