"""What runs bound rules: generated functions and closures, each made when it is first asked for."""

from __future__ import annotations

import marshal
import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from types import CodeType
from typing import TYPE_CHECKING, Any, NamedTuple

from ampcite.base.lazy import made_once
from ampcite.engine.findings import said_of
from ampcite.engine.plan import Bound
from ampcite.engine.state import PENDING, EvaluationState, Line, one_of_two, only_unknown
from ampcite.house.parts import Part
from ampcite.language import functions
from ampcite.language.logic import ABSENT, Verdict, close
from ampcite.language.tables import NoEntry, Table

if TYPE_CHECKING:
    from ampcite.engine.again import Readers
    from ampcite.engine.evaluate import QuantityEvaluator, RuleEvaluator
    from ampcite.engine.explain import Answer, OpenAnswer, QuantityWords, RuleWords

Note = Callable[[int], None]
RunGroup = Callable[[EvaluationState, Sequence[Part], Note, Note, Note, Note], None]
RunQuantity = Callable[[EvaluationState, Part], Any]


class Group(NamedTuple):
    """Rules of one family about one kind of part, by their numbers."""

    kind: str
    family: str
    rules: tuple[int, ...]


def groups_of(bound: Bound) -> tuple[Group, ...]:
    """The rules by kind of part and family."""
    found: dict[tuple[str, str], list[int]] = {}
    for number, rule in enumerate(bound.heads):
        found.setdefault((rule.kind, rule.family), []).append(number)
    return tuple(Group(kind, family, tuple(numbers)) for (kind, family), numbers in found.items())


def numbers_of(bound: Bound) -> dict[str, int]:
    """The quantities by name: first those reckoned from outlines, then the derived ones."""
    return {name: i for i, name in enumerate((*bound.reckoned, *bound.quantities))}


def compiled(bound: Bound) -> tuple[bytes, ...]:
    """The generated code of bound rules: of each derived quantity, then of each group."""
    from ampcite.engine import codegen
    from ampcite.engine.doubt import may_be_barred

    numbers, barred = numbers_of(bound), may_be_barred(bound)
    sources = [codegen.quantity_source(bound, numbers, barred, derived) for derived in bound.derived]
    sources += [codegen.group_source(bound, numbers, barred, group.rules) for group in groups_of(bound)]
    return tuple(marshal.dumps(compile(source, "<rules>", "exec")) for source in sources)


