"""Verdicts by severity, and numbers that are one of several. Source: the own definition (docs/concepts.md)."""

from __future__ import annotations

import operator
from itertools import product

import pytest

from ampcite.language.logic import OneOf, Unknown, Verdict, close, either_value, values_of, worst

ORDER = ["pass", "warn", "fail"]


@pytest.mark.parametrize("compare", [operator.lt, operator.le, operator.gt, operator.ge], ids=lambda one: one.__name__)
def test_verdicts_compare_by_severity_with_verdicts_and_words(compare: object) -> None:
    assert callable(compare)
    for one, other in product(ORDER, ORDER):
        expected = compare(ORDER.index(one), ORDER.index(other))
        assert compare(Verdict(one), Verdict(other)) is compare(Verdict(one), other) is expected, (one, other)


def test_what_a_verdict_does_not_compare_with() -> None:
    for other, shown in (("undecided", "'undecided'"), (3, "3"), (None, "None"), ("x" * 99, "'" + "x" * 59)):
        with pytest.raises(TypeError) as caught:
            Verdict.PASS < other  # type: ignore[operator]  # noqa: B015, SIM300
        assert str(caught.value) == f"a verdict compares with pass, warn or fail, not with {shown}"


def test_the_worst_of_several_and_of_none() -> None:
    assert worst([Verdict.WARN, Verdict.FAIL, Verdict.PASS]) is Verdict.FAIL
    assert worst([Verdict.PASS, Verdict.WARN]) is Verdict.WARN
    assert worst([]) is Verdict.PASS


def test_two_unknowns_lack_what_both_lack_and_say_why_the_first_is() -> None:
    one, other = Unknown(frozenset({"/a"}), "no row"), Unknown(frozenset({"/b"}), "no column")
    assert one | other == Unknown(frozenset({"/a", "/b"}), "no row")
    assert Unknown(frozenset({"/a"})) | other == Unknown(frozenset({"/a", "/b"}), "no column")


def test_a_choice_nobody_can_make_yet() -> None:
    which = Unknown(frozenset({"/wet"}), "nobody has said")
    assert either_value(which, 3.0, 3.0) == 3.0 and either_value(which, 3.0, 3.0 + 1e-10) == 3.0
    assert either_value(which, 3.0, 4.0) == OneOf(which.missing, which.why, (3.0, 4.0))
    assert either_value(which, OneOf(numbers=(1.0, 2.0)), 4.0) == OneOf(which.missing, which.why, (1.0, 2.0, 4.0))
    for yes, no in ((3.0, Unknown()), (Unknown(), 3.0), ("text", 3.0), (3.0, True)):
        assert either_value(which, yes, no) is which
    assert values_of(True) == values_of("3") == values_of(Unknown()) == ()
    assert values_of(3) == (3,)


def test_one_part_in_a_thousand_million() -> None:
    assert close(1e9, 1e9 + 1) and close(1e9 + 1, 1e9) and not close(1e9, 1e9 + 1.1)
    assert close(-5.0, -5.0) and not close(-5.0, 5.0) and close(0.0, 0.0) and not close(0.0, 1e-300)
