"""The unit a blank stands ready in, by the system a person works in; a guess is worse than none."""

from __future__ import annotations

from collections.abc import Iterable

_BY_DIMENSION = {
    "us": {
        "volume_rate": "gal/ac",
        "mass_rate": "lb/ac",
        "speed": "mph",
        "pressure": "psi",
        "length": "in",
        "area": "ac",
        "volume": "gal",
        "mass": "lb",
        "flow": "gal/min",
        "temperature": "°F",
        "mass_per_volume": "lb/gal",
    },
    "metric": {
        "volume_rate": "L/ha",
        "mass_rate": "kg/ha",
        "speed": "km/h",
        "pressure": "bar",
        "length": "cm",
        "area": "ha",
        "volume": "L",
        "mass": "kg",
        "flow": "L/min",
        "temperature": "°C",
        "mass_per_volume": "g/L",
    },
}
_CARRIER = ("gal/ac", "L/ha", "imp gal/ac", "L/ac")
_MIX = ("gal", "L", "imp gal")
_SHORT = ("in", "cm", "ft", "m", "mm")
_DENSITY = ("lb/gal", "kg/L", "g/L", "SG")
_BY_NAME: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("planned_carrier", "carrier_min", "carrier_max", "wished_carrier"), _CARRIER),
    **dict.fromkeys(("mix_used", "mixed_volume", "used", "tank"), _MIX),
    **dict.fromkeys(("boom_height", "boom_height_max", "height"), _SHORT[:4]),
    **dict.fromkeys(("spacing", "row_spacing", "band_width"), _SHORT),
    "distance": ("mi", "km", "ft", "m"),
    "density": _DENSITY,
    **dict.fromkeys(("speed", "speed_low", "speed_high", "speed_accuracy"), ("mph", "km/h", "m/s")),
}
"""Units in use for a quantity, where its dimension has others too: nobody drives in knots or writes
a carrier volume in fluid ounces. Common practice, no source."""


def units_in_use(*, name: str, units: Iterable[str]) -> list[str]:
    """Return those of `units` that are in use for the quantity of this name, all if none is said.

    What is offered is not a limit: any other unit of the dimension is taken as it is entered.
    """
    known = list(units)
    wanted = _BY_NAME.get(name)
    return known if wanted is None else [unit for unit in wanted if unit in known]


_EITHER = {"fraction": "%", "angle": "°", "time": "s"}


def offered_unit(*, dimensions: Iterable[str], system: str) -> str:
    """Return the unit to offer first, or "" where a field takes several kinds of quantity.

    Args: dimensions that the field takes; system, "us" or "metric".
    """
    kinds = list(dimensions)
    if len(kinds) != 1:
        return ""
    return _BY_DIMENSION[system].get(kinds[0]) or _EITHER.get(kinds[0], "")
