"""What a reviewer changes in a letter: withdrawals, waivers, other words, comments of their own; kept in one file."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

import attrs
import tomli

from ampcite.base.errors import Complaint, InputError
from ampcite.engine.findings import Finding
from ampcite.law.shape import faults_by


@attrs.frozen
class Edit:
    """One change of a comment that rules make.

    Attributes:
        rule: id of the rule.
        part: id of the part; None for every part.
        said: what it says besides, by the names of its schema.
    """

    rule: str
    part: str | None
    said: Mapping[str, str]

    def meets(self, finding: Finding) -> bool:
        """Whether it is about a finding."""
        return finding.rule == self.rule and self.part in (None, finding.part)

    def __str__(self) -> str:
        return f"{self.rule}{f' of {self.part}' if self.part else ''}"


@attrs.frozen
class Edits:
    """All changes a reviewer makes to the letter of a submission."""

    withdraw: tuple[Edit, ...] = ()
    waive: tuple[Edit, ...] = ()
    reword: tuple[Edit, ...] = ()
    add: tuple[Mapping[str, Any], ...] = ()

    def stale(self, day: str) -> tuple[Edit, ...]:
        """The waivers that have ended before a day, year-month-day; where no day is given, none is taken as ended."""
        return tuple(w for w in self.waive if day and w.said["until"] < day)

    def unmatched(self, findings: Iterable[Finding]) -> Iterator[str]:
        """What is about no finding of a review, in words."""
        found = list(findings)
        for verb in ("withdraw", "waive", "reword"):
            for edit in getattr(self, verb):
                if not any(edit.meets(f) for f in found):
                    yield f'"{verb}" of {edit} meets no comment of this review; strike it, or mend its rule or part'


def read_edits(path: str | Path) -> Edits:
    """The edits of a file, TOML or JSON after ``schemas/edits.schema.json``.

    Raises:
        InputError: with every fault found.
    """
    name = str(path)
    try:
        text = Path(path).read_bytes().decode("utf-8-sig")
        value: Any = json.loads(text) if name.endswith(".json") else tomli.loads(text)
    except OSError as fault:
        raise InputError([Complaint(name, "", f"can't be read: {fault.strerror}")]) from None
    except (ValueError, RecursionError) as fault:
        kind = "JSON" if name.endswith(".json") else "TOML"
        raise InputError([Complaint(name, "", f"is not {kind}: {str(fault)[:200]}")]) from None
    if not isinstance(value, dict):
        raise InputError([Complaint(name, "", "is no table of edits")])
    complaints = [Complaint(name, place, said) for _, place, said in faults_by("edits.schema.json", value)]
    ids = [one.get("id") for one in value.get("add", ()) if isinstance(one, dict)]
    complaints += [Complaint(name, f'add "{one}"', "is there twice; give each its own id")
                   for one in sorted({i for i in ids if i and ids.count(i) > 1})]  # fmt: skip
    if complaints:
        raise InputError(complaints)
    lists = {verb: tuple(Edit(one["rule"], one.get("part"), {k: v for k, v in one.items() if k not in ("rule", "part")})
                         for one in value.get(verb, ())) for verb in ("withdraw", "waive", "reword")}  # fmt: skip
    return Edits(**lists, add=tuple(value.get("add", ())))
