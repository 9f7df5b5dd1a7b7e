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
from calc.uncertainty import (
    COVERAGE_FACTOR,
    relative_from_relative_accuracy,
    standard_from_half_width,
)
from calc.units import convert
from calc.verdict import Outcome, judge_within
from logbook.rules.ask import Asking
from logbook.rules.assessment import RateLine, carrier_line, per_area, product_line
from logbook.rules.core import CannotRun, Check, Finding, Severity, check
from logbook.rules.facts import CatchTestFacts, Snapshot
from logbook.rules.label import carrier_window, comparable, contradictory, labels
from logbook.rules.quantity import Absence, Nothing, Quantity
from logbook.rules.setting import (
    Setting,
    caught,
    class_of,
    gauge_half_width_kpa,
    nozzle_state,
    setting,
)
from logbook.rules.wording import (
    MISREAD,
    beside,
    edition,
    limits,
    listed,
    settled,
    three,
    unit_of,
)

LINE_LOSS_LIMIT = 0.10
"""Share of the gauge pressure that may be lost before the nozzle; ISO 16122-2, from memory."""

_SETTING = ("pressure", "speed", "rig", "nozzle", "catch_test", "density", "duty", "pattern")


@check(
    "carrier-against-planned",
    title="delivered carrier rate against the planned one",
    about=("planned_carrier", *_SETTING),
)
def carrier_against_planned(s: Snapshot) -> Iterator[Finding]:
    ask = Asking()
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
    title="delivered carrier rate against the labels",
    about=("planned_carrier", *_SETTING, "products.*.label"),
)
def carrier_against_label(s: Snapshot) -> Iterator[Finding]:
    ask = Asking()
    asked = carrier_window(s, ask)
    if asked and contradictory(asked):
        ask.refuse("no carrier volume suits all labels")
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
    title="delivered rate of every product against the planned one",
    about=("products.*.planned_rate", "loads", "mix_used", "products.*.total_used", *_SETTING),
)
def product_against_planned(s: Snapshot) -> Iterator[Finding]:
    ask = Asking()
    ask.fact(s.products or None, "products")
    for place, product in enumerate(s.products):
        name = f"the planned rate of {product.name}"
        planned = ask.number(product.planned_rate, f"products.{place}.planned_rate", name)
        if planned is not None:
            line, settle = _product(s, place, planned.unit, ask)
            if line is not None:
                yield from _against_planned(product_against_planned, s, line, planned, settle)
    ask.done()


@check(
    "product-against-label",
    title="delivered rate of every product against its label",
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
    ask = Asking()
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
    title="pressure at the nozzle within its rated range",
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
            sentence=f"Pressure at the nozzle {at_nozzle} {unit}; {nozzle.name} is rated for "
            f"{rated}"
            + ("; at this gauge's accuracy that cannot be decided." if undecided else "."),
            basis=f"Data sheet of {nozzle.name}",
            settle=settled(
                s,
                ahead="Read the pressure on a more exact gauge."
                if undecided
                else "Change speed or nozzle size so that the pressure comes into the range.",
                done="A more exact gauge would decide it." if undecided else MISREAD,
            ),
            undecided=undecided,
        )


@check(
    "droplet-class",
    title="droplet class at the pressure used against the labels",
    about=("pressure", "nozzle", "products.*.label"),
)
def droplet_class(s: Snapshot) -> Iterator[Finding]:
    ask = Asking()
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
    basis = f"{listed(edition(*one) for one in asked)}; classes of ASABE S572"
    if not between:
        yield droplet_class.finding(
            Severity.BREACH,
            about="pressure",
            sentence=f"No droplet class suits all labels: they ask {words} together.",
            basis=basis,
            settle=settled(
                s,
                ahead="Do not mix these products; spray them apart.",
                done="Correct the products if they are not those of the mix; spray them apart "
                "from now on.",
            ),
        )
        ask.done()
        return
    found = class_of(state)
    verdict = allowed(candidates=found.candidates, allowed_classes=between)
    if verdict is not Allowed.PASSES:
        unit = state.gauge.unit
        at = f"{three(convert(state.pressure_kpa, from_unit='kPa', to_unit=unit))} {unit}"
        good = [
            row for row in state.nozzle.class_table if parse_class(row.droplet_class) in between
        ]
        pressures = sorted((row.pressure for row in good), key=lambda pressure: pressure.si)
        sprays = " or ".join(one.words for one in found.candidates)
        does = "sprays" if len(found.candidates) == 1 else "may spray"
        said = f"{does} {sprays}" if sprays else "has no known droplet class"
        reason = f" ({found.reason})" if found.reason else ""
        yield droplet_class.finding(
            Severity.BREACH if verdict is Allowed.FAILS else Severity.CAUTION,
            about="pressure",
            sentence=f"At {at} {state.nozzle.name} {said}{reason}, label asks {words}.",
            basis=basis,
            settle=_to_a_class(s, [beside(pressure, unit) for pressure in pressures]),
            undecided=verdict is Allowed.UNKNOWN,
        )
    ask.done()


