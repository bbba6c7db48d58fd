"""How far a figure, a clause or a rule was read: in a text, in an article about it, or not at all."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache

from ampcite.base.editions import ELECTRICAL, ByEdition, Editions
from ampcite.law.records import Citation, Derived, Pack, Rule, Source

READ = "read in the text"
ARTICLE = "read in an article"
PRACTICE = "common practice"
CARRIED = "carried on from 2023, unread"
MEMORY = "from memory"

STANDINGS = (READ, PRACTICE, ARTICLE, CARRIED, MEMORY)
"""The best first. Practice has no text that could be read."""

UNREAD = frozenset({CARRIED, MEMORY})
"""Those nobody read anything of."""

_NAME = re.compile(r"[a-z][a-z0-9_]*")

_NEWEST = 2026
"""The edition whose text is not to be had; what it shares with the one before was read there alone."""


def of_source(source: Source) -> str:
    """The standing that a source gives; a source without a body is practice or memory."""
    if source.body:
        return ARTICLE if source.article else READ
    return PRACTICE if "practice" in source.title else MEMORY


def of_citation(pack: Pack, citation: Citation, edition: int, figure: Callable[[int], object] = int) -> str:
    """How far a citation was read at an edition.

    Args:
        pack: the pack whose sources it names.
        citation: what is cited; it has a clause at that edition.
        edition: the year.
        figure: what the clause gives at an edition, where it gives a figure or a table.
    """
    key = citation.read.at(edition)
    found = of_source(pack.sources[key]) if key is not None else MEMORY
    if found != MEMORY or edition != _NEWEST or citation.work.code != ELECTRICAL:
        return found
    earlier = max((year for year in pack.editions[ELECTRICAL] if year < edition), default=None)
    if earlier is None or citation.clause.at(earlier) != citation.clause.at(edition):
        return found
    if figure is not int and figure(earlier) != figure(edition):
        return found
    return CARRIED if of_citation(pack, citation, earlier) in (READ, ARTICLE) else found


def weakest(found: Iterable[str]) -> str:
    """The weakest of some standings."""
    return max(found, key=STANDINGS.index, default=MEMORY)


def of_rule(pack: Pack, rule: Rule, editions: Editions, packs: Iterable[Pack] = ()) -> str:
    """How far what a rule rests on was read: the weakest of its clauses and figures.

    Args:
        pack: the pack of the rule.
        rule: the rule, in force at the edition of its code.
        editions: the edition of each code; what is cited of a code without one is left out.
        packs: further packs whose figures it may use.
    """
    found = [of_citation(pack, c, editions[c.work.code]) for c in rule.citations
             if c.work.code in editions and c.clause.at(editions[c.work.code]) is not None]  # fmt: skip
    around = (pack, *(other for other in packs if other is not pack))
    names = names_of(rule, around)
    for owner in around:
        for by, citation in _figures(owner, names):
            edition = editions.get(citation.work.code)
            if edition is not None and by.at(edition) is not None and citation.clause.at(edition) is not None:
                found.append(of_citation(owner, citation, edition, by.at))
    return weakest(found)


def _figures(pack: Pack, names: set[str]) -> Iterator[tuple[ByEdition, Citation]]:
    parameters = (pack.parameters[name] for name in names & pack.parameters.keys())
    tables = (pack.tables[name] for name in names & pack.tables.keys())
    yield from ((one.value, one.citation) for one in parameters)
    yield from ((one.files, one.citation) for one in tables)


def names_of(rule: Rule, packs: Sequence[Pack]) -> set[str]:
    """Every name in the formulas of a rule, and of the quantities that it takes; they are looked for in these packs."""
    text = " ".join([rule.applies, rule.holds, *rule.let.values(), *(way.holds for way in rule.alternatives)])
    names = {*_names(text), *rule.inputs.values()}
    for derived in quantities_of(rule, packs):
        for case in derived.cases:
            names |= _names(f"{case.when} {case.value} {' '.join(case.let.values())}")
    return names


@lru_cache(maxsize=4096)
def _names(text: str) -> frozenset[str]:
    """The names in a text; many rules take the same quantities."""
    return frozenset(_NAME.findall(text))


def quantities_of(rule: Rule, packs: Sequence[Pack]) -> list[Derived]:
    """The quantities that a rule takes, and those that they take, each after what takes it."""
    found: dict[str, Derived] = {}
    todo = sorted({path.rsplit("/", 1)[-1] for path in rule.inputs.values()})
    while todo:
        name = todo.pop(0)
        derived = next((pack.derived[name] for pack in packs if name in pack.derived), None)
        if derived is not None and name not in found:
            found[name] = derived
            todo += sorted({path.rsplit("/", 1)[-1] for path in derived.inputs.values()})
    return list(found.values())
