"""What can be said of a statement of which something is not known: source whose value is true, false or None.

None stands for not known. Where a table bars something, or a value is one of two numbers, the code raises LookupError,
and the closures of ``evaluate`` have to be asked.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import lru_cache
from typing import NamedTuple

import attrs

from ampcite.engine.plan import Bound, Path
from ampcite.engine.writer import Writer, identifier, times
from ampcite.language.tree import Arith, Call, Choose, Compare, Const, Logic, Lookup, Name, Node, names_in, walk

_OF_ALL = frozenset({"sum", "largest", "least", "how_many", "alike", "min", "max", "abs", "percent", "whole",
                     "root"})
"""Functions that have no value where anything they are given is not known."""
_OF_VALUES = frozenset({"min", "max", "abs", "percent", "whole", "root", "bears", "begins", "day"})
"""Those that are given single values."""


class Doubtful(Writer):
    """Writes such expressions for the formulas of one function."""

    def __init__(self, bound: Bound, numbers: Mapping[str, int], barred: frozenset[str]) -> None:
        super().__init__(bound, numbers)
        self.barred = barred
        self.reckoned: set[str] = set()
        self.missing: frozenset[str] = frozenset()

    @contextmanager
    def unsure(self, checks: Sequence[str], names: Iterable[str]) -> Iterator[None]:
        """A block for where one of some checks holds, in which what names stand for is loaded and may not be known."""
        reckoned = set(self.reckoned)
        with self.lacking(checks), self.deeper():
            wanted = set(names)
            for name, path in self.paths.items():
                if name in wanted:
                    self.load(path)
                    self.guard(path)
            yield
        self.reckoned = reckoned

    @contextmanager
    def lacking(self, checks: Sequence[str]) -> Iterator[None]:
        """Where one of some checks holds: if there is only one, what it tests is not known."""
        before = self.missing
        if len(checks) == 1:
            self.missing |= set(checks)
        yield
        self.missing = before

    def guard(self, path: Path) -> None:
        """Where a quantity that a table may bar is not known, closures are asked if there is more to say of it."""
        v = self.variable(path)
        if not path.derived or path.leaf not in self.barred or v in self.sure:
            return
        test, parts = (f"{v} is not None and None in {v}", f"*{self.parts(path)}") if path.many else (
            f"{v} is None", self.part(path.steps))  # fmt: skip
        self.put(f"if {test}: only_unknown(S, {self.numbers[str(path.leaf)]}, {parts})")

    def maybe(self, node: Node) -> str | None:
        """An expression for a formula that is None where it has no value; None where only closures can say."""
        unknown = self.unknown(node)
        if unknown is not None:
            return "None" if self.certainly(unknown) else f"({_unless(unknown)}{self.code(node)})"
        match node:
            case Const():
                return self.code(node)
            case Logic(op=op):
                parts = [self.maybe(part) for part in node.parts]
                if None in parts:
                    return None
                return f"{_KLEENE[op]}({', '.join(map(str, parts))})" if set(parts) - {"None"} else "None"
            case Choose():
                return self.maybe_choice(node)
            case Arith(left=left, right=right) | Compare(left=left, right=right):
                return self.jointly((left, right), lambda one: attrs.evolve(node, left=one[0], right=one[1]))
            case Call(name="count", args=(Name(name=name),)):
                return f"(None if {self.names[name]} is None else {self.code(node)})"
            case Call(name=name, args=args) if name not in _OF_VALUES:
                return self.maybe_list(node)
            case Call(args=args) | Lookup(args=args):
                return self.jointly(args, lambda some: attrs.evolve(node, args=some))
        return None

    def guarded(self, node: Node) -> bool:
        """Whether a formula names a quantity that a table may bar."""
        paths = [self.paths[name] for name in names_in(node) if name in self.paths]
        return any(path.derived and path.leaf in self.barred for path in paths)

    def maybe_choice(self, node: Choose) -> str | None:
        """Of two values the one that is chosen, or, where it is not known which, what is so of both."""
        which, yes, no = self.maybe(node.condition), self.maybe(node.yes), self.maybe(node.no)
        if which is None or yes is None or no is None:
            return None
        if node.factor != 1.0:
            other = self.temporary()
            no = f"(None if ({other} := {no}) is None else {times(other, node.factor)})"
        chosen = self.temporary()
        return f"(one_of_two({yes}, {no}) if ({chosen} := {which}) is None else {yes} if {chosen} else {no})"

    def jointly(self, operands: Sequence[Node], joined: Callable[[tuple[Node, ...]], Node]) -> str | None:
        """What several operands are joined to: each is reckoned also beside one not known, as a table may bar it."""
        reckoned, names = [], list[Node]()
        for operand in operands:
            value = self.maybe(operand)
            if value is None:
                return None
            if isinstance(operand, Const):
                names.append(operand)
                continue
            name = self.temporary()
            self.names[f"?{name}"] = name  # no name of a formula begins so
            names.append(Name(f"?{name}", operand.type))
            reckoned.append(f"{name} := {value}")
        return f"(None if None in ({', '.join(reckoned)},) else {self.code(joined(tuple(names)))})"

    def certainly(self, unknown: Sequence[str]) -> bool:
        """Whether one of some tests holds here for sure."""
        return not self.missing.isdisjoint(unknown)

    def maybe_list(self, node: Call) -> str | None:
        """An expression for what is asked of a list of which some may not be known."""
        name, first, rest = node.name, node.args[0], [self.maybe(one) for one in node.args[1:]]
        if name not in _OF_SOME or not isinstance(first, Name) or first.name not in self.paths or None in rest:
            return None
        v = self.names[first.name]
        listed = v if name == "absent" else self.listed(first, v)
        return f"{_OF_SOME[name]}({', '.join([listed, *map(str, rest)])})"

    def unless_false(self, statements: Sequence[Node], open: str, careful: str) -> None:
        """Where something that the first of several statements names is not known: what is done if they may all hold.

        Args:
            statements: all of them.
            open: what is done where it is not known whether they do.
            careful: what is done where they do after all, or only closures can say.
        """
        parts = [self.maybe(one) for one in statements]
        some = [part for part in parts if part != "None"]
        if None in parts:
            self.put(careful)
        elif not self.unknown(statements[0]):  # one of several statements joined, say, may hold whatever the others do
            good = f"all_true({', '.join(map(str, parts))})" if len(parts) > 1 else parts[0]
            self.put(f"r = {good}", f"if r is None: {open}", f"elif r: {careful}")
        elif some:
            known = [one for one, part in zip(statements, parts, strict=True) if part != "None"]
            self.put(f"if {' and '.join(map(self.not_false, known))}: {open}")
        else:
            self.put(open)

    def may_be_true(self, node: Node) -> bool:
        """Whether a statement may be true or false though not all that it names is known."""
        return self.unknown(node) is None and self.maybe(node) is not None

    @contextmanager
    def weighed(self, statements: Sequence[Node], open: str, careful: str) -> Iterator[None]:
        """A block in which the first of several statements is true, though not all that it names need be known.

        Args:
            statements: all of them; the first is such a one.
            open: what is done where it is not known whether all hold.
            careful: what is done where only closures can say.
        """
        first, rest = statements[0], statements[1:]
        sure = set(self.sure)
        checks = self.need(names_in(first))
        if checks:
            known, self.sure = self.sure, set(sure)
            self.put(f"if {' or '.join(checks)}:")
            with self.unsure(checks, names_in(first)):
                self.put(f"r = {self.maybe(first)}")
            self.sure = known
        self.put(f"{'else: ' if checks else ''}r = {self.code(first)}")
        self.sure = sure
        if checks:
            self.put("if r is None:")
            with self.unsure((), {name for one in rest for name in names_in(one)}):
                parts = [self.maybe(one) for one in rest]
                others = f"if all_true({', '.join(map(str, parts))}) is not False: " if parts else ""
                self.put(careful if None in parts else others + open)
        self.put(f"{'elif' if checks else 'if'} r:")
        with self.deeper():
            yield
        self.sure = sure

    def not_false(self, node: Node) -> str:
        """A condition for a statement being true or not known."""
        unknown = self.unknown(node)
        if unknown is None:
            return f"{self.maybe(node)} is not False"
        return f"({' or '.join((*unknown, self.code(node)))})"

    def maybe_let(self, name: str, node: Node) -> bool:
        """Puts down a name that is reckoned on the way, None where it is not known; False where that can't be said."""
        value = self.maybe(node)
        if value is None:
            return False
        t = self.names[name] = f"t_{identifier(name)}"
        self.reckoned.add(name)
        self.put(f"{t} = {value}")
        if value != "None" and any(isinstance(n, Arith) and n.op == "*" for n in walk(node)):
            self.put(f"if {t} is not None and {t} - {t}: raise OverflowError")
        return True

    def unknown(self, node: Node) -> list[str] | None:
        """The tests for a formula having no value, which are all that could keep it from one; None where more may."""
        kinds = _kinds_in(node)
        if kinds.chooses:
            return None  # of two values both may be known where it is not known which
        lookups, decides = kinds.lookups, kinds.decides
        names = sorted(name for name in names_in(node) if name not in self.bound.constants)
        if lookups and (len(lookups) > 1 or {*names} - names_in(lookups[0])):
            return None  # what is not known must keep the table from being asked, since it may bar something
        paths = {name: self.paths[name] for name in names if name in self.paths}
        many = any(path.many and path.leaf is not None for path in paths.values())
        if (len(names) > 1 or decides or many) and not self.of_all(node):
            return None  # a figure may decide alone, beside what is not known
        return [test for name in names for test in self.tests(name)]

    def tests(self, name: str) -> list[str]:
        """The test for what a name stands for not being known."""
        path, v = self.paths.get(name), self.names[name]
        if path is None:
            return [f"{v} is None"] if name in self.reckoned else []
        if v in self.sure:
            return []
        return [f"{v} is None or None in {v}" if path.many and path.leaf is not None else f"{v} is None"]

    def of_all(self, node: Node) -> bool:
        """Whether a formula has no value as soon as anything it names has none."""
        match node:
            case Const() | Name():
                return True
            case Arith(left=left, right=right) | Compare(left=left, right=right):
                return self.of_all(left) and self.of_all(right)
            case Logic(op="not", parts=(part,)):
                return self.of_all(part)
            case Call(name="count", args=(Name(name=name),)):
                path = self.paths.get(name)
                return path is None or not path.many or path.leaf is None
            case Call(name=name, args=args):
                return name in _OF_ALL and all(map(self.of_all, args))
            case Lookup(args=args):
                return all(map(self.of_all, args))
        return False