@check(
    "line-loss",
    title="pressure lost between gauge and nozzle",
    about=("rig", "pressure"),
)
def line_loss(s: Snapshot) -> Iterator[Finding]:
    ask = Asking()
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
            sentence=f"{lost} {unit} of {state.gauge} is lost before the nozzle, "
            f"{100.0 * share:.0f} %; at most {100.0 * LINE_LOSS_LIMIT:.0f} % is usual.",
            basis="ISO 16122-2, inspection of sprayers in use",
            settle="Look for a clogged strainer or a narrow hose.",
        )


@check(
    "catch-test",
    title="a catch test of the nozzles, young enough",
    about=("catch_test", "nozzle", "started_at"),
)
def catch_test(s: Snapshot) -> Iterator[Finding]:
    ask = Asking()
    nozzle = ask.fact(s.nozzle, "nozzle")
    day = ask.fact(s.local_day(), "started_at")
    if nozzle is None or day is None:
        raise ask.lack()
    test, most = s.catch_test, s.business.catch_test_max_days
    age = None if test is None else (day - test.tested_on).days
    if test is None or age is None:
        said = "These nozzles have no catch test"
    elif age > most:
        said = f"The catch test of {test.tested_on} was {age} days old, more than {most}"
    elif age < 0:
        said = f"The catch test of {test.tested_on} was done after the spraying of {day}"
    else:
        return
    yield catch_test.finding(
        Severity.CAUTION,
        about="catch_test",
        sentence=f"{said}; the flow is taken as rated, {nozzle.rated_flow} at "
        f"{nozzle.rated_pressure}, within {nozzle.flow_accuracy_percent:f} %.",
        basis="Good practice: calibrate at least once a season",
        settle="Catch-test the nozzles.",
    )


@check(
    "nozzles-mounted",
    title="the nozzles mounted on the rig on the day",
    about=("nozzle", "started_at"),
)
def nozzles_mounted(s: Snapshot) -> Iterator[Finding]:
    ask = Asking()
    nozzle = ask.fact(s.nozzle, "nozzle")
    day = ask.fact(s.local_day(), "started_at")
    mounted = s.nozzle_mounted_on
    if nozzle is not None:
        ask.fact(mounted, "nozzle", "the day on which the nozzles were mounted")
    if nozzle is None or day is None or mounted is None:
        raise ask.lack()
    start = s.record.started_at
    first = start.astimezone(s.zone).date() if start else day
    removed = s.nozzle_removed_on
    if first < mounted:
        said = f"were mounted on {mounted}, after the spraying of {first}"
    elif removed is not None and removed < day:
        said = f"were taken off on {removed}, before the spraying of {day}"
    else:
        return
    yield nozzles_mounted.finding(
        Severity.MISMATCH,
        about="nozzle",
        sentence=f"The nozzles {nozzle.name} {said}.",
        basis="The nozzles of the rig as entered on the shelf",
        settle="Choose the nozzles that were on the rig on the day, or correct the day on the "
        "shelf.",
    )


@check(
    "nozzle-evenness",
    title="every nozzle of the catch test against the mean of the boom",
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
            sentence=f"In the catch test of {test.tested_on}, "
            f"{_nozzles(shown.uneven, shown.deviations)} than the mean, {mean} {unit}; "
            f"{100.0 * EVENNESS_LIMIT:.0f} % is the yardstick.",
            basis="Alberta, Montana (MT 2000-14) and Nebraska Extension",
            settle="Clean the nozzles that give too little, replace those that give too much.",
        )


@check(
    "nozzle-wear",
    title="every nozzle of the catch test against a new one",
    about=("catch_test", "nozzle"),
)
def nozzle_wear(s: Snapshot) -> Iterator[Finding]:
    test = _test(s)
    ask = Asking()
    nozzle = ask.fact(s.nozzle, "nozzle")
    if nozzle is None:
        raise ask.lack()
    shown = caught(test, new=nozzle)
    if shown.worn and shown.wear:
        yield nozzle_wear.finding(
            Severity.CAUTION,
            about="catch_test",
            sentence=f"In the catch test of {test.tested_on}, "
            f"{_nozzles(shown.worn, shown.wear)} than a new one at {test.pressure}; from "
            f"{100.0 * WEAR_LIMIT:.0f} % more on a nozzle is worn.",
            basis="Nebraska (Klein) and Ohio State Extension",
            settle="Replace the worn nozzles, and better the whole set.",
        )


@check(
    "caught-flow",
    title="the mean flow caught against the rated flow",
    about=("catch_test", "nozzle"),
)
def caught_flow(s: Snapshot) -> Iterator[Finding]:
    test = _test(s)
    ask = Asking()
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
    severity = _severity(verdict.outcome, verdict.look_again)
    if severity is not None and verdict.low is not None and verdict.high is not None:
        unit = nozzle.rated_flow.unit
        rated = (verdict.low + verdict.high) / 2.0
        caught_words, rated_words = (
            three(convert(flow, from_unit="L/min", to_unit=unit)) for flow in (verdict.value, rated)
        )
        yield caught_flow.finding(
            severity,
            about="catch_test",
            sentence=f"The catch test of {test.tested_on} gave {caught_words} {unit} on average at "
            f"{test.pressure}; rated is {rated_words} {unit}, {_more(verdict.value / rated)}.",
            basis=f"Data sheet of {nozzle.name}; Nebraska (Klein) and Ohio State Extension",
            settle="Check that the right nozzles are fitted and clean; replace worn ones.",
            undecided=verdict.outcome is Outcome.UNDECIDED,
        )


