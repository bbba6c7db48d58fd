"""The laws of the design, each held by a test that fails when it is broken. Source: the project's own rules."""

from __future__ import annotations

import ast
import inspect
import re
import subprocess
import sys
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import groupby
from pathlib import Path
from typing import Any

import pytest

import ampcite
from ampcite.house.part_types import part_types
from ampcite.language.units import known_units
from ampcite.law.records import Example, Pack, Rule
from shared import FOLDERS, PACKS, ROOT

SRC = Path(ampcite.__file__).parent
WINGS = ("base", "language", "house", "law", "engine", "reviewing", "report", "authoring", "reference", "api",
         "letters", "desk", "command")  # fmt: skip
RULES = [(pack, rule) for pack in PACKS.values() for rule in pack.rules.values()]


def imports(path: Path) -> set[str]:
    """The wings that a file imports from, wherever in it the import stands."""
    out = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module == "ampcite":
            out |= {name.name for name in node.names if name.name != "__version__"}
        elif isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("ampcite."):
            out.add(node.module.split(".")[1])
        elif isinstance(node, ast.Import):
            out |= {name.name.split(".")[1] for name in node.names if name.name.startswith("ampcite.")}
    return out


def wing(path: Path) -> str:
    return path.relative_to(SRC).parts[0].removesuffix(".py")


FILES = sorted(p for p in SRC.rglob("*.py") if p.name != "__init__.py")


@pytest.mark.parametrize("name", WINGS)
def test_wings_import_downward(name: str) -> None:
    files = [path for path in FILES if wing(path) == name]
    upward = [f"{path.relative_to(SRC).as_posix()} imports {other}" for path in files
              for other in imports(path) if WINGS.index(other) > WINGS.index(name)]  # fmt: skip
    assert files and upward == []


def test_every_file_is_in_a_wing() -> None:
    assert {wing(path) for path in FILES} == set(WINGS)


def test_the_page_for_contributors_names_every_file_of_a_wing_and_no_other() -> None:
    """In ten rows, in the order of imports; the command line, a file a group, is told as that, a writer by its name."""
    table = (ROOT / "DEVELOPERS.md").read_text("utf-8").partition("What one check passes")[0]
    rows = re.findall(r"(?m)^\| (`[^|]*) \| (.*) \|$", table)
    told = [tuple(tuple(re.findall("`([a-z_]+)`", cell)) for cell in row) for row in rows]
    assert len(rows) == 10 and tuple(name for wings, _ in told for name in wings) == WINGS
    for wings, named in told:
        files = {path.stem for path in FILES if wing(path) in wings and wing(path) not in ("api", "command")}
        writers = {name for name in files if name.startswith("as_")}
        assert (files - writers - {*named}, {*named} - files) == (set(), set()), wings


def test_imports_inside_functions_are_seen(tmp_path: Path) -> None:
    file = tmp_path / "one.py"
    file.write_text("def f():\n    from ampcite.report import text\n    from ampcite import command\n")
    assert imports(file) == {"report", "command"}


@pytest.mark.parametrize(
    ("library", "only"),
    [("pluggy", "law/plugins"), ("jsonschema", "base/resources"),
     ("jinja2", "letters/as_html"), ("typst", "letters/as_pdf"), ("docx", "letters/as_docx")],
)
def test_a_library_stays_in_its_room(library: str, only: str | None) -> None:
    using = [p for p in FILES if re.search(rf"^\s*(import|from) {library}\b", p.read_text("utf-8"), re.M)]
    rooms = {p.relative_to(SRC).as_posix().removesuffix(".py") for p in using}
    assert rooms == {only}


def test_importing_the_package_is_light() -> None:
    heavy = {"jsonschema", "click", "shapely"}
    code = f"import ampcite, sys; ampcite.__version__; print({heavy} & set(sys.modules))"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "set()\n"


