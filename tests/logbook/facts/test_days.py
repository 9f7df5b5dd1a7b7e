"""The day of a job: over midnight, over the year's end, in time zones, at changes of the clocks."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from logbook.facts.days import days_of_work


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("started", "finished", "zone", "days"),
    [
        # Offsets from UTC by the IANA time zone database; the sums are by hand.
        ("2026-06-10 14:00", "2026-06-10 17:00", "America/Chicago", ["2026-06-10"]),
        # 23:00 to 01:00 CDT; in UTC it is all on the 11th.
        ("2026-06-11 04:00", "2026-06-11 06:00", "America/Chicago", ["2026-06-10", "2026-06-11"]),
        # 18:00 to 20:00 CDT; in UTC it goes over midnight.
        ("2026-06-10 23:00", "2026-06-11 01:00", "America/Chicago", ["2026-06-10"]),
        # New Year's night: 23:30 CST to 01:00.
        ("2026-01-01 05:30", "2026-01-01 07:00", "America/Chicago", ["2025-12-31", "2026-01-01"]),
        # The same instants, fourteen hours ahead of UTC, are the evening of the first.
        ("2026-01-01 05:30", "2026-01-01 07:00", "Pacific/Kiritimati", ["2026-01-01"]),
        # The clocks go forward at 02:00 on 8 March 2026: 23:30 CST to 03:30 CDT.
        ("2026-03-08 05:30", "2026-03-08 08:30", "America/Chicago", ["2026-03-07", "2026-03-08"]),
        # And back at 02:00 on 1 November: 00:30 CDT to 01:30 CST, two hours later.
        ("2026-11-01 05:30", "2026-11-01 07:30", "America/Chicago", ["2026-11-01"]),
        # In Santiago midnight itself is left out: 23:30 on 5 September, 01:00 on the 6th.
        ("2026-09-06 03:30", "2026-09-06 04:00", "America/Santiago", ["2026-09-05", "2026-09-06"]),
        # Half an hour more than a whole zone: 23:45 ACST on the 10th.
        ("2026-06-10 14:15", "2026-06-10 14:29", "Australia/Adelaide", ["2026-06-10"]),
    ],
)
def test_the_days_are_those_of_the_clock_at_the_field(
    started: str, finished: str, zone: str, days: list[str]
) -> None:
    there = ZoneInfo(zone)
    assert [str(day) for day in days_of_work(at(started), at(finished), there)] == days
    # The day is the first; without an end it is the same, and without a start that of the end.
    assert [str(day) for day in days_of_work(at(started), None, there)] == days[:1]
    assert [str(day) for day in days_of_work(None, at(finished), there)] == days[-1:]


def test_a_job_of_many_days_has_its_first_and_last() -> None:
    zone = ZoneInfo("UTC")
    days = days_of_work(at("2026-06-10 20:00"), at("2026-06-14 04:00"), zone)
    assert days == (date(2026, 6, 10), date(2026, 6, 14))


def test_without_times_there_is_no_day() -> None:
    assert days_of_work(None, None, ZoneInfo("UTC")) == ()
