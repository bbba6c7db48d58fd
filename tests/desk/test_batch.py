"""A queue goes in, tables come out: nothing lost, nothing half written, the same bytes however it was interrupted.

Submissions are the houses of this project's tests; what is broken in them is invented.
"""

from __future__ import annotations

import csv
import io
import json
import os
import random
import subprocess
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import attrs
import jsonschema
import pyarrow as pa
import pytest
from pyarrow import parquet

import ampcite
from ampcite.base.resources import load_schema
from ampcite.desk import sources
from ampcite.desk.batch import review_all
from ampcite.desk.index import Index
from ampcite.desk.judge import Task, result
from ampcite.desk.page import to_html
from ampcite.desk.sources import entries_of
from ampcite.desk.store import Store, alone, segment, write_segment
from ampcite.desk.summary import as_text
from benchmarks.kills import RUN, bytes_of, command, killed, nothing_lost
from benchmarks.queues import BROKEN, as_column, submissions
from browser import faults_seen, needs_browser
from shared import PACKS, shipped_house
from submissions import queue


def houses(count: int = 12) -> dict[str, bytes]:
    """Submissions by name: some clean, some broken, some that lack facts, some that are none."""
    clean = shipped_house("converter-strings")
    lacking = json.loads(json.dumps(clean))
    del lacking["service"]["rating"]
    out = {"a/clean.json": clean, "a/lacking.json": lacking}
    out |= {f"b/{one.id}.json": one.description for one in queue(1, count, 2 * count)}
    data = {name: json.dumps(house).encode() for name, house in out.items()}
    return data | {"c/cut.json": data["a/clean.json"][:900], "c/list.json": b"[]", "c/empty.json": b"",
                   "c/utf-16.json": '{"a": 1}'.encode("utf-16"), "c/deep.json": b'{"a":' * 9000}  # fmt: skip


def folder_of(data: Mapping[str, bytes], where: Path) -> Path:
    for name, one in data.items():
        (where / name).parent.mkdir(parents=True, exist_ok=True)
        (where / name).write_bytes(one)
    return where


def run(source: Path, out: Path, **more: Any) -> dict[str, Any]:
    return review_all(entries_of(source), out, Task(), "0", **more)


def rows(out: Path, table: str = "submissions") -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO((out / f"{table}.csv").read_text("utf-8-sig"))))


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, dict[str, Any]]:
    """A folder of submissions, what a run made of it, and its summary."""
    place = tmp_path_factory.mktemp("batch")
    source = folder_of(houses(), place / "queue")
    return source, place / "out", run(source, place / "out")


def test_every_submission_is_in_the_table_once_in_the_order_of_the_source(whole: tuple[Path, Path, Any]) -> None:
    source, out, summary = whole
    names = sorted(p.relative_to(source).as_posix() for p in source.rglob("*.json"))
    assert [row["name"] for row in rows(out)] == names and summary["submissions"] == len(names)
    outcomes = {row["name"]: row["outcome"] for row in rows(out)}
    assert outcomes["a/clean.json"] == "clean" and outcomes["a/lacking.json"] == "undecided"
    assert {o for name, o in outcomes.items() if name.startswith("c/")} == {"unusable"}
    assert all(row["reason"] for row in rows(out) if row["outcome"] == "unusable")
    assert {o for name, o in outcomes.items() if name.startswith("b/")} <= {"to correct", "advice"}
    assert not list(out.rglob("*.part"))


def test_what_the_table_says_is_what_a_check_says(whole: tuple[Path, Path, Any]) -> None:
    source, out, _ = whole
    for row in rows(out)[:4]:
        if row["outcome"] == "unusable":
            continue
        description = ampcite.read((source / row["name"]).read_bytes())
        report = ampcite.check(ampcite.load(description.editions), description)
        assert int(row["fails"]) == report.counts["fail"] and int(row["passes"]) == report.counts["pass"]
        found = [f for f in rows(out, "findings") if f["submission"] == row["name"]]
        assert [(f["rule"], f["part"], f["verdict"]) for f in found] == [
            (f.rule, f.part, f.verdict.value) for f in report.not_passed]  # fmt: skip


