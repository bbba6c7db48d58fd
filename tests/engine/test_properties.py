"""What must hold for every house: monotone physics, stricter rules, unknowns, units, robustness, and the two paths.

The expectations are not figures but relations: from physics (more metal carries more; a colder module of negative
coefficient has a higher voltage), from what a parameter declares of itself (``stricter``), from the definition of
the units (test_quantity.py holds those against pint), and from the project's laws. The houses are own inventions.
"""

from __future__ import annotations

import copy
import json
import math
import os
import subprocess
import sys
from collections.abc import Iterator
from decimal import Decimal
from functools import cache
from random import Random
from typing import Any

import attrs
import jsonschema
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import ampcite
import both_ways
import shared
from ampcite import check
from ampcite.authoring.testing import trials
from ampcite.base.editions import WITHDRAWN, ByEdition
from ampcite.base.resources import houses, shipped
from ampcite.engine.bind import bind
from ampcite.engine.rulebook import rulebook_of
from ampcite.house.part_types import list_items, part_types, place, place_field
from ampcite.house.phrase import phrase, write
from ampcite.house.schema import description_schema, forms, resolved
from ampcite.house.write import written
from ampcite.law.records import Pack, Parameter
from ampcite.law.registry import dependencies
from shared import EDITIONS, FOLDERS, PACKS, both, examples, rests_on

Document = dict[str, Any]
seeds = st.integers(0, 2**32 - 1)  # what is drawn with them is not shrunk, and costs little
few = settings(max_examples=examples(60))
some = settings(max_examples=examples(120))
many = settings(max_examples=examples(250))


def rulebook(edition: int) -> ampcite.Rulebook:
    return shared.rulebook(edition, None, "electrical")


def findings_of(document: Document, edition: int = 2020) -> ampcite.Report:
    return check(rulebook(edition), ampcite.read(shared.fitting(written(document))))


# --- houses ------------------------------------------------------------------------------------------------------

DISCONNECT = {
    "role": "pv system disconnect", "kind": "unfused switch", "rated_current": 60, "rated_voltage": 600,
    "load_break": True, "place": "outside", "readily_accessible": True, "handle_height": 66, "distance_to_equipment": 4,
    "in_sight": True, "lockable_open": True, "shows_position": True, "line_terminals_feed": "utility",
    "both_sides_live_when_open": False, "remote_control_distance": None,
}  # fmt: skip
SEGMENT = {"place": "attic", "wiring": "cable", "wet": False, "ambient": 41, "roof_clearance": None,
           "current_carrying_conductors": 4, "length": 25}  # fmt: skip
CIRCUIT = {
    "conductor": {"size": "8 AWG", "material": "copper", "insulation": "THWN-2", "parallel_sets": 1},
    "terminals": [{"place": "the panel", "accepts": "copper only", "temperature": 75}],
    "equipment_ground": {"size": "10 AWG", "material": "copper", "insulation": "bare"}, "base_size": None,
    "enlarged_for": None,
}  # fmt: skip
DEVICE = {"rating": 40, "kind": "breaker", "dc_voltage": None, "continuous_rated": False}


def house(kind: str) -> Document:
    """A house of which everything the rules ask for is said: "strings", "converters" or "microinverters"."""
    electronics: Document = {
        "id": "E1", "make": "Invented", "module": "M1", "modules_per_unit": 1, "max_input_voltage": 66,
        "max_input_current": 16.5, "max_input_power": 470, "max_output_voltage": 62, "string_max_voltage": 540,
        "rated_output_current": 16, "min_units_per_string": 9, "max_units_per_string": 22, "max_string_power": 5700,
        "min_string_power": None, "ac_output_current": 1.33, "ac_voltage": 240, "max_units_per_branch": 12,
        "max_branch_overcurrent": 20, "meets_shutdown_inside_array": True,
    }  # fmt: skip
    converters, micro = kind == "converters", kind == "microinverters"
    electronics["kind"] = "dc-to-dc converter" if converters else "microinverter" if micro else "shutdown device"
    one = {"module": "M1", "electronics": "E1" if converters else None, "modules_in_series": 11, "units": 11}
    dc = {**CIRCUIT, "voltage": 400, "overcurrent": None, "kind": "converter output" if converters else "pv source",
          "segments": [{**SEGMENT, "place": "rooftop", "roof_clearance": 1},
                       {**SEGMENT, "place": "attic", "wet": False}]}  # fmt: skip
    ac = {**CIRCUIT, "voltage": 240, "overcurrent": DEVICE, "segments": [SEGMENT]}
    circuits: list[Document] = [{**dc, "id": "C1", "strings": ["S1"]}, {**dc, "id": "C2", "strings": ["S2", "S3"]},
                                {**ac, "id": "C3", "kind": "inverter output", "inverters": ["INV"]}]  # fmt: skip
    if micro:
        branch = {**ac, "kind": "microinverter branch", "electronics": "E1", "units": 12}
        circuits = [{**branch, "id": "C1", "overcurrent": {**DEVICE, "rating": 20}}, {**branch, "id": "C2"},
                    {**ac, "id": "C3", "kind": "combined output", "inverters": [],
                     "branches": ["C1", "C2"]}]  # fmt: skip
    out: Document = {
        "project": {"name": "An invented house", "dwelling_type": "one-family"},
        "site": {"design_low": -12, "design_low_source": "an invented station", "design_high": 36},
        "modules": [{"id": "M1", "make": "Invented", "max_power": 405, "voc": 41.2, "vmp": 34.1, "isc": 12.4,
                     "imp": 11.8,
                     "voc_coefficient": -0.27, "power_coefficient": -0.34, "cell_technology": "crystalline silicon",
                     "max_system_voltage": 1000, "max_series_fuse": 20}],
        "module_electronics": [electronics],
        "inverters": [] if micro else [
            {"id": "INV", "max_dc_voltage": 550, "mppt_min_voltage": 120, "ac_voltage": 240,
             "ac_configuration": "120/240 V split phase", "max_ac_current": 32, "max_ac_overcurrent": 50,
             "isolating_means": "built-in dc switch",
             "inputs": [{"id": "I1", "max_current": 15, "max_short_circuit_current": 20, "string_fuse": None},
                        {"id": "I2", "max_current": 30, "max_short_circuit_current": 40, "string_fuse": None}]}],
        "strings": [] if micro else [{**one, "id": "S1", "input": "I1"}, {**one, "id": "S2", "input": "I2"},
                                     {**one, "id": "S3", "input": "I2"}],
        "circuits": circuits,
        "service": {"voltage": 240, "voltage_to_neutral": 120, "configuration": "120/240 V split phase"},
        "disconnects": [{**DISCONNECT, "id": "D1", "system": "ac", "equipment": None, "circuit": "C3"},
                        {**DISCONNECT, "id": "D2", "role": "equipment disconnect", "kind": "listed connectors",
                         "system": "ac" if micro else "dc", "equipment": "E1" if micro else "INV", "circuit": "C1"}],
        "working_spaces": [{"condition": 2, "depth": 36, "width": 30, "height": 78,
                            "equipment_width": 20, "equipment_top": 70}],
        "rapid_shutdown": {
            "array_place": "on a building", "provided": True, "listed_system": True, "boundary_distance": 1,
            "entry_distance": 3, "outside_voltage": 24, "outside_time": 25, "outside_power": 180, "inside_voltage": 80,
            "inside_time": 30, "hazard_control": None, "no_exposed_metal": False,
            "distance_to_grounded_metal": 6, "systems_on_service": 1, "initiators_grouped": True,
            "initiators": [{"id": "R1", "kind": "service disconnect", "place": "outside", "readily_accessible": True,
                            "shows_position": True, "stops_everything": True}]},
        "communications": [{"id": "N1", "kind": "twisted-pair ethernet", "length": 120, "separation_from_power": 2,
                            "shares_power_raceway": False, "outdoors": True, "wet_rated": True,
                            "signal_checked": True}],
        "readings": {"strings": [] if micro else [{"string": "S1", "safety_voltage": 11}],
                     "line_to_line": 243, "line_1_to_neutral": 121, "line_2_to_neutral": 122,
                     "dc_before_switch_opened": 30, "reporting_count": 24,
                     "voltage_after_shutdown": 12, "shutdown_time": 20},
    }  # fmt: skip
    return shared.fitting(written(copy.deepcopy(out)))


