"""The record of a letter as JSON: what was written, about what, so that the next round can go on from it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

import attrs

from ampcite.base.errors import Complaint, InputError
from ampcite.house.parts import Description
from ampcite.house.read import read
from ampcite.law.shape import faults_by
from ampcite.letters.records import Asked, Item, Letter, Requirement
from ampcite.letters.rounds import Earlier

SCHEMA = "https://ampcite.invalid/schemas/1.0/letter.schema.json"
MOST = 40_000_000
"""A record of more bytes is refused unread."""

T = TypeVar("T")


def to_record(letter: Letter, description: Description, earlier: Earlier | None, version: str) -> str:
    """The record, after ``schemas/letter.schema.json``.

    Args:
        letter: what was composed.
        description: the submission it is about.
        earlier: the record of the round before, whose numbers are not given again.
        version: of this package.
    """
    numbers = [one.number for one in letter.numbered]
    value = {
        "schema": SCHEMA, "ampcite": version, "last": max([*numbers, earlier.last if earlier else 0]),
        "letter": attrs.asdict(letter), "description": description.document, "catalogue": description.catalogue,
    }  # fmt: skip
    return json.dumps(value, indent=1) + "\n"


def read_record(path: str | Path) -> Earlier:
    """The record of a round, to be gone on from.

    Raises:
        InputError: when it is no such record, or the submission in it can't be read any more.
    """
    name = str(path)
    try:
        data = Path(path).read_bytes()
        if len(data) > MOST:
            raise InputError([Complaint(name, "", f"is larger than the {MOST} bytes a record may have")])
        value: Any = json.loads(data)
    except OSError as fault:
        raise InputError([Complaint(name, "", f"can't be read: {fault.strerror}")]) from None
    except (ValueError, RecursionError):
        raise InputError([Complaint(name, "", "is no JSON; the record of a letter stands beside it")]) from None
    if not isinstance(value, dict) or value.get("schema") != SCHEMA:
        raise InputError([Complaint(name, "", "is not the record of a letter, which stands beside the letter as JSON")])
    complaints = [Complaint(name, place, said) for _, place, said in faults_by("letter.schema.json", value)]
    if complaints:
        raise InputError(complaints)
    letter = value["letter"]
    items = tuple(_made(Item, one, required=tuple(_made(Requirement, r) for r in one["required"]))
                  for one in letter["items"])  # fmt: skip
    asked = tuple(_made(Asked, one) for one in letter["asked"])
    description = read(value["description"], name, value["catalogue"])
    earlier = Earlier(letter["round"], value["last"], items, asked, description)
    return attrs.evolve(earlier, last=max([earlier.last, *(one.number for one in earlier.numbered)]))


def _made(kind: type[T], said: Mapping[str, Any], **given: Any) -> T:
    """A record of its JSON, lists as tuples."""
    return kind(**{key: _tuples(value) for key, value in said.items()} | given)


def _tuples(value: Any) -> Any:
    return tuple(map(_tuples, value)) if isinstance(value, list) else value
