"""The rules of the packs electrical, communications and commissioning at the 2020 edition, written by hand.

The yardstick of the speed benchmark: what a programmer would write who had no rules-as-data, only these rules. Plain
functions over the parsed JSON of one house, standard library only, nothing of the package that it is held against.
It answers for houses of which everything a rule needs is said; for others it stops with a ``KeyError`` or the like.
``test_yardstick.py`` holds its findings to those of the program, word for word.
"""

from __future__ import annotations

import csv
import math
import re
from bisect import bisect_left, bisect_right
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

Part = dict[str, Any]
Figures = dict[str, tuple[Any, str]]

# --- tables, read once ---------------------------------------------------------------------------------------

TABLES = Path(__file__).parents[2] / "rulepacks" / "electrical"


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a table; cells that say "not permitted" are left out."""
    with (TABLES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return [{k: v for k, v in row.items() if v != "not permitted"} for row in csv.DictReader(file)]


AMPACITY: dict[tuple[str, str, float], float] = {
    (row["size"], metal, temperature): float(row[f"{metal} {temperature}"])
    for row in rows("conductor_ampacity")
    for metal in ("copper", "aluminum")
    for temperature in (60, 75, 90)
    if f"{metal} {temperature}" in row
}
AMPACITY_SIZES = [row["size"] for row in rows("conductor_ampacity")]
AREA = {row["size"]: float(row["circular mils"]) for row in rows("conductor_properties")}
RESISTANCE = {
    (row["size"], metal): float(row[metal]) for row in rows("conductor_properties") for metal in ("copper", "aluminum")
}
INSULATION: dict[tuple[str, str], float] = {
    (row["type"], what): float(row[what])
    for row in rows("insulation")
    for what in ("dry", "wet", "limit")
    if what in row
}
SMALL_CONDUCTOR = {
    (row["size"], metal): float(row[metal])
    for row in rows("small_conductor")
    for metal in ("copper", "aluminum")
    if metal in row
}
AMBIENTS = [float(row["up_to"]) for row in rows("ambient_correction")]
AMBIENT_CORRECTION = {
    (float(row["up_to"]), rating): float(row[str(rating)])
    for row in rows("ambient_correction")
    for rating in (60, 75, 90)
    if str(rating) in row
}
COLD = sorted((float(row["down_to"]), float(row["factor"])) for row in rows("cold_voltage_factor"))
COLD_TEMPERATURES = [temperature for temperature, _ in COLD]
COUNTS = [float(row["at_least"]) for row in rows("conductor_count_adjustment")]
COUNT_PERCENT = [float(row["percent"]) for row in rows("conductor_count_adjustment")]
GROUND_DEVICES = [float(row["device_at_most"]) for row in rows("equipment_ground")]
GROUND_SIZES = {m: [row[m] for row in rows("equipment_ground")] for m in ("copper", "aluminum")}
STANDARD_RATINGS = [float(row["rating"]) for row in rows("standard_rating_2017")]
STANDARD_FUSES = [float(row["rating"]) for row in rows("standard_fuse_rating")]
SHUTDOWN_SCOPE = {row["place"]: (row["circuits"], row["array"]) for row in rows("shutdown_scope_2017")}
SPACE_VOLTS = [float(row["volts_to_ground_at_most"]) for row in rows("working_space_depth")]
SPACE_DEPTHS = {c: [float(row[str(c)]) for row in rows("working_space_depth")] for c in (1, 2, 3)}


def at_or_above(keys: list[float], value: float) -> int:
    """The number of the first row whose key is at or above a value."""
    at = bisect_left(keys, value)
    return at - 1 if at and same(keys[at - 1], value) else at


def at_or_below(keys: list[float], value: float) -> int:
    """The number of the last row whose key is at or below a value."""
    at = bisect_right(keys, value)
    at = at + 1 if at < len(keys) and same(keys[at], value) else at
    if not at:
        raise KeyError(value)
    return at - 1


def size_for_ampacity(needed: float, metal: str, temperature: float) -> str:
    """The smallest size that carries a current."""
    return next(s for s in AMPACITY_SIZES if at_least(AMPACITY.get((s, metal, temperature), 0.0), needed))


def size_for_area(needed: float) -> str:
    """The smallest size with an area."""
    return next(size for size, area in AREA.items() if at_least(area, needed))


def ground_size(device: float, metal: str) -> str:
    """The size of equipment ground for an overcurrent device."""
    return GROUND_SIZES[metal][at_or_above(GROUND_DEVICES, device)]


def standard_rating(needed: float, kind: str) -> float:
    """The next standard rating of a breaker or fuse."""
    ratings = STANDARD_FUSES if kind == "fuse" else STANDARD_RATINGS
    return ratings[at_or_above(ratings, needed)]


# --- numbers and words ---------------------------------------------------------------------------------------


def same(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=1e-9)


def at_most(a: float, b: float) -> bool:
    return a <= b or math.isclose(a, b, rel_tol=1e-9)


def at_least(a: float, b: float) -> bool:
    return a >= b or math.isclose(a, b, rel_tol=1e-9)


def below(a: float, b: float) -> bool:
    return a < b and not math.isclose(a, b, rel_tol=1e-9)


def coarse(value: float) -> str:
    """A number in five figures."""
    text = f"{value:.5g}"
    return text if "e" not in text else longhand(value, 5)


def fine(value: float) -> str:
    """A number in twelve figures."""
    text = f"{value:.12g}"
    return text if "e" not in text else longhand(value, 12)


def longhand(value: float, figures: int) -> str:
    """A number that is too large or too small for plain ``g``, without powers of ten."""
    places = figures - 1 - math.floor(math.log10(abs(value)))
    text = f"{round(value, places):.{max(places, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def near(a: float, b: float) -> bool:
    return a != b and abs(a - b) < 1e-3 * max(abs(a), abs(b))


def writer(a: float, b: float) -> Any:
    """How to write two figures that are compared: finely where they would look alike."""
    return fine if near(a, b) else coarse


def listing(values: list[float], unit: str = "", write: Any = coarse) -> str:
    """Several numbers in words."""
    return texts([write(value) for value in values]) + (unit if values else "")


def texts(values: list[str]) -> str:
    """Several texts in words."""
    if not values:
        return "none"
    more = f" and {len(values) - 10} more" if len(values) > 10 else ""
    return ", ".join(values[:10]) + more


def yes(flag: Any) -> str:
    return "yes" if flag else "no"


def wordy(flag: Any) -> str:
    """A flag of the description in words; it may say that there is none."""
    return "none" if flag is None else "yes" if flag else "no"


# --- the house: quantities in one unit, ids resolved, and what is reckoned once for each part ------------------

UNITS = {
    "design_low": "degC", "design_high": "degC", "ambient": "degC", "terminal_temperature": "degC",
    "power_coefficient": "%/degC",
    "max_power": "W", "max_input_power": "W", "max_string_power": "W", "min_string_power": "W",
    "voc": "V", "vmp": "V", "max_system_voltage": "V", "max_input_voltage": "V", "max_output_voltage": "V",
    "string_max_voltage": "V", "max_dc_voltage": "V", "mppt_min_voltage": "V", "voltage": "V",
    "voltage_to_neutral": "V", "dc_voltage": "V", "rated_voltage": "V", "volts_to_ground": "V",
    "outside_voltage": "V", "inside_voltage": "V", "safety_voltage": "V", "line_to_line": "V",
    "line_1_to_neutral": "V", "line_2_to_neutral": "V", "dc_before_switch_opened": "V",
    "voltage_after_shutdown": "V",
    "isc": "A", "imp": "A", "max_series_fuse": "A", "max_input_current": "A", "rated_output_current": "A",
    "ac_output_current": "A", "max_branch_overcurrent": "A", "max_ac_current": "A", "max_ac_overcurrent": "A",
    "max_current": "A", "max_short_circuit_current": "A", "string_fuse": "A", "declared_current": "A",
    "rating": "A", "rated_current": "A",
    "length": "ft", "boundary_distance": "ft", "entry_distance": "ft", "distance_to_grounded_metal": "ft",
    "distance_to_equipment": "ft", "remote_control_distance": "ft",
    "roof_clearance": "in", "handle_height": "in", "depth": "in", "width": "in", "height": "in",
    "equipment_width": "in", "equipment_top": "in", "separation_from_power": "in",
    "outside_time": "s", "inside_time": "s", "shutdown_time": "s",
}  # fmt: skip
SIZES = {
    "in": 1.0, "ft": 12.0, "mm": 1 / 25.4, "cm": 1 / 2.54, "m": 1 / 0.0254, "V": 1.0, "kV": 1000.0, "A": 1.0,
    "mA": 0.001, "kA": 1000.0, "W": 1.0, "kW": 1000.0, "s": 1.0, "min": 60.0, "%/degC": 1.0, "V/degC": 1.0,
    "mV/degC": 0.001,
}  # fmt: skip
QUANTITY = re.compile(r"(-?)((?:\d+[- ])?\d+/\d+|\d+(?:\.\d*)?)\s*([^\s\d]\S*)?")


def number(text: str, unit: str) -> float:
    """A quantity written as text, such as "5 ft 2 in", "7/8 in" or "-8 degF", in a unit."""
    total, sign = 0.0, 1.0
    for i, (minus, digits, given) in enumerate(QUANTITY.findall(text)):
        if not i and minus:
            sign = -1.0
        whole, _, fraction = digits.replace("-", " ").rpartition(" ")
        value = float(whole or 0)
        if "/" in fraction:
            top, bottom = fraction.split("/")
            value += int(top) / int(bottom)
        else:
            value += float(fraction)
        if given == "degF":
            return (sign * value - 32) / 1.8
        total += value if given in ("", "degC") else value * SIZES[given]
    return sign * total if unit == "degC" else sign * total / SIZES[unit]


def in_units(group: Part) -> Part:
    """A copy of an object of the description, its quantities as numbers in the unit of their field."""
    out: Part = {}
    for key, value in group.items():
        if isinstance(value, str):
            out[key] = number(value, UNITS[key]) if key in UNITS else value
        else:
            out[key] = in_units(value) if isinstance(value, dict) else value
    return out


class Reckoned(NamedTuple):
    """A value that was reckoned, and how: each line with the part it is about."""

    value: float
    lines: list[tuple[Part, str]]


def told(part: Part, *values: Reckoned) -> list[str]:
    """How values were reckoned, as told at a part, no line twice."""
    tail = f" of {part['label']}"
    lines = {
        text if owner is part else f"{owner['label'].removesuffix(tail)}: {text}": None
        for value in values
        for owner, text in value.lines
    }
    return list(lines)


MANY = 4
"""The arithmetic of more parts than this is not written out."""


def lines_of(values: list[Reckoned]) -> list[tuple[Part, str]]:
    return [line for value in values for line in value.lines] if len(values) <= MANY else []


DC_KINDS = ("pv source", "converter output")
AC_KINDS = ("microinverter branch", "inverter output", "combined output")
TEST_TEMPERATURE = 25.0
NO_READINGS: Part = {
    "strings": [],
    **dict.fromkeys((
        "line_to_line", "line_1_to_neutral", "line_2_to_neutral", "dc_before_switch_opened", "reporting_count",
        "voltage_after_shutdown", "shutdown_time",
    )),
}  # fmt: skip
"""What the readings of a house say before any were taken."""


class House:
    """A house: the parts rules ask about, each a dict with its pointer, its label and what was reckoned for it.

    Making one converts the quantities and resolves the ids; :meth:`reckon` adds what the rules share.
    """

    def __init__(self, document: Part) -> None:
        self.ids: dict[str, Part] = {}
        self.whole: Part = {"about": "", "label": "the system", "Label": "The system"}
        self.site = in_units(document["site"])
        self.service = in_units(document["service"])
        self.shutdown = in_units(document["rapid_shutdown"])
        readings = document["readings"]
        self.readings = in_units(NO_READINGS if readings is None else readings)
        self.dwelling_type: str = document["project"]["dwelling_type"]
        self.modules = self.parts(document["modules"], "/modules", "module")
        self.electronics = self.parts(
            document["module_electronics"], "/module_electronics", "module-level electronics model"
        )
        self.inverters = self.parts(document["inverters"], "/inverters", "inverter")
        self.inputs: list[Part] = []
        self.strings = self.parts(document["strings"], "/strings", "string")
        self.circuits = self.parts(document["circuits"], "/circuits", "circuit")
        self.segments: list[Part] = []
        self.disconnects = self.parts(document["disconnects"], "/disconnects", "disconnect")
        self.working_spaces = self.parts(document["working_spaces"], "/working_spaces", "working space")
        self.initiators = self.parts(
            document["rapid_shutdown"]["initiators"], "/rapid_shutdown/initiators", "initiation device"
        )
        self.communications = self.parts(document["communications"], "/communications", "communication run")
        self.string_readings = self.parts(self.readings["strings"], "/readings/strings", "string reading")
        self.resolve()

    def parts(self, given: list[Part], place: str, title: str, owner: str = "") -> list[Part]:
        """The parts of one list, named and counted."""
        out = []
        for i, one in enumerate(given):
            part = in_units(one)
            part["about"] = f"{place}/{i}"
            if "id" in part:
                part["label"] = f"{title} {part['id']}"
                self.ids[part["id"]] = part
            else:
                part["label"] = f"{title} {i + 1}{owner}"
            part["Label"] = part["label"][0].upper() + part["label"][1:]
            out.append(part)
        return out

    def resolve(self) -> None:
        """Puts parts in the place of their ids."""
        ids = self.ids
        for inverter in self.inverters:
            inverter["inputs"] = self.parts(inverter["inputs"], f"{inverter['about']}/inputs", "dc input")
            for one in inverter["inputs"]:
                one["inverter"], one["strings"] = inverter, []
            self.inputs += inverter["inputs"]
        for unit in self.electronics:
            unit["module"] = ids[unit["module"]]
        for string in self.strings:
            string["module"], string["input"] = ids[string["module"]], ids[string["input"]]
            name = string["electronics"]
            string["electronics"] = ids[name] if name else None
            string["converters"] = bool(name) and ids[name]["kind"] == "dc-to-dc converter"
            string["input"]["strings"].append(string)
        for circuit in self.circuits:
            for key in ("strings", "inverters", "branches"):
                circuit[key] = [ids[name] for name in circuit.get(key) or ()]
            if circuit.get("electronics"):
                circuit["electronics"] = ids[circuit["electronics"]]
            circuit["segments"] = self.parts(
                circuit["segments"], f"{circuit['about']}/segments", "segment", f" of {circuit['label']}"
            )
            self.segments += circuit["segments"]
        for disconnect in self.disconnects:
            disconnect["circuit"] = ids[disconnect["circuit"]]
        for reading in self.string_readings:
            reading["string"] = ids[reading["string"]]

    def reckon(self) -> None:
        """What several rules need, once for each part."""
        for module in self.modules:
            self.reckon_module(module)
        for string in self.strings:
            self.reckon_string(string)
        for circuit in self.circuits:
            if circuit["kind"] == "microinverter branch":
                circuit["branch_current"] = branch_current(circuit)
        for circuit in self.circuits:
            self.reckon_circuit(circuit)
        place = self.shutdown["array_place"]
        circuits, array = SHUTDOWN_SCOPE[place]
        table = f"690.12 and its Exception (place {place}; "
        self.controlled = circuits == "controlled"
        self.shut_down = self.controlled and self.shutdown["provided"] is True
        self.array_shut_down = array == "on a building" and self.shutdown["provided"] is True
        self.scope = Reckoned(0, [(self.whole, f"circuits are = {table}circuits) = {circuits}")])
        self.array_scope = Reckoned(0, [(self.whole, f"array is = {table}array) = {array}")])

    def reckon_module(self, module: Part) -> None:
        given = module["voc_coefficient"]
        share, volts = given, None
        if isinstance(given, str):
            in_volts = "V/" in given
            share = None if in_volts else number(given, "%/degC")
            volts = number(given, "V/degC") if in_volts else None
        module["cold_voltage"] = cold_voltage(module, share, volts, self.site["design_low"])
        module["coefficient_share"] = coefficient_share(module, share, volts)
        module["hot_voltage"] = hot_voltage(module, self.site["design_high"])

    def reckon_string(self, string: Part) -> None:
        string["max_voltage"] = max_voltage(string)
        string["source_current"] = source_current(string)
        string["operating_current"] = operating_current(string)
        string["power"] = string_power(string)

    def reckon_circuit(self, circuit: Part) -> None:
        circuit["max_current"] = max_current(circuit)
        circuit["working_current"] = working_current(circuit)
        if circuit["kind"] in DC_KINDS and circuit["strings"]:
            circuit["dc_voltage"] = dc_voltage(circuit)
        for segment in circuit["segments"]:
            segment["temperature"] = conductor_temperature(segment, circuit)
            segment["limit"] = conductor_limit(segment, circuit)
            segment["ampacity"] = segment_ampacity(segment, circuit)
        circuit["terminal_limit"] = terminal_limit(circuit)
        circuit["terminal_ampacity"] = terminal_ampacity(circuit)
        circuit["corrected_ampacity"] = corrected_ampacity(circuit)


def cold_voltage(module: Part, share: float | None, volts: float | None, low: float) -> Reckoned:
    """Open-circuit voltage of one module at the lowest expected temperature."""
    voc = module["voc"]
    if share is not None:
        value = voc * (1 + share * (low - TEST_TEMPERATURE) / 100)
        lines = [
            f"cold voltage = open circuit voltage {coarse(voc)} V × (1 + coefficient {coarse(share)} %/°C × "
            f"(low temperature {coarse(low)} °C − test temperature 25 °C)) = {coarse(value)} V"
        ]
    elif volts is not None:
        value = voc + volts * (low - TEST_TEMPERATURE)
        lines = [
            f"cold voltage = open circuit voltage {coarse(voc)} V + coefficient in volts {coarse(volts)} V/°C × "
            f"(low temperature {coarse(low)} °C − test temperature 25 °C) = {coarse(value)} V"
        ]
    else:
        if module["cell_technology"] != "crystalline silicon":
            raise KeyError("voc_coefficient")
        factor = COLD[at_or_below(COLD_TEMPERATURES, low)][1]
        value = voc * factor
        lines = [
            f"cold factor = Table 690.7(A) (low temperature {coarse(low)} °C) = {coarse(factor)}",
            "the maker gives no coefficient, so the table is used",
            f"cold voltage = open circuit voltage {coarse(voc)} V × cold factor {coarse(factor)} = {coarse(value)} V",
        ]
    return Reckoned(value, [(module, line) for line in lines])


def coefficient_share(module: Part, share: float | None, volts: float | None) -> Reckoned | None:
    """Temperature coefficient of open-circuit voltage as a share of the voltage."""
    if share is not None:
        return Reckoned(share, [(module, f"coefficient share = {coarse(share)} %/°C")])
    if volts is None:
        return None
    voc = module["voc"]
    value = volts / voc * 100
    line = (
        f"coefficient share = coefficient in volts {coarse(volts)} V/°C ÷ open circuit voltage {coarse(voc)} V = "
        f"{coarse(value)} %/°C"
    )
    return Reckoned(value, [(module, line)])


def hot_voltage(module: Part, high: float) -> Reckoned:
    """Maximum-power voltage of one module on a hot day."""
    vmp, coefficient = module["vmp"], module["power_coefficient"]
    cell = high + 35.0
    value = vmp * (1 + coefficient * (cell - TEST_TEMPERATURE) / 100)
    hot = coarse(cell)
    return Reckoned(value, [
        (module, f"hot cell temperature = high temperature {coarse(high)} °C + cell temperature rise 35 °C = {hot} °C"),
        (module, f"hot voltage = maximum power voltage {coarse(vmp)} V × (1 + power coefficient {coarse(coefficient)} "
                 f"%/°C × (hot cell temperature {hot} °C − test temperature 25 °C)) = {coarse(value)} V"),
    ])  # fmt: skip


def max_voltage(string: Part) -> Reckoned:
    """Maximum voltage of the string."""
    if not string["converters"]:
        modules, cold = string["modules_in_series"], string["module"]["cold_voltage"]
        value = modules * cold.value
        line = (
            f"max voltage = modules {coarse(modules)} × module cold voltage {coarse(cold.value)} V = {coarse(value)} V"
        )
        return Reckoned(value, [*cold.lines, (string, line)])
    unit = string["electronics"]
    stated = unit["string_max_voltage"]
    if stated is not None:
        return Reckoned(stated, [
            (string, "the maker's instructions state the maximum of the string"),
            (string, f"max voltage = {coarse(stated)} V"),
        ])  # fmt: skip
    units, output = string["units"], unit["max_output_voltage"]
    value = units * output
    return Reckoned(value, [
        (string, "the maker's instructions state none, so the rated outputs are added up"),
        (string, f"max voltage = converters {coarse(units)} × output maximum {coarse(output)} V = {coarse(value)} V"),
    ])  # fmt: skip


def source_current(string: Part) -> Reckoned:
    """Maximum current of the string."""
    if string["converters"]:
        value = string["electronics"]["rated_output_current"]
        return Reckoned(value, [(string, f"source current = {coarse(value)} A")])
    isc = string["module"]["isc"]
    value = 1.25 * isc
    line = f"source current = source current factor 1.25 × short circuit current {coarse(isc)} A = {coarse(value)} A"
    return Reckoned(value, [(string, line)])


def operating_current(string: Part) -> Reckoned:
    """Current of the string at its operating point."""
    unit, module = string["electronics"], string["module"]
    value = unit["rated_output_current"] if string["converters"] else module["imp"]
    return Reckoned(value, [(string, f"operating current = {coarse(value)} A")])


def string_power(string: Part) -> Reckoned:
    """Module power of the string at standard test conditions."""
    modules, power = string["modules_in_series"], string["module"]["max_power"]
    value = modules * power
    line = f"modules of string power = modules {coarse(modules)} × module power {coarse(power)} W = {coarse(value)} W"
    return Reckoned(value, [(string, line)])


def branch_current(circuit: Part) -> Reckoned:
    """Rated output current of the microinverters of a branch."""
    units, each = circuit["units"], circuit["electronics"]["ac_output_current"]
    value = units * each
    line = f"branch current = microinverters {coarse(units)} × output of each {coarse(each)} A = {coarse(value)} A"
    return Reckoned(value, [(circuit, line)])


def max_current(circuit: Part) -> Reckoned:
    """Maximum current of the circuit."""
    kind = circuit["kind"]
    before: list[tuple[Part, str]] = []
    if kind in DC_KINDS:
        sources = [string["source_current"] for string in circuit["strings"]]
        currents = [source.value for source in sources]
        value = sum(currents)
        before = lines_of(sources)
        how = f"the sum of (string currents {listing(currents, ' A')}) = "
    elif kind == "microinverter branch":
        value, before = circuit["branch_current"]
        how = ""
    elif kind in ("inverter output", "combined output"):
        currents = [inverter["max_ac_current"] for inverter in circuit["inverters"]]
        value = sum(currents)
        how = f"the sum of (inverter currents {listing(currents, ' A')})"
        if kind == "combined output":
            branches = [branch["branch_current"] for branch in circuit["branches"]]
            currents = [branch.value for branch in branches]
            value += sum(currents)
            before = lines_of(branches)
            how += f" + the sum of (branch currents {listing(currents, ' A')})"
        how += " = "
    else:
        value = circuit["declared_current"]
        how = ""
    return Reckoned(value, [*before, (circuit, f"max current = {how}{coarse(value)} A")])


def working_current(circuit: Part) -> Reckoned:
    """Current for the voltage drop, without the code's multipliers."""
    if circuit["kind"] in DC_KINDS:
        sources = [string["operating_current"] for string in circuit["strings"]]
        currents = [source.value for source in sources]
        value = sum(currents)
        line = f"working current = the sum of (string currents {listing(currents, ' A')}) = {coarse(value)} A"
        return Reckoned(value, [*lines_of(sources), (circuit, line)])
    value, before = circuit["max_current"]
    return Reckoned(value, [*before, (circuit, f"working current = {coarse(value)} A")])


