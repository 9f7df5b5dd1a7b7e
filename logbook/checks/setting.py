"""The setting of the rig out of the facts: the nozzle at work, and the carrier rate it delivers.

The functions raise `CannotRun` with all the facts that lack; the physics is that of `calc`.
"""

from __future__ import annotations

import weakref
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from functools import wraps
from typing import TypeVar

from calc.calibration import CatchTest, evaluate_catches
from calc.coverage import (
    AreaBasis,
    EffectiveWidth,
    band_width,
    broadcast_width,
    directed_width,
    ground_speed_km_h,
)
from calc.delivery import Delivered, Settings, Uncertainties, delivered
from calc.droplets import BETWEEN, ClassAtPressure, class_at_pressure, parse_class
from calc.flow import (
    flow_at_pressure,
    line_loss_at_gauge_kpa,
    line_loss_share,
    nozzle_pressure_kpa,
    pressure_for_new_rate,
    solution_flow_l_min,
)
from calc.uncertainty import (
    TYPICAL_HALF_WIDTHS,
    relative_from_absolute_accuracy,
    relative_from_relative_accuracy,
    standard_from_half_width,
)
from calc.units import convert
from logbook.checks.core import CannotRun
from logbook.checks.requirements import Requirements
from logbook.facts.messages import gettext_noop, msg, term
from logbook.facts.quantity import Absence, Answer, Nothing, Quantity
from logbook.facts.record import CatchTestFacts, NozzleFacts, RecordFacts, RigFacts, Snapshot
from logbook.facts.wording import beside, by_step, in_unit

T = TypeVar("T")

KEPT = 8
"""So many answers of one computation are kept, for the record and for trials of it."""


@dataclass(frozen=True)
class NozzleState:
    """The nozzle at work: the water flow known of it, and the pressure that reaches it."""

    rig: RigFacts
    nozzle: NozzleFacts
    gauge: Quantity
    known_flow_l_min: float
    known_at_kpa: float
    u_flow: float  # relative
    test: CatchTestFacts | None  # in force
    loss_share: float  # of the pressure at the nozzle
    pressure_kpa: float
    specific_gravity: float
    duty: float  # fraction
    basis: str

    @property
    def line_loss_kpa(self) -> float:
        """The pressure lost between gauge and nozzle. [kPa]"""
        return self.gauge.si - self.pressure_kpa

    @property
    def exponent(self) -> float:
        """The exponent of this nozzle's pressure law."""
        return float(self.nozzle.exponent)

    @property
    def mix_flow_at_known_l_min(self) -> float:
        """Mean flow of the mix through one nozzle at the pressure of the known flow. [L/min]"""
        return self.duty * solution_flow_l_min(
            water_flow_l_min=self.known_flow_l_min, specific_gravity=self.specific_gravity
        )

    @property
    def mix_flow_l_min(self) -> float:
        """Mean flow of the mix through one nozzle at work. [L/min]"""
        return flow_at_pressure(
            rated_flow_l_min=self.mix_flow_at_known_l_min,
            rated_pressure_kpa=self.known_at_kpa,
            pressure_kpa=self.pressure_kpa,
            exponent=self.exponent,
        )


@dataclass(frozen=True)
class Setting:
    """The whole setting, the carrier rate that it delivers and how sure that is."""

    state: NozzleState
    speed: Quantity
    width: EffectiveWidth
    laid: Delivered[float]

    @property
    def basis(self) -> str:
        """Where flow and pressure came from, and the area if it is not the treated one."""
        if self.width.basis is AreaBasis.TREATED:
            return self.state.basis
        area = term(self.width.basis.value)
        return msg("{basis}, per {area}", basis=self.state.basis, area=area)

    def speed_for(self, rate_l_ha: float) -> Quantity:
        """Return the speed that delivers a rate at this pressure, in the unit entered."""
        speed = ground_speed_km_h(
            flow_l_min=self.laid.nozzle_flow_l_min,
            rate_l_ha=rate_l_ha,
            spacing_cm=self.width.width_cm,
        )
        half_width = speed_half_width_km_h(self.state.rig, self.speed)
        return _read_off(speed, half_width, "km/h", self.speed.unit)

    def gauge_for(self, rate_l_ha: float) -> Quantity | None:
        """Return the gauge pressure that delivers a rate at this speed, in the unit entered.

        None if it is outside the nozzle's rated range.
        """
        state = self.state
        pressure = pressure_for_new_rate(
            pressure_kpa=state.pressure_kpa,
            rate_l_ha=self.laid.rate_l_ha,
            new_rate_l_ha=rate_l_ha,
            exponent=state.exponent,
        )
        if not state.nozzle.pressure_min.si <= pressure <= state.nozzle.pressure_max.si:
            return None
        half_width = gauge_half_width_kpa(state.rig, state.gauge)
        reading = pressure * (1.0 + state.loss_share)
        return _read_off(reading, half_width, "kPa", state.gauge.unit)


