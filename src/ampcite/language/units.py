"""Units, their sizes and dimensions: the only room that knows pint.

Two jobs. Quantities are turned from one unit into another by the exact factors below, which never import pint.
While a pack is loaded, the units of every formula are checked once; this asks pint for the dimensions.
"""

from __future__ import annotations

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
# "lb" and "kg" are weights, so that weights, loads and pressures go together.
# "in-lb" is a torque; its dimension is that of energy, which no formula brings together with it.
# "cmil" stands for circular mils: pint has no exact circular mil, and only ratios of areas are ever formed.


def known_units() -> dict[str, tuple[str, Fraction]]:
    """The units a pack may use: name to (pint's spelling, exact size).

    The size is in coherent SI units, but for ``deg`` (a plain 1) and ``cmil`` (a square mil: only ratios are formed).
    """
    return {name: (pint_name, size) for name, (pint_name, size, _) in _UNITS.items()}


@lru_cache(maxsize=1024)
def line(given: str, unit: str) -> tuple[Fraction, Fraction]:
    """What exactly turns a number in one unit into another: multiply by the first, add the second."""
    _, factor, offset = _UNITS[given]
    _, factor_out, offset_out = _UNITS[unit]
    return factor / factor_out, (offset - offset_out) / factor_out


UNIT_WORDS = {"degC": "°C", "%/degC": "%/°C", "V/degC": "V/°C", "ft2": "sq ft", "ohm/kft": "ohm/1000 ft",
              "cmil": "circular mils"}  # fmt: skip


def unit_words(name: str) -> str:
    """A unit as it stands after a number, the space included."""
    said = UNIT_WORDS.get(name, name)
    return said if said == "%" or not said else f" {said}"


_GROUPS = (
    ("", "%"), ("V", "mV", "kV"), ("A", "mA", "kA"), ("W", "kW"), ("Wh", "kWh"), ("ohm", "Mohm"), ("ohm/kft",),
    ("in", "ft", "mm", "cm", "m", "km"), ("ft2", "m2", "in2"), ("in3",), ("cmil",), ("s", "min"), ("Hz",),
    ("deg",), ("degC", "degF"), ("%/degC",), ("V/degC", "mV/degC"), ("lb", "kg"), ("lb/in",), ("psf", "Pa"),
    ("mph", "m/s"), ("in-lb",), ("W/m2",),
)  # fmt: skip
ALIKE: dict[str, tuple[str, ...]] = {name: group for group in _GROUPS for name in group}


def same_dimension(a: str, b: str) -> bool:
    """Whether a number in unit ``a`` may stand where unit ``b`` is asked for (exactly, without pint)."""
    return ALIKE[a] is ALIKE[b]


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
