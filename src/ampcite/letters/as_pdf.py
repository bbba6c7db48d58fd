"""A letter as a tagged PDF/A, drawn by typst: no system library, only fonts it carries, the same bytes twice."""

from __future__ import annotations

import json
from pathlib import Path

import attrs

from ampcite.letters.outline import ITEM, outline
from ampcite.letters.records import Letter

UNDATED = "1970-01-01"
"""The day in the data of a PDF whose letter has none; the standard asks for one, and there is no clock here."""

LONG = 12
"""An item with more lines may break across pages; a shorter one is kept together."""


def to_pdf(letter: Letter) -> bytes:
    """The PDF; the same letter gives the same bytes.

    Raises:
        ModuleNotFoundError: where typst is not installed (``pip install 'ampcite[desk]'``).
    """
    head = letter.head
    facts = [(letter.phrases["to"], head.addressee)] if head.addressee else []
    data = {
        "title": head.title, "author": " ".join(head.authority[:1]) or "Ampcite", "authority": head.authority,
        "date": list(map(int, (letter.date or UNDATED).split("-"))),
        "facts": [*facts, *head.facts], "footer": head.footer,
        "blocks": [attrs.asdict(block) | {"long": _lines(block.rows) > LONG if block.kind == ITEM else False}
                   for block in outline(letter)],
    }  # fmt: skip
    return compiled("letter.typ", "letter", data)


def compiled(template: str, name: str, data: object, folder: Path | None = None) -> bytes:
    """A PDF/A, tagged for reading aloud, of a template that draws data; no text of the data can be read as markup.

    Args:
        template: the file, in the folder of this module by default.
        name: what the template calls the data.
        data: JSON values.
        folder: another one.
    """
    import typst

    where = (folder or Path(__file__).parent) / template
    out: bytes = typst.compile(
        where.read_bytes(), sys_inputs={name: json.dumps(data, ensure_ascii=True)}, pdf_standards=["a-2a"],
        ignore_system_fonts=True,
    )  # fmt: skip
    return out


def _lines(rows: object) -> int:
    assert isinstance(rows, tuple)
    return sum(len(row.lines) for row in rows)
