"""The map of section numbers between editions: looked up, printed, and held to the clauses the packs cite.

Sources: the map's own, named line by line in ``src/ampcite/sections.csv``; the lines invented here are marked so.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from ampcite.base.editions import ELECTRICAL
from ampcite.base.errors import InputError
from ampcite.command.main import main
from ampcite.law.records import Citation
from ampcite.reference import sections as room
from ampcite.reference.sections import FILE, about, as_text, editions, parse, shipped, unknown
from ampcite.reference.sections import cited as rules_cite
from shared import EDITIONS, PACKS

MAP = shipped()
HEAD = "code,subject,2017,2020,2018,2021,status,source,note\n"
LINE = 'electrical,"an invented subject",1.1(A),1.2(B); 1.3,,,2020 memory,nowhere (invented),\n'
"""A map of one invented subject."""


def names(section: str, edition: int | None = None) -> list[str]:
    return [subject.name for subject in about(section, MAP, edition)]


def test_the_map_speaks_of_every_edition_and_is_kept_beside_its_room() -> None:
    assert editions(MAP, "electrical") == [2014, 2017, 2020, 2023, 2026]
    assert editions(MAP, "building") == [2015, 2018, 2021, 2024]
    assert (Path(room.__file__).parent / FILE).is_file()
    assert all(subject.source and subject.sections for subject in MAP)


def test_a_map_is_read_as_it_is_written() -> None:
    (subject,) = parse(HEAD + LINE)
    assert subject.sections == {2017: ("1.1(A)",), 2020: ("1.2(B)", "1.3")}
    assert [subject.words(year) for year in (2017, 2020, 2021)] == ["1.1(A)", "1.2(B); 1.3 (memory)", "not known"]
    (gone,) = parse(HEAD + LINE.replace("1.1(A)", "none"))
    assert gone.words(2017) == "none" and gone.sections[2017] == ()


@pytest.mark.parametrize(
    ("section", "subject"),
    [
        ("690.56(C)", "rapid shutdown, labels"),
        ("690.12(D)", "rapid shutdown, labels"),
        ("NEC 2020 Table 310.16", "ampacity in raceway, cable or earth"),
        ("§ 310.15 (B)(7)", "83 percent for dwelling services and main feeders"),
        ("article 120", "load calculation"),
        ("IRC R328", "energy storage in dwellings, residential code"),
        ("690.9(a) exception", "PV circuits without overcurrent device"),
    ],
)
def test_a_number_is_found_however_it_is_written(section: str, subject: str) -> None:
    assert subject in names(section)


def test_a_section_brings_its_parts_and_what_it_is_part_of_but_not_its_neighbours() -> None:
    assert names("690.12(B)(2)(1)")[0].startswith("rapid shutdown")
    assert "rapid shutdown, limits inside the boundary" in names("690.12")
    assert names("690.1") == []
    assert names("690.7(B)(2)")[0] == "voltage of dc-to-dc converters"
    assert names("") == [] and names("  ") == []


def test_an_edition_narrows_the_search() -> None:
    assert "rapid shutdown, labels" in names("690.12(D)", 2023)
    assert "rapid shutdown, labels" not in names("690.12(D)", 2017)
    assert names("690.12(D)", 1999) == []


def test_every_section_leads_back_to_its_subject() -> None:
    for subject in MAP:
        for year, sections in subject.sections.items():
            for section in sections:
                assert subject in about(section, MAP, year), section


def test_what_is_not_there_is_answered_with_the_nearest_number() -> None:
    assert unknown("690.77", MAP) == 'the map has no subject at "690.77"; did you mean "690.7"?'
    assert "in the 1999 edition; none is known here" in unknown("690.7", MAP, 1999)


def test_equal_editions_are_told_together() -> None:
    text = as_text(about("690.56(C)", MAP)[:1], MAP)
    assert text.startswith("rapid shutdown, labels (electrical code)\n")
    assert re.search(r"^  2014, 2017, 2020 +690\.56\(C\)$", text, re.M)
    assert re.search(r"^  2026 +not known$", text, re.M) and "Read in: " in text


# --- bad input --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "has no column code, subject"),
        ("code,subject\n", "has no column status"),
        (HEAD + LINE.replace("electrical", "electrcal"), 'did you mean "electrical"?'),
        (HEAD + LINE.replace("nowhere (invented)", ""), "nowhere where it was read"),
        (HEAD + LINE.replace("2020 memory", "2020 hearsay"), 'the status "2020 hearsay"'),
        (HEAD + LINE.replace("2020 memory", "2018 memory"), 'the status "2018 memory"'),
        (HEAD + LINE.replace("2020 memory", "memory"), 'the status "memory"'),
        (HEAD + LINE + LINE, "again; keep one"),
        (HEAD + "electrical,short\n", "has 2 cells; the header has 9"),
    ],
)
def test_a_map_that_can_not_be_used(text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        parse(text, "mine.csv")
    assert said in str(caught.value) and str(caught.value).startswith("mine.csv: line ")


def test_every_fault_of_a_map_is_named() -> None:
    bad = LINE.replace("electrical", "x")
    with pytest.raises(InputError) as caught:
        parse(HEAD + bad + LINE + bad)
    assert [c.place for c in caught.value.complaints] == ["line 2", "line 4"]


# --- the command line -------------------------------------------------------------------------------------------


def test_the_command() -> None:
    out = CliRunner().invoke(main, ["sections", "690.31(G)", "--edition", "2017"])
    assert out.exit_code == 0
    assert "dc wiring in buildings and its label" in out.stdout and "690.31(D)" in out.stdout
    assert "not an approval" in " ".join(out.stdout.split())
    whole = CliRunner().invoke(main, ["sections"])
    assert whole.exit_code == 0 and all(subject.name in whole.stdout for subject in MAP)
    lost = CliRunner().invoke(main, ["sections", "690.312"])
    assert lost.exit_code == 2 and "690.31" in lost.stderr and lost.stdout == ""


# --- the packs agree with the map -------------------------------------------------------------------------------


def cited() -> Iterator[tuple[str, Citation, tuple[int, ...]]]:
    """Everything in the packs that cites the electrical code by edition, and the editions in which it is in force."""
    for pack in PACKS.values():
        for rule in pack.rules.values():
            years = tuple(year for year in EDITIONS if rule.in_force(year))
            yield from ((rule.id, citation, years) for citation in rule.citations)
        for thing in (*pack.parameters.values(), *pack.tables.values()):
            yield thing.name, thing.citation, EDITIONS


def parts(clause: str | None) -> set[str]:
    return {re.sub(r" \(.*\)$| and its Exceptions?$", "", part) for part in (clause or "").split("; ")} - {""}


def parts_by_edition() -> dict[tuple[str, str], dict[int, set[str]]]:
    """By name and reading, what a rule or figure cites of the electrical code at each edition, for whichever parts."""
    found: dict[tuple[str, str], dict[int, set[str]]] = {}
    for name, citation, years in cited():
        if citation.work.code == ELECTRICAL and "{edition}" in citation.work.title:
            by = found.setdefault((name, str(citation.read)), {})
            for year in years:
                by.setdefault(year, set()).update(parts(citation.clause.at(year)))
    return found


CHANGES = sorted(
    {
        (name, before, section, after, tuple(sorted(by[after])))
        for (name, _), by in parts_by_edition().items()
        for before in by
        for after in by
        if before < after and by[before] and by[after]
        for section in by[before] - by[after]
    }
)


def related(one: str, other: str) -> bool:
    return one.startswith(other) or other.startswith(one)


@pytest.mark.parametrize(("name", "before", "section", "after", "ours"), CHANGES)
def test_a_clause_that_moves_moves_as_in_the_map(
    name: str, before: int, section: str, after: int, ours: tuple[str, ...]
) -> None:
    """Where the map has the section a pack cites, one of its subjects there says where the pack says it went."""
    there = [s for s in MAP if section in s.sections.get(before, ()) and s.sections.get(after)]
    went = [theirs for subject in there for theirs in subject.sections[after]]
    assert not went or any(related(theirs, mine) for theirs in went for mine in ours), f"{name}: {went}"


def test_the_map_has_most_of_what_moves() -> None:
    known = {section for subject in MAP for sections in subject.sections.values() for section in sections}
    moved = {section for _, _, section, _, _ in CHANGES}
    assert len(moved & known) >= 0.4 * len(moved)


def test_with_what_rules_cite_the_map_has_nearly_all_that_moves() -> None:
    whole = (*MAP, *rules_cite(PACKS.values()))
    known = {section for subject in whole for sections in subject.sections.values() for section in sections}
    moved = {section for _, _, section, _, _ in CHANGES}
    assert len(moved & known) >= 0.98 * len(moved), ", ".join(sorted(moved - known))
