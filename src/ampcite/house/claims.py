"""What somebody else says of a fact, compared with the fact at the precision in which it is printed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import lru_cache
from typing import Any

from ampcite.base.errors import nearest, short
from ampcite.house.part_types import Field, Group, part_types
from ampcite.house.parts import Part
from ampcite.house.phrase import parse, write
from ampcite.language.logic import ABSENT
from ampcite.language.quantities import read_quantity
from ampcite.language.units import unit_words

WHOLE = "project"
"""What a claim about the whole names in place of a part."""

TOTALS: Mapping[str, tuple[str, str]] = {
    "dc_power": ("power of all modules", "W"),
    "module_count": ("number of modules", ""),
    "ac_power": ("power of all inverters and microinverters", "W"),
    "inverter_count": ("number of inverters and microinverters", ""),
}
"""What can be claimed of the whole besides its fields: title and unit."""

SPEAKERS = ("nameplate", "label", "work order", "approval letter", "reading", "reviewer", "inspector",
            "installer", "owner")  # fmt: skip
"""Words for who says something that is no document."""

_SHORT = {
    "street": "st", "avenue": "ave", "road": "rd", "drive": "dr", "lane": "ln", "court": "ct", "boulevard": "blvd",
    "place": "pl", "highway": "hwy", "north": "n", "south": "s", "east": "e", "west": "w", "apartment": "apt",
}  # fmt: skip
_STANDARD = re.compile(r"\b(UL|IEC|IEEE|NFPA|ANSI|CSA)\s*-?\s*([0-9]+[A-Z]?)", re.IGNORECASE)
_LAST = re.compile(r"([0-9][0-9,]*(?:\.([0-9]*))?)\s*([^0-9]*)$")


def compare(part: Part, printed: Any, ids: Mapping[str, Part]) -> str:
    """Compares one thing that a claim says with the fact it is about, and gives the part what comes of it.

    Args:
        part: of the type ``claims/says``, with the field's path in it.
        printed: what it says, as the description has it.
        ids: the parts by id.

    Returns:
        What is wrong with the claim, in half a sentence; "" where it can be compared or its part is not known.
    """
    claim: Part = part.links[".."]
    facts: Any = part.facts
    path = facts["field"]
    whole: Part = claim.links[".."]
    _speaker(part, claim, whole, ids)
    target = whole if claim.facts.get("of") == WHOLE else ids.get(str(claim.facts.get("of")))
    if target is None:
        from ampcite.language.wording import words  # which reading needs for nothing else

        _call(part, words(path.rpartition("/")[2]), claim, "of")
        return ""
    kind = part_types()[target.kind]
    field, fact = kind.fields.get(path), target.facts.get(path)
    if target is whole and path in TOTALS:
        field = Field(path, TOTALS[path][0], "", "number", TOTALS[path][1])
        fact = total(path, whole.links)
    group = kind.groups.get(path)
    if group is not None and group.phrase is not None:
        return _compare_phrase(part, group, target, printed)
    if field is None or field.kind == "outline":
        known = [*(TOTALS if target is whole else ()), *kind.fields]
        return f"is no field of {kind.title}; {nearest(path, known)}"
    _call(part, field.title, target, path)
    if fact is None:
        return ""
    facts["fact"] = format_value(fact, field.unit)
    try:
        facts["agrees"] = agrees(printed, fact, field)
    except ValueError as fault:
        return f"says {short(printed)}, which {fault}"
    return ""


def _call(part: Part, title: str, target: Part, path: str) -> None:
    """Gives what is said its name, and the place of the fact it is about."""
    facts: Any = part.facts
    facts["title"] = title
    part.label = f"{facts['by']} on the {title.removeprefix('the ')} of {target.label}"
    place = target.where(path)
    part.elsewhere = {**part.elsewhere, "agrees": place, "fact": place}


def _compare_phrase(part: Part, group: Group, target: Part, printed: Any) -> str:
    """Compares facts that are written as one text; what the print leaves out is not compared."""
    facts: Any = part.facts
    how, path = group.phrase, group.path
    assert how is not None
    _call(part, group.title, target, path)
    own = {piece.name: target.facts.get(f"{path}/{piece.name}") for piece in how.pieces}
    if target.facts.get(path) is ABSENT or printed is None:
        facts["fact"] = "none" if target.facts.get(path) is ABSENT else write(how, own)
        facts["agrees"] = printed is None and target.facts.get(path) is ABSENT
        return ""
    try:
        said = parse(how, str(printed), defaults=False)
        found = [None if own[name] is None else agrees(value, own[name], group.fields[name])
                 for name, value in said.items()]  # fmt: skip
    except ValueError as fault:
        return str(fault)
    facts["fact"] = write(how, own)
    if False in found or None not in found:
        facts["agrees"] = False not in found
    return ""


def _speaker(part: Part, claim: Part, whole: Part, ids: Mapping[str, Part]) -> None:
    """Gives what is said its source: the kind of the document, "label", or the word that is given for who says it.

    A document of no kind, and a name that a document not listed could have, leave it open.
    """
    facts: Any = part.facts
    by = claim.facts.get("by")
    facts["by"] = by or "somebody"
    speaker = ids.get(str(by))
    if by is None:
        part.elsewhere = {"source": claim.where("by")}
    elif speaker is not None and speaker.kind == "documents":
        part.elsewhere = {"source": speaker.where("kind")}
        if "kind" in speaker.facts:
            facts["source"] = speaker.facts["kind"]
    elif speaker is not None:
        facts["source"] = "label"
    elif by in known_speakers() or whole.links["documents"] is not None:
        facts["source"] = by
    else:
        part.elsewhere = {"source": "/documents"}


@lru_cache(maxsize=1)
def known_speakers() -> frozenset[str]:
    """The words for who says something without being described: kinds of document, too, where one can be meant."""
    return frozenset((*SPEAKERS, *part_types()["documents"].fields["kind"].choices))


def said_at(document: Any, pointer: str) -> Any:
    """What the description says at a pointer to one thing that a claim says."""
    for step in pointer.split("/")[1:]:
        key = step.replace("~1", "/").replace("~0", "~")
        document = document[int(key)] if isinstance(document, list) else document[key]
    return document


def format_value(value: Any, unit: str = "") -> str:
    """A value as a person writes it."""
    if value is None or value is ABSENT:
        return "none"
    if isinstance(value, list | tuple):
        return ", ".join(map(str, value)) or "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.10g}{unit_words(unit)}" if isinstance(value, int | float) else str(value)


def agrees(printed: Any, fact: Any, field: Field) -> bool:
    """Whether what is printed agrees with a fact.

    A number agrees when it is the fact rounded to the last digit that is printed; a text when letters and figures are
    the same, in addresses with the usual short forms; a listing when it names the same standard, whatever the part.

    Args:
        printed: as it stands in the claim.
        fact: of the kind the field has, or ``ABSENT``.
        field: what both are about.

    Raises:
        ValueError: where the print can't be read as such a fact; with what was wrong, in half a sentence.
    """
    if printed is None or fact is ABSENT:
        return printed is None and fact is ABSENT
    if field.many:
        said = printed if isinstance(printed, list) else [printed]
        return {_plain(one, field) for one in said} == {_plain(one, field) for one in fact}
    if field.kind == "number":
        value, off = reading(printed, field.unit)
        return bool(abs(value - fact) <= off * (1 + 1e-9) + 1e-9 * abs(value))
    if field.kind == "flag":
        return bool(printed == fact or (isinstance(printed, str) and printed.lower() == ("yes" if fact else "no")))
    return _plain(printed, field) == _plain(fact, field)


def reading(printed: Any, unit: str) -> tuple[float, float]:
    """A printed number in a unit, and how far from it a value may be that is printed so.

    Raises:
        ValueError: where it is no such number.
    """
    if isinstance(printed, bool) or not isinstance(printed, int | float | str):
        raise ValueError("is no number")
    return _reading(printed, unit)


@lru_cache(maxsize=4096, typed=True)
def _reading(printed: float | str, unit: str) -> tuple[float, float]:
    text = printed if isinstance(printed, str) else f"{Decimal(str(printed)):f}"
    value = read_quantity(text, unit)
    last = _LAST.search(text)
    if last is None or "/" in text:
        return value, 0.0
    step = f"{Decimal(5).scaleb(-1 - len(last[2] or '')):f} {last[3].strip()}".strip()
    return value, abs(read_quantity(step, unit) - read_quantity(f"0 {last[3].strip()}".strip(), unit))


def _plain(said: Any, field: Field) -> str:
    """A text without what makes no difference."""
    return _letters(str(said), field.path.rpartition("/")[2])


@lru_cache(maxsize=4096)
def _letters(text: str, of: str) -> str:
    text = text.casefold()
    if of == "listing":
        standard = _STANDARD.search(text)
        return "".join(standard.groups()).casefold() if standard else text.strip()
    words = re.findall(r"\w+", text)
    if of == "address":
        return " ".join(_SHORT.get(word, word) for word in words)
    return "".join(words)


def total(name: str, parts: Mapping[str, Sequence[Part] | None]) -> float | None:
    """A total of the whole; None where something it rests on is not known.

    Args:
        name: one of :data:`TOTALS`.
        parts: by type; None for a list that is not given or may go on.
    """
    modules, inverters, electronics = (parts[kind] for kind in ("modules", "inverters", "module_electronics"))
    if name in ("dc_power", "module_count"):
        return _sum(modules, ("quantity", "max_power") if name == "dc_power" else ("quantity",))
    micros = None if electronics is None or any("kind" not in one.facts for one in electronics) else [
        one for one in electronics if one.facts["kind"] == "microinverter"]  # fmt: skip
    one, several = ((), ("quantity",)) if name == "inverter_count" else (("ac_power",), ("quantity", "ac_power"))
    whole, small = _sum(inverters, one), _sum(micros, several)
    return None if whole is None or small is None else whole + small


def _sum(parts: Sequence[Part] | None, factors: Sequence[str]) -> float | None:
    """The sum over parts of the product of some of their facts; None where one is not known."""
    out = 0.0
    for part in parts if parts is not None else ():
        product = 1.0
        for path in factors:
            value = part.facts.get(path)
            if value is None or value is ABSENT:
                return None
            product *= value
        out += product
    return None if parts is None else out
