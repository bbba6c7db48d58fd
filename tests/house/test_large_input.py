"""Large input costs what it is large: counts of work at two sizes, and complaints that end.

Own inventions, after an audit of the project that found suggestions and references whose cost was the square of their
number, and complaints without end.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

import ampcite
from ampcite.base.errors import MOST_COMPLAINTS, nearest
from ampcite.house.links import MOST_NAMES
from shared import rulebook, sample, steps

GROWN, MOST = 4, 7
"""The larger of two inputs is four times the smaller; its work may be up to seven times as much, not sixteen times."""


def refused(document: Any) -> ampcite.InputError:
    with pytest.raises(ampcite.InputError) as caught:
        ampcite.read(document)
    return caught.value


def growth(make: Callable[[int], Any], small: int) -> float:
    """How many times the work four times the input is."""
    work = []
    for many in (small, small * GROWN):
        document = make(many)
        try:
            work.append(steps(lambda document=document: ampcite.read(document)))  # type: ignore[misc]
        except ampcite.InputError:
            work.append(steps(lambda document=document: refused(document)))  # type: ignore[misc]
    return work[1] / work[0]


def missing(many: int) -> dict[str, Any]:
    return {"inverters": [{"id": f"INV{i}"} for i in range(many)],
            "strings": [{"id": f"S{i}", "input": f"GONE{i}"} for i in range(many)]}  # fmt: skip


def found(many: int) -> dict[str, Any]:
    return {"strings": [{"id": f"S{i}"} for i in range(many)],
            "circuits": [{"id": f"C{i}", "strings": [f"S{i}"]} for i in range(many)]}  # fmt: skip


def unknown(many: int) -> dict[str, Any]:
    return {"strings": [{"id": f"S{i}", f"moduel{i}": 1} for i in range(many)]}


def keys(many: int) -> dict[str, Any]:
    return {f"stirngs{i}": 1 for i in range(many)}


def texts(many: int) -> dict[str, Any]:
    return {"circuits": [{"id": f"C{i}", "length": f"{i} furlongs"} for i in range(many)]}


@pytest.mark.parametrize("make", sample([missing, found, unknown, keys, texts], 3), ids=lambda make: make.__name__)
def test_reading_costs_what_the_input_is_large(make: Callable[[int], Any]) -> None:
    ampcite.read({})
    assert growth(make, 2 * MOST_COMPLAINTS) < MOST


@pytest.mark.parametrize("make", [unknown, keys, texts], ids=lambda make: make.__name__)
def test_complaints_end_and_say_how_many_more(make: Callable[[int], Any]) -> None:
    many = 2000
    fault = refused(make(many))
    assert len(fault.complaints) == MOST_COMPLAINTS + 1
    assert f"{many - MOST_COMPLAINTS} more" in fault.complaints[-1].message
    assert len(str(fault)) < 100_000


def test_names_that_stand_for_nothing_end_and_say_how_many_more() -> None:
    few, many = (ampcite.read(missing(count)).parts["unresolved_names"] or () for count in (MOST_NAMES + 1, 3000))
    assert [part.label for part in few] == [f"string S{i}" for i in range(MOST_NAMES + 1)]
    assert len(many) == MOST_NAMES + 1
    assert many[-1].label == f"each of {3000 - MOST_NAMES} more strings"
    assert many[-1].pointer == f"/strings/{MOST_NAMES}/input"


def test_a_review_of_names_that_stand_for_nothing_stays_short() -> None:
    review = ampcite.review(rulebook(2020, ("documents",)), ampcite.read(missing(300)))
    text = ampcite.to_text(review)
    assert f"Each of {300 - MOST_NAMES} more strings names a part such as GONE{MOST_NAMES}" in " ".join(text.split())
    assert len(text.splitlines()) < 250


def test_few_complaints_are_all_told() -> None:
    fault = refused(json.dumps({f"stirngs{i}": 1 for i in range(MOST_COMPLAINTS)}))
    assert len(fault.complaints) == MOST_COMPLAINTS
    assert all("is not a field" in complaint.message for complaint in fault.complaints)


def test_suggestions_look_at_so_many_names_and_no_more() -> None:
    few, many = ([f"N{i}" for i in range(count)] for count in (1000, 100_000))
    assert steps(lambda: nearest("N2x", many)) < 3 * steps(lambda: nearest("N2x", few)) + 400_000
    assert nearest("modul", ["module", *many]) == 'did you mean "module"?'
