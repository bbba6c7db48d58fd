"""The mechanisms of the description's form: one home for a fact, lists that say how far they go, models, texts, stages.

The houses here are fragments of our own invention.
"""

from __future__ import annotations

import copy
import itertools
import json
from pathlib import Path
from typing import Any

import pytest

import ampcite
from ampcite.house.change import LEFT_OUT, change
from ampcite.house.part_types import part_types
from ampcite.house.parts import ABSENT_PART, UNKNOWN_PART
from ampcite.house.phrase import parse, write
from ampcite.house.write import written
from ampcite.language.logic import ABSENT
from shared import SHIPPED, plain, rulebook, shipped_house

CIRCUITS = [{"id": "A", "voltage": 10, "conductor": "10 AWG copper THWN-2"},
            {"id": "B", "voltage": "12 V", "conductor": "8 AWG copper THWN-2"}]  # fmt: skip


def facts(document: dict[str, Any], kind: str = "circuits") -> list[dict[str, Any]]:
    return [dict(part.facts) for part in ampcite.read(document).parts[kind] or ()]


# --- lists -------------------------------------------------------------------------------------------------------


def test_what_holds_for_all_is_said_once_and_a_part_may_differ() -> None:
    said = {"each": {"voltage": 10, "conductor": "10 AWG copper THWN-2"},
            "all": [{"id": "A"}, {"id": "B", "voltage": "12 V", "conductor": "8 AWG copper THWN-2"}]}  # fmt: skip
    assert facts({"circuits": said}) == facts({"circuits": CIRCUITS})


def test_objects_said_for_each_are_merged() -> None:
    said = {"each": {"overcurrent": {"kind": "breaker", "rating": 20}},
            "all": [{"id": "A", "overcurrent": {"rating": 30}}]}  # fmt: skip
    assert facts({"circuits": said})[0]["overcurrent/rating"] == 30
    assert facts({"circuits": said})[0]["overcurrent/kind"] == "breaker"


def test_a_list_of_only_some_leaves_sums_open_and_judges_those_given() -> None:
    house = shipped_house("plain-strings")
    before = ampcite.check(rulebook(2020), ampcite.read(house))
    rows = house["strings"] if isinstance(house["strings"], list) else house["strings"]["all"]
    house["strings"] = {**(house["strings"] if isinstance(house["strings"], dict) else {}), "only": rows}
    house["strings"].pop("all", None)
    description = ampcite.read(house)
    assert description.whole.links["strings"] is None
    assert [p.facts["id"] for p in description.whole.partly["strings"]] == [row["id"] for row in rows]
    after = ampcite.check(rulebook(2020), description)
    longest = "string-voltage-over-inverter-limit"
    assert [f.verdict for f in after.of(longest)] == [f.verdict for f in before.of(longest)]
    open_ones = [f for f in after.findings if not f.decided]
    assert open_ones, "what needs every string is open"
    assert all("/strings" in missing for f in open_ones for missing in f.missing)
    assert not [f for f in after.findings if f.verdict == "fail"]


@pytest.mark.parametrize("segments", [None, {"only": [{"raceway": "R"}]}])
def test_who_names_a_part_is_open_where_some_that_might_are_not_listed(segments: Any) -> None:
    named, back = {"id": "A", "segments": {"all": [{"raceway": "R"}]}}, "circuits/segments[raceway]"
    more = {"id": "B"} if segments is None else {"id": "B", "segments": segments}
    for circuits, known in (([named], True), ([named, more], False), ({"only": [named]}, False)):
        (raceway,) = ampcite.read({"raceways": [{"id": "R"}], "circuits": circuits}).parts["raceways"] or ()
        assert (raceway.links[back] is not None) is known


def test_an_empty_list_of_only_some_is_a_list_not_given() -> None:
    assert ampcite.read({"strings": {"only": []}}).parts["strings"] is None
    assert ampcite.read({"strings": {"all": []}}).parts["strings"] == ()


