"""Examples that others have printed, each answered by the rules: a house of a few facts, and what is printed of it.

The files ``published/*.toml`` hold them, a subject a file. A file names its sources, and an example names one of them::

    [sources.house_inspector]
    title = "Where are electrical breaker panels not allowed by code?"
    body = "McGarry and Madsen Inspection"
    year = "2020"
    tier = "B"                          # A: a public body, an association or a textbook; B: a named expert; C: others

    [[example]]
    id = "n14-12"
    source = "house_inspector"
    says = "The handle of the highest breaker is at most 79 in above the floor."
    [[example.answer]]
    rule = "handle-too-high"
    editions = [2017, 2020]             # all, where left out
    limit = { of = "disconnects/0/handle_height", at = 79, step = 0.001, passes = "at or below" }

An answer says what a pack's example says (``set``, ``verdict`` or ``limit``, ``worked``). Its house begins with what
all examples of the rule have in common, unless ``alone`` says that the facts of the source are enough; ``set`` of the
example holds for all of its answers. ``figures`` are those printed, each a text, a number, or a number and the greatest
rounding of it; ``differs`` are printed figures that are wrong, and that the rule must not show. ``judged`` tells of
such a source, and ``note`` what is right and why. Where a printed figure is made of several findings the example has no
answer but ``asked``, the rules and the editions they are asked at; the project's tests do that arithmetic.
"""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import attrs

from ampcite.authoring.testing import Trial, answer, faults, trials_of
from ampcite.engine.rulebook import Rulebook
from ampcite.law.records import Example, Pack, Rule

JUDGED = ("right", "outdated", "partly wrong", "wrong", "key not printed")
"""What may be said of a source's answer; of the last, the source prints the question and its choices only."""


@attrs.frozen
class Printed:
    """What a source says of one rule.

    Attributes:
        editions: the editions at which the rule must answer so; empty for all.
        figures: figures the finding must show, each with the greatest difference.
        differs: figures that are printed and wrong: the finding must show others.
        alone: the house has no other facts than those of the source.
    """

    rule: str
    editions: tuple[int, ...]
    example: Example
    figures: Mapping[str, tuple[float | str, float]]
    differs: Mapping[str, tuple[float | str, float]]
    alone: bool


@attrs.frozen
class Published:
    """One printed example.

    Attributes:
        source: its title, body and year, as a reader would look for it.
        place: the page, question or sheet, where there are many; else "".
        says: what is printed, in our words.
        judged: one of ``JUDGED``.
        note: why, where the source is not right.
        asked: the rules that the tests ask of it, each with the editions, where it has no answers.
    """

    id: str
    source: Mapping[str, str]
    place: str
    says: str
    judged: str
    note: str
    answers: tuple[Printed, ...]
    asked: Mapping[str, tuple[int, ...]]

    @property
    def rules(self) -> frozenset[str]:
        """The rules that answer it."""
        return frozenset([*self.asked, *(printed.rule for printed in self.answers)])

    @property
    def named(self) -> str:
        """The source in one line."""
        parts = (self.source["title"], self.source["body"], self.source.get("year", ""), self.place)
        return ", ".join(part for part in parts if part)


FOLDER = Path(__file__).parent / "published"


@cache
def published() -> tuple[Published, ...]:
    """All examples, in the order of the files."""
    return tuple(one for file in sorted(FOLDER.glob("*.toml")) for one in _of_file(file))


def by_rule(examples: Iterable[Published]) -> Mapping[str, Sequence[Published]]:
    """The examples of each rule that has some."""
    out: dict[str, list[Published]] = {}
    for one in examples:
        for rule in one.rules:
            out.setdefault(rule, []).append(one)
    return out


def searched(rule: Rule) -> str:
    """What was searched for in public pages where a rule has no published example, in a sentence."""
    subject = rule.file.removesuffix(".toml")
    with (FOLDER / "searches.csv").open(newline="", encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if subject in row["subject"].split()]
    if not rows:
        return "Nobody has searched for one yet."
    words = "; ".join(f"{row['words']} ({row['when']})" for row in rows)
    return f"Public pages were searched for one, and none was found: {words}."


def _of_file(file: Path) -> Iterator[Published]:
    raw = tomllib.loads(file.read_text("utf-8"))
    for one in raw["example"]:
        shared = one.get("set", {})
        yield Published(one["id"], raw["sources"][one["source"]], one.get("place", ""), one["says"],
                        one.get("judged", "right"), one.get("note", ""),
                        tuple(_printed(said, shared) for said in one.get("answer", ())),
                        {rule: tuple(editions) for rule, editions in one.get("asked", {}).items()})  # fmt: skip


def _printed(raw: Mapping[str, Any], shared: Mapping[str, Any]) -> Printed:
    limit = raw.get("limit", {})
    example = Example(raw.get("says", ""), (), {**shared, **raw.get("set", {})}, "", raw.get("verdict"),
                      limit.get("of", ""), limit.get("at"), limit.get("step"), limit.get("passes", ""),
                      worked=raw.get("worked", ""))  # fmt: skip
    return Printed(raw["rule"], tuple(raw.get("editions", ())), example, _figures(raw.get("figures", {})),
                   _figures(raw.get("differs", {})), raw.get("alone", False))  # fmt: skip


def _figures(raw: Mapping[str, Any]) -> dict[str, tuple[float | str, float]]:
    return {name: (value[0], value[1]) if isinstance(value, list) else (value, 0.0) for name, value in raw.items()}


def trials(printed: Printed, pack: Pack, rule: Rule) -> Iterator[Trial]:
    """The trials of an example, with what the examples of the rule have in common unless it stands alone."""
    given = printed.example.given if printed.alone else {**rule.given, **printed.example.given}
    yield from trials_of(pack, rule, attrs.evolve(printed.example, given=given, editions=printed.editions))


def answer_faults(printed: Printed, rulebook: Rulebook, trial: Trial) -> list[str]:
    """What is wrong with the answer to a trial; empty where it is as printed."""
    out = faults(rulebook, trial)
    if not printed.figures and not printed.differs:
        return out
    _, found = answer(rulebook, trial)
    shown = found[0].figures if found else {}
    for name, want in printed.figures.items():
        if not _same(shown.get(name, ("nothing", ""))[0], *want):
            out.append(f'shows {shown.get(name)} as "{name}", printed {want[0]!r}')
    for name, wrong in printed.differs.items():
        if name not in shown or _same(shown[name][0], *wrong):
            out.append(f'shows {shown.get(name)} as "{name}", which is the wrong figure printed')
    return out


def _same(ours: float | str, printed: float | str, rounding: float) -> bool:
    if isinstance(ours, str) or isinstance(printed, str):
        return ours == printed
    return abs(ours - printed) <= rounding + 1e-9 * abs(printed)
