"""The JSON Schema of a description as other rooms ask about it: a reference followed, the forms a value may have."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from ampcite.base.resources import load_schema

Schema = dict[str, Any]


@lru_cache(maxsize=1)
def description_schema() -> Schema:
    """The JSON Schema of a description, as shipped."""
    return load_schema("description.schema.json")


def resolved(schema: Schema) -> Schema:
    """A schema with its reference followed; what stands beside the reference comes on top."""
    while "$ref" in schema:
        target = description_schema()["$defs"][schema["$ref"].removeprefix("#/$defs/")]
        schema = {**target, **{key: value for key, value in schema.items() if key != "$ref"}}
    return schema


def forms(schema: Schema) -> dict[str, Schema]:
    """The forms a value may have, by JSON type; ``enum`` for certain words, with ``null`` beside it where allowed."""
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
