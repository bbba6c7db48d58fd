"""The careful way to run a formula: three-valued, for parts of which something is not known.

The fast way is compiled (``emit``) and hands every part with an unknown to this one. A test holds the two to the
same answers where everything is known.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import attrs

from ampcite.engine.plan import Bound, Path
from ampcite.house.read import ABSENT_PART, UNKNOWN_PART, Description, Part
from ampcite.house.roof import reckon
from ampcite.language.formula import Arith, Call, Choose, Compare, Const, Logic, Lookup, Name, Node, Type
from ampcite.language.logic import ABSENT, Barred, Unknown, both, close, denied, either
from ampcite.language.tables import Table
from ampcite.language.wording import Either, Piece, Slot, said, words


@attrs.frozen
class Env:
    """What the names of a formula stand for, and where that was said."""

    values: dict[str, Any]
    where: Mapping[str, str]
    tables: Mapping[str, Table]


def evaluate(node: Node, env: Env) -> Any:
    """The value of a formula; Unknown or Barred where it has none."""
    match node:
        case Const(value=value):
            return value
        case Name(name=name, type=Type(kind="flag", many=False)):
            return _flag(env.values[name])
        case Name(name=name):
            return env.values[name]
        case Arith(op=op, left=left, right=right, k=k):
            a, b = _given(left, env), _given(right, env)
            bad = _not_numbers(a, b)
            return bad if bad is not None else _reckon(op, a, b, k)
        case Compare(op=op, left=left, right=right, k=k):
            return _compare(op, left, right, k, env)
        case Logic(op="and", parts=parts):
            return both([evaluate(p, env) for p in parts])
        case Logic(op="or", parts=parts):
            return either([evaluate(p, env) for p in parts])
        case Logic(parts=(part,)):
            return denied(evaluate(part, env))
        case Choose(condition=condition, yes=yes, no=no, k=k):
            chosen = evaluate(condition, env)
            if isinstance(chosen, Unknown | Barred):
                return chosen
            if chosen:
                return evaluate(yes, env)
            value = evaluate(no, env)
            return value * k if k != 1.0 and isinstance(value, int | float) else value
        case Lookup(table=table, args=args, ks=ks):
            keys = [_given(a, env) for a in args]
            bad = _not_numbers(*keys)
            if bad is not None:
                return bad
            return env.tables[table].find(*(v * k if k != 1.0 else v for v, k in zip(keys, ks, strict=True)))
        case Call():
            return _call(node, env)
    raise AssertionError(node)


def _given(node: Node, env: Env) -> Any:
    """A value that is needed; that there is none counts as not knowing one."""
    value = evaluate(node, env)
    if value is ABSENT:
        where = env.where.get(node.name, "") if isinstance(node, Name) else ""
        return Unknown(frozenset({where} if where else ()), "it is said that there is none")
    return value


def _not_numbers(*values: Any) -> Any:
    for value in values:
        if isinstance(value, Barred):
            return value
    unknown = None
    for value in values:
        if isinstance(value, Unknown):
            unknown = value if unknown is None else unknown | value
    return unknown


def _reckon(op: str, a: float, b: float, k: float) -> Any:
    try:
        match op:
            case "+":
                out = a + (b * k if k != 1.0 else b)
            case "-":
                out = a - (b * k if k != 1.0 else b)
            case "*":
                out = a * b
                out = out * k if k != 1.0 else out
            case _:
                out = a / b
                out = out * k if k != 1.0 else out
    except (ZeroDivisionError, OverflowError):
        return Unknown(why="the figures given lead to a division by zero")
    return out if math.isfinite(out) else Unknown(why="the figures given lead to no finite number")


def _compare(op: str, left: Node, right: Node, k: float, env: Env) -> Any:
    a, b = evaluate(left, env), evaluate(right, env)
    bad = _not_numbers(a, b)
    if bad is not None:
        return bad
    if left.type.kind != "number":
        return (a == b) == (op == "==")
    if op in ("==", "!=") and (a is ABSENT or b is ABSENT):
        return (a is b) == (op == "==")
    a, b = _given(left, env), _given(right, env)
    bad = _not_numbers(a, b)
    if bad is not None:
        return bad
    b = b * k if k != 1.0 else b
    match op:
        case "<=":
            return a <= b or close(a, b)
        case ">=":
            return a >= b or close(a, b)
        case "<":
            return a < b and not close(a, b)
        case ">":
            return a > b and not close(a, b)
        case "==":
            return close(a, b)
        case _:
            return not close(a, b)


def _call(node: Call, env: Env) -> Any:
    name, args = node.name, node.args
    if name == "absent":
        assert isinstance(args[0], Name)
        value = env.values[args[0].name]
        if isinstance(value, tuple):
            return either([v if isinstance(v, Unknown | Barred) else v is ABSENT for v in value])
        return value if isinstance(value, Unknown | Barred) else value is ABSENT
    if name in ("min", "max", "abs", "whole", "percent"):
        values = [_given(a, env) for a in args]
        bad = _not_numbers(*values)
        if bad is not None:
            return bad
        values = [v * k if k != 1.0 else v for v, k in zip(values, node.ks, strict=True)]
        match name:
            case "abs":
                return abs(values[0])
            case "whole":
                return whole(values[0])
            case "percent":
                return values[0]
            case _:
                return min(values) if name == "min" else max(values)
    if name == "bears":
        texts = [_given(a, env) for a in args]
        bad = _not_numbers(*texts)
        return bad if bad is not None else bears(*texts)
    if name == "day":
        written = _given(args[0], env)
        try:
            return written if isinstance(written, Unknown | Barred) else day(written)
        except (ValueError, TypeError, OverflowError):
            return Unknown(why=f"{written} is no day of the calendar")
    items = evaluate(args[0], env)
    if isinstance(items, Unknown | Barred):
        return items
    items = () if items is ABSENT else items
    word = evaluate(args[1], env) if len(args) > 1 else None
    match name:
        case "count":
            return len(items)
        case "has":
            return either([_same(i, word) for i in items])
        case "any_is":
            return either([_flag(i) for i in items])
        case "all_are":
            return both([_same(i, word) if len(args) > 1 else _flag(i) for i in items])
    bad = _not_numbers(*items)
    if bad is None and name == "how_many":
        return sum(1 for i in items if i == word)
    if bad is None and name == "alike":
        return alike(items)
    bad = bad if bad is not None else _not_numbers(*(_listed(i) for i in items))
    if bad is not None:
        return bad
    match name:
        case "sum":
            return sum(items)
    if not items:
        listed_ = words(args[0].name) if isinstance(args[0], Name) else "values"
        return Unknown(why=f"there are no {listed_} to take the {name} of")
    match name:
        case "largest":
            return max(items)
        case "least":
            return min(items)
    if isinstance(word, Unknown | Barred):
        return word
    if not isinstance(word, tuple) or len(word) != len(items):
        return Unknown(why="two lists that belong together are not of one length")
    return at(items, word, name == "at_largest")


def _listed(value: Any) -> Any:
    return Unknown(why="it is said that there is none") if value is ABSENT else value


def _flag(value: Any) -> Any:
    return False if value is ABSENT else value


def _same(value: Any, word: Any) -> Any:
    bad = _not_numbers(value, word)
    return bad if bad is not None else value == word


def over(a: float, b: float) -> float:
    """A quotient. Raises OverflowError where it is no finite number, ZeroDivisionError where there is none."""
    out = a / b
    if not math.isfinite(out):
        raise OverflowError
    return out


def times(a: float, b: float) -> float:
    """A product. Raises OverflowError where it is no finite number."""
    out = a * b
    if not math.isfinite(out):
        raise OverflowError
    return out


def bears(text: str, words: str) -> bool:
    """Whether a text holds each of some words: phrases joined by `` + ``, capitals, stops and spaces aside."""
    said = f" {_plain(text)} "
    return all(f" {_plain(phrase)} " in said for phrase in words.split(" + "))


def _plain(text: str) -> str:
    return " ".join("".join(c if c.isalnum() else " " for c in text.casefold()).split())


def whole(value: float) -> float:
    """The whole part of a number, forgiving what comparisons forgive."""
    nearest = round(value)
    return float(nearest) if close(nearest, value) else float(math.floor(value))


def day(written: Any) -> float:
    """The number of the day of a date, the first of January of the year 1 being 1.

    Raises ValueError, TypeError or OverflowError for a text that is no date written year-month-day.
    """
    return float(date(*map(int, written.split("-"))).toordinal())


def alike(items: Any) -> bool:
    """Whether all of a list are the same."""
    first = items[0] if items else None
    if isinstance(first, int | float):
        return all(isinstance(i, int | float) and close(i, first) for i in items)
    return all(i == first for i in items)


def at(numbers: Any, texts: Any, largest: bool) -> Any:
    """The text that belongs to the largest (or least) number; the first, where several are."""
    if len(numbers) != len(texts) or not all(isinstance(n, int | float) for n in numbers):
        raise TypeError
    pick = max(numbers) if largest else min(numbers)
    return texts[list(numbers).index(pick)]


# --- paths ---------------------------------------------------------------------------------------------------


Line = tuple[Part, str]
"""A worked line and the part it is about."""


@attrs.frozen
class World:
    """A description being checked.

    Attributes:
        values: name of a derived quantity to its value by part number, None where it has none; two more places at
            the end stand for a part not known and a part that is not there.
        reasons: (name, part number) to the Unknown, Barred or ABSENT that stands for a missing value.
        lines: name to the worked lines by part number.
    """

    description: Description
    values: dict[str, list[Any]]
    reasons: dict[tuple[str, int], Any]
    lines: dict[str, list[Sequence[Line]]]

    def follow(self, path: Path, part: Part) -> tuple[Any, str]:
        """The value a path leads to from a part, and the pointer of where it is or should be."""
        here, place = part, part.pointer
        parts: tuple[Part, ...] | None = None
        for how, key in path.steps:
            if how == "whole":
                here, place = self.description.whole, ""
            elif how == "many":
                found = here.links.get(key)
                if found is None:
                    return self.unlisted(here, key), f"{here.pointer}/{key}"
                parts, place = tuple(found), f"{here.pointer}/{key}"
            elif parts is not None:
                parts = tuple(self.one(p, key) for p in parts)
            else:
                place = f"{here.pointer}/{key}" if key != ".." else here.pointer
                here = self.one(here, key)
                if here is UNKNOWN_PART:
                    return Unknown(frozenset({place})), place
        if path.leaf is None:
            return parts, place
        if parts is None:
            return self.leaf(path, here, place)
        return tuple(self.leaf(path, p, p.pointer or place)[0] for p in parts), place

    def one(self, part: Part, key: str) -> Part:
        if part in (UNKNOWN_PART, ABSENT_PART):
            return part
        found: Part = part.links[key]
        return found

    def leaf(self, path: Path, part: Part, place: str) -> tuple[Any, str]:
        assert path.leaf is not None
        if part is ABSENT_PART:
            return ABSENT, place
        if part is UNKNOWN_PART:
            return Unknown(frozenset({place})), place
        where = f"{part.pointer}/{path.leaf}"
        if path.derived:
            value = self.values[path.leaf][part.number]
            if value is None:
                value = self.reasons.get((path.leaf, part.number), Unknown())
            return value, ""
        value = part.facts.get(path.leaf)
        return (Unknown(frozenset({where})) if value is None else value), where

    def parts(self, path: Path, part: Part) -> tuple[Part, ...]:
        """The parts whose leaf a path leads to."""
        here: tuple[Part, ...] = (part,)
        for how, key in path.steps:
            if how == "whole":
                here = (self.description.whole,)
            elif how == "many":
                here = tuple(here[0].links.get(key) or ())
            else:
                here = tuple(self.one(p, key) for p in here)
        return here

    def unlisted(self, part: Part, key: str) -> Unknown:
        """Why the parts a list would lead to are not known."""
        if "[" not in key:
            return Unknown(frozenset({f"{part.pointer}/{key}"}))
        name, _, field = key.rstrip("]").partition("[")
        lists = {pointer for _, pointer in self.description.unlisted[name]}
        return Unknown(frozenset(lists or {f"{p.pointer}/{field}" for p in self.description.parts[name] or ()
                                           if field not in p.facts}))  # fmt: skip


def begin(bound: Bound, description: Description) -> World:
    """The world of a check before any rule is asked, with what is reckoned from outlines in it."""
    names, places = (*bound.reckoned, *(d.name for d in bound.derived)), description.size + 2
    values: dict[str, list[Any]] = {name: [None] * places for name in names}
    lines: dict[str, list[Sequence[Line]]] = {name: [()] * places for name in names}
    reasons: dict[tuple[str, int], Any] = {}
    for name, part, value, line in reckon(description, bound.reckoned):
        if isinstance(value, Unknown):
            reasons[name, part.number] = value
            continue
        values[name][part.number] = value
        lines[name][part.number] = ((part, line),) if line else ()
    return World(description, values, reasons, lines)


def told(part: Part, lines: Sequence[Line]) -> list[str]:
    """Worked lines as one part tells them: those about another part begin with its label."""
    tail = f" of {part.label}"
    return [line if about is part else f"{about.label.removesuffix(tail)}: {line}" for about, line in lines]


def fill(pieces: tuple[Piece, ...], env: Env, types: Mapping[str, Type], write: Any) -> str:
    """Pieces filled in with values."""
    out = []
    for piece in pieces:
        match piece:
            case str():
                out.append(piece)
            case Slot(name=name, absent=absent) if absent and env.values[name] is ABSENT:
                out.append(absent)
            case Slot(name=name):
                out.append(said(env.values[name], types[name], write))
            case Either(condition=condition, yes=yes, no=no):
                chosen = evaluate(condition, env)
                out.append(fill(yes if chosen is True else no, env, types, write))
    return "".join(out)
