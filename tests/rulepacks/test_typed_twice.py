"""Every table and figure stands twice in the project, typed by two people; both must say the same.

Sources: beside each table and figure in the packs, and in ``second_typing/SOURCES.md`` for the second typing.

One test a file of the second typing; what it says names every line that differs. A line holds for the editions it
names ("from 2023" for that and all later ones), so that a new edition adds lines only for what it changes.

The functions ``agree_on_...`` compare; ``tests/mutation.py`` gives them packs with one figure changed.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from typing import Any

import pytest

from ampcite.law.records import Citation, Pack, Parameter, Rule, TableSpec
from shared import EDITIONS, PACKS, TESTS, years

SECOND = TESTS / "second_typing"
ELECTRICAL = PACKS["electrical"]
TABLES = {
    "conductor_ampacity": "conductor_ampacity", "size_for_ampacity": "conductor_ampacity",
    "ambient_correction": "ambient_correction", "conductor_count_adjustment": "conductor_count_adjustment",
    "cold_voltage_factor": "cold_voltage_factor", "standard_fuse_rating": "standard_fuse_rating",
    "equipment_ground_size": "equipment_ground", "conductor_area": "conductor_properties",
    "size_for_area": "conductor_properties", "conductor_resistance": "conductor_properties",
    "small_conductor": "small_conductor", "insulation_rating": "insulation",
}  # fmt: skip
ELSEWHERE = {"standard_rating", "shutdown_scope"}


@cache
def second(name: str) -> list[list[str]]:
    with (SECOND / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        return [row for row in csv.reader(file) if row]


def files(folder: str) -> list[str]:
    return [f"{folder}/{path.stem}" for path in sorted((SECOND / folder).glob("*.csv"))]


@cache
def lines(name: str) -> list[dict[str, str]]:
    """The rows of a file, one for each edition that its column of editions names."""
    header, *body = second(name)
    out = []
    for number, row in enumerate((dict(zip(header, line, strict=True)) for line in body), 2):
        out += [{**row, "edition": str(year), "at": f"{name}.csv:{number}"} for year in years(row["editions"])]
    return out


def rows(folder: str) -> list[dict[str, str]]:
    """The rows of every file in a folder of the second typing."""
    return [row for name in files(folder) for row in lines(name)]


def all_agree(agree: Callable[..., None], cases: Iterable[tuple[str, tuple[Any, ...]]]) -> None:
    """Compares every case, each with a name; raises with all that differ."""
    wrong = []
    for name, arguments in cases:
        try:
            agree(*arguments)
        except (AssertionError, KeyError) as fault:
            wrong.append(f"{name}: {fault!r}")
    assert not wrong, "\n".join(wrong)


def agree_on_table(spec: TableSpec) -> None:
    """The cells of all files of a table are those of the second typing; raises where they are not."""
    if spec.name == "standard_rating":
        for edition, first in FIRST_RATING.items():
            agree_on_standard_ratings(spec, edition, first)
    elif spec.name == "shutdown_scope":
        agree_on_shutdown_scope(spec)
    elif spec.name in TABLES:
        for edition in EDITIONS:
            agree_on_file(spec, spec.files.at(edition), TABLES[spec.name])
    else:
        for file in spec.rows:
            agree_on_file(spec, file, file.removesuffix(".csv"))


def agree_on_file(spec: TableSpec, file: str | None, typed: str) -> None:
    assert file is not None
    ours, theirs = [list(row) for row in spec.rows[file]], second(typed)
    assert ours[1:] == theirs[1:]
    assert len(ours[0]) == len(theirs[0])


@pytest.mark.parametrize("pack", [name for name, pack in PACKS.items() if pack.tables])
def test_tables(pack: str) -> None:
    """Each file of a table has a second typing, cell for cell the same."""
    all_agree(agree_on_table, [(name, (spec,)) for name, spec in PACKS[pack].tables.items()])


# 240.6(A): 2023 moves 10 A from the additional fuse ratings into the main table (read in both typings).
FIRST_RATING = {year: rating for said, rating in (("2014 to 2020", "15"), ("from 2023", "10")) for year in years(said)}


def agree_on_standard_ratings(spec: TableSpec, edition: int, first: str) -> None:
    file = spec.files.at(edition)
    assert file is not None
    ours = [row[0] for row in spec.rows[file][1:]]
    theirs = [row[0] for row in second("standard_rating")[1:]]
    assert ours == (theirs if first == "15" else [first, *theirs])


def agree_on_shutdown_scope(spec: TableSpec) -> None:
    # 690.12 has no exception in 2014 (articles); 690.12 Exception (2017, 2020); 690.12 Exceptions No. 1 and 2 and
    # 690.12(A) Exception (2023, from articles, and 2026, of which none names a change).
    exempt = {}
    for edition in EDITIONS:
        file = spec.files.at(edition)
        assert file is not None
        rows = spec.rows[file][1:]
        assert len(rows) == 7
        exempt[edition] = {row[0] for row in rows if row[1] == "exempt"}
        on_a_building = {row[0] for row in rows if row[2] == "on a building"}
        open_ones = {row[0] for row in rows if row[0].startswith("detached open structure")}
        assert on_a_building == {"on a building"} | (open_ones if edition < 2023 else set())
        as_outside = {row[0] for row in rows if row[3] == "exempt"}
        assert as_outside == (exempt[edition] if edition < 2023 else {row[0] for row in rows} - {"on a building"})
    first = {"ground, no dc circuit on or in a building"}
    before = first | {"ground, circuits enter a building used only for the equipment"}
    later = before | {"detached open structure", "ground, circuits end on an outside wall"}
    typed = (("2014", first), ("2017 to 2020", before), ("from 2023", later))
    assert exempt == {year: places for said, places in typed for year in years(said)}


FIGURES = rows("figures")


@pytest.mark.parametrize("file", files("figures"))
def test_figures(file: str) -> None:
    all_agree(lambda r: agree_on_figure(PACKS[r["pack"]].parameters[r["name"]], r), at_their_lines(file, "name"))


def agree_on_figure(parameter: Parameter, row: Mapping[str, str]) -> None:
    edition = int(row["edition"])
    value = parameter.value.at(edition)
    if row["value"] == "withdrawn":
        assert value is None
    else:
        assert value is not None
        assert float(value) == float(row["value"]), row["source"]
    if row["clause"]:
        for part in (parameter.citation.clause.at(edition) or "").split("; "):
            assert part in row["clause"]


def at_their_lines(file: str, what: str) -> list[tuple[str, tuple[dict[str, str]]]]:
    """The lines of a file, each with the name it has in a message."""
    return [(f"{row['at']}: {row[what]} at {row['edition']}", (row,)) for row in lines(file)]


def none_twice(folder: str, *keys: str) -> set[tuple[str | int, ...]]:
    """What the lines of a folder are about, with the edition; no two about the same."""
    out = [(*(row[key] for key in keys), int(row["edition"])) for row in rows(folder)]
    assert len(set(out)) == len(out), sorted(one for one in out if out.count(one) > 1)
    return set(out)


def test_every_figure_is_typed_twice() -> None:
    ours = {(pack.name, name, edition) for pack in PACKS.values() for name, parameter in pack.parameters.items()
            for edition in pack.editions[parameter.citation.work.code]}  # fmt: skip
    assert ours == none_twice("figures", "pack", "name")


def test_resistance_is_resistivity_over_area() -> None:
    # Outside check: the dc resistance of Chapter 9 Table 8 is the metal's resistivity over the area; the product
    # of the two columns is the same for all sizes of a metal but for the rounding of the print.
    rows = second("conductor_properties")[1:]
    for column in (2, 3):
        products = [float(r[1]) * float(r[column]) for r in rows]
        assert max(products) / min(products) < 1.02


CLAUSES = rows("clauses")
RULES = {rule.id: rule for pack in PACKS.values() for rule in pack.rules.values()}


def sections(texts: list[str]) -> list[str]:
    return sorted({part.strip() for text in texts for part in text.split(";")})


@pytest.mark.parametrize("file", files("clauses"))
def test_clauses(file: str) -> None:
    all_agree(lambda row: agree_on_clause(RULES[row["rule"]], row), at_their_lines(file, "rule"))


def agree_on_clause(rule: Rule, row: Mapping[str, str]) -> None:
    edition = int(row["edition"])
    clauses = [c.clause.at(edition) for c in rule.citations if c.work.code == rule.code and "{edition}" in c.work.title]
    ours = [clause for clause in clauses if clause is not None]
    theirs = row["clauses"].replace(" (advice)", "")
    assert sections([text.replace(" (advice)", "") for text in ours]) == sections([theirs])


def test_every_clause_is_typed_twice() -> None:
    ours = {(rule.id, e) for pack in PACKS.values() for rule in pack.rules.values() for e in pack.editions[rule.code]
            if rule.in_force(e) and any(c.work.code == rule.code and "{edition}" in c.work.title and c.clause.at(e)
                                        for c in rule.citations)}  # fmt: skip
    assert ours == none_twice("clauses", "rule")
    assert sum(not r["settled"] for r in CLAUSES) >= 0.9 * len(CLAUSES)


OTHER_CLAUSES = rows("other_clauses")


@pytest.mark.parametrize("file", files("other_clauses"))
def test_clauses_of_other_works(file: str) -> None:
    all_agree(lambda row: agree_on_other_clause(RULES[row["rule"]], row), at_their_lines(file, "rule"))


def agree_on_other_clause(rule: Rule, row: Mapping[str, str]) -> None:
    """Clauses that a rule cites besides those of the code it goes by: of the other code, or of a standard."""
    clauses = [c.clause.at(int(row["edition"])) for c in rule.citations if is_other(rule, c)]
    assert sections([clause for clause in clauses if clause is not None]) == sections([row["clauses"]])


def is_other(rule: Rule, citation: Citation) -> bool:
    if "{edition}" in citation.work.title:
        return citation.work.code != rule.code
    return any(re.search("[0-9]", clause) for clause in citation.clause.texts.values())


def test_every_clause_of_another_work_is_typed_twice() -> None:
    ours = {(rule.id, e) for pack in PACKS.values() if not pack.authority for rule in pack.rules.values()
            for c in rule.citations if is_other(rule, c)
            for e in pack.editions[c.work.code] if c.clause.at(e)}  # fmt: skip
    assert ours == none_twice("other_clauses", "rule")


TABLE_CLAUSES = rows("table_clauses")


@pytest.mark.parametrize("file", files("table_clauses"))
def test_clauses_of_tables(file: str) -> None:
    cases = at_their_lines(file, "table")
    all_agree(lambda r: agree_on_clause_of_table(PACKS[r["pack"]].tables[r["table"]], r), cases)


def agree_on_clause_of_table(spec: TableSpec, row: Mapping[str, str]) -> None:
    assert spec.citation.clause.at(int(row["edition"])) == row["clause"]


def test_every_clause_of_a_table_is_typed_twice() -> None:
    ours = {(pack.name, table.name, e) for pack in PACKS.values() for table in pack.tables.values()
            for e in pack.editions[table.citation.work.code]
            if re.search("[0-9]", table.citation.clause.at(e) or "")}  # fmt: skip
    assert ours == none_twice("table_clauses", "pack", "table")


LOCAL = [dict(zip(second("local")[0], line, strict=True)) for line in second("local")[1:]]


def test_local_clauses() -> None:
    all_agree(agree_on_local_clause, [(row["name"], (PACKS[row["pack"]], row)) for row in LOCAL])


def agree_on_local_clause(layer: Pack, row: Mapping[str, str]) -> None:
    """The clause of the ordinance that a layer of local law gives for a change or a rule of its own, and its days."""
    for one in layer.amendments:
        if one.id == row["name"]:
            days = [one.begins, one.ends, str(one.said.get("until", ""))]
            assert (one.clause, "".join(days)) == (row["clause"], row["days"])
            return
    against = layer.authority.against if layer.authority else {}
    rule = layer.rules[row["name"]]
    assert rule.citations[0].clause.at(against[rule.code]) == row["clause"]


LAYERS = [name for name, pack in PACKS.items() if pack.authority]


@pytest.mark.parametrize("layer", LAYERS)
def test_adoptions(layer: str) -> None:
    agree_on_adoptions(PACKS[layer])


def agree_on_adoptions(layer: Pack) -> None:
    """What a layer of local law has in force from which day on."""
    ours = [[layer.name, one.begins, *(str(one.editions.get(code, "")) for code in ("electrical", "building")),
             one.choice_until, one.ordinance] for one in layer.adoptions]  # fmt: skip
    assert ours == [row for row in second("adoptions") if row[0] == layer.name]


def test_every_local_clause_is_typed_twice() -> None:
    ours = {(pack.name, name) for pack in PACKS.values() if pack.authority
            for name in (*pack.rules, *(one.id for one in pack.amendments))}  # fmt: skip
    assert ours == {(r["pack"], r["name"]) for r in LOCAL}
