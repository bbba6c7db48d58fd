"""What every test runs under: one cache folder for all workers of a run, and how far hypothesis explores."""

from __future__ import annotations

import gc
import os
import tempfile

import pytest
from hypothesis import HealthCheck, Phase, settings

from shared import SHARE

HASTY = tuple(phase for phase in Phase if phase not in (Phase.shrink, Phase.explain))
"""A house that fails is told as it is drawn: to make it small took minutes in which a run seemed to hang.

Who looks for the cause sets AMPCITE_SHRINK to have it made small, for that test alone.
"""

settings.register_profile("tests", deadline=None, derandomize=SHARE <= 1, print_blob=True,
                          phases=tuple(Phase) if os.environ.get("AMPCITE_SHRINK") else HASTY,
                          suppress_health_check=list(HealthCheck))  # fmt: skip
settings.load_profile("tests")


def pytest_configure(config: pytest.Config) -> None:
    """Rulebooks are built once a run: the workers inherit the folder from the process that starts them."""
    if not hasattr(config, "workerinput"):
        folder = tempfile.TemporaryDirectory(prefix="ampcite-tests-")
        config.add_cleanup(folder.cleanup)
        os.environ["AMPCITE_CACHE"] = folder.name


def pytest_collection_finish() -> None:
    """Packs and tests live as long as the run; nobody need look through them, again and again, for what is garbage."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
