"""A fast gate: whether a JSON value is what a schema asks for, where that is plain.

What the gate lets through the reference validator accepts; what it does not, that validator judges and words. A schema
becomes tests by the Python type of a value, each made when such a value first comes, so that what a value never says
costs nothing. Keywords that ask for nothing, such as titles, are passed over; a test holds every other keyword of the
schemas to :data:`KEYWORDS`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from math import inf
from typing import Any

from ampcite.base.resources import load_schema

Test = Callable[[Any], Any]

KEYWORDS = frozenset({
    "$ref", "type", "enum", "const", "anyOf", "allOf", "not", "if", "then", "properties", "additionalProperties",
    "required", "propertyNames", "minProperties", "items", "minItems", "maxItems", "uniqueItems", "minLength",
    "maxLength", "pattern", "format", "minimum", "maximum", "exclusiveMinimum",
})  # fmt: skip
"""The keywords that the gate knows of those that ask for something."""

_TYPES: Mapping[str, tuple[type, ...]] = {
    "object": (dict,), "array": (list,), "string": (str,), "integer": (int, float), "number": (int, float),
    "boolean": (bool,), "null": (type(None),),
}  # fmt: skip


def never(_: Any) -> bool:
    """The test that no value passes."""
    return False


@lru_cache(maxsize=8)
def gate(name: str, definition: str = "") -> Gate:
    """The gate of a schema, by its file name, or of one of its definitions."""
    schema = load_schema(name)
    schemas = _Schemas(schema.get("$defs", {}))
    return schemas.gate({"$ref": f"#/$defs/{definition}"} if definition else schema)


class Gate(dict[type, Test]):
    """The tests of one schema, by the Python type of a value."""

    def __init__(self, schema: Any, schemas: _Schemas) -> None:
        self.schema, self.schemas = schema, schemas

    def __missing__(self, kind: type) -> Test:
        test = self[kind] = self.schemas.test(self.schema, kind)
        return test

    def accepts(self, value: Any) -> bool:
        """Whether the schema accepts a value for sure."""
        try:
            return bool(self[value.__class__](value))
        except (TypeError, ValueError, RecursionError):  # what no JSON text could say, and what is nested too deep
            return False


class _Schemas:
    """Makes the gates of one file of schemas, one for each definition that others refer to."""

    def __init__(self, definitions: Mapping[str, Any]) -> None:
        self.definitions = definitions
        self.by_reference: dict[str, Gate] = {}

    def gate(self, schema: Any) -> Gate:
        """The gate of a schema; beside a reference nothing is asked for."""
        reference = schema.get("$ref") if schema.__class__ is dict else None
        if reference is None:
            return Gate(schema, self)
        if reference not in self.by_reference:
            self.by_reference[reference] = self.gate(self.definitions[reference.removeprefix("#/$defs/")])
        return self.by_reference[reference]

    def test(self, schema: Any, kind: type) -> Test:
        """The test of values of a type."""
        if isinstance(schema, bool):
            return (lambda _: True) if schema else never
        tests = list(self.tests(schema, kind))
        if never in tests:
            return never
        if len(tests) < 2:
            return tests[0] if tests else lambda _: True

        def every(value: Any) -> bool:
            for test in tests:  # noqa: SIM110  (a generator takes longer)
                if not test(value):
                    return False
            return True

        return every

    def tests(self, schema: Mapping[str, Any], kind: type) -> Iterator[Test]:
        """What a schema asks of values of a type."""
        if "type" in schema:
            named = [schema["type"]] if isinstance(schema["type"], str) else schema["type"]
            meant = [name for name in named if kind in _TYPES[name]]
            if not meant:
                yield never
                return
            if meant == ["integer"] and kind is float:
                yield float.is_integer
        if "enum" in schema or "const" in schema:
            words = frozenset(w for w in schema.get("enum", [schema.get("const")]) if w.__class__ is kind)
            yield words.__contains__ if words else never
        if "anyOf" in schema:
            yield _one_of([self.gate(one)[kind] for one in schema["anyOf"]])
        for one in schema.get("allOf", ()):
            yield self.gate(one)[kind]
        if "not" in schema:
            barred = self.gate(schema["not"])[kind]
            yield lambda value: not barred(value)
        if "if" in schema:
            asked, then = self.gate(schema["if"]), self.gate(schema["then"])[kind]
            yield lambda value: then(value) or not asked[kind](value)
        if kind is dict:
            yield from self.of_objects(schema)
        elif kind is list:
            yield from self.of_lists(schema)
        elif kind is str:
            yield from _of_texts(schema)
        elif kind is int or kind is float:
            yield from _of_numbers(schema)

    def of_objects(self, schema: Mapping[str, Any]) -> Iterator[Test]:
        if "required" in schema:
            required = frozenset(schema["required"])
            yield lambda value: required <= value.keys()
        if "minProperties" in schema:
            yield lambda value: len(value) >= schema["minProperties"]
        if "propertyNames" in schema:
            named = self.gate(schema["propertyNames"])[str]
            yield lambda value: all(map(named, value))
        known = {key: self.gate(one) for key, one in schema.get("properties", {}).items()}
        if "additionalProperties" not in schema:
            barred = frozenset(key for key, gate in known.items() if gate.schema is False)
            asked = [(key, gate) for key, gate in known.items() if key not in barred]
            if barred:
                yield barred.isdisjoint
            if asked:
                yield lambda value: all(gate[value[key].__class__](value[key]) for key, gate in asked if key in value)
            return
        others = self.gate(schema["additionalProperties"])

        def members(value: dict[str, Any]) -> bool:
            for key, item in value.items():  # noqa: SIM110
                if not known.get(key, others)[item.__class__](item):
                    return False
            return True

        yield members

    def of_lists(self, schema: Mapping[str, Any]) -> Iterator[Test]:
        if "minItems" in schema:
            yield lambda value: len(value) >= schema["minItems"]
        if "maxItems" in schema:
            yield lambda value: len(value) <= schema["maxItems"]
        if "items" in schema:
            items = self.gate(schema["items"])
            yield lambda value: all(items[item.__class__](item) for item in value)
        if schema.get("uniqueItems"):
            yield lambda value: len(set(value)) == len(value)


def _one_of(tests: list[Test]) -> Test:
    """A test that a value passes that passes one of several."""
    open_ones = [test for test in tests if test is not never]
    if len(open_ones) < 2:
        return open_ones[0] if open_ones else never
    return lambda value: any(test(value) for test in open_ones)


def _of_texts(schema: Mapping[str, Any]) -> Iterator[Test]:
    if "minLength" in schema:
        yield lambda value: len(value) >= schema["minLength"]
    if "maxLength" in schema:
        yield lambda value: len(value) <= schema["maxLength"]
    if "pattern" in schema:
        yield re.compile(re.sub(r"\$$", r"\\Z", schema["pattern"])).search
    if schema.get("format") == "date":
        from datetime import date

        yield date.fromisoformat


def _of_numbers(schema: Mapping[str, Any]) -> Iterator[Test]:
    low, above, high = schema.get("minimum", -inf), schema.get("exclusiveMinimum", -inf), schema.get("maximum", inf)
    if "minimum" in schema or "maximum" in schema:
        yield lambda value: low <= value <= high
    if "exclusiveMinimum" in schema:
        yield lambda value: value > above
