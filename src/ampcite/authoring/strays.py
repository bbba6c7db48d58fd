"""What of a pack nobody would read, or is not filled in: law under another file name, placeholders."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path

from ampcite.base.errors import Complaint, PackError
from ampcite.law.files import DATA, content

_LAW = re.compile(r"^\s*\[\[(amend|rule|adoption|parameter|table|derived)\]\]", re.M)
_SPREADSHEETS = (".xlsx", ".xls", ".ods", ".numbers")
_PLACEHOLDER = re.compile(
    r"""(?:^|\s)\[[a-z][^\[\]]*\]|\b(?:TODO|TBD|TBC|FIXME|XXX+|lorem ipsum)\b|\?{3,}|(?:^|\s)<[a-z][a-z ]*>"""
    r"|\bto be (?:filled in|decided|determined)\b"
)
_TEXT = re.compile(r'"((?:[^"\\]|\\.)*)"')


def texts_of(where: Path) -> Mapping[str, str]:
    """The TOML and CSV files of a pack as texts; none where it can't be read."""
    try:
        return {name: data.decode("utf-8-sig", "replace") for name, data in content(where).items()}
    except PackError:
        return {}


def strays(where: Path) -> Iterator[Complaint]:
    """Files of a folder that hold law or tables, and are not read for their names."""
    if not where.is_dir():
        return
    for path in sorted(where.iterdir()):
        ending = path.suffix.lower()
        if not path.is_file() or ending in DATA or path.name.startswith("."):
            continue
        if ending in _SPREADSHEETS:
            yield Complaint(str(path), "", "is a spreadsheet, which is not read; save it as CSV UTF-8")
        elif _holds_law(path):
            name = re.sub(r"(\.toml)?\.\w+$|$", ".toml", path.name, count=1)
            yield Complaint(str(path), "", f'holds law, but is not read under this name; name it "{name}"')


def _holds_law(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return bool(_LAW.search(file.read(200_000).decode("utf-8", "replace")))
    except OSError:
        return False


def placeholders(where: Path) -> Iterator[Complaint]:
    """Texts that are still to be written: in square brackets, TODO, ???."""
    for name, text in texts_of(where).items():
        for number, line in enumerate(text.splitlines() if name.endswith(".toml") else (), 1):
            if line.lstrip().startswith("#"):
                continue
            for found in filter(None, map(_PLACEHOLDER.search, _TEXT.findall(line))):
                said = f'still holds the placeholder "{found[0].strip()[:60]}"; put in what the law says'
                yield Complaint(str(where / name), f"line {number}", said)
