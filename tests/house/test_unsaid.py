"""What nobody says: where its absence would break a rule, it is asked for; where all is listed, it is not there."""

from __future__ import annotations

from typing import Any

import pytest

import ampcite
from ampcite.house.change import LEFT_OUT, change
from shared import rulebook, shipped_house


def answers(document: dict[str, Any], rule: str) -> set[tuple[str, bool]]:
    """The verdicts of a rule, each with whether it is decided."""
    report = ampcite.check(rulebook(2020), ampcite.read(document), rules=[rule])
    return {(f.verdict.value, f.decided) for f in report.of(rule)}


def test_silence_about_a_load_calculation_is_asked() -> None:
    house = change(shipped_house("converter-strings"), "/panels/0/main_before", 225)
    rule = "reduced-main-under-load"
    assert answers({**house, "all_listed": False}, rule) == {("warn", False)}
    assert answers(house, rule) == {("fail", True)}


@pytest.mark.parametrize("key", ["storage", "other_equipment"])
def test_a_list_is_empty_by_that_word_only_where_its_meaning_says_so(key: str) -> None:
    """Storage that is not listed is not there; of equipment with no home of its own nothing is known."""
    house = shipped_house("plain-strings")
    parts = ampcite.read(change(house, f"/{key}", LEFT_OUT)).parts[key]
    assert parts == (() if key == "storage" else None)
    assert ampcite.read({**change(house, f"/{key}", LEFT_OUT), "all_listed": False}).parts[key] is None


def test_a_list_that_may_go_on_stays_open_whatever_is_said_of_all() -> None:
    whole = ampcite.read({"all_listed": True, "storage": {"only": []}, "ground_arrays": "?"})
    assert whole.parts["storage"] is None and whole.parts["ground_arrays"] is None


# --- what nobody states passes no unlawful house, and fails no lawful one --------------------------------------------

OPEN = ("warn", False)


def in_parallel(all_listed: bool) -> dict[str, Any]:
    """Three strings on one input; two of them feed back more than a module of the third may take."""
    house = shipped_house("plain-strings")
    rows = house["strings"]["all"]
    strings = {**house["strings"], "all": [*rows, *({**rows[0], "id": f"MORE-{i}"} for i in (1, 2))]}
    return {**change(house, "/modules/0/max_series_fuse", 20), "all_listed": all_listed, "strings": strings}


def test_fuses_of_strings_in_parallel_are_asked_for() -> None:
    rule = "string-fuse-missing"
    assert answers(in_parallel(all_listed=False), rule) == {OPEN}
    assert answers(in_parallel(all_listed=True), rule) == {("fail", True)}
    fused = change(in_parallel(all_listed=False), "/inverters/0/inputs/0/string_fuse", 20)
    assert answers(fused, rule) == {("pass", True)}


def test_a_lone_string_has_no_fuse_unless_somebody_says_so() -> None:
    house = {**shipped_house("plain-strings"), "all_listed": False}
    rule = "string-fuse-over-module-rating"
    assert answers(house, rule) == set()
    assert answers(change(house, "/inverters/0/inputs/0/string_fuse", 40), rule) == {("fail", True)}
    assert answers(in_parallel(all_listed=False), rule) == {OPEN}
    assert answers({**house, "strings": {"only": house["strings"]["all"]}}, rule) == {OPEN}


def test_a_terminal_is_for_copper_where_it_holds_copper() -> None:
    """Aluminum needs a terminal that is said to be for it; copper one that is not said to be for aluminum alone."""
    house = shipped_house("microinverters")  # says nothing of the metal of its first terminal
    rule = "terminal-not-for-conductor-metal"
    assert answers(house, rule) == {("pass", True)}
    aluminum = change(house, "/circuits/0/conductor/material", "aluminum")
    assert OPEN in answers(aluminum, rule) and ("fail", True) not in answers(aluminum, rule)
    assert ("fail", True) in answers(change(house, "/circuits/0/terminals/0/accepts", "aluminum only"), rule)


@pytest.mark.parametrize("rule", ["pv-disconnect-label-missing", "live-on-both-sides-label-missing"])
def test_a_disconnect_is_marked_by_its_labels(rule: str) -> None:
    house = change(shipped_house("plain-strings"), "/labels", LEFT_OUT)
    assert answers({**house, "all_listed": False}, rule) == {OPEN}
    assert answers({**house, "labels": []}, rule) == {("fail", True)}


