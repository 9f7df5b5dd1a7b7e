"""Checks of the entries against each other: area, time, distance, mix, product and loads."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from calc.coverage import EffectiveWidth, field_area_amount, rectangle_area_ha, spraying_time_min
from calc.delivery import (
    amount_used_verdict,
    field_efficiency_verdict,
    travelled_area_verdict,
)
from calc.dose import amount_for_area
from calc.uncertainty import (
    COVERAGE_FACTOR,
    relative_from_absolute_accuracy,
    relative_from_relative_accuracy,
)
from calc.verdict import Outcome, Verdict, judge_target, judge_within
from logbook.checks.assessment import per_area
from logbook.checks.core import CannotRun, Check, Finding, Severity, check, severity_of
from logbook.checks.requirements import Requirements
from logbook.checks.setting import nozzle_width, relative_u, setting
from logbook.facts.messages import msg
from logbook.facts.quantity import Quantity
from logbook.facts.record import BusinessFacts, RigFacts, Snapshot
from logbook.facts.wording import clock_at, in_unit, more_or_less

AREA_ACCURACY = 0.01
"""Half-width of an entered area; common practice, no source."""

DISTANCE_ACCURACY = 0.01
"""Half-width of a distance driven, from wheel or satellite; common practice, no source."""

TIME_ACCURACY_MIN = 1.0
"""Half-width of the time from start to end: both are entered to the minute."""

_PRACTICE = msg("Good practice: the entries of a record bear each other out")


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
            basis=_PRACTICE,
            settle=msg("Correct the start or the end."),
        )


@check(
    "mix-used",
    title=msg("the mix used against the delivered rate times the treated area"),
    about=("mix_used", "treated_area", "pressure", "speed", "rig", "nozzle", "catch_test"),
)
def mix_used(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    mix = ask.number(s.record.mix_used, "mix_used")
    area = ask.number(s.record.treated_area, "treated_area")
    try:
        laid = setting(s)
    except CannotRun as lack:
        raise ask.lack(lack) from None
    if mix is None or area is None:
        raise ask.lack()
    verdict = amount_used_verdict(
        quantity=msg("mix used"),
        unit="L",
        used=mix.si,
        u_used=_tank_u(laid.state.rig),
        rate_per_ha=laid.laid.rate_l_ha,
        u_rate=laid.laid.relative_u,
        area_ha=area.si,
        u_area=_area_u(),
    )
    expected = amount_for_area(rate_per_ha=laid.laid.rate_l_ha, area_ha=area.si)
    rate = in_unit(laid.laid.rate_l_ha, "L/ha", _rate_unit(s))
    yield from _judged(
        mix_used,
        s.business,
        verdict,
        expected,
        about="mix_used",
        sentence=msg(
            "Used {mix} of mix; the setting delivers {rate} on {area}, which takes {volume}",
            mix=mix,
            rate=rate,
            area=area,
            volume=in_unit(expected, "L", mix.unit),
        ),
        settle=msg("Read the tank again, check the treated area, pressure and speed."),
    )


@check(
    "product-used",
    title=msg("the total of every product used against its rate"),
    about=("products.*.total_used", "products.*.planned_rate", "treated_area", "mix_used"),
)
def product_used(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    ask.fact(s.products or None, "products")
    for place, product in enumerate(s.products):
        path = f"products.{place}"
        name = product.name
        rate = ask.number(
            product.planned_rate,
            f"{path}.planned_rate",
            msg("the planned rate of {name}", name=name),
        )
        total = ask.number(
            product.total_used, f"{path}.total_used", msg("the total of {name} used", name=name)
        )
        if rate is None:
            continue
        if per_area(rate.unit):
            base = ask.number(s.record.treated_area, "treated_area")
            u_base, per_base = _area_u(), rate.si
        else:
            base = ask.number(s.record.mix_used, "mix_used")
            u_base, per_base = _tank_u(s.rig), _per_l(rate)
        if total is None or base is None:
            continue
        if not rate.dimension.startswith(f"{total.dimension}_"):
            ask.refuse(
                msg(
                    "{name} is planned in {unit} and used in {other}",
                    name=name,
                    unit=rate.unit,
                    other=total.unit,
                )
            )
            continue
        # Litres of mix stand here where hectares do otherwise: the rate is per litre then.
        verdict = amount_used_verdict(
            quantity=msg("{name} used", name=name),
            unit="L" if total.dimension == "volume" else "kg",
            used=total.si,
            u_used=0.0,
            rate_per_ha=per_base,
            u_rate=0.0,
            area_ha=base.si,
            u_area=u_base,
        )
        expected = per_base * base.si
        yield from _judged(
            product_used,
            s.business,
            verdict,
            expected,
            about=f"{path}.total_used",
            sentence=msg(
                "Used {total} of {name}; {rate} on {base} takes {amount}",
                total=total,
                name=name,
                rate=rate,
                base=base,
                amount=in_unit(expected, verdict.unit, total.unit),
            ),
            settle=msg(
                "Check the total of {name}, its rate and {base}.",
                name=name,
                base=msg("the treated area") if per_area(rate.unit) else msg("the mix used"),
            ),
        )
    ask.done()


@check(
    "distance-driven",
    title=msg("the distance sprayed times the swath against the treated area"),
    about=("distance", "treated_area", "rig", "pattern"),
)
def distance_driven(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    distance = None
    if ask.further(s.record.distance, "distance") is not None:
        distance = ask.number(s.record.distance, "distance")
    area = ask.number(s.record.treated_area, "treated_area")
    rig = ask.fact(s.rig, "rig")
    width = nozzle_width(s, ask)
    if distance is None or area is None or rig is None or width is None:
        raise ask.lack()
    swath = _swath_m(rig, width)
    verdict = travelled_area_verdict(
        distance_m=distance.si,
        u_distance=relative_from_relative_accuracy(accuracy=DISTANCE_ACCURACY),
        swath_m=swath,
        u_swath=_swath_u(rig),
        area_ha=area.si,
        u_area=_area_u(),
    )
    travelled = rectangle_area_ha(distance_m=distance.si, width_m=swath)
    yield from _judged(
        distance_driven,
        s.business,
        verdict,
        area.si,
        about="distance",
        sentence=msg(
            "Sprayed {distance} with a swath of {swath}, which makes {made}; treated area {area}",
            distance=distance,
            swath=in_unit(swath, "m", _length_unit(rig)),
            made=in_unit(travelled, "ha", area.unit),
            area=area,
        ),
        settle=msg("Check the distance, the treated area and overlap."),
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
    swath = _swath_m(rig, width)
    verdict = field_efficiency_verdict(
        area_ha=area.si,
        u_area=_area_u(),
        swath_m=swath,
        u_swath=_swath_u(rig),
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
                swath=in_unit(swath, "m", _length_unit(rig)),
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
        value=area.si, expanded=COVERAGE_FACTOR * _area_u() * area.si, low=None, high=most
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
            else _PRACTICE,
            settle=msg("Correct the treated area, or the boundary of the field."),
        )


@check(
    "loads-used",
    title=msg("what was used of the loads against the mix used"),
    about=("loads.*.used_here", "mix_used"),
)
def loads_used(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    ask.further(s.loads or None, "loads")
    total = 0.0
    for place, load in enumerate(s.loads):
        path, name = (
            f"loads.{place}.used_here",
            msg("what was used here of load {number}", number=place + 1),
        )
        used = ask.number(load.used_here, path, name)
        if used is None:
            continue
        total += used.si
        if _beyond(used, load.mixed_volume):
            yield loads_used.finding(
                Severity.MISMATCH,
                about=path,
                sentence=msg(
                    "Load {number}: {used} used here, but only {mixed} mixed.",
                    number=place + 1,
                    used=used,
                    mixed=load.mixed_volume,
                ),
                basis=_PRACTICE,
                settle=msg("Correct the volume mixed or the volume used."),
            )
    mix = ask.number(s.record.mix_used, "mix_used")
    if mix is None:
        raise ask.lack()
    ask.done()
    if total == 0.0:
        raise CannotRun(why=msg("nothing of the loads was used here"))
    verdict = amount_used_verdict(
        quantity=msg("mix used"),
        unit="L",
        used=mix.si,
        u_used=_tank_u(s.rig),
        # The loads together, as one hectare of what they hold.
        rate_per_ha=total,
        u_rate=0.0,
        area_ha=1.0,
        u_area=0.0,
    )
    yield from _judged(
        loads_used,
        s.business,
        verdict,
        total,
        about="mix_used",
        sentence=msg(
            "Mix used {mix}; the loads used here come to {volume}",
            mix=mix,
            volume=in_unit(total, "L", mix.unit),
        ),
        settle=msg("Correct the mix used, or what was used of each load."),
    )


@check(
    "product-in-loads",
    title=msg("the total of every product used against what was put in the loads"),
    about=("products.*.total_used", "loads"),
)
def product_in_loads(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    ask.further(s.loads or None, "loads")
    ask.fact(s.products or None, "products")
    for place, product in enumerate(s.products):
        path = f"products.{place}.total_used"
        total = ask.number(
            product.total_used, path, msg("the total of {name} used", name=product.name)
        )
        if total is None or not s.loads:
            continue
        put_in = _put_in(s, product.product_id, total, ask)
        if put_in is None:
            continue
        if put_in == 0.0:
            ask.refuse(msg("no load holds {name}", name=product.name))
            continue
        verdict = amount_used_verdict(
            quantity=msg("{name} used", name=product.name),
            unit=total.unit,
            used=total.si,
            u_used=_tank_u(s.rig),
            rate_per_ha=put_in,
            u_rate=0.0,
            area_ha=1.0,
            u_area=0.0,
        )
        reference = "L" if total.dimension == "volume" else "kg"
        yield from _judged(
            product_in_loads,
            s.business,
            verdict,
            put_in,
            about=path,
            sentence=msg(
                "Used {total} of {name}; the part of the loads used here held {amount}",
                total=total,
                name=product.name,
                amount=in_unit(put_in, reference, total.unit),
            ),
            settle=msg(
                "Correct the total of {name}, or its amounts in the loads.", name=product.name
            ),
        )
    ask.done()


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
            expanded=COVERAGE_FACTOR * _tank_u(rig) * mixed.si,
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
                basis=_PRACTICE,
                settle=msg("Correct the order here or on the other field's record."),
            )


def _judged(
    one: Check,
    business: BusinessFacts,
    verdict: Verdict,
    expected: float,
    *,
    about: str,
    sentence: str,
    settle: str,
) -> Iterator[Finding]:
    """Yield the finding of an amount that is not the expected one, by the business's tolerances."""
    judged = judge_target(
        value=verdict.value,
        expanded=verdict.expanded,
        target=expected,
        look_again=float(business.look_again_percent) / 100.0,
        disagree=float(business.disagree_percent) / 100.0,
    )
    severity = severity_of(judged.outcome, judged.look_again)
    if severity is not None:
        undecided = judged.outcome is Outcome.UNDECIDED
        doubt = msg(
            "; within {percent:f} % or not cannot be decided",
            percent=business.disagree_percent,
        )
        yield one.finding(
            severity,
            about=about,
            sentence=msg(
                "{sentence}: {difference}{doubt}.",
                sentence=sentence,
                difference=more_or_less(judged.deviation),
                doubt=doubt if undecided else "",
            ),
            basis=_PRACTICE,
            settle=settle,
            undecided=undecided,
        )


