"""What a letter makes of findings: requirements with their clauses, and texts that every page can show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import attrs

from ampcite.engine.findings import VERIFY_FIRST, Clause, Finding
from ampcite.language.printing import sentence
from ampcite.law.changes import Change
from ampcite.letters.records import Item, Requirement
from ampcite.reviewing.telling import notes


def required_by(findings: Sequence[Finding]) -> tuple[Requirement, ...]:
    """What is required, each requirement once, with its clauses and what local law changed."""
    out: dict[str, tuple[dict[Clause, None], dict[Change, None]]] = {}
    for f in findings:
        clauses, local = out.setdefault(f.title, ({}, {}))
        clauses.update(dict.fromkeys(f.citations))
        local.update(dict.fromkeys(f.local))
    return tuple(
        Requirement(sentence(title).rstrip(".") + ".", tuple(dict.fromkeys(map(plain, clauses))),
                    tuple(map(str, local)), bool(clauses) and all(c.unconfirmed for c in clauses))
        for title, (clauses, local) in out.items()
    )  # fmt: skip


def shown(findings: Sequence[Finding]) -> tuple[str, ...]:
    """What is shown; that a clause was read nowhere is said beside the clause."""
    return tuple(note.replace(f"{VERIFY_FIRST} ", "") for note in notes(findings))


def plain(clause: Clause) -> str:
    """A clause without the word on where it was read, which a letter gives apart."""
    return f"{clause.work} {clause.clause.replace('; ', ' and ')}"


def reworded(item: Item, said: Mapping[str, str]) -> Item:
    shown = (said["shown"],) if "shown" in said else item.shown
    shown += (said["note"],) if "note" in said else ()
    required = item.required
    if "required" in said:
        clauses = tuple(dict.fromkeys(c for r in required for c in r.clauses))
        required = (Requirement(said["required"], clauses, tuple(dict.fromkeys(c for r in required for c in r.local)),
                                any(r.verify for r in required)),)  # fmt: skip
    return attrs.evolve(item, shown=shown, required=required, cure=said.get("cure", item.cure))


def readable(value: Any) -> Any:
    """A record without signs in its texts that no page can show, or that turn the direction of what is read."""
    if isinstance(value, str):
        return value.translate(_UNREADABLE)
    if isinstance(value, tuple):
        return tuple(map(readable, value))
    if attrs.has(type(value)):
        names = [field.name for field in attrs.fields(type(value)) if field.name not in ("keys", "phrases")]
        return attrs.evolve(value, **{name: readable(getattr(value, name)) for name in names})
    return value


_UNREADABLE = dict.fromkeys(
    [*(c for c in range(32) if c not in (9, 10)), *range(127, 160), 0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F),
     *range(0x2066, 0x206A), *range(0xD800, 0xE000), 0xFFFE, 0xFFFF], "\ufffd"
)  # fmt: skip
"""Control signs, halves of pairs, and marks that turn the direction of reading, each to the sign for what it is."""
