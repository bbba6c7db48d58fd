"""A letter as blocks in their order, so that every form of it says the same: HTML, PDF and DOCX only draw them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import attrs

from ampcite.language.printing import sentence
from ampcite.letters.records import HIDDEN, NEW, UNCHANGED, Item, Letter, Look, Settled

HEADING, SUBHEADING, TEXT, LIST, ITEM, SIGNATURE, NOTES = (
    "heading", "subheading", "text", "list", "item", "signature", "notes")  # fmt: skip
"""What a block is."""


@attrs.frozen
class Row:
    """A line of an item: a word such as "Shown", and what is said under it; ``figures`` are set apart from prose."""

    term: str
    lines: tuple[str, ...]
    figures: bool = False


@attrs.frozen
class Block:
    """A piece of a letter.

    Attributes:
        kind: one of the words above.
        text: a heading, a paragraph, or the heading of an item.
        lines: the points of a list.
        rows: the lines of an item.
        number: of an item, as it is printed.
        mark: how an item stands, where that is not plain.
        keep: whether it stays on one page with the next.
    """

    kind: str
    text: str = ""
    lines: tuple[str, ...] = ()
    rows: tuple[Row, ...] = ()
    number: str = ""
    mark: str = ""
    keep: bool = False


def outline(letter: Letter) -> tuple[Block, ...]:
    """The blocks of a letter, the head aside."""
    return tuple(_blocks(letter))


def _blocks(letter: Letter) -> Iterator[Block]:
    words = letter.phrases
    if letter.notes:
        yield Block(NOTES, words["before_sending"], letter.notes)
    yield Block(TEXT, letter.opening)
    if letter.instructions:
        yield Block(LIST, lines=letter.instructions)
    yield from (Block(TEXT, text) for text in letter.basis)
    yield from _items(letter, letter.must)
    if letter.asked:
        yield Block(HEADING, words["information"])
        yield Block(TEXT, words["information_intro"])
        yield from _asked(letter)
    if letter.advice:
        yield Block(HEADING, words["advice"])
        yield Block(TEXT, words["advice_intro"])
        yield from _items(letter, letter.advice, SUBHEADING)
    if letter.settled:
        yield Block(HEADING, words["settled"])
        yield Block(TEXT, words["cured_intro"])
        yield Block(LIST, lines=tuple(_settled(one) for one in letter.settled))
    if letter.waived:
        yield Block(HEADING, words["waived"])
        yield Block(TEXT, words["waived_intro"])
        yield Block(LIST, lines=tuple(_settled(one) for one in letter.waived))
    if letter.looks:
        yield Block(HEADING, words["inspections"])
        yield Block(TEXT, words["inspections_intro"])
        yield from _looks(letter, letter.looks)
    if letter.changes:
        yield Block(HEADING, words["changed"])
        yield Block(LIST, lines=letter.changes)
    yield Block(HEADING, words["cautions"])
    yield Block(LIST, lines=letter.cautions)
    yield from (Block(TEXT, text, keep=True) for text in letter.closing)
    if words["signature"]:
        yield Block(SIGNATURE, words["signature"])


def _items(letter: Letter, items: Sequence[Item], level: str = HEADING) -> Iterator[Block]:
    """Items under the headings of their discipline and sheet; a heading stands where it changes."""
    before: tuple[str, str] | None = None
    for item in items:
        here = item.discipline, item.sheet
        if here != before:
            yield Block(level, f"{item.discipline} · {item.sheet or letter.phrases['no_sheet']}")
        before = here
        yield _item(letter, item)


def _item(letter: Letter, item: Item) -> Block:
    words = letter.phrases
    rows = [Row(words["shown"], item.shown)]
    for one in item.required:
        where = f" ({'; '.join(one.clauses)})" if one.clauses else ""
        lines = [one.says.rstrip(".") + where + "."]
        lines += [f"{words['local']}: {said}." for said in one.local]
        lines += [f"[{words['verify']}]"] if one.verify else []
        rows.append(Row(words["required"], tuple(lines)))
    rows += [Row(words["arithmetic"], item.worked, figures=True)]
    rows += [Row(words["settle"], (item.cure,))]
    rows += [Row(words["cured"], item.cured)]
    rows += [Row(words["joined"], tuple(map(sentence, item.joined)))]
    rows += [Row(words["answered"], (item.answer,) if item.answer else ())]
    shown = _once(row for row in rows if row.lines)
    return Block(ITEM, item.heading, rows=tuple(shown), number=str(item.number), mark=_mark(letter, item.state))


def _once(rows: Iterator[Row]) -> Iterator[Row]:
    """Rows that follow under one word, as one."""
    last: Row | None = None
    for row in rows:
        if last is not None and last.term == row.term:
            last = attrs.evolve(last, lines=(*last.lines, *row.lines))
            continue
        if last is not None:
            yield last
        last = row
    if last is not None:
        yield last


def _mark(letter: Letter, state: str) -> str:
    """How an item stands; nothing in the first round, where every item is new."""
    return "" if letter.round == 1 and state == NEW else state


def _asked(letter: Letter) -> Iterator[Block]:
    """What is asked, one point a fact, those of one part together under its name."""
    by_part: dict[str, list[str]] = {}
    for one in letter.asked:
        mark = _mark(letter, one.state)
        said = f"{one.number}. {sentence(one.says)}{f' ({mark})' if mark else ''}"
        answer = f" {letter.phrases['answered']}: {one.answer}" if one.answer and mark in (UNCHANGED, HIDDEN) else ""
        by_part.setdefault(one.of, []).append(said + answer)
    for of, lines in by_part.items():
        yield Block(SUBHEADING, sentence(of) if of else letter.phrases["whole"])
        yield Block(LIST, lines=tuple(lines))


def _looks(letter: Letter, looks: Sequence[Look]) -> Iterator[Block]:
    before: tuple[str, str] | None = None
    lines: list[str] = []
    for look in looks:
        here = look.stage or letter.phrases["now"], look.place
        if here != before and before is not None:
            yield from _place(before, lines)
            lines = []
        before = here
        where = f" ({'; '.join(look.clauses)})" if look.clauses else ""
        lines.append(look.says.rstrip(".") + where + ".")
    if before is not None:
        yield from _place(before, lines)


def _place(here: tuple[str, str], lines: Sequence[str]) -> Iterator[Block]:
    yield Block(SUBHEADING, f"{sentence(here[0])} · {here[1]}")
    yield Block(LIST, lines=tuple(lines))


def _settled(one: Settled) -> str:
    return f"{f'{one.number}. ' if one.number else ''}{one.heading}: {one.why}"