def dc_voltage(circuit: Part) -> Reckoned:
    """Maximum voltage of a dc circuit."""
    sources = [string["max_voltage"] for string in circuit["strings"]]
    voltages = [source.value for source in sources]
    value = max(voltages)
    line = f"dc voltage = the largest of (string voltages {listing(voltages, ' V')}) = {coarse(value)} V"
    return Reckoned(value, [*lines_of(sources), (circuit, line)])


def conductor_temperature(segment: Part, circuit: Part) -> Reckoned:
    """Temperature rating of the conductor in this place."""
    insulation, place = circuit["conductor"]["insulation"], "wet" if segment["wet"] else "dry"
    value = INSULATION[insulation, place]
    line = f"conductor temperature = Table 310.4(A) (insulation {insulation}; {place}) = {coarse(value)} °C"
    return Reckoned(value, [(segment, line)])


def conductor_limit(segment: Part, circuit: Part) -> Reckoned:
    """Temperature up to which the conductor may be used in this place, whatever it is corrected from."""
    insulation, rating = circuit["conductor"]["insulation"], segment["temperature"]
    value = min(rating.value, INSULATION[insulation, "limit"])
    line = (
        f"conductor limit = the smaller of (rating {coarse(rating.value)} °C; Table 310.4(A) (insulation {insulation}; "
        f"limit)) = {coarse(value)} °C"
    )
    return Reckoned(value, [*rating.lines, (segment, line)])


def effective_ambient(segment: Part, insulation: str) -> Reckoned:
    """Ambient temperature with the rooftop addition where it applies."""
    ambient, clearance = segment["ambient"], segment["roof_clearance"]
    plain = (segment, f"effective ambient = {coarse(ambient)} °C")
    if segment["place"] != "rooftop" or clearance is None:
        return Reckoned(ambient, [plain])
    if insulation == "XHHW-2":
        excepted = f"{coarse(clearance)} in above the sunlit roof; nothing is added, {insulation} being excepted"
        return Reckoned(ambient, [(segment, excepted), plain])
    if below(clearance, 0.875):
        value = ambient + 33.0
        return Reckoned(value, [
            (segment, f"{coarse(clearance)} in above the sunlit roof is less than 0.875 in, so 33 °C is added"),
            (segment, f"effective ambient = ambient {coarse(ambient)} °C + rooftop adder 33 °C = {coarse(value)} °C"),
        ])  # fmt: skip
    enough = f"at {coarse(clearance)} in above the sunlit roof nothing is added"
    return Reckoned(ambient, [(segment, enough), plain])


def segment_ampacity(segment: Part, circuit: Part) -> Reckoned:
    """Ampacity in this segment after correction and adjustment."""
    conductor, rating = circuit["conductor"], segment["temperature"]
    size, metal, sets = conductor["size"], conductor["material"], conductor["parallel_sets"]
    ambient = effective_ambient(segment, conductor["insulation"])
    correction = AMBIENT_CORRECTION[AMBIENTS[at_or_above(AMBIENTS, ambient.value)], rating.value]
    count = segment["current_carrying_conductors"]
    percent = COUNT_PERCENT[at_or_below(COUNTS, count)]
    if percent >= 100 or (segment["wiring"] == "raceway" and at_most(segment["length"], 2.0)):
        percent = 100.0
        counted = "count factor = 100%"
    else:
        counted = f"count factor = Table 310.15(C)(1) (conductors {coarse(count)}) = {coarse(percent)}%"
    table = AMPACITY[size, metal, rating.value]
    value = table * sets * correction * percent / 100
    at, factor, amps = coarse(rating.value), coarse(correction), coarse(table)
    own = [
        f"ambient factor = Table 310.15(B)(1) (ambient {coarse(ambient.value)} °C; rating {at} °C) = {factor}",
        counted,
        f"table ampacity = Table 310.16 (size {size}; metal {metal}; rating {at} °C) = {amps} A",
        f"segment ampacity = table ampacity {amps} A × sets {coarse(sets)} × ambient factor {factor} × count factor "
        f"{coarse(percent)}% = {coarse(value)} A",
    ]
    return Reckoned(value, [*rating.lines, *ambient.lines, *((segment, line) for line in own)])


def terminal_limit(circuit: Part) -> Reckoned:
    """Temperature rating the terminals allow."""
    limits = [segment["limit"] for segment in circuit["segments"]]
    temperatures = [one.value for one in limits]
    marked, device = circuit["terminal_temperature"], circuit["overcurrent"]
    before: list[tuple[Part, str]] = []
    if marked is not None:
        limit, name = marked, f"marked {coarse(marked)} °C"
    else:
        current = circuit["max_current"]
        small = at_most(current.value if device is None else device["rating"], 100.0)
        before = current.lines if small else []
        limit = 60.0 if small else 75.0
        name = "terminal temperature small 60 °C" if small else "terminal temperature large 75 °C"
    value = min(limit, min(temperatures))
    line = (
        f"terminal limit = the smaller of ({name}; the least of (conductor temperatures "
        f"{listing(temperatures, ' °C')})) = {coarse(value)} °C"
    )
    return Reckoned(value, [*before, *lines_of(limits), (circuit, line)])


def terminal_ampacity(circuit: Part) -> Reckoned:
    """Ampacity in the column of the terminals."""
    conductor, column = circuit["conductor"], circuit["terminal_limit"]
    size, metal, sets = conductor["size"], conductor["material"], conductor["parallel_sets"]
    table = AMPACITY[size, metal, column.value]
    value = table * sets
    amps = coarse(table)
    return Reckoned(value, [
        *column.lines,
        (circuit, f"table ampacity = Table 310.16 (size {size}; metal {metal}; column {coarse(column.value)} °C) = "
                  f"{amps} A"),
        (circuit, f"terminal ampacity = table ampacity {amps} A × sets {coarse(sets)} = {coarse(value)} A"),
    ])  # fmt: skip


def corrected_ampacity(circuit: Part) -> Reckoned:
    """Ampacity of the circuit after correction: that of its worst segment, unless the worse stretches are short."""
    segments = [segment["ampacity"] for segment in circuit["segments"]]
    ampacities = [one.value for one in segments]
    worst, best = min(ampacities), max(ampacities)
    among = f"of (segment ampacities {listing(ampacities, ' A')})"
    if not same(worst, best):
        stretches = worse_stretches(circuit, Reckoned(best, [
            *lines_of(segments), (circuit, f"best segment ampacity = the largest {among} = {coarse(best)} A"),
        ]))  # fmt: skip
        lengths, length = [stretch.value for stretch in stretches], circuit["length"]
        if at_most(sum(lengths), min(10.0, 0.1 * length)):
            short = (
                f"the worse stretches, together {listing(lengths, ' ft')} of {coarse(length)} ft, are short enough for "
                f"the higher ampacity"
            )
            line = f"corrected ampacity = the largest {among} = {coarse(best)} A"
            before = [*lines_of(segments), *lines_of(stretches)]
            return Reckoned(best, [*before, (circuit, short), (circuit, line)])
    line = f"corrected ampacity = the least {among} = {coarse(worst)} A"
    return Reckoned(worst, [*lines_of(segments), (circuit, line)])


def worse_stretches(circuit: Part, best: Reckoned) -> list[Reckoned]:
    """The length of each segment whose ampacity is lower than that of the best one, and nothing for the others."""
    out = []
    for segment in circuit["segments"]:
        ampacity, feet = segment["ampacity"], coarse(segment["length"])
        worse = below(ampacity.value, best.value)
        how = f"{feet} ft" if worse else "0 × short stretch 10 ft = 0 ft"
        lines = [*ampacity.lines, *best.lines, (segment, f"worse length = {how}")]
        out.append(Reckoned(segment["length"] if worse else 0.0, lines))
    return out


# --- findings ------------------------------------------------------------------------------------------------

FAIL, WARN = "fail", "warn"


class Rule(NamedTuple):
    """What every finding of a rule says."""

    id: str
    title: str
    citations: tuple[str, ...]
    broken: str = FAIL


class Results:
    """The findings about a house, and the rules that do not apply to a part of it."""

    def __init__(self) -> None:
        self.findings: list[dict[str, Any]] = []
        self.asides: list[tuple[str, str]] = []

    def skip(self, rule: Rule, part: Part) -> None:
        self.asides.append((rule.id, part["about"]))

    def add(
        self, rule: Rule, part: Part, good: bool, note: str, worked: list[str], figures: Figures,
        margin: tuple[float, str] | None = None, remedy: str = "",
    ) -> None:  # fmt: skip
        self.findings.append({
            "rule": rule.id, "title": rule.title, "verdict": "pass" if good else rule.broken, "about": part["about"],
            "label": part["label"], "note": note, "citations": rule.citations, "figures": figures, "worked": worked,
            "margin": margin, "remedy": "" if good else remedy,
        })  # fmt: skip


Ask = Callable[[Rule, House, Results], None]
RULES: list[tuple[Rule, Ask]] = []


def rule(id: str, title: str, *citations: str, broken: str = FAIL) -> Callable[[Ask], Ask]:
    """Puts a function on the list of rules."""

    def note_down(ask: Ask) -> Ask:
        RULES.append((Rule(id, title, citations, broken), ask))
        return ask

    return note_down


# --- conductor ampacity --------------------------------------------------------------------------------------


