"""The bytes of a pack, from a folder or a zip file; what has no business in a pack is refused before it is read."""

from __future__ import annotations

import hashlib
from pathlib import Path, PurePosixPath

import attrs

from ampcite.base.errors import Complaint, PackError

DATA = (".toml", ".csv")
PAPERS = (".md", ".txt")
EXAMPLES = ".examples.toml"
"""How the file with the examples of a TOML file ends: those of ``busbar.toml`` are in ``busbar.examples.toml``."""
MARKS = "second-reader.csv"
"""Marks of a second reader, which are data beside the law and no part of it."""
MAX_FILE = 4_000_000
MAX_FILES = 400
MAX_WHOLE = 40_000_000


@attrs.frozen
class PackUsed:
    """A pack that took part: its name, version and the SHA-256 of its content."""

    name: str
    version: str
    digest: str


def content(where: Path) -> dict[str, bytes]:
    """The TOML and CSV files of a pack by name, in the order they are read.

    Args:
        where: a folder, or a zip file that holds the files of one (by themselves, or in one folder).

    Raises:
        PackError: when it is no pack, or holds what a pack must not: a file too large, a link, in a zip a path that
            leads outside, anything but data and papers, or more than it declares.
    """
    try:
        if where.is_file():
            from ampcite.law.zipped import unzipped

            out = unzipped(where)
        else:
            out = _folder(where)
    except OSError as fault:
        raise no_pack(where, "", f"can't be read: {fault.strerror}") from None
    if "pack.toml" not in out:
        raise PackError([Complaint(str(where), "", 'has no "pack.toml"; a pack is a folder with one')])
    return dict(sorted(out.items()))


def digest(files: dict[str, bytes]) -> str:
    """SHA-256 over the names and bytes of a pack's files, the marks of its second reader left out."""
    whole = hashlib.sha256()
    for name, data in files.items():
        if name == MARKS:
            continue
        whole.update(f"{name}\0{len(data)}\0".encode())
        whole.update(data)
    return whole.hexdigest()


def _folder(where: Path) -> dict[str, bytes]:
    out: dict[str, bytes] = {}
    found = sorted(p for p in where.iterdir() if p.suffix.lower() in DATA) if where.is_dir() else []
    if len(found) > MAX_FILES:
        raise no_pack(where, "", f"holds more than the {MAX_FILES} files a pack may have")
    for path in found:
        named(where, path.name)
        if path.is_symlink():
            raise no_pack(where, path.name, "is a link; put the file itself into the pack")
        if path.is_file():
            if path.stat().st_size > MAX_FILE:
                raise no_pack(where, path.name, f"is larger than the {MAX_FILE} bytes a pack's file may have")
            try:
                out[path.name] = path.read_bytes()
            except OSError as fault:
                raise no_pack(where, path.name, f"can't be read: {fault.strerror}") from None
    return out


def named(where: Path, name: str) -> None:
    """Refuses a name that would be read on one system and not on another."""
    if not name.isprintable() or any("\ud800" <= letter <= "\udfff" for letter in name):
        raise no_pack(where, ascii(name), "is a name with signs that can't be written; rename the file")
    if PurePosixPath(name).suffix not in DATA:
        raise no_pack(where, name, f'ends in capitals; name it "{name.lower()}"')


def no_pack(where: Path, place: str, said: str) -> PackError:
    """Why something is no pack, in a place inside it."""
    return PackError([Complaint(str(where), place, said)])
