"""Units: published factors, the `pint` library as an oracle, and what is refused."""

import math

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.errors import OutOfRange
from calc.units import UNITS, convert, dimension_of, other_system, reference_unit, units_of
from tests.calc.vectors import Row, check, ids

VALUES = st.floats(min_value=-1e6, max_value=1e6).filter(lambda v: v == 0 or abs(v) > 1e-6)
CODES = st.sampled_from(sorted(UNITS))

# pint's own acre is the survey acre, so the international one is defined first; pint knows no mass
# per hundred gallons, so these are spelt out.
PINT = pint.UnitRegistry()
PINT.define("international_acre = 43560 * foot ** 2")
PINT_NAMES = {
    "L/ha": "liter/hectare",
    "mL/ha": "milliliter/hectare",
    "L/ac": "liter/international_acre",
    "gal/ac": "gallon/international_acre",
    "imp gal/ac": "imperial_gallon/international_acre",
    "qt/ac": "quart/international_acre",
    "pt/ac": "pint/international_acre",
    "fl oz/ac": "fluid_ounce/international_acre",
    "kg/ha": "kilogram/hectare",
    "g/ha": "gram/hectare",
    "lb/ac": "pound/international_acre",
    "oz/ac": "ounce/international_acre",
    "km/h": "kilometer/hour",
    "m/s": "meter/second",
    "mph": "mile/hour",
    "kn": "knot",
    "kPa": "kilopascal",
    "bar": "bar",
    "psi": "psi",
    "m": "meter",
    "mm": "millimeter",
    "cm": "centimeter",
    "km": "kilometer",
    "in": "inch",
    "ft": "foot",
    "yd": "yard",
    "mi": "mile",
    "ha": "hectare",
    "m2": "meter**2",
    "ac": "international_acre",
    "ft2": "foot**2",
    "L": "liter",
    "mL": "milliliter",
    "gal": "gallon",
    "imp gal": "imperial_gallon",
    "qt": "quart",
    "pt": "pint",
    "fl oz": "fluid_ounce",
    "kg": "kilogram",
    "g": "gram",
    "t": "metric_ton",
    "lb": "pound",
    "oz": "ounce",
    "L/min": "liter/minute",
    "mL/min": "milliliter/minute",
    "gal/min": "gallon/minute",
    "fl oz/min": "fluid_ounce/minute",
    "min": "minute",
    "s": "second",
    "h": "hour",
    "d": "day",
    "g/L": "gram/liter",
    "kg/L": "kilogram/liter",
    "lb/gal": "pound/gallon",
    "SG": "kilogram/liter",
    "g/100 L": "0.01*gram/liter",
    "kg/100 L": "0.01*kilogram/liter",
    "lb/100 gal": "0.01*pound/gallon",
    "oz/100 gal": "0.01*ounce/gallon",
    "% v/v": "0.01*liter/liter",
    "L/100 L": "0.01*liter/liter",
    "mL/100 L": "0.01*milliliter/liter",
    "gal/100 gal": "0.01*gallon/gallon",
    "qt/100 gal": "0.01*quart/gallon",
    "pt/100 gal": "0.01*pint/gallon",
    "fl oz/100 gal": "0.01*fluid_ounce/gallon",
    "% w/w": "0.01*kilogram/kilogram",
    "%": "percent",
    "°C": "degree_Celsius",
    "°F": "degree_Fahrenheit",
    "K": "delta_degree_Celsius",
    "Δ°F": "delta_degree_Fahrenheit",
    "°": "degree",
    "1": "dimensionless",
}


def convert_row(row: Row) -> float:
    given = row.inputs
    return convert(given["value"], from_unit=given["from"], to_unit=given["to"])


@pytest.mark.parametrize("example", ids("units"))
def test_a_published_factor_comes_out(example: str) -> None:
    check("units", example, {"TABLE-UNITS": convert_row})


def test_the_oracle_knows_every_unit() -> None:
    assert PINT_NAMES.keys() == UNITS.keys()


@pytest.mark.parametrize("code", UNITS)
def test_every_unit_agrees_with_pint(code: str) -> None:
    reference = reference_unit(dimension_of(code))
    if code in {"°C", "°F"}:
        expected = PINT.Quantity(98.6, PINT_NAMES[code]).to("degree_Celsius").magnitude
    else:
        scaled, base = PINT(PINT_NAMES[code]), PINT(PINT_NAMES[reference])
        expected = (98.6 * scaled / base).to("dimensionless").magnitude
    assert convert(98.6, from_unit=code, to_unit=reference) == pytest.approx(expected, rel=1e-14)


