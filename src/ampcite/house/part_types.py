"""The shape of a description, read from the JSON Schema: which kinds of parts there are and what can be said of each.

No class mirrors the schema. A *kind* is anything of which there can be several (``circuits``,
``circuits/segments``) and the whole (``""``); what stands in single objects inside a part belongs to that part,
under a path such as ``overcurrent/rating``.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

import attrs

from ampcite.base.resources import load_schema


@attrs.frozen
class Field:
    """One thing that can be said of a part.

    Attributes:
        path: its path inside the part.
        title: what it is called in a sentence.
        kind: "number", "text", "flag" or "outline" (the points of a line or area, each as two numbers).
        unit: of a number ("" for a plain one), or of the numbers of an outline.
        choices: of a text that is one of certain words.
        nullable: whether ``null`` ("there is none") may be said.
        many: whether it is a list of such values.
        low, above, high: bounds of a number (at least, more than, at most).
        refers: kinds whose parts this text names by their id.
        changed_by: who can change it to cure a fault: "designer", "author" (of a sheet, a form or a label) or "crew";
            "" for what nobody here can change, such as the site, a maker's figure or a reading.
        whole: whether the leaf may only be a whole number or one of a few.
        other: the same thing said in a unit of another dimension, kept as a fact of its own; where one is said,
            the other is none.
    """

    path: str
    title: str
    description: str
    kind: str
    unit: str = ""
    choices: tuple[Any, ...] = ()
    nullable: bool = False
    many: bool = False
    low: float | None = None
    above: float | None = None
    high: float | None = None
    refers: tuple[str, ...] = ()
    changed_by: str = ""
    whole: bool = False
    other: Field | None = None


@attrs.define
class Group:
    """The fields of one JSON object, by key; what each leads to."""

    path: str
    title: str
    description: str
    nullable: bool
    part_type: PartType
    fields: dict[str, Field] = attrs.Factory(dict)
    groups: dict[str, Group] = attrs.Factory(dict)
    lists: dict[str, PartType] = attrs.Factory(dict)


@attrs.define
class PartType:
    """A kind of part: its name, where it stands, and everything that can be said of one."""

    name: str
    title: str
    list_title: str
    parent: PartType | None
    list_path: str
    body: Group = attrs.field(init=False)
    fields: dict[str, Field] = attrs.Factory(dict)
    groups: dict[str, Group] = attrs.Factory(dict)
    children: dict[str, PartType] = attrs.Factory(dict)
    references: dict[str, Field] = attrs.Factory(dict)


@lru_cache(maxsize=1)
def description_schema() -> dict[str, Any]:
    """The JSON Schema of a description, as shipped."""
    return load_schema("description.schema.json")


@lru_cache(maxsize=1)
def part_types() -> Mapping[str, PartType]:
    """Every kind of part, by name; ``""`` is the whole."""
    out: dict[str, PartType] = {}
    _kind("", description_schema(), "the system", None, "", out)
    return out


def _kind(name: str, schema: dict[str, Any], list_title: str, parent: PartType | None, list_path: str,
          out: dict[str, PartType]) -> PartType:  # fmt: skip
    kind = PartType(name, "the system" if not name else schema["title"], list_title, parent, list_path)
    out[name] = kind
    kind.body = _group("", schema, kind, out)
    kind.references = {path: field for path, field in kind.fields.items() if field.refers}
    return kind


def _group(path: str, schema: dict[str, Any], kind: PartType, out: dict[str, PartType]) -> Group:
    group = Group(path, schema["title"], schema["description"], "null" in _types(schema), kind)
    for key, sub in schema["properties"].items():
        below = f"{path}/{key}" if path else key
        types = _types(sub)
        if "object" in types:
            group.groups[key] = kind.groups[below] = _group(below, sub, kind, out)
        elif "array" in types and "object" in _types(sub["items"]):
            name = f"{kind.name}/{below}" if kind.name else below
            group.lists[key] = kind.children[below] = _kind(name, sub["items"], sub["title"], kind, below, out)
        else:
            field = group.fields[key] = kind.fields[below] = _field(below, sub)
            if field.other is not None:
                kind.fields[field.other.path] = field.other
    return group


def _types(schema: dict[str, Any]) -> list[str]:
    given = schema.get("type", [])
    return [given] if isinstance(given, str) else given


def _field(path: str, schema: dict[str, Any]) -> Field:
    many = "array" in _types(schema)
    leaf = schema["items"] if many else schema
    if "array" in _types(leaf):
        return Field(path, schema["title"], schema["description"], "outline", schema["unit"],
                     nullable="null" in _types(schema), low=leaf["items"].get("minimum"),
                     high=leaf["items"].get("maximum"), changed_by=schema.get("changedBy", ""))  # fmt: skip
    types = _types(leaf)
    words = tuple(v for v in leaf.get("enum", ()) if v is not None)
    numeric = "number" in types or "integer" in types or (words and not isinstance(words[0], str))
    other = None
    if "orIn" in schema:
        other = Field(schema["orIn"]["fact"], schema["title"], schema["description"], "number",
                      schema["orIn"]["unit"], nullable=True)  # fmt: skip
    return Field(
        path=path, title=schema["title"], description=schema["description"],
        kind="number" if numeric else "flag" if "boolean" in types else "text",
        unit=leaf.get("unit", ""), choices=words,
        nullable="null" in types or None in leaf.get("enum", ()), many=many,
        low=leaf.get("minimum"), above=leaf.get("exclusiveMinimum"), high=leaf.get("maximum"),
        refers=tuple(schema.get("refersTo", ())), changed_by=schema.get("changedBy", ""),
        whole="number" not in types, other=other,
    )  # fmt: skip


def place_title(document_pointer: str) -> str:
    """What the schema calls the thing a pointer points at, for sentences: "module short-circuit current"."""
    return _place(document_pointer)[0]


def place_field(document_pointer: str) -> Field | None:
    """The field a pointer points at, where it is one."""
    return _place(document_pointer)[1]


def _place(document_pointer: str) -> tuple[str, Field | None]:
    group: Group = part_types()[""].body
    title = group.title
    for step in document_pointer.split("/"):
        if not step or step.isdigit():
            continue
        if step in group.fields:
            return group.fields[step].title, group.fields[step]
        if step in group.groups:
            group = group.groups[step]
            title = group.title
        elif step in group.lists:
            title = group.lists[step].list_title
            group = group.lists[step].body
    return title, None
