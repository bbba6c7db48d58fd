"""The check itself: a rulebook and a description go in, a report comes out. No files, no clock, no state."""

from __future__ import annotations

from ampcite.base.errors import wrong_argument
from ampcite.base.frozen import FrozenDict
from ampcite.engine.evaluate import begin
from ampcite.engine.explain import derive, judge, unlisted
from ampcite.engine.findings import Aside, Finding, Project, Report, ordered
from ampcite.engine.plan import BoundRule, Local
from ampcite.engine.rulebook import Rulebook
from ampcite.house.naming import part_ids
from ampcite.house.part_types import part_types
from ampcite.house.read import Description, Part, with_codes
from ampcite.language.logic import Verdict


def check(rulebook: Rulebook, description: Description) -> Report:
    """Every rule of the rulebook asked of every part of the description it speaks of.

    Args:
        rulebook: from :func:`ampcite.load`.
        description: from :func:`ampcite.read`.

    Returns:
        The report. The same two arguments always give the same report.

    Raises:
        ArgumentError: when an argument is something else.
    """
    if not isinstance(rulebook, Rulebook):
        raise wrong_argument("check takes a rulebook from load", rulebook)
    if not isinstance(description, Description):
        raise wrong_argument("check takes a description from read", description)
    if rulebook.codes:
        description = with_codes(description, rulebook.codes)
    bound, world = rulebook.bound, begin(rulebook.bound, description)
    careful: list[Part] = []
    hand_over = careful.append
    for derived, run in zip(bound.derived, rulebook.derive, strict=True):
        run(world, None, None, hand_over)
        if careful:
            for part in careful:
                derive(world, bound, derived, part)
            careful.clear()
    found: list[Finding] = []
    aside: list[tuple[int, Part]] = []
    keep, put_aside = found.append, aside.append
    for number, (rule, run) in enumerate(zip(bound.rules, rulebook.judge, strict=True)):
        run(world, keep, put_aside, hand_over)
        if careful:
            for part in careful:
                finding = judge(world, bound, rule, part)
                if finding is None:
                    put_aside((number, part))
                else:
                    keep(finding)
            careful.clear()
        for holder, pointer in description.unlisted[rule.kind]:
            keep(unlisted(rule, holder, pointer))
    if bound.local:
        found = [_here(f, bound.local[f.rule]) if f.rule in bound.local else f for f in found]
    out = [*_set_aside(bound.rules, aside), *_nothing_to_ask(bound.rules, description)]
    out += [Aside(rule, "", "", reason) for rule, reason in bound.not_in_force]
    return Report(
        source=description.source,
        project=_project(description),
        editions=FrozenDict(rulebook.editions),
        law=rulebook.law,
        findings=ordered(found),
        not_applicable=tuple(out),
        packs=rulebook.packs,
        unread=_unread(bound.reads, description),
        part_ids=FrozenDict(part_ids(description)),
    )


def _project(description: Description) -> Project:
    facts = description.whole.facts

    def text(path: str) -> str:
        return str(facts[path]) if isinstance(facts.get(path), str) else ""

    revision = facts.get("project/revision")
    number = int(revision) if isinstance(revision, int | float) else None
    return Project(text("project/name"), text("project/address"), number, text("stage"))


def _unread(reads: frozenset[str], description: Description) -> tuple[str, ...]:
    """The lists and objects that are given and of which no rule reads anything."""
    given = description.whole.facts
    groups = [group.title for key, group in part_types()[""].body.groups.items()
              if key in given and key not in reads and key not in _ABOUT_THE_PAPER]  # fmt: skip
    lists = [kind.list_title for name, kind in part_types().items()
             if name and name not in reads and description.parts[name]]  # fmt: skip
    return tuple(dict.fromkeys([*groups, *lists]))


def _here(f: Finding, local: Local) -> Finding:
    """A finding with what local law changed in it; what is waived or decided by others does not fail."""
    if f.verdict is not Verdict.PASS and f.decided and local.waived:
        note = f"{local.waived[:1].upper()}{local.waived[1:]}. As it stands: {f.note}"
        return f._replace(local=local.changes, waived=local.waived, verdict=Verdict.WARN, note=note)
    if f.verdict is Verdict.FAIL and local.referred:
        note = f"{local.referred[:1].upper()}{local.referred[1:]}. By the model code: {f.note}"
        return f._replace(local=local.changes, verdict=Verdict.WARN, note=note)
    return f._replace(local=local.changes, waived=local.waived)


_ABOUT_THE_PAPER = ("project", "codes")


def _set_aside(rules: tuple[BoundRule, ...], aside: list[tuple[int, Part]]) -> list[Aside]:
    return [Aside(rules[n].id, part.pointer, part.label, rules[n].scope, rules[n].clauses) for n, part in aside]


def _nothing_to_ask(rules: tuple[BoundRule, ...], description: Description) -> list[Aside]:
    """The rules whose parts this house is said not to have."""
    empty = {kind.name: kind for kind in part_types().values()
             if not description.parts[kind.name] and not description.unlisted[kind.name]}  # fmt: skip
    return [
        Aside(
            rule.id,
            "/" + rule.kind.replace("/", "/*/"),
            "",
            f"there is no {empty[rule.kind].title} to ask it of",
            rule.clauses,
        )
        for rule in rules
        if rule.kind in empty
    ]
