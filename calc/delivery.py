"""What the rig, as set, puts on the field, how sure that is, and what the evidence says of it.

rate = 60000 · D · q₀ · (p / p₀)ⁿ / (v · s · √SG). The known flow q₀ at p₀ is water: a nozzle's
rated point, or better, a catch test. A caught flow is scaled from the pressure of the test to that
of the record. What a gauge gets wrong cancels if both were read on it, and single nozzles were
measured at exponents of 0.45–0.52: a flow known near the pressure used is worth more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Generic

import numpy as np

from calc.coverage import CM_METRIC
from calc.errors import N, Number, not_negative, positive, within
from calc.flow import EXPONENT_RANGE, SPECIFIC_GRAVITY_RANGE, flow_at_pressure
from calc.limits import (
    DISAGREE,
    LOOK_AGAIN,
    Comparison,
    verdict_target,
    verdict_within,
)
from calc.uncertainty import (
    COVERAGE_FACTOR,
    combined,
    coverage_factor_of,
    exponent_source,
    pressure_sources,
    relative_of_product_rate,
    relative_of_ratio,
    worst_case,
)
from calc.verdict import Judgements, judge_rates

USUAL_FIELD_EFFICIENCY = (0.5, 0.9)
"""Share of the time on a field in which the boom sprays; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings(Generic[N]):
    """How the rig was set; floats, or arrays of one length.

    Attributes: known_flow_l_min of water through one nozzle [L/min] > 0 at known_at_kpa [kPa] > 0;
    exponent of the pressure law [1] from 0.4 to 0.6; gauge_kpa while spraying [kPa] > 0;
    line_loss_kpa, all that is lost between gauge and nozzle [kPa] ≥ 0, below gauge_kpa; speed_km_h
    [km/h] > 0; spacing_cm, the width one nozzle covers [cm] > 0; specific_gravity of the mix [1]
    from 0.75 to 1.95; duty, the share of time a pulsing valve is open [1] above 0 to 1.
    """

    known_flow_l_min: N
    known_at_kpa: N
    exponent: N
    gauge_kpa: N
    line_loss_kpa: N
    speed_km_h: N
    spacing_cm: N
    specific_gravity: N
    duty: N


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertainties(Generic[N]):
    """The standard uncertainties of the settings; floats, or arrays that broadcast with them.

    Attributes: flow, speed, spacing, specific_gravity and duty, relative [1] ≥ 0; pressure_kpa of
    the rig's gauge [kPa] ≥ 0, absolute because that is how gauges err; repeatability_kpa of that
    gauge [kPa] ≥ 0 if the known flow was caught on it, at known_at_kpa at the nozzle, else None;
    known_at_kpa of the pressure of the known flow [kPa] ≥ 0, of another gauge, not read with
    repeatability_kpa; exponent [1] ≥ 0; line_loss, the doubt of the measured loss over the nozzle's
    pressure at that measurement [1] ≥ 0, not read with repeatability_kpa.
    """

    flow: N
    pressure_kpa: N
    speed: N
    spacing: N
    specific_gravity: N
    duty: N
    repeatability_kpa: N | float | None = None
    known_at_kpa: N | float = 0.0
    exponent: N | float = 0.0
    line_loss: N | float = 0.0


@dataclass(frozen=True, slots=True)
class Delivered(Generic[N]):
    """What is laid down.

    Attributes: rate_l_ha of carrier [L/ha]; relative_u, its relative standard uncertainty [1];
    expanded_l_ha, U with k = 2 [L/ha]; nozzle_flow_l_min, the mean flow of the mix through one
    nozzle [L/min]; nozzle_pressure_kpa [kPa]; sources, by name, what each input adds to relative_u,
    relative and standard [1].
    """

    rate_l_ha: N
    relative_u: N
    expanded_l_ha: N
    nozzle_flow_l_min: N
    nozzle_pressure_kpa: N
    sources: Mapping[str, N]

    @property
    def k(self) -> N:
        """The coverage factor for 95 %, see `calc.uncertainty.coverage_factor_of`."""
        return coverage_factor_of(sources=self.sources)


