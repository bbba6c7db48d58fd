"""Changes every figure in the pack files by one unit in its last place, one at a time, and asks the tests to notice.

    python tests/mutation.py             every figure (long)
    python tests/mutation.py --sample 40 a sample, the same for the same files
    python tests/mutation.py --list      the figures, without running anything

A figure is a number that stands as a value: a cell of a CSV file, a bare number in a TOML file (limits, steps and
givens of examples, editions), a text that is a number or a quantity, and every number of a clause. Prose (titles,
notes, sentences of a finding, which by another test put figures in from parameters) and the head of a pack (its
version, the years of its sources) are not figures. For each change the tests that read packs are run on a copy of the
project. The score is the share of changes that some test notices; the exit status is 1 while any goes unnoticed.
"""

from __future__ import annotations

import argparse
import concurrent.futures
import hashlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import attrs

ROOT = Path(__file__).resolve().parent.parent
NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?![\w]|\.\d)")
PROSE = re.compile(r"^\s*(?:title|meaning|note|passes|fails|remedy|says|scope|family|id|version|covers)\s*=")
TESTS = ("test_typed_twice.py", "test_laws.py", "test_rule_examples.py")


@attrs.frozen
class Change:
    """One figure of one file, and the text that takes its place."""

    file: Path
    start: int
    stop: int
    old: str
    new: str
    line: int
    rule: str

    def __str__(self) -> str:
        return f"{self.file.relative_to(ROOT)}:{self.line}: {self.old} -> {self.new}"


def one_more(text: str) -> str:
    """A decimal text with one unit more in its last place."""
    places = len(text.partition(".")[2])
    scaled = int(text.replace(".", "")) + 1
    sign, digits = ("-", -scaled) if scaled < 0 else ("", scaled)
    whole = str(digits).rjust(places + 1, "0")
    return sign + (f"{whole[:-places]}.{whole[-places:]}" if places else whole)


def changes() -> Iterator[Change]:
    """Every change there is."""
    for file in sorted(ROOT.glob("rulepacks/*/*")):
        if file.suffix == ".csv":
            yield from _cells(file)
        elif file.name != "pack.toml":
            yield from _toml(file)


def _change(file: Path, text: str, start: int, stop: int, rule: str) -> Change:
    old = text[start:stop]
    return Change(file, start, stop, old, one_more(old), text.count("\n", 0, start) + 1, rule)


def _cells(file: Path) -> Iterator[Change]:
    text = file.read_text("utf-8")
    body = text.index("\n") + 1
    for found in re.finditer(r"(?:(?<=,)|(?<=\n))-?\d+(?:\.\d+)?(?=,|\n)", text[body - 1 :]):
        yield _change(file, text, body - 1 + found.start(), body - 1 + found.end(), "")


def _toml(file: Path) -> Iterator[Change]:
    text = file.read_text("utf-8")
    place, rule = 0, ""
    for line in text.splitlines(keepends=True):
        if line.startswith("[["):
            rule = rule if line.startswith("[[rule.way") else ""
        if found := re.match(r'id = "([^"]+)"', line):
            rule = found.group(1)
        if not PROSE.match(line) and not line.startswith("#"):
            for start, stop in _figures(line):
                yield _change(file, text, place + start, place + stop, rule)
        place += len(line)


def _figures(line: str) -> Iterator[tuple[int, int]]:
    """Where figures stand in a line: bare numbers that are no keys, and figures inside texts that may hold them."""
    at = 0
    for quoted in [*re.finditer(r'"[^"]*"', line), None]:
        bare = line[at : quoted.start() if quoted else len(line)]
        for found in NUMBER.finditer(bare):
            if not re.match(r"\s*=", bare[found.end() :]):
                yield at + found.start(), at + found.end()
        if quoted is None:
            return
        before = line[: quoted.start()]
        inside = quoted.group()[1:-1]
        key = re.search(r'([\w"/-]+)\s*=\s*$', before)
        name = key.group(1).strip('"') if key else ""
        is_key = line[quoted.end() :].lstrip().startswith("=")
        if not is_key and (name.isdigit() or re.fullmatch(r"-?\d[\d./ -]*( ?[A-Za-z%/]+)*[\d. A-Za-z]*", inside)):
            if "read" in before.rpartition("{")[0][-8:] or name in ("source", "says", "model"):
                at = quoted.end()
                continue
            for found in re.finditer(r"(?<![\w])-?\d+(?:\.\d+)?" if not name.isdigit() else r"\d+(?:\.\d+)?", inside):
                yield quoted.start() + 1 + found.start(), quoted.start() + 1 + found.end()
        at = quoted.end()


def copy_project(into: Path) -> None:
    """A copy of what the tests need."""
    for name in ("src", "rulepacks", "schemas", "tests", "pyproject.toml"):
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, into / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy2(source, into / name)


def noticed(change: Change, copy: Path) -> str:
    """The test file that notices a change in a copy of the project, or ""."""
    target = copy / change.file.relative_to(ROOT)
    before = target.read_text("utf-8")
    target.write_text(before[: change.start] + change.new + before[change.stop :], "utf-8")
    try:
        for test in TESTS:
            words = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", f"tests/{test}"]
            if change.rule and test == "test_rule_examples.py":
                words += ["-k", change.rule]
            done = subprocess.run(words, cwd=copy, capture_output=True, text=True, check=False,
                                  env={**os.environ, "PYTHONPATH": str(copy / "src"), "AMPCITE_CACHE": ""})  # fmt: skip
            if done.returncode not in (0, 5):
                return test
        return ""
    finally:
        target.write_text(before, "utf-8")


def _work(batch: list[Change]) -> list[tuple[Change, str]]:
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        copy_project(copy)
        return [(change, noticed(change, copy)) for change in batch]


def main() -> int:
    """Runs the changes asked for and reports the score."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sample", type=int, default=0)
    parser.add_argument("--list", action="store_true")
    asked = parser.parse_args()
    todo = list(changes())
    if asked.sample:
        todo.sort(key=lambda c: hashlib.sha256(f"{c.file.name} {c.start} {c.old}".encode()).hexdigest())
        todo = todo[: asked.sample]
    if asked.list:
        print("\n".join(map(str, todo)))
        return 0
    with tempfile.TemporaryDirectory() as folder:
        copy_project(Path(folder))
        untouched = attrs.evolve(todo[0], new=todo[0].old, rule="")
        if blamed := noticed(untouched, Path(folder)):
            print(f"the tests fail without any change ({blamed}); mend them first")
            return 2
    workers = os.cpu_count() or 1
    size = max(1, min(40, len(todo) // workers))
    batches = [todo[i : i + size] for i in range(0, len(todo), size)]
    missed, done = [], 0
    with concurrent.futures.ProcessPoolExecutor(workers) as pool:
        for results in pool.map(_work, batches):
            done += len(results)
            missed += [change for change, test in results if not test]
            print(f"{done} of {len(todo)} changes, {len(missed)} unnoticed", flush=True)
    for change in missed:
        print(f"unnoticed: {change}")
    print(f"score: {len(todo) - len(missed)} of {len(todo)} changes noticed, {1 - len(missed) / len(todo):.1%}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
