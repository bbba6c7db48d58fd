"""Sixty inputs that mean harm, each by name: files that are no submission, and texts that would be markup or formulas.

A file is set aside with a reason or judged, and nothing leaves the folder of the output. A text is shown as that text
in HTML, CSV, XLSX, DOCX and PDF. All of it is invented here; the kinds are those of published lists of attacks on
upload forms, spreadsheets and document writers.
"""

from __future__ import annotations

import csv
import io
import json
import re
import struct
import subprocess
import zipfile
from html.parser import HTMLParser
from pathlib import Path

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
from hostile import FILES, HOUSE, TEXTS
from letters_shared import letter_of
from shared import shipped_house


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
                              "C:\\windows\\other.json", "\\x1b[2J\\x07bell.json", "nearly nothing.json",
                              "turned\\u202enosj.exe.json"]  # fmt: skip
    assert all(row["reason"] and len(row["reason"]) < 4100 for row in rows if row["outcome"] == "unusable")
    assert not any("root:" in str(value) for row in rows for value in row.values())
    texts = [path for path in out.rglob("*") if path.suffix in (".csv", ".html", ".txt", ".json")]
    written = b"".join(path.read_bytes() for path in texts)
    assert b"\x1b" not in written and "\u202e".encode() not in written


def test_a_zip_that_lies_about_its_sizes_is_read_no_further_than_it_says(tmp_path: Path) -> None:
    path = tmp_path / "q.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.json", b" " * 1_000_000)
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
    own = {"table", "tr", "th", "td", "ul", "li", "section", "h2", "h3", "span", "dl", "dt", "dd"}
    assert page.tags <= harmless.tags | own
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
    [row] = csv.DictReader(io.StringIO((tmp_path / "out" / "submissions.csv").read_text("utf-8-sig")))
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
