"""A queue of invented submissions with planted mistakes, drawn with a seed, for tests of the review and of the desk.

Each submission is one of the houses of the tests, the shipped ones and the lawful ones, with a few mistakes of those
that ``houses/mistakes.json`` lists. What a mistake is and which rules must name it stands there, and was written from
the code's figures and not from what the program says:

    kind    what a reviewer would call it
    at      the type of part it is made at ("" for the whole), ``where`` of which facts, each one of some values
            (``/service/work`` is one of the whole);
            ``breakers/*/serves`` are those of a part's breakers, one of which has to be of some values
    set     field to what it then says: a value, what is done to it (``plus``, ``times``, ``without``, ``shift``), or
            ``as`` a field of the whole
    rules   those that must name it; ``also`` those that may, because the same fault breaks them too or makes them ask
    adds    true where the fact need not be stated before
    beside  lists of the description that must not be empty for it to be a mistake
    every   true where it is made at all such parts at once
    apart   a submission has one mistake of those that bear the same word here: one of them would hide another

    python tests/submissions.py [SEED]      # how many of the planted mistakes the review finds, in how many comments
"""

from __future__ import annotations

import json
import random
import sys
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import attrs

import ampcite
from ampcite.house.change import LEFT_OUT, change
from ampcite.house.parts import Description, Part
from ampcite.language.logic import ABSENT
from shared import LAWFUL, SHIPPED, TESTS, plain, rulebook

SUBMISSIONS, MISTAKES = 60, 200
"""How many submissions a queue has, and how many mistakes there are in all of them together."""

HOUSES: Mapping[str, Path] = {**SHIPPED, **LAWFUL}
"""The houses that mistakes are planted in, by name."""

LISTED: Sequence[Mapping[str, Any]] = json.loads((TESTS / "houses" / "mistakes.json").read_text("utf-8"))


@attrs.frozen
class Planted:
    """A mistake as it was made in one house.

    Attributes:
        kind: what a reviewer would call it.
        changes: JSON Pointer to what the description says there now.
        before: what it said; :data:`LEFT_OUT` where it said nothing.
        rules: the rules that must name it.
        also: rules that the same fault may break too.
    """

    kind: str
    changes: Mapping[str, Any]
    before: Mapping[str, Any]
    rules: frozenset[str]
    also: frozenset[str]


class Submission(NamedTuple):
    """One of a queue: its number in words, the description as JSON, and the mistakes in it."""

    id: str
    description: dict[str, Any]
    planted: tuple[Planted, ...]


def queue(seed: int, submissions: int = SUBMISSIONS, mistakes: int = MISTAKES) -> Iterator[Submission]:
    """Submissions with mistakes in them, the same ones for the same seed.

    Args:
        seed: draws parts and kinds.
        submissions: how many.
        mistakes: how many in all of them together, spread evenly; kinds that were planted least come first.
    """
    draw = random.Random(seed)
    used = dict.fromkeys(range(len(LISTED)), 0)
    names = list(HOUSES)
    for i in range(submissions):
        name, wanted = names[i % len(names)], mistakes * (i + 1) // submissions - mistakes * i // submissions
        document, planted, taken, apart = house(name), list[Planted](), set[tuple[str, ...]](), set[str]()
        order = sorted(used, key=lambda n: (used[n], draw.random()))
        for n in order:
            if len(planted) == wanted:
                break
            if LISTED[n].get("apart") in apart:
                continue
            choices = [at for at in _places(name)[n] if not taken & _parts(LISTED[n], at)]
            choice = draw.choice(choices) if choices else ()
            made = _plant(LISTED[n], document, choice) if choice else None
            if made is not None:
                document, mistake = made
                planted.append(mistake)
                used[n] += 1
                taken |= _parts(LISTED[n], choice)
                apart |= {LISTED[n]["apart"]} if "apart" in LISTED[n] else set()
        yield Submission(f"{i + 1:02}-{name}", document, tuple(planted))


def alone(name: str) -> Iterator[Submission]:
    """A submission of a house for each of the listed mistakes, at each place where it can be made."""
    for one, places in zip(LISTED, _places(name), strict=True):
        for choice in places:
            made = _plant(one, house(name), choice)
            if made is not None:
                yield Submission(f"{name}{choice[0]}", made[0], (made[1],))


def cured(description: Mapping[str, Any], mistakes: Sequence[Planted]) -> dict[str, Any]:
    """A submission with some of its mistakes put right, as its designer would hand it in again."""
    out = dict(description)
    for mistake in reversed(mistakes):
        for pointer, value in reversed(mistake.before.items()):
            out = change(out, pointer, value)
    return out


@cache
def _read(name: str) -> Description:
    return ampcite.read(HOUSES[name])


def house(name: str) -> dict[str, Any]:
    """One of the houses as JSON, made anew."""
    document: dict[str, Any] = json.loads(HOUSES[name].read_text("utf-8"))
    return document


@cache
def _places(name: str) -> list[list[tuple[str, ...]]]:
    """Where each of the listed mistakes can be made in a house: the parts it is made at together."""
    description, out = _read(name), list[list[tuple[str, ...]]]()
    for one in LISTED:
        beside = all(description.parts[name] for name in one.get("beside", ()))
        there = description.parts[one["at"]] or ()
        fit = [part.pointer for part in there if beside and _fits(one, part, description.whole)]
        out.append([tuple(fit)] if fit and one.get("every") else [(at,) for at in fit])
    return out


def _fits(one: Mapping[str, Any], part: Part, whole: Part) -> bool:
    said = all(_is_one_of(_fact(whole if path[0] == "/" else part, path.removeprefix("/")), values)
               for path, values in one.get("where", {}).items())  # fmt: skip
    return said and (one.get("adds", False) or all(_stated(part, path) for path in one["set"]))


