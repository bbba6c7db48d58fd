"""Every example of every rule is run, at every edition it is meant for, and at limits on both sides.

Each example names its own source in its pack. Those of layers of local law are run as their authors run them.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from ampcite.api import load
from ampcite.authoring.testing import faults, trials
from ampcite.command.main import main
from ampcite.engine.rulebook import Rulebook
from ampcite.law.records import Pack, Rule
from shared import FOLDERS, PACKS

RULES = [(pack, rule) for pack in PACKS.values() if not pack.authority for rule in pack.rules.values()]
LAYERS = [name for name, pack in PACKS.items() if pack.authority]


@lru_cache(maxsize=64)
def book(folder: Path, editions: tuple[tuple[str, int], ...]) -> Rulebook:
    """A pack by itself: each can be used alone."""
    return load(dict(editions), [folder])


@pytest.mark.parametrize(("pack", "rule"), RULES, ids=lambda x: getattr(x, "id", getattr(x, "name", "")))
def test_examples(pack: Pack, rule: Rule) -> None:
    found = [
        f"{trial.edition}, {trial.says or trial.expected}: {said}"
        for trial in trials(pack, rule)
        for said in faults(book(FOLDERS[pack.name], tuple(trial.editions.items())), trial)
    ]
    assert found == []


@pytest.mark.parametrize("layer", LAYERS)
def test_examples_of_a_layer(layer: str) -> None:
    out = CliRunner().invoke(main, ["pack", "try", layer])
    assert out.exit_code == 0, out.output
    assert int(out.output.split()[0]) > 10


@pytest.mark.parametrize("layer", LAYERS)
def test_a_layer_has_neither_faults_nor_remarks(layer: str) -> None:
    assert CliRunner().invoke(main, ["pack", "check", layer]).output == "0 faults, 0 remarks\n"
