"""A check of some rules, and a check after a change of facts, answer as a whole check does, word for word."""

from __future__ import annotations

import copy
import pickle
from typing import Any

import pytest
import test_properties
from hypothesis import assume, given
from hypothesis import strategies as st

import ampcite
import shared
from ampcite.engine.again import differences
from ampcite.engine.check import Verdicts, differing, judge, judge_again
from ampcite.engine.findings import FINDING_FIELDS
from ampcite.engine.state import EvaluationState
from ampcite.language.logic import ABSENT

Document = dict[str, Any]


def everything(findings: Any) -> list[list[Any]]:
    return [[getattr(f, name) for name in FINDING_FIELDS] for f in findings]


def all_of(verdicts: Verdicts) -> list[list[Any]]:
    return everything((*verdicts.not_passed(), *verdicts.passes()))


def same(one: ampcite.Report, other: ampcite.Report) -> None:
    assert everything(one.findings) == everything(other.findings)
    assert list(one.not_applicable) == list(other.not_applicable)
    assert one == other


# --- after a change ------------------------------------------------------------------------------------------------


@st.composite
def two_houses(draw: st.DrawFn) -> tuple[Document, Document]:
    """A house, and the same with some facts changed or left out."""
    before: Document = draw(test_properties.houses_like_the_models(changes=6))
    after = copy.deepcopy(before)
    fields = test_properties.fields(after)
    places = [steps for steps, schema in fields if "properties" not in schema and steps[-1] != "id"]
    for _ in range(draw(st.integers(1, 4))):
        steps = draw(st.sampled_from(places))
        try:
            holder, key = test_properties.at(after, steps[:-1]), steps[-1]
            old = holder[key]
        except (KeyError, TypeError):
            continue
        action = draw(st.sampled_from(["leave out", "none", "more", "less"]))
        if action == "leave out":
            del holder[key]
        elif isinstance(old, bool):
            holder[key] = not old
        elif isinstance(old, int | float) and action != "none":
            holder[key] = old * 2 if action == "more" else old / 2
        else:
            holder[key] = None
    return before, after


def read(document: Document) -> ampcite.Description | None:
    try:
        return ampcite.read(document)
    except ampcite.InputError:
        return None


@given(houses=two_houses(), edition=st.sampled_from(shared.EDITIONS))
@test_properties.some
def test_a_check_since_an_earlier_one_is_a_whole_check(houses: tuple[Document, Document], edition: int) -> None:
    before, after = map(read, houses)
    assume(before is not None and after is not None)
    assert before is not None and after is not None
    book = shared.rulebook(edition)
    earlier = ampcite.check(book, before)
    words = everything(earlier.findings)
    whole, again = ampcite.check(book, after), ampcite.check(book, after, since=earlier)
    same(whole, again)
    same(ampcite.check(book, before), ampcite.check(book, before, since=again))
    assert everything(ampcite.check(book, before).findings) == words, "the earlier report is left as it was"
    if again.verdicts is not None and differences(before, after) is not None and earlier.verdicts is not None:
        changed = differing(earlier.verdicts, again.verdicts)
        was, now = ({(f.rule, f.about): (f.verdict, f.decided) for f in r.findings} for r in (earlier, whole))
        assert {(f.rule, f.about) for pair in changed for f in pair if f} == {
            key for key in was.keys() | now.keys() if was.get(key) != now.get(key)
        }


@given(houses=two_houses(), names=st.data())
@test_properties.few
def test_a_check_of_some_rules_is_that_part_of_a_whole_check(houses: tuple[Document, Document], names: Any) -> None:
    before, after = map(read, houses)
    assume(before is not None and after is not None)
    assert before is not None and after is not None
    book = shared.rulebook(2020)
    ids = [rule.id for rule in book.bound.rules]
    families = sorted({rule.family for rule in book.bound.rules})
    chosen = names.draw(st.lists(st.sampled_from(ids) | st.sampled_from(families), max_size=5))
    asked = {rule.id for rule in book.bound.rules if rule.id in chosen or rule.family in chosen}
    some, whole = ampcite.check(book, before, rules=chosen), ampcite.check(book, before)
    assert everything(some.findings) == everything(f for f in whole.findings if f.rule in asked)
    assert list(some.not_applicable) == [
        a for a in whole.not_applicable if a.rule in asked and not a.why.startswith("is not in")
    ]
    same(ampcite.check(book, after, rules=chosen), ampcite.check(book, after, rules=chosen, since=some))


