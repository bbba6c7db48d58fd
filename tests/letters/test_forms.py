"""A letter as a page, a PDF and a DOCX file: whole, the same bytes twice, and every text in it shown as text.

Source: WCAG 2.1 AA, which public bodies in the US have to meet for what they publish; a rule of this project.
"""

from __future__ import annotations

import html
import io
import re
import subprocess
import zipfile
from collections.abc import Iterator
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

import ampcite
from ampcite.house.part_types import part_types
from ampcite.letters.answers import to_csv, to_xlsx
from ampcite.letters.as_docx import to_docx
from ampcite.letters.as_html import to_html
from ampcite.letters.as_pdf import to_pdf
from ampcite.letters.kept import read_record, to_record
from ampcite.letters.records import Letter
from browser import axe_findings, needs_browser, needs_office, needs_pdf_tools, wider_than
from hostile import TEXTS
from letters_shared import letter_of, many_mistakes
from shared import SHIPPED, sample, shipped_house


def all_letters(folder: Path) -> Iterator[tuple[str, Letter]]:
    """A letter of every kind, and that of a second round."""
    broken = many_mistakes("converter-strings", 14)
    first = letter_of(broken)
    yield "corrections", first
    path = folder / "r.record.json"
    path.write_text(to_record(first, ampcite.read(broken), None, "0"), "utf-8")
    yield "second round", letter_of(many_mistakes("converter-strings", 6), earlier=read_record(path))
    house = shipped_house("plain-strings")
    del house["service"]
    yield "information", letter_of(house)
    house = shipped_house("microinverters")
    del house["observations"]
    yield "conditions", letter_of(house)
    yield "clean", letter_of(shipped_house("converter-strings"), "handover")