@rule(
    "conductor-too-small-before-correction",
    "The conductor carries the continuous current at its terminals, before correction",
    "NEC 2020 690.8(B)(1)",
    "NEC 2020 110.14(C)(1)",
    "NEC 2020 215.2(A)(1) (feeders), from memory, unconfirmed",
)
def conductor_too_small_before_correction(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        conductor = circuit["conductor"]
        size, metal = conductor["size"], conductor["material"]
        current, column, ampacity = circuit["max_current"], circuit["terminal_limit"], circuit["terminal_ampacity"]
        device = circuit["overcurrent"]
        full = device is not None and device["continuous_rated"]
        needed = current.value if full else 1.25 * current.value
        smallest = size_for_ampacity(needed, metal, column.value)
        good = at_least(ampacity.value, needed)
        show = writer(ampacity.value, needed)
        amps, limit, has, asks = show(current.value), show(column.value), show(ampacity.value), show(needed)
        worked = told(circuit, current, ampacity)
        worked += [
            f"needed ampacity = {'' if full else 'conductor factor 1.25 × '}maximum current {amps} A = {asks} A",
            f"smallest size = Table 310.16 (needed ampacity {asks} A; metal {metal}; column {limit} °C) = {smallest}",
            f"in full: ampacity {has} A ≥ needed ampacity {asks} A: {yes(good)}",
        ]
        note = f"The {size} {metal} of {circuit['label']} carries {has} A at terminals for {limit} °C; "
        note += f"{asks} A is needed" if good else f"the maximum current of {amps} A needs {asks} A"
        figures = {
            "maximum current": (current.value, "A"),
            "column": (column.value, "degC"),
            "ampacity": (ampacity.value, "A"),
            "conductor factor": (1.25, ""),
            "needed ampacity": (needed, "A"),
            "smallest size": (smallest, ""),
        }
        remedy = f"Use {smallest} {metal} or larger, and one that its overcurrent device may protect."
        margin = (ampacity.value - needed, "A")
        out.add(rule, circuit, good, f"{note} before correction.", worked, figures, margin, remedy)


@rule(
    "conductor-too-small-after-correction",
    "The conductor carries the maximum current after correction and adjustment",
    "NEC 2020 690.8(B)(2)",
    "NEC 2020 310.15(B) and 310.15(C)",
)
def conductor_too_small_after_correction(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        conductor = circuit["conductor"]
        current, corrected = circuit["max_current"], circuit["corrected_ampacity"]
        ampacities = [segment["ampacity"].value for segment in circuit["segments"]]
        places = [segment["place"] for segment in circuit["segments"]]
        worst = places[ampacities.index(min(ampacities))]
        good = at_least(corrected.value, current.value)
        show = writer(corrected.value, current.value)
        amps, has = show(current.value), show(corrected.value)
        worked = told(circuit, current, corrected)
        worked += [
            f"worst place = the one with the least of (segment ampacities {listing(ampacities, ' A', show)}; "
            f"places {texts(places)}) = {worst}",
            f"corrected ampacity {has} A ≥ maximum current {amps} A: {yes(good)}",
        ]
        note = (
            f"The {conductor['size']} {conductor['material']} of {circuit['label']} carries {has} A after "
            f"correction (worst place: {worst}); its current is {amps} A{' at most' if good else ''}."
        )
        figures = {
            "maximum current": (current.value, "A"),
            "corrected ampacity": (corrected.value, "A"),
            "worst place": (worst, ""),
        }
        remedy = f"Use larger conductors, or raise, shade, shorten or thin out the {worst} stretch."
        out.add(rule, circuit, good, note, worked, figures, (corrected.value - current.value, "A"), remedy)


@rule(
    "insulation-not-for-wet-place",
    "Conductors in wet places have insulation rated for them",
    "NEC 2020 310.10(C)",
)
def insulation_not_for_wet_place(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        insulation = circuit["conductor"]["insulation"]
        for segment in circuit["segments"]:
            if not segment["wet"]:
                out.skip(rule, segment)
                continue
            rating = INSULATION[insulation, "wet"]
            good = rating > 0
            said = coarse(rating)
            worked = [
                f"wet rating = Table 310.4(A) (insulation {insulation}; wet) = {said} °C",
                f"wet rating {said} °C > 0: {yes(good)}",
            ]
            note = f"{insulation} in {segment['label']} is rated {said} °C in wet places."
            out.add(rule, segment, good, note, worked, {"wet rating": (rating, "degC")})


@rule(
    "parallel-conductors-too-small",
    "Conductors run in parallel are large enough for it",
    "NEC 2020 310.10(G)(1)",
)
def parallel_conductors_too_small(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        size, sets = circuit["conductor"]["size"], circuit["conductor"]["parallel_sets"]
        if at_most(sets, 1):
            out.skip(rule, circuit)
            continue
        area = AREA[size]
        good = at_least(area, 105600)
        show = writer(area, 105600)
        many, has = show(sets), show(area)
        worked = [
            f"area = Chapter 9 Table 8 (size {size}; circular mils) = {has} circular mils",
            f"area {has} circular mils ≥ least parallel area 105600 circular mils: {yes(good)}",
        ]
        if good:
            note = f"The {many} conductors of {size} in parallel in {circuit['label']} are large enough for it."
        else:
            note = (
                f"{circuit['Label']} has {many} conductors of {size} in parallel; conductors in parallel have at "
                f"least 105600 circular mils, and these have {has} circular mils."
            )
        figures = {
            "sets": (sets, ""),
            "least parallel area": (105600.0, "cmil"),
            "area": (area, "cmil"),
        }
        remedy = "Use one larger conductor per pole, or conductors of at least 105600 circular mils."
        out.add(rule, circuit, good, note, worked, figures, (area - 105600, "cmil"), remedy)


@rule(
    "equipment-ground-missing",
    "An equipment grounding conductor runs with every circuit",
    "NEC 2020 690.43(C) and 250.134",
)
def equipment_ground_missing(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        label = circuit["label"]
        wire, other = "wire: equipment ground is given", "other than a wire: other ground is given"
        good = True
        if circuit["equipment_ground"] is not None:
            note = f"An equipment grounding conductor runs with {label}."
            worked = [f"{wire}: yes"]
        elif circuit["ground_by"] is not None:
            note = f"Instead of a wire, {label} has: {circuit['ground_by']}."
            worked = [f"{other}: yes"]
        else:
            good = False
            note = f"No equipment grounding conductor is shown with {label}, nor anything that takes its place."
            worked = [f"{wire}: no", f"{other}: no"]
        remedy = f"Show the equipment grounding conductor of {label} and its size, or what grounds its equipment."
        out.add(rule, circuit, good, note, worked, {}, None, remedy)


def device_counted(circuit: Part) -> tuple[float, str, Figures]:
    """The device an equipment ground is sized by, how that was found, and its figures."""
    current, device = circuit["max_current"].value, circuit["overcurrent"]
    figures = {"maximum current": (current, "A"), "assumed device factor": (1.25, "")}
    if device is None:
        counted = 1.25 * current
        return counted, f"assumed device factor 1.25 × maximum current {coarse(current)} A", figures
    figures["device rating"] = (device["rating"], "A")
    return device["rating"], f"device rating {coarse(device['rating'])} A", figures


@rule(
    "equipment-ground-too-small",
    "The equipment grounding conductor is as large as its overcurrent device asks",
    "NEC 2020 Table 250.122 and 250.122(A)",
    "NEC 2020 690.45",
)
def equipment_ground_too_small(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        ground = circuit["equipment_ground"]
        if ground is None:
            out.skip(rule, circuit)
            continue
        size, metal, own_size = ground["size"], ground["material"], circuit["conductor"]["size"]
        counted, how, figures = device_counted(circuit)
        device_size = ground_size(counted, metal)
        area, own_area = AREA[size], AREA[own_size]
        needed = min(AREA[device_size], own_area)
        as_circuit = at_most(own_area, needed)
        needed_size = own_size if as_circuit else device_size
        good = at_least(area, needed)
        show = writer(area, needed)
        device, has, own, asks = show(counted), show(area), show(own_area), show(needed)
        worked = told(circuit, circuit["max_current"])
        worked += [
            f"device counted = {how} = {device} A",
            f"size for device = Table 250.122 (device counted {device} A; ground metal {metal}) = {device_size}",
            f"area = Chapter 9 Table 8 (ground size {size}; circular mils) = {has} circular mils",
            f"circuit area = Chapter 9 Table 8 (circuit size {own_size}; circular mils) = {own} circular mils",
            f"needed area = the smaller of (Chapter 9 Table 8 (size for device {device_size}; circular mils); "
            f"circuit area {own} circular mils) = {asks} circular mils",
            f"needed size = {'circuit size' if as_circuit else 'size for device'} {needed_size} = {needed_size}",
            f"area {has} circular mils ≥ needed area {asks} circular mils: {yes(good)}",
        ]
        if good:
            note = (
                f"The {size} {metal} equipment ground of {circuit['label']} is large enough for {device} A; "
                f"{needed_size} is asked."
            )
        else:
            note = (
                f"The equipment ground of {circuit['label']} is {size} {metal}; for {device} A it must be "
                f"{needed_size} or larger."
            )
        figures |= {
            "device counted": (counted, "A"),
            "size for device": (device_size, ""),
            "area": (area, "cmil"),
            "circuit area": (own_area, "cmil"),
            "needed area": (needed, "cmil"),
            "needed size": (needed_size, ""),
        }
        remedy = f"Use {needed_size} {metal} or larger."
        out.add(rule, circuit, good, note, worked, figures, (area - needed, "cmil"), remedy)


@rule(
    "equipment-ground-not-enlarged",
    "Where the circuit conductors were enlarged, the equipment ground is enlarged in proportion, or excused",
    "NEC 2020 250.122(B)",
    "NEC 2020 690.45",
)
def equipment_ground_not_enlarged(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        ground, size_before = circuit["equipment_ground"], circuit["base_size"]
        if ground is None or size_before is None:
            out.skip(rule, circuit)
            continue
        kind, reason, label = circuit["kind"], circuit["enlarged_for"], circuit["label"]
        size, own_size, metal = circuit["conductor"]["size"], ground["size"], ground["material"]
        counted, how, figures = device_counted(circuit)
        device_size = ground_size(counted, metal)
        ratio = AREA[size] / AREA[size_before]
        needed = ratio * AREA[device_size]
        needed_size = size_for_area(needed)
        area = AREA[own_size]
        device, has, asks, times = coarse(counted), coarse(area), coarse(needed), coarse(ratio)
        worked = told(circuit, circuit["max_current"])
        worked += [
            f"device counted = {how} = {device} A",
            f"size for device = Table 250.122 (device counted {device} A; ground metal {metal}) = {device_size}",
            f"area ratio = Chapter 9 Table 8 (size {size}; circular mils) ÷ Chapter 9 Table 8 (size before "
            f"{size_before}; circular mils) = {times}",
            f"needed area = area ratio {times} × Chapter 9 Table 8 (size for device {device_size}; circular mils) = "
            f"{asks} circular mils",
            f"needed size = Chapter 9 Table 8 (needed area {asks} circular mils; circular mils) = {needed_size}",
            f"area = Chapter 9 Table 8 (ground size {own_size}; circular mils) = {has} circular mils",
        ]
        grown = f"enlarged in proportion: area {has} circular mils ≥ needed area {asks} circular mils"
        enlarged = f"enlarged for {reason} (asked: voltage drop)"
        bundled = (
            f"excused, larger for temperature or bundling: enlarged for {reason} (asked: temperature or number of "
            f"conductors)"
        )
        dc = (
            f"excused, dc circuit enlarged for voltage drop: kind {kind} (asked: pv source or converter output) and "
            f"{enlarged}"
        )
        ac = (
            f"excused, output circuit enlarged for voltage drop: kind {kind} (asked: microinverter branch or "
            f"inverter output or combined output) and {enlarged}"
        )
        excused = f"The conductors of {label} were enlarged for voltage drop; in a"
        good = True
        if at_least(area, needed):
            note = (
                f"The {own_size} equipment ground of {label} grew with its conductors; {asks} circular mils is asked."
            )
            worked.append(f"{grown}: yes")
        elif reason == "temperature or number of conductors":
            note = (
                f"The conductors of {label} are larger because of temperature or of the number of conductors, for "
                f"which the equipment ground need not grow."
            )
            worked.append(f"{bundled}: yes")
        elif kind in DC_KINDS and reason == "voltage drop":
            note = f"{excused} PV circuit the equipment ground need not grow with them."
            worked.append(f"{dc}: yes")
        elif kind in AC_KINDS and reason == "voltage drop":
            note = f"{excused} PV system circuit the equipment ground need not grow with them."
            worked.append(f"{ac}: yes")
        else:
            good = False
            note = (
                f"The conductors of {label} were enlarged from {size_before} to {size}; the equipment ground must grow "
                f"from {device_size} in proportion to {asks} circular mils, that is {needed_size}, and is {own_size}."
            )
            worked += [f"{grown}: no", f"{bundled}: no", f"{dc}: no", f"{ac}: no"]
        figures |= {
            "device counted": (counted, "A"),
            "size for device": (device_size, ""),
            "area ratio": (ratio, ""),
            "needed area": (needed, "cmil"),
            "needed size": (needed_size, ""),
            "area": (area, "cmil"),
        }
        out.add(rule, circuit, good, note, worked, figures, None, f"Use {needed_size} {metal} or larger.")


@rule(
    "voltage-drop-over-target",
    "The voltage drop of a circuit stays within the advised share",
    "NEC 2020 210.19(A) Informational Note No. 3 (advice)",
    broken=WARN,
)
def voltage_drop_over_target(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        conductor, current = circuit["conductor"], circuit["working_current"]
        size, metal, sets = conductor["size"], conductor["material"], conductor["parallel_sets"]
        length, voltage = circuit["length"], circuit["voltage"]
        resistance = RESISTANCE[size, metal]
        drop = 2 * length * resistance / 1000 * current.value / sets
        share, target = drop / voltage * 100, 0.03 * voltage
        good = at_most(drop, target)
        show = writer(drop, target)
        feet, volts, lost, most, ohms = show(length), show(voltage), show(drop), show(target), show(resistance)
        worked = told(circuit, current)
        worked += [
            f"resistance = Chapter 9 Table 8 (size {size}; metal {metal}) = {ohms} ohm/1000 ft",
            f"drop = conductors in loop 2 × length {feet} ft × resistance {ohms} ohm/1000 ft × current "
            f"{show(current.value)} A ÷ sets {show(sets)} = {lost} V",
            f"share = drop {lost} V ÷ circuit voltage {volts} V = {show(share)}%",
            f"target drop = voltage drop target 3% × circuit voltage {volts} V = {most} V",
            f"drop {lost} V ≤ target drop {most} V: {yes(good)}",
        ]
        note = (
            f"{circuit['Label']} loses {lost} V of {volts} V over {feet} ft, by the dc resistance of {size} {metal} "
            f"there and back; {most} V{'' if good else ' (3%)'} is advised at most."
        )
        figures = {
            "sets": (sets, ""),
            "length": (length, "ft"),
            "circuit voltage": (voltage, "V"),
            "current": (current.value, "A"),
            "voltage drop target": (3.0, "%"),
            "conductors in loop": (2.0, ""),
            "resistance": (resistance, "ohm/kft"),
            "drop": (drop, "V"),
            "share": (share, "%"),
            "target drop": (target, "V"),
        }
        remedy = "Use larger conductors or a shorter run if the loss, or the voltage rise at the inverter, matters."
        out.add(rule, circuit, good, note, worked, figures, (target - drop, "V"), remedy)


# --- current and overcurrent ---------------------------------------------------------------------------------


@rule(
    "device-too-small-for-continuous-current",
    "The overcurrent device carries the continuous current of its circuit",
    "NEC 2020 690.9(B)(1)",
    "NEC 2020 690.8(A)",
    "NEC 2020 215.3 (feeders), from memory, unconfirmed",
)
def device_too_small_for_continuous_current(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        device = circuit["overcurrent"]
        if device is None:
            out.skip(rule, circuit)
            continue
        rating, kind, current = device["rating"], device["kind"], circuit["max_current"]
        full = device["continuous_rated"]
        needed = current.value if full else 1.25 * current.value
        standard = standard_rating(needed, kind)
        good = at_least(rating, needed)
        show = writer(rating, needed)
        has, amps, asks, offered = show(rating), show(current.value), show(needed), show(standard)
        worked = told(circuit, current)
        worked += [
            f"needed rating = {'' if full else 'device factor 1.25 × '}maximum current {amps} A = {asks} A",
            f"next standard rating = Table 240.6(A) (needed rating {asks} A) = {offered} A",
            f"in full: rating {has} A ≥ needed rating {asks} A: {yes(good)}",
        ]
        if good:
            note = f"The {has} A {kind} of {circuit['label']} carries its {amps} A; {asks} A is needed."
        else:
            note = (
                f"The {kind} of {circuit['label']} is rated {has} A; its maximum current of {amps} A needs at least "
                f"{asks} A."
            )
        figures = {
            "rating": (rating, "A"),
            "maximum current": (current.value, "A"),
            "device factor": (1.25, ""),
            "needed rating": (needed, "A"),
            "next standard rating": (standard, "A"),
        }
        remedy = f"Use the next standard rating, {offered} A, if the conductor and the maker's limit allow it."
        out.add(rule, circuit, good, note, worked, figures, (rating - needed, "A"), remedy)


@rule(
    "circuit-carries-nothing",
    "Every output circuit says which strings, inverters or branches it carries",
    "Common practice: one-line diagram: what each circuit carries",
)
def circuit_carries_nothing(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        kind = circuit["kind"]
        if kind in DC_KINDS:
            carried, parts = len(circuit["strings"]), "the number of strings"
        elif kind == "inverter output":
            carried, parts = len(circuit["inverters"]), "the number of inverters"
        elif kind == "combined output":
            carried = len(circuit["inverters"]) + len(circuit["branches"])
            parts = "the number of inverters + the number of branches"
        else:
            out.skip(rule, circuit)
            continue
        good = carried > 0
        if good:
            note = f"{circuit['Label']} carries strings, inverters or branches that are named: {carried}."
        else:
            note = f"{circuit['Label']} carries nothing as it is described, so that nothing can be reckoned for it."
        worked = [f"carried = {parts} = {carried}", f"carried {carried} > 0: {yes(good)}"]
        remedy = f"Name the strings, inverters or branch circuits that {circuit['label']} carries."
        out.add(rule, circuit, good, note, worked, {"carried": (carried, "")}, None, remedy)


@rule("ac-circuit-without-overcurrent-device", "Every ac output circuit has an overcurrent device", "NEC 2020 690.9(A)")
def ac_circuit_without_overcurrent_device(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        if circuit["kind"] not in AC_KINDS:
            out.skip(rule, circuit)
            continue
        good = circuit["overcurrent"] is not None
        note = f"{'An' if good else 'No'} overcurrent device protects {circuit['label']}."
        remedy = (
            f"Show an overcurrent device where {circuit['label']} connects to the higher current, the utility's side."
        )
        out.add(rule, circuit, good, note, [f"overcurrent device is given: {yes(good)}"], {}, None, remedy)


@rule(
    "device-over-inverter-limit",
    "The ac overcurrent device is not larger than the inverter's maker allows",
    "NEC 2020 110.3(B)",
)
def device_over_inverter_limit(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        device = circuit["overcurrent"]
        limits = [inverter["max_ac_overcurrent"] for inverter in circuit["inverters"]]
        if circuit["kind"] != "inverter output" or device is None or None in limits:
            out.skip(rule, circuit)
            continue
        rating, limit = device["rating"], min(limits)
        good = at_most(rating, limit)
        show = writer(rating, limit)
        has, most = show(rating), show(limit)
        worked = [
            f"makers limit = the least of (limits {listing(limits, ' A', show)}) = {most} A",
            f"rating {has} A ≤ makers limit {most} A: {yes(good)}",
        ]
        if good:
            note = f"The {has} A device of {circuit['label']} is within the {most} A the inverter's maker allows."
        else:
            note = f"The device of {circuit['label']} is rated {has} A; the inverter's maker allows {most} A at most."
        figures = {"rating": (rating, "A"), "makers limit": (limit, "A")}
        remedy = f"Use a device of {most} A or less that still carries the continuous current."
        out.add(rule, circuit, good, note, worked, figures, (limit - rating, "A"), remedy)


@rule(
    "branch-device-over-microinverter-limit",
    "The branch overcurrent device is not larger than the microinverter's maker allows",
    "NEC 2020 110.3(B)",
)
def branch_device_over_microinverter_limit(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        device = circuit["overcurrent"]
        if circuit["kind"] != "microinverter branch" or device is None:
            out.skip(rule, circuit)
            continue
        rating, limit = device["rating"], circuit["electronics"]["max_branch_overcurrent"]
        if limit is None:
            out.skip(rule, circuit)
            continue
        good = at_most(rating, limit)
        show = writer(rating, limit)
        has, most = show(rating), show(limit)
        if good:
            note = f"The {has} A device of {circuit['label']} is within the {most} A the microinverter's maker allows."
        else:
            note = (
                f"The device of {circuit['label']} is rated {has} A; the microinverter's maker allows {most} A at most."
            )
        worked = [f"rating {has} A ≤ makers limit {most} A: {yes(good)}"]
        figures = {"rating": (rating, "A"), "makers limit": (limit, "A")}
        remedy = f"Use a device of {most} A or less, and fewer microinverters on the branch if need be."
        out.add(rule, circuit, good, note, worked, figures, (limit - rating, "A"), remedy)


@rule(
    "too-many-microinverters-on-branch",
    "A branch has no more microinverters than their maker allows",
    "NEC 2020 110.3(B)",
)
def too_many_microinverters_on_branch(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        if circuit["kind"] != "microinverter branch":
            out.skip(rule, circuit)
            continue
        units, limit = circuit["units"], circuit["electronics"]["max_units_per_branch"]
        good = at_most(units, limit)
        show = writer(units, limit)
        has, most = show(units), show(limit)
        note = f"{circuit['Label']} has {has} microinverters; the maker allows {most}{'' if good else ' per branch'}."
        worked = [f"microinverters {has} ≤ most {most}: {yes(good)}"]
        figures = {"microinverters": (units, ""), "most": (limit, "")}
        remedy = f"Move microinverters to another branch until {circuit['label']} has {most} or fewer."
        out.add(rule, circuit, good, note, worked, figures, (limit - units, ""), remedy)


def plain_strings(dc_input: Part) -> list[Part]:
    """The strings on an input, none where it has dc-to-dc converters."""
    strings: list[Part] = dc_input["strings"]
    return [] if any(string["converters"] for string in strings) else strings


@rule(
    "string-fuse-missing",
    "Strings in parallel are fused unless the others can't feed back more than a module may take",
    "NEC 2020 690.9(A)(1)",
)
def string_fuse_missing(rule: Rule, house: House, out: Results) -> None:
    for dc_input in house.inputs:
        strings, label = plain_strings(dc_input), dc_input["label"]
        if len(strings) < 2:
            out.skip(rule, dc_input)
            continue
        sources = [string["source_current"] for string in strings]
        currents = [source.value for source in sources]
        fuses = [string["module"]["max_series_fuse"] for string in strings]
        fuse, many = dc_input["string_fuse"], len(strings)
        back, allowed = (many - 1) * max(currents), min(fuses)
        fed, most = coarse(back), coarse(allowed)
        worked = told(dc_input, *sources) if many <= MANY else []
        worked += [
            f"strings in parallel = the number of strings = {many}",
            f"current fed back = (strings in parallel {many} − 1) × the largest of (string currents "
            f"{listing(currents, ' A')}) = {fed} A",
            f"series fuse rating = the least of (series fuses {listing(fuses, ' A')}) = {most} A",
        ]
        unneeded = f"no fuse needed: current fed back {fed} A ≤ series fuse rating {most} A"
        good = True
        if at_most(back, allowed):
            note = (
                f"With {many} strings in parallel on {label} the others can feed back {fed} A at most, which the "
                f"series-fuse rating of {most} A allows; no string fuse is required."
            )
            worked.append(f"{unneeded}: yes")
        elif fuse is not None:
            note = f"Each string on {label} has a fuse of {coarse(fuse)} A."
            worked.append("fused: string fuse is given: yes")
        else:
            good = False
            note = (
                f"{many} strings are in parallel on {label} without fuses; the others can feed back {fed} A into one "
                f"string, whose modules allow a series fuse of {most} A."
            )
            worked += [f"{unneeded}: no", "fused: string fuse is given: no"]
        figures = {
            "strings in parallel": (many, ""),
            "current fed back": (back, "A"),
            "series fuse rating": (allowed, "A"),
        }
        if fuse is not None:
            figures["string fuse"] = (fuse, "A")
        remedy = f"Fuse each string at no more than {most} A, or put fewer strings in parallel."
        out.add(rule, dc_input, good, note, worked, figures, None, remedy)


@rule(
    "string-fuse-over-module-rating",
    "A string fuse is not larger than the module's maximum series fuse",
    "NEC 2020 110.3(B)",
)
def string_fuse_over_module_rating(rule: Rule, house: House, out: Results) -> None:
    for dc_input in house.inputs:
        fuse, strings, label = dc_input["string_fuse"], plain_strings(dc_input), dc_input["label"]
        if fuse is None or not strings:
            out.skip(rule, dc_input)
            continue
        fuses = [string["module"]["max_series_fuse"] for string in strings]
        allowed = min(fuses)
        good = at_most(fuse, allowed)
        show = writer(fuse, allowed)
        has, most = show(fuse), show(allowed)
        worked = [
            f"series fuse rating = the least of (series fuses {listing(fuses, ' A', show)}) = {most} A",
            f"string fuse {has} A ≤ series fuse rating {most} A: {yes(good)}",
        ]
        if good:
            note = f"The {has} A fuses of {label} are within the module's series-fuse rating of {most} A."
        else:
            note = f"The fuses of {label} are {has} A; the module allows a series fuse of {most} A at most."
        figures = {"string fuse": (fuse, "A"), "series fuse rating": (allowed, "A")}
        remedy = f"Use string fuses of {most} A or less that still carry the string current."
        out.add(rule, dc_input, good, note, worked, figures, (allowed - fuse, "A"), remedy)


@rule("string-fuse-too-small", "A string fuse carries the string's maximum current", "NEC 2020 690.9(B)(1)")
def string_fuse_too_small(rule: Rule, house: House, out: Results) -> None:
    for dc_input in house.inputs:
        fuse, strings, label = dc_input["string_fuse"], dc_input["strings"], dc_input["label"]
        if fuse is None or not strings:
            out.skip(rule, dc_input)
            continue
        sources = [string["source_current"] for string in strings]
        currents = [source.value for source in sources]
        needed = 1.25 * max(currents)
        standard = standard_rating(needed, "fuse")
        good = at_least(fuse, needed)
        show = writer(fuse, needed)
        has, asks, offered = show(fuse), show(needed), show(standard)
        worked = told(dc_input, *sources) if len(sources) <= MANY else []
        worked += [
            f"needed rating = device factor 1.25 × the largest of (string currents {listing(currents, ' A', show)}) = "
            f"{asks} A",
            f"next standard rating = Table 240.6(A) (needed rating {asks} A) = {offered} A",
            f"in full: string fuse {has} A ≥ needed rating {asks} A: {yes(good)}",
        ]
        if good:
            note = f"The {has} A fuses of {label} carry the string current; {asks} A is needed."
        else:
            note = f"The fuses of {label} are {has} A; the string current needs at least {asks} A."
        figures = {
            "string fuse": (fuse, "A"),
            "device factor": (1.25, ""),
            "needed rating": (needed, "A"),
            "next standard rating": (standard, "A"),
        }
        remedy = f"Use string fuses of {offered} A, if the module's series-fuse rating allows it."
        out.add(rule, dc_input, good, note, worked, figures, (fuse - needed, "A"), remedy)


@rule(
    "input-short-circuit-current-over-limit",
    "The short-circuit current of the strings on an input, at standard test conditions, stays within the inverter's "
    "limit",
    "NEC 2020 110.3(B)",
)
def input_short_circuit_current_over_limit(rule: Rule, house: House, out: Results) -> None:
    for dc_input in house.inputs:
        strings, label = plain_strings(dc_input), dc_input["label"]
        if not strings:
            out.skip(rule, dc_input)
            continue
        currents = [string["module"]["isc"] for string in strings]
        total, limit = sum(currents), dc_input["max_short_circuit_current"]
        good = at_most(total, limit)
        show = writer(total, limit)
        has, most = show(total), show(limit)
        worked = [
            f"total current = the sum of (short circuit currents {listing(currents, ' A', show)}) = {has} A",
            f"total current {has} A ≤ limit {most} A: {yes(good)}",
        ]
        note = f"The strings on {label} can deliver {has} A; the input takes {most} A{'' if good else ' at most'}."
        figures = {"limit": (limit, "A"), "total current": (total, "A")}
        remedy = (
            f"Put fewer strings on {label}, or use an input that takes {has} A; some makers ask for a margin on top."
        )
        out.add(rule, dc_input, good, note, worked, figures, (limit - total, "A"), remedy)


@rule(
    "input-operating-current-over-limit",
    "The operating current of the strings on an input stays within what the inverter uses",
    "Maker's instructions: operating current per input",
    broken=WARN,
)
def input_operating_current_over_limit(rule: Rule, house: House, out: Results) -> None:
    for dc_input in house.inputs:
        strings, label = plain_strings(dc_input), dc_input["label"]
        if not strings:
            out.skip(rule, dc_input)
            continue
        currents = [string["module"]["imp"] for string in strings]
        total, limit = sum(currents), dc_input["max_current"]
        good = at_most(total, limit)
        show = writer(total, limit)
        has, most = show(total), show(limit)
        worked = [
            f"total current = the sum of (operating currents {listing(currents, ' A', show)}) = {has} A",
            f"total current {has} A ≤ limit {most} A: {yes(good)}",
        ]
        if good:
            note = f"The strings on {label} work at {has} A; the input uses up to {most} A."
        else:
            note = (
                f"The strings on {label} work at {has} A; the input uses {most} A at most and will hold back the rest."
            )
        figures = {"limit": (limit, "A"), "total current": (total, "A")}
        remedy = "Spread the strings over more inputs, or accept the loss and say so on the plan."
        out.add(rule, dc_input, good, note, worked, figures, (limit - total, "A"), remedy)


@rule(
    "module-current-over-electronics-limit",
    "The module's short-circuit current stays within the input limit of its electronics",
    "NEC 2020 110.3(B)",
)
def module_current_over_electronics_limit(rule: Rule, house: House, out: Results) -> None:
    for unit in house.electronics:
        modules, each, limit = unit["modules_in_parallel_per_input"], unit["module"]["isc"], unit["max_input_current"]
        current = modules * each
        good = at_most(current, limit)
        show = writer(current, limit)
        has, most = show(current), show(limit)
        worked = [
            f"input current = modules in parallel {show(modules)} × module current {show(each)} A = {has} A",
            f"input current {has} A ≤ input limit {most} A: {yes(good)}",
        ]
        note = (
            f"One input gets {has} A of short-circuit current; {unit['label']} takes {most} A"
            f"{'' if good else ' at most'}."
        )
        figures = {
            "modules in parallel": (modules, ""),
            "module current": (each, "A"),
            "input limit": (limit, "A"),
            "input current": (current, "A"),
        }
        remedy = f"Choose a unit that takes at least {has} A, or another module."
        out.add(rule, unit, good, note, worked, figures, (limit - current, "A"), remedy)


@rule(
    "module-power-over-electronics-limit",
    "The power of the modules on one unit stays within what the unit is rated for",
    "NEC 2020 110.3(B)",
)
def module_power_over_electronics_limit(rule: Rule, house: House, out: Results) -> None:
    for unit in house.electronics:
        modules, each, limit = unit["modules_per_unit"], unit["module"]["max_power"], unit["max_input_power"]
        if limit is None:
            out.skip(rule, unit)
            continue
        power = modules * each
        good = at_most(power, limit)
        show = writer(power, limit)
        has, most = show(power), show(limit)
        worked = [
            f"input power = modules on one unit {show(modules)} × module power {show(each)} W = {has} W",
            f"input power {has} W ≤ input limit {most} W: {yes(good)}",
        ]
        note = f"{unit['Label']} gets {has} W of modules and is rated for {most} W{'' if good else ' only'}."
        figures = {
            "modules on one unit": (modules, ""),
            "module power": (each, "W"),
            "input limit": (limit, "W"),
            "input power": (power, "W"),
        }
        remedy = f"Choose a unit rated for at least {has} W, or another module."
        out.add(rule, unit, good, note, worked, figures, (limit - power, "W"), remedy)


@rule(
    "device-too-large-for-small-conductor",
    "Small conductors keep to the device the code sets for their size",
    "NEC 2020 240.4(D)",
)
def device_too_large_for_small_conductor(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        device, conductor = circuit["overcurrent"], circuit["conductor"]
        size, metal = conductor["size"], conductor["material"]
        if device is None or size not in ("14 AWG", "12 AWG", "10 AWG"):
            out.skip(rule, circuit)
            continue
        rating, limit = device["rating"], SMALL_CONDUCTOR[size, metal]
        good = at_most(rating, limit)
        show = writer(rating, limit)
        has, most = show(rating), show(limit)
        worked = [
            f"largest device = 240.4(D) (size {size}; metal {metal}) = {most} A",
            f"rating {has} A ≤ largest device {most} A: {yes(good)}",
        ]
        note = f"The {size} {metal} of {circuit['label']} is on a {has} A device; "
        if good:
            note += f"{most} A is allowed."
        else:
            note += f"this size may have {most} A at most, whatever its ampacity."
        figures = {"rating": (rating, "A"), "largest device": (limit, "A")}
        remedy = f"Use a larger conductor, or a device of {most} A or less that still carries the current."
        out.add(rule, circuit, good, note, worked, figures, (limit - rating, "A"), remedy)


@rule(
    "device-over-conductor-ampacity",
    "The overcurrent device protects the conductor at its corrected ampacity",
    "NEC 2020 240.4(B)",
    "NEC 2020 690.9(B)",
)
def device_over_conductor_ampacity(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        device, label = circuit["overcurrent"], circuit["label"]
        if device is None:
            out.skip(rule, circuit)
            continue
        rating, kind = device["rating"], device["kind"]
        corrected, terminal = circuit["corrected_ampacity"], circuit["terminal_ampacity"]
        usable = min(corrected.value, terminal.value)
        standard = standard_rating(usable, kind)
        has, may, next_up = coarse(rating), coarse(usable), coarse(standard)
        worked = told(circuit, corrected, terminal)
        worked += [
            f"usable ampacity = the smaller of (corrected ampacity {coarse(corrected.value)} A; terminal ampacity "
            f"{coarse(terminal.value)} A) = {may} A",
            f"next standard rating = Table 240.6(A) (usable ampacity {may} A) = {next_up} A",
        ]
        within = f"within the ampacity: rating {has} A ≤ usable ampacity {may} A"
        stepped = (
            f"next standard size: rating {has} A ≤ next standard rating {next_up} A and rating {has} A ≤ "
            f"next size up limit 800 A"
        )
        good = True
        if at_most(rating, usable):
            note = f"The {has} A {kind} of {label} is within the {may} A its conductors may carry."
            worked.append(f"{within}: yes")
        elif at_most(rating, standard) and at_most(rating, 800.0):
            note = (
                f"The {has} A {kind} of {label} is the next standard size above the {may} A its conductors may carry, "
                f"which is allowed up to 800 A."
            )
            worked.append(f"{stepped}: yes")
        else:
            good = False
            note = (
                f"The {kind} of {label} is rated {has} A; its conductors may carry {may} A here, which allows a device "
                f"of {next_up} A at most."
            )
            worked += [f"{within}: no", f"{stepped}: no"]
        figures = {
            "rating": (rating, "A"),
            "corrected ampacity": (corrected.value, "A"),
            "terminal ampacity": (terminal.value, "A"),
            "next size up limit": (800.0, "A"),
            "usable ampacity": (usable, "A"),
            "next standard rating": (standard, "A"),
        }
        remedy = (
            f"Use larger conductors, cooler or less crowded conditions, or a device of {next_up} A or less that still "
            f"carries the current."
        )
        out.add(rule, circuit, good, note, worked, figures, None, remedy)


# --- disconnects ---------------------------------------------------------------------------------------------


def pv_disconnects(house: House) -> tuple[int, str]:
    """How many disconnects separate the PV system, and the line that counts them."""
    roles = [disconnect["role"] for disconnect in house.disconnects]
    many = roles.count("pv system disconnect")
    return many, f"pv disconnects = how many of (roles {texts(roles)}; pv system disconnect) = {many}"


@rule("pv-disconnect-missing", "The PV system has a disconnect", "NEC 2020 690.13")
def pv_disconnect_missing(rule: Rule, house: House, out: Results) -> None:
    many, line = pv_disconnects(house)
    good = many > 0
    if good:
        note = f"Disconnects that separate the PV system from all other wiring: {many}."
    else:
        note = "No disconnect is shown that separates the PV system from all other wiring."
    worked = [line, f"pv disconnects {many} > 0: {yes(good)}"]
    remedy = "Show the PV system disconnect, its rating and its place."
    out.add(rule, house.whole, good, note, worked, {"pv disconnects": (many, "")}, None, remedy)


@rule(
    "too-many-pv-disconnects",
    "The PV system is disconnected by at most six switches or breakers",
    "NEC 2020 690.13(C)",
)
def too_many_pv_disconnects(rule: Rule, house: House, out: Results) -> None:
    many, line = pv_disconnects(house)
    systems = house.shutdown["systems_on_service"]
    in_all = f"few in all: pv disconnects {many} ≤ most pv disconnects 6"
    for_each = f"few for each system: pv disconnects {many} ≤ most pv disconnects 6 × systems {coarse(systems)}"
    good = True
    if many <= 6:
        note = f"Switches or breakers that disconnect the PV: {many}; 6 are allowed."
        worked = [line, f"{in_all}: yes"]
    elif at_most(many, 6.0 * systems):
        note = (
            f"Switches or breakers that disconnect the PV: {many} for {coarse(systems)} systems; 6 are allowed for "
            f"each."
        )
        worked = [line, f"{for_each}: yes"]
    else:
        good = False
        note = f"It takes {many} switches or breakers to disconnect the PV; 6 are allowed for each PV system."
        worked = [line, f"{in_all}: no", f"{for_each}: no"]
    figures = {"systems": (systems, ""), "most pv disconnects": (6.0, ""), "pv disconnects": (many, "")}
    remedy = "Combine the outputs so that 6 or fewer operations disconnect the system."
    out.add(rule, house.whole, good, note, worked, figures, None, remedy)


@rule("pv-disconnect-not-accessible", "The PV system disconnect is readily accessible", "NEC 2020 690.13(A)")
def pv_disconnect_not_accessible(rule: Rule, house: House, out: Results) -> None:
    for disconnect in house.disconnects:
        if disconnect["role"] != "pv system disconnect":
            out.skip(rule, disconnect)
            continue
        good = disconnect["readily_accessible"] is True
        note = f"{disconnect['Label']} is {'' if good else 'not '}readily accessible."
        remedy = (
            f"Place {disconnect['label']} where it can be reached quickly without tools, a portable ladder, climbing "
            f"or moving anything; a key is allowed."
        )
        out.add(rule, disconnect, good, note, [f"readily accessible: {yes(good)}"], {}, None, remedy)


@rule(
    "disconnect-current-rating-too-low",
    "A disconnect carries the maximum current of its circuit",
    "NEC 2020 690.13(D)",
    "NEC 2020 690.15(C), from memory, unconfirmed",
)
def disconnect_current_rating_too_low(rule: Rule, house: House, out: Results) -> None:
    for disconnect in house.disconnects:
        if disconnect["role"] not in ("pv system disconnect", "equipment disconnect"):
            out.skip(rule, disconnect)
            continue
        rating, current = disconnect["rated_current"], disconnect["circuit"]["max_current"]
        good = at_least(rating, current.value)
        show = writer(rating, current.value)
        has, amps = show(rating), show(current.value)
        worked = told(disconnect, current)
        worked.append(f"rating {has} A ≥ circuit current {amps} A: {yes(good)}")
        note = f"{disconnect['Label']} is rated {has} A; its circuit carries {amps} A{' at most' if good else ''}."
        figures = {"rating": (rating, "A"), "circuit current": (current.value, "A")}
        remedy = f"Use a disconnect rated for at least {amps} A."
        out.add(rule, disconnect, good, note, worked, figures, (rating - current.value, "A"), remedy)


@rule("ac-disconnect-voltage-too-low", "An ac disconnect is rated for the voltage of its circuit", "NEC 2020 690.13(D)")
def ac_disconnect_voltage_too_low(rule: Rule, house: House, out: Results) -> None:
    for disconnect in house.disconnects:
        if disconnect["system"] != "ac":
            out.skip(rule, disconnect)
            continue
        rating, voltage = disconnect["rated_voltage"], disconnect["circuit"]["voltage"]
        good = at_least(rating, voltage)
        show = writer(rating, voltage)
        has, volts = show(rating), show(voltage)
        note = f"{disconnect['Label']} is rated {has} V; its circuit has {volts} V."
        worked = [f"rated voltage {has} V ≥ circuit voltage {volts} V: {yes(good)}"]
        figures = {"rated voltage": (rating, "V"), "circuit voltage": (voltage, "V")}
        remedy = f"Use a disconnect rated for at least {volts} V."
        out.add(rule, disconnect, good, note, worked, figures, (rating - voltage, "V"), remedy)


@rule("disconnect-not-for-load", "The PV system disconnect may be opened under load", "NEC 2020 690.13(E)")
def disconnect_not_for_load(rule: Rule, house: House, out: Results) -> None:
    for disconnect in house.disconnects:
        if disconnect["role"] != "pv system disconnect":
            out.skip(rule, disconnect)
            continue
        good = disconnect["load_break"] is True
        note = f"{disconnect['Label']} may {'' if good else 'not '}be opened under load."
        remedy = "Use a switch or breaker rated to open under load."
        out.add(rule, disconnect, good, note, [f"opens under load: {yes(good)}"], {}, None, remedy)


@rule("pv-disconnect-not-lockable", "The PV system disconnect can be locked open", "NEC 2020 690.13(E)")
def pv_disconnect_not_lockable(rule: Rule, house: House, out: Results) -> None:
    for disconnect in house.disconnects:
        if disconnect["role"] != "pv system disconnect":
            out.skip(rule, disconnect)
            continue
        good = disconnect["lockable_open"] is True
        note = f"{disconnect['Label']} can be locked open." if good else f"{disconnect['Label']} can't be locked open."
        remedy = (
            "Use a disconnect, an enclosure or a remote operating device with a lasting provision for a lock in the "
            "open position."
        )
        out.add(rule, disconnect, good, note, [f"lockable open: {yes(good)}"], {}, None, remedy)


@rule(
    "pv-disconnect-not-marked",
    "The PV system disconnect is marked as such and shows whether it is open",
    "NEC 2020 690.13(B)",
)
def pv_disconnect_not_marked(rule: Rule, house: House, out: Results) -> None:
    for disconnect in house.disconnects:
        if disconnect["role"] != "pv system disconnect":
            out.skip(rule, disconnect)
            continue
        marked, shows = disconnect["marked_pv_disconnect"], disconnect["shows_position"]
        good = marked is True and shows is True
        if good:
            note = f"{disconnect['Label']} is marked as the PV system disconnect and shows its position."
        else:
            note = (
                f"{disconnect['Label']} must be marked as the PV system disconnect (marked: {wordy(marked)}) and show "
                f"its position (shows it: {wordy(shows)})."
            )
        worked = [f"marked: {yes(marked)}", f"shows position: {yes(shows)}"]
        remedy = f"Mark {disconnect['label']} as the PV system disconnect, and use one that shows open and closed."
        out.add(rule, disconnect, good, note, worked, {}, None, remedy)


@rule(
    "live-on-both-sides-not-marked",
    "A disconnect that may be live on both sides when open says so",
    "NEC 2020 690.13(B) and 690.15(C)",
)
def live_on_both_sides_not_marked(rule: Rule, house: House, out: Results) -> None:
    for disconnect in house.disconnects:
        if disconnect["kind"] == "listed connectors" or not disconnect["both_sides_live_when_open"]:
            out.skip(rule, disconnect)
            continue
        good = disconnect["warns_both_sides_live"] is True
        if good:
            note = f"{disconnect['Label']} warns that both sides may be live when it is open."
        else:
            note = f"{disconnect['Label']} may be live on both sides when open and carries no warning of it."
        remedy = (
            f"Put the warning that line and load terminals may be live in the open position on {disconnect['label']}."
        )
        out.add(rule, disconnect, good, note, [f"warns: {yes(good)}"], {}, None, remedy)


@rule("handle-too-high", "The handle of a switch or breaker is within reach", "NEC 2020 404.8(A)")
def handle_too_high(rule: Rule, house: House, out: Results) -> None:
    for disconnect in house.disconnects:
        switch = disconnect["kind"] in ("breaker", "fused switch", "unfused switch")
        if disconnect["role"] == "equipment disconnect" or not switch:
            out.skip(rule, disconnect)
            continue
        height = disconnect["handle_height"]
        good = at_most(height, 79.0)
        high = writer(height, 79.0)(height)
        note = f"The handle of {disconnect['label']} is {high} in high"
        note += "; 79 in is the highest." if good else " in its highest position; 79 in is the highest allowed."
        worked = [f"height {high} in ≤ handle height limit 79 in: {yes(good)}"]
        figures = {"height": (height, "in"), "handle height limit": (79.0, "in")}
        remedy = f"Mount {disconnect['label']} so that its handle is no higher than 79 in."
        out.add(rule, disconnect, good, note, worked, figures, (79.0 - height, "in"), remedy)


@rule(
    "line-and-load-reversed",
    "The utility's conductors land on the line terminals",
    "NEC 2020 404.6(C), from memory, unconfirmed",
    "NEC 2020 110.3(B)",
)
def line_and_load_reversed(rule: Rule, house: House, out: Results) -> None:
    for disconnect in house.disconnects:
        if disconnect["system"] != "ac" or disconnect["kind"] not in ("fused switch", "unfused switch"):
            out.skip(rule, disconnect)
            continue
        feed, label = disconnect["line_terminals_feed"], disconnect["label"]
        line = f"line terminals: line terminals {feed} (asked: utility)"
        good = True
        if feed == "utility":
            note = (
                f"The utility's conductors land on the line terminals of {label}; its blades are dead when it is open."
            )
            worked = [f"{line}: yes"]
        elif disconnect["warns_both_sides_live"]:
            note = (
                f"{disconnect['Label']} warns that both sides may be live when it is open, which the code accepts "
                f"where equipment feeds back."
            )
            worked = ["warned: warns: yes"]
        else:
            good = False
            note = (
                f"The {feed}'s conductors land on the line terminals of {label}; the utility's belong there, so that "
                f"the blades are dead when it is open."
            )
            worked = [f"{line}: no", "warned: warns: no"]
        remedy = "Land the utility's conductors on the line terminals and the inverter's on the load terminals."
        out.add(rule, disconnect, good, note, worked, {}, None, remedy)


@rule("inverter-not-isolated", "The dc side of an inverter can be isolated", "NEC 2020 690.15")
def inverter_not_isolated(rule: Rule, house: House, out: Results) -> None:
    for inverter in house.inverters:
        means = inverter["isolating_means"]
        good = means != "no means"
        if good:
            note = f"The dc side of {inverter['label']} is isolated by its {means}."
        else:
            note = f"Nothing is shown that isolates the dc side of {inverter['label']}; something must."
        worked = [f"isolating means {means} (not: no means): {yes(good)}"]
        remedy = "Show a built-in or separate dc switch, or listed connectors where the current allows them."
        out.add(rule, inverter, good, note, worked, {}, None, remedy)


@rule(
    "equipment-disconnect-out-of-reach",
    "An equipment disconnect is within reach of its equipment",
    "NEC 2020 690.15(A)",
)
def equipment_disconnect_out_of_reach(rule: Rule, house: House, out: Results) -> None:
    for disconnect in house.disconnects:
        if disconnect["role"] != "equipment disconnect":
            out.skip(rule, disconnect)
            continue
        distance, in_sight, label = disconnect["distance_to_equipment"], disconnect["in_sight"], disconnect["Label"]
        remote = disconnect["remote_control_distance"]
        feet = coarse(distance)
        far = "none" if remote is None else f"{coarse(remote)} ft"
        close = f"in sight and near: in sight and distance {feet} ft ≤ isolation distance 10 ft"
        controlled = (
            f"remote control: remote control distance is given and remote control distance {far} ≤ "
            f"isolation distance 10 ft"
        )
        good = True
        if in_sight and at_most(distance, 10.0):
            note = f"{label} is {feet} ft from its equipment and in sight of it; 10 ft is allowed."
            worked = [f"{close}: yes"]
        elif remote is not None and at_most(remote, 10.0):
            note = f"{label} is operated from {far} of its equipment; 10 ft is allowed."
            worked = [f"{controlled}: yes"]
        else:
            good = False
            note = (
                f"{label} is {feet} ft from its equipment (in sight: {wordy(in_sight)}); it must be in sight and "
                f"within 10 ft, or be operated from there."
            )
            worked = [f"{close}: no", f"{controlled}: no"]
        figures = {"distance": (distance, "ft"), "isolation distance": (10.0, "ft")}
        if remote is not None:
            figures["remote control distance"] = (remote, "ft")
        remedy = f"Move {disconnect['label']} to within 10 ft in sight of its equipment, or put a remote control there."
        out.add(rule, disconnect, good, note, worked, figures, None, remedy)


@rule(
    "connectors-over-isolation-current",
    "Connectors alone isolate equipment only up to the code's current",
    "NEC 2020 690.15(D)(1)",
)
def connectors_over_isolation_current(rule: Rule, house: House, out: Results) -> None:
    for disconnect in house.disconnects:
        connectors = disconnect["kind"] == "listed connectors" and disconnect["system"] == "dc"
        if not connectors or disconnect["load_break"]:
            out.skip(rule, disconnect)
            continue
        current = disconnect["circuit"]["max_current"]
        good = at_most(current.value, 30.0)
        amps = writer(current.value, 30.0)(current.value)
        note = f"The connectors of {disconnect['label']} isolate {amps} A; "
        note += "up to 30 A connectors will do." if good else "above 30 A a disconnect that opens under load is asked."
        worked = told(disconnect, current)
        worked.append(f"circuit current {amps} A ≤ isolation current limit 30 A: {yes(good)}")
        figures = {"circuit current": (current.value, "A"), "isolation current limit": (30.0, "A")}
        remedy = "Use an equipment disconnect rated to open under load."
        out.add(rule, disconnect, good, note, worked, figures, (30.0 - current.value, "A"), remedy)


@rule(
    "working-space-too-shallow",
    "The working space in front of equipment is deep enough",
    "NEC 2020 110.26(A)(1)",
)
def working_space_too_shallow(rule: Rule, house: House, out: Results) -> None:
    for space in house.working_spaces:
        depth, volts, condition = space["depth"], space["volts_to_ground"], space["condition"]
        needed = SPACE_DEPTHS[condition][at_or_above(SPACE_VOLTS, volts)]
        good = at_least(depth, needed * 12)
        show = writer(depth, needed * 12)
        deep, asks, to_ground, case = show(depth), show(needed), show(volts), show(condition)
        worked = [
            f"needed depth = Table 110.26(A)(1) (volts to ground {to_ground} V; condition {case}) = {asks} ft",
            f"depth {deep} in ≥ needed depth {asks} ft: {yes(good)}",
        ]
        note = (
            f"{space['Label']} is {deep} in deep; {asks} ft is asked for {to_ground} V to ground in condition {case}."
        )
        figures = {
            "depth": (depth, "in"),
            "volts to ground": (volts, "V"),
            "condition": (condition, ""),
            "needed depth": (needed, "ft"),
        }
        remedy = f"Keep {asks} ft clear in front, or move the equipment."
        out.add(rule, space, good, note, worked, figures, (depth - needed * 12, "in"), remedy)


@rule(
    "working-space-too-narrow",
    "The working space is wide enough, and as wide as the equipment",
    "NEC 2020 110.26(A)(2)",
)
def working_space_too_narrow(rule: Rule, house: House, out: Results) -> None:
    for space in house.working_spaces:
        width, equipment = space["width"], space["equipment_width"]
        needed = max(30.0, equipment)
        good = at_least(width, needed)
        show = writer(width, needed)
        wide, asks = show(width), show(needed)
        worked = [
            f"needed width = the larger of (work space width 30 in; equipment width {show(equipment)} in) = {asks} in",
            f"width {wide} in ≥ needed width {asks} in: {yes(good)}",
        ]
        note = f"{space['Label']} is {wide} in wide; {asks} in is asked."
        figures = {
            "width": (width, "in"),
            "equipment width": (equipment, "in"),
            "work space width": (30.0, "in"),
            "needed width": (needed, "in"),
        }
        remedy = f"Keep {asks} in clear in width, or move what stands in it."
        out.add(rule, space, good, note, worked, figures, (width - needed, "in"), remedy)


@rule(
    "working-space-too-low",
    "The working space is high enough, and as high as the equipment",
    "NEC 2020 110.26(A)(3)",
)
def working_space_too_low(rule: Rule, house: House, out: Results) -> None:
    for space in house.working_spaces:
        if space["height_excepted"]:
            out.skip(rule, space)
            continue
        height, equipment = space["height"], space["equipment_top"]
        needed = max(78.0, equipment)
        good = at_least(height, needed)
        show = writer(height, needed)
        high, asks = show(height), show(needed)
        worked = [
            f"needed height = the larger of (work space height 78 in; equipment top {show(equipment)} in) = {asks} in",
            f"height {high} in ≥ needed height {asks} in: {yes(good)}",
        ]
        note = f"{space['Label']} is {high} in high; {asks} in is asked."
        figures = {
            "height": (height, "in"),
            "equipment top": (equipment, "in"),
            "work space height": (78.0, "in"),
            "needed height": (needed, "in"),
        }
        remedy = f"Keep {asks} in clear in height, or lower the equipment."
        out.add(rule, space, good, note, worked, figures, (height - needed, "in"), remedy)


# --- rapid shutdown ------------------------------------------------------------------------------------------


@rule("rapid-shutdown-missing", "Rapid shutdown is provided where the code asks for it", "NEC 2020 690.12")
def rapid_shutdown_missing(rule: Rule, house: House, out: Results) -> None:
    if not house.controlled:
        out.skip(rule, house.whole)
        return
    place, good = house.shutdown["array_place"], house.shutdown["provided"] is True
    if good:
        note = f"Rapid shutdown is provided for the array ({place})."
    else:
        note = f"No rapid shutdown is provided, and the code asks for it where the array is ({place})."
    worked = [*told(house.whole, house.scope), f"provided: {yes(good)}"]
    remedy = "Show the rapid shutdown equipment, its initiation device and the limits it keeps."
    out.add(rule, house.whole, good, note, worked, {}, None, remedy)


@rule(
    "boundary-too-far-from-array",
    "Conductors are controlled from close to the array on",
    "NEC 2020 690.12(B)",
)
def boundary_too_far_from_array(rule: Rule, house: House, out: Results) -> None:
    boundary = house.shutdown["boundary_distance"]
    if not house.array_shut_down or boundary is None:
        out.skip(rule, house.whole)
        return
    good = at_most(boundary, 1.0)
    feet = writer(boundary, 1.0)(boundary)
    note = f"The controlled conductors begin {feet} ft from the array; "
    note += "1 ft is the farthest." if good else "they must begin within 1 ft."
    worked = [*told(house.whole, house.array_scope), f"boundary {feet} ft ≤ shutdown boundary 1 ft: {yes(good)}"]
    figures = {"boundary": (boundary, "ft"), "shutdown boundary": (1.0, "ft")}
    remedy = "Control every conductor more than 1 ft from the array."
    out.add(rule, house.whole, good, note, worked, figures, (1.0 - boundary, "ft"), remedy)


@rule(
    "entry-distance-too-long",
    "Conductors inside the building are controlled from close to their entry on",
    "NEC 2020 690.12(B)(1)",
)
def entry_distance_too_long(rule: Rule, house: House, out: Results) -> None:
    inside = house.shutdown["entry_distance"]
    if not house.shut_down or inside is None:
        out.skip(rule, house.whole)
        return
    good = at_most(inside, 3.0)
    feet = writer(inside, 3.0)(inside)
    note = f"Inside the building {feet} ft of conductor is left before control begins; "
    note += "3 ft is the most." if good else "it must begin within 3 ft of the entry."
    worked = [*told(house.whole, house.scope), f"length inside {feet} ft ≤ shutdown entry distance 3 ft: {yes(good)}"]
    figures = {"length inside": (inside, "ft"), "shutdown entry distance": (3.0, "ft")}
    remedy = "Control every conductor more than 3 ft inside the building."
    out.add(rule, house.whole, good, note, worked, figures, (3.0 - inside, "ft"), remedy)


@rule(
    "voltage-outside-boundary-too-high",
    "Outside the boundary conductors fall to the code's voltage",
    "NEC 2020 690.12(B)(1)",
)
def voltage_outside_boundary_too_high(rule: Rule, house: House, out: Results) -> None:
    voltage = house.shutdown["outside_voltage"]
    if not house.shut_down or voltage is None:
        out.skip(rule, house.whole)
        return
    good = at_most(voltage, 30.0)
    volts = writer(voltage, 30.0)(voltage)
    note = f"Outside the boundary {volts} V is left after initiation; 30 V is the most{'' if good else ' allowed'}."
    worked = [*told(house.whole, house.scope), f"voltage left {volts} V ≤ outside voltage limit 30 V: {yes(good)}"]
    figures = {"voltage left": (voltage, "V"), "outside voltage limit": (30.0, "V")}
    remedy = "Use rapid shutdown equipment that leaves 30 V or less outside the boundary."
    out.add(rule, house.whole, good, note, worked, figures, (30.0 - voltage, "V"), remedy)


@rule(
    "outside-limit-reached-too-late",
    "Outside the boundary the voltage falls within the code's time",
    "NEC 2020 690.12(B)(1)",
)
def outside_limit_reached_too_late(rule: Rule, house: House, out: Results) -> None:
    time = house.shutdown["outside_time"]
    if not house.shut_down or time is None:
        out.skip(rule, house.whole)
        return
    good = at_most(time, 30.0)
    seconds = writer(time, 30.0)(time)
    if good:
        note = f"The conductors outside the boundary are down after {seconds} s; 30 s is the longest."
    else:
        note = f"The conductors outside the boundary take {seconds} s to come down; 30 s is the longest allowed."
    worked = [*told(house.whole, house.scope), f"time {seconds} s ≤ outside time limit 30 s: {yes(good)}"]
    figures = {"time": (time, "s"), "outside time limit": (30.0, "s")}
    remedy = "Use rapid shutdown equipment that acts within 30 s."
    out.add(rule, house.whole, good, note, worked, figures, (30.0 - time, "s"), remedy)


@rule(
    "array-inside-boundary-not-controlled",
    "Inside the boundary the array is made safe in one of the ways the edition knows",
    "NEC 2020 690.12(B)(2)",
)
def array_inside_boundary_not_controlled(rule: Rule, house: House, out: Results) -> None:
    if not house.array_shut_down:
        out.skip(rule, house.whole)
        return
    shutdown = house.shutdown
    listed, bare = shutdown["hazard_control_listed"], shutdown["no_exposed_metal"]
    voltage, time, distance = (
        shutdown["inside_voltage"], shutdown["inside_time"], shutdown["distance_to_grounded_metal"],
    )  # fmt: skip
    volts = "none" if voltage is None else f"{coarse(voltage)} V"
    seconds = "none" if time is None else f"{coarse(time)} s"
    feet = "none" if distance is None else f"{coarse(distance)} ft"
    limited = (
        f"voltage limit: voltage inside is given and voltage inside {volts} ≤ inside voltage limit 80 V and "
        f"time inside is given and time inside {seconds} ≤ inside time limit 30 s"
    )
    clear = f"no exposed metal: no exposed metal and distance to metal {feet} > no metal clearance 8 ft"
    units = [string["electronics"] for string in house.strings]
    limiting = [unit is not None and unit["meets_shutdown_inside_array"] for unit in units]
    fitted = (
        f"listed unit on every string's modules: the number of strings > 0 and all of (units listed "
        f"{texts([wordy(flag) for flag in limiting])})"
    )
    worked = told(house.whole, house.array_scope)
    good = True
    if listed:
        note = (
            "The array is listed as a hazard control or rapid-shutdown array, which satisfies the rule inside the "
            "boundary."
        )
        worked.append("listed hazard control array: listed array: yes")
    elif limiting and all(limiting):
        note = "Every string has module-level electronics listed to limit the voltage inside the array."
        worked.append(f"{fitted}: yes")
    elif voltage is not None and at_most(voltage, 80.0) and time is not None and at_most(time, 30.0):
        note = f"Inside the boundary {volts} is left after {seconds}; 80 V within 30 s is allowed."
        worked.append(f"{limited}: yes")
    elif bare and below(8.0, distance):
        note = (
            f"The array has no exposed wiring or conductive parts and stands {feet} from grounded metal, more than "
            f"8 ft, which this edition accepts."
        )
        worked.append(f"{clear}: yes")
    else:
        good = False
        note = (
            f"Inside the array boundary none of the ways this edition knows is met. The array is not listed as a "
            f"hazard control or rapid-shutdown array; 80 V within 30 s is not reached (left inside: "
            f"{'not limited' if voltage is None else volts}, after: {'not stated' if time is None else seconds}); and "
            f"it is not both free of exposed metal ({wordy(bare)}) and more than 8 ft from grounded metal "
            f"({'not claimed' if distance is None else feet})."
        )
        worked += ["listed hazard control array: listed array: no", f"{fitted}: no", f"{limited}: no", f"{clear}: no"]
    figures: Figures = {
        "inside voltage limit": (80.0, "V"),
        "inside time limit": (30.0, "s"),
        "no metal clearance": (8.0, "ft"),
    }
    if voltage is not None:
        figures["voltage inside"] = (voltage, "V")
    if time is not None:
        figures["time inside"] = (time, "s")
    if distance is not None:
        figures["distance to metal"] = (distance, "ft")
    remedy = (
        "Fit a listed device on every module that limits the voltage inside the array to 80 V, or use an array listed "
        "as a hazard control system."
    )
    out.add(rule, house.whole, good, note, worked, figures, None, remedy)


@rule(
    "module-without-shutdown-device",
    "Every module of a string with module-level electronics has its unit",
    "NEC 2020 110.3(B)",
)
def module_without_shutdown_device(rule: Rule, house: House, out: Results) -> None:
    for string in house.strings:
        unit = string["electronics"]
        if unit is None:
            out.skip(rule, string)
            continue
        units, per_unit, modules = string["units"], unit["modules_per_unit"], string["modules_in_series"]
        served = units * per_unit
        good = at_least(served, modules)
        show = writer(served, modules)
        has, reaches, asks = show(units), show(served), show(modules)
        worked = [
            f"modules served = units {has} × modules on one unit {show(per_unit)} = {reaches}",
            f"modules served {reaches} ≥ modules {asks}: {yes(good)}",
        ]
        if good:
            note = f"The {has} units of {string['label']} serve its {asks} modules."
        else:
            note = f"The {has} units of {string['label']} serve {reaches} of its {asks} modules."
        figures = {
            "units": (units, ""),
            "modules on one unit": (per_unit, ""),
            "modules": (modules, ""),
            "modules served": (served, ""),
        }
        remedy = f"Fit a unit for every module of {string['label']}, or correct the count on the plan."
        out.add(rule, string, good, note, worked, figures, (served - modules, ""), remedy)


@rule(
    "shutdown-equipment-not-listed",
    "The equipment that performs rapid shutdown is listed for it",
    "NEC 2020 690.12(D)",
)
def shutdown_equipment_not_listed(rule: Rule, house: House, out: Results) -> None:
    if not house.shut_down:
        out.skip(rule, house.whole)
        return
    good = house.shutdown["listed_system"] is True
    if good:
        note = "The rapid shutdown equipment is listed for it."
    else:
        note = "The rapid shutdown equipment is not shown as listed for rapid shutdown."
    worked = [*told(house.whole, house.scope), f"listed: {yes(good)}"]
    remedy = "Name the listing of the rapid shutdown equipment, as used together."
    out.add(rule, house.whole, good, note, worked, {}, None, remedy)


@rule("initiation-device-missing", "There is a device that starts rapid shutdown", "NEC 2020 690.12(C)")
def initiation_device_missing(rule: Rule, house: House, out: Results) -> None:
    if not house.shut_down:
        out.skip(rule, house.whole)
        return
    many = len(house.initiators)
    good = many > 0
    note = f"Devices that start rapid shutdown: {many}." if good else "No device is shown that starts rapid shutdown."
    worked = [
        *told(house.whole, house.scope),
        f"initiation devices = the number of initiators = {many}",
        f"initiation devices {many} > 0: {yes(good)}",
    ]
    remedy = "Show the initiation device, its kind and its place."
    out.add(rule, house.whole, good, note, worked, {"initiation devices": (many, "")}, None, remedy)


@rule(
    "initiation-device-not-outside",
    "On a one- or two-family dwelling an initiation device is outside and readily accessible",
    "NEC 2020 690.12(C)",
)
def initiation_device_not_outside(rule: Rule, house: House, out: Results) -> None:
    devices = house.initiators
    if not house.shut_down or house.dwelling_type == "other" or not devices:
        out.skip(rule, house.whole)
        return
    outside = [device["place"] == "outside" and device["readily_accessible"] is True for device in devices]
    good = any(outside)
    if good:
        note = "An initiation device is outside and readily accessible."
    else:
        note = (
            f"None of the initiation devices ({texts([device['id'] for device in devices])}) is outside and readily "
            f"accessible, as one must be on a one- or two-family dwelling."
        )
    worked = told(house.whole, house.scope)
    if len(devices) <= MANY:
        worked += [
            f"{device['label']}: outside in reach = place {device['place']} (asked: outside) and readily accessible = "
            f"{yes(within)}"
            for device, within in zip(devices, outside, strict=True)
        ]
    worked.append(f"any of (devices outside {texts([yes(within) for within in outside])}): {yes(good)}")
    remedy = (
        "Place an initiation device outside where it can be reached without tools, a portable ladder, climbing or "
        "moving anything; a key is allowed."
    )
    out.add(rule, house.whole, good, note, worked, {}, None, remedy)


@rule(
    "initiation-device-of-wrong-kind",
    "An initiation device is of a kind the code names",
    "NEC 2020 690.12(C)(1)-(3)",
)
def initiation_device_of_wrong_kind(rule: Rule, house: House, out: Results) -> None:
    devices = house.initiators
    if not house.shut_down or not devices:
        out.skip(rule, house.whole)
        return
    named = [is_named_kind(device) for device in devices]
    good, kinds = any(named), texts([device["kind"] for device in devices])
    if good:
        note = f"An initiation device is of a kind the code names ({kinds})."
    else:
        note = (
            f"None of the initiation devices ({kinds}) is of a kind the code names: a service disconnect, a PV system "
            f"disconnect, or a readily accessible switch that shows on and off."
        )
    worked = told(house.whole, house.scope)
    if len(devices) <= MANY:
        worked += [
            f"{device['label']}: of a named kind = {asked_of_kind(device['kind'])} = {yes(one)}"
            for device, one in zip(devices, named, strict=True)
        ]
    worked.append(f"any of (devices of a named kind {texts([yes(one) for one in named])}): {yes(good)}")
    remedy = (
        "Use the service disconnect, the PV system disconnect, or a readily accessible switch that shows on and off."
    )
    out.add(rule, house.whole, good, note, worked, {}, None, remedy)


def asked_of_kind(kind: str) -> str:
    """What makes an initiation device one of a kind that the code names."""
    if kind == "switch":
        return "readily accessible and shows position"
    return f"690.12(C)(1)-(3) (kind {kind}) = named"


def is_named_kind(device: Part) -> bool:
    """Whether the code names the kind of an initiation device."""
    kind = device["kind"]
    if kind == "switch":
        return device["readily_accessible"] is True and device["shows_position"] is True
    return kind in ("service disconnect", "pv system disconnect")


@rule(
    "too-many-initiation-devices",
    "The initiation devices of one service are few and stand together",
    "NEC 2020 690.12(C)",
)
def too_many_initiation_devices(rule: Rule, house: House, out: Results) -> None:
    many, systems = len(house.initiators), house.shutdown["systems_on_service"]
    if not house.shut_down or at_most(systems, 1) or many <= 1:
        out.skip(rule, house.whole)
        return
    grouped = house.shutdown["initiators_grouped"]
    good = many <= 6 and grouped is True
    if good:
        note = f"The {many} initiation devices of the {coarse(systems)} systems stand together; 6 are allowed."
    else:
        note = (
            f"There are {many} initiation devices for the {coarse(systems)} systems (grouped: {wordy(grouped)}); at "
            f"most 6, grouped, are allowed."
        )
    worked = [
        *told(house.whole, house.scope),
        f"initiation devices = the number of initiators = {many}",
        f"initiation devices {many} ≤ most initiators 6: {yes(many <= 6)}",
        f"grouped: {yes(grouped)}",
    ]
    figures = {"systems": (systems, ""), "most initiators": (6.0, ""), "initiation devices": (many, "")}
    remedy = "Bring the initiation devices together, 6 at most, or start all systems with one."
    out.add(rule, house.whole, good, note, worked, figures, None, remedy)


@rule(
    "one-operation-does-not-stop-everything",
    "With one PV system, one operation of one device shuts all of it down",
    "NEC 2020 690.12(C)",
)
def one_operation_does_not_stop_everything(rule: Rule, house: House, out: Results) -> None:
    systems = house.shutdown["systems_on_service"]
    if not house.shut_down or not at_most(systems, 1) or not house.initiators:
        out.skip(rule, house.whole)
        return
    stops = [device["stops_everything"] for device in house.initiators]
    good = all(stops)
    if good:
        note = "Any one initiation device shuts the whole PV system down."
    else:
        note = "An initiation device does not shut the whole PV system down by itself."
    worked = [
        *told(house.whole, house.scope),
        f"all of (stops everything {texts([wordy(flag) for flag in stops])}): {yes(good)}",
    ]
    remedy = "Wire the initiation devices so that any one of them shuts everything down."
    out.add(rule, house.whole, good, note, worked, {"systems": (systems, "")}, None, remedy)


# --- string voltage ------------------------------------------------------------------------------------------


ON_DWELLING = (
    "on a building",
    "ground, circuits enter a dwelling",
    "ground, circuits end on an outside wall",
    "detached open structure, circuits enter a dwelling",
)
"""Places of an array from which dc circuits come on or into the building."""


@rule(
    "string-voltage-over-dwelling-limit",
    "Dc voltage on a one- or two-family dwelling stays within the limit for dwellings",
    "NEC 2020 690.7",
)
def string_voltage_over_dwelling_limit(rule: Rule, house: House, out: Results) -> None:
    for string in house.strings:
        if house.dwelling_type == "other" or house.shutdown["array_place"] not in ON_DWELLING:
            out.skip(rule, string)
            continue
        voltage = string["max_voltage"]
        good = at_most(voltage.value, 600.0)
        volts = writer(voltage.value, 600.0)(voltage.value)
        if good:
            note = f"{string['Label']} reaches {volts} V at most; a dwelling may have 600 V."
        else:
            note = (
                f"{string['Label']} reaches {volts} V; on or in a one- or two-family dwelling the dc voltage may be "
                f"600 V at most, whatever the equipment is rated for."
            )
        worked = told(string, voltage)
        worked.append(f"string voltage {volts} V ≤ dwelling voltage limit 600 V: {yes(good)}")
        figures = {"string voltage": (voltage.value, "V"), "dwelling voltage limit": (600.0, "V")}
        remedy = f"Shorten {string['label']} until its maximum voltage is 600 V or less."
        out.add(rule, string, good, note, worked, figures, (600.0 - voltage.value, "V"), remedy)


@rule(
    "string-voltage-over-building-limit",
    "Dc voltage on a building other than a dwelling stays within the limit for buildings",
    "NEC 2020 690.7",
)
def string_voltage_over_building_limit(rule: Rule, house: House, out: Results) -> None:
    for string in house.strings:
        if house.dwelling_type != "other":
            out.skip(rule, string)
            continue
        voltage = string["max_voltage"]
        good = at_most(voltage.value, 1000.0)
        volts = writer(voltage.value, 1000.0)(voltage.value)
        if good:
            note = f"{string['Label']} reaches {volts} V at most; this building may have 1000 V."
        else:
            note = f"{string['Label']} reaches {volts} V; on or in this building the dc voltage may be 1000 V at most."
        worked = told(string, voltage)
        worked.append(f"string voltage {volts} V ≤ other building voltage limit 1000 V: {yes(good)}")
        figures = {"string voltage": (voltage.value, "V"), "other building voltage limit": (1000.0, "V")}
        remedy = f"Shorten {string['label']} until its maximum voltage is 1000 V or less."
        out.add(rule, string, good, note, worked, figures, (1000.0 - voltage.value, "V"), remedy)


@rule(
    "string-voltage-over-inverter-limit",
    "The cold open-circuit voltage of a string stays within the inverter's dc limit",
    "NEC 2020 690.7(A)",
    "NEC 2020 110.3(B)",
)
def string_voltage_over_inverter_limit(rule: Rule, house: House, out: Results) -> None:
    for string in house.strings:
        if string["converters"]:
            out.skip(rule, string)
            continue
        voltage, cold = string["max_voltage"], string["module"]["cold_voltage"]
        limit = string["input"]["inverter"]["max_dc_voltage"]
        modules = math.floor(limit / cold.value * (1 + 1e-9))
        good = at_most(voltage.value, limit)
        show = writer(voltage.value, limit)
        volts, takes, many = show(voltage.value), show(limit), show(modules)
        worked = told(string, voltage, cold)
        worked += [
            f"most modules = the whole part of (inverter limit {takes} V ÷ module cold voltage {show(cold.value)} V) = "
            f"{many}",
            f"string voltage {volts} V ≤ inverter limit {takes} V: {yes(good)}",
        ]
        note = (
            f"On the coldest day {string['label']} reaches {volts} V; the inverter takes {takes} V"
            f"{'' if good else ' at most'}."
        )
        figures = {
            "string voltage": (voltage.value, "V"),
            "module cold voltage": (cold.value, "V"),
            "inverter limit": (limit, "V"),
            "most modules": (modules, ""),
        }
        remedy = f"Use at most {many} of these modules in series, or an inverter with a higher dc limit."
        out.add(rule, string, good, note, worked, figures, (limit - voltage.value, "V"), remedy)


@rule(
    "converter-string-voltage-over-inverter-limit",
    "The maximum voltage of a string of dc-to-dc converters stays within the inverter's dc limit",
    "NEC 2020 690.7(B)(2)",
    "NEC 2020 110.3(B)",
)
def converter_string_voltage_over_inverter_limit(rule: Rule, house: House, out: Results) -> None:
    for string in house.strings:
        if not string["converters"]:
            out.skip(rule, string)
            continue
        voltage, limit = string["max_voltage"], string["input"]["inverter"]["max_dc_voltage"]
        good = at_most(voltage.value, limit)
        show = writer(voltage.value, limit)
        volts, takes = show(voltage.value), show(limit)
        if good:
            note = (
                f"{string['Label']} reaches {volts} V at most, as its converters allow; the inverter takes {takes} V."
            )
        else:
            note = f"{string['Label']} can reach {volts} V; the inverter takes {takes} V at most."
        worked = told(string, voltage)
        worked.append(f"string voltage {volts} V ≤ inverter limit {takes} V: {yes(good)}")
        figures = {"string voltage": (voltage.value, "V"), "inverter limit": (limit, "V")}
        remedy = (
            "Use fewer converters in series, or the maximum string voltage of this pairing where the maker's "
            "instructions give one."
        )
        out.add(rule, string, good, note, worked, figures, (limit - voltage.value, "V"), remedy)


@rule(
    "string-voltage-over-module-limit",
    "The maximum voltage of a string stays within the maximum system voltage of its modules",
    "NEC 2020 690.7",
    "NEC 2020 110.3(B)",
)
def string_voltage_over_module_limit(rule: Rule, house: House, out: Results) -> None:
    for string in house.strings:
        voltage, limit = string["max_voltage"], string["module"]["max_system_voltage"]
        good = at_most(voltage.value, limit)
        show = writer(voltage.value, limit)
        volts, takes = show(voltage.value), show(limit)
        note = (
            f"{string['Label']} reaches {volts} V; its modules are rated for systems up to {takes} V"
            f"{'' if good else ' only'}."
        )
        worked = told(string, voltage)
        worked.append(f"string voltage {volts} V ≤ module limit {takes} V: {yes(good)}")
        figures = {"string voltage": (voltage.value, "V"), "module limit": (limit, "V")}
        remedy = f"Shorten {string['label']}, or use modules rated for at least {volts} V."
        out.add(rule, string, good, note, worked, figures, (limit - voltage.value, "V"), remedy)


@rule(
    "dc-disconnect-voltage-too-low",
    "A dc disconnect is rated for the maximum voltage of its circuit",
    "NEC 2020 690.13(D)",
    "NEC 2020 690.7",
)
def dc_disconnect_voltage_too_low(rule: Rule, house: House, out: Results) -> None:
    for disconnect in house.disconnects:
        if disconnect["system"] != "dc":
            out.skip(rule, disconnect)
            continue
        rating, voltage = disconnect["rated_voltage"], disconnect["circuit"]["dc_voltage"]
        good = at_least(rating, voltage.value)
        show = writer(rating, voltage.value)
        has, volts = show(rating), show(voltage.value)
        strings = disconnect["circuit"]["strings"]
        voltages = [string["max_voltage"].value for string in strings]
        names = [string["id"] for string in strings]
        highest = names[voltages.index(max(voltages))]
        note = f"{disconnect['Label']} is rated {has} V dc; its circuit reaches {volts} V, by string {highest}."
        worked = told(disconnect, voltage)
        worked.append(
            f"highest string = the one with the largest of (string voltages {listing(voltages, ' V', show)}; "
            f"string names {texts(names)}) = {highest}"
        )
        worked.append(f"rated voltage {has} V ≥ circuit voltage {volts} V: {yes(good)}")
        figures = {
            "rated voltage": (rating, "V"), "circuit voltage": (voltage.value, "V"), "highest string": (highest, ""),
        }  # fmt: skip
        remedy = f"Use a disconnect with a dc rating of at least {volts} V."
        out.add(rule, disconnect, good, note, worked, figures, (rating - voltage.value, "V"), remedy)


@rule(
    "dc-overcurrent-device-voltage-too-low",
    "An overcurrent device in a dc circuit has a dc rating at or above the maximum voltage",
    "NEC 2020 690.9(B)",
    "NEC 2020 690.7",
)
def dc_overcurrent_device_voltage_too_low(rule: Rule, house: House, out: Results) -> None:
    for circuit in house.circuits:
        device, label = circuit["overcurrent"], circuit["label"]
        if circuit["kind"] not in DC_KINDS or device is None:
            out.skip(rule, circuit)
            continue
        rating, voltage = device["dc_voltage"], circuit["dc_voltage"]
        given = rating is not None
        good = given and at_least(rating, voltage.value)
        has, volts = f"{coarse(rating)} V" if given else "none", coarse(voltage.value)
        if good:
            note = f"The overcurrent device of {label} is rated {has} dc; the circuit reaches {volts} V."
        else:
            note = (
                f"The overcurrent device of {label} is rated {has if given else 'for ac only'}; the circuit reaches "
                f"{volts} V dc."
            )
        worked = told(circuit, voltage)
        worked += [
            f"dc rating is given: {yes(given)}",
            f"dc rating {has} ≥ circuit voltage {volts} V: {yes(good)}",
        ]
        figures = {"circuit voltage": (voltage.value, "V")}
        if given:
            figures["dc rating"] = (rating, "V")
        remedy = f"Use a device listed for PV circuits with a dc rating of at least {volts} V."
        out.add(rule, circuit, good, note, worked, figures, None, remedy)


@rule(
    "module-voltage-over-electronics-limit",
    "The cold open-circuit voltage of the modules on one unit stays within its input limit",
    "NEC 2020 690.7(A)",
    "NEC 2020 110.3(B)",
)
def module_voltage_over_electronics_limit(rule: Rule, house: House, out: Results) -> None:
    for unit in house.electronics:
        modules, cold = unit["modules_in_series_per_input"], unit["module"]["cold_voltage"]
        limit = unit["max_input_voltage"]
        voltage = modules * cold.value
        good = at_most(voltage, limit)
        show = writer(voltage, limit)
        volts, takes = show(voltage), show(limit)
        worked = told(unit, cold)
        worked += [
            f"input voltage = modules in series {show(modules)} × module cold voltage {show(cold.value)} V = {volts} V",
            f"input voltage {volts} V ≤ input limit {takes} V: {yes(good)}",
        ]
        note = (
            f"On the coldest day the modules give {volts} V to {unit['label']}, which takes {takes} V"
            f"{'' if good else ' at most'}."
        )
        figures = {
            "modules in series": (modules, ""),
            "module cold voltage": (cold.value, "V"),
            "input limit": (limit, "V"),
            "input voltage": (voltage, "V"),
        }
        remedy = f"Choose a unit with an input limit of at least {volts} V, or another module."
        out.add(rule, unit, good, note, worked, figures, (limit - voltage, "V"), remedy)


@rule(
    "too-few-converters-in-string",
    "A string has at least the fewest converters its maker allows",
    "NEC 2020 110.3(B)",
)
def too_few_converters_in_string(rule: Rule, house: House, out: Results) -> None:
    for string in house.strings:
        if not string["converters"]:
            out.skip(rule, string)
            continue
        units, limit = string["units"], string["electronics"]["min_units_per_string"]
        good = at_least(units, limit)
        show = writer(units, limit)
        has, fewest = show(units), show(limit)
        note = (
            f"{string['Label']} has {has} converters; the maker asks for {fewest} or more"
            f"{'' if good else ', so it may not start'}."
        )
        worked = [f"converters {has} ≥ fewest {fewest}: {yes(good)}"]
        figures = {"converters": (units, ""), "fewest": (limit, "")}
        remedy = f"Put at least {fewest} converters in {string['label']}."
        out.add(rule, string, good, note, worked, figures, (units - limit, ""), remedy)


@rule(
    "too-many-converters-in-string",
    "A string has at most the most converters its maker allows",
    "NEC 2020 110.3(B)",
)
def too_many_converters_in_string(rule: Rule, house: House, out: Results) -> None:
    for string in house.strings:
        if not string["converters"]:
            out.skip(rule, string)
            continue
        units, limit = string["units"], string["electronics"]["max_units_per_string"]
        good = at_most(units, limit)
        show = writer(units, limit)
        has, most = show(units), show(limit)
        note = f"{string['Label']} has {has} converters; the maker allows {most}{'' if good else ' at most'}."
        worked = [f"converters {has} ≤ most {most}: {yes(good)}"]
        figures = {"converters": (units, ""), "most": (limit, "")}
        remedy = f"Split {string['label']} so that no string has more than {most} converters."
        out.add(rule, string, good, note, worked, figures, (limit - units, ""), remedy)


@rule(
    "string-power-over-limit",
    "The module power of a converter string stays within the maker's limit per string",
    "NEC 2020 110.3(B)",
)
def string_power_over_limit(rule: Rule, house: House, out: Results) -> None:
    for string in house.strings:
        if not string["converters"] or string["electronics"]["max_string_power"] is None:
            out.skip(rule, string)
            continue
        power, limit = string["power"], string["electronics"]["max_string_power"]
        good = at_most(power.value, limit)
        show = writer(power.value, limit)
        has, most = show(power.value), show(limit)
        note = f"{string['Label']} has {has} W of modules; the maker allows {most} W{'' if good else ' per string'}."
        worked = told(string, power)
        worked.append(f"power {has} W ≤ limit {most} W: {yes(good)}")
        figures = {"power": (power.value, "W"), "limit": (limit, "W")}
        remedy = f"Move modules to another string until {string['label']} has {most} W or less."
        out.add(rule, string, good, note, worked, figures, (limit - power.value, "W"), remedy)


@rule(
    "string-power-under-minimum",
    "The module power of a converter string reaches the maker's minimum per string",
    "NEC 2020 110.3(B)",
)
def string_power_under_minimum(rule: Rule, house: House, out: Results) -> None:
    for string in house.strings:
        if not string["converters"] or string["electronics"]["min_string_power"] is None:
            out.skip(rule, string)
            continue
        power, minimum = string["power"], string["electronics"]["min_string_power"]
        good = at_least(power.value, minimum)
        show = writer(power.value, minimum)
        has, least = show(power.value), show(minimum)
        note = (
            f"{string['Label']} has {has} W of modules; the maker asks for {least} W or more"
            f"{'' if good else ' per string'}."
        )
        worked = told(string, power)
        worked.append(f"power {has} W ≥ minimum {least} W: {yes(good)}")
        figures = {"power": (power.value, "W"), "minimum": (minimum, "W")}
        remedy = f"Add modules to {string['label']} until it has {least} W or more."
        out.add(rule, string, good, note, worked, figures, (power.value - minimum, "W"), remedy)


@rule(
    "hot-voltage-below-tracking-window",
    "On a hot day the string still works inside the inverter's tracking window",
    "Common practice: lowest operating voltage against the tracking window",
    broken=WARN,
)
def hot_voltage_below_tracking_window(rule: Rule, house: House, out: Results) -> None:
    for string in house.strings:
        if string["converters"]:
            out.skip(rule, string)
            continue
        modules, hot = string["modules_in_series"], string["module"]["hot_voltage"]
        bottom = string["input"]["inverter"]["mppt_min_voltage"]
        voltage = modules * hot.value
        good = at_least(voltage, bottom)
        show = writer(voltage, bottom)
        volts, lowest = show(voltage), show(bottom)
        worked = told(string, hot)
        worked += [
            f"string hot voltage = modules {show(modules)} × module hot voltage {show(hot.value)} V = {volts} V",
            f"string hot voltage {volts} V ≥ window bottom {lowest} V: {yes(good)}",
        ]
        if good:
            note = f"On a hot day {string['label']} works near {volts} V; the inverter tracks from {lowest} V."
        else:
            note = (
                f"On a hot day {string['label']} works near {volts} V, below the {lowest} V from which the inverter "
                f"tracks; it will lose energy or stop."
            )
        figures = {
            "modules": (modules, ""),
            "module hot voltage": (hot.value, "V"),
            "window bottom": (bottom, "V"),
            "string hot voltage": (voltage, "V"),
        }
        remedy = "Use more modules in series, or an inverter that tracks from a lower voltage."
        out.add(rule, string, good, note, worked, figures, (voltage - bottom, "V"), remedy)


@rule(
    "design-temperature-without-source",
    "The low design temperature says where it comes from",
    "NEC 2020 690.7(A) Informational Note No. 1",
    broken=WARN,
)
def design_temperature_without_source(rule: Rule, house: House, out: Results) -> None:
    low, source = house.site["design_low"], house.site["design_low_source"]
    good = source is not None
    note = f"The lowest expected temperature, {coarse(low)} °C, "
    note += f"is from {source}." if good else "comes without a source."
    remedy = "State the weather station and data set the lowest expected temperature was read from."
    figures = {"low temperature": (low, "degC")}
    out.add(rule, house.whole, good, note, [f"source is given: {yes(good)}"], figures, None, remedy)


READ_AGAIN = "Read the coefficient from the data sheet again, with its unit and its sign."


@rule(
    "coefficient-implausible",
    "The temperature coefficient of open-circuit voltage lies where those of real modules lie",
    "Common practice: band that real modules fall in",
    broken=WARN,
)
def coefficient_implausible(rule: Rule, house: House, out: Results) -> None:
    for module in house.modules:
        share = module["coefficient_share"]
        if share is None:
            out.skip(rule, module)
            continue
        steep, flat = at_least(share.value, -0.86), at_most(share.value, -0.17)
        good = steep and flat
        show = fine if near(share.value, -0.86) or near(share.value, -0.17) else coarse
        has = show(share.value)
        note = f"The coefficient of {module['label']}, {has} %/°C, is "
        if good:
            note += "of the usual size."
        else:
            note += (
                "not of the usual size; real modules lie between -0.86 %/°C and -0.17 %/°C. A figure in one unit may "
                "have been entered in the other, or a sign lost."
            )
        worked = told(module, share)
        worked += [
            f"coefficient share {has} %/°C ≥ steepest coefficient -0.86 %/°C: {yes(steep)}",
            f"coefficient share {has} %/°C ≤ flattest coefficient -0.17 %/°C: {yes(flat)}",
        ]
        figures = {
            "coefficient share": (share.value, "%/degC"),
            "steepest coefficient": (-0.86, "%/degC"),
            "flattest coefficient": (-0.17, "%/degC"),
        }
        margin = (min(share.value + 0.86, -0.17 - share.value), "%/degC")
        out.add(rule, module, good, note, worked, figures, margin, READ_AGAIN)


@rule(
    "coefficient-implausible-for-silicon",
    "The coefficient of a crystalline silicon module lies where those of silicon modules lie",
    "Common practice: band that real silicon modules fall in",
    broken=WARN,
)
def coefficient_implausible_for_silicon(rule: Rule, house: House, out: Results) -> None:
    for module in house.modules:
        share = module["coefficient_share"]
        silicon = module["cell_technology"] == "crystalline silicon"
        if not silicon or share is None or not at_most(share.value, -0.17):
            out.skip(rule, module)
            continue
        good = at_most(share.value, -0.21)
        has = writer(share.value, -0.21)(share.value)
        note = f"The coefficient of {module['label']}, {has} %/°C, is "
        if good:
            note += "of the usual size for silicon."
        else:
            note += (
                "flatter than that of any silicon module in a large open table (-0.21 %/°C), so the cold voltage may "
                "come out too low. A figure in volts a degree may have been entered as percent."
            )
        worked = told(module, share)
        worked.append(f"coefficient share {has} %/°C ≤ flattest silicon coefficient -0.21 %/°C: {yes(good)}")
        figures = {
            "coefficient share": (share.value, "%/degC"),
            "flattest coefficient": (-0.17, "%/degC"),
            "flattest silicon coefficient": (-0.21, "%/degC"),
        }
        out.add(rule, module, good, note, worked, figures, (-0.21 - share.value, "%/degC"), READ_AGAIN)


@rule(
    "unlike-strings-on-one-input",
    "Strings in parallel on one input are alike",
    "Common practice: strings in parallel on one tracker",
    broken=WARN,
)
def unlike_strings_on_one_input(rule: Rule, house: House, out: Results) -> None:
    for dc_input in house.inputs:
        strings, label = plain_strings(dc_input), dc_input["label"]
        if len(strings) < 2:
            out.skip(rule, dc_input)
            continue
        lengths = [string["modules_in_series"] for string in strings]
        models = [string["module"]["id"] for string in strings]
        longest, shortest = max(lengths), min(lengths)
        level, alike = same(longest, shortest), len(set(models)) == 1
        long, short = coarse(longest), coarse(shortest)
        if level and alike:
            note = f"The strings on {label} are alike."
        else:
            note = (
                f"The strings on {label} are not alike (modules in series: {short} to {long}; models: "
                f"{texts(models)}); they work below their best."
            )
        worked = [
            f"longest string = the largest of (lengths {listing(lengths)}) = {long}",
            f"shortest string = the least of (lengths {listing(lengths)}) = {short}",
            f"longest string {long} = shortest string {short}: {yes(level)}",
            f"all alike: (models {texts(models)}): {yes(alike)}",
        ]
        figures = {"longest string": (longest, ""), "shortest string": (shortest, "")}
        remedy = f"Give the strings on {label} the same number of the same module, or an input each."
        out.add(rule, dc_input, level and alike, note, worked, figures, None, remedy)


@rule("inverter-voltage-not-of-service", "The inverter's ac configuration suits the service", "NEC 2020 110.3(B)")
def inverter_voltage_not_of_service(rule: Rule, house: House, out: Results) -> None:
    service = house.service["configuration"]
    for inverter in house.inverters:
        own = inverter["ac_configuration"]
        if "other" in (own, service):
            out.skip(rule, inverter)
            continue
        alike = f"the same configuration: inverter configuration {own} = service configuration {service}"
        split = (
            f"two wires of a split-phase service: inverter configuration {own} (asked: 240 V two wire) and service "
            f"configuration {service} (asked: 120/240 V split phase)"
        )
        wye = (
            f"two wires of a wye service: inverter configuration {own} (asked: 208 V two wire) and service "
            f"configuration {service} (asked: 120/208 V wye)"
        )
        good = True
        if own == service:
            note = f"{inverter['Label']} and the service are both {service}."
            worked = [f"{alike}: yes"]
        elif (own, service) == ("240 V two wire", "120/240 V split phase"):
            note = f"{inverter['Label']}, {own}, connects between the two lines of the {service} service."
            worked = [f"{split}: yes"]
        elif (own, service) == ("208 V two wire", "120/208 V wye"):
            note = f"{inverter['Label']}, {own}, connects between two lines of the {service} service."
            worked = [f"{wye}: yes"]
        else:
            good = False
            note = f"{inverter['Label']} is {own}; the service is {service}."
            worked = [f"{alike}: no", f"{split}: no", f"{wye}: no"]
        out.add(rule, inverter, good, note, worked, {}, None, f"Set or choose an inverter for {service}.")


# --- communications ------------------------------------------------------------------------------------------

CABLES = ("twisted-pair ethernet", "RS-485")
METER = 1 / 0.3048


@rule(
    "ethernet-run-over-channel-length",
    "A twisted-pair Ethernet channel is no longer than its standard allows",
    "TIA-568, channel length",
    broken=WARN,
)
def ethernet_run_over_channel_length(rule: Rule, house: House, out: Results) -> None:
    for run in house.communications:
        if run["kind"] != "twisted-pair ethernet":
            out.skip(rule, run)
            continue
        length, limit = run["length"], 100 * METER
        good = at_most(length, limit)
        feet = writer(length, limit)(length)
        note = f"{run['Label']} is {feet} ft long, patch cords included; "
        if good:
            note += "100 m is the longest channel."
        else:
            note += "the standard's longest channel is 100 m. The trade's round 330 ft is a little more than that."
        worked = [f"length {feet} ft ≤ ethernet channel 100 m: {yes(good)}"]
        figures = {
            "length": (length, "ft"),
            "ethernet channel": (100.0, "m"),
            "ethernet rule of thumb": (330.0, "ft"),
        }
        remedy = f"Shorten {run['label']}, put a switch in between, or use a wireless or cellular path."
        out.add(rule, run, good, note, worked, figures, (limit - length, "ft"), remedy)


@rule(
    "ethernet-run-too-long",
    "A twisted-pair Ethernet run is not beyond what the trade accepts",
    "Common practice: longest Ethernet run",
    "NEC 2020 110.3(B)",
)
def ethernet_run_too_long(rule: Rule, house: House, out: Results) -> None:
    for run in house.communications:
        if run["kind"] != "twisted-pair ethernet":
            out.skip(rule, run)
            continue
        length = run["length"]
        good = at_most(length, 330.0)
        feet = writer(length, 330.0)(length)
        note = f"{run['Label']} is {feet} ft long; "
        note += "the trade accepts 330 ft." if good else "beyond 330 ft the link can't be relied on."
        worked = [f"length {feet} ft ≤ ethernet rule of thumb 330 ft: {yes(good)}"]
        figures = {"length": (length, "ft"), "ethernet rule of thumb": (330.0, "ft")}
        remedy = f"Shorten {run['label']}, put a switch in between, or use a wireless or cellular path."
        out.add(rule, run, good, note, worked, figures, (330.0 - length, "ft"), remedy)


@rule(
    "serial-run-too-long",
    "An RS-485 bus is no longer than it works in practice",
    "TIA-485, practical length",
    broken=WARN,
)
def serial_run_too_long(rule: Rule, house: House, out: Results) -> None:
    for run in house.communications:
        if run["kind"] != "RS-485":
            out.skip(rule, run)
            continue
        length, limit = run["length"], 1200 * METER
        good = at_most(length, limit)
        feet = writer(length, limit)(length)
        note = f"{run['Label']} is {feet} ft long; 1200 m "
        note += "works in practice." if good else "is the most that works in practice, and only at low rates."
        worked = [f"length {feet} ft ≤ serial bus length 1200 m: {yes(good)}"]
        figures = {"length": (length, "ft"), "serial bus length": (1200.0, "m")}
        remedy = "Shorten the bus, add a repeater, or follow the length in the maker's manual."
        out.add(rule, run, good, note, worked, figures, (limit - length, "ft"), remedy)


@rule(
    "data-cable-near-power",
    "Data cables keep their distance from power conductors, or are separated by a barrier",
    "NEC 2020 805.133(A)(2) and 725.136(I), from memory, unconfirmed",
)
def data_cable_near_power(rule: Rule, house: House, out: Results) -> None:
    for run in house.communications:
        if run["kind"] not in CABLES:
            out.skip(rule, run)
            continue
        separation, label = run["separation_from_power"], run["label"]
        figures: Figures = {"data cable separation": (2.0, "in")}
        good = True
        if separation is None:
            note = f"{run['Label']} is separated from power conductors by a barrier, raceway or sheath."
            worked = ["separated by a barrier: none given: (separation none): yes"]
        else:
            figures["separation"] = (separation, "in")
            inches = coarse(separation)
            distance = f"distance: separation {inches} in ≥ data cable separation 2 in"
            good = at_least(separation, 2.0)
            if good:
                note = f"{run['Label']} keeps {inches} in from power conductors; 2 in is asked."
                worked = [f"{distance}: yes"]
            else:
                note = (
                    f"{run['Label']} runs {inches} in from power conductors; 2 in is asked, or a raceway, sheath or "
                    f"fixed barrier in between."
                )
                worked = [
                    f"separated by a barrier: none given: (separation {inches} in): no",
                    f"{distance}: no",
                ]
        remedy = f"Move {label} 2 in away, or run one of the two in raceway."
        out.add(rule, run, good, note, worked, figures, None, remedy)


@rule(
    "data-cable-shares-power-raceway",
    "Data cables do not share a raceway or enclosure with power conductors",
    "NEC 2020 805.133(A)(1)(c) and 725.136(A), from memory, unconfirmed",
)
def data_cable_shares_power_raceway(rule: Rule, house: House, out: Results) -> None:
    for run in house.communications:
        if run["kind"] not in CABLES:
            out.skip(rule, run)
            continue
        good = run["shares_power_raceway"] is not True
        if good:
            note = f"{run['Label']} shares no raceway with power conductors."
        else:
            note = f"{run['Label']} shares a raceway or enclosure with power conductors, without a barrier."
        remedy = f"Give {run['label']} a raceway of its own or a permanent barrier."
        out.add(rule, run, good, note, [f"not: shares: {yes(good)}"], {}, None, remedy)


@rule(
    "outdoor-data-cable-not-wet-rated",
    "Data cable outdoors or in wet places is made for them",
    "NEC 2020 110.11",
)
def outdoor_data_cable_not_wet_rated(rule: Rule, house: House, out: Results) -> None:
    for run in house.communications:
        if run["kind"] not in CABLES or not run["outdoors"]:
            out.skip(rule, run)
            continue
        good = run["wet_rated"] is True
        if good:
            note = f"The cable of {run['label']} is rated for wet places."
        else:
            note = f"{run['Label']} runs outdoors or in a wet place with a cable not rated for it."
        remedy = "Use cable rated for wet places, raceways outdoors included."
        out.add(rule, run, good, note, [f"wet rated: {yes(good)}"], {}, None, remedy)


@rule(
    "radio-signal-not-checked",
    "Where the path is by radio, the signal was checked at the place of the equipment",
    "Common practice: signal at the place of the equipment",
    broken=WARN,
)
def radio_signal_not_checked(rule: Rule, house: House, out: Results) -> None:
    for run in house.communications:
        kind = run["kind"]
        if kind not in ("wireless", "cellular"):
            out.skip(rule, run)
            continue
        good = run["signal_checked"] is True
        note = f"The {kind} signal of {run['label']} was "
        note += "checked on site." if good else "not checked where the equipment stands."
        remedy = "Check the signal where the equipment will stand, or plan a cable."
        out.add(rule, run, good, note, [f"checked: {yes(good)}"], {}, None, remedy)


@rule(
    "no-communication-path",
    "The inverter or gateway has a way to report",
    "Common practice: communication path",
    broken=WARN,
)
def no_communication_path(rule: Rule, house: House, out: Results) -> None:
    many = len(house.communications)
    good = many > 0
    if good:
        note = f"Paths over which the system reports: {many}."
    else:
        note = "No communication path is shown; a wired, wireless, cellular or power-line path would each do."
    worked = [
        f"communication runs = the number of runs = {many}",
        f"communication runs {many} > 0: {yes(good)}",
    ]
    remedy = "Show how the inverter or gateway reports."
    out.add(rule, house.whole, good, note, worked, {"communication runs": (many, "")}, None, remedy)


# --- commissioning -------------------------------------------------------------------------------------------


@rule(
    "line-voltage-out-of-range",
    "The line-to-line voltage lies in the service range of the open standard",
    "ANSI C84.1, Range A, service voltage",
)
def line_voltage_out_of_range(rule: Rule, house: House, out: Results) -> None:
    reading, nominal = house.readings["line_to_line"], house.service["voltage"]
    if reading is None:
        out.skip(rule, house.whole)
        return
    lowest, highest = 0.95 * nominal, 1.05 * nominal
    above, under = at_least(reading, lowest), at_most(reading, highest)
    good = above and under
    show = fine if near(reading, lowest) or near(reading, highest) else coarse
    has, volts, low, high = show(reading), show(nominal), show(lowest), show(highest)
    worked = [
        f"lowest = service voltage low 95% × nominal {volts} V = {low} V",
        f"highest = service voltage high 105% × nominal {volts} V = {high} V",
        f"reading {has} V ≥ lowest {low} V: {yes(above)}",
        f"reading {has} V ≤ highest {high} V: {yes(under)}",
    ]
    if good:
        note = f"Line to line {has} V was measured; {low} V to {high} V is the service range of a {volts} V service."
    else:
        note = f"Line to line {has} V was measured; the service range of a {volts} V service is {low} V to {high} V."
    figures = {
        "reading": (reading, "V"),
        "nominal": (nominal, "V"),
        "service voltage low": (95.0, "%"),
        "service voltage high": (105.0, "%"),
        "lowest": (lowest, "V"),
        "highest": (highest, "V"),
    }
    remedy = "Do not start the inverter; check the connection, and call the utility if its voltage is off."
    margin = (min(reading - lowest, highest - reading), "V")
    out.add(rule, house.whole, good, note, worked, figures, margin, remedy)


@rule(
    "line-to-neutral-voltage-out-of-range",
    "Each line-to-neutral voltage lies in the service range of the open standard",
    "ANSI C84.1, Range A, service voltage",
)
def line_to_neutral_voltage_out_of_range(rule: Rule, house: House, out: Results) -> None:
    nominal = house.service["voltage_to_neutral"]
    line_1, line_2 = house.readings["line_1_to_neutral"], house.readings["line_2_to_neutral"]
    if nominal is None or line_1 is None or line_2 is None:
        out.skip(rule, house.whole)
        return
    smaller, larger = min(line_1, line_2), max(line_1, line_2)
    lowest, highest = 0.95 * nominal, 1.05 * nominal
    above, under = at_least(smaller, lowest), at_most(larger, highest)
    good = above and under
    show = fine if near(smaller, lowest) or near(larger, highest) else coarse
    one, two, volts, low, high = show(line_1), show(line_2), show(nominal), show(lowest), show(highest)
    both = f"(line 1 {one} V; line 2 {two} V)"
    worked = [
        f"lowest = service voltage low 95% × nominal {volts} V = {low} V",
        f"highest = service voltage high 105% × nominal {volts} V = {high} V",
        f"the smaller of {both} ≥ lowest {low} V: {yes(above)}",
        f"the larger of {both} ≤ highest {high} V: {yes(under)}",
    ]
    note = f"Line to neutral {one} V and {two} V were measured; "
    if good:
        note += f"{low} V to {high} V is the service range."
    else:
        note += (
            f"the service range is {low} V to {high} V. A large difference between the two points to a loose neutral."
        )
    figures = {
        "line 1": (line_1, "V"),
        "line 2": (line_2, "V"),
        "nominal": (nominal, "V"),
        "service voltage low": (95.0, "%"),
        "service voltage high": (105.0, "%"),
        "lowest": (lowest, "V"),
        "highest": (highest, "V"),
    }
    remedy = (
        "Do not start the inverter; check the neutral and the connection, and call the utility if its voltage is off."
    )
    margin = (min(smaller - lowest, highest - larger), "V")
    out.add(rule, house.whole, good, note, worked, figures, margin, remedy)


@rule(
    "dc-not-down-before-switching",
    "At power-down the dc voltage is down before the dc switch is opened",
    "Common practice: power-down before the dc switch is opened",
)
def dc_not_down_before_switching(rule: Rule, house: House, out: Results) -> None:
    reading = house.readings["dc_before_switch_opened"]
    kinds = [string["electronics"]["kind"] for string in house.strings if string["electronics"]]
    if reading is None or not {"dc-to-dc converter", "shutdown device"}.intersection(kinds):
        out.skip(rule, house.whole)
        return
    good = below(reading, 50.0)
    volts = writer(reading, 50.0)(reading)
    if good:
        note = f"The dc side was at {volts} V before the dc switch was opened; below 50 V is asked."
    else:
        note = f"The dc side was still at {volts} V when the dc switch was to be opened; it must fall below 50 V first."
    worked = [f"reading {volts} V < switching voltage limit 50 V: {yes(good)}"]
    figures = {"reading": (reading, "V"), "switching voltage limit": (50.0, "V")}
    remedy = "Shut down on the ac side, wait, and read the dc voltage again before the dc switch is opened."
    out.add(rule, house.whole, good, note, worked, figures, (50.0 - reading, "V"), remedy)


@rule(
    "shutdown-reading-too-high",
    "Measured after initiation, the controlled conductors are down in time",
    "NEC 2020 690.12(B)(1)",
)
def shutdown_reading_too_high(rule: Rule, house: House, out: Results) -> None:
    reading, time = house.readings["voltage_after_shutdown"], house.readings["shutdown_time"]
    if reading is None:
        out.skip(rule, house.whole)
        return
    down, in_time = at_most(reading, 30.0), at_most(time, 30.0)
    volts, seconds = coarse(reading), coarse(time)
    note = f"The voltage had fallen to {volts} V by {seconds} s after initiation; 30 V within 30 s is allowed."
    worked = [
        f"reading {volts} V ≤ shutdown reading limit 30 V: {yes(down)}",
        f"time {seconds} s ≤ shutdown reading time 30 s: {yes(in_time)}",
    ]
    figures = {
        "reading": (reading, "V"),
        "time": (time, "s"),
        "shutdown reading limit": (30.0, "V"),
        "shutdown reading time": (30.0, "s"),
    }
    remedy = "Find the string or device that does not shut down before the system is handed over."
    out.add(rule, house.whole, down and in_time, note, worked, figures, None, remedy)


# --- the check -----------------------------------------------------------------------------------------------

ORDER = {FAIL: 0, WARN: 1, "pass": 2}


def judge(house: House) -> tuple[list[dict[str, Any]], list[tuple[str, str]]]:
    """The findings about a house, what must change first, and (rule, pointer) of what does not apply."""
    out = Results()
    house.reckon()
    for rule, ask in RULES:
        ask(rule, house, out)
    out.findings.sort(key=lambda finding: ORDER[finding["verdict"]])
    return out.findings, out.asides


def check(document: Part) -> list[dict[str, Any]]:
    """The findings about a house, what must change first.

    Args:
        document: the description as ``json.loads`` gives it; it is not changed.
    """
    return judge(House(document))[0]
