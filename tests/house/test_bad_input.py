"""Bad descriptions and bad packs: one clear sentence for each fault, with its place, all at once, and no traceback.

Nothing here is taken from outside the project: the inputs are own inventions, and what is expected of them is the
project's law that a bad input gets one sentence that names file, place, what was found and what is allowed.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import sysconfig
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import ampcite
from ampcite import check
from shared import sample

SCRIPT = Path(sysconfig.get_path("scripts")) / ("ampcite.exe" if os.name == "nt" else "ampcite")
GUARD_SECONDS, GUARD_BYTES = 20, 2 * 1024**3


def limits() -> None:
    """Keeps a child process from taking the machine down with it; a guard, not a measurement."""
    import resource

    resource.setrlimit(resource.RLIMIT_AS, (GUARD_BYTES, GUARD_BYTES))


def run(*words: str | Path, input: bytes | None = None) -> subprocess.CompletedProcess[bytes]:
    """The command line in a process of its own, with limited memory and time."""
    return subprocess.run([SCRIPT, *words], input=input, capture_output=True, timeout=GUARD_SECONDS,
                          preexec_fn=limits if os.name == "posix" else None, check=False)  # fmt: skip


def complaints(source: Any) -> list[tuple[str, str]]:
    """Place and sentence of each complaint about a description."""
    with pytest.raises(ampcite.InputError) as caught:
        ampcite.read(source)
    return sentences(caught.value)


def sentences(fault: ampcite.AmpciteError) -> list[tuple[str, str]]:
    assert fault.complaints
    assert str(fault).count("\n") == len(fault.complaints) - 1, "one line for each complaint"
    for complaint in fault.complaints:
        assert complaint.message
        assert len(complaint.message) < 700
        assert not re.search(r"Traceback|Error\b|\bobject at 0x", complaint.message), complaint.message
    return [(c.place, c.message) for c in fault.complaints]


def has(found: list[tuple[str, str]], place: str, *words: str) -> None:
    """Holds that one complaint is about this place and has these words."""
    here = [said for at, said in found if at == place]
    assert here, f"nothing is said of {place!r}; complaints: {found}"
    assert any(all(w in said for w in words) for said in here), f"{words} not in {here}"


# --- descriptions: the text -------------------------------------------------------------------------------------

TEXTS: dict[str, tuple[bytes, tuple[str, ...]]] = {
    "empty": (b"", ("not JSON", "line 1")),
    "blank": (b" \n ", ("not JSON",)),
    "truncated": (b'{"site": {"design_low": -11', ("not JSON", "line 1", "column")),
    "truncated in a text": (b'{"site": {"design_low": "-1', ("not JSON", "line 1")),
    "missing value": (b'{\n "site": \n}', ("not JSON", "line 3")),
    "single quotes": (b"{'site': {}}", ("not JSON",)),
    "trailing comma": (b'{"site": {},}', ("not JSON",)),
    "comment": (b"{} // none", ("not JSON",)),
    "two values": (b"{} {}", ("not JSON",)),
    "not a number": (b'{"site": {"design_low": NaN}}', ("NaN", "not a number")),
    "infinity": (b'{"site": {"design_low": Infinity}}', ("Infinity", "not a number")),
    "minus infinity": (b'{"site": {"design_low": -Infinity}}', ("-Infinity", "not a number")),
    "six thousand digits": (b'{"site": {"design_low": ' + b"9" * 6000 + b"}}", ("too many digits",)),
    "duplicate keys": (b'{"site": {"design_low": 1, "design_low": 2}}', ('"design_low"', "twice", "keep one")),
    "duplicate keys far down": (b'{"a": [{"b": {"c": 1, "d": 2, "c": 3}}]}', ('"c"', "twice")),
    "not UTF-8": ('{"project": {"name": "Café"}}'.encode("latin-1"), ("not UTF-8", "byte 25")),
    "UTF-16": ('{"project": {}}'.encode("utf-16"), ("not UTF-8",)),
    "a list": (b'[{"site": {}}, {}]', ("a list of 2", "JSON object")),
    "a text": (b'"house"', ("house", "JSON object")),
    "a number": (b"690", ("690", "JSON object")),
    "null": (b"null", ("null", "JSON object")),
    "true": (b"true", ("true", "JSON object")),
    "binary": (bytes(range(256)), ("not UTF-8",)),
    "nul bytes": (b"\0" * 50, ("not JSON",)),
}


@pytest.mark.parametrize("case", TEXTS)
def test_a_text_that_is_no_description(case: str, tmp_path: Path) -> None:
    text, words = TEXTS[case]
    has(complaints(text), "", *words)
    file = tmp_path / "house.json"
    file.write_bytes(text)
    with pytest.raises(ampcite.InputError) as caught:
        ampcite.read(file)
    assert str(caught.value).startswith(str(file)), "the file is named"


def test_a_byte_order_mark_is_accepted() -> None:
    assert ampcite.read(b'\xef\xbb\xbf{"site": {"design_low": -11}}').whole.facts["site/design_low"] == -11


def test_a_missing_file_and_a_directory(tmp_path: Path) -> None:
    for path, word in ((tmp_path / "nothing.json", "No such file"), (tmp_path, "directory"),
                       (tmp_path / "house.json" / "x", "No such file"),
                       (tmp_path / ("n" * 300), "too long")):  # fmt: skip
        for source in (path, str(path)):
            with pytest.raises(ampcite.InputError) as caught:
                ampcite.read(source)
            assert str(caught.value).startswith(str(path))
            assert "can't be read" in str(caught.value)
            assert word in str(caught.value)


def test_a_name_no_file_can_have() -> None:
    with pytest.raises(ampcite.InputError):
        ampcite.read("house\0.json")


# --- descriptions: the values ------------------------------------------------------------------------------------

M = {"id": "M1"}
VOC = "/equipment/modules/LM/voc"


def voc(value: Any) -> Any:
    """A module model with this open-circuit voltage."""
    return {"equipment": {"modules": {"LM": {"voc": value}}}}


VALUES: dict[str, tuple[Any, str, tuple[str, ...]]] = {
    # wrong types
    "text for an object": ({"site": "here"}, "/site", ('"here"', "an object")),
    "null for an object": ({"site": None}, "/site", ("null", "an object")),
    "object for a list": ({"modules": {}}, "/modules", ('"all"', '"only"')),
    "text for a list": ({"modules": "M1"}, "/modules", ('"M1"', "a list")),
    "number in a list of objects": ({"modules": [7]}, "/modules/0", ("7", "an object")),
    "list for a number": ({"site": {"design_low": [-11]}}, "/site/design_low", ("a list of 1", "a number", "degC")),
    "true for a number": ({"site": {"design_low": True}}, "/site/design_low", ("true", "a number")),
    "null for a number": ({"site": {"design_low": None}}, "/site/design_low", ("null", "a number")),
    "number for a text": ({"modules": [{"id": 7}]}, "/modules/0/id", ("7", "a text")),
    "text for a flag": ({"disconnects": [{"id": "D", "load_break": "yes"}]}, "/disconnects/0/load_break",
                        ('"yes"', "true or false")),
    "number for a flag": ({"disconnects": [{"id": "D", "load_break": 1}]}, "/disconnects/0/load_break",
                          ("1", "true or false")),
    "fraction for a count": ({"strings": [{"id": "S", "modules_in_series": 11.5}]}, "/strings/0/modules_in_series",
                             ("11.5", "a whole number")),
    "text for a count": ({"strings": [{"id": "S", "modules_in_series": "11"}]}, "/strings/0/modules_in_series",
                         ('"11"', "a whole number")),
    "text for the edition": ({"codes": {"electrical_edition": "2020"}}, "/codes/electrical_edition",
                             ('"2020"', "a whole number")),
    "words where a number belongs": ({"site": {"design_low": "cold"}}, "/site/design_low", ('"cold"', "number")),
    "empty text where a number belongs": ({"site": {"design_low": ""}}, "/site/design_low", ("number",)),
    "a sign only": ({"site": {"design_low": "-"}}, "/site/design_low", ('"-"', "number")),
    # names
    "unknown field": ({"site": {"design_lo": 1}}, "/site/design_lo", ("not a field", 'mean "design_low"')),
    "unknown field at the top": ({"moduels": []}, "/moduels", ("not a field", 'mean "modules"')),
    "unknown field, nothing near": ({"site": {"zzzzzz": 1}}, "/site/zzzzzz",
                                     ("not a field", "design_low", "elevation")),
    "unknown word": ({"circuits": [{"id": "C", "kind": "pv sorce"}]}, "/circuits/0/kind",
                     ('"pv sorce"', 'mean "pv source"')),
    "unknown size": ({"circuits": [{"id": "C", "base_size": "10AWG"}]}, "/circuits/0/base_size",
                     ('"10AWG"', 'mean "10 AWG"')),
    **{f"size as {text}": ({"circuits": [{"id": "C", "base_size": text}]}, "/circuits/0/base_size",
                           (f'mean "{size}"',))
       for text, size in (("#12", "12 AWG"), ("12", "12 AWG"), ("No. 12", "12 AWG"), (12, "12 AWG"), ("1/0", "1/0 AWG"),
                          ("12 ga", "12 AWG"), ("12awg", "12 AWG"), ("250 MCM", "250 kcmil"), (250, "250 kcmil"))},
    **{f"trade size as {text}": ({"raceways": [{"id": "R", "trade_size": text}]}, "/raceways/0/trade_size",
                                 (f'mean "{size}"',))
       for text, size in (("1 1/4", "1-1/4"), ("3/4 in", "3/4"), ('1-1/2"', "1-1/2"), ("2 in.", "2"), (2, "2"))},
    "no id": ({"modules": [{"quantity": 4}]}, "/modules/0", ('no "id"', "module")),
    # units
    "unknown unit": ({"site": {"elevation": "12 furlongs"}}, "/site/elevation", ("furlongs", "ft", "m")),
    "wrong dimension": ({"circuits": [{"id": "C", "segments": [{"length": "30 V"}]}]}, "/circuits/0/segments/0/length",
                        ("30 V", "is in V", "length", "ft", "m")),
    "temperature in feet": ({"site": {"design_low": "10 ft"}}, "/site/design_low", ("is in ft", "temperature", "degF")),
    "coefficient in percent": ({"equipment": {"modules": {"LM": {"voc_coefficient": "-0.3 %"}}}},
                               "/equipment/modules/LM/voc_coefficient",
                               ("is in %", "%/degC")),
    "thousands with a comma too few": (voc("1,00 V"), VOC, ("1,00 V", "comma")),
    "two figures for one": (voc("120/240 V"), VOC, ("120/240 V", "one figure")),
    "a rise and its run": ({"roof": {"planes": [{"id": "P", "rise_in_12": "7/12"}]}}, "/roof/planes/0/rise_in_12",
                           ("7/12", "7 in 12 as 7")),
    "zero below the line": ({"site": {"elevation": "1/0 ft"}}, "/site/elevation", ("1/0 ft", "zero")),
    "an endless quantity": ({"site": {"elevation": "1" + "0" * 5000 + " ft"}}, "/site/elevation", ("characters",)),
    # facts written as one text
    "unclear conductor": ({"circuits": [{"id": "C", "conductor": "10 AWG coper THWN-2"}]}, "/circuits/0/conductor",
                          ("size 10 AWG", '"coper THWN-2"', 'mean "copper"', "THHN")),
    "conductor with the size of a drawing": ({"circuits": [{"id": "C", "conductor": "10 copper"}]},
                                             "/circuits/0/conductor", ('"10 copper"', 'mean "10 AWG"')),
    "conductor as an object": ({"circuits": [{"id": "C", "conductor": {"size": "10 AWG"}}]}, "/circuits/0/conductor",
                               ("an object", "a text")),
    "conductor without a word": ({"circuits": [{"id": "C", "conductor": ""}]}, "/circuits/0/conductor", ("AWG",)),
    "no parallel sets": ({"circuits": [{"id": "C", "conductor": "0 x 10 AWG"}]},
                         "/circuits/0/conductor/parallel_sets", ("0", "at least 1")),
    # equipment
    "a maker's figure at the part": ({"modules": [{"id": "M", "voc": 40}]}, "/modules/0/voc",
                                     ("belongs to the model", '"equipment"', '"modules"')),
    "a quantity at the model": ({"equipment": {"modules": {"LM": {"quantity": 3}}}}, "/equipment/modules/LM/quantity",
                                ("not a field", "module model")),
    "an unknown kind of equipment": ({"equipment": {"widgets": {}}}, "/equipment/widgets", ("not a field", "modules")),
    # lists
    "a list that says neither all nor only": ({"strings": {"each": {}}}, "/strings", ('"all"', '"only"')),
    "a list that says both": ({"strings": {"all": [], "only": []}}, "/strings/only", ('beside "all"',)),
    "an unknown word of a list": ({"strings": {"any": [], "all": []}}, "/strings/any", ("each", "all", "only")),
    "a bad fact for each": ({"strings": {"each": {"units": -1}, "all": []}}, "/strings/each/units",
                            ("-1", "at least")),
    "a bad fact of one of all": ({"strings": {"all": [{"id": "S", "units": -1}]}}, "/strings/all/0/units", ("-1",)),
    "a bad fact of one of only some": ({"strings": {"only": [{"id": "S", "units": -1}]}}, "/strings/only/0/units",
                                       ("-1",)),
    "a part without an id among all": ({"strings": {"each": {"units": 1}, "all": [{}]}}, "/strings/all/0",
                                       ('no "id"', "string")),
    # impossible values
    "negative length": ({"circuits": [{"id": "C", "segments": [{"length": -1}]}]},
                        "/circuits/0/segments/0/length", ("-1 ft", "at least 0")),
    "negative length as text": ({"circuits": [{"id": "C", "segments": [{"length": "-6 ft 7 in"}]}]},
                                "/circuits/0/segments/0/length",
                                ("ft", "at least 0")),
    "absolute zero": ({"site": {"design_low": -273.15}}, "/site/design_low", ("-273.15 degC", "more than -273.15")),
    "absolute zero in degF": ({"site": {"design_low": "-459.67 degF"}}, "/site/design_low", ("more than -273.15",)),
    "colder than cold": ({"site": {"design_low": "-300 degC"}}, "/site/design_low", ("-300", "more than -273.15")),
    "hotter than any place": ({"site": {"design_high": "1000 degF"}}, "/site/design_high", ("at most 200",)),
    "module of 0 V": (voc(0), VOC, ("0 V", "more than 0")),
    "module of 0 V as text": (voc("0 V"), VOC, ("0", "more than 0")),
    "no modules in series": ({"strings": [{"id": "S", "modules_in_series": 0}]}, "/strings/0/modules_in_series",
                             ("0", "at least 1")),
    "edition before the first": ({"codes": {"electrical_edition": 20}}, "/codes/electrical_edition",
                                 ("20", "at least 1897")),
    "1e400 in a text": (voc("1e400 V"), VOC, ("1e400 V", "too large")),
    "1e30 V": (voc(1e30), VOC, ("1e+30",)),
    "not a number": (voc(float("nan")), VOC, ("nan",)),
    "infinity": (voc(float("inf")), VOC, ("inf",)),
    "minus infinity": ({"site": {"design_low": float("-inf")}}, "/site/design_low", ("-inf", "more than -273.15")),
    "infinitely many modules": ({"strings": [{"id": "S", "modules_in_series": float("inf")}]},
                                "/strings/0/modules_in_series", ("inf", "whole number")),
    "four hundred digits": (voc(10**400), VOC, ("10000", "...")),
    "four hundred digits of temperature": ({"site": {"design_low": -(10**400)}}, "/site/design_low",
                                           ("-1000", "...", "more than -273.15")),
    "six thousand digits": (voc(10**6000), VOC, ()),
    "six thousand digits of modules": ({"strings": [{"id": "S", "modules_in_series": 10**6000}]},
                                       "/strings/0/modules_in_series", ("at most 1000000",)),
    "a text too long": ({"project": {"name": "x" * 2001}}, "/project/name", ("2001 characters", "2000")),
    # references
    "one id twice in a list": ({"strings": [{"id": "S1"}], "circuits": [{"id": "C", "strings": ["S1", "S1"]}]},
                               "/circuits/0/strings", ("twice",)),
    "two parts of one id": ({"modules": [M, M]}, "/modules/1/id", ('"M1"', "/modules/0", "id of its own")),
    "two kinds of one id": ({"modules": [{"id": "A"}], "strings": [{"id": "A"}]}, "/strings/0/id",
                            ('"A"', "/modules/0")),
}  # fmt: skip


@pytest.mark.parametrize("case", VALUES)
def test_a_value_that_cannot_be(case: str) -> None:
    document, place, words = VALUES[case]
    found = complaints(document)
    has(found, place, *words)
    assert {at for at, _ in found} == {place}, f"one fault, one place: {found}"


@pytest.mark.parametrize("case", [c for c in VALUES if "six thousand" not in c and c not in (
    "not a number", "infinity", "minus infinity", "infinitely many modules")])  # fmt: skip
def test_a_value_that_cannot_be_as_text(case: str) -> None:
    """The same out of a file: JSON in, the same places out."""
    document, place, words = VALUES[case]
    has(complaints(json.dumps(document).encode()), place, *words)


def test_a_number_beyond_floats_in_a_file() -> None:
    has(complaints(b'{"equipment": {"modules": {"LM": {"voc": 1e999}}}}'), "/equipment/modules/LM/voc", "inf")
    has(complaints(b'{"site": {"design_low": -1e999}}'), "/site/design_low", "more than -273.15")
    has(complaints(b'{"strings": [{"id": "S", "units": 1e999}]}'), "/strings/0/units", "whole number")
    has(complaints(b'{"site": {"design_low": ' + b"9" * 400 + b"}}"), "/site/design_low", "at most 200")


def test_the_place_is_a_json_pointer() -> None:
    """RFC 6901 section 3: "~" is written "~0" and "/" is written "~1" in a step (from memory)."""
    assert [place for place, _ in complaints({"site": {"a/b": 1}})] == ["/site/a~1b"]
    assert [place for place, _ in complaints({"a~b": 1})] == ["/a~0b"]


SEVERAL: dict[str, tuple[Any, dict[str, str]]] = {
    "of the shape": (
        {"site": {"design_low": True, "design_lo": 1}, "modules": [{"quantity": -1}, {"id": 1}], "x": 1},
        {"/site/design_low": "true", "/site/design_lo": "design_low", "/modules/0": "id",
         "/modules/0/quantity": "at least 0", "/modules/1/id": "a text", "/x": "not a field"},
    ),
    "of quantities and ids": (
        {"site": {"design_low": "-300 degC", "elevation": "3 V"}, "modules": [{"id": "A"}, {"id": "A"}]},
        {"/site/design_low": "more than", "/site/elevation": "is in V", "/modules/1/id": "/modules/0"},
    ),
    "of every sort": (
        {"site": {"design_low": True, "elevation": "3 V"}, "circuits": [{"id": "S", "conductor": "tin"}]},
        {"/site/design_low": "true", "/site/elevation": "is in V", "/circuits/0/conductor": '"tin"'},
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", SEVERAL)
def test_every_fault_is_reported_at_once(case: str) -> None:
    document, expected = SEVERAL[case]
    found = complaints(document)
    for place, word in expected.items():
        has(found, place, word)
    assert len(found) == len(expected), found


def test_a_list_that_says_neither_how_far_it_goes_nor_what_is_on_it() -> None:
    """The faults of the rest are found even so."""
    found = complaints({"panels": {"all": "two"}, "site": {"elevation": "3 V"}})
    has(found, "/panels/all", "a list")


def test_nothing_is_dropped_of_very_many_faults() -> None:
    found = complaints({"modules": [{"id": f"M{i}", "quantity": -1} for i in range(500)]})
    if len(found) < 500:
        assert re.search(r"\d+ more", found[-1][1]), f"{len(found)} of 500 faults are told, the rest not mentioned"


HEAVY: dict[str, Callable[[], bytes]] = {
    "lists in lists": lambda: b"[" * 10_000_000,
    "objects in objects": lambda: b'{"a":' * 2_000_000,
    "closed lists": lambda: b'{"site": ' + b"[" * 4_000_000 + b"]" * 4_000_000 + b"}",
    "nested below the parser's limit": lambda: b'{"project": {"name": ' + b"[" * 700 + b"]" * 700 + b"}}",
    "nested objects below the parser's limit": lambda: b'{"site":' * 450 + b"1" + b"}" * 450,
    "ten megabytes of one text": lambda: b'{"project": {"name": "' + b"x" * 10_000_000 + b'"}}',
    "a key of ten megabytes": lambda: b'{"' + b"x" * 10_000_000 + b'": 1}',
    "a hundred thousand unknown keys": lambda: json.dumps({f"k{i}": 1 for i in range(100_000)}).encode(),
    "a number of a million digits": lambda: b'{"site": {"design_low": ' + b"1" * 1_000_000 + b"}}",
    "a fraction of a million digits": lambda: b'{"equipment": {"modules": {"L": {"voc": 0.%s}}}}' % (b"0" * 1_000_000),
}


@pytest.mark.parametrize("case", sample(HEAVY, 3))
def test_heavy_input_is_refused_with_little(case: str, tmp_path: Path) -> None:
    file = tmp_path / "house.json"
    file.write_bytes(HEAVY[case]())
    done = run("check", "--edition", "2020", file)
    refused(done)
    assert str(file).encode() in done.stderr


@pytest.mark.parametrize("kind", ["dict", "list"])
def test_deep_values_given_as_python(kind: str) -> None:
    """A value too deep for the stack, in a process of its own."""
    program = f"""
