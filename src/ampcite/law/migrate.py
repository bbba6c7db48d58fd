"""A layer of local law written against one edition, seen from the next: what becomes of each change, and a draft."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import TypeVar

import attrs

from ampcite.base.editions import BUILDING, ELECTRICAL, Editions, codes_in_words
from ampcite.language.units import unit_words
from ampcite.law.changes import Amendment
from ampcite.law.files import EXAMPLES, content
from ampcite.law.records import Citation, Pack, Rule

T = TypeVar("T")

KEPT, RENUMBERED, SUPERSEDED, MOVED, GONE = "still applies", "renumbered", "superseded", "base moved", "target gone"


@attrs.frozen
class MigrationStatus:
    """What becomes of one change under other editions.

    Attributes:
        id: the change.
        outcome: "still applies", "renumbered", "superseded", "base moved" or "target gone".
        message: why, in a sentence.
        expects: what the change has to expect under the new editions, or "" where there is nothing to expect.
    """

    id: str
    outcome: str
    message: str
    expects: str = ""


def migration_statuses(layer: Pack, packs: Sequence[Pack], editions: Editions) -> list[MigrationStatus]:
    """What becomes of each change of a layer when other editions are in force.

    Args:
        layer: the layer; its authority says which editions it is written against.
        packs: the packs it changes.
        editions: the editions to carry it over to.
    """
    return [_status(layer, packs, one, editions) for one in layer.amendments]


def _status(layer: Pack, packs: Sequence[Pack], one: Amendment, editions: Editions) -> MigrationStatus:
    if one.do in ("label", "document"):
        return MigrationStatus(one.id, KEPT, "adds a rule of its own, which no edition takes away")
    if "parameter" in one.said:
        return _figure(layer, packs, one, editions)
    if "table" in one.said:
        return _cell(layer, packs, one, editions)
    assert layer.authority is not None
    rule = _find(one.said["rule"], [pack.rules for pack in packs])
    if rule is None or not rule.in_force(editions[rule.code]):
        ended = f" (it ended with the {rule.withdrawn} edition)" if rule and rule.withdrawn else ""
        return MigrationStatus(one.id, GONE, f'the rule "{one.said["rule"]}" is not in that edition{ended}')
    return _rule(rule, one, editions[rule.code])


def _rule(rule: Rule, one: Amendment, edition: int) -> MigrationStatus:
    clause = rule.citations[0].clause.at(edition) or ""
    if one.do == "strike" and "way" in one.said:
        in_force = [w.name for w in rule.alternatives if (w.begins or 0) <= edition < (w.withdrawn or 9999)]
        if one.said["way"] not in in_force:
            gone = f'the exception "{one.said["way"]}" is not in that edition any more'
            return MigrationStatus(one.id, SUPERSEDED, gone)
    if clause == one.said["expects"]:
        return MigrationStatus(one.id, KEPT, f"the rule still rests on {clause}", clause)
    return MigrationStatus(one.id, RENUMBERED, f"{one.said['expects']} is {clause} in that edition", clause)


def _figure(layer: Pack, packs: Sequence[Pack], one: Amendment, editions: Editions) -> MigrationStatus:
    parameter = _find(one.said["parameter"], [pack.parameters for pack in packs])
    edition = editions[parameter.citation.work.code] if parameter else 0
    now = parameter.value.at(edition) if parameter else None
    if parameter is None or now is None:
        return MigrationStatus(one.id, GONE, f'the figure "{one.said["parameter"]}" is not in that edition')
    unit = unit_words(parameter.unit)
    if Decimal(now) == Decimal(one.said["expects"]):
        return _same(layer, one, parameter.citation, editions, f"{parameter.meaning} is still {now}{unit}")
    to = Decimal(one.said["to"])
    as_strict = {"higher": Decimal(now) >= to, "lower": Decimal(now) <= to}.get(parameter.stricter, Decimal(now) == to)
    if one.do != "relax" and as_strict:
        same = f"the model code now has {now}{unit} itself, which is the same or stricter"
        return MigrationStatus(one.id, SUPERSEDED, same)
    if one.do == "relax" and Decimal(now) == to:
        return MigrationStatus(one.id, SUPERSEDED, f"the model code now has {now}{unit} itself")
    moved = (f"{parameter.meaning} was {one.said['expects']}{unit} and is {now}{unit} now; "
             f"decide whether {one.said['to']}{unit} is still wanted")  # fmt: skip
    return MigrationStatus(one.id, MOVED, moved, now)


def _cell(layer: Pack, packs: Sequence[Pack], one: Amendment, editions: Editions) -> MigrationStatus:
    table = _find(one.said["table"], [pack.tables for pack in packs])
    file = table.files.at(editions[table.citation.work.code]) if table else None
    if table is None or file is None:
        return MigrationStatus(one.id, GONE, f'the table "{one.said["table"]}" is not in that edition')
    header, *rows = table.rows[file]
    keys = {row[header.index(table.row_header)]: row for row in rows}
    if one.said["row"] not in keys or one.said["column"] not in header:
        return MigrationStatus(one.id, GONE, f"{table.meaning} has no such row or column in that edition")
    now = keys[one.said["row"]][header.index(one.said["column"])]
    if now == one.said["expects"]:
        return _same(layer, one, table.citation, editions, f'the cell is still "{now}"')
    if now == one.said["to"]:
        return MigrationStatus(one.id, SUPERSEDED, f'the model code now has "{now}" itself')
    return MigrationStatus(one.id, MOVED, f'the cell was "{one.said["expects"]}" and is "{now}" now', now)


def _same(layer: Pack, one: Amendment, citation: Citation, editions: Editions, said: str) -> MigrationStatus:
    assert layer.authority is not None
    code = citation.work.code
    before, here = citation.clause.at(layer.authority.against.get(code)), citation.clause.at(editions[code])
    if before != here:
        return MigrationStatus(one.id, RENUMBERED, f"{said}; {before} is {here} in that edition", one.said["expects"])
    return MigrationStatus(one.id, KEPT, f"{said} ({here})", one.said["expects"])


def _find(name: str, where: Sequence[Mapping[str, T]]) -> T | None:
    return next((of[name] for of in where if name in of), None)


def draft(layer: Pack, found: Sequence[MigrationStatus], editions: Editions) -> dict[str, str]:
    """The layer's TOML files carried over: what it expects put right, what is superseded or gone left out.

    Comments and order stay; each change left out leaves a comment that says why.
    """
    import tomlkit

    assert layer.authority is not None
    to = codes_in_words({code: editions[code] for code in layer.authority.against})
    by_id = {status.id: status for status in found}
    out_of_it = {status.id for status in found if status.outcome in (SUPERSEDED, GONE)}
    out = {}
    for name, data in content(Path(layer.folder)).items():
        text = data.decode("utf-8")
        if not name.endswith(".toml"):
            out[name] = text
            continue
        whole = tomlkit.parse(text)
        if name.endswith(EXAMPLES):
            for key in out_of_it & whole.keys():
                whole.remove(key)
        if "authority" in whole:
            for code in whole["authority"]["against"]:
                whole["authority"]["against"][code] = editions[code]
            for key, code in (("editions", ELECTRICAL), ("building_editions", BUILDING)):
                listed = whole["pack"].get(key)
                if listed is not None and code in editions and editions[code] not in listed:
                    listed.append(editions[code])
        if "amend" in whole:
            kept, left = tomlkit.aot(), [f"# carried over to {to}\n"]
            for one in whole["amend"]:
                status = by_id[one["id"]]
                if status.id in out_of_it:
                    left.append(f"# left out: {status.id}: {status.outcome}: {status.message}\n")
                    continue
                if status.outcome == MOVED:
                    left.append(f"# to decide: {status.id}: {status.message}\n")
                if status.expects and "expects" in one:
                    one["expects"] = status.expects
                kept.append(one)
            whole["amend"] = kept
            out[name] = "".join(left) + tomlkit.dumps(whole)
        else:
            out[name] = tomlkit.dumps(whole)
    return out
