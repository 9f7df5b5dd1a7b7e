"""Flow of a nozzle: pressure, speed window, line loss, pulse width and density.

Pressure is gauge pressure at the nozzle, not in the cab, unless a name says otherwise. Catch tests
and rated flows are water; the density of a solution enters once, through the functions here.
"""

from __future__ import annotations

from typing import Generic, NamedTuple

from calc.coverage import ground_speed_km_h
from calc.errors import N, not_negative, positive, within

ORIFICE_EXPONENT = 0.5
"""Flow grows with the square root of pressure. Source: [ORIFICE-LAW]."""

EXPONENT_RANGE = (0.4, 0.6)
"""A nozzle outside this is not an orifice; measured ones lie at 0.45–0.52. [ORIFICE-LAW]."""

WATER_LB_GAL = 8.34
"""Weight of a US gallon of water as the handbooks round it. Source: [UNL-2016], [OSU-DENSITY]."""

SPECIFIC_GRAVITY_RANGE = (0.75, 1.95)
"""Where the conversion for density holds: near-water viscosity. Source: [OSU-DENSITY]."""

STANDARD_GRAVITY_M_S2 = 9.80665

USUAL_DUTY = (0.20, 1.00)
"""Duty cycle at which pulse-width valves are usually run. Source: [UGA-C1305]."""

AIMED_DUTY = (0.60, 0.80)
"""Duty cycle to aim for at the average speed. Source: [WOLF-PWM]."""

LEAST_DUTY_AIR_INDUCTION = 0.30
"""Below this an air-induction nozzle is not pulsed, and many are not at all. [GRDC-17]."""


class SpeedWindow(NamedTuple, Generic[N]):
    """Ground speeds [km/h] that keep the rate between two pressures."""

    slowest_km_h: N
    fastest_km_h: N


class PulseTravel(NamedTuple, Generic[N]):
    """Distance [m] that the rig covers during one cycle of a pulsing valve, open and shut."""

    cycle_m: N
    on_m: N
    off_m: N


def flow_at_pressure(
    *,
    rated_flow_l_min: float,
    rated_pressure_kpa: float,
    pressure_kpa: N,
    exponent: float = ORIFICE_EXPONENT,
) -> N:
    """Return the flow of a nozzle at a pressure. [L/min]

    Args: rated_flow_l_min [L/min] > 0 at rated_pressure_kpa [kPa] > 0; pressure_kpa at the nozzle
        [kPa] > 0; exponent of this nozzle, 0.4 to 0.6.
    Raises: OutOfRange if an argument is outside its range.
    Source: [ORIFICE-LAW], [CORE-11].
    """
    positive("rated_flow_l_min", rated_flow_l_min)
    positive("rated_pressure_kpa", rated_pressure_kpa)
    positive("pressure_kpa", pressure_kpa)
    within("exponent", exponent, *EXPONENT_RANGE, "")
    return rated_flow_l_min * _power(pressure_kpa / rated_pressure_kpa, exponent)


def pressure_for_flow(
    *,
    rated_flow_l_min: float,
    rated_pressure_kpa: float,
    flow_l_min: N,
    exponent: float = ORIFICE_EXPONENT,
) -> N:
    """Return the pressure at which a nozzle gives a flow. [kPa]

    Args: rated_flow_l_min [L/min] > 0 at rated_pressure_kpa [kPa] > 0; flow_l_min wanted
        [L/min] > 0; exponent of this nozzle, 0.4 to 0.6.
    Raises: OutOfRange if an argument is outside its range.
    Source: [ORIFICE-LAW], [CORE-11].
    """
    positive("rated_flow_l_min", rated_flow_l_min)
    positive("rated_pressure_kpa", rated_pressure_kpa)
    positive("flow_l_min", flow_l_min)
    within("exponent", exponent, *EXPONENT_RANGE, "")
    return rated_pressure_kpa * _power(flow_l_min / rated_flow_l_min, 1.0 / exponent)


def pressure_for_new_rate(
    *, pressure_kpa: N, rate_l_ha: N, new_rate_l_ha: N, exponent: float = ORIFICE_EXPONENT
) -> N:
    """Return the pressure that changes the rate, at the same speed and spacing. [kPa]

    Args: pressure_kpa now [kPa] > 0; rate_l_ha now and new_rate_l_ha [L/ha] > 0; exponent of this
        nozzle, 0.4 to 0.6.
    Raises: OutOfRange if an argument is outside its range.
    Source: [ORIFICE-LAW], [CORE-11].
    """
    positive("pressure_kpa", pressure_kpa)
    positive("rate_l_ha", rate_l_ha)
    positive("new_rate_l_ha", new_rate_l_ha)
    within("exponent", exponent, *EXPONENT_RANGE, "")
    return pressure_kpa * _power(new_rate_l_ha / rate_l_ha, 1.0 / exponent)