import os, ampcite
value = 1
for _ in range(200_000):
    value = {{"site": value}} if {kind} is dict else [value]
try:
    ampcite.read({{"site": value}})
except ampcite.InputError as fault:
    print("refused", len(str(fault)) < 2000, flush=True)
os._exit(0)  # taking so deep a value apart again is no part of the test
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, timeout=GUARD_SECONDS, check=False,
                          preexec_fn=limits if os.name == "posix" else None, text=True)  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (0, "refused True\n", "")


# --- descriptions on the command line ----------------------------------------------------------------------------


def refused(done: subprocess.CompletedProcess[bytes]) -> None:
    assert b"Traceback" not in done.stderr, done.stderr[-2000:]
    assert done.returncode == 2, done
    assert done.stdout == b""
    assert done.stderr.strip()


@pytest.mark.parametrize("case", sample(["empty", "truncated", "not a number", "six thousand digits",
                                         "duplicate keys", "not UTF-8", "a list"], 8))  # fmt: skip
def test_the_command_line_refuses_a_text(case: str, tmp_path: Path) -> None:
    text, words = TEXTS[case]
    file = tmp_path / "house.json"
    file.write_bytes(text)
    for done in (run("check", "--edition", "2020", file), run("check", "-", "--edition", "2020", input=text)):
        refused(done)
        assert all(w in done.stderr.decode() for w in words)
    assert str(file) in run("check", file).stderr.decode()