def test_the_version_needs_no_jsonschema() -> None:
    code = (
        "import sys\nsys.argv = ['ampcite', '--version']\nfrom ampcite.command.main import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print([m for m in ('jsonschema', 'jsonschema_rs') if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert out.splitlines()[-1] == "[]"
    assert ampcite.__version__ in out


def test_public_names_are_few_typed_and_documented() -> None:
    assert (SRC / "py.typed").is_file()
    assert len([name for name in ampcite.__all__ if name[0].islower()]) <= 10
    for name in ampcite.__all__:
        assert getattr(ampcite, name).__doc__


INTERNAL = {
    "Report": {"verdicts"},
    "Rulebook": {"bound", "code", "machine"},
    "Description": {"dangling", "numbered", "partly", "parts", "size", "unlisted", "whole"},
}
"""What public classes hold for the engine alone."""


def annotations(value: Any) -> Iterator[str]:
    """What a public function takes and gives, or a public class holds, as its source says it."""
    if inspect.isfunction(value):
        yield from value.__annotations__.values()
        return
    own = INTERNAL.get(value.__name__, set())
    for name, text in getattr(value, "__annotations__", {}).items():
        if not name.startswith("_") and name not in own:
            yield getattr(text, "__forward_arg__", text)
    for name, held in vars(value).items():
        make = held.fget if isinstance(held, property) else getattr(held, "make", held)
        if not name.startswith("_") and name not in own and inspect.isfunction(make):
            yield from make.__annotations__.values()


@pytest.mark.parametrize("name", ampcite.__all__)
def test_types_in_public_signatures_are_public(name: str) -> None:
    """A name in a signature is a public one, or is of another package than ours."""
    value = getattr(ampcite, name)
    home = sys.modules[value.__module__]
    for text in annotations(value):
        for word in set(re.findall(r"\b[A-Z]\w*[a-z]\w*", text)) - set(ampcite.__all__) - {"Any", "Editions", "None"}:
            where = getattr(getattr(home, word, None), "__module__", "")
            assert hasattr(home, word) and not where.startswith("ampcite"), f"{name}: {word} in {text!r}"


def test_public_names_are_documented_on_the_page_of_the_library() -> None:
    page = (ROOT / "docs" / "library.md").read_text("utf-8")
    assert [name for name in ampcite.__all__ if f"`{name}`" not in page] == []


def test_no_room_takes_the_name_of_a_public_function() -> None:
    code = (
        "import ampcite, importlib, pkgutil\n"
        "for m in pkgutil.iter_modules(ampcite.__path__):\n    importlib.import_module('ampcite.' + m.name)\n"
        "print([n for n in ampcite.__all__ if not callable(getattr(ampcite, n))])"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"


def test_packs_hold_only_data() -> None:
    for folder in FOLDERS.values():
        assert {p.suffix for p in folder.rglob("*") if p.is_file()} <= {".toml", ".csv"}


@pytest.mark.parametrize("name", PACKS)
def test_a_rule_is_complete(name: str) -> None:
    for rule in PACKS[name].rules.values():
        try:
            complete(PACKS[name], rule)
        except AssertionError as fault:
            fault.add_note(rule.id)
            raise


def complete(pack: Pack, rule: Rule) -> None:
    """Formulas hold names; every rule has an example that passes and one that does not, at every edition it is in."""
    formulas = [rule.applies, rule.holds, *rule.let.values(), *(w.holds for w in rule.alternatives)]
    for formula in formulas:
        figures = [n.value for n in ast.walk(ast.parse(formula or "0", mode="eval")) if isinstance(n, ast.Constant)]
        assert {f for f in figures if not isinstance(f, str)} <= {0, 1}
    for edition in (e for e in pack.editions[rule.code] if rule.in_force(e)):
        verdicts = set()
        for example in rule.examples:
            if not example.editions or edition in example.editions:
                verdicts |= {"pass", "fail"} if example.vary else {example.verdict}
        found_where_broken = part_types()[rule.each.strip("/").replace("/*", "")].computed
        assert "pass" in verdicts or found_where_broken
        assert verdicts & {"fail", "warn"}
    if any(op in f for f in formulas for op in ("<=", ">=")) and "> 0" not in f"{rule.holds} {rule.applies}":
        at_limit = any(e.vary or "limit" in e.source or "exact" in e.source for e in rule.examples)
        assert at_limit, "a rule with a limit has an example at the limit"
    assert all(e.source for e in rule.examples)
    for text in (*rule.passes.texts.values(), *rule.fails.texts.values(), *rule.remedy.texts.values()):
        assert text.endswith(".") or text == "{way}"
        assert not re.search(r"(?<![\w-])[0-9]+(?![\w-])", re.sub(r"\b20[0-9]{2}\b", "", text)), "a figure in prose"
    a_step_is_one_unit(rule.examples)


def a_step_is_one_unit(examples: Iterable[Example]) -> None:
    for example in examples:
        assert not example.vary or set(re.sub(r"[^0-9]", "", str(example.step))) <= {"0", "1"}


def test_a_step_of_a_local_change_is_one_unit() -> None:
    for pack in PACKS.values():
        for change in pack.amendments:
            a_step_is_one_unit(example for _, example in change.tests)


def test_covered_items_are_written_once_each() -> None:
    for _, rule in RULES:
        assert len(set(rule.covers)) == len(rule.covers)
        assert all(re.fullmatch(r"[A-Z]{3,4}-[0-9]{2}", item) for item in rule.covers)


def test_every_figure_says_where_it_was_read() -> None:
    for pack in PACKS.values():
        figures = [(p.value, p.citation) for p in pack.parameters.values()]
        for value, citation in figures + [(t.files, t.citation) for t in pack.tables.values()]:
            for edition in (e for e in pack.editions[citation.work.code] if value.at(e) is not None):
                assert citation.read.at(edition) in pack.sources
                assert citation.clause.at(edition)


def test_every_parameter_table_and_quantity_is_used() -> None:
    for name, folder in FOLDERS.items():
        words = Counter(re.findall("[a-z_]+", "\n".join(p.read_text("utf-8") for p in folder.glob("*.toml"))))
        pack = PACKS[name]
        assert [thing for thing in (*pack.parameters, *pack.tables, *pack.derived) if words[thing] < 2] == []


def test_every_field_names_its_unit_and_meaning() -> None:
    for kind in part_types().values():
        for field in kind.fields.values():
            assert field.title and field.description.endswith(".")
            if field.kind == "number":
                assert field.unit in known_units()


def test_modules_can_be_read() -> None:
    """None has more than 400 lines."""
    files = sorted((ROOT / "src" / "ampcite").rglob("*.py"))
    assert len(files) > 100
    lines = {path.name: len(path.read_text("utf-8").splitlines()) for path in files}
    assert {name: count for name, count in lines.items() if count > 400} == {}


def test_rule_files_can_be_read() -> None:
    """One subject a file, and lines that fit a screen."""
    most = {".examples.toml": 400, ".toml": 300}
    too_long, too_wide = [], []
    for path in sorted(file for folder in FOLDERS.values() for file in folder.glob("*.toml")):
        lines = path.read_text("utf-8").splitlines()
        limit = next(limit for end, limit in most.items() if path.name.endswith(end))
        too_long += [f"{path.parent.name}/{path.name}: {len(lines)} lines"] if len(lines) > limit else []
        too_wide += [f"{path.parent.name}/{path.name}:{i}" for i, line in enumerate(lines, 1) if len(line) > 120]
    assert too_long == [] and too_wide == []


def test_the_examples_of_a_rule_stand_together() -> None:
    scattered = []
    for path in sorted(ROOT.glob("rulepacks/*/*.examples.toml")):
        rules = [rule for rule, _ in groupby(re.findall(r"(?m)^\[+([^.\]\n]+)", path.read_text("utf-8")))]
        scattered += [f"{path.name}: {rule}" for rule in sorted({r for r in rules if rules.count(r) > 1})]
    assert scattered == []


def test_every_reading_of_a_pack_is_used() -> None:
    for folder in FOLDERS.values():
        whole = "\n".join(p.read_text("utf-8") for p in folder.glob("*.toml"))
        for name in tomllib.loads((folder / "pack.toml").read_text("utf-8"))["pack"].get("readings", ()):
            assert f'read = "{name}"' in whole, name


def test_every_source_of_a_pack_is_used() -> None:
    for folder in FOLDERS.values():
        whole = "\n".join(p.read_text("utf-8") for p in folder.glob("*.toml"))
        for key in tomllib.loads((folder / "pack.toml").read_text("utf-8"))["pack"]["sources"]:
            assert whole.count(f'"{key}"') > 0, key
