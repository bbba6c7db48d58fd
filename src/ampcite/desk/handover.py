"""A sheet that was filled in on site, read back: what was read becomes readings of the description, and is judged."""

from __future__ import annotations

import copy
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import attrs

from ampcite.base.errors import Complaint, InputError, nearest, short
from ampcite.base.spreadsheet import rows_of_file
from ampcite.desk.site import DONE, FLAG, Line, SiteSheet
from ampcite.engine.rulebook import Rulebook
from ampcite.house.parts import Description
from ampcite.house.read import read
from ampcite.house.write import written
from ampcite.reviewing.comments import Review, review

FORM = "https://ampcite.invalid/schemas/1.0/site-form.schema.json"
_YES, _NO = ("yes", "y", "true", "1", "x", "done", "ok"), ("no", "n", "false", "0")
_NONE = ("none", "-", "n/a")


@attrs.frozen
class Handover:
    """What came of the day on site.

    Attributes:
        document: the description with readings and observations, at handover.
        review: what the rules say of it.
        blank: the lines that nobody filled in.
    """

    document: dict[str, Any]
    review: Review
    blank: tuple[Line, ...]


def handover(rulebook: Rulebook, description: Description, sheet: SiteSheet, values: Mapping[str, str]) -> Handover:
    """The description with what was read on site, and what the rules say of it.

    Args:
        rulebook: from :func:`ampcite.load`.
        description: of the house as planned.
        sheet: the sheet of that house.
        values: from :func:`read_filled`.

    Raises:
        InputError: with every line that can't be read as what it asks for, or is on no such sheet.
    """
    document = as_built(description, sheet, values)
    done = read(document, description.source, description.catalogue)
    blank = tuple(line for line in sheet.lines if not values.get(line.id, "").strip())
    return Handover(document, review(rulebook, done, stage="handover"), blank)


def as_built(description: Description, sheet: SiteSheet, values: Mapping[str, str]) -> dict[str, Any]:
    """The description at handover, with what was read and seen on site.

    Raises:
        InputError: as :func:`handover`.
    """
    lines = {line.id: line for line in sheet.lines}
    complaints = [Complaint("", ident, f"is no line of this house's sheet; {nearest(ident, lines)}")
                  for ident in values if ident not in lines]  # fmt: skip
    readings: dict[str, Any] = copy.deepcopy(dict(sheet.fixed))
    observations: dict[str, Any] = {}
    for ident, line in lines.items():
        said = values.get(ident, "").strip()
        if not said or line.kind == DONE:
            continue
        try:
            value = _value(line, said)
        except ValueError as fault:
            complaints.append(Complaint("", ident, str(fault)))
            continue
        top, _, path = ident.partition("/")
        _put(observations if top == "observations" else readings, path.split("/"), value)
    if complaints:
        raise InputError(complaints)
    document = {key: value for key, value in description.document.items() if key not in ("readings", "observations")}
    return document | written({"readings": readings, "observations": observations}) | {"stage": "handover"}


def _value(line: Line, said: str) -> Any:
    """What was written in a line, as the description holds it."""
    low = said.lower()
    if low in _NONE and line.kind != FLAG:
        return None
    match line.kind:
        case "number":
            text = said.replace("\u2212", "-").replace(",", ".") if said.count(",") == 1 and "." not in said else said
            try:
                return float(text) if "e" not in low and "n" not in low else text
            except ValueError:
                return text  # a number with a unit of its own, which the reader of descriptions judges
        case "flag":
            if low in _YES or low in _NO:
                return low in _YES
            raise ValueError(f"says {short(said)}; write yes or no")
        case "choice":
            chosen = next((c for c in line.choices if c.lower() == low), None)
            if chosen is None:
                raise ValueError(f"says {short(said)}; {nearest(said, line.choices)}")
            return chosen
    return said


def _put(into: Any, steps: list[str], value: Any) -> None:
    for step in steps[:-1]:
        into = into[int(step)] if isinstance(into, list) else into.setdefault(step, {})
    into[steps[-1]] = value


def read_filled(path: str | Path) -> dict[str, str]:
    """What stands in a filled-in sheet, by line: the form's own file (JSON), CSV, or the workbook.

    Raises:
        InputError: when it is none of these, or one line stands in it twice with different words.
    """
    name = str(path)
    if name.lower().endswith(".json"):
        return _form(Path(path), name)
    table = rows_of_file(path)
    head = [cell.strip().lower() for cell in table[0]] if table else []
    lacks = [column for column in ("line", "reading") if column not in head]
    if lacks:
        raise InputError([Complaint(name, "line 1", f'has no column "{lacks[0]}"; keep the sheet\'s own columns')])
    line, reading = head.index("line"), head.index("reading")
    out: dict[str, str] = {}
    for row in table[1:]:
        ident, said = (row[at].strip().removeprefix("'") if at < len(row) else "" for at in (line, reading))
        if not ident:
            continue
        if out.get(ident, said) != said:
            raise InputError([Complaint(name, ident, "stands there twice; keep one line")])
        out[ident] = said
    return out


def _form(path: Path, name: str) -> dict[str, str]:
    try:
        value = json.loads(path.read_bytes())
    except OSError as fault:
        raise InputError([Complaint(name, "", f"can't be read: {fault.strerror}")]) from None
    except (ValueError, RecursionError):
        raise InputError([Complaint(name, "", "is no JSON")]) from None
    said = value.get("readings") if isinstance(value, dict) and value.get("form") == FORM else None
    if not isinstance(said, dict) or not all(isinstance(one, str) for one in said.values()):
        raise InputError([Complaint(name, "", "is not the file that the form on the sheet saves")])
    return said