@cache
def models() -> tuple[Document, ...]:
    """Own houses and the shipped ones."""
    own = [house(k) for k in ("strings", "converters", "microinverters")]
    return (*own, *(json.loads(p.read_text("utf-8-sig")) for p in houses()))


def walk(schema: Document, value: Any, place: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Document]]:
    """Every field a document gives, with its schema: (steps, schema)."""
    shapes = forms(schema)
    if isinstance(value, dict) and "object" in shapes:
        for key, below in value.items():
            sub = shapes["object"].get("properties", {}).get(key, shapes["object"].get("additionalProperties"))
            if isinstance(sub, dict):
                yield (*place, key), resolved(sub)
                yield from walk(sub, below, (*place, key))
    elif isinstance(value, list) and "array" in shapes:
        for i, one in enumerate(value):
            yield from walk(shapes["array"]["items"], one, (*place, i))


def fields(document: Document) -> list[tuple[tuple[Any, ...], Document]]:
    """Without what papers say of the house, which may be of any kind; what one does not print is known."""
    return [(steps, schema) for steps, schema in walk(description_schema(), document) if "says" not in steps]


def at(document: Any, steps: tuple[Any, ...]) -> Any:
    for step in steps:
        document = document[step]
    return document


def types(schema: Document) -> list[str]:
    return list(forms(schema))


def words(schema: Document) -> list[Any]:
    return list(forms(schema)["enum"]["enum"])


def numeric(schema: Document) -> bool:
    return bool({"number", "integer"} & set(types(schema)))


def clipped(value: Any, schema: Document) -> Any:
    """A number brought inside the bounds of its field."""
    shapes = forms(schema)
    number = shapes.get("number") or shapes.get("integer") or {}
    low, above, high = (number.get(k) for k in ("minimum", "exclusiveMinimum", "maximum"))
    if low is not None and value < low:
        value = low
    if above is not None and value <= above:
        value = above + 0.5
    return high if high is not None and value > high else value


@st.composite
def houses_like_the_models(draw: st.DrawFn, changes: int = 12) -> Document:
    """A model house with some facts changed, all still sound: figures moved, words, flags and nulls exchanged."""
    document = copy.deepcopy(draw(st.sampled_from(models())))
    leaves = [(s, sch) for s, sch in fields(document)
              if "refersTo" not in sch and s[-1] != "id" and not {"object", "array"} & set(types(sch))
              and (numeric(sch) or {"enum", "boolean", "null"} & set(types(sch)))]  # fmt: skip
    for _ in range(draw(st.integers(0, changes))):
        steps, schema = draw(st.sampled_from(leaves))
        try:
            holder, key = at(document, steps[:-1]), steps[-1]
            old = holder[key]
        except (KeyError, TypeError):
            continue
        if "null" in types(schema) and draw(st.integers(0, 4)) == 0:
            holder[key] = None
        elif "enum" in types(schema):
            holder[key] = draw(st.sampled_from(words(schema)))
        elif "boolean" in types(schema):
            holder[key] = draw(st.booleans())
        elif numeric(schema) and isinstance(old, int | float):
            factor = draw(st.sampled_from([0.5, 0.75, 0.9, 0.99, 1, 1.01, 1.1, 1.25, 1.5, 2, 4]))
            new = round(old * factor, 4) if "number" in types(schema) else int(old * factor)
            holder[key] = clipped(new, schema)
    return document


