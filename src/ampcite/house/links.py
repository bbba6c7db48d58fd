"""Who names whom: references between parts, followed and turned round."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set
from functools import cache, lru_cache
from typing import Any

from ampcite.base.errors import nearest
from ampcite.house.part_types import Field, PartType, part_types
from ampcite.house.parts import ABSENT_PART, UNKNOWN_PART, Lists, Part, fact
from ampcite.language.logic import ABSENT

_Sources = dict[int, tuple[Part, list[Part]]]

NO_MODEL = "is described neither in the equipment nor in a catalogue"
SPEAK = ("documents", "labels")
"""The kinds of part that say something of others."""

MOST_NAMES = 10
"""Of more names in one reference field that stand for nothing, the rest are found together."""


@lru_cache(maxsize=1)
def own_links() -> Mapping[str, dict[str, Any]]:
    """The links that a part has before anything is known of them, by part type; nobody refers to it yet."""
    out: dict[str, dict[str, Any]] = {
        name: dict.fromkeys(kind.children)
        | {path: None if field.many else UNKNOWN_PART for path, field in kind.references.items()}
        for name, kind in part_types().items()
    }
    for kind in part_types().values():
        for path, field in kind.references.items():
            for target in field.refers:
                out[target].update(dict.fromkeys(backward(kind, path), ()))
    return out


@cache
def backward(kind: PartType, path: str) -> tuple[str, ...]:
    """The keys under which the target of a reference has who refers to it: such parts, and those they stand in."""
    up = kind.parent
    own = f"{kind.name}[{path}]"
    return (own,) if up is None or up.parent is None else (own, f"{up.name}[{kind.list_path}/*/{path}]")


@lru_cache(maxsize=1)
def _references() -> tuple[tuple[PartType, str, Field], ...]:
    """Every reference field, with the part type that has it and its path."""
    return tuple((kind, path, field) for kind in part_types().values() for path, field in kind.references.items())


class Links:
    """The links of the parts of one description, while it is read.

    Attributes:
        by_id: the parts by their id.
        dangling: by reference field, the names that stand for no part, each with the part that says it and the place.
        models: of the fields among them that name a model, the models that are described.
        naming: what presumptions asked: who refers to each part by a field; None where not all are known.
    """

    def __init__(self, parts: Mapping[str, list[Part] | None], partly: Mapping[str, list[tuple[Part, str]]]) -> None:
        """Of the parts by part type (None for a list that is not given), and the lists given in part."""
        self.parts = parts
        self.partly = partly
        self.by_id: dict[str, Part] = {}
        self.dangling: dict[Field, list[tuple[Part, str, str]]] = {}
        self.naming: dict[str, _Sources | None] = {}
        self.models: dict[Field, list[str]] = {}

    def identify(self) -> Iterator[tuple[str, str]]:
        """Finds the parts by id; gives the place of every id that is given twice, and what is wrong with it."""
        by_id = self.by_id
        for parts in self.parts.values():
            for part in parts or ():
                name = part.facts.get("id")
                if isinstance(name, str):
                    other = by_id.setdefault(name, part)
                    if other is not part:
                        yield f"{part.pointer}/id", (f'"{name[:60]}" is also the id of {other.pointer}; '
                                                     "give every part an id of its own")  # fmt: skip

    def refer(self) -> None:
        """Follows every reference; where one leads nowhere, its part is not known."""
        for kind, path, field in _references():
            for part in self.parts[kind.name] or ():
                value = part.facts.get(path)
                if value is not None:
                    self._follow(part, path, field, value)

    def fact(self, part: Part, path: str) -> Any:
        """The fact a presumption asks about; None where it is not known.

        Of ``strings[input]`` it is how many strings refer so, of ``modules[]`` how many modules there are.
        """
        if "[" not in path:
            return fact(part, path)
        if path.endswith("[]"):
            there = self._all(part_types()[path.removesuffix("[]")])
            return None if there is None else len(there)
        if path not in self.naming:
            name, _, field = path.removesuffix("]").partition("[")
            parts = self._all(kind := part_types()[name])
            self.naming[path] = None if parts is None else _sources(parts, field, kind.references[field])
        found = self.naming[path]
        return None if found is None else len(found.get(part.number, (part, ()))[1])

    def _follow(self, part: Part, path: str, field: Field, value: Any) -> None:
        if value is ABSENT:
            if not field.many:
                part.links[path] = ABSENT_PART
            return
        found: list[Part] = []
        for i, name in enumerate(value if field.many else (value,)):
            target = self.by_id.get(name)
            if target is not None and target.kind in field.refers:
                found.append(target)
                continue
            place = f"{part.pointer}/{path}/{i}" if field.many else f"{part.pointer}/{path}"
            self.dangling.setdefault(field, []).append((part, place, name))
        if field.many:
            part.links[path] = tuple(found) if len(found) == len(value) else None
        elif found:
            part.links[path] = found[0]

    def look_up(self, kind: PartType, described: list[str]) -> None:
        """Notes each model that parts of a kind name and nobody describes, where others are described."""
        field, missing = kind.fields["model"], dict[str, Part]()
        for part in (self.parts[kind.name] or ()) if described else ():
            if "model" in part.facts and not part.model:
                missing.setdefault(part.facts["model"], part)
        if missing:
            self.models[field] = described
            self.dangling[field] = [(part, f"{part.pointer}/model", name) for name, part in missing.items()]

    def hear(self, words: Set[str]) -> None:
        """Notes sources that are no paper or label, where all papers are described, and no word for one."""
        field = part_types()["claims"].fields["by"]
        if any(self.parts[kind] is None or kind in self.partly for kind in SPEAK):
            return
        for part in self.parts["claims"] or ():
            name = part.facts.get("by")
            if not isinstance(name, str) or name in words:
                continue
            target = self.by_id.get(name)
            if target is None or target.kind not in SPEAK:
                self.dangling.setdefault(field, []).append((part, f"{part.pointer}/by", name))

    def unresolved(self) -> Iterator[tuple[str, str, dict[str, Any]]]:
        """Names that stand for no part: who says each, where, and its facts. Of many in one field, the rest as one."""
        for field, names in self.dangling.items():
            shown = names if len(names) <= MOST_NAMES + 1 else names[:MOST_NAMES]
            for part, place, name in shown:
                found = self._unresolved(field, name, name[:60])
                found["title"] = found["title"].removesuffix(f" of the {part_types()[part.kind].title}")
                yield part.label, place, found
            if len(shown) < len(names):
                part, place, name = names[MOST_NAMES]
                others = len({one.number for one, _, _ in names[MOST_NAMES:]})
                label = f"each of {others} more {part_types()[part.kind].list_title}"
                yield label, place, self._unresolved(field, name, f"a part such as {name[:60]}")

    def _unresolved(self, field: Field, name: str, called: str) -> dict[str, Any]:
        if field in self.models:
            hint = f"of the models described, {nearest(name, self.models[field])}"
            return {"name": called, "title": field.title, "described": False, "why": NO_MODEL, "hint": hint}
        target = self.by_id.get(name)
        what = "is no part of this description" if target is None else f"is the id of {target.label}"
        kinds, title = (field.refers, field.title) if field.refers else (SPEAK, "source")
        among = " or ".join(part_types()[k].list_title for k in kinds)
        known = [n for n, p in self.by_id.items() if p.kind in kinds]
        hint = f"of the {among}, {nearest(name, known)}"
        return {"name": called, "title": title, "described": False, "why": what, "hint": hint}

    def reverse(self) -> None:
        """Notes at every target of a reference who refers to it; None where not all that could are known."""
        for kind in part_types().values():
            parts = self._all(kind) if kind.references else None
            for path, field in kind.references.items():
                back, *above = backward(kind, path)
                found = None if parts is None else _sources(parts, path, field)
                if found is None:
                    for target in field.refers:
                        for part in self.parts[target] or ():
                            part.links.update(dict.fromkeys((back, *above)))
                else:
                    for part, sources in found.values():
                        part.links[back] = sources
                        for key in above:
                            holders = {one.links[".."].number: one.links[".."] for one in sources}
                            part.links[key] = list(holders.values())

    def _all(self, kind: PartType) -> list[Part] | None:
        """Every part of a kind; None where a list of them is not given or may go on."""
        if kind.name in self.partly:
            return None
        if kind.parent is None or kind.parent.parent is None:
            return self.parts[kind.name]
        holders = self._all(kind.parent)
        if holders is None or any(one.links.get(kind.list_path) is None for one in holders):
            return None
        return self.parts[kind.name] or []

    def not_given(self) -> tuple[Lists, Lists]:
        """The lists that would have to be given for the parts of a type to be known, and those given in part."""
        unlisted: dict[str, tuple[tuple[Part, str], ...]] = {}
        partly: dict[str, tuple[tuple[Part, str], ...]] = {}
        for name, kind in part_types().items():
            if kind.parent is None:
                unlisted[name] = partly[name] = ()
                continue
            above, path = kind.parent.name, kind.list_path
            here = [(p, f"{p.pointer}/{path}") for p in self.parts[above] or ()
                    if p.links.get(path) is None and path not in p.partly]  # fmt: skip
            unlisted[name] = (*unlisted[above], *here) if here else unlisted[above]
            partly[name] = (*partly[above], *self.partly.get(name, ()))
        return unlisted, partly


def _sources(parts: list[Part], path: str, field: Field) -> _Sources | None:
    """The targets of a field by number, and who refers to each; None where one of them is not known."""
    found: dict[int, tuple[Part, list[Part]]] = {}
    for part in parts:
        there = part.links[path]
        if there is None or there is UNKNOWN_PART or path not in part.facts:
            return None
        if there is not ABSENT_PART:
            for target in there if field.many else (there,):
                found.setdefault(target.number, (target, []))[1].append(part)
    return found
