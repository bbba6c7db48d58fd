"""The stages of a job, in their order: when a fact can first be known and a rule first be answered."""

from __future__ import annotations

STAGES = ("design", "plan review", "rough", "final", "handover")
"""From the design of the strings and wiring to the handing over of the finished system."""


def latest(*stages: str) -> str:
    """The last of some stages; of none, the first there is."""
    return max(stages, key=STAGES.index, default=STAGES[0])


def is_later(stage: str, now: str | None) -> bool:
    """Whether a stage comes after the one a job is at; never where nobody says which that is."""
    return now is not None and STAGES.index(stage) > STAGES.index(now)
