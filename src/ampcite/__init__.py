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
    from ampcite.base.errors import AmpciteError, ArgumentError, Complaint, InputError, PackError
    from ampcite.engine.check import check
    from ampcite.engine.findings import Clause, Finding, NotApplicable, Project, Report
    from ampcite.engine.rulebook import Rulebook
    from ampcite.house.parts import Description
    from ampcite.house.read import read
    from ampcite.language.logic import Verdict
    from ampcite.law.applied import Law
    from ampcite.law.changes import Change
    from ampcite.law.files import PackUsed
    from ampcite.reviewing.comments import Comment, Missing, Review, review

_HOME = {name: module for module, names in {
    "api": "law_for load to_dict to_json to_jsonl to_text",
    "base.errors": "AmpciteError ArgumentError Complaint InputError PackError",
    "engine.check": "check",
    "engine.findings": "Clause Finding NotApplicable Project Report",
    "engine.rulebook": "Rulebook",
    "house.parts": "Description",
    "house.read": "read",
    "language.logic": "Verdict",
    "law.applied": "Law",
    "law.changes": "Change",
    "law.files": "PackUsed",
    "reviewing.comments": "Comment Missing Review review",
}.items() for name in names.split()}  # fmt: skip
"""Where each public name is defined; it is fetched when first used, so that importing the package costs little."""

__all__ = [
    "AmpciteError",
    "ArgumentError",
    "Change",
    "Clause",
    "Comment",
    "Complaint",
    "Description",
    "Finding",
    "InputError",
    "Law",
    "Missing",
    "NotApplicable",
    "PackError",
    "PackUsed",
    "Project",
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
        from ampcite.base.resources import own_version

        globals()[name] = own_version()
        return globals()[name]
    if name not in _HOME:
        raise AttributeError(f"module 'ampcite' has no attribute {name!r}")
    from importlib import import_module

    value = getattr(import_module(f"ampcite.{_HOME[name]}"), name)
    globals()[name] = value
    return value