def test_the_pointer_of_a_part_leads_to_it() -> None:
    document = {"circuits": {"each": {"voltage": 3}, "all": CIRCUITS}}
    for part in ampcite.read(document).parts["circuits"] or ():
        here: Any = document
        for step in part.pointer.split("/")[1:]:
            here = here[int(step) if isinstance(here, list) else step]
        assert here["id"] == part.facts["id"]


# --- models ------------------------------------------------------------------------------------------------------

MODEL = {"modules": {"LM-1/b": {"voc": 40, "max_power": "0.4 kW"}}}


def test_a_part_has_the_facts_of_the_model_it_names() -> None:
    one, two = facts({"equipment": MODEL, "modules": [{"id": "M", "model": "LM-1/b"}, {"id": "N"}]}, "modules")
    assert (one["voc"], one["max_power"]) == (40, 400)
    assert "voc" not in two


def test_the_order_in_which_an_object_says_its_fields_does_not_matter() -> None:
    said = {"id": "I", "inputs": [{"id": "A"}], "model": "X"}
    equipment = {"inverters": {"X": {"inputs": {"max_current": 20}}}}
    for order in itertools.permutations(said):
        found = ampcite.read({"inverters": [{key: said[key] for key in order}], "equipment": equipment})
        assert found.parts["inverters/inputs"][0].facts["max_current"] == 20  # type: ignore[index]


def test_a_catalogue_lies_beside_the_description(tmp_path: Path) -> None:
    (tmp_path / "makers.json").write_text(json.dumps(MODEL), "utf-8")
    house = {"catalogue": ["makers.json"], "modules": [{"id": "M", "model": "LM-1/b"}]}
    (tmp_path / "house.json").write_text(json.dumps(house), "utf-8")
    (module,) = ampcite.read(tmp_path / "house.json").parts["modules"] or ()
    assert module.facts["voc"] == 40
    (same,) = ampcite.read(house, catalogue=MODEL).parts["modules"] or ()
    assert same.facts == module.facts
    own = {**house, "equipment": {"modules": {"LM-1/b": {"voc": 41}}}}
    (here,) = ampcite.read(own, catalogue=MODEL).parts["modules"] or ()
    assert here.facts["voc"] == 41, "the description's own word comes first"


@pytest.mark.parametrize(("text", "words"), [
    ('{"modules": {"L": {"voc": -1}}}', "/modules/L/voc"), ("[]", "an object"), ("{", "not JSON"),
    (None, "can't be read"),
])  # fmt: skip
def test_a_bad_catalogue_is_named(text: str | None, words: str, tmp_path: Path) -> None:
    if text is not None:
        (tmp_path / "makers.json").write_text(text, "utf-8")
    (tmp_path / "house.json").write_text('{"catalogue": ["makers.json"]}', "utf-8")
    with pytest.raises(ampcite.InputError) as caught:
        ampcite.read(tmp_path / "house.json")
    assert "makers.json" in str(caught.value) and words in str(caught.value)


def test_a_missing_figure_of_a_maker_is_asked_for_at_its_model() -> None:
    strings = [{"id": "S", "module": "M", "electronics": None, "modules_in_series": 9}]
    house = {"project": {"dwelling_type": "one-family"}, "rapid_shutdown": {"array_place": "on a building"},
             "site": {"design_low": -10}, "equipment": {"modules": {"L": {}}}, "modules": [{"id": "M", "model": "L"}],
             "strings": strings}  # fmt: skip
    (finding,) = ampcite.check(rulebook(2020), ampcite.read(house)).of("string-voltage-over-dwelling-limit")
    assert "/equipment/modules/L/voc_coefficient" in finding.missing
    house["modules"] = [{"id": "M"}]
    (finding,) = ampcite.check(rulebook(2020), ampcite.read(house)).of("string-voltage-over-dwelling-limit")
    assert "/modules/0/model" in finding.missing


