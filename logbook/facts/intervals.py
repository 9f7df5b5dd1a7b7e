"""When the treated field may be entered and harvested again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TypeVar

from calc.dose import earliest_harvest, reentry_end
from logbook.facts.record import Snapshot
from logbook.facts.wording import listed

T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class Intervals:
    """The intervals of a mix, the longest of its products, and their ends.

    None where no label has one, and no end while that of the work is blank. Re-entry counts in
    elapsed hours from the end of the application; harvest in days from the local day on which it
    ended, which is never day 1.
    """

    entry_from: datetime | None = None
    entry_hours: Decimal | None = None
    entry_product: str = ""
    harvest_from: date | None = None
    harvest_days: int | None = None
    harvest_product: str = ""


def intervals(s: Snapshot) -> Intervals:
    """Return the intervals of the record's mix.

    Source: 40 CFR 170 (longest of the mix: § 170.112(a)(3) of the 2007 text); pre-harvest
    convention as `calc.dose.earliest_harvest` states it.
    """
    labels = [(product.name, product.label) for product in s.products if product.label]
    hours = {name: label.reentry_hours for name, label in labels if label.reentry_hours is not None}
    days = {name: one.preharvest_days for name, one in labels if one.preharvest_days is not None}
    longest, count = max(hours.values(), default=None), max(days.values(), default=None)
    ended = s.record.finished_at
    return Intervals(
        entry_from=None
        if ended is None or longest is None
        else reentry_end(ended_at=ended, intervals_h=[float(longest)]),
        entry_hours=longest,
        entry_product=_of_the_longest(hours, longest),
        harvest_from=None
        if ended is None or count is None
        else earliest_harvest(ended_on=ended.astimezone(s.zone).date(), interval_days=count),
        harvest_days=count,
        harvest_product=_of_the_longest(days, count),
    )


def _of_the_longest(by_name: Mapping[str, T], longest: T | None) -> str:
    return listed(name for name, one in by_name.items() if one == longest) if by_name else ""
