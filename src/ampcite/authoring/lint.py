"""A pack seen as its author needs it: every fault at once, with file and line, and what is poor though it loads."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import attrs

from ampcite.authoring.layers import layer_faults, within
from ampcite.authoring.strays import placeholders, strays, texts_of
from ampcite.base.editions import CODES, ByEdition
from ampcite.base.errors import Complaint, PackError
from ampcite.engine.bind import bind
from ampcite.law.changes import Amendment
from ampcite.law.files import MARKS
from ampcite.law.load import load_pack, read_pack
from ampcite.law.overlay import amend
from ampcite.law.records import Citation, Example, Pack, Rule
from ampcite.law.second_reader import faults as lost_marks
from ampcite.law.section import held

FAULT, REMARK = "fault", "remark"


@attrs.frozen
class Remark:
    """Something to say of a pack.

    Attributes:
        severity: "fault" where it can't be used so, else "remark".
        file: the file; line: the line in it, 0 where the whole file or pack is meant.
        place: the rule, figure or change.
        message: one sentence.
    """

    severity: str
    file: str
    line: int
    place: str
    message: str

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line else self.file
        return ": ".join(part for part in (where, self.place, self.message) if part)


def remarks(where: Path, others: Sequence[Path]) -> list[Remark]:
    """Everything to say of a pack, faults first: those of every stage at once.

    Args:
        where: the pack, as folder or zip file.
        others: the packs that it needs or changes.
    """
    files = texts_of(where)
    pack, found, dropped = read_pack(where)
    complaints = [*found, *strays(where)]
    try:
        around = [load_pack(other) for other in others]
    except PackError as error:
        return [_placed(FAULT, complaint, files) for complaint in (*complaints, *error.complaints)]
    if pack is not None:
        nobody = pack.authority is None and (pack.amendments or pack.adoptions)
        follow = () if nobody else layer_faults(pack, around) if pack.authority else _faults(pack, around)
        baseless = (Complaint(pack.folder, f'rule "{rule.id}"', said) for rule in pack.rules.values()
                     if not nobody and rule.force == "requirement" and (said := unfounded(pack, rule)))  # fmt: skip
        complaints += _first([*baseless, *follow], dropped)
        complaints += placeholders(where)
        known = {other.name: other for other in (*around, pack)}
        complaints += [Complaint(str(Path(pack.folder) / MARKS), f'rule "{name}"', said)
                       for (name, _), said in lost_marks(pack, known)]  # fmt: skip
    faults = [_placed(FAULT, complaint, files) for complaint in dict.fromkeys(complaints)]
    faults.sort(key=lambda one: (one.file != "pack.toml", one.file, one.line))
    if faults or pack is None:
        return faults
    poor = [*_examples(pack), *_out_of_reach(pack), *_uncited(pack), *_unused(pack, files),
            *((*_shadowed(pack, around), *_grown(pack, around)) if pack.authority else ())]  # fmt: skip
    return [_placed(REMARK, Complaint(pack.folder, place, said), files) for place, said in poor]


def _first(found: list[Complaint], dropped: frozenset[str]) -> list[Complaint]:
    """Complaints without those that only follow from others: of what was left out, or is itself complained of."""
    named = [match[1] if (match := _FIGURE.match(c.place)) else "" for c in found]
    lost = {*dropped, *named} - {""}
    words = re.compile("|".join(rf"(?<![\w-]){re.escape(name)}(?![\w-])" for name in sorted(lost)) or "(?!)")
    told = [re.split("; (?:did you mean|known here)", c.message)[0] for c in found]
    return [c for c, name, said in zip(found, named, told, strict=True) if name or not words.search(said)]


_FIGURE = re.compile(r'(?:parameter|table|derived) "([^"]+)"')


def _faults(pack: Pack, around: Sequence[Pack]) -> Iterator[Complaint]:
    """What is wrong with a pack of rules at every edition it knows."""
    latest = {code: max(years) for code, years in pack.editions.items() if years}
    for code, years in pack.editions.items():
        for year in years:
            try:
                bind([pack, *around], {**latest, code: year}, frozenset(other.name for other in around))
            except PackError as error:
                yield from (c for c in error.complaints if within(c.file, pack.folder))


def unfounded(pack: Pack, rule: Rule) -> str:
    """Why nothing behind a rule lets a house fail by it, at some edition at which it is in force; else ""."""
    for citation in rule.citations:
        if citation.stated and citation.stated not in rule.inputs:
            return f'has a demand stated by "{citation.stated}", which is no input of the rule'
    against = pack.authority.against.get(rule.code) if pack.authority else None
    for year in filter(rule.in_force, pack.editions[rule.code] if against is None else (against,)):
        if not any(_binds(citation, rule.code, year) for citation in rule.citations):
            return (f"fails a house, but at the {year} edition no code in force and no demand that the description "
                    "states is behind it; make it a recommendation, or cite what it rests on")  # fmt: skip
    return ""


def _binds(citation: Citation, code: str, year: int) -> bool:
    """Whether a citation of a rule lets a house fail, at an edition of the code by whose editions the rule goes."""
    cited = citation.clause.at(year) if citation.work.code == code else next(iter(citation.clause.texts.values()), None)
    return cited is not None and (citation.work.force == "code" or bool(citation.stated))


# --- what is poor -------------------------------------------------------------------------------------------------

_Said = tuple[str, str]


def _examples(pack: Pack) -> Iterator[_Said]:
    for rule in pack.rules.values():
        for edition in (e for e in pack.editions[rule.code] if rule.in_force(e)):
            lacks = _lacking([e for e in rule.examples if not e.editions or edition in e.editions])
            if lacks:
                yield f'rule "{rule.id}"', f"has no example that {lacks} at the {edition} edition"
                break
    for change in pack.amendments:
        lacks = _lacking([example for _, example in change.tests])
        wanted = "" if change.on_record or (change.do in ("strike", "waive", "refer") and change.tests) else lacks
        if wanted:
            yield f'amend "{change.id}"', f"has no example that {wanted}"


def _lacking(examples: Sequence[Example]) -> str:
    verdicts = {v for e in examples for v in ({"pass", "fail"} if e.vary else {e.verdict})}
    if "pass" not in verdicts:
        return "passes"
    return "" if verdicts & {"fail", "warn", ""} else "does not pass"


def _out_of_reach(pack: Pack) -> Iterator[_Said]:
    for rule in pack.rules.values():
        years = pack.editions[rule.code]
        if not any(rule.in_force(year) for year in years):
            yield f'rule "{rule.id}"', f"is in force at no edition the pack knows of the {CODES[rule.code]}"
        for way in rule.alternatives:
            if not any((way.begins or 0) <= y < (way.withdrawn or 9999) and rule.in_force(y) for y in years):
                yield f'rule "{rule.id}"', f'has the way "{way.name}", which no edition the pack knows has'


def _uncited(pack: Pack) -> Iterator[_Said]:
    for p in pack.parameters.values():
        yield from _cited(pack, f'parameter "{p.name}"', p.value, p.citation)
    for t in pack.tables.values():
        yield from _cited(pack, f'table "{t.name}"', t.files, t.citation)


def _cited(pack: Pack, place: str, by: ByEdition, citation: Citation) -> Iterator[_Said]:
    for edition in pack.editions[citation.work.code]:
        if by.at(edition) is None:
            continue
        key = citation.read.at(edition)
        if citation.clause.at(edition) is None or key is None:
            yield place, f"does not say where the figure of the {edition} edition stands or was read"
            return
        if pack.sources[key].title.startswith("from memory"):
            yield place, f"rests on memory at the {edition} edition; read it in a published source"
            return


def _unused(pack: Pack, files: Mapping[str, str]) -> Iterator[_Said]:
    whole = "\n".join(text for name, text in files.items() if name.endswith(".toml"))
    for what, names in (("parameter", pack.parameters), ("table", pack.tables), ("derived", pack.derived)):
        for name in names:
            if len(re.findall(rf"(?<![a-z0-9_]){name}(?![a-z0-9_])", whole)) < 2:
                yield f'{what} "{name}"', "is used by nothing in this pack"


def _shadowed(pack: Pack, around: Sequence[Pack]) -> Iterator[_Said]:
    """Changes that change nothing: of a rule the same layer strikes, or of a figure that no rule in force uses."""
    struck = {name for a in pack.amendments if a.do == "strike" and "way" not in a.said for name in _touched(a)}
    waived = {name for a in pack.amendments if a.do == "waive" for name in _touched(a)}
    for change in pack.amendments:
        place = f'amend "{change.id}"'
        if change.said.get("rule") in struck and not (change.do == "strike" and "way" not in change.said):
            yield place, f'changes "{change.said["rule"]}", which this layer strikes'
        if change.do in ("narrow", "widen", "allow") and change.said.get("rule") in waived:
            yield place, f'changes "{change.said["rule"]}", which this layer waives for a while'
        if "expects" in change.said and change.said.get("to") == change.said["expects"]:
            yield place, "changes nothing: it puts in what is there"
        if "parameter" in change.said and not _rests_on(change, struck, around, pack):
            yield place, f'changes "{change.said["parameter"]}", on which no rule in force rests'


def _grown(pack: Pack, around: Sequence[Pack]) -> Iterator[_Said]:
    """Changes of a section that has rules which the change does not list."""
    assert pack.authority is not None
    for change in (a for a in pack.amendments if "section" in a.said):
        editions = dict(pack.authority.against)
        if change.do == "adopt":
            editions = dict.fromkeys(editions, int(change.said["edition"]))
        more = [name for name in held(around, change.said["section"], editions).rules if name not in change.rules]
        if change.on_record and not more:
            yield f'amend "{change.id}"', f"is kept on record: no rule rests on section {change.said['section']}"
        if more:
            said = f"does not touch all of section {change.said['section']}, which also has {', '.join(more)}"
            yield f'amend "{change.id}"', f"{said}; read them, and add to `rules` what is meant"


def _touched(change: Amendment) -> tuple[str, ...]:
    """The rules that a change of a rule or of a section names."""
    return change.rules if "section" in change.said else (change.said["rule"],)


def _rests_on(change: Amendment, struck: set[str], around: Sequence[Pack], pack: Pack) -> bool:
    assert pack.authority is not None
    against, date = pack.authority.against, change.some_date
    bound = bind(amend(around, [attrs.evolve(pack, amendments=(change,))], against, date), against)
    place = f"{change.work} {change.clause}"
    return any(c.place == place for rule, local in bound.local.items() if rule not in struck for c in local.changes)


# --- where it stands ----------------------------------------------------------------------------------------------


def _placed(severity: str, complaint: Complaint, files: Mapping[str, str]) -> Remark:
    """A complaint with the file and line its place is at."""
    named = Path(complaint.file).name
    among = [named] if named in files else [n for n in files if n.endswith(".toml")]
    if found := re.match(r"line (\d+)", complaint.place):
        return Remark(severity, named, int(found.group(1)), "", complaint.message)
    found = re.search(r"at line (\d+)", complaint.message) if "is not TOML" in complaint.message else None
    if found:
        return Remark(severity, named, int(found.group(1)), "", complaint.message)
    for name in among:
        line = _line(files[name], complaint.place)
        if line:
            return Remark(severity, name, line, complaint.place, complaint.message)
    return Remark(severity, named if named in files else complaint.file, 0, complaint.place, complaint.message)


def _line(text: str, place: str) -> int:
    """The line on which the thing that a place names begins, or the field of it that is meant; 0 where it is not."""
    named = re.match(r'[a-z]+ "([^"]+)"', place)
    twice = place.endswith(", the second")
    lines = text.splitlines()
    listed = re.match(r"([a-z]+) / (\d+)", place)
    if listed:
        at = 0
        for _ in range(int(listed[2])):
            at = _line_of(lines, at, rf"\[\[{listed[1]}\]\]")
        return at
    if not named:
        key = place.split(" / ")[-1] if place else ""
        return _line_of(lines, 0, rf"\[*\s*{re.escape(key)}\b") if key else 0
    name, steps = re.escape(named.group(1)), [step for step in place[named.end() :].split(" / ") if step]
    if place.startswith("examples "):
        number = int(steps[1]) if steps[:1] == ["example"] and len(steps) > 1 else 0
        at = 0 if number else _line_of(lines, 0, rf"\[+{name}[.\]]")
        for _ in range(number):
            at = _line_of(lines, at, rf"\[\[{name}\.example\]\]")
    else:
        at = _line_of(lines, 0, rf'\s*(?:id|name|begins)\s*=\s*"{name}"')
        at = _line_of(lines, at, rf'\s*(?:id|name)\s*=\s*"{name}"') or at if twice else at
    for step in reversed(steps if at else []):
        word, _, part = step.partition(' "')
        key = rf'name\s*=\s*"{re.escape(part[:-1])}"' if part else rf"(?:[\w-]+\.)*{re.escape(word)}(?:\.[^=]*)?\s*="
        found = _line_of(lines, at, rf"\s*{key}", until=r"\[\[[^.]*\]\]|\[\[.*\.example\]\]")
        if found:
            return found
    return at


def _line_of(lines: Sequence[str], after: int, pattern: str, until: str = "(?!)") -> int:
    """The number of the first line after another that begins so; 0 where there is none, or none before an end."""
    for i, line in enumerate(lines[after:], after + 1):
        if re.match(pattern, line):
            return i
        if re.match(until, line):
            return 0
    return 0
