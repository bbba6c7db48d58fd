"""The fast way to judge: Python functions generated from checked trees, for what is fully known.

A *group* of rules, those of one family about one kind of part, becomes one function that goes through the parts of that
kind, loads what several of its rules read once, asks what several of them ask once, and notes for each rule and part
whether it is kept or broken, by its key. A derived quantity becomes a function for one part, called when its value is
first asked for. Where something is not known a function says whether that leaves a rule open (``doubt``). What it can't
say, since a table may bar something or a value is no plain one, it hands to the closures of ``evaluate``. No function
makes words.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, nullcontext
from functools import partial

from ampcite.engine.doubt import Doubtful
from ampcite.engine.plan import PART_BITS, Bound, BoundDerived, BoundRule, Path
from ampcite.engine.writer import OF_HOUSE, OF_PART, short_names, times
from ampcite.language.tree import Call, Compare, Const, Logic, Name, Node, conjuncts, names_in


def group_source(bound: Bound, numbers: Mapping[str, int], barred: frozenset[str], rules: Sequence[int]) -> str:
    """The source of ``run(S, parts, passed, broken, open, later)`` for rules of one kind of part, by their numbers."""
    return _Group(bound, numbers, barred, [(i, bound.rules[i]) for i in rules]).source()


def quantity_source(bound: Bound, numbers: Mapping[str, int], barred: frozenset[str],
                    derived: BoundDerived) -> str:  # fmt: skip
    """The source of ``run(S, p)``, which gives the value of a quantity for a part, or None where it has none."""
    return _Quantity(bound, numbers, barred, derived).source()


class _Quantity(Doubtful):
    def __init__(self, bound: Bound, numbers: Mapping[str, int], barred: frozenset[str],
                 derived: BoundDerived) -> None:  # fmt: skip
        super().__init__(bound, numbers, barred)
        self.derived = derived
        self.number = numbers[derived.name]
        self.scope(derived.inputs)
        self.depth = 2

    def source(self) -> str:
        for case in self.derived.cases:
            if case.when is None:
                self.case(case.let, case.value, case.factor)
                break
            self.when(conjuncts(case.when), case.let, case.value, case.factor)
        else:
            self.put(f"V[{self.number}][n] = ABSENT", "return ABSENT")
        lines = [" try:", *(f"  {line.strip()}" for line in self.head),
                 *self.body, " except NOT_PLAIN:", f"  return S.careful({self.number}, p)"]  # fmt: skip
        return "\n".join(["def run(S, p):", *short_names({**OF_HOUSE, **OF_PART}, lines), *lines]) + "\n"

    def when(self, statements: Sequence[Node], let: Sequence[tuple[str, Node]], value: Node, factor: float) -> None:
        if not statements:
            return self.case(let, value, factor)
        if self.may_be_true(statements[0]):
            with self.weighed(statements, self.none(), f"return S.careful({self.number}, p)"):
                self.when(statements[1:], let, value, factor)
            return
        sure = set(self.sure)
        checks = self.need(names_in(statements[0]))
        if checks:
            known, self.sure = self.sure, set(sure)
            self.put(f"if {' or '.join(checks)}:")
            with self.unsure(checks, {n for one in statements for n in names_in(one)}):
                self.unless_false(statements, self.none(), f"return S.careful({self.number}, p)")
            self.sure = known
        self.put(f"{'elif' if checks else 'if'} {self.code(statements[0])}:")
        with self.deeper():
            self.when(statements[1:], let, value, factor)
        self.sure = sure

    def none(self) -> str:
        return f"V[{self.number}][n] = None; return None"

    def case(self, let: Sequence[tuple[str, Node]], value: Node, factor: float) -> None:
        let = self.lets(let, [value])
        sure = set(self.sure)
        names = {n for tree in (value, *(x for _, x in let)) for n in names_in(tree)}
        checks = self.need(names)
        if checks:
            known, self.sure = self.sure, sure
            self.put(f"if {' or '.join(checks)}:")
            with self.unsure(checks, names):
                body, whole = len(self.body), all(self.maybe_let(name, node) for name, node in let)
                self.checked_products = True
                maybe = self.maybe(value) if whole else None
                self.checked_products = False
                if maybe is None:
                    del self.body[body:]
                    self.put(f"return S.careful({self.number}, p)")
                else:
                    self.put(f"r = {maybe}")
                    if factor != 1.0:
                        self.put(f"if r is not None: r = {times('r', factor)}")
                    self.put(f"V[{self.number}][n] = r", "return r")
            self.sure = known
        for name, node in let:
            self.name(name, node)
        self.name(self.derived.name, value, factor)
        out = self.names.pop(self.derived.name)
        self.put(f"V[{self.number}][n] = {out}", f"return {out}")


_Item = tuple[int, BoundRule, tuple[Node, ...]]
"""A rule by its number, and what has still to be asked before it is known to apply."""


class _Group(Doubtful):
    def __init__(self, bound: Bound, numbers: Mapping[str, int], barred: frozenset[str],
                 rules: Sequence[tuple[int, BoundRule]]) -> None:  # fmt: skip
        super().__init__(bound, numbers, barred)
        self.rules = rules

    def source(self) -> str:
        self.depth = 2
        for path, count in Counter(p for _, r in self.rules for p in self.asked(r)).items():
            if count > 1 and not path.steps and not path.derived:
                self.load(path)
        items = [(i, r, tuple(dict.fromkeys(conjuncts(r.applies))) if r.applies is not None else ())
                 for i, r in self.rules]  # fmt: skip
        self.block(items)
        head = [f" {line.strip()}" for line in self.head]
        lines = ["def run(S, parts, passed, broken, open, later):", *short_names(OF_HOUSE, [*head, *self.body]), *head,
                 " for p in parts:", *(f" {line}" for line in short_names(OF_PART, self.body)), *self.body]  # fmt: skip
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
            with self.asking(names_in(statements[0]), key[0], partial(self.open_all, some)):
                self.block([(i, r, left[1:]) for i, r, left in some])

    @contextmanager
    def asking(self, names: Iterable[str], condition: str,
               unknown: Callable[[Sequence[str]], None]) -> Iterator[None]:  # fmt: skip
        """A block in which names are known and a condition holds; ``unknown`` writes what is done where one is not."""
        sure = set(self.sure)
        checks = self.need(names)
        if checks:
            known, self.sure = self.sure, set(sure)
            self.put(f"if {' or '.join(checks)}:")
            unknown(checks)
            self.sure = known
        self.put(f"{'elif' if checks else 'if'} {condition}:")
        with self.deeper():
            yield
        self.sure = sure

    def open_all(self, items: Sequence[_Item], checks: Sequence[str]) -> None:
        """Where the first statement of several rules is not known: what is open unless another one is false."""
        with self.lacking(checks), self.deeper():
            self.each_open(items)

    def each_open(self, items: Sequence[_Item]) -> None:
        alone: list[int] = []
        others: list[_Item] = []
        for number, rule, left in items:
            self.scope(rule.inputs)
            simple = len(left) == 1 and rule.asked_anyway is None and not self.guarded(left[0])
            if simple and self.maybe(left[0]) == "None":
                alone.append(number << PART_BITS)
            else:
                others.append((number, rule, left))
        if alone:
            self.put(f"all_of({tuple(alone)}, n, open)")
        for number, rule, left in others:
            self.scope(rule.inputs)
            self.put("try:")
            with self.deeper():
                self.may_apply(number, rule, left, ())
            self.put(f"except NOT_PLAIN: later({number << PART_BITS} + n)")

    def may_apply(self, number: int, rule: BoundRule, statements: Sequence[Node], checks: Sequence[str]) -> None:
        """Where whether a rule applies rests on statements of which something is not known."""
        careful = f"later({number << PART_BITS} + n)"
        unsettled = f"open({number << PART_BITS} + n)" if rule.asked_anyway is None else careful
        with self.unsure(checks, {n for one in statements for n in names_in(one)}):
            self.unless_false(statements, unsettled, careful)

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
        if self.may_be_true(statements[0]):
            careful = f"later({number << PART_BITS} + n)"
            unsettled = f"open({number << PART_BITS} + n)" if rule.asked_anyway is None else careful
            with self.weighed(statements, unsettled, careful):
                self.applying(number, rule, statements[1:])
            return
        names = names_in(statements[0])
        sure = self.sure | {self.names[n] for n in names if n in self.names}
        at = 1
        while at < len(statements) and all(n in self.bound.constants or self.names[n] in sure
                                           for n in names_in(statements[at])):  # fmt: skip
            at += 1
        with self.asking(names, " and ".join(self.code(s) for s in statements[:at]),
                         partial(self.may_apply, number, rule, statements)):  # fmt: skip
            self.applying(number, rule, statements[at:])

    def outcome(self, number: int, rule: BoundRule) -> None:
        holds = self.holds(rule)
        if len(holds) > 1:
            return self.ways(number, rule, holds, frozenset())
        let = self.lets(rule.let, holds)
        names = {n for tree in (*holds, *(x for _, x in let)) for n in names_in(tree)}
        with self.asking(names, "True", partial(self.may_hold, number, let, holds, names)):
            for name, node in let:
                self.name(name, node)
            key = number << PART_BITS
            self.put(f"if {self.good(holds[0])}: passed({key} + n)", f"else: broken({key} + n)")

    def ways(self, number: int, rule: BoundRule, holds: Sequence[Node], named: frozenset[str]) -> None:
        """Asks one way after the other: what a way further on reads may be unknown where one before it is kept."""
        let = [(name, node) for name, node in self.lets(rule.let, holds[:1]) if name not in named]
        key, sure = number << PART_BITS, set(self.sure)
        checks = self.need({n for tree in (holds[0], *(x for _, x in let)) for n in names_in(tree)})
        if checks:
            known, self.sure = self.sure, sure
            self.put(f"if {' or '.join(checks)}:")
            left = [(name, node) for name, node in self.lets(rule.let, holds) if name not in named]
            names = {n for tree in (*holds, *(x for _, x in left)) for n in names_in(tree)}
            self.may_hold(number, left, holds, names, checks)
            self.sure = known
            self.put("else:")
        with self.deeper() if checks else nullcontext():
            for name, node in let:
                self.name(name, node)
            self.put(f"if {self.good(holds[0])}: passed({key} + n)")
            if len(holds) == 1:
                self.put(f"else: broken({key} + n)")
                return
            self.put("else:")
            with self.deeper():
                self.ways(number, rule, holds[1:], named | {name for name, _ in let})

    def good(self, node: Node) -> str:
        self.checked_products = True
        out = self.code(node)
        self.checked_products = False
        return out

    def may_hold(self, number: int, let: Sequence[tuple[str, Node]], holds: Sequence[Node], names: set[str],
                 checks: Sequence[str]) -> None:  # fmt: skip
        """Where something of what a rule asks is not known."""
        key = number << PART_BITS
        with self.unsure(checks, names):
            body = len(self.body)
            whole = all(self.maybe_let(name, node) for name, node in let)
            self.checked_products = True
            parts = [self.maybe(one) for one in holds] if whole else [None]
            self.checked_products = False
            if None in parts:
                del self.body[body:]
                self.put(f"later({key} + n)")
            elif not set(parts) - {"None"}:
                self.put(f"open({key} + n)")
            else:
                good = f"one_true({', '.join(map(str, parts))})" if len(parts) > 1 else parts[0]
                self.put(f"r = {good}", f"(open if r is None else passed if r else broken)({key} + n)")


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
