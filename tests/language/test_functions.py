"""What is said of a list of which something is not known holds however that turns out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import product

import pytest

from ampcite.language import functions

WORDS = ("a", "b", "c")
MAYBE = (None, *WORDS[:2])


def filled(items: tuple[str | None, ...]) -> Iterator[tuple[str, ...]]:
    """Every way in which what is not known may turn out."""
    return product(*([item] if item is not None else WORDS for item in items))


@pytest.mark.parametrize(("maybe", "sure"), [
    (functions.any_same, lambda items, word: word in items),
    (functions.all_same, lambda items, word: all(item == word for item in items)),
])  # fmt: skip
def test_words_in_lists(maybe: Callable[..., bool | None], sure: Callable[..., bool]) -> None:
    for length in range(4):
        for *items, word in product(MAYBE, repeat=length + 1):
            answers = {sure(some, one) for *some, one in filled((*items, word))}
            said = maybe(items, word)
            assert said is None or answers == {said}, (items, word)
            assert said is not None or word is None or len(answers) > 1, (items, word)
    assert maybe(None, "a") is None
