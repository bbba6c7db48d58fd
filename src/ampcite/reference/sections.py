"""The map of section numbers between editions: where a subject stands in each edition of its code.

Codes move their sections about, so that a reviewer who knows a number of one edition needs that of another. The map is
a table beside this file, which no rule reads, and what the packs' rules cite by edition. A section nobody saw is left
open there, one that rests on memory or is in doubt says so, and each subject names where the rest was read.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path

import attrs

from ampcite.base.editions import CODES
from ampcite.base.errors import Complaint, InputError, nearest
from ampcite.law.records import Citation, Pack
from ampcite.law.section import plain, within

READ, MEMORY, DOUBTFUL = "read", "memory", "doubtful"
NONE = "none"
FILE = "sections.csv"


@attrs.frozen
class Subject:
    """One subject of a code, through its editions.

    Attributes:
        code: ``electrical`` or ``building``.
        name: the subject in plain words.
        sections: the sections of each edition; none where the edition has no such thing. An edition that nobody looked
            at is left out.
        standing: ``memory`` or ``doubtful``, by edition; left out, the sections were read.
        source: where they were read.
        note: what changed in substance, or what is in doubt.
    """

    code: str
    name: str
    sections: Mapping[int, tuple[str, ...]]
    standing: Mapping[int, str]
    source: str
    note: str = ""

    def words(self, edition: int) -> str:
        """The sections of an edition and how well they are known, as one would say them."""
        if edition not in self.sections:
            return "not known"
        doubt = self.standing.get(edition, READ)
        return ("; ".join(self.sections[edition]) or NONE) + ("" if doubt == READ else f" ({doubt})")


def parse(text: str, file: str = FILE) -> tuple[Subject, ...]:
    """The subjects of a map written as CSV.

    Raises:
        InputError: with every line that can't be used.
    """
    header, *lines = [*csv.reader(io.StringIO(text))] or [[]]
    if lacking := [name for name in ("code", "subject", "status", "source", "note") if name not in header]:
        raise InputError([Complaint(file, "line 1", f"has no column {', '.join(lacking)}")])
    years = [int(name) for name in header if name.isdecimal()]
    found: dict[tuple[str, str], Subject] = {}
    complaints = []
    for number, cells in enumerate(lines, 2):
        row = dict(zip(header, cells, strict=False))
        said = _fault(header, cells, row, years)
        if not said and (row["code"], row["subject"]) in found:
            said = f'names the subject "{row["subject"]}" again; keep one'
        if said:
            complaints.append(Complaint(file, f"line {number}", said))
            continue
        sections = {year: () if row[str(year)] == NONE else tuple(row[str(year)].split("; "))
                    for year in years if row[str(year)]}  # fmt: skip
        standing = {int(year): doubt for year, doubt in (part.split() for part in row["status"].split("; ") if part)}
        found[row["code"], row["subject"]] = Subject(row["code"], row["subject"], sections, standing,
                                                     row["source"], row["note"])  # fmt: skip
    if complaints:
        raise InputError(complaints)
    return tuple(found.values())


def _fault(header: list[str], cells: list[str], row: Mapping[str, str], years: list[int]) -> str:
    """What is wrong with a line of the map, or ""."""
    if len(cells) != len(header):
        return f"has {len(cells)} cells; the header has {len(header)}"
    if row["code"] not in CODES:
        return f'is of the code "{row["code"]}"; {nearest(row["code"], CODES)}'
    if not row["source"]:
        return "says nowhere where it was read"
    for part in filter(None, row["status"].split("; ")):
        year, _, doubt = part.partition(" ")
        if doubt not in (MEMORY, DOUBTFUL) or not year.isdecimal() or int(year) not in years or not row[year]:
            return f'has the status "{part}"; it is written as an edition of this line and "{MEMORY}" or "{DOUBTFUL}"'
    return ""


@cache
def shipped() -> tuple[Subject, ...]:
    """The map that ships with the package."""
    return parse((Path(__file__).parent / FILE).read_text("utf-8"))


def cited(packs: Iterable[Pack]) -> tuple[Subject, ...]:
    """What packs cite, where its number changes from one edition to another, as subjects beside the map's."""
    found = {}
    for pack in packs:
        for code, subject, citations, years in _citing(pack):
            cites = {y: "; ".join(said for c in citations if (said := c.clause.at(y))) for y in years}
            sections = {y: tuple(said.split("; ")) for y, said in cites.items() if said}
            if len(set(sections.values())) < 2:
                continue
            read = {y: pack.sources[key] for y in sections if (key := citations[0].read.at(y))}
            unsure = {y: MEMORY for y, source in read.items() if not source.body}
            sources = dict.fromkeys(source.title for source in read.values())
            found[code, subject, str(sections)] = Subject(code, subject, sections, unsure, "; ".join(sources))
    return tuple(found.values())


