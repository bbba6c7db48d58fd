"""Submissions checked by the workers of a Dask scheduler; a worker that is lost loses nothing, packs go by content."""

from __future__ import annotations

import importlib
import tempfile
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

import attrs

from ampcite import __version__
from ampcite.base.errors import ArgumentError
from ampcite.desk.judge import Task, identity
from ampcite.desk.store import write_segment
from ampcite.desk.workers import WAITING, Job, work


def on_cluster(task: Task, chunks: Iterator[list[Job]], folder: Path,
               address: str) -> Iterator[tuple[str, list[str]]]:  # fmt: skip
    """Checks chunks on a cluster and writes their results here; what ended several workers comes with "" for a file.

    Raises:
        ArgumentError: when there is no scheduler, or its workers have another version of this package or its packs.
        ModuleNotFoundError: where distributed is not installed (``pip install 'ampcite[cluster]'``).
    """
    distributed: Any = importlib.import_module("distributed")
    try:
        client = distributed.Client(address, timeout=20, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as fault:
        raise ArgumentError(f"no scheduler answers at {address}: {str(fault)[:120]}") from None
    with client:
        done = distributed.as_completed(loop=client.loop)
        under_way: dict[str, list[Job]] = {}
        most = WAITING * max(2, sum(client.nthreads().values()))

        def start(chunk: list[Job]) -> None:
            future = client.submit(elsewhere, task, chunk, __version__, pure=False)
            under_way[future.key] = chunk
            done.add(future)

        for chunk in (c for _, c in zip(range(most), chunks, strict=False)):
            start(chunk)
        for future in done:
            chunk = under_way.pop(future.key)
            keys = [key for key, _, _ in chunk]
            try:
                data, other = future.result()
            except distributed.KilledWorker:
                if len(chunk) == 1:
                    yield "", keys
                for job in chunk if len(chunk) > 1 else ():
                    start([job])
                continue
            if other:
                raise ArgumentError(f"a worker at {address} has other packs or another version than this machine")
            yield write_segment(folder, data), keys
            following = next(chunks, None)
            if following is not None:
                start(following)


def elsewhere(task: Task, chunk: list[Job], version: str) -> tuple[bytes, bool]:
    """On a worker: the results of a chunk as bytes; nothing, and True, where it has other packs or another version."""
    own = attrs.evolve(task, packs=tuple(_unpacked(task, name) for name in task.packs))
    if task.identity not in _SAME:
        if version != __version__ or identity(own) != task.identity:
            return b"", True
        _SAME.add(task.identity)
    return work(own, chunk), False


_SAME: set[str] = set()
"""The identities that this worker has found to be its own."""


def _unpacked(task: Task, name: str) -> str:
    """Where a pack that came along is laid down; one that is named is the worker's own."""
    files = task.carried.get(name)
    return name if files is None else _laid_down(name, tuple(sorted(files.items())))


@lru_cache(64)
def _laid_down(name: str, files: tuple[tuple[str, bytes], ...]) -> str:
    folder = Path(tempfile.mkdtemp(prefix="ampcite-")) / Path(name).stem
    folder.mkdir()
    for file, data in files:
        (folder / Path(file).name).write_bytes(data)
    return str(folder)