def catch_test_in_force(s: Snapshot) -> CatchTestFacts | None:
    """Return the catch test that counts on the day of the work, None where none does.

    While the day is blank the last test counts, so that a person sees a rate before the time is
    entered; the check of its age says that it could not look.
    """
    test, day = s.catch_test, s.local_day()
    if test is None or day is None:
        return test
    return test if 0 <= (day - test.tested_on).days <= s.business.catch_test_max_days else None


def caught(test: CatchTestFacts, *, new: NozzleFacts | None = None) -> CatchTest:
    """Return what a catch test shows, with the wear against a `new` nozzle if one is given."""
    new_flow = None
    if new is not None:
        new_flow = flow_at_pressure(
            rated_flow_l_min=new.rated_flow.si,
            rated_pressure_kpa=new.rated_pressure.si,
            pressure_kpa=test.pressure.si,
            exponent=float(new.exponent),
        )
    return evaluate_catches(
        volumes_ml=[
            convert(float(volume), from_unit=test.volume_unit, to_unit="mL")
            for volume in test.volumes
        ],
        seconds=test.time.to("s"),
        new_flow_l_min=new_flow,
    )


def kept(compute: Callable[[Snapshot], T]) -> Callable[[Snapshot], T]:
    """Return `compute`, with its last answers kept for as long as their snapshots live.

    Eight checks of a run ask for the same; a snapshot is frozen, so the answer cannot grow stale.
    More than one is kept, for a check may try the record with another entry.
    """
    last: dict[int, tuple[weakref.ref[Snapshot], T]] = {}

    @wraps(compute)
    def once(s: Snapshot) -> T:
        known = last.get(id(s))
        if known is not None and known[0]() is s:
            return known[1]
        answer = compute(s)
        if len(last) >= KEPT:
            last.pop(next(iter(last)), None)
        last[id(s)] = (weakref.ref(s), answer)
        return answer

    return once


@kept
def nozzle_state(s: Snapshot) -> NozzleState:
    """Return the nozzle at work, from the catch test in force or else from the data sheet.

    Raises: CannotRun, naming all facts that lack.
    """
    ask = Requirements()
    rig = ask.fact(s.rig, "rig")
    nozzle = ask.fact(s.nozzle, "nozzle")
    gauge = ask.number(s.record.pressure, "pressure")
    duty_percent = _or_else(ask, s.record.duty, "duty", "%", 100.0)
    # Not said, valves do not pulse and the mix is water: `sections.lines` says so on their lines.
    # A mix said to have no density of its own is water: pesticide in water changes it negligibly
    # (Oklahoma State, water calibration for fertilizers).
    gravity = _or_else(ask, s.record.density, "density", "SG", 1.0)
    loss_flow = _loss_flow(rig, ask) if rig is not None else None
    test = catch_test_in_force(s)
    if rig is None or nozzle is None or gauge is None or duty_percent is None or gravity is None:
        raise ask.lack()
    ask.done()
    duty = duty_percent / 100.0

    if test is not None:
        known_flow, known_at = caught(test).mean_l_min, test.pressure
        accuracy = float(test.accuracy_percent)
        basis = msg("Flow from the catch test of {tested_on}", tested_on=test.tested_on)
    else:
        known_flow, known_at = nozzle.rated_flow.si, nozzle.rated_pressure
        accuracy = float(nozzle.flow_accuracy_percent)
        basis = msg(
            "Flow as rated, {rated_flow} at {rated_pressure}",
            rated_flow=nozzle.rated_flow,
            rated_pressure=nozzle.rated_pressure,
        )

    share = 0.0
    if loss_flow is not None:
        boom = rig.nozzle_count * duty * known_flow
        share = loss_share(loss_flow, boom_l_min=boom, at_kpa=known_at.si)
    lost = line_loss_at_gauge_kpa(gauge_kpa=gauge.si, share=share)
    at_nozzle = nozzle_pressure_kpa(gauge_kpa=gauge.si, line_loss_kpa=lost, static_head_kpa=0.0)
    there = in_unit(at_nozzle, "kPa", gauge.unit)
    if there != in_unit(known_at.si, "kPa", gauge.unit):
        basis = msg(
            "{basis}, pressure law from {known_at} to {there}",
            basis=basis,
            known_at=beside(known_at, gauge.unit),
            there=there,
        )
    if rig.line_loss is None or _not_measured(rig.line_loss):
        basis = msg("{basis} (pressure loss to the nozzle not known)", basis=basis)
    return NozzleState(
        rig=rig,
        nozzle=nozzle,
        gauge=gauge,
        known_flow_l_min=known_flow,
        known_at_kpa=known_at.si,
        u_flow=relative_from_relative_accuracy(accuracy=accuracy / 100.0),
        test=test,
        loss_share=share,
        pressure_kpa=at_nozzle,
        specific_gravity=gravity,
        duty=duty,
        basis=basis,
    )


