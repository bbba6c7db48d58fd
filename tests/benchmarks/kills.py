"""A long queue, killed again and again: nothing is lost, nothing done twice, and the bytes are those of a run in peace.

    PYTHONPATH=tests python tests/benchmarks/kills.py FOLDER [--submissions 20000] [--kills 100] [--seconds 800]

It can be stopped, or stops after so many seconds, and goes on when it is called again with the same folder, until it
has killed so often and compared. Ends with 0 when all is as it should be, 3 where it is not at its end yet.
"""

from __future__ import annotations

import argparse
import csv
import json
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from benchmarks.queues import BROKEN, as_column, submissions

OUTPUTS = ("submissions.csv", "submissions.parquet", "findings.csv", "findings.parquet", "summary.txt", "summary.json",
           "summary.html", "state.json")  # fmt: skip

RUN = """
import sys
from pathlib import Path
from ampcite.desk import workers
from ampcite.desk.batch import review_all
from ampcite.desk.judge import Task
from ampcite.desk.sources import entries_of
if __name__ == "__main__":
    workers.CHUNK = int(sys.argv[4])
    review_all(entries_of(Path(sys.argv[1])), Path(sys.argv[2]), Task(), "0", workers=int(sys.argv[3]))
"""


def command(source: Path, out: Path, workers: int, chunk: int) -> Sequence[str]:
    """What runs a batch; the script stands beside its output."""
    script = out.parent / "run.py"
    script.write_text(RUN, "utf-8")
    return [sys.executable, str(script), str(source), str(out), str(workers), str(chunk)]


def killed(run: Sequence[str], out: Path, after: float) -> bool:
    """Starts a batch and kills it after so many seconds; whether it was still running. What it left is looked at.

    Raises:
        AssertionError: when a file is there half written, or the batch ended by itself in another way than well.
    """
    process = subprocess.Popen(run, stderr=subprocess.PIPE)
    try:
        process.wait(after)
    except subprocess.TimeoutExpired:
        process.kill()
    _, errors = process.communicate()
    assert process.returncode in (0, -signal.SIGKILL), errors.decode()
    for path in out.rglob("*") if out.exists() else ():
        if path.is_file() and not path.name.startswith("."):
            assert path.suffix != ".part", path
            if path.suffix == ".json":
                json.loads(path.read_bytes())
            if path.suffix in (".jsonl", ".results"):
                assert path.read_bytes().endswith(b"\n"), path
    return process.returncode != 0


def bytes_of(out: Path) -> dict[str, bytes]:
    return {name: (out / name).read_bytes() for name in OUTPUTS}


def nothing_lost(out: Path, count: int) -> Counter[str]:
    """The outcomes of a queue of so many.

    Raises:
        AssertionError: when one is not there, or there twice, or one broken in any of the fifty ways was judged.
    """
    with (out / "submissions.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["name"] for row in rows] == [f"row {i + 1}" for i in range(count)]
    unusable = {i for i, row in enumerate(rows) if row["outcome"] == "unusable"}
    assert unusable == set(range(99, count, 100)), sorted(unusable ^ set(range(99, count, 100)))[:5]
    assert all(rows[i]["reason"] for i in unusable) and (count < 5000 or len(unusable) >= len(BROKEN))
    return Counter(row["outcome"] for row in rows)


def main() -> int:
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("folder", type=Path)
    ask.add_argument("--submissions", type=int, default=20_000)
    ask.add_argument("--kills", type=int, default=100)
    ask.add_argument("--seconds", type=float, default=800.0)
    said = ask.parse_args()
    end = time.monotonic() + said.seconds
    folder: Path = said.folder
    folder.mkdir(parents=True, exist_ok=True)
    source, ended, state = folder / "queue.parquet", folder / "peace" / "state.json", folder / "kills.json"
    if not source.exists():
        as_column(folder / "begun", submissions(said.submissions))
        (folder / "begun").rename(source)
    kills, number = json.loads(state.read_text("utf-8")) if state.exists() else (0, 0)
    draw = random.Random(kills)
    while kills < said.kills:
        out = folder / f"killed-{number}"
        left = end - time.monotonic()
        if left < 30:
            print(f"{kills} kills so far, run {number + 1}; call it again to go on")
            return 3
        if killed(command(source, out, 1 + kills % 2, 32), out, min(left, draw.uniform(0.3, 25.0))):
            kills += 1
        else:
            number += 1
        state.write_text(json.dumps([kills, number]), "utf-8")
    for out in (folder / f"killed-{number}", folder / "peace"):
        left = end - time.monotonic()
        if not (out / "state.json").exists() and (left < 30 or killed(command(source, out, 2, 32), out, left)):
            print(f"{kills} kills, and not through yet; call it again to go on")
            return 3
    assert ended.exists()
    wanted, outcomes = bytes_of(folder / "peace"), nothing_lost(folder / "peace", said.submissions)
    compared = [i for i in range(number + 1) if (folder / f"killed-{i}" / "state.json").exists()]
    for i in compared:
        assert bytes_of(folder / f"killed-{i}") == wanted, i
    print(f"{said.submissions} submissions, {kills} kills, {len(compared)} runs of the same bytes: {dict(outcomes)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
