"""The page of a layer for the public, as an attorney reads it.

Layers: the invented ones of the tests; what is expected follows from their text.
"""

from __future__ import annotations

import pytest

from ampcite.law.load import load_pack
from ampcite.law.registry import changed_by, dependencies
from ampcite.reference.law_page import CAUTION, law_page
from shared import TESTS

LOCAL = TESTS / "local"
LAYERS = ["harrow-village", "tarn-state", "ossary-state", "lindle-city", "quarrel-village", "marl-town"]


def page(name: str) -> str:
    folder = LOCAL / name
    bases = changed_by(folder)
    around = [load_pack(path) for path in (*bases, *dependencies([folder, *bases]))]
    return law_page(load_pack(folder), around)


@pytest.fixture(scope="module")
def pages() -> dict[str, str]:
    return {name: page(name) for name in LAYERS}


@pytest.mark.parametrize("name", LAYERS)
def test_every_change_is_there_once_with_both_sides_and_its_clause(name: str, pages: dict[str, str]) -> None:
    text, layer = pages[name], load_pack(LOCAL / name)
    rows = [line for line in text.splitlines() if line.startswith("| ") and not line.startswith("| reference")]
    assert len(rows) == len(set(rows))
    for one in layer.amendments:
        assert any(f"{one.work} {one.clause} |" in row for row in rows), one.id
    assert all(cell.strip() for row in rows for cell in row.strip("|").split("|"))
    assert CAUTION in text


@pytest.mark.parametrize("name", LAYERS)
def test_no_name_of_the_program_stands_in_it(name: str, pages: dict[str, str]) -> None:
    layer = load_pack(LOCAL / name)
    for word in (*layer.parameters, *layer.rules, "<", "{", "_"):
        assert word not in pages[name].replace("> This page", ""), word


def test_figures_and_dates_are_said_where_they_hold(pages: dict[str, str]) -> None:
    assert "The array is [length] long; 50 ft is the most." in pages["harrow-village"]
    assert "asked of every array on the ground; a requirement" in pages["harrow-village"]
    assert "| required, for applications from 2023-07-01 until 2024-11-07 | no such rule |" in pages["harrow-village"]
    assert "| 48 in for arrays on detached structures | 0 in (" in pages["harrow-village"]
    assert "required of systems of several sources" in pages["tarn-state"]
