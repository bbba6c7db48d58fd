"""Pages in a real browser without a window: what axe finds, what is too wide, what the console says, what is asked for.

Needs Chromium (Debian: ``apt-get install chromium``) and axe-core (``npm install axe-core`` in a folder that
``NODE_PATH`` names); ``.ci/run`` brings both. One Chromium is started for all tests of a process, and is spoken to over
a pipe in its own protocol, so that a page is seen as it is, its content security policy included.
"""

from __future__ import annotations

import atexit
import base64
import fcntl
import json
import os
import select
import shutil
import subprocess
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import pytest

WAIT = 60
PHONE, DESKTOP = 390, 1280
"""Widths of screens, in pixels of a page."""

needs_browser = pytest.mark.skipif(
    not (shutil.which("chromium") and any((Path(f) / "axe-core").is_dir()
                                          for f in os.environ.get("NODE_PATH", "").split(os.pathsep))),
    reason="needs chromium, and axe-core in NODE_PATH",
)  # fmt: skip
needs_pdf_tools = pytest.mark.skipif(not shutil.which("pdftotext"), reason="needs pdftotext of poppler-utils")
needs_office = pytest.mark.skipif(not (shutil.which("soffice") and shutil.which("pdftotext")),
                                  reason="needs LibreOffice and poppler-utils")  # fmt: skip


def faults_seen(page: Path) -> list[str]:
    """What is wrong with a page on a phone and on a desk, each with the width: nothing, if all is well.

    That is what axe finds, what makes the page scroll sideways, whatever the console says, and every request for
    something that is not the page itself.
    """
    return [f"{page.name} at {width}: {fault}" for width in (PHONE, DESKTOP) for fault in _faults(page, width)]


def answer(page: Path, script: str, width: int = PHONE) -> Any:
    """What a script gives that runs in a page."""
    with _Tab(page, width) as tab:
        return tab.run(script)


def printed(page: Path) -> bytes:
    """The PDF that a page is printed as, on the paper and with the margins that its style names."""
    with _Tab(page, DESKTOP) as tab:
        data: str = tab.call("Page.printToPDF", preferCSSPageSize=True, printBackground=True)["data"]
    return base64.b64decode(data)


def picture(page: Path, width: int) -> bytes:
    """The whole of a page as a PNG, to be looked at."""
    with _Tab(page, width) as tab:
        size = tab.call("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1}
        data: str = tab.call("Page.captureScreenshot", captureBeyondViewport=True, clip=clip)["data"]
    return base64.b64decode(data)


def _faults(page: Path, width: int) -> list[str]:
    with _Tab(page, width) as tab:
        faults = tab.said()
        faults += tab.run(
            "document.documentElement.scrollWidth <= innerWidth ? [] : [...document.querySelectorAll('body *')]"
            ".filter(e => e.getBoundingClientRect().right > innerWidth + 1).slice(0, 5)"
            ".map(e => 'too wide: ' + e.outerHTML.slice(0, 120)).concat('scrolls sideways')"
        )
        tab.run(_axe() + "; 0")
        ask = "axe.run(document).then(r => r.violations.map(v => 'axe ' + v.id + ': ' + v.nodes[0].html.slice(0, 200)))"
        return faults + list(tab.run(ask))


@cache
def _axe() -> str:
    for folder in os.environ.get("NODE_PATH", "").split(os.pathsep):
        path = Path(folder) / "axe-core" / "axe.min.js"
        if folder and path.is_file():
            return path.read_text("utf-8")
    raise FileNotFoundError("axe-core is in no folder that NODE_PATH names: npm install axe-core")


class _Tab:
    """A page in a tab of its own."""

    def __init__(self, page: Path, width: int) -> None:
        self._page, self._width = page, width

    def __enter__(self) -> _Tab:
        browser = _browser()
        self._target = browser.call("Target.createTarget", url="about:blank")["targetId"]
        self._session = browser.call("Target.attachToTarget", targetId=self._target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")
        self.call("Emulation.setDeviceMetricsOverride", width=self._width, height=900, deviceScaleFactor=1,
                  mobile=self._width < 600)  # fmt: skip
        browser.events.clear()
        self.call("Page.navigate", url=self._page.as_uri())
        browser.wait_for("Page.loadEventFired", self._session)
        return self

    def __exit__(self, *_: object) -> None:
        _browser().call("Target.closeTarget", targetId=self._target)

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        return _browser().call(method, self._session, **params)

    def run(self, script: str) -> Any:
        """What a script gives, waited for."""
        out = self.call("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in out, out["exceptionDetails"]
        return out["result"].get("value")

    def said(self) -> list[str]:
        """What the console says since the page was asked for, and what else the page asked for."""
        out, own = list[str](), (self._page.as_uri(), "data:")
        for event in _browser().events:
            params = event["params"] if event.get("sessionId") == self._session else {}
            match event["method"] if params else "":
                case "Runtime.exceptionThrown":
                    out.append(f"console: {params['exceptionDetails'].get('exception', {}).get('description')}")
                case "Runtime.consoleAPICalled":
                    out.append(f"console: {[one.get('value') for one in params['args']]}")
                case "Log.entryAdded":
                    out.append(f"console: {params['entry']['text']}")
                case "Network.requestWillBeSent" if not params["request"]["url"].startswith(own):
                    out.append(f"asks for {params['request']['url'][:100]}")
        return out


class _Browser:
    """A Chromium that is spoken to over a pipe; each message ends with a zero byte."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory()
        read, theirs_out = os.pipe()
        theirs_in, self._write = os.pipe()
        high = [fcntl.fcntl(fd, fcntl.F_DUPFD, 20) for fd in (theirs_in, theirs_out)]
        self._process = subprocess.Popen(
            ["bash", "-c", f'exec chromium "$@" 3<&{high[0]} 4>&{high[1]}', "chromium", "--headless", "--no-sandbox",
             "--disable-gpu", "--no-first-run", "--remote-debugging-pipe", f"--user-data-dir={self._folder.name}"],
            pass_fds=high, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        for fd in (theirs_in, theirs_out, *high):
            os.close(fd)
        self._read, self._buffer, self._number = read, b"", 0
        self.events: list[dict[str, Any]] = []

    def call(self, method: str, session: str = "", **params: Any) -> dict[str, Any]:
        """What a method of the protocol gives."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": params} | ({"sessionId": session} if session else {})
        self._send(json.dumps(message).encode() + b"\0")
        while True:
            said = self._next()
            if said.get("id") == self._number:
                assert "error" not in said, (method, said["error"])
                out: dict[str, Any] = said["result"]
                return out
            self.events.append(said)

    def wait_for(self, method: str, session: str) -> None:
        """Reads on until something happened in a tab."""
        while not any(e.get("method") == method and e.get("sessionId") == session for e in self.events):
            self.events.append(self._next())

    def _send(self, data: bytes) -> None:
        while data:
            data = data[os.write(self._write, data) :]

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._buffer:
            assert select.select([self._read], [], [], WAIT)[0], "the browser does not answer"
            more = os.read(self._read, 1 << 20)
            assert more, "the browser has ended"
            self._buffer += more
        message, _, self._buffer = self._buffer.partition(b"\0")
        out: dict[str, Any] = json.loads(message)
        return out

    def end(self) -> None:
        self._process.terminate()
        self._process.wait()
        self._folder.cleanup()


@cache
def _browser() -> _Browser:
    browser = _Browser()
    atexit.register(browser.end)
    return browser