def test_what_an_undescribed_model_would_say_is_not_taken_for_granted() -> None:
    units = [{"id": "named", "model": "L"}, {"id": "nameless"}]
    one, two = facts({"module_electronics": units}, "module_electronics")
    assert "prevents_backfeed" not in one, "its maker would say so, and nobody describes the model"
    assert two["prevents_backfeed"] is False
    (described, _) = facts({"module_electronics": units, "equipment": {"module_electronics": {"L": {}}}},
                           "module_electronics")  # fmt: skip
    assert described["prevents_backfeed"] is False
    house = {"circuits": [{"id": "C", "terminals": [{"model": "TX"}]}]}
    (end,) = facts(house, "circuits/terminals")
    assert "torque" not in end and end["place"] is ABSENT, "where it is, the maker doesn't say"


def test_inputs_alike_or_one_by_one() -> None:
    def currents(inputs: Any) -> list[Any]:
        house = {"equipment": {"inverters": {"F": {"inputs": inputs}}},
                 "inverters": [{"id": "I", "model": "F", "inputs": [{"id": "1"}, {"id": "2"}]}]}  # fmt: skip
        return [one.get("max_current") for one in facts(house, "inverters/inputs")]

    assert currents({"max_current": 20}) == [20, 20]
    assert currents([{"max_current": 20}, {"max_current": 30}]) == [20, 30]
    assert currents([{"max_current": 20}]) == [20, None]


# --- texts -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("text", "said"), [
    ("10 AWG copper THWN-2", {"size": "10 AWG", "material": "copper", "insulation": "THWN-2"}),
    ("2 x 4/0 AWG aluminum XHHW-2",
     {"parallel_sets": "2", "size": "4/0 AWG", "material": "aluminum", "insulation": "XHHW-2"}),
    ("1 AWG", {"size": "1 AWG"}), ("copper", {"material": "copper"}),
    ("10 AWG copper USE-2 marked RHW-2, sunlight resistant",
     {"size": "10 AWG", "material": "copper", "insulation": "USE-2", "marked": ["RHW-2", "sunlight resistant"]}),
])  # fmt: skip
def test_a_conductor_as_the_trade_writes_it(text: str, said: dict[str, Any]) -> None:
    how = part_types()["circuits"].groups["conductor"].phrase
    assert how is not None
    assert parse(how, text) == {"parallel_sets": 1, "marked": [], **said}
    assert write(how, parse(how, text)) == text


def test_what_a_text_leaves_out_is_not_known() -> None:
    (only_size,) = facts({"circuits": [{"id": "A", "conductor": "8 AWG"}]})
    assert only_size["conductor/size"] == "8 AWG" and "conductor/material" not in only_size
    assert only_size["conductor/parallel_sets"] == 1
    (none,) = facts({"circuits": [{"id": "A", "equipment_ground": None}]})
    assert none["equipment_ground"] is none["equipment_ground/size"] is ABSENT


# --- there and back ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_house_is_the_same_from_its_plain_form(name: str) -> None:
    house = shipped_house(name)
    again = written(plain(house))
    a, b = ampcite.read(house), ampcite.read(again)
    assert {k: [p.facts for p in v or ()] for k, v in a.parts.items()} == {
        k: [p.facts for p in v or ()] for k, v in b.parts.items()}  # fmt: skip


