"""Reports as JSON: compact, after their schemas, the same bytes by either encoder. Source: the project's own format."""

from __future__ import annotations

import copy
import json
from functools import cache
from pathlib import Path
from typing import Any

import attrs
import jsonschema_rs
import pytest

import ampcite
from ampcite.base.resources import houses, load_schema
from ampcite.engine.findings import Clause, Finding
from ampcite.report import as_json, as_jsonl
from ampcite.report.entries import Detail, Refused
from shared import ROOT

HOUSES = {path.stem: path for path in houses()}
EDITIONS = {"electrical": 2020, "building": 2021}
SCHEMAS = {name: load_schema(f"{name}.schema.json") for name in ("report", "report-lines")}
REGISTRY = jsonschema_rs.Registry([(schema["$id"], schema) for schema in SCHEMAS.values()])
VALIDATORS = {name: jsonschema_rs.Draft202012Validator(schema, registry=REGISTRY) for name, schema in SCHEMAS.items()}


@cache
def report_of(name: str, broken: bool = False) -> ampcite.Report:
    house = json.loads(HOUSES[name].read_text("utf-8"))
    if broken:
        house["readings"]["tested_on"] = "2020-01-01"
        for label in house["labels"]["all"]:
            label["hand_written"] = True
        house["site"].pop("design_low", None)
        for circuit in house["circuits"]["all"]:
            circuit.pop("conductor", None)
    return ampcite.check(ampcite.load(EDITIONS), ampcite.read(house))


def check_schema(value: Any, name: str) -> None:
    assert [error.message for error in VALIDATORS[name].iter_errors(value)] == []


def test_the_comments_of_a_review_refer_to_its_findings() -> None:
    """One for each cause, with its cure; every finding that is not a pass stands in exactly one place."""
    house = json.loads(HOUSES["plain-strings"].read_text("utf-8"))
    house["readings"]["tested_on"] = "2020-01-01"
    house["site"].pop("design_low", None)
    for circuit in house["circuits"]["all"]:
        if circuit["id"] == "INV-OUT":
            circuit["conductor"] = "12 AWG copper THWN-2"
    review = ampcite.review(ampcite.load(EDITIONS), ampcite.read(house))
    written = ampcite.to_dict(review)
    check_schema(written, "report")
    assert written == json.loads(ampcite.to_json(review))
    plain = ampcite.to_dict(review.report)
    said = written["review"]
    assert {key: value for key, value in written.items() if key != "review"} == plain
    groups = [one["findings"] for one in (*said["comments"], *said["missing"])]
    assert sorted(i for group in (*groups, said["looks"], *said["later"].values()) for i in group) == list(
        range(len(written["findings"]))
    )
    assert [one["cure"] for one in said["comments"]] == [comment.cure for comment in review.comments] != []
    for one, comment in zip(said["comments"], review.comments, strict=True):
        assert [written["findings"][i]["note"] for i in one["findings"]] == [f.note for f in comment.findings]
    only = ampcite.to_dict(review, failures_only=True)
    assert all(only["findings"][i]["verdict"] == "fail" for one in only["review"]["comments"] for i in one["findings"])


# --- sizes -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", HOUSES)
def test_the_report_of_a_clean_house_is_smaller_than_the_house(name: str) -> None:
    text = ampcite.to_json(report_of(name))
    house = json.dumps(json.loads(HOUSES[name].read_text("utf-8")), separators=(",", ":"), ensure_ascii=False)
    assert len(text.encode()) < len(house.encode())


@pytest.mark.parametrize("name", HOUSES)
def test_nothing_that_rules_and_sources_say_is_repeated(name: str) -> None:
    """Rules, clauses, sources and parts stand in tables; a finding refers to them."""
    report = report_of(name, broken=True)
    written = ampcite.to_dict(report)
    assert len({f.rule for f in report.findings if f.verdict != "pass"}) == len(written["rules"]) > 10
    for table in ("clauses", "sources", "changes", "packs"):
        rows = [json.dumps(row, sort_keys=True) for row in written[table]]
        assert len(rows) == len(set(rows)), table
    text = ampcite.to_json(report)
    for source in written["sources"]:
        if len(source["read"]) > 40:
            same = [s for s in written["sources"] if s["read"] == source["read"]]
            assert text.count(json.dumps(source["read"], ensure_ascii=False)) == len(same)


# --- nothing is lost ---------------------------------------------------------------------------------------------


def read_back(written: dict[str, Any], one: dict[str, Any]) -> dict[str, Any]:
    """What a finding said before it was written."""
    rule, part = written["rules"][one["rule"]], written["parts"][one["part"]]
    clauses = [written["clauses"][n] for n in one["clauses"]]
    sources = [written["sources"][c["source"]] for c in clauses]
    return {
        "rule": one["rule"], **rule, **part, "verdict": one["verdict"], "note": one["note"],
        "citations": tuple(Clause(s["work"], s["edition"], c["clause"], s["read"], s["standing"])
                           for c, s in zip(clauses, sources, strict=True)),
        "figures": {name: (figure["value"], figure["unit"]) for name, figure in one["figures"].items()},
        "worked": tuple(one["worked"]),
        "margin": (one["margin"]["value"], one["margin"]["unit"]) if "margin" in one else None,
        "remedy": one.get("remedy", ""), "missing": tuple(one.get("missing", ())), "decided": one.get("decided", True),
        "asks": one.get("asks", ""), "waived": one.get("waived", ""),
        "local": tuple(written["changes"][n] for n in one.get("changes", ())),
    }  # fmt: skip


