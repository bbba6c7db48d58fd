"""A description to be filled in: the parts of a house by their counts, and every fact that the rules ask of them."""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import attrs

from ampcite.authoring.needs import needs
from ampcite.base.errors import ArgumentError
from ampcite.engine.rulebook import Rulebook
from ampcite.house.marks import STILL_TO_STATE
from ampcite.house.part_types import Group, PartType, part_types
from ampcite.house.read import read
from ampcite.house.schema import description_schema

ARCHITECTURES = ("converter strings", "plain strings", "microinverters")
"""Strings with a dc-to-dc converter at each module, strings without, and microinverters on ac branches."""

_PROBE = "to be named"


@attrs.frozen
class House:
    """What a house is made of, as far as a start has to know it.

    Attributes:
        architecture: one of :data:`ARCHITECTURES`.
        modules: how many modules.
        strings: how many strings, or branches of microinverters.
        inverters: how many inverters; with microinverters none.
        storage: whether there is a battery.
    """

    architecture: str
    modules: int
    strings: int
    inverters: int = 1
    storage: bool = False


def start(rulebook: Rulebook, house: House, stage: str, rules: Sequence[str] | None,
          head: Mapping[str, Any]) -> dict[str, Any]:  # fmt: skip
    """A description with the parts of a house, and "?" for each fact that rules ask of them.

    Which facts these are is found by asking the rules; what a list that nobody has given would have in it is found
    by asking them about one such part, and is said once for the list.

    Args:
        rulebook: from :func:`ampcite.load`.
        house: the counts.
        stage: the stage of the job; what can only be known later is not asked.
        rules: ids of rules; by default all.
        head: what the description says besides: stage, subjects, codes.

    Raises:
        ArgumentError: when the counts fit no house.
    """
    document = {**head, **_parts(house)}
    probes: set[str] = set()
    asked: dict[str, None] = {}
    while True:
        found = needs(rulebook, read(document), stage, rules)
        asked.update(dict.fromkeys(pointer for pointer, is_list in found if not is_list))
        lists = [pointer for pointer, is_list in found
                 if is_list and pointer not in probes and not _kind_at(pointer).entries
                 and not _given(document, pointer)]  # fmt: skip
        if not lists:
            break
        probes.update(lists)
        for pointer in lists:
            _put(document, pointer, _probe_rows(pointer))
    for pointer in asked:
        _put(document, _home(pointer), STILL_TO_STATE)
    for model in document["equipment"].get("inverters", {}).values():
        if not model["inputs"]:
            del model["inputs"]
    for string in document.get("strings", ()):
        string["input"] = STILL_TO_STATE
    return _ordered(_said_once(document, part_types()[""].body))


def _parts(house: House) -> dict[str, Any]:
    if min(house.modules, house.strings) < 1 or house.inverters < (house.architecture != ARCHITECTURES[2]):
        raise ArgumentError("a house has modules and strings or branches, and strings need an inverter")
    if house.strings > house.modules or house.inverters > house.strings:
        raise ArgumentError("there are more strings than modules, or more inverters than strings")
    micro, converters = (house.architecture == ARCHITECTURES[i] for i in (2, 0))
    out: dict[str, Any] = {
        "equipment": {"modules": {"MODULE": {}}},
        "modules": [{"id": "M", "model": "MODULE", "quantity": house.modules}],
    }
    if micro or converters:
        kind, name = ("microinverter", "MICROINVERTER") if micro else ("dc-to-dc converter", "CONVERTER")
        out["equipment"]["module_electronics"] = {name: {"kind": kind}}
        out["module_electronics"] = [{"id": "E", "model": name, "module": "M", "quantity": house.modules}]
    numbers = range(1, house.strings + 1)
    if micro:
        branches = [f"BRANCH-{i}" for i in numbers]
        out |= {"inverters": [], "strings": []}
        out["circuits"] = [{"id": one, "kind": "microinverter branch", "electronics": "E"} for one in branches]
    else:
        out["equipment"]["inverters"] = {"INVERTER": {"inputs": {}}}
        ids = [f"INV-{i}" for i in range(1, house.inverters + 1)]
        inputs = [[{"id": f"IN-{i}"} for i in numbers if (i - 1) % house.inverters == n] for n in range(len(ids))]
        out["inverters"] = [{"id": one, "model": "INVERTER", "inputs": own}
                            for one, own in zip(ids, inputs, strict=True)]  # fmt: skip
        unit = {"electronics": "E"} if converters else {}
        out["strings"] = [{"id": f"S{i}", "module": "M", **unit, "input": f"IN-{i}"} for i in numbers]
        kind = "converter output" if converters else "pv source"
        out["circuits"] = [{"id": f"DC-{i}", "kind": kind, "strings": [f"S{i}"]} for i in numbers]
        out["circuits"] += [{"id": f"AC-{i}", "kind": "inverter output", "inverters": [one]}
                            for i, one in enumerate(ids, 1)]  # fmt: skip
    out["storage"] = [{"id": "BATTERY"}] if house.storage else []
    return out


