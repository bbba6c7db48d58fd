"""The check itself: a rulebook and a description go in, a report comes out. No files, no clock, no state."""

from __future__ import annotations

from ampcite.bind import BoundRule
from ampcite.careful import derive, judge, unlisted
from ampcite.description import Description, Part
from ampcite.interpret import World, missing_lists
from ampcite.model import kinds
from ampcite.report import Aside, Finding, Report, ordered
from ampcite.rulebook import Rulebook


def check(rulebook: Rulebook, description: Description) -> Report:
    """Every rule of the rulebook asked of every part of the description it speaks of.

    Args:
        rulebook: from :func:`ampcite.load`.
        description: from :func:`ampcite.read`.

    Returns:
        The report. The same two arguments always give the same report.
    """
    bound, places = rulebook.bound, description.size + 2
    world = World(
        description,
        {d.name: [None] * places for d in bound.derived},
        {},
        {d.name: [()] * places for d in bound.derived},
    )
    careful: list[Part] = []
    for derived in bound.derived:
        rulebook.functions[f"d_{derived.name}"](world, None, None, careful.append)
        for part in careful:
            derive(world, bound, derived, part)
        careful.clear()
    found: list[Finding] = []
    aside: list[tuple[int, Part]] = []
    lists = {kind: missing_lists(description, kind) for kind in {rule.kind for rule in bound.rules}}
    for number, rule in enumerate(bound.rules):
        rulebook.functions[f"r_{number}"](world, found.append, aside.append, careful.append)
        for part in careful:
            finding = judge(world, bound, rule, part)
            if finding is None:
                aside.append((number, part))
            else:
                found.append(finding)
        careful.clear()
        for holder, pointer in lists[rule.kind]:
            found.append(unlisted(rule, holder, pointer))
    out = [*_set_aside(bound.rules, aside), *_nothing_to_ask(bound.rules, description)]
    out += [Aside(rule, "", reason) for rule, reason in bound.not_in_force]
    return Report(description.source, rulebook.edition, ordered(found), tuple(out), rulebook.packs)


def _set_aside(rules: tuple[BoundRule, ...], aside: list[tuple[int, Part]]) -> list[Aside]:
    return [Aside(rules[n].id, p.pointer, f"does not apply to {p.label}: it is for {rules[n].scope}") for n, p in aside]


def _nothing_to_ask(rules: tuple[BoundRule, ...], description: Description) -> list[Aside]:
    """The rules whose parts this house is said not to have."""
    empty = {kind.name: kind for kind in kinds().values()
             if not description.parts[kind.name] and not missing_lists(description, kind.name)}  # fmt: skip
    return [Aside(rule.id, "/" + rule.kind.replace("/", "/*/"), f"there is no {empty[rule.kind].title} to ask it of")
            for rule in rules if rule.kind in empty]  # fmt: skip
