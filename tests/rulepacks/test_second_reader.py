"""Marks of a second reader hold for the rules as they stand, and only of rules, editions and sources that there are.

Source: the project's own contract. The marks name where in a published text each rule was read.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import attrs
import pytest
from click.testing import CliRunner

from ampcite.authoring.signing import Signature, signatures, signed, unsigned
from ampcite.base.editions import ByEdition
from ampcite.base.errors import PackError
from ampcite.command.main import main
from ampcite.law.files import content, digest
from ampcite.law.load import load_pack, read_pack
from ampcite.law.records import Mark, Pack
from ampcite.law.second_reader import HEADER, NO_TEXT, RIGHT, content_of, faults, marks_of
from shared import PACKS

ELECTRICAL, BUSBAR = PACKS["electrical"], "busbar-overloaded-by-sources"


def marked(rule: str = BUSBAR, edition: int = 2017) -> Pack:
    source = next(iter(ELECTRICAL.sources))
    text = signed(attrs.evolve(ELECTRICAL, marks={}), PACKS, [Signature(rule, (edition,), source, "705.12(B)")])
    rows = tuple(tuple(line.split(",")) for line in text.splitlines())
    return attrs.evolve(ELECTRICAL, marks=marks_of(rows))


@pytest.mark.parametrize("pack", [pack for pack in PACKS.values() if not pack.authority], ids=lambda pack: pack.name)
def test_every_mark_is_of_the_rule_as_it_stands(pack: Pack) -> None:
    assert [f"{rule} {said}" for (rule, _), said in faults(pack, PACKS)] == []


def test_how_many_rules_are_marked(capsys: pytest.CaptureFixture[str]) -> None:
    count: Counter[tuple[str, int]] = Counter()
    whole: Counter[tuple[str, int]] = Counter()
    for pack in PACKS.values():
        for rule in pack.rules.values() if not pack.authority else ():
            for year in (y for y in pack.editions[rule.code] if rule.in_force(y)):
                whole[rule.code, year] += 1
                count[rule.code, year] += (rule.id, year) in pack.marks
    with capsys.disabled():
        print("\n" + "; ".join(f"{code} {year}: {count[code, year]} of {n} marked"
                               for (code, year), n in sorted(whole.items())))  # fmt: skip
    assert set(count) == set(whole)


def test_a_mark_is_lost_with_what_the_rule_rests_on() -> None:
    pack = marked()
    assert list(faults(pack, PACKS)) == []
    rule = pack.rules[BUSBAR]
    changed = {
        "words": attrs.evolve(rule, fails=ByEdition({0: "Another sentence."})),
        "scope": attrs.evolve(rule, applies="1 == 1"),
        "force": attrs.evolve(rule, force="recommendation"),
        "input": attrs.evolve(rule, inputs={**rule.inputs, "more": "id"}),
    }
    for what, one in changed.items():
        other = attrs.evolve(pack, rules={**pack.rules, BUSBAR: one})
        assert [name for name, _ in faults(other, PACKS)] == [(BUSBAR, 2017)], what
        assert BUSBAR not in signed(other, PACKS, ())
    before = content_of(PACKS, pack, rule, 2017)
    resting = 0
    for name, figure in pack.parameters.items():
        new = attrs.evolve(figure, value=ByEdition(dict.fromkeys(figure.value.texts, "987")))
        other = attrs.evolve(pack, parameters={**pack.parameters, name: new})
        resting += content_of({**PACKS, "electrical": other}, other, rule, 2017) != before
    assert 1 <= resting < len(pack.parameters) / 4
    noted = attrs.evolve(pack, rules={**pack.rules, BUSBAR: attrs.evolve(rule, examples=(), file="other.toml")})
    assert list(faults(noted, PACKS)) == []


def test_a_figure_of_another_edition_takes_no_mark() -> None:
    pack = marked()
    rule = pack.rules[BUSBAR]
    later = ByEdition({**rule.fails.texts, 2023: "Only of 2023."})
    changed = attrs.evolve(pack, rules={**pack.rules, BUSBAR: attrs.evolve(rule, fails=later)})
    assert list(faults(changed, PACKS)) == []
    assert content_of(PACKS, changed, changed.rules[BUSBAR], 2023) != content_of(PACKS, pack, rule, 2023)


def test_marks_of_nothing_are_seen() -> None:
    pack = marked()
    mark = pack.marks[BUSBAR, 2017]
    wrong = {("no-such-rule", 2017): mark, (BUSBAR, 1999): mark,
             (BUSBAR, 2017): attrs.evolve(mark, source="no-such-source")}  # fmt: skip
    assert len(list(faults(attrs.evolve(pack, marks=wrong), PACKS))) == 3


@pytest.mark.parametrize(("row", "said"), [
    (("a", "soon", RIGHT, "s", "p", "0"), "no edition"), (("a", "2017", "fine", "s", "p", "0"), "neither"),
    (("a", "2017", RIGHT, "", "p", "0"), "neither"), (("a", "2017", RIGHT, "s", "", "0"), "neither"),
    (("a", "2017", NO_TEXT, "s", "p", "0"), "neither"),
])  # fmt: skip
def test_cells_that_are_no_mark(row: tuple[str, ...], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        marks_of((HEADER, row))
    with pytest.raises(ValueError, match="columns"):
        marks_of((row,))
    with pytest.raises(ValueError, match="twice"):
        marks_of((HEADER, ("a", "2017", NO_TEXT, "", "", "0"), ("a", "2017", NO_TEXT, "", "", "0")))


def test_signing_from_the_command_line(tmp_path: Path) -> None:
    folder = tmp_path / "elm"
    run = CliRunner()
    assert run.invoke(main, ["pack", "new", str(folder)]).exit_code == 0
    pack = load_pack(folder)
    rule, source = next(iter(pack.rules)), next(iter(pack.sources))
    before = digest(content(folder))
    assert run.invoke(main, ["pack", "sign", str(folder), "--withdraw"]).exit_code == 0
    assert load_pack(folder).marks == {}
    listed = run.invoke(main, ["pack", "sign", str(folder)])
    assert listed.exit_code == 0 and rule in listed.output
    year = str(pack.editions["electrical"][0])
    done = run.invoke(main, ["pack", "sign", str(folder), "--rule", rule, "--edition", year, "--source", source,
                             "--place", "page 3"])  # fmt: skip
    assert done.exit_code == 0, done.output
    assert load_pack(folder).marks[rule, int(year)].place == "page 3"
    assert digest(content(folder)) == before
    assert "second reader" not in run.invoke(main, ["pack", "check", str(folder)]).output
    assert run.invoke(main, ["pack", "sign", str(folder)]).output == ""
    (folder / "more.csv").write_text(f"rule,editions,source,place\n{rule},{year},,\n", "utf-8")
    assert run.invoke(main, ["pack", "sign", str(folder), "--from", str(folder / "more.csv")]).exit_code == 0
    assert load_pack(folder).marks[rule, int(year)] == attrs.evolve(
        Mark(NO_TEXT, "", "", ""), content=load_pack(folder).marks[rule, int(year)].content)  # fmt: skip
    for wrong in (["--rule", "none", "--edition", year], ["--rule", rule, "--edition", "1901"],
                  ["--rule", rule, "--edition", year, "--source", "none", "--place", "1"],
                  ["--rule", rule, "--edition", year, "--source", source]):  # fmt: skip
        assert run.invoke(main, ["pack", "sign", str(folder), *wrong]).exit_code == 2
    rules = next(folder.glob("*.examples.toml")).name.replace(".examples", "")
    text = (folder / rules).read_text("utf-8")
    title = pack.rules[rule].title
    (folder / rules).write_text(text.replace(title, title + " again"), "utf-8")
    checked = run.invoke(main, ["pack", "check", str(folder)])
    assert checked.exit_code == 2 and "has changed since a second reader marked it" in checked.output
    assert rule in run.invoke(main, ["pack", "sign", str(folder)]).output
    assert run.invoke(main, ["pack", "sign", str(folder), "--withdraw"]).exit_code == 0
    assert load_pack(folder).marks == {}
    (folder / "second-reader.csv").write_text("rule,edition\n", "utf-8")
    assert read_pack(folder).complaints


def test_what_lacks_a_mark_is_listed() -> None:
    bare, pack = attrs.evolve(ELECTRICAL, marks={}), marked()
    assert len(list(unsigned(bare, PACKS))) == len(ELECTRICAL.rules)
    years = dict(unsigned(pack, PACKS))[BUSBAR]
    assert 2017 not in years and 2020 in years


@pytest.mark.parametrize("lines", ["a,soon,s,p", "a,,s,p", "a,2017"])
def test_lines_that_sign_nothing(lines: str) -> None:
    wrong = ("", "rule,editions\n", "rule,edition,source,place\na,2017,s,p\n")
    for text in (*wrong, f"rule,editions,source,place\n{lines}\n"):
        with pytest.raises(PackError):
            signatures(text.encode())


def test_lines_as_a_spreadsheet_saves_them() -> None:
    wanted = [Signature("a", (2017, 2020), "s", "690.8(B)"), Signature("b", (2014,), "", "")]
    for text in ("rule,editions,source,place\na,2017 2020,s,690.8(B)\nb,2014,,\n",
                 "\ufeffrule;editions;source;place\r\na;2017 2020;s;690.8(B)\r\nb;2014;;\r\n"):  # fmt: skip
        assert signatures(text.encode()) == wanted
