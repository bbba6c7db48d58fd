"""Layers of local law laid over packs: each change checked against what it expects to find. No pack is altered."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from typing import TypeVar

import attrs

from ampcite.base.editions import CODES, ByEdition, Editions
from ampcite.base.errors import Complaint, PackError, nearest, short
from ampcite.language.tables import NOT_PERMITTED
from ampcite.language.units import unit_words
from ampcite.law.changes import LEVELS, Amendment, Change
from ampcite.law.records import Alternative, Citation, Origin, Pack, Rule, Work


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
NUMBER = re.compile(r"-?\d{1,30}(\.\d{1,30})?")


class _Refused(Exception):
    """One change that does not fit, in a sentence."""


class _Law:
    def __init__(self, packs: dict[str, Pack], editions: Editions, date: str) -> None:
        self.packs = packs
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
        for one in layer.amendments:
            try:
                if one.dated and not self.date:
                    raise _Refused("holds only between dates, and the date of the application is not stated")
                if not one.holds_on(self.date):
                    continue
                if one.target in taken:
                    raise _Refused(f'changes what "{taken[one.target]}" of this layer changes already; keep one')
                taken[one.target] = one.id
                self.apply(layer, one)
            except _Refused as refused:
                place = f'amend "{one.id}"'
                self.complaints.append(Complaint(f"{layer.folder}/{one.file}", place, str(refused)))

    def own(self, layer: Pack, rule: Rule) -> Rule:
        """A rule that the layer states itself, which no model code has."""
        assert layer.authority is not None
        place = _cited(rule.citations[0], self.editions.get(rule.code, 0))
        change = Change(layer.authority.name, layer.authority.level, place, f'"{rule.title}"', "no such rule",
                        "required", "tighter", "")  # fmt: skip
        return attrs.evolve(rule, changes=(change,))

    def apply(self, layer: Pack, one: Amendment) -> None:
        if "parameter" in one.said:
            return self.figure(layer, one)
        if "table" in one.said:
            return self.cell(layer, one)
        if one.do == "label":
            return self.insert(layer, label(layer, one))
        if one.do == "document":
            for rule in documents(layer, one):
                self.insert(layer, rule)
            return None
        return self.rule(layer, one)

    # --- figures ------------------------------------------------------------------------------------------------

    def figure(self, layer: Pack, one: Amendment) -> None:
        pack, parameter = self.find(one.said["parameter"], "figure", lambda pack: pack.parameters)
        edition = self.editions.get(parameter.citation.work.code)
        found = parameter.value.at(edition)
        if found is None or edition is None:
            raise _Refused(f"changes {parameter.meaning}, which the codes in force do not have")
        expects, to = self.number(one, "expects"), self.number(one, "to")
        unit = unit_words(parameter.unit)
        if expects != Decimal(found):
            raise _Refused(f"expects {parameter.meaning} to be {expects}{unit}, but it is {found}{unit} "
                           f"{_by(parameter.changes, edition, parameter.citation)}")  # fmt: skip
        effect = _effect(parameter.stricter, expects, to)
        if (one.do == "tighten" and effect != "tighter") or (one.do == "relax" and effect != "looser"):
            way = {"higher": "only a higher figure", "lower": "only a lower figure"}.get(parameter.stricter)
            verb = "tighter" if one.do == "tighten" else "looser"
            said = f"{way} tightens this rule" if way else "neither side of it is tighter; write `replace`"
            raise _Refused(f"says it makes {parameter.meaning} {verb}, but {found}{unit} to {to}{unit} is not: {said}")
        model = parameter.changes[0].model if parameter.changes else \
            f"{found}{unit} ({_cited(parameter.citation, edition)})"  # fmt: skip
        change = _change(layer, one, parameter.meaning, model, f"{one.said['to']}{unit}", effect)
        new = attrs.evolve(parameter, value=ByEdition({**parameter.value.texts, edition: one.said["to"]}),
                           changes=(*parameter.changes, change))  # fmt: skip
        self.packs[pack.name] = attrs.evolve(pack, parameters={**pack.parameters, new.name: new})

    def cell(self, layer: Pack, one: Amendment) -> None:
        pack, table = self.find(one.said["table"], "table", lambda pack: pack.tables)
        edition = self.editions.get(table.citation.work.code)
        file = table.files.at(edition)
        if file is None or edition is None:
            raise _Refused(f"changes {table.meaning}, which the codes in force do not have")
        header, *rows = table.rows[file]
        at = header.index(table.row_header)
        if one.said["column"] not in header:
            raise _Refused(f'names the column "{one.said["column"]}" of {table.name}; '
                           f"{nearest(one.said['column'], header)}")  # fmt: skip
        column = header.index(one.said["column"])
        keys = [row[at] for row in rows]
        if one.said["row"] not in keys:
            raise _Refused(f'names the row "{one.said["row"]}" of {table.name}; {nearest(one.said["row"], keys)}')
        number = keys.index(one.said["row"])
        found = rows[number][column]
        if one.said["expects"] != found:
            raise _Refused(f'expects "{one.said["expects"]}" in the row {one.said["row"]} and column '
                           f'{one.said["column"]} of {table.name}, but there is "{found}"')  # fmt: skip
        if NUMBER.fullmatch(found) and one.said["to"] != NOT_PERMITTED:
            self.number(one, "to")
        if one.said["column"] == table.row_header and one.said["to"] in keys:
            raise _Refused(f'puts in "{one.said["to"]}", a row that {table.name} has already')
        new_row = tuple(one.said["to"] if i == column else cell for i, cell in enumerate(rows[number]))
        body = [*rows[:number], new_row, *rows[number + 1 :]]
        unit = unit_words(table.gives_unit or "")
        model = f"{found}{unit} ({_cited(table.citation, edition)})"
        what = f"{table.meaning}, {one.said['row']}, {one.said['column']}"
        change = _change(layer, one, what, model, f"{one.said['to']}{unit}", "other")
        new = attrs.evolve(table, rows={**table.rows, file: (header, *body)}, changes=(*table.changes, change))
        self.packs[pack.name] = attrs.evolve(pack, tables={**pack.tables, new.name: new})

    def number(self, one: Amendment, key: str) -> Decimal:
        text = one.said[key]
        if not NUMBER.fullmatch(text):
            plain = text.split()[0].replace(",", "") if text.strip() else ""
            hint = f"; write {plain}, in the unit of the figure" if NUMBER.fullmatch(plain) else ""
            raise _Refused(f"has {short(text)} as `{key}`, which is no number{hint}")
        return Decimal(text)

    # --- rules --------------------------------------------------------------------------------------------------

    def rule(self, layer: Pack, one: Amendment) -> None:
        pack, rule = self.find(one.said["rule"], "rule", lambda pack: pack.rules)
        edition = self.editions.get(rule.code)
        if edition is None or not rule.in_force(edition):
            raise _Refused(f'changes the rule "{rule.id}", which the codes in force do not have')
        if rule.struck:
            raise _Refused(f'changes the rule "{rule.id}", which is gone: {rule.struck}')
        clause = rule.citations[0].clause.at(edition) or ""
        if one.said["expects"] != clause:
            raise _Refused(f'expects the rule "{rule.id}" to rest on {one.said["expects"]}, but at the {edition} '
                           f"edition it rests on {clause}")  # fmt: skip
        new, model, local, effect = _OPERATIONS[one.do](layer, one, rule, edition)
        cited = _cited(rule.citations[0], edition)
        change = _change(layer, one, f'"{rule.title}"', f"{model} ({cited})", local, effect)
        new = attrs.evolve(new, changes=(*rule.changes, change))
        self.packs[pack.name] = attrs.evolve(pack, rules={**pack.rules, new.id: new})

    def insert(self, layer: Pack, rule: Rule) -> None:
        pack = self.packs[layer.name]
        self.packs[layer.name] = attrs.evolve(pack, rules={**pack.rules, rule.id: rule})

    def find(self, name: str, what: str, of: Callable[[Pack], Mapping[str, T]]) -> tuple[Pack, T]:
        for pack in self.packs.values():
            if name in of(pack):
                return pack, of(pack)[name]
        known = [n for pack in self.packs.values() for n in of(pack)]
        raise _Refused(f'changes the {what} "{name}", of which there is none; {nearest(name, known)}')


_Outcome = tuple[Rule, str, str, str]


def _strike(layer: Pack, one: Amendment, rule: Rule, edition: int) -> _Outcome:
    name = one.said.get("way", "")
    if not name:
        said = f"struck by {_place(layer, one)}: {one.why}"
        return attrs.evolve(rule, struck=said), "this rule", "struck", "looser"
    known = [w.name for w in rule.alternatives if (w.begins or 0) <= edition < (w.withdrawn or 9999)]
    if name not in known:
        raise _Refused(f'strikes the exception "{name}" of "{rule.id}"; {nearest(name, known)}')
    if len(known) == 1:
        raise _Refused(f'strikes the last way to keep "{rule.id}"; strike the rule, or add another way first')
    left = tuple(w for w in rule.alternatives if w.name != name)
    return attrs.evolve(rule, alternatives=left), f'the exception "{name}"', "without that exception", "tighter"


def _scope(layer: Pack, one: Amendment, rule: Rule, edition: int) -> _Outcome:
    where, scope = one.said["where"], one.said["scope"]
    origins = {**_origins(layer, one, rule), f"scope {len(rule.scopes)}": _origin(layer, one)}
    new = attrs.evolve(rule, inputs=_inputs(one, rule), scopes=(*rule.scopes, (one.do, where)), origins=origins)
    if one.do == "narrow":
        words = f"{rule.scope}, here only {scope}" if rule.scope else scope
        return attrs.evolve(new, scope=words), f"it for {rule.scope or 'all'}", f"only for {scope}", "looser"
    if not rule.applies and not rule.scopes:
        raise _Refused(f'widens "{rule.id}", which is asked of every part already')
    return attrs.evolve(new, scope=f"{rule.scope}, and {scope}"), f"it for {rule.scope}", f"for {scope} too", "tighter"


def _allow(layer: Pack, one: Amendment, rule: Rule, edition: int) -> _Outcome:
    name = one.said["way"]
    if any(w.name == name for w in rule.alternatives):
        raise _Refused(f'adds the way "{name}" to "{rule.id}", which has one of that name')
    as_it_is = Alternative("as the code has it", rule.holds, rule.passes.at(edition) or "", None, None)
    own = rule.alternatives or (as_it_is,)
    origins = {**_origins(layer, one, rule), f'way "{name}"': _origin(layer, one)}
    new = attrs.evolve(rule, inputs=_inputs(one, rule), holds="", passes=ByEdition({0: "{way}"}), origins=origins,
                       alternatives=(*own, Alternative(name, one.said["holds"], one.said["says"], None, None)),
                       )  # fmt: skip
    return new, "no such way", f'another way to keep it, "{name}"', "looser"


def _refer(layer: Pack, one: Amendment, rule: Rule, edition: int) -> _Outcome:
    said = f"{one.said['to']} decides this ({_place(layer, one)})"
    return attrs.evolve(rule, referred=said), "a rule of its own", f"for {one.said['to']} to decide", "other"


def _waive(layer: Pack, one: Amendment, rule: Rule, edition: int) -> _Outcome:
    said = f"waived for applications until {one.said['until']} by {_place(layer, one)}: {one.why}"
    return attrs.evolve(rule, waived=said), "this rule", f"waived until {one.said['until']}", "looser"


_OPERATIONS: Mapping[str, Callable[[Pack, Amendment, Rule, int], _Outcome]] = {
    "strike": _strike, "narrow": _scope, "widen": _scope, "allow": _allow, "refer": _refer, "waive": _waive,
}  # fmt: skip


def _inputs(one: Amendment, rule: Rule) -> dict[str, str]:
    for name, path in one.inputs.items():
        if rule.inputs.get(name, path) != path or name in rule.let:
            raise _Refused(f'gives the name "{name}" to {path}, but "{rule.id}" uses it for something else')
    return {**rule.inputs, **one.inputs}


def _origin(layer: Pack, one: Amendment) -> Origin:
    return Origin(f"{layer.folder}/{one.file}", f'amend "{one.id}"')


def _origins(layer: Pack, one: Amendment, rule: Rule) -> dict[str, Origin]:
    """The origins of a rule with those of the inputs that a change brings."""
    new = {f"inputs / {name}": _origin(layer, one) for name in one.inputs.keys() - rule.inputs.keys()}
    return {**rule.origins, **new}


# --- inserted rules ---------------------------------------------------------------------------------------------


def label(layer: Pack, one: Amendment) -> Rule:
    """The rule that a label with exact words is there."""
    words = one.said["words"]
    return _inserted(
        layer, one, one.id, f'A label bears the words "{words}"', "/",
        {"words_shown": "/labels/*/text"}, f"has(words_shown, {words!r})", one.said.get("where", ""),
        f'A label bears the words "{words}".', f'No label bears the words "{words}".',
        f'Add a label with exactly these words: "{words}".',
    )  # fmt: skip


def documents(layer: Pack, one: Amendment) -> Iterable[Rule]:
    """The rules that a document is there, and that it is sealed, where a seal is asked for."""
    title = one.said["title"]
    yield _inserted(
        layer, one, one.id, f'The submission holds "{title}"', "/",
        {"titles": "/documents/*/title"}, f"has(titles, {title!r})", one.said.get("where", ""),
        f'The submission holds "{title}".', f'The submission holds no "{title}".', f'Submit "{title}".',
    )  # fmt: skip
    if "sealed_by" in one.said:
        seal = one.said["sealed_by"]
        yield _inserted(
            layer, one, f"{one.id}-seal", f'"{title}" is sealed by {seal}', "/documents/*",
            {"title": "title", "seals": "seals"},
            f"has(seals, {seal!r})", f"title == {title!r}",
            f'"{title}" is sealed by {seal}.', f'"{title}" is not sealed by {seal}.',
            f'Have "{title}" sealed by {seal}.',
        )  # fmt: skip


def _inserted(layer: Pack, one: Amendment, name: str, title: str, each: str, inputs: Mapping[str, str], holds: str,
              applies: str, passes: str, fails: str, remedy: str) -> Rule:  # fmt: skip
    assert layer.authority is not None
    code = next(iter(layer.authority.against))
    key = next((k for k, work in layer.works.items() if work.title == one.work), "")
    cited = Citation(Work(key, one.work, code), ByEdition({0: one.clause}), ByEdition({0: one.read}))
    change = _change(layer, one, f'"{title}"', "no such rule", "required", "tighter")
    words = one.said.get("scope", "") or (f'"{one.said["title"]}"' if each != "/" else "")
    by = {text: ByEdition({0: text}) for text in (passes, fails, remedy)}
    return Rule(name, title, "required by local law", "requirement", (), each, words if applies else "",
                {**inputs, **(one.inputs if each == "/" else {})}, {}, applies, holds, (), by[passes], by[fails],
                by[remedy], "", (cited,), None, None, {}, (), one.file, (change,),
                origins={"": _origin(layer, one)})  # fmt: skip


# --- words --------------------------------------------------------------------------------------------------------


def _change(layer: Pack, one: Amendment, what: str, model: str, local: str, effect: str) -> Change:
    assert layer.authority is not None
    place = f"{one.work} {one.clause}"
    return Change(layer.authority.name, layer.authority.level, place, what, model, local, effect, one.why.rstrip("."))


def _place(layer: Pack, one: Amendment) -> str:
    assert layer.authority is not None
    return f"{layer.authority.name}, {one.work} {one.clause}"


def _cited(citation: Citation, edition: int) -> str:
    return f"{citation.work.at(edition)} {citation.clause.at(edition) or ''}".rstrip()


def _by(changes: Sequence[Change], edition: int, citation: Citation) -> str:
    return f"(by {changes[-1].authority}, {changes[-1].place})" if changes else f"({_cited(citation, edition)})"


def _effect(stricter: str, before: Decimal, after: Decimal) -> str:
    if stricter == "neither" or before == after:
        return "other"
    return "tighter" if (after > before) == (stricter == "higher") else "looser"
