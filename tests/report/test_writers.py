"""A writer of reports is one file: put into the package, it is offered by the command and writes."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from ampcite import report
from ampcite.command.main import main
from ampcite.report import writer, writers
from shared import ROOT, SHIPPED

COUNTS = '''"""How many fail, a line for each submission."""

COMMENTS, UTF_8 = False, True


def write(entries, detail):
    for entry in entries:
        yield f"{entry.source}: {entry.counts['fail']}\\n"
'''


def test_the_writers_are_the_modules_of_the_package() -> None:
    files = {path.stem.removeprefix("as_") for path in (ROOT / "src/ampcite/report").glob("as_*.py")}
    assert files == set(writers()) and writers()[0] == "text"
    for name in writers():
        assert isinstance(writer(name).COMMENTS, bool) and isinstance(writer(name).UTF_8, bool)


def test_a_new_writer_is_one_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "as_counts.py").write_text(COUNTS, "utf-8")
    monkeypatch.setattr(report, "__path__", [*report.__path__, str(tmp_path)])
    assert "counts" in writers()
    check = main.commands["check"]
    (form,) = [one for one in check.params if one.name == "form"]
    monkeypatch.setattr(form.type, "choices", writers())
    house = str(next(iter(SHIPPED.values())))
    said = CliRunner().invoke(main, ["check", "--pack", "labels", "--format", "counts", house])
    assert said.output == f"{house}: 0\n"
