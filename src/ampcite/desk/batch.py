"""A batch from its source to its tables. Killed at any instant and started again, it ends with the same bytes."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import attrs

from ampcite.base.errors import Complaint, InputError
from ampcite.base.whole import write_whole
from ampcite.desk.index import Found, Index
from ampcite.desk.judge import Task, carried, digest, identity, key, unusable
from ampcite.desk.page import to_html
from ampcite.desk.sources import Entries
from ampcite.desk.store import Store, alone
from ampcite.desk.summary import NO_CHANGES, Tally, as_text
from ampcite.desk.tables import Table, by_column
from ampcite.desk.workers import ENDED, Job, checked

Progress = Callable[[int, int], None]
"""Is told how many submissions are done, of how many."""


def review_all(entries: Entries, out: Path, task: Task, version: str, *, workers: int = 1, cluster: str = "",
               progress: Progress | None = None) -> dict[str, Any]:  # fmt: skip
    """Checks every submission of a source and writes tables and summary; gives the summary.

    What is in ``out`` then: ``submissions`` and ``findings`` as CSV and Parquet, ``summary`` as text, JSON and HTML,
    and the folders ``results`` and ``runs``, from which a later run goes on.

    Args:
        entries: from :func:`ampcite.desk.sources.entries_of`.
        out: the folder to write in.
        task: how they are checked; its ``identity`` is filled in here.
        version: of this package.
        workers: how many processes check.
        cluster: the address of a Dask scheduler whose workers check instead.
        progress: told of each step.

    Raises:
        InputError: when the source can't be read, changes while it is read, or another run writes in that folder.
        PackError: when a pack can't be read.
        OSError: when the folder can't be written to.
    """
    task = attrs.evolve(task, version=version, carried=carried(task) if cluster else {})
    task = attrs.evolve(task, identity=identity(task))
    with alone(out), contextlib.closing(Index()) as index:
        for path in out.glob(".*.part"):
            path.unlink()  # what a run that was killed had begun to write
        for entry in entries():
            name, content = index.named(entry.name), digest(entry.data)
            index.add(Found(name, content, key(task, content, name, entry.fault)), content != NOTHING)
        with contextlib.closing(Store(out / "results", index)) as store:
            _check(entries, index, store, task, (workers, cluster), progress or (lambda done, whole: None))
            return _assemble(index, store, out)


def _check(entries: Entries, index: Index, store: Store, task: Task, workers: tuple[int, str],
           progress: Progress) -> None:  # fmt: skip
    """Checks what has no result yet, each content once."""
    done, whole = index.done(), len(index)
    progress(done, whole)

    def jobs() -> Iterator[Job]:
        for one, wanted, entry in zip(index.found(), index.wanted(), entries(), strict=False):
            if wanted:
                if digest(entry.data) != one.content:
                    raise InputError([Complaint(one.name, "", "was changed while the batch ran; start it again")])
                yield one.key, entry.data, entry.fault

    for name, keys in checked(task, jobs(), store.folder, *workers) if done < whole else ():
        if name:
            store.add(name)
        for one_key in keys if not name else ():
            store.hold(one_key, unusable(ENDED) | {"findings": by_column(())})
        done += index.count(keys)
        progress(done, whole)


def _assemble(index: Index, store: Store, out: Path) -> dict[str, Any]:
    run = index.digest()
    previous = _previous(out, run)
    tally = Tally()
    with Table(out, "submissions") as submissions, Table(out, "findings") as findings:
        for one, marks in index.marked():
            result = store.get(one.key)
            row = {"name": one.name, "digest": one.content, **result, **marks}
            index.came(one.name, row["outcome"])
            tally.add(row)
            submissions.add({}, 1, **row)
            found = result["findings"]
            findings.add(found, len(found["rule"]), submission=one.name, digest=one.content)
    known = previous is not None and _take_in(out / "runs" / f"{previous}.jsonl", index)
    summary = tally.as_dict(index.changes() if known else NO_CHANGES)
    runs = out / "runs"
    runs.mkdir(exist_ok=True)
    write_whole(runs / f"{run}.jsonl", (json.dumps(row).encode() + b"\n" for row in index.outcomes()))
    write_whole(out / "summary.txt", as_text(summary).encode())
    write_whole(out / "summary.html", to_html(summary).encode())
    write_whole(out / "summary.json", (json.dumps(summary, indent=1) + "\n").encode())
    write_whole(out / "state.json", (json.dumps({"run": run, "previous": previous}, indent=1) + "\n").encode())
    return summary


NOTHING = digest(b"")
"""The digest of what could not be read."""


def _previous(out: Path, run: str) -> str | None:
    """The run before this one; started again, a run keeps the one it was compared with."""
    try:
        state = json.loads((out / "state.json").read_bytes())
        name = state["previous"] if state["run"] == run else state["run"]
        return name if name is None or (isinstance(name, str) and name.isalnum()) else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _take_in(path: Path, index: Index) -> bool:
    """Takes in the outcomes of a run; of one that can't be read any more, none."""
    try:
        with path.open("rb") as file:
            rows = ((str(name), str(content), str(outcome)) for name, content, outcome in map(json.loads, file))
            index.before(rows)
    except (OSError, ValueError, TypeError):
        return False
    return True
