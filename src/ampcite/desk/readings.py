"""The readings of a house as they are before the day on site: what has to be filled in, with what is planned of it."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from typing import Any

from ampcite.house.parts import Description, Part
from ampcite.house.write import written
from ampcite.language.logic import ABSENT
from ampcite.language.printing import sentence

_INSTRUMENTS = ("multimeter", "irradiance meter", "torque tool", "insulation tester")


def features(description: Description) -> set[str]:
    """What the house has, in the words of the steps."""
    kinds = {e.facts.get("kind") for e in description.parts["module_electronics"] or ()}
    strings = description.parts["strings"] or ()
    out = {"dc"} if strings else set()
    out |= {"converters"} if "dc-to-dc converter" in kinds else {"plain strings"} if strings else set()
    out |= {"units"} if kinds else set()
    document = description.document
    out |= {"storage"} if description.parts["storage"] else set()
    out |= {"backup"} if document.get("backup") and "storage" in out else set()
    meter = document.get("point_of_connection", {})
    out |= {"production meter"} if isinstance(meter, dict) and meter.get("production_meter") else set()
    return out


def skeleton(description: Description) -> tuple[dict[str, Any], dict[str, Any]]:
    """The readings of a house in plain form: without values, and with such as are in order."""
    has, whole = features(description), description.whole.facts
    planned = description.document.get("readings", {})
    volts, to_neutral = whole.get("service/voltage"), whole.get("service/voltage_to_neutral")
    fixed: dict[str, Any] = {
        "strings": [_string(part, has) for part in description.parts["strings"] or ()],
        "inverters": [{"inverter": i.facts["id"]} for i in description.parts["inverters"] or () if "id" in i.facts],
        "planes": [{"plane": p.facts["id"]} for p in _planes(description)],
        "instruments": [{"id": f"T-{i + 1}", "kind": kind} for i, kind in enumerate(_INSTRUMENTS)
                        if "plain strings" in has or kind != "insulation tester"],
        "torque": _terminals(description, planned),
        "continuity": [{"array": array.facts["id"]} for array in description.parts["roof/arrays"] or ()]
                      or [{"place": "from the farthest frame to the service ground"}],
    }  # fmt: skip
    if "dc" not in has:
        fixed |= {"dc_before_switch_opened": None, "voltage_after_shutdown": None, "shutdown_time": None}
    if "production meter" not in has:
        fixed |= {"meter_direction": None, "meter_first_reading": None}
    if "backup" not in has:
        fixed["backup_test"] = None
    nominal = copy.deepcopy(fixed) | {
        "line_to_line": volts, "line_1_to_neutral": to_neutral, "line_2_to_neutral": to_neutral, "frequency": 60,
        "stops_within": 0.1, "reconnects_after": 3600, "tester": "?", "weather": "clear",
        "inspected_on": "2026-01-01", "tested_on": "2026-01-01", "energized_on": "2026-01-01",
        "locked_open_for_tests": True, "labels_and_grounding_checked": True,
    }  # fmt: skip
    nominal = {key: None if value is ABSENT else value for key, value in nominal.items()} | {"tester": "planned"}
    nominal["reporting_count"] = _units(description)
    if "dc" in has:
        nominal |= {"voltage_after_shutdown": 0, "shutdown_time": 1, "dc_before_switch_opened": 0}
    for row, part in zip(nominal["strings"], description.parts["strings"] or (), strict=True):
        row |= _in_order(part)
    for row, part in zip(nominal["inverters"], description.parts["inverters"] or (), strict=False):
        row |= {key: part.facts.get("ac_voltage", volts) for key in ("voltage_before_start", "voltage_at_full_output")}
    for row, part in zip(nominal["planes"], _planes(description), strict=True):
        row |= {"modules": _modules_on(description, part)}
        row |= {key: part.facts[key] for key in ("azimuth", "rise_in_12") if key in part.facts}
    for row in nominal["instruments"]:
        row["calibrated_on"] = "2026-01-01"
    for row in nominal["continuity"]:
        row["resistance"] = 0.01
    for row in nominal["torque"]:
        row |= {done: row[asks] for asks, done, _ in MAKER if row.get(asks) is not None}
    return fixed, {key: value for key, value in nominal.items() if value is not None or key in fixed}


def _string(part: Part, has: set[str]) -> dict[str, Any]:
    """What can't be read of a string: other tests on strings of converters, and the other current on plain ones."""
    row: dict[str, Any] = {"string": part.facts.get("id")}
    if "converters" in has:
        return row | dict.fromkeys(("open_circuit_voltage", "short_circuit_current", "operating_current", "irradiance",
                                    "cell_temperature"))  # fmt: skip
    return row | {"operating_current": None}


