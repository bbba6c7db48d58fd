"""The fast gate says what a reference validator says, of whatever the shipped schemas are asked about."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Iterator
from typing import Any

import jsonschema_rs
import pytest
import tomli

from ampcite.base.gate import KEYWORDS, gate
from ampcite.base.resources import load_schema
from shared import FOLDERS, LAWFUL, SHIPPED, examples

GATED = ("description", "pack", "examples", "edits", "letter")
ASK_NOTHING = {"$schema", "$id", "$defs", "title", "description", "default", "examples", "deprecated", "readOnly"}
OWN = set(load_schema("keywords.schema.json")["properties"])
HOUSES = [json.loads(path.read_text("utf-8")) for path in {**SHIPPED, **LAWFUL}.values()]


def schemas(value: Any) -> Iterator[dict[str, Any]]:
    """Every schema inside one."""
    if not isinstance(value, dict):
        return
    yield value
    for word in ("properties", "$defs"):
        for one in value.get(word, {}).values():
            yield from schemas(one)
    for word in ("anyOf", "allOf"):
        for one in value.get(word, ()):
            yield from schemas(one)
    for word in ("items", "additionalProperties", "propertyNames", "not", "if", "then"):
        yield from schemas(value.get(word))


@pytest.mark.parametrize("name", GATED)
def test_it_knows_every_keyword_that_asks_for_something(name: str) -> None:
    for schema in schemas(load_schema(f"{name}.schema.json")):
        asks = schema.keys() - ASK_NOTHING - OWN
        assert asks <= KEYWORDS
        assert "$ref" not in asks or asks == {"$ref"}, "beside a reference nothing is asked for"


def test_it_lets_through_what_is_shipped() -> None:
    assert all(gate("description.schema.json").accepts(house) for house in HOUSES)
    for folder in FOLDERS.values():
        for path in folder.glob("*.toml"):
            name = "examples" if path.name.endswith(".examples.toml") else "pack"
            assert gate(f"{name}.schema.json").accepts(tomli.loads(path.read_text("utf-8"))), path


def places(value: Any) -> Iterator[tuple[Any, Any]]:
    """Every place in a JSON value: what holds it, and its key."""
    for key, below in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        yield value, key
        yield from places(below)


VALUES = (None, True, False, 0, 1, -1, 1.0, 2.5, 1e300, "", "x", "5 ft", "−10 °C", "5 ft\n", "2026-02-30", "2026-02-28",
          "2026-02-28\n", "x" * 2001, "roof", "none", [], ["a"], ["a", "a"], [{}], {}, {"all": []}, {"only": []},
          {"each": {}}, {"id": "Q"})  # fmt: skip


def test_it_says_of_changed_houses_what_a_validator_says() -> None:
    """Values put in at some places, under the keys of other places, or moved from place to place."""
    validator = jsonschema_rs.Draft202012Validator(load_schema("description.schema.json"), validate_formats=True)
    chosen, accepted = random.Random(7), 0
    keys = sorted({key for house in HOUSES for _, key in places(house) if isinstance(key, str)})
    for _ in range(examples(10_000)):
        house = copy.deepcopy(chosen.choice(HOUSES))
        every = list(places(house))
        (holder, key), (other, there) = chosen.choice(every), chosen.choice(every)
        key = chosen.choice(keys) if isinstance(holder, dict) and chosen.random() < 0.4 else key
        holder[key] = chosen.choice(VALUES) if chosen.random() < 0.5 else copy.deepcopy(other[there])
        sound = validator.is_valid(house)
        accepted += sound
        assert gate("description.schema.json").accepts(house) is sound, (key, holder)
    assert accepted


@pytest.mark.parametrize("value", [{1}, {"a": object()}, float("nan"), float("inf"), 10**400, b"x"])
def test_what_no_json_text_says_is_no_crash(value: Any) -> None:
    house = copy.deepcopy(HOUSES[0])
    house["site"]["design_low"] = value
    assert gate("description.schema.json").accepts(house) is False
