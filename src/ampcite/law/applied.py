"""The law that applies to one application, whoever found it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import attrs

from ampcite.base.editions import Editions


@attrs.frozen
class Law:
    """The law that applies to one application.

    Attributes:
        editions: the edition of each code.
        layers: the layers of local law, by folder or zip file, in the order they speak.
        date: the date of the application, year-month-day.
        said: why, in sentences that a report repeats.
        codes: what is thereby known of the codes in force, by the fields of a description's ``codes``.
    """

    editions: Editions
    layers: tuple[Path, ...]
    date: str
    said: tuple[str, ...]
    codes: Mapping[str, object] = attrs.Factory(dict)
