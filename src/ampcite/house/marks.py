"""What a description marks: values that are still to be stated, and values that are still those of an example.

The text "?" stands for a value that nobody has stated yet, wherever a value can stand, so that a description to be
filled in shows what it waits for. ``taken_over`` says, by JSON Pointer, which values came from an example; one counts
until it is changed, or until its line there is taken out because it is meant.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ampcite.house.values import pointer

STILL_TO_STATE = "?"
TAKEN_OVER = "taken_over"
Marks = dict[str, Any]
"""What is open, by the steps that lead to it: an object of what is open below each step, empty where all is."""

_LISTS = ("all", "only")
_A_MODEL = 3
"""The steps to an equipment model, which parts name and which so is there whatever is known of it."""


def stated(document: Mapping[str, Any]) -> tuple[dict[str, Any], tuple[str, ...], Marks]:
    """What a description states, the JSON Pointers of what it marks as still to be stated, and all that so is open.

    An object or a list in which nothing but marks stands, and a list in which a mark stands for a part, is not stated
    either: that there is one would be more than is known.
    """
    marks: list[str] = []
    still_open: Marks = {}
    out = _stated(document, [], marks, still_open)
    return ({} if out is STILL_TO_STATE else out), tuple(marks), still_open


def _stated(value: Any, path: list[str | int], marks: list[str], still_open: Marks) -> Any:
    out = _inside(value, path, marks, still_open)
    if out is STILL_TO_STATE:
        if value == STILL_TO_STATE:
            marks.append(pointer(path))
        for step in path[:-1]:
            still_open = still_open.setdefault(str(step), {})
        if path:
            still_open.setdefault(str(path[-1]), {})
    return out


def _inside(value: Any, path: list[str | int], marks: list[str], still_open: Marks) -> Any:
    if value == STILL_TO_STATE:
        return STILL_TO_STATE
    if isinstance(value, dict):
        said = {key: item if key == TAKEN_OVER and not path else _stated(item, [*path, key], marks, still_open)
                for key, item in value.items()}  # fmt: skip
        kept = {key: item for key, item in said.items() if item is not STILL_TO_STATE}
        nothing = bool(said) and not kept and not (path[:1] == ["equipment"] and len(path) == _A_MODEL)
        endless = any(said.get(word) is STILL_TO_STATE for word in _LISTS)
        return STILL_TO_STATE if nothing or endless else kept
    if isinstance(value, list):
        rows = [_stated(item, [*path, i], marks, still_open) for i, item in enumerate(value)]
        return STILL_TO_STATE if any(row is STILL_TO_STATE for row in rows) else rows
    return value


def at(marks: Marks, place: str) -> Marks:
    """The marks inside what stands at a JSON Pointer."""
    for step in place.split("/")[1:] if marks else ():
        marks = marks.get(step.replace("~1", "/").replace("~0", "~"), {})
    return marks


def is_open(marks: Marks, place: str) -> bool:
    """Whether what would stand at a JSON Pointer, or be said there for each part of its list, is marked as open."""
    before, _, rest = place.rpartition("/all/" if "/all/" in place else "/only/")
    places = (place, f"{before}/each/{rest.partition('/')[2]}") if rest != place else (place,)
    return any(_leads_to_mark(marks, one) for one in places)


def _leads_to_mark(marks: Marks, place: str) -> bool:
    for step in place.split("/")[1:]:
        inner = marks.get(step.replace("~1", "/").replace("~0", "~"))
        if not inner:
            return inner is not None
        marks = inner
    return False


def for_one(marks: Marks, one: Mapping[str, Any], own: Marks) -> Marks:
    """What is open at a part of a list: what it marks itself, and of what is said for each part what it leaves open.

    Args:
        marks: those in what is said for each.
        one: what the part says; what it states it does not leave open.
        own: those in that.
    """
    out = {key: for_one(below, {}, {}) for key, below in own.items()}
    for key, below in marks.items():
        said = one.get(key)
        if key not in one and own.get(key) != {}:
            out[key] = for_one(below, {}, own.get(key, {}))
        elif isinstance(said, Mapping) and (inside := for_one(below, said, own.get(key, {}))):
            out[key] = inside
    return out


def unmarked(each: Mapping[str, Any], marks: Marks) -> dict[str, Any]:
    """What is said for each part of a list, without what is still to be stated of one of them."""
    out = dict(each)
    for key, below in marks.items():
        inside = out.get(key)
        endless = any(not mark and (word in _LISTS or word.isdigit()) for word, mark in below.items())
        if below and isinstance(inside, list) and not endless:
            continue  # what is open in its rows is not there, and rows of the part's own replace them
        out.pop(key, None)
        if below and isinstance(inside, Mapping):
            left = unmarked(inside, below)
            if left and not any(word in inside and word not in left for word in _LISTS):
                out[key] = left
    return out


def still_of_example(document: Mapping[str, Any]) -> tuple[str, ...]:
    """The JSON Pointers of the values that are still those that were taken over from an example."""
    return tuple(place for place, value in document.get(TAKEN_OVER, {}).items() if _at(document, place) == value)


def _at(document: Any, place: str) -> Any:
    here = document
    for step in place.split("/")[1:]:
        key = step.replace("~1", "/").replace("~0", "~")
        if isinstance(here, list):
            here = here[int(key)] if key.isdigit() and int(key) < len(here) else None
        else:
            here = here.get(key) if isinstance(here, dict) else None
    return here


def marked_as_taken_over(example: Mapping[str, Any]) -> dict[str, Any]:
    """An example to start from: the same description, with every value in it marked as taken over.

    Ids, and what names parts by them, are not marked: they are names, and state nothing of a house.
    """
    values: dict[str, Any] = {}
    _leaves(example, [], values)
    return {**example, TAKEN_OVER: values}


def _leaves(value: Any, path: list[str | int], out: dict[str, Any]) -> None:
    if isinstance(value, dict):
        for key, item in value.items():
            if key not in ("id", "model", "stage", "subjects"):
                _leaves(item, [*path, key], out)
    elif isinstance(value, list):
        for i, item in enumerate(value):
            _leaves(item, [*path, i], out)
    else:
        out[pointer(path)] = value