def _put_in(s: Snapshot, product_id: str, total: Quantity, ask: Requirements) -> float | None:
    """Return the product in the used part of the loads, in the reference unit of `total`."""
    held = 0.0
    for place, load in enumerate(s.loads):
        path, name = (
            f"loads.{place}.used_here",
            msg("what was used here of load {number}", number=place + 1),
        )
        used = ask.number(load.used_here, path, name)
        if used is None:
            return None
        for part in load.parts:
            if part.product_id == product_id:
                if part.amount.dimension != total.dimension:
                    ask.refuse(
                        msg(
                            "load {number} holds {amount}, the total is in {unit}",
                            number=place + 1,
                            amount=part.amount,
                            unit=total.unit,
                        )
                    )
                    return None
                held += part.amount.si * used.si / load.mixed_volume.si
    return held


def _per_l(rate: Quantity) -> float:
    """Return a rate per volume of mix as L or kg in a litre of mix."""
    if rate.dimension == "volume_per_volume":
        return rate.to("% v/v") / 100.0
    return rate.to("kg/L")


def _beyond(value: Quantity, limit: Quantity) -> bool:
    return judge_within(value=value.si, expanded=0.0, low=None, high=limit.si) is Outcome.DISAGREES


def _treated_share(s: Snapshot, ask: Requirements) -> float | None:
    """Return the share of the field that the pattern treats; remember what lacks."""
    if s.record.pattern != "banded":
        return 1.0
    band = ask.number(s.record.band_width, "band_width")
    row = ask.number(s.record.row_spacing, "row_spacing")
    if band is None or row is None:
        return None
    return field_area_amount(broadcast_amount=1.0, band_width_cm=band.si, row_spacing_cm=row.si)


def _swath_m(rig: RigFacts, width: EffectiveWidth) -> float:
    return rig.nozzle_count * width.width_cm / 100.0


def _swath_u(rig: RigFacts) -> float:
    return relative_from_relative_accuracy(accuracy=float(rig.spacing_accuracy_percent) / 100.0)


def _tank_u(rig: RigFacts | None) -> float:
    if rig is None:
        return 0.0
    return relative_from_relative_accuracy(accuracy=float(rig.tank_accuracy_percent) / 100.0)


def _area_u() -> float:
    return relative_from_relative_accuracy(accuracy=AREA_ACCURACY)


def _rate_unit(s: Snapshot) -> str:
    planned = s.record.planned_carrier
    return planned.unit if isinstance(planned, Quantity) else "L/ha"


def _length_unit(rig: RigFacts) -> str:
    return "ft" if rig.spacing.unit in ("in", "ft") else "m"


def _hours(minutes: float) -> str:
    """Return a time as "3 h 15 min"."""
    hours, rest = divmod(round(minutes), 60)
    return msg("{hours} h {minutes:02d} min", hours=hours, minutes=rest)
