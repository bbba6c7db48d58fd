"""What a reader is told of findings: notes that say once what several parts have alike, and the lines that decided."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from ampcite.engine.findings import Finding, Report
from ampcite.house.part_types import part_types, place, place_title
from ampcite.language.printing import sentence
from ampcite.reviewing.words import listed_parts

MOST_NOTES = 3
"""Of findings of one rule in one comment, so many are written out; of the others the parts are named."""

SAYS_NOTHING = (" = 0", " none", ": yes")
LISTS = ("among (", "(asked: ")
"""How a worked line ends that decided nothing, and what one holds that compares lists or repeats the note."""

LONGEST_LINE = 160
"""A worked line of more characters is a list; it is written out with ``every`` only."""


def heading(report: Report, findings: Sequence[Finding], parts: Sequence[str], changes: Iterable[str] = ()) -> str:
    """What a comment is about, in few words: its parts; of the whole, its facts, or what its rules are of.

    Args:
        report: that the findings are of.
        findings: of the comment.
        parts: what its parts are called.
        changes: JSON Pointers of what its cure changes.
    """
    if any(f.about for f in findings) or tuple(parts) != (findings[0].label,):
        return sentence(listed_parts(parts))
    facts = [place_title(at).removeprefix("the ") for at in changes if not place(at).part_type.name]
    facts = facts or [title for f in findings[:1] for title in _read(report, f)]
    return sentence(", ".join(dict.fromkeys(facts or [f.family for f in findings])))


MOST_FACTS = 2
"""A rule that reads more facts of the whole is about none of them by itself."""


def _read(report: Report, finding: Finding) -> list[str]:
    """What the few facts of the whole are called that a rule judges, not those that only say whether it applies; none
    where it rests on more, or on other things."""
    if report.verdicts is None:
        return []
    from ampcite.language.tree import names_in  # when a heading of the whole is made, which a sound house has none of

    machine, fields = report.verdicts.state.machine, part_types()[""].fields
    rule = machine.bound.rules[machine.by_id[finding.rule]]
    trees = [tree for _, tree in rule.let] + [one.holds for one in rule.alternatives]
    judged = {name for tree in (*trees, *([rule.holds] if rule.holds else [])) for name in names_in(tree)}
    titles = [fields[p.leaf].title for name, p in rule.inputs.items()
              if name in judged and not p.steps and not p.derived and p.leaf in fields]  # fmt: skip
    return titles if len(titles) <= MOST_FACTS else []


def telling(worked: Sequence[str]) -> list[str]:
    """The worked lines that show a reader what decided: those with a figure, since what is only yes or no is said in
    words; none that say nothing, and no lists to compare by eye."""
    lines = [line for line in worked if any(map(str.isdigit, line)) and not line.endswith(SAYS_NOTHING)
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
