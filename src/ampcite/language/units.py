"""Units and quantities: the only room that knows pint.

Two jobs. While a description is read, text such as ``"330 ft"``, ``"-8 degF"`` or ``"6 ft 7 in"`` becomes a
number in the unit its field asks for; this uses the exact factors below and never imports pint. While a pack is
loaded, the units of every formula are checked once; this asks pint for the dimensions.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from typing import Any

import attrs

_IN = Fraction(254, 10000)
_LBF = Fraction("4.4482216152605")
# name: (pint's spelling, factor to the coherent unit, offset in coherent units)
_UNITS: dict[str, tuple[str, Fraction, Fraction]] = {
    "": ("dimensionless", Fraction(1), Fraction(0)),
    "%": ("percent", Fraction(1, 100), Fraction(0)),
    "V": ("volt", Fraction(1), Fraction(0)),
    "mV": ("millivolt", Fraction(1, 1000), Fraction(0)),
    "kV": ("kilovolt", Fraction(1000), Fraction(0)),
    "A": ("ampere", Fraction(1), Fraction(0)),
    "mA": ("milliampere", Fraction(1, 1000), Fraction(0)),
    "kA": ("kiloampere", Fraction(1000), Fraction(0)),
    "W": ("watt", Fraction(1), Fraction(0)),
    "kW": ("kilowatt", Fraction(1000), Fraction(0)),
    "Wh": ("watt_hour", Fraction(3600), Fraction(0)),
    "kWh": ("kilowatt_hour", Fraction(3600000), Fraction(0)),
    "ohm": ("ohm", Fraction(1), Fraction(0)),
    "Mohm": ("megaohm", Fraction(1000000), Fraction(0)),
    "ohm/kft": ("ohm / kilofoot", Fraction(1) / (12000 * _IN), Fraction(0)),
    "in": ("inch", _IN, Fraction(0)),
    "ft": ("foot", 12 * _IN, Fraction(0)),
    "mm": ("millimeter", Fraction(1, 1000), Fraction(0)),
    "cm": ("centimeter", Fraction(1, 100), Fraction(0)),
    "m": ("meter", Fraction(1), Fraction(0)),
    "km": ("kilometer", Fraction(1000), Fraction(0)),
    "ft2": ("foot ** 2", (12 * _IN) ** 2, Fraction(0)),
    "m2": ("meter ** 2", Fraction(1), Fraction(0)),
    "in2": ("inch ** 2", _IN**2, Fraction(0)),
    "in3": ("inch ** 3", _IN**3, Fraction(0)),
    "s": ("second", Fraction(1), Fraction(0)),
    "min": ("minute", Fraction(60), Fraction(0)),
    "Hz": ("hertz", Fraction(1), Fraction(0)),
    "deg": ("degree", Fraction(1), Fraction(0)),
    "degC": ("delta_degC", Fraction(1), Fraction(0)),
    "degF": ("delta_degF", Fraction(5, 9), Fraction(-160, 9)),
    "%/degC": ("percent / delta_degC", Fraction(1, 100), Fraction(0)),
    "V/degC": ("volt / delta_degC", Fraction(1), Fraction(0)),
    "mV/degC": ("millivolt / delta_degC", Fraction(1, 1000), Fraction(0)),
    "lb": ("force_pound", _LBF, Fraction(0)),
    "kg": ("force_kilogram", Fraction("9.80665"), Fraction(0)),
    "lb/in": ("force_pound / inch", _LBF / _IN, Fraction(0)),
    "psf": ("force_pound / foot ** 2", _LBF / (12 * _IN) ** 2, Fraction(0)),
    "mph": ("mile / hour", 63360 * _IN / 3600, Fraction(0)),
    "m/s": ("meter / second", Fraction(1), Fraction(0)),
    "Pa": ("pascal", Fraction(1), Fraction(0)),
    "in-lb": ("inch * force_pound", _IN * _LBF, Fraction(0)),
    "W/m2": ("watt / meter ** 2", Fraction(1), Fraction(0)),
    "cmil": ("mil ** 2", (_IN / 1000) ** 2, Fraction(0)),
}
_SAME = {
    "volt": "V", "volts": "V", "Vdc": "V", "Vac": "V", "amp": "A", "amps": "A", "ampere": "A", "amperes": "A",
    "watt": "W", "watts": "W", "ohms": "ohm", "Ω": "ohm", "inch": "in", "inches": "in", '"': "in", "″": "in",
    "foot": "ft", "feet": "ft", "'": "ft", "′": "ft", "meter": "m", "meters": "m", "metre": "m", "metres": "m",
    "sec": "s", "second": "s", "seconds": "s", "minute": "min", "minutes": "min", "percent": "%", "°": "deg",
    "°C": "degC", "C": "degC", "°F": "degF", "F": "degF", "lbs": "lb", "ft^2": "ft2", "sq ft": "ft2",
    "in^2": "in2", "in²": "in2", "sq in": "in2", "in^3": "in3", "in³": "in3", "cu in": "in3",
    "m^2": "m2", "ft²": "ft2", "m²": "m2", "%/°C": "%/degC", "%/C": "%/degC", "%/K": "%/degC",
    "V/°C": "V/degC", "V/C": "V/degC", "V/K": "V/degC", "mV/°C": "mV/degC", "mV/C": "mV/degC", "mV/K": "mV/degC",
    "ohm/1000 ft": "ohm/kft", "MΩ": "Mohm", "lbf-in": "in-lb", "W/m²": "W/m2", "W/m^2": "W/m2",
}  # fmt: skip
# "lb" and "kg" are weights, so that weights, loads and pressures go together.
# "in-lb" is a torque; its dimension is that of energy, which no formula brings together with it.
# "cmil" stands for circular mils: pint has no exact circular mil, and only ratios of areas are ever formed.
_NUMBER = r"[-+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]{1,3})?"
_PART = re.compile(rf"\s*([-+]?[0-9]+[- ][0-9]+/[0-9]+|[-+]?[0-9]+/[0-9]+|{_NUMBER})\s*")


def known_units() -> dict[str, tuple[str, Fraction]]:
    """The units a pack may use: name to (pint's spelling, exact size).

    The size is in coherent SI units, but for ``deg`` (a plain 1) and ``cmil`` (a square mil: only ratios are formed).
    """
    return {name: (pint_name, size) for name, (pint_name, size, _) in _UNITS.items()}


def spelling(unit: str) -> str:
    """The name a unit goes by here, whichever of its usual spellings is given; "" if it has none."""
    unit = unit.strip()
    return unit if unit in _UNITS else _SAME.get(unit, "?")


def _ratio(text: str) -> tuple[int, int]:
    """A written number as numerator and denominator."""
    whole, sign = text.strip(), 1
    if whole[0] in "+-":
        sign, whole = (-1 if whole[0] == "-" else 1), whole[1:]
    if "/" in whole:
        head, _, tail = whole.replace("-", " ").rpartition(" ")
        top, _, bottom = tail.partition("/")
        if int(bottom) == 0:
            raise ValueError("has a fraction with a zero below the line")
        return sign * (int(head or 0) * int(bottom) + int(top)), int(bottom)
    digits, _, power = whole.lower().partition("e")
    left, _, right = digits.partition(".")
    tens = int(power or 0) - len(right)
    top_ = sign * int(left + right)
    return (top_ * 10**tens, 1) if tens >= 0 else (top_, 10**-tens)


@lru_cache(maxsize=1024)
def _line(given: str, unit: str) -> tuple[int, int, int]:
    """What turns a number in one unit into another: multiply by the first, add the second, divide by the third."""
    _, factor, offset = _UNITS[given]
    _, factor_out, offset_out = _UNITS[unit]
    slope, shift = factor / factor_out, (offset - offset_out) / factor_out
    return (slope.numerator * shift.denominator, shift.numerator * slope.denominator,
            slope.denominator * shift.denominator)  # fmt: skip


_UNIT_WORDS = {"degC": "°C", "%/degC": "%/°C", "V/degC": "V/°C", "ft2": "sq ft", "ohm/kft": "ohm/1000 ft",
               "cmil": "circular mils"}  # fmt: skip


def unit_words(name: str) -> str:
    """A unit as it stands after a number, the space included."""
    said = _UNIT_WORDS.get(name, name)
    return said if said == "%" or not said else f" {said}"


@lru_cache(maxsize=4096)
def read_quantity(text: str, unit: str) -> float:
    """A quantity written as text, in ``unit``; kept for the next description, since the same texts come again.

    ``text`` is a number with a unit of the same dimension, a bare number (then in ``unit``), or two parts of one
    length (``"6 ft 7 in"``). The conversion is exact; one rounding to a float ends it.

    Raises:
        ValueError: with a clause that says what was wrong and what would do.
    """
    if len(text) > 100:
        raise ValueError(f"is {len(text)} characters long; a quantity is a number with a unit")
    top, bottom, place, parts = 0, 1, 0, 0
    while place < len(text):
        found = _PART.match(text, place)
        if not found:
            raise ValueError(f'is not a number with a unit; write it like "{("12 " + unit).strip()}"')
        start = found.end()
        stop = start
        while stop < len(text) and not (text[stop].isspace() and _PART.match(text, stop)):
            stop += 1
        name = text[start:stop].strip()
        given = unit if not name and not parts and stop == len(text) else spelling(name) if name else "?"
        if given == "?":
            raise ValueError(f'has the unit "{name[:20]}", which is not known here; {_like(unit)}')
        if not same_dimension(given, unit):
            raise ValueError(f"is in {given}; {_like(unit)}")
        if parts and (unit not in ("ft", "in", "m") or parts > 1 or found.group(1)[0] in "+-"):
            raise ValueError("has more parts than a quantity has")
        number, over = _ratio(found.group(1))
        slope, shift, under = _line(given, unit)
        part, under = number * slope + shift * over, over * under
        sign = -1 if parts and text.lstrip().startswith("-") else 1
        top, bottom = top * under + sign * part * bottom, bottom * under
        parts += 1
        place = stop
    if not parts:
        raise ValueError(f"is empty; {_like(unit)}")
    try:
        return top / bottom
    except OverflowError:
        raise ValueError("is too large a number") from None


_KIND = {
    "V": "voltage", "A": "current", "W": "power", "kWh": "energy", "ohm": "resistance", "ft": "length", "in": "length",
    "degC": "temperature", "%/degC": "percent a degree", "V/degC": "volts a degree", "s": "time", "ft2": "area",
    "lb": "weight", "in2": "area", "in3": "volume",
}  # fmt: skip
_GROUPS = (
    ("", "%"), ("V", "mV", "kV"), ("A", "mA", "kA"), ("W", "kW"), ("Wh", "kWh"), ("ohm", "Mohm"), ("ohm/kft",),
    ("in", "ft", "mm", "cm", "m", "km"), ("ft2", "m2", "in2"), ("in3",), ("cmil",), ("s", "min"), ("Hz",),
    ("deg",), ("degC", "degF"), ("%/degC",), ("V/degC", "mV/degC"), ("lb", "kg"), ("lb/in",), ("psf", "Pa"),
    ("mph", "m/s"), ("in-lb",), ("W/m2",),
)  # fmt: skip
_GROUP = {name: group for group in _GROUPS for name in group}


def _like(unit: str) -> str:
    names = ", ".join(name for name in _GROUP[unit] if name) or "no unit"
    return f"this field takes {_KIND.get(unit, 'a number')} in {names}"


def same_dimension(a: str, b: str) -> bool:
    """Whether a number in unit ``a`` may stand where unit ``b`` is asked for (exactly, without pint)."""
    return _GROUP[a] is _GROUP[b]


# --- the dimensions of formulas, at load time only -----------------------------------------------------------


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


@attrs.frozen
class Unit:
    """A unit that a formula's value has: a name of ours where there is one, its dimension and exact size."""

    name: str
    dimension: tuple[tuple[str, Fraction], ...] = attrs.field(repr=False)
    size: Fraction = attrs.field(repr=False)


def _key(dimensionality: Any) -> tuple[tuple[str, Fraction], ...]:
    return tuple(sorted((str(k), Fraction(v).limit_denominator(8)) for k, v in dict(dimensionality).items() if v))


@lru_cache(maxsize=256)
def unit(name: str) -> Unit:
    """The unit of this name. Raises KeyError for a name that is not ours."""
    pint_name, size, _ = _UNITS[name]
    return Unit(name, _key(_registry().Unit(pint_name).dimensionality) if name else (), size)


def _combine(a: Unit, b: Unit, sign: int) -> Unit:
    powers: dict[str, Fraction] = dict(a.dimension)
    for base, power in b.dimension:
        powers[base] = powers.get(base, Fraction(0)) + sign * power
    dimension = tuple(sorted((base, power) for base, power in powers.items() if power))
    size = a.size * b.size if sign > 0 else a.size / b.size
    for name in ("", "V", "A", "W", "ohm", "ft", "degC", "%/degC", "V/degC", "ohm/kft", "ft2", "s", "lb", "psf"):
        known = unit(name)
        if known.dimension == dimension:
            return known
    return Unit(f"{a.name}{'*' if sign > 0 else '/'}{b.name}", dimension, size)


def product(a: Unit, b: Unit) -> tuple[Unit, Fraction]:
    """The unit of a product, and what the plain product of the numbers is multiplied by to be in it."""
    if not a.dimension and a.size == 1:
        return b, Fraction(1)
    if not b.dimension and b.size == 1:
        return a, Fraction(1)
    if a.name == "%":
        return b, a.size
    if b.name == "%":
        return a, b.size
    out = _combine(a, b, 1)
    return out, a.size * b.size / out.size


def quotient(a: Unit, b: Unit) -> tuple[Unit, Fraction]:
    """The unit of a quotient, and what the plain quotient of the numbers is multiplied by to be in it."""
    if not b.dimension and b.size == 1:
        return a, Fraction(1)
    if b.name == "%":
        return a, 1 / b.size
    out = _combine(a, b, -1)
    return out, a.size / b.size / out.size
