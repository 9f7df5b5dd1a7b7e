"""Wind: sectors, means of directions, the height of a reading, and what lies downwind.

A direction is always the one the wind comes *from*, clockwise from north. Directions are averaged
as vectors, because the arithmetic mean of 350° and 10° is due south. A speed without the height it
was read at is not a speed; converting it is offered, and best not needed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calc.errors import N, OutOfRange, not_negative, positive, within

SECTORS: tuple[str, ...] = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)
"""The sixteen points of the compass, clockwise from north."""

CALM_SHARE = 0.01
"""Below this share of the scalar mean the vector mean has no direction. [WIND-VECTORS]."""

LIGHT_WIND_KM_H = 4.828032
"""3 mph: below it labels ask for an inversion check, and a direction is not to be relied on."""

DOWNWIND_HALF_ANGLE_DEG = 45.0
"""How far to each side of the wind a place still counts as downwind; common practice, no source."""


@dataclass(frozen=True, slots=True)
class WindMean:
    """Several readings of one place and height, averaged.

    Attributes: speed_km_h of the mean vector; from_deg, None in calm or where directions cancel;
    scalar_mean_km_h; strongest_km_h; persistence, vector over scalar speed, None in calm.
    """

    speed_km_h: float
    from_deg: float | None
    scalar_mean_km_h: float
    strongest_km_h: float
    persistence: float | None


@dataclass(frozen=True, slots=True)
class BeaufortRow:
    """One Beaufort number, at two heights, because the same number is two speeds.

    Attributes: number; at_10_m_km_h and at_nozzle_km_h, (from, to), None where open; sign, what is
    seen; advice for spraying.
    """

    number: int
    at_10_m_km_h: tuple[float | None, float | None]
    at_nozzle_km_h: tuple[float | None, float | None]
    sign: str
    advice: str


BEAUFORT: tuple[BeaufortRow, ...] = (
    BeaufortRow(0, (None, 1), (None, 2), "smoke rises straight up", "avoid"),
    BeaufortRow(1, (1, 5), (2, 3.2), "smoke drifts, vanes do not turn", "avoid fine sprays"),
    BeaufortRow(2, (6, 11), (3.2, 6.5), "wind is felt on the face, leaves rustle", "best"),
    BeaufortRow(3, (12, 19), (6.5, 9.6), "leaves and twigs move all the time", "more risk"),
    BeaufortRow(4, (20, 28), (9.6, 14.5), "dust rises, small branches move", "do not spray"),
    BeaufortRow(5, (29, 38), (15, 20), "small trees sway", "do not spray"),
)
"""At 10 m and advice: [VIC-BEAUFORT]. At nozzle height: 0 to 2 [DEFRA-DRIFT], 3 and 4 the same from
memory, 5 [NZ-GROWSAFE]."""


def sector(*, direction_deg: float) -> str:
    """Return the nearest of the sixteen points of the compass.

    Args: direction_deg [°] from 0 to 360.
    Raises: OutOfRange outside that range.
    Source: exact; each sector is 22.5° wide and centred on its point.
    """
    within("direction_deg", direction_deg, 0.0, 360.0, "°")
    return SECTORS[math.floor(direction_deg / 22.5 + 0.5) % 16]


def vector_mean(*, speeds_km_h: Sequence[float], from_deg: Sequence[float]) -> WindMean:
    """Return the mean wind of several readings of equal weight. [km/h, °]

    Args: speeds_km_h [km/h] ≥ 0 and from_deg [°] from 0 to 360, one for each reading, one or more.
    Raises: OutOfRange if a reading is out of its range, none is given or the lengths differ.
    Source: [WIND-VECTORS]; the share below which there is no direction is common practice.
    """
    if len(speeds_km_h) == 0 or len(speeds_km_h) != len(from_deg):
        raise OutOfRange(
            "from_deg",
            f"{len(from_deg)} directions for {len(speeds_km_h)} speeds",
            "one direction for each speed, one or more",
        )
    speeds = not_negative("speeds_km_h", np.asarray(speeds_km_h, np.float64))
    angles = np.radians(within("from_deg", np.asarray(from_deg, np.float64), 0.0, 360.0, "°"))
    # Where the wind comes from, east and north: the sign of the motion cancels in the direction.
    east = float(np.mean(speeds * np.sin(angles)))
    north = float(np.mean(speeds * np.cos(angles)))
    speed, scalar = math.hypot(east, north), float(np.mean(speeds))
    steady = speed >= CALM_SHARE * scalar and scalar > 0.0
    return WindMean(
        speed_km_h=speed,
        from_deg=_compass(east, north) if steady else None,
        scalar_mean_km_h=scalar,
        strongest_km_h=float(speeds.max()),
        persistence=speed / scalar if scalar > 0.0 else None,
    )


def crop_displacement_m(*, crop_height_m: N) -> N:
    """Return how far a crop lifts the wind profile, d. [m]

    Args: crop_height_m [m] ≥ 0.
    Raises: OutOfRange if it is negative or not finite.
    Source: [FAO-56] eq. 4, from memory.
    """
    return 2.0 / 3.0 * not_negative("crop_height_m", crop_height_m)


def crop_roughness_m(*, crop_height_m: N) -> N:
    """Return the roughness length of a crop for the wind, z₀. [m]

    Args: crop_height_m [m] > 0.
    Raises: OutOfRange if it is not positive and finite.
    Source: [FAO-56] eq. 4, from memory.
    """
    return 0.123 * positive("crop_height_m", crop_height_m)


def speed_at_height_km_h(
    *,
    speed_km_h: N,
    from_height_m: float,
    to_height_m: float,
    roughness_m: float = 0.03,
    displacement_m: float = 0.0,
) -> N:
    """Return the wind speed at another height by the logarithmic law. [km/h]

    For neutral air over open ground alone: not in an inversion, near shelter or near the canopy.

    Args: speed_km_h [km/h] ≥ 0; from_height_m and to_height_m [m], both more than ten roughness
        lengths above the displacement height; roughness_m [m] > 0, 0.03 for short grass;
        displacement_m [m] ≥ 0.
    Raises: OutOfRange if an argument is out of its range.
    Source: [FAO-56] eq. 4, the aerodynamic profile; the factor of ten is common practice.
    """
    not_negative("speed_km_h", speed_km_h)
    positive("roughness_m", roughness_m)
    not_negative("displacement_m", displacement_m)
    floor = displacement_m + 10.0 * roughness_m
    for name, height in (("from_height_m", from_height_m), ("to_height_m", to_height_m)):
        if not floor < height < math.inf:
            raise OutOfRange(
                name, height, "finite and above {floor} m in this canopy", floor=f"{floor:.10g}"
            )
    ratio = math.log((to_height_m - displacement_m) / roughness_m) / math.log(
        (from_height_m - displacement_m) / roughness_m
    )
    return speed_km_h * ratio


def speed_at_2_m_km_h(*, speed_km_h: N, height_m: float) -> N:
    """Return the wind speed at 2 m above short grass. [km/h]

    Args: speed_km_h [km/h] ≥ 0; height_m of the reading [m] from 0.5 to 100.
    Raises: OutOfRange if an argument is out of its range.
    Source: [FAO-56] eq. 47.
    """
    not_negative("speed_km_h", speed_km_h)
    within("height_m", height_m, 0.5, 100.0, "m")
    return speed_km_h * (4.87 / math.log(67.8 * height_m - 5.42))


def is_downwind(
    *,
    wind_from_deg: float | None,
    wind_speed_km_h: float,
    bearing_deg: float,
    half_angle_deg: float = DOWNWIND_HALF_ANGLE_DEG,
) -> bool:
    """Return whether a place lies downwind; in light or directionless wind every place does.

    Args: wind_from_deg [°] from 0 to 360, None where the direction is undefined; wind_speed_km_h
        [km/h] ≥ 0; bearing_deg from the field to the place [°] from −180 to 360, from the same
        north; half_angle_deg [°] from 0 to 180.
    Raises: OutOfRange if an argument is out of its range.
    Source: [DOWNWIND-45]; common practice, no source.
    """
    not_negative("wind_speed_km_h", wind_speed_km_h)
    # Geodesic bearings come from −180° to 180°, compass bearings from 0° to 360°.
    within("bearing_deg", bearing_deg, -180.0, 360.0, "°")
    within("half_angle_deg", half_angle_deg, 0.0, 180.0, "°")
    if wind_from_deg is None or wind_speed_km_h < LIGHT_WIND_KM_H:
        return True
    within("wind_from_deg", wind_from_deg, 0.0, 360.0, "°")
    off_axis = abs((bearing_deg - wind_from_deg) % 360.0 - 180.0)
    return off_axis <= half_angle_deg


def _compass(east: float, north: float) -> float:
    """Return the compass direction of a vector, at least 0 and below 360. [°]"""
    direction = math.degrees(math.atan2(east, north)) % 360.0
    # A tiny negative angle rounds to exactly 360, which is north.
    return 0.0 if direction == 360.0 else direction
