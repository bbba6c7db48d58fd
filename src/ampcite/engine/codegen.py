"""The fast way to judge: Python functions generated from checked trees, for what is fully known.

A *group* of rules, those of one family about one kind of part, becomes one function that goes through the parts of that
kind, loads what several of its rules read once, asks what several of them ask once, and notes for each rule and part
whether it is kept or broken, by its key. A derived quantity becomes a function for one part, called when its value is
first asked for. What a function can't say, since something is not known or is no plain value, it hands to the closures
of ``evaluate``. No function makes words.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, nullcontext

from ampcite.engine.plan import PART_BITS, Bound, BoundDerived, BoundRule, Path
from ampcite.engine.writer import Writer
from ampcite.language.tree import Arith, Call, Compare, Const, Logic, Name, Node, conjuncts, names_in


def group_source(bound: Bound, numbers: Mapping[str, int], rules: Sequence[int]) -> str:
    """The source of ``run(S, parts, passed, broken, open, later)`` for rules of one kind of part, by their numbers."""
    return _Group(bound, numbers, [(i, bound.rules[i]) for i in rules]).source()


def quantity_source(bound: Bound, numbers: Mapping[str, int], derived: BoundDerived) -> str:
    """The source of ``run(S, p)``, which gives the value of a quantity for a part, or None where it has none."""
    return _Quantity(bound, numbers, derived).source()


class _Quantity(Writer):
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


class _Group(Writer):
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
        lines = ["def run(S, parts, passed, broken, open, later):", " V = S.values; D = S.derive; house = S.house",
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
    def asking(self, numbers: Sequence[int], names: Iterable[str], condition: str,
               unknown: str = "later") -> Iterator[None]:  # fmt: skip
        """A block in which names are known and a condition holds; where one is not known, rules are handed on.

        ``unknown`` is "open" where that says all: the rule can't be decided then, whatever else is known.
        """
        sure = set(self.sure)
        checks = self.need(names)
        if checks:
            handed = f"{unknown}({numbers[0] << PART_BITS} + n)" if len(numbers) == 1 else \
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
        unknown = "open" if len(statements) == 1 and self.strict(rule, statements[0]) else "later"
        with self.asking([number], names, " and ".join(self.code(s) for s in statements[:at]), unknown):
            self.applying(number, rule, statements[at:])

    def strict(self, rule: BoundRule, node: Node) -> bool:
        """Whether a formula has no value as soon as any fact it names is unknown, and names nothing but facts."""
        match node:
            case Const():
                return True
            case Name(name=name):
                path, let = rule.inputs.get(name), dict(rule.let).get(name)
                if let is not None:
                    return self.strict(rule, let)
                return path is None or not (path.derived or path.many or path.type.many)
            case Arith(left=left, right=right) | Compare(left=left, right=right):
                return self.strict(rule, left) and self.strict(rule, right)
            case Logic(op="not", parts=(part,)):
                return self.strict(rule, part)
            case Call(name="min" | "max" | "abs" | "percent", args=args):
                return all(self.strict(rule, arg) for arg in args)
        return False

    def outcome(self, number: int, rule: BoundRule) -> None:
        holds = self.holds(rule)
        if len(holds) > 1:
            return self.ways(number << PART_BITS, rule, holds, frozenset())
        let = self.lets(rule.let, holds)
        names = {n for tree in (*holds, *(x for _, x in let)) for n in names_in(tree)}
        unknown = "open" if self.strict(rule, holds[0]) else "later"
        with self.asking([number], names, "True", unknown):
            for name, node in let:
                self.name(name, node)
            key = number << PART_BITS
            self.put(f"if {self.good(holds[0])}: passed({key} + n)", f"else: broken({key} + n)")

    def ways(self, key: int, rule: BoundRule, holds: Sequence[Node], named: frozenset[str]) -> None:
        """Asks one way after the other: what a way further on reads may be unknown where one before it is kept."""
        let = [(name, node) for name, node in self.lets(rule.let, holds[:1]) if name not in named]
        checks = self.need({n for tree in (holds[0], *(x for _, x in let)) for n in names_in(tree)})
        if checks:
            self.put(f"if {' or '.join(checks)}: later({key} + n)", "else:")
        with self.deeper() if checks else nullcontext():
            for name, node in let:
                self.name(name, node)
            self.put(f"if {self.good(holds[0])}: passed({key} + n)")
            if len(holds) == 1:
                self.put(f"else: broken({key} + n)")
                return
            self.put("else:")
            with self.deeper():
                self.ways(key, rule, holds[1:], named | {name for name, _ in let})

    def good(self, node: Node) -> str:
        self.checked_products = True
        out = self.code(node)
        self.checked_products = False
        return out


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