@dataclass(frozen=True, slots=True)
class ProductRate(Generic[N]):
    """One product's delivered rate.

    Attributes: rate_per_ha, in the unit of amount per hectare; relative_u, its relative standard
    uncertainty [1]; expanded_per_ha, U with k = 2.
    """

    rate_per_ha: N
    relative_u: N
    expanded_per_ha: N


@dataclass(frozen=True, slots=True)
class SettingsCheck(Generic[N]):
    """Many settings, judged.

    Attributes: delivered; label, how each stands to the label's rates, planned, to the planned one;
    None where it was not asked, and the code `calc.verdict.NOT_JUDGED` in a row without it.
    """

    delivered: Delivered[N]
    label: Judgements | None
    planned: Judgements | None


def delivered(*, settings: Settings[N], uncertainties: Uncertainties[N]) -> Delivered[N]:
    """Return the carrier rate that the settings deliver, and how sure it is. [L/ha]

    Args: settings and uncertainties, in the ranges their classes name.
    Raises: OutOfRange if one is out of its range.
    Source: [RATE-IDENTITY], [ORIFICE-LAW], [UNL-2016]; uncertainty [JCGM-100] 5.1.6.
    """
    s, u = settings, uncertainties
    positive("known_flow_l_min", s.known_flow_l_min)
    positive("known_at_kpa", s.known_at_kpa)
    within("exponent", s.exponent, *EXPONENT_RANGE, "")
    positive("gauge_kpa", s.gauge_kpa)
    not_negative("line_loss_kpa", s.line_loss_kpa)
    positive("speed_km_h", s.speed_km_h)
    positive("spacing_cm", s.spacing_cm)
    within("specific_gravity", s.specific_gravity, *SPECIFIC_GRAVITY_RANGE, "")
    positive("duty", s.duty)
    within("duty", s.duty, 0.0, 1.0, "")
    not_negative("uncertainty of pressure_kpa", u.pressure_kpa)

    pressure = positive("gauge_kpa − line_loss_kpa", s.gauge_kpa - s.line_loss_kpa)
    flow: N = (
        s.known_flow_l_min
        * (pressure / s.known_at_kpa) ** s.exponent
        * s.duty
        / s.specific_gravity**0.5
    )
    rate: N = CM_METRIC * flow / (s.speed_km_h * s.spacing_cm)
    sources = _sources(s, u, pressure)
    relative = combined(sources=sources)
    return Delivered(
        rate_l_ha=rate,
        relative_u=relative,
        expanded_l_ha=COVERAGE_FACTOR * relative * rate,
        nozzle_flow_l_min=flow,
        nozzle_pressure_kpa=pressure,
        sources=sources,
    )


def _sources(s: Settings[N], u: Uncertainties[N], pressure: N) -> dict[str, N]:
    """Return what each input adds to the rate's relative standard uncertainty, by name.

    An input that is exact in every row is left out, but for the flow.
    """
    own = u.repeatability_kpa
    sources = {
        "flow": not_negative("u_flow", u.flow),
        **pressure_sources(
            exponent=s.exponent,
            gauge_kpa=s.gauge_kpa,
            # What the rig's gauge showed in the test, the line loss being a fixed share.
            known_at_kpa=s.known_at_kpa if own is None else s.known_at_kpa * s.gauge_kpa / pressure,
            u_gauge_kpa=u.pressure_kpa,
            u_repeatability_kpa=own,
            u_known_at_kpa=u.known_at_kpa,
        ),
        "exponent": exponent_source(
            pressure_kpa=pressure, known_at_kpa=s.known_at_kpa, u_exponent=u.exponent
        ),
        # A flow caught behind the same line has the same share lost.
        "line loss": s.exponent * (not_negative("line_loss", u.line_loss) if own is None else 0.0),
        "speed": not_negative("u_speed", u.speed),
        "spacing": not_negative("u_spacing", u.spacing),
        "duty": not_negative("u_duty", u.duty),
        "density": 0.5 * not_negative("u_specific_gravity", u.specific_gravity),
    }
    return {name: part for name, part in sources.items() if name == "flow" or np.any(part)}


