"""Submissions checked on all cores; what ends a worker is found, set aside and stops nothing."""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

from ampcite.base.errors import ArgumentError
from ampcite.desk.judge import Task, result
from ampcite.desk.store import segment, write_segment
from ampcite.desk.tables import by_column

Job = tuple[str, bytes, str]
"""The key of a submission, its bytes, and why it can't be read."""

CHUNK = 32
"""So many submissions go to a worker at once, and into one file of results."""

WAITING = 3
"""So many chunks a worker wait for it, so that none is idle and memory stays flat."""


ENDED = "ended the process that checked it"
"""The reason why a submission is set aside that a worker did not survive."""


def checked(task: Task, jobs: Iterator[Job], folder: Path, workers: int,
            cluster: str = "") -> Iterator[tuple[str, list[str]]]:  # fmt: skip
    """Checks submissions and writes their results; gives each file that was written, and the keys in it.

    A submission that ended its worker has no result: it comes with "" for a file, and is tried again in another run.

    Args:
        task: how they are checked.
        jobs: what is to be checked.
        folder: of the results.
        workers: how many processes; with 1, all happens in this one.
        cluster: the address of a Dask scheduler, whose workers check instead.

    Raises:
        ArgumentError: when no process can be started, as in a script that does not guard what it runs.
    """
    chunks = _chunks(jobs)
    if cluster:
        from ampcite.desk.cluster import on_cluster

        yield from on_cluster(task, chunks, folder, cluster)
        return
    if workers == 1:
        for chunk in chunks:
            yield kept(task, chunk, folder), [key for key, _, _ in chunk]
        return
    pool = _Pool(task, folder, workers)
    try:
        yield from pool.run(chunks)
    finally:
        pool.stop()


def work(task: Task, chunk: list[Job]) -> bytes:
    """Checks the submissions of a chunk; their results as the bytes of one file."""
    rows = [(key, result(task, data, fault)) for key, data, fault in chunk]
    return segment([(key, row | {"findings": by_column(row["findings"])}) for key, row in rows])


def kept(task: Task, chunk: list[Job], folder: Path) -> str:
    """Checks the submissions of a chunk and writes their results; the name of the file."""
    return write_segment(folder, work(task, chunk))


def _chunks(jobs: Iterator[Job]) -> Iterator[list[Job]]:
    chunk: list[Job] = []
    for job in jobs:
        chunk.append(job)
        if len(chunk) == CHUNK:
            yield chunk
            chunk = []
    if chunk:
        yield chunk


class _Pool:
    """Processes that check chunks. Where one of them is ended, the chunks under way are checked one by one."""

    def __init__(self, task: Task, folder: Path, workers: int) -> None:
        self.task, self.folder, self.workers = task, folder, workers
        self.pool = self._started()

    def _started(self) -> ProcessPoolExecutor:
        """Processes, all begun at once, that have answered: one that ends later was ended by what it was given."""
        pool = ProcessPoolExecutor(self.workers, multiprocessing.get_context("spawn"), _begun)
        try:
            for one in [pool.submit(_ready) for _ in range(self.workers)]:
                one.result()
        except BrokenProcessPool:
            said = "no worker process starts; guard the script with if __name__ == \"__main__\", or take 1 worker"
            raise ArgumentError(said) from None
        return pool

    def run(self, chunks: Iterator[list[Job]]) -> Iterator[tuple[str, list[str]]]:
        under_way: dict[Future[str], list[Job]] = {}
        suspects: list[Job] = []
        more = True
        while more or under_way:
            while more and len(under_way) < WAITING * self.workers:
                chunk = next(chunks, None)
                more = chunk is not None
                if chunk is not None:
                    under_way[self.pool.submit(kept, self.task, chunk, self.folder)] = chunk
            done, _ = wait(under_way, return_when=FIRST_COMPLETED)
            for future in done:
                chunk = under_way.pop(future)
                try:
                    yield future.result(), [key for key, _, _ in chunk]
                except BrokenProcessPool:
                    suspects += chunk
                    for other in under_way.values():
                        suspects += other
                    under_way.clear()
                    self._anew()
                    break
        for job in suspects:
            try:
                yield self.pool.submit(kept, self.task, [job], self.folder).result(), [job[0]]
            except BrokenProcessPool:
                self._anew()
                yield "", [job[0]]

    def _anew(self) -> None:
        self.pool.shutdown(wait=False, cancel_futures=True)
        self.pool = self._started()

    def stop(self) -> None:
        self.pool.shutdown(wait=True, cancel_futures=True)


def _ready() -> None:
    """Answers that a worker has started."""


def _begun() -> None:
    """What a worker does first: it watches the process that started it, and ends when that is killed."""
    parent = multiprocessing.parent_process()
    assert parent is not None
    threading.Thread(target=_watch, args=(parent.sentinel,), daemon=True).start()


def _watch(sentinel: int) -> None:
    from multiprocessing.connection import wait as ended

    ended([sentinel])
    os._exit(1)
