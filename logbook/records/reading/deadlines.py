"""What is due for the records of a business, and until when they are kept.

A signed record's facts never change, so what is due for it is computed once, from its seal, and
stands on a sheet; the sheet is written anew with each entry and amendment, and where the data of
the law changed since. What is due for a draft is computed as it stands.
"""

from __future__ import annotations

import hashlib
from calendar import month_name
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import lru_cache
from importlib.metadata import version
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _

from logbook.accounts.rights import Actor, Right
from logbook.errors.faults import by_the_way
from logbook.facts.codec import from_json, to_json
from logbook.facts.duty import Clock, Deadline, DutySet, HowRead, Kind, Obligation, Since
from logbook.facts.messages import Message, gettext_noop, msg, term
from logbook.facts.record import Snapshot
from logbook.law.clocks import Due, Standing, dues, first_of, strictest
from logbook.law.places import places
from logbook.law.reader import duty_sets
from logbook.law.retention import Kept, doubt, kept
from logbook.pagination import Key, Page, page_of
from logbook.records.models import (
    ApplicationRecord,
    Delivery,
    DueSheet,
    DutyEntry,
    LegalHold,
    Purge,
    Seal,
)
from logbook.records.names import Named
from logbook.records.reading.selectors import at_field
from logbook.records.reading.visible import visible
from logbook.records.sealing.sealed import facts_of
from logbook.records.sealing.snapshot import snapshot_of, with_everything

DRAFTS_LOOKED_AT = 100
"""So many drafts, the oldest work first, are looked at."""

REFRESHED_AT_ONCE = 200
"""So many sheets of older law are written anew when somebody looks."""


SHEET = 3
"""Raised when the program says something else of the same facts on a sheet: each is then written
anew when somebody looks, and none that stood before is taken for a forged one."""


@lru_cache(maxsize=1)
def law() -> str:
    """Return a text that changes whenever what a sheet is computed by does: the data of the law,
    the table of places, the public holidays, the program.
    """
    by = f"{SHEET} {version('holidays')} {duty_sets()!r} {places()!r}"
    return hashlib.sha256(by.encode()).hexdigest()


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


# --- which records belong together ---------------------------------------------------------------


def together(record: ApplicationRecord) -> list[ApplicationRecord]:
    """Return the record, what it amends or continues, and what amends or continues it, and on."""
    return _linked([record], TOGETHER, _rows_of(record))


def versions(record: ApplicationRecord) -> list[ApplicationRecord]:
    """Return the record with all it amends and all that amend it."""
    return _linked([record], VERSIONS, _rows_of(record))


TOGETHER, VERSIONS = ("amends_id", "continues_id"), ("amends_id",)


def _rows_of(record: ApplicationRecord) -> QuerySet[ApplicationRecord]:
    rows: QuerySet[ApplicationRecord] = ApplicationRecord.objects.within(record.business_id)
    return rows


def _linked(
    records: Iterable[ApplicationRecord],
    names: tuple[str, ...],
    among: QuerySet[ApplicationRecord],
) -> list[ApplicationRecord]:
    """Return the records and all that hang together with them; asked once a step, for all."""
    found = {one.pk: one for one in records}
    fresh = list(found.values())
    while fresh:
        named = {getattr(one, name) for one in fresh for name in names} - {None}
        wanted = Q(pk__in=named)
        for name in names:
            wanted |= Q(**{f"{name.removesuffix('_id')}__in": [one.pk for one in fresh]})
        rows = among.filter(wanted)
        fresh = list(rows.exclude(pk__in=found).order_by("created_at"))
        found |= {one.pk: one for one in fresh}
    return list(found.values())


def last_first(records: Iterable[ApplicationRecord]) -> Iterator[ApplicationRecord]:
    """Yield the records so that each comes before what it amends or continues."""
    left = {one.pk: one for one in records}
    while left:
        named = {pk for one in left.values() for pk in (one.amends_id, one.continues_id)}
        for pk in [pk for pk in left if pk not in named]:
            yield left.pop(pk)


def zone_of(record: ApplicationRecord) -> ZoneInfo:
    """Return the time zone at the field of the record."""
    return ZoneInfo(record.time_zone)


# --- the sheet of a signed record ----------------------------------------------------------------


def refresh(*, record_id: UUID) -> DueSheet | None:
    """Return the sheet of a record, written anew; None for a draft, for which there is none.

    A record that was amended has nothing left to do: its amendment has. Both are kept.
    """
    sheet = _computed(record_id)
    if sheet is not None:
        _keep(sheet)
    return sheet


