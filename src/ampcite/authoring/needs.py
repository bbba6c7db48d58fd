"""Which facts rules ask of a described house that it does not state yet, found in the rules themselves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache, partial

from ampcite.base.stages import is_later
from ampcite.engine.check import check
from ampcite.engine.closures import Inputs
from ampcite.engine.plan import BoundDerived, BoundRule, Path
from ampcite.engine.rulebook import Rulebook
from ampcite.engine.state import EvaluationState
from ampcite.engine.texts import used_names
from ampcite.house.belonging import open_to
from ampcite.house.part_types import part_types, place
from ampcite.house.parts import Description, Part, fact
from ampcite.language.logic import Unknown

Asked = tuple[str, bool]
"""A JSON Pointer of what is not stated, and whether it is a list of parts."""


def needs(rulebook: Rulebook, description: Description, stage: str, rules: Sequence[str] | None = None) -> list[Asked]:
    """What rules ask of a house that it does not state and that can be known at a stage, in the rules' order.

    Of a rule of which it is not known whether it applies, only what settles that is asked: what an underground run
    needs is asked of nobody who has not said that there is one. A limit that may be none counts as there.

    Args:
        rulebook: from :func:`ampcite.load`.
        description: what is stated; it has the parts that are asked about.
        stage: one of :data:`ampcite.base.stages.STAGES`.
        rules: ids of rules; by default all.
    """
    report = check(rulebook, description, rules=rules)
    assert report.verdicts is not None
    looking = _Looking(rulebook, report.verdicts.state)
    out: dict[Asked, None] = {}
    for finding in report.not_passed:
        if finding.decided or finding.asks:
            continue
        rule = rulebook.bound.rules[rulebook.machine.by_id[finding.rule]]
        out.update(dict.fromkeys(map(_kind_of, finding.missing)))
        part = looking.parts.get(finding.about)
        if part is not None and part.kind == rule.kind:
            out.update(dict.fromkeys((pointer, False) for pointer in looking.of_rule(rule, part)))
    return [one for one in out if "[" not in one[0] and not is_later(place(one[0]).stage, stage)
            and not looking.may_follow(one[0])]  # fmt: skip


def _kind_of(pointer: str) -> Asked:
    found = place(pointer)
    return pointer, found.field is None and bool(found.part_type.name) and found.group is found.part_type.body


class _Looking:
    """The facts that are not stated, of those that answers and quantities rest on."""

    def __init__(self, rulebook: Rulebook, state: EvaluationState) -> None:
        self.machine = rulebook.machine
        self.state = state
        self.parts: Mapping[str, Part] = {part.pointer: part for part in state.description.numbered}
        self.derived: Mapping[str, BoundDerived] = {one.name: one for one in rulebook.bound.derived}
        self.seen: dict[tuple[str, int], tuple[str, ...]] = {}

    def may_follow(self, pointer: str) -> bool:
        """Whether a fact may follow from others that are asked first: whether a run is wet follows from its place.

        Of the whole, of which there is one, that there is no such thing may follow too. Parts of a list may be of
        several kinds: what some of them can't have is asked for the others.
        """
        whole = self.parts[""]
        if any(pointer[1:] in one.fields and open_to(one, partial(fact, whole)) for one in part_types()[""].conditions):
            return True
        above, _, field = pointer.rpartition("/")
        part = self.parts.get(above)
        return part is not None and any(
            field in one.then and any("[" not in asked and fact(part, asked) is None for asked, _, _ in one.tests)
            for one in part_types()[part.kind].presumed
        )

    def of_rule(self, rule: BoundRule, part: Part) -> Iterator[str]:
        """What a rule asks of a part."""
        evaluator = self.machine.rule(self.machine.by_id[rule.id])
        if evaluator.applies is not None:
            applies = evaluator.applies(evaluator.inputs(self.state, part))
            if isinstance(applies, Unknown) and not all(map(_may_be_none, applies.missing)):
                return
        yield from self.of_paths(rule.inputs.values(), part)

    def of_paths(self, paths: Iterable[Path], part: Part) -> Iterator[str]:
        for path in paths:
            if path.leaf is None:
                continue
            for target in self.state.parts(path.steps, part):
                if target.number < 0:
                    continue
                if path.derived:
                    yield from self.of_quantity(path.leaf, target)
                elif path.leaf not in target.facts and path.leaf not in _other_forms(target.kind):
                    yield target.where(path.leaf)

    def of_quantity(self, name: str, part: Part) -> tuple[str, ...]:
        """What a quantity asks of a part: of its cases, those that are not ruled out."""
        derived = self.derived.get(name)
        if derived is None:
            return ()
        if (name, part.number) not in self.seen:
            self.seen[name, part.number] = ()
            self.seen[name, part.number] = tuple(self._of_cases(derived, part))
        return self.seen[name, part.number]

    def _of_cases(self, derived: BoundDerived, part: Part) -> Iterator[str]:
        cases = self.machine.quantity(self.machine.numbers[derived.name]).cases
        for case, (when, getters, _, _) in zip(derived.cases, cases, strict=True):
            chosen = True if when is None else when(Inputs(self.state, part, derived.inputs, getters))
            if chosen is False:
                continue
            names = used_names(case.when, case.value, *(node for _, node in case.let))
            if isinstance(chosen, Unknown) and not all(map(_may_be_none, chosen.missing)):
                names = used_names(case.when)
            yield from self.of_paths((path for name, path in derived.inputs.items() if name in names), part)
            if chosen is True:
                return


@lru_cache(maxsize=64)
def _other_forms(kind: str) -> frozenset[str]:
    """The facts of a kind of part that are another field's, said in another unit."""
    return frozenset(f.other.path for f in part_types()[kind].fields.values() if f.other is not None)


def _may_be_none(pointer: str) -> bool:
    field = place(pointer).field
    return field is not None and field.kind == "number" and field.nullable