@pytest.mark.parametrize(("pointer", "value", "kind", "path"), [
    ("/circuits/0/conductor/size", "6 AWG", "circuits", "conductor/size"),
    ("/circuits/0/voltage", "99 V", "circuits", "voltage"), ("/modules/0/voc", 55, "modules", "voc"),
    ("/inverters/0/inputs/1/max_current", 33, "inverters/inputs", "max_current"),
    ("/site/elevation", 7, "", "site/elevation"),
])  # fmt: skip
def test_a_change_alters_one_fact_wherever_it_is_said(pointer: str, value: Any, kind: str, path: str) -> None:
    house = shipped_house("converter-strings")
    before = copy.deepcopy(house)
    after = change(house, pointer, value)
    assert house == before, "the document itself stays as it is"
    old, new = ampcite.read(house), ampcite.read(after)
    told = [(k, p.facts.get("id"), f) for k, parts in new.parts.items() if k != "claims/says"
            for i, p in enumerate(parts or ()) for f, v in p.facts.items()
            if (old.parts[k] or ())[i].facts.get(f) != v]  # fmt: skip
    assert [(k, f) for k, _, f in told] == [(kind, path)]
    assert path.split("/")[0] not in (facts(change(after, pointer, LEFT_OUT), kind)[0] if kind == "modules" else {})


# --- what can't belong -------------------------------------------------------------------------------------------


def test_what_cannot_belong_is_none_and_nobody_says_so() -> None:
    roof = {"place": "rooftop", "wiring": "raceway", "roof_clearance": 1}
    below = {"place": "underground", "wiring": "raceway"}
    house = {"circuits": [{"id": "A", "segments": [roof, below, {"wiring": "raceway"}]}]}
    one, two, three = facts(house, "circuits/segments")
    assert one["burial_depth"] is one["burial_place"] is one["cable"] is ABSENT
    assert two["roof_clearance"] is ABSENT and "burial_depth" not in two
    assert "burial_depth" not in three, "nobody says where it is, so it may be underground"


@pytest.mark.parametrize("value", [18, "18 in"])
def test_to_state_what_cannot_belong_is_refused(value: Any) -> None:
    house = {"circuits": {"all": [{"id": "A", "segments": [{"place": "rooftop", "burial_depth": value}]}]}}
    with pytest.raises(ampcite.InputError) as caught:
        ampcite.read(house)
    (fault,) = caught.value.complaints
    assert fault.place == "/circuits/all/0/segments/0/burial_depth"
    assert fault.message == 'a segment above ground has no "depth of cover"; leave it out'
    del house["circuits"]["all"][0]["segments"][0]["burial_depth"]
    assert ampcite.read(house)


@pytest.mark.parametrize(("document", "place"), [
    ({"equipment": {"module_electronics": {"E": {"kind": "microinverter", "max_units_per_string": 9}}}},
     "/equipment/module_electronics/E/max_units_per_string"),
    ({"circuits": {"all": [{"id": "A", "segments": {"each": {"place": "rooftop", "burial_depth": 3}, "all": []}}]}},
     "/circuits/all/0/segments/each/burial_depth"),
])  # fmt: skip
def test_what_no_part_shows_is_refused_by_what_it_says_itself(document: dict[str, Any], place: str) -> None:
    with pytest.raises(ampcite.InputError) as caught:
        ampcite.read(document)
    (fault,) = caught.value.complaints
    assert fault.place == place and fault.message.endswith("leave it out")


def test_what_is_said_for_each_is_not_said_of_those_it_cannot_belong_to() -> None:
    segments = {"each": {"burial_depth": 24}, "all": [{"place": "rooftop"}, {"place": "underground"}]}
    one, two = facts({"circuits": [{"id": "A", "segments": segments}]}, "circuits/segments")
    assert one["burial_depth"] is ABSENT and two["burial_depth"] == 24


# --- stages ------------------------------------------------------------------------------------------------------


def test_what_is_said_for_each_within_an_object_is_not_said_of_those_it_cannot_belong_to() -> None:
    device = {"each": {"overcurrent": {"dc_voltage": 600}},
              "all": [{"id": "A", "kind": "inverter output", "overcurrent": {"rating": 20}},
                      {"id": "B", "kind": "pv source", "overcurrent": {"rating": 20}}]}  # fmt: skip
    ac, dc = facts({"circuits": device})
    assert ac["overcurrent/dc_voltage"] is ABSENT and dc["overcurrent/dc_voltage"] == 600
    device["all"][0]["overcurrent"] = {"rating": 20, "dc_voltage": 500}
    with pytest.raises(ampcite.InputError, match="circuits/all/0/overcurrent/dc_voltage"):
        ampcite.read({"circuits": device})


