"""Units of measure: one table of exact conversion factors.

Every factor is a fraction built from the exact definitions (the inch is 0.0254 m, the pound is
0.45359237 kg, the US gallon is 231 cubic inches, the imperial gallon is 4.54609 L), so a conversion
is rounded once, when the quotient of two factors becomes a float. The acre is the international
one; the survey acre, retired at the end of 2022, differs by 4 parts in a million and is not here.

Source: [NIST-SP811], [NIST-HB44], [NIST-ACRE].
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from calc.errors import N, OutOfRange, finite


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of measure: value in the reference unit = (value + offset) · factor.

    Attributes: code (the printed symbol), dimension, factor (exact), offset (exact; for °F alone).
    """

    code: str
    dimension: str
    factor: Fraction
    offset: Fraction = Fraction(0)


_INCH_M = Fraction("0.0254")
_FOOT_M = 12 * _INCH_M
_MILE_M = 5280 * _FOOT_M
_ACRE_HA = 43560 * _FOOT_M**2 / 10_000
_POUND_KG = Fraction("0.45359237")
_OUNCE_KG = _POUND_KG / 16
_GALLON_L = 231 * _INCH_M**3 * 1000
_FLUID_OUNCE_L = _GALLON_L / 128
_IMPERIAL_GALLON_L = Fraction("4.54609")
_POUND_FORCE_N = _POUND_KG * Fraction("9.80665")
_THOUSANDTH = Fraction(1, 1000)

_FACTORS: dict[str, dict[str, Fraction]] = {
    # The first unit of each dimension is its reference unit.
    "volume_rate": {
        "L/ha": Fraction(1),
        "mL/ha": _THOUSANDTH,
        "L/ac": 1 / _ACRE_HA,
        "gal/ac": _GALLON_L / _ACRE_HA,
        "imp gal/ac": _IMPERIAL_GALLON_L / _ACRE_HA,
        "qt/ac": _GALLON_L / 4 / _ACRE_HA,
        "pt/ac": _GALLON_L / 8 / _ACRE_HA,
        "fl oz/ac": _FLUID_OUNCE_L / _ACRE_HA,
    },
    "mass_rate": {
        "kg/ha": Fraction(1),
        "g/ha": _THOUSANDTH,
        "lb/ac": _POUND_KG / _ACRE_HA,
        "oz/ac": _OUNCE_KG / _ACRE_HA,
    },
    "speed": {
        "km/h": Fraction(1),
        "m/s": Fraction("3.6"),
        "mph": _MILE_M / 1000,
        "kn": Fraction("1.852"),
    },
    "pressure": {
        "kPa": Fraction(1),
        "bar": Fraction(100),
        "psi": _POUND_FORCE_N / _INCH_M**2 / 1000,
    },
    "length": {
        "m": Fraction(1),
        "mm": _THOUSANDTH,
        "cm": Fraction(1, 100),
        "km": Fraction(1000),
        "in": _INCH_M,
        "ft": _FOOT_M,
        "yd": 3 * _FOOT_M,
        "mi": _MILE_M,
    },
    "area": {
        "ha": Fraction(1),
        "m2": Fraction(1, 10_000),
        "ac": _ACRE_HA,
        "ft2": _FOOT_M**2 / 10_000,
    },
    "volume": {
        "L": Fraction(1),
        "mL": _THOUSANDTH,
        "gal": _GALLON_L,
        "imp gal": _IMPERIAL_GALLON_L,
        "qt": _GALLON_L / 4,
        "pt": _GALLON_L / 8,
        "fl oz": _FLUID_OUNCE_L,
    },
    "mass": {
        "kg": Fraction(1),
        "g": _THOUSANDTH,
        "t": Fraction(1000),
        "lb": _POUND_KG,
        "oz": _OUNCE_KG,
    },
    "flow": {
        "L/min": Fraction(1),
        "mL/min": _THOUSANDTH,
        "gal/min": _GALLON_L,
        "fl oz/min": _FLUID_OUNCE_L,
    },
    "time": {
        "min": Fraction(1),
        "s": Fraction(1, 60),
        "h": Fraction(60),
        "d": Fraction(1440),
    },
    "mass_per_volume": {
        "g/L": Fraction(1),
        "kg/L": Fraction(1000),
        "lb/gal": _POUND_KG * 1000 / _GALLON_L,
        # Density relative to water of exactly 1 kg/L. The handbooks' 8.34 lb/gal is in `flow`.
        "SG": Fraction(1000),
        "g/100 L": Fraction(1, 100),
        "kg/100 L": Fraction(10),
        "lb/100 gal": _POUND_KG * 10 / _GALLON_L,
        "oz/100 gal": _OUNCE_KG * 10 / _GALLON_L,
    },
    "volume_per_volume": {
        "% v/v": Fraction(1),
        "L/100 L": Fraction(1),
        "mL/100 L": _THOUSANDTH,
        "gal/100 gal": Fraction(1),
        "qt/100 gal": Fraction(1, 4),
        "pt/100 gal": Fraction(1, 8),
        "fl oz/100 gal": Fraction(1, 128),
    },
    "mass_per_mass": {"% w/w": Fraction(1)},
    "fraction": {"%": Fraction(1)},
    "temperature": {"°C": Fraction(1), "°F": Fraction(5, 9)},
    # A difference of temperature has no 32 in it, so it has codes of its own.
    "temperature_difference": {"K": Fraction(1), "Δ°F": Fraction(5, 9)},
    "angle": {"°": Fraction(1)},
    "count": {"1": Fraction(1)},
}

