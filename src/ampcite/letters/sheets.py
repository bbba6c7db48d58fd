"""Which sheet of the submission shows what a comment is about, and where on the site it is."""

from __future__ import annotations

from collections.abc import Mapping

from ampcite.engine.findings import Finding
from ampcite.house.parts import Description, Part

DRAWINGS: Mapping[str, tuple[str, ...]] = {
    "roof": ("roof plan", "site plan"),
    "labels": ("label schedule", "one-line diagram"),
    "working_spaces": ("site plan", "one-line diagram"),
    "clearances": ("site plan", "one-line diagram"),
    "modules": ("equipment schedule", "one-line diagram"),
    "module_electronics": ("equipment schedule", "one-line diagram"),
    "other_equipment": ("equipment schedule",),
    "communications": ("one-line diagram",),
    "project": ("cover sheet",),
    "codes": ("cover sheet",),
}
"""The first step of a kind of part to the drawings that show such parts, the likeliest first."""

STRUCTURAL = ("framing", "loads", "attachments", "engineering")
"""Families whose comments belong on the structural plan, where there is one."""

WIRED = ("strings", "circuits", "inverters", "service", "panels", "point_of_connection", "disconnects", "storage",
         "rapid_shutdown", "grounding", "raceways", "boxes", "wiring_spaces", "monitoring")  # fmt: skip
"""Kinds of part that stand on the one-line diagram."""


class Sheets:
    """The documents of a submission, to be asked which of them shows a part."""

    def __init__(self, description: Description) -> None:
        self.documents = description.parts["documents"] or ()
        self.by_id = {d.facts["id"]: d for d in self.documents if isinstance(d.facts.get("id"), str)}
        self.parts = {part.pointer: part for parts in description.parts.values() for part in parts or ()}

    def of(self, finding: Finding) -> str:
        """The title of the sheet that shows what a finding is about; "" where none does."""
        part = self.parts.get(finding.about)
        while part is not None:
            if part.kind == "documents":
                return title(part)
            if part.kind == "claims" and part.facts.get("by") in self.by_id:
                return title(self.by_id[part.facts["by"]])
            part = part.links.get("..")
        first = finding.about.strip("/").partition("/")[0]
        drawings = DRAWINGS.get(first, ("one-line diagram", "three-line diagram") if first in WIRED else ())
        if finding.family in STRUCTURAL:
            drawings = ("structural plan", *drawings)
        for drawing in drawings:
            for document in self.documents:
                shown = document.facts.get("drawings")
                if isinstance(shown, tuple) and drawing in shown:
                    return title(document)
        return ""

    def rank(self, sheet: str) -> int:
        """Where a sheet stands in the set; what is on none, first."""
        titles = [title(d) for d in self.documents]
        return 1 + titles.index(sheet) if sheet in titles else 0


def title(document: Part) -> str:
    """What a document is called: its name on the plan, with the drawings on it."""
    name, drawings = document.facts.get("id"), document.facts.get("drawings")
    shown = f" ({', '.join(drawings)})" if isinstance(drawings, tuple) and drawings else ""
    return f"{name}{shown}" if isinstance(name, str) else ""


PLACES: Mapping[str, str] = {
    "roof": "roof", "modules": "roof", "strings": "roof", "module_electronics": "roof",
    "inverters": "inverter", "rapid_shutdown": "shutdown switch", "storage": "storage",
    "panels": "panel", "service": "service equipment", "point_of_connection": "panel",
    "disconnects": "disconnects", "labels": "labels", "grounding": "grounding",
    "readings": "test record", "monitoring": "router and gateway", "communications": "router and gateway",
    "documents": "papers", "project": "papers", "utility_application": "papers", "authority": "papers",
}  # fmt: skip
"""The first step of what a question is about to where on the site it is looked at."""

BY_FAMILY: Mapping[str, str] = {
    "roof access": "roof", "attachments": "roof", "fire class": "roof", "roof covering": "roof", "roof plan": "roof",
    "vents and equipment": "roof", "framing": "attic", "loads": "roof", "labels": "labels", "storage": "storage",
    "commissioning": "test record", "communications": "router and gateway", "grounding": "grounding",
    "rapid shutdown": "shutdown switch", "disconnects": "disconnects", "interconnection": "panel",
    "owner's packet": "papers", "approvals and inspections": "papers", "documents that disagree": "papers",
    "missing information": "papers", "editions": "papers", "alarms of the house": "rooms of the house",
}  # fmt: skip

WHOLE, PAPERS = "whole system", "papers"
ORDER = ("roof", "attic", "inverter", "disconnects", "shutdown switch", "panel", "service equipment", "storage",
         "router and gateway", "grounding", "labels", "rooms of the house", WHOLE, "test record",
         PAPERS)  # fmt: skip
"""The places in the order an inspector walks them."""


def site_place(finding: Finding) -> str:
    """Where on the site a question is looked at: what it is about decides, of the whole system its family."""
    if finding.about in ("", "/") or finding.about.startswith("/observations"):
        return BY_FAMILY.get(finding.family, WHOLE)
    return PLACES.get(finding.about.strip("/").partition("/")[0], BY_FAMILY.get(finding.family, WHOLE))
