"""How quantities written as text are read, held against pint, exact factors and arithmetic by hand.

Outside references: pint (its own definitions; the spellings it is asked for are typed here, not taken from the
package) and the exact definitions of the foot (0.3048 m, international yard and pound agreement of 1959), the
pound (0.45359237 kg, the same), the degree Fahrenheit (5/9 of a kelvin, 32 degF at 0 degC) and the standard gravity
of 9.80665 m/s2 in the pound-force (NIST SP 811, appendix B; from memory).
"""

from __future__ import annotations

import unicodedata
from decimal import Decimal
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import ampcite
from ampcite.house.write import written
from ampcite.language import units
from ampcite.language.printing import coarse, fine
from ampcite.language.quantities import read_quantity
from ampcite.language.tree import Type
from ampcite.language.units import known_units, same_dimension
from ampcite.language.units import unit as unit_named
from ampcite.language.wording import format_value
from shared import examples, pint_units

# Every unit of the package, in pint's words.
PINT = {
    "": "dimensionless", "%": "percent", "V": "V", "mV": "mV", "kV": "kV", "A": "A", "mA": "mA", "kA": "kA", "W": "W",
    "kW": "kW", "Wh": "W * hour", "kWh": "kW * hour", "ohm": "ohm", "Mohm": "megaohm", "ohm/kft": "ohm / kilofoot",
    "in": "inch", "ft": "foot", "mm": "mm", "cm": "cm", "m": "m", "km": "km",
    "ft2": "foot ** 2", "m2": "m ** 2", "in2": "inch ** 2", "in3": "inch ** 3", "s": "s", "min": "minute", "Hz": "Hz",
    "deg": "degree",
    "degC": "delta_degree_Celsius", "degF": "delta_degree_Fahrenheit", "%/degC": "percent / kelvin",
    "V/degC": "V / kelvin", "mV/degC": "mV / kelvin", "lb": "force_pound", "kg": "force_kilogram",
    "lb/in": "force_pound / inch", "mph": "mile / hour", "m/s": "meter / second",
    "psf": "force_pound / foot ** 2", "Pa": "Pa",
    "in-lb": "inch * force_pound", "W/m2": "W / m ** 2", "cmil": "circular_mil",
}  # fmt: skip
# Units of which only ratios to themselves are ever formed, and which convert to nothing else here: a circular mil
# is pi/4 of a square mil, and a degree a fraction of pi radians, neither of which is an exact fraction. An inch-pound
# is a torque here, though its dimension is that of energy.
APART = {"deg", "cmil", "in-lb"}
_LENGTHS = ("in", "ft", "mm", "cm", "m", "km")
OFFSET = {"degC": "degree_Celsius", "degF": "degree_Fahrenheit"}


def by_pint(value: float, given_unit: str, unit: str) -> float:
    """A number in one unit as pint has it in another; temperatures are points on their scales."""
    a, b = (OFFSET.get(u, PINT[u]) for u in (given_unit, unit))
    if given_unit in OFFSET:
        return float(pint_units().Quantity(value, a).to(b).magnitude)
    factor = pint_units().Quantity(1.0, a).to(b).magnitude
    return float(value * factor)


def alike(a: str, b: str) -> bool:
    """Whether pint holds two units to be of one dimension, and neither stands apart."""
    if a == b:
        return True
    if {a, b} & APART:
        return False
    return bool(pint_units().Unit(PINT[a]).dimensionality == pint_units().Unit(PINT[b]).dimensionality)


def test_every_unit_of_the_package_is_compared() -> None:
    assert set(known_units()) == set(PINT)


@pytest.mark.parametrize("name", sorted({*PINT} - APART | {"in-lb"}))
def test_sizes_are_those_of_pint(name: str) -> None:
    expected = pint_units().Quantity(1.0, PINT[name]).to_base_units().magnitude
    assert float(known_units()[name]) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("name", sorted({*PINT} - {"cmil"}))
