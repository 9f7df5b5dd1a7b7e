"""What is due for the records of a business, in the order in which it is.

What is due for a signed record is read from its sheet; for a draft it is computed as it stands.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import F, Q, QuerySet
from django.utils.translation import gettext as _

from logbook.accounts.rights import Actor, Right
from logbook.facts.duty import Kind
from logbook.facts.record import Snapshot
from logbook.law.clocks import Standing
from logbook.pagination import Key, Page, page_of
from logbook.records.models import (
    ApplicationRecord,
    Delivery,
    DueSheet,
    DutyEntry,
)
from logbook.records.names import Named
from logbook.records.reading.duesheets import items_on, refresh_stale, sheet_of_today
from logbook.records.reading.owed import Item, items
from logbook.records.reading.related import versions
from logbook.records.reading.selectors import at_field
from logbook.records.reading.visible import visible
from logbook.records.sealing.snapshot import snapshot_of, with_everything

DRAFTS_LOOKED_AT = 100
"""So many drafts, the oldest work first, are looked at."""


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


def of_record(
    *, record: ApplicationRecord, snapshot: Snapshot
) -> tuple[tuple[Item, ...], list[DutyEntry]]:
    """Return what is due for a record, and what was written down as done, in its order."""
    entries = list(entries_of(record))
    if record.signed_at is None:
        return items(snapshot, entries, recorded_at=None), entries
    sheet = sheet_of_today(record)
    return (_with_reports(items_on(sheet), record, record.signed_at) if sheet else ()), entries


def entries_of(record: ApplicationRecord) -> QuerySet[DutyEntry]:
    """Return the entries of the record and of those that it amends, in order of what was done."""
    chain = versions(record)
    return (
        DutyEntry.objects.filter(record__in=chain)
        .select_related("record", "by", "struck_by", "strikes")
        .order_by("given_at", "created_at")
    )
