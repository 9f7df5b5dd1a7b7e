"""Checks of the season against the label: totals, number of applications, days between them.

The limits are those of the label edition; where it is silent there is nothing to check.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from calc.coverage import refill_rate_l_ha
from calc.units import convert, reference_unit
from calc.verdict import Outcome, judge_within
from logbook.checks.core import Finding, Severity, check
from logbook.checks.label import labels
from logbook.checks.requirements import Requirements
from logbook.facts.messages import gettext_noop, msg, with_unit
from logbook.facts.quantity import Quantity
from logbook.facts.record import EarlierUse, ProductFacts, Snapshot
from logbook.facts.wording import edition, limits, listed, settled, three, unit_of


@check(
    "season-maximum",
    title=msg("the total of every product on the field in the year against its label"),
    about=("products.*.planned_rate", "products.*.total_used", "treated_area", "products.*.label"),
)
def season_maximum(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    day = ask.fact(s.local_day(), "started_at")
    for place, product, label in labels(s, ask):
        most = label.season_max
        if most is None or day is None:
            continue
        now = _rate_now(s, place, product, most, ask)
        total = now or 0.0
        of_parts = [total]
        others = _this_year(s, product, day)
        parts = _parts_of_this_treatment(s, product)
        for use in others:
            rate = use.rate
            if rate is None or rate.dimension != most.dimension:
                ask.refuse(
                    msg(
                        "record no. {number} has no rate of {name} in {unit}",
                        number=use.record_number,
                        name=product.name,
                        unit=most.unit,
                    )
                )
            else:
                total += rate.to(most.unit)
                of_parts += [rate.to(most.unit)] if use in parts else []
        within = judge_within(value=total, expanded=0.0, low=None, high=float(most.value))
        if now is not None and within is not Outcome.AGREES:
            before = msg(", {records} included", records=_numbers(others)) if others else ""
            unit = unit_of(product.planned_rate)
            # Where only the parts of this job together carry it over the limit, and they treated
            # other area, no ground had more than the heaviest part and what came before.
            at_most = total - sum(of_parts) + max(of_parts)
            apart = judge_within(value=at_most, expanded=0.0, low=None, high=float(most.value))
            only_parts = bool(parts) and apart is Outcome.AGREES
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
                about=f"products.{place}.planned_rate",
                sentence=msg(
                    "{name} comes to {total} on this field in {year}{before}; "
                    "label asks {limits}{told}.",
                    name=product.name,
                    total=with_unit(three(total), most.unit),
                    year=day.year,
                    before=before,
                    limits=limits(None, most, unit=unit),
                    told=told,
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


@check(
    "applications-maximum",
    title=msg("the number of applications of every product in the year against its label"),
    about=("products.*.label",),
)
def applications_maximum(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    day = ask.fact(s.local_day(), "started_at")
    for place, product, label in labels(s, ask):
        if label.applications_max is None or day is None:
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
        if label.interval_days is None or day is None:
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


def _numbers(uses: list[EarlierUse]) -> str:
    return listed(msg("no. {number}", number=use.record_number) for use in uses)


def _earlier_uses(s: Snapshot, product: ProductFacts) -> list[EarlierUse]:
    return [use for use in s.earlier if use.product_id == product.product_id]


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


def _rate_now(
    s: Snapshot, place: int, product: ProductFacts, most: Quantity, ask: Requirements
) -> float | None:
    """Return product per area of this record in the unit of the label; remember what lacks.

    It is the planned rate; for a rate per volume of mix, the total used over the treated area.
    """
    path = f"products.{place}"
    rate = ask.number(
        product.planned_rate,
        f"{path}.planned_rate",
        msg("the planned rate of {name}", name=product.name),
    )
    if rate is None:
        return None
    if rate.dimension == most.dimension:
        return rate.to(most.unit)
    total = ask.number(
        product.total_used, f"{path}.total_used", msg("the total of {name} used", name=product.name)
    )
    area = ask.number(s.record.treated_area, "treated_area")
    if total is None or area is None:
        return None
    if f"{total.dimension}_rate" != most.dimension:
        ask.refuse(
            msg(
                "{name} was used in {unit} and is limited in {other}",
                name=product.name,
                unit=total.unit,
                other=most.unit,
            )
        )
        return None
    per_area = refill_rate_l_ha(volume_l=total.si, area_ha=area.si)
    return convert(per_area, from_unit=reference_unit(most.dimension), to_unit=most.unit)
