"""JSON values: out of a text, and out of what a Python caller gives."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from decimal import Decimal
from functools import lru_cache
from numbers import Integral, Real
from typing import Any

import attrs

from ampcite.base.errors import Complaint, InputError, short

try:
    import orjson
except ImportError:  # where there is no build of it, such as in a browser: the same values, more slowly
    orjson = None  # type: ignore[assignment]

TOO_DEEP = "is nested deeper than any description; look for unclosed brackets"


def pointer(path: Any) -> str:
    """A JSON Pointer from its steps."""
    return "".join([_token(str(step)[:80]) for step in path])


@lru_cache(maxsize=4096)
def _token(step: str) -> str:
    return "/" + step.replace("~", "~0").replace("/", "~1")


def parse_fast(text: bytes) -> Any:
    """The value of a JSON text in which no letter is escaped; None where something may be wrong with it.

    Integers of more than 64 bits come as floats. Of a field given twice the fast parser keeps the last: there are then
    fewer colons in what was read than in the text.
    """
    if orjson is None or (b"\\" in text and b"\\u" in text):
        return None
    try:
        value = orjson.loads(text)
        return value if orjson.dumps(value).count(b":") == text.count(b":") else None
    except (ValueError, TypeError):  # no JSON, and what is nested too deep
        return None


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
        said = TOO_DEEP
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
        complaints = [Complaint("", "", TOO_DEEP)]
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


def merged(each: Any, one: Any) -> Any:
    """What is said for each part of a list, with what one of them says on top; objects are merged."""
    if not (isinstance(each, Mapping) and isinstance(one, Mapping)):
        return one
    return {**each, **{key: merged(each[key], said) if key in each else said for key, said in one.items()}}
