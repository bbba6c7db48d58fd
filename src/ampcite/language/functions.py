"""What the functions of the formula language do with plain values; those of Python's own are not here."""

from __future__ import annotations

import math
from datetime import date
from functools import lru_cache
from typing import Any

from ampcite.language.logic import ABSENT, close


def divide(a: float, b: float) -> float:
    """A quotient. Raises OverflowError where it is no finite number, ZeroDivisionError where there is none."""
    out = a / b
    if not math.isfinite(out):
        raise OverflowError
    return out


def multiply(a: float, b: float) -> float:
    """A product. Raises OverflowError where it is no finite number."""
    out = a * b
    if not math.isfinite(out):
        raise OverflowError
    return out


def whole(value: float) -> float:
    """The whole part of a number, forgiving what comparisons forgive."""
    nearest = round(value)
    return float(nearest) if close(nearest, value) else float(math.floor(value))


GAP = " ... "
"""What stands between phrases of which a text has to hold each, whatever else stands between them."""


def contains_phrases(text: str, phrases: str) -> bool:
    """Whether a text holds each of some phrases joined by :data:`GAP`, capitals, stops and spaces aside."""
    plain = f" {_plain(text)} "
    return all(f" {_plain(phrase)} " in plain for phrase in phrases.split(GAP))


def begins_with(text: str, words: str) -> bool:
    """Whether a text begins with some words, capitals, stops and spaces aside."""
    return f"{_plain(text)} ".startswith(f"{_plain(words)} ")


@lru_cache(maxsize=4096)
def _plain(text: str) -> str:
    return " ".join("".join(c if c.isalnum() else " " for c in text.casefold()).split())


def day(written: Any) -> float:
    """The number of the day of a date, the first of January of the year 1 being 1.

    Raises ValueError, TypeError or OverflowError for a text that is no date written year-month-day.
    """
    return float(date(*map(int, written.split("-"))).toordinal())


def largest(numbers: Any) -> Any:
    """The largest of a list of numbers. Raises TypeError or ValueError where one is no number or there is none."""
    return max(numbers) + 0


def least(numbers: Any) -> Any:
    """The least of a list of numbers. Raises TypeError or ValueError where one is no number or there is none."""
    return min(numbers) + 0


def all_equal(items: Any) -> bool:
    """Whether all of a list are the same."""
    first = items[0] if items else None
    if isinstance(first, int | float):
        return all(isinstance(i, int | float) and close(i, first) for i in items)
    return all(i == first for i in items)


def text_at(numbers: Any, texts: Any, largest: bool) -> Any:
    """The text that belongs to the largest (or least) number; the first, where several are.

    Raises TypeError where the two lists do not belong together.
    """
    if len(numbers) != len(texts) or not all(isinstance(n, int | float) for n in numbers):
        raise TypeError
    pick = max(numbers) if largest else min(numbers)
    return texts[list(numbers).index(pick)]


# --- statements of which something is not known: true, false or None ------------------------------------------


def all_true(*values: bool | None) -> bool | None:
    """Kleene's *and*."""
    return False if False in values else None if None in values else True


def one_true(*values: bool | None) -> bool | None:
    """Kleene's *or*."""
    return True if True in values else None if None in values else False


def untrue(value: bool | None) -> bool | None:
    """Kleene's *not*."""
    return None if value is None else not value


def any_true(flags: Any) -> bool | None:
    """Whether one of a list of flags is true."""
    return None if flags is None else True if True in flags else None if None in flags else False


def all_same(items: Any, word: Any = True) -> bool | None:
    """Whether all of a list are a certain word, or flags that are true."""
    if items is None:
        return None
    if word is None:
        return None if items else True
    known = [item for item in items if item is not None]
    return False if known.count(word) < len(known) else None if len(known) < len(items) else True


def any_same(items: Any, word: Any) -> bool | None:
    """Whether one of a list is a certain word."""
    if items is None or word is None:
        return None if items is None or items else False
    return True if word in items else None if None in items else False


def any_absent(items: Any) -> bool | None:
    """Whether one of a list is said to be none."""
    return any_same(items, ABSENT)