def test_what_is_said_for_each_is_open_where_it_is_not_known_whether_it_can_belong() -> None:
    tool = {"id": "TW", "kind": "torque tool"}
    rows = [{"specified": 36}, {"specified": None}, {}, {"tool": "TW"}]
    house = {"readings": {"instruments": [tool], "torque": {"each": {"point": "a lug", "tool": "TW"}, "all": rows}}}
    turned, pulled, open_one, own = ampcite.read(house).parts["readings/torque"] or ()
    assert turned.facts["tool"] == own.facts["tool"] == "TW"
    assert pulled.facts["tool"] is ABSENT and pulled.links["tool"] is ABSENT_PART
    assert "tool" not in open_one.facts and open_one.links["tool"] is UNKNOWN_PART


def test_a_reading_is_asked_for_at_the_end_and_a_string_at_the_beginning() -> None:
    report = ampcite.check(rulebook(2020), ampcite.read({"stage": "design"}))
    stages = {f.rule: f.stage for f in report.not_passed}
    assert stages["string-voltage-over-inverter-limit"] == "design"
    assert stages["string-polarity-reversed"] == "final"
    assert ampcite.read({"stage": "design"}).stage == "design" and ampcite.read({}).stage is None


def test_the_model_of_a_shipped_house_decides_everything_at_handover() -> None:
    for name in SHIPPED:
        description = ampcite.read({**shipped_house(name), "stage": "handover"})
        assert all(f.decided for f in ampcite.check(rulebook(2020), description).findings)


# --- claims ------------------------------------------------------------------------------------------------------

CLAIMED: dict[str, Any] = {
    "project": {"address": "14 Alder Street, North Quill"}, "service": {"voltage": 240},
    "equipment": {"modules": {"LM": {"max_power": 405, "make": "Lark (invented)", "listing": ["UL 61730"]}}},
    "modules": [{"id": "M", "model": "LM", "quantity": 24}], "module_electronics": [],
    "inverters": [{"id": "I"}, {"id": "J"}],
    "communications": [{"id": "L", "length": "31 ft"}],
    "circuits": [{"id": "C", "overcurrent": None, "conductor": "8 AWG copper"}],
    "documents": [{"id": "PV-2", "kind": "plan sheet"}], "labels": [{"id": "L-4"}],
}  # fmt: skip


def said(of: str, field: str, printed: Any, by: str = "PV-2") -> dict[str, Any]:
    """The facts of the one thing that a claim says."""
    (one,) = facts({**CLAIMED, "claims": [{"by": by, "of": of, "says": {field: printed}}]}, "claims/says")
    return one


@pytest.mark.parametrize(("of", "field", "printed", "agrees"), [
    ("project", "dc_power", "9.7 kW", True), ("project", "dc_power", "9.72 kW", True),
    ("project", "dc_power", "9.8 kW", False), ("project", "dc_power", "9.71 kW", False),
    ("project", "dc_power", "9,720 W", True), ("project", "dc_power", 9720, True), ("project", "dc_power", 9721, False),
    ("project", "module_count", 24, True), ("project", "module_count", "25", False),
    ("project", "inverter_count", 2, True), ("project", "inverter_count", 1, False),
    ("project", "project/address", "14 ALDER ST. N QUILL", True),
    ("project", "project/address", "41 Alder St, N Quill", False),
    ("project", "service/voltage", "240 V", True), ("project", "service/voltage", 208, False),
    ("M", "listing", "UL61730-1", True), ("M", "listing", ["UL 61730-2 ed. 2"], True),
    ("M", "listing", "UL 1703", False), ("C", "conductor", "8 AWG", True), ("C", "conductor", "10 AWG", False),
    ("C", "conductor", "8 AWG copper", True), ("C", "conductor", "8 AWG aluminum", False),
    ("C", "conductor", None, False),
    ("M", "make", "LARK, Invented", True), ("M", "make", "Wren (invented)", False), ("M", "quantity", 24, True),
    ("L", "length", "31 ft", True), ("L", "length", "9.4 m", True), ("L", "length", "9.5 m", False),
    ("C", "overcurrent/rating", None, True), ("C", "overcurrent/rating", "40 A", False),
])  # fmt: skip
def test_a_claim_agrees_at_the_precision_it_is_printed_in(of: str, field: str, printed: Any, agrees: bool) -> None:
    assert said(of, field, printed)["agrees"] is agrees


