"""What the author's kit says of a pack: faults with file and line, and what is poor though it loads.

All packs are own inventions; expected lines were counted by hand in the texts below or found by searching them.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import attrs
import pytest
from click.testing import CliRunner

from ampcite.authoring import scaffold
from ampcite.authoring.lint import FAULT, REMARK, Remark, remarks
from ampcite.authoring.testing import trials_of
from ampcite.base.resources import houses, load_schema
from ampcite.command.main import main
from ampcite.law.registry import chosen_folders
from shared import PACKS, filled

LAYER = {"electrical": 2020}
LIMIT = 'limit = { of = "labels/0/letter_height", at = 0.25, step = 0.01, passes = "at or above" }'
KEPT = 'set = { "labels/0/letter_height" = 1 }\nverdict = "pass"'
PAPER = 'title = "the paper the figures were read in'
FORCE = 'force = "requirement"'
IDLE = """
[[parameter]]
name = "idle"
meaning = "x"
unit = ""
stricter = "neither"
value = { 2020 = "1" }
work = "own"
clause = { 2020 = "1" }
read = { 2020 = "paper" }
"""
FAILS = """[[local-placard.example]]
set = { "labels/0/text" = "SOLAR" }
verdict = "fail"
"""


@pytest.fixture
def pack(tmp_path: Path) -> Callable[..., Path]:
    def make(file: str = "", old: str = "", new: str = "", layer: bool = False) -> Path:
        files = scaffold.layer("elm", "Elm (invented)", "city", LAYER) if layer else scaffold.rules("elm", 2020)
        where = tmp_path / "elm"
        where.mkdir()
        for name, text in files.items():
            text = filled(text)
            if name == file:
                assert text.count(old) >= 1
                text = text.replace(old, new, 1)
            (where / name).write_text(text, "utf-8")
        return where

    return make


def said(where: Path) -> list[Remark]:
    first, *others = chosen_folders([where])
    return remarks(first, others)


def line_of(where: Path, file: str, text: str) -> int:
    return next(i for i, line in enumerate((where / file).read_text("utf-8").splitlines(), 1) if text in line)


@pytest.mark.parametrize("layer", [False, True])
def test_a_new_pack_has_nothing_to_say_of(pack: Callable[..., Path], layer: bool) -> None:
    assert said(pack(layer=layer)) == []


@pytest.mark.parametrize(("layer", "count"), [(False, 4), (True, 2)])
def test_a_new_pack_has_places_to_be_filled_in(tmp_path: Path, layer: bool, count: int) -> None:
    where = tmp_path / "elm"
    assert run("pack", "new", str(where), *(["--layer", "Elm"] if layer else []))[0] == 0
    found = said(where)
    assert len(found) == count and all("still holds the placeholder" in r.message and r.line for r in found)
    assert run("pack", "try", str(where))[0] == 0


def test_every_fault_is_told_at_once_with_file_and_line(pack: Callable[..., Path]) -> None:
    where = pack("rules.toml", 'unit = "in"', 'unit = "cubits"')
    text = (where / "rules.toml").read_text("utf-8")
    (where / "rules.toml").write_text(
        text.replace("{each} are {letter_height} high.", "{each} are {hight} high."), "utf-8"
    )
    found = said(where)
    assert {r.severity for r in found} == {FAULT} and len(found) >= 2
    at = {(r.file, r.line) for r in found}
    assert ("rules.toml", line_of(where, "rules.toml", 'name = "least_letter_height"')) in at
    assert ("rules.toml", line_of(where, "rules.toml", "passes = ")) in at


def test_a_line_for_a_text_that_is_not_toml_and_for_a_table(pack: Callable[..., Path]) -> None:
    where = pack("rules.toml", 'force = "requirement"', 'force = "requirement')
    (one,) = said(where)
    assert (one.file, one.line) == ("rules.toml", line_of(where, "rules.toml", "force ="))
    (where / "rules.toml").write_text(filled(scaffold.rules("elm", 2020)["rules.toml"]), "utf-8")
    (where / "odd.csv").write_text("a,b\n1,2\n3\n", "utf-8")
    (one,) = said(where)
    assert (one.file, one.line, one.severity) == ("odd.csv", 3, FAULT)


@pytest.mark.parametrize(
    ("file", "old", "new", "line", "words"),
    [
        ("rules.examples.toml", LIMIT, f"{LIMIT}\n[[label-letters-too-low.example]]\nverdict = 7", "verdict", "is 7"),
        ("rules.examples.toml", LIMIT, LIMIT.replace("0.01", "true"), "limit = ", "is true"),
        ("rules.examples.toml", LIMIT, f'{LIMIT}\n[[label-low.example]]\nverdict = "pass"', "[[label-low", "is of no"),
        ("rules.toml", "remedy =", 'words.less = "x"\nremedy =', "words.less", "stands in none"),
        ("rules.toml", 'read = "paper" }]', 'read = "papers" }]', 'id = "label', 'mean "paper"'),
        ("pack.toml", "[pack.readings]\npaper = ", "[pack.readings]\nnews = ", "name = ", 'reading "paper"'),
    ],
)  # fmt: skip
def test_the_line_of_a_fault(pack: Callable[..., Path], file: str, old: str, new: str, line: str, words: str) -> None:
    where = pack(file, old, new)
    one = next(r for r in said(where) if words in r.message)
    stands = "rules.toml" if file == "pack.toml" else file
    assert (one.file, one.line, one.severity) == (stands, line_of(where, stands, line), FAULT)


@pytest.mark.parametrize(
    ("file", "old", "new", "words"),
    [
        ("rules.examples.toml", LIMIT, KEPT, "has no example that does not pass"),
        ("pack.toml", PAPER, 'title = "from memory, unconfirmed', "rests on memory"),
        ("rules.toml", "[[rule]]", f"{IDLE}\n[[rule]]", "is used by nothing"),
        ("rules.toml", FORCE, f"{FORCE}\nwithdrawn = 2020", "is in force at no edition"),
    ],
)  # fmt: skip
def test_what_is_poor(pack: Callable[..., Path], file: str, old: str, new: str, words: str) -> None:
    found = said(pack(file, old, new))
    assert [r.severity for r in found] == [REMARK], found
    assert words in found[0].message


def test_a_change_that_changes_nothing(pack: Callable[..., Path]) -> None:
    where = pack("changes.toml", 'do = "tighten"', 'do = "replace"', layer=True)
    text = (where / "changes.toml").read_text("utf-8").replace('to = "72"', 'to = "79"').replace("at = 72", "at = 79")
    (where / "changes.toml").write_text(text, "utf-8")
    assert any(r.severity == REMARK and "puts in what is there" in r.message for r in said(where))


def test_a_change_without_an_example_that_fails(pack: Callable[..., Path]) -> None:
    (one,) = said(pack("changes.examples.toml", FAILS, "", layer=True))
    assert (one.place, one.message) == ('amend "local-placard"', "has no example that does not pass")


def test_a_change_of_a_figure_whose_only_rule_the_layer_strikes(pack: Callable[..., Path]) -> None:
    old = 'do = "tighten"\nparameter = "handle_height_limit"\nexpects = "79"\nto = "72"'
    new = 'do = "strike"\nrule = "handle-too-high"\nexpects = "404.8(A)"'
    where = pack("changes.toml", old, new, layer=True)
    with (where / "changes.toml").open("a", encoding="utf-8") as file:
        file.write('\n[[amend]]\nid = "b"\n' + old + '\nwhy = "x"\nwork = "local"\nclause = "3"\nread = "ordinance"\n')
    assert any(r.place == 'amend "b"' and "on which no rule in force rests" in r.message for r in said(where))


def run(*words: str) -> tuple[int, str]:
    out = CliRunner().invoke(main, list(words))
    return out.exit_code, out.output


def test_the_commands_refuse_what_they_must(tmp_path: Path, pack: Callable[..., Path]) -> None:
    where = pack()
    assert run("pack", "new", str(tmp_path / "Elm Town"))[0] == 2
    assert run("pack", "new", str(where)) == (2, f"{where}: is there already; name a new folder\n")
    assert run("pack", "wrap", str(where), str(where))[0] == 2
    assert "changes nothing" in run("pack", "carry", str(where), "--edition", "2020")[1]
    assert run("pack", "check", "elmm")[0] == 2
    assert run("pack", "try", str(where), "--rule", "label-letters-to-low")[1].count("did you mean") == 1
    assert run("pack", "try", str(where))[0] == 0
    assert "name the law" in run("effect", str(tmp_path))[1] or run("effect", str(tmp_path))[0] == 2
    assert run("lock", str(tmp_path / "nowhere.json"))[0] == 2


def test_an_example_that_does_not_hold_is_told(pack: Callable[..., Path]) -> None:
    where = pack("rules.examples.toml", "at = 0.25", "at = 0.3")
    status, out = run("pack", "try", str(where))
    assert status == 1 and "expected" in out and "faults" in out


@pytest.mark.parametrize(("path", "status", "words"), [
    ("labels/0/letter_height", 0, ""),
    ("labels/0/size", 1, "describes what can't be: labels/"),
    ("labels/99/letter_height", 2, 'of which the house plain-strings has no such place'),
])  # fmt: skip
def test_an_example_begins_from_a_shipped_house(pack: Callable[..., Path], path: str, status: int, words: str) -> None:
    broken = f'house = "plain-strings"\nset = {{ "{path}" = "0.2 in" }}\nverdict = "fail"'
    broken = f"[[label-letters-too-low.example]]\n{broken}"
    where = pack("rules.examples.toml", LIMIT, f"{LIMIT}\n{broken}")
    found, out = run("pack", "try", str(where))
    assert found == status and words in out


def test_the_houses_an_example_may_name_are_those_shipped() -> None:
    said = load_schema("examples.schema.json")["additionalProperties"]["properties"]["example"]["items"]["properties"]
    assert said["house"]["enum"] == [path.stem for path in houses()]


@pytest.mark.parametrize(
    ("figure", "wrong"),
    [("any figure", 0), ("any figure from 0.25", 0), ("any figure to 0.24", 2), ("any figure from 0.2 to 0.25", 1)],
)
def test_any_figure_is_tried_small_and_large(pack: Callable[..., Path], figure: str, wrong: int) -> None:
    """Of two trials of an example that says the letters pass, whatever their height: how many do not, below 0.25 in."""
    example = f'[[label-letters-too-low.example]]\nset."labels/0/letter_height" = "{figure}"\nverdict = "pass"\n'
    status, out = run("pack", "try", str(pack("rules.examples.toml", "[[", example + "\n[[")))
    assert out.count("answers") == wrong and (status == 1) == bool(wrong), out


@pytest.mark.parametrize(
    ("height", "wrong"), [("0.25 in or 2 in", 0), ("0.1 in or 2 in", 1), ("2 in or 0.1 in", 1), ("0.1 in or 0.2 in", 2)]
)
def test_of_two_texts_both_are_tried(pack: Callable[..., Path], height: str, wrong: int) -> None:
    given = f'set."labels/0/letter_height" = "either {height}"'
    example = f'[[label-letters-too-low.example]]\n{given}\nverdict = "pass"\n'
    status, out = run("pack", "try", str(pack("rules.examples.toml", "[[", example + "\n[[")))
    assert out.count("answers") == wrong and (status == 1) == bool(wrong), out


def test_any_figure_of_an_outline_is_not_held_to_how_many_points_it_has() -> None:
    rule = PACKS["roof"].rules["too-few-roof-pathways"]
    outline = [["any figure from 0 to 1", 2], [9, "any figure from 0 to 1"], [9, 9]]
    plain = next(one for one in rule.examples if not one.vary)
    example = attrs.evolve(plain, given={"roof/planes/0/outline": outline})
    tried = {trial.document["roof"]["planes"][0]["outline"] for trial in trials_of(PACKS["roof"], rule, example)}
    assert tried == {"0,2 9,0 9,9", "1,2 9,1 9,9"}
