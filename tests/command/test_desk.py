"""The commands for a queue and for the day on site: statuses, files, words. Source: docs/desk.md."""

from __future__ import annotations

import contextlib
import json
import os
import re
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from ampcite.base.resources import houses
from ampcite.command.main import main
from ampcite.command.review import Progress
from shared import sample

HOUSE = houses()[0]


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [*map(str, words)])


@pytest.fixture
def queue(tmp_path: Path) -> Path:
    folder = tmp_path / "queue"
    folder.mkdir()
    house = json.loads(HOUSE.read_text("utf-8"))
    (folder / "clean.json").write_text(json.dumps(house), "utf-8")
    house["panels"][0]["breakers"]["all"][0]["rating"] = 60
    (folder / "broken.json").write_text(json.dumps(house), "utf-8")
    return folder


def test_statuses_of_a_queue(queue: Path, tmp_path: Path) -> None:
    out = run("review", queue, "--out", tmp_path / "out", "--workers", "1")
    assert out.exit_code == 1 and "In all 2 submissions" in out.stdout and "1  clean" in out.stdout
    (queue / "broken.json").unlink()
    assert run("review", queue, "--out", tmp_path / "out", "--workers", "1").exit_code == 0
    house = json.loads((queue / "clean.json").read_text("utf-8"))
    del house["service"]["rating"]
    (queue / "less.json").write_text(json.dumps(house), "utf-8")
    out = run("review", queue, "--out", tmp_path / "out", "--workers", "1")
    assert out.exit_code == 4 and "1  undecided" in out.stdout and "the service rating" in out.stdout
    (queue / "none.json").write_text("{", "utf-8")
    out = run("review", queue, "--out", tmp_path / "out", "--workers", "1")
    assert out.exit_code == 2 and "1  unusable" in out.stdout and "2 of 3 were done before" in out.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["none.zip", "--out", "out"], "can't be read"), (["queue", "--out", "queue/clean.json"], "is no folder"),
        (["queue", "--out", "out", "--pack", "nosuch"], "no pack is called"),
        (["queue", "--out", "out", "--catalogue", "queue/none.json"], "can't be read"),
    ],
)  # fmt: skip
def test_what_a_queue_refuses(words: list[str], said: str, queue: Path, tmp_path: Path,
                              monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    out = run("review", *words, "--workers", "1")
    assert out.exit_code == 2 and said in out.stderr and "Traceback" not in out.stderr


def test_progress_says_rate_and_time_left(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    clock = iter([0.0, 11.0, 22.0, 33.0])
    monkeypatch.setattr("ampcite.command.review.time.monotonic", lambda: next(clock))
    told = Progress()
    for done in (10, 120, 230, 340):
        told(done, 1000)
    assert capsys.readouterr().err.splitlines() == [
        "10 of 1000 were done before", "120 of 1000 (12%), 10 a second, 1 min 28 s left",
        "230 of 1000 (23%), 10 a second, 1 min 17 s left", "340 of 1000 (34%), 10 a second, 1 min 6 s left",
    ]  # fmt: skip


def test_the_sheet_is_written_filled_in_read_back_and_judged(tmp_path: Path) -> None:
    out = run("site", HOUSE, "--out", tmp_path / "s.html", "--out", tmp_path / "s.csv", "--out", tmp_path / "s.xlsx")
    assert out.exit_code == 0 and "to tick" in out.stdout
    out = run("site", HOUSE, "--filled", tmp_path / "s.csv", "--out", tmp_path / "done.json")
    assert out.exit_code == 4 and "lines of the sheet are blank" in out.stdout
    assert json.loads((tmp_path / "done.json").read_text("utf-8"))["stage"] == "handover"
    text = (tmp_path / "s.csv").read_text("utf-8-sig")
    filled = text.replace("228 to 252 V,V,,", "228 to 252 V,V,300,")
    assert filled != text
    (tmp_path / "s.csv").write_text(filled, "utf-8")
    out = run("site", HOUSE, "--filled", tmp_path / "s.csv", "--out", tmp_path / "done.json")
    assert "300 V" in out.stdout and out.exit_code in (1, 4)


def test_what_the_sheet_refuses(tmp_path: Path) -> None:
    out = run("site", HOUSE, "--out", tmp_path / "s.pdf")
    assert out.exit_code == 2 and 'ends in ".pdf"' in out.stderr
    out = run("site", HOUSE, "--filled", tmp_path / "none.csv", "--out", tmp_path / "s.json")
    assert out.exit_code == 2 and "can't be read" in out.stderr
    out = run("site", HOUSE, "--filled", HOUSE, "--out", tmp_path / "s.json")
    assert out.exit_code == 2 and "is not the file that the form" in out.stderr


# --- on a terminal ---------------------------------------------------------------------------------------------------


def on_a_terminal(words: list[str], columns: int) -> str:
    """What a command writes on a terminal of so many columns, as it was written."""
    import fcntl
    import pty
    import struct
    import subprocess
    import termios

    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    with subprocess.Popen(words, stdin=theirs, stdout=theirs, stderr=theirs, close_fds=True) as process:
        os.close(theirs)
        out = bytearray()
        with contextlib.suppress(OSError):  # the end of a terminal that nobody holds open any more
            while data := os.read(ours, 65536):
                out += data
        os.close(ours)
        assert process.wait() in (0, 1, 4)
    return out.decode()


@pytest.mark.parametrize("columns", sample([60, 120], 2))
def test_on_a_terminal_a_bar_is_written_over_with_rate_and_time_left(columns: int, tmp_path: Path) -> None:
    house = json.loads(HOUSE.read_text("utf-8"))
    lines = [json.dumps(house | {"project": {"name": f"House {i} (invented)"}}) for i in range(70)]
    (tmp_path / "q.jsonl").write_text("\n".join(lines), "utf-8")
    command = ["review", str(tmp_path / "q.jsonl"), "--out", str(tmp_path / "out"), "--workers", "1"]
    said = on_a_terminal([sys.executable, "-c", "from ampcite.command.main import main; main()", *command], columns)
    bars = said.partition("In all 70")[0].replace("\x1b[K", "").strip().split("\r")
    assert bars[0].endswith("0 of 70 (0%)")
    assert len(bars) >= 2 and all(len(bar) < columns for bar in bars)
    assert re.fullmatch(r"\[#+ *\] 32 of 70 \(46%\), [\d.]+ a second, \d+ s left", bars[1])
    assert re.fullmatch(r"\[#+\] 70 of 70 \(100%\), [\d.]+ a second", bars[-1])
    assert said.endswith("summary (.txt, .json, .html)\r\n")


def test_elsewhere_a_short_run_writes_no_line_of_progress(queue: Path, tmp_path: Path) -> None:
    out = run("review", queue, "--out", tmp_path / "out", "--workers", "1")
    assert out.stderr == "" and "\r" not in out.stdout
