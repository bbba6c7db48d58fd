"""Where a field can't belong: conditions read from the schema's ``if``/``then`` and ``noneWhere``.

A condition is asked of facts and never of silence: where the fact it rests on is not known, it does not hold.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

import attrs

from ampcite.language.logic import ABSENT

Test = tuple[str, frozenset[Any], bool]
"""The path of a fact, words, and whether the fact must be one of them (or must be none of them)."""


@attrs.frozen(eq=False)
class Condition:
    """Facts of a part, or of parts it leads to, under which some of its fields can't belong to it.

    Attributes:
        title: what such a part is called: "a rooftop segment".
        tests: what is asked of facts; all must hold. A path may lead upward (``../kind``), from
            the whole (``/backup``) or through a reference (``electronics/kind``).
        barred: paths of what can't belong: fields, objects and lists.
        fields: paths of the fields among them and inside them.
        own: whether all that is asked are facts of the part itself.
    """

    title: str
    tests: tuple[Test, ...]
    barred: tuple[str, ...]
    fields: tuple[str, ...]
    own: bool


@attrs.frozen(eq=False)
class Presumption:
    """What holds of a part where nobody says otherwise, by other facts of it: outdoors is wet.

    Attributes:
        tests: what is asked of facts; all must hold. Besides, ``strings[input]`` asks how many strings refer to
            it, ``modules[]`` how many modules there are.
        then: the facts that are taken for granted then, by path; of an object, that there is none.
    """

    tests: tuple[Test, ...]
    then: Mapping[str, Any]


def conditions(schema: Mapping[str, Any], fields: Iterable[str]) -> Iterator[Condition]:
    """The conditions that the schema of a part sets.

    Args:
        schema: of the part.
        fields: the path of every field of the part type.
    """
    for one in schema.get("allOf", ()):
        barred = tuple(_barred(one["then"], ""))
        yield _condition(one["title"], _tests(one["if"], ""), barred, fields)
    for one in schema.get("noneWhere", ()):
        asked = (_test(path, asked) for path, asked in one["if"].items())
        yield _condition(one["title"], asked, tuple(one["none"]), fields)


def presumptions(schema: Mapping[str, Any]) -> Iterator[Presumption]:
    """What the schema of a part takes for granted by other facts of the part."""
    for one in schema.get("presumed", ()):
        then = {path: ABSENT if value is None else value for path, value in one["then"].items()}
        yield Presumption(tuple(_test(path, asked) for path, asked in one["if"].items()), then)


def _condition(title: str, tests: Iterable[Test], barred: tuple[str, ...],
               fields: Iterable[str]) -> Condition:  # fmt: skip
    within = tuple(f"{path}/" for path in barred)
    tests, fields = tuple(tests), tuple(fields)
    own = all("/" not in path or path in fields for path, _, _ in tests)
    inside = tuple(f for f in fields if f in barred or f.startswith(within))
    return Condition(title, tests, barred, inside, own)


def _barred(schema: Mapping[str, Any], prefix: str) -> Iterator[str]:
    for key, asked in schema["properties"].items():
        if asked is False:
            yield f"{prefix}{key}"
        else:
            yield from _barred(asked, f"{prefix}{key}/")


def _tests(schema: Mapping[str, Any], prefix: str) -> Iterator[Test]:
    for key, asked in schema["properties"].items():
        path = f"{prefix}{key}"
        if "properties" in asked:
            yield from _tests(asked, f"{path}/")
        else:
            yield _test(path, asked)


def _test(path: str, asked: Mapping[str, Any]) -> Test:
    """What is asked of one fact: ``const``, ``enum``, ``type: null``, or ``not`` of one of these."""
    if "not" in asked:
        _, words, one_of = _test(path, asked["not"])
        return path, words, not one_of
    wanted = [None] if asked.get("type") == "null" else asked["enum"] if "enum" in asked else [asked["const"]]
    return path, frozenset(ABSENT if value is None else value for value in wanted), True


NOT_BELONGING = "leave it out"
"""What every complaint about a field that can't belong to its part ends with."""


def refusal(condition: Condition, title: str) -> str:
    """What is said where something is stated that can't belong to its part."""
    return f'{condition.title} has no "{title}"; {NOT_BELONGING}'


def in_itself(part: Mapping[str, Any]) -> Callable[[str], Any]:
    """Gives the facts that a part says itself, as the JSON value has them; None for all else."""

    def fact(path: str) -> Any:
        here: Any = part
        for step in path.split("/"):
            if not isinstance(here, Mapping) or step not in here:
                return None
            here = here[step]
        return ABSENT if here is None else here

    return fact


def holds(condition: Condition | Presumption, fact: Callable[[str], Any]) -> bool:
    """Whether a condition holds of a part.

    Args:
        condition: the condition.
        fact: gives the fact a path leads to; None where it is not known.
    """
    for path, words, one_of in condition.tests:
        value = fact(path)
        if value is None or (value in words) is not one_of:
            return False
    return True


def open_to(condition: Condition, fact: Callable[[str], Any]) -> bool:
    """Whether a condition may hold of a part: some fact that it asks is not known, and no known one is against it."""
    known = [(fact(path), words, one_of) for path, words, one_of in condition.tests]
    against = any(value is not None and (value in words) is not one_of for value, words, one_of in known)
    return not against and any(value is None for value, _, _ in known)