def test_powers_are_those_of_pint(name: str) -> None:
    """But for circular mils, which have none here: only ratios of them are formed."""
    expected = {base[1:-1]: power for base, power in pint_units().Unit(PINT[name]).dimensionality.items()}
    assert {base: float(power) for base, power in unit_named(name).dimension} == pytest.approx(expected)
    assert list(unit_named(name).dimension) == sorted(unit_named(name).dimension) and unit_named("cmil").dimension == ()


@pytest.mark.parametrize("given_unit", sorted(PINT))
def test_conversions_are_those_of_pint(given_unit: str) -> None:
    for unit, value in product(PINT, ("0", "1", "7.25", "-3", "12345.678")):
        text = f"{value} {given_unit}"
        if not given_unit:  # a bare number is in the field's unit, whatever that is
            assert read_quantity(text, unit) == float(value)
        elif alike(given_unit, unit):
            expected = by_pint(float(value), given_unit, unit)
            assert read_quantity(text, unit) == pytest.approx(expected, rel=1e-12, abs=1e-12), (text, unit)
        else:
            with pytest.raises(ValueError, match=f"is in {given_unit}"):
                read_quantity(text, unit)


@pytest.mark.parametrize("unit", sorted(PINT))
def test_dimensions_are_those_of_pint(unit: str) -> None:
    assert {b for b in PINT if same_dimension(unit, b)} == {b for b in PINT if alike(unit, b)}


# By hand, from the definition: degC = (degF - 32) * 5 / 9.
@pytest.mark.parametrize(
    ("text", "celsius"),
    [("32 degF", 0.0), ("212 degF", 100.0), ("-40 degF", -40.0), ("98.6 degF", 37.0), ("-459.67 degF", -273.15),
     ("14 °F", -10.0), ("-8 degF", float(Fraction(-200, 9))), ("-40 degC", -40.0), ("-40 °C", -40.0), ("25 C", 25.0),
     ("77 F", 25.0), ("-11", -11.0)],
)  # fmt: skip
def test_temperatures_are_points_on_a_scale(text: str, celsius: float) -> None:
    assert read_quantity(text, "degC") == celsius


def test_celsius_in_fahrenheit() -> None:
    assert [read_quantity(t, "degF") for t in ("0 degC", "100 degC", "-40 degC", "37 degC")] == [
        32.0, 212.0, -40.0, 98.6]  # fmt: skip


# Exact by the definitions named at the top.
@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [("1 in", "mm", 25.4), ("1 ft", "m", 0.3048), ("0.3048 m", "ft", 1.0),
     ("100 m", "ft", float(Fraction(1250000, 3810))),
     ("2.54 cm", "in", 1.0), ("1 lb", "kg", 0.45359237), ("30 min", "s", 1800.0), ("0.48 kV", "V", 480.0),
     ("1500 mV", "V", 1.5), ("13.5 kWh", "Wh", 13500.0), ("1 m2", "ft2", float(1 / Fraction("0.3048") ** 2)),
     ("330 ft", "m", 100.584), ("1.24 ohm/kft", "ohm/kft", 1.24), ("1.24 ohm/1000 ft", "ohm/kft", 1.24),
     ("95 %", "", 0.95), ("3 percent", "%", 3.0), ("0.95", "%", 0.95), ("3%", "%", 3.0)],
)  # fmt: skip
def test_conversions_are_exact(text: str, unit: str, expected: float) -> None:
    assert read_quantity(text, unit) == expected


