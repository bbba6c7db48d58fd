"""The shape of a description, read from the JSON Schema: which types of parts there are and what can be said of each.

No class mirrors the schema. A *part type* is anything of which there can be several (``circuits``,
``circuits/segments``) and the whole (``""``); what stands in single objects inside a part belongs to that part,
under a path such as ``overcurrent/rating``. The schema's own keywords are told in ``schemas/keywords.schema.json``.
"""

from __future__ import annotations

import pickle
from collections.abc import Mapping
from contextlib import suppress
from functools import lru_cache
from itertools import islice
from typing import Any, NamedTuple

import attrs

from ampcite.base.cache import key_of, read_cache, write_cache
from ampcite.base.stages import STAGES
from ampcite.house.belonging import Condition, Presumption, conditions, presumptions
from ampcite.house.phrase import Phrase, phrase
from ampcite.house.schema import description_schema, forms, resolved
from ampcite.language.logic import ABSENT

ASIDE = ("equipment", "taken_over")
"""What stands in a description beside the parts: facts of models, and marks of values."""


class Field(NamedTuple):
    """One thing that can be said of a part. A field is itself and no other, whatever else is said alike.

    Attributes:
        path: its path inside the part.
        title: what it is called in a sentence.
        kind: "number", "text", "flag" or "outline" (the points of a line or area, each as two numbers).
        unit: of a number ("" for a plain one), or of the numbers of an outline.
        choices: of a text that is one of certain words.
        nullable: whether it can be none: because ``null`` may be said, or because it can't belong to some parts.
        null: whether ``null`` may be said.
        many: whether it is a list of such values.
        low, above, high: bounds of a number (at least, more than, at most), or of how many points an outline has.
        refers: part types whose parts this text names by their id.
        changed_by: who can change it to cure a fault: "designer", "author" (of a sheet, a form or a label) or "crew";
            "" for what nobody here can change, such as the site, a maker's figure or a reading.
        earlier: the field that says what it was before the work, where the work changes it.
        whole: whether the leaf may only be a whole number or one of a few.
        other: the same thing said in a unit of another dimension, kept as a fact of its own; where one is said,
            the other is none.
        home: "part", or "model" where it is a fact of the equipment model that the part names.
        stage: the first stage of a job at which it can be known.
        default: what holds where nobody says anything, as of an exception that somebody would have to claim; None
            where nothing is known then.
    """

    path: str
    title: str
    description: str
    kind: str
    unit: str = ""
    choices: tuple[Any, ...] = ()
    nullable: bool = False
    null: bool = False
    many: bool = False
    low: float | None = None
    above: float | None = None
    high: float | None = None
    refers: tuple[str, ...] = ()
    changed_by: str = ""
    earlier: str = ""
    whole: bool = False
    other: Field | None = None
    home: str = "part"
    stage: str = STAGES[0]
    default: Any = None

    @property
    def lists_standards(self) -> bool:
        """Whether it is a listing: a standard, or several, as they are printed."""
        return self.kind == "text" and self.path.endswith("listing")

    def __hash__(self) -> int:
        return id(self)

    def __eq__(self, other: object) -> bool:
        return self is other

    def __ne__(self, other: object) -> bool:
        return self is not other


@attrs.define(eq=False)
class Group:
    """The fields of one JSON object, by key; what each leads to.

    Attributes:
        phrase: how the object is written where it is one text, such as "10 AWG copper THWN-2".
        default_none: whether there is none of it where nobody says anything, as of a means nobody claims.
        stage: the first stage of a job at which it can be known.
        simple: of fields that are one number, flag or text (no listing), by key: the path, and the field of a number.
        inside: the paths of the fields in the group and below it, where it is an object inside a part.
    """

    path: str
    title: str
    description: str
    nullable: bool
    part_type: PartType
    fields: dict[str, Field] = attrs.Factory(dict)
    groups: dict[str, Group] = attrs.Factory(dict)
    lists: dict[str, PartType] = attrs.Factory(dict)
    phrase: Phrase | None = None
    default_none: bool = False
    stage: str = STAGES[0]
    simple: dict[str, tuple[str, Field | None]] = attrs.Factory(dict)
    inside: tuple[str, ...] = ()


