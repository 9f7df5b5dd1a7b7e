"""Checks of what was delivered: carrier, products, pressure, droplet class, and the catch test."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from calc.calibration import EVENNESS_LIMIT, WEAR_LIMIT
from calc.delivery import caught_flow_verdict
from calc.droplets import (
    Allowed,
    DropletClass,
    allowed,
    parse_class,
    this_or_coarser,
    this_or_finer,
)
from calc.limits import Outcome, judge_within
from calc.uncertainty import (
    COVERAGE_FACTOR,
    relative_from_relative_accuracy,
    standard_from_half_width,
)
from calc.units import convert
from logbook.checks.assessment import RateLine, carrier_line, per_area, product_line
from logbook.checks.core import CannotRun, Check, Finding, Severity, check, severity_of
from logbook.checks.label import carrier_window, comparable, contradictory, labels
from logbook.checks.requirements import Requirements
from logbook.checks.setting import (
    Setting,
    caught,
    class_of,
    gauge_half_width_kpa,
    nozzle_state,
    setting,
)
from logbook.facts.messages import Message, gettext_noop, joined, msg, term, with_unit
from logbook.facts.quantity import Absence, Nothing, Quantity
from logbook.facts.record import CatchTestFacts, Snapshot
from logbook.facts.terms import of_calc
from logbook.facts.wording import (
    MISREAD,
    beside,
    edition,
    either,
    limits,
    listed,
    more_or_less,
    settled,
    three,
    unit_of,
)

LINE_LOSS_LIMIT = 0.10
"""Share of the gauge pressure that may be lost before the nozzle; ISO 16122-2, from memory."""

_SETTING = ("pressure", "speed", "rig", "nozzle", "catch_test", "density", "duty", "pattern")


@check(
    "carrier-against-planned",
    title=msg("delivered carrier rate against the planned one"),
    about=("planned_carrier", *_SETTING),
)
def carrier_against_planned(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    planned = ask.number(s.record.planned_carrier, "planned_carrier")
    laid = _setting(s, ask)
    if planned is None:
        raise ask.lack()
    line = carrier_line(s, laid)
    yield from _against_planned(
        carrier_against_planned, s, line, planned, _Settle(s, laid, planned)
    )


@check(
    "carrier-against-label",
    title=msg("delivered carrier rate against the labels"),
    about=("planned_carrier", *_SETTING, "products.*.label"),
)
def carrier_against_label(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = carrier_window(s, ask)
    if asked and contradictory(asked):
        ask.refuse(msg("no carrier volume suits all labels"))
    elif asked:
        laid = _setting(s, ask)
        planned = s.record.planned_carrier
        target = planned if isinstance(planned, Quantity) and asked.holds(planned) else None
        # Without a plan that the labels allow, the limit that is set is the nearest way back.
        settle = _Settle(s, laid, target or asked.high or asked.low)
        line = carrier_line(s, laid)
        window = (asked.low, asked.high)
        yield from _against_label(carrier_against_label, line, window, asked.basis, settle)
    ask.done()


@check(
    "product-against-planned",
    title=msg("delivered rate of every product against the planned one"),
    about=("products.*.planned_rate", "loads", "mix_used", "products.*.total_used", *_SETTING),
)
def product_against_planned(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    ask.fact(s.products or None, "products")
    for place, product in enumerate(s.products):
        name = msg("the planned rate of {name}", name=product.name)
        planned = ask.number(product.planned_rate, f"products.{place}.planned_rate", name)
        if planned is not None:
            line, settle = _product(s, place, planned.unit, ask)
            if line is not None:
                yield from _against_planned(product_against_planned, s, line, planned, settle)
    ask.done()


@check(
    "product-against-label",
    title=msg("delivered rate of every product against its label"),
    about=(
        "products.*.planned_rate",
        "loads",
        "mix_used",
        "products.*.total_used",
        *_SETTING,
        "products.*.label",
    ),
)
def product_against_label(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    for place, product, label in labels(s, ask):
        limit = label.rate_max or label.rate_min
        if limit is not None:
            planned = product.planned_rate
            unit = limit.unit
            if isinstance(planned, Quantity):
                unit = planned.unit
                if not comparable(planned, product, label, ask):
                    continue
            line, settle = _product(s, place, unit, ask)
            if line is not None:
                asked = (label.rate_min, label.rate_max)
                yield from _against_label(
                    product_against_label, line, asked, edition(product, label), settle
                )
    ask.done()


@check(
    "nozzle-pressure",
    title=msg("pressure at the nozzle within its rated range"),
    about=("pressure", "rig", "nozzle"),
)
def nozzle_pressure(s: Snapshot) -> Iterator[Finding]:
    state = nozzle_state(s)
    nozzle, unit = state.nozzle, state.gauge.unit
    half_width = gauge_half_width_kpa(state.rig, state.gauge)
    outcome = judge_within(
        value=state.pressure_kpa,
        expanded=COVERAGE_FACTOR * standard_from_half_width(half_width=half_width),
        low=nozzle.pressure_min.si,
        high=nozzle.pressure_max.si,
    )
    if outcome is not Outcome.AGREES:
        undecided = outcome is Outcome.UNDECIDED
        at_nozzle = three(convert(state.pressure_kpa, from_unit="kPa", to_unit=unit))
        rated = limits(nozzle.pressure_min, nozzle.pressure_max, unit=unit)
        yield nozzle_pressure.finding(
            Severity.CAUTION if undecided else Severity.MISMATCH,
            about="pressure",
            sentence=msg(
                "Pressure at the nozzle {pressure}; {nozzle} is rated for {limits}{end}",
                pressure=with_unit(at_nozzle, unit),
                nozzle=nozzle.name,
                limits=rated,
                end=msg("; at this gauge's accuracy that cannot be decided.") if undecided else ".",
            ),
            basis=msg("Data sheet of {name}", name=nozzle.name),
            settle=settled(
                s,
                ahead=msg("Read the pressure on a more exact gauge.")
                if undecided
                else msg("Change speed or nozzle size so that the pressure comes into the range."),
                done=msg("A more exact gauge would decide it.") if undecided else MISREAD,
            ),
            undecided=undecided,
        )


@check(
    "droplet-class",
    title=msg("droplet class at the pressure used against the labels"),
    about=("pressure", "nozzle", "products.*.label"),
)
def droplet_class(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = [
        (p, label) for _, p, label in labels(s, ask) if label.finest_class or label.coarsest_class
    ]
    if not asked:
        ask.done()
        return
    try:
        state = nozzle_state(s)
    except CannotRun as lack:
        raise ask.lack(lack) from None
    finest = max(
        (parse_class(one.finest_class) for _, one in asked if one.finest_class), default=None
    )
    coarsest = min(
        (parse_class(one.coarsest_class) for _, one in asked if one.coarsest_class), default=None
    )
    between = this_or_coarser(finest or DropletClass.XF) & this_or_finer(
        coarsest or DropletClass.UC
    )
    words = _class_words(finest, coarsest)
    basis = msg("{labels}; classes of ASABE S572", labels=listed(edition(*one) for one in asked))
    if not between:
        yield droplet_class.finding(
            Severity.BREACH,
            about="pressure",
            sentence=msg(
                "No droplet class suits all labels: they ask {classes} together.", classes=words
            ),
            basis=basis,
            settle=settled(
                s,
                ahead=msg("Do not mix these products; spray them apart."),
                done=msg(
                    "Correct the products if they are not those of the mix; spray them apart "
                    "from now on."
                ),
            ),
        )
        ask.done()
        return
    found = class_of(state)
    verdict = allowed(candidates=found.candidates, allowed_classes=between)
    if verdict is not Allowed.PASSES:
        unit = state.gauge.unit
        at = with_unit(three(convert(state.pressure_kpa, from_unit="kPa", to_unit=unit)), unit)
        good = [
            row for row in state.nozzle.class_table if parse_class(row.droplet_class) in between
        ]
        pressures = sorted((row.pressure for row in good), key=lambda pressure: pressure.si)
        classes = either(term(one.words) for one in found.candidates)
        said = msg("has no known droplet class")
        if found.candidates:
            one_class = len(found.candidates) == 1
            said = msg(
                gettext_noop("sprays {classes}")
                if one_class
                else gettext_noop("may spray {classes}"),
                classes=classes,
            )
        if found.why:
            said = Message(
                "{said} ({reason})", {"said": said, "reason": of_calc(found.why, found.values)}
            )
        yield droplet_class.finding(
            Severity.BREACH if verdict is Allowed.FAILS else Severity.CAUTION,
            about="pressure",
            sentence=msg(
                "At {pressure} {nozzle} {sprays}, label asks {classes}.",
                pressure=at,
                nozzle=state.nozzle.name,
                sprays=said,
                classes=words,
            ),
            basis=basis,
            settle=_to_a_class(s, [beside(pressure, unit) for pressure in pressures]),
            undecided=verdict is Allowed.UNKNOWN,
        )
    ask.done()


@check(
    "line-loss",
    title=msg("pressure lost between gauge and nozzle"),
    about=("rig", "pressure"),
)
def line_loss(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    rig = ask.fact(s.rig, "rig")
    if rig is None:
        raise ask.lack()
    if isinstance(rig.line_loss, Nothing) and rig.line_loss.kind is not Absence.NOT_MEASURED:
        return
    ask.number(rig.line_loss, "rig.line_loss")
    ask.done()
    state = nozzle_state(s)
    share = state.line_loss_kpa / state.gauge.si
    if share > LINE_LOSS_LIMIT:
        unit = state.gauge.unit
        lost = three(convert(state.line_loss_kpa, from_unit="kPa", to_unit=unit))
        yield line_loss.finding(
            Severity.CAUTION,
            about="pressure",
            sentence=msg(
                "{lost} of {gauge} is lost before the nozzle, {share:.0f} %; at most "
                "{usual:.0f} % is usual.",
                lost=with_unit(lost, unit),
                gauge=state.gauge,
                share=100.0 * share,
                usual=100.0 * LINE_LOSS_LIMIT,
            ),
            basis=msg("ISO 16122-2, inspection of sprayers in use"),
            settle=msg("Look for a clogged strainer or a narrow hose."),
        )


@check(
    "catch-test",
    title=msg("a catch test of the nozzles, young enough"),
    about=("catch_test", "nozzle", "started_at"),
)
def catch_test(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    nozzle = ask.fact(s.nozzle, "nozzle")
    day = ask.fact(s.local_day(), "started_at")
    if nozzle is None or day is None:
        raise ask.lack()
    test, most = s.catch_test, s.business.catch_test_max_days
    age = None if test is None else (day - test.tested_on).days
    if test is None or age is None:
        said = msg("These nozzles have no catch test")
    elif age > most:
        said = msg(
            "The catch test of {day} was {age} days old, more than {most}",
            day=test.tested_on,
            age=age,
            most=most,
        )
    elif age < 0:
        said = msg(
            "The catch test of {tested_on} was done after the spraying of {day}",
            tested_on=test.tested_on,
            day=day,
        )
    else:
        return
    yield catch_test.finding(
        Severity.CAUTION,
        about="catch_test",
        sentence=msg(
            "{said}; the flow is taken as rated, {flow} at {pressure}, within {accuracy:f} %.",
            said=said,
            flow=nozzle.rated_flow,
            pressure=nozzle.rated_pressure,
            accuracy=nozzle.flow_accuracy_percent,
        ),
        basis=msg("Good practice: calibrate at least once a season"),
        settle=msg("Catch-test the nozzles."),
    )


@check(
    "nozzles-mounted",
    title=msg("the nozzles mounted on the rig on the day"),
    about=("nozzle", "started_at"),
)
def nozzles_mounted(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    nozzle = ask.fact(s.nozzle, "nozzle")
    day = ask.fact(s.local_day(), "started_at")
    mounted = s.nozzle_mounted_on
    if nozzle is not None:
        ask.fact(mounted, "nozzle", msg("the day on which the nozzles were mounted"))
    if nozzle is None or day is None or mounted is None:
        raise ask.lack()
    start = s.record.started_at
    first = start.astimezone(s.zone).date() if start else day
    removed = s.nozzle_removed_on
    if first < mounted:
        said = msg(
            "The nozzles {nozzle} were mounted on {mounted}, after the spraying of {day}.",
            nozzle=nozzle.name,
            mounted=mounted,
            day=first,
        )
    elif removed is not None and removed < day:
        said = msg(
            "The nozzles {nozzle} were taken off on {removed}, before the spraying of {day}.",
            nozzle=nozzle.name,
            removed=removed,
            day=day,
        )
    else:
        return
    yield nozzles_mounted.finding(
        Severity.MISMATCH,
        about="nozzle",
        sentence=said,
        basis=msg("The nozzles of the rig as entered on the shelf"),
        settle=msg(
            "Choose the nozzles that were on the rig on the day, or correct the day on the shelf."
        ),
    )


@check(
    "nozzle-evenness",
    title=msg("every nozzle of the catch test against the mean of the boom"),
    about=("catch_test",),
)
def nozzle_evenness(s: Snapshot) -> Iterator[Finding]:
    test = _test(s)
    shown = caught(test)
    if shown.uneven:
        unit = s.nozzle.rated_flow.unit if s.nozzle else "L/min"
        mean = three(convert(shown.mean_l_min, from_unit="L/min", to_unit=unit))
        yield nozzle_evenness.finding(
            Severity.CAUTION,
            about="catch_test",
            sentence=msg(
                "In the catch test of {day}, {nozzles} than the mean, {mean}; {yardstick:.0f} % is "
                "the yardstick.",
                day=test.tested_on,
                nozzles=_nozzles(shown.uneven, shown.deviations),
                mean=with_unit(mean, unit),
                yardstick=100.0 * EVENNESS_LIMIT,
            ),
            basis=msg("Alberta, Montana (MT 2000-14) and Nebraska Extension"),
            settle=msg("Clean the nozzles that give too little, replace those that give too much."),
        )


@check(
    "nozzle-wear",
    title=msg("every nozzle of the catch test against a new one"),
    about=("catch_test", "nozzle"),
)
def nozzle_wear(s: Snapshot) -> Iterator[Finding]:
    test = _test(s)
    ask = Requirements()
    nozzle = ask.fact(s.nozzle, "nozzle")
    if nozzle is None:
        raise ask.lack()
    shown = caught(test, new=nozzle)
    if shown.worn and shown.wear:
        yield nozzle_wear.finding(
            Severity.CAUTION,
            about="catch_test",
            sentence=msg(
                "In the catch test of {day}, {nozzles} than a new one at {pressure}; from "
                "{worn:.0f} % more on a nozzle is worn.",
                day=test.tested_on,
                nozzles=_nozzles(shown.worn, shown.wear),
                pressure=test.pressure,
                worn=100.0 * WEAR_LIMIT,
            ),
            basis=msg("Nebraska (Klein) and Ohio State Extension"),
            settle=msg("Replace the worn nozzles, and better the whole set."),
        )


@check(
    "caught-flow",
    title=msg("the mean flow caught against the rated flow"),
    about=("catch_test", "nozzle"),
)
def caught_flow(s: Snapshot) -> Iterator[Finding]:
    test = _test(s)
    ask = Requirements()
    nozzle = ask.fact(s.nozzle, "nozzle")
    rig = ask.fact(s.rig, "rig")
    if nozzle is None or rig is None:
        raise ask.lack()
    verdict = caught_flow_verdict(
        caught_l_min=caught(test).mean_l_min,
        u_caught=relative_from_relative_accuracy(accuracy=float(test.accuracy_percent) / 100.0),
        pressure_kpa=test.pressure.si,
        u_pressure_kpa=standard_from_half_width(
            half_width=gauge_half_width_kpa(rig, test.pressure)
        ),
        rated_flow_l_min=nozzle.rated_flow.si,
        rated_pressure_kpa=nozzle.rated_pressure.si,
        exponent=float(nozzle.exponent),
    )
    severity = severity_of(verdict.outcome, verdict.look_again)
    if severity is not None and verdict.low is not None and verdict.high is not None:
        unit = nozzle.rated_flow.unit
        rated = (verdict.low + verdict.high) / 2.0
        caught_words, rated_words = (
            three(convert(flow, from_unit="L/min", to_unit=unit)) for flow in (verdict.value, rated)
        )
        yield caught_flow.finding(
            severity,
            about="catch_test",
            sentence=msg(
                "The catch test of {day} gave {caught} on average at {pressure}; rated is "
                "{rated}, {difference}.",
                day=test.tested_on,
                caught=with_unit(caught_words, unit),
                pressure=test.pressure,
                rated=with_unit(rated_words, unit),
                difference=more_or_less(verdict.value / rated - 1.0),
            ),
            basis=msg(
                "Data sheet of {name}; Nebraska (Klein) and Ohio State Extension", name=nozzle.name
            ),
            settle=msg("Check that the right nozzles are fitted and clean; replace worn ones."),
            undecided=verdict.outcome is Outcome.UNDECIDED,
        )


def _setting(s: Snapshot, ask: Requirements) -> Setting:
    """Return the setting; what lacks is raised together with what `ask` remembers."""
    try:
        return setting(s)
    except CannotRun as lack:
        raise ask.lack(lack) from None


@dataclass(frozen=True)
class _Settle:
    """What would settle a rate: the amounts in the tank, a surer figure, speed or pressure."""

    s: Snapshot
    laid: Setting | None
    aim: Quantity | None  # the carrier rate to come to
    product: str = ""

    def words(self, *, undecided: bool) -> str:
        said: list[str] = (
            [msg("Check how much {product} went into the tank.", product=self.product)]
            if self.product
            else []
        )
        if self.laid is not None:
            if undecided:
                ahead, done = self.laid.weakest()
                said.append(settled(self.s, ahead=ahead + ".", done=done))
            if self.aim is not None:
                said.append(self._way_to(self.laid, self.aim))
        return joined(" ", said)

    def _way_to(self, laid: Setting, aim: Quantity) -> str:
        speed, gauge = laid.speed_for(aim.si), laid.gauge_for(aim.si)
        rate = beside(aim, unit_of(self.s.record.planned_carrier))
        ahead, done = msg("Drive {speed}", speed=speed), Message("{speed}", {"speed": speed})
        if gauge:
            ahead = msg("{drive} or set {gauge} at the gauge", drive=ahead, gauge=gauge)
            done = msg("{speed} or {gauge} at the gauge", speed=speed, gauge=gauge)
        return settled(
            self.s,
            ahead=msg("{drive} to deliver {rate}.", drive=ahead, rate=rate),
            done=msg(
                "{setting} would have given {rate}; correct the entry if it was misread.",
                setting=done,
                rate=rate,
            ),
        )


def _product(
    s: Snapshot, place: int, unit: str, ask: Requirements
) -> tuple[RateLine | None, _Settle]:
    """Return a product's line and what would settle it; None, and remembered, if it has none."""
    line, laid = None, None
    try:
        laid = setting(s) if per_area(unit) else None
        line = product_line(s, place, laid)
    except CannotRun as lack:
        ask.take(lack)
    planned = s.record.planned_carrier
    aim = planned if isinstance(planned, Quantity) else None
    return line, _Settle(s, laid, aim, s.products[place].name)


