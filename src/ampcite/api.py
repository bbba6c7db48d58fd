"""The first and the last step for a caller: packs by name or folder, and a report in words or as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from ampcite.base.editions import ELECTRICAL, Editions
from ampcite.engine.findings import Report
from ampcite.engine.rulebook import Rulebook
from ampcite.engine.rulebook import load as _load
from ampcite.report.as_json import plain

if TYPE_CHECKING:
    from ampcite.house.read import Description
    from ampcite.law.adoption import Law


def load(law: int | Editions | Law, packs: str | Path | Iterable[str | Path] | None = None) -> Rulebook:
    """The rules in force at an edition of each code.

    Args:
        law: what :func:`ampcite.law_for` found for a description; or the year of each code, such as
            ``{"electrical": 2020, "building": 2021}`` (the second are the residential and fire codes), as
            ``description.editions`` has those a description names. The rules of a code that is left out are not
            asked. A plain year is the electrical code's.
        packs: one or more names of installed packs or folders of packs; by default every installed pack. A pack that
            needs another's figures gets them, without that pack's rules.

    Raises:
        PackError: with every fault found, or when a pack or an edition is not known.
    """
    from ampcite.law.registry import chosen_folders, lenders

    chosen = chosen_folders([packs] if isinstance(packs, str | Path) else packs)
    if isinstance(law, int):
        return _load({ELECTRICAL: law}, chosen, lenders(chosen))
    if isinstance(law, Mapping):
        return _load(law, chosen, lenders(chosen))
    chosen += [layer for layer in law.layers if layer not in chosen]
    return _load(law.editions, chosen, lenders(chosen), law.date, law.said, law.codes)


def law_for(description: Description) -> Law | None:
    """The law of the jurisdiction and date that a description names; None where it names no jurisdiction.

    An edition that the description states is the applicant's choice, where the ordinance leaves one.

    Raises:
        InputError: when the jurisdiction is not known, the date is not stated, nothing was in force then, or the
            edition stated may not be chosen.
        PackError: when a layer that the jurisdiction has in force is not installed or can't be used.
    """
    from ampcite.law.adoption import applicable_law

    facts = description.whole.facts
    name = facts.get("codes/jurisdiction")
    if name is None:
        return None
    day = str(facts.get("codes/application_date", ""))
    return applicable_law(str(name), day, description.editions, description.source)


def to_json(report: Report) -> str:
    """The report as a JSON text after ``schemas/report.schema.json``; the same report gives the same text."""
    import ampcite

    return json.dumps(plain(report, ampcite.__version__), ensure_ascii=False, indent=1) + "\n"


def to_text(report: Report, every: bool = False) -> str:
    """The report in words, what must change first.

    Args:
        report: from :func:`ampcite.check`.
        every: whether passes are written out, with their arithmetic, and what does not apply is listed.
    """
    from ampcite.report.text import write

    return write(report, every)
