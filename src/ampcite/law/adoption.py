"""Which law applies: the editions and layers that a jurisdiction has in force for an application of a date."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import attrs

from ampcite.base.editions import BUILDING, ELECTRICAL, Editions, codes_in_words
from ampcite.base.errors import Complaint, InputError, PackError, nearest
from ampcite.law.changes import Adoption
from ampcite.law.head import head
from ampcite.law.registry import pack_folders

if TYPE_CHECKING:
    from ampcite.law.records import Pack


@attrs.frozen
class Law:
    """The law that applies to one application.

    Attributes:
        editions: the edition of each code.
        layers: the layers of local law, by folder or zip file, in the order they speak.
        date: the date of the application, year-month-day.
        said: why, in sentences that a report repeats.
        codes: what is thereby known of the codes in force, by the fields of a description's ``codes``.
    """

    editions: Editions
    layers: tuple[Path, ...]
    date: str
    said: tuple[str, ...]
    codes: Mapping[str, object] = attrs.Factory(dict)


def applicable_law(jurisdiction: str, day: str, stated: Editions, source: str) -> Law:
    """The law that a jurisdiction has in force for an application.

    Args:
        jurisdiction: the layer of local law that speaks for it, by pack name.
        day: the date of the application, year-month-day; "" where it is not stated.
        stated: the editions that the description states: the applicant's choice, where the ordinance leaves one.
        source: what complaints call the description.

    Raises:
        InputError: when the jurisdiction is not known, the date is not stated, nothing was in force then, or the
            edition stated may not be chosen.
        PackError: when a layer that the jurisdiction has in force is not installed or can't be used.
    """
    known = pack_folders()
    packs = {key: pack for key, where in known.items() if (pack := _layer(where))}

    def wrong(place: str, said: str) -> InputError:
        return InputError([Complaint(source, f"/codes/{place}", said)])

    if jurisdiction not in packs:
        said_ = f'is "{jurisdiction}", which no installed pack speaks for; {nearest(jurisdiction, packs)}'
        raise wrong("jurisdiction", said_)
    if not day:
        raise wrong("application_date", "is not given; which law applies depends on it")
    who = packs[jurisdiction]
    assert who.authority is not None
    past = [one for one in who.adoptions if one.begins <= day]
    if not past:
        first = f"the first begins {who.adoptions[0].begins}" if who.adoptions else "it adopts none at all"
        raise wrong("application_date", f"is {day}; {who.authority.name} had nothing in force then: {first}")
    now, before = past[-1], past[-2] if len(past) > 1 else None
    open_ = before is not None and day <= now.choice_until
    said = [_in_force(who, now, day)]
    chosen = now
    if not _fits(stated, now):
        if before is None or not open_ or not _fits(stated, before):
            code = next(c for c in stated if now.editions.get(c, stated[c]) != stated[c])
            until = f"; what was in force before could be chosen until {now.choice_until}" if now.choice_until else ""
            raise wrong(f"{code}_edition", f"is {stated[code]}, but {said[0][0].lower() + said[0][1:-1]}{until}")
        chosen = before
        said.append(f"Until {now.choice_until} the applicant may choose what was in force before, and chose it: "
                    f"{codes_in_words(before.editions)} ({before.ordinance}).")  # fmt: skip
    elif open_ and before is not None and before.editions != now.editions:
        said.append(f"Until {now.choice_until} the applicant may choose what was in force before "
                    f"({codes_in_words(before.editions)}), and did not.")  # fmt: skip
    missing = [layer for layer in chosen.layers if layer not in packs]
    if missing:
        said_ = f'has the layer "{missing[0]}" in force, which is not installed; {nearest(missing[0], packs)}'
        raise PackError([Complaint(who.folder, f"adoption of {chosen.begins}", said_)])
    from ampcite.law.overlay import precedence

    layers = sorted((packs[layer] for layer in chosen.layers), key=precedence)
    names = "; ".join(f"{p.authority.name} ({p.name} {p.version})" for p in layers if p.authority)
    said.append(
        f"Layers of local law, in the order they speak: {names}." if names else "No layer of local law applies."
    )
    return Law(chosen.editions, tuple(known[p.name] for p in layers), day, tuple(said), _codes(who, chosen))


def _codes(who: Pack, chosen: Adoption) -> dict[str, object]:
    """What an adoption says of the codes; local changes are rules and need no list, placards of theirs no count."""
    later = [one for one in who.adoptions if one.begins > chosen.begins]
    until = None
    if later:
        until = later[0].choice_until or (date.fromisoformat(later[0].begins) - timedelta(days=1)).isoformat()
    out: dict[str, object] = {"amendments": [], "local_placards": None}
    for code, prefix in ((ELECTRICAL, ""), (BUILDING, "building_")):
        if code in chosen.editions:
            out |= {f"{code}_edition": chosen.editions[code], f"{prefix}edition_effective_date": chosen.begins,
                    f"{prefix}edition_accepted_until": until}  # fmt: skip
    return out


def _layer(where: Path) -> Pack | None:
    from ampcite.law.load import load_pack

    return load_pack(where) if head(where).layer else None


def _fits(stated: Editions, adoption: Adoption) -> bool:
    return all(adoption.editions.get(code, year) == year for code, year in stated.items())


def _in_force(who: Pack, adoption: Adoption, day: str) -> str:
    assert who.authority is not None
    return (f"{who.authority.name} has {codes_in_words(adoption.editions)} in force for applications from "
            f"{adoption.begins} ({adoption.ordinance}); this one is of {day}.")  # fmt: skip
