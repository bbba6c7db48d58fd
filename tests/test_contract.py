"""What the library promises its callers. Source: the project's own contract, docs/library.md and docs/stability.md."""

from __future__ import annotations

import copy
import json
import multiprocessing
import pickle
import random
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import attrs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import ampcite
from ampcite.base.frozen import FrozenDict
from ampcite.base.resources import houses
from ampcite.engine.findings import Project
from ampcite.report import batch

HOUSE = houses()[0]


@pytest.fixture(scope="module")
def rulebook() -> ampcite.Rulebook:
    return ampcite.load({"electrical": 2020, "building": 2021})


@pytest.fixture(scope="module")
def report(rulebook: ampcite.Rulebook) -> ampcite.Report:
    return ampcite.check(rulebook, ampcite.read(HOUSE))


# --- verdicts order by severity ----------------------------------------------------------------------------------


def test_the_worst_verdict_is_the_greatest() -> None:
    fail, warn, good = ampcite.Verdict.FAIL, ampcite.Verdict.WARN, ampcite.Verdict.PASS
    assert max(good, fail, warn) is fail and min(warn, good, fail) is good
    mixed = [warn, good, fail, warn, good]
    random.Random(1).shuffle(mixed)
    assert sorted(mixed) == [good, good, warn, warn, fail]
    assert good < "warn" < fail and fail >= "fail" and not "pass" > warn  # noqa: SIM300
    assert fail == "fail" and {fail: 1}["fail"] == 1


def test_a_verdict_compares_with_nothing_else() -> None:
    for other in ("undecided", "", 3, None):
        with pytest.raises(TypeError):
            ampcite.Verdict.PASS < other  # type: ignore[operator]  # noqa: B015, SIM300


# --- nothing checked is never a pass -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("2020",), 'not "2020"'),
        (({},), "no edition of any code is named"),
        (({"electrcal": 2020},), 'did you mean "electrical"?'),
        (({"electrical": "2020"},), "the edition of the electrical code as a year"),
        (({5: 2020},), "a code is named by a text, not 5"),
        ((True,), "not something of type bool"),
        ((2020.0,), "not 2020.0"),
        ((10**5000,), "too many digits"),
        ((None,), "not None"),
        ((2020, 5), "not 5"),
        ((2020, ["electrical", 5]), "a pack is named by text or path, not 5"),
        ((2020, b"roof"), "of type bytes"),
    ],
)
def test_load_refuses_what_it_does_not_take(arguments: tuple[Any, ...], words: str) -> None:
    with pytest.raises(ampcite.ArgumentError) as refused:
        ampcite.load(*arguments)
    assert words in str(refused.value)
    assert isinstance(refused.value, ampcite.AmpciteError) and isinstance(refused.value, TypeError)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((2020, "roof"), "the edition of the residential and fire codes is not named"),
        ((2020, []), "no pack is loaded"),
        ((2020, "electrcal"), 'did you mean "electrical"?'),
        ((1999,), "editions known: 2014"),
    ],
)
def test_a_rulebook_without_rules_is_refused(arguments: tuple[Any, ...], words: str) -> None:
    with pytest.raises(ampcite.PackError) as refused:
        ampcite.load(*arguments)
    assert words in str(refused.value)


def test_numbers_of_other_makes_are_years_too() -> None:
    assert ampcite.load(np.int64(2020), "electrical").editions == {"electrical": 2020}
    assert ampcite.load({"electrical": np.uint16(2020)}, "electrical").editions == {"electrical": 2020}


def test_a_report_of_nothing_decided_is_no_pass(rulebook: ampcite.Rulebook, report: ampcite.Report) -> None:
    nothing = ampcite.check(rulebook, ampcite.read({}))
    assert not nothing.checked and nothing.verdict is ampcite.Verdict.WARN
    assert nothing.undecided == nothing.counts["warn"] == len(nothing.findings)
    none = dict.fromkeys(report.counts, 0)
    empty = attrs.evolve(report, counts=none, undecided=0, not_passed=(), passes=(), passed={})
    assert not empty.checked and empty.verdict is ampcite.Verdict.WARN
    assert batch.outcome(nothing) == batch.outcome(empty) == "nothing checked"


@pytest.mark.parametrize("change", [{}, {"claims": None, "alarms": None}, {"claims": []}, {"readings": None}])
@pytest.mark.parametrize("rules", [None, ["string voltage", "busbar-overloaded-by-sources"]])
def test_what_is_counted_is_what_is_there(rulebook: ampcite.Rulebook, change: dict[str, Any],
                                          rules: list[str] | None) -> None:  # fmt: skip
    """Passes and what does not apply are counted, and named by rule and part, before anybody makes them."""
    house = {**json.loads(HOUSE.read_text("utf-8")), **change}
    house = {key: value for key, value in house.items() if value is not None}
    report = ampcite.check(rulebook, ampcite.read(house), rules=rules)
    assert len(report.not_applicable) == len(list(report.not_applicable)) == len(tuple(report.not_applicable)[:])
    found = list(report.findings)
    assert len(report.findings) == len(found) and sorted(found, key=lambda f: -f.verdict.severity) == found
    passed = [(rule, part) for rule, parts in report.passed.items() for part in parts]
    assert (
        passed == [(f.rule, f.part) for f in found if f.verdict == "pass"] == [(f.rule, f.part) for f in report.passes]
    )
    assert report.counts == {v: sum(f.verdict == v for f in found) for v in ("pass", "warn", "fail")}
    assert report.verdict is max(f.verdict for f in found) and report.checked is any(f.decided for f in found)
    assert report.undecided == sum(not f.decided for f in found)


