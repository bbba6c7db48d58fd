"""Ampcite: a description of a house's solar-electric system goes in; pass, warn or fail comes out, cited and worked.

Three steps::

    rulebook = ampcite.load(2020)
    description = ampcite.read("house.json")
    report = ampcite.check(rulebook, description)

It is a second pair of eyes, not an approval: the local authority and licensed practice decide.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ampcite.api import law_for, load, to_dict, to_json, to_jsonl, to_text
    from ampcite.base.errors import AmpciteError, ArgumentError, InputError, PackError
    from ampcite.engine.check import check
    from ampcite.engine.findings import Finding, Report
    from ampcite.engine.rulebook import Rulebook
    from ampcite.house.parts import Description
    from ampcite.house.read import read
    from ampcite.language.logic import Verdict
    from ampcite.reviewing.comments import Comment, Review, review

_HOME = {
    "law_for": "api", "load": "api", "to_dict": "api", "to_json": "api",
    "to_jsonl": "api", "to_text": "api", "check": "engine.check",
    "Description": "house.parts", "read": "house.read", "AmpciteError": "base.errors", "ArgumentError": "base.errors",
    "InputError": "base.errors", "PackError": "base.errors", "Finding": "engine.findings", "Report": "engine.findings",
    "Rulebook": "engine.rulebook", "Verdict": "language.logic", "Comment": "reviewing.comments",
    "Review": "reviewing.comments", "review": "reviewing.comments",
}  # fmt: skip

__all__ = [
    "AmpciteError",
    "ArgumentError",
    "Comment",
    "Description",
    "Finding",
    "InputError",
    "PackError",
    "Report",
    "Review",
    "Rulebook",
    "Verdict",
    "check",
    "law_for",
    "load",
    "read",
    "review",
    "to_dict",
    "to_json",
    "to_jsonl",
    "to_text",
]


def __dir__() -> list[str]:
    return [*__all__, "__version__"]


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        globals()[name] = version("ampcite")
        return globals()[name]
    if name not in _HOME:
        raise AttributeError(f"module 'ampcite' has no attribute {name!r}")
    from importlib import import_module

    value = getattr(import_module(f"ampcite.{_HOME[name]}"), name)
    globals()[name] = value
    return value
