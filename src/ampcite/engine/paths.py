"""How a path of a pack leads from a part to a value: through lists, references and what refers back."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import attrs

from ampcite.base.errors import nearest
from ampcite.engine.plan import Path
from ampcite.house.part_types import Field, PartType, part_types
from ampcite.house.roof_quantities import QUANTITIES
from ampcite.language.formula import FLAG, FormulaError
from ampcite.language.tree import Type
from ampcite.language.units import unit


@cache
def pretty_kinds() -> Mapping[str, str]:
    """How a rule writes that it is asked of every part of a type, by the name of the type."""
    return {kind: f"/{kind}/*" if kind else "/" for kind in part_types()}


def route(kind: PartType, text: str, quantities: Mapping[str, Mapping[str, Type]]) -> tuple[Path, set[tuple[str, str]]]:
    """The path from a part of a kind, and what is read on the way, each as kind and path.

    Args:
        kind: where the path begins.
        text: the path as the pack writes it.
        quantities: kind to the derived quantities known of it so far.

    Raises:
        FormulaError: when it leads nowhere, or through two lists.
    """
    reads: set[tuple[str, str]] = set()
    steps: list[tuple[str, str]] = []
    here: tuple[PartType, ...] = (kind,)
    rest = text
    if rest.startswith("/"):
        steps.append(("whole", ""))
        here, rest = (part_types()[""],), rest[1:]
    while True:
        step = _step(here, rest)
        if step is None:
            break
        reads |= {(one.name, step[1].partition("[")[0]) for one in here}
        how, key, here, rest = step
        reads |= {(one.name, "") for one in here}
        if how == "many" and any(h == "many" for h, _ in steps):
            raise FormulaError(f'goes through two lists in "{text}"; reckon the inner one as a derived quantity')
        steps.append((how, key))
        if not rest:
            return Path(text, tuple(steps), None, False, Type("items", many=True)), reads
    reads |= {(one.name, rest) for one in here}
    for one in here:
        if rest in quantities[one.name]:
            found = quantities[one.name][rest]
            nullable = rest in QUANTITIES and QUANTITIES[rest].nullable
            return Path(text, tuple(steps), rest, True, _spread(found, steps, text), nullable), reads
    fields = [one.fields[rest] for one in here if rest in one.fields]
    if fields:
        types = {_type(f) for f in fields}
        if len(types) > 1:
            raise FormulaError(f'leads to things of different units in "{text}"')
        nullable = any(_nullable(one, rest) for one in here) or _passes_none(steps)
        return Path(text, tuple(steps), rest, False, _spread(types.pop(), steps, text), nullable), reads
    if any(rest in one.groups for one in here):
        return Path(text, tuple(steps), rest, False, _spread(FLAG, steps, text), True), reads
    near = [n for one in here for n in (*one.fields, *quantities[one.name], *one.groups, *one.children)]
    whole = rest == text and rest in part_types()[""].fields
    hint = f'did you mean "/{text}", of the whole system?' if whole else nearest(rest, near)
    raise FormulaError(f'has the path "{text}", but {here[0].title} has no "{rest[:60]}"; {hint}')


def _passes_none(steps: list[tuple[str, str]]) -> bool:
    """Whether a step of a path follows a reference that may be none."""
    return any(how == "one" and key in other.references and other.references[key].nullable
               for how, key in steps for other in part_types().values())  # fmt: skip


def _spread(found: Type, steps: list[tuple[str, str]], text: str) -> Type:
    if not any(how == "many" for how, _ in steps):
        return found
    if found.many:
        raise FormulaError(f'goes through two lists in "{text}"')
    return attrs.evolve(found, many=True)


_Option = tuple[str, str, str, tuple[PartType, ...]]
"""How a step is written, whether it leads to one or many, its key in ``Part.links``, and the part types it leads to."""


@cache
def _options(kind: PartType) -> tuple[_Option, ...]:
    """The steps that can be taken from a part of a kind."""
    out: list[_Option] = []
    if kind.parent is not None:
        out.append(("..", "one", "..", (kind.parent,)))
    for path, child in kind.children.items():
        out.append((f"{path}/*", "many", path, (child,)))
    for path, field in kind.references.items():
        targets = tuple(part_types()[k] for k in field.refers)
        out.append((f"{path}/*" if field.many else path, "many" if field.many else "one", path, targets))
    for other in part_types().values():
        for path, field in other.references.items():
            if kind.name in field.refers:
                out.append((f"{other.name}[{path}]", "many", f"{other.name}[{path}]", (other,)))
            if kind.name in field.refers and other.parent is not None and other.parent.parent is not None:
                key = f"{other.parent.name}[{other.list_path}/*/{path}]"
                out.append((key, "many", key, (other.parent,)))
    return tuple(out)


def _step(here: tuple[PartType, ...], rest: str) -> tuple[str, str, tuple[PartType, ...], str] | None:
    """One step along a path, if the text begins with one: the longest that fits."""
    best: _Option | None = None
    for one in here:
        for option in _options(one):
            said, how = option[0], option[1]
            fits = rest.startswith(said) and (rest.startswith("/", len(said)) or (rest == said and how == "many"))
            if fits and (best is None or len(said) > len(best[0])):
                best = option
    if best is None:
        return None
    return best[1], best[2], best[3], rest[len(best[0]) + 1 :]


def _nullable(kind: PartType, path: str) -> bool:
    """Whether a field, or an object it stands in, may be said to be none."""
    steps = path.split("/")
    inside = ("/".join(steps[:i]) for i in range(1, len(steps)))
    own = path in kind.fields and kind.fields[path].nullable
    return own or any(group in kind.groups and kind.groups[group].nullable for group in inside)


def _type(field: Field) -> Type:
    if field.kind == "outline":
        return Type("outline")
    if field.kind == "number":
        return Type("number", unit(field.unit), many=field.many)
    choices = frozenset(map(str, field.choices)) if field.choices else None
    return Type(field.kind, choices=choices, many=field.many)
