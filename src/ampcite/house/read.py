"""A description of a house's system: JSON in, parts with their facts out, or one clear complaint for each fault."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import attrs

from ampcite.base.editions import CODES
from ampcite.base.errors import Complaint, InputError, nearest, short
from ampcite.house.part_types import Field, Group, PartType, part_types
from ampcite.house.validate import as_json, out_of_bounds, parse_json, schema_errors
from ampcite.language.logic import ABSENT
from ampcite.language.quantities import read_quantity

LARGEST = 1e15


@attrs.define(eq=False)
class Part:
    """One part of the house: a circuit, a segment of it, or (number 0) the whole.

    Attributes:
        number: counts the parts of one description, the whole being 0.
        pointer: JSON Pointer.
        label: what a person calls it.
        heading: the label as a sentence begins with it.
        facts: field path to a number in the schema's unit, a text, a flag, a tuple of them, an outline as a tuple of
            points, or ``ABSENT``.
            What nobody has said is not in it.
        links: where reference fields lead (to a part), lists lead (to a tuple of parts, or None where the list is
            not given), ``..`` leads (to the part it is in), and ``kind[field]`` leads (to the parts of that kind
            whose field names this one).
    """

    number: int
    kind: str
    pointer: str
    label: str
    heading: str
    facts: Mapping[str, Any] = attrs.field(repr=False)
    links: Mapping[str, Any] = attrs.field(repr=False)


class _Nowhere(dict[str, Any]):
    """The facts or links of a part that is not there: every fact is the same, every single step stays here."""

    fact: Any = None
    stay: Any = None

    def get(self, key: str, default: Any = None) -> Any:
        return self.fact

    def __missing__(self, key: str) -> Any:
        return self.stay


def _nowhere(number: int, fact: Any) -> Part:
    facts, links = _Nowhere(), _Nowhere()
    facts.fact = fact
    links.stay = Part(number, "", "", "", "", facts, links)
    out: Part = links.stay
    return out


UNKNOWN_PART = _nowhere(-2, None)
ABSENT_PART = _nowhere(-1, ABSENT)


@attrs.frozen(eq=False)
class Description:
    """A description that has been read and holds together.

    Attributes:
        source: the file it came from, or "description".
        document: the JSON value as it was given. Treat it as read-only.
        parts: kind to its parts in document order, or None where the list is not given.
        size: how many parts there are, the whole included.
        unlisted: kind to the lists that would have to be given for all its parts to be known: who lacks each, and
            its pointer.
    """

    source: str
    document: Mapping[str, Any] = attrs.field(repr=False)
    parts: Mapping[str, tuple[Part, ...] | None] = attrs.field(repr=False)
    size: int
    unlisted: Mapping[str, tuple[tuple[Part, str], ...]] = attrs.field(repr=False)

    @property
    def whole(self) -> Part:
        found = self.parts[""]
        assert found
        return found[0]

    @property
    def editions(self) -> dict[str, int]:
        """The edition of each code that the description names."""
        facts = self.whole.facts
        return {code: int(facts[f"codes/{code}_edition"]) for code in CODES if f"codes/{code}_edition" in facts}


def read(source: str | Path | bytes | Mapping[str, Any], name: str | None = None) -> Description:
    """Reads a description.

    Args:
        source: a path, a JSON text (or its bytes), or the JSON value itself.
        name: what complaints call it; by default the path, or "description".

    Raises:
        InputError: with every fault found, each with its place.
    """
    if isinstance(source, str) and source.lstrip().startswith("{"):
        source = source.encode("utf-8", "surrogatepass")
    if isinstance(source, str | Path):
        name = name or str(source)
        try:
            source = Path(source).read_bytes()
        except (OSError, ValueError) as fault:
            said = getattr(fault, "strerror", None) or fault
            raise InputError([Complaint(name, "", f"can't be read: {said}")]) from None
    name = name or "description"
    document = parse_json(source, name) if isinstance(source, bytes) else as_json(source, name)
    return _read(document, name)


def _read(document: Any, name: str) -> Description:
    if not isinstance(document, dict):
        raise InputError([Complaint(name, "", f"is {short(document)}; a description is a JSON object")])
    complaints, refused = schema_errors(document, name)
    if complaints:
        raise InputError([*complaints, *_further(document, refused, name)])
    return _Gatherer(name).gather(document)


def with_codes(description: Description, codes: Mapping[str, object]) -> Description:
    """The description with what is known of the codes in force, where it does not say so itself."""
    own = description.document.get("codes", {})
    return _read({**description.document, "codes": {**codes, **own}}, description.source)


class _Gatherer:
    def __init__(self, name: str) -> None:
        self.name = name
        self.complaints: list[Complaint] = []
        self.parts: dict[str, list[Part] | None] = dict.fromkeys(part_types())
        self.by_id: dict[str, Part] = {}
        self.count = 0

    def gather(self, document: Mapping[str, Any]) -> Description:
        top = part_types()[""]
        self.part(document, top, "", "the system", None)
        for part in [p for parts in self.parts.values() if parts for p in parts]:
            self.follow(part)
        self.reverse()
        if self.complaints:
            raise InputError(self.complaints)
        parts = {kind: tuple(found) if found is not None else None for kind, found in self.parts.items()}
        unlisted: dict[str, tuple[tuple[Part, str], ...]] = {}
        for name, kind in part_types().items():
            above = unlisted[kind.parent.name] if kind.parent is not None else ()
            holders = parts[kind.parent.name] or () if kind.parent is not None else ()
            here = ((p, f"{p.pointer}/{kind.list_path}") for p in holders if p.links.get(kind.list_path) is None)
            unlisted[name] = (*above, *here)
        return Description(self.name, document, parts, self.count, unlisted)

    def complain(self, place: str, said: str) -> None:
        self.complaints.append(Complaint(self.name, place, said))

    def part(self, value: Mapping[str, Any], kind: PartType, place: str, label: str, parent: Part | None) -> Part:
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
        self.group(value, kind.body, part, facts, links, place)
        return part

    def group(self, value: Mapping[str, Any], group: Group, part: Part, facts: dict[str, Any],
              links: dict[str, Any], place: str) -> None:  # fmt: skip
        fields, prefix = group.fields, group.path
        for key, item in value.items():
            field = fields.get(key)
            if field is not None:
                if field.other is not None:
                    self.either(item, field, f"{place}/{key}", facts)
                elif item is None:
                    facts[field.path] = ABSENT
                elif field.kind == "number" and not field.many:
                    facts[field.path] = self.number(item, field, f"{place}/{key}")
                elif field.kind == "outline":
                    facts[field.path] = tuple(
                        tuple(float(self.number(n, field, f"{place}/{key}/{i}/{j}")) for j, n in enumerate(point))
                        for i, point in enumerate(item)
                    )
                else:
                    facts[field.path] = tuple(item) if field.many else item
            elif key in group.groups:
                below = group.groups[key]
                facts[below.path] = True if item is not None else ABSENT
                if item is None:
                    for key_below, kind_below in below.lists.items():
                        links[f"{below.path}/{key_below}"] = ()
                        self.parts[kind_below.name] = self.parts[kind_below.name] or []
                    inside = (p for p in group.part_type.fields if p.startswith(below.path + "/"))
                    facts.update(dict.fromkeys(inside, ABSENT))
                else:
                    self.group(item, below, part, facts, links, f"{place}/{key}")
            else:
                below_kind = group.lists[key]
                if self.parts[below_kind.name] is None:
                    self.parts[below_kind.name] = []
                links[f"{prefix}/{key}" if prefix else key] = tuple(
                    self.part(one, below_kind, f"{place}/{key}/{i}", self.label(one, below_kind, part, i), part)
                    for i, one in enumerate(item)
                )

    def label(self, value: Mapping[str, Any], kind: PartType, parent: Part, i: int) -> str:
        if "id" in value:
            return f"{kind.title} {value['id']}"
        return f"{kind.title} {i + 1}" + (f" of {parent.label}" if parent.number else "")

    def either(self, value: Any, field: Field, place: str, facts: dict[str, Any]) -> None:
        """A quantity that may be said in either of two dimensions: one fact gets it, the other is none."""
        other = field.other
        assert other is not None
        facts[field.path] = facts[other.path] = ABSENT
        if isinstance(value, str) and not _reads(value, field.unit) and _reads(value, other.unit):
            facts[other.path] = self.number(value, other, place)
        elif value is not None:
            facts[field.path] = self.number(value, field, place)

    def number(self, value: Any, field: Field, place: str) -> Any:
        if isinstance(value, str):
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
        if not abs(value) <= LARGEST:
            self.complain(place, f"is {short(value)}, which is no {field.title} anyone could build")
            return 0.0
        return value

    def follow(self, part: Part) -> None:
        kind = part_types()[part.kind]
        facts = part.facts
        links: Any = part.links
        name = facts.get("id")
        if name is not None:
            other = self.by_id.get(name)
            if other is not None and other is not part:
                self.complain(f"{part.pointer}/id", f'"{name[:60]}" is also the id of {other.pointer}; '
                                                    "give every part an id of its own")  # fmt: skip
            self.by_id.setdefault(name, part)
        for path, field in kind.references.items():
            if not field.many:
                links[path] = ABSENT_PART if facts.get(path) is ABSENT else UNKNOWN_PART

    def reverse(self) -> None:
        """Follows every reference, and notes at its target who refers to it."""
        for kind in part_types().values():
            parts = self.parts[kind.name]
            for path, field in kind.references.items():
                back = f"{kind.name}[{path}]"
                told = parts is not None and all(path in p.facts for p in parts)
                for target in field.refers:
                    for part in self.parts[target] or ():
                        cast_links: Any = part.links
                        cast_links[back] = [] if told else None
                for part in parts or ():
                    self.refer(part, path, field, back)

    def refer(self, part: Part, path: str, field: Field, back: str) -> None:
        value = part.facts.get(path)
        links: Any = part.links
        if field.many:
            links[path] = None
        if value is None or value is ABSENT:
            return
        place = f"{part.pointer}/{path}"
        found: list[Part] = []
        for i, name in enumerate(value if field.many else (value,)):
            target = self.by_id.get(name)
            where = f"{place}/{i}" if field.many else place
            if target is None or target.kind not in field.refers:
                known = [n for n, p in self.by_id.items() if p.kind in field.refers]
                what = "is no part of this description" if target is None else f"is the id of {target.label}"
                self.complain(where, f'"{name[:60]}" {what}; the {field.title} here must be one of its '
                                     f"{' or '.join(part_types()[k].list_title for k in field.refers)}: "
                                     f"{nearest(name, known)}")  # fmt: skip
                continue
            found.append(target)
            target_links: Any = target.links
            if target_links.get(back) is not None:
                target_links[back].append(part)
        if field.many:
            links[path] = tuple(found)
        elif found:
            links[path] = found[0]


def _reads(text: str, unit: str) -> bool:
    try:
        read_quantity(text, unit)
    except ValueError:
        return False
    return True


def _further(document: Mapping[str, Any], found: list[Any], name: str) -> tuple[Complaint, ...]:
    """What else is wrong once the fields that the schema refuses are left out, where they can be."""
    try:
        pruned = copy.deepcopy(document)
    except RecursionError:
        return ()
    for error in found:
        path = list(error.absolute_path)
        if error.validator == "additionalProperties":
            extra = [key for key in error.instance if key not in error.schema["properties"]]
        elif path and isinstance(path[-1], str) and path[-1] != "id":
            path, extra = path[:-1], [path[-1]]
        else:
            return ()
        here: Any = pruned
        for step in path:
            here = here[step] if isinstance(here, list) or step in here else {}
        for key in extra:
            here.pop(key, None)
    try:
        _Gatherer(name).gather(pruned)
    except InputError as fault:
        unknown_list = any(e.validator == "additionalProperties" and not e.absolute_path for e in found)
        return tuple(c for c in fault.complaints if not (unknown_list and "is no part of" in c.said))
    return ()