def _setting(s: Snapshot, ask: Asking) -> Setting:
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
        said = [f"Check how much {self.product} went into the tank."] if self.product else []
        if self.laid is not None:
            if undecided:
                remedy, brings = self.laid.weakest()
                surer = f"{brings[:1].upper()}{brings[1:]} would decide it"
                said.append(f"{settled(self.s, ahead=remedy, done=surer)}.")
            if self.aim is not None:
                said.append(self._way_to(self.laid, self.aim))
        return " ".join(said)

    def _way_to(self, laid: Setting, aim: Quantity) -> str:
        speed, gauge = laid.speed_for(aim.si), laid.gauge_for(aim.si)
        rate = beside(aim, unit_of(self.s.record.planned_carrier))
        ahead = (
            f"Drive {speed}{f' or set {gauge} at the gauge' if gauge else ''} to deliver {rate}."
        )
        done = (
            f"{speed}{f' or {gauge} at the gauge' if gauge else ''} would have given {rate}; "
            "correct the entry if it was misread."
        )
        return settled(self.s, ahead=ahead, done=done)


def _product(s: Snapshot, place: int, unit: str, ask: Asking) -> tuple[RateLine | None, _Settle]:
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
    severity = _severity(outcome, line.look_again)
    value, expanded = line.delivered, line.expanded
    if severity is not None and value is not None and expanded is not None:
        undecided = outcome is Outcome.UNDECIDED
        doubt = f" Whether that is within {s.business.disagree_percent:f} % cannot be decided."
        yield one.finding(
            severity,
            about=line.path,
            sentence=f"{_head(line, value)}, planned {planned}, "
            f"{_more(value / planned.to(line.unit))}; {_spread(value, expanded)}."
            + (doubt if undecided else ""),
            basis=f"Tolerances of the business: look again from {s.business.look_again_percent:f} "
            f"%, no agreement from {s.business.disagree_percent:f} %",
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
            sentence=f"{_head(line, value)}, label asks {limits(*asked, unit=line.unit)}; "
            f"{_spread(value, expanded)}.",
            basis=basis,
            settle=settle.words(undecided=undecided),
            undecided=undecided,
        )


def _severity(outcome: Outcome, look_again: bool) -> Severity | None:
    if outcome is Outcome.DISAGREES:
        return Severity.MISMATCH
    return Severity.CAUTION if look_again or outcome is Outcome.UNDECIDED else None


def _head(line: RateLine, value: float) -> str:
    delivered = f"{three(value)} {line.unit}"
    if line.subject == "carrier":
        return f"Delivered {delivered}"
    if per_area(line.unit):
        return f"Delivered {delivered} of {line.subject}"
    return f"The mix holds {delivered} of {line.subject}"


def _spread(value: float, expanded: float) -> str:
    return f"at this rig's accuracy between {three(value - expanded)} and {three(value + expanded)}"


def _more(ratio: float) -> str:
    """Return how much more or less a ratio says: "17 % more"."""
    percent = 100.0 * (ratio - 1.0)
    return f"{abs(percent):.1f} % {'more' if percent >= 0.0 else 'less'}"


def _test(s: Snapshot) -> CatchTestFacts:
    if s.catch_test is None:
        raise CannotRun(why="these nozzles have no catch test")
    return s.catch_test


def _nozzles(numbers: tuple[int, ...], shares: tuple[float, ...]) -> str:
    """Return which nozzles are off by how much: "nozzle 5 gave 8.3 % more"."""
    each = [f"nozzle {number} gave {_more(1.0 + shares[number - 1])}" for number in numbers]
    return listed(each)


def _to_a_class(s: Snapshot, pressures: list[str]) -> str:
    """Return what would bring an allowed droplet class, by the nozzle's own table."""
    if not pressures:
        ahead = "Fit a nozzle whose table gives a class that is allowed."
        return settled(s, ahead=ahead, done="Correct the nozzle if it is the wrong one.")
    return settled(
        s,
        ahead=f"Run at {listed(pressures)}, where its table gives a class that is allowed.",
        done=f"At {listed(pressures)} its table gives a class that is allowed; correct the entry "
        "if it was misread.",
    )


def _class_words(finest: DropletClass | None, coarsest: DropletClass | None) -> str:
    if coarsest is None and finest is not None:
        return f"{finest.words} or coarser"
    if finest is None and coarsest is not None:
        return f"{coarsest.words} or finer"
    return f"{finest.words if finest else ''} to {coarsest.words if coarsest else ''}"
