"""What is kept between runs: never needed, never another's, never damaged, nothing left over.

Own inventions, after faults that an audit of the project found: kept rulebooks with flipped bits, planted links,
folders that others can write into, a disk that is full, a machine without a home folder.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

import ampcite
from ampcite.base.cache import read_cache, write_cache

posix = pytest.mark.skipif(os.name != "posix", reason="owners and modes of files are POSIX")
DATA = bytes(range(256)) * 8


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    tmp_path.chmod(0o700)
    monkeypatch.setenv("AMPCITE_CACHE", str(tmp_path / "kept"))
    return tmp_path / "kept"


def test_what_is_kept_comes_back_and_nothing_else_is_there(folder: Path) -> None:
    assert read_cache("key") is None
    write_cache("key", DATA)
    write_cache("key", DATA)
    assert read_cache("key") == DATA
    assert [path.name for path in folder.iterdir()] == ["key.rules"]
    assert read_cache("other") is None


def test_no_flipped_bit_is_read(folder: Path) -> None:
    write_cache("key", DATA)
    path = folder / "key.rules"
    whole = path.read_bytes()
    for place in range(0, len(whole), 7):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ (1 << place % 8)]) + whole[place + 1 :])
        assert read_cache("key") is None, place
    for stop in (0, 1, 31, 32, len(whole) - 1):
        path.write_bytes(whole[:stop])
        assert read_cache("key") is None, stop
    path.write_bytes(whole)
    assert read_cache("key") == DATA


def test_what_was_kept_under_another_key_is_not_read(folder: Path) -> None:
    write_cache("key", DATA)
    (folder / "key.rules").rename(folder / "other.rules")
    assert read_cache("other") is None


@posix
@pytest.mark.parametrize("mode", [0o720, 0o702, 0o777])
def test_a_folder_that_others_may_write_into_is_not_used(folder: Path, mode: int) -> None:
    write_cache("key", DATA)
    folder.chmod(mode)
    assert read_cache("key") is None
    write_cache("new", DATA)
    assert not (folder / "new.rules").exists()


@posix
def test_a_folder_under_one_that_others_may_write_into_is_not_used(folder: Path) -> None:
    write_cache("key", DATA)
    folder.parent.chmod(0o777)
    assert read_cache("key") is None
    folder.parent.chmod(0o1777)  # as /tmp is: nobody may move what is another's
    assert read_cache("key") == DATA


@posix
def test_a_file_that_others_may_write_a_link_and_a_pipe_are_not_read(folder: Path) -> None:
    write_cache("key", DATA)
    path = folder / "key.rules"
    path.chmod(0o620)
    assert read_cache("key") is None
    path.chmod(0o600)
    path.rename(folder / "elsewhere")
    path.symlink_to(folder / "elsewhere")
    assert read_cache("key") is None
    path.unlink()
    os.mkfifo(path)
    assert read_cache("key") is None


@posix
@pytest.mark.skipif(os.name == "posix" and os.getuid() != 0, reason="only root can give files away")
def test_a_file_or_folder_of_another_is_not_read(folder: Path) -> None:
    write_cache("key", DATA)
    for other in (folder / "key.rules", folder, folder.parent):
        os.chown(other, 4321, -1)
        assert read_cache("key") is None
        os.chown(other, 0, -1)
    assert read_cache("key") == DATA


@posix
def test_planted_links_are_not_followed(folder: Path) -> None:
    folder.mkdir(mode=0o700)
    private = folder.parent / "private"
    private.write_text("mine", "utf-8")
    for name in ("key.rules", f"key.{os.getpid()}.new"):
        (folder / name).symlink_to(private)
    write_cache("key", DATA)
    assert private.read_text("utf-8") == "mine"
    assert read_cache("key") == DATA


def test_a_relative_folder_is_not_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("AMPCITE_CACHE", str(tmp_path / "kept"))
    write_cache("key", DATA)
    monkeypatch.setenv("AMPCITE_CACHE", "kept")
    assert read_cache("key") is None
    write_cache("other", DATA)
    assert [path.name for path in (tmp_path / "kept").iterdir()] == ["key.rules"]


@posix
def test_a_full_disk_leaves_nothing_behind(folder: Path) -> None:
    program = """
import resource
from ampcite.base.cache import write_cache
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
write_cache("key", b"x" * 100_000)
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (0, b"")
    assert list(folder.iterdir()) == []


def test_what_a_run_that_was_cut_off_left_is_removed_in_time(folder: Path) -> None:
    write_cache("key", DATA)
    old, fresh, foreign = folder / "a.new", folder / "b.new", folder / "notes.txt"
    for path in (old, fresh, foreign):
        path.write_bytes(b"half")
    long_ago = time.time() - 40 * 24 * 3600
    for path in (old, foreign, folder / "key.rules"):
        os.utime(path, (long_ago, long_ago))
    write_cache("other", DATA)
    assert {path.name for path in folder.iterdir()} == {"b.new", "notes.txt", "other.rules"}


def test_without_a_home_folder_nothing_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    import platformdirs

    def nowhere(*_: object, **__: object) -> str:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.delenv("AMPCITE_CACHE", raising=False)
    for found in (nowhere, lambda *_, **__: "~/.cache/ampcite"):
        monkeypatch.setattr(platformdirs, "user_cache_dir", found)
        write_cache("key", DATA)
        assert read_cache("key") is None
    assert not Path("~").exists()


PROGRAM = """
import sys
import ampcite
house = ampcite.read({"labels": [{"id": "L", "letter_height": 0.2}]})
print(ampcite.to_json(ampcite.check(ampcite.load(2020, sys.argv[1:]), house)))
"""


def test_what_is_kept_of_schema_heads_and_rules_is_never_needed(folder: Path, tmp_path: Path) -> None:
    from ampcite.authoring import scaffold

    pack = tmp_path / "oddities"
    pack.mkdir()
    for name, text in scaffold.rules("oddities", 2020).items():
        (pack / name).write_text(text, "utf-8")

    def report() -> str:
        return subprocess.run([sys.executable, "-c", PROGRAM, pack], capture_output=True, text=True, check=True).stdout

    first = report()
    files = sorted(folder.iterdir())
    assert len(files) >= 4, "types of parts, the bare schema, heads of packs, a rulebook"
    kept = {path: path.read_bytes() for path in files}
    damaged = {path: whole[:-1] + bytes([whole[-1] ^ 1]) for path, whole in kept.items()}
    for path, bad in damaged.items():
        path.write_bytes(bad)
    assert report() == first
    assert all(path.read_bytes() != bad for path, bad in damaged.items()), "each is made anew"
    for path in kept:
        path.unlink()
    assert report() == first


def test_a_damaged_rulebook_is_made_anew(folder: Path, tmp_path: Path) -> None:
    from ampcite.authoring import scaffold

    pack = tmp_path / "oddities"
    pack.mkdir()
    for name, text in scaffold.rules("oddities", 2020).items():
        (pack / name).write_text(text, "utf-8")
    house = ampcite.read({"labels": [{"id": "L", "letter_height": 0.2}]})
    before = {*folder.iterdir()} if folder.exists() else set()

    def report() -> str:
        return ampcite.to_json(ampcite.check(ampcite.load(2020, pack), house))

    first = report()
    kept = max({*folder.iterdir()} - before, key=lambda path: path.stat().st_size)
    whole = kept.read_bytes()
    for place in range(0, len(whole), len(whole) // 20):
        damaged = whole[:place] + bytes([whole[place] ^ 16]) + whole[place + 1 :]
        kept.write_bytes(damaged)
        assert report() == first
        assert kept.read_bytes() != damaged, "it is made anew"
