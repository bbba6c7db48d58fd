"""The corpus of hostile packs: one flaw a file, and the words its complaint must hold.

All files are own inventions. A ``.toml`` file stands for one file of a new pack or layer as ``ampcite pack new`` writes
it; its first two lines say which, and what must be said. A ``.zip`` file is a pack by itself; its words stand beside.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import ampcite
from ampcite.authoring import scaffold
from ampcite.law.applied import Law
from shared import TESTS

CORPUS = TESTS / "hostile"
TEXTS = sorted(CORPUS.glob("*.toml"))
ZIPS = sorted(CORPUS.glob("*.zip"))
EDITIONS = {"electrical": 2020, "building": 2021}


def load(where: Path) -> ampcite.Rulebook:
    return ampcite.load(Law(EDITIONS, (), "", ()), where)


def whole(folder: Path, kind: str) -> Path:
    """A new pack or layer without a flaw."""
    files = (
        scaffold.rules("oddities", 2020)
        if kind == "pack"
        else scaffold.layer("oddities", "Elm County (invented)", "county", EDITIONS)
    )
    where = folder / "oddities"
    where.mkdir()
    for name, text in files.items():
        (where / name).write_text(text, "utf-8")
    return where


def words(text: str) -> list[str]:
    return [word.strip() for word in text.split(" | ")]


@pytest.mark.parametrize("kind", ["pack", "layer"])
def test_without_a_flaw_it_loads(kind: str, tmp_path: Path) -> None:
    assert "oddities" in {pack.name for pack in load(whole(tmp_path, kind)).packs}


def test_the_corpus_is_large() -> None:
    assert len(TEXTS) + len(ZIPS) >= 60


@pytest.mark.parametrize("path", TEXTS, ids=lambda p: p.stem)
def test_a_hostile_file(path: Path, tmp_path: Path) -> None:
    text = path.read_text("utf-8")
    stands, must = text.splitlines()[:2]
    file, kind = stands.removeprefix("# stands for: ").split(" of a ")
    where = whole(tmp_path, kind)
    (where / file).write_text(text, "utf-8")
    with pytest.raises(ampcite.PackError) as caught:
        load(where)
    said = str(caught.value)
    for word in words(must.removeprefix("# must say: ")):
        assert word in said, said
    assert all(len(str(c)) < 700 and "Traceback" not in str(c) for c in caught.value.complaints)
    odd = [c.message for c in caught.value.complaints if not re.match("[a-z\"]|[A-Z][^A-Z]", c.message)]
    assert odd == [], "a sentence begins as one"


@pytest.mark.parametrize("path", ZIPS, ids=lambda p: p.stem)
def test_a_hostile_zip_file(path: Path) -> None:
    with pytest.raises(ampcite.PackError) as caught:
        load(path)
    for word in words(path.with_suffix(".words").read_text("utf-8").strip()):
        assert word in str(caught.value), str(caught.value)


def test_a_linked_file_in_a_folder(tmp_path: Path) -> None:
    where = whole(tmp_path, "pack")
    (where / "more.toml").symlink_to(tmp_path / "elsewhere.toml")
    with pytest.raises(ampcite.PackError, match="is a link"):
        load(where)


def test_a_good_zip_file_is_the_folder_it_was_made_of(tmp_path: Path) -> None:
    import zipfile

    where = whole(tmp_path, "pack")
    for name, inside in (("flat.zip", ""), ("nested.zip", "oddities/")):
        with zipfile.ZipFile(tmp_path / name, "w") as archive:
            for file in where.iterdir():
                archive.write(file, inside + file.name)
            archive.writestr(f"{inside}README.md", "# Papers are allowed")
        assert [p.digest for p in load(tmp_path / name).packs] == [p.digest for p in load(where).packs]