# Lengths as a plan writes them, in inches by hand.
@pytest.mark.parametrize(
    ("text", "inches"),
    [("3.5 ft", 42.0), ("42 in", 42.0), ("6 ft 7 in", 79.0), ("6' 7\"", 79.0), ("6′ 7″", 79.0),
     ("6 feet 7 inches", 79.0),
     ("6 ft 7 1/2 in", 79.5), ("6 ft 7.5 in", 79.5), ("6 ft 7-1/2 in", 79.5), ("7/8 in", 0.875), ("3/4 in", 0.75),
     ("1 1/2 in", 1.5), ("1-1/2 in", 1.5), ("1 1/2 ft", 18.0), ("-6 ft 7 in", -79.0), ("-1 1/2 in", -1.5),
     ("  6 ft   7 in  ", 79.0), ("+6 ft", 72.0), (".5 ft", 6.0), ("6. ft", 72.0), ("6e1 ft", 720.0),
     ("0 ft 11 in", 11.0), ("1/3 ft", 4.0), ("2 m 0 cm", float(Fraction(2000000, 25400)))],
)  # fmt: skip
def test_lengths_in_feet_inches_and_fractions(text: str, inches: float) -> None:
    assert read_quantity(text, "in") == inches
    assert read_quantity(text, "ft") == float(Fraction(inches).limit_denominator(10**6) / 12)


@pytest.mark.parametrize("unit", ["ft", "in", "m", "mm", "cm", "km"])
def test_three_and_a_half_feet_are_forty_two_inches(unit: str) -> None:
    assert read_quantity("3.5 ft", unit) == read_quantity("42 in", unit) == read_quantity("3 1/2 ft", unit)


@pytest.mark.parametrize("unit", ["ft", "in", "m"])
def test_three_feet_six_inches_are_forty_two_inches(unit: str) -> None:
    assert read_quantity("3 ft 6 in", unit) == read_quantity("42 in", unit)


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [("-0.3 %/degC", "%/degC", -0.3), ("-0.3 %/°C", "%/degC", -0.3), ("-0.3 %/C", "%/degC", -0.3),
     ("-0.3 %/K", "%/degC", -0.3), ("-0.3%/K", "%/degC", -0.3), ("-0.12 V/degC", "V/degC", -0.12),
     ("-0.12 V/°C", "V/degC", -0.12), ("-120 mV/°C", "V/degC", -0.12), ("-120 mV/K", "V/degC", -0.12),
     ("-120 mV/C", "V/degC", -0.12)],
)  # fmt: skip
def test_coefficients_in_their_usual_spellings(text: str, unit: str, expected: float) -> None:
    assert read_quantity(text, unit) == expected


@pytest.mark.parametrize(
    ("spelling", "unit"),
    [("volts", "V"), ("volt", "V"), ("Vdc", "V"), ("Vac", "V"), ("amps", "A"), ("amp", "A"), ("amperes", "A"),
     ("watts", "W"), ("ohms", "ohm"), ("Ω", "ohm"), ("feet", "ft"), ("foot", "ft"), ("inches", "in"), ("inch", "in"),
     ("metres", "m"), ("meters", "m"), ("seconds", "s"), ("sec", "s"), ("minutes", "min"), ("lbs", "lb"), ("°", "deg"),
     ("sq ft", "ft2"), ("ft²", "ft2"), ("ft^2", "ft2"), ("m²", "m2"), ("sq in", "in2"), ("in²", "in2"),
     ("in^2", "in2"), ("cu in", "in3"), ("in³", "in3"), ("in^3", "in3")],
)  # fmt: skip
def test_usual_spellings_of_units(spelling: str, unit: str) -> None:
    assert read_quantity(f"12.5 {spelling}", unit) == 12.5
    assert read_quantity(f"12.5{spelling}", unit) == 12.5


