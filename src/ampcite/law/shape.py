"""Whether a TOML file of a pack says what the schemas allow, and where in it and in which words it does not."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from typing import Any

from ampcite.base.errors import nearest, short
from ampcite.base.resources import load_schema, schema_validator


def shape_faults(value: Mapping[str, Any], examples: bool) -> Iterator[tuple[tuple[Any, ...], str, str]]:
    """What a file says that its schema does not allow: where, the same in words, and a sentence.

    Args:
        value: what the file says.
        examples: whether it is a file of examples.
    """
    yield from faults_by("examples.schema.json" if examples else "pack.schema.json", value, examples)


def faults_by(name: str, value: Mapping[str, Any],
              examples: bool = False) -> Iterator[tuple[tuple[Any, ...], str, str]]:  # fmt: skip
    """What a value says that a schema, by its file name, does not allow: where, that in words, and a sentence."""
    if _sound(name, value):
        return
    validator = _validator(name)
    found = sorted(validator.iter_errors(value), key=lambda e: [str(p) for p in e.absolute_path])
    found = [e for e in found if e.validator != "format" or re.fullmatch(e.schema.get("pattern", ""), e.instance)]
    for path, said in dict.fromkeys((tuple(e.absolute_path), _word(e, validator.schema)) for e in found):
        if examples and path:
            place = " / ".join([f'examples "{str(path[0])[:60]}"', *filter(None, [_place(path[1:], value[path[0]])])])
        else:
            place = _place(path, value)
        yield path, place, said


_validator = cache(schema_validator)


@cache
def _gate(name: str) -> Any:
    """The fast validator of a schema, which says yes or no; None where it is not to be had."""
    try:
        import jsonschema_rs
    except ImportError:
        return None
    return jsonschema_rs.validator_for(load_schema(name), validate_formats=True)


def _sound(name: str, value: Mapping[str, Any]) -> bool:
    """Whether the fast validator has nothing against a file; what it can't take, the reference validator looks at."""
    gate = _gate(name)
    try:
        return gate is not None and bool(gate.is_valid(value))
    except (TypeError, ValueError):
        return False


def _place(path: Iterable[Any], value: Any) -> str:
    """Where in a TOML file a fault is: ``rule "id" / way / 2``."""
    steps: list[str] = []
    for step in path:
        try:
            value = value[step]
        except (KeyError, IndexError, TypeError):
            value = None
        if isinstance(step, int) and isinstance(value, dict) and ("id" in value or "name" in value):
            steps[-1] = f'{steps[-1]} "{str(value.get("id", value.get("name")))[:60]}"'
        else:
            steps.append(str(step + 1) if isinstance(step, int) else str(step))
    return " / ".join(steps)


MOST_SAID = 60
_WORDS = "small letters, digits and hyphens, such as low-handles"
_WRITTEN = {
    "^[0-9]{4}$": "a year, such as 2020",
    "^[a-z0-9]+(-[a-z0-9]+)*$": _WORDS,
    "^[a-z][a-z0-9]*(-[a-z0-9]+)*$": _WORDS,
    "^[a-z][a-z0-9_]*$": "small letters, digits and underscores, such as least_height",
}
"""How what a pattern asks for is written, in words; other patterns stand beside a description that says it."""


def _meaning(key: str, schema: Any) -> str:
    """What a key is, in brackets, as its schema says in a short sentence."""
    said = schema.get("properties", {}).get(key, {}).get("description", "").partition(". ")[0].rstrip(".")
    return f" ({said[0].lower()}{said[1:]})" if 0 < len(said) <= MOST_SAID else ""


def _word(error: Any, schema: Any) -> str:
    value, limit = error.instance, error.validator_value
    match error.validator:
        case "additionalProperties" if isinstance(value, dict) and "properties" in error.schema:
            known = error.schema["properties"]
            extra = [key for key in value if key not in known]
            more = f"; and {len(extra) - 10} more are not" if len(extra) > 10 else ""
            return "; ".join(f'"{k[:60]}" is not known here; {nearest(k, known)}' for k in extra[:10]) + more
        case "required":
            return f"lacks {', '.join(k + _meaning(k, error.schema) for k in limit if k not in value)}"
        case "enum":
            return f"is {short(value)}; {nearest(str(value), map(str, limit))}"
        case "pattern" if error.schema.get("format") == "date":
            return f"is {short(value)}; write a date as year-month-day, such as 2026-12-31"
        case "pattern":
            return f"is {short(value)}; write {_WRITTEN.get(limit) or error.schema.get('description', limit)}"
        case "format":
            return f"is {short(value)}, which is no day of the calendar"
        case "type" if limit == "string" and isinstance(value, int | float) and not isinstance(value, bool):
            return f'is {value}; write it in quotes, "{value}"'
        case "type":
            by_edition = " such as { 2020 = ... }" if limit == "object" else ""
            return f"is {short(value)}; it should be of type {limit}{by_edition}"
        case "anyOf":
            if any("properties" in one for one in limit):
                return f'is {short(value)}; it should be a title, or {{ title = ..., code = "building" }}'
            return f"is {short(value)}; it should be a text, or texts by edition such as {{ 2020 = ... }}"
        case "minItems":
            return "is empty; leave it out, or fill it"
        case "maxLength":
            return f"is {len(value)} characters long; at most {limit} are allowed"
        case _:
            return f"{short(value)} can't be used: {error.message[:160]}"