def loss_share(paired: tuple[float, float], *, boom_l_min: float, at_kpa: float) -> float:
    """Return the line loss as a share of the nozzle's pressure, whatever the density. [1]

    Args: paired, a loss [kPa] and the boom flow of water at which it was read [L/min]; boom_l_min
        of water [L/min] at the pressure at_kpa at the nozzle [kPa].
    """
    loss_kpa, flow_l_min = paired
    # What is lost goes with the square of the flow, and so does the pressure at the nozzle.
    lost = loss_kpa * (boom_l_min / flow_l_min) ** 2
    return line_loss_share(gauge_kpa=at_kpa + lost, loss_kpa=lost)


def _uncertainties(state: NozzleState, speed: Quantity) -> Uncertainties[float]:
    """Return the standard uncertainties of the setting.

    What the rig's own gauge reads wrong cancels if the catch test was read on it and its
    repeatability is known; another gauge brings its own accuracy. Where that was not said, the
    accuracy of the rig's gauge counts once. Density, duty and the lost pressure are taken as
    entered: no accuracy of them is asked.
    """
    rig, test, repeats = state.rig, state.test, state.rig.gauge_repeatability
    own, other = None, 0.0
    if test is not None and test.gauge == "own" and repeats is not None:
        own = standard_from_half_width(half_width=half_width_kpa(repeats, state.gauge))
    elif test is not None and test.gauge == "other" and test.gauge_accuracy is not None:
        other = standard_from_half_width(
            half_width=half_width_kpa(test.gauge_accuracy, test.pressure)
        )
    return Uncertainties(
        flow=state.u_flow,
        pressure_kpa=standard_from_half_width(half_width=gauge_half_width_kpa(rig, state.gauge)),
        repeatability_kpa=own,
        known_at_kpa=other,
        exponent=standard_from_half_width(half_width=TYPICAL_HALF_WIDTHS["exponent"]),
        speed=relative_u(rig.speed_accuracy, speed),
        spacing=relative_from_relative_accuracy(
            accuracy=float(rig.spacing_accuracy_percent) / 100.0
        ),
        specific_gravity=0.0,
        duty=0.0,
    )


@kept
def setting(s: Snapshot) -> Setting:
    """Return the setting and the carrier rate that it delivers.

    Raises: CannotRun, naming all facts that lack.
    """
    ask = Requirements()
    speed = ask.number(s.record.speed, "speed")
    width = nozzle_width(s, ask)
    try:
        state = nozzle_state(s)
    except CannotRun as lack:
        raise ask.lack(lack) from None
    if speed is None or width is None:
        raise ask.lack()
    laid = delivered(
        settings=Settings(
            known_flow_l_min=state.known_flow_l_min,
            known_at_kpa=state.known_at_kpa,
            exponent=state.exponent,
            gauge_kpa=state.gauge.si,
            line_loss_kpa=state.line_loss_kpa,
            speed_km_h=speed.si,
            spacing_cm=width.width_cm,
            specific_gravity=state.specific_gravity,
            duty=state.duty,
        ),
        uncertainties=_uncertainties(state, speed),
    )
    return Setting(state, speed, width, laid)


