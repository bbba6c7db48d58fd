"""The words of a finding, made when somebody reads them: its note, figures, worked lines, margin and remedy.

Nothing else makes a sentence of a finding; everything here is filled in from the closures of ``evaluate``.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from ampcite.base.lazy import made_once
from ampcite.engine.closures import Compiler, Formula
from ampcite.engine.evaluate import QuantityEvaluator, RuleEvaluator
from ampcite.engine.plan import Bound, BoundRule, Path
from ampcite.engine.state import EvaluationState, Line
from ampcite.engine.texts import (
    Number,
    Text,
    figure_names,
    line_paths,
    line_text,
    lines_of,
    prefix_labels,
    slots,
    text_of,
    trees,
    used_names,
)
from ampcite.house.part_types import place_field, place_title, with_article
from ampcite.house.parts import Part
from ampcite.language.logic import ABSENT, Barred, Unknown
from ampcite.language.printing import close_call, coarse, fine, sentence
from ampcite.language.tree import Type, conjuncts
from ampcite.language.wording import show, words

_BARRED_CURE = "Choose a combination that the table permits."

Figures = dict[str, tuple[float | str, str]]


# --- quantities ----------------------------------------------------------------------------------------------


class QuantityWords(NamedTuple):
    """How the worked lines of a derived quantity are made: for each case its own, and those of what comes in."""

    evaluator: QuantityEvaluator
    cases: tuple[tuple[tuple[Text, ...], tuple[Path, ...]], ...]

    def lines(self, state: EvaluationState, part: Part, value: Any) -> tuple[Line, ...]:
        """The lines of the quantity at one part, and its value there; where it has none, those of what it rests on."""
        _, inputs, number = self.evaluator.case(state, part)
        if number is None:
            return ()
        texts, paths = self.cases[number]
        inputs[self.evaluator.derived.name], inputs["each"] = value, part.label
        known = value is not ABSENT and not isinstance(value, Unknown | Barred)
        own = [(part, text(inputs, coarse)) for text in texts] if known else []
        return tuple(dict.fromkeys((*lines_of(state, paths, part), *own)))


def quantity_words(bound: Bound, evaluator: QuantityEvaluator) -> QuantityWords:
    """The words of a derived quantity."""
    compiler, derived = Compiler(bound), evaluator.derived
    quantities = {d.name: d for d in bound.derived}
    cases = []
    for case in derived.cases:
        types = {name: path.type for name, path in derived.inputs.items()} | {"each": Type("text")}
        texts = []
        for name, node in case.let:
            types[name] = node.type
            texts.append(line_text(name, node, types, compiler))
        types[derived.name] = derived.type
        if case.says:
            texts.append(text_of(case.says, types, compiler))
        texts.append(line_text(derived.name, case.value, types, compiler))
        used = used_names(case.when, case.value, *(n for _, n in case.let)) | slots(case.says)
        cases.append((tuple(texts), line_paths(quantities, derived.inputs, used)))
    return QuantityWords(evaluator, tuple(cases))


# --- rules ---------------------------------------------------------------------------------------------------


class Sentence(NamedTuple):
    """A sentence of a rule, and the names of what it puts in, but for constants."""

    text: Text
    puts_in: tuple[str, ...]


class RuleWords(NamedTuple):
    """How the words of a rule's findings are made.

    Attributes:
        evaluator: the rule as closures.
        paths: the quantities whose worked lines are shown.
        lets: the names reckoned on the way, each with its worked line.
        statements: what is asked, each with the words before it and its own.
        alternatives: what is said of each alternative that holds.
        compared: pairs of numbers, and what turns the second into the unit of the first.
        measured: the same of those that make the margin, and whether the second is the most there may be.
        figures: name, words, unit, and the value of those that are constants.
    """

    evaluator: RuleEvaluator
    paths: tuple[Path, ...]
    lets: tuple[tuple[str, Text], ...]
    statements: tuple[tuple[str, Formula, Text], ...]
    alternatives: tuple[Sentence, ...]
    compared: tuple[tuple[Formula, Formula, float], ...]
    measured: tuple[tuple[Formula, Formula, float, bool], ...]
    figures: tuple[tuple[str, str, str, float | None], ...]
    passes: Sentence
    fails: Sentence
    remedy: Sentence


class Answer:
    """The words of one finding that could be decided, each made when it is read."""

    missing: tuple[str, ...] = ()
    asks = ""

    def __init__(self, words: RuleWords, state: EvaluationState, part: Part, kept: bool) -> None:
        self.words, self.rule, self.part = words, words.evaluator.rule, part
        self.inputs = words.evaluator.inputs(state, part)
        self.inputs["each"] = part.label
        self.holds = True if kept else words.evaluator.kept(self.inputs)

    @made_once
    def write(self) -> Number:
        """How numbers are written: with more digits where two that are compared would look the same."""
        for left, right, factor in self.words.compared:
            a, b = left(self.inputs), right(self.inputs)
            if isinstance(b, int | float) and close_call(a, b * factor if factor != 1.0 else b):
                return fine
        return coarse

    @made_once
    def taken(self) -> int:
        """The number of the first alternative that holds."""
        return next(i for i, one in enumerate(self.words.evaluator.holds) if one(self.inputs) is True)

    @property
    def note(self) -> str:
        good, inputs, words = self.holds is True, self.inputs, self.words
        if isinstance(self.holds, Barred) and self.barred(self.words.fails):
            return sentence(f"{self.part.label}: {self.holds.why}.")
        if good and self.unsaid:
            return sentence(f"{self.part.label}: {self.rule.title}.")
        if words.alternatives:
            inputs["way"] = words.alternatives[self.taken].text(inputs, self.write) if good else ""
        return sentence((words.passes if good else words.fails).text(inputs, self.write))

    @property
    def remedy(self) -> str:
        if self.holds is True:
            return ""
        remedy = self.words.remedy
        return _BARRED_CURE if self.barred(remedy) else remedy.text(self.inputs, self.write)

    @property
    def unsaid(self) -> bool:
        """Whether the sentence of a rule that is kept would put in something that nobody stated."""
        words = self.words
        ways = (words.alternatives[self.taken],) if words.alternatives else ()
        return any(isinstance(self.inputs[name], Unknown) for said in (words.passes, *ways) for name in said.puts_in)

    def barred(self, said: Sentence) -> bool:
        """Whether a sentence puts in something that a table bars."""
        return any(isinstance(self.inputs[name], Barred) for name in said.puts_in)

    @property
    def worked(self) -> tuple[str, ...]:
        inputs, write, words = self.inputs, self.write, self.words
        lines = prefix_labels(self.part, lines_of(inputs.state, words.paths, self.part))
        lines += [line(inputs, write) for name, line in words.lets if not isinstance(inputs[name], Barred | Unknown)]
        statements = words.statements
        if self.rule.alternatives and self.holds is True:
            statements = (statements[self.taken],)
        for before, statement, asked in statements:
            outcome = self.holds is True or statement(inputs)
            if isinstance(outcome, Barred):
                lines.append(f"{before}{outcome.why}")
            elif not isinstance(outcome, Unknown):
                lines.append(f"{before}{asked(inputs, write)}: {'yes' if outcome else 'no'}")
        return tuple(dict.fromkeys(lines))

    @property
    def figures(self) -> Figures:
        out: Figures = {}
        for name, shown, unit, constant in self.words.figures:
            value = self.inputs[name] if constant is None else constant
            if not isinstance(value, Unknown | Barred) and value is not ABSENT:
                out[shown] = (value, unit)
        return out

    @property
    def margin(self) -> tuple[float, str] | None:
        margins = []
        for left, right, factor, at_most in self.words.measured:
            a, b = left(self.inputs), right(self.inputs)
            if isinstance(a, int | float) and isinstance(b, int | float):
                b = b * factor if factor != 1.0 else b
                margins.append(b - a if at_most else a - b)
        if not margins:
            return None
        unit = self.rule.measured[0].left.type.unit
        assert unit
        return min(margins), unit.name


def rule_words(bound: Bound, evaluator: RuleEvaluator) -> RuleWords:
    """The words of a rule."""
    compiler, rule, constants = Compiler(bound), evaluator.rule, bound.constants
    types = {name: path.type for name, path in rule.inputs.items()}
    lets = []
    for name, node in rule.let:
        types[name] = node.type
        lets.append((name, line_text(name, node, types, compiler)))
    types["each"] = types["way"] = Type("text")
    asked = [("", one) for one in (conjuncts(rule.holds) if rule.holds is not None else ())]
    asked += [(f"{one.name}: ", one.holds) for one in rule.alternatives]
    pairs = {c: (compiler.formula(c.left), compiler.formula(c.right), c.factor)
             for c in (*rule.compared, *rule.measured)}  # fmt: skip
    passes, fails, remedy, *alternatives = (
        Sentence(text_of(template, types, compiler), tuple(n for n in sorted(slots(template)) if n not in constants))
        for template in (rule.passes, rule.fails, rule.remedy, *(one.says for one in rule.alternatives))
    )
    return RuleWords(
        evaluator,
        line_paths({d.name: d for d in bound.derived}, rule.inputs, used_names(*trees(rule))),
        tuple(lets),
        tuple((before, compiler.formula(one), text_of(show(one, constants), types, compiler)) for before, one in asked),
        tuple(alternatives),
        tuple(pairs[c] for c in rule.compared),
        tuple((*pairs[c], c.op in ("<=", "<")) for c in rule.measured),
        tuple((n, words(n), kind.unit.name if kind.unit else "", constants[n].value if n in constants else None)
              for n, kind in figure_names(constants, rule)),
        passes, fails, remedy,
    )  # fmt: skip


# --- what can't be decided -----------------------------------------------------------------------------------


class OpenAnswer:
    """The words of one finding that can't be decided."""

    worked: tuple[str, ...] = ()
    margin: tuple[float, str] | None = None

    def __init__(self, rule: BoundRule, part: Part, unknown: Unknown, what: str) -> None:
        self.part, self.unknown, self.what = part, unknown, what
        self.missing = tuple(sorted(unknown.missing))
        self.asks = sentence(rule.asks.replace("{each}", part.label))
        self.figures: Figures = {}

    @property
    def note(self) -> str:
        if self.asks:
            return self.asks
        before = f"{self.what} can't be decided for {self.part.label}"
        if not self.missing:
            return f"{before}: {self.unknown.why or 'a figure is missing'}."
        why = f" ({self.unknown.why})" if self.unknown.why else ""
        return f"{before}; not stated: {_phrases(self.missing)}{why}."

    @property
    def remedy(self) -> str:
        if self.asks:
            return "Look, and state what was found."
        if self.missing:
            return f"State {_phrases(self.missing)}."
        return "Have a qualified person settle this by another method and state the result."