def pressure_for_new_speed(
    *, pressure_kpa: N, speed_km_h: N, new_speed_km_h: N, exponent: float = ORIFICE_EXPONENT
) -> N:
    """Return the pressure that keeps the rate at another speed. [kPa]

    Args: pressure_kpa now [kPa] > 0; speed_km_h now and new_speed_km_h [km/h] > 0; exponent of
        this nozzle, 0.4 to 0.6.
    Raises: OutOfRange if an argument is outside its range.
    Source: [ORIFICE-LAW], [CORE-11].
    """
    positive("pressure_kpa", pressure_kpa)
    positive("speed_km_h", speed_km_h)
    positive("new_speed_km_h", new_speed_km_h)
    within("exponent", exponent, *EXPONENT_RANGE, "")
    return pressure_kpa * _power(new_speed_km_h / speed_km_h, 1.0 / exponent)


def speed_window(
    *,
    rated_flow_l_min: float,
    rated_pressure_kpa: float,
    low_kpa: N,
    high_kpa: N,
    rate_l_ha: N,
    spacing_cm: N,
    exponent: float = ORIFICE_EXPONENT,
) -> SpeedWindow[N]:
    """Return the slowest and the fastest speed that hold a rate between two pressures. [km/h]

    Args: rated_flow_l_min [L/min] > 0 of the liquid sprayed, at rated_pressure_kpa [kPa] > 0;
        low_kpa and high_kpa, the ends of the nozzle's pressure range [kPa], 0 < low ≤ high;
        rate_l_ha [L/ha] > 0; spacing_cm between nozzles [cm] > 0; exponent 0.4 to 0.6.
    Raises: OutOfRange if an argument is outside its range or low_kpa is above high_kpa.
    Source: [ORIFICE-LAW], [RATE-IDENTITY].
    """
    positive("low_kpa", low_kpa)
    not_negative("high_kpa - low_kpa", high_kpa - low_kpa)
    slow_flow = flow_at_pressure(
        rated_flow_l_min=rated_flow_l_min,
        rated_pressure_kpa=rated_pressure_kpa,
        pressure_kpa=low_kpa,
        exponent=exponent,
    )
    fast_flow = flow_at_pressure(
        rated_flow_l_min=rated_flow_l_min,
        rated_pressure_kpa=rated_pressure_kpa,
        pressure_kpa=high_kpa,
        exponent=exponent,
    )
    return SpeedWindow(
        ground_speed_km_h(flow_l_min=slow_flow, rate_l_ha=rate_l_ha, spacing_cm=spacing_cm),
        ground_speed_km_h(flow_l_min=fast_flow, rate_l_ha=rate_l_ha, spacing_cm=spacing_cm),
    )


def static_head_kpa(*, rise_m: N, specific_gravity: N) -> N:
    """Return the pressure that a rise takes away; negative for a fall. [kPa]

    Args: rise_m, height of the nozzle above the gauge [m], −20 to 20; specific_gravity of the
        liquid, 0.75 to 1.95.
    Raises: OutOfRange if an argument is outside its range.
    Source: [STATIC-HEAD]; 9.81 kPa per metre of water.
    """
    within("rise_m", rise_m, -20.0, 20.0, "m")
    within("specific_gravity", specific_gravity, *SPECIFIC_GRAVITY_RANGE, "")
    return STANDARD_GRAVITY_M_S2 * specific_gravity * rise_m


def line_loss_coefficient(
    *, gauge_kpa: N, nozzle_kpa: N, boom_flow_l_min: N, exponent: float = 2.0
) -> N:
    """Return the line-loss coefficient from one paired reading. [kPa per (L/min)^exponent]

    Args: gauge_kpa at the cab or pump and nozzle_kpa on a nozzle body, read together
        [kPa], 0 < nozzle ≤ gauge; boom_flow_l_min through the line then [L/min] > 0; exponent,
        1.75 to 2.
    Raises: OutOfRange if an argument is outside its range or the nozzle reads above the gauge.
    Source: [WOLF-DROP]; exponent [LINE-EXPONENT].
    """
    positive("nozzle_kpa", nozzle_kpa)
    not_negative("gauge_kpa - nozzle_kpa", gauge_kpa - nozzle_kpa)
    positive("boom_flow_l_min", boom_flow_l_min)
    within("exponent", exponent, 1.75, 2.0, "")
    return (gauge_kpa - nozzle_kpa) / _power(boom_flow_l_min, exponent)