def test_who_says_it_is_known_by_the_document() -> None:
    assert said("M", "quantity", 24)["source"] == "plan sheet"
    assert said("M", "quantity", 24, "L-4")["source"] == "label"
    assert said("M", "quantity", 24, "nameplate")["source"] == "nameplate"
    assert said("M", "quantity", 25)["fact"] == "24" and said("M", "quantity", 25)["printed"] == "25"


def test_who_says_it_is_open_where_the_document_may_be_of_any_kind() -> None:
    claims = [{"by": by, "of": "project", "says": {"dc_power": "9 kW"}} for by in ("PV-2", "nameplate", "work order")]
    claims.append({"of": "project", "says": {"dc_power": "9 kW"}})
    for documents, known in (({}, None), ({"documents": {"all": [{"id": "PV-2"}]}}, None),
                             ({"documents": {"only": []}}, None), ({"documents": {"all": []}}, "PV-2")):  # fmt: skip
        found = ampcite.read({"labels": {"all": []}, **documents, "claims": claims}).parts["claims/says"] or ()
        assert [part.facts.get("source") for part in found] == [known, "nameplate", "work order", None], documents


def test_what_is_claimed_of_a_part_that_is_not_described_has_a_name_and_a_place() -> None:
    description = ampcite.read({**CLAIMED, "claims": [{"by": "PV-2", "of": "N", "says": {"max_voltage": "40 V"}}]})
    (part,) = description.parts["claims/says"] or ()
    assert part.label.endswith("on the max voltage of claim 1") and part.where("agrees") == "/claims/0/of"


def test_a_claim_about_what_nobody_states_is_open_and_asks_for_the_fact() -> None:
    description = ampcite.read({**CLAIMED, "claims": [{"by": "PV-2", "of": "M", "says": {"voc": "40 V"}}]})
    (part,) = description.parts["claims/says"] or ()
    assert "agrees" not in part.facts and part.where("agrees") == "/equipment/modules/LM/voc"
    assert "agrees" not in said("project", "ac_power", "5 kW")


@pytest.mark.parametrize(("of", "field", "printed", "words"), [
    ("M", "quantty", 1, 'mean "quantity"'), ("project", "dc_pwer", 1, 'mean "dc_power"'),
    ("M", "dc_power", 1, "no field of module"), ("M", "quantity", "9 ft", "is in ft"),
    ("M", "quantity", True, "is no number"), ("C", "conductor", "8 AGW", 'mean "8 AWG"'),
])  # fmt: skip
def test_a_claim_that_can_be_about_nothing_is_refused(of: str, field: str, printed: Any, words: str) -> None:
    with pytest.raises(ampcite.InputError) as caught:
        said(of, field, printed)
    (fault,) = caught.value.complaints
    assert words in fault.message and fault.place == f"/claims/0/says/{field}"


# --- names that stand for nothing --------------------------------------------------------------------------------

