"""The schema of a description as others use it: strict validators, editors, and its own keywords declared.

Ajv is the validator of another language: with node it comes by ``npm install --no-save ajv``, as the CI does.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import ampcite
from ampcite.base.resources import houses, load_schema, shipped
from ampcite.house.part_types import part_types
from ampcite.house.phrase import parse, write
from ampcite.house.schema import description_schema, forms

OWN = load_schema("keywords.schema.json")["properties"]


def schemas(here: Any) -> Iterator[dict[str, Any]]:
    """Every schema inside the description's schema, the names of fields left out."""
    if isinstance(here, list):
        for one in here:
            yield from schemas(one)
    elif isinstance(here, dict):
        yield here
        for key, below in here.items():
            if key in ("properties", "$defs", "computed"):
                for one in below.values():
                    yield from schemas(one)
            elif key not in ("enum", "const", "examples", "default", "required"):
                yield from schemas(below)


STANDARD = {
    "$schema", "$id", "$ref", "$defs", "title", "description", "default", "examples", "type", "enum", "const", "anyOf",
    "allOf", "not", "if", "then", "properties", "additionalProperties", "required", "items", "minItems", "maxItems",
    "uniqueItems", "format", "minimum", "exclusiveMinimum", "maximum", "maxLength", "pattern", "minProperties",
}  # fmt: skip
"""The keywords of JSON Schema that the description's schema uses."""


def test_every_keyword_is_json_schemas_or_declared() -> None:
    used = {key for schema in schemas(description_schema()) for key in schema}
    inside = {"pieces", "key", "fact", "none"} | {key for one in schemas(description_schema())
                                                  for asked in (*one.get("noneWhere", ()), *one.get("presumed", ()))
                                                  for key in (*asked["if"], *asked.get("then", ()))}
    assert used - set(OWN) - STANDARD - inside == set()


def test_the_own_keywords_are_used_as_declared() -> None:
    for schema in schemas(description_schema()):
        for key in OWN.keys() & schema.keys():
            if isinstance(schema[key], dict) and key in ("if", "properties"):
                continue
            jsonschema.Draft202012Validator(OWN[key]).validate(schema[key])


def test_no_schema_has_several_types() -> None:
    assert not [schema for schema in schemas(description_schema()) if isinstance(schema.get("type"), list)]


def test_examples_are_true() -> None:
    defs = description_schema()["$defs"]
    several = [schema for schema in schemas(description_schema()) if "examples" in schema and "title" in schema]
    assert several
    for schema in several:
        validator = jsonschema.Draft202012Validator({**schema, "$defs": defs})
        for example in schema["examples"]:
            validator.validate(example)
    for part_type in part_types().values():
        for group in part_type.groups.values():
            if group.phrase is not None:
                assert write(group.phrase, parse(group.phrase, group.phrase.example)) == group.phrase.example


def test_every_form_of_a_value_is_found() -> None:
    assert set(forms({"anyOf": [{"$ref": "#/$defs/text"}, {"type": "null"}]})) == {"string", "null"}
    assert set(forms({"enum": ["a", None]})) == {"enum", "null"}


@pytest.mark.skipif(not (shutil.which("node") and os.environ.get("NODE_PATH")), reason="needs node with ajv")
def test_a_strict_validator_of_another_language_takes_the_schema(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.json"
    wrong.write_text(json.dumps({"circuits": [{"id": "A", "segments": [{"place": "rooftop", "burial_depth": 1}]}]}))
    files = [*map(str, houses()), str(wrong)]
    out = subprocess.run(["node", Path(__file__).parent / "strict.cjs", shipped("schemas"), *files],
                         capture_output=True, text=True, check=False)  # fmt: skip
    assert out.stderr == ""
    assert out.stdout.split() == ["valid"] * (len(files) - 1) + ["invalid"]
    with pytest.raises(ampcite.InputError):
        ampcite.read(wrong)
