"""What the command line writes arrives whole and readable, or the exit status says that it did not."""

from __future__ import annotations

import atexit
import codecs
import contextlib
import errno
import gc
import io
import os
import sys
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import Any

import click

CRASHED, LOST, INTERRUPTED = 70, 74, 130
"""A fault of this program and output that can't be written (the numbers of BSD's sysexits), and the user's stop."""


class Lost(Exception):
    """Something could not be written: ``where``, and why."""

    def __init__(self, where: str, fault: OSError) -> None:
        self.where, self.closed = where, fault.errno == errno.EPIPE
        super().__init__(f"{where}: can't be written: {fault.strerror}")


class Command(click.Group):
    """A group of commands whose exit status tells a finding, a bad input, a crash and lost output apart."""

    def main(self, *args: Any, standalone_mode: bool = True, **extra: Any) -> Any:
        run: Callable[[], Any] = partial(super().main, *args, standalone_mode=False, **extra)
        if not standalone_mode:
            return run()
        gc.set_threshold(_SELDOM)
        atexit.register(gc.freeze)
        with _whole("stdout"), _whole("stderr"):
            status = _status(run)
        sys.exit(status)


_SELDOM = 50_000
"""After how many new objects memory is looked through for what refers to itself: a command lets go of little of what
it loads, and of nothing by itself at its end."""


def _status(run: Callable[[], Any]) -> int:
    """The exit status of a run, with what has to be said of it on the standard error."""
    try:
        if sys.stdout is None:
            raise Lost("standard output", OSError(errno.EBADF, "it is closed"))
        returned = run()
        sys.stdout.flush()
        return returned if isinstance(returned, int) else 0
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else 0 if stop.code is None else 1
    except click.ClickException as fault:
        fault.show()
        return fault.exit_code
    except (click.Abort, KeyboardInterrupt):
        return INTERRUPTED
    except Lost as lost:
        with contextlib.suppress(Lost, OSError):
            if not lost.closed:
                click.echo(str(lost), err=True)
        return LOST
    except Exception:
        import traceback

        with contextlib.suppress(Lost, OSError):
            click.echo(f"{traceback.format_exc()}\nThis is a fault of ampcite, not of the input; please report it.",
                       err=True)  # fmt: skip
        return CRASHED


@contextlib.contextmanager
def _whole(name: str) -> Iterator[None]:
    """Puts a stream in place of a standard one that has signs for every encoding and never drops a part."""
    before = getattr(sys, name)
    if before is None:
        yield
        return
    after = _Stream(before, {"stdout": "standard output", "stderr": "standard error"}[name])
    setattr(sys, name, after)
    try:
        yield
    finally:
        setattr(sys, name, before)
        after.settle()


class _Stream:
    """A text stream whose failures to write are told from all others."""

    def __init__(self, stream: Any, name: str) -> None:
        self._name, self._first, self._stream = name, stream, stream
        if isinstance(getattr(stream, "buffer", None), io.RawIOBase):  # as python -u makes it, which may write a part
            self._stream = io.TextIOWrapper(io.BufferedWriter(stream.buffer), stream.encoding, newline=stream.newlines)
        if hasattr(self._stream, "reconfigure"):
            ascii = codecs.lookup(stream.encoding).name == "ascii"  # click takes it for a locale that is not set
            self._stream.reconfigure(encoding="utf-8" if ascii else stream.encoding, errors="ampcite.plain")

    def write(self, text: str) -> int:
        with self._telling():
            return int(self._stream.write(text))

    def flush(self) -> None:
        with self._telling():
            self._stream.flush()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    @contextlib.contextmanager
    def _telling(self) -> Iterator[None]:
        try:
            yield
        except OSError as fault:
            raise Lost(self._name, fault) from None

    def settle(self) -> None:
        """Leaves the first stream so that what could not be written is not tried again when Python ends."""
        with contextlib.suppress(OSError, ValueError):
            try:
                self._stream.flush()
            except OSError:
                os.dup2(os.open(os.devnull, os.O_WRONLY), self._first.fileno())
                self._stream.flush()
            if self._stream is not self._first:
                self._stream.detach().detach()


def in_utf_8() -> None:
    """Makes what follows on the standard output UTF-8, as JSON is, whatever the terminal's encoding."""
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(encoding="utf-8", errors="backslashreplace")


_PLAIN = {"−": "-", "–": "-", "≤": "<=", "≥": ">=", "≠": "!=", "×": "x", "÷": "/", "°": "deg", "½": "1/2", "²": "2",
          "’": "'", "“": '"', "”": '"', "…": "...", "Ω": "ohm", "µ": "u", "→": "->"}  # fmt: skip


def _plain(fault: UnicodeError) -> tuple[str, int]:
    """What stands for signs that an encoding has not: a plain spelling, or the number of the sign."""
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    signs = fault.object[fault.start : fault.end]
    return "".join(_PLAIN.get(s) or s.encode("ascii", "backslashreplace").decode() for s in signs), fault.end


codecs.register_error("ampcite.plain", _plain)


def write_new(folder: Path, files: Mapping[str, str]) -> None:
    """Writes the files of a new folder: all of them, or none and no folder. Raises Lost."""
    try:
        write_into(folder, files)
    except Lost:
        import shutil

        shutil.rmtree(folder, ignore_errors=True)
        raise


def write_into(folder: Path, files: Mapping[str, str]) -> None:
    """Writes files into a folder, which is made where it is not there. Raises Lost."""
    for name, text in files.items():
        path = folder / name
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, "utf-8")
        except OSError as fault:
            raise Lost(str(path), fault) from None


def standard_input() -> bytes:
    """All of the standard input. Raises InputError where it is closed."""
    from ampcite.base.errors import Complaint, InputError

    try:
        if sys.stdin is not None:
            return sys.stdin.buffer.read()
        said = "is closed"
    except OSError as fault:
        said = f"can't be read: {fault.strerror}"
    raise InputError([Complaint("standard input", "", said)])
