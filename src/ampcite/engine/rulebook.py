"""A rulebook: packs bound for one edition, compiled and ready; kept on disk between runs."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import attrs

from ampcite.base.cache import key_of, read_cache, stamps_of, write_cache
from ampcite.base.editions import CODES, Editions
from ampcite.base.errors import Complaint, PackError
from ampcite.base.frozen import frozen
from ampcite.engine.kept import Kept, pack, unpack
from ampcite.engine.machine import Machine, compiled
from ampcite.engine.plan import Bound
from ampcite.law.files import DATA, PackUsed, content
from ampcite.law.head import head


@attrs.frozen(eq=False)
class Rulebook:
    """The rules of one or more packs at one edition.

    Attributes:
        editions: the edition of each code.
        law: why this law applies, in sentences.
        codes: what that law says of the codes in force, for descriptions that leave it out.
        packs: the packs it was made of, with version and content digest.
        bound: the rules, their formulas checked and settled.
        code: what was generated from them.
        hold_unconfirmed: whether a rule of which no clause was read anywhere warns instead of failing.
        machine: what runs them.
    """

    editions: Editions = attrs.field(converter=frozen)
    law: tuple[str, ...]
    codes: Mapping[str, object] = attrs.field(converter=frozen)
    packs: tuple[PackUsed, ...]
    bound: Bound = attrs.field(repr=False)
    code: tuple[bytes, ...] = attrs.field(repr=False)
    hold_unconfirmed: bool = False
    machine: Machine = attrs.field(init=False, repr=False)

    def __attrs_post_init__(self) -> None:
        object.__setattr__(self, "machine", Machine(self.bound, self.code, self.hold_unconfirmed))

    @property
    def given(self) -> Mapping[str, object]:
        """What law says of every house, by the path of a fact of the whole: the codes in force, and what layers set."""
        return {**{f"codes/{key}": value for key, value in self.codes.items()}, **self.bound.facts}

    def for_law(self, law: tuple[str, ...], codes: Mapping[str, object]) -> Rulebook:
        """The same rules for another application of the same span of dates, whose law is told in other words."""
        out = object.__new__(Rulebook)
        for field in attrs.fields(Rulebook):
            object.__setattr__(out, field.name, getattr(self, field.name))
        object.__setattr__(out, "law", law)
        object.__setattr__(out, "codes", frozen(codes))
        return out

    def __reduce__(self) -> tuple[type[Rulebook], tuple[Any, ...]]:
        return Rulebook, (self.editions, self.law, self.codes, self.packs, self.bound, self.code, self.hold_unconfirmed)


def rulebook_of(bound: Bound, packs: tuple[PackUsed, ...] = ()) -> Rulebook:
    """A rulebook of rules that are already bound."""
    return Rulebook(bound.editions, (), {}, packs, bound, compiled(bound))


def load(
    editions: Editions,
    packs: Sequence[Path],
    dependencies: Sequence[Path] = (),
    date: str = "",
    law: tuple[str, ...] = (),
    codes: Mapping[str, object] | None = None,
) -> Rulebook:
    """The rulebook of packs (given by folder) at an edition of each code.

    The first call for a content reads, checks and compiles the packs and keeps the result in the user's cache
    folder (``AMPCITE_CACHE`` names another by its full path; empty turns it off); later calls take it from there.

    Args:
        editions: the edition of each code; the rules of a code that is left out are not asked.
        packs: the packs whose rules are asked.
        date: the date of the application, year-month-day, on which changes of local law may depend.
        law: why this law applies, in sentences that the report repeats.
        codes: what it says of the codes in force, by the fields of a description's ``codes``.
        dependencies: packs of which only the figures, tables and quantities are used.

    Raises:
        PackError: with every fault found in the packs, or when no pack knows an edition.
    """
    key = _key(editions, packs, dependencies, date)
    data = read_cache(key)
    kept = unpack(data) if data is not None else None
    if kept is None:
        kept = _build(editions, packs, dependencies, date)
        write_cache(key, pack(kept))
    names, bound, code = kept
    return Rulebook(editions, law, codes or {}, names, bound, code)


def span(layers: Sequence[Path], date: str) -> str:
    """Where a date stands among those that layers name: all applications of one span have the same rules."""
    files = [content(where) for where in layers]
    named = {d for pack in files for name, data in pack.items() if name.endswith(".toml")
             for d in re.findall(rb'"(\d{4}-\d\d-\d\d)"', data)}  # fmt: skip
    before = [d for d in sorted(named) if d < date.encode()]
    return repr((before, date if date.encode() in named else ""))


def _build(editions: Editions, folders: Sequence[Path], dependencies: Sequence[Path], date: str) -> Kept:
    from ampcite.engine.bind import bind
    from ampcite.law.load import load_pack

    if not folders:
        raise PackError([Complaint("", "", "no pack is loaded")])
    packs = [load_pack(folder) for folder in folders]
    lent = [load_pack(folder) for folder in dependencies]
    for code, edition in editions.items():
        known = sorted({year for pack in packs for year in pack.editions[code]})
        if known and edition not in known:
            said = f"editions known: {', '.join(map(str, known))}"
            raise PackError([Complaint("", "", f"no pack has rules for the {edition} {CODES[code]}; {said}")])
    layers = [pack for pack in packs if pack.authority]
    if layers:
        from ampcite.law.overlay import amend

        packs = amend([pack for pack in packs if not pack.authority], layers, editions, date)
    bound = bind([*packs, *lent], editions, frozenset(pack.name for pack in lent))
    used = sorted([*packs, *lent], key=lambda pack: (pack.order, pack.name))
    names = tuple(PackUsed(pack.name, pack.version, pack.digest) for pack in used)
    return names, bound, compiled(bound)


# --- what is kept between runs -------------------------------------------------------------------------------


def _key(editions: Editions, packs: Sequence[Path], dependencies: Sequence[Path], date: str) -> str:
    """What a rulebook is kept under; "" where its packs can't be read (loading says why)."""
    try:
        stamps = [[stamps_of(where, DATA) for where in some] for some in (packs, dependencies)]
        layers = [where for where in packs if head(where).layer] if date else []
        when = span(layers, date) if layers else ""
    except (OSError, ValueError):
        return ""
    return key_of(sorted(editions.items()), stamps, when)