def key(finding: ampcite.Finding) -> tuple[str, str]:
    return finding.rule, finding.about


def decided(report: ampcite.Report) -> dict[tuple[str, str], str]:
    """Verdicts that rest on facts: passes, failures, and warnings of broken recommendations."""
    return {key(f): f.verdict.value for f in report.findings
            if f.verdict != "warn" or (f.force == "recommendation" and not f.missing and f.worked)}  # fmt: skip


def test_the_shipped_models_are_fully_described() -> None:
    """Else the properties below would be about little. The smaller own ones leave much open, and shall."""
    for edition in EDITIONS:
        for model in models()[3:]:
            report = findings_of(model, edition)
            assert len(report.findings) > 300
            assert not [(f.rule, f.missing) for f in report.findings if f.missing]


# --- physics -----------------------------------------------------------------------------------------------------

CONDUCTOR = part_types()["circuits"].groups["conductor"].fields
SIZES, INSULATIONS = CONDUCTOR["size"].choices, CONDUCTOR["insulation"].choices
segments = st.fixed_dictionaries({
    "place": st.sampled_from(["rooftop", "outdoors", "attic", "indoors", "underground"]),
    "wiring": st.sampled_from(["raceway", "cable", "single conductors in free air"]), "wet": st.booleans(),
    "ambient": st.floats(-20, 80).map(lambda x: round(x, 1)), "length": st.floats(0, 100).map(lambda x: round(x, 1)),
    "roof_clearance": st.none() | st.floats(0, 3).map(lambda x: round(x, 2)),
    "current_carrying_conductors": st.integers(1, 50),
}).map(lambda one: {k: v for k, v in one.items() if not (
    (k == "roof_clearance" and one["place"] != "rooftop")
    or (k == "ambient" and one["place"] in ("rooftop", "outdoors"))
    or (k == "current_carrying_conductors" and one["wiring"] == "raceway"))})  # fmt: skip


@given(parts=st.lists(segments, min_size=1, max_size=4), material=st.sampled_from(["copper", "aluminum"]),
       insulation=st.sampled_from(INSULATIONS), terminals=st.sampled_from([60, 75, 90, None]),
       current=st.floats(1, 400), sets=st.integers(1, 3), edition=st.sampled_from(EDITIONS))  # fmt: skip
@few
def test_more_metal_never_carries_less(parts: list[Document], material: str, insulation: str, terminals: int | None,
                                       current: float, sets: int, edition: int) -> None:  # fmt: skip
    """All sizes, each in a circuit of its own, the smaller before the larger (the order of the trade's sizes)."""
    conductor = {"material": material, "insulation": insulation, "parallel_sets": sets}
    report = findings_of({"circuits": [
        {"id": size, "kind": "feeder", "declared_current": current, "conductor": {**conductor, "size": size},
         "terminals": [{"temperature": terminals}], "overcurrent": None, "segments": parts}
        for size in SIZES]}, edition)  # fmt: skip
    for rule, figure in (("conductor-too-small-before-correction", "ampacity"),
                         ("conductor-too-small-after-correction", "corrected ampacity")):  # fmt: skip
        by_part = {f.about: f for f in report.of(rule)}
        last = None
        for i in range(len(SIZES)):
            finding = by_part[f"/circuits/{i}"]
            if figure in finding.figures:
                value = finding.figures[figure][0]
                assert last is None or value >= last, (rule, SIZES[i], value, last)
                last = value
            else:
                assert last is None, f"{rule}: {SIZES[i]} carries nothing known, a smaller size {last}"


coefficients = st.one_of(
    st.floats(-1, 0).map(lambda x: round(x, 3)),
    st.floats(-0.5, 0).map(lambda x: f"{round(x, 4)} V/degC"),
    st.integers(-500, 0).map(lambda x: f"{x} mV/K"),
    st.none(),
)


@given(coefficient=coefficients, voc=st.floats(20, 80).map(lambda x: round(x, 2)), series=st.integers(1, 30),
       temperatures=st.lists(st.floats(-60, 60).map(lambda x: round(x, 2)), min_size=2, max_size=8, unique=True),
       edition=st.sampled_from(EDITIONS))  # fmt: skip
@some
def test_colder_never_lowers_the_voltage(coefficient: Any, voc: float, series: int, temperatures: list[float],
                                         edition: int) -> None:  # fmt: skip
    last = None
    for temperature in sorted(temperatures, reverse=True):
        found = findings_of({
            "project": {"dwelling_type": "other"}, "site": {"design_low": temperature},
            "rapid_shutdown": {"array_place": "on a building"},
            "modules": [{"id": "M", "voc": voc, "voc_coefficient": coefficient,
                         "cell_technology": "crystalline silicon"}],
            "strings": [{"id": "S", "module": "M", "electronics": None, "modules_in_series": series}],
        }, edition).of("string-voltage-over-building-limit")  # fmt: skip
        assert len(found) == 1
        if "string voltage" not in found[0].figures:
            assert coefficient is None and temperature < -40, "only the table ends, and only below its last row"
            continue
        voltage = found[0].figures["string voltage"][0]
        assert last is None or voltage >= last, (temperature, voltage, last)
        last = voltage


# --- stricter parameters -----------------------------------------------------------------------------------------


def parameters() -> list[tuple[str, str, str]]:
    """Every parameter that says which way is stricter: (pack, name, way)."""
    return [(key, p.name, p.stricter) for key, pack in PACKS.items() if not pack.authority
            for p in pack.parameters.values() if p.stricter in ("higher", "lower")]  # fmt: skip


