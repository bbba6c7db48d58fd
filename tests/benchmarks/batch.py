"""What a batch costs beside the library alone, as ratios in one run; nothing is asserted.

    python tests/benchmarks/batch.py [--submissions 400] [--workers 2]

Submissions are the shipped houses with names, lengths and readings drawn anew, one in a hundred broken in one of fifty
ways. Times are processor times of this process and its children, so that a busy machine counts less; the speed-up by
workers is of elapsed time. Memory is the most this process held.
"""

from __future__ import annotations

import argparse
import json
import random
import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import ampcite
from ampcite.base.resources import houses
from ampcite.desk.batch import review_all
from ampcite.desk.judge import Task
from ampcite.desk.sources import entries_of


def submissions(count: int, seed: int = 1) -> Iterator[bytes]:
    """Varied submissions as JSON texts; every hundredth is broken."""
    draw = random.Random(seed)
    whole = [json.loads(path.read_text("utf-8")) for path in houses()]
    for i in range(count):
        house = json.loads(json.dumps(draw.choice(whole)))
        house["project"] |= {"name": f"House {i} (invented)", "permit": f"P-{i}"}
        house["project"]["contractor"] = f"Contractor {draw.randrange(40)} (invented)"
        house["readings"]["frequency"] = round(draw.uniform(59, 60.5), 2)
        house["readings"]["line_to_line"] = round(draw.uniform(220, 260), 1)
        house["panels"][0]["main_overcurrent"] = draw.choice([100, 125, 150, 200])
        data = json.dumps(house, separators=(",", ":")).encode()
        yield broken(data, i // 100 % 50, draw) if i % 100 == 99 else data


def broken(data: bytes, way: int, draw: random.Random) -> bytes:
    """A text broken in one of fifty ways: cut, a sign put in or taken out, a field of the wrong kind, none at all."""
    at = draw.randrange(len(data))
    if way < 15:
        return data[:at]
    if way < 30:
        return data[:at] + bytes([draw.choice(b'{}[]",:\\')]) + data[at:]
    if way < 40:
        return data[:at] + data[at + 1 :]
    house: dict[str, Any] = json.loads(data)
    key = sorted(house)[way % len(house)]
    house[key] = draw.choice([0, "x", [], {}, None, [[[]]], {"no": 1}])
    return json.dumps(house).encode() if way < 49 else b"[]"


def processor() -> float:
    """Processor seconds of this process and of children that have ended."""
    return sum(sum(resource.getrusage(who)[:2]) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))


def timed(run: Any) -> tuple[float, float]:
    """Processor and elapsed seconds of a call."""
    cpu, wall = processor(), time.perf_counter()
    run()
    return processor() - cpu, time.perf_counter() - wall


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("--submissions", type=int, default=400)
    ask.add_argument("--workers", type=int, default=2)
    said = ask.parse_args()
    data = list(submissions(said.submissions))
    rulebooks: dict[str, ampcite.Rulebook] = {}

    def alone() -> None:
        for one in data:
            try:
                description = ampcite.read(one)
                key = json.dumps(description.editions)
                if key not in rulebooks:
                    rulebooks[key] = ampcite.load(description.editions)
                report = ampcite.check(rulebooks[key], description)
                ampcite.to_json(report)
            except ampcite.AmpciteError:
                continue

    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "queue.jsonl"
        source.write_bytes(b"\n".join(one.replace(b"\n", b" ") for one in data))
        alone()
        library, _ = timed(alone)
        loads, _ = timed(lambda: [json.loads(one) for one in data if one.endswith(b"}") and one.startswith(b"{")
                                  and _sound(one)])  # fmt: skip
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss

        def batch(where: str, workers: int = 1) -> None:
            review_all(entries_of(source), Path(folder) / where, Task(), "0", workers=workers)

        first, wall = timed(lambda: batch("one"))
        after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        again, _ = timed(lambda: batch("one"))
        _, many = timed(lambda: batch("many", said.workers))
    count = len(data)
    print(f"{count} submissions, {sum(map(len, data)) / count / 1000:.0f} kB each")
    print(f"library alone, JSON to JSON     {1000 * library / count:7.2f} ms each")
    print(f"batch with one process          {1000 * first / count:7.2f} ms each, {first / library:.2f} x the library")
    print(f"the same again, nothing new     {1000 * again / count:7.2f} ms each")
    print(f"over json.loads of the bytes    {first / loads:7.1f} x")
    print(f"{said.workers} workers                       {wall / many:7.2f} x one, elapsed, starts included")
    print(f"memory: {before // 1024} MB before, {after // 1024} MB at most")


def _sound(one: bytes) -> bool:
    try:
        json.loads(one)
    except ValueError:
        return False
    return True


if __name__ == "__main__":
    sys.exit(main())
