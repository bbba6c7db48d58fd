"""What a layer of local law holds, as records: who speaks, what it changes, what it adopts from which date."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import attrs

LEVELS = ("state", "tribe", "county", "city", "fire district", "utility")
"""The order of precedence: each speaks after those before it."""

FIELDS: Mapping[str, tuple[frozenset[str], frozenset[str]]] = {
    verb: (frozenset(needs.split()), frozenset(may.split()))
    for verb, needs, may in (
        ("replace", "expects", "to formula parameter table row column where inputs scope"),
        ("tighten", "parameter expects to", "where inputs scope"),
        ("relax", "parameter expects to", "where inputs scope"),
        ("stricter-of", "parameter expects to", ""),
        ("strike", "", "rule expects section way"),
        ("narrow", "where inputs scope", "rule expects section"),
        ("widen", "where inputs scope", "rule expects section"),
        ("allow", "rule expects way holds says inputs", ""),
        ("refer", "to", "rule expects section"),
        ("waive", "until", "rule expects section"),
        ("adopt", "section edition", ""),
        ("require", "rule expects", ""),
        ("label", "words", "how each where inputs scope"),
        ("set", "fact to", "stricter"),
        ("document", "title", "sealed_by where inputs scope"),
    )
}
"""What each operation must say, and what it may say besides; all say ``id``, ``do``, ``why`` and where they stand.

Those that may name a rule, with what is expected of it, or a section, with the list of its rules, name one of the two.
"""


@attrs.frozen
class Authority:
    """Who makes the changes of a layer, and the editions they are written against.

    ``jurisdiction`` names the layer whose jurisdiction it adopts law for, where that is not its own.
    """

    name: str
    level: str
    against: Mapping[str, int]
    jurisdiction: str = ""


@attrs.frozen
class Amendment:
    """One change of a layer.

    Attributes:
        id: its name within the layer.
        do: the operation, a key of ``FIELDS``.
        said: what it says besides, by the names in ``FIELDS``.
        inputs: paths of the names that its own formula uses.
        rules: of a change of a section: the rules it is meant to touch.
        on_record: whether it says that no rule rests on its section, and is kept for the day when one does.
        why: the reason.
        work, clause, read: where the change stands, and where that was read.
        begins, ends: dates between which it holds, keyed on the application date; "" where open.
        tests: its examples, each with the rule it is of.
    """

    id: str
    do: str
    said: Mapping[str, str]
    inputs: Mapping[str, str]
    why: str
    work: str
    clause: str
    read: str
    begins: str
    ends: str
    tests: tuple[tuple[str, Any], ...]
    file: str
    rules: tuple[str, ...] = ()
    on_record: bool = False

    def holds_on(self, date: str) -> bool:
        """Whether it holds for an application of a date, year-month-day; ``""`` where no date was asked for."""
        last = self.ends or self.said.get("until", "")
        return (not self.begins or self.begins <= date) and (not last or date <= last)

    @property
    def some_date(self) -> str:
        """A date on which it holds; "" where any does."""
        return self.begins or self.ends or self.said.get("until", "")

    @property
    def dated(self) -> bool:
        """Whether the date of the application matters to it."""
        return bool(self.some_date)

    @property
    def target(self) -> tuple[str, ...]:
        """What it changes; two changes of one layer may not have one target."""
        said = self.said
        if "parameter" in said:
            return ("parameter", said["parameter"])
        if "table" in said:
            return ("table", said["table"], said.get("row", ""), said.get("column", ""))
        if self.do in ("label", "document", "set"):
            return ("rule", self.id)
        if "rule" not in said:
            return ("section", said["section"], self.do)
        part = {"narrow": "scope", "widen": "scope", "require": "force"}
        part |= dict.fromkeys(("strike", "waive", "refer", "adopt"), "existence")
        return ("rule", said["rule"], said.get("way", "") or part.get(self.do, self.do))


@attrs.frozen
class Adoption:
    """What a jurisdiction has in force from a date.

    Attributes:
        begins: from which application date, year-month-day.
        editions: the edition of each code.
        layers: the layers of local law in force, by pack name.
        of: the houses it is for: paths of facts of the whole, with the values they may have; all, where empty.
        by: the date that decides, a key of ``DATES``.
        follows: the layer whose jurisdiction's editions and layers are in force here too; "" where none is.
        as_of: the day on which that is taken; "" where it is the deciding date.
        file: where it stands.
        choice_until: until this date the applicant may choose what was in force before; "" where not.
        ordinance: what adopted it.
    """

    begins: str
    editions: Mapping[str, int]
    layers: tuple[str, ...]
    choice_until: str
    ordinance: str
    file: str = "pack.toml"
    of: Mapping[str, tuple[object, ...]] = attrs.Factory(dict)
    by: str = "application"
    follows: str = ""
    as_of: str = ""


DATES = {"application": "application_date", "work begun": "work_begun_date", "permit": "permit_date",
         "interconnection application": "interconnection_application_date"}  # fmt: skip
"""The dates that an adoption may go by, and the fields of a description's ``codes`` that hold them."""


@attrs.frozen
class Change:
    """What a layer did to a figure, table or rule: both sides of it, as a finding repeats them.

    Attributes:
        authority, level: who did it.
        place: the clause of the local law.
        what: what was changed, in words.
        model: what the model code has, with its clause.
        local: what holds here.
        effect: "tighter", "looser" or "other".
        why: the reason the layer gives.
    """

    authority: str
    level: str
    place: str
    what: str
    model: str
    local: str
    effect: str
    why: str

    def __str__(self) -> str:
        than = {"tighter": ", tighter than the model code, which has", "looser": ", a RELAXATION; the model code has",
                "other": "; the model code has"}[self.effect]  # fmt: skip
        why = f". Reason: {self.why}" if self.why else ""
        who = self.place if self.place.startswith(self.authority) else f"{self.authority}, {self.place}"
        return f"{who}: {self.what}: {self.local} here{than} {self.model}{why}"
