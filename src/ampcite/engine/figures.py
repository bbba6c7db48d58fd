"""The figures and tables of packs at one edition, their units and cells checked."""

from __future__ import annotations

import math
from collections.abc import Callable

from ampcite.base.editions import Editions
from ampcite.base.errors import nearest, short
from ampcite.language.formula import PLAIN
from ampcite.language.tables import NOT_PERMITTED, Table
from ampcite.language.tree import TableType, Type
from ampcite.language.units import known_units, unit
from ampcite.language.wording import Constant
from ampcite.law.records import Pack, Parameter, TableSpec


class Figures:
    """What packs say in numbers, settled for an edition of each code.

    Attributes:
        complain: takes a pack, a place in it and what is wrong there.
        constants, types: the parameters, and what formulas know of them, by name.
        tables, table_types: the tables, and how formulas may call them.
        lacking: names of parameters and tables that these editions do not have.
    """

    def __init__(self, editions: Editions, complain: Callable[[Pack, str, str], None]) -> None:
        self.editions = editions
        self.complain = complain
        self.lacking: set[str] = set()
        self.constants: dict[str, Constant] = {}
        self.types: dict[str, Type] = {}
        self.tables: dict[str, Table] = {}
        self.table_types: dict[str, TableType] = {}

    def unit_type(self, pack: Pack, place: str, name: str | None) -> Type:
        if name is None:
            return Type("text")
        if name == "degF":
            self.complain(pack, place, "is in degF; write temperatures in degC, so that differences come out right")
            return PLAIN
        if name not in known_units():
            meant = _SPELLED.get(name.lower().rstrip("s"))
            hint = f'did you mean "{meant}"?' if meant else nearest(name, known_units())
            self.complain(pack, place, f'uses the unit "{name}"; {hint}')
            return PLAIN
        return Type("number", unit(name))

    def constant(self, pack: Pack, p: Parameter) -> None:
        value = p.value.at(self.editions.get(p.citation.work.code))
        if value is None:
            self.lacking.add(p.name)
            return
        kind = self.unit_type(pack, f'parameter "{p.name}"', p.unit)
        if not math.isfinite(float(value)):
            return self.complain(pack, f'parameter "{p.name}"', f"is {short(value)}, which is too large a number")
        new = Constant(p.name, float(value), kind)
        self.types.setdefault(p.name, kind)
        if self.constants.setdefault(p.name, new) != new:
            self.complain(pack, f'parameter "{p.name}"', "is also in another pack, with another figure")

    def table(self, pack: Pack, spec: TableSpec) -> None:
        place = f'table "{spec.name}"'
        edition = self.editions.get(spec.citation.work.code)
        file = spec.files.at(edition)
        if file is None:
            self.lacking.add(spec.name)
            return
        header, *rows = spec.rows[file]
        at = header.index(spec.row_header)
        numeric = spec.row_unit is not None and spec.match != "cell at or above"
        try:
            rows = sorted(rows, key=lambda r: float(r[at])) if numeric else rows
            keys = tuple(float(r[at]) if numeric else r[at] for r in rows)
            gives_number = spec.gives_unit is not None and spec.match != "cell at or above"
            cells_number = gives_number or spec.match == "cell at or above"
            columns = {
                name: tuple(float(r[i]) if cells_number and r[i] != NOT_PERMITTED else r[i] for r in rows)
                for i, name in enumerate(header)
                if i != at or len(header) == 1
            }
        except ValueError as fault:
            cell = str(fault).partition(": ")[2]
            return self.complain(pack, place, f'has the cell {cell[:60]} in "{file}", which is no number; the unit of '
                                              "the cells is said in the table's `unit`, and a column holds numbers or "
                                              "words, not both")  # fmt: skip
        cells = [cell for row in rows for cell in row]
        if bad := [c for c in cells if c != NOT_PERMITTED and _number(c) and not math.isfinite(float(c))]:
            return self.complain(pack, place, f'has a cell in "{file}" that is no finite number: {short(bad[0])}')
        if len(set(keys)) != len(keys):
            self.complain(pack, place, f'has a key twice in "{file}"')
        title = spec.citation.clause.at(edition) or spec.name
        table = Table(spec.name, title, spec.match, keys, columns, spec.beyond, len(spec.conditions))
        if self.tables.setdefault(spec.name, table) != table:
            return self.complain(pack, place, "is also in another pack, with other cells")
        conditions = []
        for i, (_, condition_unit) in enumerate(spec.conditions):
            words = frozenset(name.split(" ", len(spec.conditions) - 1)[i] for name in columns
                              if name.count(" ") >= len(spec.conditions) - 1)  # fmt: skip
            kind = self.unit_type(pack, place, condition_unit)
            conditions.append(kind if condition_unit is not None else Type("text", choices=words))
        row_type = self.unit_type(pack, place, spec.row_unit) if spec.row_unit is not None else \
            Type("text", choices=frozenset(str(k) for k in keys))  # fmt: skip
        gives = self.unit_type(pack, place, spec.gives_unit)
        if spec.match == "cell at or above":
            gives = Type("text", choices=frozenset(str(k) for k in keys))
        self.table_types[spec.name] = TableType((row_type, *conditions), gives, title)


_SPELLED = {"amp": "A", "ampere": "A", "volt": "V", "watt": "W", "inch": "in", "inche": "in", "foot": "ft",
            "feet": "ft", "\"": "in", "'": "ft", "percent": "%", "pound": "lb", "sq ft": "ft2", "sqft": "ft2",
            "degree": "deg", "celsiu": "degC", "fahrenheit": "degF", "c": "degC", "lb/ft2": "psf"}  # fmt: skip
"""Units as people write them, without a final s, and the sign that is meant."""


def _number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