class Tags(HTMLParser):
    """What a page is made of: its tags and its words."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.seen: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))
        if tag not in ("meta", "link", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] not in ("style",):
            self.words.append(data)


def parsed(page: str) -> Tags:
    out = Tags()
    out.feed(page)
    out.close()
    assert out.open == []
    return out


def test_the_page_of_every_kind_of_letter(tmp_path: Path) -> None:
    for _, letter in all_letters(tmp_path):
        page = to_html(letter)
        assert page == to_html(letter)
        tags = parsed(page)
        names = [tag for tag, _ in tags.seen]
        assert names.count("h1") == names.count("main") == names.count("title") == 1
        assert ("html", {"lang": "en"}) in tags.seen
        levels = [int(tag[1]) for tag in names if re.fullmatch("h[1-6]", tag)]
        assert all(after - before <= 1 for before, after in pairwise(levels))
        assert not {"script", "iframe", "img", "link", "object"} & set(names)
        assert not re.search(r"https?://|url\(|@import", page)
        ids = [attrs["id"] for _, attrs in tags.seen if "id" in attrs]
        assert len(ids) == len(set(ids))
        text = " ".join(" ".join(tags.words).split())
        for item in letter.items:
            assert item.cure in text and item.heading in text


def hostile_house(house: str, texts: tuple[str, ...]) -> dict[str, Any]:
    """A house in whose free texts, one after the other, stands what is meant to do harm."""
    document = many_mistakes(house, 14)
    description = ampcite.read(document)
    fields = part_types()
    free: set[str] = set()
    bound: set[str] = {"?"}
    for part in (part for parts in description.parts.values() for part in parts or ()):
        for path, value in part.facts.items():
            field = fields[part.kind].fields.get(path)
            plain = field is not None and field.kind == "text" and not field.choices and path not in ("id", "model")
            plain = plain and path not in fields[part.kind].references
            for one in value if isinstance(value, tuple) else (value,):
                if isinstance(one, str):
                    (free if plain and not re.match(r"-?[0-9]", one) else bound).add(one)
    count = iter(range(10_000))

    def walk(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: walk(one) for key, one in value.items()}
        if isinstance(value, list):
            return [walk(one) for one in value]
        return texts[next(count) % len(texts)] if isinstance(value, str) and value in free - bound else value

    out: dict[str, Any] = walk(document)
    assert next(count) > 40
    ampcite.read(out)
    return out


@pytest.mark.parametrize("house", sample(sorted(SHIPPED), 3))
def test_markup_and_formulas_in_every_text_are_shown_as_text(house: str) -> None:
    """The page holds no tag more than that of a letter of harmless words; no cell of a list is a formula."""
    letter = letter_of(hostile_house(house, tuple(TEXTS.values())))
    page = to_html(letter)
    tags = parsed(page)
    allowed = {"html", "head", "meta", "title", "style", "body", "main", "header", "h1", "h2", "h3", "p", "ul", "li",
               "table", "tr", "th", "td", "section", "span", "dl", "dt", "dd", "footer"}  # fmt: skip
    assert {tag for tag, _ in tags.seen} <= allowed
    assert {name for _, attrs in tags.seen for name in attrs} <= {
        "lang", "charset", "name", "content", "http-equiv", "class", "scope", "id"}  # fmt: skip
    said = " ".join(tags.words)
    assert "<script>alert(1)</script>" in said and "\u202e" not in page
    assert html.escape("<script>alert(1)</script>") in page
    csv_text = to_csv(letter)
    import csv

    cells = [cell for row in csv.reader(io.StringIO(csv_text.removeprefix("\ufeff"))) for cell in row]
    assert [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t"))] == []
    with zipfile.ZipFile(io.BytesIO(to_xlsx(letter))) as book:
        assert b"<f>" not in book.read("xl/worksheets/sheet1.xml")
        assert "xl/externalLinks" not in " ".join(book.namelist())
    pdf = to_pdf(letter)
    assert pdf.startswith(b"%PDF") and b"/StructTreeRoot" in pdf
    import docx

    document = docx.Document(io.BytesIO(to_docx(letter)))
    paragraphs = [p.text for p in document.paragraphs]
    paragraphs += [p.text for table in document.tables for row in table.rows for c in row.cells for p in c.paragraphs]
    assert any("<script>alert(1)</script>" in text for text in paragraphs)


def pdf_text(data: bytes) -> str:
    done = subprocess.run(["pdftotext", "-layout", "-", "-"], input=data, capture_output=True, check=True)
    return done.stdout.decode()


@needs_pdf_tools
def test_the_pdf_says_what_the_page_says(tmp_path: Path) -> None:
    for _, letter in all_letters(tmp_path):
        data = to_pdf(letter)
        assert data == to_pdf(letter)
        assert b"/MarkInfo" in data and b"/Lang" in data and b"pdfaid" in data
        text = " ".join(pdf_text(data).split())
        assert letter.head.title in text
        for item in letter.items:
            assert f"{item.number}. " in text
            assert " ".join(item.heading.split()[:3]) in text


@needs_pdf_tools
def test_markup_of_the_pdfs_own_language_is_shown_as_text() -> None:
    house = shipped_house("converter-strings")
    house["project"]["name"] = '#heading(1)[x] *b* $x$ #read("/etc/passwd")'
    assert '#heading(1)[x] *b* $x$ #read("/etc/passwd")' in pdf_text(to_pdf(letter_of(house)))


def test_the_docx_has_headings_and_says_what_the_page_says(tmp_path: Path) -> None:
    import docx

    for _, letter in all_letters(tmp_path):
        data = to_docx(letter)
        assert data == to_docx(letter)
        document = docx.Document(io.BytesIO(data))
        headings = [p.text for p in document.paragraphs if p.style.name.startswith("Heading")]
        for item in letter.items:
            assert any(h.startswith(f"{item.number}. {item.heading}") for h in headings)
        assert document.core_properties.title == letter.head.title


@needs_browser
def test_pages_are_accessible_in_a_real_browser_at_three_widths(tmp_path: Path) -> None:
    """Every kind of letter, by the rules of axe, without a finding; no line is wider than a phone."""
    for name, letter in all_letters(tmp_path):
        path = tmp_path / f"{name}.html"
        path.write_text(to_html(letter), "utf-8")
        assert axe_findings(path) == [], name
        assert wider_than(path, 390) == [], name


@needs_office
def test_the_docx_is_one_that_an_office_opens(tmp_path: Path) -> None:
    letter = letter_of(many_mistakes("converter-strings", 14))
    (tmp_path / "letter.docx").write_bytes(to_docx(letter))
    subprocess.run(
        ["soffice", f"-env:UserInstallation={(tmp_path / 'office').as_uri()}", "--headless", "--convert-to", "pdf",
         "--outdir", str(tmp_path), str(tmp_path / "letter.docx")],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    text = " ".join(pdf_text((tmp_path / "letter.pdf").read_bytes()).split())
    for item in letter.items:
        assert f"{item.number}. {item.heading}"[:30] in text