def _in_order(part: Part) -> dict[str, Any]:
    """Readings of a string that are as they should be."""
    def fact(target: Any, path: str) -> float | None:
        value = target.facts.get(path) if target is not None else None
        return value if isinstance(value, int | float) else None

    module, electronics = part.links.get("module"), part.links.get("electronics")
    count, units, each = fact(part, "modules_in_series"), fact(part, "units"), fact(electronics, "safety_voltage")
    out: dict[str, Any] = {"insulation_resistance": 500, "insulation_test_voltage": 1000,
                           "insulation_method": "insulation tester"}  # fmt: skip
    if electronics is not None and electronics.facts.get("kind") == "dc-to-dc converter":
        out = {"insulation_resistance": 500, "insulation_method": "inverter's own measurement"}
        return out | ({"safety_voltage": units * each} if units and each is not None else {})
    voc, isc = fact(module, "voc"), fact(module, "isc")
    if count and voc:
        out |= {"open_circuit_voltage": count * voc, "cell_temperature": 25}
    return out | ({"short_circuit_current": isc, "irradiance": 1000} if isc else {})


def _planes(description: Description) -> Sequence[Part]:
    """The planes that carry modules, by the arrays on them, else by the strings."""
    used = {a.links.get("plane") for a in description.parts["roof/arrays"] or ()}
    used |= {s.links.get("plane") for s in description.parts["strings"] or ()}
    return [p for p in description.parts["roof/planes"] or () if p in used and "id" in p.facts]


def _modules_on(description: Description, plane: Part) -> float | None:
    counts = [a.facts.get("modules") for a in description.parts["roof/arrays"] or () if a.links.get("plane") is plane]
    numbers = [c for c in counts if isinstance(c, int | float)]
    return sum(numbers) if numbers and len(numbers) == len(counts) else None


def _units(description: Description) -> float | None:
    units = [e for e in description.parts["module_electronics"] or () if e.facts.get("kind") != "shutdown device"]
    counts = [e.facts.get("quantity") for e in units]
    if counts:
        numbers = [c for c in counts if isinstance(c, int | float)]
        return sum(numbers) if len(numbers) == len(counts) else None
    return len(description.parts["strings"] or ()) or None


MAKER = (("specified", "applied", "torque"), ("strip_specified", "stripped", "strip_length"),
          ("pull_specified", "pulled", "pull_test"))  # fmt: skip
"""What a maker asks of a terminal and what was done, as a torque record has them, and as the terminal type has it."""


def _terminals(description: Description, planned: Any) -> list[dict[str, Any]]:
    """Every terminal that is named, with what the maker of its type asks; those of no known type are torqued.

    Where no terminal has a type that is known, those that a plan of the record names are taken, and no others.
    """
    asked: dict[str, dict[str, Any]] = {}
    typed = False
    for part in description.parts["circuits/terminals"] or ():
        place, model, circuit = part.facts.get("place"), part.facts.get("model"), part.links[".."].label
        named = isinstance(place, str)
        if part.model:
            typed, said = True, _asked(part)
            alike = named and asked.get(str(place), said) == said
            asked[str(place) if alike else f"{sentence(circuit)}, {place if named else model}"] = said
        elif named:
            asked.setdefault(f"{sentence(circuit)}, {place}", _UNTYPED)
    if not typed:
        rows = planned.get("torque") if isinstance(planned, dict) else None
        rows = rows.get("all", rows.get("only", [])) if isinstance(rows, dict) else rows
        of_plan = {row["point"]: _untyped(row)
                   for row in rows or () if isinstance(row, dict) and isinstance(row.get("point"), str)}  # fmt: skip
        asked = of_plan or asked or {"every terminal touched": _UNTYPED}
    return [{"point": key, **row} for key, row in asked.items()]


_UNTYPED: dict[str, Any] = {"tool": "T-3"} | dict.fromkeys(("strip_specified", "stripped", "pull_specified", "pulled"))


def _untyped(row: Mapping[str, Any]) -> dict[str, Any]:
    """A terminal of no known type, as a plan of the record has it; one without a screw takes no tool."""
    said = {key: row[key] for key in ("specified",) if key in row}
    asked = {key: value for key, value in _UNTYPED.items() if key != "tool" or said.get("specified", 0) is not None}
    return {**asked, **said}


def _asked(terminal: Part) -> dict[str, Any]:
    """What the maker of a terminal asks, as a torque record says it; what is not asked can't be done either."""
    out: dict[str, Any] = {}
    for asks, done, fact in MAKER:
        value = terminal.facts.get(fact)
        if value is ABSENT or (value is None and fact != "torque"):
            out |= {asks: None, done: None}
        elif value is not None:
            out[asks] = value
    return out if out.get("specified", 0) is None else {"tool": "T-3", **out}


def readings_of(plain: Mapping[str, Any]) -> dict[str, Any]:
    return {"readings": written({"readings": dict(plain)})["readings"]}
