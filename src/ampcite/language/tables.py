"""Tables: rows of a CSV file, found by exact key, or by the next row at or above or below a number."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import attrs

from ampcite.language.logic import Barred, Unknown, close

NOT_PERMITTED = "not permitted"


class NoEntry(Exception):
    """A look-up that gives no plain value; the careful path asks :meth:`Table.find` for the reason."""


@attrs.frozen
class Table:
    """One table for one edition.

    Attributes:
        name: as formulas call it.
        title: as a person knows it, e.g. "Table 310.16".
        match: how the row is found: "exact", "next at or above", "next at or below" or "cell at or above"; with the
            last the table is read backwards: the first row whose cell is at or above the number gives its row key.
        row_keys: the row keys in file order (numbers ascending, or texts).
        columns: column header to the cells of that column. Several column keys make a header joined by a space.
        beyond: "not permitted" or "not known": what a key past the last row means.
        conditions: how many column keys there are.
    """

    name: str
    title: str
    match: str
    row_keys: tuple[float | str, ...]
    columns: Mapping[str, tuple[float | str, ...]]
    beyond: str
    conditions: int = 0
    _index: dict[float | str, int] = attrs.field(init=False, repr=False, eq=False)

    def __attrs_post_init__(self) -> None:
        object.__setattr__(self, "_index", {key: i for i, key in enumerate(self.row_keys)})

    def row(self, key: Any) -> int | None:
        """The number of the row for a key, or None past the end."""
        if self.match == "exact":
            return self._index.get(key)
        keys: Any = self.row_keys
        if self.match == "next at or above":
            at = bisect_left(keys, key)
            if at and close(keys[at - 1], key):
                at -= 1
            return at if at < len(keys) else None
        at = bisect_right(keys, key)
        if at < len(keys) and close(keys[at], key):
            at += 1
        return at - 1 if at else None

    def find(self, key: Any, *conditions: Any) -> float | str | Barred | Unknown:
        """The cell for a row key and the column conditions, or why there is none."""
        header = " ".join(_text(c) for c in conditions) if conditions else next(iter(self.columns))
        column = self.columns.get(header)
        asked = ", ".join(_text(k) for k in (key, *conditions))
        if column is None:
            return Unknown(why=f"{self.title} has no entry for {asked}")
        if self.match == "cell at or above":
            return self._backwards(key, column)
        at = self.row(key)
        if at is None and self.match == "exact":
            return Unknown(why=f"{self.title} has no entry for {asked}")
        if at is None:
            said = f"{self.title} ends before {_text(key)}"
            return Barred(said) if self.beyond == NOT_PERMITTED else Unknown(why=said)
        cell = column[at]
        if cell == NOT_PERMITTED:
            return Barred(f"{self.title} does not permit {asked}")
        return cell

    def compiled_lookup(self) -> Callable[..., float | str]:
        """A function that gives plain cells fast and raises :class:`NoEntry` or KeyError where there is none."""
        if self.match == "exact":
            cells = {
                (key, *conditions): cell
                for conditions, column in self._by_conditions()
                for key, cell in zip(self.row_keys, column, strict=True)
                if cell != NOT_PERMITTED
            }
            return lambda *keys: cells[keys]

        if self.match == "cell at or above":
            return self._asked
        columns, row = dict(self._by_conditions()), self.row

        def find(key: Any, *conditions: Any) -> float | str:
            at = row(key)
            if at is None or columns[conditions][at] == NOT_PERMITTED:
                raise NoEntry
            return columns[conditions][at]

        return find

    def _asked(self, key: Any, *conditions: Any) -> float | str:
        cell = self.find(key, *conditions)
        if isinstance(cell, Barred | Unknown):
            raise NoEntry
        return cell

    def _by_conditions(self) -> Iterator[tuple[tuple[Any, ...], tuple[float | str, ...]]]:
        """The columns by their conditions, numbers as numbers."""
        for header, column in [*self.columns.items()][: None if self.conditions else 1]:
            words = header.split(" ", self.conditions - 1) if self.conditions else []
            yield tuple(float(w) if w.replace(".", "", 1).isdigit() else w for w in words), column

    def _backwards(self, key: Any, column: tuple[float | str, ...]) -> float | str | Barred | Unknown:
        for row_key, cell in zip(self.row_keys, column, strict=True):
            if isinstance(cell, float) and (cell >= key or close(cell, key)):
                return row_key
        said = f"{self.title} has nothing as large as {_text(key)}"
        return Barred(said) if self.beyond == NOT_PERMITTED else Unknown(why=said)


def _text(value: Any) -> str:
    return f"{float(value):.10g}" if isinstance(value, int | float) else str(value)
