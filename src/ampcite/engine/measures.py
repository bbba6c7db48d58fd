"""What binding gathers of rules that are settled: quantities needed, stages, margins, comparisons."""

from __future__ import annotations

from collections.abc import Iterable

from ampcite.base.stages import STAGES
from ampcite.engine.plan import BoundDerived, BoundRule
from ampcite.house.part_types import part_types
from ampcite.language.tree import Compare, Const, Node, conjuncts, walk


def needed(derived: Iterable[BoundDerived], rules: Iterable[BoundRule]) -> tuple[BoundDerived, ...]:
    """The quantities that some rule rests on, in their order; the others need not be reckoned."""
    by_name = {d.name: d for d in derived}
    names: set[str] = set()
    waiting = [path for rule in rules for path in rule.inputs.values()]
    while waiting:
        path = waiting.pop()
        if path.derived and path.leaf in by_name and path.leaf not in names:
            names.add(path.leaf)
            waiting += by_name[path.leaf].inputs.values()
    return tuple(d for d in by_name.values() if d.name in names)


def stage(kind: str, path: str) -> str:
    """The first stage at which what is read of a type of part can be known."""
    part_type = part_types()[kind]
    field, child = part_type.fields.get(path), part_type.children.get(path)
    return field.stage if field is not None else child.stage if child is not None else STAGES[0]


def measured(holds: Node | None) -> tuple[Compare, ...]:
    """The comparisons whose distance to the limit is a rule's margin; none where anything else decides as well."""
    parts = tuple(dict.fromkeys(conjuncts(holds))) if holds is not None else ()
    found = [c for c in parts if isinstance(c, Compare) and c.op in ("<=", "<", ">=", ">")
             and not isinstance(c.right, Const)]  # fmt: skip
    alike = {c.left.type.unit for c in found}
    return tuple(found) if len(found) == len(parts) and len(alike) == 1 else ()


def compared(trees: list[Node]) -> tuple[Compare, ...]:
    """Every comparison of two numbers that a rule makes: figures that must differ in print where they differ."""
    found = [n for tree in trees for n in walk(tree) if isinstance(n, Compare) and n.left.type.kind == "number"]
    return tuple(dict.fromkeys(c for c in found if not isinstance(c.right, Const)))
