"""The first and the last step for a caller: packs by name or folder, and a report in words or as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from ampcite.report import Report, plain
from ampcite.rule import ELECTRICAL, Editions
from ampcite.rulebook import Rulebook
from ampcite.rulebook import load as _load

if TYPE_CHECKING:
    from ampcite.adoption import Law


def load(law: int | Editions | Law, packs: str | Path | Iterable[str | Path] | None = None) -> Rulebook:
    """The rules in force at an edition of each code.

    Args:
        law: what :func:`ampcite.law` found for a description; or the year of each code, such as
            ``{"electrical": 2020, "building": 2021}`` (the second are the residential and fire codes), as
            ``description.editions`` has those a description names. The rules of a code that is left out are not
            asked. A plain year is the electrical code's.
        packs: one or more names of installed packs or folders of packs; by default every installed pack. A pack that
            needs another's figures gets them, without that pack's rules.

    Raises:
        PackError: with every fault found, or when a pack or an edition is not known.
    """
    from ampcite.plugins import chosen_folders, lenders

    chosen = chosen_folders([packs] if isinstance(packs, str | Path) else packs)
    if isinstance(law, int):
        return _load({ELECTRICAL: law}, chosen, lenders(chosen))
    if isinstance(law, Mapping):
        return _load(law, chosen, lenders(chosen))
    chosen += [layer for layer in law.layers if layer not in chosen]
    return _load(law.editions, chosen, lenders(chosen), law.date, law.said, law.codes)


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
    from ampcite.writers.text import write

    return write(report, every)