COMPUTED = (
    *("law", "items", "next_due_at", "late_count", "waiting", "report_of"),
    *("keep_until", "kept_by", "place", "in_doubt"),
)
"""The columns of a sheet that its seal, the entries and the data of the law give."""


def _computed(record_id: UUID) -> DueSheet | None:
    """Return the sheet of a record as it is today, not written down."""
    record = ApplicationRecord.objects.select_related("seal").filter(pk=record_id).first()
    if record is None or record.signed_at is None or record.seal.purged_at:
        return None
    every = versions(record)
    columns = _sheet(
        record,
        facts_of(record.seal),
        sealed_at=record.seal.sealed_at,
        every=every,
        entries=DutyEntry.objects.filter(record__in=every).select_related("record"),
    )
    return DueSheet(record=record, **columns)


def _keep(sheet: DueSheet) -> None:
    """Write a sheet down, and on all that belong together when they may go."""
    DueSheet.objects.update_or_create(
        record=sheet.record, defaults={name: getattr(sheet, name) for name in COMPUTED}
    )
    say_when_they_may_go(sheet.record)


def _of_today(record: ApplicationRecord) -> DueSheet | None:
    """Return the sheet by the law of today; shown, too, where it cannot be written down now."""
    sheet = DueSheet.objects.filter(record=record, law=law()).first()
    if sheet is None and (computed := _computed(record.pk)):
        by_the_way(lambda: _keep(computed))
        return computed
    return sheet


def _sheet(
    record: ApplicationRecord,
    facts: Snapshot,
    *,
    sealed_at: datetime,
    every: Iterable[ApplicationRecord],
    entries: Iterable[DutyEntry],
) -> dict[str, Any]:
    """Return what the sheet of a record says, by column.

    Args: every, the record with all its versions; entries, those of any of them.
    """
    signed = [one for one in every if one.signed_at]
    found: tuple[Item, ...] = ()
    if not any(one.amends_id == record.pk for one in signed):
        first_sealed = min(one.signed_at for one in signed if one.signed_at)
        found = items(facts, entries, recorded_at=first_sealed)
    own = [item for item in found if not item.period]
    open_ = [item.due for item in own if item.due and item.open]
    late = [item for item in own if item.due and item.done_at and item.done_at > item.due]
    every_kept = kept(facts, recorded_at=sealed_at)
    longest = every_kept[0] if every_kept else None
    place = facts.field.place if facts.field else ""
    return {
        "law": law(),
        "items": to_json(list(found)),
        "next_due_at": min(open_, default=None),
        "late_count": len(late),
        "waiting": sum(item.open and item.called_at is not None for item in own),
        "report_of": next((item.period for item in found if item.period), ""),
        "keep_until": longest.until if longest else None,
        "kept_by": _law_of(longest.duty_set) if longest else "",
        "place": place,
        "in_doubt": bool(doubt(place, every_kept)),
    }


def _law_of(found: DutySet) -> str:
    """Return the title and citation of a set; of a label both are one, and it is said once."""
    if found.title == found.citation:
        return found.citation
    return f"{found.title}: {found.citation}"


def say_when_they_may_go(record: ApplicationRecord) -> None:
    """Write on the sheets of all that belong together when the last of them may go.

    None of them may while a draft is among them, be it set aside, or the period of one is in doubt.
    """
    group = together(record)
    sheets = DueSheet.objects.filter(record__in=group)
    until = [None if sheet.in_doubt else sheet.keep_until for sheet in sheets]
    known = [day for day in until if day is not None]
    whole = len(known) == len(group)
    sheets.update(may_go_after=max(known) if whole else None)


@dataclass(frozen=True, kw_only=True)
class SheetAndSources:
    """The sheet of a signed record, and what it is computed from beside the seal."""

    sheet: DueSheet
    versions: tuple[ApplicationRecord, ...]
    entries: tuple[DutyEntry, ...]
    may_go_after: date | None  # of all that belong together; None while one of them is a draft
    in_doubt: bool  # how long one of them is kept


