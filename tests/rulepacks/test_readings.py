"""How far the figures, tables and clauses of the packs were read, counted against what was aimed at."""

import json
from collections import Counter
from collections.abc import Iterator

import pytest

import ampcite
from ampcite.base.editions import BUILDING, ELECTRICAL
from ampcite.law.load import load_pack
from ampcite.law.records import Citation, Pack
from ampcite.law.registry import pack_folders
from ampcite.law.standing import (
    ARTICLE,
    CARRIED,
    MEMORY,
    PRACTICE,
    READ,
    STANDINGS,
    UNREAD,
    of_citation,
    of_rule,
    of_source,
)
from shared import SHIPPED, rulebook

PACKS = [pack for pack in map(load_pack, pack_folders().values()) if not pack.authority]

AIMS = {
    (ELECTRICAL, 2017): 25, (ELECTRICAL, 2020): 65, (ELECTRICAL, 2023): 20,
    (BUILDING, 2018): 47 // 2, (BUILDING, 2021): 87 // 2, (BUILDING, 2024): 137 // 2,
}  # fmt: skip
"""What may rest on memory at an edition: fewer than 25, 65 and 20; of the building codes half of what once did."""


def cited(pack: Pack) -> Iterator[tuple[str, Citation, int, str]]:
    """What a rule, figure or table cites at each edition that has it, with its standing: clauses of one work that were
    read in one place count once, whether they are printed together or each for its parts."""
    for rule in pack.rules.values():
        seen = set()
        for one in rule.citations:
            for year in pack.editions[one.work.code]:
                place = one.work.title, year, one.read.at(year)
                if (one.work.code != rule.code or rule.in_force(year)) and one.clause.at(year) is not None:
                    if place not in seen:
                        yield rule.id, one, year, of_citation(pack, one, year)
                    seen.add(place)
    things = [(p.name, p.value, p.citation) for p in pack.parameters.values()]
    for name, by, one in things + [(t.name, t.files, t.citation) for t in pack.tables.values()]:
        for year in pack.editions[one.work.code]:
            if by.at(year) is not None:
                yield name, one, year, of_citation(pack, one, year, by.at)


ALL = [(pack, *one) for pack in PACKS for one in cited(pack)]
UNREAD_BY = Counter((one.work.code, year) for _, _, one, year, found in ALL if found in UNREAD)


@pytest.mark.parametrize(("code", "year"), AIMS)
def test_few_rest_on_memory_at_the_editions_whose_text_is_at_hand(code: str, year: int) -> None:
    assert UNREAD_BY[code, year] < AIMS[code, year] + (code == BUILDING)


def test_the_whole_rests_on_memory_in_a_quarter_at_most() -> None:
    """Those of 2026 that are carried on from 2023 are counted as unread, as they are."""
    assert sum(UNREAD_BY.values()) <= 1054


def test_no_reading_lacks_a_place_in_its_source() -> None:
    """In a text the place is the clause itself; an article names what it was read about in its title or note."""
    lacking = []
    for pack, name, one, year, found in ALL:
        key = one.read.at(year)
        source = pack.sources[key] if key else None
        if found in UNREAD or source is None or not source.body:
            continue
        if not (one.clause.at(year) or "").strip() or not source.title or not source.year:
            lacking.append((pack.name, name, year, key))
    assert lacking == []


def test_a_source_without_a_body_is_memory_or_practice() -> None:
    for pack in PACKS:
        for source in pack.sources.values():
            assert source.body or any(word in source.title for word in ("memory", "practice")), source.title
            assert not (source.article and not source.body)


def test_a_source_that_says_it_is_not_the_text_counts_as_an_article() -> None:
    for pack in PACKS:
        for source in pack.sources.values():
            told = ("not the text", "was not read", "were not read", "Second hand", "trade article", "forum")
            if source.body and any(words in f"{source.title} {source.note}" for words in told):
                assert of_source(source) == ARTICLE, (pack.name, source.key)


def test_what_2026_carries_on_unread_is_told_from_what_was_read_nowhere() -> None:
    """Only where the clause and the figure are those of 2023, and were read there."""
    newest = Counter(found for _, _, one, year, found in ALL if (one.work.code, year) == (ELECTRICAL, 2026))
    assert newest[CARRIED] > 400 > 50 > newest[MEMORY]
    for pack, name, one, year, found in ALL:
        if found == CARRIED:
            assert year == 2026
            assert one.clause.at(2026) == one.clause.at(2023), name
            assert of_citation(pack, one, 2023) in (READ, ARTICLE), name


def test_a_rule_stands_as_its_weakest_clause_or_figure() -> None:
    electrical = next(pack for pack in PACKS if pack.name == "electrical")
    rule = electrical.rules["conductor-too-small-before-correction"]
    assert {of_citation(electrical, one, 2023) for one in rule.citations if one.clause.at(2023)} == {READ}
    assert of_rule(electrical, rule, {ELECTRICAL: 2023}) == MEMORY  # the table of insulations was not read
    assert of_rule(electrical, rule, {ELECTRICAL: 2017}) == PRACTICE  # how many conductors a circuit has


def test_a_finding_and_its_json_say_how_far_its_rule_was_read() -> None:
    report = ampcite.check(rulebook(2023), ampcite.read(SHIPPED["plain-strings"]))
    assert {f.standing for f in report.findings} <= set(STANDINGS)
    told = json.loads(ampcite.to_json(report, passes=True))
    one = next(f for f in report.findings if f.rule == "conductor-too-small-before-correction")
    assert told["rules"][one.rule]["standing"] == one.standing == MEMORY
    assert {source["standing"] for source in told["sources"]} <= set(STANDINGS)
