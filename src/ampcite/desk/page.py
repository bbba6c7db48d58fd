"""The summary of a batch as one HTML page: outcomes in words and not in colour alone, without a network."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ampcite.desk.judge import OUTCOMES, UNUSABLE
from ampcite.desk.summary import WORDS
from ampcite.letters.as_html import template

SHOWN = 25
"""So many lines of each list."""


def to_html(summary: Mapping[str, Any]) -> str:
    """The page; the same summary gives the same page. Every text is escaped.

    Raises:
        ModuleNotFoundError: where Jinja2 is not installed (``pip install 'ampcite[desk]'``).
    """
    rules = summary["rules"]
    ranked = {
        kind: [(r[kind], r["title"], r["rule"]) for r in sorted(rules, key=lambda r: (-r[kind], r["rule"])) if r[kind]]
        for kind in ("fails", "undecided", "advice")
    }
    lists = [
        ("Most frequent corrections", "Requirements that submissions fail.", ranked["fails"]),
        ("Most frequent advice", "Practice that submissions do not keep.", ranked["advice"]),
        ("Most asked for", "Facts that nobody has stated.",
         [(m["submissions"], m["fact"], "") for m in summary["missing"]]),
        ("Undecided most often", "Requirements that wait for facts.", ranked["undecided"]),
        ("Unusable because", "Reasons why submissions could not be checked.",
         [(m["submissions"], m["reason"], "") for m in summary["reasons"]]),
    ]  # fmt: skip
    groups = [
        ("To be corrected, by discipline", "Discipline", summary["discipline"]),
        ("By contractor", "Contractor", summary["contractor"]), ("By edition", "Edition", summary["edition"]),
    ]  # fmt: skip
    apart = [(summary["same"], "the same file again"), (summary["superseded"], "replaced by a later revision"),
             (summary["conflicts"], "one of several files for one permit and revision")]  # fmt: skip
    page: str = template("summary.html.j2", "desk").render(
        s=summary, words=WORDS, apart=apart, lists=[(t, c, rows[:SHOWN]) for t, c, rows in lists],
        groups=[(t, c, rows[:SHOWN]) for t, c, rows in groups], shown=[o for o in OUTCOMES if o != UNUSABLE],
    )  # fmt: skip
    return page