def test_tables_keep_to_their_published_schemas(whole: tuple[Path, Path, Any]) -> None:
    _, out, summary = whole
    for table in ("submissions", "findings"):
        schema = load_schema(f"{table}-row.schema.json")
        stored = parquet.read_table(out / f"{table}.parquet")
        assert stored.column_names == list(schema["properties"]) == list(rows(out, table)[0])
        assert stored.num_rows == len(rows(out, table))
        keeps = jsonschema.validators.validator_for(schema)(schema).is_valid
        assert all(keeps(row) for row in stored.to_pylist())
    jsonschema.validate(summary, load_schema("batch.schema.json"))
    assert json.loads((out / "summary.json").read_text("utf-8")) == summary


def test_undecided_never_looks_clean(whole: tuple[Path, Path, Any]) -> None:
    _, _, summary = whole
    assert summary["outcomes"]["undecided"] == 1 and summary["outcomes"]["clean"] == 1
    text, page = as_text(summary), to_html(summary)
    assert "not everything could be decided: not clean" in text and "What is undecided is not clean." in page
    assert 'class="outcome undecided">undecided<' in page and 'class="outcome clean">clean<' in page


@pytest.mark.thorough
def test_the_same_bytes_whatever_the_workers_and_the_source(whole: tuple[Path, Path, Any], tmp_path: Path) -> None:
    source, out, _ = whole
    run(source, tmp_path / "two", workers=2)
    assert bytes_of(tmp_path / "two") == bytes_of(out)
    with zipfile.ZipFile(tmp_path / "queue.zip", "w") as archive:
        for path in sorted(source.rglob("*.json"), reverse=True):
            archive.write(path, path.relative_to(source).as_posix())
    run(tmp_path / "queue.zip", tmp_path / "zip")
    data = [(p.relative_to(source).as_posix(), p.read_bytes()) for p in sorted(source.rglob("*.json"))]
    cells = pa.array([one for _, one in data], pa.binary())
    table = pa.table({"name": [name for name, _ in data], "description": cells})
    parquet.write_table(table, tmp_path / "queue.parquet")
    run(tmp_path / "queue.parquet", tmp_path / "column")
    for other in ("zip", "column"):
        assert bytes_of(tmp_path / other) == bytes_of(out), other
    lines = [one for _, one in data if b"\n" not in one and one]
    (tmp_path / "queue.jsonl").write_bytes(b"\n".join(lines) + b"\n\n")
    run(tmp_path / "queue.jsonl", tmp_path / "lines")
    outcomes = {name: row["outcome"] for (name, _), row in zip(data, rows(out), strict=True)}
    assert [row["outcome"] for row in rows(tmp_path / "lines")] == [
        outcomes[name] for name, one in data if one and b"\n" not in one]  # fmt: skip