def product_rate(
    *, delivered: Delivered[N], concentration_per_l: N, u_concentration: N
) -> ProductRate[N]:
    """Return a product's delivered rate: carrier rate times what is in a litre of the mix.

    A wrong carrier rate with the planned concentration moves every product by the same factor.

    Args: delivered, the carrier; concentration_per_l, the amount of product in a litre of mix, in
        any unit of amount > 0; u_concentration, relative [1] ≥ 0.
    Raises: OutOfRange if a number is out of its range.
    Source: [TANK-ARITHMETIC]; uncertainty [JCGM-100] 5.1.6.
    """
    rate = delivered.rate_l_ha * positive("concentration_per_l", concentration_per_l)
    relative = relative_of_product_rate(
        u_rate=delivered.relative_u, u_concentration=u_concentration
    )
    return ProductRate(
        rate_per_ha=rate, relative_u=relative, expanded_per_ha=COVERAGE_FACTOR * relative * rate
    )


def check_settings(
    *,
    settings: Settings[N],
    uncertainties: Uncertainties[N],
    label_low_l_ha: Number | None,
    label_high_l_ha: Number | None,
    planned_l_ha: Number | None,
    look_again: float = LOOK_AGAIN,
    disagree: float = DISAGREE,
) -> SettingsCheck[N]:
    """Return what many settings deliver, and how each stands to its label and its plan. [L/ha]

    Args: settings and uncertainties as for `delivered`; label_low_l_ha and label_high_l_ha
        [L/ha], None if no row has that limit, −inf and +inf in a row that has none; planned_l_ha
        [L/ha] > 0, None if no row has a plan, NaN in a row that has none; look_again and disagree,
        fractions of the plan, the first also of the limits.
    Raises: OutOfRange if an argument is out of its range.
    Source: as for `delivered`; decision as for `calc.verdict.judge_rate`.
    """
    laid = delivered(settings=settings, uncertainties=uncertainties)
    worst_low, worst_high = worst_case(estimate=laid.rate_l_ha, sources=laid.sources)

    def judged(low: Number | None, high: Number | None, plan: Number | None) -> Judgements:
        return judge_rates(
            estimate=laid.rate_l_ha,
            relative_u=laid.relative_u,
            low=low,
            high=high,
            plan=plan,
            look_again=look_again,
            off_plan=disagree,
            worst_low=worst_low,
            worst_high=worst_high,
        )

    label = planned = None
    if label_low_l_ha is not None or label_high_l_ha is not None:
        label = judged(label_low_l_ha, label_high_l_ha, None)
    if planned_l_ha is not None:
        planned = judged(None, None, planned_l_ha)
    return SettingsCheck(delivered=laid, label=label, planned=planned)


def amount_used_verdict(
    *,
    quantity: str,
    unit: str,
    used: float,
    u_used: float,
    rate_per_ha: float,
    u_rate: float,
    area_ha: float,
    u_area: float,
) -> Comparison:
    """Return whether the amount used is what the rate would have used on the area. [unit]

    For the tank mix and for each product alike.

    Args: quantity and unit as they are to be shown; used [unit] ≥ 0; rate_per_ha [unit/ha] > 0;
        area_ha treated [ha] > 0; u_used, u_rate and u_area, relative and standard [1] ≥ 0.
    Raises: OutOfRange if a number is out of its range.
    Source: [RECONCILE-5-10]; uncertainty [JCGM-100] 5.1.6.
    """
    not_negative("used", used)
    positive("rate_per_ha", rate_per_ha)
    positive("area_ha", area_ha)
    u_expected = relative_of_product_rate(u_rate=u_rate, u_concentration=u_area)
    relative = relative_of_ratio(u_above=u_used, u_below=u_expected)
    return verdict_target(
        quantity=quantity,
        value=used,
        unit=unit,
        expanded=COVERAGE_FACTOR * relative * used,
        target=rate_per_ha * area_ha,
        basis="RECONCILE-5-10",
    )


