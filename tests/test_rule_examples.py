"""Every example of every rule is run, at every edition it is meant for, and at limits on both sides.

Each example names its own source in its pack.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest

from ampcite.api import load
from ampcite.examples import Trial, faults, trials
from ampcite.pack import load_pack
from ampcite.plugins import pack_folders
from ampcite.rulebook import Rulebook

FOLDERS = pack_folders()
PACKS = {name: load_pack(folder) for name, folder in FOLDERS.items()}
TRIALS = [(name, trial) for name, pack in PACKS.items() for rule in pack.rules.values() for trial in trials(pack, rule)]


@lru_cache(maxsize=64)
def book(folder: Path, editions: tuple[tuple[str, int], ...]) -> Rulebook:
    """A pack by itself: each can be used alone."""
    return load(dict(editions), [folder])


IDS = [f"{trial.rule}-{trial.edition}-{i}" for i, (_, trial) in enumerate(TRIALS)]


@pytest.mark.parametrize(("pack", "trial"), TRIALS, ids=IDS)
def test_example(pack: str, trial: Trial) -> None:
    assert faults(book(FOLDERS[pack], tuple(trial.editions.items())), trial) == []
