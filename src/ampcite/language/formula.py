"""The formula language: Python expression syntax, white-listed, with every unit and name checked once.

A formula holds names, not figures: the only numbers it may contain are 0 and 1. :func:`parse` gives a small typed
tree; what is not on the white list never gets further than that.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Mapping
from fractions import Fraction
from typing import Any, NoReturn, Protocol

from ampcite.base.errors import nearest
from ampcite.language.tree import Arith, Call, Choose, Compare, Const, Logic, Lookup, Name, Node, TableType, Type
from ampcite.language.units import Unit, product, quotient, unit

MAX_LENGTH = 400
MAX_DEPTH = 24


class FormulaError(ValueError):
    """A formula that can't be used; the message is one clause that says why."""


class Scope(Protocol):
    """What a formula may use."""

    @property
    def names(self) -> Mapping[str, Type]: ...
    @property
    def tables(self) -> Mapping[str, TableType]: ...


FLAG = Type("flag")
PLAIN = Type("number", unit(""))
FUNCTIONS: dict[str, str] = {
    "min": "the smaller of two or more numbers",
    "max": "the larger of two or more numbers",
    "abs": "a number without its sign",
    "whole": "the whole part of a plain number, forgiving one part in 10^9",
    "root": "the square root of a plain number; of one below zero there is none",
    "percent": "a plain number as percent",
    "sum": "the sum of a list of numbers",
    "largest": "the largest of a list of numbers",
    "least": "the least of a list of numbers",
    "count": "how many a list holds",
    "how_many": "how many of a list are a given text",
    "has": "whether a list holds a given text",
    "all_are": "whether every one of a list is a given text, or every flag of a list is yes",
    "at_largest": "of two lists of one order: the text that belongs to the largest number",
    "at_least": "of two lists of one order: the text that belongs to the least number",
    "any_is": "whether any flag of a list is yes",
    "alike": "whether all of a list are the same",
    "begins": "whether a text begins with some words, capitals, stops and spaces aside",
    "bears": "whether a text holds each of some words (joined by ' ... '), capitals, stops and spaces aside",
    "day": "the day of a date written year-month-day, as a number, so that dates can be compared",
    "absent": "whether the description says that there is none (null); of a list, whether any of it is none",
}
_ARITH = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/"}
_COMPARE = {ast.LtE: "<=", ast.Lt: "<", ast.GtE: ">=", ast.Gt: ">", ast.Eq: "==", ast.NotEq: "!=", ast.In: "in"}


def parse(text: str, scope: Scope) -> Node:
    """The typed tree of a formula.

    Raises:
        FormulaError: when it is too long or deep, uses anything not on the white list, names what is not there,
            or puts units together that do not fit.
    """
    if len(text) > MAX_LENGTH:
        raise FormulaError(
            f"is {len(text)} characters long; a formula has at most {MAX_LENGTH}: name a part of it in `let`"
        )
    try:
        tree = ast.parse(text.strip(), mode="eval")
    except (SyntaxError, ValueError, MemoryError, RecursionError) as fault:
        why = str(getattr(fault, "msg", None) or fault)
        why = "something is missing in it, or left over" if why == "invalid syntax" else why
        one_sign = re.search(r"(?<![<>=!])=(?!=)", text)
        said = "; write == to compare" if one_sign else f": {why}"
        raise FormulaError(f'"{text[:60]}" is not a formula{said}') from None
    return _Reader(scope).read(tree.body, 0)


def _fail(said: str) -> NoReturn:
    raise FormulaError(said)


def _say(node: Node) -> str:
    match node:
        case Name(name=name, type=kind):
            return f"{name} ({kind.unit.name or 'no unit'})" if kind.unit else f"{name} ({kind.words()})"
        case Const(value=value):
            return repr(value)
        case _ if node.type.unit:
            return f"a value in {node.type.unit.name or 'no unit'}"
        case _:
            return node.type.words()


def _factor(from_: Unit, to: Unit) -> float:
    return float(Fraction(from_.size) / to.size)


def _zero(node: Node) -> bool:
    """Nothing is nothing in every unit."""
    return isinstance(node, Const) and node.value == 0.0 and node.type.kind == "number"


