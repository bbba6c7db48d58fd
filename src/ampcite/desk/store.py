"""Results on the disk, by content: written whole or not at all, so that a run that is killed goes on where it was."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from ampcite.base.errors import Complaint, InputError
from ampcite.base.whole import write_whole
from ampcite.desk.index import Index, Span

try:
    from orjson import loads
except ImportError:  # where there is no wheel of it
    loads = json.loads  # type: ignore[assignment]

ENDING = ".results"


def write_segment(folder: Path, data: bytes) -> str:
    """Writes the bytes of :func:`segment` into a file that is named by their digest; gives that name."""
    name = hashlib.sha256(data).hexdigest()[:40] + ENDING
    if not (folder / name).exists():
        write_whole(folder / name, data)
    return name


def segment(results: Sequence[tuple[str, Mapping[str, Any]]]) -> bytes:
    """Results, each under its key, as the bytes of one file."""
    lines = [json.dumps(result, ensure_ascii=True, separators=(",", ":")).encode() for _, result in results]
    spans, at = list[Span](), 0
    for (key, result), line in zip(results, lines, strict=True):
        spans.append((key, at, len(line), result.get("permit"), result.get("revision")))
        at += len(line) + 1
    head = json.dumps(spans, separators=(",", ":")).encode() + b"\n"
    return head + b"".join(line + b"\n" for line in lines)


class Store:
    """The results of a folder, to be looked up by key. Damaged files are taken away, and their results made anew."""

    def __init__(self, folder: Path, index: Index) -> None:
        self.folder, self._index = folder, index
        self._names: list[str] = []
        self._open: dict[int, int] = {}
        self._held: dict[str, dict[str, Any]] = {}
        folder.mkdir(parents=True, exist_ok=True)
        for path in sorted(folder.iterdir()):
            if path.name.startswith(".") and path.name.endswith(".part"):
                path.unlink()  # what a run that was killed had begun to write
            elif path.suffix == ENDING:
                self.add(path.name)

    def hold(self, key: str, result: dict[str, Any]) -> None:
        """Takes in a result for this run alone."""
        self._held[key] = result

    def add(self, name: str) -> None:
        """Takes in a file of results; one whose bytes are not those of its name is deleted."""
        path = self.folder / name
        data = path.read_bytes()
        head, _, _ = data.partition(b"\n")
        if hashlib.sha256(data).hexdigest()[:40] + ENDING != name:
            path.unlink()
            return
        number = len(self._names)
        self._names.append(name)
        self._index.place(number, ((key, len(head) + 1 + at, *more) for key, at, *more in json.loads(head)))

    def get(self, key: str) -> dict[str, Any]:
        """The result of a key.

        Raises:
            KeyError: when there is none.
        """
        if key in self._held:
            return self._held[key]
        found = self._index.where(key)
        if found is None:
            raise KeyError(key)
        number, at, length = found
        if number not in self._open:
            if len(self._open) >= MOST_OPEN:
                os.close(self._open.pop(next(iter(self._open))))
            self._open[number] = os.open(self.folder / self._names[number], os.O_RDONLY)
        out: dict[str, Any] = loads(os.pread(self._open[number], length, at))
        return out

    def close(self) -> None:
        """Lets the files go."""
        for handle in self._open.values():
            os.close(handle)
        self._open.clear()


MOST_OPEN = 64


@contextlib.contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Keeps a second run out of a folder while one writes there; the system lets go of it when a run is killed.

    Raises:
        InputError: when another run is writing there.
    """
    folder.mkdir(parents=True, exist_ok=True)
    try:
        import fcntl
    except ImportError:  # where there is no such lock, two runs must not be started on one folder
        yield
        return
    with (folder / ".lock").open("ab") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            said = "another run is writing there; wait for it, or name another folder"
            raise InputError([Complaint(str(folder), "", said)]) from None
        yield
