"""How values and formulas are put into words.

A formula becomes *pieces*: texts, :class:`Slot` for a value, and :class:`Either` where the words depend
on a condition. ``engine.explain`` fills them in.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from ampcite.language.logic import ABSENT, Barred, Unknown
from ampcite.language.printing import coarse
from ampcite.language.tree import Arith, Call, Choose, Compare, Const, Logic, Lookup, Name, Node, Type
from ampcite.language.units import unit_words


class Constant(NamedTuple):
    """A parameter at the edition that was bound."""

    name: str
    value: float
    type: Type


class Slot(NamedTuple):
    """A place in a template where a value is put; ``absent`` are the words where there is none."""

    name: str
    absent: str = ""


Template = tuple[str | Slot, ...]


class Either(NamedTuple):
    """Pieces that depend on a condition."""

    condition: Node
    yes: tuple[Piece, ...]
    no: tuple[Piece, ...]


Piece = str | Slot | Either

def words(name: str) -> str:
    """A formula's name as words."""
    return name.replace("_", " ")


def listed(values: tuple[Any, ...] | list[Any], write: Any = str) -> str:
    """Several values in one phrase; of many, the first ten."""
    shown = [write(v) for v in values[:10]]
    return ", ".join(shown) + (f" and {len(values) - 10} more" if len(values) > 10 else "")


def format_value(value: Any, kind: Type, write: Any = coarse) -> str:
    """Any value in words, its unit included."""
    if isinstance(value, Unknown):
        return "not known"
    if isinstance(value, Barred):
        return "not permitted"
    if value is ABSENT:
        return "none"
    if isinstance(value, tuple | list):
        if not value:
            return "none"
        if kind.kind == "number":
            inner = [write(v) if isinstance(v, int | float) else format_value(v, kind) for v in value]
            return listed(inner) + (unit_words(kind.unit.name) if kind.unit else "")
        one = _ONE[kind.kind]
        return listed([v if v.__class__ is str else format_value(v, one, write) for v in value])
    if value is True or value is False:
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{write(value)}{unit_words(kind.unit.name) if kind.unit else ''}"
    return str(value)


_ONE = {kind: Type(kind) for kind in ("text", "flag", "items", "outline")}
"""The type of one of several values, where it is no number."""

_SIGNS = {"*": " × ", "/": " ÷ ", "+": " + ", "-": " − "}
_ORDER = {"<=": " ≤ ", "<": " < ", ">=": " ≥ ", ">": " > ", "==": " = ", "!=": " ≠ "}
_STRENGTH = {"+": 1, "-": 1, "*": 2, "/": 2}


def show(node: Node, constants: Mapping[str, Constant]) -> tuple[Piece, ...]:
    """The pieces of a formula, each name with its value."""
    return _merge(_show(node, constants, 0))


def _name(node: Name, constants: Mapping[str, Constant]) -> list[Piece]:
    if node.type.kind == "flag" and not node.type.many:
        return [words(node.name)]
    return [words(node.name) + " ", Slot(node.name)]


def _show(node: Node, c: Mapping[str, Constant], strength: int) -> list[Piece]:
    match node:
        case Const(value=value):
            return [format_value(value, Type("number"))]
        case Name():
            return _name(node, c)
        case Arith(op="-", left=Const(value=0.0), right=right):
            return ["−", *_show(right, c, 2)]
        case Arith(op=op, left=left, right=right):
            mine = _STRENGTH[op]
            inner = [*_show(left, c, mine), _SIGNS[op], *_show(right, c, mine + (op in "-/"))]
            return ["(", *inner, ")"] if mine < strength else inner
        case Compare(op=op, left=Name() as left, right=Const(value=str() as word)):
            return [*_name(left, c), " (asked: " if op == "==" else " (not: ", word, ")"]
        case Compare(op=op, left=left, right=right):
            return [*_show(left, c, 1), _ORDER[op], *_show(right, c, 1)]
        case Logic(op="not", parts=(Call(name="absent", args=(Name(name=name),)),)):
            return [words(name), " is given"]
        case Logic(op="not", parts=(part,)):
            return ["not: ", *_show(part, c, 9)]
        case Logic(op="or", parts=parts) if (one := _one_of(parts)) is not None:
            return [*_name(one[0], c), " (asked: ", " or ".join(one[1]), ")"]
        case Logic(op=op, parts=parts):
            joined: list[Piece] = []
            for i, part in enumerate(parts):
                joined += [f" {op} " if i else "", *_show(part, c, 9)]
            return ["(", *joined, ")"] if strength else joined
        case Choose(condition=condition, yes=yes, no=no):
            return [Either(condition, tuple(_show(yes, c, strength)), tuple(_show(no, c, strength)))]
        case Lookup(title=title, args=args):
            return [title, " (", *_join(args, c), ")"]
        case Call(name="count", args=(Name(name=name, type=Type(kind="items")),)):
            return [f"the number of {words(name)}"]
        case Call(name=name, args=args):
            before, after = _CALLS[name]
            return [before, *_join(args, c), after]


_CALLS = {
    "min": ("the smaller of (", ")"), "max": ("the larger of (", ")"), "abs": ("the size of (", ")"),
    "whole": ("the whole part of (", ")"), "root": ("the square root of (", ")"),
    "percent": ("", ""), "sum": ("the sum of (", ")"),
    "largest": ("the largest of (", ")"), "least": ("the least of (", ")"), "count": ("the number of (", ")"),
    "how_many": ("how many of (", ")"), "has": ("among (", ")"), "all_are": ("all of (", ")"),
    "at_largest": ("the one with the largest of (", ")"), "at_least": ("the one with the least of (", ")"),
    "any_is": ("any of (", ")"), "alike": ("all alike: (", ")"), "day": ("the day of (", ")"),
    "begins": ("words borne, first words asked: (", ")"),
    "bears": ("words borne, words asked: (", ")"), "absent": ("none given: (", ")"),
}  # fmt: skip


def _join(args: tuple[Node, ...], c: Mapping[str, Constant]) -> list[Piece]:
    out: list[Piece] = []
    for i, arg in enumerate(args):
        out += ["; " if i else "", *_show(arg, c, 0)]
    return out


def _one_of(parts: tuple[Node, ...]) -> tuple[Name, list[str]] | None:
    options = []
    name = None
    for part in parts:
        match part:
            case Compare(op="==", left=Name() as left, right=Const(value=str() as word)) if name in (None, left):
                name = left
                options.append(word)
            case _:
                return None
    return (name, options) if name is not None else None


def _merge(pieces: list[Piece]) -> tuple[Piece, ...]:
    out: list[Piece] = []
    for piece in pieces:
        if isinstance(piece, Either):
            piece = Either(piece.condition, _merge(list(piece.yes)), _merge(list(piece.no)))
        if isinstance(piece, str) and out and isinstance(out[-1], str):
            out[-1] += piece
        elif piece != "":
            out.append(piece)
    return tuple(out)


def line_of(name: str, node: Node, constants: Mapping[str, Constant]) -> tuple[Piece, ...]:
    """The worked line of a named value: its name, how it is reckoned, and the result."""
    if isinstance(node, Name | Const):
        return (f"{words(name)} = ", Slot(name))
    return _merge([f"{words(name)} = ", *show(node, constants), " = ", Slot(name)])
