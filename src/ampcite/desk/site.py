"""The sheet for the day on site, computed for one house: what to read, see and photograph, in safe order by place."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import attrs
import tomli

from ampcite.desk.bands import Band, band
from ampcite.desk.readings import MAKER, features, readings_of, skeleton
from ampcite.engine.rulebook import Rulebook
from ampcite.house.part_types import Field, part_types, place_field
from ampcite.house.parts import Description, Part
from ampcite.house.read import read
from ampcite.language.logic import ABSENT
from ampcite.language.printing import sentence
from ampcite.language.units import unit_words
from ampcite.letters.compare import said
from ampcite.letters.form import filled
from ampcite.letters.sheets import ORDER, site_place
from ampcite.reviewing.bench import Bench
from ampcite.reviewing.comments import review

DONE, NUMBER, TEXT, DAY, FLAG, CHOICE = "done", "number", "text", "day", "flag", "choice"
"""How a line is filled in: ticked; with a number, words, a day, yes or no, one of some words."""

PLACES = ("before leaving", "arriving", "service equipment", "roof", "attic and walls", "inverter", "terminals",
          "router", "start", "loss of the utility", "shutdown", "backup", "leaving")  # fmt: skip
"""The places in safe order; what an eye has to tell comes after them, by its own place."""

EYE = "eye: "
"""What the place of a question for the eye begins with."""

CELLS = (-10, 0, 10, 20, 30, 40, 50, 60)
"""The cell temperatures, in degrees Celsius, for which the open-circuit voltage of a string is printed."""


@attrs.frozen
class Line:
    """One line of the sheet.

    Attributes:
        id: what a filled-in sheet knows it by: where the fact stands in a description; of a tick, its number.
        place: where on the site.
        what: to read or look at.
        kind: how it is filled in.
        expected: in words, what is in order; "" where the rules ask for no more than that it is stated.
        unit: of a number.
        choices: of a choice.
        photo: whether to take a picture.
        caution: what to mind first.
        of: which of several alike it is about, such as one string or type of terminal; "" where it stands alone.
        asked: what the maker asks there.
        name: in few words, what a long question is about.
    """

    id: str
    place: str
    what: str
    kind: str
    expected: str = ""
    unit: str = ""
    choices: tuple[str, ...] = ()
    photo: bool = False
    caution: str = ""
    of: str = ""
    asked: str = ""
    name: str = ""

    @property
    def says(self) -> str:
        """The whole of it in one phrase."""
        return f"{self.what}{f', {self.asked} asked' if self.asked else ''}{f': {self.of}' if self.of else ''}"


@attrs.frozen
class SiteSheet:
    """The sheet of one house.

    Attributes:
        title: which house.
        cautions: what stands at the head.
        lines: in the order of work, those of one place together.
        fixed: the readings that are not asked because they can't be of such a house, in plain form.
    """

    title: str
    cautions: tuple[str, ...]
    lines: tuple[Line, ...]
    fixed: Mapping[str, Any]


def site_sheet(rulebook: Rulebook, description: Description) -> SiteSheet:
    """The sheet for the day on site.

    Args:
        rulebook: from :func:`ampcite.load`.
        description: of the house as planned; readings and observations in it are left aside.
    """
    steps = _steps()
    fixed, nominal = skeleton(description)
    document = {key: value for key, value in description.document.items() if key not in ("readings", "observations")}
    trial = read({**document, "stage": "handover", **readings_of(nominal)}, "description", description.catalogue)
    bench = Bench(rulebook, trial)
    has = features(description)
    lines = [line for i, step in enumerate(steps["step"]) if set(step.get("only", ())) <= has
             for line in _lines(i, step, bench, fixed)]  # fmt: skip
    lines = sorted([*_planned(description), *lines], key=lambda line: PLACES.index(line.place))
    lines += _looks(rulebook, description, document)
    project = description.whole.facts
    title = ", ".join(str(project[key]) for key in ("project/name", "project/address") if key in project)
    return SiteSheet(title or description.source, tuple(steps["cautions"]), tuple(lines), fixed)


def _steps() -> Mapping[str, Any]:
    return tomli.loads(Path(__file__).with_name("site_steps.toml").read_text("utf-8"))


# --- lines ---------------------------------------------------------------------------------------------------------


def _lines(number: int, step: Mapping[str, Any], bench: Bench, fixed: Mapping[str, Any]) -> Iterator[Line]:
    """The lines of a step: one, or one for each row of a list."""
    shared = {"place": step["place"], "photo": step.get("photo", False), "caution": step.get("caution", "")}
    if "field" not in step:
        yield Line(f"done/{number}", what=step["says"], kind=DONE, **shared)
        return
    path = step["field"].removeprefix("readings/")
    if "/*/" not in path:
        field = part_types()[""].fields[step["field"]]
        group, _, leaf = path.partition("/")
        if (leaf and fixed.get(group, {}) is None) or (not leaf and path in fixed):
            return
        yield _line(path, step["says"], field, bench, bench.house.whole, step["field"], shared)
        return
    key, _, leaf = path.partition("/*/")
    kind = f"readings/{key}"
    parts = bench.house.parts[kind] or ()
    for i, row in enumerate(fixed.get(key, ())):
        if leaf not in row:
            about = next(value for name, value in row.items() if name in _NAMES)
            part = parts[i] if i < len(parts) else None
            alike = {"of": str(about), "asked": _asked(part, leaf), **shared}
            yield _line(f"{key}/{i}/{leaf}", step["says"], part_types()[kind].fields[leaf], bench, part, leaf, alike)


def _asked(part: Part | None, path: str) -> str:
    """What the maker asks for a reading at a terminal, in words."""
    for asks, done, _ in MAKER:
        value = part.facts.get(asks) if part is not None and part.kind == "readings/torque" and done == path else None
        if isinstance(value, int | float):
            field = part_types()["readings/torque"].fields[asks]
            metric = round(value * MM) if field.unit == "in" and not float(16 * value).is_integer() else 0
            of_marking = metric and math.isclose(value * MM, metric, rel_tol=1e-3)
            return f"{metric} mm ({value:.2f} in)" if of_marking else said(value, field)
    return ""


MM = 25.4
"""Millimeters in an inch; makers of terminals give the length to strip in the one or the other."""


_NAMES = ("string", "inverter", "plane", "point", "array", "place", "kind")
"""The fields that say what a row of readings is about."""


def _line(ident: str, what: str, field: Field, bench: Bench, part: Part | None, path: str,
          shared: Mapping[str, Any]) -> Line:  # fmt: skip
    kind = {"number": NUMBER, "flag": FLAG}.get(field.kind, CHOICE if field.choices else TEXT)
    if field.kind == "text" and field.path.endswith("_on"):
        kind = DAY
    expected = _expected(bench, part, path, field) if kind == NUMBER and part is not None else ""
    choices = tuple(map(str, field.choices)) if kind == CHOICE else ()
    unit = unit_words(field.unit).strip() if kind == NUMBER else ""
    return Line(f"readings/{ident}", what=what, kind=kind, expected=expected, unit=unit, choices=choices, **shared)


LINES = ("readings/line_to_line", "readings/line_1_to_neutral", "readings/line_2_to_neutral")
"""Readings that rise and fall together."""


def _expected(bench: Bench, part: Part, path: str, field: Field) -> str:
    """In which band a reading is in order, in words; strings are alike, and currents follow the light."""
    near = part.facts.get(path)
    if not isinstance(near, int | float) or path == "cell_temperature":
        return ""
    alike = [p for p in bench.house.parts[part.kind] or () if part.pointer and p is not part]
    if path == "open_circuit_voltage":
        return _by_temperature(bench, part, near, alike, field)
    together = {(p, path): p.facts[path] for p in alike if path in ("short_circuit_current", "irradiance")}
    if path == "irradiance":
        together |= {(p, "short_circuit_current"): p.facts["short_circuit_current"] for p in (part, *alike)}
    if path in LINES:
        together |= {(part, other): part.facts[other] for other in LINES
                     if other != path and isinstance(part.facts.get(other), int | float)}  # fmt: skip
    said = in_words(band(bench, (part, path), near, together), field)
    light = part.facts.get("irradiance")
    return f"{said} at {light:g} W/m2, and in proportion" if said and path == "short_circuit_current" else said


def _by_temperature(bench: Bench, part: Part, near: float, alike: Sequence[Part], field: Field) -> str:
    """The open-circuit voltage of a string by the temperature of its cells."""
    out = []
    for cell in CELLS:
        beside = {(p, "cell_temperature"): float(cell) for p in (part, *alike)}
        for share in (1.0, 1.03, 0.97, 1.06, 0.94, 1.09, 0.91, 1.12, 0.88, 1.15, 0.85):
            together = {(p, "open_circuit_voltage"): p.facts["open_circuit_voltage"] * share for p in alike}
            found = band(bench, (part, "open_circuit_voltage"), near * share, together, beside)
            if found is not None:
                out.append(f"{cell * 9 / 5 + 32:g} °F ({cell} °C) {in_words(found, field)}")
                break
    return f"by cell temperature: {'; '.join(out)}" if out else ""


def in_words(found: Band | None, field: Field) -> str:
    """A band as a crew reads it, rounded to the inside."""
    if found is None or found == (None, None):
        return ""
    low_text, high_text = _rounded(found[0], math.ceil), _rounded(found[1], math.floor)
    unit = unit_words(field.unit)
    if low_text and high_text:
        return f"{low_text}{unit}" if low_text == high_text else f"{low_text} to {high_text}{unit}"
    return f"{low_text}{unit} or more" if low_text else f"{high_text}{unit} or less"


def _rounded(value: float | None, towards: Any) -> str:
    """Tenths, of small numbers hundredths, rounded to the inside of a band; what is round already stays so."""
    if value is None:
        return ""
    digits = 1 if abs(value) >= 10 else 2
    if math.isclose(value, round(value, digits), rel_tol=1e-9, abs_tol=1e-9):
        near = round(value, digits)
    else:
        near = towards(value * 10**digits) / 10**digits
    return f"{near:g}" if abs(near) < 1e5 else f"{near:.0f}"


PLANNED = (
    ("roof/arrays", "roof", "Attachments of {label}: number, spacing, in framing, flashed",
     (("attachments", "{}"), ("attachment_spacing", "at most {} apart"))),
    ("raceways", "attic and walls", "{label}: run, supports, entries",
     (("kind", "{}"), ("trade_size", "trade size {}"))),
    ("clearances", "inverter", "Space around {of}{from}",
     (("asked", "{} or more"), ("asked_by", "asked by the {}"), ("distance", "planned {}"))),
    ("communications", "router", "{label}: run, length left, link to the monitoring",
     (("kind", "{}"), ("length", "planned {}"))),
)  # fmt: skip
"""What is held against the plan: kind of part, place, what to look at, and what the plan says of it."""


def _planned(description: Description) -> Iterator[Line]:
    """What is there to be held against the plan, with what the plan says."""
    for kind, place, says, facts in PLANNED:
        fields = part_types()[kind].fields
        for i, part in enumerate(description.parts[kind] or ()):
            words = [how.replace("{}", said(part.facts[path], fields[path]))
                     for path, how in facts if path in part.facts and part.facts[path] is not ABSENT]  # fmt: skip
            label = {"label": sentence(part.label), "of": str(part.facts.get("equipment", part.label)),
                     "from": f": {part.facts['from']}" if part.facts.get("from") else ""}  # fmt: skip
            yield Line(f"done/{kind}/{i}", place, filled(says, label), DONE, ", ".join(words))


def _looks(rulebook: Rulebook, description: Description, document: Mapping[str, Any]) -> Iterator[Line]:
    """What only an eye can tell: the questions that rules ask once nothing has been looked at."""
    bare = read({**document, "stage": "handover"}, "description", description.catalogue)
    found = review(rulebook, bare, stage="handover")
    seen: set[str] = set()
    for f in sorted(found.looks, key=lambda f: ORDER.index(site_place(f)) if site_place(f) in ORDER else len(ORDER)):
        for pointer in f.missing:
            field = place_field(pointer)
            if field is None or pointer in seen or not pointer.startswith("/observations/"):
                continue
            seen.add(pointer)
            yield Line(pointer.lstrip("/"), f"{EYE}{site_place(f)}", f.asks, CHOICE, name=field.title,
                       choices=tuple(map(str, field.choices)), photo="photo" in f.asks.lower())  # fmt: skip
