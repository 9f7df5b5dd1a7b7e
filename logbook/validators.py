"""Validators that more than one app needs."""

from __future__ import annotations

import zoneinfo
from functools import cache

from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

FIRST_YEAR, LAST_YEAR = 1990, 2200
"""Work, days asked for and seasons lie within these years, both counted."""

place_validator = RegexValidator(
    r"^[A-Z]{2}-[A-Z0-9]{1,3}\Z",
    gettext_lazy('Write the place as ISO 3166-2 does, such as "US-ND" or "CA-AB".'),
)


@cache
def _time_zones() -> frozenset[str]:
    # Reading the list of the zone database takes milliseconds each time.
    return frozenset(zoneinfo.available_timezones())


def validate_time_zone(name: str) -> None:
    """Refuse a name that is not in the zone database, or names no place.

    "Factory" and "localtime" are in it and mean whatever the machine says; "EST" keeps no summer
    time. A place, or UTC, means the same everywhere.
    """
    if name not in _time_zones() or ("/" not in name and name != "UTC"):
        raise ValidationError(
            _('"%(name)s" is not a time zone; write it like "America/Chicago".') % {"name": name}
        )