def travelled_area_verdict(
    *,
    distance_m: float,
    u_distance: float,
    swath_m: float,
    u_swath: float,
    area_ha: float,
    u_area: float,
) -> Comparison:
    """Return whether the distance sprayed, times the swath, is the area of the record. [ha]

    The distance is that with the boom on; where only the time is known it is speed times time.

    Args: distance_m [m] > 0; swath_m [m] > 0; area_ha of the record [ha] > 0; u_distance, u_swath
        and u_area, relative standard uncertainties [1] ≥ 0.
    Raises: OutOfRange if a number is out of its range.
    Source: [OVERLAP]; [RECONCILE-5-10]; uncertainty [JCGM-100] 5.1.6.
    """
    positive("distance_m", distance_m)
    positive("swath_m", swath_m)
    positive("area_ha", area_ha)
    u_travelled = relative_of_product_rate(u_rate=u_distance, u_concentration=u_swath)
    relative = relative_of_ratio(u_above=u_travelled, u_below=u_area)
    travelled = distance_m * swath_m / 10_000.0
    return verdict_target(
        quantity="area from distance and swath",
        value=travelled,
        unit="ha",
        expanded=COVERAGE_FACTOR * relative * travelled,
        target=area_ha,
        basis="RECONCILE-5-10",
    )


def field_efficiency_verdict(
    *,
    area_ha: float,
    u_area: float,
    swath_m: float,
    u_swath: float,
    speed_km_h: float,
    u_speed: float,
    duration_min: float,
    u_duration: float,
) -> Comparison:
    """Return whether the area could be sprayed from start to end at this speed. [1]

    The value is the field efficiency, area / (swath · speed · time). Above 1 is impossible; outside
    0.5 to 0.9 it is unusual and calls for a second look.

    Args: area_ha [ha], swath_m [m], speed_km_h [km/h] and duration_min from start to end [min], all
        > 0; u_area, u_swath, u_speed and u_duration, relative standard uncertainties [1] ≥ 0.
    Raises: OutOfRange if a number is out of its range.
    Source: [RATE-IDENTITY]; usual range [FIELD-EFFICIENCY]; uncertainty [JCGM-100] 5.1.6.
    """
    positive("area_ha", area_ha)
    positive("swath_m", swath_m)
    positive("speed_km_h", speed_km_h)
    positive("duration_min", duration_min)
    u_width = relative_of_product_rate(u_rate=u_swath, u_concentration=u_speed)
    u_work = relative_of_product_rate(u_rate=u_width, u_concentration=u_duration)
    relative = relative_of_ratio(u_above=u_area, u_below=u_work)
    # 10: one metre times one kilometre per hour is a tenth of a hectare per hour.
    efficiency = area_ha / (swath_m * speed_km_h / 10.0 * duration_min / 60.0)
    verdict = verdict_within(
        quantity="field efficiency",
        value=efficiency,
        unit="1",
        expanded=COVERAGE_FACTOR * relative * efficiency,
        low=None,
        high=1.0,
        basis="FIELD-EFFICIENCY",
    )
    low, high = USUAL_FIELD_EFFICIENCY
    return replace(verdict, look_again=not low <= efficiency <= high)


def caught_flow_verdict(
    *,
    caught_l_min: float,
    u_caught: float,
    pressure_kpa: float,
    u_pressure_kpa: float,
    rated_flow_l_min: float,
    rated_pressure_kpa: float,
    exponent: float,
) -> Comparison:
    """Return whether a caught flow is the rated flow at the pressure of the catch. [L/min]

    Args: caught_l_min of water from one nozzle [L/min] > 0, at pressure_kpa at the nozzle [kPa]
        > 0; rated_flow_l_min [L/min] > 0 at rated_pressure_kpa [kPa] > 0; exponent [1] from 0.4 to
        0.6; u_caught, relative [1] ≥ 0, and u_pressure_kpa [kPa] ≥ 0, standard uncertainties.
    Raises: OutOfRange if a number is out of its range.
    Source: [ORIFICE-LAW]; beyond 10 % a nozzle is replaced, [WEAR-10].
    """
    positive("caught_l_min", caught_l_min)
    not_negative("u_pressure_kpa", u_pressure_kpa)
    rated_here = flow_at_pressure(
        rated_flow_l_min=rated_flow_l_min,
        rated_pressure_kpa=rated_pressure_kpa,
        pressure_kpa=pressure_kpa,
        exponent=exponent,
    )
    relative = relative_of_ratio(u_above=u_caught, u_below=exponent * u_pressure_kpa / pressure_kpa)
    return verdict_target(
        quantity="caught flow",
        value=caught_l_min,
        unit="L/min",
        expanded=COVERAGE_FACTOR * relative * caught_l_min,
        target=rated_here,
        basis="WEAR-10",
    )
