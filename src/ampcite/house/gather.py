"""A description that the schema accepts becomes parts with facts and links.

A fact of a part may be said at the part, once for its whole list (``each``), by the equipment model that it names, or
as a piece of a text; what can't belong to the part is none.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ampcite.base.errors import MOST_COMPLAINTS, Complaint, InputError, nearest, short
from ampcite.house.belonging import Condition, holds, refusal
from ampcite.house.claims import compare, format_value
from ampcite.house.marks import Marks, at, for_one, unmarked
from ampcite.house.part_types import Field, Group, PartType, models, part_types
from ampcite.house.parts import ABSENT_PART, NO_PARTS, UNKNOWN_PART, Description, Part, fact
from ampcite.house.phrase import parse
from ampcite.house.validate import out_of_bounds
from ampcite.house.values import merged, pointer
from ampcite.language.logic import ABSENT
from ampcite.language.quantities import read_quantity

LARGEST = 1e15


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
        self.parts: dict[str, list[Part] | None] = dict.fromkeys(part_types())
        self.partly: dict[str, list[tuple[Part, str]]] = {name: [] for name in part_types()}
        self.settled: set[tuple[int, str]] = set()
        self.said_for_all: dict[int, frozenset[str]] = {}
        self.by_id: dict[str, Part] = {}
        self.unresolved: list[tuple[Part, str, dict[str, Any]]] = []
        self.count = 0

    def gather(self, document: Mapping[str, Any]) -> Description:
        self.equipment = document.get("equipment", {})
        for name, entries in self.equipment.items():
            for model in entries:
                self.model(models()[name], model, 0)
        self.part(document, part_types()[""], "", "the system", None)
        for part in [part for parts in self.parts.values() for part in parts or ()]:
            self.identify(part)
        for part_type in part_types().values():
            for path, field in part_type.references.items():
                for part in self.parts[part_type.name] or ():
                    self.refer(part, path, field)
        self.name_unresolved()
        for part_type in part_types().values():
            if part_type.conditions:
                for part in self.parts[part_type.name] or ():
                    for condition in part_type.conditions:
                        self.belong(part, part_type, condition)
        self.reverse()
        for part in self.parts["claims/says"] or ():
            fault = compare(part, document, self.by_id)
            if fault:
                self.complain(part.pointer, fault)
        if self.complaints:
            raise InputError(self.complaints)
        parts = {kind: tuple(found) if found is not None else None for kind, found in self.parts.items()}
        unlisted: dict[str, tuple[tuple[Part, str], ...]] = {}
        partly: dict[str, tuple[tuple[Part, str], ...]] = {}
        for name, kind in part_types().items():
            above = unlisted[kind.parent.name] if kind.parent is not None else ()
            holders = parts[kind.parent.name] or () if kind.parent is not None else ()
            here = ((p, f"{p.pointer}/{kind.list_path}") for p in holders
                    if p.links.get(kind.list_path) is None and kind.list_path not in p.partly)  # fmt: skip
            unlisted[name] = (*above, *here)
            partly[name] = (*(partly[kind.parent.name] if kind.parent is not None else ()), *self.partly[name])
        return Description(self.name, document, parts, self.count, unlisted, partly, self.catalogue)

    def complain(self, place: str, said: str) -> None:
        self.complaints.append(Complaint(self.name, place, said))

    # --- what is said ----------------------------------------------------------------------------------------

    def part(self, value: Mapping[str, Any], kind: PartType, place: str, label: str, parent: Part | None,
             number: int = 0) -> Part:  # fmt: skip
        facts: dict[str, Any] = {}
        links: dict[str, Any] = dict.fromkeys(kind.children)
        if parent is not None:
            links[".."] = parent
        part = Part(self.count, kind.name, place, label, label[:1].upper() + label[1:], facts, links)
        self.count += 1
        found = self.parts[kind.name]
        if found is None:
            found = self.parts[kind.name] = []
        found.append(part)
        if kind.model is not None:
            model = value.get("model") if not kind.model_key else parent.facts.get("model") if parent else None
            if isinstance(model, str):
                if not kind.model_key:
                    facts["model"] = model  # what stands in the part asks for it, wherever the part names it
                self.inherit(part, kind, model, number, facts)
        self.group(value, kind.body, part, facts, links, place)
        return part

    def inherit(self, part: Part, kind: PartType, model: str, number: int, facts: dict[str, Any]) -> None:
        """Gives a part the facts of the equipment model that it, or the part above it, names."""
        known = self.model(kind, model, number)
        if known is not None:
            facts.update(known[0])
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
            entry = entry.get(kind.model_key)
            if isinstance(entry, list):
                place, entry = f"{place}/{number}", entry[number] if number < len(entry) else None
        if entry is None:
            return None
        facts: dict[str, Any] = {}
        holder = Part(-3, kind.name, place, f"model {model}", f"Model {model}", facts, {})
        self.group(entry, kind.model, holder, facts, {}, place)
        return facts, place

    def group(self, value: Mapping[str, Any], group: Group, part: Part, facts: dict[str, Any],
              links: dict[str, Any], place: str) -> None:  # fmt: skip
        fields, prefix, simple = group.fields, group.path, group.simple
        for key, item in value.items():
            if key in simple:
                path, number = simple[key]
                if item is None:
                    facts[path] = ABSENT
                elif number:
                    facts[path] = self.number(item, fields[key], place, key)
                else:
                    facts[path] = item
            elif key in fields:
                self.field(item, fields[key], f"{place}/{key}", facts)
            elif key in group.lists:
                self.rows(item, group.lists[key], part, links, f"{place}/{key}", f"{prefix}/{key}" if prefix else key)
            elif key in group.groups:
                self.below(item, group.groups[key], part, facts, links, f"{place}/{key}")

    def field(self, item: Any, field: Field, place: str, facts: dict[str, Any]) -> None:
        """What is said in a list, as an outline, or in either of two dimensions."""
        if field.other is not None:
            self.either(item, field, place, facts)
        elif item is None:
            facts[field.path] = ABSENT
        elif field.kind == "outline":
            facts[field.path] = tuple(
                tuple(float(self.number(n, field, f"{place}/{i}", j)) for j, n in enumerate(point))
                for i, point in enumerate(item)
            )
        else:
            facts[field.path] = tuple(item)

    def below(self, item: Any, group: Group, part: Part, facts: dict[str, Any], links: dict[str, Any],
              place: str) -> None:  # fmt: skip
        """An object inside a part, or the text it is written as."""
        if item is None:
            self.none(group, part, facts, links)
            return
        facts[group.path] = True
        if group.phrase is None:
            self.group(item, group, part, facts, links, place)
            return
        try:
            said = parse(group.phrase, item)
        except ValueError as fault:
            self.complain(place, str(fault))
            return
        self.group(said, group, part, facts, links, place)

    def none(self, group: Group, part: Part, facts: dict[str, Any], links: dict[str, Any]) -> None:
        """There is no such object: nothing in it, and no parts of its lists."""
        facts[group.path] = ABSENT
        for key, kind in group.lists.items():
            links[f"{group.path}/{key}"] = ()
            self.parts[kind.name] = self.parts[kind.name] or []
        facts.update(dict.fromkeys(group.inside, ABSENT))

    def rows(self, value: Any, kind: PartType, parent: Part, links: dict[str, Any], place: str, path: str) -> None:
        """A list of parts: as it stands, or with facts for each and a word on how far it goes."""
        if kind.entries:
            said = {key: {"field": key, "printed": format_value(item)} for key, item in sorted(value.items())}
            links[path] = tuple(self.part(one, kind, place + pointer([key]), "", parent) for key, one in said.items())
            self.parts[kind.name] = self.parts[kind.name] or []
            return
        if isinstance(value, list):
            each, word, rows = {}, "", value
        else:
            each, word = value.get("each", {}), "all" if "all" in value else "only"
            rows = value[word]
            inside = at(self.open, place)
            in_each, in_rows = inside.get("each"), inside.setdefault(word, {}) if inside else {}
            place = f"{place}/{word}"
        if word == "only" and not rows:
            return
        if self.parts[kind.name] is None:
            self.parts[kind.name] = []
        parts = []
        for i, one in enumerate(rows):
            said = one
            if each:
                own = in_rows.get(str(i), {})
                if in_each:
                    own = in_rows[str(i)] = for_one(in_each, one, own)
                said = merged(unmarked(each, own) if own else each, one)
            part = self.part(said, kind, f"{place}/{i}", self.label(said, kind, parent, i), parent, i)
            if each:
                self.said_for_all[part.number] = frozenset(each.keys() - one.keys())
            parts.append(part)
        if word == "only":
            links[path] = None
            parent.partly = {**parent.partly, path: tuple(parts)}
            self.partly[kind.name].append((parent, place.removesuffix("/only")))
        else:
            links[path] = tuple(parts)

    def label(self, value: Mapping[str, Any], kind: PartType, parent: Part, i: int) -> str:
        own = value["id"] if "id" in value else f"{i + 1}" + (f" of {parent.label}" if parent.number else "")
        return f"{kind.title} {own}"

    def either(self, value: Any, field: Field, place: str, facts: dict[str, Any]) -> None:
        """A quantity that may be said in either of two dimensions: one fact gets it, the other is none."""
        other = field.other
        assert other is not None
        facts[field.path] = facts[other.path] = ABSENT
        if isinstance(value, str) and not _reads(value, field.unit) and _reads(value, other.unit):
            facts[other.path] = self.number(value, other, place)
        elif value is not None:
            facts[field.path] = self.number(value, field, place)

    def number(self, value: Any, field: Field, place: str, key: str | int = "") -> Any:
        """A number in the unit of its field, of a text too; the place and its last step are for complaints."""
        if isinstance(value, str):
            place = f"{place}/{key}" if key != "" else place
            try:
                value = read_quantity(value, field.unit)
            except ValueError as fault:
                self.complain(place, f'"{value[:60]}" {fault}')
                return 0.0
            unit = f" {field.unit}" if field.unit else ""
            for bound, limit, bad in (
                ("minimum", field.low, field.low is not None and value < field.low),
                ("exclusiveMinimum", field.above, field.above is not None and value <= field.above),
                ("maximum", field.high, field.high is not None and value > field.high),
            ):
                if bad:
                    assert limit is not None
                    self.complain(place, out_of_bounds(value, bound, limit, field.title, unit))
        if not -LARGEST <= value <= LARGEST:
            place = f"{place}/{key}" if key != "" else place
            self.complain(place, f"is {short(value)}, which is no {field.title} anyone could build")
            return 0.0
        return value

    # --- who names whom --------------------------------------------------------------------------------------

    def identify(self, part: Part) -> None:
        name = part.facts.get("id")
        if name is None:
            return
        other = self.by_id.setdefault(name, part)
        if other is not part:
            self.complain(f"{part.pointer}/id", f'"{name[:60]}" is also the id of {other.pointer}; '
                                                "give every part an id of its own")  # fmt: skip

    def refer(self, part: Part, path: str, field: Field) -> None:
        """Follows a reference; where it leads nowhere, its part is not known."""
        value = part.facts.get(path)
        links: Any = part.links
        links[path] = None if field.many else ABSENT_PART if value is ABSENT else UNKNOWN_PART
        if value is None or value is ABSENT:
            return
        found: list[Part] = []
        for i, name in enumerate(value if field.many else (value,)):
            target = self.by_id.get(name)
            if target is not None and target.kind in field.refers:
                found.append(target)
                continue
            place = f"{part.pointer}/{path}/{i}" if field.many else f"{part.pointer}/{path}"
            hint = "one of them"
            if len(self.unresolved) < MOST_COMPLAINTS:  # of more, nobody sees the names
                hint = nearest(name, [n for n, p in self.by_id.items() if p.kind in field.refers])
            what = "is no part of this description" if target is None else f"is the id of {target.label}"
            among = " or ".join(part_types()[k].list_title for k in field.refers)
            facts = {"name": name[:60], "title": field.title, "described": False, "why": what,
                     "hint": f"of the {among}, {hint}"}  # fmt: skip
            self.unresolved.append((part, place, facts))
        if field.many:
            links[path] = tuple(found) if len(found) == len(value) else None
        elif found:
            links[path] = found[0]

    def name_unresolved(self) -> None:
        """Makes a part of every name that stands for no part, so that a rule can find it."""
        kind = part_types()["unresolved_names"]
        whole = (self.parts[""] or [])[0]
        self.parts[kind.name] = parts = list[Part]()
        for holder, place, facts in self.unresolved:
            self.part(facts, kind, place, holder.label, whole)
        links: Any = whole.links
        links[kind.list_path] = tuple(parts)

    def reverse(self) -> None:
        """Notes at every target of a reference who refers to it."""
        for kind in part_types().values():
            parts = self.parts[kind.name]
            for path, field in kind.references.items():
                if parts is None:
                    continue
                back = f"{kind.name}[{path}]"
                told = self.all_listed(kind) and all(
                    path in p.facts and p.links[path] not in (None, UNKNOWN_PART) for p in parts)  # fmt: skip
                for part in (p for target in field.refers for p in self.parts[target] or () if told):
                    links: Any = part.links
                    links[back] = []
                for part in parts if told else ():
                    there = part.links[path]
                    for one in (there or ()) if field.many else () if there in NO_PARTS else (there,):
                        one.links[back].append(part)

    def all_listed(self, kind: PartType) -> bool:
        """Whether every part of a type is described, as far as the lists it stands in say so."""
        above = kind.parent
        if self.partly[kind.name]:
            return False
        return above is None or (self.all_listed(above) and all(
            part.links[kind.list_path] is not None for part in self.parts[above.name] or ()))  # fmt: skip

    # --- what can't belong -----------------------------------------------------------------------------------

    def belong(self, part: Part, kind: PartType, condition: Condition) -> None:
        """Where a condition holds of a part, what can't belong to it is none; to state it is a fault."""
        if not holds(condition, part.facts.get if condition.own else lambda path: fact(part, path)):
            return
        facts: Any = part.facts
        links: Any = part.links
        of_all = self.said_for_all.get(part.number, frozenset())
        for path in condition.barred:
            if (part.number, path) in self.settled:
                continue
            self.settled.add((part.number, path))
            stated = path in facts or (path in kind.children and links.get(path))
            above = path.rpartition("/")[0]
            if stated and path.partition("/")[0] not in of_all and not (above and facts.get(above) is ABSENT):
                what = kind.groups.get(path) or kind.fields.get(path)
                title = what.title if what is not None else kind.children[path].list_title
                self.complain(part.where(path), refusal(condition, title))
            if path in kind.groups:
                self.none(kind.groups[path], part, facts, links)
            elif path in kind.children:
                links[path] = ()
                self.parts[kind.children[path].name] = self.parts[kind.children[path].name] or []
        for path in condition.fields:
            field = kind.fields[path]
            facts[path] = False if field.kind == "flag" and path in condition.barred else ABSENT
            if field.refers:
                links[path] = () if field.many else ABSENT_PART


def _reads(text: str, unit: str) -> bool:
    try:
        read_quantity(text, unit)
    except ValueError:
        return False
    return True
