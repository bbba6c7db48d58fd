"""Which of a rule's clauses a finding prints: those that speak of its part, or may for all that is known.

Own inventions.
"""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

import ampcite
from ampcite.authoring import scaffold
from ampcite.authoring.lint import FAULT, remarks
from ampcite.law.load import load_pack

RULE = """
[[rule]]
id = "disconnect-can-be-locked"
title = "Disconnects can be locked"
family = "locks"
force = "recommendation"
each = "/disconnects/*"
scope = "disconnects that are described"
inputs = {{ role = "role", lockable = "lockable_open" }}
let = {{ of_storage = "role == 'storage disconnect'" }}
holds = "lockable"
passes = "{{each}} can be locked."
fails = "{{each}} can't be locked."
remedy = "Use one that can be locked."
cite = [{cites}]
"""
EXAMPLES = """
[disconnect-can-be-locked]
set = { "disconnects/0/role" = "storage disconnect" }
[[disconnect-can-be-locked.example]]
says = "One that can be locked."
set = { "disconnects/0/lockable_open" = true }
verdict = "pass"
[[disconnect-can-be-locked.example]]
says = "One that can't."
set = { "disconnects/0/lockable_open" = false }
verdict = "warn"
"""


def clause(number: str, when: str = "") -> str:
    return f'{{ clause = {{ 2020 = "{number}" }}, read = "paper"' + (f', when = "{when}"' if when else "") + " }"


def pack(where: Path, *cites: str) -> Path:
    folder = where / "locks"
    folder.mkdir()
    for name, text in scaffold.rules("locks", 2020).items():
        (folder / name).write_text(text, "utf-8")
    rules = folder / "rules.toml"
    rules.write_text(rules.read_text("utf-8") + RULE.format(cites=", ".join(cites)), "utf-8")
    examples = folder / "rules.examples.toml"
    examples.write_text(examples.read_text("utf-8") + EXAMPLES, "utf-8")
    return folder


def printed(folder: Path, **switch: object) -> tuple[str, ...]:
    house = ampcite.read({"disconnects": [{"id": "S", **switch}]})
    (found,) = (f for f in ampcite.check(ampcite.load(2020, folder), house).findings
                if f.rule == "disconnect-can-be-locked")  # fmt: skip
    assert pickle.loads(pickle.dumps(found)).citations == found.citations
    return tuple(one.clause for one in found.citations)


OF_ALL, OF_STORAGE = clause("1"), clause("2", "of_storage")
OF_PV = clause("3", "role in ('pv system disconnect', 'service disconnect')")


@pytest.mark.parametrize(
    ("role", "want"),
    [("storage disconnect", ("1", "2")), ("pv system disconnect", ("1", "3")), ("service disconnect", ("1", "3")),
     ("other", ("1",)), (None, ("1", "2", "3"))],
)  # fmt: skip
@pytest.mark.parametrize("lockable", [True, False, None])
def test_a_finding_prints_the_clauses_of_its_part(tmp_path: Path, role: str | None, want: tuple[str, ...],
                                                  lockable: bool | None) -> None:  # fmt: skip
    said = {name: value for name, value in (("role", role), ("lockable_open", lockable)) if value is not None}
    assert printed(pack(tmp_path, OF_ALL, OF_STORAGE, OF_PV), **said) == want


def test_where_no_clause_speaks_of_a_part_all_are_printed(tmp_path: Path) -> None:
    folder = pack(tmp_path, OF_STORAGE, OF_PV)
    assert printed(folder, role="other", lockable_open=False) == ("2", "3")
    assert printed(folder, role="storage disconnect", lockable_open=False) == ("2",)


def test_a_list_that_nobody_gave_has_no_part_to_ask(tmp_path: Path) -> None:
    report = ampcite.check(ampcite.load(2020, pack(tmp_path, OF_ALL, OF_STORAGE)), ampcite.read({}))
    (found,) = (f for f in report.findings if f.rule == "disconnect-can-be-locked")
    assert not found.decided and [one.clause for one in found.citations] == ["1", "2"]


@pytest.mark.parametrize(
    ("when", "words"),
    [("lockable_role", "lockable_role"), ("role == 'storrage'", "storrage"),
     ("role", "not a yes or no"), ("least_letter_height >= least_letter_height", 'goes by "least_letter_height"')],
)  # fmt: skip
def test_what_a_clause_can_not_go_by(tmp_path: Path, when: str, words: str) -> None:
    found = [one for one in remarks(pack(tmp_path, OF_ALL, clause("2", when)), []) if one.severity == FAULT]
    assert any(words in one.message and 'rule "disconnect-can-be-locked"' in one.place for one in found), found


@pytest.mark.parametrize(
    ("cites", "first"),
    [((OF_ALL, OF_STORAGE), "1"), ((OF_STORAGE, OF_PV), "2; 3"), ((OF_STORAGE, OF_ALL, OF_PV), "2")],
)
def test_what_a_rule_rests_on_first(tmp_path: Path, cites: tuple[str, ...], first: str) -> None:
    """Local law names a rule by it: clauses that share the parts among them are one."""
    rule = load_pack(pack(tmp_path, *cites)).rules["disconnect-can-be-locked"]
    assert rule.rests_on.clause.at(2020) == first and rule.code == "electrical"
