"""Every table and figure stands twice in the project, typed by two people; both must say the same.

Sources: beside each table and figure in the packs, and in ``second_typing/SOURCES.md`` for the second typing.

The functions ``agree_on_...`` compare; ``tests/mutation.py`` gives them packs with one figure changed.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import pytest

from ampcite.law.load import load_pack
from ampcite.law.records import Citation, Pack, Parameter, Rule, TableSpec
from ampcite.law.registry import pack_folders

SECOND = Path(__file__).parent / "second_typing"
PACKS: dict[str, Pack] = {name: load_pack(folder) for name, folder in pack_folders().items()}
ELECTRICAL = PACKS["electrical"]
EDITIONS = (2014, 2017, 2020, 2023, 2026)
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


def rows(folder: str) -> list[dict[str, str]]:
    """The rows of every file in a folder of the second typing."""
    out = []
    for path in sorted((SECOND / folder).glob("*.csv")):
        header, *body = second(f"{folder}/{path.stem}")
        for row in (dict(zip(header, line, strict=True)) for line in body):
            out += [{**row, "edition": year} for year in row["edition"].split()]
    return out


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


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize("table", sorted(TABLES))
def test_table(table: str, edition: int) -> None:
    spec = ELECTRICAL.tables[table]
    agree_on_file(spec, spec.files.at(edition), TABLES[table])


OTHERS = sorted(
    (pack.name, table.name, file)
    for pack in PACKS.values()
    for table in pack.tables.values()
    if table.name not in TABLES and table.name not in ELSEWHERE
    for file in table.rows
)


@pytest.mark.parametrize(("pack", "table", "file"), OTHERS)
def test_other_tables(pack: str, table: str, file: str) -> None:
    """A table's file has a second typing of the same name, cell for cell the same."""
    agree_on_file(PACKS[pack].tables[table], file, file.removesuffix(".csv"))


# 240.6(A): 2023 moves 10 A from the additional fuse ratings into the main table (read in both typings).
FIRST_RATING = {2014: "15", 2017: "15", 2020: "15", 2023: "10", 2026: "10"}


@pytest.mark.parametrize(("edition", "first"), FIRST_RATING.items())
def test_standard_ratings(edition: int, first: str) -> None:
    agree_on_standard_ratings(ELECTRICAL.tables["standard_rating"], edition, first)


def agree_on_standard_ratings(spec: TableSpec, edition: int, first: str) -> None:
    file = spec.files.at(edition)
    assert file is not None
    ours = [row[0] for row in spec.rows[file][1:]]
    theirs = [row[0] for row in second("standard_rating")[1:]]
    assert ours == (theirs if first == "15" else [first, *theirs])


def test_shutdown_scope() -> None:
    agree_on_shutdown_scope(ELECTRICAL.tables["shutdown_scope"])


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
    first = {"ground, no dc circuit on or in a building"}
    before = first | {"ground, circuits enter a building used only for the equipment"}
    later = before | {"detached open structure", "ground, circuits end on an outside wall"}
    assert exempt == {2014: first, 2017: before, 2020: before, 2023: later, 2026: later}


FIGURES = rows("figures")


@pytest.mark.parametrize("row", FIGURES, ids=lambda r: f"{r['name']}-{r['edition']}")
def test_figure(row: dict[str, str]) -> None:
    agree_on_figure(PACKS[row["pack"]].parameters[row["name"]], row)


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


def test_every_figure_is_typed_twice() -> None:
    ours = {(pack.name, name, edition) for pack in PACKS.values() for name, parameter in pack.parameters.items()
            for edition in pack.editions[parameter.citation.work.code]}  # fmt: skip
    assert ours == {(r["pack"], r["name"], int(r["edition"])) for r in FIGURES}


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
    return sorted(part.strip() for text in texts for part in text.split(";"))


@pytest.mark.parametrize("row", CLAUSES, ids=lambda r: f"{r['rule']}-{r['edition']}")
def test_clause(row: dict[str, str]) -> None:
    agree_on_clause(RULES[row["rule"]], row)


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
    assert ours == {(r["rule"], int(r["edition"])) for r in CLAUSES}
    assert sum(not r["settled"] for r in CLAUSES) >= 0.9 * len(CLAUSES)


