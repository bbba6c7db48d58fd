"""A rule that local law narrows: what nobody claims never makes a part that keeps the rule undecided.

The layer is written here, over the shipped packs; descriptions are invented.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import ampcite
from ampcite.house.write import written
from ampcite.law.applied import Law

HEAD = """
[pack]
name = "narrow-town"
title = "Narrow Town (invented)"
version = "1"
editions = [2020]
work = "local"
[pack.works]
local = "Narrow Town Code (invented),"
[pack.sources]
act = { title = "An invented act", body = "Narrow Town (invented)", year = "2024" }
[authority]
name = "Narrow Town (invented)"
level = "city"
against = { electrical = 2020 }
"""
CHANGE = """
[[amend]]
id = "outside-only"
do = "narrow"
rule = "handle-too-high"
expects = "404.8(A)"
where = "place == 'outside'"
inputs = { place = "place" }
scope = "outside"
why = "Invented."
clause = "1"
read = "act"
"""


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> ampcite.Rulebook:
    folder: Path = tmp_path_factory.mktemp("narrow-town")
    (folder / "pack.toml").write_text(HEAD, "utf-8")
    (folder / "changes.toml").write_text(CHANGE, "utf-8")
    return ampcite.load(Law({"electrical": 2020}, (), "", ()), [folder])


def verdict(book: ampcite.Rulebook, switch: dict[str, Any]) -> str:
    document = written({"disconnects": [{"id": "S1", "role": "pv system disconnect", **switch}]})
    report = ampcite.check(book, ampcite.read(document))
    found = [f for f in report.findings if f.rule == "handle-too-high"]
    return "" if not found else str(found[0].verdict) if found[0].decided else "undecided"


SWITCH = {"kind": "unfused switch"}


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        ({**SWITCH, "place": "outside", "handle_height": 60}, "pass"),
        ({**SWITCH, "place": "outside", "handle_height": 90}, "fail"),
        ({**SWITCH, "place": "inside", "handle_height": 90}, ""),
        ({**SWITCH, "place": "inside", "handle_height": 60}, ""),
        ({**SWITCH, "handle_height": 60}, "pass"),
        ({**SWITCH, "handle_height": 79}, "pass"),
        ({**SWITCH, "handle_height": 90}, "undecided"),
        (SWITCH, "undecided"),
        ({"handle_height": 60}, "undecided"),
    ],
    ids=["kept", "broken", "outside it", "outside it though kept", "unclaimed and kept", "unclaimed at the limit",
         "unclaimed and broken", "nothing stated", "its own scope unknown"],
)  # fmt: skip
def test_an_exception_nobody_claims_leaves_a_kept_rule_passing(
    book: ampcite.Rulebook, facts: dict[str, Any], expected: str
) -> None:
    assert verdict(book, facts) == expected
