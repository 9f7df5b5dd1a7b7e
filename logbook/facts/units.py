"""The units in use for a quantity, and the one that a blank stands ready in.

Common practice, no source: nobody drives in knots or writes a carrier volume in fluid ounces.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from calc.units import UNITS, other_system


@dataclass(frozen=True)
class Units:
    """The units in use for a quantity, by system of units, the usual one first.

    What is offered is no limit: any other unit of the dimension is taken as it is entered.
    others: whether the other units of the dimension are offered after these.
    """

    us: tuple[str, ...]
    metric: tuple[str, ...]
    others: bool = False


CARRIER = Units(us=("gal/ac",), metric=("L/ha", "imp gal/ac", "L/ac"))
MIX = Units(us=("gal",), metric=("L", "imp gal"))
DRIVEN = Units(us=("mph",), metric=("km/h", "m/s"))
SHORT = Units(us=("in", "ft"), metric=("cm", "m"))
SPACING = Units(us=("in", "ft"), metric=("cm", "m", "mm"))
ALONG = Units(us=("mi", "ft"), metric=("km", "m"))
ABOVE_GROUND = Units(us=("ft", "in"), metric=("m", "cm"))
ABOVE_SEA = Units(us=("ft",), metric=("m",))
DENSITY = Units(us=("lb/gal",), metric=("g/L", "kg/L", "SG"))
RATE = Units(us=("fl oz/ac",), metric=("L/ha",), others=True)

_USUAL = {
    "volume_rate": ("gal/ac", "L/ha"),
    "mass_rate": ("lb/ac", "kg/ha"),
    "speed": ("mph", "km/h"),
    "pressure": ("psi", "bar"),
    "length": ("in", "cm"),
    "area": ("ac", "ha"),
    "volume": ("gal", "L"),
    "mass": ("lb", "kg"),
    "flow": ("gal/min", "L/min"),
    "temperature": ("°F", "°C"),
    "mass_per_volume": ("lb/gal", "g/L"),
    "fraction": ("%", "%"),
    "angle": ("°", "°"),
    "time": ("s", "s"),
}
"""By dimension: in the US and in the metric system."""


def menu(dimensions: Sequence[str], units: Units | None = None) -> list[str]:
    """Return the units that an input offers, the usual ones of both systems first."""
    usual = (units.us[0], units.metric[0], *units.us, *units.metric) if units else ()
    known = [code for code, unit in UNITS.items() if unit.dimension in dimensions]
    return list(dict.fromkeys((*usual, *known) if units is None or units.others else usual))


def usual_unit(dimensions: Sequence[str], *, system: str, units: Units | None = None) -> str:
    """Return the unit that a blank stands ready in; "" where a guess would be worse than none.

    Args: dimensions that a number may have; system, "us" or "metric".
    """
    place = 0 if system == "us" else 1
    if units:
        return (units.us, units.metric)[place][0]
    return _USUAL.get(dimensions[0], ("", ""))[place] if len(dimensions) == 1 else ""


def is_decimal(unit: str) -> bool:
    """Return whether a unit is a power of ten of its reference unit, which is metric."""
    factor = UNITS[unit].factor
    return {*str(factor.numerator), *str(factor.denominator)} <= {"1", "0"}


def system_of(unit: str) -> str:
    """Return the system of a unit, "us" or "metric"; "" for one that both use, such as %."""
    other = other_system(unit)
    if other == unit:
        return ""
    return "us" if is_decimal(other) else "metric"