# --- what can't be read --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [("", "ft", "empty"), ("   ", "ft", ""), ("ft", "ft", "12 ft"), ("long", "ft", "12 ft"),
     ("12 furlongs", "ft", "furlongs"),
     ("12 V", "ft", "is in V"), ("30 degC", "V", "is in degC"), ("12 ft", "degC", "temperature"),
     ("-0.3 %", "%/degC", "is in %"), ("6 ft 7", "ft", ""), ("6 ft 7 lb", "ft", "is in lb"),
     ("1 ft 2 in 3 in", "ft", "parts"),
     ("10 V 5 V", "V", "parts"), ("10 degC 5 degC", "degC", "parts"), ("1/0 ft", "ft", "zero"),
     ("1 1/0 ft", "ft", "zero"),
     ("1e999 ft", "ft", "too large"), ("1e400", "V", "too large"), ("1e9999 ft", "ft", ""), ("NaN ft", "ft", ""),
     ("nan", "ft", ""), ("inf", "ft", ""), ("Infinity V", "V", ""), ("0x10 ft", "ft", ""), ("1_000 ft", "ft", ""),
     ("1,00 ft", "ft", "comma"), ("١٢ ft", "ft", ""), ("12 ft\x00", "ft", ""), ("--3 ft", "ft", ""),
     ("3 4 ft", "ft", ""),
     ("3..5 ft", "ft", ""), ("3.5.1 ft", "ft", ""), ("1/2/3 ft", "ft", ""), ("10..20 V", "V", ""), ("10-20 V", "V", ""),
     ("9" * 101, "V", "characters"), ("12 " + "m" * 5000, "m", "characters"), ("{12} ft", "ft", ""),
     ("__import__('os')", "ft", ""), ("12 ft!", "ft", "ft!")],
)  # fmt: skip
def test_bad_texts_are_refused_with_a_reason(text: str, unit: str, words: str) -> None:
    with pytest.raises(ValueError) as caught:
        read_quantity(text, unit)
    said = str(caught.value)
    assert words in said
    assert type(caught.value) is ValueError
    assert 5 < len(said) < 200
    assert "\n" not in said


@given(text=st.text(max_size=120), unit=st.sampled_from(sorted(PINT)))
@settings(max_examples=examples(300))
def test_any_text_is_read_or_refused(text: str, unit: str) -> None:
    try:
        value = read_quantity(text, unit)
    except ValueError as fault:
        assert type(fault) is ValueError, "one kind of refusal"
    else:
        assert isinstance(value, float)
        assert value == value and abs(value) != float("inf")


_pieces = st.lists(st.sampled_from(["1", "0", "9", ".", "/", "-", "+", "e", " ", "ft", "in", "'", '"', "%", "°C", "V"]),
                   max_size=14).map("".join)  # fmt: skip


@given(text=_pieces, unit=st.sampled_from(["ft", "in", "V", "degC", "%", ""]))
@settings(max_examples=examples(500))
def test_almost_quantities_are_read_or_refused(text: str, unit: str) -> None:
    try:
        value = read_quantity(text, unit)
    except ValueError as fault:
        assert type(fault) is ValueError
        assert str(fault)
    else:
        assert value == value and abs(value) != float("inf")


# As drawings, data sheets, labels and printed reports write them; what each means is common practice of the trade.
@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [("−10 °C", "degC", -10.0), ("–10 °C", "degC", -10.0), ("− 10 °C", "degC", -10.0), ("14 ℉", "degC", -10.0),
     ("25 deg C", "degC", 25.0), ("25 Deg. C", "degC", 25.0), ("25º C", "degC", 25.0), ("25 celsius", "degC", 25.0),
     ("10.5 VDC", "V", 10.5), ("240 Vac", "V", 240.0), ("600 V DC", "V", 600.0), ("0.6 kVdc", "V", 600.0),
     ("20 Amps", "A", 20.0), ("20 AMPS", "A", 20.0), ("20A", "A", 20.0), ("13.9 Adc", "A", 13.9),
     ("400 Wp", "W", 400.0),
     ("7.6 KW", "W", 7600.0), ("7.6 kW ac", "W", 7600.0), ("10 KA", "A", 10000.0),
     ("5½ in", "in", 5.5), ("½ in", "in", 0.5), ("-½ in", "in", -0.5), ("5 ½ IN", "in", 5.5), ("5⅜\"", "in", 5.375),
     ("5 1⁄2 in", "in", 5.5), ("5'2\"", "in", 62.0), ("5'-2\"", "in", 62.0), ("5' - 2 1/2\"", "in", 62.5),
     ("5'-2½\"", "in", 62.5), ("5’2”", "in", 62.0), ("5′ 2″", "in", 62.0), ("5'2''", "in", 62.0),
     ("5ft2in", "in", 62.0),
     ("5 ft. 2 in.", "in", 62.0), ("5 FT 2 IN", "in", 62.0), ("-5'2\"", "in", -62.0), ("0'-6\"", "in", 6.0),
     ("1,000 ft", "ft", 1000.0), ("1,234,567.5 ft", "ft", 1234567.5), ("12,000 cmil", "cmil", 12000.0),
     ("12 in.", "in", 12.0), ("340 sq. ft.", "ft2", 340.0), ("1 m 52 cm", "m", 1.52), ("1 m 5 mm", "mm", 1005.0),
     ("35 in.-lb", "in-lb", 35.0), ("35 lb-in", "in-lb", 35.0), ("1.5 megohms", "Mohm", 1.5), ("20 Psf", "psf", 20.0)],
)  # fmt: skip
def test_the_trades_ways_of_writing_are_read(text: str, unit: str, expected: float) -> None:
    assert read_quantity(text, unit) == expected


