"""The first and the last step for a caller: packs by name or folder, and a report in words or as JSON."""

from __future__ import annotations

import operator
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import attrs

from ampcite.base.editions import CODES, ELECTRICAL, Editions, codes_in_words
from ampcite.base.errors import ArgumentError, Complaint, PackError, nearest, short, wrong_argument
from ampcite.engine.findings import Report
from ampcite.engine.rulebook import Rulebook
from ampcite.engine.rulebook import load as _load
from ampcite.report import as_json, as_jsonl
from ampcite.report.entries import Detail

if TYPE_CHECKING:
    from ampcite.house.parts import Description
    from ampcite.law.applied import Law
    from ampcite.reviewing.comments import Review


def load(law: int | Editions | Law, packs: str | Path | Iterable[str | Path] | None = None, *,
         hold_unconfirmed: bool = False) -> Rulebook:  # fmt: skip
    """The rules in force at an edition of each code.

    Args:
        law: what :func:`ampcite.law_for` found for a description; or the year of each code, such as
            ``{"electrical": 2020, "building": 2021}`` (the second are the residential and fire codes), as
            ``description.editions`` has those a description names. The rules of a code that is left out are not
            asked. A plain year is the electrical code's.
        packs: one or more names of installed packs or folders of packs; by default every installed pack. A pack that
            needs another's figures gets them, without that pack's rules.
        hold_unconfirmed: let a rule of which no clause was read anywhere warn where it would fail; either way what it
            says begins with "Verify first".

    Raises:
        ArgumentError: when the first argument names no edition or an unknown code, or either is of another type.
        PackError: with every fault found, when a pack or an edition is not known, or when no rule is left to ask.
    """
    from ampcite.law.applied import Law
    from ampcite.law.registry import chosen_folders, dependencies

    editions = law.editions if isinstance(law, Law) else _editions(law)
    chosen = chosen_folders(_packs(packs))
    if isinstance(law, Law):
        chosen += [layer for layer in law.layers if layer not in chosen]
        rulebook = _load(editions, chosen, dependencies(chosen), law.date, law.said, law.codes)
    else:
        rulebook = _load(editions, chosen, dependencies(chosen))
    if not rulebook.bound.heads:
        raise PackError([Complaint("", "", _empty(editions, rulebook))])
    if hold_unconfirmed:
        return attrs.evolve(rulebook, hold_unconfirmed=True, law=(*rulebook.law, HELD))
    return rulebook


HELD = "What would fail by a clause that was read nowhere is held as a warning"
"""What a report says of its law where :func:`load` was told to hold such failures."""


def _editions(law: Any) -> Editions:
    if not isinstance(law, Mapping):
        return {ELECTRICAL: _year(law, "a year, editions by code such as {'electrical': 2020}, or what law_for gives")}
    for code in law:
        if code not in CODES:
            if not isinstance(code, str):
                raise wrong_argument("a code is named by a text", code)
            raise ArgumentError(f"no code is called {short(code)}; {nearest(code, CODES)}")
    if not law:
        raise ArgumentError("no edition of any code is named, so nothing would be checked; "
                            "name one, such as {'electrical': 2020}")  # fmt: skip
    return {code: _year(law[code], f"the edition of the {CODES[code]} as a year") for code in law}


def _year(value: Any, wanted: str) -> int:
    """A whole number of any make, also of numpy's."""
    try:
        if isinstance(value, bool):
            raise TypeError
        year = operator.index(value)
        if not 0 < year < 10_000:
            raise TypeError
        return year
    except TypeError:
        raise wrong_argument(f"load takes {wanted}", value) from None


def _packs(packs: Any) -> list[str | Path] | None:
    if packs is None:
        return None
    if isinstance(packs, bytes | Mapping) or not isinstance(packs, str | Path | Iterable):
        raise wrong_argument("packs are named by text or path, one or a list of them", packs)
    out = [packs] if isinstance(packs, str | Path) else list(packs)
    for pack in out:
        if not isinstance(pack, str | Path):
            raise wrong_argument("a pack is named by text or path", pack)
    return out


def _empty(editions: Editions, rulebook: Rulebook) -> str:
    packs = ", ".join(pack.name for pack in rulebook.packs)
    absent = " and of the ".join(words for code, words in CODES.items() if code not in editions)
    more = f"; the edition of the {absent} is not named" if absent else ""
    return f"no rule of {packs} is in force at {codes_in_words(editions)}, so nothing would be checked{more}"


