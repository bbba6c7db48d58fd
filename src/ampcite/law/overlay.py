"""Layers of local law laid over packs: each change checked against what it expects to find. No pack is altered."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any, TypeVar

import attrs

from ampcite.base.editions import CODES, ByEdition, Editions
from ampcite.base.errors import Complaint, PackError, nearest, short
from ampcite.language.tables import NOT_PERMITTED
from ampcite.language.units import unit_words
from ampcite.law.changes import LEVELS, Amendment, Change
from ampcite.law.conditional import conditional
from ampcite.law.facts import fact
from ampcite.law.inserted import documents, label
from ampcite.law.operations import OPERATIONS
from ampcite.law.records import Derived, Pack, Parameter, Rule
from ampcite.law.section import held
from ampcite.law.telling import Refused, by_whom, change_of, cited, effect_of, origin_of
from ampcite.law.transplant import taken as taken_over


def amend(packs: Sequence[Pack], layers: Iterable[Pack], editions: Editions, date: str = "") -> list[Pack]:
    """The packs as the layers of local law leave them, the layers' own rules among them.

    Args:
        packs: packs of the model codes.
        layers: packs with an authority; they speak in the order of precedence, whatever order they are given in.
        editions: the edition of each code.
        date: the date of the application, year-month-day; "" where it is not stated.

    Raises:
        PackError: with every change that does not fit: its target is not there or is not what it expects, a
            tightening that is not tighter, two changes of one layer with one target, a date that matters and is
            not stated, a layer written against another edition.
    """
    laid, complaints = lay(packs, layers, editions, date)
    if complaints:
        raise PackError(complaints)
    return laid


def lay(packs: Sequence[Pack], layers: Iterable[Pack], editions: Editions,
        date: str = "") -> tuple[list[Pack], list[Complaint]]:  # fmt: skip
    """As :func:`amend`, but what does not fit is left out and complained of."""
    law = _Law({pack.name: pack for pack in packs}, editions, date)
    for layer in sorted(layers, key=precedence):
        law.add(layer)
    return list(law.packs.values()), law.complaints


def precedence(layer: Pack) -> tuple[int, int, str]:
    """By what layers are sorted into the order they speak in."""
    assert layer.authority is not None
    return LEVELS.index(layer.authority.level), layer.order, layer.name


T = TypeVar("T")
_NOTHING: Mapping[str, Any] = {}
NUMBER = re.compile(r"-?\d{1,30}(\.\d{1,30})?")


class _Law:
    def __init__(self, packs: dict[str, Pack], editions: Editions, date: str) -> None:
        self.packs = packs
        self.base = {name: one for pack in packs.values() for name, one in pack.parameters.items()}
        self.editions = editions
        self.date = date
        self.complaints: list[Complaint] = []

    def add(self, layer: Pack) -> None:
        authority = layer.authority
        assert authority is not None
        for code, year in authority.against.items():
            if code in self.editions and self.editions[code] != year:
                said = (f"is written against the {year} {CODES[code]}; the {self.editions[code]} edition is in force: "
                        "carry it over to that edition first")  # fmt: skip
                self.complaints.append(Complaint(layer.folder, "authority / against", said))
                return
        self.packs[layer.name] = attrs.evolve(layer, rules={k: self.own(layer, r) for k, r in layer.rules.items()})
        taken: dict[tuple[str, ...], str] = {}
        for change in layer.amendments:
            one = change
            try:
                if one.dated and not self.date:
                    raise Refused("holds only between dates, and the date of the application is not stated")
                if not one.holds_on(self.date):
                    continue
                for one in self.each(change):
                    if one.target in taken:
                        raise Refused(f'changes what "{taken[one.target]}" of this layer changes already; keep one')
                    taken[one.target] = one.id
                    self.apply(layer, one)
            except Refused as refused:
                place = f'amend "{one.id}"'
                self.complaints.append(Complaint(f"{layer.folder}/{one.file}", place, str(refused)))

    def own(self, layer: Pack, rule: Rule) -> Rule:
        """A rule that the layer states itself, which no model code has."""
        assert layer.authority is not None
        place = cited(rule.rests_on, self.editions.get(rule.code, 0))
        change = Change(layer.authority.name, layer.authority.level, place, f'"{rule.title}"', "no such rule",
                        "required", "tighter", "")  # fmt: skip
        return attrs.evolve(rule, changes=(change,))

    def apply(self, layer: Pack, one: Amendment) -> None:
        if "parameter" in one.said:
            return self.figure(layer, one)
        if "table" in one.said:
            return self.cell(layer, one)
        if one.do == "label":
            rule, derived = label(layer, one)
            return self.insert(layer, rule, derived=derived)
        if one.do == "set":
            path, value, rule, figures = fact(layer, one)
            self.insert(layer, rule, parameters=figures)
            pack = self.packs[layer.name]
            self.packs[layer.name] = attrs.evolve(pack, facts={**pack.facts, path: value})
            return None
        if one.do == "document":
            for rule in documents(layer, one):
                self.insert(layer, rule)
            return None
        if one.do == "adopt":
            return self.adopt(layer, one)
        return self.rule(layer, one)

    # --- sections -----------------------------------------------------------------------------------------------

    def each(self, one: Amendment) -> list[Amendment]:
        """A change of a section as changes of its rules; any other as it is."""
        if "section" not in one.said:
            return [one]
        section, adopts = one.said["section"], one.do == "adopt"
        editions = dict(self.editions)
        if adopts:
            editions |= dict.fromkeys(editions, int(one.said["edition"]))
        found = held(self.packs.values(), section, editions)
        live = {key: rule for key, rule in found.rules.items() if not rule.struck}
        years = " or ".join(str(editions[code]) for code in sorted(editions)) if not adopts else one.said["edition"]
        if not live and not one.rules:
            if one.on_record:
                return []
            raise Refused(f"changes the section {section}, on which no rule rests in the {years} edition; write "
                          "rules = [] to keep it on record")  # fmt: skip
        listed = "[" + ", ".join(f'"{name}"' for name in live) + "]"
        if not one.rules:
            raise Refused(f"does not say which rules it means; section {section} has rules = {listed}")
        strange = [name for name in one.rules if name not in live and name not in found.besides]
        if strange:
            raise Refused(f"lists what section {section} does not have in the {years} edition: {', '.join(strange)}; "
                          f"it has rules = {listed}")  # fmt: skip
        rules = {**live, **found.besides}
        out = [self.of_rule(one, name, rules[name]) for name in one.rules]
        if adopts:
            now = held(self.packs.values(), section, self.editions)
            gone = {name: rule for name, rule in now.rules.items() if name not in found.rules and not rule.struck}
            out += [self.of_rule(attrs.evolve(one, do="strike"), name, rule) for name, rule in gone.items()]
        return out

    def of_rule(self, one: Amendment, name: str, rule: Rule) -> Amendment:
        clause = rule.rests_on.clause.at(self.editions.get(rule.code)) or ""
        said = {key: text for key, text in one.said.items() if key != "section"}
        return attrs.evolve(one, said={**said, "rule": name, "expects": clause})

    def adopt(self, layer: Pack, one: Amendment) -> None:
        """A rule as another edition of its code has it, in the place of the one in force, if there is one."""
        pack, rule = self.find(one.said["rule"], "rule", lambda pack: pack.rules)
        year, edition = int(one.said["edition"]), self.editions[rule.code]
        come = taken_over(list(self.packs.values()), rule, year, edition)
        was = "as that edition has it" if rule.in_force(edition) else "nothing of it"
        there = cited(come.rule.rests_on, edition)
        change = change_of(layer, one, f'"{rule.title}"', f"{was} ({edition} edition)", f"as {there} has it", "other")
        new = attrs.evolve(come.rule, changes=(*rule.changes, change), origins={"": origin_of(layer, one)})
        self.packs |= {owner.name: owner for owner in come.packs}
        pack = self.packs[pack.name]
        self.packs[pack.name] = attrs.evolve(pack, rules={**pack.rules, new.id: new})

    # --- figures ------------------------------------------------------------------------------------------------

    def figure(self, layer: Pack, one: Amendment) -> None:
        pack, parameter = self.find(one.said["parameter"], "figure", lambda pack: pack.parameters)
        edition = self.editions.get(parameter.citation.work.code)
        found = parameter.value.at(edition)
        if found is None or edition is None:
            raise Refused(f"changes {parameter.meaning}, which the codes in force do not have")
        expects = self.number(one, "expects")
        to = self.number(one, "to") if "to" in one.said else None
        unit = unit_words(parameter.unit)
        model = self.base.get(parameter.name, parameter).value.at(edition) if one.do == "stricter-of" else found
        if expects != Decimal(model or found):
            by = by_whom(parameter.changes, edition, parameter.citation)
            raise Refused(f"expects {parameter.meaning} to be {expects}{unit}, but it is {model}{unit} {by}")
        effect = effect_of(parameter.stricter, Decimal(found), to) if to is not None else "other"
        if one.do == "stricter-of":
            return self.stricter_of(layer, one, parameter, found, effect)
        if (one.do == "tighten" and effect != "tighter") or (one.do == "relax" and effect != "looser"):
            way = {"higher": "only a higher figure", "lower": "only a lower figure"}.get(parameter.stricter)
            verb = "tighter" if one.do == "tighten" else "looser"
            said = f"{way} tightens this rule" if way else "neither side of it is tighter; write `replace`"
            raise Refused(f"says it makes {parameter.meaning} {verb}, but {found}{unit} to {to}{unit} is not: {said}")
        local = f"{one.said['to']}{unit}" if to is not None else f"as reckoned by {one.said['formula']}"
        local += f" for {one.said['scope']}" if "where" in one.said else ""
        change = self.of_figure(layer, one, parameter, edition, local, effect)
        if "where" in one.said or to is None:
            self.packs = conditional(self.packs, layer, one, parameter, edition, change)
        else:
            self.put_figure(pack, parameter, edition, one.said["to"], change)

    def stricter_of(self, layer: Pack, one: Amendment, parameter: Parameter, found: str, effect: str) -> None:
        """A figure that stays where it is stricter already, and else becomes what the layer says."""
        if parameter.stricter == "neither":
            raise Refused(f"asks for the stricter of two figures, but neither side of {parameter.meaning} is stricter")
        edition, unit = self.editions[parameter.citation.work.code], unit_words(parameter.unit)
        new = one.said["to"] if effect == "tighter" else found
        local = f"{new}{unit}, the stricter of {found}{unit} and {one.said['to']}{unit}"
        change = self.of_figure(layer, one, parameter, edition, local, effect if effect == "tighter" else "other")
        pack = next(pack for pack in self.packs.values() if parameter.name in pack.parameters)
        self.put_figure(pack, parameter, edition, new, change)

    def of_figure(self, layer: Pack, one: Amendment, parameter: Parameter, edition: int, local: str,
                  effect: str) -> Change:  # fmt: skip
        found, unit = parameter.value.at(edition), unit_words(parameter.unit)
        model = parameter.changes[0].model if parameter.changes else \
            f"{found}{unit} ({cited(parameter.citation, edition)})"  # fmt: skip
        return change_of(layer, one, parameter.meaning, model, local, effect)

    def put_figure(self, pack: Pack, parameter: Parameter, edition: int, to: str, change: Change) -> None:
        new = attrs.evolve(parameter, value=ByEdition({**parameter.value.texts, edition: to}),
                           changes=(*parameter.changes, change))  # fmt: skip
        self.packs[pack.name] = attrs.evolve(pack, parameters={**pack.parameters, new.name: new})

    def cell(self, layer: Pack, one: Amendment) -> None:
        pack, table = self.find(one.said["table"], "table", lambda pack: pack.tables)
        edition = self.editions.get(table.citation.work.code)
        file = table.files.at(edition)
        if file is None or edition is None:
            raise Refused(f"changes {table.meaning}, which the codes in force do not have")
        header, *rows = table.rows[file]
        at = header.index(table.row_header)
        if one.said["column"] not in header:
            raise Refused(f'names the column "{one.said["column"]}" of {table.name}; '
                           f"{nearest(one.said['column'], header)}")  # fmt: skip
        column = header.index(one.said["column"])
        keys = [row[at] for row in rows]
        if one.said["row"] not in keys:
            raise Refused(f'names the row "{one.said["row"]}" of {table.name}; {nearest(one.said["row"], keys)}')
        number = keys.index(one.said["row"])
        found = rows[number][column]
        if one.said["expects"] != found:
            raise Refused(f'expects "{one.said["expects"]}" in the row {one.said["row"]} and column '
                           f'{one.said["column"]} of {table.name}, but there is "{found}"')  # fmt: skip
        if NUMBER.fullmatch(found) and one.said["to"] != NOT_PERMITTED:
            self.number(one, "to")
        if one.said["column"] == table.row_header and one.said["to"] in keys:
            raise Refused(f'puts in "{one.said["to"]}", a row that {table.name} has already')
        new_row = tuple(one.said["to"] if i == column else cell for i, cell in enumerate(rows[number]))
        body = [*rows[:number], new_row, *rows[number + 1 :]]
        unit = unit_words(table.gives_unit or "")
        model = f"{found}{unit} ({cited(table.citation, edition)})"
        what = f"{table.meaning}: {table.row_header.replace('_', ' ')} {one.said['row']}, {one.said['column']}"
        change = change_of(layer, one, what, model, f"{one.said['to']}{unit}", "other")
        new = attrs.evolve(table, rows={**table.rows, file: (header, *body)}, changes=(*table.changes, change))
        self.packs[pack.name] = attrs.evolve(pack, tables={**pack.tables, new.name: new})

    def number(self, one: Amendment, key: str) -> Decimal:
        text = one.said[key]
        if not NUMBER.fullmatch(text):
            plain = text.split()[0].replace(",", "") if text.strip() else ""
            hint = f"; write {plain}, in the unit of the figure" if NUMBER.fullmatch(plain) else "; write it in digits"
            raise Refused(f"has {short(text)} as `{key}`, which is no number{hint}")
        return Decimal(text)

    # --- rules --------------------------------------------------------------------------------------------------

    def rule(self, layer: Pack, one: Amendment) -> None:
        pack, rule = self.find(one.said["rule"], "rule", lambda pack: pack.rules)
        edition = self.editions.get(rule.code)
        if edition is None or not rule.in_force(edition):
            raise Refused(f'changes the rule "{rule.id}", which the codes in force do not have')
        if rule.struck:
            raise Refused(f'changes the rule "{rule.id}", which is gone: {rule.struck}')
        clause = rule.rests_on.clause.at(edition) or ""
        if one.said["expects"] != clause:
            raise Refused(f'expects the rule "{rule.id}" to rest on {one.said["expects"]}, but at the {edition} '
                           f"edition it rests on {clause}")  # fmt: skip
        new, model, local, effect = OPERATIONS[one.do](layer, one, rule, edition)
        there = cited(rule.rests_on, edition)
        change = change_of(layer, one, f'"{rule.title}"', f"{model} ({there})", local, effect)
        new = attrs.evolve(new, changes=(*rule.changes, change))
        self.packs[pack.name] = attrs.evolve(pack, rules={**pack.rules, new.id: new})

    def insert(self, layer: Pack, rule: Rule, parameters: Mapping[str, Parameter] = _NOTHING,
               derived: Mapping[str, Derived] = _NOTHING) -> None:  # fmt: skip
        pack = self.packs[layer.name]
        self.packs[layer.name] = attrs.evolve(pack, rules={**pack.rules, rule.id: rule},
                                              parameters={**pack.parameters, **parameters},
                                              derived={**pack.derived, **derived})  # fmt: skip

    def find(self, name: str, what: str, of: Callable[[Pack], Mapping[str, T]]) -> tuple[Pack, T]:
        for pack in self.packs.values():
            if name in of(pack):
                return pack, of(pack)[name]
        known = [n for pack in self.packs.values() for n in of(pack)]
        raise Refused(f'changes the {what} "{name}", of which there is none; {nearest(name, known)}')
