"""Codes and their editions: which edition of each code is in force, and texts that differ by edition."""

from __future__ import annotations

from collections.abc import Mapping

import attrs

WITHDRAWN = "withdrawn"
ELECTRICAL, BUILDING = "electrical", "building"
CODES = {ELECTRICAL: "electrical code", BUILDING: "residential and fire codes"}
"""The codes whose editions are told apart, and what a report calls them."""

Editions = Mapping[str, int]
"""The edition in force of each code; a code whose edition nobody stated is left out."""


def codes_in_words(editions: Editions) -> str:
    """Codes and their editions, as a sentence names them."""
    return " and ".join(f"the {editions[code]} {words}" for code, words in CODES.items() if code in editions)


@attrs.frozen
class ByEdition:
    """Texts by edition. One holds from the edition it is given for until the next one given."""

    texts: Mapping[int, str]

    def at(self, edition: int | None) -> str | None:
        """The text in force at an edition, or None before the first one, once withdrawn, and where none is stated."""
        if edition is None:
            return None
        years = [year for year in self.texts if year <= edition]
        text = self.texts[max(years)] if years else None
        return None if text == WITHDRAWN else text
