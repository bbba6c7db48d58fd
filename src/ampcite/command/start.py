"""The command line for who begins a description: what a house of such parts has to state, each unknown marked."""

from __future__ import annotations

import json
from typing import Any

import click

from ampcite.base.stages import STAGES
from ampcite.command.output import in_utf_8
from ampcite.command.packs import CAUTION, stop

_ARCHITECTURES = ("converter strings", "plain strings", "microinverters")


@click.command(epilog=CAUTION)
@click.argument("architecture", required=False, type=click.Choice(_ARCHITECTURES))
@click.option("--modules", type=int, help="How many modules.")
@click.option("--strings", "--branches", type=int, help="How many strings, or branches of microinverters.")
@click.option("--inverters", type=int, default=1, show_default=True, help="How many inverters the strings go to.")
@click.option("--storage", is_flag=True, help="There is a battery.")
@click.option("--stage", type=click.Choice(STAGES), default=STAGES[0], show_default=True,
              help="Where the job is; what can't be known by then is not asked.")  # fmt: skip
@click.option("--subject", "subjects", multiple=True, metavar="SUBJECT",
              help="Ask about this only: strings, wiring, roof, labels...; may be given several times.")  # fmt: skip
@click.option("--edition", type=int, help="Edition of the electrical code.")
@click.option("--building-edition", type=int, help="Edition of the residential and fire codes.")
@click.option("--jurisdiction", help="The pack that speaks for the jurisdiction, in place of editions.")
@click.option("--date", "day", help="The date of the application, such as 2026-03-10; with a jurisdiction.")
@click.option("--from", "example", metavar="EXAMPLE",
              help="Take over a shipped example instead, with every value marked until it is replaced.")  # fmt: skip
def start(architecture: str | None, modules: int | None, strings: int | None, inverters: int, storage: bool, stage: str,
          subjects: tuple[str, ...], edition: int | None, building_edition: int | None, jurisdiction: str | None,
          day: str | None, example: str | None) -> None:  # fmt: skip
    """Print a description to be filled in, with "?" for every fact that the rules ask of such a house.

    What nobody replaces stays unknown, and the report says how much that is. What there is none of is said so: null
    for a thing or a limit, [] for a list. A list written {"each": ..., "all": "?"} wants its parts in place of "?";
    what is said under "each" holds for all of them. With "all_listed": true at the top, lists of what a house may
    lack, such as added loads, say none where they are left out.
    """
    from ampcite.base.errors import AmpciteError

    in_utf_8()
    if example is not None:
        if architecture is not None:
            stop("an example is taken over as it is; give either --from or an architecture")
        click.echo(_text(_taken_over(example)), nl=False)
        return
    if architecture is None or modules is None or strings is None:
        stop("say what the house is made of, such as: ampcite start 'converter strings' --modules 23 --strings 2 "
             "--edition 2023")  # fmt: skip
    codes = {"electrical_edition": edition, "building_edition": building_edition, "jurisdiction": jurisdiction,
             "application_date": day}  # fmt: skip
    head: dict[str, Any] = {"stage": stage, "codes": {key: said for key, said in codes.items() if said is not None}}
    if subjects:
        head["subjects"] = list(subjects)
    try:
        text = _text(_written(architecture, (modules, strings, inverters), storage, head))
        click.echo(text, nl=False)
        if '"all": "?"' in text:
            click.echo(ALL_LISTED, err=True)
    except AmpciteError as fault:
        stop(fault)


ALL_LISTED = ('With "all_listed": true at the top, lists of what a house may lack, such as added loads, '
              'say none where left out.')  # fmt: skip
"""Said once beside a description whose lists are to be filled in."""


def _written(architecture: str, counts: tuple[int, int, int], storage: bool, head: dict[str, Any]) -> dict[str, Any]:
    from ampcite.api import law_for, load
    from ampcite.authoring.start import ARCHITECTURES, House
    from ampcite.authoring.start import start as to_be_filled_in
    from ampcite.base.errors import ArgumentError
    from ampcite.house.read import read
    from ampcite.reviewing.subjects import rules_about

    named = read(head)
    law = law_for(named)
    if law is None and "electrical" not in named.editions:
        raise ArgumentError("name the electrical code with --edition, or the law with --jurisdiction and --date")
    rulebook = load(law or named.editions)
    rules = rules_about(rulebook.bound, named.subjects) if named.subjects else None
    modules, strings, inverters = counts
    house = House(architecture, modules, strings, 0 if architecture == ARCHITECTURES[2] else inverters, storage)
    return to_be_filled_in(rulebook, house, str(named.stage), rules, head)


def _taken_over(name: str) -> dict[str, Any]:
    from ampcite.base.errors import nearest
    from ampcite.base.resources import designs, houses, plan_sets
    from ampcite.house.marks import marked_as_taken_over

    known = {path.stem: path for path in (*houses(), *plan_sets(), *designs())}
    if name not in known:
        stop(f'no example is called "{name}"; {nearest(name, known)}')
    return marked_as_taken_over(json.loads(known[name].read_text("utf-8")))


def _text(document: dict[str, Any]) -> str:
    return json.dumps(document, indent=2, ensure_ascii=False) + "\n"
