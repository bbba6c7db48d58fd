"""Submissions of a folder tree, zip file, JSON Lines or Parquet column, one after the other, always in one order."""

from __future__ import annotations

import os
import stat
import zipfile
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

from ampcite.base.errors import Complaint, InputError

MOST = 20_000_000
"""A submission of more bytes, unpacked, is set aside unread."""

MOST_ENTRIES = 5_000_000
"""A source of more entries is refused."""

COLUMN = "description"
"""The column of a Parquet file that holds the descriptions, where none is named."""


class Entry(NamedTuple):
    """One submission as it was found.

    Attributes:
        name: what the source calls it; it is never used as a path to write to.
        data: its bytes; empty where it can't be read.
        fault: why it can't be read, as a sentence ends.
    """

    name: str
    data: bytes
    fault: str = ""


Entries = Callable[[], Iterator[Entry]]
"""Gives the entries of a source anew, in the same order each time."""


def entries_of(source: Path, column: str = COLUMN) -> Entries:
    """How to go through a source.

    Args:
        source: a folder, or a file that ends in .zip, .jsonl, .ndjson or .parquet.
        column: of a Parquet file, the one that holds the descriptions as texts or bytes.

    Raises:
        InputError: when it is none of these, or can't be opened.
    """
    name = str(source)
    if source.is_dir():
        return lambda: _folder(source)
    kinds = {".zip": _zip, ".jsonl": _lines, ".ndjson": _lines}
    ending = source.suffix.lower()
    try:
        with source.open("rb"):
            pass
    except OSError as fault:
        raise InputError([Complaint(name, "", f"can't be read: {fault.strerror}")]) from None
    if ending == ".parquet":
        return lambda: _parquet(source, column)
    if ending not in kinds:
        said = f"is neither a folder nor a file that ends in {', '.join((*kinds, '.parquet'))}"
        raise InputError([Complaint(name, "", said)])
    return lambda: kinds[ending](source)


def _folder(source: Path) -> Iterator[Entry]:
    """The JSON files of a folder and those below it, by path; links are named and not followed."""
    waiting = [source]
    while waiting:
        folder = waiting.pop()
        below: list[Path] = []
        try:
            found = sorted(os.scandir(folder), key=lambda entry: entry.name)
        except OSError as fault:
            yield Entry(_shown(folder.relative_to(source)), b"", f"can't be read: {fault.strerror}")
            continue
        for entry in found:
            path = Path(entry.path)
            name = _shown(path.relative_to(source))
            if entry.is_dir(follow_symlinks=False):
                below.append(path)
            elif path.suffix.lower() == ".json":
                if entry.is_symlink():
                    yield Entry(name, b"", "is a link; put the file itself there")
                else:
                    yield _file(path, name)
        waiting += reversed(below)


def _file(path: Path, name: str) -> Entry:
    try:
        about = path.stat()
        if not stat.S_ISREG(about.st_mode):
            return Entry(name, b"", "is no file")
        if about.st_size > MOST:
            return Entry(name, b"", f"is larger than the {MOST} bytes a submission may have")
        return Entry(name, path.read_bytes())
    except OSError as fault:
        return Entry(name, b"", f"can't be read: {fault.strerror}")


def _zip(source: Path) -> Iterator[Entry]:
    """The JSON files in a zip file, in the order of their names; nothing is unpacked to the disk."""
    try:
        with zipfile.ZipFile(source) as archive:
            listed = sorted((one for one in archive.infolist() if not one.is_dir()), key=lambda one: one.filename)
            if len(listed) > MOST_ENTRIES:
                raise InputError([Complaint(str(source), "", f"holds more than {MOST_ENTRIES} files")])
            for one in listed:
                if one.filename.lower().endswith(".json"):
                    yield _packed(archive, one)
    except (zipfile.BadZipFile, OSError, ValueError) as fault:
        raise InputError([Complaint(str(source), "", f"can't be read as a zip file: {str(fault)[:120]}")]) from None


def _packed(archive: zipfile.ZipFile, one: zipfile.ZipInfo) -> Entry:
    name = _shown(one.filename)
    if stat.S_ISLNK(one.external_attr >> 16):
        return Entry(name, b"", "is a link; put the file itself there")
    if one.flag_bits & 1:
        return Entry(name, b"", "is encrypted")
    try:
        with archive.open(one) as file:
            data = file.read(MOST + 1)
    except (zipfile.BadZipFile, OSError, EOFError, ValueError, RuntimeError, NotImplementedError,
            zlib.error) as fault:  # fmt: skip
        return Entry(name, b"", f"can't be unpacked: {str(fault)[:120]}")
    if len(data) > MOST:
        return Entry(name, b"", f"unpacks to more than the {MOST} bytes a submission may have")
    return Entry(name, data)


def _lines(source: Path) -> Iterator[Entry]:
    """The lines of a JSON Lines file; blank ones are passed over."""
    with source.open("rb") as file:
        number = 0
        while line := file.readline(MOST + 2):
            number += 1
            name, whole = f"line {number}", line.endswith(b"\n") or len(line) <= MOST
            if not whole:
                while line and not line.endswith(b"\n"):
                    line = file.readline(MOST)
                yield Entry(name, b"", f"is longer than the {MOST} bytes a submission may have")
            elif line.strip():
                yield Entry(name, line.strip(b"\r\n"))


def _parquet(source: Path, column: str) -> Iterator[Entry]:
    """The cells of a column of a Parquet file; a column "name" names them, else their rows do."""
    import pyarrow
    from pyarrow import parquet

    try:
        file = parquet.ParquetFile(source)
        names = file.schema_arrow.names
        if column not in names:
            said = f'has no column "{column}"; it has {", ".join(names)[:200]}'
            raise InputError([Complaint(str(source), "", said)])
        row = 0
        for batch in file.iter_batches(64, columns=[c for c in dict.fromkeys((column, "name")) if c in names]):
            cells = batch.column(column).to_pylist()
            titles = batch.column("name").to_pylist() if "name" in names and column != "name" else [None] * len(cells)
            for cell, title in zip(cells, titles, strict=True):
                row += 1
                name = _shown(str(title)) if title else f"row {row}"
                if isinstance(cell, str):
                    cell = cell.encode("utf-8", "surrogatepass")
                if not isinstance(cell, bytes):
                    yield Entry(name, b"", "is no text")
                elif len(cell) > MOST:
                    yield Entry(name, b"", f"is longer than the {MOST} bytes a submission may have")
                else:
                    yield Entry(name, cell)
    except (pyarrow.ArrowException, OSError) as fault:
        raise InputError([Complaint(str(source), "", f"can't be read as Parquet: {str(fault)[:120]}")]) from None


def _shown(name: object) -> str:
    """A name as it can be written anywhere: signs that can't be shown, each as what it is called."""
    text = str(name)
    text = text if text.isprintable() else "".join(c if c.isprintable() else ascii(c)[1:-1] for c in text)
    return text[:400]