def _fact(part: Part, path: str) -> Any:
    of, listed, path = path.rpartition("/*/")
    return tuple(one.facts.get(path) for one in part.links[of] or ()) if listed else part.facts.get(path)


def _is_one_of(fact: Any, values: Sequence[Any]) -> bool:
    return bool(set(fact) & set(values)) if isinstance(fact, tuple) else fact in values


def _stated(part: Part, path: str) -> bool:
    below = [fact for name, fact in part.facts.items() if name == path or name.startswith(f"{path}/")]
    return any(fact is not ABSENT for fact in below)


def _parts(one: Mapping[str, Any], places: Sequence[str]) -> set[tuple[str, ...]]:
    """The parts that a mistake is made at, as far as two mistakes there could hide each other."""
    return {tuple(_steps(pointer)[:2]) for pointer, _ in _pointers(one, places)}


def _pointers(one: Mapping[str, Any], places: Sequence[str]) -> list[tuple[str, str]]:
    """Where a mistake changes a description, and which field of which part that is."""
    claimed = one["at"] == "claims/says"
    return [(at if claimed else f"{at}/{path}", path) for at in places for path in one["set"]]


def _steps(pointer: str) -> list[str]:
    return [step for step in pointer.split("/")[1:] if step not in ("all", "only")]


def _plant(one: Mapping[str, Any], document: dict[str, Any],
           places: Sequence[str]) -> tuple[dict[str, Any], Planted] | None:  # fmt: skip
    """The document with the mistake made; None where the house says so already."""
    description = ampcite.read(document)
    parts = {part.pointer: part for part in description.parts[one["at"]] or ()}
    changes: dict[str, Any] = {}
    before: dict[str, Any] = {}
    for pointer, path in _pointers(one, places):
        before[pointer] = _said(document, pointer)
        part = parts[pointer.removesuffix(f"/{path}")]
        fact = before[pointer] if part.kind == "claims/says" else part.facts.get(path)
        changes[pointer] = _wrong(one["set"][path], fact, description.whole)
        after = change(document, pointer, changes[pointer])
        if after == document:
            return None
        document = after
    rules, also = frozenset(one["rules"]), frozenset(one.get("also", ()))
    return document, Planted(one["kind"], changes, before, rules, also)


def _wrong(given: Any, fact: Any, whole: Part) -> Any:
    match given:
        case {"as": field}:
            return whole.facts[field]
        case {"plus": number}:
            return _number(fact + number)
        case {"times": number}:
            return _number(fact * number)
        case {"without": word}:
            return [one for one in fact if one != word]
        case {"shift": [x, y]}:
            return [[round(a + x, 3), round(b + y, 3)] for a, b in fact]
    return given


def _number(value: float) -> float:
    return int(value) if value == int(value) else round(value, 6)


def _said(document: dict[str, Any], pointer: str) -> Any:
    here: Any = plain(document)
    for step in pointer.split("/")[1:]:
        if isinstance(here, list) and step in ("all", "only"):
            continue
        name: Any = int(step) if isinstance(here, list) else step.replace("~1", "/").replace("~0", "~")
        if isinstance(here, dict) and name not in here:
            return LEFT_OUT
        here = here[name]
    return here


# --- what the review makes of them ----------------------------------------------------------------------------


@attrs.frozen
class Found:
    """What the review of one submission says of the mistakes in it.

    Attributes:
        comments: how many it writes.
        missed: the mistakes of which a rule that must name them is in no comment.
        unrelated: rules in comments that no mistake in it accounts for.
        open: rules that are not decided, and that no mistake in it accounts for.
    """

    submission: Submission
    comments: tuple[ampcite.Comment, ...]
    missed: tuple[Planted, ...]
    unrelated: frozenset[str]
    open: frozenset[str]


def found(submission: Submission) -> Found:
    """The review of a submission under the editions that it names."""
    description = ampcite.read(submission.description)
    review = ampcite.review(rulebook(description.editions["electrical"]), description)
    named = {f.rule for comment in review.comments for f in comment.findings}
    expected = frozenset[str]().union(*(p.rules | p.also for p in submission.planted))
    waiting = {f.rule for m in (*review.missing, *review.unbegun) for f in m.findings} | {f.rule for f in review.looks}
    return Found(submission, review.comments, tuple(p for p in submission.planted if not p.rules <= named),
                 frozenset(named - expected), frozenset(waiting - expected))  # fmt: skip


def main(seed: int) -> None:
    """Prints what is missed, what is unrelated, and how many comments there are for each mistake."""
    comments = planted = missed = unrelated = asked = 0
    kinds: set[str] = set()
    for submission in queue(seed):
        one = found(submission)
        comments, planted = comments + len(one.comments), planted + len(submission.planted)
        missed, unrelated, asked = missed + len(one.missed), unrelated + len(one.unrelated), asked + len(one.open)
        kinds |= {p.kind for p in submission.planted}
        for p in one.missed:
            print(f"{submission.id}: missed: {p.kind} at {', '.join(p.changes)}")
        if one.unrelated:
            print(f"{submission.id}: unrelated: {', '.join(sorted(one.unrelated))}")
        if one.open:
            print(f"{submission.id}: not decided: {', '.join(sorted(one.open))}")
    print(f"{SUBMISSIONS} submissions, {planted} mistakes of {len(kinds)} kinds: {planted - missed} found in "
          f"{comments} comments ({comments / planted:.2f} a mistake), {unrelated} rules unrelated, "
          f"{asked} not decided")  # fmt: skip


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1)
