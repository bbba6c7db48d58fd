"""What is wrong, where, and what to do: one sentence a complaint, all complaints at once."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from typing import Any

import attrs


@attrs.frozen
class Complaint:
    """One thing that is wrong.

    Attributes:
        file: the file it was found in, as the caller named it.
        place: where in that file: a JSON Pointer, a table path, or a line.
        message: one sentence: what was found, what is allowed, what to do.
    """

    file: str
    place: str
    message: str

    def __str__(self) -> str:
        return ": ".join(part for part in (self.file, self.place, self.message) if part)


MOST_COMPLAINTS = 100
"""How many faults are told at once; the last complaint says how many more there are."""


class AmpciteError(Exception):
    """Input that can't be used.

    ``complaints`` holds every fault found, not only the first; of very many, the first hundred, and how many more.
    """

    complaints: tuple[Complaint, ...]

    def __init__(self, complaints: Iterable[Complaint]) -> None:
        found = tuple(complaints)
        more = len(found) - MOST_COMPLAINTS
        if more > 1:
            rest = Complaint(found[MOST_COMPLAINTS].file, "", f"has {more} more faults; mend these first")
            found = (*found[:MOST_COMPLAINTS], rest)
        self.complaints = found
        super().__init__("\n".join(str(c) for c in self.complaints))

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.complaints,)


class InputError(AmpciteError):
    """A description that can't be used."""


class PackError(AmpciteError):
    """A rule pack that can't be used."""


class ArgumentError(AmpciteError, TypeError):
    """An argument of a call that can't be used, such as the edition of a code that does not exist."""

    def __init__(self, said: str) -> None:
        super().__init__([Complaint("", "", said)])

    def __reduce__(self) -> tuple[Any, ...]:
        return ArgumentError, (self.complaints[0].message,)


def wrong_argument(wanted: str, value: object) -> ArgumentError:
    """The error for an argument of another type; ``wanted`` says what the call takes."""
    plain = isinstance(value, str | int | float) and not isinstance(value, bool)
    found = short(value) if plain else "None" if value is None else f"something of type {type(value).__name__}"
    return ArgumentError(f"{wanted}, not {found}")


MOST_SHOWN = 420
"""How many characters of known names a complaint shows."""

MOST_COMPARED = 400
"""How many known names a misspelt one is compared with."""


def nearest(name: str, allowed: Iterable[str]) -> str:
    """``did you mean "x"?`` for a misspelt name, or the allowed names, in their order, where nothing is near.

    A whole number is no misspelling of another one.
    """
    import difflib

    names = list(dict.fromkeys(allowed))
    by_lower = {n.lower(): n for n in reversed(names[:MOST_COMPARED])}
    alike = 1.0 if name.isdigit() else 0.65
    near = difflib.get_close_matches(name[:80].lower(), list(by_lower), n=1, cutoff=alike)
    if near:
        return f'did you mean "{by_lower[near[0]]}"?'
    room = list(itertools.accumulate(len(n) + 4 for n in names))
    fits = sum(1 for r in room if r <= MOST_SHOWN)
    shown = ", ".join(f'"{n}"' for n in names[:fits]) + (", ..." if len(names) > fits else "")
    return f"known here: {shown}" if names else "none is known here"


def short(value: object, limit: int = 60) -> str:
    """A found value as it can be shown in one sentence, whatever its size or depth."""
    if isinstance(value, dict):
        return f"an object of {len(value)} fields"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    try:
        text = f'"{value}"' if isinstance(value, str) else str(value)
    except ValueError:
        return "a number with too many digits"
    return text if len(text) <= limit else text[:limit] + "..."
