"""Output that can't be written whole, crashes, encodings without every sign, closed streams: each has its status.

Source: the project's own statuses; 70 and 74 are those of BSD's sysexits for a fault of a program and of its output
(from memory). Disks that are full are Linux's ``/dev/full`` and files held to a size.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from ampcite.base.resources import houses
from ampcite.command import output, packs
from ampcite.command.main import main
from shared import sample

HOUSE = str(houses()[0])
START = "from ampcite.command.main import main; main()"
BUFFERING = [(), pytest.param(("-u",), marks=pytest.mark.thorough)]
full = pytest.mark.skipif(not Path("/dev/full").exists(), reason="no disk that is always full")
posix = pytest.mark.skipif(os.name != "posix", reason="streams closed by a POSIX shell")


def run(*words: str, flags: tuple[str, ...] = (), more: str = "", encoding: str = "utf-8",
        ) -> subprocess.CompletedProcess[bytes]:  # fmt: skip
    """The command line in a shell, so that its streams can be what they are in life."""
    command = [sys.executable, *flags, "-c", START, *words]
    line = " ".join(f"'{word}'" for word in command) + " " + more
    env = {**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
    return subprocess.run(["bash", "-o", "pipefail", "-c", line], capture_output=True, env=env, check=False)


@cache
def printed(*words: str) -> bytes:
    """What the command line prints, asked once."""
    return run(*words).stdout


# --- a disk that is full, a reader that has gone --------------------------------------------------------------------


@full
@pytest.mark.parametrize("flags", BUFFERING, ids=["buffered", "unbuffered"])
@pytest.mark.parametrize("words", [("check", HOUSE), ("check", HOUSE, "--format", "json"), ("--help",), ("packs",)])
def test_a_full_disk(words: tuple[str, ...], flags: tuple[str, ...]) -> None:
    done = run(*words, flags=flags, more=">/dev/full")
    assert done.returncode == 74
    assert done.stderr == b"standard output: can't be written: No space left on device\n"


@pytest.mark.thorough
@posix
@pytest.mark.parametrize("flags", BUFFERING, ids=["buffered", "unbuffered"])
def test_a_disk_that_is_full_half_way(flags: tuple[str, ...], tmp_path: Path) -> None:
    """What is written then is a part; the status says so, whoever made the stream."""
    done = run("check", HOUSE, "--every", "--format", "json", flags=flags, more=f">{tmp_path}/out; s=$?; exit $s")
    assert done.returncode == 0
    whole = (tmp_path / "out").stat().st_size
    limited = ["bash", "-c", f'ulimit -f {whole // 2048}; exec "$@" >"{tmp_path}/part"', "-", sys.executable, *flags,
               "-c", "import signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN); " + START,
               "check", HOUSE, "--every", "--format", "json"]  # fmt: skip
    done = subprocess.run(limited, capture_output=True, check=False)
    assert 0 < (tmp_path / "part").stat().st_size < whole
    assert done.returncode == 74 and b"can't be written" in done.stderr


@posix
@pytest.mark.parametrize("flags", BUFFERING, ids=["buffered", "unbuffered"])
def test_a_reader_that_has_gone(flags: tuple[str, ...]) -> None:
    done = run("check", HOUSE, "--format", "json", flags=flags, more="| true")
    assert (done.returncode, done.stderr) == (74, b"")


@posix
def test_closed_streams() -> None:
    done = run("check", "-", more="<&-")
    assert (done.returncode, done.stderr) == (2, b"standard input: is closed\n")
    assert run("check", HOUSE, more=">&-").returncode == 74
    assert run("check", "nowhere.json", more="2>&-").returncode == 2


# --- crashes and stops ---------------------------------------------------------------------------------------------


def test_a_crash_is_no_finding(monkeypatch: pytest.MonkeyPatch) -> None:
    def crash(*_: object) -> None:
        raise ZeroDivisionError("of our own making")

    monkeypatch.setattr(packs, "load_packs", crash)
    done = CliRunner().invoke(main, ["packs"])
    assert done.exit_code == 70
    assert "of our own making" in done.stderr and "report it" in done.stderr and done.stdout == ""


@pytest.mark.parametrize("stop", [KeyboardInterrupt, EOFError])
def test_a_stop_by_the_user_is_no_finding(stop: type[BaseException], monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object) -> None:
        raise stop

    monkeypatch.setattr(packs, "load_packs", stopped)
    assert CliRunner().invoke(main, ["packs"]).exit_code == 130


@pytest.mark.parametrize("words", [["chek"], ["check"], ["check", HOUSE, "--edition", "x"], ["check", HOUSE, "--fast"]])
def test_a_command_that_is_none(words: list[str]) -> None:
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 2 and "Usage" in done.stderr


def test_the_statuses_are_told() -> None:
    said = " ".join(CliRunner().invoke(main, ["--help"]).stdout.split())
    for status in (output.CRASHED, output.LOST, output.INTERRUPTED):
        assert f"{status} " in said


# --- encodings -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("encoding", sample(["latin-1", "cp1252", "cp437", "utf-8"], 4))
def test_a_report_in_words_in_any_encoding(encoding: str) -> None:
    done = run("check", HOUSE, "--every", encoding=encoding)
    assert (done.returncode, done.stderr) == (0, b"")
    text = done.stdout.decode(encoding)
    assert "\\u" not in text, "every sign of a report has a plain spelling"
    if encoding == "latin-1":
        assert "<=" in text and "≤" not in text and "°C" in text


@pytest.mark.parametrize("encoding", sample(["cp1252", "latin-1", "utf-16"], 3))
@pytest.mark.parametrize("words", [("check", HOUSE, "--format", "json"), ("example",), ("schema", "description")])
def test_json_is_utf_8_in_any_encoding(words: tuple[str, ...], encoding: str) -> None:
    done = run(*words, encoding=encoding)
    assert done.returncode == 0
    assert done.stdout == printed(*words)
    json.loads(done.stdout.decode("utf-8"))


@pytest.mark.skipif(sys.platform != "linux", reason="names that are not UTF-8")
def test_a_file_named_with_a_byte_that_is_not_utf_8(tmp_path: Path) -> None:
    named = os.fsencode(tmp_path) + b"/caf\xe9.json"
    with open(named, "wb") as file:
        file.write(Path(HOUSE).read_bytes())
    for form in ("text", "json"):
        words = [sys.executable, "-c", START, "check", "--format", form, named]
        done = subprocess.run(words, capture_output=True, check=False)
        assert (done.returncode, done.stderr) == (0, b"")
        done.stdout.decode("utf-8")


# --- files that are written ----------------------------------------------------------------------------------------


@pytest.fixture
def short_of_room(monkeypatch: pytest.MonkeyPatch) -> None:
    write = Path.write_text
    count = iter(range(100))

    def writes(self: Path, text: str, *rest: str) -> int:
        if next(count):
            raise OSError(28, "No space left on device")
        return write(self, text, *rest)

    monkeypatch.setattr(Path, "write_text", writes)


@pytest.mark.usefixtures("short_of_room")
@pytest.mark.parametrize("words", [["pack", "new"], ["pack", "wrap", "communications"],
                                   ["pack", "pages", "communications"]])  # fmt: skip
def test_a_folder_that_can_not_be_written(words: list[str], tmp_path: Path) -> None:
    done = CliRunner().invoke(main, [*words, str(tmp_path / "elm")])
    assert done.exit_code == 74
    assert done.stderr.startswith(str(tmp_path)) and "No space left on device" in done.stderr
    assert (tmp_path / "elm").exists() is ("pages" in words), "a new folder is whole or not there"


@pytest.mark.parametrize("words", [["pack", "new", "{}/elm"], ["pack", "pages", "communications", "{}"],
                                   ["lock", HOUSE, "--write", "{}/lock.json"]])  # fmt: skip
def test_a_folder_that_is_a_file(words: list[str], tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine", "utf-8")
    done = CliRunner().invoke(main, [word.format(tmp_path / "file") for word in words])
    assert done.exit_code == 74 and "can't be written" in done.stderr
    assert (tmp_path / "file").read_text("utf-8") == "mine"


# --- lock files ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("packs", ["null", "{}", "[1]", '[{"name": "electrical"}]', "[null]",
                                   '[{"name": "electrical", "digest": null}]', '[{"name": 1, "digest": "x"}]',
                                   '[{"name": "electrical", "digest": ["x"]}]', "[" * 100_000])  # fmt: skip
def test_a_lock_file_that_is_none(packs: str, tmp_path: Path) -> None:
    (tmp_path / "lock.json").write_text(f'{{"packs": {packs}}}', "utf-8")
    done = CliRunner().invoke(main, ["check", HOUSE, "--lock", str(tmp_path / "lock.json")])
    assert done.exit_code == 2
    assert "is neither a lock file nor a report" in done.stderr or "is not" in done.stderr
