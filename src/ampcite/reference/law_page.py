"""A layer of local law as a page for the public: what holds here beside what the model code has, with its reference."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from ampcite.base.editions import codes_in_words
from ampcite.house.part_types import PartType, part_types
from ampcite.language.units import unit_words
from ampcite.law.changes import Adoption, Amendment, Change
from ampcite.law.overlay import lay
from ampcite.law.records import Pack, Parameter, Rule

CAUTION = (
    "This page is made from the data by which descriptions are checked. It paraphrases; the ordinance and the codes "
    "themselves hold, and the authority decides. Direct current from an array can kill; work on it is for qualified "
    "persons."
)


def law_page(layer: Pack, around: Sequence[Pack]) -> str:
    """A layer explained: what is in force from which date, every change with both sides of it, and its own rules.

    Args:
        layer: the layer.
        around: the packs it changes, and those they need.
    """
    return "\n".join(_page(layer, around)) + "\n"


def _page(layer: Pack, around: Sequence[Pack]) -> Iterator[str]:
    assert layer.authority is not None
    who, against = layer.authority, codes_in_words(layer.authority.against)
    yield from (f"# {layer.title}", "")
    yield f"{who.name} ({who.level}); version {layer.version}; written against {against}."
    yield from ("", f"> {CAUTION}")
    if layer.adoptions:
        yield from ("", "## In force", "")
        yield from (f"- {_adoption(one)}" for one in layer.adoptions)
    sides = _sides(layer, around)
    if layer.amendments:
        yield from ("", "## What is changed", "")
        yield "| reference | what | here | the model code | effect |"
        yield "|---|---|---|---|---|"
        rows = [row for one in layer.amendments
                for row in ([_row(one, change) for change in sides.get(one.id, ())] or _recorded(one))]  # fmt: skip
        yield from ("| " + " | ".join(map(_cell, row)) + " |" for row in dict.fromkeys(rows))
        yield from ("", "### Why", "")
        reasons = (f"- {one.work} {one.clause}: {_sentence(one.why)}{_dates(one)}" for one in layer.amendments)
        yield from dict.fromkeys(reasons)
    if layer.rules:
        yield from ("", "## Rules of its own", "")
        for rule in layer.rules.values():
            yield from _own(layer, rule)
    figures = layer.parameters.values()
    if figures:
        yield from ("", "## Figures of its own", "", "| figure | here | reference |", "|---|---|---|")
        yield from ("| " + " | ".join(map(_cell, _figure(layer, one))) + " |" for one in figures)
    yield from ("", "## Read in", "")
    for source in layer.sources.values():
        yield "- " + ", ".join(part for part in (source.title, source.body, source.year) if part) + \
            (f". {source.note}" if source.note else "")  # fmt: skip


def _sides(layer: Pack, around: Sequence[Pack]) -> dict[str, list[Change]]:
    """Both sides of every change, by its id; each is looked at on a date on which it holds."""
    assert layer.authority is not None
    out: dict[str, list[Change]] = {}
    for one in layer.amendments:
        date = one.some_date or max((other.some_date for other in layer.amendments), default="")
        laid, _ = lay(around, [layer], layer.authority.against, date)
        place = f"{one.work} {one.clause}"
        found = [c for pack in laid for c in _changes(pack) if c.place == place and c.why == one.why.rstrip(".")]
        out[one.id] = list(dict.fromkeys(found))
    return out


def _changes(pack: Pack) -> Iterable[Change]:
    yield from (change for one in pack.parameters.values() for change in one.changes)
    yield from (change for one in pack.tables.values() for change in one.changes)
    yield from (change for one in pack.rules.values() for change in one.changes)


def _row(one: Amendment, change: Change) -> tuple[str, ...]:
    effect = {"tighter": "stricter", "looser": "a relaxation"}.get(change.effect, "other")
    here = change.local + _dates(one).rstrip(".").replace(" For", ", for")
    return f"{one.work} {one.clause}", change.what, here, change.model, effect


def _recorded(one: Amendment) -> list[tuple[str, ...]]:
    """A change of a section that nothing here rests on."""
    if not one.on_record:
        return []
    done = {"strike": "struck", "waive": "waived", "refer": "for another to decide"}.get(one.do, "for other cases")
    here = done + _dates(one).rstrip(".").replace(" For", ", for")
    return [(f"{one.work} {one.clause}", f"section {one.said['section']}", here, "not judged by these packs", "other")]


def _cell(text: str) -> str:
    return text.replace("|", "/").replace("\n", " ")


def _sentence(text: str) -> str:
    return text.rstrip(".") + "."


def _dates(one: Amendment) -> str:
    last = one.ends or one.said.get("until", "")
    parts = [f"from {one.begins}" if one.begins else "", f"until {last}" if last else ""]
    said = " ".join(part for part in parts if part)
    return f" For applications {said}." if said else ""


def _adoption(one: Adoption) -> str:
    fields = part_types()[""].fields
    of = "; ".join(f"{fields[path].title}: {' or '.join(map(str, values))}" for path, values in one.of.items())
    by = "applications" if one.by == "application" else f"houses by the date of the {one.by}"
    codes = codes_in_words(one.editions) or (f"what {one.follows} has in force" if one.follows else "no edition")
    as_of = f" as of {one.as_of}" if one.as_of else ""
    layers = f"; with {', '.join(one.layers)}" if one.layers else ""
    choice = f" Until {one.choice_until} the applicant may choose what was in force before." if one.choice_until else ""
    return f"for {by} from {one.begins}{f' ({of})' if of else ''}: {codes}{as_of}{layers} ({one.ordinance}).{choice}"


def _own(layer: Pack, rule: Rule) -> Iterator[str]:
    assert layer.authority is not None
    cited = rule.rests_on
    edition = layer.authority.against.get(rule.code, 0)
    yield f"- {_sentence(rule.title)} {cited.work.at(edition)} {cited.clause.at(edition) or ''}".rstrip()
    of = rule.scope or ("the whole system" if rule.each == "/" else f"every {_kind(rule).title}")
    yield f"  - asked of {of}; a {rule.force}"
    broken = _SLOT.sub(lambda found: _said(layer, rule, found[1]), rule.fails.at(edition) or "")
    yield f"  - where it is broken: {broken[:1].upper()}{broken[1:]}"


_SLOT = re.compile(r"\{([^{}|]*)[^{}]*\}")


def _kind(rule: Rule) -> PartType:
    return part_types()[rule.each.strip("/").replace("/*", "")]


def _said(layer: Pack, rule: Rule, name: str) -> str:
    """What a sentence puts in, for a reader who has no house before him: a figure, or what fact it would be."""
    assert layer.authority is not None
    if name == "each":
        return f"the {_kind(rule).title}"
    if name in layer.parameters:
        return _value(layer, layer.parameters[name])
    path = rule.inputs.get(name, "")
    fields = part_types()[""].fields if path.startswith("/") else _kind(rule).fields
    known = fields.get(path.removeprefix("/"))
    return f"[{known.title if known else name.replace('_', ' ')}]"


def _value(layer: Pack, one: Parameter) -> str:
    assert layer.authority is not None
    edition = layer.authority.against.get(one.citation.work.code, 0)
    return f"{one.value.at(edition) or 'none'}{unit_words(one.unit)}"


def _figure(layer: Pack, one: Parameter) -> tuple[str, ...]:
    assert layer.authority is not None
    edition = layer.authority.against.get(one.citation.work.code, 0)
    clause = f"{one.citation.work.at(edition)} {one.citation.clause.at(edition) or ''}".rstrip()
    return one.meaning, _value(layer, one), clause
