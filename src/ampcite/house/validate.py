"""The gate a description passes: what the schema refuses is worded in one sentence each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from typing import Any

from ampcite.base.errors import MOST_COMPLAINTS, Complaint, InputError, nearest, short
from ampcite.base.resources import schema_validator
from ampcite.house.belonging import holds, in_itself, refusal
from ampcite.house.part_types import Place, place
from ampcite.house.phrase import as_listed
from ampcite.house.schema import Schema, bare_schema, description_schema, forms
from ampcite.house.values import TOO_DEEP, pointer

# --- the schema: a fast gate before the reference validator, which words what the gate refuses --------------


def _equipment_schema() -> Schema:
    return {"$ref": "#/$defs/equipment", "$defs": description_schema()["$defs"]}


@lru_cache(maxsize=2)
def _gate(equipment: bool) -> Any:
    """The fast validator; where it can't be had, as in a browser, the reference does its work."""
    try:
        import jsonschema_rs
    except ImportError:
        return _reference(equipment)
    schema = _equipment_schema() if equipment else bare_schema()
    return jsonschema_rs.Draft202012Validator(schema, validate_formats=True)


@lru_cache(maxsize=2)
def _reference(equipment: bool) -> Any:
    reference = schema_validator("description.schema.json")
    return reference.evolve(schema=_equipment_schema()) if equipment else reference


def is_valid(document: Any, equipment: bool = False) -> bool:
    """Whether the schema accepts a document for sure."""
    try:
        return bool(_gate(equipment).is_valid(document))
    except (ValueError, TypeError, RecursionError, OverflowError):
        return False


def schema_errors(document: Any, name: str, equipment: bool = False) -> tuple[list[Complaint], list[Any]]:
    """What the schema refuses: as complaints, and as the validator's errors; nothing of a valid document.

    Args:
        document: a JSON value.
        name: what complaints call it.
        equipment: whether it is held against the schema of ``equipment`` instead of a description's.

    Raises:
        InputError: when the document is nested too deep to be looked through.
    """
    if is_valid(document, equipment):
        return [], []
    try:
        every = _reference(equipment).iter_errors(document)
        found = sorted((e for error in every for e in _plain(error)), key=lambda e: [str(p) for p in e.absolute_path])
        above = "/equipment" if equipment else ""
        complaints = list(dict.fromkeys(c for error in found for c in _word(error, name, above)))
        if not complaints:
            errors = _reference(equipment).iter_errors(document)
            complaints = list(dict.fromkeys(_misplaced(document, name, above, errors)))
    except RecursionError:
        raise InputError([Complaint(name, "", TOO_DEEP)]) from None
    except ValueError:  # an integer too long to be printed, which only a Python caller can give
        return schema_errors(_capped(document), name, equipment)
    return complaints, found


def _misplaced(document: Any, name: str, above: str, errors: Iterable[Any]) -> Iterator[Complaint]:
    """What is stated of parts that it can't belong to, as far as the schema sees it."""
    for error in errors:
        if error.validator == "anyOf":
            yield from _misplaced(document, name, above, error.context)
        elif error.validator is None:
            path = list(error.absolute_path)
            where = place(above + pointer(path))
            inside = where.group.path.count("/") + 1 if where.group.path else 0
            part = holder = document
            for i, step in enumerate(path):
                holder = holder[step]
                part = holder if i < len(path) - inside else part
            for condition in where.part_type.conditions:
                for barred in condition.barred if holds(condition, in_itself(part)) else ():
                    before, _, key = barred.rpartition("/")
                    if before == where.group.path and key in holder:
                        title = place(f"{above}{pointer(path)}/{key}").title
                        yield Complaint(name, pointer([*path, key]), refusal(condition, title))


def catalogue_errors(document: Any, name: str) -> list[Complaint]:
    """What is wrong with a catalogue of equipment models."""
    return schema_errors(document, name, True)[0]


