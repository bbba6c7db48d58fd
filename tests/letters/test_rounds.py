"""A second round says exactly which mistakes are cured, still open and new, and keeps their numbers.

The mistakes are those of ``tests/houses/broken``, several in one house; half of them are mended for the second round
while a sheet is put in front of the others, labels change their order and a breaker is added before the rest.
"""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import ampcite
from ampcite.base.resources import load_schema
from ampcite.letters.answers import read_answers, to_csv, to_xlsx
from ampcite.letters.compare import Comparison
from ampcite.letters.kept import read_record, to_record
from ampcite.letters.records import HIDDEN, NEW, OPEN, UNCHANGED, Letter
from ampcite.letters.rounds import Answer, Earlier
from letters_shared import _mistakes, letter_of, many_mistakes
from shared import BROKEN, SHIPPED, examples, sample, shipped_house, with_mistake

HOUSES = sorted(SHIPPED)


def kept(document: dict[str, Any], letter: Letter, folder: Path, before: Earlier | None = None) -> Earlier:
    """The record of a round, written and read back."""
    path = folder / "round.record.json"
    path.write_text(to_record(letter, ampcite.read(document), before, "0"), "utf-8")
    jsonschema.validate(json.loads(path.read_text("utf-8")), load_schema("letter.schema.json"))
    return read_record(path)


def shuffled(document: dict[str, Any]) -> dict[str, Any]:
    """The same house with its papers in another order: what was wrong is neither more nor less."""
    out = copy.deepcopy(document)
    for key in ("labels", "documents"):
        rows = out[key]["all"] if isinstance(out[key], dict) else out[key]
        rows.reverse()
    return out


def keys(letter: Letter) -> dict[tuple[str, str], int]:
    return {key: item.number for item in letter.items for key in item.keys}


@pytest.mark.parametrize("house", sample(HOUSES, 3))
def test_half_of_the_mistakes_mended(house: str, tmp_path: Path) -> None:
    chosen = _mistakes(house, 16)
    first, second = shipped_house(house), shipped_house(house)
    for i in chosen:
        first = with_mistake(first, BROKEN[i])
    for i in chosen[::2]:
        second = with_mistake(second, BROKEN[i])
    second = shuffled(second)
    one = letter_of(first)
    two = letter_of(second, earlier=kept(first, one, tmp_path))
    was, now = keys(one), keys(two)
    assert two.round == 2
    open_numbers = {was[key] for key in now if key in was}
    for item in two.items:
        earlier = {was[key] for key in item.keys if key in was}
        assert item.state == (OPEN if earlier else NEW)
        assert len(earlier) <= 1 and (not earlier or item.number in earlier or item.number > max(was.values()))
    comments = [settled for settled in two.settled if settled.why != "stated"]
    assert {settled.number for settled in comments} == set(was.values()) - open_numbers
    assert {settled.why for settled in comments} <= {"cured", "no longer applies"}
    stated = {settled.number for settled in two.settled} - set(was.values())
    assert stated == {asked.number for asked in one.asked} - {asked.number for asked in two.asked}
    assert len(two.settled) >= len(chosen) // 4
    assert len({item.number for item in two.items}) == len(two.items)


def test_what_has_only_changed_its_place_is_no_new_comment_and_no_change(tmp_path: Path) -> None:
    house = many_mistakes("converter-strings", 16)
    one = letter_of(house)
    two = letter_of(shuffled(house), earlier=kept(house, one, tmp_path))
    assert keys(two) == keys(one)
    assert {item.state for item in two.items} == {OPEN} and two.settled == () and two.changes == ()


def test_a_breaker_in_front_of_the_others_makes_none_of_them_new(tmp_path: Path) -> None:
    house = shipped_house("converter-strings")
    breakers = house["panels"][0]["breakers"]["all"]
    breakers[0]["rating"] = 60
    one = letter_of(house)
    after = copy.deepcopy(house)
    after["panels"][0]["breakers"]["all"].insert(0, {"rating": 25})
    two = letter_of(after, earlier=kept(house, one, tmp_path))
    numbers = {number for key, number in keys(one).items() if key[1].startswith("MAIN/breakers")}
    assert numbers
    assert {item.number for item in two.items if item.number in numbers and item.state == OPEN} == numbers
    assert two.changes == ("New: breaker 1 of panel MAIN.",)


