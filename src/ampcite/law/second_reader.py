"""Marks of a second reader: that someone who did not write a rule has read it against the text of an edition.

They stand in ``second-reader.csv`` in the folder of a pack, a line for a rule at an edition. A mark names what the rule
said then by a digest; a rule that has changed since, or of which a figure, a table or a quantity it rests on has, has
lost its mark. They are no law: a pack is the same pack with and without them.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

from ampcite.base.editions import ByEdition
from ampcite.law.records import Citation, Derived, Mark, Pack, Parameter, Rule, TableSpec
from ampcite.law.sheets import Rows

HEADER = ("rule", "edition", "verdict", "source", "place", "content")
RIGHT, NO_TEXT = "right", "no text"
"""Right in scope, formula, exceptions, figures, force and words; or no text of the edition is to be had."""

_NAME = re.compile(r"[a-z][a-z0-9_]*")


def marks_of(rows: Rows) -> dict[tuple[str, int], Mark]:
    """The marks in the cells of a file, header first, by rule and edition.

    Raises:
        ValueError: with a sentence, where the cells are no marks.
    """
    if rows[0] != HEADER:
        raise ValueError(f"has other columns than {', '.join(HEADER)}")
    out: dict[tuple[str, int], Mark] = {}
    for rule, edition, verdict, source, place, said in rows[1:]:
        if not re.fullmatch("[0-9]{4}", edition):
            raise ValueError(f'marks {rule} at "{edition[:20]}", which is no edition')
        if verdict not in (RIGHT, NO_TEXT) or (verdict == RIGHT) != bool(source and place):
            raise ValueError(f'marks {rule} at {edition} neither "{RIGHT}" with source and place, nor "{NO_TEXT}"')
        if (rule, int(edition)) in out:
            raise ValueError(f"marks {rule} at {edition} twice")
        out[rule, int(edition)] = Mark(verdict, source, place, said)
    return out


def faults(pack: Pack, packs: Mapping[str, Pack]) -> Iterator[tuple[tuple[str, int], str]]:
    """Every mark of a pack that does not hold: its rule and edition, and why, as the end of a sentence.

    Args:
        pack: the pack.
        packs: that pack and those it needs, by name.
    """
    for (name, edition), mark in pack.marks.items():
        rule = pack.rules.get(name)
        if rule is None:
            yield (name, edition), "is marked as read, and is no rule of this pack; take the line out"
        elif edition not in pack.editions[rule.code] or not rule.in_force(edition):
            yield (name, edition), f"is marked as read at {edition}, where it is not in force; take the line out"
        elif mark.verdict == RIGHT and mark.source not in pack.sources:
            yield (name, edition), f'is marked as read in "{mark.source}", which is no source of this pack'
        elif mark.content != content_of(packs, pack, rule, edition):
            yield (name, edition), f"has changed since a second reader marked it at {edition}; it has to be read again"


def content_of(packs: Mapping[str, Pack], pack: Pack, rule: Rule, edition: int) -> str:
    """A digest of everything that a rule says and rests on at an edition of its code, where it was read left out."""
    lending = _lending(packs, pack)
    seen: dict[str, Any] = {"": _of_rule(rule, edition)}
    todo = sorted(_names(seen[""]))
    while todo:
        name = todo.pop()
        found = next((one for lender in lending for one in _things(lender, name)), None)
        if name not in seen and found is not None:
            seen[name] = _of_thing(found, rule.code, edition)
            todo += sorted(_names(seen[name]) - seen.keys())
    whole = json.dumps(seen, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(whole.encode()).hexdigest()[:16]


def _lending(packs: Mapping[str, Pack], pack: Pack) -> list[Pack]:
    out, todo = {pack.name: pack}, list(pack.needs)
    while todo:
        name = todo.pop()
        if name in packs and name not in out:
            out[name] = packs[name]
            todo += packs[name].needs
    return list(out.values())


def _things(pack: Pack, name: str) -> Iterator[Parameter | TableSpec | Derived]:
    for of in (pack.parameters, pack.tables, pack.derived):
        if name in of:
            yield of[name]


def _names(said: Any) -> set[str]:
    return set(_NAME.findall(json.dumps(said, ensure_ascii=False)))


def _at(by: ByEdition, edition: int | None) -> Any:
    """A text at an edition; at all of them, where it goes by another code than the rule."""
    return dict(sorted(by.texts.items())) if edition is None else by.at(edition)


def _cited(citation: Citation, code: str, edition: int) -> Any:
    work = citation.work
    said = [work.title, work.force, _at(citation.clause, edition if work.code == code else None), citation.stated]
    return [*said, citation.when] if citation.when else said


def _of_rule(rule: Rule, edition: int) -> Any:
    ways = [[way.name, way.holds, way.says] for way in rule.alternatives
            if (way.begins or 0) <= edition < (way.withdrawn or 9999)]  # fmt: skip
    return [rule.id, rule.title, rule.force, rule.each, rule.scope, dict(rule.inputs), list(rule.let.items()),
            rule.applies, rule.holds, ways, rule.passes.at(edition) or rule.passes.at(9999),
            rule.fails.at(edition) or rule.fails.at(9999), rule.remedy.at(edition) or rule.remedy.at(9999), rule.asks,
            rule.stage, dict(rule.cure), [_cited(one, rule.code, edition) for one in rule.citations]]  # fmt: skip


def _of_thing(one: Parameter | TableSpec | Derived, code: str, edition: int) -> Any:
    if isinstance(one, Derived):
        cases = [[case.when, case.value, list(case.let.items()), case.says] for case in one.cases]
        return [one.each, one.unit, dict(one.inputs), cases]
    at = edition if one.citation.work.code == code else None
    if isinstance(one, Parameter):
        return [one.unit, _at(one.value, at), _cited(one.citation, code, edition)]
    files = [one.files.at(at)] if at else list(one.files.texts.values())
    rows = [one.rows.get(file, ()) for file in files if file]
    return [one.match, one.row_header, one.row_unit, one.conditions, one.gives_unit, one.beyond, rows,
            _cited(one.citation, code, edition)]  # fmt: skip
