"""The day of a job: one rule for book, filters, files, paper, season, totals and law.

It is the local day at the field on which the work began. Where a law or a label counts from another
moment (the end of the work, of the re-entry interval), its own data say so: `duty.Since`,
`duty.KeepFrom`, `intervals`.
"""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo


def days_of_work(
    started_at: datetime | None, finished_at: datetime | None, zone: ZoneInfo
) -> tuple[date, ...]:
    """Return the first and the last local day of a job; the first is its day.

    One where it began and ended on the same day or one of the two times is blank, none where both
    are.
    Args: aware instants; zone, at the field.
    """
    known = (one for one in (started_at, finished_at) if one is not None)
    return tuple(dict.fromkeys(one.astimezone(zone).date() for one in known))