def test_answered_without_a_change(tmp_path: Path) -> None:
    house = shipped_house("converter-strings")
    house["panels"][0]["breakers"]["all"][0]["rating"] = 60
    house["labels"]["all"][1]["text"] = "SOLAR"
    one = letter_of(house)
    breaker = next(i.number for i in one.items if "reaker" in i.heading)
    label = next(i.number for i in one.items if i.discipline == "Labels")
    after = copy.deepcopy(house)
    after["labels"]["all"][1]["text"] = "SOLAR POWER"
    answers = {breaker: Answer("corrected", "PV-3"), label: Answer("corrected")}
    two = letter_of(after, earlier=kept(house, one, tmp_path), answers=answers)
    states = {item.number: item.state for item in two.items}
    assert states[breaker] == UNCHANGED and states[label] == OPEN
    assert {i.number: i.answer for i in two.items}[breaker] == "corrected (PV-3)"
    assert two.changes == ('Label 2: label text was "SOLAR", is "SOLAR POWER".',)
    silent = letter_of(after, earlier=kept(house, one, tmp_path))
    assert {item.state for item in silent.items} == {OPEN}, "nothing was answered"


def test_leaving_a_fact_out_is_no_cure(tmp_path: Path) -> None:
    house = shipped_house("converter-strings")
    house["panels"][0]["breakers"]["all"][0]["rating"] = 60
    one = letter_of(house)
    after = copy.deepcopy(house)
    del after["panels"][0]["breakers"]["all"][0]["rating"]
    two = letter_of(after, earlier=kept(house, one, tmp_path))
    hidden = [item for item in two.items if item.state == HIDDEN]
    assert hidden and all(item.cure.startswith("State ") for item in hidden)
    assert two.asked == (), "what an item asks is not asked a second time"
    assert not {item.number for item in hidden} & {settled.number for settled in two.settled}
    assert two.kind == "corrections"


def test_a_fact_that_was_asked_for_is_settled_when_it_is_stated(tmp_path: Path) -> None:
    house = shipped_house("converter-strings")
    whole = copy.deepcopy(house)
    del house["service"]["rating"]
    del house["service"]["voltage"]
    one = letter_of(house)
    numbers = {asked.says: asked.number for asked in one.asked}
    half = copy.deepcopy(house)
    half["service"]["voltage"] = whole["service"]["voltage"]
    answers = {number: Answer("see cover sheet") for number in numbers.values()}
    two = letter_of(half, earlier=kept(house, one, tmp_path), answers=answers)
    assert {s.why for s in two.settled} == {"stated"}
    assert {asked.number for asked in two.asked} | {s.number for s in two.settled} == set(numbers.values())
    assert {asked.state for asked in two.asked} == {UNCHANGED} and two.asked and two.settled


def test_numbers_are_never_given_twice_through_three_rounds(tmp_path: Path) -> None:
    clean = shipped_house("converter-strings")
    broken = many_mistakes("converter-strings", 12)
    one = letter_of(broken)
    first = kept(broken, one, tmp_path)
    two = letter_of(clean, earlier=first)
    assert two.items == () and len(two.settled) == len(one.numbered)
    second = kept(clean, two, tmp_path, first)
    three = letter_of(broken, earlier=second)
    assert min(item.number for item in three.items) == max(item.number for item in one.numbered) + 1
    assert {item.state for item in three.items} == {NEW} and three.round == 3


def test_a_part_that_is_gone_settles_what_was_said_of_it(tmp_path: Path) -> None:
    house = shipped_house("converter-strings")
    house["communications"][0]["wet_rated"] = False
    one = letter_of(house)
    number = next(item.number for item in one.items if any(part == "COM-1" for _, part in item.keys))
    after = copy.deepcopy(house)
    after["communications"] = []
    two = letter_of(after, earlier=kept(house, one, tmp_path))
    assert number in {settled.number for settled in two.settled}
    assert any("No longer there" in change for change in two.changes)


