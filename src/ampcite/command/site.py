"""The command line for a crew lead: the sheet for the day on site, and what was filled in read back and judged."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from ampcite.command.packs import CAUTION, FAILS, UNDECIDED, stop
from ampcite.command.prepare import packs_option, prepared


@click.command(epilog=CAUTION)
@click.argument("house", metavar="HOUSE")
@click.option("--out", "outs", multiple=True, required=True, type=click.Path(path_type=Path), metavar="FILE",
              help="Where to write the sheet: .html, .csv or .xlsx, several times if wanted; with --filled, where to "
              "write the description with its readings: .json.")  # fmt: skip
@click.option("--filled", type=click.Path(path_type=Path), metavar="FILE",
              help="A sheet that was filled in: the form's own file, CSV, or the workbook.")  # fmt: skip
@click.option("--edition", type=int, help="Edition of the electrical code, if not as the file says.")
@click.option("--building-edition", "building", type=int, help="Edition of the residential and fire codes.")
@packs_option
def site(house: str, outs: tuple[Path, ...], filled: Path | None, edition: int | None, building: int | None,
         packs: tuple[str, ...]) -> None:  # fmt: skip
    """Write the sheet for the day on site, computed for this house; or read one back and judge it.

    \b
    Exit status: 0 the sheet is written, or what was read is in order; with --filled also
    1 something fails, 4 nothing fails, but something is not stated yet.
    """
    from ampcite.base.errors import AmpciteError
    from ampcite.desk.handover import handover, read_filled
    from ampcite.desk.site import site_sheet
    from ampcite.report import batch
    from ampcite.report.as_text import to_text

    writers = {path: _writer(path, filled is not None) for path in outs}
    if {path.resolve() for path in outs} & {Path(p).resolve() for p in (house, filled) if p}:
        stop(f"{outs[0]}: would be written over what it is made from; name another file")
    try:
        rulebook, description = prepared(house, edition, building, None, packs)
        sheet = site_sheet(rulebook, description)
        if filled is None:
            _save({path: make(sheet) for path, make in writers.items()})
            lines = sum(line.kind != "done" for line in sheet.lines)
            click.echo(f"{lines} readings and looks, {len(sheet.lines) - lines} to tick: {', '.join(map(str, outs))}")
            return
        done = handover(rulebook, description, sheet, read_filled(filled))
    except AmpciteError as fault:
        stop("\n".join(str(c) if c.file else f"{filled or house}: {c}" for c in fault.complaints))
    except ModuleNotFoundError as fault:
        stop(f"{fault.name} is not installed; sheets need: pip install 'ampcite[desk]'")
    _save({path: make(done.document) for path, make in writers.items()})
    click.echo(to_text(done.review, False), nl=False)
    if done.blank:
        click.echo(f"\n{len(done.blank)} lines of the sheet are blank: " + "; ".join(b.says for b in done.blank[:5])
                   + ("; ..." if len(done.blank) > 5 else "."))  # fmt: skip
    outcome = batch.outcome(done.review.report)
    sys.exit(FAILS if outcome == batch.FAILS else UNDECIDED if outcome == batch.UNDECIDED else 0)


def _writer(path: Path, filled: bool) -> Callable[[Any], bytes]:
    """What writes a file of that ending."""
    from ampcite.desk import site_forms

    writers: dict[str, Callable[[Any], bytes]] = {
        ".html": lambda one: site_forms.to_html(one).encode(), ".csv": lambda one: site_forms.to_csv(one).encode(),
        ".xlsx": site_forms.to_xlsx,
    }  # fmt: skip
    if filled:
        writers = {".json": lambda one: (json.dumps(one, indent=2, ensure_ascii=False) + "\n").encode()}
    if path.suffix.lower() not in writers:
        stop(f'{path}: ends in "{path.suffix}"; it is written as {", ".join(writers)}')
    return writers[path.suffix.lower()]


def _save(files: dict[Path, bytes]) -> None:
    from ampcite.base.whole import write_whole

    for path, data in files.items():
        try:
            write_whole(path, data)
        except OSError as fault:
            stop(f"{path}: can't be written: {fault.strerror}")
