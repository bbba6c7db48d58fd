"""A mapping that can't be changed, for results that several readers share."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NoReturn, TypeVar

K = TypeVar("K")
V = TypeVar("V")


class FrozenDict(dict[K, V]):
    """A dict that can't be changed; it compares, prints, pickles and is written as JSON as any other.

    The mappings of the standard library and of the registry are either no dict, so that JSON writers refuse them, or
    can't be pickled. ``dict(it)`` gives one that can be changed.
    """

    __slots__ = ()

    def _refuse(self, *_: Any, **__: Any) -> NoReturn:
        raise TypeError("a result can't be changed; dict(...) of it gives a copy that can")

    __setitem__ = __delitem__ = __ior__ = clear = pop = popitem = setdefault = update = _refuse

    def __copy__(self) -> FrozenDict[K, V]:
        return self

    def __deepcopy__(self, _: Any) -> FrozenDict[K, V]:
        return self

    def __reduce__(self) -> tuple[type[FrozenDict[K, V]], tuple[dict[K, V]]]:
        return FrozenDict, (dict(self),)


def frozen(mapping: Mapping[Any, Any]) -> FrozenDict[Any, Any]:
    """A copy of a mapping that can't be changed."""
    return FrozenDict(mapping)
