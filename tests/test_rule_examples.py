"""Every example of every rule is run, at every edition it is meant for, and at limits on both sides.

Each example names its own source in its pack. The examples of layers of local law, of their rules and of their changes,
are tried at the editions they are written against, on a date on which they hold.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest

from ampcite.adoption import Law
from ampcite.api import load
from ampcite.examples import Trial, faults, layer_trials, trials
from ampcite.pack import load_pack
from ampcite.plugins import pack_folders
from ampcite.rulebook import Rulebook

FOLDERS = pack_folders()
PACKS = {name: load_pack(folder) for name, folder in FOLDERS.items()}
BASES = [pack for pack in PACKS.values() if not pack.authority]
TRIALS = [(name, trial) for name, pack in PACKS.items() for rule in pack.rules.values() for trial in trials(pack, rule)
          if not pack.authority]  # fmt: skip
TRIALS += [(name, trial) for name, pack in PACKS.items() if pack.authority
           for trial in layer_trials(pack, [base for base in BASES if base.name in pack.amends])]  # fmt: skip


@lru_cache(maxsize=64)
def book(folder: Path, editions: tuple[tuple[str, int], ...], date: str) -> Rulebook:
    """A pack by itself: each can be used alone. A layer brings the packs that it changes."""
    return load(Law(dict(editions), (), date, ()), [folder])


IDS = [f"{trial.rule}-{trial.edition}-{i}" for i, (_, trial) in enumerate(TRIALS)]


@pytest.mark.parametrize(("pack", "trial"), TRIALS, ids=IDS)
def test_example(pack: str, trial: Trial) -> None:
    assert faults(book(FOLDERS[pack], tuple(trial.editions.items()), trial.date), trial) == []
