"""What is taken for granted of a part: what holds where nobody says anything, and what is left out."""

from __future__ import annotations

from collections.abc import Set
from functools import cache, partial
from typing import Any, NamedTuple

from ampcite.house.belonging import holds
from ampcite.house.links import Links
from ampcite.house.marks import Marks, at, is_open
from ampcite.house.part_types import Group, PartType
from ampcite.house.parts import ABSENT_PART, Part
from ampcite.language.logic import ABSENT

Gathered = dict[str, list[Part] | None]
"""The parts of a description by part type, while it is read; None for a list that nobody has given yet."""


class _Default(NamedTuple):
    """What holds of a field or object that nobody states, unless something is stated that is against it.

    Of what an equipment model says (``of_model``) it does not hold where a part names a model that nobody describes.
    """

    path: str
    value: Any
    against: tuple[tuple[str, str], ...]
    group: Group | None
    refers: bool
    of_model: bool


class _Listed(NamedTuple):
    """What is left out where all that there is is listed: its path, what it stands in, its parts' type, and none."""

    path: str
    above: str
    kind: str | None
    linked: bool
    nothing: Any


@cache
def _defaults(kind: PartType) -> tuple[_Default, ...]:
    return tuple(_Default(path, value, tuple((b, b.rpartition("/")[0]) for b in kind.against[path]),
                          kind.groups.get(path), path in kind.references,
                          path in kind.fields and kind.fields[path].home == "model")
                 for path, value in kind.defaults.items())  # fmt: skip


@cache
def _listed(kind: PartType) -> tuple[_Listed, ...]:
    return tuple(_Listed(path, _stands_in(kind, path), kind.children[path].name if path in kind.children else None,
                         path in kind.children or path in kind.references, nothing)
                 for path, nothing in kind.exhaustive.items())  # fmt: skip


def _stands_in(kind: PartType, path: str) -> str:
    """The object that has to be there for something to be left out of it; a heading within one need not be stated."""
    above, _, _ = path.rpartition("/")
    while "/" in above and not kind.groups[above].nullable:
        above, _, _ = above.rpartition("/")
    return above


class Granted:
    """Gives the parts of a description what is taken for granted of them.

    Args:
        parts: the parts.
        links: who names whom.
        still_open: what is marked as still to be stated: of that nothing is taken for granted.
        going_on: lists that may go on and of which no part is given, by the number of the part and the path.
        exhaustive: whether all that there is is listed, so that what is left out is not there.
    """

    def __init__(self, parts: Gathered, links: Links, still_open: Marks, going_on: Set[tuple[int, str]],
                 exhaustive: bool) -> None:  # fmt: skip
        self.parts, self.links, self.open = parts, links, still_open
        self.going_on, self.exhaustive = going_on, exhaustive

    def take(self, part: Part, kind: PartType) -> tuple[str, ...]:
        """Gives a part what holds where nobody says otherwise; the paths of it."""
        taken: list[str] = []
        self._by_default(part, kind, taken)
        if self.exhaustive and kind.exhaustive:
            self._left_out(part, kind, taken)
        facts = part.facts
        for presumption in kind.presumed:
            if presumption.then.keys().isdisjoint(facts) and holds(presumption, partial(self.links.fact, part)):
                known = [path for path in presumption.then if not (self.open and is_open(self.open, part.where(path)))]
                taken += known
                for path in known:
                    if path in kind.groups:
                        none_of(kind.groups[path], part, self.parts)
                    else:
                        facts[path] = presumption.then[path]
        return tuple(taken)

    def _by_default(self, part: Part, kind: PartType, taken: list[str]) -> None:
        facts, links, marks = part.facts, part.links, self.open
        undescribed = "model" in facts and not part.model
        for path, value, against, group, refers, of_model in _defaults(kind):
            if path in facts or (of_model and undescribed) or (marks and is_open(marks, part.where(path))):
                continue
            if against and any((b in facts and facts.get(above) is not ABSENT) or links.get(b)
                               for b, above in against):  # fmt: skip
                continue
            taken.append(path)
            if group is not None:
                none_of(group, part, self.parts)
            else:
                facts[path] = value
            if refers:  # the one default of a name of another part: none
                links[path] = ABSENT_PART

    def _left_out(self, part: Part, kind: PartType, taken: list[str]) -> None:
        """Of what nobody says anything, not even of a list that it may go on, there is nothing."""
        facts, links, marks = part.facts, part.links, self.open
        for path, above, listed, linked, nothing in _listed(kind):
            if path in facts if listed is None else links[path] is not None:
                continue
            if above and facts.get(above) is not True:
                continue
            if path in part.partly or (part.number, path) in self.going_on or (marks and self._marked(part, path)):
                continue
            taken.append(path)
            if linked:
                links[path] = ()
            if listed is None:
                facts[path] = nothing
            else:
                self.parts[listed] = self.parts[listed] or []

    def _marked(self, part: Part, path: str) -> bool:
        place = part.where(path)
        return is_open(self.open, place) or bool(at(self.open, place))


def none_of(group: Group, part: Part, parts: Gathered) -> None:
    """There is no such object in a part: nothing in it, and no parts of its lists."""
    part.facts[group.path] = ABSENT
    for key, kind in group.lists.items():
        part.links[f"{group.path}/{key}"] = ()
        parts[kind.name] = parts[kind.name] or []
    part.facts.update(dict.fromkeys(group.inside, ABSENT))
