"""Pages generated from packs and schemas: one for every rule, and the format of a description.

``python -m ampcite.reference.pages docs`` writes them into a folder. Those of rules, in ``rules``, are built and not
committed; a test holds the others to what packs and schemas give.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from ampcite.base.editions import CODES, ByEdition
from ampcite.house.part_types import Field, Group, part_types
from ampcite.house.roof_quantities import QUANTITIES
from ampcite.language.formula import FUNCTIONS
from ampcite.language.units import known_units, unit_words
from ampcite.language.wording import words
from ampcite.law.load import load_pack
from ampcite.law.records import Example, Mark, Pack, Rule
from ampcite.law.registry import pack_folders
from ampcite.law.second_reader import NO_TEXT
from ampcite.law.standing import names_of, of_citation, of_rule, quantities_of
from ampcite.reference.coverage import HOW_READ, MADE, coverage_page, sources_page, standings_in_letters
from ampcite.reference.law_page import law_page
from ampcite.reference.published import by_rule, published, searched
from ampcite.reference.sections import Subject, cited, editions, shipped

OUTLINES = (
    "These are used in paths like derived quantities of the part. They hold no figure of a code: a rule compares them "
    "with one. Lengths are true distances in the plane of the roof. A strip is straight: square to an eave, or along a "
    "hip, valley or rake."
)


def rule_page(pack: Pack, rule: Rule) -> str:
    """One rule explained, as Markdown that also reads well as plain text."""
    return "\n".join(_rule(pack, rule)) + "\n"


def _rule(pack: Pack, rule: Rule) -> Iterator[str]:
    yield f"# {rule.title}"
    yield ""
    yield f"`{rule.id}`, a {rule.force} of the pack {pack.name}, family {rule.family}."
    span = [f"from the {rule.begins} edition on"] if rule.begins else []
    span += [f"ends with the {rule.withdrawn} edition"] if rule.withdrawn else []
    if span:
        yield f"In force {' and '.join(span)}."
    yield f"Asked of: {_asked(rule.each)}" + (f", and there only of {rule.scope}." if rule.scope else ".")
    if rule.covers:
        yield f"Published checklist items it covers: {', '.join(rule.covers)}."
    yield ""
    yield "## What it says"
    yield ""
    yield from (f"- Kept{when}: {plain_sentence(text)}" for when, text in _worded(rule.passes))
    for way in rule.alternatives:
        span_ = f" (from {way.begins})" if way.begins else f" (until {way.withdrawn})" if way.withdrawn else ""
        yield f"  - {way.name}{span_}: {plain_sentence(way.says)}"
    yield from (f"- Broken{when}: {plain_sentence(text)}" for when, text in _worded(rule.fails))
    yield from (f"- Cure{when}: {plain_sentence(text)}" for when, text in _worded(rule.remedy))
    yield ""
    yield "## How it decides"
    yield ""
    if rule.applies:
        yield f"- applies where: `{rule.applies}`"
    for name, formula in rule.let.items():
        yield f"- {words(name)}: `{formula}`"
    if rule.holds:
        yield f"- is kept where: `{rule.holds}`"
    for way in rule.alternatives:
        yield f'- is kept in the way "{way.name}" where: `{way.holds}`'
    yield "- takes from the description: " + "; ".join(f"{words(n)} (`{p}`)" for n, p in rule.inputs.items())
    yield ""
    yield "## Clauses"
    yield ""
    for citation in rule.citations:
        for edition in sorted({*citation.clause.texts, *citation.read.texts}):
            clause, key = citation.clause.at(edition), citation.read.at(edition) or ""
            if clause is None:
                continue
            how, read = of_citation(pack, citation, edition), pack.sources[key].title if key in pack.sources else ""
            said = f"{how}: {read}" if read and not read.startswith(how) else read or how
            where = f", where `{citation.when}`" if citation.when else ""
            yield f"- {citation.work.at(edition)} {clause} ({said}){where}"
    years = [year for year in pack.editions[rule.code] if rule.in_force(year)]
    yield ""
    yield "## How far it was read"
    yield ""
    yield "By the weakest of its clauses and figures; and whether someone who did not write it read it in the text."
    yield ""
    for year in years:
        yield f"- {year}: {of_rule(pack, rule, {rule.code: year})}; {_mark(pack, pack.marks.get((rule.id, year)))}"
    figures = list(_figures(pack, rule))
    if figures:
        yield ""
        yield "## Figures"
        yield ""
        yield from figures
    yield ""
    yield "## Examples"
    yield ""
    for example in rule.examples:
        yield f"- {_example(example)}"
    yield ""
    yield "## Published examples"
    yield ""
    yield from _published(rule)


def _published(rule: Rule) -> Iterator[str]:
    found = by_rule(published()).get(rule.id, ())
    for one in found:
        judged = "" if one.judged == "right" else f" ({one.judged}{f': {one.note}' if one.note else ''})"
        yield f"- {one.says}{judged} Source: {one.named}."
    if not found:
        yield f"None. {searched(rule)}"


def _mark(pack: Pack, mark: Mark | None) -> str:
    if mark is None:
        return "not read yet by anyone but its writer"
    if mark.verdict == NO_TEXT:
        return "no text of this edition is to be had"
    return f"read and found right: {mark.place} ({pack.sources[mark.source].title})"


def _asked(each: str) -> str:
    kind = part_types()[each.strip("/").replace("/*", "")]
    return "the whole system" if not kind.name else f"every {kind.title}"


def plain_sentence(text: str) -> str:
    """A sentence with what it puts in as words."""
    return re.sub(r"\{([^{}|]*)[^{}]*\}", lambda m: f"<{words(m.group(1))}>", text)


def _worded(by_edition: ByEdition) -> Iterator[tuple[str, str]]:
    for edition, text in _steps(by_edition):
        yield (f" (from {edition})" if edition else ""), text


def _steps(by_edition: ByEdition) -> list[tuple[int, str]]:
    return sorted(by_edition.texts.items())


def _figures(pack: Pack, rule: Rule) -> Iterator[str]:
    names = names_of(rule, (pack,))
    for d in quantities_of(rule, (pack,)):
        yield f"- {words(d.name)}: {d.meaning}, reckoned by " + "; ".join(f"`{c.value}`" for c in d.cases)
    for parameter in pack.parameters.values():
        if parameter.name in names:
            unit = unit_words(parameter.unit)
            values = "; ".join(f"{v}{unit if v != 'withdrawn' else ''} from {e}" for e, v in _steps(parameter.value))
            note = f" {parameter.note}" if parameter.note else ""
            yield f"- {words(parameter.name)} ({parameter.meaning}): {values}.{note}"
    for table in pack.tables.values():
        if table.name in names:
            yield f"- {'; '.join(f'{t} from {e}' for e, t in _steps(table.citation.clause))}: {table.meaning}"


def _example(example: Example) -> str:
    editions = f" ({', '.join(map(str, example.editions))})" if example.editions else ""
    says = f"{example.says}: " if example.says else ""
    if example.vary:
        return f"{says}`{example.vary}` is kept {example.passes} {example.at}{editions}. Source: {example.source}."
    verdict = example.verdict or "does not apply"
    return f"{says}{verdict}{editions}. Source: {example.source}."


# --- the description -----------------------------------------------------------------------------------------


def description_page() -> str:
    """The format of a description, from its schema, as Markdown."""
    return "\n".join(_description()) + "\n"


def _description() -> Iterator[str]:
    yield "# The description format"
    yield ""
    yield MADE
    yield ""
    yield "A description is one JSON object after `schemas/description.schema.json` (JSON Schema 2020-12). Only what is"
    yield "known need be given. Three things are told apart everywhere:"
    yield ""
    yield "- a field that is left out is *not known*: a rule that needs it can't be decided and says so; where the"
    yield "  table says \"Left out\", it is what the table says, unless the maker would say it of a model that is named"
    yield "  and described nowhere;"
    yield "- `null` says *there is none*, where the table below allows it;"
    yield "- an empty list says *none of these*; a list left out is not known, unless `all_listed` says that all"
    yield "  there is is listed and the table says \"none where all is listed\"."
    yield ""
    yield 'A quantity is a plain number in the unit named here, or text with a unit: `"330 ft"`, `"6 ft 7 in"`,'
    yield '`"7/8 in"`, `"-8 degF"`, `"-134 mV/degC"`. Units known:'
    yield ", ".join(f"`{u}`" for u in known_units() if u) + "."
    yield ""
    yield "Parts name each other by `id`; every id is unique in the whole description."
    yield from _group(part_types()[""].body, "")


def _group(group: Group, place: str) -> Iterator[str]:
    yield ""
    yield f"## {place or 'The whole'}"
    yield ""
    yield group.description
    if group.fields:
        yield ""
        yield "| field | value | meaning |"
        yield "|---|---|---|"
        for key, field in group.fields.items():
            yield f"| `{key}` | {_value(field)} | {field.description.replace('|', '/')} |"
    for key, below in group.groups.items():
        yield from _group(below, f"{place}/{key}")
    for key, kind in group.lists.items():
        yield from _group(kind.body, f"{place}/{key}/*")


def _value(field: Field) -> str:
    if field.refers:
        what = "ids of" if field.many else "id of one of"
        out = f"{what} {', '.join(f'`/{k}`' for k in field.refers)}"
    elif field.choices:
        out = ", ".join(f"`{c}`" for c in field.choices)
    else:
        number = f"number, {field.unit}" if field.unit else "number"
        outline = f"points as text, {field.unit}"
        out = {"number": number, "text": "text", "flag": "true, false", "outline": outline}[field.kind]
        out = f"list of {out}" if field.many else out
    return out + (", `null`" if field.nullable else "")


def language_page() -> str:
    """The functions formulas may call, as a Markdown list."""
    return "\n".join(f"- `{name}`: {meaning}" for name, meaning in FUNCTIONS.items()) + "\n"


def outlines_page() -> str:
    """The quantities that are reckoned from outlines, as a Markdown table."""
    head = ["| quantity | of each | unit | what it is |", "|---|---|---|---|"]
    rows = [f"| `{q.name}` | {_asked(q.kind)} | {q.unit} | {q.meaning} |" for q in QUANTITIES.values()]
    return "\n".join(["", "## Reckoned from outlines", "", OUTLINES, "", *head, *rows]) + "\n"


# --- the map of section numbers ----------------------------------------------------------------------------------


def sections_page(packs: Iterable[Pack]) -> str:
    """The map of section numbers between editions, as Markdown tables, and what rules of packs cite by edition."""
    return "\n".join(_sections(cited(packs))) + "\n"


def _sections(more: Iterable[Subject]) -> Iterator[str]:
    yield "# Sections by edition"
    yield ""
    yield MADE.replace("the pack or the schema", "src/ampcite/sections.csv")
    yield ""
    yield "Where a subject stands in each edition of its code. Sections were read in what the last column names, but"
    yield "those marked memory (unconfirmed) or doubtful; what is *not known* was not seen. On the command line,"
    yield "`ampcite sections SECTION` looks a number up."
    for code, title in CODES.items():
        years = editions(shipped(), code)
        yield ""
        yield f"## {title[0].upper()}{title[1:]}"
        yield from _subjects((s for s in shipped() if s.code == code), years)
        yield ""
        yield "What rules cite and moves:"
        yield from _subjects((s for s in more if s.code == code), years)


def _subjects(subjects: Iterable[Subject], years: Sequence[int]) -> Iterator[str]:
    yield from ("", f"| subject | {' | '.join(map(str, years))} | read in |", f"|---|{'---|' * len(years)}---|")
    for subject in subjects:
        cells = [subject.words(year).replace("not known", "*not known*") for year in years]
        note = f"; {subject.note}" if subject.note else ""
        yield f"| {subject.name} | {' | '.join(cells)} | {subject.source}{note} |"


# --- local law ------------------------------------------------------------------------------------------------


def pack_pages(pack: Pack, around: Sequence[Pack]) -> Mapping[str, str]:
    """The pages of one pack: a page a rule, one of its changes where it is a layer, and an index.

    Args:
        pack: the pack.
        around: the packs it changes, where it is a layer, and those they need.
    """
    out = {f"{rule.id}.md": rule_page(pack, rule) for rule in pack.rules.values()}
    index = [f"# {pack.title}", "", MADE, "", *_index(pack, "", (pack, *around))]
    if pack.authority:
        out["changes.md"] = law_page(pack, around)
        index += ["", "[Changes to the model codes](changes.md)"]
    return {**out, "index.md": "\n".join(index) + "\n"}


def _index(pack: Pack, folder: str, packs: Sequence[Pack]) -> Iterator[str]:
    family = ""
    for rule in pack.rules.values():
        if rule.family != family:
            family = rule.family
            yield from ("", f"### {family}", "")
        yield f"- [{rule.title}]({folder}{rule.id}.md): {standings_in_letters(pack, rule, packs)}"


# --- all of them -----------------------------------------------------------------------------------------------


def all_pages() -> Mapping[str, str]:
    """Every generated page, by its path in the docs folder."""
    head = f"# Functions of the rule language\n\n{MADE}\n\n"
    functions = head + language_page() + outlines_page()
    out = {"description.md": description_page(), "functions.md": functions}
    index = ["# Rules", "", MADE, "", HOW_READ]
    packs = sorted(map(load_pack, pack_folders().values()), key=lambda p: (bool(p.authority), p.order, p.name))
    for pack in packs:
        index += ["", f"## {pack.name}", "", pack.title, *_index(pack, "", packs)]
        out |= {f"rules/{rule.id}.md": rule_page(pack, rule) for rule in pack.rules.values()}
        if pack.authority:
            around = [one for one in packs if not one.authority]
            out[f"rules/law-{pack.name}.md"] = law_page(pack, around)
            index += ["", f"[What {pack.authority.name} changes](law-{pack.name}.md)"]
    out["sections.md"] = sections_page(packs)
    out["sources.md"] = sources_page(packs)
    out["coverage.md"] = coverage_page(packs)
    out["rules/index.md"] = "\n".join(index) + "\n"
    return out


def main(folder: str) -> None:
    """Writes every page into a folder and removes rule pages whose rule is gone."""
    pages = all_pages()
    root = Path(folder)
    for old in (root / "rules").glob("*.md"):
        if f"rules/{old.name}" not in pages:
            old.unlink()
    for name, text in pages.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")


if __name__ == "__main__":
    main(sys.argv[1])
