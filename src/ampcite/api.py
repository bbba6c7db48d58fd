"""The first and the last step for a caller: packs by name or folder, and a report in words or as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path

from ampcite.report import Report, plain
from ampcite.rulebook import Rulebook
from ampcite.rulebook import load as _load


def load(edition: int, packs: str | Path | Iterable[str | Path] | None = None) -> Rulebook:
    """The rules in force at an edition of the electrical code.

    Args:
        edition: the year, such as 2020; ``description.edition`` is the one a description names.
        packs: one or more names of installed packs or folders of packs; by default every installed pack.

    Raises:
        PackError: with every fault found, or when a pack or the edition is not known.
    """
    from ampcite.plugins import chosen_folders

    return _load(edition, chosen_folders([packs] if isinstance(packs, str | Path) else packs))


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
