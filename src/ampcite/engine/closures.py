"""Formulas as closures: three-valued, for parts of which something is not known, and for whoever wants words.

A tree of the formula language becomes one Python closure over :class:`Inputs`. What is known of every part is judged by
generated code instead (``codegen``), which hands on whatever it can't say; a test holds the two to the same answers.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from ampcite.engine.plan import Bound, Path
from ampcite.engine.state import EvaluationState
from ampcite.house.parts import Part
from ampcite.language import functions
from ampcite.language.logic import ABSENT, Barred, OneOf, Unknown, both, close, denied, either, either_value, values_of
from ampcite.language.tables import Table
from ampcite.language.tree import Arith, Call, Choose, Compare, Const, Logic, Lookup, Name, Node, Type
from ampcite.language.wording import words

Getter = Callable[["Inputs"], Any]


class Inputs(dict[str, Any]):
    """What the names of a formula stand for at one part, each followed or reckoned when it is first asked for."""

    __slots__ = ("getters", "part", "paths", "state")

    def __init__(self, state: EvaluationState, part: Part, paths: Mapping[str, Path],
                 getters: Mapping[str, Getter]) -> None:  # fmt: skip
        self.state, self.part, self.paths, self.getters = state, part, paths, getters

    def __missing__(self, name: str) -> Any:
        value = self[name] = self.getters[name](self)
        return value

    def where(self, name: str) -> str:
        """The pointer of where a fact that comes in is or should be; "" for what is reckoned."""
        path = self.paths.get(name)
        return self.state.follow(path, self.part)[1] if path is not None else ""


Formula = Callable[[Inputs], Any]


def getter(path: Path, numbers: Mapping[str, int]) -> Getter:
    """How the value of a path is found from a part."""
    steps, leaf = path.steps, path.leaf
    if path.many or leaf is None:

        def several(inputs: Inputs) -> Any:
            found = inputs.state.follow(path, inputs.part)[0]
            if isinstance(found, tuple):
                for value in found:
                    if isinstance(value, Barred):
                        return value
            return found

        return several

    if not steps and path.derived:
        number = numbers[leaf]

        def own_quantity(inputs: Inputs) -> Any:
            value = inputs.state.values[number].get(inputs.part.number)
            return value if value is not None else inputs.state.value(number, inputs.part)

        return own_quantity

    if not steps:

        def own_fact(inputs: Inputs) -> Any:
            value = inputs.part.facts.get(leaf)
            return value if value is not None else Unknown(frozenset({inputs.part.where(leaf)}))

        return own_fact

    if steps == (("whole", ""),) and not path.derived:

        def fact_of_the_whole(inputs: Inputs) -> Any:
            value = inputs.state.house.facts.get(leaf)
            return value if value is not None else Unknown(frozenset({f"/{leaf}"}))

        return fact_of_the_whole

    return lambda inputs: inputs.state.follow(path, inputs.part)[0]


def first_missing(*values: Any) -> Any:
    """What stands in for a result where an operand has no value: a Barred, else all Unknowns together; else None.

    What one of two numbers is reckoned into is neither of them: only what is not known goes on from it.
    """
    unknown = None
    for value in values:
        if isinstance(value, Barred):
            return value
        if isinstance(value, Unknown):
            unknown = value if unknown is None else unknown | value
    return Unknown(unknown.missing, unknown.why) if isinstance(unknown, OneOf) else unknown


_NONE_SAID = "it is said that there is none"
_ZERO = "the figures given lead to a division by zero"
_ENDLESS = "the figures given lead to no finite number"


class Compiler:
    """Makes closures of the trees of one rule or quantity."""

    def __init__(self, bound: Bound) -> None:
        self.constants = bound.constants
        self.tables: Mapping[str, Table] = bound.tables

    def formula(self, node: Node) -> Formula:
        """The value of a formula; Unknown or Barred where it has none."""
        match node:
            case Const(value=value):
                return lambda inputs: value
            case Name(name=name) if name in self.constants:
                constant = self.constants[name].value
                return lambda inputs: constant
            case Name(name=name, type=Type(kind="flag", many=False)):
                return lambda inputs: False if (value := inputs[name]) is ABSENT else value
            case Name(name=name):
                return lambda inputs: inputs[name]
            case Arith():
                return self.arithmetic(node)
            case Compare():
                return self.comparison(node)
            case Logic(op="not", parts=(part,)):
                inner = self.formula(part)
                return lambda inputs: denied(inner(inputs))
            case Logic(op=op, parts=parts):
                return self.several(op, tuple(self.formula(p) for p in parts))
            case Choose():
                return self.choice(node)
            case Lookup():
                return self.lookup(node)
            case Call():
                return self.call(node)

    def given(self, node: Node) -> Formula:
        """A value that is needed; that there is none counts as not knowing one."""
        inner = self.formula(node)
        if not isinstance(node, Name | Choose) or (isinstance(node, Name) and node.name in self.constants):
            return inner
        name = node.name if isinstance(node, Name) else ""

        def needed(inputs: Inputs) -> Any:
            value = inner(inputs)
            if value is ABSENT:
                where = inputs.where(name)
                return Unknown(frozenset({where} if where else ()), _NONE_SAID)
            return value

        return needed

    def arithmetic(self, node: Arith) -> Formula:
        left, right, factor = self.given(node.left), self.given(node.right), node.factor
        step = _STEPS[node.op, factor != 1.0]

        def reckoned(inputs: Inputs) -> Any:
            a, b = left(inputs), right(inputs)
            try:
                out = step(a, b, factor)
            except TypeError:
                return first_missing(a, b)
            except (ZeroDivisionError, OverflowError):
                return Unknown(why=_ZERO)
            return out if math.isfinite(out) else Unknown(why=_ENDLESS)

        return reckoned

    def comparison(self, node: Compare) -> Formula:
        left, right, op, factor = self.formula(node.left), self.formula(node.right), node.op, node.factor
        if node.left.type.kind != "number":
            equal = op == "=="

            def same(inputs: Inputs) -> Any:
                a, b = left(inputs), right(inputs)
                missing = first_missing(a, b)
                return missing if missing is not None else (a == b) == equal

            return same
        given_left, given_right, holds = self.given(node.left), self.given(node.right), _ORDERS[op]

        def compared(inputs: Inputs) -> Any:
            a, b = left(inputs), right(inputs)
            try:
                return holds(a, b * factor if factor != 1.0 else b)
            except TypeError:
                missing = first_missing(a, b)
            if isinstance(a, OneOf) or isinstance(b, OneOf):
                answers = {holds(x, y * factor) for x in values_of(a) for y in values_of(b)}
                if len(answers) == 1:
                    return answers.pop()
            if missing is None and op in ("==", "!="):
                return (a is b) == (op == "==")
            return missing if missing is not None else first_missing(given_left(inputs), given_right(inputs))

        return compared

    def several(self, op: str, parts: tuple[Formula, ...]) -> Formula:
        stop, join = (False, both) if op == "and" else (True, either)

        def joined(inputs: Inputs) -> Any:
            missing = []
            for part in parts:
                value = part(inputs)
                if value is stop:
                    return stop
                if value is not True and value is not False:
                    missing.append(value)
            return join(missing) if missing else not stop

        return joined

    def choice(self, node: Choose) -> Formula:
        condition, yes, no, factor = (self.formula(node.condition), self.formula(node.yes), self.formula(node.no),
                                      node.factor)  # fmt: skip

        def chosen(inputs: Inputs) -> Any:
            which = condition(inputs)
            if which is True:
                return yes(inputs)
            value = no(inputs)
            value = value * factor if factor != 1.0 and isinstance(value, int | float) else value
            if which is False:
                return value
            return either_value(which, yes(inputs), value)

        return chosen

    def lookup(self, node: Lookup) -> Formula:
        keys, find = tuple(self.given(a) for a in node.args), self.tables[node.table].find
        factors = node.factors

        def found(inputs: Inputs) -> Any:
            values = [key(inputs) for key in keys]
            missing = first_missing(*values)
            if missing is not None:
                return missing
            return find(*(v * factor if factor != 1.0 else v for v, factor in zip(values, factors, strict=True)))

        return found

    def call(self, node: Call) -> Formula:
        name, args = node.name, node.args
        if name == "absent":
            assert isinstance(args[0], Name)
            return self.absent(args[0])
        if name in _OF_VALUES:
            return self.of_values(node, tuple(self.given(a) for a in args), _OF_VALUES[name])
        first = self.formula(args[0])
        second = self.formula(args[1]) if len(args) > 1 else None
        listed = words(args[0].name) if isinstance(args[0], Name) else "values"
        empty = f"there are no {listed} to take the {name} of"

        def over_list(inputs: Inputs) -> Any:
            items = first(inputs)
            if isinstance(items, Unknown | Barred):
                return items
            return _over_list(name, () if items is ABSENT else items, second(inputs) if second else None,
                              second is not None, empty)  # fmt: skip

        return over_list

    def absent(self, node: Name) -> Formula:
        name = node.name
        if name in self.constants:
            return lambda inputs: False

        def is_absent(inputs: Inputs) -> Any:
            value = inputs[name]
            if isinstance(value, tuple):
                return either([v if isinstance(v, Unknown | Barred) else v is ABSENT for v in value])
            return value if isinstance(value, Unknown | Barred) else value is ABSENT

        return is_absent

    def of_values(self, node: Call, args: tuple[Formula, ...], run: Callable[..., Any]) -> Formula:
        factors = node.factors

        def called(inputs: Inputs) -> Any:
            values = [arg(inputs) for arg in args]
            missing = first_missing(*values)
            if missing is not None:
                return missing
            try:
                return run(*(v * factor if factor != 1.0 else v for v, factor in zip(values, factors, strict=True)))
            except (ValueError, TypeError, OverflowError):
                return Unknown(why=_NO_ROOT if node.name == "root" else f"{values[0]} is no day of the calendar")

        return called


def _over_list(name: str, items: Any, word: Any, worded: bool, empty: str) -> Any:
    match name:
        case "count":
            return len(items)
        case "has":
            return either([_same(i, word) for i in items])
        case "any_is":
            return either([_flag(i) for i in items])
        case "all_are":
            return both([_same(i, word) if worded else _flag(i) for i in items])
    missing = first_missing(*items)
    if missing is None and name == "how_many":
        if isinstance(word, Unknown):
            return word
        return sum(1 for i in items if i == word)
    if missing is None and name == "alike":
        return functions.all_equal(items)
    if missing is None:
        missing = first_missing(*(Unknown(why=_NONE_SAID) if i is ABSENT else i for i in items))
    if missing is not None:
        return missing
    if name == "sum":
        return sum(items)
    if not items:
        return Unknown(why=empty)
    if name in ("largest", "least"):
        return max(items) if name == "largest" else min(items)
    if isinstance(word, Unknown | Barred):
        return word
    if not isinstance(word, tuple) or len(word) != len(items):
        return Unknown(why="two lists that belong together are not of one length")
    return functions.text_at(items, word, name == "at_largest")


def _flag(value: Any) -> Any:
    return False if value is ABSENT else value


def _same(value: Any, word: Any) -> Any:
    missing = first_missing(value, word)
    return missing if missing is not None else value == word


_STEPS: Mapping[tuple[str, bool], Callable[[Any, Any, float], Any]] = {
    ("+", False): lambda a, b, k: a + b, ("+", True): lambda a, b, k: a + b * k,
    ("-", False): lambda a, b, k: a - b, ("-", True): lambda a, b, k: a - b * k,
    ("*", False): lambda a, b, k: a * b, ("*", True): lambda a, b, k: a * b * k,
    ("/", False): lambda a, b, k: a / b, ("/", True): lambda a, b, k: a / b * k,
}  # fmt: skip
_ORDERS: Mapping[str, Callable[[Any, Any], bool]] = {
    "<=": lambda a, b: a <= b or close(a, b), ">=": lambda a, b: a >= b or close(a, b),
    "<": lambda a, b: a < b and not close(a, b), ">": lambda a, b: a > b and not close(a, b),
    "==": close, "!=": lambda a, b: not close(a, b),
}  # fmt: skip
_NO_ROOT = "a number below zero has no square root"
_OF_VALUES: Mapping[str, Callable[..., Any]] = {
    "min": min, "max": max, "abs": abs, "percent": lambda value: value, "whole": functions.whole,
    "root": math.sqrt, "bears": functions.contains_phrases, "begins": functions.begins_with,
    "day": functions.day,
}  # fmt: skip
