"""Values and lists that are made when somebody reads them."""

from __future__ import annotations

from collections.abc import Callable, ItemsView, Iterator, Mapping, Sequence
from typing import Any, Generic, TypeVar, overload

from ampcite.base.frozen import FrozenDict

K = TypeVar("K")
T = TypeVar("T")
O = TypeVar("O")  # noqa: E741


class made_once(Generic[O, T]):
    """An attribute made when it is first read, also of an object whose attributes can't be set.

    As ``functools.cached_property``, but without the lock that makes its first reading slow up to Python 3.11; two
    threads that read at once may both make the value, which is the same.
    """

    def __init__(self, make: Callable[[O], T]) -> None:
        self.make = make
        self.__doc__ = make.__doc__

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name

    @overload
    def __get__(self, holder: None, owner: type) -> made_once[O, T]: ...
    @overload
    def __get__(self, holder: object, owner: type) -> T: ...
    def __get__(self, holder: Any, owner: type) -> Any:
        if holder is None:
            return self
        value = holder.__dict__[self.name] = self.make(holder)
        return value


class LazySequence(Sequence[T]):
    """A tuple whose items are made when somebody first reads them; it compares, prints and pickles as that does.

    How many there will be may be known beforehand, or reckoned without making them.
    """

    __slots__ = ("_count", "_items", "_make")

    def __init__(self, make: Callable[[], tuple[T, ...]], count: int | Callable[[], int] | None = None) -> None:
        self._make: Callable[[], tuple[T, ...]] | None = make
        self._count = count
        self._items: tuple[T, ...] = ()

    def __tuple(self) -> tuple[T, ...]:
        if self._make is not None:
            self._items, self._make = self._make(), None
        return self._items

    def __len__(self) -> int:
        if self._count is None:
            return len(self.__tuple())
        if not isinstance(self._count, int):
            self._count = self._count()
        return self._count

    def __iter__(self) -> Iterator[T]:
        return iter(self.__tuple())

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[T, ...]: ...
    def __getitem__(self, index: int | slice) -> T | tuple[T, ...]:
        return self.__tuple()[index]

    def __eq__(self, other: object) -> bool:
        return tuple(other) == self.__tuple() if isinstance(other, LazySequence | tuple) else NotImplemented

    def __hash__(self) -> int:
        return hash(self.__tuple())

    def __repr__(self) -> str:
        return repr(self.__tuple())

    def __reduce__(self) -> tuple[type[tuple[T, ...]], tuple[tuple[T, ...]]]:
        return tuple, (self.__tuple(),)


class LazyMapping(Mapping[K, T]):
    """A frozen mapping whose items are made when somebody first reads them."""

    __slots__ = ("_items", "_make")

    def __init__(self, make: Callable[[], Mapping[K, T]]) -> None:
        self._make: Callable[[], Mapping[K, T]] | None = make
        self._items: Mapping[K, T] = {}

    def __mapping(self) -> Mapping[K, T]:
        if self._make is not None:
            self._items, self._make = self._make(), None
        return self._items

    def __getitem__(self, key: K) -> T:
        return self.__mapping()[key]

    def __iter__(self) -> Iterator[K]:
        return iter(self.__mapping())

    def __len__(self) -> int:
        return len(self.__mapping())

    def items(self) -> ItemsView[K, T]:
        return self.__mapping().items()

    def __repr__(self) -> str:
        return repr(self.__mapping())

    def __reduce__(self) -> tuple[type[FrozenDict[K, T]], tuple[dict[K, T]]]:
        return FrozenDict, (dict(self),)
