"""Which verdicts on the shipped houses a change changes, and a changelog that says so. Source: docs/stability.md."""

from __future__ import annotations

import difflib
import re
import subprocess
import sys
import tomllib

import pytest

import verdicts
from shared import EDITIONS, ROOT, SHIPPED, years

CHANGES = ROOT / "docs" / "changes"
KINDS = {kind["directory"] for kind in tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
         ["tool"]["towncrier"]["type"]}  # fmt: skip
FRAGMENTS = sorted(path for path in CHANGES.iterdir() if path.name != "README.md")


@pytest.mark.parametrize("name", SHIPPED)
def test_verdicts_on_a_shipped_house_are_those_kept(name: str) -> None:
    was, now = verdicts.kept(name).read_text("utf-8"), verdicts.lines(SHIPPED[name])
    if was != now:
        shown = "\n".join(difflib.unified_diff(was.splitlines(), now.splitlines(), "kept", "now", n=0, lineterm=""))
        pytest.fail(
            f"verdicts on {name} change. If that is meant, run `python tests/verdicts.py` and add a fragment "
            f"docs/changes/+SHORT-NAME.verdicts.md that says which and why:\n{shown}",
            pytrace=False,
        )


def test_every_shipped_house_and_no_other_is_kept() -> None:
    assert {path.stem for path in verdicts.FOLDER.iterdir()} == set(SHIPPED)


def test_editions_are_said_in_words_that_can_be_read_back() -> None:
    for found in ([EDITIONS[0]], list(EDITIONS), [EDITIONS[0], EDITIONS[2]], list(EDITIONS[1:3]), [EDITIONS[-1]]):
        assert years(verdicts.spans(found)) == tuple(found)


@pytest.mark.parametrize("path", FRAGMENTS, ids=lambda p: p.name)
def test_a_fragment_of_the_changelog(path) -> None:  # type: ignore[no-untyped-def]
    """Its name says of what kind the change is; its text is sentences about what a user sees."""
    name = re.fullmatch(r"\+[a-z0-9]+(?:-[a-z0-9]+)*\.([a-z]+)\.md", path.name)
    assert name, f"{path.name}: call it +short-name.KIND.md, KIND one of {', '.join(sorted(KINDS))}"
    assert name[1] in KINDS, f"{path.name}: {name[1]} is no kind; the kinds are {', '.join(sorted(KINDS))}"
    text = path.read_text("utf-8").strip()
    assert re.match(r"[A-Z`]", text) and text.endswith("."), f"{path.name}: write sentences"
    assert max(map(len, text.splitlines())) <= 120


def test_the_changelog_can_be_put_together() -> None:
    words = [sys.executable, "-m", "towncrier", "build", "--draft", "--version", "next", "--date", "2026-01-01"]
    out = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    for path in FRAGMENTS:
        assert path.read_text("utf-8").split()[0] in out
