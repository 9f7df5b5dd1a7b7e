"""When duties are due: hours and days at the field, working days, fixed dates, the strictest."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from logbook.facts.duty import Clock, Deadline, HowRead, Kind, Party, Role, Since
from logbook.facts.record import Snapshot
from logbook.law.applicability import applicable
from logbook.law.clocks import (
    Due,
    Standing,
    due_at,
    dues,
    dues_of,
    end_of_day,
    nth_working_day,
    strictest,
)
from tests.logbook.checks.build import given
from tests.logbook.law.complete import SETS, complete

DAY = timedelta(days=1)


def local(s: Snapshot, text: str) -> datetime:
    """Return the instant at which a clock at the field shows the text."""
    return datetime.fromisoformat(text).replace(tzinfo=s.zone)


def at(place: str, start: str, end: str) -> Snapshot:
    s = complete(place)
    return given(s, record__started_at=local(s, start), record__finished_at=local(s, end))


def the(s: Snapshot, set_id: str, kind: Kind, role: Role = Role.FOR_HIRE, **wanted: Any) -> Due:
    """Return the only certain due of a kind of one set."""
    (one,) = [
        due
        for due in dues(s, role=role, sets=(SETS[set_id],))
        if due.duty_set.id == set_id
        and due.deadline.kind is kind
        and due.certain
        and all(getattr(due.deadline, name) == value for name, value in wanted.items())
    ]
    return one


def shown(due: Due) -> str:
    """Return the last instant in time on a clock at the field, to the second."""
    assert due.due is not None
    return f"{due.due.astimezone(due.zone):%Y-%m-%d %H:%M:%S}"


# --- hours ---------------------------------------------------------------------------------------


def test_new_mexico_counts_24_elapsed_hours_over_the_lost_hour() -> None:
    # 21.17.50.10 NMAC: ready within 24 hours. Clocks went from 2:00 to 3:00 on 8 March 2026.
    s = at("US-NM", "2026-03-07 13:00", "2026-03-07 15:00")
    assert shown(the(s, "us-nm", Kind.RECORD)) == "2026-03-08 16:00:00"


def test_new_south_wales_counts_48_elapsed_hours_over_the_repeated_hour() -> None:
    # Pesticides Regulation 2017 (NSW) cl. 35-37: 48 hours. Clocks went back on 5 April 2026.
    s = at("AU-NSW", "2026-04-04 08:00", "2026-04-04 10:00")
    assert shown(the(s, "au-nsw", Kind.RECORD)) == "2026-04-06 09:00:00"


def test_hours_run_from_the_end_of_the_work_also_after_midnight() -> None:
    # N.D. Admin. Code 60-03-01-07(2), the 24 hours from memory.
    s = at("US-ND", "2026-06-10 22:00", "2026-06-11 01:30")
    assert shown(the(s, "us-nd", Kind.RECORD)) == "2026-06-12 01:30:00"


def test_pennsylvania_gives_24_hours_for_the_record_and_30_days_for_the_copy() -> None:
    # 7 Pa. Code 128.35(d): no later than 24 hours after the application date; (b): a copy to the
    # customer within 30 days where the product is one of restricted use.
    s = at("US-PA", "2026-06-10 22:00", "2026-06-11 01:30")
    assert shown(the(s, "us-pa", Kind.RECORD)) == "2026-06-12 01:30:00"
    assert shown(the(s, "us-pa", Kind.COPY)) == "2026-07-11 23:59:59"


def test_the_farm_is_told_before_the_start() -> None:
    # 40 CFR 170.309: the handler employer tells the farm before spraying.
    s = at("US-ND", "2026-06-10 09:00", "2026-06-10 12:15")
    notice = the(s, "us-40-cfr-170", Kind.NOTICE_BEFORE)
    assert shown(notice) == "2026-06-10 09:00:00"
    assert notice.deadline.to is Party.FARM
    assert notice.standing(now=local(s, "2026-06-10 09:01")) is Standing.OVERDUE


def test_a_notice_can_be_asked_hours_before_the_start() -> None:
    # No shipped set counts so; labels do.
    early = Deadline(
        kind=Kind.NOTICE_BEFORE,
        clock=Clock.HOURS,
        count=24,
        since=Since.BEFORE_START,
        how_read=HowRead.LEGAL_TEXT,
    )
    start = datetime(2026, 6, 10, 14, tzinfo=UTC)
    assert due_at(early, since=start, zone=ZoneInfo("UTC"), place="US") == start - DAY


def test_other_changes_go_to_the_farm_within_two_hours_and_only_then() -> None:
    # 40 CFR 170.309, as EPA's fact sheet states it: within 2 hours after the end.
    s = at("US-ND", "2026-06-10 09:00", "2026-06-10 12:15")
    (change,) = [
        one
        for one in dues(s, sets=(SETS["us-40-cfr-170"],))
        if one.deadline.kind is Kind.NOTICE_AFTER
    ]
    assert shown(change) == "2026-06-10 14:15:00"
    assert change.deadline.only_if == "the work differed from the notice"
    assert not change.certain


def test_the_notice_is_displayed_by_the_farm_within_24_hours() -> None:
    # 40 CFR 170.311: within 24 hours of the end; the farm's duty, not the for-hire crew's.
    s = at("US-ND", "2026-06-10 09:00", "2026-06-10 12:15")
    shown_by_farm = the(s, "us-40-cfr-170-311", Kind.DISPLAY, role=Role.EMPLOYER)
    assert shown(shown_by_farm) == "2026-06-11 12:15:00"
    kinds = {one.deadline.kind for one in dues(s, sets=(SETS["us-40-cfr-170"],))}
    assert Kind.DISPLAY not in kinds


# --- days at the field ---------------------------------------------------------------------------


@pytest.mark.parametrize("set_id", ["us-wa", "us-sd", "us-wi"])
def test_same_day_records_end_with_the_local_day_of_the_end(set_id: str) -> None:
    # WAC 16-228-1320; ARSD 12:56:07:01 (close of each day); ATCP 29.21.
    place = SETS[set_id].place
    s = at(place, "2026-06-10 22:00", "2026-06-10 23:30")
    assert shown(the(s, set_id, Kind.RECORD)) == "2026-06-10 23:59:59"
    s = at(place, "2026-06-10 22:00", "2026-06-11 00:00")
    assert shown(the(s, set_id, Kind.RECORD)) == "2026-06-11 23:59:59"


def test_a_day_may_have_23_or_25_hours() -> None:
    # Clocks in Chicago: forward on 8 March, back on 1 November 2026.
    zone = ZoneInfo("America/Chicago")
    for day, hours in ((date(2026, 3, 8), 23), (date(2026, 11, 1), 25), (date(2026, 6, 1), 24)):
        assert end_of_day(day, zone) - end_of_day(day - DAY, zone) == timedelta(hours=hours)


def test_minnesota_has_five_days_to_the_end_of_the_fifth() -> None:
    # Minn. Stat. 18B.37 subd. 2: within 5 days.
    s = at("US-MN", "2026-06-10 09:00", "2026-06-10 12:15")
    record = the(s, "us-mn", Kind.RECORD)
    assert shown(record) == "2026-06-15 23:59:59"
    assert record.last_day == date(2026, 6, 15)
    copy = the(s, "us-mn", Kind.COPY)
    assert (copy.due, copy.last_day) == (None, None)
    assert copy.deadline.clock is Clock.NO_COUNT


def test_the_old_federal_rule_gave_14_days_and_30_for_the_copy() -> None:
    # 7 CFR 110: made within 14 days; the commercial applicator's copy within 30 days.
    s = complete("US-UT", date(2025, 7, 10))
    assert shown(the(s, "us-7-cfr-110", Kind.RECORD)) == "2025-07-24 23:59:59"
    assert shown(the(s, "us-7-cfr-110", Kind.COPY)) == "2025-08-09 23:59:59"


def test_california_has_three_clocks_for_one_job() -> None:
    # 3 CCR 6619: notice within 24 hours; 3 CCR 6626: report in 7 days, copy in 30.
    s = at("US-CA", "2026-06-10 09:00", "2026-06-10 12:15")
    assert shown(the(s, "us-ca", Kind.NOTICE_AFTER)) == "2026-06-11 12:15:00"
    assert shown(the(s, "us-ca", Kind.REPORT)) == "2026-06-17 23:59:59"
    assert shown(the(s, "us-ca", Kind.COPY)) == "2026-07-10 23:59:59"
    assert the(s, "us-ca", Kind.RECORD).due is None  # "at the time"


# --- fixed dates ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "due"), [("2026-06-30", "2026-07-10"), ("2026-12-01", "2027-01-10")]
)
def test_a_californian_farm_reports_by_the_10th_of_the_next_month(day: str, due: str) -> None:
    # 3 CCR 6626: a farm's own spraying by the 10th of the next month.
    s = at("US-CA", f"{day} 09:00", f"{day} 12:15")
    assert shown(the(s, "us-ca", Kind.REPORT, role=Role.OWN_LAND)) == f"{due} 23:59:59"


def test_a_month_of_31_days_is_followed_by_the_next_month() -> None:
    s = at("US-CA", "2026-01-31 09:00", "2026-01-31 12:15")
    assert shown(the(s, "us-ca", Kind.REPORT, role=Role.OWN_LAND)) == "2026-02-10 23:59:59"


@pytest.mark.parametrize(
    ("set_id", "due"), [("us-ny", "2027-02-01"), ("ca-bc", "2027-01-31"), ("us-or", "2027-01-31")]
)
def test_yearly_reports_are_due_in_the_next_year(set_id: str, due: str) -> None:
    # ECL 33-1205: 1 February; B.C. Reg. 604/2004 and OAR 603-057: 31 January.
    s = at(SETS[set_id].place, "2026-06-10 09:00", "2026-06-10 12:15")
    assert shown(the(s, set_id, Kind.REPORT)) == f"{due} 23:59:59"


def test_work_over_the_end_of_a_year_belongs_to_the_year_in_which_it_began() -> None:
    # ECL 33-1205: by 1 February for the year before; no set says that the end of the work decides.
    s = at("US-NY", "2026-12-31 22:00", "2027-01-01 02:00")
    report = the(s, "us-ny", Kind.REPORT)
    assert (shown(report), report.period) == ("2027-02-01 23:59:59", "us-ny 2026")
    ends = replace(report.deadline, since=Since.END)
    by_end = replace(SETS["us-ny"], deadlines=(ends,))
    (other,) = dues(s, sets=(by_end,))
    assert (shown(other), other.period) == ("2028-02-01 23:59:59", "us-ny 2027")


def test_a_report_of_a_month_or_year_is_one_for_its_records_and_one_for_each_job_is_not() -> None:
    # 3 CCR 6626(a): the 10th of the next month; 20 DCMR 2516: each job.
    s = at("US-CA", "2026-06-10 09:00", "2026-06-10 12:15")
    assert the(s, "us-ca", Kind.REPORT, role=Role.OWN_LAND).period == "us-ca 2026-06"
    assert the(s, "us-ca", Kind.REPORT).period == ""
    s = at("US-DC", "2026-06-10 09:00", "2026-06-10 12:15")
    assert the(s, "us-dc", Kind.REPORT).period == ""


# --- working days --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "due"),
    [
        ("2026-06-10", "2026-06-12"),  # Wednesday to Friday
        ("2026-06-12", "2026-06-16"),  # Friday over the weekend to Tuesday
        ("2026-06-13", "2026-06-16"),  # Saturday: Monday is the first, Tuesday the second
        # 4 July 2026 is a Saturday. The Friday before it off is a rule for employees of the state,
        # Fla. Stat. 110.117(1)(j), as 5 U.S.C. 6103(b) is for those of the United States.
        ("2026-07-02", "2026-07-06"),
        # 4 July 2027 is a Sunday: the Monday is off.
        ("2027-07-02", "2027-07-07"),
        # Thanksgiving, 26 November 2026; the Friday after it is a paid holiday of state branches
        # and agencies alone (Fla. Stat. 110.117(1)(h)).
        ("2026-11-25", "2026-11-30"),
        # 15 February is on a list of days of the state that few keep; a Monday in 2027, on which
        # the nation keeps another day, which Fla. Stat. 110.117 does not name.
        ("2027-02-12", "2027-02-16"),
    ],
)
def test_florida_has_two_working_days(day: str, due: str) -> None:
    # F.A.C. 5E-9.032: two working days.
    s = at("US-FL", f"{day} 09:00", f"{day} 12:15")
    assert shown(the(s, "us-fl", Kind.RECORD)) == f"{due} 23:59:59"


def test_a_list_that_the_law_names_decides_by_itself() -> None:
    # No set that is carried names one; the names are those of 5 U.S.C. 6103(a).
    named = ("Thanksgiving Day",)
    eve, christmas_eve = date(2026, 11, 25), date(2026, 12, 24)
    assert nth_working_day(eve, 1, place="US-FL", holidays=named) == date(2026, 11, 27)
    assert nth_working_day(christmas_eve, 1, place="US-FL", holidays=named) == date(2026, 12, 25)
    assert nth_working_day(christmas_eve, 1, place="US-FL") == date(2026, 12, 28)


def test_a_place_without_a_calendar_has_its_country_s_or_plain_weekdays() -> None:
    # Thanksgiving is kept in the country; the part "ZZ" has no calendar.
    eve = date(2026, 11, 25)
    assert nth_working_day(eve, 1, place="US-ZZ") == date(2026, 11, 27)
    assert nth_working_day(eve, 1, place="XX") == eve + DAY


# --- without delay, the strictest, late ----------------------------------------------------------


def test_without_delay_gives_no_instant_and_30_days_only_to_convert() -> None:
    # Implementing Regulation (EU) 2023/564 Art. 3: without delay; converted within 30 days.
    s = at("FR", "2026-06-10 09:00", "2026-06-10 12:15")
    found = dues(s, sets=(SETS["eu-2023-564"],))
    at_once, convert = (
        next(one for one in found if one.deadline.clock is clock)
        for clock in (Clock.WITHOUT_DELAY, Clock.DAYS)
    )
    assert at_once.due is None
    assert at_once.standing(now=local(s, "2027-01-01")) is Standing.NOT_COUNTED
    assert at_once.standing(now=local(s, "2027-01-01"), done_at=local(s, "2026-06-10")) is (
        Standing.DONE
    )
    assert at_once.late_by(now=local(s, "2027-01-01")) == timedelta()
    assert shown(convert) == "2026-07-10 23:59:59"
    assert not convert.certain
    assert found[-1].due is None  # those without an instant come last


def dicamba(place: str) -> Snapshot:
    return at(place, "2026-06-10 09:00", "2026-06-10 12:15")


def test_the_strictest_of_each_kind_decides() -> None:
    # ARSD 12:56:07:01 by the close of the day; dicamba labels 72 hours; Minn. Stat. 18B.37 5 days.
    key = (Kind.RECORD, Party.SELF)
    assert strictest(dues(dicamba("US-SD")))[key].duty_set.id == "us-sd"
    assert strictest(dues(dicamba("US-MN")))[key].duty_set.id == "us-dicamba-label"
    copies = strictest(dues(dicamba("US-MN")))[Kind.COPY, Party.CUSTOMER]
    # Minn. Stat. 18B.37 counts no days; 7 U.S.C. 136i-1 gives 30, which a clock can decide.
    assert copies.duty_set.id == "us-7-usc-136i-1"


def test_an_instant_comes_before_a_duty_without_one_in_either_order() -> None:
    # 3 CCR 6624 "at the time", from memory, beside the 72 hours of dicamba labels.
    key = (Kind.RECORD, Party.SELF)
    found = dues(dicamba("US-CA"))
    assert {one.duty_set.id for one in found if (one.deadline.kind, one.deadline.to) == key} == {
        "us-ca",
        "us-dicamba-label",
    }
    assert strictest(found)[key].duty_set.id == "us-dicamba-label"
    assert strictest(reversed(found))[key].duty_set.id == "us-dicamba-label"


def test_what_is_due_on_request_or_in_some_case_only_is_not_the_strictest() -> None:
    # ORS 634.146: a statement to the owner of a field crop who asks, within 40 days.
    found = dues(dicamba("US-OR"), sets=(SETS["us-or"],))
    asked = next(one for one in found if one.deadline.on_request)
    assert shown(asked) == "2026-07-20 23:59:59"
    assert (Kind.COPY, Party.CUSTOMER) not in strictest(found)


def test_south_dakota_s_30_days_are_for_restricted_use_only() -> None:
    # South Dakota's checklist for commercial applicators: restricted-use copy within 30 days. The
    # rule itself, ARSD 12:56:07:04, gives a copy to the customer who asks in writing.
    s = dicamba("US-SD")
    copy = the(s, "us-sd", Kind.COPY)
    assert (shown(copy), copy.deadline.how_read) == ("2026-07-10 23:59:59", HowRead.AGENCY_PAGE)
    plain = given(s, products__0__label__restricted_use=False)
    assert [
        one.deadline.on_request
        for one in dues(plain, sets=(SETS["us-sd"],))
        if one.deadline.kind is Kind.COPY
    ] == [True]


def test_done_in_time_to_the_last_instant_and_late_after_it_for_good() -> None:
    # Minn. Stat. 18B.37 subd. 2: within 5 days.
    s = at("US-MN", "2026-06-10 09:00", "2026-06-10 12:15")
    record = the(s, "us-mn", Kind.RECORD)
    before, midnight = local(s, "2026-06-15 23:59:59"), local(s, "2026-06-16 00:00:00")
    later = local(s, "2026-07-01 12:00")
    assert record.standing(now=before) is Standing.OPEN
    assert record.standing(now=midnight) is Standing.OVERDUE
    assert record.standing(now=later, done_at=before) is Standing.DONE
    assert record.standing(now=later, done_at=midnight) is Standing.LATE
    assert record.late_by(now=later, done_at=before) == timedelta()
    assert record.late_by(now=midnight + DAY) == DAY + timedelta(microseconds=1)


def test_exactly_24_hours_is_within_24_hours() -> None:
    # 21.17.50.10 NMAC.
    s = at("US-NM", "2026-06-10 09:00", "2026-06-10 12:15")
    record = the(s, "us-nm", Kind.RECORD)
    assert record.standing(now=local(s, "2026-06-11 12:15:00")) is Standing.OPEN
    assert record.standing(now=local(s, "2026-06-11 12:15:01")) is Standing.OVERDUE


def label_clock(since: Since) -> Deadline:
    return Deadline(
        kind=Kind.RECORD, clock=Clock.HOURS, count=1, since=since, how_read=HowRead.LEGAL_TEXT
    )


@pytest.mark.parametrize(
    ("since", "changes", "recorded", "due"),
    [
        (Since.START, {}, None, "17:00"),
        (Since.END, {}, None, "20:00"),
        (Since.RECORD_DATE, {}, 22, "23:00"),
        (Since.RECORD_DATE, {}, None, "20:00"),
        (Since.START, {"record__started_at": None}, None, "20:00"),
        (Since.END, {"record__finished_at": None}, None, "17:00"),
        (Since.RECORD_DATE, {"record__finished_at": None}, None, "17:00"),
    ],
)
def test_a_label_s_clock_counts_from_where_it_says_or_from_what_is_there(
    since: Since, changes: dict[str, Any], recorded: int | None, due: str
) -> None:
    s = given(complete("CA-ON"), products__0__label__deadlines=(label_clock(since),), **changes)
    recorded_at = datetime(2026, 6, 10, recorded, tzinfo=UTC) if recorded else None
    (one,) = dues(s, recorded_at=recorded_at)
    assert one.due is not None
    assert f"{one.due:%H:%M}" == due
    assert one.duty_set.title.startswith("Label of Fenland 4 EC")


def test_a_record_without_a_day_has_no_deadlines() -> None:
    dayless = given(record__started_at=None, record__finished_at=None)
    assert dues(dayless) == ()
    with pytest.raises(ValueError, match="needs the start or the end of the work; both are blank"):
        dues_of(applicable(given()), dayless)


def test_a_clock_that_starts_with_an_event_waits_for_it_and_counts_elapsed_hours() -> None:
    # N.D. Admin. Code 60-03-01-09: an incident report within 24 hours. Clocks in Chicago went from
    # 2:00 to 3:00 on 8 March 2026.
    s = complete("US-ND")
    of_law = (SETS["us-nd"],)

    def report(occurred_at: datetime | None) -> Due:
        found = dues(s, sets=of_law, occurred_at=occurred_at)
        (one,) = [due for due in found if due.deadline.kind is Kind.REPORT]
        return one

    assert report(None).due is None
    arose = local(s, "2026-03-07 12:00")
    assert shown(report(arose)) == "2026-03-08 13:00:00"
    assert report(arose).since == arose
