"""When the treated field may be entered and harvested again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from calc.dose import earliest_harvest, reentry_end
from logbook.facts.record import Snapshot


@dataclass(frozen=True, kw_only=True)
class Intervals:
    """The ends of the intervals of a mix, the longest of its products; None where no label has one.

    Re-entry counts in elapsed hours from the end of the application; harvest in days from the local
    day on which it ended, which is never day 1.
    """

    entry_from: datetime | None
    entry_product: str
    harvest_from: date | None
    harvest_product: str


def intervals(s: Snapshot) -> Intervals | None:
    """Return the intervals of the record's mix, None while the end of the work is blank.

    Source: 40 CFR 170 (longest of the mix: § 170.112(a)(3) of the 2007 text); pre-harvest
    convention as `calc.dose.earliest_harvest` states it.
    """
    ended = s.record.finished_at
    if ended is None:
        return None
    labels = [(product.name, product.label) for product in s.products if product.label]
    entry = [
        (label.reentry_hours, name) for name, label in labels if label.reentry_hours is not None
    ]
    harvest = [
        (label.preharvest_days, name) for name, label in labels if label.preharvest_days is not None
    ]
    hours, entry_product = max(entry, default=(None, ""))
    days, harvest_product = max(harvest, default=(None, ""))
    return Intervals(
        entry_from=None
        if hours is None
        else reentry_end(ended_at=ended, intervals_h=[float(hours)]),
        entry_product=entry_product,
        harvest_from=None
        if days is None
        else earliest_harvest(ended_on=ended.astimezone(s.zone).date(), interval_days=days),
        harvest_product=harvest_product,
    )