@pytest.mark.parametrize("name", HOUSES)
@pytest.mark.parametrize("broken", [False, True])
def test_a_report_can_be_read_back_whole(name: str, broken: bool) -> None:
    report = report_of(name, broken)
    written = json.loads(ampcite.to_json(report, passes=True, not_applicable=True))
    check_schema(written, "report")
    assert len(written["findings"]) == len(report.findings) and "passed" not in written
    for one, finding in zip(written["findings"], report.findings, strict=True):
        for key, value in read_back(written, one).items():
            assert value == getattr(finding, key), (finding.rule, key)
    assert sum(len(group.get("parts", [0])) for group in written["not_applicable"]) == len(report.not_applicable)
    assert written["counts"] == {**report.counts, "undecided": report.undecided,
                                 "not_applicable": len(report.not_applicable)}  # fmt: skip


@pytest.mark.parametrize("name", HOUSES)
def test_each_form_gives_what_it_says(name: str) -> None:
    report = report_of(name, broken=True)
    usual, failures = ampcite.to_dict(report), ampcite.to_dict(report, failures_only=True)
    for form in (usual, failures):
        check_schema(form, "report")
        assert form["counts"]["fail"] == report.counts["fail"] > 0 and "not_applicable" not in form
    assert [f["verdict"] for f in failures["findings"]] == ["fail"] * report.counts["fail"]
    assert "passed" not in failures
    assert {f["verdict"] for f in usual["findings"]} == {"warn", "fail"}
    passes = [(rule, part) for rule, parts in usual["passed"].items() for part in parts]
    assert len(passes) == len(set(passes)) == report.counts["pass"]
    assert usual == json.loads(ampcite.to_json(report))
    with pytest.raises(ampcite.ArgumentError, match="contradict"):
        ampcite.to_json(report, passes=True, failures_only=True)


def plain(value: Any) -> bool:
    if type(value) is dict:
        return all(type(key) is str and plain(item) for key, item in value.items())
    return all(map(plain, value)) if type(value) is list else value is None or type(value) in (str, int, float, bool)


@pytest.mark.parametrize("name", HOUSES)
def test_a_dict_holds_plain_values(name: str) -> None:
    assert plain(ampcite.to_dict(report_of(name, broken=True), passes=True, not_applicable=True))


def test_a_dict_is_fresh_for_each_call() -> None:
    report = report_of("plain-strings", broken=True)
    before = ampcite.to_json(report)
    one = ampcite.to_dict(report)
    one["findings"][0]["note"] = one["findings"][0]["figures"]["more"] = "changed"
    one["editions"]["electrical"] = 1999
    assert ampcite.to_json(report) == before


# --- parts by id -------------------------------------------------------------------------------------------------


def test_an_inserted_part_does_not_rename_the_others() -> None:
    house = json.loads(HOUSES["plain-strings"].read_text("utf-8"))
    longer = copy.deepcopy(house)
    longer["strings"]["all"].insert(0, {"id": "NEW"})
    rulebook = ampcite.load(EDITIONS)
    one, two = (ampcite.to_dict(ampcite.check(rulebook, ampcite.read(value)), passes=True) for value in (house, longer))
    first, second = (house["strings"]["all"][0]["id"], house["strings"]["all"][1]["id"])
    assert one["parts"][first]["about"] == "/strings/all/0"
    assert two["parts"][first]["about"] == "/strings/all/1"
    assert two["parts"][second] == {**one["parts"][second], "about": "/strings/all/2"}


@pytest.mark.parametrize("name", HOUSES)
def test_part_ids_are_unique(name: str) -> None:
    ids = report_of(name).part_ids
    assert len(set(ids.values())) == len(ids) > 50
    assert ids[""] == ""


def test_an_id_that_looks_like_a_place_takes_no_other_parts_name() -> None:
    house = {"circuits": [{"id": "A", "segments": [{}]}, {"id": "A/segments/0"}]}
    ids = ampcite.check(ampcite.load(EDITIONS), ampcite.read(house)).part_ids
    assert len(set(ids.values())) == len(ids)
    assert ids["/circuits/0"] == "A" and ids["/circuits/1"] == "A/segments/0"


# --- JSON Lines --------------------------------------------------------------------------------------------------