# Texts that hold more than one figure, or one that could be taken for another: none may become a number.
@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [("120/240 V", "V", "one figure"), ("120/240", "V", "one figure"), ("277/480V", "V", "one figure"),
     ("7/12", "", "rise of 7 in 12 as 7"), ("1/2", "%", "slash"), ("1/2 V", "V", "slash"), ("1.5/2 V", "V", "slash"),
     ("5 ft 5 ft", "ft", "parts"), ("2 in 5 ft", "ft", "parts"), ("5 in 2 in", "in", "parts"),
     ("5 ft 13 in", "ft", "less than 12"), ("5 ft 12 in", "in", "less than 12"), ("5'-12\"", "in", "less than 12"),
     ("5 1/2 ft 2 in", "ft", "parts"), ("5.5 ft 2 in", "ft", "parts"), ("5 ft 2 m", "ft", "parts"),
     ("1 m 100 cm", "m", "less than 100"), ("1 m 2 in", "m", "parts"), ("5 ft 2 in V", "ft", "parts"),
     ("51/2 in", "in", "not less than one"), ("2/2 in", "in", "not less than one"), ("½5 in", "in", ""),
     ("5½½ in", "in", ""), ("1/2½ in", "in", ""), ("5 ft 2", "ft", "5 ft 2 in"), ("5' 2", "ft", "5 ft 2 in"),
     ("10-20 V", "V", "two figures"), ("10 to 20 V", "V", "two figures"), ("10 – 20 V", "V", "two figures"),
     ("2 x 4 in", "in", "two figures"), ("10 ± 2 V", "V", "two figures"), ("10,5 V", "V", "comma"),
     ("1000,000 ft", "ft", "comma"), ("1,0000 ft", "ft", "comma"), ("0,500 ft", "ft", "comma"), (",5 ft", "ft", ""),
     ("1e9999 degC", "degC", "too large"), ("1e99999 V", "V", "too large"), ("1e-9999 V", "V", "too small"),
     ("1e-399 V", "V", "too small"), ("10 MV", "V", "MV"), ("10 MA", "A", "MA"), ("5 mohm", "ohm", "mohm"),
     ("12 AWG", "in", "AWG"), ("#12", "in", ""), ("−", "V", ""), ("- -5 V", "V", "")],
)  # fmt: skip
def test_no_text_is_silently_another_figure(text: str, unit: str, words: str) -> None:
    with pytest.raises(ValueError) as caught:
        read_quantity(text, unit)
    assert words in str(caught.value)


@given(whole=st.integers(0, 400), other=st.integers(0, 400), unit=st.sampled_from(sorted({*PINT} - {*_LENGTHS})),
       between=st.sampled_from(["/", "-", " - ", " ", " to ", ",", "..", ":", " or "]))  # fmt: skip
@settings(max_examples=examples(300))
def test_two_figures_are_never_one(whole: int, other: int, unit: str, between: str) -> None:
    try:
        value = read_quantity(f"{whole}{between}{other} {unit}", unit)
    except ValueError:
        return
    assert between == "," and other >= 100 and value == whole * 1000 + other, "digits in threes are one number"