def test_a_run_again_does_nothing_twice_and_says_the_same(whole: tuple[Path, Path, Any],
                                                          monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    source, out, summary = whole
    before = bytes_of(out)
    monkeypatch.setattr("ampcite.desk.batch.checked", lambda *_: pytest.fail("checked again"))
    assert run(source, out) == summary and bytes_of(out) == before


def interrupted(source: Path, out: Path, kills: int, workers: int, seed: int) -> int:
    """Runs a batch and kills it, again and again, until it ends by itself; gives how often it was killed."""
    draw, done, longest = random.Random(seed), 0, 1.5
    run = command(source, out, workers, 2)
    while True:
        kill = killed(run, out, draw.uniform(0.2, longest) if done < kills else 120)
        done += kill
        if not kill:
            return done
        assert done <= kills, "a run did not end"
        if done % 10 == 0:
            longest *= 1.3


@pytest.mark.thorough
@pytest.mark.parametrize("workers", [1, 2])
def test_killed_and_started_again_it_ends_with_the_same_bytes(whole: tuple[Path, Path, Any], tmp_path: Path,
                                                              workers: int) -> None:  # fmt: skip
    source, out, _ = whole
    assert interrupted(source, tmp_path / "out", 3, workers, workers) >= 1
    assert bytes_of(tmp_path / "out") == bytes_of(out)


@pytest.mark.exhaustive
def test_a_hundred_kills(whole: tuple[Path, Path, Any], tmp_path: Path) -> None:
    source, _, _ = whole
    total = 0
    expected = bytes_of(whole[1])
    for seed in range(1000):
        where = tmp_path / str(seed)
        where.mkdir()
        total += interrupted(source, where / "out", 12, 1 + seed % 2, seed)
        assert bytes_of(where / "out") == expected
        if total >= 100:
            return


@pytest.mark.thorough
def test_what_ends_a_worker_is_set_aside_and_stops_nothing(tmp_path: Path) -> None:
    data = {f"{i}.json": one for i, one in enumerate(houses(4).values())}
    source = folder_of(data | {"boom.json": b'{"project": {"name": "END ME"}}'}, tmp_path / "queue")
    run = command(source, tmp_path / "out", 2, 2)
    (tmp_path / "run.py").write_text(RUN.replace("import sys\n", """
import os, sys
from ampcite.desk import judge
whole = judge.read
def read(data, *more):
    if b"END ME" in data:
        os._exit(9)
    return whole(data, *more)
judge.read = read
"""), "utf-8")
    assert subprocess.run(run, check=True, capture_output=True).returncode == 0
    found = {row["name"]: (row["outcome"], row["reason"]) for row in rows(tmp_path / "out")}
    assert found["boom.json"] == ("unusable", "ended the process that checked it")
    assert sum(reason == found["boom.json"][1] for _, reason in found.values()) == 1 and len(found) == len(data) + 1


def test_the_same_file_again_a_later_revision_and_two_files_for_one_permit(tmp_path: Path) -> None:
    def sent(permit: str, revision: int, rating: int = 200) -> bytes:
        house = shipped_house("converter-strings")
        house["project"] |= {"permit": permit, "revision": revision}
        for one in house["documents"]["all"]:
            one["revision"] = revision
        house["documents"].get("each", {})["revision"] = revision
        house["service"]["rating"] = rating
        return json.dumps(house).encode()

    data = {"1.json": sent("A", 0), "2.json": sent("A", 0), "3.json": sent("A", 1), "4.json": sent("B", 2),
            "5.json": sent("B", 2, 225), "6.json": sent("C", 0)}  # fmt: skip
    source = folder_of(data, tmp_path / "queue")
    summary = run(source, tmp_path / "out")
    found = {row["name"]: (row["same_as"], row["superseded_by"], row["conflicts_with"])
             for row in rows(tmp_path / "out")}  # fmt: skip
    assert found == {
        "1.json": ("", "3.json", ""), "2.json": ("1.json", "", ""), "3.json": ("", "", ""),
        "4.json": ("", "", "5.json"), "5.json": ("", "", "4.json"), "6.json": ("", "", ""),
    }  # fmt: skip
    assert (summary["same"], summary["superseded"], summary["conflicts"]) == (1, 1, 2)
    assert sum(summary["outcomes"].values()) == 4


def test_what_changed_since_the_last_run_is_said_even_if_that_run_is_made_again(tmp_path: Path) -> None:
    data = {"1.json": json.dumps(shipped_house("converter-strings")).encode(), "2.json": b"{}", "3.json": b"[]"}
    source, out = folder_of(data, tmp_path / "queue"), tmp_path / "out"
    assert run(source, out)["changes"]["first_run"] is True
    broken = shipped_house("converter-strings")
    broken["panels"][0]["breakers"]["all"][0]["rating"] = 60
    (source / "1.json").write_text(json.dumps(broken), "utf-8")
    (source / "3.json").unlink()
    (source / "4.json").write_bytes(data["1.json"])
    changes = run(source, out)["changes"]
    assert changes == {"first_run": False, "added": 1, "gone": 1, "sent_again": 1,
                       "outcomes": [{"was": "clean", "is": "to correct", "submissions": 1}]}  # fmt: skip
    before = bytes_of(out)
    assert run(source, out)["changes"] == changes and bytes_of(out) == before


def local(**codes: str) -> bytes:
    """A house of the invented county, which fails a local rule."""
    house = shipped_house("converter-strings")
    return json.dumps(house | {"codes": {"jurisdiction": "larchmoor-county"} | codes}).encode()


@pytest.mark.thorough
def test_each_submission_has_the_law_of_its_own_date() -> None:
    """The county took up the 2020 edition on 2023-07-01; houses of one span of dates share rules and not words."""
    said = {day: result(Task(), local(application_date=day))
            for day in ("2023-06-30", "2023-07-01", "2026-03-10", "2026-03-11")}  # fmt: skip
    assert [row["electrical_edition"] for row in said.values()] == [2017, 2020, 2020, 2020]
    for day, row in said.items():
        description = ampcite.read(local(application_date=day))
        law = ampcite.law_for(description)
        assert law is not None and law.editions["electrical"] == row["electrical_edition"]
        report = ampcite.check(ampcite.load(law), description)
        assert [(f["rule"], f["part"], f["note"]) for f in row["findings"]] == [
            (f.rule, f.part, f.note) for f in report.not_passed]  # fmt: skip


def test_each_submission_has_the_law_of_whatever_date_an_adoption_goes_by(monkeypatch: pytest.MonkeyPatch) -> None:
    county = PACKS["larchmoor-county"]
    adoptions = tuple(attrs.evolve(one, by="permit", choice_until="") for one in county.adoptions)
    layers = {"larchmoor-county": attrs.evolve(county, adoptions=adoptions)}
    monkeypatch.setattr("ampcite.desk.judge._layers", lambda: layers)
    rows = [result(Task(), local(application_date="2023-06-01", permit_date=day))
            for day in ("2023-06-30", "2023-07-01")]  # fmt: skip
    assert [row["electrical_edition"] for row in rows] == [2017, 2020]


# --- hostile sources --------------------------------------------------------------------------------------------


def test_names_that_lead_elsewhere_are_names_only(tmp_path: Path) -> None:
    house = json.dumps(shipped_house("converter-strings")).encode()
    names = ["../../escaped.json", "/etc/escaped.json", "C:\\escaped.json", "a\u202eb.json", "\x1b[2J.json",
             "=cmd.json", "<script>.json", "x" * 900 + ".json"]  # fmt: skip
    path = tmp_path / "in" / "evil.zip"
    path.parent.mkdir()
    with zipfile.ZipFile(path, "w") as archive:
        for name in names:
            archive.writestr(name, house)
        archive.writestr("readme.txt", "no submission")
        link = zipfile.ZipInfo("link.json")
        link.external_attr = 0o120777 << 16
        archive.writestr(link, "/etc/passwd")
    summary = run(path, tmp_path / "out")
    assert summary["submissions"] == len(names) + 1
    assert sorted(p.name for p in tmp_path.iterdir()) == ["in", "out"]
    said = (tmp_path / "out" / "submissions.csv").read_text("utf-8")
    assert "\x1b" not in said and "\u202e" not in said and "is a link" in said
    assert not any(cell.startswith("=") for row in csv.reader(io.StringIO(said)) for cell in row)
    assert "<script>" not in to_html(summary)


def test_bombs_and_giants_are_set_aside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sources, "MOST", 300_000)
    house = json.dumps(shipped_house("converter-strings")).encode()
    with zipfile.ZipFile(tmp_path / "q.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("bomb.json", b" " * 40_000_000)
        archive.writestr("good.json", house)
    found = list(entries_of(tmp_path / "q.zip")())
    assert [(e.name, len(e.data) > 0, "unpacks to more" in e.fault) for e in found] == [
        ("bomb.json", False, True), ("good.json", True, False)]  # fmt: skip
    (tmp_path / "q.jsonl").write_bytes(b"9" * 2_000_000 + b"\n" + house + b"\n" + b"9" * 400_000)
    lines = list(entries_of(tmp_path / "q.jsonl")())
    assert [bool(e.fault) for e in lines] == [True, False, True] and lines[1].name == "line 2"
    folder = folder_of({"big.json": b" " * 400_000, "good.json": house}, tmp_path / "f")
    (folder / "link.json").symlink_to("/etc/passwd")
    (folder / "loop").symlink_to(folder)
    os.mkfifo(folder / "pipe.json")
    assert [(e.name, bool(e.fault)) for e in entries_of(folder)()] == [
        ("big.json", True), ("good.json", False), ("link.json", True), ("pipe.json", True)]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("q.txt", b"", "neither a folder nor a file"), ("q.zip", b"PK nonsense", "can't be read as a zip"),
        ("q.parquet", b"PAR1 nonsense", "can't be read as Parquet"), ("none.zip", None, "can't be read"),
    ],
)  # fmt: skip
def test_what_is_no_source(name: str, data: bytes | None, said: str, tmp_path: Path) -> None:
    if data is not None:
        (tmp_path / name).write_bytes(data)
    with pytest.raises(ampcite.InputError, match=said):
        run(tmp_path / name, tmp_path / "out")


