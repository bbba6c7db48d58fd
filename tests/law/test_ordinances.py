"""What ordinances say, as packs of invented jurisdictions: what each change relieves, breaks and is refused for.

``tests/local/ordinances.csv`` accounts for 116 published changes of law, in our own words: how each is said, in which
pack one like it was written, or why it can't be said or is not about a house; ``further.csv`` for thirty more, which
were looked for after the first were done. Every jurisdiction, name and figure in
the packs is an own invention; expected answers follow from the invented law.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import attrs
import pytest

import ampcite
from ampcite.authoring.lint import FAULT, remarks
from ampcite.authoring.testing import answer, document, faults, layer_trials
from ampcite.engine.rulebook import Rulebook
from ampcite.law.applied import Law
from ampcite.law.changes import Amendment
from ampcite.law.load import load_pack
from ampcite.law.overlay import lay
from ampcite.law.records import Pack
from ampcite.law.registry import changed_by, chosen_folders, dependencies
from shared import TESTS, sample

LOCAL = TESTS / "local"
FOLDERS = sorted(path.parent for path in LOCAL.glob("*/pack.toml"))
LAYERS: dict[str, Pack] = {folder.name: load_pack(folder) for folder in FOLDERS}
CHANGES = [(name, one) for name, layer in LAYERS.items() for one in layer.amendments]
NOT_ABOUT, NOT_SAID = "not about a house", "not sayable"


def rows(name: str = "ordinances") -> list[dict[str, str]]:
    with (LOCAL / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_nine_in_ten_of_the_changes_that_bear_on_a_house_can_be_said() -> None:
    bear = [row for row in rows() if row["how"] != NOT_ABOUT]
    said = [row for row in bear if row["how"] != NOT_SAID]
    assert len(rows()) == 116 and len(bear) >= 100 and len(said) >= 0.9 * len(bear)
    assert all(row["note"] for row in rows() if row["how"] in (NOT_ABOUT, NOT_SAID)), "each with its reason"


def test_forty_of_them_are_written_after_fifteen_bodies() -> None:
    written = [row for row in rows() if row["packs"]]
    assert len(written) >= 40 and len({row["body"] for row in written}) >= 15
    further = [row for row in rows("further") if row["packs"]]
    assert len(further) >= 30 and len({row["body"] for row in further}) >= 20
    for row in written + further:
        for name in row["packs"].split():
            texts = [path.read_text("utf-8") for path in (LOCAL / name).glob("*.toml")]
            assert any(row["id"] in text for text in texts), row


def test_what_only_changes_strikes_or_conditions_needs_no_own_rule() -> None:
    """Where a rule of its own is written all the same, the reason is a duty that the model code does not have."""
    for row in rows() + rows("further"):
        if "own rule" in row["how"]:
            assert row["note"] or row["packs"], row
    alone = [row for row in rows("further") if row["how"] == "own rule"]
    assert all(row["note"] for row in alone) and len(alone) <= len(rows("further")) / 3


@pytest.mark.parametrize("folder", sample(FOLDERS, 4), ids=lambda folder: folder.name)
def test_a_pack_has_no_faults(folder: Path) -> None:
    first, *others = chosen_folders([folder])
    found = remarks(first, [*others, *dependencies([first, *others])])
    assert [str(one) for one in found if one.severity == FAULT] == []


@pytest.mark.parametrize("name", sample([name for name, one in LAYERS.items() if one.amendments or one.rules], 3))
def test_its_examples_hold(name: str) -> None:
    layer = LAYERS[name]
    bases = [load_pack(path) for path in changed_by(Path(layer.folder))]
    books: dict[str, Rulebook] = {}
    tried = 0
    for trial in layer_trials(layer, bases):
        key = repr((trial.editions, trial.date))
        if key not in books:
            books[key] = ampcite.load(Law(trial.editions, (), trial.date, ()), [layer.folder])
        assert faults(books[key], trial) == [], (trial.rule, trial.says)
        tried += 1
    assert tried


@pytest.mark.parametrize(("name", "one"), CHANGES, ids=lambda part: part if isinstance(part, str) else part.id)
def test_a_change_is_refused_where_the_law_is_not_as_it_expects(name: str, one: Amendment) -> None:
    """With another figure, clause, list of rules, path or condition, the change itself is named."""
    layer = LAYERS[name]
    bases = [load_pack(path) for path in changed_by(Path(layer.folder))]
    assert layer.authority is not None
    wrong = attrs.evolve(layer, amendments=(_wrong(one),))
    laid, complaints = lay(bases, [wrong], layer.authority.against, one.some_date)
    if not complaints:
        with pytest.raises(ampcite.PackError) as caught:
            _bound(laid, layer)
        complaints = list(caught.value.complaints)
    assert all(c.file.startswith(layer.folder) for c in complaints), complaints
    assert any(c.place == f'amend "{one.id}"' for c in complaints)


def _bound(laid: list[Pack], layer: Pack) -> None:
    from ampcite.engine.bind import bind

    assert layer.authority is not None
    own = [attrs.evolve(pack, rules={k: r for k, r in pack.rules.items() if r.changes or r.origins}) for pack in laid]
    bind(own, layer.authority.against)


def _wrong(one: Amendment) -> Amendment:
    if one.rules or one.on_record:
        return attrs.evolve(one, rules=(*one.rules, "no-such-rule"))
    if "expects" in one.said:
        return attrs.evolve(one, said={**one.said, "expects": "1234.5"})
    if one.do == "set":
        return attrs.evolve(one, said={**one.said, "fact": "/site/no_such_fact"})
    return attrs.evolve(one, said={**one.said, "where": "no_such_name", "scope": "those"})


@pytest.mark.parametrize("name", ["ossary-state", "lindle-city", "quarrel-village"])
def test_what_is_struck_waived_or_handed_over_fails_without_the_law(name: str) -> None:
    layer = LAYERS[name]
    assert layer.authority is not None
    bases = [load_pack(path) for path in changed_by(Path(layer.folder))]
    model = ampcite.load(layer.authority.against)
    whole = [one for one in layer.amendments if not (one.said.get("way") or one.on_record)]
    relieved = {one.id for one in whole if one.do in ("strike", "waive", "refer")}
    files = {one.id: one for one in layer.amendments}
    seen = set()
    for change in relieved:
        alone = attrs.evolve(layer, amendments=(files[change],), rules={})
        for trial in layer_trials(alone, bases):
            if trial.expected in ("", "warn"):
                assert answer(model, trial)[0] == "fail", (change, trial.rule)
                seen.add(change)
    assert seen == relieved


# --- which law applies --------------------------------------------------------------------------------------------


def application(name: str, **facts: Any) -> ampcite.Description:
    return ampcite.read(document({"codes/jurisdiction": name, **{k.replace("__", "/"): v for k, v in facts.items()}}))


def law(name: str, **facts: Any) -> Law:
    found = ampcite.law_for(application(name, **facts), LOCAL)
    assert found is not None
    return found


def refused(name: str, **facts: Any) -> str:
    with pytest.raises(ampcite.InputError) as caught:
        law(name, **facts)
    return str(caught.value)


def test_another_edition_for_some_houses() -> None:
    day = {"codes__application_date": "2022-03-10"}
    assert law("dwelling-board", **day, project__dwelling_type="one-family").editions == {"electrical": 2017}
    assert law("dwelling-board", **day, project__dwelling_type="other").editions == {"electrical": 2020}
    assert "/project/dwelling_type: is not given" in refused("dwelling-board", **day)


def test_the_day_on_which_the_work_began_decides() -> None:
    day = {"codes__application_date": "2024-08-01"}
    assert law("work-begun-state", **day, codes__work_begun_date="2024-06-30").editions == {"electrical": 2020}
    assert law("work-begun-state", **day, codes__work_begun_date="2024-07-01").editions == {"electrical": 2023}
    assert "/codes/work_begun_date: is not given" in refused("work-begun-state", **day)


@pytest.mark.parametrize(("day", "edition"), [("2019-05-01", 2017), ("2020-07-01", 2020), ("2024-06-01", 2023)])
def test_each_edition_from_a_day_of_its_year_and_a_city_that_follows(day: str, edition: int) -> None:
    assert law("yearly-state", codes__application_date=day).editions == {"electrical": edition}
    assert law("following-city", codes__application_date=day).editions == {"electrical": edition}


def test_a_city_that_follows_as_the_state_was_on_a_day() -> None:
    found = law("following-city", codes__application_date="2025-06-01")
    assert found.editions == {"electrical": 2023} and "as the state had it on a day" in found.said[0]
    assert "nothing in force then" in refused("following-city", codes__application_date="2018-12-31")


def test_law_that_does_not_bind_owners_who_work_themselves() -> None:
    """Who says nothing has not claimed to be such an owner; while it is asked, no law can be chosen."""
    day = {"codes__application_date": "2026-03-10"}
    for silent in ({}, {"project__owner_builder": False}):
        assert [path.name for path in law("licensed-city", **day, **silent).layers] == ["licensed-city"]
    assert law("licensed-city", **day, project__owner_builder=True).layers == ()
    asked = ampcite.read({"codes": {"jurisdiction": "licensed-city", "application_date": "2026-03-10"},
                          "project": {"owner_builder": "?"}})  # fmt: skip
    with pytest.raises(ampcite.InputError, match="/project/owner_builder: is not given"):
        ampcite.law_for(asked, LOCAL)


# --- a condition that nobody states -------------------------------------------------------------------------------


def test_a_fact_that_the_law_sets_is_used_where_nobody_states_it() -> None:
    book = ampcite.load(Law(LAYERS["quarrel-village"].authority.against, (), "", ()), [LOCAL / "quarrel-village"])  # type: ignore[union-attr]
    for height, verdict in ((24, "pass"), (24.1, "fail")):
        house = ampcite.read(document({"roof/arrays/0/height": height}))
        (finding,) = ampcite.check(book, house).of("array-too-high-above-roof")
        assert finding.verdict.value == verdict


@pytest.mark.parametrize(
    ("gap", "verdict"),
    [(0.5, "fail"), (1.2, "warn"), (2.0, "pass")],
)
def test_an_exception_nobody_claims_leaves_a_pass_a_pass(gap: float, verdict: str, tmp_path: Path) -> None:
    """12 in instead of 18 where few modules: kept at 24 in and broken at 6 in, whether or not they are few."""
    where = tmp_path / "town"
    where.mkdir()
    head = (LOCAL / "quarrel-village" / "pack.toml").read_text("utf-8").replace("quarrel-village", "town")
    (where / "pack.toml").write_text(head, "utf-8")
    (where / "changes.toml").write_text(
        '[[amend]]\nid = "few"\ndo = "relax"\nparameter = "ridge_setback_small"\nexpects = "18"\nto = "12"\n'
        'where = "snow <= simple_snow_load"\ninputs = { snow = "/site/ground_snow_load" }\n'
        'scope = "places with little snow"\nwhy = "x"\nclause = "1"\nread = "act"\n',
        "utf-8",
    )
    book = ampcite.load(Law({"electrical": 2020, "building": 2021}, (), "", ()), [where])
    given = {
        "roof/planes/0/building": "dwelling", "roof/planes/1/building": "dwelling", "roof/access_waiver": "none",
            "roof/planes/0/edges/2/joins": "roof-planes-1",
        "roof/access_exceptions_adopted": True, "roof/sprinklers": "none", "roof/planes/0/rise_in_12": 3,
        "roof/planes/0/outline": [[0, 0], [30, 0], [30, 20], [0, 20]], "roof/planes/0/edges/0/kind": "eave",
        "roof/planes/0/edges/1/kind": "rake", "roof/planes/0/edges/2/kind": "ridge",
        "roof/planes/0/edges/3/kind": "rake", "roof/planes/1/rise_in_12": 3, "roof/planes/1/area": 600,
        "roof/planes/1/edges/0/kind": "eave", "roof/arrays/0/plane": "roof-planes-0", "roof/obstructions": [],
        "roof/arrays/0/outline": [[3, 9], [10, 9], [10, 20 - gap], [3, 20 - gap]],
    }  # fmt: skip
    found = ampcite.check(book, ampcite.read(document(given))).of("array-too-near-ridge")
    assert [f.verdict.value for f in found] == [verdict]
