"""A description that the schema accepts becomes parts with facts and links.

A fact of a part may be said at the part, once for its whole list (``each``), by the equipment model that it names, or
as a piece of a text; what can't belong to the part is none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from functools import lru_cache
from typing import Any

from ampcite.base.errors import Complaint, InputError
from ampcite.house.barring import Run, Spread, barred, for_all, refusals, runs, spread, take_back, unsettled
from ampcite.house.claims import compare, format_value, known_speakers
from ampcite.house.figures import LARGEST, drawn, read_figure, reads, too_large
from ampcite.house.granted import Gathered, Granted, none_of
from ampcite.house.links import Links, own_links
from ampcite.house.listing import standards
from ampcite.house.marks import Marks, at, for_one, unmarked
from ampcite.house.part_types import Field, Group, PartType, models, part_types
from ampcite.house.parts import Description, Part
from ampcite.house.phrase import parse
from ampcite.house.values import merged, pointer
from ampcite.language.logic import ABSENT


def gather(document: Mapping[str, Any], name: str, catalogue: Mapping[str, Any],
           still_open: Marks | None = None) -> Description:  # fmt: skip
    """The parts of a description.

    Args:
        document: a JSON value that the schema accepts.
        name: what complaints call it.
        catalogue: equipment models beside those of the document, by kind and model.
        still_open: what is marked as still to be stated, and not in the document.

    Raises:
        InputError: with every fault found.
    """
    return _Gatherer(name, catalogue, still_open or {}).gather(document)


class _Gatherer:
    def __init__(self, name: str, catalogue: Mapping[str, Any], still_open: Marks) -> None:
        self.name = name
        self.open = still_open
        self.catalogue = catalogue
        self.equipment: Mapping[str, Any] = {}
        self.model_facts: dict[tuple[str, str, int], tuple[Mapping[str, Any], str] | None] = {}
        self.complaints: list[Complaint] = []
        self.parts: Gathered = dict.fromkeys(part_types())
        self.partly: dict[str, list[tuple[Part, str]]] = {}
        self.said_for_all: dict[int, tuple[Mapping[str, Any], Mapping[str, Any], Spread]] = {}
        self.taken: dict[int, tuple[str, ...]] = {}
        self.going_on: set[tuple[int, str]] = set()
        self.printed: list[tuple[Part, Any]] = []
        self.own_links = own_links()
        self.count = 0

    def gather(self, document: Mapping[str, Any]) -> Description:
        self.equipment = document.get("equipment", {})
        for name, entries in self.equipment.items():
            for model in entries:
                self.model(models()[name], model, 0)
        self.part(document, part_types()[""], "", None, label="the system")
        links = Links(self.parts, self.partly)
        self.complaints += [Complaint(self.name, place, said) for place, said in links.identify()]
        links.refer()
        links.hear(known_speakers())
        for name, of_model in models().items():
            links.look_up(of_model, sorted({*self.equipment.get(name, ()), *self.catalogue.get(name, ())}))
        kind = part_types()["unresolved_names"]
        whole = (self.parts[""] or [])[0]
        self.parts[kind.name] = []
        whole.links[kind.list_path] = tuple(
            self.part(facts, kind, place, whole, label=label) for label, place, facts in links.unresolved()
        )
        granted = Granted(self.parts, links, self.open, self.going_on, whole.facts.get("all_listed") is True)
        for part_type in part_types().values():
            if part_type.defaults or part_type.presumed or part_type.exhaustive:
                for part in self.parts[part_type.name] or ():
                    self.taken[part.number] = granted.take(part, part_type)
        for part_type in part_types().values():
            if part_type.conditions:
                in_order = runs(part_type)
                for part in self.parts[part_type.name] or ():
                    self.belong(part, part_type, in_order)
        links.reverse()
        for part, printed in self.printed:
            fault = compare(part, printed, links.by_id)
            if fault:
                self.complain(part.pointer, fault)
        if self.complaints:
            raise InputError(self.complaints)
        parts = {kind: tuple(found) if found is not None else None for kind, found in self.parts.items()}
        return Description(self.name, document, parts, self.count, *links.not_given(), self.catalogue)

    def complain(self, place: str, said: str) -> None:
        self.complaints.append(Complaint(self.name, place, said))

    # --- what is said ----------------------------------------------------------------------------------------

    def part(self, value: Mapping[str, Any], kind: PartType, place: str, parent: Part | None, number: int = 0,
             label: str | None = None, shared: Mapping[str, Any] | None = None) -> Part:  # fmt: skip
        """A part and what is in it; ``shared`` are facts that were read once for each of its list."""
        name = kind.name
        facts: dict[str, Any] = {}
        links = self.own_links[name].copy()
        if parent is not None:
            links[".."] = parent
        part = Part(self.count, name, place, facts, links, number, label)
        self.count += 1
        found = self.parts[name]
        if found is None:
            found = self.parts[name] = []
        found.append(part)
        if kind.model is not None:
            if kind.model_key:
                model = parent.facts.get("model") if parent else None
            else:
                model = value.get("model", shared.get("model") if shared else None)
            if isinstance(model, str):
                if not kind.model_key:
                    facts["model"] = model  # what stands in the part asks for it, wherever the part names it
                self.inherit(part, kind, model, number)
        if shared:
            facts.update(shared)
        self.group(value, kind.body, part)
        return part

    def inherit(self, part: Part, kind: PartType, model: str, number: int) -> None:
        """Gives a part the facts of the equipment model that it, or the part above it, names."""
        known = self.model(kind, model, number)
        if known is not None:
            part.facts.update(known[0])
            part.model = known[1]

    def model(self, kind: PartType, model: str, number: int) -> tuple[Mapping[str, Any], str] | None:
        """The facts of a model, and where they stand; None where nobody describes it."""
        key = (kind.name, model, number if kind.model_key else 0)
        if key not in self.model_facts:
            self.model_facts[key] = self.read_model(kind, model, number)
        return self.model_facts[key]

    def read_model(self, kind: PartType, model: str, number: int) -> tuple[Mapping[str, Any], str] | None:
        assert kind.model is not None
        owner = kind.parent if kind.model_key and kind.parent is not None else kind
        name = owner.name.replace("/", ".")
        place = "/equipment/" + name + "/" + model.replace("~", "~0").replace("/", "~1")
        entry = self.equipment.get(name, {}).get(model, self.catalogue.get(name, {}).get(model))
        if entry is not None and kind.model_key:
            place = f"{place}/{kind.model_key}"
            entry = entry.get(kind.model_key, {})
            if isinstance(entry, list):
                place, entry = f"{place}/{number}", entry[number] if number < len(entry) else None
        if entry is None:
            return None
        holder = Part(-3, kind.name, place, {}, {}, label=f"model {model}")
        self.group(entry, kind.model, holder)
        return holder.facts, place

    def group(self, value: Mapping[str, Any], group: Group, part: Part) -> None:
        """What one JSON object says of a part."""
        simple, facts = group.simple, part.facts
        for key, item in value.items():
            known = simple.get(key)
            if known is not None:
                path, field = known
                if item is None:
                    facts[path] = ABSENT
                elif field is None:
                    facts[path] = item
                elif item.__class__ is str:
                    facts[path], faults = read_figure(item, field)
                    if faults:
                        self.number(item, field, part, path)
                elif -LARGEST <= item <= LARGEST:
                    facts[path] = item
                else:
                    facts[path] = self.number(item, field, part, path)
            elif key in group.fields:
                self.field(item, group.fields[key], part)
            elif key in group.lists:
                self.rows(item, group.lists[key], part)
            elif key in group.groups:
                self.below(item, group.groups[key], part)

    def field(self, item: Any, field: Field, part: Part) -> None:
        """What is said in a list, as an outline, of a listing, or in either of two dimensions."""
        facts, path = part.facts, field.path
        if field.other is not None:
            self.either(item, field, field.other, part)
        elif item is None:
            facts[path] = ABSENT
        elif field.kind == "outline":
            facts[path], fault = drawn(item, field)
            if fault:
                self.complain(f"{part.pointer}/{path}", fault)
        elif field.lists_standards:
            named = dict.fromkeys(name for printed in (item if field.many else (item,)) for name in standards(printed))
            facts[path] = tuple(named) if field.many else next(iter(named))
        else:
            facts[path] = tuple(item)

    def below(self, item: Any, group: Group, part: Part) -> None:
        """An object inside a part, or the text it is written as."""
        if item is None:
            none_of(group, part, self.parts)
        elif group.phrase is None:
            part.facts[group.path] = True
            self.group(item, group, part)
        else:
            facts, faults = _said(group, item)
            part.facts.update(facts)
            for path, fault in faults:
                self.complain(f"{part.pointer}/{path}", fault)

    def rows(self, value: Any, kind: PartType, parent: Part) -> None:
        """A list of parts: as it stands, or with facts for each and a word on how far it goes."""
        path = kind.list_path
        place = f"{parent.pointer}/{path}"
        if kind.entries:
            self.parts[kind.name] = self.parts[kind.name] or []
            said = []
            for key, printed in sorted(value.items()):
                facts = {"field": key, "printed": format_value(printed)}
                said.append(self.part(facts, kind, place + pointer([key]), parent, label=""))
                self.printed.append((said[-1], printed))
            parent.links[path] = tuple(said)
            return
        each: Mapping[str, Any] = {}
        word, rows = "", value
        if not isinstance(value, list):
            each, word = value.get("each", each), "all" if "all" in value else "only"
            rows = value[word]
            inside = at(self.open, place)
            in_each, in_rows = inside.get("each"), inside.setdefault(word, {}) if inside else {}
            place = f"{place}/{word}"
        if word == "only" and not rows:
            self.going_on.add((parent.number, path))
            return
        self.parts[kind.name] = self.parts[kind.name] or []
        shared, may = (self.shared(each, kind), spread(kind, each)) if each else (None, ())
        parts = []
        for i, one in enumerate(rows):
            if not each:
                part = self.part(one, kind, f"{place}/{i}", parent, i)
            elif shared is not None and one.keys().isdisjoint(shared[1]):
                part = self.part(one, kind, f"{place}/{i}", parent, i, shared=shared[0])
                self.said_for_all[part.number] = each, one, may
            else:
                own = in_rows.get(str(i), {})
                if in_each:
                    own = in_rows[str(i)] = for_one(in_each, one, own)
                said = merged(unmarked(each, own) if own else each, one)
                part = self.part(said, kind, f"{place}/{i}", parent, i)
                self.said_for_all[part.number] = each, one, may
            parts.append(part)
        if word == "only":
            parent.links[path] = None
            parent.partly = {**parent.partly, path: tuple(parts)}
            self.partly.setdefault(kind.name, []).append((parent, place.removesuffix("/only")))
        else:
            parent.links[path] = tuple(parts)

    def shared(self, each: Mapping[str, Any], kind: PartType) -> tuple[Mapping[str, Any], frozenset[str]] | None:
        """The facts said for each part of a list, read once, and the objects among them, which a part may add to.

        None where they have to be read for each: lists of parts, faults, and what a part may mark as to be stated.
        """
        body = kind.body
        if self.open or not body.lists.keys().isdisjoint(each):
            return None
        holder = Part(-3, kind.name, "", {}, {}, label="")
        before = len(self.complaints)
        self.group(each, body, holder)
        if len(self.complaints) > before or holder.links:
            del self.complaints[before:]
            return None
        return holder.facts, frozenset(body.groups.keys() & each.keys())

    def either(self, value: Any, field: Field, other: Field, part: Part) -> None:
        """A quantity that may be said in either of two dimensions: one fact gets it, the other is none."""
        facts = part.facts
        facts[field.path] = facts[other.path] = ABSENT
        if isinstance(value, str) and not reads(value, field.unit) and reads(value, other.unit):
            facts[other.path] = self.number(value, other, part, field.path)
        elif value is not None:
            facts[field.path] = self.number(value, field, part, field.path)

    def number(self, value: Any, field: Field, part: Part, path: str) -> Any:
        """A number in the unit of its field, of a text too; the path is for complaints."""
        if isinstance(value, str):
            value, faults = read_figure(value, field)
        else:
            faults = too_large(value, field)
            value = 0.0 if faults else value
        for fault in faults:
            self.complain(f"{part.pointer}/{path}", fault)
        return value

    # --- what can't belong -----------------------------------------------------------------------------------

    def belong(self, part: Part, kind: PartType, in_order: Sequence[Run]) -> None:
        """Where a condition holds of a part, what can't belong to it is none; to state it is a fault."""
        facts, settled = part.facts, self.taken.get(part.number, ())
        for run in in_order:
            found = barred(part, run)
            if found is None:
                continue
            fresh: Set[str] = unsettled(found, settled)
            if not fresh.isdisjoint(facts) and part.number in self.said_for_all:
                each, one, _ = self.said_for_all[part.number]
                fresh = {path for path in facts.keys() & fresh if not for_all(path, each, one)}
            if not fresh.isdisjoint(facts) or (found.lists and any(map(part.links.get, found.lists))):
                each, one, _ = self.said_for_all.get(part.number, ({}, {}, ()))
                for path, said in refusals(part, kind, found, frozenset(settled), each, one):
                    self.complain(part.where(path), said)
            if run is not in_order[-1]:
                settled = (*settled, *found.paths)
            facts.update(found.facts)
            if found.links:
                part.links.update(found.links)
                for name in found.lists.values():
                    self.parts[name] = self.parts[name] or []
        if part.number in self.said_for_all:
            take_back(part, kind, *self.said_for_all[part.number])


# --- texts that say facts, kept for the next description, since the same texts come again ------------------------


@lru_cache(maxsize=4096)
def _said(group: Group, text: str) -> tuple[Mapping[str, Any], tuple[tuple[str, str], ...]]:
    """The facts that a text says of an object, and what is wrong with it, by path."""
    facts: dict[str, Any] = {group.path: True}
    assert group.phrase is not None
    try:
        said = parse(group.phrase, text)
    except ValueError as fault:
        return facts, ((group.path, str(fault)),)
    inner = _Gatherer("", {}, {})
    inner.group(said, group, Part(-3, group.part_type.name, "", facts, {}, label=""))
    return facts, tuple((complaint.place[1:], complaint.message) for complaint in inner.complaints)
