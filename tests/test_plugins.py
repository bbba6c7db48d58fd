"""Packs of other distributions are found through their entry point.

Source: the entry-points specification of Python packaging (entry_points.txt beside METADATA).
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from ampcite.base.resources import shipped
from ampcite.law.load import head

PACK = """
[pack]
name = "town"
title = "A town's own rule (invented)"
version = "1"
editions = [2020]
[pack.works]
town = "Town Ordinance (invented)"
[pack.sources]
own = { title = "own invention", body = "", year = "" }
"""
RULE = """
[[rule]]
id = "no-name"
title = "The project has a name"
family = "documents"
force = "requirement"
each = "/"
inputs = { name = "project/name" }
holds = "name != ''"
passes = "The project is called {name}."
fails = "The project has no name."
remedy = "Give it one."
cite = [{ work = "town", clause = { 2020 = "1" }, read = { 2020 = "own" } }]
examples = [{ set = { "project/name" = "x" }, verdict = "pass", source = "own invention" }]
"""
MODULE = """
from pathlib import Path
from ampcite.law.registry import offers

@offers
def ampcite_packs():
    {body}
"""
COUNT = "import ampcite; r = ampcite.load(2020); print(sorted(p.name for p in r.packs))"


def site(folder: Path, body: str) -> Path:
    """A folder as pip would leave it: a module, its data, and the record of its entry point."""
    (folder / "town_rules" / "town").mkdir(parents=True)
    (folder / "town_rules" / "__init__.py").write_text(MODULE.format(body=body), "utf-8")
    (folder / "town_rules" / "town" / "pack.toml").write_text(PACK, "utf-8")
    (folder / "town_rules" / "town" / "rules.toml").write_text(RULE, "utf-8")
    info = folder / "town_rules-1.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: town-rules\nVersion: 1\n", "utf-8")
    (info / "entry_points.txt").write_text("[ampcite]\ntown = town_rules\n", "utf-8")
    return folder


def run(folder: Path, code: str) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "PYTHONPATH": str(folder), "AMPCITE_CACHE": ""}
    return subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=False)


def test_an_installed_pack_is_found_and_used(tmp_path: Path) -> None:
    folder = site(tmp_path, "return [Path(__file__).parent / 'town']")
    known = {where.parent.name for where in shipped("rulepacks").glob("*/pack.toml") if not head(where.parent).amends}
    assert run(folder, COUNT).stdout == f"{sorted({*known, 'town'})}\n"
    assert {"electrical", "roof", "labels"} <= known
    code = (
        "import ampcite; r = ampcite.check(ampcite.load(2020, ['town']), ampcite.read({'project': {'name': 'Elm'}}));"
        "print(r.findings[0].note, r.findings[0].citations[0])"
    )
    assert run(folder, code).stdout == "The project is called Elm. Town Ordinance (invented) 1\n"


def test_a_pack_brought_twice_or_a_failing_distribution_is_one_clear_sentence(tmp_path: Path) -> None:
    twice = site(tmp_path / "a", "return [Path(__file__).parent / 'town'] * 2")
    out = run(twice, "import ampcite\ntry:\n    ampcite.load(2020)\nexcept ampcite.PackError as e:\n    print(e)")
    assert 'brings a pack "town"' in out.stdout and out.stderr == ""
    failing = site(tmp_path / "b", "raise RuntimeError('no disk')")
    out = run(failing, "import ampcite\ntry:\n    ampcite.load(2020)\nexcept ampcite.PackError as e:\n    print(e)")
    assert "no disk" in out.stdout and out.stderr == ""
