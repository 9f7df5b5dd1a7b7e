"""Until when a record is kept, from which day it counts, and which set decides."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from logbook.facts.duty import HowRead, KeepFrom, Retention, Role
from logbook.facts.record import Snapshot
from logbook.law.applicability import applicable
from logbook.law.retention import Kept, doubt, kept, period_words, shown_until, years_after
from tests.logbook.checks.build import clean, given, label
from tests.logbook.law.complete import SETS, complete

RECORDED = datetime(2026, 6, 12, 18, 0, tzinfo=UTC)


def first(s: Snapshot, role: Role = Role.FOR_HIRE) -> Kept:
    return kept(s, recorded_at=RECORDED, role=role)[0]


@pytest.mark.parametrize(
    ("place", "decides", "until"),
    [
        ("US-WA", "us-wa", date(2033, 6, 10)),  # WAC 16-228-1320: 7 years
        ("US-MN", "us-mn", date(2031, 6, 10)),  # Minn. Stat. 18B.37: 5 years
        ("US-SD", "us-sd", date(2029, 6, 10)),  # ARSD 12:56:07:01: 3 years
        ("US-UT", "us-7-usc-136i-1", date(2028, 6, 10)),  # 7 U.S.C. 136i-1: 2 years
        ("US-IL", "us-il", date(2028, 6, 10)),  # 8 Ill. Adm. Code 250.150(b): 2 years
    ],
)
def test_the_longest_decides(place: str, decides: str, until: date) -> None:
    longest = first(complete(place))
    assert longest.until == until
    assert decides in {
        one.duty_set.id for one in kept(complete(place), recorded_at=RECORDED) if one.until == until
    }


def test_wisconsin_keeps_atrazine_a_year_longer() -> None:
    # ATCP 29.21: 2 years; ATCP 30.31(5): 3 years for atrazine.
    assert first(complete("US-WI")).until == date(2029, 6, 10)
    other = given(complete("US-WI"), products__0__label__classes=())
    assert first(other).until == date(2028, 6, 10)


def test_new_south_wales_counts_from_the_date_the_record_was_made() -> None:
    # Pesticides Regulation 2017 (NSW): 3 years from the date the record was made; 04:00 in Sydney.
    longest = first(complete("AU-NSW"))
    assert (longest.since, longest.until) == (date(2026, 6, 13), date(2029, 6, 13))


def test_germany_counts_from_the_next_1_january() -> None:
    # German guidance on Regulation (EC) 1107/2009 Art. 67.
    longest = first(complete("DE"))
    assert longest.duty_set.id == "de"
    assert (longest.since, longest.until) == (date(2027, 1, 1), date(2030, 1, 1))
    assert first(complete("FR")).until == date(2029, 6, 10)


def test_the_farm_keeps_the_notice_two_years_from_the_end_of_re_entry() -> None:
    # 40 CFR 170.311, by the federal resource centre; the label's 24 hours end on 11 June there.
    (notice,) = [
        one
        for one in kept(complete("US-UT"), recorded_at=RECORDED, role=Role.EMPLOYER)
        if one.duty_set.id == "us-40-cfr-170-311"
    ]
    assert (notice.since, notice.until) == (date(2026, 6, 11), date(2028, 6, 11))
    for_hire = kept(complete("US-UT"), recorded_at=RECORDED)
    assert "us-40-cfr-170-311" not in {one.duty_set.id for one in for_hire}


def test_a_notice_is_shown_until_30_days_after_re_entry() -> None:
    # 40 CFR 170.311, as a summary of North Carolina states it.
    s = complete("US-UT")
    assert shown_until(s, applicable(s, role=Role.EMPLOYER)) == date(2026, 7, 11)
    assert shown_until(s, ()) is None


@pytest.mark.parametrize(
    "changes", [{"record__finished_at": None}, {"products__0__label": label()}]
)
def test_without_a_re_entry_interval_it_counts_from_the_day_of_the_work(
    changes: dict[str, object],
) -> None:
    s = complete("US-UT")
    farm = applicable(s, role=Role.EMPLOYER)
    assert shown_until(given(s, **changes), farm) == date(2026, 7, 10)


def test_a_label_can_ask_for_longer() -> None:
    longer = Retention(years=10, since=KeepFrom.APPLICATION, how_read=HowRead.LEGAL_TEXT)
    s = given(complete("US-WA"), products__0__label__retention=(longer,))
    assert first(s).until == date(2036, 6, 10)
    assert first(s).duty_set.title.startswith("Label of Fenland 4 EC")


def test_a_leap_day_is_kept_to_the_first_of_march() -> None:
    assert years_after(date(2024, 2, 29), 2) == date(2026, 3, 1)
    assert years_after(date(2024, 2, 29), 4) == date(2028, 2, 29)


def test_where_no_set_speaks_no_term_is_known() -> None:
    assert kept(given(clean(), field__place="CA-ON"), recorded_at=RECORDED) == ()
    blank = given(record__started_at=None, record__finished_at=None)
    farm = applicable(clean(), role=Role.EMPLOYER)
    with pytest.raises(ValueError, match="The day of the work is blank"):
        shown_until(blank, farm)


def test_every_set_says_from_which_day_it_counts() -> None:
    counted = {one.since for each in SETS.values() for one in each.retention}
    assert counted == set(KeepFrom)


def test_of_a_job_over_midnight_the_years_count_from_its_end() -> None:
    # WAC 16-228-1320: 7 years; of two days the later one keeps it longer. 23:00 to 01:00 PDT.
    s = given(
        complete("US-WA"),
        record__started_at=datetime(2026, 6, 11, 6, 0, tzinfo=UTC),
        record__finished_at=datetime(2026, 6, 11, 8, 0, tzinfo=UTC),
    )
    assert [str(day) for day in s.days] == ["2026-06-10", "2026-06-11"]
    assert first(s).until == date(2033, 6, 11)


# --- whether a period is sure enough to let a record go ------------------------------------------


@pytest.mark.parametrize(
    ("place", "why"),
    [
        # Iowa Admin. Code 21-45.26: three years, read in the text.
        ("US-IA", ""),
        # N.D. Admin. Code 60-03-01-07: three years, from memory.
        ("US-ND", "is known as “from memory” alone"),
        ("US-UT", "The rules of Utah are not carried here."),
        # No text read of the District of Columbia names a period (20 DCMR 2200 and following).
        ("US-DC", "says how long this record is kept"),
    ],
)
def test_a_period_that_was_not_read_in_a_text_is_in_doubt(place: str, why: str) -> None:
    said = doubt(place, kept(complete(place, date(2026, 6, 12)), recorded_at=None))
    assert (why in said) if why else said == ""


def test_a_period_is_told_with_the_day_from_which_it_counts() -> None:
    assert period_words(first(complete("US-IA", date(2026, 6, 12))).retention).startswith("3 years")
