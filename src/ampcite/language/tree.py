"""The typed tree of a formula, which nothing but :mod:`ampcite.language.formula` makes, and what it holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

import attrs

from ampcite.language.units import Unit


@attrs.frozen(cache_hash=True)
class Type:
    """What a name or formula stands for.

    Attributes:
        kind: "number", "text", "flag", "items" (parts that can only be counted) or "outline" (of which can only be
            asked whether there is one).
        unit: of a number.
        choices: of a text, where only certain words can occur.
        many: whether it is a list of such values.
    """

    kind: str
    unit: Unit | None = None
    choices: frozenset[str] | None = None
    many: bool = False

    def words(self) -> str:
        """The type in the trade's words."""
        one = {"number": f"a number in {self.unit.name}" if self.unit and self.unit.name else "a plain number",
               "text": "a text", "flag": "a yes or no", "items": "a list of parts",
               "outline": "an outline"}[self.kind]  # fmt: skip
        return f"a list, each {one}" if self.many and self.kind != "items" else one


class TableType(NamedTuple):
    """How a table may be called: the type of each key, and of what it gives."""

    keys: tuple[Type, ...]
    gives: Type
    title: str


@attrs.frozen(cache_hash=True)
class Const:
    value: float | str | bool
    type: Type


@attrs.frozen(cache_hash=True)
class Name:
    name: str
    type: Type


@attrs.frozen(cache_hash=True)
class Arith:
    """left op right; ``factor`` turns the plain result into ``type.unit`` (for + and - it turns right into left's)."""

    op: str
    left: Node
    right: Node
    factor: float
    type: Type


@attrs.frozen(cache_hash=True)
class Compare:
    """left op right; ``factor`` turns a number on the right into the unit of the left."""

    op: str
    left: Node
    right: Node
    factor: float
    type: Type


@attrs.frozen(cache_hash=True)
class Logic:
    """op is "and", "or" or "not"."""

    op: str
    parts: tuple[Node, ...]
    type: Type


@attrs.frozen(cache_hash=True)
class Choose:
    condition: Node
    yes: Node
    no: Node
    factor: float
    type: Type


@attrs.frozen(cache_hash=True)
class Call:
    """A function of the short list; ``factors`` turn each argument into the unit of the first."""

    name: str
    args: tuple[Node, ...]
    factors: tuple[float, ...]
    type: Type


@attrs.frozen(cache_hash=True)
class Lookup:
    table: str
    args: tuple[Node, ...]
    factors: tuple[float, ...]
    title: str
    type: Type


Node = Const | Name | Arith | Compare | Logic | Choose | Call | Lookup


@lru_cache(maxsize=4096)
def names_in(node: Node) -> frozenset[str]:
    """The names a tree uses."""
    return frozenset(n.name for n in walk(node) if isinstance(n, Name))


def walk(node: Node) -> list[Node]:
    """The node and all below it, each before what is below it."""
    out: list[Node] = []
    waiting = [node]
    while waiting:
        here = waiting.pop()
        out.append(here)
        if (below := _BELOW.get(type(here))) is not None:
            waiting += below(here)[::-1]
    return out


_BELOW: Mapping[type, Callable[[Any], tuple[Node, ...]]] = {
    Arith: lambda node: (node.left, node.right),
    Compare: lambda node: (node.left, node.right),
    Logic: lambda node: node.parts,
    Choose: lambda node: (node.condition, node.yes, node.no),
    Call: lambda node: node.args,
    Lookup: lambda node: node.args,
}


def conjuncts(node: Node) -> tuple[Node, ...]:
    """The parts of a statement that all have to be true."""
    return node.parts if isinstance(node, Logic) and node.op == "and" else (node,)
