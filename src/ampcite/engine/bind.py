"""Packs and an edition become bound rules: every name, path and unit settled, in an order that can be run."""

from __future__ import annotations

import re
from collections import ChainMap
from collections.abc import Iterable, Mapping
from graphlib import CycleError, TopologicalSorter
from typing import Any

import attrs

from ampcite.base.editions import CODES, Editions
from ampcite.base.errors import Complaint, PackError, nearest
from ampcite.base.stages import latest
from ampcite.engine.figures import Figures
from ampcite.engine.findings import Clause
from ampcite.engine.measures import compared, measured, needed, stage
from ampcite.engine.paths import pretty_kinds, route
from ampcite.engine.plan import Bound, BoundAlternative, BoundCase, BoundDerived, BoundRule, LocalEffect, Path
from ampcite.house.part_types import PartType, part_types
from ampcite.house.roof_quantities import QUANTITIES
from ampcite.language.formula import FormulaError, parse
from ampcite.language.tree import Const, Logic, Node, TableType, Type, names_in
from ampcite.language.units import unit
from ampcite.language.wording import Slot, Template
from ampcite.law.changes import Change
from ampcite.law.records import Citation, Derived, Pack, Rule
from ampcite.law.second_reader import RIGHT
from ampcite.law.standing import names_of, of_citation, of_rule, quantities_of


@attrs.frozen
class _Scope:
    names: Mapping[str, Type]
    tables: Mapping[str, TableType]


_WORD = re.compile(r"[a-z_][a-z0-9_]*")
RESERVED = frozenset({"each", "way"})


def bind(packs: Iterable[Pack], editions: Editions, lent: frozenset[str] = frozenset()) -> Bound:
    """Settles packs for an edition of each code. Rules of editions that their pack does not know are named as such.

    Args:
        packs: the packs.
        editions: the edition of each code; rules of a code that is left out are not asked.
        lent: names of packs of which only the figures and quantities are used, not the rules.

    Raises:
        PackError: with every fault found: unknown names, paths that lead nowhere, units that do not fit,
            quantities that depend on themselves.
    """
    return _Binder(tuple(sorted(packs, key=lambda pack: (pack.order, pack.name))), editions, lent).bind()


