"""Subjects as a crew lead says them: a word for the families of rules that belong to one piece of work."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ampcite.base.errors import ArgumentError, nearest
from ampcite.engine.plan import Bound

SUBJECTS: Mapping[str, tuple[str, ...]] = {
    "strings": ("string voltage", "current and overcurrent", "dc arc-fault and ground-fault"),
    "wiring": ("conductor ampacity", "conductors in their places", "conductor schedule", "raceways and boxes",
               "voltage drop", "voltage rise", "current and overcurrent"),
    "connection": ("interconnection",),
    "shutdown": ("rapid shutdown", "disconnects"),
    "roof": ("roof access", "attachments", "fire class", "roof covering", "framing", "loads", "roof plan",
             "vents and equipment", "engineering", "zoning"),
    "papers": ("approvals and inspections", "editions", "documents that disagree", "missing information", "listing",
               "owner's packet", "alarms of the house"),
    "readings": ("commissioning",),
}  # fmt: skip
"""A subject to the families it takes; a family by itself, such as grounding, labels or storage, is a subject too."""


def rules_about(bound: Bound, subjects: Iterable[str]) -> list[str]:
    """The ids of the rules that belong to some subjects.

    Raises:
        ArgumentError: when a word is neither a subject nor a family of rules.
    """
    families = {rule.family for rule in bound.rules}
    wanted: set[str] = set()
    for word in subjects:
        if word not in SUBJECTS and word not in families:
            raise ArgumentError(f'no subject is called "{word}"; {nearest(word, sorted({*SUBJECTS, *families}))}')
        wanted.update(SUBJECTS.get(word, (word,)))
    return [rule.id for rule in bound.rules if rule.family in wanted]