def _capped(value: Any) -> Any:
    """A JSON value with integers too long to be printed cut down to ones that are merely absurd."""
    if isinstance(value, dict):
        return {key: _capped(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_capped(item) for item in value]
    return min(max(value, -(10**400)), 10**400) if isinstance(value, int) and not isinstance(value, bool) else value


def _plain(error: Any) -> Iterator[Any]:
    """The errors that a person can do something about: of several forms, those of the form that was meant.

    What can't belong to a part (a schema that is ``false``) is left to the reader, which knows all facts of the part.
    """
    if error.validator != "anyOf":
        if error.validator is not None:
            yield error
        return
    branches: dict[int, list[Any]] = {}
    for inner in error.context:
        branches.setdefault(inner.relative_schema_path[0], []).append(inner)
    meant = [found for found in branches.values() if not any(_other_form(e, error) for e in found)]
    if not meant:
        yield error
        return
    for inner in min(meant, key=lambda found: any(_lacks_word(e, error) for e in found)):
        yield from _plain(inner)


def _lacks_word(inner: Any, error: Any) -> bool:
    """Whether an error says that the word is missing which tells this form of a list from the other."""
    return bool(inner.validator == "required" and inner.absolute_path == error.absolute_path)


def _other_form(inner: Any, error: Any) -> bool:
    """Whether an error says that the value has another form altogether, such as text in place of a number."""
    return bool(inner.validator == "type" and inner.absolute_path == error.absolute_path)


def _word(error: Any, name: str, above: str) -> Iterator[Complaint]:
    at = pointer(error.absolute_path)
    value, schema, limit = error.instance, error.schema, error.validator_value
    said = place(above + at)
    title = schema["title"] if isinstance(schema, dict) and "title" in schema else said.title
    unit = f" {said.field.unit}" if said.field is not None and said.field.unit else ""
    match error.validator:
        case "additionalProperties":
            for i, key in enumerate(key for key in value if key not in schema["properties"]):
                sentence = _no_field(key, schema, title, said) if i < MOST_COMPLAINTS else f"is not a field of {title}"
                yield Complaint(name, at + pointer([key]), sentence)
        case "required":
            lacking = next(key for key in limit if key not in value)
            if lacking == "all":
                sentence = 'has neither "all" (these are all of them) nor "only" (there may be more); write one of them'
            else:
                sentence = f'has no "{lacking}"; every {said.part_type.title} has one'
            yield Complaint(name, at, sentence)
        case "enum":
            words = [str(v) for v in limit if v is not None]
            near = nearest(as_listed(value, words) if isinstance(value, str | int) else "", words)
            if isinstance(value, str) and value in words:
                near = f"write {value} without quotes"
            yield Complaint(name, at, f"is {short(value)}, which is not a {title} known here; {near}")
        case "type" | "anyOf":
            yield Complaint(name, at, _wrong_type(value, forms(schema), title, unit))
        case "minimum" | "exclusiveMinimum" | "maximum":
            yield Complaint(name, at, out_of_bounds(value, error.validator, limit, title, unit))
        case "pattern" if schema != description_schema()["$defs"]["quantity"]:
            yield Complaint(name, at, f"is {short(value)}; it must be written thus: {schema['description']}")
        case "pattern":
            want = f"a number in{unit}" if unit else "a number"
            yield Complaint(name, at, f"is {short(value)}; {title} must be {want}, or text that begins with one")
        case "format":
            yield Complaint(name, at, f"is {short(value)}, which is no day of the calendar")
        case "uniqueItems":
            yield Complaint(name, at, "names one part twice; name each once")
        case "minItems" | "maxItems":
            word = "at least" if error.validator == "minItems" else "at most"
            yield Complaint(name, at, f"has {len(value)} entries; {title} has {word} {limit}")
        case "maxLength":
            yield Complaint(name, at, f"is {len(value)} characters long; at most {limit} are kept")
        case _:
            yield Complaint(name, at, f"is {short(value)}, which {title} can't be")


def _no_field(key: str, schema: Schema, title: str, said: Place) -> str:
    if "all" in schema["properties"] or "only" in schema["properties"]:
        both = 'is given beside "all"; a list is either all of them or only some' if key == "only" else ""
        return both or f"is not a word of a list; {nearest(key, ('each', 'all', 'only'))}"
    model = said.part_type.model
    if model is not None and said.group is said.part_type.body and key in (*model.fields, *model.groups):
        kind = said.part_type.name.replace("/", ".")
        return f'belongs to the model and is said once for it; write it under the model in "equipment", "{kind}"'
    return f"is not a field of {title}; {nearest(key, schema['properties'])}"


def _wrong_type(value: Any, allowed: Mapping[str, Schema], title: str, unit: str) -> str:
    kinds = ["string" if kind == "enum" else kind for kind in allowed]
    if isinstance(value, list) and "object" in kinds and "each" in allowed["object"].get("properties", ()):
        return ('is a plain list, and what is not on it would count as not there; write {"all": [...]} if these are '
                'all of them, or {"only": [...]} if there may be more')  # fmt: skip
    want = " or ".join(dict.fromkeys(_TYPE_WORDS[t] for t in kinds if not (t == "string" and "number" in kinds)))
    more = f" ({unit.strip()}), or text with a unit" if "number" in kinds and unit else ""
    bare = ", without quotes" if isinstance(value, str) and "integer" in kinds else ""
    return f"is {short(value)}; {title} must be {want}{more}{bare}"


_TYPE_WORDS = {"object": "an object in curly brackets", "array": "a list in square brackets",
               "string": "a text", "number": "a number",
               "integer": "a whole number", "boolean": "true or false", "null": "null"}  # fmt: skip


def out_of_bounds(value: Any, bound: str, limit: float, title: str, unit: str) -> str:
    word = {"minimum": "at least", "exclusiveMinimum": "more than", "maximum": "at most"}[bound]
    return f"is {short(value)}{unit}; {title} must be {word} {limit}{unit}"
