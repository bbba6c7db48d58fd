"""How long the letter of a large submission takes: the library, and the command started anew, for each form.

The submission is the largest shipped house with as many of the planted mistakes as it can hold together; times are of
the processor, the best of some runs, so that a busy machine disturbs little. The aim is a second for each form.

    python tests/benchmarks/letters.py [--mistakes N]
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

import ampcite
from ampcite.letters.as_docx import to_docx
from ampcite.letters.as_html import to_html
from ampcite.letters.as_pdf import to_pdf
from ampcite.letters.compose import compose
from letters_shared import DAY, MOST_MISTAKES, many_mistakes

RUNS = 3
COMMAND = "from ampcite.command.main import main; main()"


def best(work: Callable[[], object]) -> float:
    """Seconds of the processor, the least of some runs."""
    def once() -> float:
        began = time.process_time()
        work()
        return time.process_time() - began

    return min(once() for _ in range(RUNS))


def command(house: Path, out: Path) -> tuple[float, float]:
    """Seconds of the processor and by the clock of the command, the least of some runs."""
    found = []
    for _ in range(RUNS):
        before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
        words = [sys.executable, "-c", COMMAND, "letter", str(house), "--date", DAY, "--out", str(out)]
        subprocess.run(words, capture_output=True, check=False, env=os.environ)
        after, passed = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic() - began
        found.append((after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, passed))
    return min(one for one, _ in found), min(passed for _, passed in found)


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("--mistakes", type=int, default=MOST_MISTAKES)
    house = many_mistakes("plain-strings", ask.parse_args().mistakes)
    description = ampcite.read(house)
    rules = ampcite.load(description.editions)
    letter = compose(ampcite.review(rules, description, stage="plan review"), description, date=DAY)
    print(f"{len(json.dumps(house)) / 1000:.0f} kB, {len(letter.items)} numbered comments")
    made = best(lambda: compose(ampcite.review(rules, description, stage="plan review"), description, date=DAY))
    print(f"library, reviewed and composed  {made:6.2f} s")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "house.json"
        path.write_text(json.dumps(house), "utf-8")
        for ending, draw in (("html", to_html), ("pdf", to_pdf), ("docx", to_docx)):
            drawn = best(lambda draw=draw: draw(letter))  # type: ignore[misc]
            used, passed = command(path, path.with_suffix(f".{ending}"))
            print(f"{ending:<5} drawn {drawn:5.2f} s; in all {made + drawn:5.2f} s; "
                  f"the command started anew {used:5.2f} s of the processor, {passed:5.2f} s by the clock")


if __name__ == "__main__":
    main()
