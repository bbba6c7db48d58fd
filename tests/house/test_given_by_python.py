"""Descriptions given as Python values: every kind of number is read, and what JSON has no word for refused.

Source: the kinds of numbers are those of Python's own ``numbers``, ``decimal`` and ``fractions`` and of numpy; what
each stands for is its value.
"""

from __future__ import annotations

from decimal import Decimal
from enum import IntEnum, StrEnum
from fractions import Fraction
from types import MappingProxyType
from typing import Any

import numpy
import pytest

import ampcite


class Count(IntEnum):
    ELEVEN = 11


class Kind(StrEnum):
    SOURCE = "pv source"


def house(**site: Any) -> dict[str, Any]:
    return {"site": site}


@pytest.mark.parametrize(
    "value",
    [-11, -11.0, Decimal(-11), Decimal("-11.0"), Fraction(-22, 2), numpy.int64(-11), numpy.int8(-11),
     numpy.float32(-11), numpy.float64(-11), numpy.array(-11), "-11"],
    ids=lambda value: type(value).__name__,
)  # fmt: skip
def test_every_kind_of_number_is_read(value: Any) -> None:
    read = ampcite.read(house(design_low=value)).whole.facts["site/design_low"]
    assert read == -11 and type(read) in (int, float)


@pytest.mark.parametrize("value", [Decimal("0.1"), Fraction(1, 10), numpy.float64(0.1)])
def test_a_number_is_rounded_once(value: Any) -> None:
    assert ampcite.read(house(design_low=value)).whole.facts["site/design_low"] == 0.1


@pytest.mark.parametrize("value", [11, Decimal(11), Fraction(11), numpy.uint16(11), Count.ELEVEN])
def test_every_kind_of_whole_number_is_a_count(value: Any) -> None:
    (string,) = ampcite.read({"strings": [{"id": "S", "modules_in_series": value}]}).parts["strings"] or ()
    assert string.facts["modules_in_series"] == 11


def test_flags_texts_and_mappings_of_other_types() -> None:
    given = {"disconnects": [MappingProxyType({"id": numpy.str_("D"), "load_break": numpy.bool_(True)})],
             "circuits": ({"id": "C", "kind": Kind.SOURCE},)}  # fmt: skip
    parts = ampcite.read(MappingProxyType(given)).parts
    (disconnect,), (circuit,) = parts["disconnects"] or (), parts["circuits"] or ()
    assert disconnect.facts["load_break"] is True and disconnect.facts["id"] == "D"
    assert circuit.facts["kind"] == "pv source" and type(circuit.facts["kind"]) is str


def test_the_report_is_that_of_the_same_house_in_plain_json() -> None:
    plain = {"modules": [{"id": "M", "model": "LM"}],
             "equipment": {"modules": {"LM": {"voc": 49.5, "voc_coefficient": -0.27}}}, "site": {"design_low": -10},
             "strings": [{"id": "S", "module": "M", "modules_in_series": 12}]}  # fmt: skip
    other = {"modules": [{"id": "M", "model": "LM"}],
             "equipment": {"modules": {"LM": {"voc": Decimal("49.5"), "voc_coefficient": Fraction(-27, 100)}}},
             "site": {"design_low": numpy.int32(-10)},
             "strings": [{"id": "S", "module": "M", "modules_in_series": numpy.int64(12)}]}  # fmt: skip
    rulebook = ampcite.load(2020)
    assert [ampcite.to_json(ampcite.check(rulebook, ampcite.read(one))) for one in (plain,)] == [
        ampcite.to_json(ampcite.check(rulebook, ampcite.read(other)))]  # fmt: skip


@pytest.mark.parametrize(
    ("value", "words"),
    [(1 + 2j, "complex"), (numpy.complex128(1), "complex"), (b"-11", "bytes"), ({-11}, "set"), (object(), "object"),
     (Decimal("NaN"), "nan"), (Decimal("sNaN"), "nan"), (Decimal("1e400"), "inf"), (Fraction(10**400), "inf"),
     (numpy.float64("inf"), "inf"), (numpy.array([1, 2]), "a list of 2"), (numpy.datetime64("2026-01-01"), "date")],
    ids=lambda value: type(value).__name__ if not isinstance(value, str) else value,
)  # fmt: skip
def test_what_is_no_number_is_refused_with_its_place(value: Any, words: str) -> None:
    with pytest.raises(ampcite.InputError) as caught:
        ampcite.read(house(design_low=value))
    (complaint,) = caught.value.complaints
    assert complaint.place == "/site/design_low" and words in complaint.message


def test_fields_named_by_something_else_than_texts() -> None:
    with pytest.raises(ampcite.InputError, match="field 1, which is no text"):
        ampcite.read({"site": {1: 2}})


@pytest.mark.parametrize("source", [1j, object(), 7, Decimal(7), None, [1], {1, 2}])
def test_what_is_no_description_at_all(source: Any) -> None:
    with pytest.raises(ampcite.InputError):
        ampcite.read(source)
