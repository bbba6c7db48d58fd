"""The fast way to run bound rules: one generated Python function a rule, built from the checked tree only.

Every text that reaches the compiler is written here from nodes that the white list has passed: names match
``[a-z][a-z0-9_]*`` and are prefixed, texts are quoted by ``repr``. A function handles the parts of which everything
it needs is known and hands every other to the careful path.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from ampcite.base.errors import Complaint, PackError
from ampcite.engine.explain import MOST_LINES_OF, figure_names, line_inputs, mentioned, slots, used_names
from ampcite.engine.plan import Bound, BoundDerived, BoundRule, Path
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
    Type,
    absent_names,
    conjuncts,
    names_in,
    walk,
)
from ampcite.language.units import unit_words
from ampcite.language.wording import Constant, Either, Piece, Slot, coarse, fine, line_of, said, show, words

_IDENTIFIER = re.compile(r"[a-z][a-z0-9_]*")


def emit(bound: Bound) -> str:
    """The source of a module with a function ``d_NAME`` for every derived quantity and ``r_N`` for every rule."""
    writers: list[_Derived | _Rule] = [_Derived(bound, d) for d in bound.derived]
    writers += [_Rule(bound, r, i) for i, r in enumerate(bound.rules)]
    functions = [line for writer in writers for line in writer.lines()]
    kinds = {name: kind for writer in writers for name, kind in writer.kinds.items()}
    head = [f"{name} = Type({k.kind!r}, {f'Unit({k.unit.name!r}, (), 1)' if k.unit else None}, None, {k.many})"
            for name, k in sorted(kinds.items())]  # fmt: skip
    return "\n".join([*head, *functions]) + "\n"


class _Writer:
    """Lines of one function, with what has been loaded so far."""

    def __init__(self, bound: Bound, inputs: Mapping[str, Path]) -> None:
        self.bound = bound
        self.inputs = inputs
        self.types: dict[str, Type] = {n: p.type for n, p in inputs.items()}
        self.head: list[str] = []
        self.body: list[str] = []
        self.loaded: set[str] = set()
        self.absent_ok: frozenset[str] = frozenset()
        self.printed: dict[str, str] = {}
        self.kinds: dict[str, Type] = {}
        self.stores: set[str] = set()
        self.count = 0
        self.in_statement = False

    def put(self, depth: int, *lines: str) -> None:
        self.body += ["    " * depth + line for line in lines]

    def may_be_none(self, trees: list[Node]) -> frozenset[str]:
        """The inputs of which the description may say that there is none."""
        asked = {name for tree in trees for name in absent_names(tree)}
        asked -= set(self.bound.constants)
        return frozenset(asked | {name for name, path in self.inputs.items() if path.nullable})

    # --- values ---------------------------------------------------------------------------------------------

    def need(self, names: frozenset[str] | set[str], depth: int) -> None:
        """Loads inputs and hands the part over where one is not known."""
        checks = []
        for name, path in self.inputs.items():
            if name in names and name not in self.loaded:
                self.loaded.add(name)
                checks += self.load(name, path, depth)
        if checks:
            self.put(depth, f"if {' or '.join(checks)}:", "    slow(p)", "    continue")

    def load(self, name: str, path: Path, depth: int) -> list[str]:
        v = f"v_{_identifier(name)}"
        start, steps = "p", list(path.steps)
        if steps and steps[0][0] == "whole":
            start = "house"
            steps.pop(0)
        at = next((i for i, (how, _) in enumerate(steps) if how == "many"), None)
        if at is None:
            for _, key in steps:
                start += f".links[{key!r}]"
            value = self.leaf(path, start)
            if start == "house" and not path.derived:
                self.head.append(f"    {v} = {value}")
            else:
                self.put(depth, f"{v} = {value}")
            return [f"{v} is None"]
        for _, key in steps[:at]:
            start += f".links[{key!r}]"
        parts = f"l_{name}"
        self.put(depth, f"{parts} = {start}.links.get({steps[at][1]!r})")
        if path.leaf is None:
            self.put(depth, f"{v} = {parts}")
            return [f"{v} is None"]
        each = "q" + "".join(f".links[{key!r}]" for _, key in steps[at + 1 :])
        self.put(depth, f"{v} = None if {parts} is None else [{self.leaf(path, each)} for q in {parts}]")
        return [f"{v} is None or None in {v}"]

    def leaf(self, path: Path, part: str) -> str:
        if path.derived:
            self.stores.add(f"V_{path.leaf}")
            return f"V_{_identifier(str(path.leaf))}[{part}.number]"
        return f"{part}.facts.get({path.leaf!r})"

    def code(self, node: Node) -> str:
        match node:
            case Const(value=value):
                return repr(value)
            case Name(name=name, type=kind):
                if name in self.bound.constants:
                    return repr(self.bound.constants[name].value)
                if kind.kind == "flag" and not kind.many and name in self.inputs:
                    return f"(v_{_identifier(name)} is True)"
                return f"v_{_identifier(name)}"
            case Arith(op=op, left=left, right=right, k=k):
                a, b = self.code(left), self.code(right)
                if op in "+-":
                    return f"({a} {op} {_times(b, k)})"
                if op == "/":
                    return _times(f"over({a}, {b})", k)
                return _times(f"({a} * {b})" if not self.in_statement else f"times({a}, {b})", k)
            case Compare(op=op, left=left, right=right, k=k):
                return self.compare(op, left, right, k)
            case Logic(op="not", parts=(part,)):
                return f"(not {self.code(part)})"
            case Logic(op=op, parts=parts):
                return "(" + f" {op} ".join(self.code(p) for p in parts) + ")"
            case Choose(condition=condition, yes=yes, no=no, k=k):
                return f"({self.code(yes)} if {self.code(condition)} else {_times(self.code(no), k)})"
            case Lookup(table=table, args=args, ks=ks):
                keys = ", ".join(_times(self.code(a), k) for a, k in zip(args, ks, strict=True))
                return f"T_{_identifier(table)}({keys})"
            case Call(name=name, args=args, ks=ks):
                return self.call(name, [_times(self.code(a), k) for a, k in zip(args, ks, strict=True)], args)

    def finite(self, name: str, node: Node) -> list[str]:
        """Stops where a product left the range of floats."""
        product = any(isinstance(n, Arith) and n.op == "*" for n in walk(node))
        return [f"if v_{name} - v_{name}:", "    raise OverflowError"] if product else []

    def compare(self, op: str, left: Node, right: Node, k: float) -> str:
        a, b = self.code(left), _times(self.code(right), k)
        if left.type.kind != "number":
            return f"({a} {op} {b})"
        if op in ("==", "!="):
            return f"({'not ' if op == '!=' else ''}close({a}, {b}))"
        if isinstance(left, Name) and isinstance(right, Name | Const) and k == 1.0:
            join = f"{a} {op} {b} or close({a}, {b})" if "=" in op else f"{a} {op} {b} and not close({a}, {b})"
            return f"({join})"
        return f"{_FUNCTION[op]}({a}, {b})"

    def call(self, name: str, args: list[str], nodes: tuple[Node, ...]) -> str:
        first = args[0]
        match name:
            case "absent":
                assert isinstance(nodes[0], Name)
                if nodes[0].name in self.bound.constants:
                    return "False"
                v = f"v_{_identifier(nodes[0].name)}"
                return f"(ABSENT in {v})" if nodes[0].type.many else f"({v} is ABSENT)"
            case "count":
                return f"len({first})"
            case "has":
                return f"({args[1]} in {first})"
            case "how_many":
                return f"{first}.count({args[1]})"
            case "all_are" if len(args) == 2:
                return f"({first}.count({args[1]}) == len({first}))"
            case "all_are":
                return f"({first}.count(True) == len({first}))"
            case "any_is":
                return f"(True in {first})"
            case "at_largest" | "at_least":
                return f"at({first}, {args[1]}, {name == 'at_largest'})"
            case "percent":
                return first
            case "largest":
                return f"max({first})"
            case "least":
                return f"min({first})"
        return f"{name}({', '.join(args)})"

    # --- words ----------------------------------------------------------------------------------------------

    def text(self, name: str, depth: int, write: str) -> str:
        """The variable that holds a value in words; written once, where it is first needed."""
        key = f"{name}/{write}"
        if key in self.printed:
            return self.printed[key]
        if name == "each":
            return "p.label"
        if name == "way":
            return "way"
        if name in self.bound.constants:
            constant = self.bound.constants[name]
            short, long = (repr(said(constant.value, constant.type, how)) for how in (coarse, fine))
            if short == long or write == "coarse":
                short_name = self.printed[key] = f"k_{_identifier(name)}"
                self.put(depth, f"{short_name} = {short}")
                return short_name
            both = self.printed[key] = f"b_{_identifier(name)}"
            self.put(depth, f"{both} = {short} if {write} is coarse else {long}")
            return both
        kind = self.types[name]
        v = f"v_{_identifier(name)}"
        self.printed[key] = out = f"s_{name}" if write != "coarse" else f"c_{name}"
        if kind.many or kind.kind == "items":
            value = f"said({v}, {self.kind_constant(kind)}, {write})"
        elif kind.kind == "flag":
            value = f'("yes" if {v} is True else "none" if {v} is ABSENT else "no")'
        elif name in self.absent_ok:
            known = v if kind.kind == "text" else f"{write}({v}) + {unit_words(kind.unit.name)!r}" if kind.unit else v
            value = f'("none" if {v} is ABSENT else {known})'
        else:
            value = v if kind.kind == "text" else f"{write}({v})"
        self.put(depth, f"{out} = {value}")
        return out

    def kind_constant(self, kind: Type) -> str:
        unit_name = kind.unit.name if kind.unit else ""
        name = f"K_{kind.kind}_{int(kind.many)}_" + "".join(c if c.isalnum() else f"_{ord(c)}_" for c in unit_name)
        self.kinds[name] = kind
        return name

    def suffix(self, name: str) -> str:
        kind = self.types.get(name)
        if kind is None or kind.kind != "number" or kind.many or name in self.absent_ok or kind.unit is None:
            return ""
        return unit_words(kind.unit.name)

    def fstring(self, pieces: tuple[Piece, ...], depth: int, write: str) -> str:
        out = []
        for piece in pieces:
            match piece:
                case str():
                    out.append(_literal(piece))
                case Slot(name=name, absent=absent) if absent:
                    self.count += 1
                    var, shown = f"e_{self.count}", self.text(name, depth, write)
                    self.put(depth, f"{var} = {absent!r} if v_{_identifier(name)} is ABSENT else {shown}")
                    out.append("{" + var + "}" + _literal(self.suffix(name)))
                case Slot(name=name):
                    out.append("{" + self.text(name, depth, write) + "}" + _literal(self.suffix(name)))
                case Either(condition=condition, yes=yes, no=no):
                    self.count += 1
                    var = f"e_{self.count}"
                    a, b = self.fstring(yes, depth, write), self.fstring(no, depth, write)
                    self.put(depth, f"{var} = {a} if {self.code(condition)} else {b}")
                    out.append("{" + var + "}")
        return 'f"' + "".join(out) + '"'

    def input_lines(self, used: frozenset[str], depth: int, told: bool) -> bool:
        """Adds the worked lines of the derived quantities that come in; gives whether a line may be there twice.

        ``told`` is whether they are added as the part of a rule tells them, or each with the part it is about.
        """
        before, after = ("told(p, ", ")") if told else ("", "")
        shown = line_inputs(self.bound, self.inputs, used & self.loaded)
        for name, path in shown.items():
            steps = list(path.steps)
            at = next((i for i, (how, _) in enumerate(steps) if how == "many"), None)
            store = f"L_{_identifier(str(path.leaf))}"
            self.stores.add(store)
            if at is None:
                target = "p"
                for how, key in steps:
                    target = "house" if how == "whole" else f"{target}.links[{key!r}]"
                self.put(depth, f"lines += {before}{store}[{target}.number]{after}")
            else:
                each = "q" + "".join(f".links[{key!r}]" for _, key in steps[at + 1 :])
                self.put(depth, f"if len(l_{name}) <= {MOST_LINES_OF}:", f"    for q in l_{name}:",
                         f"        lines += {before}{store}[{each}.number]{after}")  # fmt: skip
        return len(shown) > 1 or any(path.many for path in shown.values())

    def function(self, name: str, kind: str, extra: list[str]) -> list[str]:
        binds = [f"    {n} = world.{'values' if n[0] == 'V' else 'lines'}[{n[2:]!r}]" for n in sorted(self.stores)]
        return [
            f"def {name}(world, out, aside, slow):",
            "    house = world.description.whole",
            *binds, *extra, *self.head,
            f"    for p in world.description.parts[{kind!r}] or ():",
            "        try:",
            *self.body,
            "        except NOT_PLAIN:",
            "            slow(p)",
        ]  # fmt: skip


class _Derived(_Writer):
    def __init__(self, bound: Bound, derived: BoundDerived) -> None:
        super().__init__(bound, derived.inputs)
        self.derived = derived
        trees = [n for c in derived.cases for n in (c.when, c.value, *(x for _, x in c.let)) if n is not None]
        self.absent_ok = self.may_be_none(trees)

    def lines(self) -> list[str]:
        name = _identifier(self.derived.name)
        depth = 3
        for case in self.derived.cases:
            seen = used_names(case.when, case.value, *(n for _, n in case.let)) | slots(case.says)
            if case.when is None:
                self.case(case, name, depth, seen)
                break
            deeper = depth
            for statement in conjuncts(case.when):
                self.need(used_names(statement), deeper)
                if deeper == depth:
                    loaded, printed = set(self.loaded), dict(self.printed)
                self.put(deeper, f"if {self.code(statement)}:")
                deeper += 1
            self.case(case, name, deeper, seen)
            self.loaded, self.printed = loaded, printed
        else:
            self.put(depth, f"world.reasons[{name!r}, p.number] = ABSENT")
        return self.function(f"d_{name}", self.derived.kind, [f"    V_{name} = world.values[{name!r}]",
                                                             f"    L_{name} = world.lines[{name!r}]"])  # fmt: skip

    def case(self, case: Any, name: str, depth: int, seen: frozenset[str]) -> None:
        self.need(seen, depth)
        rendered = []
        for let_name, node in case.let:
            self.types[let_name] = node.type
            self.put(depth, f"v_{_identifier(let_name)} = {self.code(node)}", *self.finite(let_name, node))
            rendered.append(self.fstring(line_of(let_name, node, self.bound.constants), depth, "coarse"))
        self.put(depth, f"v_{name} = {_times(self.code(case.value), case.k)}", *self.finite(name, case.value))
        if names_in(case.value) & self.absent_ok:
            self.put(depth, f"if v_{name} is ABSENT:", "    slow(p)", "    continue")
        self.types[name] = self.derived.type
        if case.says:
            rendered.append(self.fstring(case.says, depth, "coarse"))
        rendered.append(self.fstring(line_of(name, case.value, self.bound.constants), depth, "coarse"))
        self.put(depth, "lines = []")
        again = self.input_lines(seen, depth, told=False)
        self.put(depth, *(f"lines.append((p, {one}))" for one in rendered))
        kept = "tuple(dict.fromkeys(lines))" if again else "lines"
        self.put(depth, f"V_{name}[p.number] = v_{name}", f"L_{name}[p.number] = {kept}", "continue")


class _Rule(_Writer):
    def __init__(self, bound: Bound, rule: BoundRule, number: int) -> None:
        super().__init__(bound, rule.inputs)
        self.rule = rule
        self.number = number
        trees = (rule.applies, rule.holds, *(n for _, n in rule.let), *(w.holds for w in rule.ways))
        self.absent_ok = self.may_be_none([t for t in trees if t is not None])
        self.used = used_names(*trees)

    def lines(self) -> list[str]:
        rule, depth = self.rule, 3
        for statement in conjuncts(rule.applies) if rule.applies is not None else ():
            self.need(used_names(statement), depth)
            self.put(depth, f"if not {self.code(statement)}:", f"    aside(({self.number}, p))", "    continue")
        self.need(mentioned(rule), depth)
        for name, node in rule.let:
            self.types[name] = node.type
            self.put(depth, f"v_{_identifier(name)} = {self.code(node)}", *self.finite(name, node))
        self.outcome(depth)
        return self.function(f"r_{self.number}", rule.kind, [])

    def outcome(self, depth: int) -> None:
        rule = self.rule
        self.in_statement = True
        outcomes: list[tuple[str, tuple[Piece, ...]]] = []
        c: Mapping[str, Constant] = self.bound.constants
        if rule.holds is not None:
            parts = tuple(dict.fromkeys(conjuncts(rule.holds)))
            for i, statement in enumerate(parts):
                self.put(depth, f"o_{i} = {self.code(statement)}")
                outcomes.append((f"o_{i}", show(statement, c)))
            self.put(depth, f"good = {' and '.join(f'o_{i}' for i in range(len(parts)))}")
        else:
            for i, way in enumerate(rule.ways):
                before = f"not {' and not '.join(f'o_{j}' for j in range(i))} and " if i else ""
                self.put(depth, f"o_{i} = {before}{self.code(way.holds)}")
                outcomes.append((f"o_{i}", (f"{way.name}: ", *show(way.holds, c))))
            self.put(depth, f"good = {' or '.join(f'o_{i}' for i in range(len(rule.ways)))}")
        margin, write = self.margin(depth)
        self.put(depth, "lines = []")
        again = self.input_lines(self.used, depth, told=True)
        for name, node in rule.let:
            one = self.fstring(line_of(name, node, c), depth, write)
            self.put(depth, f"lines.append({one})")
        if rule.ways:
            self.way_lines(depth, outcomes, write)
        for var, pieces in outcomes if not rule.ways else ():
            one = self.fstring(pieces, depth, write)
            self.put(depth, f"lines.append({one} + (': yes' if {var} else ': no'))")
        names = figure_names(self.bound, rule)
        sure = (f"{words(n)!r}: {self.pair(n, k)}" for n, k in names if n not in self.absent_ok)
        self.put(depth, f"figures = {{{', '.join(sure)}}}")
        for name, kind in names:
            if name in self.absent_ok:
                self.put(depth, f"if v_{name} is not ABSENT:",
                         f"    figures[{words(name)!r}] = {self.pair(name, kind)}")  # fmt: skip
        self.put(depth, "lines = tuple(dict.fromkeys(lines))" if again else "lines = tuple(lines)")
        printed = dict(self.printed)
        self.put(depth, "if good:")
        if rule.ways:
            for i, way in enumerate(rule.ways):
                self.put(depth + 1, f"{'if' if i == 0 else 'elif'} o_{i}:")
                text = self.fstring(way.says, depth + 2, write)
                self.put(depth + 2, f"way = {text}")
                self.printed = dict(printed)
        note = self.fstring(rule.passes, depth + 1, write)
        self.finding(depth + 1, "PASS", note, margin, '""')
        self.put(depth + 1, "continue")
        self.printed = printed
        if rule.ways:
            self.put(depth, 'way = ""')
        note, remedy = self.fstring(rule.fails, depth, write), self.fstring(rule.remedy, depth, write)
        self.finding(depth, "FAIL" if rule.force == "requirement" else "WARN", note, margin, remedy)

    def way_lines(self, depth: int, outcomes: list[tuple[str, tuple[Piece, ...]]], write: str) -> None:
        """The line of the way that is taken, or of all ways where none is."""
        printed = dict(self.printed)
        for i, (var, pieces) in enumerate(outcomes):
            self.put(depth, f"{'if' if i == 0 else 'elif'} {var}:")
            self.put(depth + 1, f"lines.append({self.fstring(pieces, depth + 1, write)} + ': yes')")
            self.printed = dict(printed)
        self.put(depth, "else:")
        for _, pieces in outcomes:
            self.put(depth + 1, f"lines.append({self.fstring(pieces, depth + 1, write)} + ': no')")
        self.printed = printed

    def pair(self, name: str, kind: Type) -> str:
        value = repr(self.bound.constants[name].value) if name in self.bound.constants else f"v_{_identifier(name)}"
        return f"({value}, {kind.unit.name if kind.unit else ''!r})"

    def margin(self, depth: int) -> tuple[str, str]:
        measured, compared = self.rule.measured, self.rule.compared
        if not compared:
            return "None", "coarse"
        pairs = [(self.code(one.left), _times(self.code(one.right), one.k)) for one in compared]
        asked = " or ".join(f"near({left}, {right})" for left, right in pairs)
        self.put(depth, f"w = fine if {asked} else coarse")
        if not measured:
            return "None", "w"
        margins = [f"{right} - {left}" if one.op in ("<=", "<") else f"{left} - {right}"
                   for one, (left, right) in zip(measured, pairs, strict=True)]  # fmt: skip
        least = f"min({', '.join(margins)})" if len(margins) > 1 else margins[0]
        self.put(depth, f"m = {least}")
        assert measured[0].left.type.unit
        return f"(m, {measured[0].left.type.unit.name!r})", "w"

    def finding(self, depth: int, verdict: str, note: str, margin: str, remedy: str) -> None:
        r = self.rule
        if note.startswith('f"{p.label}'):
            note = note.replace("{p.label}", "{p.heading}", 1)
        elif note.startswith('f"{'):
            note = f"sentence({note})"
        self.put(depth, f"out(Finding({r.id!r}, {r.title!r}, {r.family!r}, {r.force!r}, {verdict}, p.pointer, p.label, "
                        f"{note}, C[{self.number}], figures, lines, {margin}, {remedy}, ()))")  # fmt: skip


_FUNCTION = {"<=": "at_most", ">=": "not_below", "<": "below", ">": "above"}


def _times(code: str, k: float) -> str:
    return code if k == 1.0 else f"({code} * {k!r})"


def _identifier(name: str) -> str:
    """A name as it may stand in code: the last gate before the compiler, whatever the gates before it let through."""
    if not _IDENTIFIER.fullmatch(name):
        raise PackError([Complaint("", name[:60], "is no name that can be reckoned with")])
    return name


def _literal(text: str) -> str:
    out = text.replace("\\", "\\\\").replace('"', '\\"').replace("{", "{{").replace("}", "}}")
    return "".join(c if c.isprintable() else f"\\U{ord(c):08x}" for c in out)