def law_for(description: Description, layers: str | Path | Iterable[str | Path] = ()) -> Law | None:
    """The law of the jurisdiction and date that a description names; None where it names no jurisdiction.

    An edition that the description states is the applicant's choice, where the ordinance leaves one.

    Args:
        description: from :func:`ampcite.read`.
        layers: layers of local law that are not installed: folders or zip files, or folders that hold some.

    Raises:
        ArgumentError: when the argument is no description.
        InputError: when the jurisdiction is not known, the date is not stated, nothing was in force then, or the
            edition stated may not be chosen.
        PackError: when a layer that the jurisdiction has in force is not installed or can't be used.
    """
    from ampcite.house.parts import Description

    if not isinstance(description, Description):
        raise wrong_argument("law_for takes a description from read", description)
    facts = description.whole.facts
    name = facts.get("codes/jurisdiction")
    if name is None:
        return None
    from ampcite.law.adoption import Application, applicable_law

    one = Application(str(name), facts, description.editions, description.source)
    return applicable_law(one, [Path(where) for where in _packs(layers) or ()])


def to_json(
    report: Report | Review, *, passes: bool = False, not_applicable: bool = False, failures_only: bool = False
) -> str:
    """The report as a JSON text on one line, after ``schemas/report.schema.json``; the same report, the same text.

    Rules, clauses, sources and parts are said once, and findings refer to them. What is not a pass is given in full,
    passes only by rule and part, and of what does not apply only the count. Of a review its comments are given as well,
    one for each cause, with the cure, and what has to be stated or looked at; they refer to the findings.

    Args:
        report: from :func:`ampcite.check` or :func:`ampcite.review`.
        passes: gives passes in full as well.
        not_applicable: lists what does not apply, by rule and reason.
        failures_only: gives failures and nothing of warnings and passes but their count.

    Raises:
        ArgumentError: when the first argument is neither, or failures only and passes are asked for at once.
    """
    return as_json.to_json(_report_or_review(report), _detail(passes, not_applicable, failures_only))


def to_dict(
    report: Report | Review, *, passes: bool = False, not_applicable: bool = False, failures_only: bool = False
) -> dict[str, Any]:
    """The same as :func:`to_json` as dicts, lists, texts and numbers, fresh for each call."""
    return as_json.to_dict(_report_or_review(report), _detail(passes, not_applicable, failures_only))


def to_jsonl(
    reports: Iterable[Report], *, passes: bool = False, not_applicable: bool = False, failures_only: bool = False
) -> str:
    """Many reports as JSON Lines, after ``schemas/report-lines.schema.json``.

    The first line holds what the reports share: rules, clauses, sources, packs, cautions. Each further line is one
    report, which refers to them.

    Args:
        reports: from :func:`ampcite.check`, one of each submission. Each is let go once its line is made.
        passes, not_applicable, failures_only: as for :func:`to_json`.

    Raises:
        ArgumentError: when one of them is no report, or failures only and passes are asked for at once.
    """
    if not isinstance(reports, Iterable):
        raise wrong_argument("to_jsonl takes a list of reports", reports)
    detail = _detail(passes, not_applicable, failures_only)
    return "".join(as_jsonl.write(map(_report, reports), detail))


def _detail(passes: bool, not_applicable: bool, failures_only: bool) -> Detail:
    if passes and failures_only:
        raise ArgumentError("passes and failures_only contradict each other; ask for one of them")
    return Detail(passes, not_applicable, failures_only)


def to_text(review: Review, every: bool = False) -> str:
    """A review in words: what must change and what would cure it first.

    Args:
        review: from :func:`ampcite.review`.
        every: whether passes are written out, with their arithmetic, and what does not apply is listed.

    Raises:
        ArgumentError: when the first argument is no review.
    """
    from ampcite.report import as_text
    from ampcite.reviewing.comments import Review

    if not isinstance(review, Review):
        raise wrong_argument("to_text takes what review gives", review)
    return as_text.to_text(review, every)


def _report_or_review(value: Any) -> Report | Review:
    from ampcite.reviewing.comments import Review

    if isinstance(value, Report | Review):
        return value
    raise wrong_argument("a writer takes a report from check or a review from review", value)


def _report(value: Any) -> Report:
    if not isinstance(value, Report):
        raise wrong_argument("a writer takes a report from check", value)
    return value
