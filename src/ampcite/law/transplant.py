"""A rule as another edition of its code has it, with the figures of that edition, put among the rules in force.

What the edition in force does not have is taken over under its own name, since nothing else uses it there. What it has
with another figure, and every quantity that rests on such a figure, gets the year in its name, so that both can stand.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TypeVar

import attrs

from ampcite.base.editions import ByEdition
from ampcite.law.records import Case, Citation, Derived, Pack, Parameter, Rule, TableSpec

_WORD = re.compile(r"[a-z_][a-z0-9_]*")
Figure = TypeVar("Figure", Parameter, TableSpec)


@attrs.frozen
class Taken:
    """A rule taken over, and the packs with the figures that come with it: each beside the sources it was read in."""

    rule: Rule
    packs: tuple[Pack, ...]


def taken(packs: Sequence[Pack], rule: Rule, year: int, edition: int) -> Taken:
    """A rule as it stands at one edition of its code, to be used at another.

    Args:
        packs: those whose figures, tables and quantities it rests on.
        rule: the rule, in force at ``year``.
        year: the edition it is taken from.
        edition: the edition it is used under.
    """
    names = _rests_on(packs, rule)
    renamed: dict[str, str] = {}
    figures: dict[str, tuple[dict[str, Parameter], dict[str, TableSpec]]] = {}
    for pack in packs:
        parameters, tables = figures[pack.name] = {}, {}
        for name in names & pack.parameters.keys():
            one = pack.parameters[name]
            if one.citation.work.code == rule.code and one.value.at(year) != one.value.at(edition):
                new = _name(name, year) if one.value.at(edition) is not None else name
                parameters[new] = attrs.evolve(one, name=new, value=_fixed(one.value, year, edition),
                                               citation=_cited(one.citation, year, edition))  # fmt: skip
                renamed[name] = new
        for name in names & pack.tables.keys():
            spec = pack.tables[name]
            now, then = (spec.rows.get(spec.files.at(y) or "") for y in (edition, year))
            if spec.citation.work.code == rule.code and now != then:
                new = _name(name, year) if now is not None else name
                tables[new] = attrs.evolve(spec, name=new, files=_fixed(spec.files, year, edition),
                                           citation=_cited(spec.citation, year, edition))  # fmt: skip
                renamed[name] = new
    renamed = {old: new for old, new in renamed.items() if old != new}
    quantities = {name: d for pack in packs for name, d in pack.derived.items() if name in names}
    while more := {name for name, d in quantities.items() if name not in renamed and _uses(d) & renamed.keys()}:
        renamed |= {name: _name(name, year) for name in more}
    out = []
    for pack in packs:
        parameters, tables = figures[pack.name]
        derived = {renamed[name]: _derived(d, renamed) for name, d in pack.derived.items()
                   if name in renamed and quantities.get(name) is d}  # fmt: skip
        if parameters or tables or derived:
            out.append(attrs.evolve(pack, parameters={**pack.parameters, **parameters},
                                    tables={**pack.tables, **tables}, derived={**pack.derived, **derived}))  # fmt: skip
    return Taken(_rule(rule, year, edition, renamed), tuple(out))


def _name(name: str, year: int) -> str:
    return f"{name}_of_{year}"


def _fixed(by: ByEdition, year: int, edition: int) -> ByEdition:
    text = by.at(year)
    return ByEdition({**by.texts, edition: text} if text is not None else by.texts)


def _cited(citation: Citation, year: int, edition: int) -> Citation:
    """A citation of the edition that a thing is taken from."""
    work = attrs.evolve(citation.work, title=citation.work.at(year))
    return attrs.evolve(citation, work=work, clause=_fixed(citation.clause, year, edition),
                        read=_fixed(citation.read, year, edition))  # fmt: skip


def _put(text: str, renamed: Mapping[str, str]) -> str:
    return _WORD.sub(lambda found: renamed.get(found[0], found[0]), text)


def _path(text: str, renamed: Mapping[str, str]) -> str:
    head, stroke, last = text.rpartition("/")
    return f"{head}{stroke}{renamed.get(last, last)}"


def _derived(one: Derived, renamed: Mapping[str, str]) -> Derived:
    inputs = {name: _path(path, renamed) for name, path in one.inputs.items()}
    cases = []
    for case in one.cases:
        here = _but(renamed, one.inputs, case.let)
        when, value = (_put(text, here) for text in (case.when, case.value))
        cases.append(Case(when, value, _lets(case.let, here), _slots(case.says, here)))
    return attrs.evolve(one, name=renamed[one.name], inputs=inputs, cases=tuple(cases))


def _but(renamed: Mapping[str, str], *own: Mapping[str, str]) -> dict[str, str]:
    """What is renamed, without names that stand for something of one's own."""
    return {old: new for old, new in renamed.items() if not any(old in names for names in own)}


def _lets(lets: Mapping[str, str], renamed: Mapping[str, str]) -> dict[str, str]:
    return {name: _put(text, renamed) for name, text in lets.items()}


def _slots(text: str, renamed: Mapping[str, str]) -> str:
    """A sentence, with the names that it puts in."""
    return re.sub(r"\{([a-z0-9_]+)", lambda found: "{" + renamed.get(found[1], found[1]), text)


def _rule(rule: Rule, year: int, edition: int, every: Mapping[str, str]) -> Rule:
    renamed = _but(every, rule.inputs, rule.let)

    def said(by: ByEdition) -> ByEdition:
        return ByEdition({0: _slots(by.at(year) or "", renamed)})

    known = [way for way in rule.alternatives if (way.begins or 0) <= year < (way.withdrawn or 9999)]
    ways = tuple(attrs.evolve(way, begins=None, withdrawn=None, holds=_put(way.holds, renamed),
                              says=_slots(way.says, renamed)) for way in known)  # fmt: skip
    return attrs.evolve(
        rule, begins=None, withdrawn=None, alternatives=ways, passes=said(rule.passes), fails=said(rule.fails),
        remedy=said(rule.remedy), applies=_put(rule.applies, renamed), holds=_put(rule.holds, renamed),
        let=_lets(rule.let, renamed), inputs={name: _path(path, every) for name, path in rule.inputs.items()},
        citations=tuple(_cited(one, year, edition) for one in rule.citations if one.clause.at(year) is not None
                        or one.work.code != rule.code),
        cure={name: renamed.get(value, value) for name, value in rule.cure.items()},
    )  # fmt: skip


def _uses(one: Derived) -> set[str]:
    texts = [f"{c.when} {c.value} {' '.join(c.let.values())} {c.says}" for c in one.cases]
    return set(_WORD.findall(" ".join([*texts, *one.inputs.values()])))


def _rests_on(packs: Sequence[Pack], rule: Rule) -> set[str]:
    """The words of a rule and of the quantities it rests on."""
    quantities = {name: d for pack in packs for name, d in pack.derived.items()}
    sentences = [text for by in (rule.passes, rule.fails, rule.remedy) for text in by.texts.values()]
    ways = [f"{way.holds} {way.says}" for way in rule.alternatives]
    texts = [rule.applies, rule.holds, *rule.let.values(), *rule.inputs.values(), *ways, *sentences]
    names = set(_WORD.findall(" ".join(texts)))
    seen: set[str] = set()
    while more := {name for name in names - seen if name in quantities}:
        seen |= more
        names = names.union(*(_uses(quantities[name]) for name in more))
    return names