NAMES: dict[str, tuple[dict[str, Any], str, tuple[str, ...]]] = {
    "an unknown id": ({"modules": [{"id": "M1"}], "strings": [{"id": "S", "module": "M2"}]}, "/strings/0/module",
                      ("M2", "no part of this description", "M1")),
    "an id of another kind": ({"modules": [{"id": "M1"}], "inverters": [{"id": "INV"}],
                               "strings": [{"id": "S", "module": "INV"}]}, "/strings/0/module",
                              ("INV", "id of inverter INV", "M1")),
    "an unknown id in a list": ({"strings": [{"id": "S11"}], "circuits": [{"id": "C", "strings": ["S11", "S12"]}]},
                                "/circuits/0/strings/1", ("S12", 'mean "S11"')),
    "a source that is no paper": ({"documents": [{"id": "PV-1"}], "labels": [], "claims": [{"by": "PV-2"}]},
                                  "/claims/0/by", ("PV-2 (source)", "PV-2", "PV-1")),
    "a source that is a part": ({"documents": [], "labels": [], "modules": [{"id": "M"}], "claims": [{"by": "M"}]},
                                "/claims/0/by", ("id of module M",)),
}  # fmt: skip


@pytest.mark.parametrize("case", NAMES)
def test_a_name_that_stands_for_nothing_is_a_finding(case: str) -> None:
    document, place, words = NAMES[case]
    (finding,) = ampcite.check(rulebook(2020), ampcite.read(document)).of("named-part-not-described")
    assert (finding.about, finding.verdict) == (place, "warn")
    assert all(word in finding.note + finding.remedy for word in words), finding.note + finding.remedy


@pytest.mark.parametrize("by", ["nameplate", "data sheet", "PV-1", "L"])
def test_a_source_that_is_described_or_a_known_word_is_none(by: str) -> None:
    house = {"documents": [{"id": "PV-1"}], "labels": [{"id": "L"}], "claims": [{"by": by}]}
    assert not ampcite.check(rulebook(2020), ampcite.read(house)).of("named-part-not-described")


def test_a_source_is_not_looked_for_among_papers_that_are_not_all_described() -> None:
    for more in ({}, {"documents": []}, {"documents": {"only": [{"id": "PV-1"}]}, "labels": []}):
        house = ampcite.read({**more, "claims": [{"by": "PV-2"}]})
        assert not ampcite.check(rulebook(2020), house).of("named-part-not-described")


def test_a_name_that_stands_for_nothing_is_said_of_its_part_once() -> None:
    house = ampcite.read({"strings": [{"id": "S", "plane": "SOUTH"}]})
    (finding,) = ampcite.check(rulebook(2020), house).of("named-part-not-described")
    assert finding.note == "String S names SOUTH (roof plane); that is no part of this description."


def test_what_needs_a_part_named_wrongly_is_open() -> None:
    strings = [{"id": "S11", "modules_in_series": 3}]
    house = {"strings": strings, "circuits": [{"id": "C", "strings": ["S11", "S12"]}]}
    (circuit,) = ampcite.read(house).parts["circuits"] or ()
    assert circuit.links["strings"] is None
    (string,) = ampcite.read({"strings": [{"id": "S", "module": "M2"}]}).parts["strings"] or ()
    assert string.links["module"].facts.get("voc") is None


def test_a_condition_on_the_part_above_is_asked_there() -> None:
    attic = {"place": "attic", "wiring": "raceway"}
    circuit: dict[str, Any] = {"id": "A", "kind": "inverter output", "segments": [attic]}
    (segment,) = facts({"circuits": [circuit]}, "circuits/segments")
    assert segment["past_first_disconnect"] is False
    circuit["segments"] = [{**attic, "past_first_disconnect": True}]
    with pytest.raises(ampcite.InputError, match="a segment of an ac circuit has no"):
        facts({"circuits": [circuit]})
    (dc,) = facts({"circuits": [{**circuit, "kind": "pv source"}]}, "circuits/segments")
    assert dc["past_first_disconnect"] is True


