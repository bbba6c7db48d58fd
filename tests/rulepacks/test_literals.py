"""Numbers that stand in formulas: only those that no law could want otherwise, each with the reason why it is there.

Whatever a law could put otherwise is a figure with a name, which a layer of local law changes. What is left are 0 and 1
in comparisons: whether there is any of a kind, whether there are several, the sign of a reading.
"""

from __future__ import annotations

import ast
import csv
from collections.abc import Iterator

from ampcite.base.resources import shipped
from ampcite.law.load import load_pack
from shared import TESTS

REASONS = {
    "any": "whether there is one of a kind at all",
    "several": "what holds for several is not asked of one",
    "sign": "a sign, or nothing of a quantity",
    "figure": "a figure or cell that says yes or no",
    "idiom": "true or false, written as a comparison",
}


def comparisons() -> Iterator[tuple[str, str]]:
    """Each comparison with a number, by the rule or quantity whose formula it stands in."""
    packs = [load_pack(folder) for folder in sorted(shipped("rulepacks").iterdir())]
    for pack in (one for one in packs if one.authority is None):
        for rule in pack.rules.values():
            ways = [way.holds for way in rule.alternatives]
            yield from _in(rule.id, rule.applies, rule.holds, *rule.let.values(), *ways)
        for one in pack.derived.values():
            for case in one.cases:
                yield from _in(one.name, case.when, case.value, *case.let.values())


def _in(name: str, *formulas: str) -> Iterator[tuple[str, str]]:
    for formula in filter(None, formulas):
        for node in ast.walk(ast.parse(formula, mode="eval")):
            sides = [node.left, *node.comparators] if isinstance(node, ast.Compare) else []
            if any(isinstance(side, ast.Constant) and not isinstance(side.value, str) for side in sides):
                yield name, ast.unparse(node)


def listed() -> dict[tuple[str, str], str]:
    with (TESTS / "rulepacks" / "literals.csv").open(encoding="utf-8", newline="") as file:
        return {(row["of"], row["comparison"]): row["reason"] for row in csv.DictReader(file)}


def test_every_number_left_in_a_formula_has_a_reason() -> None:
    assert set(comparisons()) == set(listed())
    assert set(listed().values()) <= REASONS.keys()


def test_the_reasons_fit_the_comparisons() -> None:
    for (_, text), reason in listed().items():
        if reason == "any":
            assert text.endswith((" > 0", " == 0", " < 1"))
        if reason == "several":
            assert text.endswith((" > 1", " == 1", " <= 1"))
        if reason == "sign":
            assert text.endswith((" 0", " 0)"))
