"""The command line for a queue: every submission of a folder, zip, JSON Lines or Parquet file, into open tables."""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path
from typing import Any

import click

from ampcite.base.stages import STAGES
from ampcite.command.packs import CAUTION, FAILS, UNDECIDED, UNUSABLE, stop
from ampcite.command.prepare import packs_option


@click.command(epilog=CAUTION)
@click.argument("source", type=click.Path(path_type=Path), metavar="SOURCE")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="DIR", help="The folder to write in.")
@click.option("--workers", type=click.IntRange(1, 1024), help="How many processes; by default one a core.")
@click.option("--cluster", default="", metavar="ADDRESS",
              help="Let the workers of this Dask scheduler check; needs pip install 'ampcite[cluster]'.")  # fmt: skip
@click.option("--stage", type=click.Choice(STAGES),
              help="Where the jobs are; by default as each says, else plan review.")  # fmt: skip
@click.option("--edition", type=int, help="Edition of the electrical code, if not as each says.")
@click.option("--building-edition", "building", type=int, help="Edition of the residential and fire codes.")
@click.option("--catalogue", type=click.Path(path_type=Path), metavar="FILE",
              help="Equipment models for all of them, shaped as a description's own.")  # fmt: skip
@click.option("--column", default="description", show_default=True, help="The column of a Parquet file.")
@packs_option
def review(source: Path, out: Path, workers: int | None, cluster: str, stage: str | None, edition: int | None,
           building: int | None, catalogue: Path | None, column: str, packs: tuple[str, ...]) -> None:  # fmt: skip
    """Check a queue: SOURCE is a folder tree, or a .zip, .jsonl or .parquet file of descriptions.

    Writes tables of submissions and findings (CSV, Parquet) and a summary (text, JSON, HTML) to DIR. A submission that
    can't be used is set aside with its reason and stops nothing. Stopped or killed, the same command goes on.

    \b
    Exit status: 0 all clean, 1 some have to be corrected, 4 none, but some can't be decided,
    2 some can't be used, or the batch could not be run.
    """
    from ampcite import __version__
    from ampcite.base.errors import AmpciteError, Complaint, InputError
    from ampcite.desk.batch import review_all
    from ampcite.desk.judge import CORRECT, Task
    from ampcite.desk.judge import UNDECIDED as OPEN
    from ampcite.desk.judge import UNUSABLE as UNREAD
    from ampcite.desk.sources import entries_of
    from ampcite.desk.summary import as_text

    editions = {code: year for code, year in (("electrical", edition), ("building", building)) if year is not None}
    progress = Progress()
    try:
        models = _catalogue(catalogue) if catalogue else None
        task = Task(stage or "", editions, packs, models)
        if out.exists() and not out.is_dir():
            raise InputError([Complaint(str(out), "", "is no folder")])
        summary = review_all(entries_of(source, column), out, task, __version__, workers=workers or _cores(),
                             cluster=cluster, progress=progress)  # fmt: skip
    except AmpciteError as fault:
        stop(fault)
    except ModuleNotFoundError as fault:
        extra = "cluster" if fault.name == "distributed" else "desk"
        stop(f"{fault.name} is not installed; this needs: pip install 'ampcite[{extra}]'")
    except OSError as fault:
        stop(f"{fault.filename or out}: can't be written: {fault.strerror}")
    finally:
        progress.end()
    click.echo(as_text(summary), nl=False)
    click.echo(f"\nWritten to {out}: submissions and findings (.csv, .parquet), summary (.txt, .json, .html)")
    statuses = ((UNREAD, UNUSABLE), (CORRECT, FAILS), (OPEN, UNDECIDED))
    sys.exit(next((status for outcome, status in statuses if summary["outcomes"][outcome]), 0))


def _cores() -> int:
    """The cores that this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:
        return os.cpu_count() or 1


def _catalogue(path: Path) -> Any:
    from ampcite.base.errors import Complaint, InputError

    try:
        return json.loads(path.read_bytes())
    except OSError as fault:
        raise InputError([Complaint(str(path), "", f"can't be read: {fault.strerror}")]) from None
    except (ValueError, RecursionError):
        raise InputError([Complaint(str(path), "", "is no JSON")]) from None


class Progress:
    """How far a batch is: a line that is written over on a terminal, a line now and then elsewhere."""

    EVERY = 10.0
    """Seconds between two lines where they can't be written over."""

    def __init__(self) -> None:
        self.began: float | None = None
        self.at_first, self.said = 0, 0.0
        self.terminal = sys.stderr is not None and sys.stderr.isatty()

    def __call__(self, done: int, whole: int) -> None:
        now = time.monotonic()
        if self.began is None:
            self.began, self.at_first, self.said = now, done, now if not self.terminal else 0.0
            if done:
                click.echo(f"{done} of {whole} were done before", err=True)
        if now - self.said < (0.2 if self.terminal else self.EVERY) and done < whole:
            return
        self.said = now
        passed = now - self.began
        rate = (done - self.at_first) / passed if passed > 0 else 0.0
        speed = f", {rate:.{0 if rate >= 10 else 1}f} a second" if rate else ""
        left = f", {_time((whole - done) / rate)} left" if rate and done < whole else ""
        share = done / whole if whole else 1.0
        text = f"{done} of {whole} ({share:.0%}){speed}{left}"
        if self.terminal:
            click.echo(f"\r{_bar(share, len(text))}{text}\033[K", err=True, nl=False)
        elif passed >= self.EVERY or done < whole:
            click.echo(text, err=True)

    def end(self) -> None:
        """Ends the line that was written over."""
        if self.terminal and self.began is not None:
            click.echo(err=True)


LONGEST_BAR = 30


def _bar(share: float, beside: int) -> str:
    """A bar as long as the terminal has room for beside a text of so many letters, so that no line is broken."""
    columns = os.get_terminal_size(sys.stderr.fileno()).columns or 80
    length = min(LONGEST_BAR, columns - beside - 4)
    return f"[{'#' * round(length * share):<{length}}] " if length > 0 else ""


def _time(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min" if hours else f"{minutes} min {rest} s" if minutes else f"{rest} s"