class _Reader:
    def __init__(self, scope: Scope) -> None:
        self.scope = scope

    def read(self, tree: ast.expr, depth: int) -> Node:
        if depth > MAX_DEPTH:
            _fail(f"is nested more than {MAX_DEPTH} deep; name a part of it in `let`")
        down = depth + 1
        match tree:
            case ast.Constant(value=bool() as value):
                return Const(value, FLAG)
            case ast.Constant(value=int() as value):
                if value not in (0, 1):
                    _fail(f"holds the figure {str(value)[:20]}; give it a name in [[parameter]] or a table")
                return Const(float(value), PLAIN)
            case ast.Constant(value=str() as value):
                return Const(value, Type("text"))
            case ast.Constant(value=value):
                _fail(f"holds {value!r:.30}; figures belong in [[parameter]] or a table")
            case ast.Name(id=name):
                if name not in self.scope.names:
                    _fail(f'uses the name "{name[:60]}", which is not defined; {nearest(name, self.scope.names)}')
                return Name(name, self.scope.names[name])
            case ast.BinOp(left=left, op=op, right=right) if type(op) in _ARITH:
                return self.arith(_ARITH[type(op)], self.read(left, down), self.read(right, down))
            case ast.UnaryOp(op=ast.USub(), operand=operand):
                part = self.number(self.read(operand, down))
                return Arith("-", Const(0.0, part.type), part, 1.0, part.type)
            case ast.UnaryOp(op=ast.Not(), operand=operand):
                return Logic("not", (self.flag(self.read(operand, down)),), FLAG)
            case ast.BoolOp(op=op, values=values):
                word = "and" if isinstance(op, ast.And) else "or"
                parts = tuple(self.flag(self.read(v, down)) for v in values)
                return Logic(word, parts, FLAG)
            case ast.Compare(left=left, ops=ops, comparators=rights):
                return self.comparison(left, ops, rights, down)
            case ast.IfExp(test=test, body=body, orelse=orelse):
                condition = self.flag(self.read(test, down))
                yes, no = self.read(body, down), self.read(orelse, down)
                k = self.alike(yes, no, "gives one of")
                return Choose(condition, yes, no, k, no.type if _zero(yes) else yes.type)
            case ast.Call(func=ast.Name(), keywords=[_, *_]):
                _fail("calls with a keyword argument, which formulas may not")
            case ast.Call(func=ast.Name(id=name), args=args):
                return self.call(name, tuple(self.read(a, down) for a in args))
            case _:
                _fail(f"uses {_WORDS.get(type(tree), type(tree).__name__)}, which formulas may not")

    def number(self, node: Node) -> Node:
        if node.type.kind != "number" or node.type.many:
            _fail(f"reckons with {_say(node)}, which is not one number")
        return node

    def flag(self, node: Node) -> Node:
        if node.type.kind != "flag" or node.type.many:
            _fail(f"asks whether {_say(node)} is true, which is not a yes or no")
        return node

    def arith(self, op: str, left: Node, right: Node) -> Node:
        self.number(left), self.number(right)
        a, b = left.type.unit, right.type.unit
        assert a and b
        if op in "+-":
            if a.dimension != b.dimension:
                word = "adds" if op == "+" else "subtracts"
                _fail(f"{word} {_say(left)} and {_say(right)}, whose units do not fit")
            return Arith(op, left, right, _factor(b, a), left.type)
        out, k = product(a, b) if op == "*" else quotient(a, b)
        return Arith(op, left, right, float(k), Type("number", out))

    def alike(self, left: Node, right: Node, word: str) -> float:
        """Checks that two values are of one kind; gives what turns the right one into the left one's unit."""
        a, b = left.type, right.type
        if a.kind != b.kind or a.many != b.many or a.kind in ("items", "outline"):
            _fail(f"{word} {_say(left)} and {_say(right)}, which are not of one kind")
        if a.unit and b.unit:
            if _zero(left) or _zero(right):
                return 1.0
            if a.unit.dimension != b.unit.dimension:
                _fail(f"{word} {_say(left)} and {_say(right)}, whose units do not fit")
            return _factor(b.unit, a.unit)
        for one, other in ((left, right), (right, left)):
            if one.type.choices is not None and isinstance(other, Const) and other.value not in one.type.choices:
                _fail(f'{word} {_say(one)} and "{other.value}", which it can never be; '
                      f"{nearest(str(other.value), sorted(one.type.choices))}")  # fmt: skip
        return 1.0

    def comparison(self, left: ast.expr, ops: list[ast.cmpop], rights: list[ast.expr], down: int) -> Node:
        parts: list[Node] = []
        before = self.read(left, down)
        for op, tree in zip(ops, rights, strict=True):
            word = _COMPARE.get(type(op)) or _fail("compares in a way that formulas may not")
            if word == "in":
                if not isinstance(tree, ast.Tuple):
                    _fail("""uses "in" without a list of texts in round brackets; for one text write ==""")
                options = tuple(self.read(item, down) for item in tree.elts)
                same = [Compare("==", before, o, self.alike(before, o, "compares"), FLAG) for o in options]
                parts.append(Logic("or", tuple(same), FLAG))
                continue
            after = self.read(tree, down)
            k = self.alike(before, after, "compares")
            if before.type.many:
                _fail(f"compares {_say(before)} whole; use one of its parts")
            if word not in ("==", "!=") and before.type.kind != "number":
                _fail(f"orders {_say(before)} and {_say(after)}, which are not numbers")
            parts.append(Compare(word, before, after, k, FLAG))
            before = after
        return parts[0] if len(parts) == 1 else Logic("and", tuple(parts), FLAG)

    def call(self, name: str, args: tuple[Node, ...]) -> Node:
        if name in self.scope.tables:
            return self.lookup(name, args)
        if name not in FUNCTIONS:
            _fail(f'calls "{name[:60]}", which is neither a function nor a table here; '
                  f"{nearest(name, [*FUNCTIONS, *self.scope.tables])}")  # fmt: skip
        kinds = [a.type for a in args]
        ones = (1.0,) * len(args)
        match name, kinds:
            case (("min" | "max"), [_, _, *_]):
                for arg in args:
                    self.number(arg)
                base = next((a for a in args if not _zero(a)), args[0])
                return Call(name, args, tuple(self.alike(base, a, "compares") for a in args), base.type)
            case "abs", [Type(kind="number", many=False) as one]:
                return Call(name, args, ones, one)
            case ("whole" | "root"), [Type(kind="number", many=False, unit=u)] if u and not u.dimension and u.size == 1:
                return Call(name, args, ones, PLAIN)
            case "percent", [Type(kind="number", many=False, unit=u)] if u and not u.dimension and u.size == 1:
                return Call(name, args, (_factor(u, unit("%")),), Type("number", unit("%")))
            case (("sum" | "largest" | "least"), [Type(kind="number", many=True, unit=u)]):
                return Call(name, args, ones, Type("number", u))
            case "count", [Type(many=True) | Type(kind="items")]:
                return Call(name, args, ones, PLAIN)
            case (
                ("how_many" | "has" | "all_are"),
                [Type(kind="text", many=True, choices=c), Type(kind="text", many=False)],
            ):
                word = args[1]
                if c is not None and isinstance(word, Const) and word.value not in c:
                    _fail(f'looks for "{word.value}", which can never occur; {nearest(str(word.value), c)}')
                return Call(name, args, ones, PLAIN if name == "how_many" else FLAG)
            case (("all_are" | "any_is"), [Type(kind="flag", many=True)]):
                return Call(name, args, ones, FLAG)
            case (("at_largest" | "at_least"), [Type(kind="number", many=True), Type(kind="text", many=True)]):
                return Call(name, args, ones, Type("text"))
            case "day", [Type(kind="text", many=False)]:
                return Call(name, args, ones, PLAIN)
            case "alike", [Type(many=True, kind="number" | "text")]:
                return Call(name, args, ones, FLAG)
            case ("bears" | "begins"), [Type(kind="text", many=False), Type(kind="text", many=False)]:
                return Call(name, args, ones, FLAG)
            case "absent", [Type()] if isinstance(args[0], Name):
                return Call(name, args, ones, FLAG)
        _fail(f"calls {name} with {', '.join(_say(a) for a in args) or 'nothing'}; {name} gives {FUNCTIONS[name]}")

    def lookup(self, name: str, args: tuple[Node, ...]) -> Node:
        table = self.scope.tables[name]
        if len(args) != len(table.keys):
            _fail(f"looks up {name} with {len(args)} keys; it has {len(table.keys)}")
        ks: list[float] = []
        for arg, key in zip(args, table.keys, strict=True):
            if arg.type.kind != key.kind or arg.type.many:
                _fail(f"looks up {name} with {_say(arg)} where the key is {key.words()}")
            if key.unit and arg.type.unit and arg.type.unit.dimension != key.unit.dimension:
                _fail(f"looks up {name} with {_say(arg)} where the key is {key.words()}")
            if key.choices is not None and isinstance(arg, Const) and arg.value not in key.choices:
                near = nearest(str(arg.value), sorted(key.choices))
                _fail(f'looks up {name} with "{arg.value}", which is no key; {near}')
            ks.append(_factor(arg.type.unit, key.unit) if key.unit and arg.type.unit else 1.0)
        return Lookup(name, args, tuple(ks), table.title, table.gives)


_WORDS: dict[type[Any], str] = {
    ast.Attribute: "a dot (an attribute)",
    ast.Subscript: "square brackets",
    ast.Lambda: "a lambda",
    ast.ListComp: "a comprehension",
    ast.GeneratorExp: "a comprehension",
    ast.SetComp: "a comprehension",
    ast.DictComp: "a comprehension",
    ast.JoinedStr: "an f-string",
    ast.Call: "a call of something that is not a plain name",
    ast.BinOp: "an operator other than + - * /",
    ast.UnaryOp: "an operator other than minus and not",
    ast.NamedExpr: "an assignment",
    ast.Starred: "a star",
    ast.Tuple: "a list of values",
    ast.List: "a list of values",
    ast.Dict: "curly brackets",
    ast.Set: "curly brackets",
}
