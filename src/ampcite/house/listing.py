"""A listing as a label prints it, in one way of writing: the standard and its supplement, without part and edition."""

from __future__ import annotations

import re
from functools import lru_cache

_STANDARD = re.compile(r"\b(UL|IEC|IEEE|NFPA|ANSI|CSA)[\s-]*([0-9]+(?:[A-Z](?![A-Z]))?)"
                       r"((?:-[0-9]+(?![A-Z0-9]))*)(?![0-9])[\s,-]*(.*)", re.IGNORECASE)  # fmt: skip
_PARTS_DIFFER = {"248", "1547"}
"""Standards whose parts are of different things: of fuses one for each class; that of interconnection has its year."""
_EDITION = re.compile(r"\((?!S[A-Z]\)).*\)|\b[0-9]*(?:st|nd|rd|th)?\s*ed(?:\.|ition|n)?\b.*|:?\s*\b(?:19|20)[0-9]{2}\b",
                      re.IGNORECASE)  # fmt: skip
_SUPPLEMENT = re.compile(r"\bsupplement\b", re.IGNORECASE)


@lru_cache(maxsize=1024)
def standards(printed: str) -> tuple[str, ...]:
    """What a listing names: its standard, such as "UL 1741 SB" for "UL1741 Supplement SB (2nd Ed.)".

    Parts ("UL 61730-1") and editions ("UL 2703 Ed. 1") are left out; where the parts are of different things, the part
    is named before the standard it belongs to ("UL 248-14" and "UL 248"). What names no standard stays as printed.
    """
    found = _STANDARD.search(printed)
    if found is None:
        return (printed,)
    body, number, part, rest = found.groups()
    supplement = _SUPPLEMENT.sub(" ", _EDITION.sub(" ", rest)).upper().strip(" ()").split()
    named = [number + part, number] if part and number in _PARTS_DIFFER else [number]
    return tuple(" ".join([body.upper(), one.upper(), *supplement]).rstrip(" ,;:") for one in named)
