"""A queue on the workers of a real scheduler: the same bytes, also when a worker is killed; packs go by content."""

from __future__ import annotations

import json
import os
import shutil
import signal
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from distributed import LocalCluster

import ampcite
from ampcite.desk import workers
from ampcite.desk.batch import review_all
from ampcite.desk.judge import Task
from ampcite.desk.sources import entries_of
from shared import FOLDERS, shipped_house

pytestmark = pytest.mark.thorough

OUTPUTS = ("submissions.csv", "findings.csv", "summary.json", "state.json")


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as one:
        yield one


@pytest.fixture(scope="module")
def queue(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("queue") / "queue.jsonl"
    house = shipped_house("converter-strings")
    lines = []
    for i in range(24):
        house["project"]["name"] = f"House {i} (invented)"
        house["readings"]["frequency"] = 59 + i / 12
        lines.append(json.dumps(house))
    path.write_text("\n".join([*lines, "{", "[]"]), "utf-8")
    return path


def outputs(out: Path) -> dict[str, bytes]:
    return {name: (out / name).read_bytes() for name in OUTPUTS}


def test_the_same_bytes_as_here_also_when_a_worker_is_killed(cluster: Any, queue: Path, tmp_path: Path,
                                                             monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    monkeypatch.setattr(workers, "CHUNK", 2)
    review_all(entries_of(queue), tmp_path / "here", Task(), "0")
    pid = next(iter(cluster.workers.values())).pid
    killed = threading.Event()

    def progress(done: int, whole: int) -> None:
        if done >= 4 and not killed.is_set():
            killed.set()
            os.kill(pid, signal.SIGKILL)

    review_all(entries_of(queue), tmp_path / "there", Task(), "0", cluster=cluster.scheduler_address, progress=progress)
    assert killed.is_set() and outputs(tmp_path / "there") == outputs(tmp_path / "here")


def test_a_pack_in_a_folder_goes_by_content(cluster: Any, queue: Path, tmp_path: Path) -> None:
    folder = tmp_path / "communications"
    shutil.copytree(FOLDERS["communications"], folder)
    task = Task(packs=(str(folder),))
    review_all(entries_of(queue), tmp_path / "here", task, "0")
    review_all(entries_of(queue), tmp_path / "there", task, "0", cluster=cluster.scheduler_address)
    assert outputs(tmp_path / "there") == outputs(tmp_path / "here")


def test_no_scheduler(queue: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(ampcite.ArgumentError, match="no scheduler answers"):
        review_all(entries_of(queue), tmp_path / "out", Task(), "0", cluster="nonsense")
