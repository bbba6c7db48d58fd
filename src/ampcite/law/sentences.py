"""Sentences that differ by edition in some words only: the words have names and are put in when the pack is read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

from ampcite.base.editions import ByEdition

_NAME = re.compile(r"\{([a-z][a-z0-9_]*)\}")


def with_words(sentence: ByEdition, words: Mapping[str, ByEdition]) -> ByEdition:
    """A sentence with the words that it names put in, for every edition at which it or one of them changes.

    Args:
        sentence: where ``{name}`` stands for words that have a name; other names are left as they are.
        words: by name, each by edition or one for all.
    """
    used = {name for text in sentence.texts.values() for name in _NAME.findall(text) if name in words}
    out = {}
    for year in sorted({*sentence.texts, *(year for name in used for year in words[name].texts)}):
        text = sentence.at(year)
        put = {name: words[name].at(year) for name in _NAME.findall(text or "") if name in words}
        if text is not None and None not in put.values():
            out[year] = _NAME.sub(lambda found, put=put: put.get(found[1], found[0]), text)  # type: ignore[misc]
    return ByEdition(out)


def word_faults(
    words: Mapping[str, ByEdition], sentences: Iterable[ByEdition], taken: Iterable[str]
) -> Iterator[tuple[str, str]]:
    """What is wrong with named words: the name, and a sentence.

    Args:
        words: by name.
        sentences: those they may be put into, before they are.
        taken: names that already stand for something else.
    """
    named = {name for by in sentences for text in by.texts.values() for name in _NAME.findall(text)}
    for name, by in words.items():
        if name in taken:
            yield name, "has the name of something else that the rule puts into sentences; choose another"
        elif name not in named:
            yield name, f"stands in none of the rule's sentences; put {{{name}}} into one, or leave it out"
        if any(set(re.sub(r"\{[^{}]*\}", "", text)) & set("{}") for text in by.texts.values()):
            yield name, "has a curly bracket without its partner"
