"""The generated pages are the ones that packs and schema give; the examples in the docs run."""

from __future__ import annotations

import doctest
import json
import os
from pathlib import Path

import jsonschema
import pytest

from ampcite.base.resources import shipped
from ampcite.reference.pages import all_pages
from shared import ROOT

DOCS = ROOT / "docs"


def test_generated_pages_are_current() -> None:
    pages = all_pages()
    for name, text in pages.items():
        assert (DOCS / name).read_text("utf-8") == text, f"{name}: run python -m ampcite.reference.pages docs"
    assert {f"rules/{p.name}" for p in (DOCS / "rules").glob("*.md")} <= set(pages)


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