@given(value=st.floats(-1e9, 1e9).filter(lambda v: not 0 < abs(v) < 1e-50), unit=st.sampled_from(sorted(PINT)))
@settings(max_examples=examples(500))
def test_what_is_printed_can_be_read_back(value: float, unit: str) -> None:
    kind = Type("number", units.Unit(unit, (), Fraction(1)))
    for write, figures in ((coarse, 4), (fine, 12)):
        printed = format_value(value, kind, write)
        for text in (printed, printed.replace("-", "−")):
            assert read_quantity(text, unit) == pytest.approx(value, rel=0.6 * 10.0 ** (1 - figures), abs=0.0)


@pytest.mark.parametrize(("text", "unit"), [
    ("5 MV", "V"), ("5 Mv", "V"), ("5 MA", "A"), ("5 Ma", "A"), ("-120 MV/degC", "V/degC"), ("-120 MV/°C", "V/degC"),
    ("-120 Mv/K", "%/degC"), ("5 mohm", "Mohm"), ("5 mΩ", "Mohm"), ("5 MOHM", "Mohm"), ("5 mohm", "ohm"),
])  # fmt: skip
def test_a_million_times_is_never_a_thousandth(text: str, unit: str) -> None:
    """Capitals tell mega from milli; a unit is taken as it is typed, or not at all."""
    with pytest.raises(ValueError):
        read_quantity(text, unit)


def test_what_capitals_tell_apart_is_read_as_it_is_typed() -> None:
    assert (read_quantity("5 mV", "V"), read_quantity("5 mA", "A")) == (0.005, 0.005)
    assert read_quantity("-120 mV/degC", "V/degC") == read_quantity("-120 mV/°C", "V/degC") == -0.12
    assert read_quantity("5 Mohm", "Mohm") == read_quantity("5 MΩ", "Mohm") == 5
    assert read_quantity("5 KW", "kW") == read_quantity("5 kw", "kW") == 5, "where nothing else is meant"


@pytest.mark.parametrize("sign", "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞")
def test_a_fraction_in_one_sign_is_the_number_that_unicode_gives_it(sign: str) -> None:
    assert read_quantity(f"{sign} ft", "ft") == pytest.approx(unicodedata.numeric(sign), rel=1e-15)
    assert read_quantity(f"2{sign} in", "in") == pytest.approx(2 + unicodedata.numeric(sign), rel=1e-15)


# --- round trips ---------------------------------------------------------------------------------------------

_numbers = st.floats(min_value=-1e9, max_value=1e9, allow_nan=False)
_lengths = {"in": Fraction(254, 10000), "ft": Fraction(3048, 10000), "mm": Fraction(1, 1000), "cm": Fraction(1, 100),
            "m": Fraction(1), "km": Fraction(1000)}  # fmt: skip


@given(value=_numbers, unit=st.sampled_from(sorted(PINT)))
@settings(max_examples=examples(300))
def test_a_number_written_in_its_own_unit_comes_back(value: float, unit: str) -> None:
    assert read_quantity(f"{value!r} {unit}", unit) == value
    assert read_quantity(f"{value!r}", unit) == value


@given(value=st.decimals(min_value=-10000, max_value=10000, places=4), a=st.sampled_from(sorted(_lengths)),
       b=st.sampled_from(sorted(_lengths)))  # fmt: skip
@settings(max_examples=examples(300))
def test_one_rounding_ends_a_conversion(value: Decimal, a: str, b: str) -> None:
    assert read_quantity(f"{value} {a}", b) == float(Fraction(value) * _lengths[a] / _lengths[b])


@given(value=st.decimals(min_value=-200, max_value=200, places=4))
@settings(max_examples=examples(200))
def test_fahrenheit_and_celsius_go_round(value: Decimal) -> None:
    fahrenheit = value * 9 / 5 + 32
    assert read_quantity(f"{fahrenheit} degF", "degC") == float(value)
    assert read_quantity(f"{value} degC", "degF") == float(fahrenheit)


