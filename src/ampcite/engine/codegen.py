"""The fast way to judge: Python functions generated from checked trees, for what is fully known.

A *group* of rules, those of one family about one kind of part, becomes one function that goes through the parts of that
kind, loads what several of its rules read once, asks what several of them ask once, and notes for each rule and part
whether it is kept or broken, by its key. A derived quantity becomes a function for one part, called when its value is
first asked for. What a function can't say, since something is not known or is no plain value, it hands to the closures
of ``evaluate``. No function makes words.

Every text that reaches the compiler is written here from nodes that the white list has passed: names match
``[a-z][a-z0-9_]*`` and are prefixed, texts are quoted by ``repr``.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager

from ampcite.base.errors import Complaint, PackError
from ampcite.engine.plan import PART_BITS, Bound, BoundDerived, BoundRule, Path
from ampcite.language.formula import (
    Arith,
    Call,
    Choose,
    Compare,
    Const,
    Logic,
    Lookup,
    Name,
    Node,
    conjuncts,
    names_in,
    walk,
)

_IDENTIFIER = re.compile(r"[a-z][a-z0-9_]*")


def group_source(bound: Bound, numbers: Mapping[str, int], rules: Sequence[int]) -> str:
    """The source of ``run(S, parts, passed, broken, later)`` for rules of one kind of part, by their numbers."""
    return _Group(bound, numbers, [(i, bound.rules[i]) for i in rules]).source()


def quantity_source(bound: Bound, numbers: Mapping[str, int], derived: BoundDerived) -> str:
    """The source of ``run(S, p)``, which gives the value of a quantity for a part, or None where it has none."""
    return _Quantity(bound, numbers, derived).source()


class _Writer:
    """Lines of one function, with what has been loaded so far."""

    def __init__(self, bound: Bound, numbers: Mapping[str, int]) -> None:
        self.bound = bound
        self.numbers = numbers
        self.head: list[str] = []
        self.body: list[str] = []
        self.depth = 1
        self.loaded: set[str] = set()
        self.sure: set[str] = set()
        self.variables: dict[Path | tuple[tuple[str, str], ...], str] = {}
        self.names: dict[str, str] = {}
        self.paths: dict[str, Path] = {}
        self.checked_products = False
        self.temporaries = 0

    def put(self, *lines: str) -> None:
        self.body += [" " * self.depth + line for line in lines]

    @contextmanager
    def deeper(self) -> Iterator[None]:
        """A block that is not always run: what it loads, and what is sure in it, is not so after it."""
        self.depth += 1
        loaded, sure = set(self.loaded), set(self.sure)
        yield
        self.loaded, self.sure = loaded, sure
        self.depth -= 1

    # --- what comes in ---------------------------------------------------------------------------------------

    def scope(self, inputs: Mapping[str, Path]) -> None:
        """Lets names stand for what paths lead to."""
        self.paths = dict(inputs)
        self.names = {name: self.variable(path) for name, path in inputs.items()}

    def variable(self, key: Path | tuple[tuple[str, str], ...]) -> str:
        return self.variables.setdefault(key, f"v{len(self.variables)}")

    def need(self, names: Iterable[str]) -> list[str]:
        """Loads what names stand for; gives the conditions under which one of them is not known.

        What follows must only be run where none of them is so.
        """
        wanted = set(names)
        out = []
        for name, path in self.paths.items():
            v = self.variable(path)
            if name in wanted and v not in self.sure:
                self.load(path)
                self.sure.add(v)
                out.append(f"{v} is None or None in {v}" if path.many and path.leaf is not None else f"{v} is None")
        return out

    def load(self, path: Path) -> None:
        v = self.variable(path)
        if v not in self.loaded:
            self.loaded.add(v)
            self.several(v, path) if path.many else self.single(v, path)

    def single(self, v: str, path: Path) -> None:
        if path.steps == (("whole", ""),) and not path.derived:
            if f"    {v} = h({path.leaf!r})" not in self.head:
                self.head.append(f"    {v} = h({path.leaf!r})")
            return
        part = self.part(path.steps)
        if path.derived:
            number = self.numbers[str(path.leaf)]
            place = "n" if part == "p" else f"{part}.number"
            self.put(f"{v} = V[{number}][{place}]", f"if {v} is TODO: {v} = D[{number}](S, {part})")
        else:
            self.put(f"{v} = f({path.leaf!r})" if part == "p" else f"{v} = {part}.facts.get({path.leaf!r})")

    def part(self, steps: tuple[tuple[str, str], ...]) -> str:
        """The variable of the part that single steps lead to."""
        if not steps:
            return "p"
        if steps == (("whole", ""),):
            return "house"
        v = self.variable(steps)
        if v not in self.loaded:
            self.loaded.add(v)
            before = self.part(steps[:-1])
            self.put(f"{v} = {'L' if before == 'p' else before + '.links'}[{steps[-1][1]!r}]")
        return v

    def several(self, v: str, path: Path) -> None:
        at = next(i for i, (how, _) in enumerate(path.steps) if how == "many")
        before, key, after = self.part(path.steps[:at]), path.steps[at][1], path.steps[at + 1 :]
        found = f"{'L' if before == 'p' else before + '.links'}.get({key!r})"
        if path.leaf is None:
            self.put(f"{v} = {found}")
            return
        each = "q" + "".join(f".links[{k!r}]" for _, k in after)
        if path.derived:
            parts = f"[{each} for q in {v}]" if after else v
            values = f"values_of(S, {self.numbers[path.leaf]}, {parts})"
        else:
            values = f"[{each}.facts.get({path.leaf!r}) for q in {v}]"
        self.put(f"{v} = {found}", f"if {v} is not None: {v} = {values}")

    # --- formulas --------------------------------------------------------------------------------------------

    def code(self, node: Node) -> str:
        match node:
            case Const(value=value):
                return repr(value)
            case Name(name=name, type=kind):
                if name in self.bound.constants:
                    return repr(self.bound.constants[name].value)
                v = self.names[name]
                return f"({v} is True)" if kind.kind == "flag" and not kind.many and name in self.paths else v
            case Arith(op=op, left=left, right=right, factor=factor):
                a, b = self.code(left), self.code(right)
                if op in "+-":
                    return f"({a} {op} {_times(b, factor)})"
                if op == "/":
                    return _times(f"divide({a}, {b})", factor)
                return _times(f"multiply({a}, {b})" if self.checked_products else f"({a} * {b})", factor)
            case Compare():
                return self.comparison(node)
            case Logic(op="not", parts=(part,)):
                return f"(not {self.code(part)})"
            case Logic(op=op, parts=parts):
                return "(" + f" {op} ".join(self.code(p) for p in parts) + ")"
            case Choose(condition=condition, yes=yes, no=no, factor=factor):
                return f"({self.code(yes)} if {self.code(condition)} else {_times(self.code(no), factor)})"
            case Lookup(table=table, args=args, factors=factors):
                return f"T_{_identifier(table)}({', '.join(self.arguments(args, factors))})"
            case Call(name=name, args=args, factors=factors):
                return self.call(name, self.arguments(args, factors), args)

    def arguments(self, args: Sequence[Node], factors: Sequence[float]) -> list[str]:
        return [_times(self.code(a), k) for a, k in zip(args, factors, strict=True)]

    def comparison(self, node: Compare) -> str:
        op, a, b = node.op, self.code(node.left), _times(self.code(node.right), node.factor)
        if node.left.type.kind != "number":
            return f"({a} {op} {b})"
        if op in ("==", "!="):
            return f"({'not ' if op == '!=' else ''}close({a}, {b}))"
        first, a = self.once(a, node.left)
        second, b = self.once(b, node.right)
        join = "or" if "=" in op else "and not"
        return f"({first} {op} {second} {join} close({a}, {b}))"

    def once(self, code: str, node: Node) -> tuple[str, str]:
        """A value where it is first written, and what stands for it after that."""
        if isinstance(node, Name | Const) and "*" not in code:
            return code, code
        self.temporaries += 1
        return f"(x{self.temporaries} := {code})", f"x{self.temporaries}"

    def call(self, name: str, args: list[str], nodes: tuple[Node, ...]) -> str:
        first = args[0]
        match name:
            case "absent":
                assert isinstance(nodes[0], Name)
                if nodes[0].name in self.bound.constants:
                    return "False"
                v = self.names[nodes[0].name]
                return f"(ABSENT in {v})" if nodes[0].type.many else f"({v} is ABSENT)"
            case "count":
                return f"len({first})"
            case "has":
                return f"({args[1]} in {first})"
            case "how_many":
                return f"{first}.count({args[1]})"
            case "all_are":
                return f"({first}.count({args[1] if len(args) == 2 else 'True'}) == len({first}))"
            case "any_is":
                return f"(True in {first})"
            case "at_largest" | "at_least":
                return f"text_at({first}, {args[1]}, {name == 'at_largest'})"
            case "percent":
                return first
        return f"{_CALLED.get(name, name)}({', '.join(args)})"

    def name(self, name: str, node: Node, factor: float = 1.0) -> None:
        """Puts down the value of a name that is reckoned on the way; stops where it left the range of floats."""
        self.names[name] = t = f"t_{_identifier(name)}"
        self.put(f"{t} = {_times(self.code(node), factor)}")
        if any(isinstance(n, Arith) and n.op == "*" for n in walk(node)):
            self.put(f"if {t} - {t}: raise OverflowError")

    def lets(self, let: Sequence[tuple[str, Node]], trees: Iterable[Node]) -> list[tuple[str, Node]]:
        """Those names reckoned on the way that some trees need."""
        wanted = {name for tree in trees for name in names_in(tree)}
        out = []
        for name, node in reversed(let):
            if name in wanted:
                out.append((name, node))
                wanted |= names_in(node)
        return out[::-1]


class _Quantity(_Writer):
    def __init__(self, bound: Bound, numbers: Mapping[str, int], derived: BoundDerived) -> None:
        super().__init__(bound, numbers)
        self.derived = derived
        self.number = numbers[derived.name]
        self.scope(derived.inputs)
        self.depth = 2

    def source(self) -> str:
        for case in self.derived.cases:
            if case.when is None:
                self.case(case.let, case.value, case.factor)
                break
            statements = conjuncts(case.when)
            self.known(names_in(statements[0]))
            self.put(f"if {self.code(statements[0])}:")
            with self.deeper():
                self.when(statements[1:], case.let, case.value, case.factor)
        else:
            self.put(f"V[{self.number}][n] = ABSENT", "return ABSENT")
        lines = ["def run(S, p):", " V = S.values; D = S.derive; n = p.number; f = p.facts.get; L = p.links",
                 " house = S.house; h = house.facts.get", " try:", *(f"  {line.strip()}" for line in self.head),
                 *self.body, " except NOT_PLAIN:", f"  return S.careful({self.number}, p)"]  # fmt: skip
        return "\n".join(lines) + "\n"

    def known(self, names: Iterable[str]) -> None:
        checks = self.need(names)
        if checks:
            self.put(f"if {' or '.join(checks)}: return S.careful({self.number}, p)")

    def when(self, statements: Sequence[Node], let: Sequence[tuple[str, Node]], value: Node, factor: float) -> None:
        if not statements:
            return self.case(let, value, factor)
        self.known(names_in(statements[0]))
        self.put(f"if {self.code(statements[0])}:")
        with self.deeper():
            self.when(statements[1:], let, value, factor)

    def case(self, let: Sequence[tuple[str, Node]], value: Node, factor: float) -> None:
        let = self.lets(let, [value])
        self.known({n for tree in (value, *(x for _, x in let)) for n in names_in(tree)})
        for name, node in let:
            self.name(name, node)
        self.name(self.derived.name, value, factor)
        out = self.names.pop(self.derived.name)
        self.put(f"V[{self.number}][n] = {out}", f"return {out}")


_Item = tuple[int, BoundRule, tuple[Node, ...]]
"""A rule by its number, and what has still to be asked before it is known to apply."""


class _Group(_Writer):
    def __init__(self, bound: Bound, numbers: Mapping[str, int], rules: Sequence[tuple[int, BoundRule]]) -> None:
        super().__init__(bound, numbers)
        self.rules = rules

    def source(self) -> str:
        self.depth = 2
        for path, times in Counter(p for _, r in self.rules for p in self.asked(r)).items():
            if times > 1 and not path.steps and not path.derived:
                self.load(path)
        items = [(i, r, tuple(dict.fromkeys(conjuncts(r.applies))) if r.applies is not None else ())
                 for i, r in self.rules]  # fmt: skip
        self.block(items)
        lines = ["def run(S, parts, passed, broken, later):", " V = S.values; D = S.derive; house = S.house",
                 " h = house.facts.get", *(f" {line.strip()}" for line in self.head), " for p in parts:",
                 "  n = p.number; f = p.facts.get; L = p.links", *self.body]  # fmt: skip
        return "\n".join(lines) + "\n"

    def asked(self, rule: BoundRule) -> set[Path]:
        """What a rule reads, but for what it only puts into words."""
        holds = self.holds(rule)
        trees = [*holds, *(n for _, n in self.lets(rule.let, holds)), *([rule.applies] if rule.applies else [])]
        used = {name for tree in trees for name in names_in(tree)}
        return {path for name, path in rule.inputs.items() if name in used}

    def holds(self, rule: BoundRule) -> list[Node]:
        return [rule.holds] if rule.holds is not None else [one.holds for one in rule.alternatives]

    def block(self, items: Sequence[_Item]) -> None:
        """Asks of several rules what more than one of them asks first, once."""
        same: dict[tuple[str, int], list[_Item]] = {}
        for item in items:
            _, rule, statements = item
            self.scope(rule.inputs)
            shared = bool(statements) and _safe(statements[0])
            key = (self.code(statements[0]) if shared else "", -1 if shared else item[0])
            same.setdefault(key, []).append(item)
        for key, some in same.items():
            if len(some) == 1:
                self.rule(some[0])
                continue
            _, rule, statements = some[0]
            self.scope(rule.inputs)
            with self.asking([number for number, _, _ in some], names_in(statements[0]), key[0]):
                self.block([(i, r, left[1:]) for i, r, left in some])

    @contextmanager
    def asking(self, numbers: Sequence[int], names: Iterable[str], condition: str) -> Iterator[None]:
        """A block in which names are known and a condition holds; where one is not known, rules are handed on."""
        sure = set(self.sure)
        checks = self.need(names)
        if checks:
            handed = f"later({numbers[0] << PART_BITS} + n)" if len(numbers) == 1 else \
                f"later_all({tuple(i << PART_BITS for i in numbers)}, n, later)"  # fmt: skip
            self.put(f"if {' or '.join(checks)}: {handed}")
        self.put(f"{'elif' if checks else 'if'} {condition}:")
        with self.deeper():
            yield
        self.sure = sure

    def rule(self, item: _Item) -> None:
        number, rule, statements = item
        self.scope(rule.inputs)
        self.put("try:")
        with self.deeper():
            self.applying(number, rule, statements)
        self.put(f"except NOT_PLAIN: later({number << PART_BITS} + n)")

    def applying(self, number: int, rule: BoundRule, statements: Sequence[Node]) -> None:
        if not statements:
            return self.outcome(number, rule)
        names = names_in(statements[0])
        sure = self.sure | {self.names[n] for n in names if n in self.names}
        at = 1
        while at < len(statements) and all(n in self.bound.constants or self.names[n] in sure
                                           for n in names_in(statements[at])):  # fmt: skip
            at += 1
        with self.asking([number], names, " and ".join(self.code(s) for s in statements[:at])):
            self.applying(number, rule, statements[at:])

    def outcome(self, number: int, rule: BoundRule) -> None:
        holds = self.holds(rule)
        let = self.lets(rule.let, holds)
        with self.asking([number], {n for tree in (*holds, *(x for _, x in let)) for n in names_in(tree)}, "True"):
            for name, node in let:
                self.name(name, node)
            self.checked_products = True
            good = " or ".join(self.code(one) for one in holds)
            self.checked_products = False
            key = number << PART_BITS
            self.put(f"if {good}: passed({key} + n)", f"else: broken({key} + n)")


def _safe(node: Node) -> bool:
    """Whether a statement, of which everything is known, can be asked without anything going wrong."""
    match node:
        case Const():
            return True
        case Name(type=kind):
            return not kind.many
        case Compare(left=left, right=right):
            return left.type.kind != "number" and _safe(left) and _safe(right)
        case Logic(parts=parts):
            return all(map(_safe, parts))
        case Call(name="absent", args=(Name(type=kind),)):
            return not kind.many
    return False


_CALLED = {"alike": "all_equal", "bears": "contains_phrases"}


def _times(code: str, factor: float) -> str:
    return code if factor == 1.0 else f"({code} * {factor!r})"


def _identifier(name: str) -> str:
    """A name as it may stand in code: the last gate before the compiler, whatever the gates before it let through."""
    if not _IDENTIFIER.fullmatch(name):
        raise PackError([Complaint("", name[:60], "is no name that can be reckoned with")])
    return name