@pytest.mark.parametrize("case", sample(["unknown field", "unknown unit", "wrong dimension", "colder than cold",
                                         "module of 0 V", "four hundred digits",
                                         "two parts of one id"], 8))  # fmt: skip
def test_the_command_line_refuses_a_value(case: str, tmp_path: Path) -> None:
    document, place, words = VALUES[case]
    file = tmp_path / "house.json"
    file.write_text(json.dumps(document), "utf-8")
    done = run("check", "--edition", "2020", file)
    refused(done)
    said = done.stderr.decode()
    assert said.startswith(f"{file}: {place}: ")
    assert all(w in said for w in words)


def test_the_command_line_refuses_what_is_no_file(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "nothing.json"):
        done = run("check", "--edition", "2020", path)
        refused(done)
        assert "can't be read" in done.stderr.decode()


def test_the_command_line_asks_for_an_edition(tmp_path: Path) -> None:
    file = tmp_path / "house.json"
    file.write_text("{}", "utf-8")
    done = run("check", file)
    refused(done)
    assert "--edition" in done.stderr.decode()
    done = run("check", "--edition", "1901", file)
    refused(done)
    assert "1901" in done.stderr.decode()


def test_one_bad_file_does_not_hide_the_others(tmp_path: Path) -> None:
    good, bad = tmp_path / "good.json", tmp_path / "bad.json"
    good.write_text('{"site": {"design_low": -11, "design_low_source": "an invented station"}}', "utf-8")
    bad.write_text("{", "utf-8")
    done = run("check", "--edition", "2020", bad, good)
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr
    assert str(bad).encode() in done.stderr
    assert str(good).encode() in done.stdout


