"""Checks of the amounts against each other: mix, products, distance and loads."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from calc.coverage import rectangle_area_ha
from calc.limits import Outcome, judge_within
from calc.uncertainty import combined
from calc.units import convert
from calc.verdict import judge_rate
from logbook.checks.assessment import MARKED
from logbook.checks.core import CannotRun, Check, Finding, Severity, check
from logbook.checks.estimates import (
    DISTANCE,
    MIX,
    SETTINGS,
    area_u,
    distance_u,
    evidence,
    length_unit,
    number,
    per_area,
    product_u,
    swath_m,
    swath_u,
    tank_u,
    total_of,
)
from logbook.checks.evidence import PRACTICE
from logbook.checks.requirements import Requirements
from logbook.checks.setting import nozzle_width, setting
from logbook.facts.messages import joined, msg, with_unit
from logbook.facts.quantity import Quantity
from logbook.facts.record import Snapshot
from logbook.facts.wording import apart, either, in_unit, more_or_less, unit_of


@check(
    "mix-used",
    title=msg("the mix used against the delivered rate times the treated area"),
    about=("mix_used", "treated_area", "pressure", "speed", "rig", "nozzle", "catch_test"),
)
def mix_used(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    mix = ask.number(s.record.mix_used, "mix_used")
    area = ask.number(s.record.treated_area, "treated_area")
    if mix is not None and area is not None:
        yield from _contradicted(mix_used, s, MIX)
    try:
        setting(s)
    except CannotRun as lack:
        raise ask.lack(lack) from None
    ask.done()


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
        else:
            base = ask.number(s.record.mix_used, "mix_used")
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
        yield from _contradicted(product_used, s, total_of(place))
    ask.done()


@check(
    "distance-driven",
    title=msg("the distance sprayed times the swath against the treated area"),
    about=("distance", "treated_area", "rig", "pattern"),
)
def distance_driven(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    ask.further(s.record.distance, "distance")
    distance = ask.number(s.record.distance, "distance")
    area = ask.number(s.record.treated_area, "treated_area")
    rig = ask.fact(s.rig, "rig")
    width = nozzle_width(s, ask)
    if distance is None or area is None or rig is None or width is None:
        raise ask.lack()
    swath = swath_m(rig, width)
    if number(s.record.mix_used) is not None:
        # With the mix used, distance and area are two estimates among the others.
        yield from _contradicted(distance_driven, s, DISTANCE)
        return
    travelled = rectangle_area_ha(distance_m=distance.si, width_m=swath)
    yield from _apart(
        distance_driven,
        s,
        travelled,
        area.si,
        {"distance": distance_u(), "swath": swath_u(rig), "area": area_u()},
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
    yield from _apart(
        loads_used,
        s,
        mix.si,
        # The loads were read at the same tank.
        total,
        {"tank": tank_u(s.rig)},
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
        if total is None:
            continue
        put_in = _put_in(s, product.product_id, total, ask)
        if put_in is None:
            continue
        if put_in == 0.0:
            ask.refuse(msg("no load holds {name}", name=product.name))
            continue
        reference = "L" if total.dimension == "volume" else "kg"
        yield from _apart(
            product_in_loads,
            s,
            total.si,
            put_in,
            {"product": product_u(), "tank": tank_u(s.rig)},
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


def _contradicted(one: Check, s: Snapshot, name: str) -> Iterator[Finding]:
    """Yield the finding of evidence that contradicts itself, if `name` is the one to tell it.

    It is one thing to look at, told once: beside the entry that the others contradict, or else
    beside the first of those that were used.
    """
    seen = evidence(s)
    if seen is None or seen.against is None:
        return
    names = [*seen.against.weights]
    told = seen.odd if seen.odd not in ("", SETTINGS) else next(n for n in names if n != SETTINGS)
    if told != name:
        return
    unit = unit_of(s.record.planned_carrier) or "L/ha"
    rates = [convert(each.value, from_unit="L/ha", to_unit=unit) for each in seen.estimates]
    ends = (min(rates), max(rates))
    each_says = joined(
        "; ",
        (
            msg(
                "{rate} by {evidence}",
                rate=with_unit(apart(rate, *(ends if rate in ends else ())), unit),
                evidence=_says(s, each),
            )
            for rate, each in zip(rates, names, strict=True)
        ),
    )
    about = name
    if seen.odd:
        about = "speed" if seen.odd == SETTINGS else seen.odd
        blamed = either(
            [_says(s, seen.odd), *(_SHARED[n] for n in seen.against.or_shared if n in _SHARED)]
        )
        end = msg("The others contradict {blamed}.", blamed=blamed)
    else:
        end = msg("They contradict one another; which of them is wrong cannot be told.")
    yield one.finding(
        Severity.MISMATCH,
        about=about,
        sentence=msg("{each:begin}. {end}", each=each_says, end=end),
        basis=msg(
            "What was set and what was used bear each other out; chance alone spreads them so far "
            "in less than 1 % of records"
        ),
        settle=msg("Look at the entries that these figures rest on, and correct the wrong one."),
    )


def _says(s: Snapshot, name: str) -> str:
    """Return what an estimate of the carrier rests on."""
    if name.startswith("products."):
        product = s.products[int(name.split(".")[1])]
        return msg("the total of {name} used", name=product.name)
    return _SAYS[name]


_SAYS = {
    SETTINGS: msg("the settings"),
    MIX: msg("the mix used"),
    DISTANCE: msg("the distance driven"),
}

_SHARED = {"area": msg("the treated area"), "tank": msg("the mix used")}
"""Entries on which several estimates rest, by the source of doubt that they share."""


def _apart(
    one: Check,
    s: Snapshot,
    value: float,
    expected: float,
    sources: Mapping[str, float],
    *,
    about: str,
    sentence: str,
    settle: str,
) -> Iterator[Finding]:
    """Yield the finding of an amount that is off what another entry says, by the yardstick.

    Args: sources of the doubt of both together, relative and standard [1].
    """
    judged = judge_rate(
        estimate=value,
        relative_u=combined(sources=sources),
        low=None,
        high=None,
        plan=expected,
        look_again=float(s.business.look_again_percent) / 100.0,
        off_plan=float(s.business.disagree_percent) / 100.0,
    )
    if judged.verdict in MARKED:
        yield one.finding(
            Severity.MISMATCH,
            about=about,
            sentence=msg(
                "{sentence}: {difference}.",
                sentence=sentence,
                difference=more_or_less(value / expected - 1.0),
            ),
            basis=PRACTICE,
            settle=settle,
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


def _beyond(value: Quantity, limit: Quantity) -> bool:
    return judge_within(value=value.si, expanded=0.0, low=None, high=limit.si) is Outcome.DISAGREES
