"""What commands do first with a description: the rules that apply to it, and what it describes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ampcite.command.output import standard_input

if TYPE_CHECKING:
    from ampcite.engine.rulebook import Rulebook
    from ampcite.house.parts import Description

packs_option = click.option(
    "--pack",
    "packs",
    multiple=True,
    metavar="NAME|FOLDER",
    help="Use only this pack; may be given several times. By default every installed pack.",
)


def prepared(file: str, edition: int | None, building: int | None, lock_file: str | None,
             packs: Iterable[str], layers: Sequence[str] = (),
             hold: bool = False) -> tuple[Rulebook, Description]:  # fmt: skip
    """The rules that apply to a file, and what it describes."""
    from ampcite.api import law_for, load
    from ampcite.base.errors import Complaint, InputError
    from ampcite.house.read import read
    from ampcite.law.applied import Law

    description = read(standard_input(), "standard input") if file == "-" else read(file)
    given = {"electrical": edition, "building": building}
    chosen = {code: year for code, year in given.items() if year is not None}
    applied = None if chosen or packs else law_for(description, layers)
    editions = description.editions | chosen
    if applied is None and "electrical" not in editions:
        raise InputError([Complaint(description.source, "/codes/electrical_edition",
                                    "is not given; name the edition there or with --edition")])  # fmt: skip
    day = str(description.whole.facts.get("codes/application_date", ""))
    rulebook = load(applied or Law(editions, (), day, ()), list(packs) or None, hold_unconfirmed=hold)
    if lock_file is not None:
        import attrs

        from ampcite.law.lock import verify_lock

        try:
            pinned = Path(lock_file).read_text("utf-8")
        except (OSError, ValueError) as fault:
            raise InputError([Complaint(lock_file, "", f"can't be read: {fault}")]) from None
        held = verify_lock(rulebook.packs, pinned, lock_file)
        rulebook = attrs.evolve(rulebook, law=(*rulebook.law, held))
    return rulebook, description