def _against_planned(
    one: Check, s: Snapshot, line: RateLine, planned: Quantity, settle: _Settle
) -> Iterator[Finding]:
    """Yield the finding of a delivered rate that is not the planned one."""
    outcome = Outcome(line.against_planned)
    severity = severity_of(outcome, line.look_again)
    value, expanded = line.delivered, line.expanded
    if severity is not None and value is not None and expanded is not None:
        undecided = outcome is Outcome.UNDECIDED
        doubt = msg(
            " Whether that is within {percent:f} % cannot be decided.",
            percent=s.business.disagree_percent,
        )
        yield one.finding(
            severity,
            about=line.path,
            sentence=msg(
                "{delivered}, planned {planned}, {difference}; {spread}.",
                delivered=_head(line, value),
                planned=planned,
                difference=more_or_less(value / planned.to(line.unit) - 1.0),
                spread=_spread(value, expanded),
            )
            + (doubt if undecided else ""),
            basis=msg(
                "Tolerances of the business: look again from {look_again:f} %, no agreement "
                "from {disagree:f} %",
                look_again=s.business.look_again_percent,
                disagree=s.business.disagree_percent,
            ),
            settle=settle.words(undecided=undecided),
            undecided=undecided,
        )


def _against_label(
    one: Check,
    line: RateLine,
    asked: tuple[Quantity | None, Quantity | None],
    basis: str,
    settle: _Settle,
) -> Iterator[Finding]:
    """Yield the finding of a delivered rate outside the label, or not surely inside."""
    value, expanded = line.delivered, line.expanded
    said = line.against_label not in ("", Outcome.AGREES.value)
    if said and value is not None and expanded is not None:
        undecided = line.against_label == Outcome.UNDECIDED.value
        yield one.finding(
            Severity.CAUTION if undecided else Severity.BREACH,
            about=line.path,
            sentence=msg(
                "{delivered}, label asks {limits}; {spread}.",
                delivered=_head(line, value),
                limits=limits(*asked, unit=line.unit),
                spread=_spread(value, expanded),
            ),
            basis=basis,
            settle=settle.words(undecided=undecided),
            undecided=undecided,
        )


