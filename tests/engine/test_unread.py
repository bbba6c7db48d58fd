"""What a description speaks of and no rule in use reads is named, so that silence about it is no pass.

The houses are invented; which rules read what follows from the packs' subjects.
"""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

import ampcite
from ampcite.command.main import main
from shared import EDITIONS, SHIPPED, rulebook, shipped_house

HOUSE = {
    "project": {"name": "An invented house"},
    "roof": {"planes": [{"id": "P"}]},
    "storage": [{"id": "B"}],
    "communications": [{"id": "N", "kind": "twisted-pair ethernet"}],
}


def unread(*packs: str) -> tuple[str, ...]:
    return ampcite.check(rulebook(2020, packs or None), ampcite.read(HOUSE)).unread


def test_lists_and_objects_that_no_rule_in_use_reads_are_named_once_each_in_the_order_of_the_format() -> None:
    assert unread("communications") == ("roof", "roof planes", "storage units")
    assert unread("roof") == ("communication runs", "storage units")
    assert unread() == ()


@pytest.mark.parametrize("edition", EDITIONS[-1:])
@pytest.mark.parametrize("name", SHIPPED)
def test_all_packs_together_read_all_of_a_shipped_house(name: str, edition: int) -> None:
    assert ampcite.check(rulebook(edition), ampcite.read(shipped_house(name))).unread == ()


def test_both_reports_name_it() -> None:
    def written(form: str) -> str:
        words = ["check", "-", "--edition", "2020", "--pack", "communications", "--format", form]
        return CliRunner().invoke(main, words, input=json.dumps(HOUSE)).stdout

    assert json.loads(written("json"))["unread"] == ["roof", "roof planes", "storage units"]
    assert "roof, roof planes, storage units" in written("text")
