"""When the field may be entered and harvested again."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

from logbook.facts.intervals import Intervals, intervals
from tests.logbook.checks.build import clean, given
from tests.logbook.checks.build import label as a_label


def test_re_entry_counts_elapsed_hours_across_the_change_of_clocks() -> None:
    # 40 CFR 170: from the end of the application. End 2025-11-01 18:00 CDT, 12 h: 05:00 CST.
    ended = datetime(2025, 11, 1, 23, 0, tzinfo=UTC)
    found = intervals(
        given(record__finished_at=ended, products__0__label__reentry_hours=Decimal(12))
    )
    assert found.entry_from == datetime(2025, 11, 2, 11, 0, tzinfo=UTC)
    local = found.entry_from.astimezone(clean().zone)
    assert f"{local:%Y-%m-%d %H:%M %Z}" == "2025-11-02 05:00 CST"


def test_the_longest_interval_of_the_mix_counts() -> None:
    # 40 CFR 170.112(a)(3), text of 2007.
    found = intervals(given(products__1__label=a_label(reentry_hours=Decimal(48))))
    assert found.entry_product == "Wetting 90"


def test_harvest_counts_days_from_the_day_after_the_work() -> None:
    # NPIC: 2025-06-14 + 21 d is 2025-07-05; the day of the application is never day 1.
    ended = datetime(2025, 6, 14, 20, 0, tzinfo=UTC)
    found = intervals(given(record__finished_at=ended, products__0__label__preharvest_days=21))
    assert (found.harvest_from, found.harvest_product) == (date(2025, 7, 5), "Fenland 4 EC")


def test_of_a_job_over_midnight_both_intervals_count_from_its_end() -> None:
    # 22:30 CST on 31 December to 01:30 on 1 January; 12 h on, and 21 days after the day of the end.
    # 40 CFR 170 and NPIC count from the end of the application; the sums are by hand.
    found = intervals(
        given(
            record__started_at=datetime(2026, 1, 1, 4, 30, tzinfo=UTC),
            record__finished_at=datetime(2026, 1, 1, 7, 30, tzinfo=UTC),
            products__0__label__reentry_hours=Decimal(12),
            products__0__label__preharvest_days=21,
        )
    )
    assert found.entry_from == datetime(2026, 1, 1, 19, 30, tzinfo=UTC)
    assert found.harvest_from == date(2026, 1, 22)


def test_labels_without_intervals_set_none() -> None:
    assert intervals(given(products__0__label=a_label())) == Intervals()


def test_before_the_end_of_the_work_nothing_is_counted() -> None:
    found = intervals(given(record__finished_at=None))
    assert (found.entry_from, found.harvest_from) == (None, None)
    assert (found.entry_hours, found.harvest_days) == (Decimal(24), 60)


def test_every_product_of_the_longest_interval_is_named() -> None:
    found = intervals(given(products__1__label=a_label(reentry_hours=Decimal(24))))
    assert (found.entry_hours, found.entry_product) == (Decimal(24), "Fenland 4 EC and Wetting 90")