def open_answer(evaluator: RuleEvaluator, state: EvaluationState, part: Part, unlisted: str) -> OpenAnswer:
    """The words of a finding that can't be decided, of a part or of a list that nobody has given."""
    if unlisted:
        return OpenAnswer(evaluator.rule, part, Unknown(frozenset({unlisted})), "This rule")
    inputs = evaluator.inputs(state, part)
    applies: Any = True if evaluator.applies is None else evaluator.applies(inputs)
    if applies is not True:
        unknown = applies if isinstance(applies, Unknown) else Unknown(why=applies.why)
        return OpenAnswer(evaluator.rule, part, unknown, "Whether this rule applies")
    return OpenAnswer(evaluator.rule, part, evaluator.kept(inputs), "This rule")


def _phrase(pointer: str) -> str:
    """What a pointer points at; a yes or no is asked as one."""
    title, field = place_title(pointer), place_field(pointer)
    if field is not None and field.kind == "flag":
        return f"yes or no ({title.removeprefix('the ')})"
    return with_article(title)


def _phrases(pointers: Iterable[str]) -> str:
    """What pointers point at, in words: "the service voltage and yes or no (readily accessible)"."""
    names = list(dict.fromkeys(_phrase(p) for p in pointers))
    return ", ".join(names[:-1]) + " and " + names[-1] if len(names) > 1 else "".join(names)
