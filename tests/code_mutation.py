"""Which small changes to the code no test notices: a sample, each changed, one at a time, in a copy of the project.

    python tests/code_mutation.py                        60 changes drawn from language, law and engine
    python tests/code_mutation.py --sample 500 --seed 7  more, other ones; the same seed draws the same
    python tests/code_mutation.py --only language/logic  of modules whose name has this in it
    python tests/code_mutation.py --seconds 600          no more are begun after ten minutes

What is changed, and how, comes from mutmut's operators (``pip install mutmut``). Everything else is plain: a changed
file is written, and new processes run the tests, first those of its own wing, then the ones of the rest, until one
fails. Nothing survives from one change to the next, no module, no compiled rulebook; mutmut's own runner forks from a
process whose rulebooks are already made, so that changes to what makes them look unnoticed.
A change counts as noticed when a test fails, the tests can't even be collected, or they take far longer than before.
"""

from __future__ import annotations

import argparse
import difflib
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from importlib.util import cache_from_source
from pathlib import Path
from queue import SimpleQueue

import attrs
import libcst
from mutmut.mutation.file_mutation import Mutation, create_mutations, deep_replace

ROOT = Path(__file__).parent.parent
CODE = Path("src", "ampcite")
COPIED = ("src", "tests", "rulepacks", "schemas", "docs", "README.md", "DEVELOPERS.md", "pyproject.toml")
LANGUAGE = tuple(f"tests/language/test_{name}.py"
                 for name in ("refused_formulas", "wording", "tables", "logic", "quantity", "language"))  # fmt: skip
WINGS: dict[str, tuple[tuple[str, ...], ...]] = {
    "language": (LANGUAGE, ("tests/docs/test_docs.py::test_generated_pages_are_current", "tests/report")),
    "engine": (LANGUAGE[-1:], ("tests/report", "tests/engine/test_rulebook.py", "tests/engine/test_again.py"),
               ("tests/engine/test_cache.py", "tests/engine/test_unconfirmed.py", "tests/engine/test_unread.py",
                "tests/house/test_form.py", "tests/house/test_roof.py", "tests/reviewing/test_comments.py")),
    "law": (("tests/law/test_local_law.py", "tests/law/test_pack_faults.py", "tests/law/test_sections_of_law.py"),
            ("tests/law/test_hostile_packs.py", "tests/law/test_narrow.py", "tests/law/test_set.py",
             "tests/law/test_law_page.py", "tests/authoring/test_mistakes.py", "tests/law/test_ordinances.py"),
            ("tests/law/test_carry.py", "tests/rulepacks/test_second_reader.py", "tests/house/test_bad_input.py",
             "tests/docs/test_docs.py")),
}  # fmt: skip
"""The wings whose code is changed, each with the tests that are run, in turns, until one fails: quick ones first."""

SLOWER, SPARE = 4, 60
"""How many times as long as without the change, and how many seconds more, tests may take."""


@attrs.frozen
class Change:
    """One change: a file below the root, its place among the file's changes, the file as it becomes, the lines."""

    file: Path
    number: int
    after: str = attrs.field(repr=False)
    lines: str = attrs.field(repr=False)

    @property
    def name(self) -> str:
        return f"{self.file.relative_to(CODE).with_suffix('')} {self.number}"


def drawn(only: Sequence[str], count: int, seed: int) -> list[Change]:
    """So many changes, each that is possible as likely as another; all where there are not so many."""
    files = [path.relative_to(ROOT) for wing in WINGS for path in sorted((ROOT / CODE / wing).rglob("*.py"))]
    chosen = [file for file in files if not only or any(part in file.as_posix() for part in only)]
    found = {file: create_mutations(str(file), (ROOT / file).read_text("utf-8"))[:2] for file in chosen}
    known = [(file, number) for file, (_, several) in found.items() for number in range(len(several))]
    print(f"{len(known)} changes are possible", flush=True)
    draw = random.Random(seed).sample(known, min(count, len(known)))
    return [made(file, number, *found[file]) for file, number in draw]


