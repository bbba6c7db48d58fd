"""A distribution that is installed by pip as any other brings its pack through its entry point.

Source: the entry-points specification of Python packaging; the sample is an own invention.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from shared import SHIPPED, TESTS

SAMPLE = TESTS / "sample_distribution"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("site")
    words = ["--quiet", "--no-deps", "--no-build-isolation", "--no-index", "--disable-pip-version-check", "--target"]
    pip = [sys.executable, "-m", "pip", "install", *words, str(folder), str(SAMPLE)]
    subprocess.run(pip, check=True, capture_output=True)
    return folder


def run(site: Path, *words: str) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "PYTHONPATH": str(site), "AMPCITE_CACHE": ""}
    code = "from ampcite.command.main import main; main()"
    return subprocess.run([sys.executable, "-c", code, *words], env=env, capture_output=True, text=True, check=False)


def test_it_holds_data_and_an_entry_point_only(site: Path) -> None:
    files = [p for p in site.rglob("*") if p.is_file() and "dist-info" not in p.parts[-2] and p.suffix != ".pyc"]
    assert {p.suffix for p in files} == {".toml", ".py"}
    (module,) = [p for p in files if p.suffix == ".py"]
    assert module.name == "__init__.py" and len(module.read_text("utf-8").splitlines()) < 15


@pytest.mark.thorough
def test_it_is_found_checked_and_tried_by_its_name(site: Path) -> None:
    assert "quarry-town 0.1.0" in run(site, "packs").stdout
    assert run(site, "pack", "check", "quarry-town").stdout == "0 faults, 0 remarks\n"
    assert run(site, "pack", "try", "quarry-town").stdout == "5 examples tried, 0 faults\n"


@pytest.mark.thorough
def test_it_is_a_layer_and_so_not_used_until_somebody_names_it(site: Path) -> None:
    house = str(SHIPPED["converter-strings"])
    assert "quarry-town" not in run(site, "check", house).stdout
    out = run(site, "check", house, "--pack", "quarry-town", "--edition", "2023").stdout
    assert "Quarry Town (invented)" in out and "quarry-town 0.1.0" in out
