"""A description to be filled in: it marks what rules ask, says nothing but the counts, and can be read."""

from __future__ import annotations

import copy
import itertools
import json
from functools import cache
from typing import Any

import pytest
from click.testing import CliRunner

import ampcite
from ampcite.authoring.needs import needs
from ampcite.authoring.start import ARCHITECTURES, House, marks_in, start
from ampcite.base.stages import STAGES, is_later
from ampcite.command.main import main
from ampcite.house.part_types import place
from ampcite.reviewing.subjects import rules_about
from shared import both, rulebook

SUBJECTS = ((), ("strings",), ("strings", "wiring"))
CASES = list(itertools.product(ARCHITECTURES, SUBJECTS))


@cache
def begun(architecture: str, subjects: tuple[str, ...], stage: str = "design", storage: bool = False) -> dict[str, Any]:
    book = rulebook(2020)
    house = House(architecture, 21, 3, 0 if architecture == "microinverters" else 1, storage)
    rules = rules_about(book.bound, subjects) if subjects else None
    codes = {f"{code}_edition": year for code, year in both(2020).items()}
    head = {"stage": stage, "codes": codes} | ({"subjects": list(subjects)} if subjects else {})
    return start(book, house, stage, rules, head)


def marked(document: Any, path: str = "") -> set[str]:
    """The paths of what is marked, whichever part of a list it stands at."""
    if isinstance(document, dict):
        return {p for key, item in document.items()
                for p in marked(item, path if key in ("each", "all") else f"{path}/{key}")}  # fmt: skip
    if isinstance(document, list):
        return {p for item in document for p in marked(item, path)}
    return {path} if document == "?" else set()


@pytest.mark.parametrize(("architecture", "subjects"), CASES)
def test_it_can_be_read_and_nothing_is_decided_by_invention(architecture: str, subjects: tuple[str, ...]) -> None:
    description = ampcite.read(begun(architecture, subjects))
    assert len(description.to_state) == len(list(marks_in(begun(architecture, subjects))))
    review = ampcite.review(rulebook(2020), description)
    assert not review.comments
    assert len(description.parts["strings"] or ()) == (0 if architecture == "microinverters" else 3)
    assert len([c for c in description.parts["circuits"] or () if c.facts["kind"] != "inverter output"]) == 3


FOLLOWS = {
    "/inverters/inputs/string_fuse",  # a lone string needs none; strings are to say their inputs
    "/rapid_shutdown/ends_on_dwelling",  # no array has it but that of an open structure; the place is asked first
}
"""What a report misses and a start leaves to what is asked first."""


@pytest.mark.parametrize(("architecture", "subjects"), CASES)
def test_every_fact_the_report_misses_is_marked(architecture: str, subjects: tuple[str, ...]) -> None:
    document = begun(architecture, subjects)
    marks = marked(document)
    report = ampcite.review(rulebook(2020), ampcite.read(document))
    wanted = {p for one in (*report.missing, *report.unbegun) for f in one.findings for p in f.missing
              if not is_later(place(p).stage, "design") and "[" not in p}  # fmt: skip
    for pointer in wanted:
        path = "".join(f"/{step}" for step in pointer.split("/")[1:] if not step.isdigit() and step != "all")
        covered = any(path == m or path.startswith(f"{m}/") or m.startswith(f"{path}/") for m in marks)
        assert covered or path in FOLLOWS or path in {"/strings"}, path


def test_every_mark_is_read_by_some_rule_of_its_subject() -> None:
    book = rulebook(2020)
    chosen = {book.machine.by_id[name] for name in rules_about(book.bound, ["strings"])}
    readers = book.machine.readers
    read = {field for kind, field in readers.of_field if chosen & readers.resting(kind, field).rules}
    readings = (*(book.bound.rules[i] for i in chosen), *book.bound.derived)
    read |= {key for one in readings for path in one.inputs.values() for _, key in path.steps}
    read.add("model")  # by which the facts of a model are found
    for architecture in ARCHITECTURES:
        for path in marked(begun(architecture, ("strings",))):
            found = path.rpartition("/")[2]
            assert any(field.split("/")[-1] == found or found in field.split("/") for field in read) \
                or place(path).field is None, path  # fmt: skip


def test_more_subjects_and_later_stages_ask_more() -> None:
    for architecture in ARCHITECTURES:
        few, more, every = (marked(begun(architecture, subjects)) for subjects in (SUBJECTS[1], SUBJECTS[2], ()))
        assert few < more
        assert {m.split("/")[1] for m in more} <= {m.split("/")[1] for m in every}
        counts = [len(marked(begun(architecture, (), stage))) for stage in STAGES[:2]]
        assert counts == sorted(counts)
        assert counts[0] < counts[1]


def test_what_only_an_open_structure_has_is_asked_once_the_array_is_said_to_be_on_one() -> None:
    document = copy.deepcopy(begun("converter strings", ("strings",)))
    book, path = rulebook(2020), "/rapid_shutdown/ends_on_dwelling"
    assert path not in marked(document)
    for stands, asked in (("on a building", False), ("detached open structure", True)):
        document["rapid_shutdown"]["array_place"] = stands
        assert ((path, False) in needs(book, ampcite.read(document), "design")) is asked


def test_storage_is_asked_about_where_there_is_some() -> None:
    assert begun("plain strings", ())["storage"] == []
    assert any(m.startswith("/storage/") for m in marked(begun("plain strings", (), storage=True)))


def ampcite_start(*arguments: str) -> Any:
    return CliRunner().invoke(main, ["start", *arguments])


def test_the_command_prints_what_the_library_makes() -> None:
    done = ampcite_start("converter strings", "--modules", "21", "--strings", "3", "--edition", "2020",
                         "--building-edition", "2021", "--subject", "strings")  # fmt: skip
    assert done.exit_code == 0
    assert json.loads(done.stdout) == begun("converter strings", ("strings",))


def test_what_a_list_left_out_can_say_is_told_where_there_are_lists() -> None:
    house = ["plain strings", "--modules", "20", "--strings", "2", "--edition", "2023"]
    assert '"all_listed": true' in ampcite_start(*house).stderr and "all_listed" not in ampcite_start(*house).stdout
    assert ampcite_start("--from", "plain-strings").stderr == ""


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "say what the house is made of"),
        (["plain strings", "--modules", "20", "--strings", "2"], "name the electrical code"),
        (["plain strings", "--modules", "2", "--strings", "3", "--edition", "2020"], "more strings than modules"),
        (["plain strings", "--modules", "20", "--strings", "0", "--edition", "2020"], "modules and strings"),
        (["plain strings", "--modules", "9", "--strings", "2", "--edition", "2020", "--subject", "strin"], '"strings"'),
        (["plain strings", "--from", "plain-strings"], "either --from or an architecture"),
        (["--from", "plane-strings"], "plain-strings"),
    ],
)  # fmt: skip
def test_what_the_command_can_not_start(arguments: list[str], said: str) -> None:
    done = ampcite_start(*arguments)
    assert done.exit_code == 2
    assert said in done.output
