"""Packs pinned by content: a lock file made of a rulebook, and a rulebook held to one, years later."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import attrs

from ampcite.base.editions import Editions
from ampcite.base.errors import Complaint, InputError, PackError, short
from ampcite.law.files import PackUsed


def lock(packs: Sequence[PackUsed], editions: Editions, version: str) -> str:
    """The lock file of packs used at an edition of each code, by content, as JSON."""
    pinned = [attrs.asdict(pack) for pack in packs]
    return json.dumps({"ampcite": version, "editions": dict(editions), "packs": pinned}, indent=1) + "\n"


def verify_lock(packs: Sequence[PackUsed], text: str, name: str) -> str:
    """Holds packs to a lock file or to an earlier report; gives the sentence that a report says of it.

    Args:
        packs: the packs of a rulebook.
        text: a lock file, or a report as JSON, which repeats its packs.
        name: what complaints call it.

    Raises:
        InputError: when the text is neither.
        PackError: with every pack that is not the one pinned.
    """
    try:
        value: Any = json.loads(text)
        pinned: Mapping[str, str] = {p["name"]: p["digest"] for p in value["packs"]}
        if not all(isinstance(word, str) for pair in pinned.items() for word in pair):
            raise TypeError
    except (ValueError, KeyError, TypeError, RecursionError):
        raise InputError([Complaint(name, "", "is neither a lock file nor a report as JSON")]) from None
    said = []
    used = {pack.name: pack for pack in packs}
    for pack in packs:
        if pack.name not in pinned:
            said.append(f'the pack "{pack.name}" {pack.version} is not pinned there')
        elif pinned[pack.name] != pack.digest:
            said.append(f'the pack "{pack.name}" {pack.version} has the content {pack.digest[:12]}, '
                        f"not {short(pinned[pack.name][:12])} as pinned")  # fmt: skip
    said += [f'the pack "{missing}" is pinned there and not in use' for missing in pinned.keys() - used.keys()]
    if said:
        raise PackError([Complaint(name, "", one) for one in said])
    return f"The packs are those pinned by {name}."