def line_loss_kpa(*, coefficient: N, boom_flow_l_min: N, exponent: float = 2.0) -> N:
    """Return the pressure lost between gauge and nozzle at a boom flow. [kPa]

    Args: coefficient from `line_loss_coefficient`, with the same exponent, ≥ 0;
        boom_flow_l_min [L/min] > 0; exponent, 1.75 to 2.
    Raises: OutOfRange if an argument is outside its range.
    Source: [WOLF-DROP]; exponent [LINE-EXPONENT].
    """
    not_negative("coefficient", coefficient)
    positive("boom_flow_l_min", boom_flow_l_min)
    within("exponent", exponent, 1.75, 2.0, "")
    return coefficient * _power(boom_flow_l_min, exponent)


def line_loss_share(*, gauge_kpa: N, loss_kpa: N) -> N:
    """Return the line loss as a share of the nozzle's pressure, from one paired reading. [1]

    Loss and nozzle pressure both go with density · flow², so that their ratio is the same at any
    pressure and for any liquid: it is measured once.

    Args: gauge_kpa [kPa] > 0 and loss_kpa from there to the nozzle [kPa], 0 ≤ loss < gauge.
    Raises: OutOfRange if an argument is outside its range.
    Source: [ORIFICE-LAW], [LINE-EXPONENT] with the exponent 2.
    """
    not_negative("loss_kpa", loss_kpa)
    return loss_kpa / positive("gauge_kpa - loss_kpa", gauge_kpa - loss_kpa)


def line_loss_at_gauge_kpa(*, gauge_kpa: N, share: N) -> N:
    """Return the line loss at a gauge reading: gauge · c / (1 + c). [kPa]

    Args: gauge_kpa [kPa] > 0; share c of the nozzle's pressure from `line_loss_share` [1] ≥ 0.
    Raises: OutOfRange if an argument is outside its range.
    Source: as for `line_loss_share`.
    """
    return positive("gauge_kpa", gauge_kpa) * not_negative("share", share) / (1.0 + share)


def nozzle_pressure_kpa(*, gauge_kpa: N, line_loss_kpa: N, static_head_kpa: N) -> N:
    """Return the pressure at the nozzle. [kPa]

    Args: gauge_kpa where it is read [kPa] > 0; line_loss_kpa to the nozzle [kPa] ≥ 0;
        static_head_kpa that the rise from gauge to nozzle takes away [kPa], zero on one level.
    Raises: OutOfRange if an argument is outside its range or nothing is left at the nozzle.
    Source: [WOLF-DROP], [STATIC-HEAD].
    """
    positive("gauge_kpa", gauge_kpa)
    not_negative("line_loss_kpa", line_loss_kpa)
    return positive("the pressure at the nozzle", gauge_kpa - line_loss_kpa - static_head_kpa)


def pulsed_flow_l_min(
    *,
    duty: N,
    rated_flow_l_min: float,
    rated_pressure_kpa: float,
    line_kpa: N,
    valve_loss_kpa: N,
    exponent: float = ORIFICE_EXPONENT,
) -> N:
    """Return the mean flow of a nozzle behind a pulsing valve. [L/min]

    Linear in the duty cycle, as low-frequency valves are. The droplet class follows the pressure,
    not the duty cycle.

    Args: duty, open share of the cycle, > 0 to 1; rated_flow_l_min [L/min] > 0 at
        rated_pressure_kpa [kPa] > 0; line_kpa before the valve [kPa]; valve_loss_kpa lost in the
        open valve [kPa], 0 ≤ loss < line; exponent 0.4 to 0.6.
    Raises: OutOfRange if an argument is outside its range.
    Source: [UGA-C1305], [ORIFICE-LAW].
    """
    positive("duty", duty)
    within("duty", duty, 0.0, 1.0, "")
    not_negative("valve_loss_kpa", valve_loss_kpa)
    return duty * flow_at_pressure(
        rated_flow_l_min=rated_flow_l_min,
        rated_pressure_kpa=rated_pressure_kpa,
        pressure_kpa=positive("line_kpa - valve_loss_kpa", line_kpa - valve_loss_kpa),
        exponent=exponent,
    )