def stricter(parameter: Parameter, way: str, share: Decimal) -> Parameter:
    """A parameter moved the stricter way at every edition: by a share of itself, one of yes and no all the way.

    A share of nothing is nothing: from zero a parameter moves by that share of its unit.
    """

    def moved(text: str) -> str:
        if text == WITHDRAWN:
            return text
        if parameter.meaning.startswith("whether "):
            return "1" if way == "higher" else "0"
        value = Decimal(text)
        return f"{value + (abs(value) or 1) * share * (1 if way == 'higher' else -1):f}"

    return attrs.evolve(parameter, value=ByEdition({year: moved(t) for year, t in parameter.value.texts.items()}))


@cache
def family(pack: str) -> tuple[Pack, tuple[Pack, ...]]:
    """A pack and those whose figures it uses."""
    return PACKS[pack], tuple(PACKS[folder.name] for folder in dependencies([FOLDERS[pack]]))


@cache
def resting(pack: str, edition: int) -> dict[str, tuple[str, ...]]:
    """The rules in force that rest on each parameter of a pack, by the words of them and of their quantities."""
    loaded, others = family(pack)
    out: dict[str, list[str]] = {}
    for rule in loaded.rules.values():
        year = both(edition)[rule.code]
        if year in loaded.editions[rule.code] and rule.in_force(year):
            for name in sorted(rests_on([loaded, *others], rule) & loaded.parameters.keys()):
                out.setdefault(name, []).append(rule.id)
    return {name: tuple(rules) for name, rules in out.items()}


def part_of(pack: str, edition: int, rules: tuple[str, ...], parameter: Parameter) -> ampcite.Rulebook:
    """A rulebook of some rules of a pack and the quantities they need, with one parameter put in."""
    loaded, others = family(pack)
    kept = {name: loaded.rules[name] for name in rules}
    everything = {name: d for one in (loaded, *others) for name, d in one.derived.items()}
    names, waiting = set[str](), [path for rule in kept.values() for path in rule.inputs.values()]
    while waiting:
        tail = waiting.pop().rpartition("/")[2]
        if tail in everything and tail not in names:
            names.add(tail)
            waiting += everything[tail].inputs.values()
    loaded, *lent = (attrs.evolve(one, derived={n: d for n, d in one.derived.items() if n in names})
                     for one in (loaded, *others))  # fmt: skip
    loaded = attrs.evolve(loaded, rules=kept, parameters={**loaded.parameters, parameter.name: parameter})
    editions = both(edition)
    bound = bind([loaded, *lent], editions, frozenset(one.name for one in lent))
    return rulebook_of(bound)


@cache
def sample_houses() -> tuple[Document, ...]:
    """Houses to try stricter rules on: the models, and the models with single facts moved a little."""
    out: list[Document] = []
    for model in models():
        out.append(model)
        for n in range(10):
            changed = copy.deepcopy(model)
            for i, (steps, schema) in enumerate(fields(changed)):
                value = at(changed, steps)
                if numeric(schema) and isinstance(value, int | float) and not isinstance(value, bool):
                    factor = (0.4, 0.7, 0.85, 0.93, 1, 1, 1, 1.04, 1.12, 1.3, 1.8, 3)[(i * 7 + n * 5 + i * n) % 12]
                    new = round(value * factor, 3) if "number" in types(schema) else int(value * factor)
                    at(changed, steps[:-1])[steps[-1]] = clipped(new, schema)
                elif "boolean" in types(schema) and (i + n) % 4 == 0:
                    at(changed, steps[:-1])[steps[-1]] = not value
                elif steps[-1] == "temperature":
                    at(changed, steps[:-1])[steps[-1]] = (60, 75, 90, None)[(i + n) % 4]
                elif steps[-1] in ("rooftop", "roof_clearance") and n % 2:
                    at(changed, steps[:-1])[steps[-1]] = 0.5 + 0.05 * (n % 9)
            out.append(changed)
    return tuple(out)


@cache
def read_houses() -> tuple[ampcite.Description, ...]:
    return tuple(ampcite.read(shared.fitting(house)) for house in sample_houses())


def tightens(pack: str, edition: int, rules: tuple[str, ...], before_after: tuple[Parameter, Parameter],
             examples: tuple[str, ...]) -> int:  # fmt: skip
    """How often a stricter figure tells on the houses and on the examples of some rules; none of them is eased."""
    loaded, _ = family(pack)
    before, after = (part_of(pack, edition, rules, parameter) for parameter in before_after)
    years = both(edition)
    places = [ampcite.read(t.document) for rule in examples for t in trials(loaded, loaded.rules[rule])
              if t.edition == years[loaded.rules[rule].code]]  # fmt: skip
    told = 0
    for description in (*read_houses(), *places):
        reports = check(before, description), check(after, description)
        was, now = map(decided, reports)
        eased = [k for k, v in was.items() if v != "pass" and now.get(k) == "pass"]
        assert not eased, (edition, eased, json.dumps(description.document))
        told += sum(v == "pass" and now.get(k) != "pass" for k, v in was.items())
        told += len(reports[0].findings) < len(reports[1].findings)
    return told


def stricter_tells(pack: str, name: str, way: str, at_once: bool) -> int:
    """How often a stricter figure tells, at the editions and by the shares tried.

    Args:
        at_once: whether the first edition and share that tells is enough.
    """
    loaded, _ = family(pack)
    parameter = loaded.parameters[name]
    first = min(parameter.value.texts)
    if parameter.citation.work.code == "building":
        first = min(year for year in EDITIONS if both(year)["building"] >= first)
    tried = [(2017, Decimal("0.2")), (2020, Decimal("0.06"))]
    if first in EDITIONS and first not in (2017, 2020):
        tried.append((first, Decimal("0.2")))
    tried += [(edition, Decimal("0.6")) for edition in EDITIONS if edition >= 2020]
    tightened = 0
    for everywhere in (False, True):
        for edition, share in tried:
            rules = resting(pack, edition).get(name, ())
            if rules and not (at_once and tightened):
                examples = tuple(loaded.rules) if everywhere else rules
                tightened += tightens(pack, edition, rules, (parameter, stricter(parameter, way, share)), examples)
        if tightened:
            break
    return tightened