@settings(max_examples=examples(12), deadline=None)
@given(st.data())
def test_any_mistakes_mended_and_made(data: st.DataObject) -> None:
    """Of any two sets of mistakes: open is what both have, settled what only the first, new what only the second."""
    import tempfile

    chosen = _mistakes("converter-strings", 16)
    before = data.draw(st.sets(st.sampled_from(chosen), min_size=1, max_size=6))
    after = data.draw(st.sets(st.sampled_from(chosen), max_size=6))
    houses = []
    for some in (before, after):
        house = shipped_house("converter-strings")
        try:
            for i in sorted(some):
                house = with_mistake(house, BROKEN[i])
            ampcite.read(house)
        except (ampcite.InputError, AssertionError, KeyError, IndexError):
            assume(False)
        houses.append(house)
    one = letter_of(houses[0])
    with tempfile.TemporaryDirectory() as folder:
        two = letter_of(houses[1], earlier=kept(houses[0], one, Path(folder)))
    was, now = keys(one), keys(two)
    for item in two.items:
        held = {key for key in item.keys if key in was}
        assert (item.state != NEW) == bool(held)
    numbers = {number for key, number in was.items()}
    here = {item.number for item in two.items if item.state != NEW}
    comments = {s.number for s in two.settled if s.why != "stated"}
    assert comments == numbers - here - {n.number for n in two.items}
    assert all(was[key] not in {s.number for s in two.settled} for key in now if key in was)


# --- records and response lists ----------------------------------------------------------------------------------


def test_comparison_of_a_house_with_itself_finds_nothing() -> None:
    for house in HOUSES:
        description = ampcite.read(shipped_house(house))
        same = Comparison(description, description)
        assert list(same.in_words()) == [] and same.changed == frozenset() and same.added == same.gone == ()


def test_a_part_under_another_name_is_known_by_what_is_said_of_it() -> None:
    before = shipped_house("converter-strings")
    after = json.loads(json.dumps(before).replace('"COM-1"', '"CABLE-1"'))
    comparison = Comparison(ampcite.read(before), ampcite.read(after))
    assert comparison.renamed["COM-1"] == "CABLE-1" and comparison.added == comparison.gone == ()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "is no JSON"), (b"\xff\xfe", "is no JSON"), (b"[" * 100_000, "is no JSON"), (b"{}", "is not the record"),
        (b'{"schema": "https://ampcite.invalid/schemas/1.0/letter.schema.json"}', "lacks"),
    ],
)  # fmt: skip
def test_what_is_no_record_is_refused(data: bytes, said: str, tmp_path: Path) -> None:
    (tmp_path / "r.json").write_bytes(data)
    with pytest.raises(ampcite.InputError, match=said):
        read_record(tmp_path / "r.json")


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_the_response_list_is_read_back(ending: str, tmp_path: Path) -> None:
    letter = letter_of(many_mistakes("converter-strings", 8))
    path = tmp_path / f"answers.{ending}"
    path.write_bytes(to_csv(letter).encode() if ending == "csv" else to_xlsx(letter))
    assert read_answers(path) == {}, "nothing is filled in"
    number = letter.must[0].number
    if ending == "csv":
        lines = path.read_text("utf-8-sig").splitlines()
        lines[1] = lines[1][:-1] + "\"'=done, see note\",PV-3"
        path.write_text("\n".join(lines), "utf-8")
    else:
        import openpyxl

        book = openpyxl.load_workbook(path)
        book.worksheets[0]["F2"], book.worksheets[0]["G2"] = "'=done, see note", "PV-3"
        book.save(path)
    assert read_answers(path) == {number: Answer("=done, see note", "PV-3")}


def test_the_same_letter_gives_the_same_list() -> None:
    letter = letter_of(many_mistakes("converter-strings", 8))
    assert to_xlsx(letter) == to_xlsx(letter) and to_csv(letter) == to_csv(letter)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "has no column"), (b"item;your answer\nx;done\n", "give its number"), (b"a\0b", "neither CSV"),
        (b"item,your answer\n1,a\n1,b\n", "a second time"), (b"PK\x03\x04nonsense", "can't be read as a workbook"),
    ],
)  # fmt: skip
def test_what_is_no_response_list_is_refused(data: bytes, said: str, tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_bytes(data)
    with pytest.raises(ampcite.InputError, match=said):
        read_answers(tmp_path / "a.csv")


def test_a_list_saved_with_semicolons_and_an_old_encoding_is_read(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_bytes("item;about;your answer\n3;x;ge\u00e4ndert\n".encode("cp1252"))
    assert read_answers(tmp_path / "a.csv") == {3: Answer("ge\u00e4ndert")}
