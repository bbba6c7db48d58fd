"""The files of a pack, sifted: what is sound in them goes on to become records; what is not is complained of."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import attrs
import tomli

from ampcite.base.errors import Complaint
from ampcite.law.files import EXAMPLES
from ampcite.law.shape import shape_faults
from ampcite.law.sheets import read_rows

Rows = tuple[tuple[str, ...], ...]
File = dict[str, Any]


@attrs.define
class Sifted:
    """What is sound in the files of a pack.

    Attributes:
        tables: the TOML files, with their names, in the order they are read.
        examples: the files of examples, by name.
        rows: the CSV files, by name.
        ids: by file of examples: the rules and changes of the file it stands beside; None where that is no TOML.
        complaints: every fault.
        dropped: names of what was left out for a fault; complaints that only follow from that are not worth making.
        doubtful: what of the head had to be left out, such as "pack/sources"; "examples", where some were.
    """

    folder: Path
    tables: list[tuple[str, File]] = attrs.Factory(list)
    examples: dict[str, File] = attrs.Factory(dict)
    rows: dict[str, Rows] = attrs.Factory(dict)
    ids: dict[str, list[str] | None] = attrs.Factory(dict)
    complaints: list[Complaint] = attrs.Factory(list)
    dropped: set[str] = attrs.Factory(set)
    doubtful: set[str] = attrs.Factory(set)

    def complain(self, file: str, place: str, said: str) -> None:
        """Takes down a fault, in a file or in the pack as a whole."""
        self.complaints.append(Complaint(str(self.folder / file) if file else str(self.folder), place, said))


def sift(folder: Path, files: Mapping[str, bytes]) -> Sifted:
    """What is sound in the files of a pack, and what is not."""
    out = Sifted(folder)
    for name, data in files.items():
        if name.endswith(".toml"):
            value = _toml(out, name, data)
            beside = name if name.endswith(EXAMPLES) else beside_of(name)
            if value is None:
                out.doubtful.add("examples")
                out.ids.setdefault(beside, None)
                continue
            if beside == name:
                out.examples[name] = _sound(out, name, value)
            else:
                out.ids[beside] = _ids(value)
                out.tables.append((name, _sound(out, name, value)))
        else:
            rows, faults = read_rows(data)
            for fault in faults:
                out.complain(name, fault.place, fault.said)
            if faults:
                out.dropped.add(name)
            else:
                out.rows[name] = rows
    return out


def beside_of(file: str) -> str:
    """The file with the examples of a TOML file."""
    return file.removesuffix(".toml") + EXAMPLES


def _ids(value: File) -> list[str]:
    found = [one for kind in ("rule", "amend") if isinstance(value.get(kind), list) for one in value[kind]]
    return [str(one["id"]) for one in found if isinstance(one, dict) and "id" in one]


def _toml(out: Sifted, name: str, data: bytes) -> File | None:
    if long_key(data):
        out.complain(name, "", f"has a key of more than {MOST_STEPS} words joined by stops")
        return None
    try:
        return tomli.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as fault:
        line = data[: fault.start].count(b"\n") + 1
        out.complain(name, f"line {line}", "is not UTF-8 text; save it as UTF-8")
    except (ValueError, RecursionError) as fault:
        out.complain(name, "", f"is not TOML: {_why(str(fault)[:200], data)}")
    return None


_WHY = {
    "Illegal character '\\n'": "a text has no closing quote",
    "Cannot overwrite a value": "the same thing is said twice",
    "Cannot declare": "the same thing is said twice",
    "Invalid value": "a value is neither a number nor a text in quotes",
    "Expected '=' after": "a line has no = after its key",
    "Expected newline": "more stands on a line than one key and its value",
    "Unescaped": "a text holds a backslash; write / instead, or put the text in single quotes",
    "Unclosed array": "a list has no closing bracket",
    "Unclosed inline table": "a table in braces has no closing brace",
}
"""What the reader of TOML says of common faults, and the same for a person."""


def _why(said: str, data: bytes) -> str:
    """Why a text is not TOML, and where."""
    what, at, where = said.rpartition(" (at ")
    what = next((words for begins, words in _WHY.items() if what.startswith(begins)), what)
    quotes = next((sign for sign in "\u201c\u201d\u2018\u2019" if sign.encode() in data), "")
    hint = f"; it holds the printed quote {quotes}: write a plain one" if quotes else ""
    return f"{what}{at}{where}{hint}" if at else said


def _sound(out: Sifted, name: str, value: File) -> File:
    """What of a file its schema has nothing against."""
    examples = name.endswith(EXAMPLES)
    if name != "pack.toml" and not examples:
        for key in ("pack", "authority"):
            if key in value:
                out.complain(name, key, "belongs in pack.toml; move it there")
    elif name == "pack.toml" and "pack" not in value:
        out.complain(name, "", "lacks the table [pack], the head of the pack")
    bad = []
    for path, place, said in shape_faults(value, examples=examples):
        out.complain(name, place, said)
        bad.append(path)
    return _pruned(out, value, bad, examples) if bad else value


def _pruned(out: Sifted, value: File, bad: list[tuple[Any, ...]], examples: bool) -> File:
    """A file without the rules, figures, changes and examples that its schema refuses."""
    kept = {key: list(item) if isinstance(item, list) else item for key, item in value.items()}
    for path in bad:
        if not path:
            for key in value.keys() - _TABLES:
                kept.pop(key, None)
        elif path[0] in ("pack", "authority"):
            out.doubtful |= {path[0], "/".join(map(str, path[:2]))}
        elif examples or not isinstance(value[path[0]], list) or len(path) < 2:
            out.doubtful.add("examples")
            kept.pop(path[0], None)
        else:
            one = value[path[0]][path[1]]
            out.dropped |= {str(one[key]) for key in ("id", "name") if isinstance(one, dict) and key in one}
            if path[0] in kept:
                kept[path[0]][path[1]] = None
    kept = {key: [one for one in item if one is not None] if isinstance(item, list) else item
            for key, item in kept.items()}  # fmt: skip
    return _headed(out, kept)


def _headed(out: Sifted, value: File) -> File:
    """A file whose head has faults, with something harmless in the place of what is wrong."""
    if "pack" in out.doubtful and "pack" in value:
        given = value["pack"] if isinstance(value["pack"], dict) else {}
        head = {key: item for key, item in given.items() if key in _HEAD and f"pack/{key}" not in out.doubtful}
        out.doubtful |= {f"pack/{key}" for key in ("editions", "works", "sources") if key not in head}
        value = {**value, "pack": {"name": out.folder.stem, "title": "", "version": "", "editions": [], "works": {},
                                   "sources": {}, **head}}  # fmt: skip
    if "authority" in out.doubtful:
        value = {key: item for key, item in value.items() if key != "authority"}
    return value


_TABLES = frozenset({"pack", "authority", "letter", "adoption", "amend", "parameter", "table", "derived", "rule"})
_HEAD = frozenset({"name", "title", "version", "editions", "building_editions", "needs", "order", "works",
                   "work", "sources", "readings"})  # fmt: skip

MOST_STEPS = 32
_TOKEN = re.compile(
    rb'''#[^\n]*|"""(?:\\.|[^\\])*?"""|\'\'\'.*?\'\'\'|("(?:\\.|[^"\\\n])*"|'[^'\n]*'|[A-Za-z0-9_-]+)'''
    rb"|([ \t]+)|(\.)|.",
    re.DOTALL,
)
"""Of TOML, as far as its keys are concerned: comments and long texts; words (1); blanks (2); stops (3); all else."""


def long_key(data: bytes) -> bool:
    """Whether a key has so many steps that reading it would take the square of their number."""
    if not any(line.count(b".") > MOST_STEPS for line in data.split(b"\n")):
        return False
    steps = 0
    for token in _TOKEN.finditer(data):
        if token.lastindex is None:
            steps = 0
        elif token.lastindex == 3:
            steps += 1
        if steps > MOST_STEPS:
            return True
    return False
