"""What a batch came to: counts by outcome, rule, discipline, contractor, edition; what changed since the last."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import attrs

from ampcite.desk.judge import ADVICE, CLEAN, CORRECT, OUTCOMES, UNDECIDED, UNUSABLE

MOST = 50
"""So many lines of what is counted by name, the most frequent first; the tables have all."""

WORDS: Mapping[str, str] = {
    CORRECT: "something fails and has to be corrected",
    UNDECIDED: "nothing fails, but not everything could be decided: not clean",
    ADVICE: "nothing fails; practice is not kept",
    CLEAN: "every rule that applies was decided and passes",
    UNUSABLE: "could not be checked",
}
"""What each outcome means."""


@attrs.define
class Tally:
    """Counts, added up submission by submission.

    Duplicates and submissions that a later revision replaces are counted as such, and nowhere else.
    """

    total: int = 0
    outcomes: Counter[str] = attrs.Factory(Counter)
    same: int = 0
    superseded: int = 0
    conflicts: int = 0
    fails: Counter[str] = attrs.Factory(Counter)
    advice: Counter[str] = attrs.Factory(Counter)
    undecided: Counter[str] = attrs.Factory(Counter)
    rules: dict[str, tuple[str, str]] = attrs.Factory(dict)
    missing: Counter[str] = attrs.Factory(Counter)
    groups: dict[str, Counter[tuple[str, str]]] = attrs.Factory(
        lambda: {"discipline": Counter(), "contractor": Counter(), "edition": Counter()}
    )
    reasons: Counter[str] = attrs.Factory(Counter)

    def add(self, row: Mapping[str, Any]) -> None:
        """Counts a submission with its findings, these column by column."""
        self.total += 1
        self.conflicts += row["conflicts_with"] is not None
        if row["same_as"] is not None or row["superseded_by"] is not None:
            self.same += row["same_as"] is not None
            self.superseded += row["same_as"] is None
            return
        outcome = row["outcome"]
        self.outcomes[outcome] += 1
        if outcome == UNUSABLE:
            self.reasons[_kind(row["reason"])] += 1
            return
        edition = f"{row['electrical_edition'] or '-'} electrical, {row['building_edition'] or '-'} building"
        self.groups["edition"][edition, outcome] += 1
        self.groups["contractor"][row["contractor"] or "not stated", outcome] += 1
        found = row["findings"]
        fails, advice, undecided, disciplines, missing = set[str](), set[str](), set[str](), set[str](), set[str]()
        of = zip(*(found[name] for name in ("rule", "title", "discipline", "verdict", "decided", "later", "missing")),
                 strict=True)  # fmt: skip
        for rule, title, discipline, verdict, decided, later, lacks in of:
            self.rules[rule] = title, discipline
            if verdict == "fail":
                fails.add(rule)
                disciplines.add(discipline)
            elif decided:
                advice.add(rule)
            if not decided and not later:
                undecided.add(rule)
                missing.update(lacks.split("; "))
        for counts, seen in ((self.fails, fails), (self.advice, advice), (self.undecided, undecided),
                             (self.missing, missing)):  # fmt: skip
            counts.update(seen)
        self.groups["discipline"].update((discipline, CORRECT) for discipline in disciplines)

    def as_dict(self, changes: Mapping[str, Any]) -> dict[str, Any]:
        """The summary after ``schemas/batch.schema.json``."""
        rules = sorted(self.rules, key=lambda r: (-self.fails[r], -self.undecided[r], -self.advice[r], r))
        return {
            "schema": "https://ampcite.invalid/schemas/1.0/batch.schema.json",
            "submissions": self.total,
            "outcomes": {outcome: self.outcomes[outcome] for outcome in OUTCOMES},
            "same": self.same, "superseded": self.superseded, "conflicts": self.conflicts,
            "rules": [
                {"rule": r, "title": self.rules[r][0], "discipline": self.rules[r][1], "fails": self.fails[r],
                 "advice": self.advice[r], "undecided": self.undecided[r]}
                for r in rules if self.fails[r] or self.advice[r] or self.undecided[r]
            ],
            "missing": [{"fact": fact, "submissions": n} for fact, n in _ranked(self.missing)[:MOST]],
            "reasons": [{"reason": reason, "submissions": n} for reason, n in _ranked(self.reasons)[:MOST]],
            **{name: _group(counts) for name, counts in self.groups.items()},
            "changes": dict(changes),
        }  # fmt: skip


def _ranked(counts: Mapping[str, int]) -> list[tuple[str, int]]:
    return sorted(counts.items(), key=lambda one: (-one[1], one[0]))


def _group(counts: Mapping[tuple[str, str], int]) -> list[dict[str, Any]]:
    whole: Counter[str] = Counter()
    for (name, _), n in counts.items():
        whole[name] += n
    return [{"name": name, "submissions": n, **{o: counts.get((name, o), 0) for o in OUTCOMES if o != UNUSABLE}}
            for name, n in _ranked(whole)[:MOST]]  # fmt: skip


def _kind(reason: str) -> str:
    """A reason without the place it is of, so that like ones count together."""
    first = reason.split("; ")[0]
    place, sep, said = first.partition(": ")
    return said if sep and place.startswith("/") else first


NO_CHANGES: Mapping[str, Any] = {"first_run": True, "added": 0, "gone": 0, "sent_again": 0, "outcomes": []}
"""What changed since the last run, where there was none."""


def as_text(summary: Mapping[str, Any], most: int = 10) -> str:
    """The summary for a terminal."""
    lines = [f"In all {summary['submissions']} submissions"]
    lines += [f"  {summary['outcomes'][o]:>8}  {o:<11} {WORDS[o]}" for o in OUTCOMES if summary["outcomes"][o]]
    for count, words in ((summary["same"], "the same file again"), (summary["superseded"], "replaced by a later "
                         "revision"), (summary["conflicts"], "one of several files for a permit and revision")):
        lines += [f"  {count:>8}  {words}"] if count else []
    failing = [r for r in summary["rules"] if r["fails"]]
    lines += _part("Most frequent corrections", [(r["fails"], f"{r['title']} ({r['rule']})") for r in failing[:most]])
    lines += _part("Most asked for", [(m["submissions"], m["fact"]) for m in summary["missing"][:most]])
    lines += _part("Unusable because", [(m["submissions"], m["reason"]) for m in summary["reasons"][:most]])
    changes = summary["changes"]
    if not changes["first_run"]:
        said = [(changes["added"], "new"), (changes["gone"], "no longer there"), (changes["sent_again"], "sent again")]
        said += [(c["submissions"], f"{c['was']} before, {c['is']} now") for c in changes["outcomes"]]
        lines += _part("Since the last run", [one for one in said if one[0]])
    return "\n".join(lines) + "\n"


def _part(title: str, rows: Sequence[tuple[int, str]]) -> list[str]:
    return ["", title, *(f"  {count:>8}  {words}" for count, words in rows)] if rows else []
