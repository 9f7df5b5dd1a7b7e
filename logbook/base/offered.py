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
_EITHER = {"fraction": "%", "angle": "°", "time": "s"}


def offered_unit(*, dimensions: Iterable[str], system: str) -> str:
    """Return the unit to offer first, or "" where a field takes several kinds of quantity.

    Args: dimensions that the field takes; system, "us" or "metric".
    """
    kinds = list(dimensions)
    if len(kinds) != 1:
        return ""
    return _BY_DIMENSION[system].get(kinds[0]) or _EITHER.get(kinds[0], "")