@pytest.mark.parametrize("form", ["text", "json"])
def test_half_a_character_does_no_harm(form: str, tmp_path: Path) -> None:
    """JSON can spell one half of a surrogate pair, which no text file can hold."""
    file = tmp_path / "house.json"
    file.write_bytes(b'{"circuits": [{"id": "\\ud800", "equipment_ground": null}], "project": {"name": "\\udfff"}}')
    done = run("check", "--edition", "2020", "--format", form, file)
    assert b"Traceback" not in done.stderr, done.stderr[-300:]
    assert done.returncode in (0, 1, 2, 3)


# --- packs -------------------------------------------------------------------------------------------------------

BASE = {
    "pack.toml": """
[pack]
name = "base"
title = "An invented pack for the tests"
version = "1"
editions = [2020, 2023]
[pack.works]
own = "Invented rules"
[pack.sources]
made = { title = "own invention", body = "", year = "" }
""",
    "rules.toml": """
[[parameter]]
name = "longest_run"
meaning = "longest run"
unit = "ft"
stricter = "lower"
value = { 2020 = "100" }
work = "own"
clause = { 2020 = "1.1" }
read = { 2020 = "made" }

[[parameter]]
name = "longest_wait"
meaning = "longest wait"
unit = "s"
stricter = "lower"
value = { 2020 = "30" }
work = "own"
clause = { 2020 = "1.2" }
read = { 2020 = "made" }

[[table]]
name = "spacing"
meaning = "spacing by length and place"
file = { 2020 = "spacing.csv" }
row = { header = "up_to", match = "next at or above", unit = "ft" }
conditions = [{ name = "place" }]
unit = "in"
beyond = "not known"
work = "own"
clause = { 2020 = "Table 1" }
read = { 2020 = "made" }

[[derived]]
name = "needed_spacing"
meaning = "spacing asked for"
each = "/communications/*"
unit = "in"
inputs = { length = "length" }
value = "spacing(length, 'dry')"

[[rule]]
id = "run-too-long"
title = "A run is not too long"
family = "runs"
force = "requirement"
each = "/communications/*"
scope = "runs of cable"
inputs = { kind = "kind", length = "length", outdoors = "outdoors", runs = "/communications/*" }
applies = "kind == 'RS-485'"
let = { share = "length / longest_run" }
holds = "length <= longest_run"
passes = "{each} is {length} long; {longest_run} is allowed."
fails = "{each} is {length} long."
remedy = "Shorten {each}."
cite = [{ work = "own", clause = { 2020 = "1.1" }, read = { 2020 = "made" } }]
""",
    "rules.examples.toml": """
[[run-too-long.example]]
set = { "communications/0/length" = 100 }
verdict = "pass"
""",
    "spacing.csv": "up_to,dry,wet\n10,1,2\n50,2,3\n",
}
R, CSV, HEAD, TESTS = "rules.toml", "spacing.csv", "pack.toml", "rules.examples.toml"
HOLDS = 'holds = "length <= longest_run"'
VALUE = "value = \"spacing(length, 'dry')\""
CITE = 'cite = [{ work = "own", clause = { 2020 = "1.1" }, read = { 2020 = "made" } }]'
EDITIONS = "editions = [2020, 2023]"
EACH = 'each = "/communications/*"\nscope'
WAY = '[[rule.way]]\nname = "w"\nholds = "outdoors"\nsays = "x"\n'
RULE, DERIVED = 'rule "run-too-long"', 'derived "needed_spacing"'
TABLE, WAIT = 'table "spacing"', 'parameter "longest_wait"'
SECOND_RULE = BASE[R][BASE[R].index("[[rule]]") :]
SECOND_DERIVED = BASE[R][BASE[R].index("[[derived]]") : BASE[R].index("[[rule]]")]

