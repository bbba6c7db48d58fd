"""The verdicts of every rule on the shipped houses at every edition, one line a rule, part and answer.

    python tests/verdicts.py        # writes tests/verdicts/ anew, after a change that is meant

``test_verdicts.py`` shows what a change of rules, houses or program does to them. A user whose report changes from one
version to the next finds the reason in the changelog: whoever writes the files anew adds a fragment of the kind
``verdicts`` to ``docs/changes``.
"""

from __future__ import annotations

from pathlib import Path

import ampcite
from shared import EDITIONS, SHIPPED, TESTS, rulebook

FOLDER = TESTS / "verdicts"
HEAD = "rule\tverdict\teditions\tparts\n"


def answers(house: Path, edition: int) -> dict[tuple[str, str], list[str]]:
    """The parts about which a rule gives a verdict ("undecided" apart from "warn"), by rule and verdict."""
    report = ampcite.check(rulebook(edition), ampcite.read(house))
    out: dict[tuple[str, str], list[str]] = {}
    for finding in report.findings:
        verdict = str(finding.verdict) if finding.decided else "undecided"
        out.setdefault((finding.rule, verdict), []).append(finding.part or "the system")
    return out


def lines(house: Path) -> str:
    """The verdicts on a house, rules by name; editions between which nothing changes stand together."""
    by_answer: dict[tuple[str, str, str], list[int]] = {}
    for edition in EDITIONS:
        for (rule, verdict), parts in answers(house, edition).items():
            by_answer.setdefault((rule, verdict, ", ".join(parts)), []).append(edition)
    rows = ((rule, verdict, spans(found), parts) for (rule, verdict, parts), found in by_answer.items())
    return HEAD + "".join("\t".join(row) + "\n" for row in sorted(rows))


def spans(found: list[int]) -> str:
    """Editions in words that ``shared.years`` reads: a later edition that changes nothing changes no line."""
    runs: list[list[int]] = []
    for year in found:
        if runs and EDITIONS.index(year) == EDITIONS.index(runs[-1][-1]) + 1:
            runs[-1].append(year)
        else:
            runs.append([year])
    return "; ".join(
        f"from {run[0]}" if run[-1] == EDITIONS[-1] else str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}"
        for run in runs
    )


def kept(name: str) -> Path:
    """The file that keeps the verdicts on a shipped house."""
    return FOLDER / f"{name}.tsv"


if __name__ == "__main__":
    for name, path in SHIPPED.items():
        kept(name).write_text(lines(path), "utf-8")
