"""The bytes of a pack, from a folder or a zip file; what has no business in a pack is refused before it is read."""

from __future__ import annotations

import hashlib
import stat
import zipfile
import zlib
from pathlib import Path, PurePosixPath

import attrs

from ampcite.base.errors import Complaint, PackError, short

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
        out = _unzipped(where) if where.is_file() else _folder(where)
    except OSError as fault:
        raise _no(where, "", f"can't be read: {fault.strerror}") from None
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
        raise _no(where, "", f"holds more than the {MAX_FILES} files a pack may have")
    for path in found:
        _named(where, path.name)
        if path.is_symlink():
            raise _no(where, path.name, "is a link; put the file itself into the pack")
        if path.is_file():
            if path.stat().st_size > MAX_FILE:
                raise _no(where, path.name, f"is larger than the {MAX_FILE} bytes a pack's file may have")
            try:
                out[path.name] = path.read_bytes()
            except OSError as fault:
                raise _no(where, path.name, f"can't be read: {fault.strerror}") from None
    return out


def _named(where: Path, name: str) -> None:
    """Refuses a name that would be read on one system and not on another."""
    if not name.isprintable() or any("\ud800" <= letter <= "\udfff" for letter in name):
        raise _no(where, ascii(name), "is a name with signs that can't be written; rename the file")
    if PurePosixPath(name).suffix not in DATA:
        raise _no(where, name, f'ends in capitals; name it "{name.lower()}"')


def _unzipped(where: Path) -> dict[str, bytes]:
    try:
        with zipfile.ZipFile(where) as archive:
            return _entries(where, archive)
    except zipfile.BadZipFile:
        raise _no(where, "", "is neither a folder nor a zip file") from None
    except (OSError, EOFError, ValueError, RuntimeError, NotImplementedError, zlib.error) as fault:
        raise _no(where, "", f"can't be read as a zip file: {str(fault)[:120]}") from None


def _entries(where: Path, archive: zipfile.ZipFile) -> dict[str, bytes]:
    listed = archive.infolist()
    if len(listed) > MAX_FILES:
        raise _no(where, "", f"holds more than the {MAX_FILES} files a pack may have")
    out: dict[str, bytes] = {}
    heads: set[str] = set()
    left = MAX_WHOLE
    for one in listed:
        name = one.filename
        path = PurePosixPath(name)
        if "\\" in name or ":" in name or path.is_absolute() or ".." in path.parts:
            raise _no(where, short(name), "leads outside the zip file")
        if stat.S_ISLNK(one.external_attr >> 16):
            raise _no(where, short(name), "is a link; put the file itself into the pack")
        if one.is_dir():
            continue
        if len(path.parts) > 2:
            raise _no(where, short(name), "lies deeper than the one folder a zipped pack may have")
        if path.suffix.lower() not in (*DATA, *PAPERS):
            raise _no(where, short(name), "is not data (.toml, .csv) and has no business in a pack")
        if one.flag_bits & 1:
            raise _no(where, short(name), "is encrypted")
        if one.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise _no(where, short(name), "is packed in a way that not every system can unpack; use plain zip")
        heads.add("/".join(path.parts[:-1]))
        with archive.open(one) as file:
            data = file.read(min(MAX_FILE, left) + 1)
        left -= len(data)
        if len(data) > MAX_FILE or left < 0:
            raise _no(where, short(name), f"unpacks to more than the {MAX_FILE} bytes a pack's file may have")
        if path.suffix.lower() in PAPERS:
            continue
        _named(where, path.name)
        if path.name in out:
            raise _no(where, short(name), "is in the zip file twice")
        out[path.name] = data
    if len(heads) > 1:
        raise _no(where, "", "holds files in more than one folder; a zipped pack has one")
    return out


def _no(where: Path, place: str, said: str) -> PackError:
    return PackError([Complaint(str(where), place, said)])