@given(feet=st.integers(0, 999), inches=st.integers(0, 11), top=st.integers(0, 15), minus=st.booleans())
@settings(max_examples=examples(200))
def test_feet_inches_and_sixteenths_add_up(feet: int, inches: int, top: int, minus: bool) -> None:
    exact = (feet * 12 + inches + Fraction(top, 16)) * (-1 if minus else 1)
    text = f"{'-' if minus else ''}{feet} ft {inches} {top}/16 in"
    assert read_quantity(text, "in") == float(exact)
    assert read_quantity(text, "ft") == float(exact / 12)


# --- in a description ----------------------------------------------------------------------------------------


def test_a_description_reads_text_as_the_number_it_stands_for() -> None:
    description = ampcite.read(written({
        "site": {"design_low": "-40 degF", "elevation": "1000 m"},
        "modules": [{"id": "M1", "voc": "0.0495 kV", "voc_coefficient": "-0.27 %/K"},
                    {"id": "M2", "voc": "49500 mV", "voc_coefficient": "-133.65 mV/°C"}],
        "working_spaces": [{"depth": "3 ft", "width": "2 ft 6 in", "height": "6 1/2 ft"}],
    }))  # fmt: skip
    whole, parts = description.whole.facts, description.parts
    assert whole["site/design_low"] == -40.0
    assert whole["site/elevation"] == float(Fraction(1000) / Fraction("0.3048"))
    first, second = (m.facts for m in parts["modules"] or ())
    assert (first["voc"], first["voc_coefficient"]) == (49.5, -0.27)
    assert (second["voc"], second["voc_coefficient_in_volts"]) == (49.5, -0.13365)
    space = (parts["working_spaces"] or ())[0].facts
    assert (space["depth"], space["width"], space["height"]) == (36.0, 30.0, 78.0)


def test_signs_as_printed_pass_the_schema() -> None:
    whole = ampcite.read({"site": {"design_low": "−10 °C", "elevation": "½ ft"}}).whole.facts
    assert (whole["site/design_low"], whole["site/elevation"]) == (-10.0, 0.5)
    assert ampcite.read({"site": {"design_low": " – 10 °C"}}).whole.facts["site/design_low"] == -10.0


@pytest.mark.parametrize(
    ("drawn", "listed"),
    [("#12 Cu THWN-2", "12 AWG copper THWN-2"), ("12AWG copper", "12 AWG copper"), ("No. 12 copper", "12 AWG copper"),
     ("no 10", "10 AWG"), ("12 ga", "12 AWG"), ("1/0 Al XHHW-2", "1/0 AWG aluminum XHHW-2"), ("#4/0", "4/0 AWG"),
     ("2 x #4 CU", "2 x 4 AWG copper"), ("250 MCM copper", "250 kcmil copper"), ("350kcmil AL", "350 kcmil aluminum")],
)  # fmt: skip
def test_conductors_as_drawings_have_them(drawn: str, listed: str) -> None:
    facts = []
    for text in (drawn, listed):
        (circuit,) = ampcite.read({"circuits": [{"id": "C", "conductor": text}]}).parts["circuits"] or ()
        facts.append(circuit.facts)
    assert facts[0] == facts[1]


@pytest.mark.parametrize("drawn", ["12 copper", "#13 Cu", "#12 #10", "3 1/0 AWG", "#12Cu", "1/2 AWG", "# Cu", "12/2"])
def test_conductors_that_could_be_two_things_are_refused(drawn: str) -> None:
    with pytest.raises(ampcite.InputError):
        ampcite.read({"circuits": [{"id": "C", "conductor": drawn}]})


def test_a_share_of_something_keeps_its_unit() -> None:
    """A percentage of square inches is told in square inches, and so is what a percentage of it would be."""
    share, area = units.unit("%"), units.unit("in2")
    assert units.product(share, area) == (area, Fraction(1, 100))
    assert units.product(area, share) == (area, Fraction(1, 100))
    assert units.quotient(area, share) == (area, Fraction(100))