class Machine:
    """Bound rules, ready to run.

    Attributes:
        bound: the rules.
        numbers: the number of each quantity, by name.
        groups: the rules by kind of part and family.
        rules_by_kind: how many rules are asked of a kind of part.
        said_of: by number of a rule, what all its findings say.
        derive: by number of a quantity, the function that reckons it for one part.
        derive_with_care: the same without generated code.
        fails: by number of a rule, whether it fails where it is broken (else it warns).
    """

    def __init__(self, bound: Bound, code: Sequence[bytes], hold_unconfirmed: bool = False) -> None:
        self.bound = bound
        self.numbers: Mapping[str, int] = numbers_of(bound)
        self.groups = groups_of(bound)
        self.rules_by_kind = Counter(rule.kind for rule in bound.heads)
        self._group_of = {rule: number for number, group in enumerate(self.groups) for rule in group.rules}
        self.first = len(bound.reckoned)
        self.said_of = [said_of(rule) for rule in bound.heads]
        self.by_id = {rule.id: i for i, rule in enumerate(bound.heads)}
        self.fails = tuple(rule.force == "requirement" and not _eased(bound, rule.id)
                           and not (hold_unconfirmed and rule.unconfirmed) for rule in bound.heads)  # fmt: skip
        self.derive: list[RunQuantity] = [self._reckoning(i, name) for i, name in enumerate(bound.reckoned)]
        self.derive += [self._quantity_stub(self.first + i, code[i]) for i in range(len(bound.quantities))]
        self.derive_with_care: list[RunQuantity] = self.derive[: self.first]
        self.derive_with_care += [self._careful(self.first + i) for i in range(len(bound.quantities))]
        self._run: list[RunGroup | bytes] = list(code[len(bound.quantities) :])
        self._rules: dict[int, RuleEvaluator] = {}
        self._quantities: dict[int, QuantityEvaluator] = {}
        self._rule_words: dict[int, RuleWords] = {}
        self._quantity_words: dict[int, QuantityWords] = {}
        self._readers: Readers | None = None
        self._space = _space(bound)

    def groups_with(self, rules: Iterable[int] | None) -> list[tuple[int, Group]]:
        """The groups that hold some rules, or all groups, each with its number, in their order."""
        found = range(len(self.groups)) if rules is None else sorted({self._group_of[rule] for rule in rules})
        return [(number, self.groups[number]) for number in found]

    # --- generated functions ---------------------------------------------------------------------------------

    def run(self, group: int) -> RunGroup:
        """The generated function of a group."""
        found = self._run[group]
        if isinstance(found, bytes):
            found = self._run[group] = self._function(found)
        return found

    def _function(self, code: bytes) -> Any:
        loaded: CodeType = marshal.loads(code)
        here: dict[str, Any] = {}
        exec(loaded, self._space, here)
        return here["run"]

    def _quantity_stub(self, number: int, code: bytes) -> RunQuantity:
        def first_time(state: EvaluationState, part: Part) -> Any:
            run = self.derive[number] = self._function(code)
            return run(state, part)

        return first_time

    def _careful(self, number: int) -> RunQuantity:
        return lambda state, part: state.careful(number, part)

    def _reckoning(self, number: int, name: str) -> RunQuantity:
        def from_outlines(state: EvaluationState, part: Part) -> Any:
            from ampcite.house.roof import compute

            return state.keep(number, part, compute(state.roof(), name, part))

        return from_outlines

    @property
    def readers(self) -> Readers:
        """Who reads what."""
        if self._readers is None:
            from ampcite.engine.again import Readers

            self._readers = Readers(self.bound, self.numbers)
        return self._readers

    def kinds(self) -> Iterable[tuple[str, int]]:
        """The kind of part each quantity is reckoned for, and its number."""
        from ampcite.house.roof_quantities import QUANTITIES

        for name in self.bound.reckoned:
            yield QUANTITIES[name].kind, self.numbers[name]
        for derived in self.bound.derived:
            yield derived.kind, self.numbers[derived.name]

    # --- closures --------------------------------------------------------------------------------------------

    def rule(self, number: int) -> RuleEvaluator:
        """The closures of a rule."""
        if number not in self._rules:
            from ampcite.engine.evaluate import rule_evaluator

            self._rules[number] = rule_evaluator(self.bound, self.bound.rules[number], self.numbers)
        return self._rules[number]

    def quantity(self, number: int) -> QuantityEvaluator:
        """The closures of a derived quantity."""
        if number not in self._quantities:
            from ampcite.engine.evaluate import quantity_evaluator

            derived = self.bound.derived[number - self.first]
            self._quantities[number] = quantity_evaluator(self.bound, derived, self.numbers)
        return self._quantities[number]

    @made_once
    def _explain(self) -> Any:
        """What makes words, which most checks of a house never need."""
        from ampcite.engine import explain

        return explain

    def words(self, number: int) -> RuleWords:
        """The words of a rule."""
        if number not in self._rule_words:
            self._rule_words[number] = self._explain.rule_words(self.bound, self.rule(number))
        return self._rule_words[number]

    def answer(self, state: EvaluationState, number: int, part: Part, verdict: Verdict, decided: bool,
               unlisted: str) -> Answer | OpenAnswer:  # fmt: skip
        """The words of one finding."""
        answer: Answer | OpenAnswer = (
            self._explain.Answer(self.words(number), state, part, verdict is Verdict.PASS) if decided
            else self._explain.open_answer(self.rule(number), state, part, unlisted)
        )  # fmt: skip
        return answer

    def lines(self, state: EvaluationState, name: str, part: Part) -> tuple[Line, ...]:
        """The worked lines of a quantity at a part."""
        number = self.numbers[name]
        key = (number, part.number)
        if key not in state.lines:
            if number < self.first:
                from ampcite.house.roof import worked_line

                known = isinstance(state.value(number, part), int | float)
                state.lines[key] = ((part, worked_line(state.roof(), name, part)),) if known else ()
                return state.lines[key]
            if number not in self._quantity_words:
                self._quantity_words[number] = self._explain.quantity_words(self.bound, self.quantity(number))
            state.lines[key] = self._quantity_words[number].lines(state, part, state.value(number, part))
        return state.lines[key]


def _eased(bound: Bound, rule: str) -> bool:
    """Whether local law leaves a rule to others, so that it never fails."""
    local = bound.local.get(rule)
    return local is not None and bool(local.waived or local.referred)


def _values_of(state: EvaluationState, number: int, parts: Iterable[Part]) -> list[Any]:
    values, derive = state.values[number], state.derive  # what is generated takes its stub's place when it is first run
    return [derive[number](state, part) if (value := values.get(part.number, PENDING)) is PENDING else value
            for part in parts]


def _all_of(keys: Iterable[int], part: int, note: Note) -> None:
    for key in keys:
        note(key + part)


def _space(bound: Bound) -> dict[str, Any]:
    """What generated functions use by name."""
    space: dict[str, Any] = {
        "ABSENT": ABSENT, "PENDING": PENDING, "close": close, "values_of": _values_of, "all_of": _all_of,
        "divide": functions.divide, "multiply": functions.multiply, "whole": functions.whole, "root": math.sqrt,
        "contains_phrases": functions.contains_phrases, "begins_with": functions.begins_with, "day": functions.day,
        "all_equal": functions.all_equal, "all_true": functions.all_true, "one_true": functions.one_true,
        "untrue": functions.untrue, "any_true": functions.any_true, "all_same": functions.all_same,
        "any_same": functions.any_same, "any_absent": functions.any_absent, "only_unknown": only_unknown,
        "one_of_two": one_of_two, "text_at": functions.text_at, "largest": functions.largest,
        "least": functions.least,
        "NOT_PLAIN": (NoEntry, LookupError, AttributeError, TypeError, ZeroDivisionError, OverflowError, ValueError),
    }  # fmt: skip
    for name in bound.tables:
        space[f"T_{name}"] = _lookup(space, name, bound.tables)
    return space


def _lookup(space: dict[str, Any], name: str, tables: Mapping[str, Table]) -> Callable[..., Any]:
    def first_time(*keys: Any) -> Any:
        find = space[f"T_{name}"] = tables[name].compiled_lookup()
        return find(*keys)

    return first_time
