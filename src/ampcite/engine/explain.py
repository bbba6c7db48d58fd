"""Derived quantities and rules run the careful way, for one part at a time, with words for what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ampcite.engine.evaluate import Env, Line, World, evaluate, fill, told
from ampcite.engine.findings import Finding
from ampcite.engine.plan import Bound, BoundDerived, BoundRule, Path
from ampcite.house.part_types import place_title
from ampcite.house.read import Part
from ampcite.language.formula import Node, Type, conjuncts, names_in
from ampcite.language.logic import ABSENT, Barred, Unknown, Verdict, either
from ampcite.language.wording import Slot, Template, coarse, fine, line_of, said, sentence, show, words
from ampcite.language.wording import close_call as near

_BARRED_CURE = "Choose a combination that the table permits."
MOST_LINES_OF = 4
"""The worked lines of a quantity taken over a list are shown for lists no longer than this."""


def used_names(*trees: Node | None) -> frozenset[str]:
    """The names that several trees use."""
    return frozenset(n for tree in trees if tree is not None for n in names_in(tree))


def slots(*templates: Template) -> frozenset[str]:
    """The names that templates put in, but for those every finding has."""
    found = {piece.name for template in templates for piece in template if isinstance(piece, Slot)}
    return frozenset(found - {"each", "way"})


def derive(world: World, bound: Bound, derived: BoundDerived, part: Part) -> None:
    """Reckons one derived quantity for one part and stores it, its worked lines, or the reason there is none."""
    env, types = _env(world, bound, derived.inputs, part)
    used = frozenset[str]()
    value: Any = ABSENT
    lines: list[Line] = []
    for case in derived.cases:
        chosen = True if case.when is None else evaluate(case.when, env)
        if chosen is False:
            continue
        if isinstance(chosen, Unknown | Barred):
            value = chosen
            break
        for name, node in case.let:
            env.values[name] = evaluate(node, env)
            types[name] = node.type
            lines.append((part, _line(name, node, env, types, bound)))
        value = evaluate(case.value, env)
        if case.k != 1.0 and isinstance(value, int | float):
            value = value * case.k
        env.values[derived.name], types[derived.name] = value, derived.type
        if case.says:
            lines.append((part, fill(case.says, env, types, coarse)))
        lines.append((part, _line(derived.name, case.value, env, types, bound)))
        used = used_names(case.when, case.value, *(n for _, n in case.let)) | slots(case.says)
        break
    if isinstance(value, Unknown | Barred) or value is ABSENT:
        world.reasons[derived.name, part.number] = value
        lines = []
    else:
        world.values[derived.name][part.number] = value
    before = input_lines(world, line_inputs(bound, derived.inputs, used), part)
    world.lines[derived.name][part.number] = tuple(dict.fromkeys((*before, *lines)))


def judge(world: World, bound: Bound, rule: BoundRule, part: Part) -> Finding | None:
    """The finding of one rule about one part, or None where the rule does not apply."""
    env, types = _env(world, bound, rule.inputs, part)
    applies = True if rule.applies is None else evaluate(rule.applies, env)
    if applies is False:
        return None
    if isinstance(applies, Unknown | Barred):
        missing = applies if isinstance(applies, Unknown) else Unknown(why=applies.why)
        return _undecided(rule, part, missing, "Whether this rule applies")
    for name, node in rule.let:
        env.values[name] = evaluate(node, env)
        types[name] = node.type
    env.values["each"], types["each"] = part.label, Type("text")
    margin, write = _margin(rule, env)
    way, taken = "", None
    if rule.holds is not None:
        holds = evaluate(rule.holds, env)
    else:
        results = [evaluate(w.holds, env) for w in rule.ways]
        holds = either(results)
        if holds is True:
            taken = rule.ways[results.index(True)]
            way = fill(taken.says, env, types, write)
    if isinstance(holds, Unknown):
        return _undecided(rule, part, holds, "This rule")
    shown = used_names(rule.applies, rule.holds, *(n for _, n in rule.let), *(w.holds for w in rule.ways))
    lines = told(part, input_lines(world, line_inputs(bound, rule.inputs, shown), part))
    lines += [_line(name, node, env, types, bound, write) for name, node in rule.let
              if not isinstance(env.values[name], Barred)]  # fmt: skip
    for statement in conjuncts(rule.holds) if rule.holds is not None else ():
        lines += _outcome("", statement, env, types, bound, write)
    for one in rule.ways:
        if holds is not True or one is taken:
            lines += _outcome(f"{one.name}: ", one.holds, env, types, bound, write)
    env.values["way"], types["way"] = way, Type("text")
    good = holds is True
    template = rule.passes if good else rule.fails
    if isinstance(holds, Barred) and not _sayable(template, env):
        note = sentence(f"{part.label}: {holds.why}.")
    else:
        note = sentence(fill(template, env, types, write))
    cure = "" if good else fill(rule.remedy, env, types, write) if _sayable(rule.remedy, env) else _BARRED_CURE
    return Finding(
        rule.id, rule.title, rule.family, rule.force, verdict_of(rule, good), part.pointer, part.label, note,
        rule.clauses, figures(bound, rule, env.values), tuple(dict.fromkeys(lines)), margin,
        cure,
    )  # fmt: skip


def _sayable(template: Template, env: Env) -> bool:
    """Whether a sentence puts in nothing that a table bars."""
    return not any(isinstance(env.values[name], Barred) for name in slots(template))


def unlisted(rule: BoundRule, holder: Part, pointer: str) -> Finding:
    """The finding of a rule whose parts nobody has listed."""
    return _undecided(rule, holder, Unknown(frozenset({pointer})), "This rule")


def verdict_of(rule: BoundRule, good: bool) -> Verdict:
    """The verdict of a decided rule: what is broken fails if it is a requirement, else warns."""
    return Verdict.PASS if good else Verdict.FAIL if rule.force == "requirement" else Verdict.WARN


def mentioned(rule: BoundRule) -> frozenset[str]:
    """The names a rule reckons with or puts into its words."""
    trees = (rule.applies, rule.holds, *(n for _, n in rule.let), *(w.holds for w in rule.ways))
    return slots(rule.passes, rule.fails, rule.remedy, *(w.says for w in rule.ways)) | used_names(*trees)


def figure_names(bound: Bound, rule: BoundRule) -> list[tuple[str, Type]]:
    """The names a finding gives figures for: numbers that come in, parameters used, and everything reckoned."""
    used = mentioned(rule)
    names = [(n, p.type) for n, p in rule.inputs.items()
             if n in used and p.type.kind == "number" and not p.type.many]  # fmt: skip
    names += [(n, c.type) for n, c in bound.constants.items() if n in used]
    names += [(n, node.type) for n, node in rule.let if node.type.kind in ("number", "text") and not node.type.many]
    return names


def figures(bound: Bound, rule: BoundRule, values: Mapping[str, Any]) -> dict[str, tuple[float | str, str]]:
    """The figures of a finding: name to value and unit, of those that are known."""
    out = {}
    for name, kind in figure_names(bound, rule):
        value = values[name]
        if not isinstance(value, Unknown | Barred) and value is not ABSENT:
            out[words(name)] = (value, kind.unit.name if kind.unit else "")
    return out


def line_inputs(bound: Bound, inputs: Mapping[str, Path], used: Iterable[str]) -> dict[str, Path]:
    """The derived inputs whose worked lines are shown: those used, but for what another one's lines hold anyway."""
    by_name = {d.name: d for d in bound.derived}
    derived = {name: path for name, path in inputs.items() if path.derived and name in set(used)}
    own = [path for path in derived.values() if not path.steps]
    return {
        name: path
        for name, path in derived.items()
        if not any(path is not other and _holds_lines(by_name, str(other.leaf), path.text) for other in own)
    }


