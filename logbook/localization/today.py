"""The day that it is for a business."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo


def today_of(business: Any, *, now: datetime) -> date:
    """Return the day at `now` by the clock of the business; UTC's may be tomorrow or yesterday."""
    return now.astimezone(ZoneInfo(business.time_zone)).date()
