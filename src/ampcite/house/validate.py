"""The gate a description passes first: it is JSON, and the schema's; what is not is worded in one sentence each."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from functools import lru_cache
from numbers import Integral, Real
from typing import Any

import attrs

from ampcite.base.errors import MOST_COMPLAINTS, Complaint, InputError, nearest, short
from ampcite.base.resources import schema_validator
from ampcite.house.part_types import description_schema


def parse_json(text: bytes, name: str) -> Any:
    """The value of a JSON text. Raises InputError, also for a field given twice and for NaN."""

    def twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        out = dict(pairs)
        if len(out) != len(pairs):
            seen: set[str] = set()
            again = next(key for key, _ in pairs if key in seen or seen.add(key))  # type: ignore[func-returns-value]
            raise ValueError(f'gives the field "{again[:60]}" twice in one object; keep one of them')
        return out

    def no_number(word: str) -> Any:
        raise ValueError(f"holds {word}, which is not a number in JSON; leave the field out if it is not known")

    try:
        value = json.loads(text.decode("utf-8-sig"), object_pairs_hook=twice, parse_constant=no_number)
        if b"\\ud" in text or b"\\uD" in text:
            json.dumps(value, ensure_ascii=False).encode()
        return value
    except UnicodeEncodeError:
        said = "holds half of a surrogate pair (\\ud800 to \\udfff); write the whole character"
    except UnicodeDecodeError as fault:
        said = f"is not UTF-8 text (byte {fault.start}); save it as UTF-8"
    except json.JSONDecodeError as fault:
        said = f"is not JSON at line {fault.lineno}, column {fault.colno}: {fault.msg[0].lower()}{fault.msg[1:]}"
    except RecursionError:
        said = _TOO_DEEP
    except ValueError as fault:
        said = str(fault) if "gives" in str(fault) or "holds" in str(fault) else "holds a number with too many digits"
    raise InputError([Complaint(name, "", said)])


# --- what a Python caller gives -----------------------------------------------------------------------------


def as_json(value: Any, name: str) -> Any:
    """The JSON value that a Python value stands for: numbers of every kind of Python and numpy as int and float.

    Raises:
        InputError: with the place of everything that JSON has no word for, or when it is nested too deep.
    """
    complaints: list[Complaint] = []
    try:
        out = _as_json(value, (), complaints)
    except RecursionError:
        complaints = [Complaint("", "", _TOO_DEEP)]
    if complaints:
        raise InputError([attrs.evolve(complaint, file=name) for complaint in complaints])
    return out


def _as_json(value: Any, path: tuple[Any, ...], complaints: list[Complaint]) -> Any:
    kind = type(value)
    if kind is dict or (kind not in _PLAIN and isinstance(value, Mapping)):
        for key in value:
            if not isinstance(key, str):
                said = f"has the field {short(key)}, which is no text; the fields of an object are named by texts"
                complaints.append(Complaint("", pointer(path), said))
        return {str(key): _as_json(item, (*path, key), complaints) for key, item in value.items()}
    if kind is list or kind is tuple:
        return [_as_json(item, (*path, i), complaints) for i, item in enumerate(value)]
    if kind in _PLAIN:
        return value
    if hasattr(value, "tolist"):  # numpy's arrays, and its numbers, texts and flags
        return _as_json(value.tolist(), path, complaints)
    if isinstance(value, str):
        return str.__str__(value)
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real | Decimal):
        number: Any = value
        try:
            return float(number)
        except OverflowError:
            return -math.inf if number < 0 else math.inf
        except ValueError:  # a signalling NaN
            return math.nan
    said = f"is {short(value)}, of Python's type {kind.__name__}, which JSON has no word for"
    complaints.append(Complaint("", pointer(path), said))
    return None


_PLAIN = frozenset({str, int, float, bool, type(None)})


# --- the schema: a fast gate before the reference validator, which words what the gate refuses --------------


@lru_cache(maxsize=1)
def _gate() -> Any:
    """The fast validator; where it can't be had, as in a browser, the reference does its work."""
    try:
        import jsonschema_rs
    except ImportError:
        return _reference()
    return jsonschema_rs.Draft202012Validator(description_schema())


@lru_cache(maxsize=1)
def _reference() -> Any:
    return schema_validator("description.schema.json")


def schema_errors(document: Mapping[str, Any], name: str) -> tuple[list[Complaint], list[Any]]:
    """What the schema refuses: as complaints, and as the validator's errors; nothing of a valid document.

    Raises:
        InputError: when the document is nested too deep to be looked through.
    """
    try:
        if _gate().is_valid(document):
            return [], []
    except (ValueError, TypeError, RecursionError, OverflowError):
        pass
    try:
        found = sorted(_reference().iter_errors(document), key=lambda e: [str(p) for p in e.absolute_path])
        complaints = [c for error in found for c in _word(error, name)]
    except RecursionError:
        raise InputError([Complaint(name, "", _TOO_DEEP)]) from None
    except ValueError:  # an integer too long to be printed, which only a Python caller can give
        return schema_errors(_capped(document), name)
    return complaints, found