NUMBERS = {
    # from the second typing's own list of where each table was checked, and the edition map of the trade facts
    "cold_voltage_factor": ["Table 690.7", *["Table 690.7(A)"] * 4],
    "conductor_ampacity": [*["Table 310.15(B)(16)"] * 2, *["Table 310.16"] * 3],
    "size_for_ampacity": [*["Table 310.15(B)(16)"] * 2, *["Table 310.16"] * 3],
    "ambient_correction": [*["Table 310.15(B)(2)(a)"] * 2, "Table 310.15(B)(1)", *["Table 310.15(B)(1)(1)"] * 2],
    "conductor_count_adjustment": [*["Table 310.15(B)(3)(a)"] * 2, *["Table 310.15(C)(1)"] * 3],
    "insulation_rating": [*["Table 310.104(A)"] * 2, "Table 310.4(A)", *["Table 310.4(1)"] * 2],
    "standard_rating": [*["240.6(A)"] * 2, *["Table 240.6(A)"] * 3],
    "standard_fuse_rating": [*["240.6(A)"] * 2, *["Table 240.6(A)"] * 3],
    "small_conductor": ["240.4(D)"] * 5,
    "equipment_ground_size": ["Table 250.122"] * 5,
    "conductor_area": ["Chapter 9 Table 8"] * 5,
    "size_for_area": ["Chapter 9 Table 8"] * 5,
    "conductor_resistance": ["Chapter 9 Table 8"] * 5,
    "shutdown_scope": ["690.12", *["690.12 and its Exception"] * 2, *["690.12 and its Exceptions"] * 2],
    "working_space_depth": ["Table 110.26(A)(1)"] * 5,
    "rooftop_addition": ["Table 310.15(B)(3)(c)", "310.15(B)(3)(c) (table deleted)", *["310.15(B)(2) (no table)"] * 3],
    "initiation_device": [None, *["690.12(C)(1)-(3)"] * 3, "690.12(C)"],
    "electrode_conductor_copper": ["Table 250.66"] * 5,
    "electrode_conductor_aluminum": ["Table 250.66"] * 5,
    "bonding_jumper_copper": ["Table 250.102(C)(1)"] * 5,
    "bonding_jumper_aluminum": ["Table 250.102(C)(1)"] * 5,
    "electrode_conductor_cap": ["250.66(A) and (B)"] * 5,
    "electrode_length": ["250.52(A)"] * 5,
    "bonding_standard": ["690.43(D)", *["690.43(A)"] * 4],
    "enclosure_use": ["Table 110.28"] * 5,
}


@pytest.mark.parametrize("table", sorted(NUMBERS))
def test_number_of_table(table: str) -> None:
    agree_on_number_of_table(ELECTRICAL.tables[table])


def agree_on_number_of_table(spec: TableSpec) -> None:
    clause = spec.citation.clause
    assert [clause.at(e) for e in EDITIONS] == NUMBERS[spec.name]


OTHER_CLAUSES = rows("other_clauses")


@pytest.mark.parametrize("row", OTHER_CLAUSES, ids=lambda r: f"{r['rule']}-{r['edition']}")
def test_clause_of_the_other_code(row: dict[str, str]) -> None:
    agree_on_other_clause(RULES[row["rule"]], row)


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
    assert ours == {(r["rule"], int(r["edition"])) for r in OTHER_CLAUSES}


TABLE_CLAUSES = rows("table_clauses")


@pytest.mark.parametrize("row", TABLE_CLAUSES, ids=lambda r: f"{r['table']}-{r['edition']}")
def test_clause_of_table(row: dict[str, str]) -> None:
    agree_on_clause_of_table(PACKS[row["pack"]].tables[row["table"]], row)


def agree_on_clause_of_table(spec: TableSpec, row: Mapping[str, str]) -> None:
    assert spec.citation.clause.at(int(row["edition"])) == row["clause"]


def test_every_clause_of_a_table_is_typed_twice() -> None:
    ours = {(pack.name, table.name, e) for pack in PACKS.values() for table in pack.tables.values()
            for e in pack.editions[table.citation.work.code]
            if (pack.name, table.name) not in {("electrical", name) for name in NUMBERS}
            and re.search("[0-9]", table.citation.clause.at(e) or "")}  # fmt: skip
    assert ours == {(r["pack"], r["table"], int(r["edition"])) for r in TABLE_CLAUSES}


LOCAL = [dict(zip(second("local")[0], line, strict=True)) for line in second("local")[1:]]


@pytest.mark.parametrize("row", LOCAL, ids=lambda r: r["name"])
def test_local_clause(row: dict[str, str]) -> None:
    agree_on_local_clause(PACKS[row["pack"]], row)


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
