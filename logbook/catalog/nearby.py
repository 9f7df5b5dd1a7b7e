"""Which sensitive places are near a field: how far, in which direction, and on which side."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Q

from calc import geometry
from calc.errors import OutOfRange
from logbook.catalog.models import SensitivePlace
from logbook.facts.quantity import Quantity
from logbook.tenancy.models import TenantQuerySet

NEAR_M = 3_000.0
"""Places farther than this from the field, and than their distance to keep, are not shown."""

MAX_SHOWN = 20

_METRES_OF_A_DEGREE = 110_000.0
"""Less than any degree of latitude has, so that the net is never too small."""


@dataclass(frozen=True, kw_only=True)
class NearPlace:
    """A sensitive place as seen from a field.

    Attributes: shape, GeoJSON; keep_off, the distance to keep as written down with it; distance_m
    from the nearest point of the field; bearing_deg from there, None where they touch.
    """

    id: UUID
    name: str
    kind: str
    shape: dict[str, Any]
    keep_off: Quantity | None
    distance_m: float
    bearing_deg: float | None

    @property
    def too_near(self) -> bool:
        """Whether the field reaches into the distance to keep."""
        return self.keep_off is not None and self.distance_m < self.keep_off.si


def places_near(*, business: Any, boundary: Mapping[str, Any]) -> list[NearPlace]:
    """Return the sensitive places near a field, the nearest first, in one query.

    Raises: OutOfRange if the boundary is none.
    """
    found = []
    for row in _netted(SensitivePlace.objects.within(business), boundary):
        try:
            way = geometry.nearest(field=boundary, place=row.shape)
        except OutOfRange:
            continue  # Farther than the net says, by a corner of its rectangle.
        keep_off = row.keep_off.si if row.keep_off else 0.0
        if way.distance_m <= max(NEAR_M, keep_off):
            found.append(
                NearPlace(
                    id=row.pk,
                    name=row.name,
                    kind=row.get_kind_display(),
                    shape=row.shape,
                    keep_off=row.keep_off,
                    distance_m=way.distance_m,
                    bearing_deg=way.bearing_deg,
                )
            )
    found.sort(key=lambda place: (place.distance_m, place.name))
    return found[:MAX_SHOWN]


def _netted(rows: TenantQuerySet, boundary: Mapping[str, Any]) -> Any:
    """Return the places whose rectangle comes near that of the field, or that reach farther."""
    west, south, east, north = geometry.bounds(place=boundary)
    up = NEAR_M / _METRES_OF_A_DEGREE
    across = up / max(math.cos(math.radians(min(max(abs(south), abs(north)) + up, 89.0))), 0.01)
    near = Q(south__lte=north + up, north__gte=south - up)
    # Beside the antimeridian longitudes do not compare.
    if west - across >= -180.0 and east + across <= 180.0:
        near &= Q(west__lte=east + across, east__gte=west - across)
    # The few with a distance to keep beyond the net are measured, wherever they are.
    return rows.filter(near | Q(keep_off_si__gt=NEAR_M))
