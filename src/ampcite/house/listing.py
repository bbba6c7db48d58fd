"""A listing as a label prints it, in one way of writing: the standard and its supplement, without part and edition."""

from __future__ import annotations

import re
from functools import lru_cache

_STANDARD = re.compile(r"\b(UL|IEC|IEEE|NFPA|ANSI|CSA)[\s-]*([0-9]+[A-Z]?)((?:-[0-9]+)*)\b[\s,-]*(.*)", re.IGNORECASE)
_PARTS_DIFFER = {"248"}
"""Standards whose parts are of different things: those of fuses have a part for each class."""
_EDITION = re.compile(r"\(.*\)|\b[0-9]*(?:st|nd|rd|th)?\s*ed(?:\.|ition|n)?\b.*|:?\s*\b(?:19|20)[0-9]{2}\b",
                      re.IGNORECASE)  # fmt: skip
_SUPPLEMENT = re.compile(r"\bsupplement\b", re.IGNORECASE)


@lru_cache(maxsize=1024)
def standard(printed: str) -> str:
    """The standard that a listing names, such as "UL 1741 SB" for "UL1741 Supplement SB (2nd Ed.)".

    Parts ("UL 61730-1") and editions ("UL 2703 Ed. 1") are left out, but for parts that are of different things
    ("UL 248-14"); what names no standard stays as it is printed.
    """
    found = _STANDARD.search(printed)
    if found is None:
        return printed
    body, number, part, rest = found.groups()
    number += part if number in _PARTS_DIFFER else ""
    rest = _SUPPLEMENT.sub(" ", _EDITION.sub(" ", rest))
    return " ".join([body.upper(), number.upper(), *rest.upper().split()]).rstrip(" ,;:")
