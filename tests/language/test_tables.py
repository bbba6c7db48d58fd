"""A table by itself: which cell it gives, the fast way and the careful way, and why it gives none.

Source: the project's own definition (docs/language.md), worked by hand; the tables are own inventions.
"""

from __future__ import annotations

from typing import Any

import pytest

from ampcite.language.logic import Barred, Unknown
from ampcite.language.tables import NoEntry, Table

EXACT = Table("kind", "Table 1", "exact", ("copper", "aluminum"), {"cell": (3.0, "not permitted")}, "not known")
AT_OR_ABOVE = Table("size", "Table 2", "next at or above", (10.0, 20.0, 40.0), {"cell": (1.0, 2.0, "not permitted")},
                    "not permitted")  # fmt: skip
AT_OR_BELOW = Table("depth", "Table 3", "next at or below", (0.0, 150.0, 600.0), {"cell": (36.0, 42.0, 48.0)},
                    "not known")  # fmt: skip
BACKWARDS = Table("trade", "Table 4", "cell at or above", ("1/2", "3/4", "1"), {"cell": (0.3, "not permitted", 0.9)},
                  "not permitted")  # fmt: skip
BY_TWO = Table("carries", "Table 5", "exact", ("8 AWG", "6 AWG"),
               {"60 copper": (40.0, 55.0), "75 copper": (50.0, 65.0), "75 copper clad aluminum": (40.0, 50.0)},
               "not known", 2)  # fmt: skip
BY_NUMBER = Table("factor", "Table 6", "next at or above", (30.0, 40.0), {"60": (1.0, 0.82), "75.5": (1.0, 0.88)},
                  "not known", 1)  # fmt: skip

FOUND: list[tuple[Table, tuple[Any, ...], float | str]] = [
    (EXACT, ("copper",), 3.0), (AT_OR_ABOVE, (0.0,), 1.0), (AT_OR_ABOVE, (10.0,), 1.0), (AT_OR_ABOVE, (10.1,), 2.0),
    (AT_OR_ABOVE, (20.0,), 2.0), (AT_OR_ABOVE, (20.000000001,), 2.0), (AT_OR_BELOW, (0.0,), 36.0),
    (AT_OR_BELOW, (149.9,), 36.0), (AT_OR_BELOW, (150.0,), 42.0), (AT_OR_BELOW, (149.9999999999,), 42.0),
    (AT_OR_BELOW, (1e9,), 48.0), (BACKWARDS, (0.0,), "1/2"), (BACKWARDS, (0.3,), "1/2"), (BACKWARDS, (0.31,), "1"),
    (BACKWARDS, (0.3000000001,), "1/2"), (BACKWARDS, (0.9,), "1"), (BY_TWO, ("6 AWG", 75.0, "copper"), 65.0),
    (BY_TWO, ("8 AWG", 60.0, "copper"), 40.0), (BY_TWO, ("8 AWG", 75.0, "copper clad aluminum"), 40.0),
    (BY_NUMBER, (31.0, 60.0), 0.82), (BY_NUMBER, (31.0, 75.5), 0.88), (BY_NUMBER, (30.0, 75.5), 1.0),
]  # fmt: skip


@pytest.mark.parametrize(("table", "keys", "cell"), FOUND, ids=lambda x: x.title if isinstance(x, Table) else None)
def test_a_cell_is_found_both_ways(table: Table, keys: tuple[Any, ...], cell: float | str) -> None:
    assert table.find(*keys) == cell
    assert table.compiled_lookup()(*keys) == cell


NONE: list[tuple[Table, tuple[Any, ...], Barred | Unknown]] = [
    (EXACT, ("silver",), Unknown(why="Table 1 has no entry for silver")),
    (EXACT, ("aluminum",), Barred("Table 1 does not permit aluminum")),
    (AT_OR_ABOVE, (40.5,), Barred("Table 2 ends before 40.5")),
    (AT_OR_ABOVE, (30.0,), Barred("Table 2 does not permit 30")),
    (AT_OR_BELOW, (-1.0,), Unknown(why="Table 3 ends before -1")),
    (BACKWARDS, (0.95,), Barred("Table 4 has nothing as large as 0.95")),
    (BY_TWO, ("4 AWG", 75.0, "copper"), Unknown(why="Table 5 has no entry for 4 AWG, 75, copper")),
    (BY_TWO, ("6 AWG", 90.0, "copper"), Unknown(why="Table 5 has no entry for 6 AWG, 90, copper")),
    (BY_NUMBER, (41.0, 60.0), Unknown(why="Table 6 ends before 41")),
    (BY_NUMBER, (31.0, 90.0), Unknown(why="Table 6 has no entry for 31, 90")),
]


@pytest.mark.parametrize(("table", "keys", "why"), NONE, ids=lambda x: x.title if isinstance(x, Table) else None)
def test_why_there_is_no_cell_and_that_the_fast_way_gives_none(
    table: Table, keys: tuple[Any, ...], why: Barred | Unknown
) -> None:
    assert table.find(*keys) == why
    with pytest.raises((NoEntry, KeyError)):
        table.compiled_lookup()(*keys)


def test_past_the_end_of_a_table_read_backwards() -> None:
    open_ended = Table("trade", "Table 4", "cell at or above", ("1/2",), {"cell": (0.3,)}, "not known")
    assert open_ended.find(0.4) == Unknown(why="Table 4 has nothing as large as 0.4")
    assert open_ended.find(123456.789) == Unknown(why="Table 4 has nothing as large as 123456.789")
