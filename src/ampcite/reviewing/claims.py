"""What papers and labels claim of facts: a fact that is changed brings what is claimed of it along."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ampcite.house.claims import TOTALS, WHOLE, compare, said_at
from ampcite.house.part_types import part_types
from ampcite.house.parts import Description, Part

SAID = "claims/says"
"""The type of the parts that stand for one thing said by one claim."""

COMPARED = ("agrees", "fact")
"""What the reader finds out about such a part from the fact it is about."""

_TOTALLED = {"modules": ("quantity", "max_power"), "inverters": ("ac_power",),
             "module_electronics": ("quantity", "ac_power")}  # fmt: skip


class Claims:
    """The claims of a house, by what they are about."""

    def __init__(self, house: Description) -> None:
        self.document = house.document
        self.ids: dict[str, Part] = {}
        for parts in house.parts.values():
            for part in parts or ():
                if isinstance(part.facts.get("id"), str):
                    self.ids.setdefault(part.facts["id"], part)
        self.house = house
        self.about: dict[tuple[Part, str], list[Part]] = {}
        for said in house.parts.get(SAID) or ():
            for place in self.places(said):
                self.about.setdefault(place, []).append(said)

    def places(self, said: Part) -> Iterator[tuple[Part, str]]:
        """The facts that something said is about."""
        of, path = said.links[".."].facts.get("of"), said.facts["field"]
        if of == WHOLE and path in TOTALS:
            for kind, fields in _TOTALLED.items():
                for part in self.house.parts[kind] or ():
                    yield from ((part, field) for field in fields)
            return
        target = self.house.whole if of == WHOLE else self.ids.get(str(of))
        if target is None:
            return
        inside = [p for p in part_types()[target.kind].fields if p.startswith(f"{path}/")]
        yield from ((target, field) for field in inside or [path])

    def touched(self, changes: Mapping[tuple[Part, str], Any]) -> list[Part]:
        """What is said of facts that change."""
        return list(dict.fromkeys(said for place in changes for said in self.about.get(place, ())))

    def compare(self, said: Part) -> None:
        """Compares again, after a fact was changed."""
        facts: Any = said.facts
        for name in COMPARED:
            facts.pop(name, None)
        compare(said, said_at(self.document, said.pointer), self.ids)