def test_facts_may_be_changed_in_place_on_a_description_of_ones_own() -> None:
    """How cures are tried: the answers to a change, without reading the description again."""
    book, document = shared.rulebook(2020), shared.shipped_house("plain-strings")
    own = ampcite.read(document)
    before = judge(EvaluationState(book.machine, own))
    panel = own.parts["panels"][0]  # type: ignore[index]
    for field, value in (("main_overcurrent", 400), ("main_overcurrent", None), ("bus_rating", ABSENT)):
        kept = dict(panel.facts)
        if value is None:
            del panel.facts[field]  # type: ignore[attr-defined]
        else:
            panel.facts[field] = value  # type: ignore[index]
        after = judge_again(before, own, [(panel, field)])
        whole = judge(EvaluationState(book.machine, own))
        assert all_of(after) == all_of(whole)
        assert everything(after.not_passed()) == everything(whole.not_passed())
        panel.facts.clear(), panel.facts.update(kept)  # type: ignore[attr-defined]
        assert [f for pair in differing(before, after) for f in pair], field
    assert all_of(before) == all_of(judge(EvaluationState(book.machine, ampcite.read(document))))


def test_what_differs_in_more_than_facts_is_checked_whole() -> None:
    document = shared.shipped_house("plain-strings")
    base = ampcite.read(document)
    lists = [key for key, value in document.items() if isinstance(value, list) and base.parts.get(key)]
    fewer = [d for key in lists if (d := read({**document, key: document[key][:-1]})) is not None]
    unlisted = [d for key in lists if (d := read({k: v for k, v in document.items() if k != key})) is not None]
    assert fewer and unlisted
    assert differences(base, ampcite.read(document)) == []
    assert all(differences(base, other) is None for other in (*fewer, *unlisted))
    book = shared.rulebook(2020)
    earlier = ampcite.check(book, base)
    for description in (fewer[0], unlisted[0]):
        same(ampcite.check(book, description), ampcite.check(book, description, since=earlier))
    sent = pickle.loads(pickle.dumps(earlier))
    assert sent.verdicts is None
    same(earlier, ampcite.check(book, base, since=sent))
    same(ampcite.check(shared.rulebook(2017), base), ampcite.check(shared.rulebook(2017), base, since=earlier))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"rules": "labels"}, "a list of ids or families"),
        ({"rules": 5}, "a list of ids or families"),
        ({"rules": [5]}, "a rule is named by a text"),
        ({"rules": ["lables"]}, 'did you mean "labels"'),
        ({"since": "a report"}, "since is a report from check"),
    ],
)
def test_what_check_does_not_take(arguments: dict[str, Any], words: str) -> None:
    with pytest.raises(ampcite.ArgumentError, match=words):
        ampcite.check(shared.rulebook(2020), ampcite.read({}), **arguments)


# --- findings ------------------------------------------------------------------------------------------------------


def test_a_finding_is_frozen_and_can_be_sent() -> None:
    report = ampcite.check(shared.rulebook(2020), ampcite.read({"panels": [{"id": "P", "bus_rating": 200}]}))
    one = report.findings[0]
    for name in ("verdict", "note", "anything"):
        with pytest.raises(AttributeError, match="can't be changed"):
            setattr(one, name, "pass")
        with pytest.raises(AttributeError, match="can't be changed"):
            delattr(one, name)
    back = pickle.loads(pickle.dumps(one))
    assert back == one and everything([back]) == everything([one]) and hash(back) == hash(one)
    other = one.__replace__(note="Another.")
    assert other.note == "Another." != one.note and other != one and other.rule == one.rule
    assert one != "a finding" and one.rule in repr(one)
    with pytest.raises(TypeError):
        one.figures["x"] = (1.0, "")  # type: ignore[index]


def test_a_finding_names_its_part_by_ids() -> None:
    document = {"circuits": [{"id": "C9", "segments": [{"place": "attic"}, {"place": "outdoors"}]}]}
    report = ampcite.check(shared.rulebook(2020), ampcite.read(document))
    names = {f.about: f.part for f in report.findings}
    assert names["/circuits/0"] == "C9" and names["/circuits/0/segments/1"] == "C9/segments/1" and names[""] == ""