# --- results can't be changed, but copied and sent ---------------------------------------------------------------


def test_a_report_is_frozen(rulebook: ampcite.Rulebook, report: ampcite.Report) -> None:
    with pytest.raises(attrs.exceptions.FrozenInstanceError):
        report.source = "another"  # type: ignore[misc]
    with pytest.raises(TypeError):
        report.editions["electrical"] = 2023  # type: ignore[index]
    finding = report.findings[0]
    with pytest.raises(AttributeError):
        finding.verdict = ampcite.Verdict.PASS
    with pytest.raises(TypeError):
        next(f for f in report.findings if f.figures).figures["string voltage"] = (1, "V")  # type: ignore[index]
    for mapping in (rulebook.editions, rulebook.codes):
        with pytest.raises(TypeError):
            mapping["electrical"] = 2023  # type: ignore[index]
    assert report.editions == rulebook.editions == {"electrical": 2020, "building": 2021}


def test_a_report_can_be_pickled_and_copied(report: ampcite.Report) -> None:
    assert pickle.loads(pickle.dumps(report)) == report
    assert copy.deepcopy(report) == report


def answer(rulebook: ampcite.Rulebook) -> str:
    return ampcite.to_json(ampcite.check(rulebook, ampcite.read(HOUSE)), passes=True, not_applicable=True)


def test_a_rulebook_can_be_sent_to_another_process(rulebook: ampcite.Rulebook) -> None:
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as pool:
        assert pool.submit(answer, rulebook).result() == answer(rulebook)


def test_a_frozen_mapping_is_a_dict_that_stays() -> None:
    one = FrozenDict({"a": 1})
    for change in ("one['a'] = 2", "del one['a']", "one.clear()", "one.pop('a')", "one.popitem()", "one.update(b=2)",
                   "one.setdefault('b', 2)", "one |= {'b': 2}"):  # fmt: skip
        with pytest.raises(TypeError, match="can't be changed"):
            exec(change, {"one": one})
    assert one == {"a": 1} == copy.deepcopy(one) == copy.copy(one) == pickle.loads(pickle.dumps(one))
    assert json.dumps(one) == '{"a": 1}' and (one | {"b": 2}) == {"a": 1, "b": 2}


def test_errors_can_be_pickled() -> None:
    many = {"strings": [{"id": f"S{n}", "modul": 1} for n in range(200)]}
    for call in (
        lambda: ampcite.load({}),
        lambda: ampcite.read(many),
        lambda: ampcite.load(1999),
        lambda: ampcite.read({"modles": []}),
    ):
        with pytest.raises(ampcite.AmpciteError) as refused:
            call()
        back = pickle.loads(pickle.dumps(refused.value))
        assert type(back) is type(refused.value) and str(back) == str(refused.value)
        assert back.complaints == refused.value.complaints


# --- a report says which submission it is of ---------------------------------------------------------------------


def test_a_report_names_its_submission(rulebook: ampcite.Rulebook) -> None:
    project = {"name": "Test house", "address": "1 Invented Lane", "revision": 2}
    report = ampcite.check(rulebook, ampcite.read({"project": project}))
    assert report.project == Project("Test house", "1 Invented Lane", 2)
    assert ampcite.check(rulebook, ampcite.read({})).project == Project()


# --- whatever a caller gives, the package's own error answers ----------------------------------------------------

ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12) | st.binary(max_size=6)
    | st.sampled_from(["electrical", "roof", "building", 2020, 2021, np.int8(5), np.float64(2020), Path("roof"),
                       object(), "\ud800", "a\0b", lambda: None, ampcite, ampcite.Verdict.PASS]),
    lambda inner: st.lists(inner, max_size=3) | st.tuples(inner, inner)
    | st.dictionaries(st.text(max_size=8) | st.sampled_from(["electrical", "building"]), inner, max_size=3),
    max_leaves=6,
)  # fmt: skip


def refused_or(call: Any, *arguments: Any) -> Any:
    try:
        return call(*arguments)
    except ampcite.AmpciteError as fault:
        assert str(fault) and "Traceback" not in str(fault)
        return None


@given(law=ANYTHING, packs=ANYTHING)
def test_wrong_arguments_of_load(law: Any, packs: Any) -> None:
    made = refused_or(ampcite.load, law, packs)
    assert made is None or made.bound.rules


@given(value=ANYTHING)
def test_wrong_arguments_of_the_other_calls(value: Any, rulebook: ampcite.Rulebook) -> None:
    refused_or(ampcite.read, value)
    refused_or(ampcite.law_for, value)
    assert refused_or(ampcite.check, value, value) is None
    assert refused_or(ampcite.check, rulebook, value) is None
    assert refused_or(ampcite.to_json, value) is None
    assert refused_or(ampcite.to_text, value) is None
