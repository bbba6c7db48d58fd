"""Units, their exact sizes and dimensions.

Quantities are turned from one unit into another, and the units of every formula of a pack are checked once, by what
stands here. The tests hold all of it to pint, which takes longer to start than a house takes to check.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache
from typing import Any

import attrs

_IN = Fraction(254, 10000)
_LBF = Fraction("4.4482216152605")
# name: (factor to the coherent unit, offset in coherent units)
_UNITS: dict[str, tuple[Fraction, Fraction]] = {
    "": (Fraction(1), Fraction(0)),
    "%": (Fraction(1, 100), Fraction(0)),
    "V": (Fraction(1), Fraction(0)),
    "mV": (Fraction(1, 1000), Fraction(0)),
    "kV": (Fraction(1000), Fraction(0)),
    "A": (Fraction(1), Fraction(0)),
    "mA": (Fraction(1, 1000), Fraction(0)),
    "kA": (Fraction(1000), Fraction(0)),
    "W": (Fraction(1), Fraction(0)),
    "kW": (Fraction(1000), Fraction(0)),
    "Wh": (Fraction(3600), Fraction(0)),
    "kWh": (Fraction(3600000), Fraction(0)),
    "ohm": (Fraction(1), Fraction(0)),
    "Mohm": (Fraction(1000000), Fraction(0)),
    "ohm/kft": (Fraction(1) / (12000 * _IN), Fraction(0)),
    "in": (_IN, Fraction(0)),
    "ft": (12 * _IN, Fraction(0)),
    "mm": (Fraction(1, 1000), Fraction(0)),
    "cm": (Fraction(1, 100), Fraction(0)),
    "m": (Fraction(1), Fraction(0)),
    "km": (Fraction(1000), Fraction(0)),
    "ft2": ((12 * _IN) ** 2, Fraction(0)),
    "m2": (Fraction(1), Fraction(0)),
    "in2": (_IN**2, Fraction(0)),
    "in3": (_IN**3, Fraction(0)),
    "s": (Fraction(1), Fraction(0)),
    "min": (Fraction(60), Fraction(0)),
    "Hz": (Fraction(1), Fraction(0)),
    "deg": (Fraction(1), Fraction(0)),
    "degC": (Fraction(1), Fraction(0)),
    "degF": (Fraction(5, 9), Fraction(-160, 9)),
    "%/degC": (Fraction(1, 100), Fraction(0)),
    "V/degC": (Fraction(1), Fraction(0)),
    "mV/degC": (Fraction(1, 1000), Fraction(0)),
    "lb": (_LBF, Fraction(0)),
    "kg": (Fraction("9.80665"), Fraction(0)),
    "lb/in": (_LBF / _IN, Fraction(0)),
    "psf": (_LBF / (12 * _IN) ** 2, Fraction(0)),
    "mph": (63360 * _IN / 3600, Fraction(0)),
    "m/s": (Fraction(1), Fraction(0)),
    "Pa": (Fraction(1), Fraction(0)),
    "in-lb": (_IN * _LBF, Fraction(0)),
    "W/m2": (Fraction(1), Fraction(0)),
    "cmil": ((_IN / 1000) ** 2, Fraction(0)),
}
# "lb" and "kg" are weights, so that weights, loads and pressures go together.
# "in-lb" is a torque; its dimension is that of energy, which no formula brings together with it.
# "cmil" stands for circular mils, here without a dimension: only ratios of them are ever formed.


def known_units() -> dict[str, Fraction]:
    """The units a pack may use: name to exact size.

    The size is in coherent SI units, but for ``deg`` (a plain 1) and ``cmil`` (a square mil: only ratios are formed).
    """
    return {name: size for name, (size, _) in _UNITS.items()}


@lru_cache(maxsize=1024)
def line(given: str, unit: str) -> tuple[Fraction, Fraction]:
    """What exactly turns a number in one unit into another: multiply by the first, add the second."""
    factor, offset = _UNITS[given]
    factor_out, offset_out = _UNITS[unit]
    return factor / factor_out, (offset - offset_out) / factor_out


UNIT_WORDS = {"degC": "°C", "%/degC": "%/°C", "V/degC": "V/°C", "ft2": "sq ft", "ohm/kft": "ohm/1000 ft",
              "cmil": "circular mils"}  # fmt: skip


def unit_words(name: str) -> str:
    """A unit as it stands after a number, the space included."""
    said = UNIT_WORDS.get(name, name)
    return said if said == "%" or not said else f" {said}"


# units of one dimension, and the powers of which it is made
_GROUPS = {
    ("", "%"): "", ("deg",): "", ("cmil",): "",
    ("in", "ft", "mm", "cm", "m", "km"): "length 1", ("ft2", "m2", "in2"): "length 2", ("in3",): "length 3",
    ("s", "min"): "time 1", ("Hz",): "time -1", ("mph", "m/s"): "length 1, time -1",
    ("lb", "kg"): "length 1, mass 1, time -2", ("lb/in",): "mass 1, time -2",
    ("psf", "Pa"): "length -1, mass 1, time -2",
    ("in-lb",): "length 2, mass 1, time -2", ("Wh", "kWh"): "length 2, mass 1, time -2",
    ("W", "kW"): "length 2, mass 1, time -3", ("W/m2",): "mass 1, time -3",
    ("A", "mA", "kA"): "current 1", ("V", "mV", "kV"): "current -1, length 2, mass 1, time -3",
    ("ohm", "Mohm"): "current -2, length 2, mass 1, time -3", ("ohm/kft",): "current -2, length 1, mass 1, time -3",
    ("degC", "degF"): "temperature 1", ("%/degC",): "temperature -1",
    ("V/degC", "mV/degC"): "current -1, length 2, mass 1, temperature -1, time -3",
}  # fmt: skip
ALIKE: dict[str, tuple[str, ...]] = {name: group for group in _GROUPS for name in group}


def same_dimension(a: str, b: str) -> bool:
    """Whether a number in unit ``a`` may stand where unit ``b`` is asked for."""
    return ALIKE[a] is ALIKE[b]


# --- the dimensions of formulas, at load time only -----------------------------------------------------------


@attrs.frozen(cache_hash=True)
class Unit:
    """A unit that a formula's value has: a name of ours where there is one, its dimension and exact size."""

    name: str
    dimension: tuple[tuple[str, Fraction], ...] = attrs.field(repr=False)
    size: Fraction = attrs.field(repr=False)

    def __reduce__(self) -> tuple[Callable[..., Unit], tuple[Any, ...]]:
        """A unit of ours is kept by its name."""
        return (unit, (self.name,)) if self.name in _UNITS else (Unit, (self.name, self.dimension, self.size))


def _powers(said: str) -> tuple[tuple[str, Fraction], ...]:
    return tuple((base, Fraction(power)) for base, power in (one.split(" ") for one in said.split(", ") if one))


@lru_cache(maxsize=256)
def unit(name: str) -> Unit:
    """The unit of this name. Raises KeyError for a name that is not ours."""
    return Unit(name, _powers(_GROUPS[ALIKE[name]]), _UNITS[name][0])


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