def duty_for_flow(*, flow_l_min: N, full_flow_l_min: N) -> N:
    """Return the duty cycle at which a pulsed nozzle gives a mean flow, as a fraction.

    Args: flow_l_min wanted [L/min] > 0; full_flow_l_min with the valve open all the time
        [L/min] > 0.
    Raises: OutOfRange if an argument is not positive and finite, or the nozzle is too small.
    Source: [UGA-C1305]; linear.
    """
    positive("flow_l_min", flow_l_min)
    positive("full_flow_l_min", full_flow_l_min)
    return within("flow_l_min / full_flow_l_min", flow_l_min / full_flow_l_min, 0.0, 1.0, "")


def pulse_travel(*, speed_km_h: N, frequency_hz: N, duty: N) -> PulseTravel[N]:
    """Return the distance covered per cycle of a pulsing valve, open and shut. [m]

    Args: speed_km_h [km/h] > 0; frequency_hz of the valve [Hz] > 0; duty, > 0 to 1.
    Raises: OutOfRange if an argument is outside its range.
    Source: [GRDC-17] 17.3.
    """
    positive("speed_km_h", speed_km_h)
    positive("frequency_hz", frequency_hz)
    positive("duty", duty)
    within("duty", duty, 0.0, 1.0, "")
    cycle_m = speed_km_h / 3.6 / frequency_hz
    return PulseTravel(cycle_m, cycle_m * duty, cycle_m * (1.0 - duty))


def specific_gravity(*, density_lb_gal: N, water_lb_gal: float = WATER_LB_GAL) -> N:
    """Return the density relative to water, 0.75 to 1.95.

    Args: density_lb_gal of the solution [lb per US gal] > 0; water_lb_gal, what the table at hand
        takes for water [lb per US gal], 8.30 to 8.35.
    Raises: OutOfRange if an argument, or the result, is outside its range.
    Source: [UNL-2016], [OSU-DENSITY].
    """
    positive("density_lb_gal", density_lb_gal)
    within("water_lb_gal", water_lb_gal, 8.30, 8.35, "lb/gal")
    return within(
        "density_lb_gal / water_lb_gal", density_lb_gal / water_lb_gal, *SPECIFIC_GRAVITY_RANGE, ""
    )


def density_factor(*, specific_gravity: N) -> N:
    """Return the factor from a rate of solution to the rate of water to size for: √SG.

    It is applied once: not on a chart that is corrected already, nor behind a flow meter that was
    calibrated on the product.

    Args: specific_gravity of the solution, 0.75 to 1.95.
    Raises: OutOfRange if it is outside that range.
    Source: [UNL-2016], [UGA-SUMNER], [OSU-DENSITY].
    """
    within("specific_gravity", specific_gravity, *SPECIFIC_GRAVITY_RANGE, "")
    return _power(specific_gravity, 0.5)


def water_equivalent_rate_l_ha(*, solution_rate_l_ha: N, specific_gravity: N) -> N:
    """Return the rate of water for which to size the nozzles of a solution. [L/ha]

    Args: solution_rate_l_ha wanted [L/ha] > 0; specific_gravity, 0.75 to 1.95.
    Raises: OutOfRange if an argument is outside its range.
    Source: [UNL-2016] example 1.
    """
    positive("solution_rate_l_ha", solution_rate_l_ha)
    return solution_rate_l_ha * density_factor(specific_gravity=specific_gravity)


def solution_rate_l_ha(*, water_rate_l_ha: N, specific_gravity: N) -> N:
    """Return the rate of solution laid down by a boom that puts out a rate of water. [L/ha]

    Args: water_rate_l_ha measured with water [L/ha] > 0; specific_gravity, 0.75 to 1.95.
    Raises: OutOfRange if an argument is outside its range.
    Source: [UNL-2016], [OSU-DENSITY].
    """
    positive("water_rate_l_ha", water_rate_l_ha)
    return water_rate_l_ha / density_factor(specific_gravity=specific_gravity)


def solution_flow_l_min(*, water_flow_l_min: N, specific_gravity: N) -> N:
    """Return the flow of solution through a nozzle of known water flow. [L/min]

    Args: water_flow_l_min at the same pressure [L/min] > 0; specific_gravity, 0.75 to 1.95.
    Raises: OutOfRange if an argument is outside its range.
    Source: [UNL-2016], [OSU-DENSITY].
    """
    positive("water_flow_l_min", water_flow_l_min)
    return water_flow_l_min / density_factor(specific_gravity=specific_gravity)


def _power(base: N, exponent: float) -> N:
    """Return base^exponent for a base that is not negative, so never a complex number."""
    result: N = base**exponent
    return result
