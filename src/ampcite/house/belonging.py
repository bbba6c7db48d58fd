"""Where a field can't belong: conditions read from the schema's ``if``/``then`` and ``noneWhere``.

A condition is asked of facts and never of silence: where the fact it rests on is not known, it does not hold.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

import attrs

from ampcite.language.logic import ABSENT

Leaf = Callable[[Any], bool | None]
"""Whether a fact is as a condition asks; None where it is not known."""


@attrs.frozen
class Condition:
    """Facts of a part, or of parts it leads to, under which some of its fields can't belong to it.

    Attributes:
        title: what such a part is called: "a rooftop segment".
        tests: paths of facts, each with what is asked of it; all must hold. A path may lead upward (``../kind``), from
            the whole (``/backup``) or through a reference (``electronics/kind``).
        barred: paths of what can't belong: fields, objects and lists.
        fields: paths of the fields among them and inside them.
        own: whether all that is asked are facts of the part itself.
    """

    title: str
    tests: tuple[tuple[str, Leaf], ...]
    barred: tuple[str, ...]
    fields: tuple[str, ...]
    own: bool


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
        asked = ((path, _leaf(asked)) for path, asked in one["if"].items())
        yield _condition(one["title"], asked, tuple(one["none"]), fields)


def _condition(title: str, tests: Iterable[tuple[str, Leaf]], barred: tuple[str, ...],
               fields: Iterable[str]) -> Condition:  # fmt: skip
    within = tuple(f"{path}/" for path in barred)
    tests, fields = tuple(tests), tuple(fields)
    own = all("/" not in path or path in fields for path, _ in tests)
    inside = tuple(f for f in fields if f in barred or f.startswith(within))
    return Condition(title, tests, barred, inside, own)


def _barred(schema: Mapping[str, Any], prefix: str) -> Iterator[str]:
    for key, asked in schema["properties"].items():
        if asked is False:
            yield f"{prefix}{key}"
        else:
            yield from _barred(asked, f"{prefix}{key}/")


def _tests(schema: Mapping[str, Any], prefix: str) -> Iterator[tuple[str, Leaf]]:
    for key, asked in schema["properties"].items():
        path = f"{prefix}{key}"
        if "properties" in asked:
            yield from _tests(asked, f"{path}/")
        else:
            yield path, _leaf(asked)


def _leaf(asked: Mapping[str, Any]) -> Leaf:
    """What is asked of one fact: ``const``, ``enum``, ``type: null``, or ``not`` of one of these."""
    if "not" in asked:
        inner = _leaf(asked["not"])

        def denied(value: Any) -> bool | None:
            found = inner(value)
            return None if found is None else not found

        return denied
    wanted = [None] if asked.get("type") == "null" else asked["enum"] if "enum" in asked else [asked["const"]]
    words = frozenset(ABSENT if value is None else value for value in wanted)

    def one_of(value: Any) -> bool | None:
        return None if value is None else value in words

    return one_of


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


def holds(condition: Condition, fact: Callable[[str], Any]) -> bool:
    """Whether a condition holds of a part.

    Args:
        condition: the condition.
        fact: gives the fact a path leads to; None where it is not known.
    """
    return all(test(fact(path)) is True for path, test in condition.tests)
