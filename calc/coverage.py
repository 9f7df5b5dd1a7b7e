"""Rate, flow, speed and width, each from the other three; bands, swath, area and work rate.

The US forms have the exact constants 5940 (inches) and 495 (feet), the metric ones 60000
(centimetres) and 600 (metres). Spacing is the width that one nozzle covers; for bands and drops it
comes from the functions that return an `EffectiveWidth`, which says on which area the rate stands.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from calc.errors import N, not_negative, positive, whole

CM_METRIC = 60_000.0
"""L/min = L/ha · km/h · cm / 60000: 10000 m² · 100 cm · 60 min / 1000 m. [RATE-IDENTITY]."""

M_METRIC = 600.0
"""L/min = L/ha · km/h · m / 600. Source: [RATE-IDENTITY]."""

INCHES_US = 5940.0
"""gal/min = gal/ac · mph · in / 5940: 43560 ft² · 12 in / 88 ft/min. Source: [UF-WG013]."""

FEET_US = 495.0
"""gal/min = gal/ac · mph · ft / 495: 43560 ft² / 88 ft/min. Source: [WY-WEED]."""

SQUARE_FEET_PER_ACRE = 43_560.0

USUAL = {
    "speed_km_h": (1.0, 40.0),
    "spacing_cm": (10.0, 300.0),
    "rate_l_ha": (10.0, 2000.0),
    "nozzle_flow_l_min": (0.1, 20.0),
}
"""Ranges outside which an entry is more likely a slip than a ground rig. [COVERAGE-USUAL].

