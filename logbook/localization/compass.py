"""The sixteen points of the compass: their directions, and their names in the language in use."""

from __future__ import annotations

from django.utils.translation import pgettext_lazy

from calc.wind import SECTORS, sector

POINTS = {name: f"{22.5 * place:g}" for place, name in enumerate(SECTORS)}
"""By the English name, which `calc` has too: degrees from true north."""

NAMES = {
    "N": pgettext_lazy("compass point", "N"),
    "NNE": pgettext_lazy("compass point", "NNE"),
    "NE": pgettext_lazy("compass point", "NE"),
    "ENE": pgettext_lazy("compass point", "ENE"),
    "E": pgettext_lazy("compass point", "E"),
    "ESE": pgettext_lazy("compass point", "ESE"),
    "SE": pgettext_lazy("compass point", "SE"),
    "SSE": pgettext_lazy("compass point", "SSE"),
    "S": pgettext_lazy("compass point", "S"),
    "SSW": pgettext_lazy("compass point", "SSW"),
    "SW": pgettext_lazy("compass point", "SW"),
    "WSW": pgettext_lazy("compass point", "WSW"),
    "W": pgettext_lazy("compass point", "W"),
    "WNW": pgettext_lazy("compass point", "WNW"),
    "NW": pgettext_lazy("compass point", "NW"),
    "NNW": pgettext_lazy("compass point", "NNW"),
}


def point_of(direction_deg: float) -> str:
    """Return the name of the point nearest to a direction, as it is read today.

    Raises: OutOfRange as `calc.wind.sector`.
    """
    return str(NAMES[sector(direction_deg=direction_deg)])


def degrees_of(name: str) -> str | None:
    """Return the direction of a point, by its English name or that of the language in use."""
    wanted = name.upper()
    return next((POINTS[one] for one in POINTS if wanted in (one, str(NAMES[one]))), None)