def test_lines_share_one_head() -> None:
    reports = [report_of(name, broken) for name in HOUSES for broken in (False, True)]
    text = ampcite.to_jsonl(iter(reports))
    assert text.endswith("}\n") and len(text.splitlines()) == 1 + len(reports)
    head, *lines = map(json.loads, text.splitlines())
    for value in (head, *lines):
        check_schema(value, "report-lines")
    for line, report in zip(lines, reports, strict=True):
        alone = ampcite.to_dict(report)
        assert [head["packs"][n] for n in line["packs"]] == alone["packs"]
        whole = {**head, **line}
        for one, other in zip(line["findings"], alone["findings"], strict=True):
            assert read_back(whole, one) == read_back(alone, other)
        assert {k: line[k] for k in ("counts", "passed", "verdict", "project", "law", "unread")} == {
            k: alone[k] for k in ("counts", "passed", "verdict", "project", "law", "unread")}  # fmt: skip
    assert len(text) < sum(len(ampcite.to_json(report)) for report in reports)


def test_rules_of_one_name_from_two_laws_are_told_apart() -> None:
    report = report_of("plain-strings", broken=True)
    first, *others = report.not_passed
    other = attrs.evolve(report, not_passed=(first.__replace__(title="Another county's"), *others))
    head, one, two = map(json.loads, ampcite.to_jsonl([report, other]).splitlines())
    assert "rules" not in one and head["rules"][first.rule]["title"] == first.title
    assert two["rules"] == {first.rule: {**head["rules"][first.rule], "title": "Another county's"}}
    check_schema(two, "report-lines")


def test_a_line_says_why_a_submission_is_refused() -> None:
    with pytest.raises(ampcite.InputError) as refused:
        ampcite.read({"modles": []}, "queue/7.json")
    text = "".join(as_jsonl.write([Refused("queue/7.json", refused.value)], Detail()))
    line = json.loads(text.splitlines()[1])
    check_schema(line, "report-lines")
    assert line["complaints"][0]["place"] == "/modles" and "modules" in line["complaints"][0]["message"]


def test_no_reports_give_a_head_alone() -> None:
    (head,) = map(json.loads, ampcite.to_jsonl([]).splitlines())
    check_schema(head, "report-lines")
    for wrong in (5, [5], ["text"], None):
        with pytest.raises(ampcite.ArgumentError):
            ampcite.to_jsonl(wrong)  # type: ignore[arg-type]


# --- bytes -------------------------------------------------------------------------------------------------------


def odd(report: ampcite.Report) -> ampcite.Report:
    """A report with figures and texts on which encoders differ."""
    figures = {"tiny": (1.1e-13, "A"), "small": (0.00001, "V"), "at the edge": (0.0001, ""), "large": (1e15, ""),
               "larger": (1.5e22, ""), "below": (999999999999999.9, ""), "nothing": (0.0, ""), "less": (-0.0, ""),
               "minus": (-2.5e-7, "V"), "whole": (3, ""), "text": ("é\u2028\x7f\x00\"\\/\U0001f600", "")}  # fmt: skip
    first, *others = report.not_passed or report.passes
    one: Finding = first.__replace__(figures=figures, margin=(-1.1e-13, "A"))
    return attrs.evolve(report, not_passed=(one, *others))


def test_both_encoders_write_the_same_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    assert as_json.orjson is not None
    reports = [odd(report_of(name, broken)) for name in HOUSES for broken in (False, True)]
    fast = [*map(ampcite.to_json, reports), ampcite.to_jsonl(reports)]
    monkeypatch.setattr(as_json, "orjson", None)
    assert [*map(ampcite.to_json, reports), ampcite.to_jsonl(reports)] == fast
    assert '"tiny":{"value":1.1e-13,' in fast[1] and '"larger":{"value":1.5e+22,' in fast[1]


def test_the_name_of_a_file_may_be_no_text() -> None:
    """A file name of a system that knows no UTF-8 reaches Python as halves of surrogate pairs."""
    report = attrs.evolve(report_of("plain-strings"), source="house-\udce9.json")
    text = ampcite.to_json(report)
    assert json.loads(text.encode())["source"] == "house-\udce9.json"


def test_the_same_report_gives_the_same_bytes() -> None:
    house = HOUSES["plain-strings"].read_bytes()
    one, two = (ampcite.check(ampcite.load(EDITIONS), ampcite.read(house)) for _ in range(2))
    assert ampcite.to_json(one, passes=True) == ampcite.to_json(two, passes=True)


# --- versions ----------------------------------------------------------------------------------------------------


def test_what_is_written_names_the_schema_it_keeps_to() -> None:
    assert ampcite.to_dict(report_of("plain-strings"))["schema"] == SCHEMAS["report"]["$id"]
    assert json.loads(ampcite.to_jsonl([]))["schema"] == SCHEMAS["report-lines"]["$id"]


@pytest.mark.parametrize("path", sorted(ROOT.glob("schemas/*.json")), ids=lambda p: p.name)
def test_a_schema_carries_its_version(path: Path) -> None:
    import re

    schema = json.loads(path.read_text("utf-8"))
    assert re.fullmatch(rf"https://ampcite\.invalid/schemas/[0-9]+\.[0-9]+/{re.escape(path.name)}", schema["$id"])