class _Binder:
    def __init__(self, packs: tuple[Pack, ...], editions: Editions, lent: frozenset[str]) -> None:
        self.packs = packs
        self.editions = editions
        self.lent = lent
        self.changed: dict[str, tuple[Change, ...]] = {}
        for pack in packs:
            self.changed |= {p.name: p.changes for p in pack.parameters.values() if p.changes}
            self.changed |= {t.name: t.changes for t in pack.tables.values() if t.changes}
            self.changed |= {d.name: d.changes for d in pack.derived.values() if d.changes}
        self.complaints: list[Complaint] = []
        self.figures = Figures(editions, self.complain)
        self.quantities: dict[str, dict[str, Type]] = {name: {} for name in part_types()}
        for reckoned in QUANTITIES.values():
            self.quantities[reckoned.kind][reckoned.name] = Type("number", unit(reckoned.unit))
        self.reads: set[tuple[str, str]] = set()
        self.stages: dict[str, str] = {}

    def complain(self, pack: Pack, place: str, said: str) -> None:
        self.complaints.append(Complaint(pack.folder, place, said))

    def bind(self) -> Bound:
        for pack in self.packs:
            for parameter in pack.parameters.values():
                self.figures.constant(pack, parameter)
            for table in pack.tables.values():
                self.figures.table(pack, table)
        derived = self.all_derived()
        own = [(pack, rule) for pack in self.packs if pack.name not in self.lent for rule in pack.rules.values()]
        why = {rule.id: self.not_in_force(pack, rule) for pack, rule in own}
        rules = [bound for pack, rule in own if not why[rule.id] and (bound := self.rule(pack, rule))]
        seen: set[str] = set()
        for bound_rule in rules:
            if bound_rule.id in seen:
                self.complaints.append(Complaint(bound_rule.pack, bound_rule.id, "is a rule of two packs"))
            seen.add(bound_rule.id)
        if self.complaints:
            raise PackError(self.complaints)
        outside = tuple((rule, reason) for rule, reason in why.items() if reason)
        reckoned = tuple(name for name, q in QUANTITIES.items() if (q.kind, name) in self.reads)
        self.reads |= {(kind, "") for name in reckoned for kind in QUANTITIES[name].reads}
        figures = self.figures
        return Bound(self.editions, figures.constants, figures.tables, reckoned, needed(derived, rules), tuple(rules),
                     outside, frozenset(kind or path.partition("/")[0] for kind, path in self.reads),
                     {rule.id: local for pack, rule in own if (local := self.local(rule))},
                     facts={path: value for pack in self.packs for path, value in pack.facts.items()})  # fmt: skip

    def not_in_force(self, pack: Pack, rule: Rule) -> str:
        """Why a rule is not asked, or ""."""
        edition = self.editions.get(rule.code)
        if rule.struck:
            return rule.struck
        if edition is None:
            return f"the edition of the {CODES[rule.code]} in force is not stated"
        if edition not in pack.editions[rule.code]:
            return f"the pack {pack.name} has no rules for the {edition} edition"
        if rule.in_force(edition):
            return ""
        if rule.begins and edition < rule.begins:
            return f"is not in the {edition} edition; it begins with the {rule.begins} edition"
        return f"is not in the {edition} edition; it ended with the {rule.withdrawn} edition"

    def local(self, rule: Rule) -> LocalEffect | None:
        """What layers of local law did to a rule, and to the figures, tables and quantities it rests on."""
        if not self.changed and not rule.changes:
            return None
        sentences = [t for by in (rule.passes, rule.fails, rule.remedy) for t in by.texts.values()]
        said = [*sentences, *(way.says for way in rule.alternatives), *(where for _, where in rule.scopes)]
        names = names_of(rule, self.packs) | {quantity.name for quantity in quantities_of(rule, self.packs)}
        touched = (names | set(_WORD.findall(" ".join(said)))) & self.changed.keys()
        changes = [*rule.changes, *(c for name in sorted(touched) for c in self.changed[name])]
        return LocalEffect(tuple(changes), rule.waived, rule.referred) if changes else None

    # --- paths ------------------------------------------------------------------------------------------

    def kind_of(self, pack: Pack, place: str, each: str) -> PartType | None:
        name = each.strip("/").replace("/*", "")
        pretty = pretty_kinds()
        if name not in part_types():
            hint = nearest(each, pretty.values())
            self.complain(pack, place, f'goes through "{each}", of which there is none; {hint}')
            return None
        if each != pretty[name] and each.replace("/*", "") + "/*" != "/" + name + "/*":
            self.complain(pack, place, f'writes "{each}"; write it "{pretty[name]}"')
        return part_types()[name]

    # --- derived quantities and rules ---------------------------------------------------------------------

    def all_derived(self) -> list[BoundDerived]:
        found: dict[str, tuple[Pack, Derived, PartType]] = {}
        for pack in self.packs:
            for derived in pack.derived.values():
                place = f'derived "{derived.name}"'
                kind = self.kind_of(pack, place, derived.each)
                if derived.name in found:
                    if found[derived.name][1] != derived:
                        self.complain(pack, place, "is also in another pack, reckoned otherwise")
                    continue
                if kind is not None:
                    if derived.name in kind.fields:
                        self.complain(pack, place, f"has the name of a field of {kind.title}")
                    if derived.name in QUANTITIES:
                        self.complain(pack, place, "has the name of a quantity that is reckoned from outlines")
                    found[derived.name] = (pack, derived, kind)
        tail = re.compile(r"(?:^|/)([a-z][a-z0-9_]*)$")
        needs = {name: {m.group(1) for path in d.inputs.values() if (m := tail.search(path)) and m.group(1) in found}
                 for name, (_, d, _) in found.items()}  # fmt: skip
        try:
            order = list(TopologicalSorter(needs).static_order())
        except CycleError as fault:
            ring = " -> ".join(fault.args[1])
            pack = found[fault.args[1][0]][0]
            self.complain(pack, f'derived "{fault.args[1][0]}"', f"depends on itself: {ring}")
            raise PackError(self.complaints) from None
        out = []
        lacking = set[str]()
        self.figures.lacking -= self.figures.constants.keys() | self.figures.tables.keys()
        for name in order:
            if lacking & needs[name] or self.lacks(found[name][1]):
                lacking.add(name)
                continue
            before = len(self.complaints)
            bound = self.derived(*found[name])
            origin = found[name][1].origin
            if origin is not None:
                self.complaints[before:] = [Complaint(origin.file, origin.place, c.message)
                                            for c in self.complaints[before:]]  # fmt: skip
            if bound is not None:
                out.append(bound)
                self.quantities[bound.kind][name] = bound.type
        return out

    def lacks(self, derived: Derived) -> bool:
        """Whether a quantity can't be reckoned at these editions, for want of a figure or table."""
        lacking = self.figures.lacking - derived.inputs.keys()
        texts = [(" ".join([c.when, c.value, c.says, *c.let.values()]), c.let.keys()) for c in derived.cases]
        return any((lacking - own) & set(_WORD.findall(text)) for text, own in texts)

    def inputs(self, pack: Pack, place: str, kind: PartType, texts: Mapping[str, str],
               stages: list[str]) -> dict[str, Path]:  # fmt: skip
        out = {}
        for name, text in texts.items():
            if name in self.figures.constants or name in RESERVED:
                self.complain(pack, place, f'gives an input the name "{name}", which is taken; choose another')
            try:
                out[name], read = route(kind, text, self.quantities)
                self.reads |= read
                stages += [self.stages.get(path) or stage(kind_read, path) for kind_read, path in read]
            except FormulaError as fault:
                self.complain(pack, f"{place} / inputs / {name}", str(fault))
        return out

    def formula(self, pack: Pack, place: str, text: str, names: Mapping[str, Type]) -> Node | None:
        try:
            return parse(text, _Scope(ChainMap(dict(names), self.figures.types), self.figures.table_types))
        except FormulaError as fault:
            self.complain(pack, place, str(fault))
            return None

    def lets(
        self, pack: Pack, place: str, texts: Mapping[str, str], names: dict[str, Type]
    ) -> tuple[tuple[str, Node], ...]:
        out = []
        for name, text in texts.items():
            if name in names or name in self.figures.constants or name in RESERVED:
                self.complain(pack, f"{place} / let / {name}", "is a name that is taken; choose another")
            node = self.formula(pack, f"{place} / let / {name}", text, names)
            if node is not None:
                names[name] = node.type
                out.append((name, node))
        return tuple(out)

    def derived(self, pack: Pack, derived: Derived, kind: PartType) -> BoundDerived | None:
        place = f'derived "{derived.name}"'
        stages: list[str] = []
        inputs = self.inputs(pack, place, kind, derived.inputs, stages)
        self.stages[derived.name] = latest(*stages)
        if len(inputs) < len(derived.inputs):
            return None
        cases: list[BoundCase] = []
        want = self.figures.unit_type(pack, place, derived.unit) if derived.unit is not None else None
        for i, case in enumerate(derived.cases, 1):
            names = {name: path.type for name, path in inputs.items()}
            at = f"{place} / case {i}" if len(derived.cases) > 1 else place
            when = self.formula(pack, at, case.when, names) if case.when else None
            let = self.lets(pack, at, case.let, names)
            value = self.formula(pack, at, case.value, names)
            if value is None:
                return None
            factor = 1.0
            want = want or value.type
            if value.type.kind != want.kind or value.type.many:
                self.complain(pack, at, f"gives {value.type.words()}, not {want.words()}")
            elif want.unit and value.type.unit:
                if want.unit.dimension != value.type.unit.dimension:
                    self.complain(pack, at, f"gives {value.type.words()}, not {want.words()}")
                factor = float(value.type.unit.size / want.unit.size)
            says = self.template(pack, at, case.says, names, low=True)
            cases.append(BoundCase(when, let, value, factor, says))
        assert want is not None
        return BoundDerived(derived.name, derived.meaning, kind.name, inputs, tuple(cases), want)

    def rule(self, pack: Pack, rule: Rule) -> BoundRule | None:
        """A rule settled; what is wrong with it is said of the file it stands in, or of the change that put it in."""
        before = len(self.complaints)
        bound = self.settled(pack, rule)
        for i, one in enumerate(self.complaints[before:], before):
            piece = one.place.removeprefix(f'rule "{rule.id}"').removeprefix(" / ")
            origin = next((rule.origins[key] for key in sorted(rule.origins, reverse=True) if piece.startswith(key)),
                          None)  # fmt: skip
            at = (origin.file, origin.place) if origin else (f"{pack.folder}/{rule.file}", one.place)
            self.complaints[i] = Complaint(*at, one.message)
        return bound

    def settled(self, pack: Pack, rule: Rule) -> BoundRule | None:
        place = f'rule "{rule.id}"'
        edition = self.editions[rule.code]
        kind = self.kind_of(pack, place, rule.each)
        if kind is None:
            return None
        before = len(self.complaints)
        stages: list[str] = []
        inputs = self.inputs(pack, place, kind, rule.inputs, stages)
        if len(inputs) < len(rule.inputs):
            return None
        names = {name: path.type for name, path in inputs.items()}
        applies = self.statement(pack, f"{place} / applies", rule.applies, names) if rule.applies else None
        widest = applies
        for i, (how, text) in enumerate(rule.scopes):
            where = self.statement(pack, f"{place} / scope {i}", text, names)
            if where is not None:
                op = "and" if how == "narrow" else "or"
                applies = Logic(op, (applies, where), where.type) if applies is not None else where
                widest = Logic(op, (widest, where), where.type) if how == "widen" and widest is not None else widest
        narrowed = any(how == "narrow" for how, _ in rule.scopes)
        let = self.lets(pack, place, rule.let, names)
        if len(let) < len(rule.let):
            return None
        holds = self.statement(pack, f"{place} / holds", rule.holds, names) if rule.holds else None
        alternatives: list[BoundAlternative] = []
        for way in rule.alternatives:
            if not (way.begins or 0) <= edition < (way.withdrawn or 9999):
                continue
            at = f'{place} / way "{way.name}"'
            node = self.statement(pack, at, way.holds, names)
            if node is not None:
                says = self.template(pack, at, way.says, names, low=True)
                alternatives.append(BoundAlternative(way.name, node, says))
        if rule.alternatives and not alternatives:
            self.complain(pack, place, f"has no way that the {edition} edition knows; give the rule `begins`")
        for one in (holds, *(w.holds for w in alternatives)):
            if one is not None and not names_in(one) - set(self.figures.constants):
                self.complain(pack, place, "holds or fails whatever the description says")
        passes, fails, remedy = (
            self.template(pack, f"{place} / {what}", by_edition.at(edition) or "", names, bool(alternatives))
            for what, by_edition in (("passes", rule.passes), ("fails", rule.fails), ("remedy", rule.remedy))
        )
        for name, value in rule.cure.items():
            self.cure(pack, f"{place} / cure / {name}", inputs.get(name), value, {*names, *self.figures.constants})
        if (rule.applies or rule.scopes) and not rule.scope:
            self.complain(pack, place, "has `applies` but no `scope`, the words for it")
        if len(self.complaints) > before:
            return None
        cited = [(c, citation.when) for citation in rule.citations if (c := self.clause(pack, place, citation))]
        speaks = tuple(self.speaks(pack, place, c, when, names) if when else None for c, when in cited)
        if not cited:
            self.complain(pack, place, f"cites nothing at edition {edition}")
        return BoundRule(
            rule.id, rule.title, rule.family, rule.force, pack.name, kind.name, rule.scope, inputs, let, applies,
            holds, tuple(alternatives), passes, fails, remedy, rule.asks, tuple(c for c, _ in cited),
            rule.stage or latest(*stages),
            measured(alternatives[0].holds if len(alternatives) == 1 else holds),
            compared([t for t in (holds, *(w.holds for w in alternatives)) if t is not None]),
            rule.cure, not rule.changes and (rule.id, edition) in pack.marks
            and pack.marks[rule.id, edition].verdict == RIGHT,
            of_rule(pack, rule, self.editions, self.packs),
            (widest or Const(True, Type("flag"))) if narrowed else None,
            speaks if any(speaks) else (),
        )  # fmt: skip

    def cure(self, pack: Pack, place: str, path: Path | None, value: str, names: set[str]) -> None:
        """Whether what a rule would change first is a fact, and becomes one of its choices or one of the figures."""
        if path is None or path.derived or path.leaf is None:
            return self.complain(pack, place, "is no input that is a fact; name one of the rule's inputs")
        choices = path.type.choices or frozenset()
        if value not in choices and value not in names:
            said = nearest(value, sorted({*choices, *names}))
            self.complain(pack, place, f'is to become "{value[:60]}", which is neither a choice nor a figure; {said}')
        return None

    def statement(self, pack: Pack, place: str, text: str, names: Mapping[str, Type]) -> Node | None:
        node = self.formula(pack, place, text, names)
        if node is not None and (node.type.kind != "flag" or node.type.many):
            self.complain(pack, place, f"gives {node.type.words()}, not a yes or no")
            return None
        return node

    def clause(self, pack: Pack, place: str, citation: Citation) -> Clause | None:
        edition = self.editions.get(citation.work.code)
        text = citation.clause.at(edition)
        if text is None or edition is None:
            return None
        key = citation.read.at(edition)
        if key is None:
            self.complain(pack, place, f"cites {text} without saying where it was read")
            return None
        source = pack.sources[key]
        read = f"{source.title}, {source.body}, {source.year}" if source.year else source.title
        return Clause(citation.work.at(edition), edition, text, read, of_citation(pack, citation, edition))

    def speaks(self, pack: Pack, place: str, clause: Clause, when: str, names: Mapping[str, Type]) -> Node | None:
        """Whether a clause speaks of a part, by what the rule takes and reckons; no figure, since law may change it."""
        at = f"{place} / cite {clause.clause}"
        node = self.statement(pack, at, when, names)
        if node is not None and (used := sorted(names_in(node) - names.keys())):
            self.complain(pack, at, f'goes by "{used[0]}", which is no input and not in `let`')
        return node

    def template(self, pack: Pack, place: str, text: str, names: Mapping[str, Type], way: bool = False,
                 low: bool = False) -> Template:  # fmt: skip
        out: list[str | Slot] = []
        own = {"each": ..., **({"way": ...} if way else {})}
        known: ChainMap[str, Any] = ChainMap(own, self.figures.types, dict(names))
        for i, piece in enumerate(re.split(r"\{([^{}]*)\}", text)):
            if i % 2 == 0:
                if "{" in piece or "}" in piece:
                    self.complain(pack, place, "has a curly bracket without its partner")
                out.append(piece)
                continue
            piece, _, absent = piece.partition("|")
            if piece not in known:
                self.complain(pack, place, f'puts in "{piece[:60]}", which is not defined; {nearest(piece, known)}')
            elif absent and piece not in names:
                self.complain(pack, place, f'says what to put in where there is no "{piece}", which there always is; '
                                           f"write {{{piece}}}")  # fmt: skip
            elif piece in names and names[piece].kind in ("items", "outline"):
                self.complain(pack, place, f'puts in "{piece}", {names[piece].words()}; reckon with it in `let`')
            else:
                out.append(Slot(piece, absent))
        if out and isinstance(out[0], str) and not low:
            out[0] = out[0][:1].upper() + out[0][1:]
        return tuple(p for p in out if p != "")