def test_a_column_that_is_not_there(tmp_path: Path) -> None:
    parquet.write_table(pa.table({"house": ["{}"]}), tmp_path / "q.parquet")
    with pytest.raises(ampcite.InputError, match='has no column "description"; it has house'):
        list(entries_of(tmp_path / "q.parquet")())
    assert [e.data for e in entries_of(tmp_path / "q.parquet", "house")()] == [b"{}"]


@pytest.mark.parametrize("way", BROKEN)
def test_broken_in_one_of_fifty_ways_it_is_set_aside_with_a_reason(way: str) -> None:
    assert len(BROKEN) == 50
    row = result(Task(), BROKEN[way](shipped_house("microinverters")))
    assert row["outcome"] == "unusable" and row["reason"] and row["findings"] == []


@pytest.mark.thorough
def test_of_a_long_queue_nothing_is_lost(tmp_path: Path) -> None:
    """A sample; ``benchmarks/kills.py`` does it with 20,000 and kills the run a hundred times."""
    as_column(tmp_path / "queue.parquet", submissions(100))
    run(tmp_path / "queue.parquet", tmp_path / "out")
    outcomes = nothing_lost(tmp_path / "out", 100)
    assert outcomes["unusable"] == 1 and len(outcomes) > 3


# --- the store ---------------------------------------------------------------------------------------------------


def test_a_damaged_file_of_results_is_made_anew(tmp_path: Path) -> None:
    name = write_segment(tmp_path, segment([("k", {"a": 1}), ("l", {"b": [2]})]))
    store = Store(tmp_path, Index())
    assert store.get("k") == {"a": 1} and store.get("l") == {"b": [2]}
    store.close()
    data = bytearray((tmp_path / name).read_bytes())
    data[-3] ^= 1
    (tmp_path / name).write_bytes(data)
    (tmp_path / ".begun.part").write_bytes(b"half")
    again = Store(tmp_path, Index())
    with pytest.raises(KeyError):
        again.get("k")
    assert list(tmp_path.iterdir()) == []


def test_two_runs_in_one_folder(tmp_path: Path) -> None:
    with alone(tmp_path), pytest.raises(ampcite.InputError, match="another run"), alone(tmp_path):
        pass
    with alone(tmp_path):
        pass


# --- the page -------------------------------------------------------------------------------------------------------


@needs_browser
def test_the_page_is_accessible(whole: tuple[Path, Path, Any]) -> None:
    path = whole[1] / "summary.html"
    assert faults_seen(path) == []