def _capped(value: Any) -> Any:
    """A JSON value with integers too long to be printed cut down to ones that are merely absurd."""
    if isinstance(value, dict):
        return {key: _capped(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_capped(item) for item in value]
    return min(max(value, -(10**400)), 10**400) if isinstance(value, int) and not isinstance(value, bool) else value


_TOO_DEEP = "is nested deeper than any description; look for unclosed brackets"


def _word(error: Any, name: str) -> Iterator[Complaint]:
    place = pointer(error.absolute_path)
    value, schema, limit = error.instance, error.schema, error.validator_value
    unit = schema.get("unit", "")
    unit = f" {unit}" if unit else ""
    match error.validator:
        case "additionalProperties":
            for i, key in enumerate(key for key in value if key not in schema["properties"]):
                hint = nearest(key, schema["properties"]) if i < MOST_COMPLAINTS else ""
                yield Complaint(name, place + pointer([key]), f"is not a field of {schema['title']}; {hint}")
        case "required":
            lacking = next(key for key in limit if key not in value)
            yield Complaint(name, place, f'has no "{lacking}"; every {schema["title"]} has one')
        case "enum":
            words = [str(v) for v in limit if v is not None]
            said = nearest(_as_listed(value, words) if isinstance(value, str | int) else "", words)
            if isinstance(value, str) and value in words:
                said = f"write {value} without quotes"
            yield Complaint(
                name, place, f"is {short(value)}, which is not a {schema.get('title', 'word')} known here; {said}"
            )
        case "type":
            kinds_ = [limit] if isinstance(limit, str) else limit
            want = " or ".join(_TYPE_WORDS[t] for t in kinds_ if not (t == "string" and "number" in kinds_))
            more = f" ({unit.strip()}), or text with a unit" if "number" in kinds_ and unit else ""
            bare = ", without quotes" if isinstance(value, str) and "integer" in kinds_ else ""
            yield Complaint(name, place, f"is {short(value)}; {schema.get('title', 'it')} must be {want}{more}{bare}")
        case "minimum" | "exclusiveMinimum" | "maximum":
            yield Complaint(name, place, out_of_bounds(value, error.validator, limit, schema["title"], unit))
        case "pattern" if "unit" not in schema:
            yield Complaint(name, place, f"is {short(value)}; it must be written thus: {schema['description']}")
        case "pattern":
            want = f"a number in{unit}" if unit else "a number"
            said = f"is {short(value)}; {schema['title']} must be {want}, or text that begins with one"
            yield Complaint(name, place, said)
        case "uniqueItems":
            yield Complaint(name, place, "names one part twice; name each once")
        case "minItems" | "maxItems":
            word = "at least" if error.validator == "minItems" else "at most"
            yield Complaint(name, place, f"has {len(value)} entries; {schema['title']} has {word} {limit}")
        case "maxLength":
            yield Complaint(name, place, f"is {len(value)} characters long; at most {limit} are kept")
        case _:
            yield Complaint(name, place, f"is {short(value)}, which {schema.get('title', 'it')} can't be")


_SIZE = re.compile(r"(?:no\.?|#)?\s*([0-9]+(?:/0)?)\s*(?:awg|ga|gauge|kcmil|mcm)?\.?", re.IGNORECASE)


def _as_listed(value: str | int, words: Sequence[str]) -> str:
    """A size of conductor or raceway as it is listed here, from how a drawing has it ("#12", "1/0")."""
    text = str(value)
    size = _SIZE.fullmatch(text.strip())
    named = size.group(1) if size else re.sub(r'\s*("|in\.?|inch)$', "", text.strip()).replace(" ", "-")
    return next((word for word in words if word in (named, f"{named} AWG", f"{named} kcmil")), text)


_TYPE_WORDS = {"object": "an object in curly brackets", "array": "a list in square brackets",
               "string": "a text", "number": "a number",
               "integer": "a whole number", "boolean": "true or false", "null": "null"}  # fmt: skip


def out_of_bounds(value: Any, bound: str, limit: float, title: str, unit: str) -> str:
    word = {"minimum": "at least", "exclusiveMinimum": "more than", "maximum": "at most"}[bound]
    return f"is {short(value)}{unit}; {title} must be {word} {limit}{unit}"


def pointer(path: Any) -> str:
    """A JSON Pointer from its steps."""
    return "".join("/" + str(step)[:80].replace("~", "~0").replace("/", "~1") for step in path)
