"""Examples that others have printed are answered by the rules as printed, or rightly where the source errs.

Those whose printed figures are made of several findings are reckoned in the other ``test_published_...`` files.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from itertools import islice

import attrs
import pytest
import test_published_conductors as conductors
import test_published_examples as calculations
import test_published_interconnection as connection
from test_rule_examples import book

from ampcite.law.records import Pack, Rule
from ampcite.reference.published import FOLDER, JUDGED, Printed, Published, answer_faults, by_rule, published, trials
from shared import FOLDERS, PACKS, TESTS, sample

RULES: dict[str, tuple[Pack, Rule]] = {
    name: (pack, rule) for pack in PACKS.values() if not pack.authority for name, rule in pack.rules.items()
}
EXAMPLES = published()
SURVEYS = {"ex": 90, "n": 120}
"""How many examples two surveys of published documents gathered, by how their ids begin."""


def faults(printed: Printed, most: int | None = None) -> list[str]:
    pack, rule = RULES[printed.rule]
    return [
        f"{printed.rule}, {trial.edition}, {trial.says or trial.expected}: {said}"
        for trial in islice(trials(printed, pack, rule), most)
        for said in answer_faults(printed, book(FOLDERS[pack.name], tuple(trial.editions.items())), trial)
    ]


@pytest.mark.parametrize("example", sample([e for e in EXAMPLES if e.answers], 6), ids=lambda e: e.id)
def test_the_rules_answer_as_printed(example: Published) -> None:
    found = [said for printed in example.answers for said in faults(printed)]
    assert found == [], f"{example.says} ({example.named})"


@pytest.mark.parametrize("example", [e for e in EXAMPLES if any(a.figures or a.differs for a in e.answers)],
                         ids=lambda e: e.id)  # fmt: skip
def test_another_printed_figure_would_be_noticed(example: Published) -> None:
    """Just outside its rounding any printed figure makes its comparison fail, and so does ours for a wrong one."""
    for printed in example.answers:
        for name, (value, rounding) in printed.figures.items():
            other = "18 AWG" if isinstance(value, str) else value + 2.5 * rounding + 1e-6 * value
            assert faults(attrs.evolve(printed, figures={**printed.figures, name: (other, rounding)}), 1), name
            assert faults(attrs.evolve(printed, figures={}, differs={name: (value, rounding)}), 1), name


def test_two_hundred_rules_are_touched_by_a_published_example() -> None:
    touched = by_rule(EXAMPLES)
    assert set(touched) <= set(RULES)
    assert len(touched) >= 200
    packs = Counter(RULES[rule][0].name for rule in touched)
    assert set(packs) == {pack.name for pack, _ in RULES.values()}, "every pack has some"


def test_every_example_of_the_surveys_is_answered_or_its_absence_has_a_reason() -> None:
    ids = [example.id for example in EXAMPLES]
    assert len(ids) == len(set(ids))
    with (TESTS / "published" / "absent.csv").open(newline="", encoding="utf-8") as file:
        absent = {row["id"]: row["reason"] for row in csv.DictReader(file)}
    assert not absent.keys() & set(ids)
    assert all(len(reason) > 40 for reason in absent.values())
    for begins, count in SURVEYS.items():
        assert len([one for one in [*ids, *absent] if re.fullmatch(rf"{begins}\d+-\d+", one)]) == count
    assert len(absent) <= 16


def test_every_example_has_answers_or_is_reckoned_by_a_test() -> None:
    reckoned = {*calculations.REPRODUCED, *connection.REPRODUCED, *conductors.ANSWERED}
    assert {example.id for example in EXAMPLES if not example.answers} == reckoned
    assert all(bool(example.asked) != bool(example.answers) for example in EXAMPLES)
    assert {*calculations.REPRODUCED, *connection.REPRODUCED} == set(calculations.ENTRIES)


def test_every_source_is_named_and_what_is_wrong_in_it_told() -> None:
    for example in EXAMPLES:
        assert example.source["tier"] in ("A", "B", "C"), example.id
        assert example.source["title"] and example.source["body"], example.id
        assert example.judged in JUDGED, example.id
        if example.answers and example.judged in ("wrong", "partly wrong"):
            assert len(example.note) > 20, example.id


def test_there_are_negative_ones_too() -> None:
    """Many examples show a fault, many show what is in order, and several are mistakes of the source."""
    verdicts = Counter(printed.example.verdict for example in EXAMPLES for printed in example.answers)
    assert verdicts["fail"] + verdicts["warn"] > 100
    assert verdicts["pass"] > 50
    assert verdicts[""] >= 7
    assert sum(example.judged in ("wrong", "partly wrong", "outdated") for example in EXAMPLES) >= 20


def test_the_files_stay_small() -> None:
    for file in FOLDER.glob("*.toml"):
        lines = file.read_text("utf-8").splitlines()
        assert len(lines) <= 400 and max(map(len, lines)) <= 120, file.name
