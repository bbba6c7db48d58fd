"""The JSON Schema of a description as other rooms ask about it: a reference followed, the forms a value may have."""

from __future__ import annotations

import json
from collections.abc import Mapping, Set
from functools import lru_cache
from typing import Any

from ampcite.base.cache import key_of, read_cache, write_cache
from ampcite.base.resources import load_schema

Schema = dict[str, Any]


@lru_cache(maxsize=1)
def description_schema() -> Schema:
    """The JSON Schema of a description, as shipped."""
    return load_schema("description.schema.json")


def bare_schema() -> str:
    """The JSON Schema of a description as text, without what only tells of it. Kept between runs."""
    key = key_of("bare schema")
    data = read_cache(key)
    if data is None:
        tells = {"title", "description", "default", "examples", *load_schema("keywords.schema.json")["properties"]}
        data = json.dumps(_bare(description_schema(), tells), separators=(",", ":")).encode()
        write_cache(key, data)
    return data.decode()


def _bare(schema: Any, tells: Set[str]) -> Any:
    if isinstance(schema, list):
        return [_bare(one, tells) for one in schema]
    if not isinstance(schema, dict):
        return schema
    return {key: {name: _bare(one, tells) for name, one in value.items()} if key in ("properties", "$defs") else
            value if key in ("enum", "const") else _bare(value, tells)
            for key, value in schema.items() if key not in tells}  # fmt: skip


def resolved(schema: Schema) -> Schema:
    """A schema with its reference followed; what stands beside the reference comes on top."""
    while "$ref" in schema:
        target = description_schema()["$defs"][schema["$ref"].removeprefix("#/$defs/")]
        if len(schema) == 1:
            schema = target
        else:
            schema = {**target, **schema}
            del schema["$ref"]
            if "$ref" in target:
                schema["$ref"] = target["$ref"]
    return schema


_forms: dict[str, Mapping[str, Schema]] = {}
"""The forms of what stands under ``$defs``, by reference: many fields refer to the same."""


def forms(schema: Schema) -> Mapping[str, Schema]:
    """The forms a value may have, by JSON type; ``enum`` for certain words, with ``null`` beside it where allowed."""
    if "$ref" in schema and schema.keys().isdisjoint(_SHAPE):
        name = schema["$ref"]
        if name not in _forms:
            _forms[name] = forms(resolved({"$ref": name}))
        return _forms[name]
    schema = resolved(schema)
    if "anyOf" in schema:
        out: dict[str, Schema] = {}
        for branch in schema["anyOf"]:
            for name, form in forms(branch).items():
                out.setdefault(name, form)
        return out
    if "type" not in schema and "allOf" in schema:
        return forms(schema["allOf"][-1])
    if "enum" in schema:
        return {"enum": schema, **({"null": schema} if None in schema["enum"] else {})}
    return {schema["type"]: schema} if "type" in schema else {}


_SHAPE = ("anyOf", "allOf", "enum", "type")