def test_a_part_of_an_object_that_is_none_is_not_stated() -> None:
    circuit = {"id": "A", "kind": "inverter output", "overcurrent": None}
    assert facts({"circuits": [circuit]})[0]["overcurrent/dc_voltage"] is ABSENT


def test_a_fact_said_for_each_can_be_left_out_at_one_part() -> None:
    said = {"each": {"voltage": 10}, "all": [{"id": "A"}, {"id": "B"}]}
    one, other = facts(change({"circuits": said}, "/circuits/0/voltage", LEFT_OUT))
    assert "voltage" not in one and other["voltage"] == 10


def test_a_part_may_name_its_model_after_what_stands_in_it() -> None:
    models = {"inverters": {"X": {"inputs": {"max_current": 12}}}}
    house = {"equipment": models, "inverters": [{"id": "I", "inputs": [{"id": "I/1"}], "model": "X"}]}
    assert facts(house, "inverters/inputs")[0]["max_current"] == 12


def test_what_is_only_ever_claimed_has_a_default_unless_it_is_marked_open() -> None:
    def said(**more: Any) -> Any:
        segments = {"each": {"place": "attic", "wiring": "cable"}, "all": [{}]}
        house = {"circuits": [{"id": "A", "segments": {**segments, **more}}]}
        return facts(house, "circuits/segments")[0].get("hazard_control_covers")

    assert said() is False
    assert said(all=[{"hazard_control_covers": True}]) is True
    assert said(all=[{"hazard_control_covers": "?", "length": 1}]) is None
    assert said(each={"place": "attic", "hazard_control_covers": "?"}) is None


def test_a_name_of_another_part_may_have_none_as_its_default() -> None:
    house = {"grounding": {"electrode_conductors": [{"size": "6 AWG"}, {"size": "6 AWG", "feeder": "F"}]},
             "circuits": [{"id": "F", "kind": "feeder"}]}  # fmt: skip
    one, other = ampcite.read(written(house)).parts["grounding/electrode_conductors"] or ()
    assert one.links["feeder"] is ABSENT_PART and one.facts["feeder"] is ABSENT
    assert other.links["feeder"].facts["id"] == "F"


def test_a_default_holds_where_nothing_is_said_and_not_against_what_is_said() -> None:
    (plain,) = facts({"disconnects": [{"id": "D"}]}, "disconnects")
    assert plain["for_utility"] is False and plain["visible_break"] is False, "what can't belong to it is not there"
    (said,) = facts({"disconnects": [{"id": "D", "visible_break": True}]}, "disconnects")
    assert "for_utility" not in said, "nobody says that it serves the utility; what is said of it would make it do so"


def test_an_object_that_nobody_claims_is_none_by_default() -> None:
    (panel,) = facts({"panels": [{"id": "P"}]}, "panels")
    assert panel["power_control"] is ABSENT and panel["power_control/supply_limit"] is ABSENT


def test_what_a_place_says_is_taken_for_granted_until_it_is_said_otherwise() -> None:
    segments = [{"place": "outdoors"}, {"place": "attic"}, {"place": "indoors", "wet": True, "raceway": "R"}, {}]
    circuits = [{"id": "A", "segments": segments}]
    wall, attic, bath, nowhere = facts({"circuits": circuits, "raceways": [{"id": "R"}]}, "circuits/segments")
    assert (wall["wet"], attic["wet"], bath["wet"]) == (True, False, True)
    assert "wet" not in nowhere and "wiring" not in wall and bath["wiring"] == "raceway"


def test_what_is_still_to_be_stated_is_not_taken_for_granted() -> None:
    segments = [{"place": "outdoors", "wet": "?"}, {"place": "outdoors"}]
    open_, wall = facts({"circuits": [{"id": "A", "segments": segments}]}, "circuits/segments")
    assert "wet" not in open_ and wall["wet"] is True
