"""The marks of a second reader, put into a pack and looked over."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from ampcite.base.errors import Complaint, PackError, nearest
from ampcite.law.records import Mark, Pack
from ampcite.law.second_reader import HEADER, NO_TEXT, RIGHT, content_of, faults
from ampcite.law.sheets import read_rows


class Signature(NamedTuple):
    """What a second reader says: a rule, the editions it was read at, and where; "" where no text is to be had."""

    rule: str
    editions: tuple[int, ...]
    source: str
    place: str


def signatures(data: bytes) -> list[Signature]:
    """Signatures in CSV: rule, editions with spaces between, source and place; empty ones where there is no text.

    Raises:
        PackError: where a line is none.
    """
    rows, wrong = read_rows(data)
    if wrong:
        raise PackError([Complaint("", one.place, one.said) for one in wrong])
    head = ("rule", "editions", "source", "place")
    if rows[0] != head:
        raise PackError([Complaint("", "line 1", f"does not begin with the columns {', '.join(head)}")])
    out = []
    for rule, editions, source, place in rows[1:]:
        if not editions or not all(year.isdecimal() for year in editions.split()):
            raise PackError([Complaint("", rule, f'names the editions "{editions[:60]}"; write years, spaces between')])
        out.append(Signature(rule, tuple(map(int, editions.split())), source, place))
    return out


def signed(pack: Pack, packs: Mapping[str, Pack], new: Iterable[Signature]) -> str:
    """The file of marks of a pack with new ones, without those that no longer hold; "" where no mark is left.

    Args:
        pack: the pack.
        packs: that pack and those it needs, by name.

    Raises:
        PackError: where a signature names no rule, edition or source of the pack.
    """
    lost = {key for key, _ in faults(pack, packs)}
    marks = {key: mark for key, mark in pack.marks.items() if key not in lost}
    for one in new:
        rule = pack.rules.get(one.rule)
        if rule is None:
            raise PackError([Complaint(pack.folder, one.rule, f"is no rule of it; {nearest(one.rule, pack.rules)}")])
        if one.source and one.source not in pack.sources:
            said = f'is read in "{one.source}"; {nearest(one.source, pack.sources)}'
            raise PackError([Complaint(pack.folder, one.rule, said)])
        if bool(one.source) != bool(one.place):
            raise PackError([Complaint(pack.folder, one.rule, "names a source or a place, and not both")])
        for year in one.editions:
            if year not in pack.editions[rule.code] or not rule.in_force(year):
                raise PackError([Complaint(pack.folder, one.rule, f"is not in force at {year}")])
            verdict = RIGHT if one.source else NO_TEXT
            marks[one.rule, year] = Mark(verdict, one.source, one.place, content_of(packs, pack, rule, year))
    if not marks:
        return ""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(HEADER)
    table.writerows((rule, year, m.verdict, m.source, m.place, m.content) for (rule, year), m in sorted(marks.items()))
    return out.getvalue()


def unsigned(pack: Pack, packs: Mapping[str, Pack]) -> Iterator[tuple[str, Sequence[int]]]:
    """Rules that lack a mark, or have lost one, at some edition, with those editions."""
    held = pack.marks.keys() - {key for key, _ in faults(pack, packs)}
    for rule in pack.rules.values():
        years = [year for year in pack.editions[rule.code] if rule.in_force(year) and (rule.id, year) not in held]
        if years:
            yield rule.id, years