_OFFSETS = {"°F": Fraction(-32)}

UNITS: dict[str, Unit] = {
    code: Unit(code, dimension, factor, _OFFSETS.get(code, Fraction(0)))
    for dimension, factors in _FACTORS.items()
    for code, factor in factors.items()
}

_COUNTERPARTS = {
    "L/ha": "gal/ac",
    "mL/ha": "fl oz/ac",
    "L/ac": "gal/ac",
    "gal/ac": "L/ha",
    "imp gal/ac": "L/ha",
    "qt/ac": "L/ha",
    "pt/ac": "L/ha",
    "fl oz/ac": "mL/ha",
    "kg/ha": "lb/ac",
    "g/ha": "oz/ac",
    "lb/ac": "kg/ha",
    "oz/ac": "g/ha",
    "km/h": "mph",
    "m/s": "mph",
    "mph": "km/h",
    "kn": "km/h",
    "kPa": "psi",
    "bar": "psi",
    "psi": "kPa",
    "m": "ft",
    "mm": "in",
    "cm": "in",
    "km": "mi",
    "in": "cm",
    "ft": "m",
    "yd": "m",
    "mi": "km",
    "ha": "ac",
    "m2": "ft2",
    "ac": "ha",
    "ft2": "m2",
    "L": "gal",
    "mL": "fl oz",
    "gal": "L",
    "imp gal": "L",
    "qt": "L",
    "pt": "L",
    "fl oz": "mL",
    "kg": "lb",
    "g": "oz",
    "t": "lb",
    "lb": "kg",
    "oz": "g",
    "L/min": "gal/min",
    "mL/min": "fl oz/min",
    "gal/min": "L/min",
    "fl oz/min": "mL/min",
    "g/L": "lb/gal",
    "kg/L": "lb/gal",
    "lb/gal": "g/L",
    "g/100 L": "oz/100 gal",
    "kg/100 L": "lb/100 gal",
    "lb/100 gal": "kg/100 L",
    "oz/100 gal": "g/100 L",
    "L/100 L": "gal/100 gal",
    "mL/100 L": "fl oz/100 gal",
    "gal/100 gal": "L/100 L",
    "qt/100 gal": "L/100 L",
    "pt/100 gal": "L/100 L",
    "fl oz/100 gal": "mL/100 L",
    "°C": "°F",
    "°F": "°C",
    "K": "Δ°F",
    "Δ°F": "K",
}


def convert(value: N, *, from_unit: str, to_unit: str) -> N:
    """Return `value` expressed in `to_unit`. [to_unit]

    Args: value [from_unit], finite; from_unit and to_unit are codes of `UNITS` of one dimension.
    Raises: OutOfRange if a code is not in the table, the dimensions differ or the value is not
        finite.
    Source: [NIST-SP811]; exact factors, rounded once.
    """
    finite("value", value)
    added_before, ratio, taken_after = _steps(from_unit, to_unit)
    return (value + added_before) * ratio - taken_after


def dimension_of(code: str) -> str:
    """Return the dimension of a unit, such as `volume_rate`.

    Raises: OutOfRange if the code is not in the table.
    """
    return _unit("code", code).dimension


def reference_unit(dimension: str) -> str:
    """Return the code of the unit in which the factors of a dimension are given.

    Raises: OutOfRange if the dimension is not in the table.
    """
    return units_of(dimension)[0]


def units_of(dimension: str) -> tuple[str, ...]:
    """Return the codes of a dimension, its reference unit first.

    Raises: OutOfRange if the dimension is not in the table.
    """
    if dimension not in _FACTORS:
        raise OutOfRange("dimension", dimension, "one of {list}", list=_listed(_FACTORS))
    return tuple(_FACTORS[dimension])


def other_system(code: str) -> str:
    """Return the code a reader of the other system (US or metric) expects beside this one.

    A unit that both systems use, such as % v/v or the minute, is its own counterpart.

    Raises: OutOfRange if the code is not in the table.
    """
    return _COUNTERPARTS.get(code, _unit("code", code).code)


@cache
def _steps(from_unit: str, to_unit: str) -> tuple[float, float, float]:
    """Return what to add, by what to multiply and what to take away to convert."""
    source, target = _unit("from_unit", from_unit), _unit("to_unit", to_unit)
    if source.dimension != target.dimension:
        allowed = _listed(units_of(source.dimension))
        bound = "a unit of {dimension} like {from_unit}: {list}"
        named = {"dimension": source.dimension, "from_unit": from_unit, "list": allowed}
        raise OutOfRange("to_unit", to_unit, bound, **named)
    return float(source.offset), float(source.factor / target.factor), float(target.offset)


def _unit(argument: str, code: str) -> Unit:
    """Return the unit of a code, or refuse the code."""
    if code not in UNITS:
        raise OutOfRange(argument, code, "one of the units {list}", list=_listed(UNITS))
    return UNITS[code]


def _listed(names: Iterable[str]) -> str:
    """Return names as one readable list."""
    return ", ".join(names)
