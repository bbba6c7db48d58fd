"""The pages that walk somebody through commands are run: files written, commands called, answers compared.

A block ``console`` holds commands after ``$`` and what each prints (``...`` for any lines); a block ``toml PATH`` or
``json PATH`` is written to that file; a block ``toml-part PATH: OLD -> NEW`` changes one. Only ``python -m pip
install`` is called with arguments of its own, so that a test installs into a folder of its own and fetches nothing.
"""

from __future__ import annotations

import doctest
import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from shared import ROOT, sample

DOCS = ROOT / "docs"
FENCE = re.compile(r"^```([a-z-]*)(?: ([^\n]*))?\n(.*?)^```$", re.M | re.S)
WALKS = [page for page in sorted(DOCS.glob("*.md")) if "```console" in page.read_text("utf-8")]


def run(command: str, folder: Path) -> str:
    """What a command prints, errors included."""
    site = folder / "site"
    env = {
        **os.environ, "PYTHONPATH": str(site), "COLUMNS": "100",
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
    }  # fmt: skip
    if command.startswith("python -m pip install"):
        quiet = "--quiet --no-deps --no-build-isolation --no-index --disable-pip-version-check"
        command += f" {quiet} --target {shlex.quote(str(site))} --upgrade"
    done = subprocess.run(command, shell=True, cwd=folder, env=env, capture_output=True, text=True, check=False)
    return "" if command.startswith("python -m pip install") and done.returncode == 0 else done.stdout + done.stderr


def play(text: str, folder: Path) -> None:
    for kind, about, body in FENCE.findall(text):
        if kind in ("toml", "json") and about:
            (folder / about).write_text(body, "utf-8")
        elif kind == "toml-part":
            name, _, change = about.partition(": ")
            old, _, new = change.partition(" -> ")
            path = folder / name
            assert path.read_text("utf-8").count(old) == 1
            path.write_text(path.read_text("utf-8").replace(old, new), "utf-8")
        elif kind == "console":
            for step in re.split(r"^\$ ", body, flags=re.M)[1:]:
                command, _, want = step.partition("\n")
                got = run(command, folder)
                same = doctest.OutputChecker().check_output(want, got, doctest.ELLIPSIS)
                assert same, f"$ {command}\n{got}\n--- expected\n{want}"


@pytest.mark.parametrize("page", sample(WALKS[::-1], 8), ids=lambda p: p.stem)
def test_a_walk(page: Path, tmp_path: Path) -> None:
    play(page.read_text("utf-8"), tmp_path)


def test_there_are_walks() -> None:
    assert "amending" in {page.stem for page in WALKS}


def test_few_values_are_typed_from_a_start_to_the_string_limits(tmp_path: Path) -> None:
    blocks = FENCE.findall((DOCS / "start.md").read_text("utf-8"))
    command = re.search(r"^\$ (ampcite start .*) > ", blocks[0][2], re.M)
    assert command is not None
    asked = json.loads(run(f"{command[1]} 2> said.txt", tmp_path))
    filled = next(json.loads(body) for kind, _, body in blocks if kind == "json")
    assert 0 < typed(asked, filled) <= 90


def typed(asked: Any, filled: Any) -> int:
    """How many values somebody typed who filled in what was asked."""
    if isinstance(filled, dict):
        return sum(typed(asked.get(k) if isinstance(asked, dict) else None, v) for k, v in filled.items())
    if isinstance(filled, list):
        before = asked if isinstance(asked, list) else []
        return sum(typed(before[i] if i < len(before) else None, v) for i, v in enumerate(filled))
    return int(filled not in (asked, "?") or (filled is None and asked is None))
