"""What stands in a section of a code: the rules, figures and tables of packs that rest on it at an edition."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

import attrs

from ampcite.base.editions import Editions
from ampcite.law.records import Citation, Pack, Parameter, Rule, TableSpec


def plain(section: str) -> str:
    """A number as numbers are compared: without the work, the year and the words for section, article and table."""
    text = re.sub(r"^(nec|irc|ifc)\b\s*((19|20)\d\d\b)?", "", section.strip().lower())
    text = re.sub(r"\b(sections?|articles?|art\.|table)(?=[\s\d]|$)|§", "", text)
    return re.sub(r"\s+(?=\()", "", " ".join(text.split())).strip(" .,;:")


def within(part: str, whole: str) -> bool:
    """Whether a plain number is that of a section or of a part of it."""
    return whole != "" and part.startswith(whole) and not part[len(whole) :][:1].isalnum()


@attrs.frozen
class Held:
    """What packs have of a section at an edition of its code.

    Attributes:
        rules: by id, those whose first clause is in it; questions to a person on site among them.
        besides: by id, those that cite it after another.
        figures, tables: by name.
    """

    rules: Mapping[str, Rule]
    besides: Mapping[str, Rule]
    figures: Mapping[str, Parameter]
    tables: Mapping[str, TableSpec]

    def __bool__(self) -> bool:
        return bool(self.rules or self.besides or self.figures or self.tables)


def held(packs: Iterable[Pack], section: str, editions: Editions) -> Held:
    """What packs of the model codes have of a section, at an edition of each code.

    Args:
        packs: the packs; layers of local law are passed over.
        section: a number as one writes it, such as ``230.85``, ``NEC 690.12(B)`` or ``R324.6``.
        editions: the edition of each code.
    """
    asked = plain(section)
    first_in: dict[str, Rule] = {}
    besides: dict[str, Rule] = {}
    figures: dict[str, Parameter] = {}
    tables: dict[str, TableSpec] = {}
    for pack in (one for one in packs if one.authority is None):
        rules = {key: rule for key, rule in pack.rules.items() if _known(pack, rule, editions)}
        for key, rule in rules.items():
            if _in(rule.rests_on, asked, editions):
                first_in[key] = rule
            elif any(_in(one, asked, editions) for one in rule.citations):
                besides[key] = rule
        for name, figure in pack.parameters.items():
            if figure.value.at(editions.get(figure.citation.work.code)) and _in(figure.citation, asked, editions):
                figures[name] = figure
        for name, table in pack.tables.items():
            if table.files.at(editions.get(table.citation.work.code)) and _in(table.citation, asked, editions):
                tables[name] = table
    return Held(first_in, besides, figures, tables)


def _known(pack: Pack, rule: Rule, editions: Editions) -> bool:
    edition = editions.get(rule.code)
    return edition is not None and edition in pack.editions[rule.code] and rule.in_force(edition)


def _in(citation: Citation, asked: str, editions: Editions) -> bool:
    return any(within(one, asked) for one in clauses(citation, editions))


def clauses(citation: Citation, editions: Editions) -> Iterator[str]:
    """The plain numbers that a citation names at an edition."""
    text = citation.clause.at(editions.get(citation.work.code)) or ""
    return (plain(one) for one in text.split("; "))
