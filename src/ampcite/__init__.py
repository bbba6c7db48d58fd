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
    from ampcite.adoption import law
    from ampcite.api import load, to_json, to_text
    from ampcite.checking import check
    from ampcite.description import Description, read
    from ampcite.errors import AmpciteError, InputError, PackError
    from ampcite.report import Finding, Report
    from ampcite.rulebook import Rulebook
    from ampcite.verdict import Verdict

_HOME = {
    "law": "adoption",
    "load": "api", "to_json": "api", "to_text": "api", "check": "checking", "Description": "description",
    "read": "description", "AmpciteError": "errors", "InputError": "errors", "PackError": "errors",
    "Finding": "report", "Report": "report", "Rulebook": "rulebook", "Verdict": "verdict",
}  # fmt: skip

__all__ = [
    "AmpciteError",
    "Description",
    "Finding",
    "InputError",
    "PackError",
    "Report",
    "Rulebook",
    "Verdict",
    "check",
    "law",
    "load",
    "read",
    "to_json",
    "to_text",
]


def __dir__() -> list[str]:
    return [*__all__, "__version__"]


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        return version("ampcite")
    if name not in _HOME:
        raise AttributeError(f"module 'ampcite' has no attribute {name!r}")
    from importlib import import_module

    value = getattr(import_module(f"ampcite.{_HOME[name]}"), name)
    globals()[name] = value
    return value