class _Kinds(NamedTuple):
    """What a formula holds: choices between two values, look-ups, and statements joined."""

    chooses: bool
    lookups: tuple[Lookup, ...]
    decides: bool


@lru_cache(maxsize=4096)
def _kinds_in(node: Node) -> _Kinds:
    below = walk(node)
    return _Kinds(any(isinstance(n, Choose) or (isinstance(n, Const) and isinstance(n.value, bool)) for n in below),
                  tuple(n for n in below if isinstance(n, Lookup)),
                  any(isinstance(n, Logic) and n.op != "not" for n in below))  # fmt: skip


_OF_SOME = {"any_is": "any_true", "all_are": "all_same", "has": "any_same", "absent": "any_absent"}
_KLEENE = {"and": "all_true", "or": "one_true", "not": "untrue"}


def _unless(unknown: Sequence[str]) -> str:
    """What stands before an expression that has a value only where none of some tests holds."""
    return f"None if {' or '.join(unknown)} else " if unknown else ""


def may_be_barred(bound: Bound) -> frozenset[str]:
    """The derived quantities that rest on a table, which may bar them, and those that may be one of two numbers."""
    out, either = set[str](), set[str]()
    for derived in bound.derived:
        trees = [node for case in derived.cases for node in (case.when, case.value, *(n for _, n in case.let)) if node]
        asks_a_table = any(isinstance(n, Lookup) for tree in trees for n in walk(tree))
        if asks_a_table or any(path.derived and path.leaf in out for path in derived.inputs.values()):
            out.add(derived.name)
        if derived.type.kind == "number" and any(isinstance(n, Choose) for tree in trees for n in walk(tree)):
            either.add(derived.name)
    return frozenset(out | either)
