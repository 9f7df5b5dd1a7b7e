"""Until when a record is kept, and which set decides it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from logbook.facts.duty import DutySet, KeepFrom, Retention, Role, Work
from logbook.facts.intervals import intervals
from logbook.facts.messages import msg, term
from logbook.facts.record import Snapshot
from logbook.law.applicability import Applied, applicable, covered_by
from logbook.law.places import Carried, own_sets, place_of


@dataclass(frozen=True, kw_only=True)
class Kept:
    """One duty to keep a record."""

    applied: Applied
    retention: Retention
    since: date  # local day at the field from which the years count
    until: date  # the last day on which it is kept

    @property
    def duty_set(self) -> DutySet:
        """The set that asks for it."""
        return self.applied.duty_set


def kept(
    s: Snapshot,
    *,
    recorded_at: datetime,
    role: Role = Role.FOR_HIRE,
    work: Work = Work.FIELD,
    sets: tuple[DutySet, ...] | None = None,
) -> tuple[Kept, ...]:
    """Return every duty to keep the record, the longest first; the first decides.

    Those read from memory count too: to keep a record too long harms nobody.
    Args: recorded_at, when the record was made, for those that count from there.
    """
    found = []
    for one in applicable(s, role=role, work=work, sets=sets):
        for retention in one.duty_set.retention:
            if retention.roles and role not in retention.roles:
                continue
            if retention.products and not covered_by(s, retention.products):
                continue
            since = _since(s, retention.since, recorded_at)
            found.append(
                Kept(
                    applied=one,
                    retention=retention,
                    since=since,
                    until=years_after(since, retention.years),
                )
            )
    return tuple(sorted(found, key=lambda one: one.until, reverse=True))


def doubt(place: str, found: tuple[Kept, ...]) -> str:
    """Return why the period of keeping is not sure enough to let a record go; "" where it is.

    Args: place of the field, ISO 3166-2; found, what `kept` gave, the longest first.
    """
    here = place_of(place)
    if here.carried is Carried.NONE:
        return msg("The rules of {place} are not carried here.", place=here.name)
    own = {one.id for one in own_sets(place)}
    if not any(one.duty_set.id in own for one in found):
        return msg(
            "No set of {place} says how long this record is kept; its own rule may ask for longer.",
            place=here.name,
        )
    decide = [one for one in found if one.until == found[0].until]
    if any(one.retention.how_read.firm for one in decide):
        return ""
    return msg(
        "How long it is kept by {set} is known as “{how}” alone.",
        set=term(decide[0].duty_set.title),
        how=term(decide[0].retention.how_read.value),
    )


def period_words(retention: Retention) -> str:
    """Return a period of keeping in words: "3 years from the application"."""
    return msg(
        "{years} years from the {since}", years=retention.years, since=term(retention.since.value)
    )


def shown_until(s: Snapshot, applied: tuple[Applied, ...]) -> date | None:
    """Return the last local day on which a notice stays shown; None where no set asks for it.

    Without a re-entry interval it counts from the local day of the end of the work.
    """
    days = [one.duty_set.display.days_after_reentry for one in applied if one.duty_set.display]
    return _entry_day(s) + timedelta(days=max(days)) if days else None


def years_after(day: date, years: int) -> date:
    """Return the same day `years` later; 1 March for 29 February in a year that has none."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)


def _since(s: Snapshot, since: KeepFrom, recorded_at: datetime) -> date:
    if since in (KeepFrom.RECORD_DATE, KeepFrom.AMENDED):
        # An amendment is a record of its own, and what it amends is kept as long.
        return recorded_at.astimezone(s.zone).date()
    if since is KeepFrom.REENTRY_END:
        return _entry_day(s)
    day = _last_day(s)
    return date(day.year + 1, 1, 1) if since is KeepFrom.NEXT_NEW_YEAR else day


def _last_day(s: Snapshot) -> date:
    """Return the local day of the end of the work, from which its years count: the later of two."""
    if not s.days:
        raise ValueError("The day of the work is blank; no term counts from it.")
    return s.days[-1]


def _entry_day(s: Snapshot) -> date:
    found = intervals(s)
    if found.entry_from is None:
        return _last_day(s)
    return found.entry_from.astimezone(s.zone).date()
