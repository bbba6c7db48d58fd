"""What can't belong to a part is made none: what conditions make of facts and links, worked out once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence, Set
from functools import cache, lru_cache, partial
from itertools import groupby
from typing import Any

import attrs

from ampcite.house.belonging import Condition, holds, open_to, refusal
from ampcite.house.part_types import PartType
from ampcite.house.parts import ABSENT_PART, UNKNOWN_PART, Part, fact
from ampcite.language.logic import ABSENT


@attrs.frozen(eq=False)
class Barred:
    """What conditions that hold make of a part.

    Attributes:
        by: the conditions.
        paths: what they bar: fields, objects and lists.
        lists: the lists that are none then: the path of each, and the part type.
        facts, links: what these become.
    """

    by: tuple[Condition, ...]
    paths: frozenset[str]
    lists: Mapping[str, str]
    facts: Mapping[str, Any]
    links: Mapping[str, Any]


@attrs.frozen(eq=False)
class Run:
    """Conditions that come one after the other: those that ask of the part itself alone, or others.

    Attributes:
        paths: the facts of the part that are asked for; none where the conditions ask of others too.
    """

    kind: PartType
    paths: tuple[str, ...]
    conditions: tuple[Condition, ...]


def barred(part: Part, run: Run) -> Barred | None:
    """What a run of conditions bars of a part, where those before it are carried out; None where it bars nothing."""
    if run.paths:
        return _by_own_facts(run, tuple(map(part.facts.get, run.paths)))
    return _all_of(run.kind, tuple([one for one in run.conditions if holds(one, partial(fact, part))]))


@cache
def runs(kind: PartType) -> tuple[Run, ...]:
    """The conditions of a part type in their order, in runs."""
    out = []
    for own, some in groupby(kind.conditions, key=lambda one: one.own):
        run = tuple(some)
        asked = dict.fromkeys(path for condition in run for path, _, _ in condition.tests) if own else ()
        out.append(Run(kind, tuple(asked), run))
    return tuple(out)


@lru_cache(maxsize=4096)
def _by_own_facts(run: Run, values: Sequence[Any]) -> Barred | None:
    """What conditions bar that ask of facts of the part itself; what one bars, the next finds to be none."""
    facts = dict(zip(run.paths, values, strict=True))
    some = []
    for condition in run.conditions:
        if holds(condition, facts.get):
            some.append(condition)
            facts |= _made_none(run.kind, condition)[0]
    return _all_of(run.kind, tuple(some))


@lru_cache(maxsize=4096)
def _all_of(kind: PartType, conditions: tuple[Condition, ...]) -> Barred | None:
    """What several conditions bar; None where there is none of them."""
    if not conditions:
        return None
    facts: dict[str, Any] = {}
    links: dict[str, Any] = {}
    for condition in conditions:
        more = _made_none(kind, condition)
        facts |= more[0]
        links |= more[1]
    paths = frozenset(path for condition in conditions for path in condition.barred)
    lists = {path: kind.children[path].name for path in links if path in kind.children}
    return Barred(conditions, paths, lists, facts, links)


@lru_cache(maxsize=4096)
def unsettled(found: Barred, settled: tuple[str, ...]) -> frozenset[str]:
    """What is barred of a part and not settled already."""
    return found.paths.difference(settled)


def _made_none(kind: PartType, condition: Condition) -> tuple[dict[str, Any], dict[str, Any]]:
    """What facts and links become where a condition holds."""
    facts: dict[str, Any] = {}
    links: dict[str, Any] = {}
    for path in condition.barred:
        if path in kind.groups:
            facts |= dict.fromkeys((path, *kind.groups[path].inside), ABSENT)
            links |= {f"{path}/{key}": () for key in kind.groups[path].lists}
        elif path in kind.children:
            links[path] = ()
    for path in condition.fields:
        field = kind.fields[path]
        facts[path] = False if field.kind == "flag" and path in condition.barred else ABSENT
        if field.refers:
            links[path] = () if field.many else ABSENT_PART
    return facts, links


def for_all(path: str, each: Mapping[str, Any], one: Mapping[str, Any]) -> bool:
    """Whether what stands at a path is said for each part of a list, and not by the part itself."""
    for step in path.split("/"):
        if step not in each:
            return False
        if step not in one:
            return True
        each, one = each[step], one[step]
        if not isinstance(each, Mapping) or not isinstance(one, Mapping):
            return False
    return False


Spread = tuple[tuple[Condition, str], ...]


def spread(kind: PartType, each: Mapping[str, Any]) -> Spread:
    """What may be barred, by which condition, of what is said for each part of a list."""
    return tuple((condition, path) for condition in kind.conditions for path in condition.barred
                 if path.partition("/")[0] in each)  # fmt: skip


def take_back(part: Part, kind: PartType, each: Mapping[str, Any], one: Mapping[str, Any],
              may: Spread) -> None:  # fmt: skip
    """What is said for each part of a list is said of those that it can belong to.

    Where it is not known whether it can belong to a part, the part's fact is not known.

    Args:
        part, kind: the part and its type; what can't belong to it is none already.
        each, one: what is said for each part of its list, and what the part says itself.
        may: what :func:`spread` says of the list.
    """
    for condition, path in may:
        if for_all(path, each, one) and open_to(condition, partial(fact, part)):
            for inside in (path, *(kind.groups[path].inside if path in kind.groups else ())):
                part.facts.pop(inside, None)
                if inside in kind.references:
                    part.links[inside] = None if kind.references[inside].many else UNKNOWN_PART


def refusals(part: Part, kind: PartType, found: Barred, settled: Set[str], each: Mapping[str, Any],
             one: Mapping[str, Any]) -> Iterator[tuple[str, str]]:  # fmt: skip
    """What is stated and can't belong to a part: the path of each, and what is said of it.

    Args:
        part, kind: the part and its type.
        found: what is barred.
        settled: paths that earlier conditions have made none, or that are taken for granted.
        each, one: what is said for each part of its list, and what the part says itself.
    """
    settled, none, facts, links = set(settled), set[str](), part.facts, part.links
    for condition in found.by:
        for path in [p for p in condition.barred if p in facts or (p in kind.children and links.get(p))]:
            above, _, _ = path.rpartition("/")
            if path not in settled and not for_all(path, each, one) and facts.get(above) is not ABSENT \
                    and above not in none:  # fmt: skip
                what = kind.groups.get(path) or kind.fields.get(path)
                yield path, refusal(condition, what.title if what is not None else kind.children[path].list_title)
        settled.update(condition.barred)
        none.update([path for path in condition.barred if path in kind.groups])
