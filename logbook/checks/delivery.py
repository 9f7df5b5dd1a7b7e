"""Checks of what was delivered: carrier and products, against the plan and the labels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from calc.limits import Outcome
from logbook.checks.assessment import RateLine, carrier_line, per_area, product_line
from logbook.checks.core import CannotRun, Check, Finding, Severity, check, severity_of
from logbook.checks.label import carrier_window, comparable, contradictory, labels
from logbook.checks.requirements import Requirements
from logbook.checks.setting import (
    Setting,
    setting,
)
from logbook.facts.messages import Message, joined, msg, with_unit
from logbook.facts.quantity import Quantity
from logbook.facts.record import Snapshot
from logbook.facts.wording import (
    beside,
    edition,
    limits,
    more_or_less,
    settled,
    three,
    unit_of,
)

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
