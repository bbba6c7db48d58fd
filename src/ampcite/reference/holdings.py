"""A section looked up: the rules, figures, tables and questions that packs have of it, for whoever changes it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ampcite.base.editions import CODES, Editions
from ampcite.language.units import unit_words
from ampcite.law.records import Citation, Pack, Parameter, Rule, TableSpec
from ampcite.law.section import Held, held

MOST_KEYS = 12


def as_text(packs: Sequence[Pack], section: str, edition: int | None = None) -> str:
    """What packs have of a section, for reading; "" where it is nothing.

    Args:
        packs: the packs.
        section: a number as one writes it.
        edition: a year of either code; by default the latest of each that has the section.
    """
    known = {code: sorted({year for pack in packs for year in pack.editions[code]}, reverse=True) for code in CODES}
    lines: list[str] = []
    for code, years in known.items():
        for year in years if edition is None else [edition] if edition in years else []:
            found = held(packs, section, {code: year})
            if found:
                lines += _lines(found, section, {code: year})
                break
    return "\n".join(lines) + "\n" if lines else ""


def _lines(found: Held, section: str, editions: Editions) -> Iterator[str]:
    years = ", ".join(f"{CODES[code]} {year}" for code, year in editions.items())
    if found.rules:
        yield f"Rules that rest on {section} ({years}):"
        for rule in found.rules.values():
            yield from _rule(rule, editions)
        listed = ", ".join(f'"{name}"' for name in found.rules)
        yield f'  To change it as a whole: section = "{section}", rules = [{listed}]'
    if found.besides:
        yield f"Rules that cite {section} besides another clause:"
        for rule in found.besides.values():
            yield from _rule(rule, editions)
    if found.figures:
        yield f"Figures of {section}:"
        yield from (_figure(one, editions) for one in found.figures.values())
    if found.tables:
        yield f"Tables of {section}:"
        for table in found.tables.values():
            yield from _table(table, editions)


def _clause(citation: Citation, editions: Editions) -> str:
    return citation.clause.at(editions.get(citation.work.code)) or ""


def _rule(rule: Rule, editions: Editions) -> Iterator[str]:
    kind = "question to a person on site" if rule.asks else rule.force
    yield f"  {rule.id} ({kind}; {_clause(rule.rests_on, editions)})"
    yield f"    {rule.title}"
    edition = editions[rule.code]
    ways = [way.name for way in rule.alternatives if (way.begins or 0) <= edition < (way.withdrawn or 9999)]
    if ways:
        yield f"    ways to keep it: {', '.join(ways)}"


def _figure(one: Parameter, editions: Editions) -> str:
    value = one.value.at(editions.get(one.citation.work.code))
    stricter = f"; {one.stricter} is stricter" if one.stricter != "neither" else ""
    return (f"  {one.name} = {value}{unit_words(one.unit)} ({_clause(one.citation, editions)}{stricter})\n"
            f"    {one.meaning}")  # fmt: skip


def _table(one: TableSpec, editions: Editions) -> Iterator[str]:
    header, *rows = one.rows[one.files.at(editions.get(one.citation.work.code)) or ""]
    at = header.index(one.row_header)
    keys = [row[at] for row in rows]
    more = ", ..." if len(keys) > MOST_KEYS else ""
    yield f"  {one.name} ({_clause(one.citation, editions)})"
    yield f"    {one.meaning}"
    yield f"    rows ({one.row_header}): {', '.join(keys[:MOST_KEYS])}{more}"
    columns = [name for i, name in enumerate(header) if i != at]
    if columns:
        yield f"    columns: {', '.join(columns)}"
