"""Where the files that ship with the package are: inside it when installed, beside ``src`` in a checkout."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

_HERE = Path(__file__).resolve().parent.parent


def shipped(name: str) -> Path:
    """The folder ``rulepacks`` or ``schemas``."""
    inside = _HERE / name
    return inside if inside.is_dir() else _HERE.parent.parent / name


def houses() -> list[Path]:
    """The shipped example descriptions, by name."""
    return sorted((_HERE / "houses").glob("*.json"))


def load_schema(name: str) -> dict[str, Any]:
    """A schema by its file name."""
    out: dict[str, Any] = json.loads((shipped("schemas") / name).read_text("utf-8"))
    return out
