"""When each duty of a record is due: instants at the field, never at the office.

Hours are elapsed hours, through a change of the clocks too; days end with the local day at the
field. Working days leave out the weekends, and the holidays that the law itself lists, else those
that the nation and the place both keep: a day off of banks and public employees is a working day.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from functools import lru_cache
from zoneinfo import ZoneInfo

import holidays

from logbook.facts.duty import Clock, Deadline, DutySet, Kind, Party, Role, Since, Work
from logbook.facts.record import Snapshot
from logbook.law.applicability import Applied, applicable, covered_by


class Standing(StrEnum):
    """How a duty stands at a moment; late stays late."""

    OPEN = "open"
    OVERDUE = "overdue"
    DONE = "done in time"
    LATE = "done late"
    NOT_COUNTED = "no instant to count to"


@dataclass(frozen=True, kw_only=True)
class Due:
    """One deadline of one set for one record."""

    applied: Applied
    deadline: Deadline
    since: datetime  # the instant it counts from
    due: datetime | None  # aware UTC; the last instant in time. None: there is none to count to
    zone: ZoneInfo  # of the field
    period: str = ""  # of which it is one for all records, such as "us-ny 2026"; "" for one each

    @property
    def duty_set(self) -> DutySet:
        """The set that asks for it."""
        return self.applied.duty_set

    @property
    def last_day(self) -> date | None:
        """The local day at the field in which the last instant in time lies."""
        return self.due.astimezone(self.zone).date() if self.due else None

    @property
    def certain(self) -> bool:
        """Whether it is due without anyone asking and in every case."""
        return self.deadline.certain

    def standing(self, *, now: datetime, done_at: datetime | None = None) -> Standing:
        """Return how it stands at `now`, or for good when it was done at `done_at`."""
        if self.due is None:
            return Standing.NOT_COUNTED if done_at is None else Standing.DONE
        if done_at is not None:
            return Standing.LATE if self._late(done_at) else Standing.DONE
        return Standing.OVERDUE if self._late(now) else Standing.OPEN

    def late_by(self, *, now: datetime, done_at: datetime | None = None) -> timedelta:
        """Return for how long it is, or was, late; nothing when it is not."""
        at = done_at or now
        return at - self.due if self.due and self._late(at) else timedelta()

    def _late(self, at: datetime) -> bool:
        return self.due is not None and at > self.due


def dues(
    s: Snapshot,
    *,
    recorded_at: datetime | None = None,
    occurred_at: datetime | None = None,
    role: Role = Role.FOR_HIRE,
    work: Work = Work.FIELD,
    sets: tuple[DutySet, ...] | None = None,
) -> tuple[Due, ...]:
    """Return every deadline of the record, of all sets and labels; those without an instant last.

    One that counts from a blank start or end is counted from the other, which is there.
    Args: recorded_at, when the record was made, for those that count from the record date; without
        it they count from the end of the work; occurred_at, when somebody asked or the case arose,
        for those that count from there: without it nothing can be counted.
    """
    applied = applicable(s, role=role, work=work, sets=sets)
    return dues_of(applied, s, recorded_at=recorded_at, occurred_at=occurred_at)


def dues_of(
    applied: Iterable[Applied],
    s: Snapshot,
    *,
    recorded_at: datetime | None = None,
    occurred_at: datetime | None = None,
) -> tuple[Due, ...]:
    """Return the deadlines of the sets that apply, the first due first."""
    found = []
    for one in applied:
        for deadline in one.duty_set.deadlines:
            if deadline.roles and one.role not in deadline.roles:
                continue
            if deadline.products and not covered_by(s, deadline.products):
                continue
            since, due = _since(s, deadline, recorded_at), None
            if deadline.since is Since.EVENT and occurred_at is not None:
                since = occurred_at
            if deadline.since is not Since.EVENT or occurred_at is not None:
                due = due_at(
                    deadline,
                    since=since,
                    zone=s.zone,
                    place=s.field.place if s.field else "",
                    holidays=one.duty_set.holidays,
                )
            found.append(
                Due(
                    applied=one,
                    deadline=deadline,
                    since=since,
                    due=due,
                    zone=s.zone,
                    period=_period(one.duty_set, deadline, since.astimezone(s.zone).date()),
                )
            )
    return tuple(sorted(found, key=lambda one: (one.due is None, one.due or one.since)))


def first_of(found: Iterable[Due]) -> Due | None:
    """Return the strictest of all: an instant comes before a duty that gives none."""
    return min(found, key=lambda one: (one.due is None, one.due or one.since), default=None)


def strictest(found: Iterable[Due]) -> dict[tuple[Kind, Party], Due]:
    """Return the first due of each kind and receiver, of those that are due in every case.

    An instant comes before a duty that gives none, which no clock can decide.
    """
    first: dict[tuple[Kind, Party], Due] = {}
    for one in found:
        key = (one.deadline.kind, one.deadline.to)
        if not one.certain:
            continue
        held = first.get(key)
        if held is None or _sooner(one, held):
            first[key] = one
    return first


def _sooner(one: Due, than: Due) -> bool:
    if one.due is None or than.due is None:
        return than.due is None and one.due is not None
    return one.due < than.due


def due_at(
    deadline: Deadline,
    *,
    since: datetime,
    zone: ZoneInfo,
    place: str,
    holidays: tuple[str, ...] = (),
) -> datetime | None:
    """Return the last instant at which a deadline is kept, in UTC; None where none can be counted.

    Args: since, the aware instant it counts from; zone, of the field; place, ISO 3166-2, whose
        holidays are no working days; holidays, those that the law itself names.
    """
    day = since.astimezone(zone).date()
    # Hours are added in UTC: on a wall clock the sum would not see a change of clocks.
    since = since.astimezone(UTC)
    count = deadline.count or 0
    if deadline.clock is Clock.HOURS:
        before = deadline.since is Since.BEFORE_START
        return since - timedelta(hours=count) if before else since + timedelta(hours=count)
    if deadline.clock is Clock.SAME_DAY:
        return end_of_day(day, zone)
    if deadline.clock is Clock.DAYS:
        return end_of_day(day + timedelta(days=count), zone)
    if deadline.clock is Clock.WORKING_DAYS:
        return end_of_day(nth_working_day(day, count, place=place, holidays=holidays), zone)
    if deadline.clock is Clock.FIXED_DATE:
        return end_of_day(_fixed(day, month=deadline.month, of_month=deadline.day or 1), zone)
    return None


def end_of_day(day: date, zone: ZoneInfo) -> datetime:
    """Return the last instant of the local day, in UTC, whatever the length of the day in hours."""
    midnight = datetime.combine(day + timedelta(days=1), time(), tzinfo=zone)
    return midnight.astimezone(UTC) - timedelta(microseconds=1)


def nth_working_day(day: date, count: int, *, place: str, holidays: tuple[str, ...] = ()) -> date:
    """Return the working day `count` working days after `day`; `day` itself is not counted.

    Args: place, ISO 3166-2; holidays, the names of those that the law lists.
    """
    while count:
        day += timedelta(days=1)
        if day.weekday() < SATURDAY and not _is_off(day, place, holidays):
            count -= 1
    return day


SATURDAY, FRIDAY = 5, 4
OBSERVED = " (observed)"


def _is_off(day: date, place: str, listed: tuple[str, ...]) -> bool:
    """Return whether a day is a holiday of the law's own list, else of nation and place alike.

    A holiday on a Sunday is kept on the Monday; that one on a Saturday gives the Friday off is a
    rule for public employees (5 U.S.C. 6103(b), Fla. Stat. 110.117(1)) and is not taken over.
    """
    country, _, part = place.partition("-")
    names = _named(day, country, part)
    return bool(names & set(listed) if listed else names & _named(day, country, ""))


def _named(day: date, country: str, part: str) -> set[str]:
    called = set(_calendar(country, part).get(day, "").split("; "))
    if day.weekday() == FRIDAY:
        called = {name for name in called if not name.endswith(OBSERVED)}
    return {name.removesuffix(OBSERVED) for name in called} - {""}


@lru_cache(maxsize=64)
def _calendar(country: str, part: str) -> holidays.HolidayBase:
    """Return the calendar of the part, else of the country, else of plain weekdays."""
    for subdivision in (part or None, None):
        try:
            return holidays.country_holidays(country, subdiv=subdivision, language="en_US")
        except NotImplementedError:
            continue
    return holidays.HolidayBase()


def _fixed(day: date, *, month: int | None, of_month: int) -> date:
    if month is not None:
        return date(day.year + 1, month, of_month)
    following = (day.replace(day=1) + timedelta(days=31)).replace(day=1)
    return following.replace(day=of_month)


def _period(duty_set: DutySet, deadline: Deadline, day: date) -> str:
    """Return the period of which a report by a fixed date is one for all; "" for one each job."""
    if deadline.clock is not Clock.FIXED_DATE or deadline.each_job:
        return ""
    return f"{duty_set.id} {day.year if deadline.month else f'{day:%Y-%m}'}"


def _since(s: Snapshot, deadline: Deadline, recorded_at: datetime | None) -> datetime:
    """Return the instant; the sets apply only where the start or the end is there."""
    started, finished = s.record.started_at, s.record.finished_at
    since = deadline.since
    of_a_period = deadline.clock is Clock.FIXED_DATE and since is Since.DAY_OF_WORK
    if since in (Since.START, Since.BEFORE_START) or of_a_period:
        found = started or finished
    elif since is Since.RECORD_DATE:
        found = recorded_at or finished or started
    else:
        found = finished or started
    if found is None:
        raise ValueError("A deadline needs the start or the end of the work; both are blank.")
    return found
