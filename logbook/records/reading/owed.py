"""What one record owes: each duty with its deadline, and whether and when it was done."""

from __future__ import annotations

from calendar import month_name
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from logbook.facts.duty import Clock, Deadline, HowRead, Kind, Obligation, Since
from logbook.facts.messages import Message, gettext_noop, msg, term
from logbook.facts.record import Snapshot
from logbook.law.clocks import Due, Standing, dues, first_of, strictest
from logbook.records.models import (
    Delivery,
    DutyEntry,
)

NOTHING_WRONG = Message("")


@dataclass(frozen=True, kw_only=True)
class Item:
    """One kind of duty of a record: the strictest time for it, and when it was done."""

    kind: str
    due: datetime | None  # the first instant that is late; None where none can be counted
    set_id: str
    title: Message
    citation: Message
    how_read: HowRead
    clock: Message  # how it counts, in words
    detail: str
    done_at: datetime | None
    not_owed: str = ""  # the reason that somebody wrote down, "" where it is owed
    called_for: str = ""  # by whom it was asked, or which case arose; "" where it is due anyway
    called_at: datetime | None = None
    obligation: Obligation = Obligation.REQUIRED
    period: str = ""  # of which it is one for all records, such as "us-ny 2026"
    short: Message = NOTHING_WRONG  # why what was given does not count, "" where nothing is wrong

    @property
    def open(self) -> bool:
        """Whether it is still to be done."""
        return self.done_at is None and not self.not_owed

    def standing(self, now: datetime) -> Standing:
        """Return how it stands at `now`; what was done late stays so."""
        if self.not_owed and self.done_at is None:
            return Standing.DONE
        if self.due is None:
            waits = Standing.OPEN if self.called_at else Standing.NOT_COUNTED
            return waits if self.done_at is None else Standing.DONE
        if self.done_at is not None:
            return Standing.LATE if self.done_at > self.due else Standing.DONE
        return Standing.OVERDUE if now > self.due else Standing.OPEN


def items(
    snapshot: Snapshot, entries: Iterable[DutyEntry], *, recorded_at: datetime | None
) -> tuple[Item, ...]:
    """Return what is due for a record, one item a kind, the first due first; a report of a period,
    which is one for many records, beside one of its own.

    Args: entries, all of the record and of those that it amends; recorded_at, when the record was
    first sealed, None for a draft.
    """
    every = standing_entries(entries)
    found = dues(snapshot, recorded_at=recorded_at)
    consent = {one.deadline.kind: one for one in found if one.deadline.consent_first}
    counted = [one for one in every if not (one.lacks_consent and Kind(one.kind) in consent)]
    done = done_at(counted, recorded_at=recorded_at)
    not_owed = {Kind(one.kind): one.note for one in every if one.how == Delivery.NOT_OWED}
    first: dict[tuple[Kind, str], Due] = {}
    of_a_period = [one for one in found if one.period]
    of_the_record = [one for one in found if not one.period]
    for one in (*strictest(of_the_record).values(), *strictest(of_a_period).values()):
        key = (one.deadline.kind, one.period)
        held = first.get(key)
        if held is None or _before(one, held):
            first[key] = one
    made = [
        _item(one, done=done.get(kind), not_owed=not_owed.get(kind, ""))
        for (kind, _period), one in first.items()
    ]
    for kind, asks in consent.items():
        short = _without_consent(every, kind, asks) if done.get(kind) is None else NOTHING_WRONG
        made = [replace(one, short=short) if one.kind == kind else one for one in made]
    made += _called_for(snapshot, every, counted, recorded_at)
    return tuple(sorted(made, key=lambda item: (item.due is None, item.due, item.kind)))


def _without_consent(entries: Iterable[DutyEntry], kind: Kind, asks: Due) -> Message:
    """Return that what went electronically does not count, "" where nothing did."""
    if not any(one.kind == kind and one.gives and one.lacks_consent for one in entries):
        return NOTHING_WRONG
    return msg(NO_CONSENT, citation=asks.duty_set.citation)


NO_CONSENT = gettext_noop(
    "It went electronically without the customer's written consent beforehand, which {citation} "
    "asks for; that delivery does not count."
)