@pytest.mark.parametrize("parameter", parameters()[::16], ids=" ".join)
def test_a_stricter_parameter_never_lets_more_pass(parameter: tuple[str, str, str]) -> None:
    """On houses, and on the examples of the rules that rest on it, which are only places to stand.

    A few of them at one edition; all of them, at every edition, among the exhaustive tests.
    """
    assert stricter_tells(*parameter, at_once=True), "no house shows that the parameter counts at all"


@pytest.mark.exhaustive
@pytest.mark.parametrize("parameter", parameters(), ids=" ".join)
def test_a_stricter_parameter_lets_no_more_pass_at_any_edition(parameter: tuple[str, str, str]) -> None:
    assert stricter_tells(*parameter, at_once=False), "no house shows that the parameter counts at all"


# --- unknowns ----------------------------------------------------------------------------------------------------


def without(document: Document, steps: tuple[Any, ...]) -> None:
    """Takes a field out of a document, if it is still there; list elements stay, their whole list goes."""
    while steps and (isinstance(steps[-1], int) or steps[-1] in ("all", "only")):
        steps = steps[:-1]
    try:
        here = at(document, steps[:-1])
    except (KeyError, IndexError, TypeError):
        return
    if isinstance(here, dict):  # "?" stands for a list or part that is not stated as a whole
        here.pop(steps[-1], None)


def has_default(steps: tuple[Any, ...]) -> bool:
    """Whether a fact holds in some way where nobody states it."""
    field = place_field("/" + "/".join(map(str, steps)))
    return field is not None and field.default is not None


def presumed(steps: tuple[Any, ...]) -> bool:
    """Whether other facts of its part may say what holds where nobody states a fact."""
    spot = place("/" + "/".join(map(str, steps)))
    return spot.field is not None and any(spot.field.path in one.then for one in spot.part_type.presumed)


def holds_claims(steps: tuple[Any, ...]) -> bool:
    """Whether an object has facts in it that hold in some way where nobody states them, nor the object."""
    spot = place("/" + "/".join(map(str, steps)))
    group = spot.group.path if spot.field is None and spot.group is not None else ""
    fields = spot.part_type.fields.items()
    return group != "" and any(path.startswith(f"{group}/") and f.default is not None for path, f in fields)


def taken_as_empty(steps: tuple[Any, ...]) -> bool:
    """Whether a list may be empty where nobody states it, because all that there is is listed."""
    return any(steps[-1] == path.rpartition("/")[2] for kind in part_types().values() for path in kind.exhaustive)


def unsay(document: Document, steps: tuple[Any, ...]) -> None:
    """Makes a fact one that nobody states: left out, it would be what is said for each part, or taken for granted."""
    while isinstance(steps[-1], int) or steps[-1] in ("all", "only"):
        steps = steps[:-1]
    granted = steps[-1] == "each" or presumed(steps) or taken_as_empty(steps) or holds_claims(steps)
    if "all" not in steps[:-1] and "each" not in steps[:-1] and not granted:
        return without(document, steps)
    try:
        here = at(document, steps[:-1])
    except (KeyError, IndexError, TypeError):
        return
    if isinstance(here, dict) and steps[-1] in here:
        here[steps[-1]] = "?"


def still_sound(document: Document) -> ampcite.Description:
    """Reads a document; references to parts no longer listed are taken out as well."""
    for _ in range(20):
        try:
            return ampcite.read(document)
        except ampcite.InputError as fault:
            for complaint in fault.complaints:
                assert complaint.message.endswith("leave it out") or "no part of this description" in complaint.message
                without(document, tuple(int(s) if s.isdigit() else s for s in complaint.place.split("/")[1:]))
    raise AssertionError("no sound document is left")


@given(fuller=houses_like_the_models(), data=st.data(), edition=st.sampled_from(EDITIONS))
@settings(max_examples=examples(500))
def test_filling_in_an_unknown_never_flips_a_verdict(fuller: Document, data: st.DataObject, edition: int) -> None:
    fuller = shared.fitting(fuller)
    poorer = copy.deepcopy(fuller)
    # What is only ever claimed is known where nobody claims it: it has a default.
    removable = [s for s, _ in fields(fuller) if s[-1] != "id" and not has_default(s)]
    for steps in data.draw(st.lists(st.sampled_from(removable), min_size=1, max_size=25)):
        unsay(poorer, steps)
    less = check(rulebook(edition), still_sound(poorer))
    more = findings_of(fuller, edition)
    verdicts = {key(f): f.verdict.value for f in more.findings}
    aside = {(a.rule, a.about) for a in more.not_applicable}
    for k, verdict in decided(less).items():
        if k[0] == "named-part-not-described" and k not in verdicts:
            continue  # that a name stands for nothing is itself stated; describing the part takes the statement back
        assert k not in aside, (k, "was decided, and is set aside once more is known")
        assert k in verdicts, (k, "was decided, and is not answered once more is known")
        assert verdicts[k] == verdict, (k, verdict, verdicts[k], "flips")
    for one in less.not_applicable:
        assert (one.rule, one.about) in aside, (one, "was set aside, and applies once more is known")


# --- units -------------------------------------------------------------------------------------------------------

