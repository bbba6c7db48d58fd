"""The generated pages are the ones that packs and schema give; the examples in the docs run."""

from __future__ import annotations

import doctest
import json
import os
import re
from pathlib import Path

import jsonschema
import pytest

from ampcite.base.resources import shipped
from ampcite.reference import pages
from shared import PACKS, ROOT

DOCS = ROOT / "docs"


def test_generated_pages_are_current() -> None:
    made = pages.all_pages()
    for name, text in made.items():
        if not name.startswith("rules/"):
            assert (DOCS / name).read_text("utf-8") == text, f"{name}: run python -m ampcite.reference.pages docs"


def test_the_pages_of_rules_are_built(tmp_path: Path) -> None:
    """One for each rule, all of them linked from the index; what was built of a rule that is gone goes."""
    gone = tmp_path / "rules" / "gone.md"
    gone.parent.mkdir()
    gone.write_text("A rule that was.", "utf-8")
    pages.main(str(tmp_path))
    built = {path.stem: path.read_text("utf-8") for path in (tmp_path / "rules").glob("*.md")}
    index = built.pop("index")
    assert set(re.findall(r"\]\(([^)]*)\.md\)", index)) == built.keys()
    rules = {rule.id: rule.title for pack in PACKS.values() for rule in pack.rules.values()}
    assert rules and all(built[name].startswith(f"# {title}\n") for name, title in rules.items())


@pytest.mark.parametrize("page", [ROOT / "README.md", *sorted(DOCS.glob("*.md"))], ids=lambda p: p.name)
def test_examples_in_the_docs(page: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    monkeypatch.setitem(os.environ, "COLUMNS", "100")
    failed, _ = doctest.testfile(str(page), module_relative=False, optionflags=doctest.ELLIPSIS)
    assert failed == 0


@pytest.mark.parametrize("schema", sorted(shipped("schemas").glob("*.json")), ids=lambda p: p.name)
def test_schemas_are_schemas(schema: Path) -> None:
    value = json.loads(schema.read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(value)
    assert value["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert value["$id"].endswith(schema.name)
