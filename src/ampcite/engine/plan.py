"""What binding makes of packs at one edition: records in which every name, path and unit is settled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import attrs

from ampcite.base.editions import Editions

if TYPE_CHECKING:
    from ampcite.engine.findings import Clause
    from ampcite.language.tables import Table
    from ampcite.language.tree import Compare, Node, Type
    from ampcite.language.wording import Constant, Template
    from ampcite.law.changes import Change

PART_BITS = 20
"""A key is the number of a rule, shifted by so many bits, and the number of a part."""


class Path(NamedTuple):
    """How to get from a part to a value.

    Attributes:
        text: as the pack writes it.
        steps: ("whole" | "one" | "many", key of ``Part.links``) in order.
        leaf: field path or name of a derived quantity; None where the parts themselves are meant.
        derived: whether the leaf is a derived quantity.
        nullable: whether the description may say that there is none.
    """

    text: str
    steps: tuple[tuple[str, str], ...]
    leaf: str | None
    derived: bool
    type: Type
    nullable: bool = False

    @property
    def many(self) -> bool:
        return any(how == "many" for how, _ in self.steps)


class BoundCase(NamedTuple):
    when: Node | None
    let: tuple[tuple[str, Node], ...]
    value: Node
    factor: float
    says: Template


class BoundDerived(NamedTuple):
    name: str
    meaning: str
    kind: str
    inputs: Mapping[str, Path]
    cases: tuple[BoundCase, ...]
    type: Type


class BoundAlternative(NamedTuple):
    name: str
    holds: Node
    says: Template


class BoundRule(NamedTuple):
    id: str
    title: str
    family: str
    force: str
    pack: str
    kind: str
    scope: str
    inputs: Mapping[str, Path]
    let: tuple[tuple[str, Node], ...]
    applies: Node | None
    holds: Node | None
    alternatives: tuple[BoundAlternative, ...]
    passes: Template
    fails: Template
    remedy: Template
    asks: str
    clauses: tuple[Clause, ...]
    stage: str
    measured: tuple[Compare, ...]
    compared: tuple[Compare, ...]
    cure: Mapping[str, str]
    second_read: bool = False
    standing: str = ""
    asked_anyway: Node | None = None
    """Of a rule that local law narrows: when it would apply without that. Where it is not known whether it is narrowed
    away, a part that keeps it passes."""
    speaks: tuple[Node | None, ...] = ()
    """Of each clause, whether it speaks of the part; None where it speaks of all. Empty where all clauses do."""

    @property
    def head(self) -> RuleHead:
        """What its verdict is known by."""
        unconfirmed = all(clause.unconfirmed for clause in self.clauses)
        return RuleHead(self.id, self.title, self.family, self.force, self.kind, unconfirmed,
                        self.second_read, self.standing)


class LocalEffect(NamedTuple):
    """What layers of local law did to a rule: the changes it rests on, and whether it is waived or referred."""

    changes: tuple[Change, ...]
    waived: str
    referred: str


class RuleHead(NamedTuple):
    """What a verdict is known by, without the rule's formulas and words.

    ``unconfirmed``: none of its clauses was read anywhere; ``second_read``: someone who did not write it has read it
    against the text of this edition, and found it right; ``standing``: how far what it rests on was read.
    """

    id: str
    title: str
    family: str
    force: str
    kind: str
    unconfirmed: bool
    second_read: bool = False
    standing: str = ""


@attrs.frozen
class Bound:
    """Everything a check needs, settled for one edition of each code.

    ``reckoned`` names the quantities from outlines that something reads; ``not_in_force`` the rules that this edition
    does not have, and why; ``reads`` the kinds, and the objects of the whole, of which some rule or quantity reads
    something; ``local`` what local law did to rules, by id; ``heads`` the rules without formulas and words, in their
    order; ``facts`` what layers set for every house, by path; ``quantities`` the names of the derived quantities in
    their order: known before a rule is looked at.
    """

    editions: Editions
    constants: Mapping[str, Constant]
    tables: Mapping[str, Table]
    reckoned: tuple[str, ...]
    derived: Sequence[BoundDerived]
    rules: Sequence[BoundRule]
    not_in_force: tuple[tuple[str, str], ...]
    reads: frozenset[str]
    local: Mapping[str, LocalEffect] = attrs.Factory(dict)
    heads: tuple[RuleHead, ...] = attrs.Factory(
        lambda bound: tuple(r.head for r in bound.rules), takes_self=True
    )
    facts: Mapping[str, object] = attrs.Factory(dict)
    quantities: tuple[str, ...] = attrs.Factory(lambda bound: tuple(d.name for d in bound.derived), takes_self=True)