# Exact by definition: 1 ft = 12 in = 0.3048 m, 1 in = 25.4 mm, degF = degC * 9 / 5 + 32.
OTHER_UNITS: dict[str, dict[str, Any]] = {
    "ft": {"ft": lambda x: x, "in": lambda x: x * 12, "m": lambda x: x * Decimal("0.3048"),
           "cm": lambda x: x * Decimal("30.48"), "mm": lambda x: x * Decimal("304.8")},
    "in": {"in": lambda x: x, "mm": lambda x: x * Decimal("25.4"), "cm": lambda x: x * Decimal("2.54"),
           "m": lambda x: x * Decimal("0.0254")},
    "degC": {"degC": lambda x: x, "degF": lambda x: x * 9 / 5 + 32},
    "V": {"V": lambda x: x, "mV": lambda x: x * 1000, "kV": lambda x: x / 1000},
    "A": {"A": lambda x: x, "mA": lambda x: x * 1000, "kA": lambda x: x / 1000},
    "W": {"W": lambda x: x, "kW": lambda x: x / 1000},
    "s": {"s": lambda x: x},
}  # fmt: skip


@given(document=houses_like_the_models(), seed=seeds, edition=st.sampled_from(EDITIONS),
       large=st.sampled_from([1, 1, 1, 100_000]))  # fmt: skip
@some
def test_a_quantity_is_the_same_in_any_unit(document: Document, seed: int, edition: int, large: int) -> None:
    said, random = copy.deepcopy(document), Random(seed)
    reached = 0
    for steps, schema in fields(document):
        value, unit = at(document, steps), schema.get("unit")
        if unit not in OTHER_UNITS or types(schema)[:1] != ["number"] or isinstance(value, str) or value is None:
            continue
        if large > 1 and "maximum" not in forms(schema)["number"] and random.random() < 0.1:
            value = at(document, steps[:-1])[steps[-1]] = value * large
        other = random.choice(list(OTHER_UNITS[unit]))
        exact = OTHER_UNITS[unit][other](Decimal(repr(value)))
        at(said, steps[:-1])[steps[-1]] = f"{exact:f} {other}"
        reached += 1
    assert reached > 20
    one, two = findings_of(document, edition), findings_of(said, edition)
    for a, b in zip(one.findings, two.findings, strict=True):
        assert a == b
    assert one.not_applicable == two.not_applicable


# --- any document ------------------------------------------------------------------------------------------------

EXTREME = [0, 1, 1e-300, 5e-324, 1e-9, 1e14, 999_999_999_999_999, 1e6, 2_000_000, 0.1 + 0.2, 1e15 - 1]


@st.composite
def documents(draw: st.DrawFn, sound: bool, share: float = 0.6) -> Document:
    """A document built by walking the schema; a sound one must be accepted, another may hold any fault."""
    ids: dict[str, list[str]] = {}
    wanted: list[tuple[Promise, list[str], bool]] = []
    count = 0
    random = Random(draw(seeds))

    def fault() -> bool:
        return not sound and random.random() < 0.01

    def number(schema: Document) -> Any:
        if fault():
            return random.choice(
                [-1, 1e300, float("nan"), float("inf"), 10**400, True, "1e999 ft", "-300 degC", "12 furlongs"]
            )
        if "integer" in types(schema):
            return int(clipped(random.choice([0, 1, 2, 3, 8, 12, 25, 2020, 1_000_000]), schema))
        value = clipped(random.choice([random.choice(EXTREME), random.randint(0, 60), random.uniform(0, 600)]), schema)
        if forms(schema)["number"].get("maximum") is not None and random.random() < 0.3:
            value = clipped(random.uniform(-60, 60), schema)
        if random.random() < 0.3 and "e" not in repr(float(value)):
            return f"{Decimal(repr(value)):f} {schema.get('unit', '')}".strip()
        return value

    def points(least: int, most: int) -> str:
        """An outline, or a line, as the text of its points: on an ellipse, so that no side crosses another."""
        if least > 2 and random.random() < 0.3:
            return f"{random.randint(1, 60)} x {random.randint(1, 30)} at {random.randint(0, 9)},{random.randint(0, 9)}"
        several = min(most, random.randint(least, least + 4))
        wide, high = random.randint(2, 40), random.randint(2, 20)
        turns = [2 * math.pi * i / several for i in range(several)]
        return " ".join(f"{wide * (1 + math.cos(t)):.2f},{high * (1 + math.sin(t)):.2f}" for t in turns)

    def build(schema: Document, kind: str, name: str) -> Any:
        nonlocal count
        schema, shapes = resolved(schema), forms(schema)
        if fault():
            return random.choice([None, [], {}, "x", 7, [[[]]], {"x": {}}, True, "\x00", "é" * 3000])
        if "null" in shapes and random.random() < 0.15:
            return None
        if "written" in schema:
            below = schema["written"]["properties"].items()
            said = {k: build(v, kind, k) for k, v in below if random.random() < share}
            return write(phrase(schema["written"]), said) or schema["written"]["examples"][0]
        if "enum" in shapes:
            return random.choice(words(schema))
        if "points" in schema:
            return points(*schema["points"])
        if "string" in shapes and "pattern" in shapes["string"] and not numeric(schema):
            return "2026-03-10"
        if "refersTo" in schema:
            wanted.append((Promise(), schema["refersTo"], "array" in shapes))
            return wanted[-1][0]
        if list_items(schema) is not None:
            return rows(schema, shapes, kind)
        if "object" in shapes:
            return members(shapes["object"], kind)
        if "array" in shapes:
            few, most = shapes["array"].get("minItems", 0), shapes["array"].get("maxItems", 3)
            wish = random.choice([0, 1, 1, 2, 3, 4])
            built = [build(shapes["array"]["items"], kind, name) for _ in range(min(max(wish, few), max(most, few)))]
            return list(dict.fromkeys(built)) if shapes["array"].get("uniqueItems") and sound else built
        if numeric(schema):
            return number(schema)
        if "boolean" in shapes:
            return random.random() < 0.5
        if name == "id":
            count += 1
            if fault():
                return random.choice(["", "same", "a/b", "\ud800", "x" * 2001])
            return random.choice(["P", "part ", "{each}", "a\"b'c\\", "ü", "%s"]) + str(count)
        if name == "model":
            return random.choice(["L1", "L2", "nobody's"])
        return random.choice(["", "word", "{length}", "two\nlines", "\u2028", "x" * 150])

    def members(shape: Document, kind: str, every: bool = False) -> Document:
        here = {}
        for k, below in shape.get("properties", {}).items():
            lists = every and (k == "id" or list_items(resolved(below)) is not None)
            if k in ("catalogue", "claims") or lists:
                continue
            if k == "id" or random.random() < share:
                here[k] = build(below, f"{kind}/{k}" if kind else k, k)
                if k == "id":
                    ids.setdefault(kind, []).append(here[k])
        if isinstance(shape.get("additionalProperties"), dict):
            here = {name: build(shape["additionalProperties"], "", "") for name in ("L1", "L2")}
        if fault():
            here[random.choice(["x", "lenght", "", "a/b", "~", "\ud800"])] = 1
        return here

    def rows(schema: Document, shapes: dict[str, Document], kind: str) -> Any:
        part, rows_of = list_items(schema), shapes.get("array") or forms(shapes["object"]["properties"]["all"])["array"]
        assert part is not None
        few, most = rows_of.get("minItems", 0), rows_of.get("maxItems", 3)
        wish = random.choice([0, 1, 1, 2, 3, 4])
        built = [build(part, kind, "") for _ in range(min(max(wish, few), max(most, few)))]
        if "array" in shapes and random.random() < 0.6:
            return built
        each = {"each": members(part, kind, True)} if random.random() < 0.3 else {}
        return {**each, random.choice(["all", "only"]): built}

    document = build(description_schema(), "", "")
    if not isinstance(document, dict):
        return {"broken": document}
    for promise, kinds, several in wanted:
        known = [i for kind in kinds for i in ids.get(kind, ())]
        if fault():
            known = [*known, "nobody", *(i for found in ids.values() for i in found)]
        if several:
            promise.kept = random.sample(known, random.randint(0, min(3, len(known))))
        elif known:
            promise.kept = random.choice(known)
    out: Document = settle(document)
    if not sound:
        return out
    try:
        return shared.fitting(out)
    except ampcite.InputError:
        return out


