"""From facts that all stand at their parts to the form in which a description says them: each in its one home."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ampcite.house.belonging import holds, in_itself
from ampcite.house.part_types import Group, PartType, part_types
from ampcite.house.phrase import write
from ampcite.house.points import write_points


def written(plain: Mapping[str, Any]) -> dict[str, Any]:
    """A description in the form that :func:`ampcite.house.read.read` reads.

    Args:
        plain: a JSON value shaped as the part types are, with every fact at its part: data-sheet facts at the part
            that has the model, conductors as objects of size and material, outlines as points, lists as arrays.
            ``None`` says that there is none; where a field can't say so or can't belong, it is left out. What is in
            its described form already stays as it is.
    """
    equipment: dict[str, Any] = {kind: dict(models) for kind, models in plain.get("equipment", {}).items()}
    out = _written(plain, part_types()[""].body, equipment)
    if any(equipment.values()):
        out["equipment"] = equipment
    return out


def _written(value: Mapping[str, Any], group: Group, equipment: dict[str, Any]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for key, item in value.items():
        can_be_none = key in group.groups and group.groups[key].nullable
        if key in group.fields:
            can_be_none = group.fields[key].null
        if item is not None or can_be_none:
            out[key] = written_value(item, group, key, equipment)
    return out


def written_value(value: Any, group: Group, key: str, equipment: dict[str, Any]) -> Any:
    """A plain value of one key of a group, as a description says it.

    Args:
        value: the value.
        group: the group.
        key: of it.
        equipment: takes up what belongs to models.
    """
    if key in group.groups:
        below = group.groups[key]
        said = _written(value, below, equipment) if isinstance(value, Mapping) else value
        return write(below.phrase, said) if below.phrase is not None and isinstance(said, dict) else said
    if key in group.fields and group.fields[key].kind == "outline" and isinstance(value, list | tuple):
        return write_points(value)
    return written_rows(value, group.lists[key], equipment) if key in group.lists else value


def written_rows(value: Any, kind: PartType, equipment: dict[str, Any]) -> Any:
    """A plain list of parts, as a description says it."""
    if kind.entries or not isinstance(value, list):
        return value
    rows = [written_part(one, kind, equipment) if isinstance(one, Mapping) else one for one in value]
    return {"all": rows} if kind.deciding else rows


def written_part(value: Mapping[str, Any], kind: PartType, equipment: dict[str, Any]) -> dict[str, Any]:
    """A plain part, as a description says it."""
    value = {key: item for key, item in value.items() if item not in (None, False) or not barred(value, kind, key)}
    if kind.model is None or kind.model_key:
        return _written(value, kind.body, equipment)
    model = {key: item for key, item in value.items() if key in kind.model.fields or key in kind.model.groups}
    own = {key: item for key, item in value.items() if key not in model}
    for key, child in kind.body.lists.items():
        if child.model is not None and child.model_key and isinstance(own.get(key), list):
            of_each = [{k: v for k, v in one.items() if k in child.model.fields} for one in own[key]]
            own[key] = [{k: v for k, v in one.items() if k not in child.model.fields} for one in own[key]]
            if any(of_each):
                alike = all(said == of_each[0] for said in of_each)
                model[child.model_key] = of_each[0] if alike else of_each
    if model:
        name = own.setdefault("model", str(own.get("id", "model")))
        entry = equipment.setdefault(kind.name.replace("/", "."), {}).setdefault(name, {})
        said = {k: v for k, v in model.items() if k not in {c.model_key for c in kind.body.lists.values()}}
        entry.update(_written(said, kind.model, equipment))
        entry.update({k: v for k, v in model.items() if k not in said})
    return _written(own, kind.body, equipment)


def barred(value: Mapping[str, Any], kind: PartType, key: str) -> bool:
    """Whether a key can't belong to a plain part, by what the part says itself."""
    return any(key in condition.barred and holds(condition, in_itself(value)) for condition in kind.conditions)