def test_whether_a_label_is_reflective_is_asked_where_it_has_to_be() -> None:
    house = shipped_house("plain-strings")
    at = next(i for i, one in enumerate(house["labels"]["all"]) if one["kind"] == "rapid shutdown switch")
    rule = "shutdown-switch-label-wrong-colours"
    assert answers(change(house, f"/labels/{at}/reflective", LEFT_OUT), rule) == {OPEN}
    assert answers(change(house, f"/labels/{at}/reflective", False), rule) == {("fail", True)}


def test_whether_a_breaker_is_fastened_is_asked_where_its_source_is_not_interactive() -> None:
    def breaker(operation: str, **said: Any) -> dict[str, Any]:
        rows = [{"serves": "source", "mounting": "plug-in", "circuit": "C", **said}]
        return {
            "equipment": {"inverters": {"X": {"operation": operation}}},
            "inverters": [{"id": "I", "model": "X"}],
            "circuits": [{"id": "C", "kind": "inverter output", "inverters": ["I"]}],
            "panels": [{"id": "P", "breakers": {"all": rows}}],
        }

    rule = "source-breaker-not-fastened"
    assert answers(breaker("stand-alone"), rule) == {OPEN}
    assert answers(breaker("stand-alone", fastened=False), rule) == {("fail", True)}
    assert answers(breaker("interactive"), rule) == {("pass", True)}


def test_a_letter_that_is_asked_for_is_asked_about() -> None:
    house = change(shipped_house("plain-strings"), "/roof/engineering/seal_required_by", "Ordinance 7 (invented)")
    rule = "engineer-letter-missing"
    assert answers({**house, "all_listed": False}, rule) == {OPEN}
    assert answers(house, rule) == {("fail", True)}
    assert answers(shipped_house("plain-strings"), "engineer-letter-does-not-fit") == set()


def test_whether_exposed_conductors_leave_the_array_is_asked() -> None:
    house = shipped_house("plain-strings")
    rule = "exposed-conductors-outside-array"
    place = "/circuits/0/segments/0/within_array"
    assert answers(house, rule) == {("pass", True)}
    assert answers(change(house, place, LEFT_OUT), rule) == {OPEN, ("pass", True)}
    assert ("fail", True) in answers(change(house, place, False), rule)


def test_what_a_described_model_lacks_is_asked_of_the_model() -> None:
    house = shipped_house("plain-strings")
    house = change(house, "/equipment/inverters/OS-10300-T/inputs", LEFT_OUT)
    report = ampcite.check(rulebook(2020), ampcite.read(house), rules=["input-operating-current-over-limit"])
    assert {place for f in report.findings for place in f.missing} == {
        "/equipment/inverters/OS-10300-T/inputs/max_current"
    }


# --- names ------------------------------------------------------------------------------------------------------------


def test_a_model_that_nobody_describes_is_named_where_others_are_described() -> None:
    house = change(shipped_house("converter-strings"), "/modules/0/model", "LF-405 blak")
    report = ampcite.check(rulebook(2020), ampcite.read(house), rules=["named-part-not-described"])
    (found,) = report.findings
    assert "LF-405 blak" in found.note and 'did you mean "LF-405 black"?' in found.remedy
    assert not ampcite.read({"modules": [{"id": "M", "model": "LF-405 blak"}]}).parts["unresolved_names"]


def test_a_paper_needs_no_name_and_is_called_by_what_it_is() -> None:
    papers = [{"kind": "data sheet"}, {"id": "PV-2", "kind": "plan sheet"}, {}]
    said = ampcite.read({"documents": papers}).parts["documents"]
    assert [one.label for one in said or ()] == ["document 1 (data sheet)", "document PV-2", "document 3"]


def test_a_house_without_modules_is_not_asked_of_its_array() -> None:
    """Where modules are, or may be, it is asked; what is said all the same holds."""
    rule = "rapid-shutdown-missing"
    unsaid = change(shipped_house("plain-strings"), "/rapid_shutdown", LEFT_OUT)
    storage_alone = {key: value for key, value in unsaid.items() if key in ("storage", "service", "panels")}
    assert answers(unsaid, rule) == {OPEN}
    assert answers({**storage_alone, "modules": []}, rule) == set()
    assert answers({**storage_alone, "modules": [], "rapid_shutdown": {}}, rule) == set()
    assert answers({**storage_alone, "modules": {"only": []}}, rule) == {OPEN}
    assert answers(storage_alone, rule) == {OPEN}
    said = {"array_place": "on a building", "provided": False}
    assert answers({**storage_alone, "modules": [], "rapid_shutdown": said}, rule) == {("fail", True)}
