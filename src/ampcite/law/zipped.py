"""The bytes of a pack in a zip file: nothing leads outside, nothing unpacks to more than a pack may hold."""

from __future__ import annotations

import stat
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from ampcite.base.errors import short
from ampcite.law.files import DATA, MAX_FILE, MAX_FILES, MAX_WHOLE, PAPERS, named, no_pack


def unzipped(where: Path) -> dict[str, bytes]:
    """The TOML and CSV files in a zip file, by name. Raises PackError when it is none, or holds what it must not."""
    try:
        with zipfile.ZipFile(where) as archive:
            return _entries(where, archive)
    except zipfile.BadZipFile:
        raise no_pack(where, "", "is neither a folder nor a zip file") from None
    except (OSError, EOFError, ValueError, RuntimeError, NotImplementedError, zlib.error) as fault:
        raise no_pack(where, "", f"can't be read as a zip file: {str(fault)[:120]}") from None


def _entries(where: Path, archive: zipfile.ZipFile) -> dict[str, bytes]:
    listed = archive.infolist()
    if len(listed) > MAX_FILES:
        raise no_pack(where, "", f"holds more than the {MAX_FILES} files a pack may have")
    out: dict[str, bytes] = {}
    heads: set[str] = set()
    left = MAX_WHOLE
    for one in listed:
        name = one.filename
        path = PurePosixPath(name)
        if "\\" in name or ":" in name or path.is_absolute() or ".." in path.parts:
            raise no_pack(where, short(name), "leads outside the zip file")
        if stat.S_ISLNK(one.external_attr >> 16):
            raise no_pack(where, short(name), "is a link; put the file itself into the pack")
        if one.is_dir():
            continue
        if len(path.parts) > 2:
            raise no_pack(where, short(name), "lies deeper than the one folder a zipped pack may have")
        if path.suffix.lower() not in (*DATA, *PAPERS):
            raise no_pack(where, short(name), "is not data (.toml, .csv) and has no business in a pack")
        if one.flag_bits & 1:
            raise no_pack(where, short(name), "is encrypted")
        if one.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise no_pack(where, short(name), "is packed in a way that not every system can unpack; use plain zip")
        heads.add("/".join(path.parts[:-1]))
        with archive.open(one) as file:
            data = file.read(min(MAX_FILE, left) + 1)
        left -= len(data)
        if len(data) > MAX_FILE or left < 0:
            raise no_pack(where, short(name), f"unpacks to more than the {MAX_FILE} bytes a pack's file may have")
        if path.suffix.lower() in PAPERS:
            continue
        named(where, path.name)
        if path.name in out:
            raise no_pack(where, short(name), "is in the zip file twice")
        out[path.name] = data
    if len(heads) > 1:
        raise no_pack(where, "", "holds files in more than one folder; a zipped pack has one")
    return out