def _probe_rows(pointer: str) -> Any:
    kind = _kind_at(pointer)
    row = {"id": f"{_PROBE} {pointer}"} if "id" in kind.fields else {}
    return {"all": [row]} if kind.deciding else [row]


def _steps(pointer: str) -> list[str]:
    return [step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:]]


def _kind_at(pointer: str) -> PartType:
    group: Group = part_types()[""].body
    for step in _steps(pointer):
        path = f"{group.path}/{step}" if group.path else step
        if step in group.lists:
            group = group.lists[step].body
        elif path in group.part_type.groups:
            group = group.part_type.groups[path]
    return group.part_type


def _home(pointer: str) -> str:
    """Where a fact is marked: what is written as one text, or may be none as a whole, is marked as a whole."""
    group: Group = part_types()[""].body
    steps = _steps(pointer)
    if steps[0] == "equipment":
        return pointer
    for i, step in enumerate(steps):
        path = f"{group.path}/{step}" if group.path else step
        if step in group.lists:
            group = group.lists[step].body
        elif path in group.part_type.groups:
            group = group.part_type.groups[path]
            if group.phrase is not None or group.nullable:
                return "/" + "/".join(steps[: i + 1])
    return pointer


def _given(document: Any, pointer: str) -> bool:
    here = document
    for step in _steps(pointer):
        if isinstance(here, list):
            here = here[int(step)]
        elif step in here:
            here = here[step]
        else:
            return False
    return True


def _put(document: Any, pointer: str, value: Any) -> None:
    *way, last = _steps(pointer)
    here = document
    for step in way:
        here = here[int(step)] if isinstance(here, list) else here.setdefault(step, {})
        if here == STILL_TO_STATE:
            return
    here[last] = value


def _said_once(value: dict[str, Any], group: Group) -> dict[str, Any]:
    """The same, with what all parts of a list have alike said once for the list."""
    out = dict(value)
    for key, item in value.items():
        path = f"{group.path}/{key}" if group.path else key
        if key in group.lists and not group.lists[key].entries:
            out[key] = _list_said_once(item, group.lists[key])
        elif path in group.part_type.groups and isinstance(item, dict):
            out[key] = _said_once(item, group.part_type.groups[path])
    return out


def _list_said_once(value: Any, kind: PartType) -> Any:
    rows = [_said_once(row, kind.body) for row in (value["all"] if isinstance(value, dict) else value)]
    if len(rows) == 1 and str(rows[0].get("id", _PROBE)).startswith(_PROBE):
        each = {key: item for key, item in rows[0].items() if key != "id"}
        return {"each": each, "all": STILL_TO_STATE} if each else STILL_TO_STATE
    each = {key: item for key, item in (rows[0] if rows else {}).items()
            if all(row.get(key) == item for row in rows[1:])
            and not (item == STILL_TO_STATE and key in kind.references)}  # fmt: skip
    if len(rows) < 2 or not each:
        return {"all": rows} if kind.deciding else rows
    return {"each": each, "all": [{key: item for key, item in row.items() if key not in each} for row in rows]}


def _ordered(document: dict[str, Any]) -> dict[str, Any]:
    """In the order of the schema, which is that of the sections of a plan set."""
    order = list(description_schema()["properties"])
    return {key: copy.deepcopy(document[key]) for key in sorted(document, key=order.index)}


def marks_in(value: Any) -> Iterator[str]:
    """Every mark in a description to be filled in."""
    if isinstance(value, dict):
        for item in value.values():
            yield from marks_in(item)
    elif isinstance(value, list):
        for item in value:
            yield from marks_in(item)
    elif value == STILL_TO_STATE:
        yield value
