"""Where compiled libraries are not to be had, as in a browser, every answer is the same.

A process of its own in which importing them fails stands for such a place.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from ampcite.base.resources import houses

COMPILED = ("jsonschema_rs", "orjson", "shapely", "numpy")
PROGRAM = """
import sys
for name in sys.argv[1].split():
    sys.modules[name] = None
import ampcite
for file in sys.argv[2:]:
    print("of", file)
    try:
        description = ampcite.read(file)
        rulebook = ampcite.load(ampcite.law_for(description) or description.editions)
        report = ampcite.check(rulebook, description)
        print(ampcite.to_json(report))
        print(ampcite.to_text(ampcite.review(rulebook, description), every=True))
    except ampcite.InputError as fault:
        print(fault)
"""


def run(files: Sequence[Path], without: str) -> dict[str, str]:
    """What is said of each file by a process that can't import some libraries."""
    words = [sys.executable, "-c", PROGRAM, without, *map(str, files)]
    said = subprocess.run(words, capture_output=True, text=True, check=True).stdout
    return {name: told for name, _, told in (one.partition("\n") for one in ("\n" + said).split("\nof ")[1:])}


def alike(files: Sequence[Path]) -> dict[str, str]:
    plain = run(files, " ".join(COMPILED))
    assert len(plain) == len(files) and plain == run(files, "")
    return plain


@pytest.mark.thorough
@pytest.mark.parametrize("house", houses(), ids=lambda path: path.stem)
def test_a_shipped_house_gets_the_same_report(house: Path) -> None:
    assert '"verdict"' in alike([house])[str(house)]


BAD = {
    "types": {"site": {"design_low": True, "elevation": [1]}, "strings": {}},
    "signs": {"site": {"design_low": "−10 °C\n", "elevation": "½5 ft"}},
    "line break": {"codes": {"application_date": "2026-01-01\n"}},
    "unknown fields": {"stie": {}, "strings": [{"id": "S", "modul": "M"}]},
    "bounds": {"site": {"design_low": -300}, "strings": [{"id": "S", "modules_in_series": 0}]},
    "endless": {"site": {"design_low": 1e300}},
    "words": {"circuits": [{"id": "C", "kind": "pv sorce"}]},
}


def test_bad_descriptions_get_the_same_complaints(tmp_path: Path) -> None:
    files = [tmp_path / f"{case}.json" for case in BAD]
    for file, said in zip(files, BAD.values(), strict=True):
        file.write_text(json.dumps(said), "utf-8")
    assert all(told.startswith(file) for file, told in alike(files).items())