@attrs.define(eq=False)
class PartType:
    """A type of part: its name, where its list stands, and everything that can be said of one.

    Attributes:
        name: such as ``circuits/segments``.
        list_path: the path of its list inside the part above.
        entries: whether its parts are the entries of an object, by key, and not those of a list.
        computed: whether the reader makes its parts, and nobody states them.
        deciding: whether its list must say how far it goes (``all`` or ``only``).
        body: the fields as they are nested.
        fields, groups, children: of the body and the model, by path.
        references: those of the fields that name other parts.
        model: the fields of its equipment model, where parts of this type have one.
        called_by: the field that tells what one is, where it need not have a name: a document is a data sheet.
        model_key: where these stand in the model of the part above; "" where the part names a model of its own.
        conditions: where some of its fields can't belong.
        defaults: what holds of fields and objects that nobody states, by path; of all others nothing is known then.
        against: by path of such a default, what can't belong to a part of which it holds.
        presumed: what holds of fields that nobody states by other facts of the part.
        exhaustive: what lists, figures and flags are that nobody states where the whole says that all is listed, by
            path: empty, none or no.
        stage: the first stage of a job at which its list can be known.
    """

    name: str
    title: str
    list_title: str
    parent: PartType | None
    list_path: str
    deciding: bool = False
    entries: bool = False
    computed: bool = False
    body: Group = attrs.field(init=False)
    fields: dict[str, Field] = attrs.Factory(dict)
    groups: dict[str, Group] = attrs.Factory(dict)
    children: dict[str, PartType] = attrs.Factory(dict)
    references: dict[str, Field] = attrs.Factory(dict)
    called_by: str = ""
    model: Group | None = None
    model_key: str = ""
    conditions: tuple[Condition, ...] = ()
    defaults: Mapping[str, Any] = attrs.Factory(dict)
    against: Mapping[str, tuple[str, ...]] = attrs.Factory(dict)
    presumed: tuple[Presumption, ...] = ()
    exhaustive: dict[str, Any] = attrs.Factory(dict)
    stage: str = STAGES[0]


@lru_cache(maxsize=1)
def part_types() -> Mapping[str, PartType]:
    """Every type of part, by name; ``""`` is the whole. Kept between runs."""
    out: dict[str, PartType] = {}
    key = key_of("part types")
    data = read_cache(key)
    if data is not None:
        with suppress(Exception):  # a damaged file can raise anything; it is then made anew
            out = pickle.loads(data)
            return out
    _part_type(PartType("", "the system", "the system", None, ""), description_schema(), out)
    write_cache(key, pickle.dumps(out, protocol=5))
    return out


def models() -> dict[str, PartType]:
    """The part types that have equipment models, by the name of their kind in ``equipment``."""
    return {one.name.replace("/", "."): one for one in part_types().values()
            if one.model is not None and not one.model_key}  # fmt: skip


def _part_type(part_type: PartType, schema: dict[str, Any], out: dict[str, PartType]) -> PartType:
    out[part_type.name] = part_type
    part_type.body = _group("", schema, part_type, out, part_type.stage)
    part_type.called_by = schema.get("calledBy", "")
    if "model" in schema:
        model = resolved(schema["model"])
        part_type.model = _group("", model, part_type, out, part_type.stage, "model")
        part_type.model_key = schema["model"].get("key", "")
        part_type.conditions = tuple(conditions(model, part_type.fields))
    part_type.conditions += tuple(conditions(schema, part_type.fields))
    part_type.presumed = tuple(presumptions(schema))
    for path in {path for condition in part_type.conditions for path in condition.fields}:
        if part_type.fields[path].kind != "flag":
            part_type.fields[path] = part_type.fields[path]._replace(nullable=True)
    texts = tuple(f"{path}/" for path, group in part_type.groups.items() if group.phrase is not None)
    part_type.defaults = {path: field.default for path, field in part_type.fields.items()
                          if field.default is not None and not path.startswith(texts)}  # fmt: skip
    part_type.defaults |= {path: ABSENT for path, group in part_type.groups.items() if group.default_none}
    part_type.against = {
        path: tuple(b for one in part_type.conditions for b in one.barred
                    for asked, words, one_of in one.tests
                    if asked.removeprefix("" if part_type.name else "/") == path and (value in words) is one_of)
        for path, value in part_type.defaults.items()
    }  # fmt: skip
    part_type.references = {path: field for path, field in part_type.fields.items() if field.refers}
    return part_type


def _group(path: str, schema: dict[str, Any], part_type: PartType, out: dict[str, PartType], stage: str,
           home: str = "part") -> Group:  # fmt: skip
    group = Group(path, schema["title"], schema["description"], "null" in forms(schema), part_type, stage=stage)
    shape, before = schema.get("written") or forms(schema)["object"], len(part_type.fields)
    group.default_none = "default" in schema
    if "written" in schema:
        group.phrase = phrase(schema["written"])
    for key, computed in schema.get("computed", {}).items():
        made = resolved(computed)
        child = PartType(key, made["title"], key.replace("_", " "), part_type, key, computed=True)
        part_type.children[key] = _part_type(child, made, out)
    for key, given in shape["properties"].items():
        sub = resolved(given)
        below = f"{path}/{key}" if path else key
        shapes, at = forms(given), sub.get("stage", stage)
        rows = _items(shapes)
        if below in part_type.children or (not part_type.name and key in ASIDE):
            continue
        if "entries" in sub:
            rows = resolved(sub["entries"])
        if rows is not None:
            name = f"{part_type.name}/{below}" if part_type.name else below
            entries = "entries" in sub
            deciding = "array" not in shapes and not entries
            child = PartType(name, rows["title"], sub["title"], part_type, below, deciding, entries, stage=at)
            group.lists[key] = part_type.children[below] = _part_type(child, rows, out)
        elif "object" in shapes or "written" in sub:
            group.groups[key] = part_type.groups[below] = _group(below, sub, part_type, out, at, home)
        else:
            field = group.fields[key] = part_type.fields[below] = _field(below, sub, shapes, home, at)
            if field.other is not None:
                part_type.fields[field.other.path] = field.other
            elif not field.many and field.kind != "outline" and not field.lists_standards:
                group.simple[key] = below, field if field.kind == "number" else None
        if sub.get("exhaustive"):
            known = part_type.fields.get(below)
            part_type.exhaustive[below] = () if known is None or known.many else ABSENT if known.null else False
    group.inside = tuple(islice(part_type.fields, before, None)) if path else ()
    return group


