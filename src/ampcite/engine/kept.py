"""What is kept of a set of packs: bound rules and generated code, in pieces, each read when somebody asks for it.

A check of a sound house needs the verdicts' code and the heads of the rules; formulas and sentences of a rule are only
unpacked when a finding of it is put into words.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TypeVar, overload

from ampcite.engine.plan import Bound
from ampcite.law.files import PackUsed

T = TypeVar("T")

Kept = tuple[tuple[PackUsed, ...], Bound, tuple[bytes, ...]]
"""The packs used, their bound rules, and the code generated from these."""


class _Row(Sequence[T]):
    """A tuple whose items are unpacked one by one, when they are asked for."""

    def __init__(self, packed: Sequence[bytes]) -> None:
        self._packed = packed
        self._items: dict[int, T] = {}

    def __len__(self) -> int:
        return len(self._packed)

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[T, ...]: ...
    def __getitem__(self, index: int | slice) -> T | tuple[T, ...]:
        if isinstance(index, slice):
            return tuple(self[i] for i in range(*index.indices(len(self))))
        if index not in self._items:
            self._items[index] = pickle.loads(self._packed[index])
        return self._items[index]

    def __eq__(self, other: object) -> bool:
        return tuple(self) == tuple(other) if isinstance(other, _Row | tuple) else NotImplemented

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __reduce__(self) -> tuple[type[_Row[T]], tuple[Sequence[bytes]]]:
        return _Row, (self._packed,)


class _Shelf(Mapping[str, T]):
    """A mapping whose values are unpacked one by one, when they are asked for."""

    def __init__(self, packed: Mapping[str, bytes]) -> None:
        self._packed = packed
        self._items: dict[str, T] = {}

    def __len__(self) -> int:
        return len(self._packed)

    def __iter__(self) -> Iterator[str]:
        return iter(self._packed)

    def __contains__(self, name: object) -> bool:
        return name in self._packed

    def __getitem__(self, name: str) -> T:
        if name not in self._items:
            self._items[name] = pickle.loads(self._packed[name])
        return self._items[name]

    def __reduce__(self) -> tuple[type[_Shelf[T]], tuple[Mapping[str, bytes]]]:
        return _Shelf, (self._packed,)


def pack(kept: Kept) -> bytes:
    """What is kept, as bytes."""
    names, bound, code = kept
    known = (dict(bound.editions), bound.reckoned, bound.not_in_force, bound.reads, dict(bound.local), bound.heads,
             dict(bound.facts), bound.quantities)  # fmt: skip
    pieces = ([_packed(rule) for rule in bound.rules], [_packed(derived) for derived in bound.derived],
              {name: _packed(table) for name, table in bound.tables.items()},
              {name: _packed(constant) for name, constant in bound.constants.items()})  # fmt: skip
    return _packed((names, known, pieces, code))


def _packed(value: Any) -> bytes:
    return pickle.dumps(value, protocol=5)


def unpack(data: bytes) -> Kept | None:
    """What was kept; None where the bytes are no such thing."""
    try:
        names, known, (rules, derived, tables, constants), code = pickle.loads(data)
        editions, reckoned, not_in_force, reads, local, heads, facts, quantities = known
        bound = Bound(editions, _Shelf(constants), _Shelf(tables), reckoned, _Row(derived), _Row(rules), not_in_force,
                      reads, local, heads, facts, quantities)  # fmt: skip
    except Exception:  # a damaged file can raise anything; it is then made anew
        return None
    return names, bound, code
