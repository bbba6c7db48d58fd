"""What each operation of local law makes of a rule."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import attrs

from ampcite.base.editions import ByEdition
from ampcite.base.errors import nearest
from ampcite.law.changes import Amendment
from ampcite.law.records import Alternative, Pack, Rule
from ampcite.law.telling import Refused, origin_of, origins_with, place_of

Outcome = tuple[Rule, str, str, str]


def _strike(layer: Pack, one: Amendment, rule: Rule, edition: int) -> Outcome:
    name = one.said.get("way", "")
    if not name:
        said = f"struck by {place_of(layer, one)}: {one.why}"
        return attrs.evolve(rule, struck=said), "this rule", "struck", "looser"
    known = [w.name for w in rule.alternatives if (w.begins or 0) <= edition < (w.withdrawn or 9999)]
    if name not in known:
        raise Refused(f'strikes the exception "{name}" of "{rule.id}"; {nearest(name, known)}')
    if len(known) == 1:
        raise Refused(f'strikes the last way to keep "{rule.id}"; strike the rule, or add another way first')
    left = tuple(w for w in rule.alternatives if w.name != name)
    return attrs.evolve(rule, alternatives=left), f'the exception "{name}"', "without that exception", "tighter"


def _scope(layer: Pack, one: Amendment, rule: Rule, edition: int) -> Outcome:
    where, scope = one.said["where"], one.said["scope"]
    origins = {**origins_with(layer, one, rule), f"scope {len(rule.scopes)}": origin_of(layer, one)}
    new = attrs.evolve(rule, inputs=_inputs(one, rule), scopes=(*rule.scopes, (one.do, where)), origins=origins)
    if one.do == "narrow":
        words = f"{rule.scope}, here only {scope}" if rule.scope else scope
        return attrs.evolve(new, scope=words), f"it for {rule.scope or 'all'}", f"only for {scope}", "looser"
    if not rule.applies and not rule.scopes:
        raise Refused(f'widens "{rule.id}", which is asked of every part already')
    return attrs.evolve(new, scope=f"{rule.scope}, and {scope}"), f"it for {rule.scope}", f"for {scope} too", "tighter"


def _allow(layer: Pack, one: Amendment, rule: Rule, edition: int) -> Outcome:
    name = one.said["way"]
    if any(w.name == name for w in rule.alternatives):
        raise Refused(f'adds the way "{name}" to "{rule.id}", which has one of that name')
    as_it_is = Alternative("as the code has it", rule.holds, rule.passes.at(edition) or "", None, None)
    own = rule.alternatives or (as_it_is,)
    origins = {**origins_with(layer, one, rule), f'way "{name}"': origin_of(layer, one)}
    new = attrs.evolve(rule, inputs=_inputs(one, rule), holds="", passes=ByEdition({0: "{way}"}), origins=origins,
                       alternatives=(*own, Alternative(name, one.said["holds"], one.said["says"], None, None)),
                       )  # fmt: skip
    return new, "no such way", f'another way to keep it, "{name}"', "looser"


def _refer(layer: Pack, one: Amendment, rule: Rule, edition: int) -> Outcome:
    said = f"{one.said['to']} decides this ({place_of(layer, one)})"
    return attrs.evolve(rule, referred=said), "a rule of its own", f"for {one.said['to']} to decide", "other"


def _waive(layer: Pack, one: Amendment, rule: Rule, edition: int) -> Outcome:
    said = f"waived for applications until {one.said['until']} by {place_of(layer, one)}: {one.why}"
    return attrs.evolve(rule, waived=said), "this rule", f"waived until {one.said['until']}", "looser"


def _require(layer: Pack, one: Amendment, rule: Rule, edition: int) -> Outcome:
    if rule.force == "requirement":
        raise Refused(f'makes "{rule.id}" a requirement, which it is already')
    return attrs.evolve(rule, force="requirement"), "advice", "a requirement", "tighter"


OPERATIONS: Mapping[str, Callable[[Pack, Amendment, Rule, int], Outcome]] = {
    "strike": _strike, "narrow": _scope, "widen": _scope, "allow": _allow, "refer": _refer, "waive": _waive,
    "require": _require,
}  # fmt: skip


def _inputs(one: Amendment, rule: Rule) -> dict[str, str]:
    """The inputs of a rule with those of a change; a rule of the whole may write a path with or without its stroke."""
    out = dict(rule.inputs)
    for name, path in one.inputs.items():
        there = "what it reckons" if name in rule.let else rule.inputs.get(name, path)
        if there != path and not (rule.each == "/" and there.lstrip("/") == path.lstrip("/")):
            raise Refused(f'gives the name "{name}" to {path}, but in "{rule.id}" it is {there}; choose another name')
        out.setdefault(name, path)
    return out