def _called_for(
    snapshot: Snapshot,
    entries: Iterable[DutyEntry],
    counted: Iterable[DutyEntry],
    recorded_at: datetime | None,
) -> Iterator[Item]:
    """Yield what is due because somebody asked for it, or because the case of a law arose.

    The request is answered by the first thing of its kind that was given after it.
    """
    given = [one for one in counted if one.gives or one.how == Delivery.NOT_OWED]
    for entry in entries:
        if entry.how not in (Delivery.ASKED, Delivery.AROSE):
            continue
        on_request = entry.how == Delivery.ASKED
        first = first_of(
            one
            for one in dues(snapshot, recorded_at=recorded_at, occurred_at=entry.given_at)
            if one.deadline.kind == entry.kind
            and (one.deadline.on_request if on_request else bool(one.deadline.only_if))
        )
        if first is None:
            continue
        answers = [
            one for one in given if one.kind == entry.kind and one.given_at >= entry.given_at
        ]
        answer = answers[0] if answers else None
        gives = answer is not None and answer.gives
        yield replace(
            _item(first, done=answer.given_at if answer and gives else None, not_owed=""),
            not_owed=answer.note if answer and not gives else "",
            called_for=entry.to_whom if on_request else entry.note,
            called_at=entry.given_at,
        )


def _before(one: Due, other: Due) -> bool:
    if one.due is None or other.due is None:
        return one.due is not None
    return one.due < other.due


def standing_entries(entries: Iterable[DutyEntry]) -> list[DutyEntry]:
    """Return the entries that count, in the order of what was done: none struck, none a strike."""
    every = list(entries)
    struck = {entry.strikes_id for entry in every if entry.strikes_id}
    counted = [one for one in every if one.strikes_id is None and one.pk not in struck]
    return sorted(counted, key=lambda entry: entry.given_at)


def done_at(entries: Iterable[DutyEntry], *, recorded_at: datetime | None) -> dict[Kind, datetime]:
    """Return when each kind of duty was done, as far as it was.

    The record is made when it is sealed. Of several entries the first counts, but for the notice
    before the work: what changed since is told again, and that one counts.

    Args: entries as `standing_entries` gives them.
    """
    done: dict[Kind, datetime] = {} if recorded_at is None else {Kind.RECORD: recorded_at}
    for entry in entries:
        if not entry.gives:
            continue
        kind = Kind(entry.kind)
        if kind is Kind.NOTICE_BEFORE:
            done[kind] = entry.given_at
        else:
            done.setdefault(kind, entry.given_at)
    return done


def _item(one: Due, *, done: datetime | None, not_owed: str) -> Item:
    deadline = one.deadline
    return Item(
        kind=deadline.kind.value,
        due=one.due,
        set_id=one.duty_set.id,
        title=term(one.duty_set.title),
        citation=term(one.duty_set.citation),
        how_read=deadline.how_read,
        obligation=deadline.obligation,
        period=one.period,
        clock=clock_words(deadline),
        detail=deadline.detail,
        done_at=done,
        not_owed=not_owed,
    )


_FROM = {
    Since.START: gettext_noop("from the start"),
    Since.END: gettext_noop("from the end"),
    Since.DAY_OF_WORK: gettext_noop("from the day of work"),
    Since.RECORD_DATE: gettext_noop("from the record date"),
    Since.BEFORE_START: gettext_noop("before the start"),
    Since.EVENT: gettext_noop("from the request or event"),
}


def clock_words(deadline: Deadline) -> Message:
    """Return how a deadline counts, in words: "30 calendar days, from the day of work"."""
    if deadline.since is Since.BEFORE_START:
        if not deadline.count:
            return msg("before the start")
        return msg("{count} h before the start", count=deadline.count)
    if deadline.clock is Clock.HOURS and not deadline.count:
        return msg("by the end of the work")
    if deadline.clock is Clock.FIXED_DATE:
        if not deadline.month:
            return msg("by day {day} of the next month", day=deadline.day)
        return msg(
            "by day {day} of {month} of the next year",
            day=deadline.day,
            month=term(month_name[deadline.month]),
        )
    return _counted(deadline.count, deadline.clock.value, _FROM[deadline.since])


def _counted(count: int | str | None, unit: str, since: str) -> Message:
    if count is None:
        return msg("{unit}, {since}", unit=term(unit), since=term(since))
    return msg("{count} {unit}, {since}", count=count, unit=term(unit), since=term(since))
