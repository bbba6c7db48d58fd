"""Rules and quantities run with care, as closures, each made when it is first needed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from ampcite.engine.closures import Compiler, Formula, Getter, Inputs, getter
from ampcite.engine.plan import Bound, BoundDerived, BoundRule
from ampcite.engine.state import EvaluationState
from ampcite.house.parts import Part
from ampcite.language.logic import ABSENT, Unknown, either
from ampcite.language.wording import Constant

if TYPE_CHECKING:
    from ampcite.engine.findings import Clause


class RuleEvaluator(NamedTuple):
    """One rule as closures.

    Attributes:
        rule: the rule.
        constants: the parameters it may use.
        applies: whether it applies; None where it always does.
        asked_anyway: of a rule that local law narrows, whether it would apply without that; None of any other.
        holds: the statement, or that of each alternative, in order.
        getters: how each name that comes in or is reckoned on the way is found.
        speaks: of each clause, whether it speaks of the part; None where it speaks of all; empty where all clauses do.
    """

    rule: BoundRule
    constants: Mapping[str, Constant]
    applies: Formula | None
    holds: tuple[Formula, ...]
    getters: Mapping[str, Getter]
    asked_anyway: Formula | None = None
    speaks: tuple[Formula | None, ...] = ()

    def inputs(self, state: EvaluationState, part: Part) -> Inputs:
        return Inputs(state, part, self.rule.inputs, self.getters)

    def judge(self, state: EvaluationState, part: Part) -> Any:
        """None where the rule does not apply; else whether it is kept: True, False, Barred or Unknown."""
        inputs = self.inputs(state, part)
        applies = True if self.applies is None else self.applies(inputs)
        if applies is False:
            return None
        if applies is not True:
            if self.asked_anyway is not None and self.asked_anyway(inputs) is True and self.kept(inputs) is True:
                return True
            return applies if isinstance(applies, Unknown) else Unknown(why=applies.why)
        return self.kept(inputs)

    def kept(self, inputs: Inputs) -> Any:
        """Whether a rule that applies is kept: True, False, Barred or Unknown."""
        if len(self.holds) == 1:
            return self.holds[0](inputs)
        missing = []
        for one in self.holds:
            value = one(inputs)
            if value is True:
                return True
            missing.append(value)
        return either(missing)

    def clauses(self, state: EvaluationState, part: Part) -> tuple[Clause, ...]:
        """The clauses that speak of a part, or may for all that is known; all of them, where none does."""
        inputs, every = self.inputs(state, part), self.rule.clauses
        found = tuple(one for one, speaks in zip(every, self.speaks, strict=True)
                      if speaks is None or speaks(inputs) is not False)  # fmt: skip
        return found or every


def rule_evaluator(bound: Bound, rule: BoundRule, numbers: Mapping[str, int]) -> RuleEvaluator:
    """The closures of a rule."""
    compiler = Compiler(bound)
    trees = (rule.holds,) if rule.holds is not None else tuple(one.holds for one in rule.alternatives)
    getters = {name: getter(path, numbers) for name, path in rule.inputs.items()}
    getters |= {name: compiler.formula(node) for name, node in rule.let}
    applies = compiler.formula(rule.applies) if rule.applies is not None else None
    anyway = compiler.formula(rule.asked_anyway) if rule.asked_anyway is not None else None
    speaks = tuple(compiler.formula(node) if node is not None else None for node in rule.speaks)
    return RuleEvaluator(rule, bound.constants, applies, tuple(map(compiler.formula, trees)), getters, anyway, speaks)


class QuantityEvaluator(NamedTuple):
    """One derived quantity as closures: for each case whether it is the one, its names, value and factor."""

    derived: BoundDerived
    cases: tuple[tuple[Formula | None, Mapping[str, Getter], Formula, float], ...]

    def value(self, state: EvaluationState, part: Part) -> Any:
        """The value, ``ABSENT`` where no case is the one, or the Unknown or Barred that stands for it."""
        chosen, inputs, number = self.case(state, part)
        if number is None:
            return chosen
        _, _, value, factor = self.cases[number]
        out = value(inputs)
        return out * factor if factor != 1.0 and isinstance(out, int | float) else out

    def case(self, state: EvaluationState, part: Part) -> tuple[Any, Inputs, int | None]:
        """True, what its names stand for, and the number of the case that is the one; else what stands for the value,
        and no number."""
        for number, (when, getters, _, _) in enumerate(self.cases):
            inputs = Inputs(state, part, self.derived.inputs, getters)
            chosen = True if when is None else when(inputs)
            if chosen is not False:
                return chosen, inputs, number if chosen is True else None
        return ABSENT, Inputs(state, part, {}, {}), None


def quantity_evaluator(bound: Bound, derived: BoundDerived, numbers: Mapping[str, int]) -> QuantityEvaluator:
    """The closures of a derived quantity."""
    compiler = Compiler(bound)
    shared = {name: getter(path, numbers) for name, path in derived.inputs.items()}
    cases = []
    for case in derived.cases:
        getters = shared | {name: compiler.formula(node) for name, node in case.let}
        when = compiler.formula(case.when) if case.when is not None else None
        cases.append((when, getters, compiler.formula(case.value), case.factor))
    return QuantityEvaluator(derived, tuple(cases))
