"""Mistakes of a person who writes a pack of local law, each with the sentences, lines and files that it is told.

``elm-county`` is a sound layer; ``mistakes.toml`` changes it in one place at a time. The layer, its law and the
mistakes are own inventions, many after what an official met. The sentences were read aloud before they were kept.
"""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
import tomli
from click.testing import CliRunner

import ampcite
from ampcite.base.resources import shipped
from ampcite.command.main import main
from ampcite.law.applied import Law
from shared import sample

HERE = Path(__file__).parent
LAYER = HERE / "elm-county"
MISTAKES: list[dict[str, Any]] = tomli.loads((HERE / "mistakes.toml").read_text("utf-8"))["mistake"]


def made(one: dict[str, Any], folder: Path) -> Path:
    """The layer with a mistake in it."""
    where = folder / LAYER.name
    shutil.copytree(LAYER, where)
    for file in one.get("remove", ()):
        (where / file).unlink()
    for edit in one.get("edit", ()):
        path = where / edit["file"]
        if "rename" in edit:
            path.rename(where / edit["rename"])
        elif "write" in edit:
            path.write_bytes(edit["write"].encode(edit.get("encoding", "utf-8")))
        else:
            text = path.read_text("utf-8")
            assert text.count(edit["old"]) == 1
            path.write_text(text.replace(edit["old"], edit["new"]), "utf-8")
    return where


def check(where: Path) -> tuple[int, list[str]]:
    out = CliRunner().invoke(main, ["pack", "check", str(where)])
    assert out.exception is None or isinstance(out.exception, SystemExit), out.exception
    lines = out.output.replace(f"{where.parent}/", "").splitlines()
    return out.exit_code, [line.removeprefix("fault: ") for line in lines if line.startswith("fault: ")]


def test_the_layer_is_sound() -> None:
    assert check(LAYER) == (0, [])
    assert CliRunner().invoke(main, ["pack", "try", str(LAYER)]).exit_code == 0


def test_they_are_many() -> None:
    assert len({one["does"] for one in MISTAKES}) == len(MISTAKES) >= 60


@pytest.mark.parametrize("one", sample(MISTAKES, 12), ids=lambda one: one["does"])
def test_a_mistake_is_told_with_file_and_line(one: dict[str, Any], tmp_path: Path) -> None:
    status, said = check(made(one, tmp_path))
    assert (status, said) == (2, one["says"])
    assert all(len(sentence) < 500 for sentence in said)


@pytest.mark.parametrize("one", sample(MISTAKES, 12), ids=lambda one: one["does"])
def test_whoever_uses_it_is_not_told_of_a_shipped_pack(one: dict[str, Any], tmp_path: Path) -> None:
    where = made(one, tmp_path)
    try:
        ampcite.load(Law({"electrical": 2020, "building": 2021}, (), "2026-03-10", ()), [where])
    except ampcite.PackError as error:
        assert not any(c.file.startswith(str(shipped("rulepacks"))) for c in error.complaints)


def test_faults_of_all_stages_are_told_at_once(tmp_path: Path) -> None:
    """What a reader of TOML, the schemas, the records, the base and the formulas each find, in one answer."""
    stages = ["American date", "source that is not in the head", "figure misspelt", "name of no input in a formula",
              "thousands with a comma", "adoption of an unknown layer", "cell in words"]  # fmt: skip
    chosen = [one for one in MISTAKES if one["does"] in stages]
    assert len(chosen) == len(stages)
    whole = {"edit": [edit for one in chosen for edit in one["edit"]]}
    assert set(check(made(whole, tmp_path))[1]) == {sentence for one in chosen for sentence in one["says"]}
