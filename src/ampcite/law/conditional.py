"""A figure that local law changes under a condition, or reckons by a formula: in all that uses it.

The figure itself stays; what is used in its place gets the name of the layer, so that a worked line shows both.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

import attrs

from ampcite.base.editions import ByEdition
from ampcite.law.changes import Amendment, Change
from ampcite.law.records import Case, Derived, Pack, Parameter, Rule
from ampcite.law.telling import Refused, origin_of

_WORD = re.compile(r"[a-z_][a-z0-9_]*")


def conditional(packs: Mapping[str, Pack], layer: Pack, one: Amendment, parameter: Parameter, edition: int,
                change: Change) -> dict[str, Pack]:  # fmt: skip
    """The packs with a figure changed where a condition holds, or reckoned.

    Args:
        packs: by name, the one that has the figure among them.
        layer: the layer that changes it.
        one: its change.
        parameter: the figure.
        edition: the edition of its code.
        change: both sides of the change.
    """
    name, suffix = parameter.name, layer.name.replace("-", "_")
    here, local = f"{name}_in_{suffix}", f"{name}_of_{suffix}"
    value = f"({one.said['formula']})" if "formula" in one.said else local
    text = f"{value} if ({one.said['where']}) else {name}" if "where" in one.said else value
    put = _Put(name, here, text, layer, one, () if name in _WORD.findall(text) else (change,))
    out = {}
    users = 0
    for key, pack in packs.items():
        rules = {k: put.rule(rule) for k, rule in pack.rules.items()}
        derived = {k: put.derived(quantity) for k, quantity in pack.derived.items()}
        users += sum(rules[k] is not pack.rules[k] for k in rules)
        users += sum(derived[k] is not pack.derived[k] for k in derived)
        out[key] = attrs.evolve(pack, rules=rules, derived=derived)
    if not users:
        raise Refused(f"changes {parameter.meaning}, which no rule uses")
    owner = next(key for key, pack in packs.items() if name in pack.parameters)
    figures = {**out[owner].parameters, name: attrs.evolve(parameter, changes=(*parameter.changes, change))}
    if "formula" not in one.said:
        figures[local] = attrs.evolve(parameter, name=local, changes=(*parameter.changes, change),
                                      value=ByEdition({edition: one.said["to"]}))  # fmt: skip
    return {**out, owner: attrs.evolve(out[owner], parameters=figures)}


@attrs.frozen
class _Put:
    name: str
    here: str
    text: str
    layer: Pack
    one: Amendment
    changes: tuple[Change, ...]
    """What is told of those who use the figure, where it is in force no more and can't tell it itself."""

    def rule(self, rule: Rule) -> Rule:
        """A rule with the figure put in its place, where it uses it."""
        own = {*rule.inputs, *rule.let}
        ways = [f"{way.holds} {way.says}" for way in rule.alternatives]
        sentences = [text for by in (rule.passes, rule.fails, rule.remedy) for text in by.texts.values()]
        scopes = [where for _, where in rule.scopes]
        if not self.used([rule.applies, rule.holds, *rule.let.values(), *ways, *scopes, *sentences], own):
            return rule
        inputs, text = self.inputs(rule.inputs, own)
        word, line = self.word(self.here), self.word(f"({text})")
        origin = origin_of(self.layer, self.one)
        new = {f"inputs / {name}": origin for name in inputs.keys() - rule.inputs.keys()}
        said = self.slots
        return attrs.evolve(
            rule, inputs=inputs, let={self.here: text, **{k: word(v) for k, v in rule.let.items()}},
            applies=line(rule.applies), holds=word(rule.holds),
            scopes=tuple((how, line(where)) for how, where in rule.scopes),
            alternatives=tuple(attrs.evolve(w, holds=word(w.holds), says=said(w.says)) for w in rule.alternatives),
            passes=_each(rule.passes, said), fails=_each(rule.fails, said), remedy=_each(rule.remedy, said),
            cure={key: self.here if value == self.name else value for key, value in rule.cure.items()},
            origins={**rule.origins, **new, f"let / {self.here}": origin}, changes=(*rule.changes, *self.changes),
        )  # fmt: skip

    def derived(self, one: Derived) -> Derived:
        """A quantity with the figure put in its place, where it uses it."""
        own = {*one.inputs, *(name for case in one.cases for name in case.let)}
        if not self.used([f"{c.when} {c.value} {' '.join(c.let.values())} {c.says}" for c in one.cases], own):
            return one
        inputs, text = self.inputs(one.inputs, own)
        word, line = self.word(self.here), self.word(f"({text})")
        cases = tuple(Case(line(c.when), word(c.value), {self.here: text, **{k: word(v) for k, v in c.let.items()}},
                           self.slots(c.says)) for c in one.cases)  # fmt: skip
        return attrs.evolve(one, inputs=inputs, cases=cases, origin=origin_of(self.layer, self.one),
                            changes=(*one.changes, *self.changes))  # fmt: skip

    def used(self, texts: list[str], own: set[str]) -> bool:
        return self.name not in own and self.name in _WORD.findall(" ".join(texts))

    def inputs(self, have: Mapping[str, str], own: set[str]) -> tuple[dict[str, str], str]:
        """The inputs of a rule with those of the change, and its formula; a name that is taken gets the layer's."""
        out, text = dict(have), self.text
        for name, path in self.one.inputs.items():
            new = name if have.get(name, path if name not in own else "") == path else f"{name}_of_{self.here}"
            text = _renamed(text, name, new)
            out[new] = path
        return out, text

    def word(self, by: str) -> Callable[[str], str]:
        return lambda text: _renamed(text, self.name, by)

    def slots(self, text: str) -> str:
        return re.sub(rf"\{{{self.name}(?=[|}}])", f"{{{self.here}", text)


def _renamed(text: str, old: str, new: str) -> str:
    return _WORD.sub(lambda found: new if found[0] == old else found[0], text)


def _each(by: ByEdition, change: Callable[[str], str]) -> ByEdition:
    return ByEdition({year: change(text) for year, text in by.texts.items()})
