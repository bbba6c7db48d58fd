"""A letter as a page, a PDF and a DOCX file: whole, the same bytes twice, and every text in it shown as text.

Source: WCAG 2.1 AA, which public bodies in the US have to meet for what they publish; a rule of this project.
"""

from __future__ import annotations

import html
import io
import re
import subprocess
import tempfile
import zipfile
from collections.abc import Mapping
from functools import cache
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
from ampcite.letters.compose import compose
from ampcite.letters.edits import Edit, Edits
from ampcite.letters.form import before_sending
from ampcite.letters.kept import read_record, to_record
from ampcite.letters.records import Letter
from ampcite.letters.rounds import Answer
from browser import faults_seen, needs_browser, needs_office, needs_pdf_tools, printed
from hostile import TEXTS
from letters_shared import DAY, letter_of, many_mistakes
from shared import SHIPPED, sample, shipped_house


@cache
def all_letters() -> Mapping[str, Letter]:
    """A letter of every kind: rounds, local law, a reviewer's edits with waivers, and the sheet before sending."""
    out = {}
    broken = many_mistakes("converter-strings", 14)
    first = letter_of(broken)
    out["corrections"] = first
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "r.record.json"
        path.write_text(to_record(first, ampcite.read(broken), None, "0"), "utf-8")
        record = read_record(path)
    answers = {item.number: Answer("corrected", "PV-3") for item in first.items}
    out["second round"] = letter_of(many_mistakes("converter-strings", 6), earlier=record, answers=answers)
    out["edited"] = letter_of(broken, edits=edits_of(first))
    out["before sending"] = letter_of(broken, form=before_sending())
    house = broken | {"codes": {"jurisdiction": "larchmoor-county", "application_date": "2026-03-10"}}
    description = ampcite.read(house)
    rules = ampcite.load(ampcite.law_for(description))
    out["local law"] = compose(ampcite.review(rules, description, stage="plan review"), description, date=DAY)
    house = shipped_house("plain-strings")
    del house["service"]
    out["information"] = letter_of(house)
    house = shipped_house("microinverters")
    del house["observations"]
    out["conditions"] = letter_of(house)
    out["clean"] = letter_of(shipped_house("converter-strings"), "handover")
    return out


def edits_of(letter: Letter) -> Edits:
    """A reviewer's file of edits for a letter: one comment withdrawn, one waived, one in other words, one added; a
    waiver that has ended, and one that is about nothing."""
    (withdrawn, _), (waived, part), (ended, _), (reworded, _) = (item.keys[0] for item in letter.must[:4])
    until = {"reason": "decided by the board of appeals", "owner": "A. Official (an invented name)"}
    return Edits(
        withdraw=(Edit(withdrawn, None, {"reason": "shown on the data sheet"}),),
        waive=(Edit(waived, part, until | {"until": "2027-01-01"}), Edit(ended, None, until | {"until": "2025-12-31"}),
               Edit("no-such-rule", None, until | {"until": "2027-01-01"})),
        reword=(Edit(reworded, None, {"note": "See also the photograph of the site visit."}),),
        add=({"id": "gate", "discipline": "Site", "heading": "The gate at the street",
              "required": "The inspector can reach the meter.", "cure": "Send the code of the gate."},),
    )  # fmt: skip


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


def test_the_page_of_every_kind_of_letter() -> None:
    for letter in all_letters().values():
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
def test_the_pdf_says_what_the_page_says() -> None:
    for letter in all_letters().values():
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


def test_the_docx_has_headings_and_says_what_the_page_says() -> None:
    import docx

    for letter in all_letters().values():
        data = to_docx(letter)
        assert data == to_docx(letter)
        document = docx.Document(io.BytesIO(data))
        headings = [p.text for p in document.paragraphs if p.style.name.startswith("Heading")]
        for item in letter.items:
            assert any(h.startswith(f"{item.number}. {item.heading}") for h in headings)
        assert document.core_properties.title == letter.head.title


@needs_browser
def test_pages_are_sound_in_a_real_browser_on_a_phone_and_on_a_desk(tmp_path: Path) -> None:
    """Every kind of letter: axe finds nothing, the console says nothing, nothing is asked for, no line is too wide."""
    for name, letter in all_letters().items():
        path = tmp_path / f"{name}.html"
        path.write_text(to_html(letter), "utf-8")
        assert faults_seen(path) == []


@needs_browser
@needs_pdf_tools
def test_a_page_is_printed_whole(tmp_path: Path) -> None:
    """Printed by the browser, a letter says what it says, and no page is blank."""
    for name, letter in all_letters().items():
        path = tmp_path / f"{name}.html"
        path.write_text(to_html(letter), "utf-8")
        pages = pdf_text(printed(path)).removesuffix("\f").split("\f")
        assert all(page.strip() for page in pages), name
        text = " ".join(" ".join(pages).split())
        assert all(f"{item.number}. {item.heading}"[:40] in text for item in letter.items), name


@needs_browser
def test_what_is_wrong_with_a_page_is_seen(tmp_path: Path) -> None:
    path = tmp_path / "bad.html"
    path.write_text(
        "<!doctype html><html><head><title>Bad</title>"
        "<meta http-equiv='Content-Security-Policy' content=\"default-src 'none'; script-src 'unsafe-inline'\"></head>"
        "<body><main><h1>Bad</h1><img src='none.png'><pre>" + "wide " * 400 + "</pre></main>"
        "<script>console.error('said'); null.nothing;</script></body></html>", "utf-8"
    )
    found = " ".join(faults_seen(path))
    for words in ("axe image-alt", "axe html-has-lang", "scrolls sideways", "console: ['said']", "TypeError",
                  "Content Security Policy"):  # fmt: skip
        assert words in found, words


@pytest.mark.thorough
@needs_office
def test_the_docx_is_one_that_an_office_opens(tmp_path: Path) -> None:
    """Every kind of letter, drawn by LibreOffice, says what it says."""
    paths = {name: tmp_path / f"{name}.docx" for name in all_letters()}
    for name, letter in all_letters().items():
        paths[name].write_bytes(to_docx(letter))
    subprocess.run(
        ["soffice", f"-env:UserInstallation={(tmp_path / 'office').as_uri()}", "--headless", "--convert-to", "pdf",
         "--outdir", str(tmp_path), *map(str, paths.values())],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    for name, letter in all_letters().items():
        text = " ".join(pdf_text(paths[name].with_suffix(".pdf").read_bytes()).split())
        assert letter.head.title in text, name
        assert all(f"{item.number}. {item.heading}"[:30] in text for item in letter.items), name
