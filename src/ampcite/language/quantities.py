"""Quantities as people write them: text such as ``"330 ft"``, ``"−8 °F"``, ``"10.5 VDC"`` or ``5'-2 1/2"`` becomes a
number in the unit its field asks for, exactly, or is refused with a sentence that says what would do.

No text is ever read as another figure than the one that stands there: two figures, a range, a fraction of anything
but a length, and feet beside too many inches are refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache

from ampcite.language.units import ALIKE, UNIT_WORDS, line, same_dimension

_SAME = {
    "volt": "V", "volts": "V", "amp": "A", "amps": "A", "ampere": "A", "amperes": "A",
    "watt": "W", "watts": "W", "Wp": "W", "kWp": "kW", "ohms": "ohm", "Ω": "ohm", "inch": "in", "inches": "in",
    '"': "in", "foot": "ft", "feet": "ft", "'": "ft", "meter": "m", "meters": "m", "metre": "m", "metres": "m",
    "sec": "s", "second": "s", "seconds": "s", "minute": "min", "minutes": "min", "percent": "%", "°": "deg",
    "degree": "deg", "degrees": "deg", "°C": "degC", "C": "degC", "deg C": "degC", "degrees C": "degC",
    "Celsius": "degC", "°F": "degF", "F": "degF", "deg F": "degF", "degrees F": "degF", "Fahrenheit": "degF",
    "lbs": "lb", "pounds": "lb", "ft^2": "ft2", "sq ft": "ft2", "square feet": "ft2", "sqft": "ft2",
    "in^2": "in2", "in²": "in2", "sq in": "in2", "in^3": "in3", "in³": "in3", "cu in": "in3",
    "m^2": "m2", "ft²": "ft2", "m²": "m2", "%/C": "%/degC", "%/K": "%/degC",
    "V/C": "V/degC", "V/K": "V/degC", "mV/°C": "mV/degC", "mV/C": "mV/degC", "mV/K": "mV/degC",
    "MΩ": "Mohm", "megohm": "Mohm", "megohms": "Mohm", "lbf-in": "in-lb", "lb-in": "in-lb", "in-lbf": "in-lb",
    "in-lbs": "in-lb", "W/m²": "W/m2", "W/m^2": "W/m2", "lb/sq ft": "psf", "lb/ft2": "psf", "lb/ft²": "psf",
    **{printed: name for name, printed in UNIT_WORDS.items()},
}  # fmt: skip
_AS_TYPED = frozenset({"mV", "mA", "mV/degC", "Mohm"})
"""Units that capitals tell apart from others a thousand or a million times their size."""

_TYPED = str.maketrans({
    "−": "-", "–": "-", "⁄": "/", "’": "'", "′": "'", "‘": "'", "”": '"', "″": '"', "“": '"', "º": "°", "\u2126": "Ω",
    "℃": "°C", "℉": "°F",
})  # fmt: skip
"""What printing, word processors and phones put for a plain sign."""

_VULGAR = {"½": (1, 2), "⅓": (1, 3), "⅔": (2, 3), "¼": (1, 4), "¾": (3, 4), "⅕": (1, 5), "⅖": (2, 5), "⅗": (3, 5),
           "⅘": (4, 5), "⅙": (1, 6), "⅚": (5, 6), "⅛": (1, 8), "⅜": (3, 8), "⅝": (5, 8), "⅞": (7, 8)}  # fmt: skip
_PARTED = "".join(_VULGAR)
_WHOLE = r"(?:[1-9][0-9]{0,2}(?:,[0-9]{3})+|[0-9]+)"
_DECIMAL = rf"(?:{_WHOLE}(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?"
_NUMBER = (
    rf"(?:(?:({_WHOLE})(?:\s+|-|(?=[{_PARTED}])))?(?:([0-9]+)/([0-9]+)|([{_PARTED}]))|({_DECIMAL}))"
    rf"(?![0-9,/{_PARTED}]|\.[0-9])"
)
_ONE = rf"\s*([-+]?)\s?{_NUMBER}\s*(.*?)\s*"
_TWO = rf"(?i)\s*([-+]?)\s?({_WHOLE})\s*(ft\.?|feet|foot|'|m|meters?|metres?)\s*-?\s*{_NUMBER}\s*([a-z.\"]+)\s*"
_PLAIN = re.compile(r"([0-9]+(?:\.[0-9]+)?) ([A-Za-z]+)")
"""What most quantities look like. The others are compiled when something else is read."""
_NEXT = {"ft": {"in": 12}, "m": {"cm": 100, "mm": 1000}}
"""The unit that may follow another in one length, and how many of it make up one of that other."""
_CURRENT = re.compile(r"(V|kV|mV|A|mA|kA|W|kW|volts?|amps?|amperes?|watts?)[ -]?(?:dc|ac)", re.IGNORECASE)
_LARGEST_POWER = 400


def spelling(unit: str) -> str:
    """The name a unit goes by here, whichever of its usual spellings is given; "?" if it has none."""
    unit = re.sub(r"(?<=[A-Za-z])\.", "", " ".join(unit.split())).replace("° ", "°")
    if current := _CURRENT.fullmatch(unit):
        unit = current.group(1)
    if unit in ALIKE:
        return unit
    if unit in _SAME:
        return _SAME[unit]
    folded = _folded().get(unit.casefold(), "?")
    return "?" if folded in _AS_TYPED else folded


@lru_cache(maxsize=1)
def _folded() -> dict[str, str]:
    names = {name: name for name in ALIKE if name} | _SAME
    return {given.casefold(): name for given, name in names.items()}


@lru_cache(maxsize=4096)
def read_quantity(text: str, unit: str) -> float:
    """A quantity written as text, in ``unit``; kept for the next description, since the same texts come again.

    ``text`` is a number with a unit of the same dimension, a bare number (then in ``unit``), or a length in feet and
    inches (or metres and centimetres). Only lengths have fractions. The conversion is exact; one rounding to a float
    ends it.

    Raises:
        ValueError: with a clause that says what was wrong and what would do.
    """
    if len(text) > 100:
        raise ValueError(f"is {len(text)} characters long; a quantity is a number with a unit")
    if (simple := _PLAIN.fullmatch(text)) and simple[2] == unit:
        return float(simple[1])
    plain = text.translate(_TYPED).replace("''", '"')
    if not plain.strip():
        raise ValueError(f"is empty; {_like(unit)}")
    total = sum((_converted(number, given, unit) for number, given in _parts(plain, unit)), Fraction(0))
    try:
        value = float(total)
    except OverflowError:
        raise ValueError("is too large a number") from None
    if total and not value:
        raise ValueError("is too small a number")
    return value


def _parts(text: str, unit: str) -> Iterator[tuple[Fraction, str]]:
    """The numbers of a quantity and the units they are in, each checked: one, or two of one length."""
    if two := re.fullmatch(_TWO, text):
        sign, whole, first, *number, second = two.groups()
        above, below = spelling(first), spelling(second)
        if below in _NEXT[above]:
            many = _NEXT[above][below]
            if not same_dimension(above, unit):
                raise ValueError(f"is in {above}; {_like(unit)}")
            small = _number(number, below)
            if small >= many:
                said = f"has {float(small):g} {below} beside {whole} {above}"
                raise ValueError(f"{said}; less than {many} {below} can stand there")
            way = -1 if sign == "-" else 1
            yield way * _whole(whole), above
            yield way * small, below
            return
    one = re.fullmatch(_ONE, text, re.DOTALL)
    if one is None:
        raise ValueError(_why(text, unit))
    sign, *number, name = one.groups()
    given = spelling(name) if name else unit
    if given == "?":
        raise ValueError(_unknown(name, unit))
    if not same_dimension(given, unit):
        raise ValueError(f"is in {given}; {_like(unit)}")
    yield (-1 if sign == "-" else 1) * _number(number, given), given


def _number(found: list[str | None], unit: str) -> Fraction:
    """A number without its sign, of the groups that its pattern found."""
    whole, top, bottom, vulgar, decimal = found
    if decimal is not None:
        digits, _, power = decimal.replace(",", "").lower().partition("e")
        if power and abs(int(power)) > _LARGEST_POWER:
            raise ValueError(f"is too {'small' if power[0] == '-' else 'large'} a number")
        return Fraction(digits.rstrip(".")) * Fraction(10) ** int(power or 0)
    above, below = _VULGAR[vulgar] if vulgar else (int(top or 0), int(bottom or 0))
    if below == 0:
        raise ValueError("has a fraction with a zero below the line")
    if not same_dimension(unit, "in"):
        raise ValueError(_slashed(unit))
    if above >= below:
        raise ValueError("has a fraction that is not less than one; write the whole number apart, such as 5 1/2")
    return (_whole(whole) if whole else 0) + Fraction(above, below)


def _whole(text: str) -> Fraction:
    return Fraction(text.replace(",", ""))


def _converted(number: Fraction, given: str, unit: str) -> Fraction:
    slope, shift = line(given, unit)
    return number * slope + shift


# --- what is said of a text that can't be read ---------------------------------------------------------------


def _why(text: str, unit: str) -> str:
    """Why a text does not begin as a quantity does."""
    shape = re.sub(r"[0-9]+", "9", " ".join(text.split()))
    if re.match(r"[-+]?9(\.9)?/9/9", shape):
        return f"has two slashes; {_like(unit)}"
    if re.match(r"[-+]?9(\.9)?/9\.9", shape) or re.match(r"[-+]?9\.9/9", shape):
        return _slashed(unit)
    if re.match(r"[-+]?9,9(?![,.])", shape):
        return "has a comma where it can't stand; write a stop before decimals, and a comma before three digits only"
    return f'is not a number with a unit; write it like "{("12 " + unit).strip()}"'


def _slashed(unit: str) -> str:
    if not unit:
        return "is written with a slash; write one plain number (a rise of 7 in 12 as 7, a share as a decimal)"
    return f"is written with a slash, as only lengths are; write one figure, such as 240 {unit} (two have two fields)"


def _unknown(name: str, unit: str) -> str:
    """Why what stands after a number is no unit."""
    more = re.fullmatch(rf"(\D*?)\s*([-+]?)\s?{_NUMBER}\s*(.*?)", name, re.DOTALL)
    if more:
        first, last = more.group(1).strip(), more.groups()[-1].strip()
        if last and (given := spelling(last)) != "?" and not same_dimension(given, unit):
            return f"is in {given}; {_like(unit)}"
        if more.group(2) or first in ("to", ".", "..", "±", "x", "×"):
            return f"states two figures; {_like(unit)}, and one figure"
        if first and not last and spelling(first) == "ft":
            return "has a number without a unit after the feet; write 5 ft 2 in"
        return "has more parts than a quantity has; write one number with its unit, or feet and then inches"
    return f'has the unit "{name[:20]}", which is not known here; {_like(unit)}'


_KIND = {
    "V": "voltage", "A": "current", "W": "power", "kWh": "energy", "ohm": "resistance", "ft": "length", "in": "length",
    "degC": "temperature", "%/degC": "percent a degree", "V/degC": "volts a degree", "s": "time", "ft2": "area",
    "lb": "weight", "in2": "area", "in3": "volume",
}  # fmt: skip


def _like(unit: str) -> str:
    names = ", ".join(name for name in ALIKE[unit] if name) or "no unit"
    return f"this field takes {_KIND.get(unit, 'a number')} in {names}"