def _holds_lines(by_name: Mapping[str, BoundDerived], name: str, text: str) -> bool:
    """Whether the lines of a derived quantity always hold those of what a path from the same part leads to."""
    if name not in by_name:
        return False
    derived = by_name[name]
    always = frozenset.intersection(
        *(used_names(c.when, c.value, *(n for _, n in c.let)) | slots(c.says) for c in derived.cases)
    )
    paths = [path for n, path in derived.inputs.items() if n in always and path.derived]
    return any(p.text == text or (not p.steps and _holds_lines(by_name, str(p.leaf), text)) for p in paths)


def input_lines(world: World, inputs: Mapping[str, Path], part: Part) -> list[Line]:
    """The worked lines of the derived quantities that come in."""
    out: list[Line] = []
    for path in inputs.values():
        if path.derived:
            assert path.leaf is not None
            here = world.parts(path, part)
            for target in here if len(here) <= MOST_LINES_OF else ():
                out += world.lines[path.leaf][target.number]
    return out


def _env(world: World, bound: Bound, inputs: Mapping[str, Path], part: Part) -> tuple[Env, dict[str, Type]]:
    values: dict[str, Any] = {c.name: c.value for c in bound.constants.values()}
    types: dict[str, Type] = {c.name: c.type for c in bound.constants.values()}
    where = {}
    for name, path in inputs.items():
        values[name], where[name] = world.follow(path, part)
        if isinstance(values[name], tuple) and any(isinstance(v, Barred) for v in values[name]):
            values[name] = next(v for v in values[name] if isinstance(v, Barred))
        types[name] = path.type
    return Env(values, where, bound.tables), types