The formulas hold beyond them; a boomless swath is up to 30 m.
"""


class AreaBasis(StrEnum):
    """The area that a rate stands on."""

    TREATED = "treated area"
    FIELD = "field area"


@dataclass(frozen=True, slots=True)
class EffectiveWidth:
    """Width that one nozzle covers [cm], and the area that a rate computed with it stands on."""

    width_cm: float
    basis: AreaBasis


def delivered_rate_l_ha(*, flow_l_min: N, speed_km_h: N, spacing_cm: N) -> N:
    """Return the rate that one nozzle's flow lays down. [L/ha]

    Args: flow_l_min of one nozzle [L/min] > 0; speed_km_h [km/h] > 0; spacing_cm between nozzles,
        or the effective width of one [cm] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [RATE-IDENTITY]; exact, nothing fitted.
    """
    positive("flow_l_min", flow_l_min)
    positive("speed_km_h", speed_km_h)
    positive("spacing_cm", spacing_cm)
    return CM_METRIC * flow_l_min / (speed_km_h * spacing_cm)


def nozzle_flow_l_min(*, rate_l_ha: N, speed_km_h: N, spacing_cm: N) -> N:
    """Return the flow one nozzle must give to lay down a rate. [L/min]

    Args: rate_l_ha [L/ha] > 0; speed_km_h [km/h] > 0; spacing_cm between nozzles, or the effective
        width of one [cm] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [RATE-IDENTITY]; exact, nothing fitted.
    """
    positive("rate_l_ha", rate_l_ha)
    positive("speed_km_h", speed_km_h)
    positive("spacing_cm", spacing_cm)
    return rate_l_ha * speed_km_h * spacing_cm / CM_METRIC


def ground_speed_km_h(*, flow_l_min: N, rate_l_ha: N, spacing_cm: N) -> N:
    """Return the ground speed at which one nozzle's flow lays down a rate. [km/h]

    Args: flow_l_min of one nozzle [L/min] > 0; rate_l_ha [L/ha] > 0; spacing_cm between nozzles,
        or the effective width of one [cm] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [RATE-IDENTITY]; exact, nothing fitted.
    """
    positive("flow_l_min", flow_l_min)
    positive("rate_l_ha", rate_l_ha)
    positive("spacing_cm", spacing_cm)
    return CM_METRIC * flow_l_min / (rate_l_ha * spacing_cm)


def nozzle_spacing_cm(*, flow_l_min: N, rate_l_ha: N, speed_km_h: N) -> N:
    """Return the width one nozzle must cover so that its flow lays down a rate. [cm]

    Args: flow_l_min of one nozzle [L/min] > 0; rate_l_ha [L/ha] > 0; speed_km_h [km/h] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [RATE-IDENTITY]; exact, nothing fitted.
    """
    positive("flow_l_min", flow_l_min)
    positive("rate_l_ha", rate_l_ha)
    positive("speed_km_h", speed_km_h)
    return CM_METRIC * flow_l_min / (rate_l_ha * speed_km_h)


def delivered_rate_gal_ac(*, flow_gal_min: N, speed_mph: N, spacing_in: N) -> N:
    """Return the rate that one nozzle's flow lays down. [US gal/ac]

    Args: flow_gal_min of one nozzle [US gal/min] > 0; speed_mph [mph] > 0; spacing_in between
        nozzles, or the effective width of one [in] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [UF-WG013], [MO-G1270A], [MT200914AG]; exact, nothing fitted.
    """
    positive("flow_gal_min", flow_gal_min)
    positive("speed_mph", speed_mph)
    positive("spacing_in", spacing_in)
    return INCHES_US * flow_gal_min / (speed_mph * spacing_in)


def nozzle_flow_gal_min(*, rate_gal_ac: N, speed_mph: N, spacing_in: N) -> N:
    """Return the flow one nozzle must give to lay down a rate. [US gal/min]

    Args: rate_gal_ac [US gal/ac] > 0; speed_mph [mph] > 0; spacing_in between nozzles, or the
        effective width of one [in] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [UF-WG013], [MO-G1270A], [MT200914AG]; exact, nothing fitted.
    """
    positive("rate_gal_ac", rate_gal_ac)
    positive("speed_mph", speed_mph)
    positive("spacing_in", spacing_in)
    return rate_gal_ac * speed_mph * spacing_in / INCHES_US


def ground_speed_mph(*, flow_gal_min: N, rate_gal_ac: N, spacing_in: N) -> N:
    """Return the ground speed at which one nozzle's flow lays down a rate. [mph]

    Args: flow_gal_min of one nozzle [US gal/min] > 0; rate_gal_ac [US gal/ac] > 0; spacing_in
        between nozzles, or the effective width of one [in] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [UF-WG013], [MT2000-14]; exact, nothing fitted.
    """
    positive("flow_gal_min", flow_gal_min)
    positive("rate_gal_ac", rate_gal_ac)
    positive("spacing_in", spacing_in)
    return INCHES_US * flow_gal_min / (rate_gal_ac * spacing_in)


def nozzle_spacing_in(*, flow_gal_min: N, rate_gal_ac: N, speed_mph: N) -> N:
    """Return the width one nozzle must cover so that its flow lays down a rate. [in]

    Args: flow_gal_min of one nozzle [US gal/min] > 0; rate_gal_ac [US gal/ac] > 0; speed_mph
        [mph] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [UF-WG013]; exact, nothing fitted.
    """
    positive("flow_gal_min", flow_gal_min)
    positive("rate_gal_ac", rate_gal_ac)
    positive("speed_mph", speed_mph)
    return INCHES_US * flow_gal_min / (rate_gal_ac * speed_mph)


def swath_rate_l_ha(*, boom_flow_l_min: N, speed_km_h: N, swath_m: N) -> N:
    """Return the rate that the flow of the whole boom lays down on its swath. [L/ha]

    Args: boom_flow_l_min [L/min] > 0; speed_km_h [km/h] > 0; swath_m [m] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [RATE-IDENTITY]; exact, nothing fitted.
    """
    positive("boom_flow_l_min", boom_flow_l_min)
    positive("speed_km_h", speed_km_h)
    positive("swath_m", swath_m)
    return M_METRIC * boom_flow_l_min / (speed_km_h * swath_m)


def boom_flow_l_min(*, rate_l_ha: N, speed_km_h: N, swath_m: N) -> N:
    """Return the flow the whole boom must give to lay down a rate on its swath. [L/min]

    Args: rate_l_ha [L/ha] > 0; speed_km_h [km/h] > 0; swath_m [m] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [RATE-IDENTITY]; exact, nothing fitted.
    """
    positive("rate_l_ha", rate_l_ha)
    positive("speed_km_h", speed_km_h)
    positive("swath_m", swath_m)
    return rate_l_ha * speed_km_h * swath_m / M_METRIC


def swath_rate_gal_ac(*, boom_flow_gal_min: N, speed_mph: N, swath_ft: N) -> N:
    """Return the rate that the flow of the whole boom lays down on its swath. [US gal/ac]

    Args: boom_flow_gal_min [US gal/min] > 0; speed_mph [mph] > 0; swath_ft [ft] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [WY-WEED]; exact, nothing fitted.
    """
    positive("boom_flow_gal_min", boom_flow_gal_min)
    positive("speed_mph", speed_mph)
    positive("swath_ft", swath_ft)
    return FEET_US * boom_flow_gal_min / (speed_mph * swath_ft)


def boom_flow_gal_min(*, rate_gal_ac: N, speed_mph: N, swath_ft: N) -> N:
    """Return the flow the whole boom must give to lay down a rate on its swath. [US gal/min]

    Args: rate_gal_ac [US gal/ac] > 0; speed_mph [mph] > 0; swath_ft [ft] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [WY-WEED]; exact, nothing fitted.
    """
    positive("rate_gal_ac", rate_gal_ac)
    positive("speed_mph", speed_mph)
    positive("swath_ft", swath_ft)
    return rate_gal_ac * speed_mph * swath_ft / FEET_US


def broadcast_width(*, spacing_cm: float) -> EffectiveWidth:
    """Return the effective width of a nozzle on a broadcast boom: its spacing. [cm]

    All of the field under the boom is treated, so the two bases agree; treated area is named.

    Args: spacing_cm between nozzles [cm] > 0, measured: a "50 cm" boom is often 50.8 cm.
    Raises: OutOfRange if it is not positive and finite.
    Source: [MO-G1270A], [GRDC-8].
    """
    return EffectiveWidth(positive("spacing_cm", spacing_cm), AreaBasis.TREATED)


def directed_width(*, row_spacing_cm: float, nozzles_per_row: int) -> EffectiveWidth:
    """Return the effective width of one of several nozzles on a row; field area. [cm]

    Args: row_spacing_cm [cm] > 0; nozzles_per_row ≥ 1.
    Raises: OutOfRange if an argument is outside its range.
    Source: [MO-G1270A].
    """
    positive("row_spacing_cm", row_spacing_cm)
    whole("nozzles_per_row", nozzles_per_row)
    return EffectiveWidth(row_spacing_cm / nozzles_per_row, AreaBasis.FIELD)


def band_width(
    *, band_width_cm: float, row_spacing_cm: float, nozzles_per_band: int, basis: AreaBasis
) -> EffectiveWidth:
    """Return the effective width of a nozzle of a band sprayer, with its basis. [cm]

    Args: band_width_cm [cm] > 0, not wider than row_spacing_cm [cm]; nozzles_per_band ≥ 1; basis,
        the area on which the label states its rate.
    Raises: OutOfRange if an argument is outside its range or the band is wider than the row.
    Source: [MO-G1270A].
    """
    _band_share(band_width_cm, row_spacing_cm)
    whole("nozzles_per_band", nozzles_per_band)
    width = band_width_cm if basis is AreaBasis.TREATED else row_spacing_cm
    return EffectiveWidth(width / nozzles_per_band, basis)


def field_area_amount(*, broadcast_amount: N, band_width_cm: N, row_spacing_cm: N) -> N:
    """Return the amount per field area of a rate banded on part of it, in the unit given.

    An area works as well as a rate: the field's area in gives the treated area out.

    Args: broadcast_amount, rate per treated area ≥ 0; band_width_cm [cm] > 0, not wider than
        row_spacing_cm [cm].
    Raises: OutOfRange if an argument is outside its range or the band is wider than the row.
    Source: [UMN-BAND].
    """
    not_negative("broadcast_amount", broadcast_amount)
    return broadcast_amount * _band_share(band_width_cm, row_spacing_cm)


def rectangle_area_ha(*, distance_m: N, width_m: N) -> N:
    """Return the area of a strip from the distance driven and its width. [ha]

    Args: distance_m [m] > 0; width_m [m] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [RATE-IDENTITY]; exact.
    """
    return positive("distance_m", distance_m) * positive("width_m", width_m) / 10_000.0


def rectangle_area_ac(*, distance_ft: N, width_ft: N) -> N:
    """Return the area of a strip from the distance driven and its width. [ac]

    Args: distance_ft [ft] > 0; width_ft [ft] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [CORE-11]; 43,560 ft² in an acre, exact.
    """
    positive("distance_ft", distance_ft)
    positive("width_ft", width_ft)
    return distance_ft * width_ft / SQUARE_FEET_PER_ACRE


def refill_rate_l_ha(*, volume_l: N, area_ha: N) -> N:
    """Return the rate from the volume that refills the tank after a measured area. [L/ha]

    Args: volume_l to refill [L] > 0; area_ha sprayed [ha] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [IRRI] example 1.
    """
    return positive("volume_l", volume_l) / positive("area_ha", area_ha)


def refill_rate_gal_ac(*, volume_gal: N, area_ac: N) -> N:
    """Return the rate from the volume that refills the tank after a measured area. [US gal/ac]

    Args: volume_gal to refill [US gal] > 0; area_ac sprayed [ac] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [MSU-SLIDES].
    """
    return positive("volume_gal", volume_gal) / positive("area_ac", area_ac)


def work_rate_ha_h(*, speed_km_h: N, swath_m: N) -> N:
    """Return the area sprayed in an hour without a stop. [ha/h]

    Args: speed_km_h [km/h] > 0; swath_m [m] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [RATE-IDENTITY]; exact.
    """
    return positive("speed_km_h", speed_km_h) * positive("swath_m", swath_m) / 10.0


def work_rate_ac_h(*, speed_mph: N, swath_ft: N) -> N:
    """Return the area sprayed in an hour without a stop. [ac/h]

    Args: speed_mph [mph] > 0; swath_ft [ft] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [RATE-IDENTITY]; 43560 / 5280 = 8.25, exact.
    """
    return positive("speed_mph", speed_mph) * positive("swath_ft", swath_ft) / 8.25


def spraying_time_min(*, area_ha: N, speed_km_h: N, swath_m: N) -> N:
    """Return the time with the boom on that an area takes; turns and fills come on top. [min]

    Args: area_ha [ha] > 0; speed_km_h [km/h] > 0; swath_m [m] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [RATE-IDENTITY]; exact.
    """
    positive("area_ha", area_ha)
    return 60.0 * area_ha / work_rate_ha_h(speed_km_h=speed_km_h, swath_m=swath_m)


def overlap(*, applied_ha: N, covered_ha: N) -> N:
    """Return how much of the covered area was sprayed twice, as a fraction of it.

    It is a little negative when the two areas were measured in ways that do not quite agree.

    Args: applied_ha, swath times distance [ha] > 0; covered_ha, ground under the swaths counted
        once [ha] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [OVERLAP].
    """
    return positive("applied_ha", applied_ha) / positive("covered_ha", covered_ha) - 1.0


def _band_share(band_width_cm: N, row_spacing_cm: N) -> N:
    """Return the share of the field under the bands, above 0 to 1."""
    positive("band_width_cm", band_width_cm)
    positive("row_spacing_cm", row_spacing_cm)
    not_negative("row_spacing_cm - band_width_cm", row_spacing_cm - band_width_cm)
    return band_width_cm / row_spacing_cm
