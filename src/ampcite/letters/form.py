"""The form of a letter: header, phrases, days, disciplines; of the local pack over what holds everywhere."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import attrs
import tomli

from ampcite.house.parts import Description
from ampcite.law.load import load_pack
from ampcite.law.registry import pack_folders


@attrs.frozen
class Discipline:
    """A group of comments: its title, and the packs and the families of rules that belong to it."""

    title: str
    packs: tuple[str, ...] = ()
    families: tuple[str, ...] = ()


@attrs.frozen
class Day:
    """A day that a letter names: so many days after the letter or the application; ``working`` passes weekends over."""

    says: str
    days: int
    since: str
    working: bool = False


@attrs.frozen
class Form:
    """What a letter says around its comments.

    Attributes:
        authority: the name of the authority; "" where no local pack speaks.
        header, footer, instructions, closing, phrases: as the schema of packs has them under ``letter``.
        days: the days that a letter names.
        disciplines: the groups of comments, in their order.
    """

    authority: str
    header: tuple[str, ...]
    footer: str
    instructions: tuple[str, ...]
    closing: tuple[str, ...]
    phrases: Mapping[str, str]
    days: tuple[Day, ...]
    disciplines: tuple[Discipline, ...]

    def discipline(self, pack: str, family: str) -> str:
        """The discipline of a rule: the first that names its family, else the first that names its pack."""
        by_family = (d.title for d in self.disciplines if family in d.families)
        by_pack = (d.title for d in self.disciplines if pack in d.packs)
        return next(by_family, "") or next(by_pack, "") or self.phrases["other"]

    def rank(self, discipline: str) -> int:
        """Where a discipline stands in a letter; one that the form does not have, last."""
        titles = [d.title for d in self.disciplines]
        return titles.index(discipline) if discipline in titles else len(titles)


def form_of(description: Description) -> Form:
    """The form of the jurisdiction that a description names; the general one where it names none that has any.

    Raises:
        PackError: when that jurisdiction's pack can't be used.
    """
    name = description.whole.facts.get("codes/jurisdiction")
    folders = pack_folders() if isinstance(name, str) else {}
    if name not in folders:
        return make_form({}, "")
    pack = load_pack(folders[name])
    return make_form(pack.letter, pack.authority.name if pack.authority else "")


def make_form(local: Mapping[str, Any], authority: str) -> Form:
    """A form from the table ``letter`` of a local pack; what it leaves out is as everywhere.

    Args:
        local: the table, as its schema has it.
        authority: the name of the authority.
    """
    said = {**_general(), **local}
    phrases = {**_general()["phrases"], **local.get("phrases", {})}
    header = [filled(line, {"authority": authority}) for line in said["header"]]
    return Form(
        authority,
        tuple(line for line in header if line),
        said["footer"],
        tuple(said["instructions"]),
        tuple(said["closing"]),
        phrases,
        tuple(Day(d["says"], d["days"], d["from"], d.get("working", False)) for d in said.get("date", ())),
        tuple(Discipline(d["title"], tuple(d.get("packs", ())), tuple(d.get("families", ())))
              for d in said["discipline"]),
    )  # fmt: skip


def before_sending() -> Form:
    """The form of the sheet that a designer makes before sending: it goes to nobody, and asks for no signature."""
    return make_form(_shipped("before.toml"), "")


def _general() -> dict[str, Any]:
    return _shipped("form.toml")


@cache
def _shipped(name: str) -> dict[str, Any]:
    out: dict[str, Any] = tomli.loads(Path(__file__).with_name(name).read_text("utf-8"))["letter"]
    return out


def filled(text: str, words: Mapping[str, str]) -> str:
    """A text with words put in for their names in curly brackets; other brackets stay as they are."""
    return re.sub(r"\{([a-z_]+)\}", lambda found: words.get(found[1], found[0]), text)


def day_after(day: str, days: int, working: bool = False) -> str:
    """The day so many days after another, both year-month-day; of working days, Saturdays and Sundays don't count."""
    at = date.fromisoformat(day)
    while days:
        at += timedelta(days=1)
        days -= not working or at.weekday() < 5
    return at.isoformat()
