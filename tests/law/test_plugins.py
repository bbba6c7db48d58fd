"""Packs of other distributions are found through their entry point.

Source: the entry-points specification of Python packaging (entry_points.txt beside METADATA).
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from ampcite.base.resources import shipped
from ampcite.law.head import head

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
"""
EXAMPLES = """
[[no-name.example]]
set = { "project/name" = "x" }
verdict = "pass"
"""
MODULE = """
from pathlib import Path
from ampcite.law.plugins import offers

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
    (folder / "town_rules" / "town" / "rules.examples.toml").write_text(EXAMPLES, "utf-8")
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
    known = {where.parent.name for where in shipped("rulepacks").glob("*/pack.toml") if not head(where.parent).layer}
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


NEEDED = """
[pack]
name = "{name}"
title = "Figures of a town (invented)"
version = "1"
editions = [2020]
[pack.works]
town = "Town Ordinance (invented)"
[pack.sources]
own = {{ title = "own invention", body = "", year = "" }}
"""
FIGURE = """
[[parameter]]
name = "least_name_count"
meaning = "least number of names"
unit = ""
stricter = "higher"
value = { 2020 = "1" }
work = "town"
clause = { 2020 = "2" }
read = { 2020 = "own" }
"""


@pytest.mark.parametrize("name", ["heights", "storage"])
def test_a_pack_that_lies_beside_the_one_that_needs_it_is_used_though_one_of_its_name_is_installed(
    name: str, tmp_path: Path
) -> None:
    """Of the two names the first is no installed pack's and the second is."""
    folder = site(tmp_path, "return [Path(__file__).parent / 'town']")
    town, beside = folder / "town_rules" / "town", folder / "town_rules" / name
    beside.mkdir()
    (beside / "pack.toml").write_text(NEEDED.format(name=name), "utf-8")
    (beside / "figures.toml").write_text(FIGURE, "utf-8")
    (town / "pack.toml").write_text(PACK.replace("[pack.works]", f'needs = ["{name}"]\n[pack.works]'), "utf-8")
    counted = RULE.replace("holds = \"name != ''\"", "holds = \"name != '' and least_name_count <= 1\"")
    assert counted != RULE
    (town / "rules.toml").write_text(counted, "utf-8")
    code = (
        "import ampcite; r = ampcite.load(2020, ['town']); print(sorted((p.name, p.version) for p in r.packs));"
        "print(ampcite.check(r, ampcite.read({'project': {'name': 'Elm'}})).findings[0].verdict.value)"
    )
    done = run(folder, code)
    assert done.stdout == f"{sorted([('town', '1'), (name, '1')])}\npass\n", done.stderr


def test_a_pack_named_beside_a_plugins_is_used_too(tmp_path: Path) -> None:
    """Named together, in either order, and by folder, both are asked."""
    folder = site(tmp_path, "return [Path(__file__).parent / 'town']")
    other = folder / "own"
    other.mkdir()
    (other / "pack.toml").write_text(NEEDED.format(name="own"), "utf-8")
    (other / "rules.toml").write_text(RULE.replace('"no-name"', '"no-name-again"'), "utf-8")
    (other / "rules.examples.toml").write_text(EXAMPLES.replace("no-name", "no-name-again"), "utf-8")
    code = "import ampcite; print([sorted(p.name for p in ampcite.load(2020, given).packs) for given in {given}])"
    given = [["town", "communications"], ["communications", "town"], ["town", str(other)], [str(other), "town"]]
    wanted = [sorted([Path(name).name for name in names]) for names in given]
    done = run(folder, code.replace("{given}", repr(given)))
    assert done.stdout == f"{wanted}\n", done.stderr
