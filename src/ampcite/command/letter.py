"""The command line for a plan reviewer: the letter of a submission, round after round."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ampcite.base.stages import STAGES
from ampcite.command.packs import CAUTION, FAILS, UNDECIDED, stop
from ampcite.command.prepare import packs_option, prepared

if TYPE_CHECKING:
    from ampcite.letters.records import Letter

RECORD = ".record.json"


@click.command(epilog=CAUTION)
@click.argument("house", metavar="HOUSE")
@click.option("--out", "outs", multiple=True, required=True, type=click.Path(path_type=Path), metavar="FILE",
              help="Where to write: .html, .pdf or .docx for the letter, .csv or .xlsx for the response list; may be "
              "given several times. The record for the next round goes beside the first.")  # fmt: skip
@click.option("--round", "earlier", type=click.Path(path_type=Path), metavar="RECORD",
              help="The record of the last round: numbers are kept, and the letter says what is settled.")  # fmt: skip
@click.option("--answers", type=click.Path(path_type=Path), metavar="FILE",
              help="The response list of the last round as the applicant filled it in.")  # fmt: skip
@click.option("--edits", type=click.Path(path_type=Path), metavar="FILE",
              help="The reviewer's own words, comments, withdrawals and waivers, as TOML or JSON.")  # fmt: skip
@click.option("--before-sending", "own", is_flag=True,
              help="The designer's own sheet: fix these before you send it; no rounds, no record.")  # fmt: skip
@click.option("--date", "day", metavar="DAY", help="The date of the letter, such as 2026-03-10; by default today.")
@click.option("--stage", type=click.Choice(STAGES),
              help="Where the job is; by default as the file says, else plan review.")  # fmt: skip
@click.option("--edition", type=int, help="Edition of the electrical code, if not as the file says.")
@click.option("--building-edition", "building", type=int, help="Edition of the residential and fire codes.")
@packs_option
def letter(house: str, outs: tuple[Path, ...], earlier: Path | None, answers: Path | None, edits: Path | None,
           own: bool, day: str | None, stage: str | None, edition: int | None, building: int | None,
           packs: tuple[str, ...]) -> None:  # fmt: skip
    """Write the letter of a submission: what has to be corrected, stated, shown on site.

    A letter that asks for nothing is a draft for the official to sign; none is an approval.

    \b
    Exit status: 0 nothing has to be corrected or stated, 1 something has to be corrected,
    4 nothing has to be corrected, but something has to be stated.
    """
    from ampcite import __version__
    from ampcite.base.errors import AmpciteError
    from ampcite.base.whole import write_whole
    from ampcite.letters.answers import read_answers
    from ampcite.letters.compose import compose
    from ampcite.letters.edits import read_edits
    from ampcite.letters.form import before_sending
    from ampcite.letters.kept import read_record, to_record
    from ampcite.letters.records import CORRECTIONS, INFORMATION
    from ampcite.reviewing.comments import review

    if own and (earlier or answers):
        stop("--before-sending has no rounds; leave --round and --answers out")
    if answers is not None and earlier is None:
        stop("--answers are those to a round before; name its record with --round")
    writers = {path: _writer(path) for path in outs}
    record = outs[0].with_suffix(RECORD)
    if {p.resolve() for p in (*outs, record)} & {Path(p).resolve() for p in (house, earlier, answers, edits) if p}:
        stop(f"{outs[0]}: would be written over what it is made from; name another file")
    try:
        rulebook, description = prepared(house, edition, building, None, packs)
        now = stage or description.stage or "plan review"
        last = read_record(earlier) if earlier else None
        written = compose(
            review(rulebook, description, stage=now), description, date=_day(day), earlier=last,
            form=before_sending() if own else None,
            edits=read_edits(edits) if edits else None, answers=read_answers(answers) if answers else None,
        )  # fmt: skip
        files = {path: write(written) for path, write in writers.items()}
    except AmpciteError as fault:
        stop("\n".join(str(c) if c.file else f"{house}: {c}" for c in fault.complaints))
    except ModuleNotFoundError as fault:
        stop(f"{fault.name} is not installed; letters need: pip install 'ampcite[desk]'")
    if not own:
        files[record] = to_record(written, description, last, __version__).encode()
    for path, data in files.items():
        try:
            write_whole(path, data)
        except OSError as fault:
            stop(f"{path}: can't be written: {fault.strerror}")
    click.echo(_summary(written, list(files)))
    sys.exit({CORRECTIONS: FAILS, INFORMATION: UNDECIDED}.get(written.kind, 0))


def _writer(path: Path) -> Callable[[Letter], bytes]:
    """What writes a file of that ending."""
    from ampcite.letters import answers, as_docx, as_html, as_pdf

    writers: dict[str, Callable[[Letter], bytes]] = {
        ".html": lambda one: as_html.to_html(one).encode(), ".pdf": as_pdf.to_pdf, ".docx": as_docx.to_docx,
        ".csv": lambda one: answers.to_csv(one).encode(), ".xlsx": answers.to_xlsx,
    }  # fmt: skip
    if path.suffix.lower() not in writers:
        stop(f'{path}: ends in "{path.suffix}"; a letter is written as {", ".join(writers)}')
    return writers[path.suffix.lower()]


def _day(said: str | None) -> str:
    if said is None:
        return datetime.date.today().isoformat()
    try:
        return datetime.date.fromisoformat(said).isoformat()
    except ValueError:
        stop(f"--date {said}: is no day of the calendar; write it as 2026-03-10")


def _summary(letter: Letter, files: list[Path]) -> str:
    counts = [
        (len(letter.must), "to be corrected"), (len(letter.asked), "to be stated"), (len(letter.advice), "advice"),
        (len(letter.looks), "to be seen on site"), (len(letter.settled), "settled"), (len(letter.waived), "waived"),
    ]  # fmt: skip
    said = ", ".join(f"{count} {words}" for count, words in counts if count) or "nothing to correct or state"
    notes = "".join(f"\n  {note}" for note in letter.notes)
    return f"{letter.head.title}, round {letter.round}: {said}\n  {', '.join(map(str, files))}{notes}"
