"""A description with one fact changed, wherever the description says it: at the part, for a whole list, in a text or
at the equipment model."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from ampcite.base.errors import short
from ampcite.house.marks import STILL_TO_STATE
from ampcite.house.part_types import Group, PartType, part_types
from ampcite.house.phrase import parse, write
from ampcite.house.points import read_points, write_points
from ampcite.house.values import merged
from ampcite.house.write import written_part, written_rows, written_value

LEFT_OUT = object()
"""Stands for a value that is taken out."""


def change(document: Mapping[str, Any], pointer: str, value: Any) -> dict[str, Any]:
    """The description with a fact changed.

    Args:
        document: a description that the schema accepts.
        pointer: where the fact is, as findings say it: from part to part (``/circuits/2/conductor/size``), whether or
            not the list is written with ``all``, the conductor as a text, or the fact at a model. One past the end of
            a list adds to it.
        value: the value, or :data:`LEFT_OUT`.

    Raises:
        KeyError: where the description has no such place.
    """
    out: dict[str, Any] = copy.deepcopy(dict(document))
    steps = [step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:]]
    if steps[:1] == ["equipment"]:
        _put(_down(out, steps[:-1]), steps[-1], value)
    else:
        out.setdefault("equipment", {})
        _change(out, out, part_types()[""].body, steps, value)
        if not out["equipment"]:
            del out["equipment"]
    return out


def _change(document: dict[str, Any], here: dict[str, Any], group: Group, steps: list[str], value: Any) -> None:
    key, *rest = steps
    if key in group.lists:
        _change_list(document, here, key, group.lists[key], rest, value)
    elif not rest:
        said = written_value(value, group, key, document["equipment"])
        _put(_home(document, here, group, key), key, said)
    else:
        _change_inside(document, _home(document, here, group, key), key, group, rest, value)


def _change_inside(document: dict[str, Any], home: dict[str, Any], key: str, group: Group, rest: list[str],
                   value: Any) -> None:  # fmt: skip
    path = f"{group.path}/{key}" if group.path else key
    below = group.part_type.groups.get(path)
    if below is not None and below.phrase is not None:
        text = home.get(key)
        said = parse(below.phrase, text) if isinstance(text, str) and text != STILL_TO_STATE else {}
        _put(said, rest[0], value)
        home[key] = write(below.phrase, said)
    elif below is not None:
        if not isinstance(home.get(key), dict):
            home[key] = {}
        _change(document, home[key], below, rest, value)
    elif group.fields[key].kind == "outline":
        points = [list(point) for point in read_points(home[key], "")]
        _put(_down(points, rest[:-1]), rest[-1], value)
        home[key] = write_points(points)
    else:
        _put(_down(home[key], rest[:-1]), rest[-1], value)


def _change_list(document: dict[str, Any], here: dict[str, Any], key: str, kind: PartType, rest: list[str],
                 value: Any) -> None:  # fmt: skip
    if not rest:
        _put(here, key, written_rows(value, kind, document["equipment"]))
        return
    given = here.setdefault(key, {"all": []} if kind.deciding else []) if rest[0] == "0" else here[key]
    if kind.entries:
        _put(given, rest[0], value)
        return
    word = next((w for w in ("all", "only") if w in given), "") if isinstance(given, dict) else ""
    rows, each = (given[word], given.get("each", {})) if word else (given, {})
    index, *below = rest[1:] if rest[0] in ("all", "only") else rest
    if not below:
        models = document["equipment"]
        _put(rows, index, written_part(value, kind, models) if isinstance(value, dict) else value)
        return
    if kind.model is not None and kind.model_key and below[0] in kind.model.fields:
        _change_of_model(document, here, kind, len(rows), int(index), below[0], value)
        return
    row = rows[int(index)]
    if below[0] in each and value is LEFT_OUT:
        _say_of_each(rows, below[0], each.pop(below[0]))
    elif below[0] in each and below[0] not in row:
        row[below[0]] = copy.deepcopy(each[below[0]])
    _change(document, row, kind.body, below, value)


def _say_of_each(rows: list[dict[str, Any]], key: str, said: Any) -> None:
    """Says at every part of a list what was said for all of them once."""
    for row in rows:
        row[key] = merged(said, row[key]) if key in row else copy.deepcopy(said)


def _home(document: dict[str, Any], here: dict[str, Any], group: Group, key: str) -> dict[str, Any]:
    """The object in which a fact is said: the part's own, or its model's."""
    kind = group.part_type
    model = kind.model
    if model is None or group is not kind.body or key not in (*model.fields, *model.groups):
        return here
    return _model(document, here, kind)


def _model(document: dict[str, Any], here: dict[str, Any], kind: PartType) -> dict[str, Any]:
    """The model that a part names; one of its own where it names none."""
    name = here.setdefault("model", str(here.get("id", "model")))
    models = document["equipment"].setdefault(kind.name.replace("/", "."), {})
    out: dict[str, Any] = models.setdefault(name, {})
    return out


def _change_of_model(document: dict[str, Any], here: dict[str, Any], kind: PartType, count: int, index: int, key: str,
                     value: Any) -> None:  # fmt: skip
    """Changes what the model of the part above says of one of the parts in it."""
    assert kind.parent is not None
    model = _model(document, here, kind.parent)
    said = model.get(kind.model_key, {})
    if isinstance(said, dict) and count > 1:
        said = model[kind.model_key] = [copy.deepcopy(said) for _ in range(count)]
    _put(said[index] if isinstance(said, list) else model.setdefault(kind.model_key, said), key, value)


def _down(here: Any, steps: list[str]) -> Any:
    for step in steps:
        here = here[int(step)] if isinstance(here, list) else here[step]
    return here


def _put(here: Any, step: str, value: Any) -> None:
    if isinstance(here, list) and int(step) == len(here) and value is not LEFT_OUT:
        here.append(value)
    elif isinstance(here, list | dict):
        at: Any = int(step) if isinstance(here, list) else step
        if value is LEFT_OUT:
            del here[at]
        else:
            here[at] = copy.deepcopy(value)
    else:
        raise KeyError(f"{short(here)} has no {step}")
