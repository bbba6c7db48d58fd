"""What a queue costs beside the library alone, as ratios in one run; nothing is asserted.

    PYTHONPATH=tests python tests/benchmarks/batch.py [--submissions 2000] [--workers 2]

The submissions are those of ``benchmarks/queues.py``. Costs are processor times, of which a busy machine adds little;
the speed-up is of elapsed time and means something only where nothing else runs. What it would be on a quiet machine is
reckoned beside it from processor times: what only the asking process does, and what the workers do at the same time.
Each batch is a process of its own, and its memory is the most that the asking one held.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import ampcite
from ampcite.desk.batch import review_all
from ampcite.desk.judge import Task
from ampcite.desk.sources import entries_of
from benchmarks.queues import as_column, submissions


class Cost(NamedTuple):
    """Seconds of a batch, and megabytes: of the process that asks, of its workers, elapsed, the most it held."""

    asking: float
    workers: float
    elapsed: float
    memory: int


def one_batch(source: Path, out: Path, workers: int) -> Cost:
    """Runs a batch in this process."""
    start = time.perf_counter()
    review_all(entries_of(source), out, Task(), "0", workers=workers)
    elapsed = time.perf_counter() - start
    own, below = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    return Cost(own.ru_utime + own.ru_stime, below.ru_utime + below.ru_stime, elapsed, held())


def held() -> int:
    """The most memory this process held, in MB; Linux counts in ``ru_maxrss`` what the process that began it held."""
    status = Path("/proc/self/status")
    if status.exists():
        return int(status.read_text().partition("VmHWM:")[2].split()[0]) // 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def batch(source: Path, out: Path, workers: int) -> Cost:
    """Runs a batch in a process of its own."""
    command = [sys.executable, __file__, "--run", str(source), str(out), "--workers", str(workers)]
    return Cost(*json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout))


def each(work: Callable[[bytes], object], data: list[bytes]) -> float:
    """Processor milliseconds a submission."""
    start = time.process_time()
    for one in data:
        work(one)
    return 1000 * (time.process_time() - start) / len(data)


def alone() -> Callable[[bytes], object]:
    """What the library does with a submission, from JSON to JSON."""
    books: dict[str, ampcite.Rulebook] = {}

    def one(data: bytes) -> object:
        try:
            description = ampcite.read(data)
            key = json.dumps(description.editions)
            if key not in books:
                books[key] = ampcite.load(description.editions)
            return ampcite.to_json(ampcite.check(books[key], description))
        except ampcite.AmpciteError:
            return None

    return one


def parsed(data: bytes) -> object:
    try:
        return json.loads(data)
    except (ValueError, RecursionError):
        return None


def compare(count: int, workers: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        data = list(submissions(count))
        as_column(folder / "queue.parquet", data)
        as_column(folder / "short.parquet", data[: count // 10])
        work = alone()
        for one in data[:100]:
            work(one)  # rulebooks are loaded, and words that are made once
        loads, library = each(parsed, data), each(work, data)
        single = batch(folder / "queue.parquet", folder / "single", 1)
        short = batch(folder / "short.parquet", folder / "short", 1)
        again = batch(folder / "queue.parquet", folder / "single", 1)
        many = batch(folder / "queue.parquet", folder / "many", workers)
        few = batch(folder / "short.parquet", folder / "few", workers)
    kilobytes = sum(map(len, data)) / count / 1000
    more = count - count // 10
    marginal = 1000 * (single.asking - short.asking) / more
    print(f"{count} submissions of {kilobytes:.0f} kB; json.loads of them takes {loads:.2f} ms each")
    print(f"library alone, JSON to JSON          {library:8.2f} ms each, {library / loads:.1f} x json.loads")
    print(f"batch in one process                 {1000 * single.asking / count:8.2f} ms each, starts included, "
          f"{1000 * single.asking / count / library:.2f} x the library   aim at most 1.3")
    print(f"  of each further submission         {marginal:8.2f} ms, {marginal / library:.2f} x the library")
    print(f"  over json.loads of the same bytes  {1000 * single.asking / count / loads:8.1f} x")
    print(f"  the same again, nothing new        {1000 * again.asking / count:8.2f} ms each")
    print(f"one process                          {count / single.elapsed:8.0f} a second")
    print(f"{workers} workers                            {count / many.elapsed:8.0f} a second, "
          f"{single.elapsed / many.elapsed:.2f} x one, elapsed   aim 1.8")
    asks = 1000 * (many.asking - few.asking) / more
    checks = 1000 * (many.workers - few.workers) / more
    print(f"  the asking process                 {asks:8.2f} ms each; workers {checks:.2f} ms each")
    print(f"  so, each with a core, at most      {marginal / max(asks, (asks + checks) / workers):8.2f} x one")
    print(f"memory of the asking process with {workers} workers: {few.memory} MB for {count // 10}, "
          f"{many.memory} MB for {count}; alone {short.memory} and {single.memory} MB")


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("--submissions", type=int, default=2000)
    ask.add_argument("--workers", type=int, default=2)
    ask.add_argument("--run", nargs=2, type=Path, metavar=("SOURCE", "OUT"), help=argparse.SUPPRESS)
    said = ask.parse_args()
    if said.run:
        print(json.dumps(one_batch(*said.run, said.workers)))
    else:
        compare(said.submissions, said.workers)


if __name__ == "__main__":
    main()
