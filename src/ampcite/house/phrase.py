"""Facts that the trade writes as one text: "2 x 4/0 AWG aluminum XHHW-2", "3/4 in EMT".

The schema's keyword ``written`` gives the pieces of the text in their order, each with the field it holds; each piece
may be left out, and what it would say is then not known, or the field's default.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from ampcite.base.errors import nearest
from ampcite.house.schema import Schema, forms, resolved

_NUMBER = r"[-+]?[0-9][0-9./-]*(?: [A-Za-z%][A-Za-z0-9/%]*)?"


class Piece(NamedTuple):
    """One piece of such a text.

    Attributes:
        name: the field it holds.
        title: what that is called.
        words: what it may say, where only certain words will do.
        many: whether it holds several words, with commas between them, or "none".
        default: what holds where the piece is left out; None where that is not known.
        before, after: the letters around it.
        pattern: matches the piece; compiled when a text is first read.
    """

    name: str
    title: str
    words: tuple[str, ...]
    many: bool
    default: Any
    before: str
    after: str
    pattern: str


class Phrase(NamedTuple):
    """How facts are written as one text.

    Attributes:
        pieces: in their order.
        example: such a text.
    """

    pieces: tuple[Piece, ...]
    example: str


def phrase(written: Schema) -> Phrase:
    """The phrase that the keyword ``written`` of the schema describes."""
    pieces = []
    for text in written["pieces"]:
        before, name, after = re.fullmatch(r"([^{]*)\{(\w+)\}(.*)", text).groups()  # type: ignore[union-attr]
        schema = resolved(written["properties"][name])
        shapes = forms(schema)
        many = "array" in shapes
        leaves = forms(shapes["array"]["items"]) if many else shapes
        words = tuple(str(word) for word in leaves.get("enum", {}).get("enum", ()) if word is not None)
        one = "|".join(re.escape(word) for word in sorted(words, key=len, reverse=True)) or _NUMBER
        value = f"none|(?:{one})(?:, (?:{one}))*" if many else one
        pattern = f"{re.escape(before)}({value}){re.escape(after)}(?= |$)"
        pieces.append(Piece(name, schema["title"], words, many, schema.get("default"), before, after, pattern))
    return Phrase(tuple(pieces), written["examples"][0])


def parse(how: Phrase, text: str, defaults: bool = True) -> dict[str, Any]:
    """The facts a text says: field to word, list of words, or text of a number.

    Args:
        how: the phrase.
        text: the text.
        defaults: whether to give the default of what is left out.

    Raises:
        ValueError: where it says something else; with what was understood and what was not, in one sentence.
    """
    said: dict[str, Any] = {}
    rest = _as_listed_here(text.strip(), frozenset(word for piece in how.pieces for word in piece.words))
    waiting = how.pieces
    for i, piece in enumerate(how.pieces):
        found = re.compile(piece.pattern).match(rest)
        if found:
            several = [] if found[1] == "none" else found[1].split(", ")
            said[piece.name] = several if piece.many else found[1]
            rest = rest[found.end() :].strip()
            waiting = how.pieces[i + 1 :]
    if rest or not said:
        understood = ", ".join(f"{p.title} {_shown(said[p.name])}" for p in how.pieces if p.name in said)
        lacking = "; ".join(f"{p.title}: {', '.join(p.words[:8]) or 'a number'}{', ...' if len(p.words) > 8 else ''}"
                            for p in waiting)  # fmt: skip
        so_far = f"says {understood}, and then " if understood else "says "
        hint = _meant(rest, waiting) or f'write it like "{how.example}"'
        raise ValueError(f'{so_far}"{rest[:60]}", which is none of these: {lacking or "nothing more"}; {hint}')
    return {**{p.name: p.default for p in how.pieces if p.default is not None and defaults}, **said}


def _meant(rest: str, waiting: Iterable[Piece]) -> str:
    """``did you mean "copper"?``, where one or two words of a text are near to some that would do; else ""."""
    words = [word for piece in waiting for word in piece.words]
    first = rest.split(" ")
    for said in (first[0], " ".join(first[:2])):
        listed = as_listed(said, words)
        hint = nearest(listed, words)
        if listed != said or hint.startswith("did"):
            return hint
    return ""


_ON_DRAWINGS = re.compile(
    r"(?<!\S)(?:(?:#|no\.?)\s?(?P<number>[0-9]+(?:/0)?)(?:\s?awg)?|(?P<aught>[0-9]+/0)(?:\s?awg)?"
    r"|(?P<gauge>[0-9]+)\s?(?:awg|ga|gauge)|(?P<area>[0-9]+)\s?(?:kcmil|mcm)|(?P<metal>cu|al))(?!\S)",
    re.IGNORECASE,
)
_METALS = {"cu": "copper", "al": "aluminum"}


def _as_listed_here(text: str, words: frozenset[str]) -> str:
    """A text with sizes and metals as they are listed here, where it has them as drawings do: "#12", "1/0", "Cu"."""

    def listed(found: re.Match[str]) -> str:
        if metal := found["metal"]:
            said = _METALS[metal.lower()]
        elif area := found["area"]:
            said = f"{area} kcmil"
        else:
            said = f"{found['number'] or found['aught'] or found['gauge']} AWG"
        return said if said in words else found[0]

    return _ON_DRAWINGS.sub(listed, text)


_SIZE = re.compile(r"(?:no\.?|#)?\s*([0-9]+(?:/0)?)\s*(?:awg|ga|gauge|kcmil|mcm)?\.?", re.IGNORECASE)


def as_listed(value: str | int, words: Sequence[str]) -> str:
    """A size of conductor or raceway as it is listed here, from how a drawing has it ("#12", "1/0")."""
    text = str(value)
    size = _SIZE.fullmatch(text.strip())
    named = size.group(1) if size else re.sub(r'\s*("|in\.?|inch)$', "", text.strip()).replace(" ", "-")
    return next((word for word in words if word in (named, f"{named} AWG", f"{named} kcmil")), text)


def write(how: Phrase, facts: Mapping[str, Any]) -> str:
    """The text that says facts, by field name; what is None or the default is left out, if anything else is said."""
    out = _write(how.pieces, facts, True)
    return out or _write(how.pieces, facts, False)


def _write(pieces: Iterable[Piece], facts: Mapping[str, Any], brief: bool) -> str:
    said = []
    for piece in pieces:
        value = facts.get(piece.name)
        if value is None or (brief and value == piece.default):
            continue
        said.append(f"{piece.before}{_shown(value)}{piece.after}")
    return " ".join(said)


def _shown(value: Any) -> str:
    return ", ".join(map(str, value)) or "none" if isinstance(value, list | tuple) else f"{value:g}" if isinstance(
        value, float) else str(value)  # fmt: skip
