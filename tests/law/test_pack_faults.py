"""Packs that once brought the program down, ran for minutes, or were taken for less than they hold.

Own inventions, after faults that an audit of the project found.
"""

from __future__ import annotations

import bz2
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

import ampcite
from ampcite.authoring import scaffold
from ampcite.authoring.lint import FAULT, remarks
from ampcite.base.errors import MOST_COMPLAINTS
from ampcite.engine.writer import identifier
from ampcite.law.registry import chosen_folders
from ampcite.law.sift import long_key

EDITIONS = {"electrical": 2020, "building": 2021}
GUARD_SECONDS = 20
"""Far above what any of these takes now, and far below what they took when they took the square of their size."""


@pytest.fixture(autouse=True)
def no_cache(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("AMPCITE_CACHE", "")


@pytest.fixture
def pack(tmp_path: Path) -> Path:
    where = tmp_path / "oddities"
    where.mkdir()
    for name, text in scaffold.rules("oddities", 2020).items():
        (where / name).write_text(text, "utf-8")
    return where


def change(pack: Path, before: str, after: str) -> Path:
    rules = pack / "rules.toml"
    text = rules.read_text("utf-8")
    assert text.count(before) == 1
    rules.write_text(text.replace(before, after), "utf-8")
    return pack


def refused(where: Path) -> str:
    with pytest.raises(ampcite.PackError) as caught:
        ampcite.load(2020, where)
    return str(caught.value)


# --- what a finding could not have said --------------------------------------------------------------------------


@pytest.mark.parametrize("slot", ["each|a label", "least_letter_height|none"])
def test_words_for_where_there_is_none_of_what_there_always_is(pack: Path, slot: str) -> None:
    said = refused(change(pack, 'remedy = "Replace {each}', f'remedy = "Replace {{{slot}}}'))
    assert "always is" in said and slot.partition("|")[0] in said


# --- names that reach the compiler -------------------------------------------------------------------------------


@pytest.mark.parametrize("flags", [[], ["-O"]])
@pytest.mark.parametrize("line", ['let = { "x\\n" = "letter_height" }', 'inputs = { "x\\n" = "letter_height" }'])
def test_a_name_with_a_line_break(pack: Path, line: str, flags: list[str]) -> None:
    before = 'inputs = { letter_height = "letter_height" }'
    change(pack, before, line if line.startswith("inputs") else f"{before}\n{line}")
    program = "import ampcite, sys\ntry:\n    ampcite.load(2020, sys.argv[1])\nexcept ampcite.PackError as fault:\n" \
              "    print('refused', fault)"  # fmt: skip
    words = [sys.executable, *flags, "-c", program, str(pack)]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    assert done.stdout.startswith("refused") and "; write small letters" in done.stdout


@pytest.mark.parametrize("name", ["x\n", "x y", "", "X", "x\u00b2", "import os"])
def test_the_last_gate_before_the_compiler(name: str) -> None:
    with pytest.raises(ampcite.PackError):
        identifier(name)


def test_the_last_gate_is_there_without_assertions() -> None:
    program = "from ampcite.engine.writer import identifier\ntry:\n    identifier('x\\n')\n" \
              "except Exception as fault:\n    print(type(fault).__name__)"  # fmt: skip
    done = subprocess.run([sys.executable, "-O", "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout == "PackError\n"


@pytest.mark.parametrize("field", ['name = "least_letter_height', 'id = "label-letters-too-low', '"0.25'])
def test_a_line_break_at_the_end_of_a_word(pack: Path, field: str) -> None:
    assert "; write " in refused(change(pack, field + '"', field + '\\n"'))


# --- zip files ---------------------------------------------------------------------------------------------------


def zipped(pack: Path, **how: int) -> Path:
    where = pack.with_suffix(".zip")
    with zipfile.ZipFile(where, "w", **how) as archive:  # type: ignore[arg-type]
        for file in pack.iterdir():
            archive.write(file, file.name)
    return where


def test_damaged_deflate_data(pack: Path) -> None:
    where = zipped(pack, compression=zipfile.ZIP_DEFLATED)
    data = bytearray(where.read_bytes())
    with zipfile.ZipFile(where) as archive:
        start = archive.getinfo("rules.toml").header_offset + 30 + len("rules.toml")
    for place in range(start, start + 200, 5):
        data[place] ^= 0xFF
    where.write_bytes(data)
    assert "can't be read as a zip file" in refused(where)


def test_a_way_of_packing_not_every_system_has(pack: Path) -> None:
    assert bz2
    assert "use plain zip" in refused(zipped(pack, compression=zipfile.ZIP_BZIP2))


# --- what is not to be dropped in silence ------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["RULES.TOML", "PACK.TOML", "more.Toml", "table.CSV"])
def test_files_named_in_capitals(pack: Path, name: str) -> None:
    (pack / name).write_text("x = 1\n", "utf-8")
    for where in (pack, zipped(pack)):
        said = refused(where)
        assert name in said and f'name it "{name.lower()}"' in said


def test_a_layer_whose_changes_are_not_among_its_files(tmp_path: Path) -> None:
    where = tmp_path / "layer"
    where.mkdir()
    files = scaffold.layer("layer", "Elm County (invented)", "county", EDITIONS)
    head = files["pack.toml"][: files["pack.toml"].index("[[adoption]]")]
    (where / "pack.toml").write_text(head, "utf-8")
    (where / "changes.txt").write_text(files["changes.toml"], "utf-8")
    first, *others = chosen_folders([str(where)])
    said = [str(one) for one in remarks(first, others) if one.severity == FAULT]
    assert any("changes and adopts nothing" in one for one in said)
    (where / "changes.txt").rename(where / "changes.toml")
    assert not [one for one in remarks(first, others) if "adopts nothing" in str(one)]


@pytest.mark.skipif(sys.platform != "linux", reason="names that are not UTF-8")
def test_a_file_named_with_a_byte_that_is_not_utf_8(pack: Path) -> None:
    with open(os.fsencode(pack) + b"/caf\xe9.toml", "w") as file:
        file.write("x = 1\n")
    said = refused(pack)
    assert "can't be written" in said
    said.encode("utf-8")


# --- what can't be read ------------------------------------------------------------------------------------------


def test_a_path_too_long_and_a_path_that_no_file_can_have(tmp_path: Path) -> None:
    for where in (tmp_path / ("n" * 300), Path("a" * 5000), tmp_path / "\0"):
        assert "oddities" not in refused(where)


@pytest.mark.parametrize("method", ["read_bytes", "iterdir", "is_file"])
def test_what_the_system_does_not_let_us_read(pack: Path, method: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def closed(self: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, method, closed)
    assert "can't be read: Permission denied" in refused(pack)


# --- large ones --------------------------------------------------------------------------------------------------


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("name", "text"),
    [("wide.csv", ",".join(f"c{i % 75_000}" for i in range(150_000)) + "\n1\n"),
     ("ragged.csv", "a,b\n" + "1\n" * 300_000),
     ("deep.toml", ".".join("a" * 60_000) + " = 1\n"),
     ("header.toml", "[" + ".".join("a" * 60_000) + "]\n"),
     ("inline.toml", "x = { " + " . ".join(['"a"'] * 60_000) + " = 1 }\n"),
     ("many.toml", "".join(f"k{i} = 1\n" for i in range(100_000)))],
    ids=["columns", "ragged rows", "dotted key", "dotted header", "dotted key in a table", "unknown keys"],
)  # fmt: skip
def test_a_large_file_is_refused_with_little(pack: Path, name: str, text: str) -> None:
    (pack / name).write_text(text, "utf-8")
    program = "import ampcite, sys\ntry:\n    ampcite.load(2020, sys.argv[1])\nexcept ampcite.PackError as fault:\n" \
              "    print(len(fault.complaints), fault)"  # fmt: skip
    done = subprocess.run([sys.executable, "-c", program, str(pack)], capture_output=True, text=True, check=True,
                          timeout=GUARD_SECONDS)  # fmt: skip
    assert name in done.stdout
    assert 1 <= int(done.stdout.split()[0]) <= MOST_COMPLAINTS + 1
    assert len(done.stdout) < 100_000


@pytest.mark.parametrize(
    ("text", "long"),
    [("a.b.c = 1", False), (".".join("a" * 40) + " = 1", True), ('x = "' + "a." * 200 + '"', False),
     ('x = """' + "a." * 200 + '"""', False), ("x = '" + "a." * 200 + "'", False), ("# " + "a." * 200, False),
     ("x = [" + "1.5, " * 200 + "]", False), ("'a'" + ' . "b\\"c"' * 40 + " = 1", True),
     ('x = "\\"" # "\n' + "a." * 40 + "b = 1", True), ("x = '''" + "a." * 200 + "''', b = 1", False)],
)  # fmt: skip
def test_long_keys_are_told_from_texts(text: str, long: bool) -> None:
    assert long_key(text.encode()) is long


# --- what spreadsheets and tired eyes write ------------------------------------------------------------------------


def test_a_byte_order_mark_is_no_part_of_a_file(pack: Path) -> None:
    for file in pack.iterdir():
        file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes())
    (pack / "table.csv").write_bytes(b"\xef\xbb\xbfelevation,factor\n100,1\n")
    change(pack, "[[rule]]", '[[table]]\nname = "factor"\nmeaning = "factor"\nfile = { 2020 = "table.csv" }\n'
           'row = { header = "elevation", match = "next at or above", unit = "ft" }\nunit = ""\nwork = "own"\n'
           'clause = { 2020 = "1" }\nread = { 2020 = "paper" }\n\n[[rule]]')  # fmt: skip
    assert ampcite.load(2020, pack).packs
    (pack / "table.csv").write_text('elevation,factor\n"1,000",1\n', "utf-8")
    said = refused(pack)
    assert 'has the cell "1,000"' in said and "without the comma" in said and "could not convert" not in said


@pytest.mark.parametrize("day", ["2026-02-30", "2025-02-29", "2026-04-31"])
def test_a_day_that_is_in_no_calendar(day: str, tmp_path: Path) -> None:
    where = tmp_path / "layer"
    where.mkdir()
    for name, text in scaffold.layer("layer", "Elm County (invented)", "county", EDITIONS).items():
        (where / name).write_text(text.replace("2026-01-01", day), "utf-8")
    assert "is no day of the calendar" in refused(where)
    with pytest.raises(ampcite.InputError, match="is no day of the calendar"):
        ampcite.read({"codes": {"application_date": day}})
