"""Checks of the season against the label: totals, number of applications, days between them.

The limits are those of the label edition; where it is silent there is nothing to check.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from functools import cache

from calc.limits import Outcome, judge_within
from logbook.checks.assessment import RateLine, assess
from logbook.checks.core import Finding, Severity, check
from logbook.checks.label import labels
from logbook.checks.requirements import Requirements
from logbook.checks.used import used_of
from logbook.facts.messages import gettext_noop, msg, with_unit
from logbook.facts.quantity import Quantity
from logbook.facts.record import EarlierUse, ProductFacts, Snapshot
from logbook.facts.used import Basis, RateUsed
from logbook.facts.wording import edition, limits, listed, settled, three, unit_of


@check(
    "season-maximum",
    title=msg("the total of every product on the field in the year against its label"),
    about=("products.*.planned_rate", "products.*.total_used", "treated_area", "products.*.label"),
)
def season_maximum(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    day = ask.fact(s.local_day(), "started_at")
    lines = cache(lambda: assess(s).lines)
    for place, product, label in labels(s, ask):
        most = label.season_max
        if most is None or day is None:
            continue
        now = _used_now(s, place, most, lines, ask)
        others = _this_year(s, product, day)
        parts = _parts_of_this_treatment(s, product)
        known = []
        for use in others:
            if use.rate is None or use.rate.dimension != most.dimension:
                ask.refuse(
                    msg(
                        "record no. {number} has no rate of {name} in {unit}",
                        number=use.record_number,
                        name=product.name,
                        unit=most.unit,
                    )
                )
            else:
                known.append(use)
        if now is None or now.none:
            continue
        share = float(s.business.look_again_percent) / 100.0
        amounts = [(use.rate.to(most.unit), use.basis) for use in known if use.rate]
        total = now.rate.to(most.unit) + sum(rate for rate, _ in amounts)
        # A computed rate stands for more than the label only beyond its own doubt, unless it bears
        # out a plan that does.
        sure = [_sure(*one, share) for one in amounts]
        here = _sure(now.rate.to(most.unit), now.basis, share, plan=_plan(product, most))
        if not _over(here + sum(sure), most):
            continue
        # Where only the parts of this job together carry it over the limit, and they treated other
        # area, no ground had more than the heaviest part and what came before.
        of_parts = [one for one, use in zip(sure, known, strict=True) if use in parts]
        at_most = here + sum(sure) - sum((here, *of_parts)) + max((here, *of_parts))
        only_parts = bool(parts) and not _over(at_most, most)
        before = msg(", {records} included", records=_numbers(others)) if others else ""
        told = (
            msg(
                "; {records} treated another part of the field in the same job, so that "
                "no ground had more than {amount}",
                records=_numbers(parts),
                amount=with_unit(three(at_most), most.unit),
            )
            if only_parts
            else ""
        )
        yield season_maximum.finding(
            Severity.CAUTION if only_parts else Severity.BREACH,
            about=f"products.{place}.{RESTS_ON[now.basis]}",
            sentence=msg(
                "{name} comes to {total} on this field in {year}{before}; "
                "label asks {limits}{told}{basis}.",
                name=product.name,
                total=with_unit(three(total), most.unit),
                year=day.year,
                before=before,
                limits=limits(None, most, unit=unit_of(product.planned_rate)),
                told=told,
                basis=_without_total(now, known),
            ),
            basis=edition(product, label),
            settle=settled(
                s,
                ahead=msg("Plan a lower rate, or leave the product out for the season."),
                done=msg(
                    "Correct the rates if they are mistyped; use no more of the product on "
                    "this field in the season."
                ),
            ),
        )
    ask.done()


RESTS_ON = {
    Basis.TOTAL: "total_used",
    Basis.DELIVERED: "planned_rate",
    Basis.PLANNED: "planned_rate",
}
"""The input of a product that its rate used is to be corrected in."""


def _over(amount: float, most: Quantity) -> bool:
    judged = judge_within(value=amount, expanded=0.0, low=None, high=float(most.value))
    return judged is not Outcome.AGREES


def _sure(rate: float, basis: str, share: float, *, plan: float | None = None) -> float:
    """Return what of a rate used is beyond doubt; of one that was computed the part within it.

    Args: share [1] within which a computed rate is not told from another; plan, which counts where
    the computed rate bears it out.
    """
    if basis != Basis.DELIVERED:
        return rate
    low, high = rate * (1.0 - share), rate * (1.0 + share)
    return plan if plan is not None and low <= plan <= high else low


def _plan(product: ProductFacts, most: Quantity) -> float | None:
    rate = product.planned_rate
    if not isinstance(rate, Quantity) or rate.dimension != most.dimension:
        return None
    return rate.to(most.unit)


def _without_total(now: RateUsed, others: list[EarlierUse]) -> str:
    """Return which of the rates are not totals over treated areas, and what they are instead."""
    said: str = ""
    for basis, words in WITHOUT_TOTAL.items():
        here = [msg("this record")] if now.basis is basis else []
        there = [
            msg("no. {number}", number=one.record_number) for one in others if one.basis == basis
        ]
        if here or there:
            said = said + msg(words, records=listed([*here, *there]))
    return said


WITHOUT_TOTAL = {
    Basis.DELIVERED: gettext_noop(
        "; no total over its area is given for {records}, so the delivered rate as computed counts"
    ),
    Basis.PLANNED: gettext_noop(
        "; no total over its area is given for {records}, so the planned rate counts"
    ),
}


@check(
    "applications-maximum",
    title=msg("the number of applications of every product in the year against its label"),
    about=("products.*.label",),
)
def applications_maximum(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    day = ask.fact(s.local_day(), "started_at")
    for place, product, label in labels(s, ask):
        if label.applications_max is None or day is None or _unused(s, place):
            continue
        parts = _parts_of_this_treatment(s, product)
        others = [use for use in _this_year(s, product, day) if use not in parts]
        # Jobs, not records, of the others too would need their links; each counts for itself.
        number = len(others) + 1
        if number > label.applications_max:
            along = msg(" with {records}", records=_numbers(others)) if others else ""
            times = msg(
                gettext_noop("{number} application")
                if number == 1
                else gettext_noop("{number} applications"),
                number=number,
            )
            yield applications_maximum.finding(
                Severity.BREACH,
                about=f"products.{place}",
                sentence=msg(
                    "This record{along} makes {times} of {name} to this field in {year}; "
                    "label asks at most {most}.",
                    along=along,
                    times=times,
                    name=product.name,
                    year=day.year,
                    most=label.applications_max,
                ),
                basis=edition(product, label),
                settle=settled(
                    s,
                    ahead=msg("Leave the product out for the season."),
                    done=msg(
                        "Correct the product, field or day if it is the wrong one; use no more "
                        "of the product on this field in the season."
                    ),
                ),
            )
    ask.done()


@check(
    "application-interval",
    title=msg("the days between applications of every product against its label"),
    about=("started_at", "products.*.label"),
)
def application_interval(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    day = ask.fact(s.local_day(), "started_at")
    for place, product, label in labels(s, ask):
        if label.interval_days is None or day is None or _unused(s, place):
            continue
        parts = _parts_of_this_treatment(s, product)
        nearest = min(
            (use for use in _earlier_uses(s, product) if use not in parts),
            key=lambda use: abs((day - use.applied_on).days),
            default=None,
        )
        days = 0 if nearest is None else (day - nearest.applied_on).days
        if nearest is not None and abs(days) < label.interval_days:
            yield application_interval.finding(
                Severity.BREACH,
                about=f"products.{place}",
                sentence=msg(
                    "{name} was also applied to this field on {day} (no. "
                    "{number}), {apart}; label asks at least {days} days.",
                    name=product.name,
                    day=nearest.applied_on,
                    number=nearest.record_number,
                    apart=_apart(days),
                    days=label.interval_days,
                ),
                basis=edition(product, label),
                settle=settled(
                    s,
                    ahead=msg(
                        "Wait until {days} days have passed.",
                        days=label.interval_days,
                    ),
                    done=msg("Correct the product, field or day if it is the wrong one."),
                ),
            )
    ask.done()


def _apart(days: int) -> str:
    """Return how many days another application lies before this one, or after it."""
    if days == 0:
        return msg("the same day")
    if abs(days) == 1:
        return msg("1 day before") if days > 0 else msg("1 day after")
    if days > 0:
        return msg("{days} days before", days=days)
    return msg("{days} days after", days=-days)


def _unused(s: Snapshot, place: int) -> bool:
    """Return whether a total says that the product was planned and not used: no application."""
    used = used_of(s, place, tuple)
    return used is not None and used.none


def _numbers(uses: list[EarlierUse]) -> str:
    return listed(msg("no. {number}", number=use.record_number) for use in uses)


def _earlier_uses(s: Snapshot, product: ProductFacts) -> list[EarlierUse]:
    return [use for use in s.earlier if use.product_id == product.product_id and not use.none]


def _this_year(s: Snapshot, product: ProductFacts, day: date) -> list[EarlierUse]:
    # The season is taken as the calendar year of the work, as most labels of field crops print it.
    return [use for use in _earlier_uses(s, product) if use.applied_on.year == day.year]


OVERLAP = 1.05
"""How far the parts of one job may exceed the field together and still lie beside each other, not
on each other: overlap at the borders and the error of an area read off a counter. Common practice,
no source."""


def _parts_of_this_treatment(s: Snapshot, product: ProductFacts) -> list[EarlierUse]:
    """Return the uses that are this very application, broken off and resumed on other area.

    A label counts treatments of the same ground; one treatment that took two days is one. It is
    taken for one only where the areas of its records fit into the field together: where an area or
    the size of the field is not known, or they overlap, each record counts. Common practice, no
    source; where a label says otherwise, the label decides.
    """
    parts = [use for use in _earlier_uses(s, product) if use.same_job]
    areas = [s.record.treated_area, *(use.treated_area for use in parts)]
    known = [area.si for area in areas if isinstance(area, Quantity)]
    size = s.field.planted_size if s.field else None
    whole = size.si if isinstance(size, Quantity) else s.field.area_ha if s.field else None
    if not parts or len(known) < len(areas) or not whole or sum(known) > whole * OVERLAP:
        return []
    return parts


def _used_now(
    s: Snapshot,
    place: int,
    most: Quantity,
    lines: Callable[[], tuple[RateLine, ...]],
    ask: Requirements,
) -> RateUsed | None:
    """Return the rate used of this record, of the label's dimension; remember what lacks."""
    product, path = s.products[place], f"products.{place}"
    used = used_of(s, place, lines)
    if used is None:
        name = product.name
        ask.number(
            product.planned_rate,
            f"{path}.planned_rate",
            msg("the planned rate of {name}", name=name),
        )
        ask.number(
            product.total_used, f"{path}.total_used", msg("the total of {name} used", name=name)
        )
        ask.number(s.record.treated_area, "treated_area")
    elif used.rate.dimension != most.dimension:
        ask.refuse(
            msg(
                "{name} was used in {unit} and is limited in {other}",
                name=product.name,
                unit=used.rate.unit,
                other=most.unit,
            )
        )
        return None
    return used