def _line(name: str, node: Node, env: Env, types: Mapping[str, Type], bound: Bound, write: Any = coarse) -> str:
    value = env.values[name]
    if isinstance(value, Unknown | Barred):
        return f"{words(name)}: {said(value, node.type)}"
    return fill(line_of(name, node, bound.constants), env, types, write)


def _outcome(before: str, statement: Node, env: Env, types: Mapping[str, Type], bound: Bound, write: Any) -> list[str]:
    """The worked line of a statement; none where it could not be asked and did not have to be."""
    outcome = evaluate(statement, env)
    if isinstance(outcome, Unknown):
        return []
    if isinstance(outcome, Barred):
        return [f"{before}{outcome.why}"]
    asked = fill(show(statement, bound.constants), env, types, write)
    return [f"{before}{asked}: {said(outcome, statement.type)}"]


def _margin(rule: BoundRule, env: Env) -> tuple[tuple[float, str] | None, Any]:
    margins, write, measured = [], coarse, rule.measured
    for one in rule.compared:
        left, right = evaluate(one.left, env), evaluate(one.right, env)
        if not isinstance(left, int | float) or not isinstance(right, int | float):
            continue
        right = right * one.k if one.k != 1.0 else right
        margins.append(right - left if one.op in ("<=", "<") else left - right)
        if near(left, right):
            write = fine
    if not margins or not measured:
        return None, write
    assert measured[0].left.type.unit
    return (min(margins), measured[0].left.type.unit.name), write


def _undecided(rule: BoundRule, part: Part, unknown: Unknown, what: str) -> Finding:
    missing = tuple(sorted(unknown.missing))
    names, asks = _phrases(missing), sentence(rule.asks.replace("{each}", part.label))
    if asks:
        note, remedy = asks, "Look, and state what was found."
    elif missing:
        why = f" ({unknown.why})" if unknown.why else ""
        note = f"{what} can't be decided for {part.label}; not stated: {names}{why}."
        remedy = f"State {names}."
    else:
        note = f"{what} can't be decided for {part.label}: {unknown.why or 'a figure is missing'}."
        remedy = "Have a qualified person settle this by another method and state the result."
    return Finding(rule.id, rule.title, rule.family, rule.force, Verdict.WARN, part.pointer, part.label, note,
                   rule.clauses, {}, (), None, remedy, missing, False, asks)  # fmt: skip


def _phrases(pointers: Iterable[str]) -> str:
    """What pointers point at, in words: "the service voltage and the panels"."""
    titles = dict.fromkeys(place_title(p) for p in pointers)
    names = [t if t.startswith("the ") else f"the {t}" for t in titles]
    return ", ".join(names[:-1]) + " and " + names[-1] if len(names) > 1 else "".join(names)
