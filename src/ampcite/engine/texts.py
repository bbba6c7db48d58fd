"""Pieces of words as functions, and what of a rule or quantity is shown in a finding."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from ampcite.engine.closures import Compiler, Inputs
from ampcite.engine.plan import BoundDerived, BoundRule, Path
from ampcite.engine.state import EvaluationState, Line
from ampcite.house.parts import Part
from ampcite.language.logic import ABSENT, Barred, Unknown
from ampcite.language.printing import coarse, fine
from ampcite.language.tree import Node, Type, names_in
from ampcite.language.units import unit_words
from ampcite.language.wording import (
    Constant,
    Either,
    Piece,
    Slot,
    Template,
    format_value,
    line_of,
    words,
)

MOST_LINES_OF = 4
"""The worked lines of a quantity taken over a list are shown for lists no longer than this."""

Number = Callable[[float], str]
Text = Callable[[Inputs, Number], str]


def text_of(pieces: Sequence[Piece], types: Mapping[str, Type], compiler: Compiler) -> Text:
    """A function that fills pieces in with what the names of a formula stand for."""
    parts = [piece if isinstance(piece, str) else _text(piece, types, compiler) for piece in pieces]
    slots = [(i, part) for i, part in enumerate(parts) if not isinstance(part, str)]
    texts = [part if isinstance(part, str) else "" for part in parts]
    if not slots:
        whole = "".join(texts)
        return lambda inputs, write: whole

    def filled(inputs: Inputs, write: Number) -> str:
        out = texts.copy()
        for i, slot in slots:
            out[i] = slot(inputs, write)
        return "".join(out)

    return filled


def _text(piece: Slot | Either, types: Mapping[str, Type], compiler: Compiler) -> Text | str:
    if isinstance(piece, Either):
        condition, yes, no = (compiler.formula(piece.condition), text_of(piece.yes, types, compiler),
                              text_of(piece.no, types, compiler))  # fmt: skip
        return lambda inputs, write: yes(inputs, write) if condition(inputs) is True else no(inputs, write)
    name, absent = piece.name, piece.absent
    if name in compiler.constants:
        constant = compiler.constants[name]
        short, long = (format_value(constant.value, constant.type, write) for write in (coarse, fine))
        return short if short == long else lambda inputs, write: short if write is coarse else long
    kind = types[name]
    suffix = unit_words(kind.unit.name) if kind.unit else ""

    def slot(inputs: Inputs, write: Number) -> str:
        value = inputs[name]
        if value.__class__ is float or value.__class__ is int:
            return write(value) + suffix
        if value.__class__ is str:
            return value
        if value is ABSENT and absent:
            return absent
        return format_value(value, kind, write)

    return slot


def line_text(name: str, node: Node, types: Mapping[str, Type], compiler: Compiler) -> Text:
    """The worked line of a named value."""
    whole = text_of(line_of(name, node, compiler.constants), types, compiler)

    def line(inputs: Inputs, write: Number) -> str:
        value = inputs[name]
        if isinstance(value, Unknown | Barred):
            return f"{words(name)}: {format_value(value, node.type)}"
        return whole(inputs, write)

    return line


def prefix_labels(part: Part, lines: Iterable[Line]) -> list[str]:
    """Worked lines as one part tells them: those about another part begin with its label."""
    tail = f" of {part.label}"
    return [line if about is part else f"{about.label.removesuffix(tail)}: {line}" for about, line in lines]


# --- what a rule uses ----------------------------------------------------------------------------------------


def used_names(*trees: Node | None) -> frozenset[str]:
    """The names that several trees use."""
    return frozenset(n for tree in trees if tree is not None for n in names_in(tree))


def slots(*templates: Template) -> frozenset[str]:
    """The names that templates put in, but for those every finding has."""
    found = {piece.name for template in templates for piece in template if isinstance(piece, Slot)}
    return frozenset(found - {"each", "way"})


def trees(rule: BoundRule) -> tuple[Node | None, ...]:
    return rule.applies, rule.holds, *(n for _, n in rule.let), *(one.holds for one in rule.alternatives)


def figure_names(constants: Mapping[str, Constant], rule: BoundRule) -> list[tuple[str, Type]]:
    """The names a finding gives figures for: numbers that come in, parameters used, and everything reckoned."""
    texts = slots(rule.passes, rule.fails, rule.remedy, *(one.says for one in rule.alternatives))
    used = texts | used_names(*trees(rule))
    names = [(n, p.type) for n, p in rule.inputs.items()
             if n in used and p.type.kind == "number" and not p.type.many]  # fmt: skip
    names += [(n, c.type) for n, c in constants.items() if n in used]
    names += [(n, node.type) for n, node in rule.let if node.type.kind in ("number", "text") and not node.type.many]
    return names


def line_paths(derived: Mapping[str, BoundDerived], inputs: Mapping[str, Path],
                used: Iterable[str]) -> tuple[Path, ...]:  # fmt: skip
    """The quantities whose worked lines are shown: those used, but for what another one's lines hold anyway."""
    shown = set(used)
    paths = [path for name, path in inputs.items() if path.derived and name in shown]
    own = [path for path in paths if not path.steps]
    return tuple(path for path in paths
                 if not any(path is not other and _holds_lines(derived, str(other.leaf), path.text)
                            for other in own))  # fmt: skip


def _holds_lines(quantities: Mapping[str, BoundDerived], name: str, text: str) -> bool:
    """Whether the lines of a derived quantity always hold those of what a path from the same part leads to."""
    if name not in quantities:
        return False
    derived = quantities[name]
    always = frozenset.intersection(
        *(used_names(c.when, c.value, *(n for _, n in c.let)) | slots(c.says) for c in derived.cases)
    )
    paths = [path for n, path in derived.inputs.items() if n in always and path.derived]
    return any(p.text == text or (not p.steps and _holds_lines(quantities, str(p.leaf), text)) for p in paths)


def lines_of(state: EvaluationState, paths: Iterable[Path], part: Part) -> list[Line]:
    """The worked lines of the quantities that come in."""
    out: list[Line] = []
    for path in paths:
        targets = state.parts(path.steps, part) if path.steps else (part,)
        if len(targets) <= MOST_LINES_OF:
            for target in targets:
                if target.number >= 0:
                    out += state.machine.lines(state, str(path.leaf), target)
    return out