def nozzle_width(s: Snapshot, ask: Requirements) -> EffectiveWidth | None:
    """Return the width that one nozzle serves, by the pattern; remember what lacks."""
    record = s.record
    if record.pattern == "broadcast":
        rig = ask.fact(s.rig, "rig")
        return None if rig is None else broadcast_width(spacing_cm=rig.spacing.to("cm"))
    row = ask.number(record.row_spacing, "row_spacing")
    per_row = ask.fact(record.nozzles_per_row, "nozzles_per_row")
    if record.pattern == "banded":
        return _band(record, row, per_row, ask)
    if row is None or per_row is None:
        return None
    return directed_width(row_spacing_cm=row.to("cm"), nozzles_per_row=per_row)


def _band(
    record: RecordFacts, row: Quantity | None, per_row: int | None, ask: Requirements
) -> EffectiveWidth | None:
    band = ask.number(record.band_width, "band_width")
    if band is None or row is None or per_row is None:
        return None
    # The treated area of the record is that of the bands, and so is the rate.
    return band_width(
        band_width_cm=band.to("cm"),
        row_spacing_cm=row.to("cm"),
        nozzles_per_band=per_row,
        basis=AreaBasis.TREATED,
    )


def class_of(state: NozzleState) -> ClassAtPressure:
    """Return the droplet class of the nozzle at work, from the model's own table alone."""
    table = state.nozzle.class_table
    if not table:
        return ClassAtPressure((), gettext_noop("the nozzle has no table of classes"))
    return class_at_pressure(
        rows=[(row.pressure.si, parse_class(row.droplet_class)) for row in table],
        pressure_kpa=state.pressure_kpa,
    )


def why_not_one(found: ClassAtPressure, unit: str) -> str:
    """Return why the table gives no single class, its pressures in the reader's unit."""
    if not found.between_kpa:
        return term(found.why)
    low, high = (in_unit(end, "kPa", unit) for end in found.between_kpa)
    if found.why == BETWEEN:
        return msg("between the listed {low} and {high}", low=low, high=high)
    return msg("outside the table, which runs from {low} to {high}", low=low, high=high)


def gauge_half_width_kpa(rig: RigFacts, reading: Quantity) -> float:
    """Return how far off a reading of the rig's gauge may be. [kPa]"""
    return half_width_kpa(rig.gauge_accuracy, reading)


def half_width_kpa(accuracy: Quantity, reading: Quantity) -> float:
    """Return how far off a reading of pressure may be, by an accuracy absolute or in %. [kPa]"""
    if accuracy.dimension == "fraction":
        return accuracy.to("%") / 100.0 * reading.si
    return accuracy.si


def speed_half_width_km_h(rig: RigFacts, reading: Quantity) -> float:
    """Return how far off a reading of the rig's speed may be. [km/h]"""
    accuracy = rig.speed_accuracy
    if accuracy.dimension == "fraction":
        return accuracy.to("%") / 100.0 * reading.si
    return accuracy.si


def relative_u(accuracy: Quantity, value: Quantity) -> float:
    """Return the relative standard uncertainty behind an accuracy, absolute or in %. [1]"""
    if accuracy.dimension == "fraction":
        return relative_from_relative_accuracy(accuracy=accuracy.to("%") / 100.0)
    return relative_from_absolute_accuracy(accuracy=accuracy.si, value=value.si)


def _or_else(
    ask: Requirements, answer: Answer, path: str, unit: str, otherwise: float
) -> float | None:
    """Return the number in `unit`; `otherwise` where it is not said, or said not to be there."""
    if answer is None:
        return otherwise
    if isinstance(answer, Nothing) and answer.kind is not Absence.NOT_MEASURED:
        return otherwise
    number = ask.number(answer, path)
    return None if number is None else number.to(unit)


def _not_measured(answer: Answer) -> bool:
    return isinstance(answer, Nothing) and answer.kind is Absence.NOT_MEASURED


def _loss_flow(rig: RigFacts, ask: Requirements) -> tuple[float, float] | None:
    """Return the pressure lost [kPa] and the boom flow [L/min] at which it was read.

    None where no loss is known; a check of its own speaks of that.
    """
    if not isinstance(rig.line_loss, Quantity):
        return None
    flow = ask.number(rig.line_loss_flow, "rig.line_loss_flow")
    return None if flow is None else (rig.line_loss.si, flow.si)


def _read_off(value: float, half_width: float, from_unit: str, unit: str) -> Quantity:
    """Return a value no finer than the instrument reads it."""
    shown, step = (convert(one, from_unit=from_unit, to_unit=unit) for one in (value, half_width))
    return Quantity(Decimal(by_step(shown, step)), unit)