class Promise:
    """The place of a reference, until it is known which parts there are; one that can't be kept stays None."""

    kept: Any = None


def settle(value: Any) -> Any:
    """Puts references where they were promised; those that could lead nowhere are left out."""
    if isinstance(value, dict):
        return {k: settle(v) for k, v in value.items() if not isinstance(v, Promise) or v.kept is not None}
    if isinstance(value, list):
        return [settle(v) for v in value]
    return value.kept if isinstance(value, Promise) else value


@cache
def outside_validator() -> Any:
    """jsonschema on the published schema, apart from the package's own use of it."""
    schema = json.loads((shipped("schemas") / "description.schema.json").read_text("utf-8"))
    return jsonschema.Draft202012Validator(schema)


def answered(document: Document, edition: int) -> bool:
    """Whether a document gets a report; if not, it got an InputError and nothing else."""
    try:
        description = ampcite.read(document)
    except ampcite.InputError as fault:
        assert fault.complaints
        assert all(c.message for c in fault.complaints)
        return False
    report = check(rulebook(edition), description)
    json.loads(ampcite.to_json(report), parse_constant=lambda word: pytest.fail(f"the report's JSON holds {word}"))
    return True


@given(document=documents(sound=True), edition=st.sampled_from(EDITIONS))
@some
def test_a_sound_document_gets_a_report(document: Document, edition: int) -> None:
    assume(outside_validator().is_valid(document))
    assert answered(document, edition), document


@given(document=documents(sound=True), edition=st.sampled_from(EDITIONS))
@settings(max_examples=examples(32))
def test_a_sound_document_gets_a_review_that_leaves_nothing_out(document: Document, edition: int) -> None:
    assume(outside_validator().is_valid(document))
    assume(answered(document, edition))
    review = ampcite.review(rulebook(edition), ampcite.read(document))
    placed = [id(f) for c in review.comments for f in c.findings] + [id(f) for f in review.looks]
    placed += [id(f) for m in (*review.missing, *review.unbegun) for f in m.findings]
    placed += [id(f) for found in review.later.values() for f in found]
    assert sorted(placed) == sorted(id(f) for f in review.report.findings if f.verdict != "pass")
    assert ampcite.to_text(review) and ampcite.to_text(review, True)


@given(document=documents(sound=False), edition=st.sampled_from(EDITIONS))
@many
def test_any_document_gets_a_report_or_a_clear_refusal(document: Document, edition: int) -> None:
    if answered(document, edition):
        assert outside_validator().is_valid(document), "what the schema refuses is refused"


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=12,
)
tops = sorted(description_schema()["properties"])


@given(document=st.dictionaries(st.sampled_from(tops) | st.text(max_size=12), json_values, max_size=5))
@many
def test_any_json_object_gets_a_report_or_a_clear_refusal(document: Document) -> None:
    answered(document, 2020)


@given(text=st.binary(max_size=200) | json_values.map(json.dumps).map(str.encode))
@some
def test_any_bytes_are_read_or_refused(text: bytes) -> None:
    try:
        ampcite.read(text)
    except ampcite.InputError as fault:
        assert fault.complaints


# --- two paths ---------------------------------------------------------------------------------------------------


