"""What a reader is told of findings: notes that say once what several parts have alike, and the lines that decided."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ampcite.engine.findings import Finding
from ampcite.language.printing import sentence
from ampcite.reviewing.words import listed_parts

MOST_NOTES = 3
"""Of findings of one rule in one comment, so many are written out; of the others the parts are named."""

SAYS_NOTHING = (" = 0", " none", ": yes")
LISTS = ("among (", "(asked: ")
"""How a worked line ends that decided nothing, and what one holds that compares lists or repeats the note."""

LONGEST_LINE = 160
"""A worked line of more characters is a list; it is written out with ``every`` only."""


def telling(worked: Sequence[str]) -> list[str]:
    """The worked lines that show a reader what decided: none that say nothing, and no lists to compare by eye."""
    lines = [line for line in worked if not line.endswith(SAYS_NOTHING)
             and not any(words in line for words in LISTS) and len(line) <= LONGEST_LINE]  # fmt: skip
    return lines if len(lines) <= MOST_NOTES else []


def notes(findings: Sequence[Finding]) -> Iterator[str]:
    """What was found, rule by rule; what several parts have alike is said once, with the parts named."""
    by_rule: dict[str, list[Finding]] = {}
    for f in findings:
        by_rule.setdefault(f.rule, []).append(f)
    for group in by_rule.values():
        same: dict[str, list[Finding]] = {}
        for f in group:
            same.setdefault(f.note.replace(f.label, "").replace(sentence(f.label), ""), []).append(f)
        kinds = list(same.values())
        for alike in kinds[:MOST_NOTES]:
            more = f" The same holds for {listed_parts(f.label for f in alike[1:])}." if len(alike) > 1 else ""
            yield alike[0].note + more
        rest = [f.label for alike in kinds[MOST_NOTES:] for f in alike]
        if rest:
            yield f"Likewise, with other figures, {listed_parts(rest)}."