def _head(line: RateLine, value: float) -> str:
    delivered = with_unit(three(value), line.unit)
    if line.subject == "carrier":
        return msg("Delivered {rate}", rate=delivered)
    if per_area(line.unit):
        return msg("Delivered {rate} of {product}", rate=delivered, product=line.subject)
    return msg("The mix holds {rate} of {product}", rate=delivered, product=line.subject)


def _spread(value: float, expanded: float) -> str:
    return msg(
        "at this rig's accuracy between {low} and {high}",
        low=three(value - expanded),
        high=three(value + expanded),
    )


def _test(s: Snapshot) -> CatchTestFacts:
    if s.catch_test is None:
        ask = Requirements()
        if ask.fact(s.nozzle, "nozzle") is None:
            raise ask.lack()
        raise CannotRun(why=msg("these nozzles have no catch test"))
    return s.catch_test


def _nozzles(numbers: tuple[int, ...], shares: tuple[float, ...]) -> str:
    """Return which nozzles are off by how much: "nozzle 5 gave 8.3 % more"."""
    each = [
        msg(
            "nozzle {number} gave {difference}",
            number=number,
            difference=more_or_less(shares[number - 1]),
        )
        for number in numbers
    ]
    return listed(each)


def _to_a_class(s: Snapshot, pressures: list[str]) -> str:
    """Return what would bring an allowed droplet class, by the nozzle's own table."""
    if not pressures:
        ahead = msg("Fit a nozzle whose table gives a class that is allowed.")
        return settled(s, ahead=ahead, done=msg("Correct the nozzle if it is the wrong one."))
    return settled(
        s,
        ahead=msg(
            "Run at {pressures}, where its table gives a class that is allowed.",
            pressures=listed(pressures),
        ),
        done=msg(
            "At {pressures} its table gives a class that is allowed; correct the entry if "
            "it was misread.",
            pressures=listed(pressures),
        ),
    )


def _class_words(finest: DropletClass | None, coarsest: DropletClass | None) -> str:
    if coarsest is None and finest is not None:
        return msg("{class_} or coarser", class_=term(finest.words))
    if finest is None and coarsest is not None:
        return msg("{class_} or finer", class_=term(coarsest.words))
    return msg(
        "{finest} to {coarsest}",
        finest=term(finest.words) if finest else "",
        coarsest=term(coarsest.words) if coarsest else "",
    )
