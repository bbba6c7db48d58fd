"""Verdicts and the logic of things not known.

Values that rules see are numbers, texts, flags and lists of them, or one of three that are no value:

* :class:`Unknown`: nobody has said; carries the pointers of the facts that are missing.
* :data:`ABSENT`: the description says there is none (``null``).
* :class:`Barred`: a table says this is not permitted; carries the reason.

An unknown never decides anything; a barred operand makes a statement untrue, and its denial untrue as well.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import Any

import attrs


class Verdict(StrEnum):
    """The answer of a rule. There is no fourth. They order by severity: the worst of several is their ``max``."""

    PASS = "pass"
    WARN = "warn"
    FAIL = "fail"

    @property
    def severity(self) -> int:
        """0 for pass, 1 for warn, 2 for fail."""
        return _SEVERITY[self]

    def __lt__(self, other: str) -> bool:
        return _SEVERITY[self] < _severity(other)

    def __le__(self, other: str) -> bool:
        return _SEVERITY[self] <= _severity(other)

    def __gt__(self, other: str) -> bool:
        return _SEVERITY[self] > _severity(other)

    def __ge__(self, other: str) -> bool:
        return _SEVERITY[self] >= _severity(other)


_SEVERITY: dict[str, int] = {verdict: severity for severity, verdict in enumerate(Verdict)}


def _severity(word: str) -> int:
    """Of a verdict, also where it is written as a plain text."""
    try:
        return _SEVERITY[word]
    except (KeyError, TypeError):
        raise TypeError(f"a verdict compares with pass, warn or fail, not with {word!r:.60}") from None


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The verdict of a whole from those of its parts; of no parts, pass."""
    return max(set(verdicts), default=Verdict.PASS)


@attrs.frozen
class Unknown:
    """Nobody has said. ``missing`` holds JSON Pointers of the facts that would decide."""

    missing: frozenset[str] = frozenset()
    why: str = ""

    def __or__(self, other: Unknown) -> Unknown:
        return Unknown(self.missing | other.missing, self.why or other.why)


@attrs.frozen
class OneOf(Unknown):
    """Which of some numbers it is depends on what nobody has said; what is so of all of them can still be told."""

    numbers: tuple[float, ...] = ()


def either_value(which: Any, yes: Any, no: Any) -> Any:
    """What a choice gives whose condition is not known: the value, where both sides give it; else what is missing."""
    if not isinstance(which, Unknown):
        return which
    sides = (*values_of(yes), *values_of(no)) if values_of(yes) and values_of(no) else ()
    if sides and all(close(side, sides[0]) for side in sides):
        return yes
    return OneOf(which.missing, which.why, sides) if sides else which


def values_of(value: Any) -> tuple[float, ...]:
    """The numbers that a value may be; none where it is not a number, or may be any."""
    if isinstance(value, OneOf):
        return value.numbers
    return (value,) if isinstance(value, int | float) and not isinstance(value, bool) else ()


@attrs.frozen
class Barred:
    """A table does not permit this; ``why`` says so in words."""

    why: str


class Absent:
    """The description says that there is none."""

    __slots__ = ()

    def __repr__(self) -> str:
        return "none"

    def __reduce__(self) -> str:
        return "ABSENT"


ABSENT = Absent()

TOLERANCE = 1e-9
"""Comparisons forgive one part in 10^9. This is the only place that says so."""


def close(a: float, b: float) -> bool:
    """Whether two numbers are the same but for one part in 10^9 of the larger."""
    return abs(a - b) <= TOLERANCE * max(abs(a), abs(b))


def _join(values: list[Any], kind: type) -> Any:
    found = [v for v in values if isinstance(v, kind)]
    out: Any = found[0]
    for other in found[1:]:
        if isinstance(other, Unknown):
            out = out | other
    return out


def both(values: list[Any]) -> Any:
    """Kleene's *and*: untrue as soon as one is untrue, unknown while one is unknown."""
    if any(v is False for v in values):
        return False
    for kind in (Barred, Unknown):
        if any(isinstance(v, kind) for v in values):
            return _join(values, kind)
    return True


def either(values: list[Any]) -> Any:
    """Kleene's *or*: true as soon as one is true, unknown while one is unknown."""
    if any(v is True for v in values):
        return True
    for kind in (Unknown, Barred):
        if any(isinstance(v, kind) for v in values):
            return _join(values, kind)
    return False


def denied(value: Any) -> Any:
    """*not*; what is unknown or barred stays so."""
    return value if isinstance(value, Unknown | Barred) else not value
