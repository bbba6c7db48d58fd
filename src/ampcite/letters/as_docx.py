"""A letter as a DOCX file that its reviewer edits further: real headings, lists and a table for each item's lines."""

from __future__ import annotations

import io
import zipfile
from typing import Any

from ampcite.letters.outline import HEADING, ITEM, LIST, NOTES, SIGNATURE, SUBHEADING, Block, outline
from ampcite.letters.records import Letter

STAMP = (1980, 1, 1, 0, 0, 0)
"""The time of every file inside, so that the same letter gives the same bytes."""


def to_docx(letter: Letter) -> bytes:
    """The file; the same letter gives the same bytes.

    Raises:
        ModuleNotFoundError: where python-docx is not installed (``pip install 'ampcite[desk]'``).
    """
    import docx
    from docx.oxml.ns import qn
    from docx.shared import Cm, Pt

    document = docx.Document()
    for name, size in (("Normal", 10.5), ("Heading 1", 12.5), ("Heading 2", 10.5), ("Title", 17)):
        style = document.styles[name]
        _font(style, "Liberation Sans" if name != "Normal" else "Liberation Serif", Pt(size))
    for border in document.styles["Title"].element.pPr.findall(qn("w:pBdr")):
        document.styles["Title"].element.pPr.remove(border)
    document.styles["Normal"].paragraph_format.space_after = Pt(4)
    section = document.sections[0]
    section.page_width, section.page_height = Cm(21.59), Cm(27.94)
    section.left_margin = section.right_margin = Cm(2.2)
    section.top_margin = section.bottom_margin = Cm(2)
    _footer(section.footer.paragraphs[0], letter.head.footer)
    head = letter.head
    for line in head.authority:
        document.add_paragraph().add_run(line).bold = True
    document.add_paragraph(head.title, style="Title")
    facts = [(letter.phrases["to"], head.addressee)] if head.addressee else []
    _table(document, [(term, [value]) for term, value in [*facts, *head.facts]], Cm(3), Cm(14))
    for block in outline(letter):
        _draw(document, block, Cm, Pt)
    core = document.core_properties
    core.title, core.author, core.language = head.title, " ".join(head.authority[:1]), "en-US"
    core.comments = ""
    import datetime

    core.created = core.modified = datetime.datetime.fromisoformat(letter.date or "1970-01-01")
    out = io.BytesIO()
    document.save(out)
    return _stamped(out.getvalue())


def _draw(document: Any, block: Block, cm: Any, pt: Any) -> None:
    if block.kind == NOTES:
        document.add_paragraph().add_run(block.text).bold = True
        _list(document, block.lines)
    elif block.kind in (HEADING, SUBHEADING):
        _paragraph(document, block.text, "Heading1" if block.kind == HEADING else "Heading2")
    elif block.kind == LIST:
        _list(document, block.lines)
    elif block.kind == ITEM:
        heading = _paragraph(document, f"{block.number}. {block.text}", "Heading2")
        if block.mark:
            heading.add_run(f" ({block.mark})").italic = True
        rows = [(row.term, list(row.lines)) for row in block.rows]
        _table(document, rows, cm(2.8), cm(14.2), {i for i, row in enumerate(block.rows) if row.figures})
    elif block.kind == SIGNATURE:
        line = document.add_paragraph("_" * 44)
        line.paragraph_format.space_before = pt(42)
        line.paragraph_format.keep_with_next = True
        document.add_paragraph(block.text)
    else:
        document.add_paragraph(block.text).paragraph_format.keep_with_next = block.keep


def _list(document: Any, lines: tuple[str, ...]) -> None:
    for line in lines:
        _paragraph(document, line, "ListBullet")


def _paragraph(document: Any, text: str, style: str) -> Any:
    """A paragraph in the style of an id; by its name each would be looked for through all styles."""
    out = document.add_paragraph(text)
    out._p.style = style
    return out


def _table(document: Any, rows: list[tuple[str, list[str]]], first: Any, second: Any,
           figures: set[int] | None = None) -> None:  # fmt: skip
    """A table without lines, its rows kept whole on one page."""
    from docx.oxml import OxmlElement
    from docx.shared import Pt, RGBColor

    if not rows:
        return
    table = document.add_table(rows=0, cols=2)
    table.autofit = False
    table.columns[0].width, table.columns[1].width = first, second
    for i, (term, lines) in enumerate(rows):
        row = table.add_row()
        row._tr.get_or_add_trPr().append(OxmlElement("w:cantSplit"))
        left, right = row.cells
        left.width, right.width = first, second
        run = left.paragraphs[0].add_run(term)
        run.font.color.rgb, run.font.size = RGBColor(0x44, 0x44, 0x44), Pt(9.5)
        left.paragraphs[0].paragraph_format.space_after = Pt(1)
        for j, line in enumerate(lines):
            paragraph = right.paragraphs[0] if j == 0 else right.add_paragraph()
            paragraph.paragraph_format.space_after = Pt(1)
            run = paragraph.add_run(line)
            if i in (figures or ()):
                run.font.name, run.font.size = "DejaVu Sans Mono", Pt(8.5)
        if i + 1 < len(rows):
            for paragraph in (*left.paragraphs, *right.paragraphs):
                paragraph.paragraph_format.keep_with_next = True
    gap = document.add_paragraph()
    gap.paragraph_format.space_after = gap.paragraph_format.space_before = Pt(0)
    gap.paragraph_format.line_spacing = Pt(6)


def _font(style: Any, name: str, size: Any) -> None:
    from docx.oxml.ns import qn
    from docx.shared import RGBColor

    style.font.name, style.font.size, style.font.color.rgb = name, size, RGBColor(0x1B, 0x1B, 0x1B)
    fonts = style.element.get_or_add_rPr().get_or_add_rFonts()
    for key in ("w:ascii", "w:hAnsi", "w:cs", "w:eastAsia"):
        fonts.set(qn(key), name)
    for key in ("w:asciiTheme", "w:hAnsiTheme", "w:cstheme", "w:eastAsiaTheme"):
        fonts.attrib.pop(qn(key), None)


def _footer(paragraph: Any, text: str) -> None:
    """The footer, with the number of the page."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    paragraph.add_run(text + " · ")
    field = OxmlElement("w:fldSimple")
    field.set(qn("w:instr"), "PAGE")
    paragraph._p.append(field)


def _stamped(data: bytes) -> bytes:
    """The same archive with one time for every file in it."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for one in old.infolist():
            info = zipfile.ZipInfo(one.filename, STAMP)
            info.compress_type, info.external_attr = zipfile.ZIP_DEFLATED, one.external_attr
            new.writestr(info, old.read(one))
    return out.getvalue()
