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

SCRIPT = Path(sysconfig.get_path("scripts")) / ("ampcite.exe" if os.name == "nt" else "ampcite")
GUARD_SECONDS, GUARD_BYTES = 20, 2 * 1024**3


@pytest.fixture(autouse=True)
def no_cache(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("AMPCITE_CACHE", "")


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
        assert complaint.said
        assert len(complaint.said) < 700
        assert not re.search(r"Traceback|Error\b|\bobject at 0x", complaint.said), complaint.said
    return [(c.place, c.said) for c in fault.complaints]


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
    "comment": (b'{} // none', ("not JSON",)),
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
                       (tmp_path / "house.json" / "x", "No such file"), (tmp_path / ("n" * 300), "too long")):  # fmt: skip
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
VALUES: dict[str, tuple[Any, str, tuple[str, ...]]] = {
    # wrong types
    "text for an object": ({"site": "here"}, "/site", ('"here"', "an object")),
    "null for an object": ({"site": None}, "/site", ("null", "an object")),
    "object for a list": ({"modules": {}}, "/modules", ("an object of 0 fields", "a list")),
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
    "unknown field, nothing near": ({"site": {"zzzzzz": 1}}, "/site/zzzzzz", ("not a field", "design_low", "elevation")),
    "unknown word": ({"circuits": [{"id": "C", "kind": "pv sorce"}]}, "/circuits/0/kind",
                     ('"pv sorce"', 'mean "pv source"')),
    "unknown size": ({"circuits": [{"id": "C", "conductor": {"size": "10AWG"}}]}, "/circuits/0/conductor/size",
                     ('"10AWG"', 'mean "10 AWG"')),
    "no id": ({"modules": [{"voc": 40}]}, "/modules/0", ('no "id"', "module")),
    # units
    "unknown unit": ({"site": {"elevation": "12 furlongs"}}, "/site/elevation", ("furlongs", "ft", "m")),
    "wrong dimension": ({"circuits": [{"id": "C", "length": "30 V"}]}, "/circuits/0/length",
                        ("30 V", "is in V", "length", "ft", "m")),
    "temperature in feet": ({"site": {"design_low": "10 ft"}}, "/site/design_low", ("is in ft", "temperature", "degF")),
    "coefficient in percent": ({"modules": [{**M, "voc_coefficient": "-0.3 %"}]}, "/modules/0/voc_coefficient",
                               ("is in %", "%/degC")),
    "thousands with a comma": ({"modules": [{**M, "voc": "1,000 V"}]}, "/modules/0/voc", ("1,000 V",)),
    "zero below the line": ({"site": {"elevation": "1/0 ft"}}, "/site/elevation", ("1/0 ft", "zero")),
    "an endless quantity": ({"site": {"elevation": "1" + "0" * 5000 + " ft"}}, "/site/elevation", ("characters",)),
    # impossible values
    "negative length": ({"circuits": [{"id": "C", "length": -1}]}, "/circuits/0/length", ("-1 ft", "at least 0")),
    "negative length as text": ({"circuits": [{"id": "C", "length": "-6 ft 7 in"}]}, "/circuits/0/length",
                                ("ft", "at least 0")),
    "absolute zero": ({"site": {"design_low": -273.15}}, "/site/design_low", ("-273.15 degC", "more than -273.15")),
    "absolute zero in degF": ({"site": {"design_low": "-459.67 degF"}}, "/site/design_low", ("more than -273.15",)),
    "colder than cold": ({"site": {"design_low": "-300 degC"}}, "/site/design_low", ("-300", "more than -273.15")),
    "hotter than any place": ({"site": {"design_high": "1000 degF"}}, "/site/design_high", ("at most 200",)),
    "module of 0 V": ({"modules": [{**M, "voc": 0}]}, "/modules/0/voc", ("0 V", "more than 0")),
    "module of 0 V as text": ({"modules": [{**M, "voc": "0 V"}]}, "/modules/0/voc", ("0", "more than 0")),
    "no modules in series": ({"strings": [{"id": "S", "modules_in_series": 0}]}, "/strings/0/modules_in_series",
                             ("0", "at least 1")),
    "edition before the first": ({"codes": {"electrical_edition": 20}}, "/codes/electrical_edition",
                                 ("20", "at least 1897")),
    "1e400 in a text": ({"modules": [{**M, "voc": "1e400 V"}]}, "/modules/0/voc", ("1e400 V", "too large")),
    "1e30 V": ({"modules": [{**M, "voc": 1e30}]}, "/modules/0/voc", ("1e+30",)),
    "not a number": ({"modules": [{**M, "voc": float("nan")}]}, "/modules/0/voc", ("nan",)),
    "infinity": ({"modules": [{**M, "voc": float("inf")}]}, "/modules/0/voc", ("inf",)),
    "minus infinity": ({"site": {"design_low": float("-inf")}}, "/site/design_low", ("-inf", "more than -273.15")),
    "infinitely many modules": ({"strings": [{"id": "S", "modules_in_series": float("inf")}]},
                                "/strings/0/modules_in_series", ("inf", "whole number")),
    "four hundred digits": ({"modules": [{**M, "voc": 10**400}]}, "/modules/0/voc", ("10000", "...")),
    "four hundred digits of temperature": ({"site": {"design_low": -(10**400)}}, "/site/design_low",
                                           ("-1000", "...", "more than -273.15")),
    "six thousand digits": ({"modules": [{**M, "voc": 10**6000}]}, "/modules/0/voc", ()),
    "six thousand digits of modules": ({"strings": [{"id": "S", "modules_in_series": 10**6000}]},
                                       "/strings/0/modules_in_series", ("at most 1000000",)),
    "a text too long": ({"project": {"name": "x" * 2001}}, "/project/name", ("2001 characters", "2000")),
    # references
    "unknown id": ({"modules": [{"id": "M1"}], "strings": [{"id": "S", "module": "M2"}]}, "/strings/0/module",
                   ('"M2"', "no part", "M1")),
    "id of a part of the wrong kind": ({"modules": [M], "inverters": [{"id": "INV"}],
                                        "strings": [{"id": "S", "module": "INV"}]}, "/strings/0/module",
                                       ('"INV"', "is a inverter" if False else "inverter", "M1")),
    "unknown id in a list": ({"strings": [{"id": "S1"}], "circuits": [{"id": "C", "strings": ["S1", "S9"]}]},
                             "/circuits/0/strings/1", ('"S9"', 'mean "S1"')),
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
    assert len(found) == 1, f"one fault, one complaint: {found}"


@pytest.mark.parametrize("case", [c for c in VALUES if "six thousand" not in c and c not in (
    "not a number", "infinity", "minus infinity", "infinitely many modules")])  # fmt: skip
def test_a_value_that_cannot_be_as_text(case: str) -> None:
    """The same out of a file: JSON in, the same places out."""
    document, place, words = VALUES[case]
    has(complaints(json.dumps(document).encode()), place, *words)


def test_a_number_beyond_floats_in_a_file() -> None:
    has(complaints(b'{"modules": [{"id": "M1", "voc": 1e999}]}'), "/modules/0/voc", "inf")
    has(complaints(b'{"site": {"design_low": -1e999}}'), "/site/design_low", "more than -273.15")
    has(complaints(b'{"strings": [{"id": "S", "units": 1e999}]}'), "/strings/0/units", "whole number")
    has(complaints(b'{"site": {"design_low": ' + b"9" * 400 + b"}}"), "/site/design_low", "at most 200")


def test_the_place_is_a_json_pointer() -> None:
    """RFC 6901 section 3: "~" is written "~0" and "/" is written "~1" in a step (from memory)."""
    assert [place for place, _ in complaints({"site": {"a/b": 1}})] == ["/site/a~1b"]
    assert [place for place, _ in complaints({"a~b": 1})] == ["/a~0b"]


SEVERAL: dict[str, tuple[Any, dict[str, str]]] = {
    "of the shape": (
        {"site": {"design_low": True, "design_lo": 1}, "modules": [{"voc": 0}, {"id": 1}], "x": 1},
        {"/site/design_low": "true", "/site/design_lo": "design_low", "/modules/0": "id", "/modules/0/voc": "more than 0",
         "/modules/1/id": "a text", "/x": "not a field"},
    ),
    "of quantities and references": (
        {"site": {"design_low": "-300 degC", "elevation": "3 V"}, "modules": [{"id": "A"}, {"id": "A"}],
         "strings": [{"id": "S", "module": "B"}, {"id": "T", "input": "A"}]},
        {"/site/design_low": "more than", "/site/elevation": "is in V", "/modules/1/id": "/modules/0",
         "/strings/0/module": '"B"', "/strings/1/input": '"A"'},
    ),
    "of every sort": (
        {"site": {"design_low": True, "elevation": "3 V"}, "strings": [{"id": "S", "module": "B"}]},
        {"/site/design_low": "true", "/site/elevation": "is in V", "/strings/0/module": '"B"'},
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", SEVERAL)
def test_every_fault_is_reported_at_once(case: str) -> None:
    document, expected = SEVERAL[case]
    found = complaints(document)
    for place, word in expected.items():
        has(found, place, word)
    assert len(found) == len(expected), found


def test_nothing_is_dropped_of_very_many_faults() -> None:
    found = complaints({"modules": [{"id": f"M{i}", "voc": -1} for i in range(500)]})
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
    "a fraction of a million digits": lambda: b'{"modules": [{"id": "M", "voc": 0.' + b"0" * 1_000_000 + b"}]}",
}


@pytest.mark.parametrize("case", HEAVY)
def test_heavy_input_is_refused_with_little(case: str, tmp_path: Path) -> None:
    file = tmp_path / "house.json"
    file.write_bytes(HEAVY[case]())
    done = run("check", "--edition", "2020", file)
    refused(done)
    assert str(file).encode() in done.stderr


@pytest.mark.parametrize(
    "source", ['"x" * 0', "nested(dict)", "nested(list)"], ids=["a key of no length", "deep objects", "deep lists"]
)
def test_deep_values_given_as_python(source: str) -> None:
    """Values too deep for the stack, in a process of their own."""
    program = f"""
import ampcite
def nested(kind):
    out = 1
    for _ in range(200_000):
        out = {{"site": out}} if kind is dict else [out]
    return out
try:
    ampcite.read({{"site": {source}, "": 1}})
except ampcite.InputError as fault:
    print("refused", len(str(fault)) < 2000)
import os
os._exit(0)  # taking so deep a value apart again is no part of the test
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, timeout=GUARD_SECONDS, check=False,
                          preexec_fn=limits if os.name == "posix" else None, text=True)  # fmt: skip
    assert "Traceback" not in done.stderr
    program_output = done.stdout
    assert done.returncode == 0, done
    assert program_output == "refused True\n" or done.stderr == "", done


# --- descriptions on the command line ----------------------------------------------------------------------------


def refused(done: subprocess.CompletedProcess[bytes]) -> None:
    assert b"Traceback" not in done.stderr, done.stderr[-2000:]
    assert done.returncode == 2, done
    assert done.stdout == b""
    assert done.stderr.strip()


@pytest.mark.parametrize("case", ["empty", "truncated", "not a number", "six thousand digits", "duplicate keys",
                                  "not UTF-8", "a list"])  # fmt: skip
def test_the_command_line_refuses_a_text(case: str, tmp_path: Path) -> None:
    text, words = TEXTS[case]
    file = tmp_path / "house.json"
    file.write_bytes(text)
    for done in (run("check", "--edition", "2020", file), run("check", "-", "--edition", "2020", input=text)):
        refused(done)
        assert all(w in done.stderr.decode() for w in words)
    assert str(file) in run("check", file).stderr.decode()


@pytest.mark.parametrize("case", ["unknown field", "unknown unit", "wrong dimension", "colder than cold", "module of 0 V",
                                  "four hundred digits", "unknown id", "two parts of one id"])  # fmt: skip
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
