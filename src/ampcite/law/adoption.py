"""Which law applies: the editions and layers that a jurisdiction has in force for an application of a date."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path

import attrs

from ampcite.base.editions import BUILDING, ELECTRICAL, Editions, codes_in_words
from ampcite.base.errors import Complaint, InputError, PackError, nearest
from ampcite.house.part_types import part_types
from ampcite.language.logic import ABSENT
from ampcite.law.applied import Law
from ampcite.law.changes import DATES, Adoption
from ampcite.law.load import load_pack
from ampcite.law.overlay import precedence
from ampcite.law.records import Pack
from ampcite.law.registry import layers_by_name


@attrs.frozen
class Application:
    """What of an application decides which law applies to it.

    Attributes:
        jurisdiction: the layer of local law that speaks for it, by pack name.
        facts: the facts of the whole, by path; dates stand under ``codes``.
        stated: the editions that the description states: the applicant's choice, where the ordinance leaves one.
        source: what complaints call the description.
    """

    jurisdiction: str
    facts: Mapping[str, object]
    stated: Editions
    source: str

    def wrong(self, place: str, said: str) -> InputError:
        return InputError([Complaint(self.source, f"/{place}", said)])

    def date(self, by: str) -> str:
        """The date that an adoption goes by; "" where it is not stated."""
        return str(self.facts.get(f"codes/{DATES[by]}") or "")


def applicable_law(one: Application, folders: Iterable[Path] = ()) -> Law:
    """The law that a jurisdiction has in force for an application.

    Args:
        one: the application.
        folders: layers of local law to be found besides those installed: before them, where both have a name.

    Raises:
        InputError: when the jurisdiction is not known, a date or fact that decides is not stated, nothing was in
            force then, or the edition stated may not be chosen.
        PackError: when a layer that the jurisdiction has in force is not to be found or can't be used.
    """
    return law_among(one, layers_known(folders))


def layers_known(folders: Iterable[Path] = ()) -> dict[str, Pack]:
    """The layers of local law by name: those installed, and those given, which come first."""
    return {name: load_pack(where) for name, where in layers_by_name(folders).items()}


def law_among(one: Application, packs: Mapping[str, Pack]) -> Law:
    """The same as :func:`applicable_law` among layers that are read already, for those who ask again and again."""
    speaking = _speaking(one.jurisdiction, packs)
    if not speaking:
        said_ = f'is "{one.jurisdiction}", which no layer of local law speaks for; {nearest(one.jurisdiction, packs)}'
        raise one.wrong("codes/jurisdiction", said_)
    who = packs.get(one.jurisdiction, speaking[0][0])
    assert who.authority is not None
    past = _past(one, who, [adoption for _, adoption in speaking])
    now, before = past[-1], past[-2] if len(past) > 1 else None
    day = one.date(now.by)
    open_ = before is not None and day <= now.choice_until
    said = [_in_force(who, _followed(one, now, packs), day)]
    chosen = now
    if not _fits(one.stated, _followed(one, now, packs)):
        if before is None or not open_ or not _fits(one.stated, _followed(one, before, packs)):
            own = _followed(one, now, packs).editions
            code = next(c for c in one.stated if own.get(c, one.stated[c]) != one.stated[c])
            until = f"; what was in force before could be chosen until {now.choice_until}" if now.choice_until else ""
            clause = said[0][0].lower() + said[0][1:-1]
            raise one.wrong(f"codes/{code}_edition", f"is {one.stated[code]}, but {clause}{until}")
        chosen = before
        said.append(f"Until {now.choice_until} the applicant may choose what was in force before, and chose it: "
                    f"{codes_in_words(_followed(one, before, packs).editions)} ({before.ordinance}).")  # fmt: skip
    elif open_ and before is not None and before.editions != now.editions:
        said.append(f"Until {now.choice_until} the applicant may choose what was in force before "
                    f"({codes_in_words(_followed(one, before, packs).editions)}), and did not.")  # fmt: skip
    whole = _followed(one, chosen, packs)
    missing = [layer for layer in whole.layers if layer not in packs]
    if missing:
        said_ = f'has the layer "{missing[0]}" in force, which is not installed; {nearest(missing[0], packs)}'
        raise PackError([Complaint(who.folder, f'adoption "{chosen.begins}"', said_)])
    layers = sorted((packs[layer] for layer in whole.layers), key=precedence)
    names = "; ".join(f"{p.authority.name} ({p.name} {p.version})" for p in layers if p.authority)
    said.append(
        f"Layers of local law, in the order they speak: {names}." if names else "No layer of local law applies."
    )
    later = [adoption for _, adoption in speaking if adoption.begins > chosen.begins and adoption.of == chosen.of]
    dated = one.date("application") or day
    return Law(whole.editions, tuple(Path(p.folder) for p in layers), dated, tuple(said), _codes(whole, later))


def _speaking(jurisdiction: str, packs: Mapping[str, Pack]) -> list[tuple[Pack, Adoption]]:
    """What is adopted for a jurisdiction, in the order of its dates: by its own layer, and by others that name it."""
    found = [(pack, adoption) for name, pack in packs.items() for adoption in pack.adoptions
             if pack.authority and (pack.authority.jurisdiction or name) == jurisdiction]  # fmt: skip
    return sorted(found, key=lambda pair: (pair[1].begins, len(pair[1].of)))


def _past(one: Application, who: Pack, adoptions: Sequence[Adoption]) -> list[Adoption]:
    """What is in force for an application, the latest last; what is only for some houses counts for them alone."""
    assert who.authority is not None
    fitting = [adoption for adoption in adoptions if _is_of(one, adoption)]
    past = []
    for adoption in fitting:
        day = one.date(adoption.by)
        if not day:
            raise one.wrong(f"codes/{DATES[adoption.by]}", "is not given; which law applies depends on it")
        if adoption.begins <= day:
            past.append(adoption)
    if not past:
        first = f"the first begins {fitting[0].begins}" if fitting else "it adopts none at all"
        by = fitting[0].by if fitting else "application"
        said = f"is {one.date(by)}; {who.authority.name} had nothing in force then: {first}"
        raise one.wrong(f"codes/{DATES[by]}", said)
    return past


def _is_of(one: Application, adoption: Adoption) -> bool:
    """Whether an adoption is for the house of an application."""
    for path, values in adoption.of.items():
        if path not in one.facts:
            raise one.wrong(path, "is not given; which law applies depends on it")
        fact = one.facts[path]
        if (None if fact is ABSENT else fact) not in values:
            return False
    return True


def _followed(one: Application, adoption: Adoption, packs: Mapping[str, Pack]) -> Adoption:
    """An adoption with what it takes over of another jurisdiction, as that is on the day or was on another."""
    if not adoption.follows:
        return adoption
    speaking = _speaking(adoption.follows, packs)
    if not speaking:
        raise PackError([Complaint(adoption.file, f'adoption "{adoption.begins}"',
                                   f'follows "{adoption.follows}", for which no layer speaks; '
                                   f"{nearest(adoption.follows, packs)}")])  # fmt: skip
    other = packs.get(adoption.follows, speaking[0][0])
    days = {f"codes/{field}": adoption.as_of for field in DATES.values()} if adoption.as_of else {}
    there = attrs.evolve(one, jurisdiction=adoption.follows, facts={**one.facts, **days})
    theirs = _followed(there, _past(there, other, [each for _, each in speaking])[-1], packs)
    layers = tuple(dict.fromkeys([*theirs.layers, *adoption.layers]))
    return attrs.evolve(adoption, editions={**theirs.editions, **adoption.editions}, layers=layers)


def _codes(chosen: Adoption, later: Sequence[Adoption]) -> dict[str, object]:
    """What an adoption says of the codes; local changes are rules and need no list, placards of theirs no count."""
    until = None
    if later:
        until = later[0].choice_until or (date.fromisoformat(later[0].begins) - timedelta(days=1)).isoformat()
    out: dict[str, object] = {"amendments": [], "local_placards": None}
    for code, prefix in ((ELECTRICAL, ""), (BUILDING, "building_")):
        if code in chosen.editions:
            out |= {f"{code}_edition": chosen.editions[code], f"{prefix}edition_effective_date": chosen.begins,
                    f"{prefix}edition_accepted_until": until}  # fmt: skip
    return out


def _fits(stated: Editions, adoption: Adoption) -> bool:
    return all(adoption.editions.get(code, year) == year for code, year in stated.items())


def _in_force(who: Pack, adoption: Adoption, day: str) -> str:
    assert who.authority is not None
    of = "; ".join(f"{part_types()[''].fields[path].title} {' or '.join(map(str, values))}"
                   for path, values in adoption.of.items())  # fmt: skip
    what = "applications" if adoption.by == "application" else f"houses by the date of the {adoption.by}"
    return (f"{who.authority.name} has {codes_in_words(adoption.editions)} in force for {what} from "
            f"{adoption.begins} ({adoption.ordinance}){f' ({of})' if of else ''}; this one is of {day}.")  # fmt: skip