def both_agree(book: ampcite.Rulebook, document: Document) -> None:
    """What can't belong where it stands is refused, which is another test's business."""
    try:
        description = ampcite.read(document)
    except ampcite.InputError:
        assume(False)
    both_ways.agree(book, description)


@given(document=houses_like_the_models(), edition=st.sampled_from(EDITIONS))
@many
def test_generated_code_and_closures_agree_on_houses(document: Document, edition: int) -> None:
    both_agree(rulebook(edition), document)


@given(document=documents(sound=True, share=0.85), edition=st.sampled_from(EDITIONS))
@many
def test_generated_code_and_closures_agree_on_any_document(document: Document, edition: int) -> None:
    both_agree(rulebook(edition), document)


@given(document=documents(sound=True, share=0.92), edition=st.sampled_from((2015, 2018, 2021, 2024)))
@many
def test_generated_code_and_closures_agree_on_any_roof(document: Document, edition: int) -> None:
    both_agree(shared.rulebook(edition, ("roof",), "building"), document)


def test_how_many_are_like_something_unknown_is_not_known() -> None:
    """Nobody says in which building the water pipe is, so that nobody knows what else is there."""
    document = {"grounding": {"array_on": "building with the service",
                              "electrodes": {"all": [{"id": "W", "kind": "metal water pipe"}]}}}  # fmt: skip
    both_agree(rulebook(2020), document)
    (finding,) = findings_of(document).of("water-pipe-not-supplemented")
    assert not finding.decided and finding.missing == ("/grounding/electrodes/all/0/building",)


@pytest.mark.parametrize(("resistance", "verdict"), [("2 Mohm", "pass"), ("0.7 Mohm", None), ("0.1 Mohm", "warn")])
def test_a_limit_that_is_one_of_two_decides_where_both_say_the_same(resistance: str, verdict: str | None) -> None:
    """At least 0.5 or 1 megohm is asked by the voltage of the string, which nobody states."""
    document = {"readings": {"strings": {"only": [{"string": "S", "insulation_resistance": resistance}]}}}
    both_agree(rulebook(2020), document)
    (finding,) = findings_of(document).of("insulation-resistance-too-low")
    assert (finding.verdict.value if finding.decided else None) == verdict


@pytest.mark.parametrize("voltage", [5e-324, 1e-310, 1e-300])
def test_figures_stay_finite(voltage: float) -> None:
    """A voltage as small as the schema lets it be, by which something is divided."""
    document = {"circuits": [{"id": "C", "kind": "feeder", "declared_current": 1, "voltage": voltage,
                              "conductor": "10 AWG copper", "segments": [{"length": 100}]}]}  # fmt: skip
    both_agree(rulebook(2020), document)
    assert answered(document, 2020)


# --- the same in, the same out -----------------------------------------------------------------------------------


def shuffled(value: Any, random: Random) -> Any:
    if isinstance(value, dict):
        items = [(k, shuffled(v, random)) for k, v in value.items()]
        random.shuffle(items)
        return dict(items)
    return [shuffled(v, random) for v in value] if isinstance(value, list) else value


@given(document=houses_like_the_models() | documents(sound=True), seed=seeds, edition=st.sampled_from(EDITIONS))
@some
def test_the_order_of_keys_does_not_matter(document: Document, seed: int, edition: int) -> None:
    before = copy.deepcopy(document)
    one = findings_of(document, edition)
    assert document == before, "the document is left as it was"
    assert ampcite.to_json(one) == ampcite.to_json(findings_of(document, edition))
    other = findings_of(shuffled(document, Random(seed)), edition)
    assert one.findings == other.findings
    assert one.not_applicable == other.not_applicable


@pytest.mark.thorough
def test_two_processes_write_the_same_bytes() -> None:
    """Also with another order of hashing, and with packs read anew."""
    program = ("import sys, json, ampcite; d = ampcite.read(json.load(sys.stdin)); "
               "sys.stdout.buffer.write(ampcite.to_json(ampcite.check(ampcite.load(2020), d)).encode())")  # fmt: skip
    poor = house("strings")
    del poor["site"], poor["equipment"]["inverters"]["INV"]["max_dc_voltage"], poor["circuits"][1]["segments"]
    written = {
        subprocess.run([sys.executable, "-c", program], input=json.dumps(poor).encode(), capture_output=True,
                       check=True, env={**os.environ, "PYTHONHASHSEED": seed, "AMPCITE_CACHE": ""}).stdout
        for seed in ("0", "1", "4242")
    }  # fmt: skip
    assert len(written) == 1
    assert b"missing" in written.pop()


def test_public_names_stay_what_they_are_whatever_was_imported() -> None:
    """A module of the same name as a public function must not take its place."""
    program = """
import importlib, pkgutil, types, ampcite
for room in pkgutil.iter_modules(ampcite.__path__):
    importlib.import_module(f"ampcite.{room.name}")
print([name for name in ampcite.__all__ if isinstance(getattr(ampcite, name), types.ModuleType)])
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.stdout == "[]\n", done.stdout + done.stderr[-300:]


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize("house", sorted(p.stem for p in houses()))
def test_a_house_that_is_fully_known_never_needs_the_closures(house: str, edition: int) -> None:
    # The generated functions hand a part over when anything goes wrong; a mistake in them must not hide behind that.
    document = json.loads(next(p for p in houses() if p.stem == house).read_text("utf-8"))
    if house == "plain-strings":  # what other facts decide, and the house so leaves open
        document["readings"]["strings"]["each"]["operating_current"] = None
        document["storage"][0] |= {"distance_to_equipment": 8, "wiring_through_wall": False}
        for device in document["equipment"]["module_electronics"].values():
            device["meets_shutdown_inside_array"] = True
    description = ampcite.read(document)
    book = rulebook(edition)
    assert both_ways.handed_over(book, description) == []
    assert len(check(book, description).findings) > 50