def sheets_of_today(
    *, business: Any, records: Iterable[ApplicationRecord]
) -> dict[UUID, SheetAndSources]:
    """Return the sheets that are computed by the law of today, by record, with their sources.

    One of older law is written anew when somebody looks, whatever it says; so is one that is gone.
    """
    among = ApplicationRecord.objects.within(business).only(
        "business_id", "created_at", "signed_at", "time_zone", *TOGETHER
    )
    linked = {one.pk: one for one in _linked(records, TOGETHER, among)}
    sheets = {one.record_id: one for one in DueSheet.objects.filter(record__in=linked)}
    entries = list(DutyEntry.objects.filter(record__in=linked))
    for entry in entries:
        entry.record = linked[entry.record_id]
    found = {}
    jobs, versions_of = (_grouped(linked.values(), names) for names in (TOGETHER, VERSIONS))
    for record in records:
        sheet = sheets.get(record.pk)
        if sheet is None or sheet.law != law():
            continue
        until = [
            sheets[pk].keep_until if pk in sheets and not sheets[pk].in_doubt else None
            for pk in jobs[record.pk]
        ]
        known = [day for day in until if day is not None]
        same = versions_of[record.pk]
        found[record.pk] = SheetAndSources(
            sheet=sheet,
            versions=tuple(linked[pk] for pk in same),
            entries=tuple(one for one in entries if one.record_id in same),
            may_go_after=max(known) if len(known) == len(until) else None,
            in_doubt=any(sheets[pk].in_doubt for pk in jobs[record.pk] if pk in sheets),
        )
    return found


def _grouped(records: Iterable[ApplicationRecord], names: tuple[str, ...]) -> dict[UUID, set[UUID]]:
    """Return, for each record, the ids of all that hang together with it by these columns."""
    groups = {one.pk: {one.pk} for one in records}
    for one in records:
        for other in {getattr(one, name) for name in names} & groups.keys():
            whole = groups[one.pk] | groups[other]
            groups |= dict.fromkeys(whole, whole)
    return groups


def sheet_differences(
    found: SheetAndSources, *, facts: Snapshot, sealed_at: datetime
) -> Iterator[str]:
    """Yield the name of each column of a sheet that says otherwise than it is computed.

    `may_go_after` is one only where it is too early: a purge computes it anew, and a draft that
    joined the job since makes it later.
    """
    record = next(one for one in found.versions if one.pk == found.sheet.record_id)
    columns = _sheet(
        record, facts, sealed_at=sealed_at, every=found.versions, entries=found.entries
    )
    for name, value in columns.items():
        if getattr(found.sheet, name) != value:
            yield name
    goes, least = found.sheet.may_go_after, found.may_go_after
    if goes and (found.in_doubt or (least and goes < least)):
        yield "may_go_after"


def refresh_stale(*, business: Any, at_once: int = REFRESHED_AT_ONCE) -> int:
    """Return how many sheets were written: none was there, or the data of the law changed.

    Where they cannot be written now, none are, and lists show the sheets that stand.
    """
    stale = (
        ApplicationRecord.objects.within(business)
        .filter(signed_at__isnull=False)
        .exclude(due_sheet__law=law())
        .values_list("pk", flat=True)[:at_once]
    )
    pks = list(stale)
    if pks and by_the_way(lambda: [refresh(record_id=pk) for pk in pks]):
        return len(pks)
    return 0


# --- lists ---------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Task:
    """One thing due for one record, as a list shows it."""

    record_id: UUID
    number: int | None  # of the seal; None for a draft
    field: Named
    customer: Named
    time_zone: str
    item: Item
    standing: Standing
    place: str = ""  # of the field, ISO 3166-2
    numbers: tuple[int, ...] = ()  # of the seals that the report of a period lists

    @property
    def of_what(self) -> str:
        """The field; for a report of a period, the period and the records that it lists."""
        if not self.numbers:
            return self.field.name
        return f"{period_of(self.item)}, {spans(self.numbers)}"

    @property
    def local_due(self) -> str:
        """The last instant in time as the clock at the field shows it."""
        return at_field(self.item.due, self.time_zone) if self.item.due else ""


def period_of(item: Item) -> str:
    """Return the period of a report as people say it: "2026", "2026-06"; "" where it has none."""
    return item.period.rpartition(" ")[2]


