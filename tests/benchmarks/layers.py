"""What three layers of local law cost when the national packs are loaded, as a ratio measured in one run.

    python tests/benchmarks/layers.py

The cache of compiled rulebooks is off. The aim: loading with three layers takes at most 1.5 times loading without.
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ["AMPCITE_CACHE"] = ""

import ampcite
from ampcite.authoring import scaffold
from ampcite.law.applied import Law

EDITIONS = {"electrical": 2020, "building": 2021}
LEVELS = ("state", "county", "city")


def layers(folder: Path) -> tuple[Path, ...]:
    """Three layers, each with the two changes of a new one."""
    out = []
    for height, level in zip((79, 78, 77), LEVELS, strict=True):
        where = folder / f"the-{level}"
        where.mkdir()
        for name, text in scaffold.layer(where.name, f"The {level} (invented)", level, EDITIONS).items():
            text = text.replace('"79"', f'"{height}"').replace('"72"', f'"{height - 1}"')
            text = text.replace("local-placard", f"placard-of-the-{level}")
            (where / name).write_text(text, "utf-8")
        out.append(where)
    return tuple(out)


def seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> None:
    """Measures and prints the ratio."""
    with tempfile.TemporaryDirectory() as name:
        three = layers(Path(name))
        ratios = []
        for _ in range(7):
            without = seconds(lambda: ampcite.load(Law(EDITIONS, (), "2026-01-01", ())))
            ratios.append(seconds(lambda: ampcite.load(Law(EDITIONS, three, "2026-01-01", ()))) / without)
    print(f"{'loading with three layers over loading without':<78} {statistics.median(ratios):8.3f}   aim at most 1.5")


if __name__ == "__main__":
    main()
