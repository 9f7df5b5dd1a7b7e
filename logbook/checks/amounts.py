"""Checks of the amounts against each other: mix, products, distance and loads."""

from __future__ import annotations

from collections.abc import Iterator

from calc.coverage import rectangle_area_ha
from calc.delivery import (
    amount_used_verdict,
    travelled_area_verdict,
)
from calc.dose import amount_for_area
from calc.limits import Comparison, Outcome, judge_target, judge_within
from calc.uncertainty import (
    relative_from_relative_accuracy,
)
from logbook.checks.assessment import per_area
from logbook.checks.core import CannotRun, Check, Finding, Severity, check, severity_of
from logbook.checks.estimates import (
    DISTANCE_ACCURACY,
    area_u,
    length_unit,
    swath_m,
    swath_u,
    tank_u,
)
from logbook.checks.evidence import PRACTICE
from logbook.checks.requirements import Requirements
from logbook.checks.setting import nozzle_width, setting
from logbook.facts.messages import msg
from logbook.facts.quantity import Quantity
from logbook.facts.record import BusinessFacts, Snapshot
from logbook.facts.wording import in_unit, more_or_less


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
        u_used=tank_u(laid.state.rig),
        rate_per_ha=laid.laid.rate_l_ha,
        u_rate=laid.laid.relative_u,
        area_ha=area.si,
        u_area=area_u(),
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
            u_base, per_base = area_u(), rate.si
        else:
            base = ask.number(s.record.mix_used, "mix_used")
            u_base, per_base = tank_u(s.rig), _per_l(rate)
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
    swath = swath_m(rig, width)
    verdict = travelled_area_verdict(
        distance_m=distance.si,
        u_distance=relative_from_relative_accuracy(accuracy=DISTANCE_ACCURACY),
        swath_m=swath,
        u_swath=swath_u(rig),
        area_ha=area.si,
        u_area=area_u(),
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
            swath=in_unit(swath, "m", length_unit(rig)),
            made=in_unit(travelled, "ha", area.unit),
            area=area,
        ),
        settle=msg("Check the distance, the treated area and overlap."),
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
                basis=PRACTICE,
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
        u_used=tank_u(s.rig),
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
            u_used=tank_u(s.rig),
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


def _judged(
    one: Check,
    business: BusinessFacts,
    verdict: Comparison,
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
            basis=PRACTICE,
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


def _rate_unit(s: Snapshot) -> str:
    planned = s.record.planned_carrier
    return planned.unit if isinstance(planned, Quantity) else "L/ha"
