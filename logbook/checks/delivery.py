"""Checks of what was delivered: carrier and products, against the plan and the labels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from calc.errors import OutOfRange
from calc.units import convert
from calc.verdict import Verdict
from logbook.checks.assessment import MARKED, RateLine, carrier_line, product_line
from logbook.checks.core import CannotRun, Check, Finding, Severity, check
from logbook.checks.estimates import evidence, number, per_area
from logbook.checks.label import SILENT, carrier_window, comparable, contradictory, labels
from logbook.checks.requirements import Requirements
from logbook.checks.setting import (
    Setting,
    setting,
)
from logbook.checks.trials import with_entry
from logbook.facts.messages import Message, joined, msg, with_unit
from logbook.facts.quantity import Quantity
from logbook.facts.record import Snapshot
from logbook.facts.wording import (
    apart,
    beside,
    edition,
    limits,
    more_or_less,
    settled,
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
        settle = _Settle(s, laid, target or asked.high or asked.low, label=True)
        line = carrier_line(s, laid)
        window = (asked.low, asked.high)
        yield from _against_label(carrier_against_label, s, line, window, asked.basis, settle)
    else:
        ask.nothing(SILENT)
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
    found = labels(s, ask)
    if not any(label.rate_min or label.rate_max for _, _, label in found):
        ask.nothing(SILENT)
    for place, product, label in found:
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
                    product_against_label,
                    s,
                    line,
                    asked,
                    edition(product, label),
                    replace(settle, label=True),
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
    """What would settle a rate: the amounts in the tank, a speed or a pressure that was tried."""

    s: Snapshot
    laid: Setting | None
    aim: Quantity | None  # the carrier rate to come to
    place: int | None = None  # of the product; None: it is the carrier
    label: bool = False  # whether it is settled against the label, else against the plan

    def words(self) -> str:
        said: list[str] = []
        if self.place is not None:
            name = self.s.products[self.place].name
            said.append(msg("Check how much {product} went into the tank.", product=name))
        if self.laid is not None and self.aim is not None:
            said.append(self._way_to(self.laid, self.aim))
        return joined(" ", said)

    def _way_to(self, laid: Setting, aim: Quantity) -> str:
        speed, gauge = laid.speed_for(aim.si), laid.gauge_for(aim.si)
        rate = beside(aim, unit_of(self.s.record.planned_carrier))
        drive = self._helps("speed", speed)
        at = gauge is not None and self._helps("pressure", gauge)
        if not drive and not at:
            seen = evidence(self.s)
            borne_out = seen is not None and seen.against is None and len(seen.estimates) > 1
            done = msg("No speed and no pressure alone would have settled it at this plan.")
            if borne_out:
                done = msg("What was used bears this rate out. If all is right, say what happened.")
            return settled(
                self.s,
                ahead=msg("No speed and no pressure alone would settle it at this plan."),
                done=done,
            )
        if drive and at:
            ahead = msg("Drive {speed} or set {gauge} at the gauge", speed=speed, gauge=gauge)
            done = msg("{speed} or {gauge} at the gauge", speed=speed, gauge=gauge)
        elif drive:
            ahead, done = msg("Drive {speed}", speed=speed), Message("{speed}", {"speed": speed})
        else:
            ahead = msg("Set {gauge} at the gauge", gauge=gauge)
            done = msg("{gauge} at the gauge", gauge=gauge)
        return settled(
            self.s,
            ahead=msg("{drive} to deliver {rate}.", drive=ahead, rate=rate),
            done=msg(
                "{setting} would have given {rate}; correct the entry if it was misread.",
                setting=done,
                rate=rate,
            ),
        )

    def _helps(self, name: str, value: Quantity) -> bool:
        """Return whether the line is no longer marked with another entry, which was tried."""
        entered = getattr(self.s.record, name)
        if entered == value or value.value <= 0:
            return False
        tried = with_entry(self.s, name, value)
        try:
            laid = setting(tried)
            if self.place is None:
                line = carrier_line(tried, laid)
            else:
                line = product_line(tried, self.place, laid)
        except (CannotRun, OutOfRange):
            return False
        outcome = line.against_label if self.label else line.against_planned
        seen = evidence(tried)
        return seen is not None and seen.against is None and outcome not in MARKED


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
    return line, _Settle(s, laid, number(s.record.planned_carrier), place)


def _against_planned(
    one: Check, s: Snapshot, line: RateLine, planned: Quantity, settle: _Settle
) -> Iterator[Finding]:
    """Yield the finding of a delivered rate that is not the planned one."""
    if line.delivered is not None and line.against_planned == Verdict.MISMATCH:
        aim = planned.to(line.unit)
        yield one.finding(
            Severity.MISMATCH,
            about=line.path,
            sentence=msg(
                "{delivered}, planned {planned}, {difference}; {spread}.",
                delivered=_head(line, line.unit, aim),
                planned=planned,
                difference=more_or_less(line.delivered / aim - 1.0),
                spread=_spread(line, line.unit, aim),
            ),
            basis=msg(
                "Yardstick of the business: does not agree from {disagree:f} % off plan",
                disagree=s.business.disagree_percent,
            ),
            settle=settle.words(),
        )


def _against_label(
    one: Check,
    s: Snapshot,
    line: RateLine,
    asked: tuple[Quantity | None, Quantity | None],
    basis: str,
    settle: _Settle,
) -> Iterator[Finding]:
    """Yield the finding of a delivered rate outside the label: surely, or by the yardstick."""
    if line.against_label not in MARKED:
        return
    breach = line.against_label == Verdict.BREACH
    unit = next(one.unit for one in asked if one is not None)
    ends = [None if one is None else one.to(unit) for one in asked]
    yield one.finding(
        Severity.BREACH if breach else Severity.MISMATCH,
        about=line.path,
        sentence=msg(
            "{delivered}, label asks {limits}; {spread}.",
            delivered=_head(line, unit, *ends),
            limits=limits(*asked, unit=unit),
            spread=_spread(line, unit, *ends),
        ),
        basis=basis
        if breach
        else msg(
            "{basis}; yardstick of the business: {look_again:f} % beyond the label",
            basis=basis,
            look_again=s.business.look_again_percent,
        ),
        settle=settle.words(),
    )


def _head(line: RateLine, unit: str, *against: float | None) -> str:
    """Return what was delivered, in the unit of what it stands against, told apart from it."""
    value = convert(line.delivered or 0.0, from_unit=line.unit, to_unit=unit)
    delivered = with_unit(apart(value, *against), unit)
    if line.subject == "carrier":
        return msg("Delivered {rate}", rate=delivered)
    if per_area(unit):
        return msg("Delivered {rate} of {product}", rate=delivered, product=line.subject)
    return msg("The mix holds {rate} of {product}", rate=delivered, product=line.subject)


def _spread(line: RateLine, unit: str, *against: float | None) -> str:
    """Return between which ends the truth lies, told apart from what it stands against."""
    least, most = line.ends or (None, None)
    low, high = (
        None if end is None else apart(convert(end, from_unit=line.unit, to_unit=unit), *against)
        for end in (least, most)
    )
    if high is None:
        return msg("at this accuracy {low} or more, without an upper end", low=low)
    return msg("at this accuracy between {low} and {high}", low=low, high=high)
