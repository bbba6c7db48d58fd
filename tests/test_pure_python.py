"""Where compiled libraries are not to be had, as in a browser, every answer is the same.

A process of its own in which importing them fails stands for such a place.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from ampcite.base.resources import houses

COMPILED = ("jsonschema_rs", "orjson", "shapely", "numpy")
PROGRAM = """
import hashlib, json, sys
for name in sys.argv[2].split():
    sys.modules[name] = None
import ampcite
try:
    description = ampcite.read(sys.argv[1])
    rulebook = ampcite.load(ampcite.law_for(description) or description.editions)
    report = ampcite.check(rulebook, description)
    print(ampcite.to_json(report))
    print(ampcite.to_text(ampcite.review(rulebook, description), every=True))
except ampcite.InputError as fault:
    print(fault)
"""


def run(file: Path, without: str) -> str:
    words = [sys.executable, "-c", PROGRAM, str(file), without]
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout


def alike(file: Path) -> str:
    plain = run(file, " ".join(COMPILED))
    assert plain == run(file, "")
    return plain


@pytest.mark.parametrize("house", houses(), ids=lambda path: path.stem)
def test_a_shipped_house_gets_the_same_report(house: Path) -> None:
    assert '"verdict"' in alike(house)


BAD = {
    "types": {"site": {"design_low": True, "elevation": [1]}, "strings": {}},
    "signs": {"site": {"design_low": "−10 °C\n", "elevation": "½5 ft"}},
    "line break": {"codes": {"application_date": "2026-01-01\n"}},
    "unknown fields": {"stie": {}, "strings": [{"id": "S", "modul": "M"}]},
    "bounds": {"site": {"design_low": -300}, "strings": [{"id": "S", "modules_in_series": 0}]},
    "endless": {"site": {"design_low": 1e300}},
    "words": {"circuits": [{"id": "C", "kind": "pv sorce"}]},
}


@pytest.mark.parametrize("case", BAD)
def test_a_bad_description_gets_the_same_complaints(case: str, tmp_path: Path) -> None:
    file = tmp_path / "house.json"
    file.write_text(json.dumps(BAD[case]), "utf-8")
    assert str(file) in alike(file)
