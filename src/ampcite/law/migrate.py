"""A layer of law written against one edition, seen from another: what becomes of each change, how sure that is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import TypeVar

import attrs

from ampcite.base.editions import ByEdition, Editions
from ampcite.language.units import unit_words
from ampcite.law.changes import Amendment
from ampcite.law.records import Citation, Pack, Rule
from ampcite.law.section import clauses, held, plain, within

T = TypeVar("T")

KEPT, RENUMBERED, GROWN, SUPERSEDED = "still applies", "renumbered", "grown", "superseded"
MOVED, GONE, EXPIRED = "base moved", "target gone", "expired"
OUT = (SUPERSEDED, GONE, EXPIRED)
"""What a change comes to that is left out of the draft."""


@attrs.frozen
class MigrationStatus:
    """What becomes of one change under other editions.

    Attributes:
        id: the change.
        outcome: "still applies", "renumbered", "grown", "superseded", "base moved", "target gone" or "expired".
        message: why, in a sentence.
        sure: False where the numbers it rests on are from memory.
        expects: what the change has to expect under the new editions, or "" where there is nothing to expect.
        section, rules: of a change of a section, its number under the new editions, and its rules there.
    """

    id: str
    outcome: str
    message: str
    sure: bool = True
    expects: str = ""
    section: str = ""
    rules: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """What becomes of it, and how sure that is."""
        doubt = "" if self.sure else " (from memory: look it up before relying on it)"
        return f"{self.outcome}: {self.message}{doubt}"


def migration_statuses(layer: Pack, packs: Sequence[Pack], editions: Editions,
                       begins: str = "") -> list[MigrationStatus]:  # fmt: skip
    """What becomes of each change of a layer when other editions are in force.

    Args:
        layer: the layer; its authority says which editions it is written against.
        packs: the packs it changes.
        editions: the editions to carry it over to.
        begins: the first application date under them, year-month-day; "" where it is not known yet.
    """
    return [_status(layer, [*packs, layer], one, editions, begins) for one in layer.amendments]


def _status(layer: Pack, packs: Sequence[Pack], one: Amendment, editions: Editions, begins: str) -> MigrationStatus:
    last = one.ends or one.said.get("until", "")
    if last and begins and last < begins:
        return MigrationStatus(one.id, EXPIRED, f"it ends on {last}, before {begins}")
    if one.do in ("label", "document"):
        return MigrationStatus(one.id, KEPT, "adds a rule of its own, which no edition takes away")
    if one.do == "set":
        return MigrationStatus(one.id, KEPT, "sets a fact, which no edition takes away")
    if "section" in one.said:
        return _section(layer, packs, one, editions)
    if "parameter" in one.said:
        return _figure(layer, packs, one, editions)
    if "table" in one.said:
        return _cell(layer, packs, one, editions)
    rule = _find(one.said["rule"], [pack.rules for pack in packs])
    if rule is None or not rule.in_force(editions[rule.code]):
        ended = f" (it ended with the {rule.withdrawn} edition)" if rule and rule.withdrawn else ""
        return MigrationStatus(one.id, GONE, f'the rule "{one.said["rule"]}" is not in that edition{ended}')
    return _rule(packs, rule, one, editions[rule.code])


def _rule(packs: Sequence[Pack], rule: Rule, one: Amendment, edition: int) -> MigrationStatus:
    clause, sure = rule.rests_on.clause.at(edition) or "", _sure(packs, rule.rests_on, edition)
    if one.do == "strike" and "way" in one.said:
        in_force = [w.name for w in rule.alternatives if (w.begins or 0) <= edition < (w.withdrawn or 9999)]
        if one.said["way"] not in in_force:
            gone = f'the exception "{one.said["way"]}" is not in that edition any more'
            return MigrationStatus(one.id, SUPERSEDED, gone, sure)
    if clause == one.said["expects"]:
        return MigrationStatus(one.id, KEPT, f"the rule still rests on {clause}", sure, clause)
    return MigrationStatus(one.id, RENUMBERED, f"{one.said['expects']} is {clause} in that edition", sure, clause)


def _section(layer: Pack, packs: Sequence[Pack], one: Amendment, editions: Editions) -> MigrationStatus:
    assert layer.authority is not None
    section = one.said["section"]
    if one.do == "adopt":
        year, code = int(one.said["edition"]), _code(packs, one.rules)
        if editions.get(code, 0) >= year:
            has = f"the {editions[code]} edition has what was adopted from that of {year}"
            return MigrationStatus(one.id, SUPERSEDED, has)
        still = f"still adopts {section} of the {year} edition"
        return MigrationStatus(one.id, KEPT, still, section=section, rules=one.rules)
    if one.on_record:
        more = [*held(packs, section, editions).rules]
        why = f"it has {', '.join(more)} there: decide whether they are meant" if more else "no rule rests on it there"
        return MigrationStatus(one.id, GROWN if more else KEPT, why)
    rules = {name: rule for name in one.rules if (rule := _find(name, [pack.rules for pack in packs]))}
    left = {name: rule for name, rule in rules.items() if rule.in_force(editions[rule.code])}
    if not left:
        return MigrationStatus(one.id, GONE, f"none of the rules of {section} is in that edition")
    now = _moved(section, list(left.values()), layer.authority.against, editions)
    sure = all(_sure(packs, rule.rests_on, editions[rule.code]) for rule in left.values())
    more = [name for name in held(packs, now, editions).rules if name not in one.rules]
    ended = [name for name in one.rules if name not in left]
    said = [f"{section} is {now} in that edition"] if now != section else []
    said += [f"it also has {', '.join(more)}: decide whether they are meant"] if more else []
    said += [f"{', '.join(ended)} ended"] if ended else []
    outcome = GROWN if more else RENUMBERED if now != section else KEPT
    return MigrationStatus(one.id, outcome, "; ".join(said) or "the section still has the same rules", sure, "", now,
                tuple(left))  # fmt: skip


def _moved(section: str, rules: Sequence[Rule], before: Editions, after: Editions) -> str:
    """The number of a section under other editions, by what its rules rest on there."""
    asked = plain(section)
    found = []
    for rule in rules:
        then, here = (list(clauses(rule.rests_on, editions)) for editions in (before, after))
        at = next((i for i, clause in enumerate(then) if within(clause, asked)), 0)
        still = next((clause for clause in here if within(clause, asked)), "")
        clause = still or here[at if len(here) == len(then) else 0]
        tail = then[at][len(asked) :]
        found.append(asked if still else clause.removesuffix(tail) if tail else clause)
    most = max(found, key=lambda one: (sum(within(other, one) for other in found), -len(one)))
    return section if most == asked else most.upper()


def _code(packs: Sequence[Pack], names: Sequence[str]) -> str:
    rule = next((rule for name in names if (rule := _find(name, [pack.rules for pack in packs]))), None)
    return rule.code if rule else ""


def _figure(layer: Pack, packs: Sequence[Pack], one: Amendment, editions: Editions) -> MigrationStatus:
    parameter = _find(one.said["parameter"], [pack.parameters for pack in packs])
    edition = editions[parameter.citation.work.code] if parameter else 0
    now = parameter.value.at(edition) if parameter else None
    if parameter is None or now is None:
        return MigrationStatus(one.id, GONE, f'the figure "{one.said["parameter"]}" is not in that edition')
    unit, sure = unit_words(parameter.unit), _sure(packs, parameter.citation, edition)
    if Decimal(now) == Decimal(one.said["expects"]):
        return _same(layer, one, parameter.citation, editions, f"{parameter.meaning} is still {now}{unit}", sure)
    if "to" not in one.said:
        said = f"{parameter.meaning} was {one.said['expects']}{unit} and is {now}{unit} now"
        return MigrationStatus(one.id, MOVED, f"{said}; decide whether the formula is still wanted", sure, now)
    to = Decimal(one.said["to"])
    as_strict = {"higher": Decimal(now) >= to, "lower": Decimal(now) <= to}.get(parameter.stricter, Decimal(now) == to)
    if one.do != "relax" and as_strict:
        said = f"the model code now has {now}{unit} itself, which is the same or stricter"
        return MigrationStatus(one.id, SUPERSEDED, said, sure)
    if one.do == "relax" and Decimal(now) == to:
        return MigrationStatus(one.id, SUPERSEDED, f"the model code now has {now}{unit} itself", sure)
    said = f"{parameter.meaning} was {one.said['expects']}{unit} and is {now}{unit} now"
    return MigrationStatus(one.id, MOVED, f"{said}; decide whether {to}{unit} is still wanted", sure, now)


def _cell(layer: Pack, packs: Sequence[Pack], one: Amendment, editions: Editions) -> MigrationStatus:
    table = _find(one.said["table"], [pack.tables for pack in packs])
    edition = editions[table.citation.work.code] if table else 0
    file = table.files.at(edition) if table else None
    if table is None or file is None:
        return MigrationStatus(one.id, GONE, f'the table "{one.said["table"]}" is not in that edition')
    header, *rows = table.rows[file]
    keys = {row[header.index(table.row_header)]: row for row in rows}
    if one.said["row"] not in keys or one.said["column"] not in header:
        return MigrationStatus(one.id, GONE, f"{table.meaning} has no such row or column in that edition")
    now, sure = keys[one.said["row"]][header.index(one.said["column"])], _sure(packs, table.citation, edition)
    if now == one.said["expects"]:
        return _same(layer, one, table.citation, editions, f'the cell is still "{now}"', sure)
    if now == one.said["to"]:
        return MigrationStatus(one.id, SUPERSEDED, f'the model code now has "{now}" itself', sure)
    return MigrationStatus(one.id, MOVED, f'the cell was "{one.said["expects"]}" and is "{now}" now', sure, now)


def _same(layer: Pack, one: Amendment, citation: Citation, editions: Editions, said: str,
          sure: bool) -> MigrationStatus:  # fmt: skip
    assert layer.authority is not None
    code = citation.work.code
    before, here = citation.clause.at(layer.authority.against.get(code)), citation.clause.at(editions[code])
    if before != here:
        moved = f"{said}; {before} is {here} in that edition"
        return MigrationStatus(one.id, RENUMBERED, moved, sure, one.said["expects"])
    return MigrationStatus(one.id, KEPT, f"{said} ({here})", sure, one.said["expects"])


def _sure(packs: Sequence[Pack], citation: Citation, edition: int) -> bool:
    """Whether what a citation says of an edition was read somewhere."""
    read: ByEdition = citation.read
    key = read.at(edition) or ""
    sources = [pack.sources[key] for pack in packs if key in pack.sources and citation.work in pack.works.values()]
    return not any("memory" in source.title for source in sources)


def _find(name: str, where: Sequence[Mapping[str, T]]) -> T | None:
    return next((of[name] for of in where if name in of), None)
