"""The parts of a house with their facts and links: what the reader makes of a description and the engine reads."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import attrs

from ampcite.base.editions import CODES
from ampcite.base.frozen import FrozenDict
from ampcite.base.lazy import made_once
from ampcite.house.part_types import part_types
from ampcite.language.logic import ABSENT


class Part:
    """One part of the house: a circuit, a segment of it, or (number 0) the whole.

    Attributes:
        number: counts the parts of one description, the whole being 0.
        kind: the name of its part type.
        pointer: JSON Pointer.
        facts: field path to a number in the schema's unit, a text, a flag, a tuple of them, an outline as a tuple of
            points, or ``ABSENT``.
            What nobody has said is not in it.
        links: where reference fields lead (to a part), lists lead (to a tuple of parts, or None where the list is
            not given or may go on), ``..`` leads (to the part it is in), and ``kind[field]`` leads (to the parts of
            that kind whose field names this one; ``kind[list/*/field]`` to those that have such a part inside).
        place: how many parts of its list come before it.
        partly: the parts given of each list that may go on (``only``).
        model: JSON Pointer of the equipment model it names; "" where it names none.
        elsewhere: JSON Pointers of facts that are stated at other parts, by path.
    """

    __slots__ = ("_label", "elsewhere", "facts", "kind", "links", "model", "number", "partly", "place", "pointer")

    def __init__(self, number: int, kind: str, pointer: str, facts: dict[str, Any], links: dict[str, Any],
                 place: int = 0, label: str | None = None) -> None:  # fmt: skip
        self.number, self.kind, self.pointer, self.facts, self.links = number, kind, pointer, facts, links
        self.place, self._label = place, label
        self.partly: Mapping[str, tuple[Part, ...]] = _NOTHING
        self.elsewhere: Mapping[str, str] = _NOTHING
        self.model = ""

    @property
    def label(self) -> str:
        """What a person calls it: by its id, or by where it stands."""
        if self._label is None:
            above = self.links.get("..")
            below = f" of {above.label}" if above and above.number else self._serves()
            name = self.facts.get("id", ABSENT)
            self._label = f"{part_types()[self.kind].title} {f'{self.place + 1}{below}' if name is ABSENT else name}"
        return self._label

    @label.setter
    def label(self, label: str) -> None:
        self._label = label

    def _serves(self) -> str:
        """Of a part without an id what it is, or the one part it names, so that a person knows which it is."""
        if self.facts.get("id", ABSENT) is not ABSENT:
            return ""
        kind = part_types()[self.kind]
        by = kind.called_by or (next(iter(kind.references)) if len(kind.references) == 1 else "")
        if by in self.facts and by not in kind.references:
            return f" ({self.facts[by]})"
        other = self.links.get(by)
        return f" ({other.label})" if isinstance(other, Part) and other.number >= 0 else ""

    def __repr__(self) -> str:
        return f"<Part {self.number} {self.pointer}>"

    def where(self, path: str) -> str:
        """The JSON Pointer of a fact, or of where it would be stated."""
        if path in self.elsewhere:
            return self.elsewhere[path]
        field = part_types()[self.kind].fields.get(path) if self.kind else None
        if field is None or field.home == "part":
            return f"{self.pointer}/{path}"
        return f"{self.model}/{path}" if self.model else f"{self.pointer}/model"


_NOTHING: Mapping[str, Any] = FrozenDict()


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
    links.stay = Part(number, "", "", facts, links, label="")
    out: Part = links.stay
    return out


UNKNOWN_PART = _nowhere(-2, None)
ABSENT_PART = _nowhere(-1, ABSENT)
NO_PARTS = (UNKNOWN_PART, ABSENT_PART)


def fact(part: Part, path: str) -> Any:
    """The fact a condition asks about: of the part, or of one that the path leads to."""
    while True:
        if path.startswith("../"):
            part, path = part.links[".."], path[3:]
        elif path.startswith("/"):
            while ".." in part.links:
                part = part.links[".."]
            path = path[1:]
        else:
            step = next((r for r in part_types()[part.kind].references if path.startswith(r + "/")), None)
            if step is None:
                return part.facts.get(path)
            target = part.links[step]
            if target in NO_PARTS:
                return None if target is UNKNOWN_PART else ABSENT
            part, path = target, path[len(step) + 1 :]


Lists = Mapping[str, tuple[tuple[Part, str], ...]]
"""Part type to lists of such parts: who has each, and its pointer."""


@attrs.frozen(eq=False, slots=False)
class Description:
    """A description that has been read and holds together.

    Attributes:
        source: the file it came from, or "description".
        document: the JSON value as it was given. Treat it as read-only.
        parts: part type to its parts in document order, or None where the list is not given.
        size: how many parts there are, the whole included.
        unlisted: part type to the lists that would have to be given for its parts to be known.
        partly: part type to the lists that are given in part.
        catalogue: the equipment models of the files beside it, by kind and model.
        to_state: JSON Pointers of what is marked "?": still to be stated.
        taken_over: JSON Pointers of the values that are still those of an example.
    """

    source: str
    document: Mapping[str, Any] = attrs.field(repr=False)
    parts: Mapping[str, tuple[Part, ...] | None] = attrs.field(repr=False)
    size: int
    unlisted: Lists = attrs.field(repr=False)
    partly: Lists = attrs.field(repr=False)
    catalogue: Mapping[str, Any] = attrs.field(repr=False)
    to_state: tuple[str, ...] = ()
    taken_over: tuple[str, ...] = ()

    @property
    def whole(self) -> Part:
        found = self.parts[""]
        assert found
        return found[0]

    @made_once
    def numbered(self) -> tuple[Part, ...]:
        """The parts by their numbers."""
        every = {part.number: part for parts in self.parts.values() for part in parts or ()}
        return tuple([every[number] for number in range(len(every))])

    @made_once
    def part_ids(self) -> Mapping[str, str]:
        """The id of every part, by its JSON Pointer; across revisions a part goes by it.

        It is the part's own ``id``, which is unique in the whole description. A part without one goes by the id of the
        part it stands in and its place there, such as ``DC1/segments/0``; the whole system by "". Where such a name is
        taken, as an id that looks like one takes it, the pointer stands for it.
        """
        out: dict[str, str] = {}
        taken: set[str] = set()
        for parts in self.parts.values():
            for part in parts or ():
                own = part.facts.get("id")
                if not isinstance(own, str):
                    above = part.links.get("..")
                    under = part.pointer[len(above.pointer) + 1 :] if above else ""
                    own = f"{out[above.pointer]}/{under}" if above and out[above.pointer] else under
                out[part.pointer] = part.pointer if own in taken else own
                taken.add(out[part.pointer])
        return FrozenDict(out)

    @property
    def stage(self) -> str | None:
        """The stage the job is at; None where the description does not say."""
        said: str | None = self.whole.facts.get("stage")
        return said

    @property
    def subjects(self) -> tuple[str, ...]:
        """What is to be asked about; none for everything."""
        return tuple(self.whole.facts.get("subjects", ()))

    @property
    def editions(self) -> dict[str, int]:
        """The edition of each code that the description names."""
        facts = self.whole.facts
        return {code: int(facts[f"codes/{code}_edition"]) for code in CODES if f"codes/{code}_edition" in facts}