def test_the_acre_is_not_the_survey_acre() -> None:
    # The survey acre is 4046.87260987… m² (66 · 660 feet of 1200/3937 m).
    survey_m2 = 43_560 * (1200 / 3937) ** 2
    ours_m2 = convert(1.0, from_unit="ac", to_unit="m2")
    assert ours_m2 / survey_m2 - 1 == pytest.approx(-4.0e-6, rel=0.01)


@given(value=VALUES, code=CODES, data=st.data())
def test_a_conversion_there_and_back_changes_nothing(
    value: float, code: str, data: st.DataObject
) -> None:
    other = data.draw(st.sampled_from(units_of(dimension_of(code))))
    there = convert(value, from_unit=code, to_unit=other)
    back = convert(there, from_unit=other, to_unit=code)
    assert back == pytest.approx(value, rel=1e-12, abs=1e-12)


@given(values=st.lists(VALUES, min_size=1, max_size=5), code=CODES)
def test_an_array_converts_like_its_elements(values: list[float], code: str) -> None:
    other = other_system(code)
    together = convert(np.array(values), from_unit=code, to_unit=other)
    singles = [convert(value, from_unit=code, to_unit=other) for value in values]
    assert isinstance(together, np.ndarray)
    assert all(type(single) is float for single in singles)
    np.testing.assert_array_equal(together, singles)


@pytest.mark.parametrize("code", UNITS)
def test_a_counterpart_is_of_the_same_dimension(code: str) -> None:
    assert dimension_of(other_system(code)) == dimension_of(code)


@pytest.mark.parametrize(
    ("us", "metric"),
    [
        ("gal/ac", "L/ha"),
        ("fl oz/ac", "mL/ha"),
        ("lb/ac", "kg/ha"),
        ("oz/ac", "g/ha"),
        ("psi", "kPa"),
        ("mph", "km/h"),
        ("in", "cm"),
        ("ft", "m"),
        ("mi", "km"),
        ("ac", "ha"),
        ("gal", "L"),
        ("lb", "kg"),
        ("gal/min", "L/min"),
        ("°F", "°C"),
    ],
)
def test_a_reader_of_the_other_system_gets_the_usual_unit(us: str, metric: str) -> None:
    assert other_system(us) == metric
    assert other_system(metric) == us


def test_a_unit_that_both_systems_use_is_its_own_counterpart() -> None:
    shared = ["SG", "min", "s", "h", "d", "% v/v", "% w/w", "%", "°", "1"]
    assert [other_system(code) for code in shared] == shared


def test_every_dimension_lists_its_reference_unit_first() -> None:
    for unit in UNITS.values():
        reference = UNITS[reference_unit(unit.dimension)]
        assert units_of(unit.dimension)[0] == reference.code
        assert (reference.factor, reference.offset) == (1, 0)


def test_per_cent_by_volume_by_mass_and_of_humidity_do_not_mix() -> None:
    for one, other in [("% v/v", "% w/w"), ("% v/v", "%"), ("%", "% w/w")]:
        with pytest.raises(OutOfRange, match="to_unit is "):
            convert(1.0, from_unit=one, to_unit=other)


def test_a_dry_ounce_is_no_fluid_ounce() -> None:
    with pytest.raises(
        OutOfRange,
        match=r"^to_unit is 'fl oz/ac'; it must be a unit of mass_rate like oz/ac: kg/ha",
    ):
        convert(3.0, from_unit="oz/ac", to_unit="fl oz/ac")


@pytest.mark.parametrize("argument", ["from_unit", "to_unit"])
def test_an_unknown_unit_is_refused_with_the_list_of_known_ones(argument: str) -> None:
    units = {"from_unit": "L/ha", "to_unit": "L/ha", argument: "GPA"}
    with pytest.raises(
        OutOfRange, match=rf"^{argument} is 'GPA'; it must be one of the units L/ha"
    ):
        convert(1.0, **units)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, np.array([1.0, math.nan])])
def test_a_value_that_is_not_finite_is_refused(value: object) -> None:
    with pytest.raises(OutOfRange, match=r"^value is .*; it must be finite"):
        convert(value, from_unit="gal", to_unit="L")


def test_questions_about_unknown_codes_are_refused() -> None:
    with pytest.raises(OutOfRange, match=r"^code is 'furlong'; it must be one of the units"):
        dimension_of("furlong")
    with pytest.raises(OutOfRange, match=r"^code is 'furlong'; it must be one of the units"):
        other_system("furlong")
    with pytest.raises(OutOfRange, match=r"^dimension is 'luck'; it must be one of volume_rate"):
        reference_unit("luck")
    with pytest.raises(OutOfRange, match=r"^dimension is 'luck'; it must be one of volume_rate"):
        units_of("luck")
