"""Formulas as Python source, and the lines of one generated function.

Every text that reaches the compiler is written here from nodes that the white list has passed: names match
``[a-z][a-z0-9_]*`` and are prefixed, texts are quoted by ``repr``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager

from ampcite.base.errors import Complaint, PackError
from ampcite.engine.plan import Bound, Path
from ampcite.language.tree import Arith, Call, Choose, Compare, Const, Logic, Lookup, Name, Node, names_in, walk

_WORD = re.compile(r"\w+")
_IDENTIFIER = re.compile(r"[a-z][a-z0-9_]*")


class Writer:
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
            self.put(f"{v} = V[{number}].get({place}, PENDING)", f"if {v} is PENDING: {v} = D[{number}](S, {part})")
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
        found, each = self.found(path)
        if path.leaf is None:
            self.put(f"{v} = {found}")
            return
        if path.derived:
            parts = v if each == "q" else f"[{each} for q in {v}]"
            values = f"values_of(S, {self.numbers[path.leaf]}, {parts})"
        else:
            values = f"[{each}.facts.get({path.leaf!r}) for q in {v}]"
        self.put(f"{v} = {found}", f"if {v} is not None: {v} = {values}")

    def found(self, path: Path) -> tuple[str, str]:
        """The list that a path to many parts leads through, and what each part q of it leads to."""
        at = next(i for i, (how, _) in enumerate(path.steps) if how == "many")
        before, key, after = self.part(path.steps[:at]), path.steps[at][1], path.steps[at + 1 :]
        found = f"{'L' if before == 'p' else before + '.links'}.get({key!r})"
        return found, "q" + "".join(f".links[{k!r}]" for _, k in after)

    def parts(self, path: Path) -> str:
        """The parts that a path to many leads to, where the list is given."""
        found, each = self.found(path)
        return found if each == "q" else f"[{each} for q in {found}]"

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
                    return f"({a} {op} {times(b, factor)})"
                if op == "/":
                    return times(f"divide({a}, {b})", factor)
                return times(f"multiply({a}, {b})" if self.checked_products else f"({a} * {b})", factor)
            case Compare():
                return self.comparison(node)
            case Logic(op="not", parts=(part,)):
                return f"(not {self.code(part)})"
            case Logic(op=op, parts=parts):
                return "(" + f" {op} ".join(self.code(p) for p in parts) + ")"
            case Choose(condition=condition, yes=yes, no=no, factor=factor):
                return f"({self.code(yes)} if {self.code(condition)} else {times(self.code(no), factor)})"
            case Lookup(table=table, args=args, factors=factors):
                return f"T_{identifier(table)}({', '.join(self.arguments(args, factors))})"
            case Call(name=name, args=args, factors=factors):
                return self.call(name, self.arguments(args, factors), args)

    def arguments(self, args: Sequence[Node], factors: Sequence[float]) -> list[str]:
        return [times(self.code(a), k) for a, k in zip(args, factors, strict=True)]

    def comparison(self, node: Compare) -> str:
        op, a, b = node.op, self.code(node.left), times(self.code(node.right), node.factor)
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
        name = self.temporary()
        return f"({name} := {code})", name

    def temporary(self) -> str:
        self.temporaries += 1
        return f"x{self.temporaries}"

    def call(self, name: str, args: list[str], nodes: tuple[Node, ...]) -> str:
        first = self.listed(nodes[0], args[0])
        args = [first, *args[1:]]
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

    def listed(self, node: Node, code: str) -> str:
        """The first argument of a function; that a list is said to be none makes it an empty one."""
        path = self.paths.get(node.name) if isinstance(node, Name) else None
        if path is None or not path.type.many or path.many or not path.nullable:
            return code
        return f"(() if {code} is ABSENT else {code})"

    def name(self, name: str, node: Node, factor: float = 1.0) -> None:
        """Puts down the value of a name that is reckoned on the way; stops where it left the range of floats."""
        self.names[name] = t = f"t_{identifier(name)}"
        self.put(f"{t} = {times(self.code(node), factor)}")
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


_CALLED = {"alike": "all_equal", "bears": "contains_phrases", "begins": "begins_with"}


OF_HOUSE = {"V": "S.values", "D": "S.derive", "house": "S.house", "h": "S.house.facts.get"}
OF_PART = {"n": "p.number", "f": "p.facts.get", "L": "p.links"}
"""What generated code calls by short names: of the house, and of the part."""


def short_names(known: Mapping[str, str], lines: Iterable[str]) -> list[str]:
    """The lines that give what some lines use its short name."""
    used = set(_WORD.findall("\n".join(lines)))
    return [f" {name} = {value}" for name, value in known.items() if name in used]


def times(code: str, factor: float) -> str:
    return code if factor == 1.0 else f"({code} * {factor!r})"


def identifier(name: str) -> str:
    """A name as it may stand in code: the last gate before the compiler, whatever the gates before it let through."""
    if not _IDENTIFIER.fullmatch(name):
        raise PackError([Complaint("", name[:60], "is no name that can be reckoned with")])
    return name
