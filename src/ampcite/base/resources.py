"""Where the files that ship with the package are: inside it when installed, beside ``src`` in a checkout."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

_HERE = Path(__file__).resolve().parent.parent


@lru_cache(maxsize=1)
def own_version() -> str:
    """The version of this package, as it is installed."""
    from importlib.metadata import version

    return version("ampcite")


def shipped(name: str) -> Path:
    """The folder ``rulepacks`` or ``schemas``."""
    inside = _HERE / name
    return inside if inside.is_dir() else _HERE.parent.parent / name


def houses() -> list[Path]:
    """The shipped example descriptions, by name."""
    return sorted((_HERE / "houses").glob("*.json"))


def load_house(name: str) -> dict[str, Any]:
    """A shipped example description, by its name."""
    out: dict[str, Any] = json.loads((_HERE / "houses" / f"{name}.json").read_text("utf-8"))
    return out


def designs() -> list[Path]:
    """The shipped descriptions of designs of which nothing is built, each about a few subjects, by name."""
    return sorted((_HERE / "designs").glob("*.json"))


def plan_sets() -> list[Path]:
    """The shipped descriptions of whole submissions as they lie before a plan reviewer, by name."""
    return sorted((_HERE / "plan_sets").glob("*.json"))


def load_schema(name: str) -> dict[str, Any]:
    """A schema by its file name."""
    out: dict[str, Any] = json.loads((shipped("schemas") / name).read_text("utf-8"))
    return out


def schema_validator(name: str) -> Any:
    """The reference validator of a schema, by its file name.

    In its patterns ``$`` is the end of a text, as in JSON Schema; in Python's expressions a line break may follow it.
    """
    import re

    import jsonschema

    def pattern(validator: Any, expression: str, value: Any, schema: Any) -> Any:
        if isinstance(value, str) and not re.search(re.sub(r"\$$", r"\\Z", expression), value):
            yield jsonschema.ValidationError(f"{value!r} does not match {expression!r}")

    extend: Any = jsonschema.validators.extend
    strict = extend(jsonschema.Draft202012Validator, {"pattern": pattern})
    return strict(load_schema(name), format_checker=strict.FORMAT_CHECKER)
