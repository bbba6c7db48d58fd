"""A page in a real browser without a window: what axe finds in it, and what is wider than the screen.

Needs Chromium (Debian: ``apt-get install chromium``) and axe-core (``npm install axe-core`` in a folder that
``NODE_PATH`` names); ``.ci/run`` brings both.
"""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

import pytest

WAIT = 60

needs_browser = pytest.mark.skipif(
    not (shutil.which("chromium") and any((Path(f) / "axe-core").is_dir()
                                          for f in os.environ.get("NODE_PATH", "").split(os.pathsep))),
    reason="needs chromium, and axe-core in NODE_PATH",
)  # fmt: skip
needs_pdf_tools = pytest.mark.skipif(not shutil.which("pdftotext"), reason="needs pdftotext of poppler-utils")
needs_office = pytest.mark.skipif(not (shutil.which("soffice") and shutil.which("pdftotext")),
                                  reason="needs LibreOffice and poppler-utils")  # fmt: skip


def _axe() -> str:
    for folder in os.environ.get("NODE_PATH", "").split(os.pathsep):
        path = Path(folder) / "axe-core" / "axe.min.js"
        if folder and path.is_file():
            return path.read_text("utf-8")
    raise FileNotFoundError("axe-core is in no folder that NODE_PATH names: npm install axe-core")


def axe_findings(page: Path) -> list[str]:
    """The rules that a page breaks, each with the first place."""
    run = "axe.run(document).then(r => done(r.violations.map(v => v.id + ': ' + v.nodes[0].html)))"
    found: list[str] = _asked(page, f"{_axe()};{run};")
    return found


def wider_than(page: Path, width: int) -> list[str]:
    """The elements that reach beyond a screen of so many pixels."""
    ask = (f"const w = {width}; document.documentElement.style.width = w + 'px'; document.body.style.width = w + 'px';"
           "done([...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > w + 1)"
           ".slice(0, 5).map(e => e.outerHTML.slice(0, 120)))")  # fmt: skip
    found: list[str] = _asked(page, ask, width)
    return found


def _asked(page: Path, script: str, width: int = 1200) -> Any:
    """What a script in the page answers by calling ``done``; the page itself allows none, so a copy is asked."""
    text = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page.read_text("utf-8"))
    answer = "<script>function done(x) { const p = document.createElement('pre'); p.id = 'answer';"
    answer += "p.textContent = JSON.stringify(x); document.documentElement.appendChild(p); }</script>"
    escaped = script.replace("</script", "<\\/script")
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "page.html"
        copy.write_text(text.replace("</body>", f"{answer}<script>{escaped}</script></body>"), "utf-8")
        out = subprocess.run(
            ["chromium", "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder}/profile",
             f"--window-size={max(width, 500)},1200", "--virtual-time-budget=20000", "--dump-dom", copy.as_uri()],
            capture_output=True, text=True, timeout=WAIT, check=True,
        ).stdout  # fmt: skip
    found = re.search(r'<pre id="answer">(.*?)</pre>', out, re.S)
    assert found, "the page did not answer"
    return json.loads(html.unescape(found[1]))
