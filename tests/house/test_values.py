"""JSON texts: the fast parser gives what the standard library's gives, or leaves the text to that.

Source: RFC 8259 (from memory) and Python's own ``json`` as the reference.
"""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import ampcite
from ampcite.house.values import parse_fast, parse_json

KEYS = st.sampled_from(["a", "b", ":", '":', "c:d", "\\", "ü", ""])
VALUES: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**63), 2**63) | st.floats(allow_nan=False, allow_infinity=False) | KEYS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
)


def same(a: Any, b: Any) -> bool:
    """Equal, and of the same types: ``1``, ``1.0`` and ``True`` are told apart."""
    if isinstance(a, dict) and isinstance(b, dict):
        return a.keys() == b.keys() and all(same(value, b[key]) for key, value in a.items())
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(map(same, a, b))
    return type(a) is type(b) and (a == b) and (not isinstance(a, float) or math.copysign(1, a) == math.copysign(1, b))


@given(value=VALUES, spaced=st.booleans(), escaped=st.booleans())
def test_what_the_fast_parser_gives_is_the_value(value: Any, spaced: bool, escaped: bool) -> None:
    text = json.dumps(value, ensure_ascii=escaped, separators=(" , ", " : ") if spaced else (",", ":")).encode()
    fast = parse_fast(text)
    assert fast is None or same(fast, value)
    assert same(parse_json(text, "it"), value)


@given(pairs=st.lists(st.tuples(KEYS, VALUES), min_size=1, max_size=4), escaped=st.booleans(), space=st.booleans())
def test_a_field_given_twice_is_never_dropped(pairs: list[tuple[str, Any]], escaped: bool, space: bool) -> None:
    pairs = [*pairs, pairs[0]]
    inner = (f"{json.dumps(k, ensure_ascii=escaped)}{' ' * space}:{json.dumps(v)}" for k, v in pairs)
    text = ("{" + ",".join(inner) + "}").encode()
    assert parse_fast(text) is None
    with pytest.raises(ampcite.InputError, match="twice"):
        parse_json(text, "it")


DEEP = b"[" * 2000 + b"]" * 2000


@pytest.mark.parametrize("text", [b"{", b"[1e999]", b"[NaN]", b'"\\ud800"', DEEP, b"\xef\xbb\xbf{}"])
def test_what_only_the_careful_parser_can_judge_is_left_to_it(text: bytes) -> None:
    assert parse_fast(text) is None


def test_an_integer_of_any_length_is_told_as_it_is_written() -> None:
    with pytest.raises(ampcite.InputError, match="12345678901234567890123"):
        ampcite.read(b'{"panels": [{"id": "P", "main_overcurrent": 12345678901234567890123}]}')