Change = tuple[str, str, str]


def write(folder: Path, files: dict[str, Any]) -> Path:
    folder.mkdir()
    for name, text in files.items():
        (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


def changed(folder: Path, *changes: Change) -> Path:
    """The base pack with texts exchanged: (file, before, after); an empty "before" adds at the end."""
    files = dict(BASE)
    for name, before, after in changes:
        text = files[name]
        assert not before or text.count(before) == 1, before
        files[name] = text.replace(before, after) if before else text + after
    return write(folder, files)


def refusal(*folders: Path, edition: int = 2020) -> list[tuple[str, str]]:
    """File with place, and sentence, of each complaint about packs."""
    with pytest.raises(ampcite.PackError) as caught:
        ampcite.load(edition, folders)
    sentences(caught.value)
    return [(f"{c.file}: {c.place}", c.message) for c in caught.value.complaints]


def names(found: list[tuple[str, str]], where: str, *words: str) -> None:
    """Holds that one complaint is about this file or place and has these words."""
    here = [said for at, said in found if where in at]
    assert here, f"nothing is said of {where!r}; complaints: {found}"
    assert any(all(w in said for w in words) for said in here), f"{words} not in {here}"


def test_the_base_pack_is_good(tmp_path: Path) -> None:
    """What the cases below change loads as it stands, and answers."""
    rulebook = ampcite.load(2020, [write(tmp_path / "base", BASE)])
    runs = [{"id": "R", "kind": "RS-485", "length": 101}, {"id": "Q", "kind": "RS-485", "length": "100 ft"}]
    report = check(rulebook, ampcite.read({"communications": runs}))
    assert [f.verdict.value for f in report.findings] == ["fail", "pass"]


def formula(text: str) -> Change:
    """The change that puts another formula in ``holds``."""
    return (R, HOLDS, f"holds = {json.dumps(text)}")


def path(text: str) -> Change:
    """The change that takes an input from elsewhere."""
    return (R, 'length = "length", outdoors', f'length = "{text}", outdoors')


FORMULAS: dict[str, tuple[str, tuple[str, ...]]] = {
    "attribute": ("length.__class__ == length", ("a dot",)),
    "call of an attribute": ("'a'.upper() == kind", ("not a plain name",)),
    "power of figures": ("length <= 9**9**9", ("operator other than + - * /",)),
    "power of names": ("length <= longest_run**longest_run", ("operator other than + - * /",)),
    "remainder": ("length % longest_run <= length", ("operator other than + - * /",)),
    "shift": ("length << longest_run", ("operator other than + - * /",)),
    "bits": ("~length <= longest_run", ("operator other than minus and not",)),
    "unknown function": ("length <= minn(longest_run, length)", ('calls "minn"', 'mean "min"')),
    "import": ("__import__('os')", ('calls "__import__"', "neither a function nor a table")),
    "evaluation": ("eval('length')", ('calls "eval"', "neither a function nor a table")),
    "call of a lambda": ("(lambda: length)() <= longest_run", ("not a plain name",)),
    "lambda": ("lambda length: length", ("a lambda",)),
    "list comprehension": ("[x for x in runs] == runs", ("a comprehension",)),
    "generator": ("sum(x for x in runs) <= longest_run", ("a comprehension",)),
    "set comprehension": ("{x for x in runs} == runs", ("a comprehension",)),
    "f-string": ("kind == f'{length}'", ("an f-string",)),
    "assignment inside": ("(x := length) <= longest_run", ("an assignment",)),
    "subscript": ("runs[0] == runs[1]", ("square brackets",)),
    "star": ("min(*runs) <= longest_run", ("a star",)),
    "keyword": ("min(length, longest_run, key=length) <= longest_run", ("keyword",)),
    "statement": ("import os", ("not a formula",)),
    "two statements": ("length <= longest_run; length", ("not a formula",)),
    "assignment": ("length = longest_run", ("not a formula",)),
    "unbalanced": ("(length <= longest_run", ("not a formula",)),
    "nothing": ("   ", ("not a formula",)),
    "nul byte": ("length\0 <= longest_run", ("not a formula",)),
    "unknown name": ("lenght <= longest_run", ('"lenght"', "not defined", 'mean "length"')),
    "name of a module": ("os <= longest_run", ('"os"', "not defined")),
    "figure": ("length <= 100", ("100", "[[parameter]]")),
    "fraction": ("length <= 1.5", ("1.5", "[[parameter]]")),
    "imaginary figure": ("length <= 1j", ("1j", "[[parameter]]")),
    "bytes": ("kind == b'x'", ("b'x'",)),
    "none": ("length == None", ("None",)),
    "units that do not fit": ("length <= longest_wait", ("compares", "length (ft)", "longest_wait (s)")),
    "units added": ("length + longest_wait <= longest_run", ("adds", "length (ft)", "longest_wait (s)")),
    "units subtracted": ("length - longest_wait <= longest_run", ("subtracts", "length (ft)", "longest_wait (s)")),
    "units chosen": ("(length if outdoors else longest_wait) <= longest_run", ("length (ft)", "longest_wait (s)")),
    "units in a function": ("min(length, longest_wait) <= longest_run", ("length (ft)", "longest_wait (s)")),
    "a share and a length": ("share <= longest_run", ("share (no unit)", "longest_run (ft)")),
    "an area and a length": ("length * longest_run <= longest_run", ("ft2", "longest_run (ft)")),
    "number and text": ("length == kind", ("length (ft)", "kind (a text)")),
    "number and flag": ("length == outdoors", ("length (ft)", "outdoors (a yes or no)")),
    "text in order": ("kind <= 'RS-485'", ("kind", "not numbers")),
    "reckoning with text": ("kind + kind == kind", ("kind", "not one number")),
    "reckoning with a list": ("runs * length <= longest_run", ("runs", "not one number")),
    "a word it can never be": ("kind == 'RS485'", ('"RS485"', "never", 'mean "RS-485"')),
    "a word in a list it can never be": ("kind in ('RS-485', 'wirless')", ('"wirless"', "never", 'mean "wireless"')),
    "in without a list": ("kind in 'RS-485'", ('"in"', "round brackets")),
    "is": ("kind is 'RS-485'", ("compares in a way",)),
    "unknown table": ("spacings(length, 'dry') <= longest_run", ('"spacings"', 'mean "spacing"')),
    "too few table keys": ("spacing(length) <= longest_run", ("spacing", "1 key", "has 2")),
    "too many table keys": ("spacing(length, 'dry', 'wet') <= longest_run", ("spacing", "3 keys", "has 2")),
    "table key of another unit": ("spacing(longest_wait, 'dry') <= longest_run", ("longest_wait (s)", "ft")),
    "table key of another kind": ("spacing(kind, 'dry') <= longest_run", ("spacing", "kind", "ft")),
    "table key that is none": ("spacing(length, 'damp') <= longest_run", ('"damp"', "no key", "dry", "wet")),
    "number for a statement": ("length", ("a number in ft", "not a yes or no")),
    "text for a statement": ("kind", ("a text", "not a yes or no")),
    "and of numbers": ("length and longest_run", ("length (ft)", "not a yes or no")),
    "not of a number": ("not length", ("length (ft)", "not a yes or no")),
    "one argument for two": ("min(length) <= longest_run", ("min", "two or more")),
    "sum of one number": ("sum(length) <= longest_run", ("sum", "a list")),
    "whole of a length": ("whole(length) <= longest_run", ("whole", "length (ft)")),
    "nested deeply": (" ".join(["not"] * 40) + " outdoors", ("nested", "`let`")),
}


@pytest.mark.parametrize("case", FORMULAS)
def test_a_formula_that_cannot_be(case: str, tmp_path: Path) -> None:
    text, words = FORMULAS[case]
    found = refusal(changed(tmp_path / "pack", formula(text)))
    names(found, f"{RULE} / holds", *words)
    assert str(tmp_path / "pack") in found[0][0], "the pack is named"
    assert len(found) == 1, found


@pytest.mark.parametrize("where", ["holds", "let"])
@pytest.mark.parametrize("length", [500, 100_000])
def test_a_formula_that_is_too_long(where: str, length: int, tmp_path: Path) -> None:
    long = "longest_run" + " + longest_run" * (length // 14)
    change = formula(f"length <= {long}") if where == "holds" else (R, '"length / longest_run"', f'"{long}"')
    found = refusal(changed(tmp_path / "pack", change))
    assert f"{RULE} / {where}" in found[0][0]
    assert re.search(r"\bcharacters\b|\btoo long\b", found[0][1]), found[0][1][:250]


TEMPLATES: dict[str, tuple[str, tuple[str, ...]]] = {
    "conversion": ("{length!r}", ('"length!r"', "not defined", 'mean "length"')),
    "format": ("{length:.1f}", ('"length:.1f"', "not defined", 'mean "length"')),
    "attribute": ("{length.__class__}", ('"length.__class__"', "not defined")),
    "item": ("{length[0]}", ('"length[0]"', "not defined")),
    "expression": ("{length * longest_run}", ('"length * longest_run"', "not defined")),
    "call": ("{__import__('os')}", ("not defined",)),
    "unknown": ("{lenght}", ('"lenght"', "not defined", 'mean "length"')),
    "way of a rule without ways": ("{way}", ('"way"', "not defined")),
    "empty": ("{}", ("not defined",)),
    "opened": ("It is {length long.", ("curly bracket",)),
    "closed": ("It is length} long.", ("curly bracket",)),
    "doubled": ("It is {{length}} long.", ("curly bracket",)),
}


@pytest.mark.parametrize("where", ["passes", "fails", "remedy"])
@pytest.mark.parametrize("case", TEMPLATES)
def test_a_template_that_cannot_be(case: str, where: str, tmp_path: Path) -> None:
    text, words = TEMPLATES[case]
    before = re.search(rf"^{where} = .*$", BASE[R], re.M)
    assert before
    found = refusal(changed(tmp_path / "pack", (R, before.group(), f"{where} = {json.dumps(text)}")))
    names(found, f"{RULE} / {where}", *words)
    assert len({at for at, _ in found}) == 1


PACKS: dict[str, tuple[list[Change], str, tuple[str, ...]]] = {
    # names and paths
    "quantity that depends on itself": (
        [(R, 'inputs = { length = "length" }', 'inputs = { length = "length", again = "needed_spacing" }')],
        DERIVED, ("depends on itself", "needed_spacing -> needed_spacing")),
    "quantities in a ring": (
        [(R, 'inputs = { length = "length" }', 'inputs = { length = "length", other = "other_spacing" }'),
         (R, "", SECOND_DERIVED.replace('"needed_spacing"', '"other_spacing"')
          .replace('"length" }', '"needed_spacing" }'))],
        "derived", ("depends on itself", "needed_spacing", "other_spacing", "->")),
    "path that leads nowhere": ([path("lenght")], f"{RULE} / inputs / length", ('"lenght"', 'mean "length"')),
    "path through no list": ([path("/circuit/*/length")], f"{RULE} / inputs / length", ('"/circuit/*/length"',)),
    "path up from the top": ([path("/../length")], f"{RULE} / inputs / length", ("/../length",)),
    "path out of the house": ([path("../../../etc/passwd")], f"{RULE} / inputs / length", ("passwd",)),
    "two lists in one path": ([path("/circuits/*/segments/*/length")], f"{RULE} / inputs / length",
                              ("two lists", "/circuits/*/segments/*/length")),
    "asked of what is not there": ([(R, EACH, EACH.replace("comm", "com"))], RULE,
                                   ("/comunications/*", 'mean "/communications/*"')),
    "each written otherwise": ([(R, EACH, EACH.replace("/communications/*", "communications"))], RULE,
                               ('write it "/communications/*"',)),
    "input named like a parameter": ([(R, "runs = ", "longest_wait = ")], RULE, ('"longest_wait"', "taken")),
    "input with a reserved name": ([(R, "runs = ", "each = ")], RULE, ('"each"', "taken")),
    "let named like an input": ([(R, "share =", "length =")], f"{RULE} / let / length", ("taken",)),
    "let named like a parameter": ([(R, "share =", "longest_wait =")], f"{RULE} / let / longest_wait", ("taken",)),
    "let that uses what comes later": (
        [(R, '{ share = "length / longest_run" }', '{ share = "later", later = "length / longest_run" }')],
        f"{RULE} / let / share", ('"later"', "not defined")),
    "quantity with a field's name": ([(R, 'name = "needed_spacing"', 'name = "length"')], 'derived "length"',
                                     ("name of a field",)),
    "quantity of another unit": ([(R, 'unit = "in"\ninputs', 'unit = "s"\ninputs')], DERIVED,
                                 ("a number in in", "a number in s")),
    "quantity of another kind": ([(R, VALUE, 'value = "length <= longest_run"')], DERIVED,
                                 ("a yes or no", "a number in in")),
    # citations
    "rule without citation": ([(R, CITE, "")], RULE, ("lacks cite",)),
    "rule with an empty citation": ([(R, CITE, "cite = []")], RULE, ("cites nothing",)),
    "citation of a later edition only": ([(R, CITE, CITE.replace("2020 =", "2023 ="))], RULE,
                                         ("cites nothing", "2020")),
    "citation that was read nowhere": ([(R, CITE, CITE.replace('2020 = "made"', '2023 = "made"'))], RULE,
                                       ("1.1", "without saying where it was read")),
    "unknown source": ([(R, CITE, CITE.replace("made", "mode"))], RULE, ('source "mode"', 'mean "made"')),
    "unknown work": ([(R, CITE, CITE.replace("own", "owm"))], RULE, ('work "owm"', 'mean "own"')),
    "edition not listed": ([(R, '{ 2020 = "30" }', '{ 2020 = "30", 2026 = "20" }')], WAIT,
                           ("edition 2026", "2020, 2023")),
    "edition that is no year": ([(R, '{ 2020 = "30" }', '{ new = "30" }')], WAIT, ("new",)),
    # figures and tables
    "unknown unit of a parameter": ([(R, 'unit = "s"', 'unit = "mi"')], WAIT, ('"mi"', 'mean "min"')),
    "unknown unit of a quantity": ([(R, 'unit = "in"\ninputs', 'unit = "inch"\ninputs')], DERIVED, ('"inch"',)),
    "unknown unit of a table": ([(R, 'unit = "in"\nbeyond', 'unit = "inn"\nbeyond')], TABLE, ('"inn"', 'mean "in"')),
    "unknown unit of the keys": ([(R, 'above", unit = "ft"', 'above", unit = "feet"')], TABLE, ('"feet"',)),
    "parameter that is no number": ([(R, '2020 = "30"', '2020 = "thirty"')], WAIT, ('"thirty"',)),
    "parameter that is infinite": ([(R, '2020 = "30"', '2020 = "inf"')], WAIT, ('"inf"',)),
    "parameter beyond floats": ([(R, '2020 = "30"', f'2020 = "1{"0" * 400}"')], WAIT, ("10000",)),
    "ragged rows": ([(CSV, "50,2,3", "50,2")], "spacing.csv: line 3", ("2 cells", "header has 3")),
    "column without a name": ([(CSV, "up_to,dry,wet", "up_to,,wet")], "spacing.csv: line 1", ("no name for column 2",)),
    "header only": ([(CSV, "10,1,2\n50,2,3\n", "")], CSV, ("no rows",)),
    "empty table": ([(CSV, BASE[CSV], "")], CSV, ("no rows",)),
    "cell that is no number": ([(CSV, "50,2,3", "50,two,3")], TABLE, (CSV, "two")),
    "key that is no number": ([(CSV, "50,2,3", "fifty,2,3")], TABLE, (CSV, "fifty")),
    "cell that is nan": ([(CSV, "50,2,3", "50,nan,3")], TABLE, (CSV, "nan")),
    "cell that is infinite": ([(CSV, "50,2,3", "50,inf,3")], TABLE, (CSV, "inf")),
    "cell beyond floats": ([(CSV, "50,2,3", "50,1e999,3")], TABLE, (CSV, "1e999")),
    "key that is nan": ([(CSV, "50,2,3", "nan,2,3")], TABLE, (CSV, "nan")),
    "duplicate table key": ([(CSV, "50,2,3", "10,2,3")], TABLE, ("key twice", CSV)),
    "duplicate table key spelled otherwise": ([(CSV, "50,2,3", "10.0,2,3")], TABLE, ("key twice", CSV)),
    "duplicate table column": ([(CSV, "up_to,dry,wet", "up_to,dry,dry")], "", ("dry", "twice")),
    "no column of that header": ([(R, 'header = "up_to"', 'header = "upto"')], CSV, ('"upto"', TABLE)),
    "no file of that name": ([(R, '"spacing.csv"', '"spacings.csv"')], TABLE, ('"spacings.csv"', 'mean "spacing.csv"')),
    "a cell larger than csv reads": ([(CSV, "50,2,3", f"50,{'2' * 200_000},3")], CSV, ()),
    # the shape
    "repeated key": ([(R, 'force = "requirement"', 'force = "requirement"\nforce = "requirement"')], R, ("not TOML",)),
    "not TOML": ([(R, "[[derived]]", "[[derived")], R, ("not TOML", "line")),
    "an octal number": ([(HEAD, EDITIONS, "editions = [02020]")], HEAD, ("not TOML",)),
    "a number of six thousand digits": ([(HEAD, EDITIONS, f"editions = [{'2' * 6000}]")], HEAD, ()),
    "very many open brackets": ([(HEAD, EDITIONS, f"editions = {'[' * 100_000}")], HEAD, ("not TOML",)),
    "nested lists": ([(HEAD, EDITIONS, f"editions = {'[' * 90}{']' * 90}")], HEAD, ()),
    "rule defined twice": ([(R, "", SECOND_RULE)], R, ("twice", "keep one")),
    "quantity defined twice": ([(R, "", SECOND_DERIVED)], R, ("twice", "keep one")),
    "applies without scope": ([(R, 'scope = "runs of cable"\n', "")], RULE, ("applies", "scope")),
    "holds and way": ([(R, "", WAY)], RULE, ("`holds`", "`way`", "not both")),
    "neither holds nor way": ([(R, HOLDS, "")], RULE, ("`holds`", "`way`")),
    "value and case": ([(R, VALUE, 'value = "length"\ncase = [{ value = "length" }]')], DERIVED,
                       ("`value`", "`case`", "not both")),
    "every way begins later": ([(R, HOLDS, ""), (R, "", WAY + "begins = 2023\n")], RULE, ("2020",)),
    "holds whatever is said": ([formula("longest_run <= longest_run")], RULE, ("whatever the description says",)),
    "unknown top-level table": ([(R, "", "[[rules]]\nid = 1\n")], R, ('"rules"', 'mean "rule"')),
    "unknown key of a rule": ([(R, 'remedy = "Sh', 'remedi = "x"\nremedy = "Sh')], RULE, ('"remedi"', 'mean "remedy"')),
    "unknown force": ([(R, '"requirement"', '"must"')], f"{RULE} / force",
                      ('"must"', '"requirement", "recommendation"')),
    "text for a list": ([(HEAD, EDITIONS, 'editions = "2020"')], "pack / editions", ('"2020"', "array")),
    "text for a number": ([(HEAD, EDITIONS, 'editions = ["2020"]')], "pack / editions", ('"2020"', "integer")),
    "number for a text": ([(R, '"A run is not too long"', "7")], f"{RULE} / title", ("7", "in quotes")),
    "date for a text": ([(R, '"A run is not too long"', "2020-01-01")], f"{RULE} / title", ("2020-01-01", "string")),
    "head in another file": ([(R, "", "[pack]\nname = 'x'\n")], R, ("pack.toml",)),
    "no head": ([(HEAD, BASE[HEAD], "")], HEAD, ("lacks the table [pack]",)),
    "a name that is none": ([(R, 'name = "longest_wait"', 'name = "longest wait"')], "parameter", ('"longest wait"',)),
    "example without a verdict": ([(TESTS, 'verdict = "pass"\n', "")], 'examples "run-too-long" / example / 1',
                                  ("verdict", "limit")),
}  # fmt: skip


@pytest.mark.parametrize("case", PACKS)
def test_a_pack_that_cannot_be(case: str, tmp_path: Path) -> None:
    changes, where, words = PACKS[case]
    names(refusal(changed(tmp_path / "pack", *changes)), where, *words)


def test_a_folder_that_is_no_pack(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "file").write_text("x")
    for name in ("empty", "nothing", "file"):
        names(refusal(tmp_path / name), str(tmp_path / name))
    with pytest.raises(ampcite.PackError, match=r'no pack is called "electrcal"; did you mean "electrical"\?'):
        ampcite.load(2020, ["electrcal"])


def test_files_of_a_pack_that_are_no_text(tmp_path: Path) -> None:
    latin = "Café".encode("latin-1")
    names(refusal(write(tmp_path / "toml", {**BASE, R: latin})), R, "UTF-8")
    names(refusal(write(tmp_path / "csv", {**BASE, CSV: latin})), CSV, "UTF-8")
    names(refusal(write(tmp_path / "large", {**BASE, "more.toml": "#" * 5_000_000})), "more.toml", "larger")
    names(refusal(write(tmp_path / "nul", {**BASE, CSV: "up_to,dry,wet\n1\0,2,3\n"})), "")


def test_packs_that_do_not_go_together(tmp_path: Path) -> None:
    one = write(tmp_path / "one", BASE)
    names(refusal(one, edition=2017), "", "2017", "2020", "2023")
    other = changed(tmp_path / "other", (HEAD, '"base"', '"other"'))
    names(refusal(one, other), "run-too-long", "two packs")
    mine = [(HEAD, '"base"', '"mine"'), (R, 'id = "run-too-long"', 'id = "mine"'),
            (TESTS, "run-too-long", "mine")]  # fmt: skip
    figures = changed(tmp_path / "figures", *mine, (R, '2020 = "30"', '2020 = "20"'))
    names(refusal(one, figures), WAIT, "another figure")
    reckoned = changed(tmp_path / "reckoned", *mine, (R, "'dry'", "'wet'"))
    names(refusal(one, reckoned), DERIVED, "reckoned otherwise")


def test_two_packs_with_different_tables_of_one_name(tmp_path: Path) -> None:
    """A table that another pack also brings, with other cells, must not replace it silently."""
    other = changed(tmp_path / "other", (HEAD, '"base"', '"other"'), (R, 'id = "run-too-long"', 'id = "other"'),
                    (TESTS, "run-too-long", "other"), (CSV, "50,2,3", "50,9,9"))  # fmt: skip
    names(refusal(write(tmp_path / "one", BASE), other), TABLE, "another pack")


def test_every_fault_of_a_pack_is_reported_at_once(tmp_path: Path) -> None:
    shape = refusal(changed(tmp_path / "shape", (R, '"requirement"', '"must"'), (R, '2020 = "30"', '2020 = "thirty"'),
                            (R, "", "[other]\n")))  # fmt: skip
    for where, word in ((f"{RULE} / force", "must"), (WAIT, "thirty"), (R, '"other"')):
        names(shape, where, word)
    records = refusal(changed(tmp_path / "records", (R, CITE, CITE.replace("own", "owm")), (R, "", SECOND_DERIVED),
                              (R, '{ 2020 = "30" }', '{ 2020 = "30", 2026 = "1" }')))  # fmt: skip
    for where, word in ((RULE, "owm"), (WAIT, "2026"), (R, "twice")):
        names(records, where, word)
    bound = refusal(changed(tmp_path / "bound", formula("lenght <= longest_wait"), (R, "'dry'", "'damp'"),
                            (R, 'passes = "{each}', 'passes = "{eech}'), (R, 'remedy = "Shorten {each}', 'remedy = "{'),
                            (R, "kind == 'RS-485'", "kind == 'RS485'")))  # fmt: skip
    for where, word in ((f"{RULE} / holds", "lenght"), (DERIVED, "damp"), (f"{RULE} / passes", "eech"),
                        (f"{RULE} / remedy", "bracket"), (f"{RULE} / applies", "RS485")):  # fmt: skip
        names(bound, where, word)


@pytest.mark.parametrize(
    "change",
    sample([formula("x.__class__ == length"), formula("length <= longest_wait"), (CSV, "50,2,3", "50,2"),
            (R, "[[derived]]", "[[derived"), (R, '"requirement"', '"must"')], 8),
)  # fmt: skip
def test_the_command_line_refuses_a_pack(change: Change, tmp_path: Path) -> None:
    pack = changed(tmp_path / "pack", change)
    expected = refusal(pack)
    house = tmp_path / "house.json"
    house.write_text("{}", "utf-8")
    done = run("check", "--edition", "2020", "--pack", pack, house)
    refused(done)
    assert all(said in done.stderr.decode() for _, said in expected)
    done = run("check", "--edition", "2020", "--pack", tmp_path / "nothing", house)
    refused(done)
    assert "pack.toml" in done.stderr.decode()