def _citing(pack: Pack) -> Iterator[tuple[str, str, list[Citation], list[int]]]:
    """Code, subject, clauses of one reading and editions of all in a pack that cites a code by edition: of a rule
    those of the code it goes by, for whichever parts."""
    for rule in pack.rules.values():
        together: dict[tuple[str, str], list[Citation]] = {}
        for c in rule.citations:
            if c.work.code == rule.code:
                together.setdefault((c.work.title, str(c.read)), []).append(c)
        for (title, _), citations in together.items():
            if "{edition}" in title:
                yield rule.code, rule.title, citations, [y for y in pack.editions[rule.code] if rule.in_force(y)]
    figures = [(p.meaning, p.value, p.citation) for p in pack.parameters.values()]
    for meaning, by, c in (*figures, *((t.meaning, t.files, t.citation) for t in pack.tables.values())):
        if "{edition}" in c.work.title:
            yield c.work.code, meaning, [c], [y for y in pack.editions[c.work.code] if by.at(y) is not None]


def editions(subjects: Iterable[Subject], code: str) -> list[int]:
    """The editions of a code that a map speaks of."""
    return sorted({year for subject in subjects if subject.code == code for year in subject.sections})


def about(section: str, subjects: Iterable[Subject], edition: int | None = None) -> list[Subject]:
    """The subjects that stand in a section, in parts of it, or in what it is part of; those of just this number first.

    Args:
        section: a number as one writes it, such as ``690.12(B)`` or ``NEC 2020 Table 310.16``.
        subjects: the map.
        edition: look in this edition only; by default in every one.
    """
    asked = plain(section)
    exact, near = [], []
    for subject in subjects:
        named = {plain(s) for year, texts in subject.sections.items() if edition in (None, year) for s in texts}
        if asked in named:
            exact.append(subject)
        elif any(within(asked, one) or within(one, asked) for one in named):
            near.append(subject)
    return exact + near


def unknown(section: str, subjects: Iterable[Subject], edition: int | None = None) -> str:
    """One sentence for a section that no subject stands in, with the nearest number."""
    known = [s for subject in subjects for year, texts in subject.sections.items() if edition in (None, year)
             for s in texts]  # fmt: skip
    where = f" in the {edition} edition" if edition else ""
    return f'the map has no subject at "{section}"{where}; {nearest(section, known)}'


def as_text(chosen: Iterable[Subject], subjects: Collection[Subject]) -> str:
    """Subjects of a map for reading: a heading each, then the sections edition by edition, equal ones together."""
    years = {code: editions(subjects, code) for code in CODES}
    lines = []
    for subject in chosen:
        lines += ["", f"{subject.name} ({CODES[subject.code]})"]
        spans: list[tuple[list[int], str]] = []
        for year in years[subject.code]:
            if spans and spans[-1][1] == subject.words(year):
                spans[-1][0].append(year)
            else:
                spans.append(([year], subject.words(year)))
        lines += [f"  {', '.join(map(str, span)):<28}  {said}" for span, said in spans]
        lines.append(f"  Read in: {subject.source}.")
        lines += [f"  {subject.note[0].upper()}{subject.note[1:]}."] if subject.note else []
    return "\n".join(lines[1:]) + "\n"
