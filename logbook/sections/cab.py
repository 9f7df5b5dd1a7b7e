"""The table that a cab drives by: each speed with the gauge pressure that lays down the carrier
planned, and the droplet class at it.

It is the setting turned round, ahead of any reading: flow from the catch test in force or else from
the data sheet, the square-root law, the density of the mix, the pressure lost on the way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from calc.coverage import ground_speed_km_h, nozzle_flow_l_min
from calc.droplets import Allowed, DropletClass, allowed, class_at_pressure, parse_class
from calc.flow import (
    density_factor,
    flow_at_pressure,
    pressure_for_flow,
)
from calc.units import convert
from logbook.checks.label import labels
from logbook.checks.requirements import Requirements
from logbook.checks.setting import (
    catch_test_in_force,
    caught,
    gauge_half_width_kpa,
    loss_share,
    nozzle_width,
)
from logbook.facts.quantity import Quantity
from logbook.facts.record import LabelFacts, NozzleFacts, RigFacts, Snapshot
from logbook.facts.wording import by_step

MOST_STEPS = 5
"""So many speeds stand beside each other on a phone and are read from the seat."""


@dataclass(frozen=True, kw_only=True)
class CabStep:
    """One speed, the pressure to hold at it, and what is sprayed there.

    Attributes: speed and pressure in the units of the table, the pressure no finer than the gauge
    reads; classes that are possible, finest first, none where the nozzle's table does not tell;
    allowed by the labels' droplet classes, None where they set none or the class is not known.
    """

    speed: str
    pressure: str
    classes: tuple[DropletClass, ...]
    allowed: Allowed | None


@dataclass(frozen=True, kw_only=True)
class CabTable:
    """The steps of speed within the nozzle's rated pressures, and where those pressures end.

    Attributes: carrier; slowest and fastest speed at the ends of the rated pressures, low and high;
    at_gauge, whether the loss from gauge to nozzle is known and in the pressures.
    """

    carrier: Quantity
    nozzle: NozzleFacts
    speed_unit: str
    pressure_unit: str
    steps: tuple[CabStep, ...]
    slowest: str
    fastest: str
    low: str
    high: str
    at_gauge: bool


def cab_table(s: Snapshot, *, speed_unit: str, pressure_unit: str) -> CabTable:
    """Return the table of a record's rig, nozzles and planned carrier.

    Raises: CannotRun, naming all facts that lack; OutOfRange for a number that cannot be.
    Source: [RATE-IDENTITY], [ORIFICE-LAW], [UNL-2016], [WOLF-DROP], [CLASS-BETWEEN].
    """
    ask = Requirements()
    rig, nozzle = ask.fact(s.rig, "rig"), ask.fact(s.nozzle, "nozzle")
    carrier = ask.number(s.record.planned_carrier, "planned_carrier")
    width = nozzle_width(s, ask)
    if rig is None or nozzle is None or carrier is None or width is None:
        raise ask.lack()
    duty = s.record.duty.to("%") / 100.0 if isinstance(s.record.duty, Quantity) else 1.0
    gravity = s.record.density.to("SG") if isinstance(s.record.density, Quantity) else 1.0
    test = catch_test_in_force(s)
    known = caught(test).mean_l_min if test else nozzle.rated_flow.si
    known_at = (test.pressure if test else nozzle.rated_pressure).si
    mix_per_water = duty / density_factor(specific_gravity=gravity)
    share = _loss_share(rig, rig.nozzle_count * duty * known, known_at)
    asked = _classes_asked(s)

    def speed_at(kpa: float) -> float:
        water = flow_at_pressure(
            rated_flow_l_min=known,
            rated_pressure_kpa=known_at,
            pressure_kpa=kpa,
            exponent=float(nozzle.exponent),
        )
        return ground_speed_km_h(
            flow_l_min=water * mix_per_water, rate_l_ha=carrier.si, spacing_cm=width.width_cm
        )

    def step(speed: float) -> CabStep:
        mix = nozzle_flow_l_min(
            rate_l_ha=carrier.si,
            speed_km_h=convert(speed, from_unit=speed_unit, to_unit="km/h"),
            spacing_cm=width.width_cm,
        )
        at_nozzle = pressure_for_flow(
            rated_flow_l_min=known,
            rated_pressure_kpa=known_at,
            flow_l_min=mix / mix_per_water,
            exponent=float(nozzle.exponent),
        )
        rows = [(row.pressure.si, parse_class(row.droplet_class)) for row in nozzle.class_table]
        found = class_at_pressure(rows=rows, pressure_kpa=at_nozzle).candidates if rows else ()
        return CabStep(
            speed=f"{speed:g}",
            pressure=_as_read(rig, at_nozzle * (1.0 + (share or 0.0)), pressure_unit),
            classes=found,
            allowed=allowed(candidates=found, allowed_classes=asked) if found and asked else None,
        )

    ends = nozzle.pressure_min.si, nozzle.pressure_max.si
    slow, fast = (convert(speed_at(kpa), from_unit="km/h", to_unit=speed_unit) for kpa in ends)
    low, high = (convert(kpa, from_unit="kPa", to_unit=pressure_unit) for kpa in ends)
    return CabTable(
        carrier=carrier,
        nozzle=nozzle,
        speed_unit=speed_unit,
        pressure_unit=pressure_unit,
        steps=tuple(map(step, _round_speeds(slow, fast))),
        # Inwards, so that neither end is beyond the rated pressures.
        slowest=f"{math.ceil(slow * 10.0 - 1e-9) / 10.0:.1f}",
        fastest=f"{math.floor(fast * 10.0 + 1e-9) / 10.0:.1f}",
        low=f"{low:.3g}",
        high=f"{high:.3g}",
        at_gauge=share is not None,
    )


def _round_speeds(slow: float, fast: float) -> list[float]:
    """Return the whole steps between two speeds, both ends counted; the smallest step that fits."""
    for step in (0.5, 1.0, 2.0, 5.0):
        first, last = math.ceil(slow / step - 1e-9), math.floor(fast / step + 1e-9)
        if last - first < MOST_STEPS:
            break
    return [number * step for number in range(max(first, 1), last + 1)][:MOST_STEPS]


def _loss_share(rig: RigFacts, boom_l_min: float, at_kpa: float) -> float | None:
    """Return the line loss as a share of the nozzle's pressure; None where it is not known."""
    loss, flow = rig.line_loss, rig.line_loss_flow
    if isinstance(loss, Quantity):
        if not isinstance(flow, Quantity):
            return None
        return loss_share((loss.si, flow.si), boom_l_min=boom_l_min, at_kpa=at_kpa)
    return None if loss is None or loss.reason else 0.0


def _as_read(rig: RigFacts, kpa: float, unit: str) -> str:
    half_width = gauge_half_width_kpa(rig, Quantity(Decimal(f"{kpa:.3f}"), "kPa"))
    return by_step(
        convert(kpa, from_unit="kPa", to_unit=unit),
        convert(half_width, from_unit="kPa", to_unit=unit),
    )


def _classes_asked(s: Snapshot) -> frozenset[DropletClass]:
    """Return the droplet classes that all labels allow; all where none names one."""
    found: list[LabelFacts] = [label for _, _, label in labels(s, Requirements())]
    return frozenset(
        one
        for one in DropletClass
        if all(
            (not label.finest_class or one >= parse_class(label.finest_class))
            and (not label.coarsest_class or one <= parse_class(label.coarsest_class))
            for label in found
        )
    )