def list_items(schema: dict[str, Any]) -> dict[str, Any] | None:
    """The schema of one part of a list of parts; None for what is no list of parts."""
    return _items(forms(schema))


def _items(shapes: Mapping[str, dict[str, Any]]) -> dict[str, Any] | None:
    shape = shapes.get("object")
    if shape is None or "each" not in shape.get("properties", ()):
        return None
    return resolved(shape["properties"]["each"])


def _field(path: str, schema: dict[str, Any], shapes: Mapping[str, dict[str, Any]], home: str,
           stage: str) -> Field:  # fmt: skip
    many = "array" in shapes
    leaves = forms(shapes["array"]["items"]) if many else shapes
    changed_by = schema.get("changedBy", "")
    if "points" in schema:
        least, most = schema["points"]
        return Field(path, schema["title"], schema["description"], "outline", schema["unit"],
                     nullable="null" in shapes, null="null" in shapes, low=least, high=most,
                     changed_by=changed_by, home=home, stage=stage)  # fmt: skip
    words = tuple(v for v in leaves.get("enum", {}).get("enum", ()) if v is not None)
    number = leaves.get("number") or leaves.get("integer") or {}
    numeric = number or (words and not isinstance(words[0], str))
    other = None
    if "orIn" in schema:
        other = Field(schema["orIn"]["fact"], schema["title"], schema["description"], "number",
                      schema["orIn"]["unit"], nullable=True, home=home, stage=stage)  # fmt: skip
    return Field(
        path=path, title=schema["title"], description=schema["description"],
        kind="number" if numeric else "flag" if "boolean" in leaves else "text",
        unit=schema.get("unit", ""), choices=words, nullable="null" in shapes, null="null" in shapes,
        many=many,
        low=number.get("minimum"), above=number.get("exclusiveMinimum"), high=number.get("maximum"),
        refers=tuple(schema.get("refersTo", ())), changed_by=changed_by,
        earlier=schema.get("earlier", ""), whole="number" not in leaves, other=other, home=home, stage=stage,
        default=_default(schema),
    )  # fmt: skip


def _default(schema: Mapping[str, Any]) -> Any:
    said = schema.get("default")
    if isinstance(said, list):
        return tuple(said)
    return ABSENT if said is None and "default" in schema else said


class Place(NamedTuple):
    """What a JSON Pointer into a description points at, in the schema's words."""

    title: str
    field: Field | None
    group: Group
    part_type: PartType
    stage: str


_QUESTIONS = ("what ", "how ", "where ", "who ", "from where ")


def with_article(title: str) -> str:
    """A title as it stands in a sentence: "the service rating", "how the cable is run"."""
    return title if title.startswith(("the ", *_QUESTIONS)) else f"the {title}"


def place_title(document_pointer: str) -> str:
    """What the schema calls the thing a pointer points at, for sentences: "module short-circuit current"."""
    return place(document_pointer).title


def place_field(document_pointer: str) -> Field | None:
    """The field a pointer points at, where it is one."""
    return place(document_pointer).field


def place(document_pointer: str) -> Place:
    """What a pointer points at; for a pointer that leads nowhere, the last thing on its way that is known."""
    steps = [step.replace("~1", "/").replace("~0", "~") for step in document_pointer.split("/") if step]
    group: Group = part_types()[""].body
    if steps[:1] == ["equipment"] and len(steps) > 1 and steps[1] in models():
        part_type = models()[steps[1]]
        assert part_type.model is not None
        group, steps = part_type.model, steps[3:]
    title, stage = group.title, group.stage
    for step in steps:
        path = f"{group.path}/{step}" if group.path else step
        part_type = group.part_type
        if step not in group.lists and path in part_type.fields:
            return Place(part_type.fields[path].title, part_type.fields[path], group, part_type,
                         part_type.fields[path].stage)  # fmt: skip
        if step not in group.lists and path in part_type.groups:
            group = part_type.groups[path]
            title, stage = group.title, group.stage
        elif step in group.lists:
            title, stage = group.lists[step].list_title, group.lists[step].stage
            group = group.lists[step].body
    return Place(title, None, group, group.part_type, stage)
