"""The further states of the United States against a table made from the published rules.

fixtures/state_duties.csv, a row for each set, with its citation: who is bound and for which
products; what is asked in words that were read, always or in some case; what is known less firmly;
what is due, and how long records are kept. "~" stands before or after what is from a summary or
from memory. The table was written from notes on the rules, the sets from the same notes again.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import pytest

from logbook.facts.duty import (
    Asked,
    Clock,
    Deadline,
    DutySet,
    KeepFrom,
    Kind,
    Obligation,
    Party,
    Retention,
    Role,
    Since,
    When,
)
from logbook.law.applicability import Outcome, statement
from logbook.law.clocks import Standing, dues
from logbook.law.elements import ELEMENTS, State
from logbook.law.retention import kept
from tests.logbook.checks.build import given, q, reading
from tests.logbook.law.complete import SETS, STATE_TABLE, complete, unsaid, without

# --- the sets against the table ------------------------------------------------------------------


def in_some_case(asked: Asked) -> bool:
    advised = asked.obligation is Obligation.ADVISED
    return bool(
        asked.when is not When.ALWAYS or asked.unless or asked.roles or asked.papers or advised
    )


def due_words(one: Deadline) -> str:
    to = "" if one.to is Party.SELF else f" to {one.to.value}"
    if one.since is Since.BEFORE_START:
        counted = "before the start"
    elif one.clock is Clock.FIXED_DATE:
        counted = f"by {one.month:02d}-{one.day:02d}"
    elif one.count is not None:
        counted = f"{one.count} {one.clock.value}"
    else:
        counted = one.clock.value.removesuffix(" count stated") + (
            " count" if one.clock is Clock.NO_COUNT else ""
        )
    parts = [f"{one.kind.value}{to}", counted, *(each.value for each in one.products)]
    parts += ["on request"] * one.on_request + ["in a case"] * bool(one.only_if)
    return ", ".join(parts + ["~"] * (not one.how_read.firm))


def keep_words(one: Retention) -> str:
    since = f" from {one.since.value}" if one.since is not KeepFrom.APPLICATION else ""
    products = "".join(f" {each.value}" for each in one.products)
    return f"{'' if one.how_read.firm else '~'}{one.years} y{products}{since}"


def row_of(one: DutySet) -> dict[str, object]:
    firm = [asked for asked in one.elements if asked.how_read.firm]
    bound = (
        f"{scope.role.value} {' '.join(each.value for each in scope.products)}"
        for scope in one.bound
    )
    return {
        "set": one.id,
        "citation": one.citation,
        "binds": "; ".join(bound),
        "asks": {asked.name for asked in firm if not in_some_case(asked)},
        "in_some_case": {asked.name for asked in firm if in_some_case(asked)},
        "less_firm": {asked.name for asked in one.elements if not asked.how_read.firm},
        "due": "; ".join(map(due_words, one.deadlines)),
        "kept": "; ".join(map(keep_words, one.retention)),
    }


def test_each_state_asks_what_the_table_says() -> None:
    lists = ("asks", "in_some_case", "less_firm")
    for set_id, row in STATE_TABLE.items():
        wanted = {key: set(text.split()) if key in lists else text for key, text in row.items()}
        assert row_of(SETS[set_id]) == wanted, row["citation"]


def test_forty_jurisdictions_of_the_united_states_have_a_set() -> None:
    places = {one.place for one in SETS.values() if one.place.startswith("US-")}
    assert len(places) == 46
    assert {SETS[set_id].place for set_id in STATE_TABLE} <= places


# --- each in a record ----------------------------------------------------------------------------


def cases() -> Iterator[tuple[DutySet, Role, Asked]]:
    for set_id in STATE_TABLE:
        one = SETS[set_id]
        for asked in one.elements:
            if asked.obligation is Obligation.REQUIRED:
                yield one, (*asked.roles, one.bound[0].role)[0], asked


CANNOT_BE_BLANK = {
    # HAR 4-66-62 speaks of restricted-use products: without a label none is known to be one.
    ("us-hi", "reentry-interval"),
    # N.J.A.C. 7:30-7.3(a)1ii asks it of labels with an interval alone, and from it it is computed.
    ("us-nj", "reentry-time"),
}


def test_a_complete_record_passes_and_each_element_taken_out_is_told() -> None:
    for one, role, asked in cases():
        s = complete(one.place)
        (before,) = (row for row in statement(s, role=role, sets=(one,)) if row.asked is asked)
        told = (one.citation, asked.name)
        assert before.stand.state is State.GIVEN, told
        taken = without(s, asked.name)
        for other in asked.unless[:1]:
            assert before.outcome is Outcome.NOT_ASKED, told
            taken = without(taken, other)
        if asked.name in ("date", "time-of-day") or (one.id, asked.name) in CANNOT_BE_BLANK:
            continue
        (after,) = (row for row in statement(taken, role=role, sets=(one,)) if row.asked is asked)
        assert after.stand.state is State.MISSING, told
        binding = asked.how_read.firm and asked.when is not When.WHERE_IT_APPLIES
        assert after.outcome is (Outcome.MISSING if binding else Outcome.CONFIRM), told


# --- what these laws ask that none asked before --------------------------------------------------


def test_wind_and_temperature_are_read_at_the_start_and_at_the_finish() -> None:
    # NAC 555.410(1)(a)(7)(IV) and (V): temperature, wind velocity and direction at both.
    def state(*times: str, **changes: object) -> State:
        readings = tuple(reading(at, **changes) for at in times)
        s = given(weather=readings)  # sprayed from 9:00 to 12:15
        return ELEMENTS["start-finish-weather"].look(s, (0,)).state

    assert state("9:00", "12:15") is State.GIVEN
    assert state("8:50", "10:30", "12:20") is State.GIVEN
    assert state("9:00") is State.MISSING
    assert state("9:00", "11:30") is State.MISSING
    assert state("9:00", "12:15", temperature=None) is State.MISSING
    assert state("9:00", "12:15", temperature=q("not measured: broken")) is State.GIVEN


def test_the_time_of_re_entry_is_the_end_of_the_work_and_the_interval_of_the_label() -> None:
    # N.J.A.C. 7:30-7.3(a)1ii: the re-entry time and date; 24 h from 12:15 on 10 June.
    look = ELEMENTS["reentry-time"].look
    s = given(record__statements=unsaid(given(), "reentry-time"))
    assert look(s, (0,)).value == "2026-06-11 12:15"
    assert look(given(s, record__finished_at=None), (0,)).blank == ("finished_at",)


@pytest.mark.parametrize(
    ("set_id", "kind", "due"),
    [
        ("us-oh", Kind.RECORD, "2026-07-02 23:59"),  # 901:5-11-10: on the date of application
        ("us-me", Kind.RECORD, "2026-07-02 23:59"),  # 01-026 C.M.R. ch. 50: the same day
        # 2 CSR 70-25.120: three business days. 2 July 2026 is a Thursday; the Friday before the
        # holiday is off for employees of the United States alone (5 U.S.C. 6103(b)): it counts.
        ("us-mo", Kind.RECORD, "2026-07-07 23:59"),
        ("us-ks", Kind.COPY, "2026-07-02 14:00"),  # K.A.R. 4-13-4: before or upon completion
        ("us-wy", Kind.NOTICE_BEFORE, "2026-07-02 11:00"),  # ch. 28 s. 12: before the job
        ("us-hi", Kind.REPORT, "2027-01-30 23:59"),  # HRS 149A-26: 30 days after the year's end
        ("us-dc", Kind.REPORT, "2027-02-01 23:59"),  # 20 DCMR 2516: each job by 1 February
    ],
)
def test_each_clock_of_a_new_kind(set_id: str, kind: Kind, due: str) -> None:
    # 16:00 to 19:00 UTC, which is 11:00 to 14:00 in Chicago, where the test's fields lie.
    s = complete(SETS[set_id].place, date(2026, 7, 2))
    first = next(
        one for one in dues(s, sets=(SETS[set_id],)) if one.deadline.kind is kind and one.certain
    )
    assert first.due is not None
    assert f"{first.due.astimezone(first.zone):%Y-%m-%d %H:%M}" == due


def test_a_report_of_each_job_without_a_known_day_is_never_overdue() -> None:
    # A.A.C. R3-3-404: Form 1080 goes in during a reporting period, which was not read.
    s = complete("US-AZ")
    (report,) = dues(s, sets=(SETS["us-az"],))
    assert report.certain
    later = datetime(2027, 6, 1, tzinfo=UTC)
    assert report.standing(now=later) is Standing.NOT_COUNTED


def test_connecticut_counts_five_years_anew_from_an_amendment() -> None:
    # Conn. Gen. Stat. 22a-66g: five years from making or amending, whichever is later.
    s = complete("US-CT")
    made = datetime(2026, 6, 10, 20, tzinfo=UTC)
    for sealed_at in (made, made + timedelta(days=200)):
        first = kept(s, recorded_at=sealed_at)[0]
        assert first.duty_set.id == "us-ct"
        assert first.until == sealed_at.date().replace(year=sealed_at.year + 5)


def test_where_two_readings_conflict_the_longer_decides_and_both_stand() -> None:
    # IDAPA 02.03.03.101 says 2 years, pages of Idaho's department say 3.
    recorded = datetime(2026, 6, 10, 20, tzinfo=UTC)
    years = {
        one.retention.years: one.until
        for one in kept(complete("US-ID"), recorded_at=recorded)
        if one.duty_set.id == "us-id"
    }
    assert years == {2: date(2028, 6, 10), 3: date(2029, 6, 10)}
    assert kept(complete("US-ID"), recorded_at=recorded)[0].until == date(2029, 6, 10)