def spans(numbers: Iterable[int]) -> str:
    """Return ascending numbers of seals in short: "no. 3 to 5, 9"."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    told = (
        str(run[0])
        if len(run) == 1
        else _("%(first)d to %(last)d") % {"first": run[0], "last": run[-1]}
        for run in runs
    )
    return _("no. %(numbers)s") % {"numbers": ", ".join(told)}


def open_sheets(*, actor: Actor, late: bool = False) -> QuerySet[DueSheet]:
    """Return the sheets with something to do, the first due first; or those with a late one.

    What waits without an instant comes last: it must not hide what is overdue.
    """
    actor.must(Right.SEE)
    refresh_stale(business=actor.business)
    rows = (
        DueSheet.objects.filter(visible(actor, via="record__"))
        .select_related("record__field", "record__customer", "record__seal")
        .defer("record__seal__text")
    )
    if late:
        return rows.filter(late_count__gt=0).order_by("-record__book_at", "record_id")
    return rows.filter(Q(next_due_at__isnull=False) | Q(waiting__gt=0)).order_by(
        "due_or_last", "record_id"
    )


def tasks_of(sheets: Iterable[DueSheet], *, now: datetime) -> list[Task]:
    """Return the tasks of the sheets: the open ones, the overdue and those done late."""
    return [
        _task(sheet.record, sheet.record.seal.number, item, now, place=sheet.place)
        for sheet in sheets
        for item in items_on(sheet)
        if not item.period
        and item.standing(now) in (Standing.OPEN, Standing.OVERDUE, Standing.LATE)
    ]


def items_on(sheet: DueSheet) -> tuple[Item, ...]:
    """Return what a sheet says is due."""
    found: tuple[Item, ...] = from_json(sheet.items, tuple[Item, ...])
    return found


def _task(
    record: ApplicationRecord, number: int | None, item: Item, now: datetime, *, place: str
) -> Task:
    return Task(
        record_id=record.pk,
        number=number,
        field=record.field_name if record.field else Named(_("no field yet")),
        customer=record.customer_name,
        time_zone=record.time_zone,
        item=item,
        standing=item.standing(now),
        place=place,
    )


def draft_tasks(*, actor: Actor, now: datetime) -> list[Task]:
    """Return what is due for the drafts, which stand on no sheet: the record itself above all.

    An amendment is no record that is due: the one it corrects was made.
    """
    actor.must(Right.SEE)
    rows = ApplicationRecord.objects.filter(visible(actor)).filter(
        signed_at__isnull=True, amends__isnull=True, started_at__isnull=False, field__isnull=False
    )
    rows = rows.filter(set_aside_at__isnull=True)
    drafts = with_everything(rows).prefetch_related("duty_entries__record")
    return [
        _task(record, None, item, now, place=record.field.place if record.field else "")
        for record in drafts.order_by("book_at", "id")[:DRAFTS_LOOKED_AT]
        for item in items(
            snapshot_of(record, history=False), record.duty_entries.all(), recorded_at=None
        )
        # A report of a period is due once its records are signed.
        if not item.period
        and item.standing(now) in (Standing.OPEN, Standing.OVERDUE, Standing.LATE)
    ]


@dataclass(frozen=True, kw_only=True)
class TasksAtHand:
    """What is due for a draft, or for the records of a period; it stands among the sheets of signed
    records by the same keys.
    """

    record_id: UUID
    due_or_last: datetime
    tasks: tuple[Task, ...]


def draft_sheets(*, actor: Actor, now: datetime) -> list[TasksAtHand]:
    """Return what is due for the drafts, draft by draft."""
    found: dict[UUID, list[Task]] = {}
    for task in draft_tasks(actor=actor, now=now):
        if task.item.due is not None and task.item.open:
            found.setdefault(task.record_id, []).append(task)
    return [
        TasksAtHand(
            record_id=record_id,
            due_or_last=min(task.item.due for task in tasks if task.item.due),
            tasks=tuple(tasks),
        )
        for record_id, tasks in found.items()
    ]


def period_tasks(*, actor: Actor, now: datetime) -> list[Task]:
    """Return the reports of a period that are not sent yet: one for all its signed records.

    What was written down on any record of the period settles it for all that were signed by then.
    A record that was corrected is listed by its correction.
    """
    actor.must(Right.SEE)
    refresh_stale(business=actor.business)
    rows = DueSheet.objects.filter(visible(actor, via="record__")).exclude(report_of="")
    moved = ~Q(record__amends__due_sheet__report_of=F("report_of"))
    told = rows.values_list(
        "report_of", "record_id", "record__seal__number", "record__seal__sealed_at"
    )
    sent = sent_reports(business=actor.business)
    first: dict[str, UUID] = {}
    for period, record_id, _number, sealed_at in told.filter(
        Q(record__amends__isnull=True) | moved
    ).order_by("record__seal__number"):
        if not any(at >= sealed_at for at in sent.get(period, ())):
            first.setdefault(period, record_id)
    if not first:
        return []
    numbers: dict[str, list[int]] = {}
    for period, _record, number, _sealed in told.filter(
        report_of__in=first, record__amendment__signed_at__isnull=True
    ).order_by("record__seal__number"):
        numbers.setdefault(period, []).append(number)
    sheets = rows.select_related("record__field", "record__customer", "record__seal")
    found = {one.record_id: one for one in sheets.filter(record_id__in=first.values())}
    return [
        replace(
            _task(sheet.record, sheet.record.seal.number, item, now, place=sheet.place),
            numbers=tuple(dict.fromkeys(numbers.get(period, ()))),
        )
        for period, record_id in first.items()
        for sheet in [found[record_id]]
        for item in items_on(sheet)
        if item.period == period and item.open
    ]


def period_sheets(*, actor: Actor, now: datetime) -> list[TasksAtHand]:
    """Return the reports of a period, each to stand in the list of deadlines."""
    return [
        TasksAtHand(record_id=one.record_id, due_or_last=one.item.due, tasks=(one,))
        for one in period_tasks(actor=actor, now=now)
        if one.item.due
    ]


def sent_reports(
    *, business: Any, periods: Iterable[str] | None = None
) -> dict[str, list[datetime]]:
    """Return when reports of each period were sent, or said not to be owed.

    Args: periods, all if None.
    """
    rows = DutyEntry.objects.within(business).filter(
        kind=Kind.REPORT, strikes__isnull=True, struck_by__isnull=True
    )
    rows = rows.exclude(how__in=(Delivery.ASKED, Delivery.AROSE))
    rows = rows.exclude(record__due_sheet__report_of="")
    if periods is not None:
        rows = rows.filter(record__due_sheet__report_of__in=list(periods))
    found: dict[str, list[datetime]] = {}
    for period, at in rows.values_list("record__due_sheet__report_of", "given_at").order_by(
        "given_at"
    ):
        found.setdefault(period, []).append(at)
    return found


def _with_reports(
    found: tuple[Item, ...], record: ApplicationRecord, signed_at: datetime
) -> tuple[Item, ...]:
    """Return the items of a record, where the report of its period was sent for all of them."""
    periods = [item.period for item in found if item.period and item.open]
    if not periods:
        return found
    sent = sent_reports(business=record.business_id, periods=periods)
    return tuple(
        replace(item, done_at=next((at for at in sent[item.period] if at >= signed_at), None))
        if item.open and item.period in sent
        else item
        for item in found
    )


OPEN_KEYS: tuple[Key, ...] = (("due_or_last", datetime), ("record_id", UUID))
LATE_KEYS: tuple[Key, ...] = (("record__book_at", datetime), ("record_id", UUID))
"""What the lists of deadlines are sorted by: the first due first, the newest late work first."""


def deadline_page(
    *, actor: Actor, now: datetime, late: bool, query: Mapping[str, str], size: int
) -> tuple[Page, list[Task]]:
    """Return a page of records with something due, or done late, and the tasks on it.

    Args: query, which may name a place; size, in records.
    Raises: RefusedInput for a place that is none.
    """
    page = page_of(
        open_sheets(actor=actor, late=late),
        keys=LATE_KEYS if late else OPEN_KEYS,
        descending=late,
        query=query,
        size=size,
        also=[]
        if late
        else [*draft_sheets(actor=actor, now=now), *period_sheets(actor=actor, now=now)],
    )
    at_hand = [one for one in page.rows if isinstance(one, TasksAtHand)]
    tasks = tasks_of((one for one in page.rows if not isinstance(one, TasksAtHand)), now=now)
    return page, [*tasks, *(task for one in at_hand for task in one.tasks)]


def by_due(tasks: Iterable[Task]) -> list[Task]:
    """Return the tasks, the first due first."""
    return sorted(tasks, key=lambda task: (task.item.due is None, task.item.due))


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """What waits, in short."""

    overdue: int
    first: tuple[Task, ...]


def outlook(*, actor: Actor, now: datetime, shown: int) -> Outlook:
    """Return how many things are overdue, and the first that are due.

    Args: shown, how many tasks at most.
    """
    sheets = open_sheets(actor=actor)
    drafts = [*draft_tasks(actor=actor, now=now), *period_tasks(actor=actor, now=now)]
    found = by_due(
        task
        for task in (*tasks_of(sheets[:shown], now=now), *drafts)
        if task.standing is not Standing.LATE
    )
    overdue = sheets.filter(next_due_at__lt=now).count()
    overdue += len({task.record_id for task in drafts if task.standing is Standing.OVERDUE})
    return Outlook(overdue=overdue, first=tuple(found[:shown]))


# --- keeping -------------------------------------------------------------------------------------


def kept_records(*, actor: Actor, today: date, may_go: bool) -> QuerySet[DueSheet]:
    """Return the sheets of the records that may go now, or of all, the first to go first.

    Each carries `held`: how many holds stand on its record or on the whole book.
    """
    actor.must(Right.SEE)
    refresh_stale(business=actor.business)
    standing = LegalHold.objects.filter(business=actor.business, lifted_at__isnull=True)
    rows = (
        DueSheet.objects.filter(visible(actor, via="record__"))
        .select_related("record__field", "record__customer", "record__seal")
        .defer("record__seal__text")
        .annotate(
            held=Exists(
                standing.filter(Q(seal__isnull=True) | Q(seal__record_id=OuterRef("record_id")))
            )
        )
    )
    if may_go:
        return rows.filter(may_go_after__lt=today, held=False).order_by("may_go_after", "record_id")
    # Those that no set lets go come last, on either database.
    return rows.order_by(F("keep_until").asc(nulls_last=True), "record_id")


@dataclass(frozen=True, kw_only=True)
class Keeping:
    """Until when a signed record stays, by what law; it goes with all that belongs to it."""

    keep_until: date | None
    kept_by: str
    may_go_after: date | None
    held: bool
    in_doubt: bool  # the period is not sure enough to let the record go by it


def keeping_of(record: ApplicationRecord) -> Keeping | None:
    """Return until when a signed record is kept; None for a draft."""
    sheet = _of_today(record)
    if sheet is None:
        return None
    standing = LegalHold.objects.filter(business=record.business_id, lifted_at__isnull=True)
    held = standing.filter(Q(seal__isnull=True) | Q(seal__record=record)).exists()
    return Keeping(
        keep_until=sheet.keep_until,
        kept_by=sheet.kept_by,
        may_go_after=sheet.may_go_after,
        held=held,
        in_doubt=sheet.in_doubt,
    )


@dataclass(frozen=True, kw_only=True)
class Period:
    """How long one signed record is kept, by every set that says so, and how sure that is."""

    record: ApplicationRecord
    number: int
    kept: tuple[Kept, ...]  # the longest first: it decides
    doubt: str  # why the record is not let go by it; "" where it may
    place: str  # of the field as sealed, ISO 3166-2


def _seals_of(record: ApplicationRecord) -> QuerySet[Seal]:
    sealed = Seal.objects.filter(record__in=together(record), purged_at__isnull=True)
    return sealed.select_related("record")


def periods(record: ApplicationRecord) -> list[Period]:
    """Return the period of each signed record that belongs to a record, computed from its seal."""
    found = []
    for seal in _seals_of(record):
        facts = facts_of(seal)
        every = kept(facts, recorded_at=seal.sealed_at)
        place = facts.field.place if facts.field else ""
        found.append(
            Period(
                record=seal.record,
                number=seal.number,
                kept=every,
                doubt=doubt(place, every),
                place=place,
            )
        )
    return sorted(found, key=lambda one: one.number)


def holds(*, actor: Actor) -> QuerySet[LegalHold]:
    """Return all holds, those that stand first."""
    actor.must(Right.SEE)
    rows = LegalHold.objects.within(actor.business).select_related("seal", "set_by", "lifted_by")
    return rows.order_by(F("lifted_at").desc(nulls_first=True), "-set_at")


def purged(*, actor: Actor) -> QuerySet[Any]:
    """Return what was purged, the last first."""
    actor.must(Right.SEE)
    return Purge.objects.within(actor.business).select_related("seal", "purged_by")


def of_record(
    *, record: ApplicationRecord, snapshot: Snapshot
) -> tuple[tuple[Item, ...], list[DutyEntry]]:
    """Return what is due for a record, and what was written down as done, in its order."""
    entries = list(entries_of(record))
    if record.signed_at is None:
        return items(snapshot, entries, recorded_at=None), entries
    sheet = _of_today(record)
    return (_with_reports(items_on(sheet), record, record.signed_at) if sheet else ()), entries


def entries_of(record: ApplicationRecord) -> QuerySet[DutyEntry]:
    """Return the entries of the record and of those that it amends, in order of what was done."""
    chain = versions(record)
    return (
        DutyEntry.objects.filter(record__in=chain)
        .select_related("record", "by", "struck_by", "strikes")
        .order_by("given_at", "created_at")
    )
