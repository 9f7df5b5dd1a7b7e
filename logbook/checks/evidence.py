"""Checks of the entries against each other: times, areas, the tank and its order."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from calc.coverage import field_area_amount, spraying_time_min
from calc.delivery import (
    field_efficiency_verdict,
)
from calc.limits import Outcome, judge_within
from calc.uncertainty import (
    COVERAGE_FACTOR,
    relative_from_absolute_accuracy,
)
from logbook.checks.core import CannotRun, Finding, Severity, check, severity_of
from logbook.checks.estimates import area_u, length_unit, swath_m, swath_u, tank_u
from logbook.checks.requirements import Requirements
from logbook.checks.setting import nozzle_width, relative_u
from logbook.facts.messages import msg
from logbook.facts.record import Snapshot
from logbook.facts.wording import clock_at, in_unit

TIME_ACCURACY_MIN = 1.0
"""Half-width of the time from start to end: both are entered to the minute."""


PRACTICE = msg("Good practice: the entries of a record bear each other out")


@check(
    "start-before-end",
    title=msg("the start of the spraying before its end"),
    about=("started_at", "finished_at"),
)
def start_before_end(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    start = ask.fact(s.record.started_at, "started_at")
    finish = ask.fact(s.record.finished_at, "finished_at")
    if start is None or finish is None:
        raise ask.lack()
    if finish <= start:
        yield start_before_end.finding(
            Severity.MISMATCH,
            about="finished_at",
            sentence=msg(
                "The spraying ends at {end} on {end_day}, not after its start at {start} on "
                "{start_day}.",
                end=clock_at(finish, s.zone),
                end_day=finish.astimezone(s.zone).date(),
                start=clock_at(start, s.zone),
                start_day=start.astimezone(s.zone).date(),
            ),
            basis=PRACTICE,
            settle=msg("Correct the start or the end."),
        )


@check(
    "time-taken",
    title=msg("the time from start to end against area, swath and speed"),
    about=("started_at", "finished_at", "treated_area", "speed", "rig", "pattern"),
)
def time_taken(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    start = ask.fact(s.record.started_at, "started_at")
    finish = ask.fact(s.record.finished_at, "finished_at")
    area = ask.number(s.record.treated_area, "treated_area")
    speed = ask.number(s.record.speed, "speed")
    rig = ask.fact(s.rig, "rig")
    width = nozzle_width(s, ask)
    if start is None or finish is None or area is None or speed is None:
        raise ask.lack()
    if rig is None or width is None:
        raise ask.lack()
    minutes = (finish - start) / timedelta(minutes=1)
    if minutes <= 0.0:
        raise CannotRun(why=msg("the spraying does not end after its start"))
    swath = swath_m(rig, width)
    verdict = field_efficiency_verdict(
        area_ha=area.si,
        u_area=area_u(),
        swath_m=swath,
        u_swath=swath_u(rig),
        speed_km_h=speed.si,
        u_speed=relative_u(rig.speed_accuracy, speed),
        duration_min=minutes,
        u_duration=relative_from_absolute_accuracy(accuracy=TIME_ACCURACY_MIN, value=minutes),
    )
    needed = spraying_time_min(area_ha=area.si, speed_km_h=speed.si, swath_m=swath)
    severity = severity_of(verdict.outcome, verdict.look_again)
    if severity is not None:
        undecided = verdict.outcome is Outcome.UNDECIDED
        yield time_taken.finding(
            severity,
            about="finished_at",
            sentence=msg(
                "The spraying took {hours}; {area} at {speed} with a swath of {swath} takes "
                "{needed} with the boom on, {share:.0f} % of the time{end}",
                hours=_hours(minutes),
                area=area,
                speed=speed,
                swath=in_unit(swath, "m", length_unit(rig)),
                needed=_hours(needed),
                share=float(f"{100.0 * verdict.value:.3g}"),
                end=msg("; usual is 50 to 90 %.")
                if severity is Severity.CAUTION
                else msg(", more than all."),
            ),
            basis=msg("Good practice: turns and fills take 10 to 50 % of the time on the field"),
            settle=msg("Check start, end, treated area and speed; note a long stop."),
            undecided=undecided,
        )


@check(
    "treated-area",
    title=msg("the treated area against the size of the field"),
    about=("treated_area", "field", "pattern"),
)
def treated_area(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    area = ask.number(s.record.treated_area, "treated_area")
    field = ask.fact(s.field, "field")
    size, origin = None, ""
    if field is not None and field.area_ha is not None:
        size, origin = field.area_ha, msg("by its boundary")
    elif field is not None:
        planted = ask.number(
            field.planted_size,
            "field.planted_size",
            msg("the boundary or the planted size of the field"),
        )
        size, origin = (planted.si if planted else None), msg("by its planted size")
    share = _treated_share(s, ask)
    if area is None or size is None or share is None:
        raise ask.lack()
    most = size * share
    outcome = judge_within(
        value=area.si, expanded=COVERAGE_FACTOR * area_u() * area.si, low=None, high=most
    )
    # A field treated to its edge lies at the limit, so only what surely exceeds it speaks.
    if outcome is Outcome.DISAGREES:
        bands = msg(" in bands") if share < 1.0 else ""
        yield treated_area.finding(
            Severity.MISMATCH,
            about="treated_area",
            sentence=msg(
                "Treated area {area}; the field has {size}{bands} {origin}.",
                area=area,
                size=in_unit(most, "ha", area.unit),
                bands=bands,
                origin=origin,
            ),
            basis=msg("Geodesic area on the WGS 84 ellipsoid (Karney 2013)")
            if origin == "by its boundary"
            else PRACTICE,
            settle=msg("Correct the treated area, or the boundary of the field."),
        )


@check(
    "tank-capacity",
    title=msg("every load against the tank"),
    about=("loads.*.mixed_volume", "rig"),
)
def tank_capacity(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    ask.further(s.loads or None, "loads")
    rig = ask.fact(s.rig, "rig")
    if rig is None:
        raise ask.lack()
    ask.done()
    for place, load in enumerate(s.loads):
        mixed = load.mixed_volume
        outcome = judge_within(
            value=mixed.si,
            expanded=COVERAGE_FACTOR * tank_u(rig) * mixed.si,
            low=None,
            high=rig.tank.si,
        )
        # A full tank lies at the limit, so only what surely exceeds it speaks.
        if outcome is Outcome.DISAGREES:
            yield tank_capacity.finding(
                Severity.MISMATCH,
                about=f"loads.{place}.mixed_volume",
                sentence=msg(
                    "Load {number} holds {mixed}; the tank of {name} holds {tank}.",
                    number=place + 1,
                    mixed=mixed,
                    name=rig.name,
                    tank=rig.tank,
                ),
                basis=msg("The rig as entered"),
                settle=msg("Correct the volume of the load, or the tank of the rig."),
            )


@check(
    "load-order",
    title=msg("the order of the fields from one load"),
    about=("loads.*.order", "loads.*.places_elsewhere"),
)
def load_order(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    ask.further(s.loads or None, "loads")
    ask.done()
    for place, load in enumerate(s.loads):
        if load.order in load.places_elsewhere:
            yield load_order.finding(
                Severity.MISMATCH,
                about=f"loads.{place}.order",
                sentence=msg(
                    "Load {number}: this field is no. {order} in the order, and another field "
                    "from the same load is no. {order} too.",
                    number=place + 1,
                    order=load.order,
                ),
                basis=PRACTICE,
                settle=msg("Correct the order here or on the other field's record."),
            )


def _treated_share(s: Snapshot, ask: Requirements) -> float | None:
    """Return the share of the field that the pattern treats; remember what lacks."""
    if s.record.pattern != "banded":
        return 1.0
    band = ask.number(s.record.band_width, "band_width")
    row = ask.number(s.record.row_spacing, "row_spacing")
    if band is None or row is None:
        return None
    return field_area_amount(broadcast_amount=1.0, band_width_cm=band.si, row_spacing_cm=row.si)


def _hours(minutes: float) -> str:
    """Return a time as "3 h 15 min"."""
    hours, rest = divmod(round(minutes), 60)
    return msg("{hours} h {minutes:02d} min", hours=hours, minutes=rest)