def made(file: Path, number: int, module: libcst.Module, several: Sequence[Mutation]) -> Change:
    """One of a file's changes."""
    changed = deep_replace(module, several[number].original_node, several[number].mutated_node)
    assert isinstance(changed, libcst.Module)
    diff = difflib.unified_diff(module.code.splitlines(), changed.code.splitlines(), n=0, lineterm="")
    return Change(file, number, changed.code, "\n".join(line for line in diff if not line.startswith(("---", "+++"))))


def run(copy: Path, tests: Sequence[str], seconds: float | None = None) -> tuple[str, str]:
    """How the tests end in a copy, "passed", "failed" or "too long", and which failed first."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "--no-header", "--tb=no", "-p", "no:cacheprovider", *tests]
    where = {**os.environ, "PYTHONPATH": str(copy / "src")}
    try:
        done = subprocess.run(command, cwd=copy, env=where, capture_output=True, text=True, timeout=seconds)
    except subprocess.TimeoutExpired:
        return "too long", ""
    told = [line for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return "failed" if done.returncode else "passed", told[0][:110] if told else done.stderr[-110:]


def put(place: Path, text: str) -> None:
    """Writes a file of code, of which nothing compiled is left."""
    place.write_text(text, "utf-8")
    Path(cache_from_source(str(place))).unlink(missing_ok=True)


class Bench:
    """Copies of the project, one for each worker, and how long the tests take in one as it is."""

    def __init__(self, folder: Path, workers: int) -> None:
        self.took: dict[tuple[str, ...], float] = {}
        self.free: SimpleQueue[Path] = SimpleQueue()
        for n in range(workers):
            copy = folder / str(n)
            copy.mkdir()
            for name in COPIED:
                whole = ROOT / name
                if whole.is_dir():
                    shutil.copytree(whole, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
                else:
                    shutil.copy2(whole, copy / name)
            self.free.put(copy)

    def measure(self, tests: tuple[str, ...]) -> None:
        """Runs tests of which nothing is changed: they must pass, or nothing could be told by them."""
        copy, begun = self.free.get(), time.monotonic()
        how, first = run(copy, tests)
        self.free.put(copy)
        if how != "passed":
            raise SystemExit(f"without a change: {first}")
        self.took[tests] = time.monotonic() - begun

    def tried(self, change: Change) -> tuple[str, str]:
        """What the tests say of a change: "failed", "too long" or "unnoticed", and which test."""
        copy = self.free.get()
        place = copy / change.file
        before = place.read_text("utf-8")
        try:
            put(place, change.after)
            for tests in WINGS[change.file.relative_to(CODE).parts[0]]:
                how, first = run(copy, tests, self.took[tests] * SLOWER + SPARE)
                if how != "passed":
                    return how, first
            return "unnoticed", ""
        finally:
            put(place, before)
            self.free.put(copy)


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--sample", type=int, default=60)
    options.add_argument("--seed", type=int, default=0)
    options.add_argument("--only", action="append", default=[], help="part of a module's path, such as engine/bind")
    options.add_argument("--seconds", type=float, default=float("inf"))
    options.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    options.add_argument("--least", type=float, default=0, help="the share, in percent, that must be noticed")
    chosen = options.parse_args()
    begun = time.monotonic()
    sample = drawn(chosen.only, chosen.sample, chosen.seed)
    count: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(chosen.workers) as pool:
        bench = Bench(Path(folder), chosen.workers)
        wings = {one.file.relative_to(CODE).parts[0] for one in sample}
        list(pool.map(bench.measure, sorted({tests for wing in wings for tests in WINGS[wing]})))

        def try_one(change: Change) -> None:
            if time.monotonic() - begun > chosen.seconds:
                return
            how, first = bench.tried(change)
            count[how] += 1
            print(f"{change.name}: {how} {first or change.lines}", flush=True)

        list(pool.map(try_one, sample))
    noticed, tried = count["failed"] + count["too long"], count.total()
    share = noticed / max(1, tried)
    print(f"score: {noticed} of {tried} changes noticed, {share:.1%} ({count['too long']} by their time)")
    return int(share * 100 < chosen.least)


if __name__ == "__main__":
    sys.exit(main())
