"""A batch from its source to its tables. Killed at any instant and started again, it ends with the same bytes."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import attrs

from ampcite.base.errors import Complaint, InputError
from ampcite.base.whole import write_whole
from ampcite.desk.judge import Task, carried, digest, identity, key, unusable
from ampcite.desk.page import to_html
from ampcite.desk.sources import Entries
from ampcite.desk.store import Store, alone
from ampcite.desk.summary import Tally, as_text, changes_since
from ampcite.desk.tables import Table
from ampcite.desk.workers import ENDED, Job, checked

Progress = Callable[[int, int], None]
"""Is told how many submissions are done, of how many."""


class _Found(NamedTuple):
    name: str
    content: str
    key: str


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
    with alone(out):
        for path in out.glob(".*.part"):
            path.unlink()  # what a run that was killed had begun to write
        found = list(_found(entries, task))
        store = Store(out / "results")
        try:
            _check(entries, found, store, task, (workers, cluster), progress or (lambda done, whole: None))
            return _assemble(found, store, out)
        finally:
            store.close()


def _found(entries: Entries, task: Task) -> Iterator[_Found]:
    """What a source holds, by content; of several with one name, each gets its own."""
    times: dict[str, int] = {}
    for entry in entries():
        times[entry.name] = times.get(entry.name, 0) + 1
        name = entry.name if times[entry.name] == 1 else f"{entry.name} ({times[entry.name]})"
        content = digest(entry.data)
        yield _Found(name, content, key(task, content, name, entry.fault))


def _check(entries: Entries, found: list[_Found], store: Store, task: Task, workers: tuple[int, str],
           progress: Progress) -> None:  # fmt: skip
    """Checks what has no result yet, each content once."""
    wanted = {one.key for one in found if one.key not in store}
    done = sum(one.key in store for one in found)
    progress(done, len(found))

    def jobs() -> Iterator[Job]:
        left = set(wanted)
        for one, entry in zip(found, entries(), strict=False):
            if one.key in left:
                if digest(entry.data) != one.content:
                    raise InputError([Complaint(one.name, "", "was changed while the batch ran; start it again")])
                left.discard(one.key)
                yield one.key, entry.data, entry.fault

    times = Counter(one.key for one in found)
    for name, keys in checked(task, jobs(), store.folder, *workers) if wanted else ():
        if name:
            store.add(name)
        for one_key in keys if not name else ():
            store.hold(one_key, unusable(ENDED))
        done += sum(times[one_key] for one_key in keys)
        progress(done, len(found))


def _assemble(found: list[_Found], store: Store, out: Path) -> dict[str, Any]:
    run = hashlib.sha256(json.dumps(found).encode()).hexdigest()[:40]
    previous = _previous(out, run)
    marks = _marks(found, store)
    tally = Tally()
    outcomes: dict[str, tuple[str, str]] = {}
    with Table(out, "submissions") as submissions, Table(out, "findings") as findings:
        for one in found:
            result = store.get(one.key)
            row = {"name": one.name, "digest": one.content, **result, **marks[one.name]}
            outcomes[one.name] = one.content, row["outcome"]
            tally.add(row)
            submissions.add(row)
            for finding in result["findings"]:
                findings.add({"submission": one.name, "digest": one.content, **finding})
    summary = tally.as_dict(changes_since(_outcomes(out, previous), outcomes))
    runs = out / "runs"
    runs.mkdir(exist_ok=True)
    write_whole(runs / f"{run}.json", (json.dumps(outcomes, indent=0) + "\n").encode())
    write_whole(out / "summary.txt", as_text(summary).encode())
    write_whole(out / "summary.html", to_html(summary).encode())
    write_whole(out / "summary.json", (json.dumps(summary, indent=1) + "\n").encode())
    write_whole(out / "state.json", (json.dumps({"run": run, "previous": previous}, indent=1) + "\n").encode())
    return summary


def _marks(found: list[_Found], store: Store) -> dict[str, dict[str, str | None]]:
    """Which submissions are the same file again, replaced by a later revision, or at odds with another."""
    marks: dict[str, dict[str, str | None]] = {}
    first: dict[str, str] = {}
    permits: dict[str, list[tuple[int, str]]] = {}
    for one in found:
        same = first.setdefault(one.content, one.name) if one.content != NOTHING else one.name
        marks[one.name] = {"same_as": same if same != one.name else None, "superseded_by": None, "conflicts_with": None}
        if same == one.name:
            result = store.get(one.key)
            if result["permit"] is not None:
                permits.setdefault(result["permit"], []).append((result["revision"] or 0, one.name))
    for files in permits.values():
        last = max(revision for revision, _ in files)
        newest = next(name for revision, name in files if revision == last)
        alike: dict[int, str] = {}
        for revision, name in files:
            other = alike.setdefault(revision, name)
            if other != name:
                marks[name]["conflicts_with"], marks[other]["conflicts_with"] = other, name
            if revision < last:
                marks[name]["superseded_by"] = newest
    return marks


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


def _outcomes(out: Path, run: str | None) -> dict[str, tuple[str, str]] | None:
    if run is None:
        return None
    try:
        said = json.loads((out / "runs" / f"{run}.json").read_bytes())
        return {str(name): (str(one[0]), str(one[1])) for name, one in said.items()}
    except (OSError, ValueError, AttributeError, IndexError, TypeError):
        return None
