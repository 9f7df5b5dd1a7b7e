"""The fields in hand: field by field, what stands open, runs, lacks something or is closed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any
from uuid import UUID

from django.db.models import F, OuterRef, Q, QuerySet, Subquery

from logbook.accounts.rights import Actor, Right
from logbook.catalog.models import Field
from logbook.checks.core import Severity
from logbook.records.models import ApplicationRecord
from logbook.records.reading.examine import Examination, unsaid
from logbook.records.reading.selectors import Closed, book

RUNS_FOR = timedelta(hours=24)
"""A job begun earlier and not ended was left without its end; our own measure, no source."""

JOBS_LOOKED_AT = 60


class State(StrEnum):
    """How a field stands."""

    RUNNING = "running"
    OPEN = "open"
    LACKING = "lacking"
    READY = "ready"
    CLOSED = "closed"


@dataclass(frozen=True, kw_only=True)
class InHand:
    """One line of the day: a field, and the draft or the closing record that it stands on.

    Attributes: at, since when it runs or until when it is closed; blank and off, how many facts a
    draft lacks, and how many other findings nobody explained yet.
    """

    field: Any  # of the shelf; drafts without one are not in hand
    state: State
    record: ApplicationRecord | None = None
    at: datetime | None = None
    blank: int = 0
    off: int = 0


def is_running(record: ApplicationRecord, *, now: datetime) -> bool:
    """Return whether the work of a draft goes on."""
    return bool(
        record.started_at
        and now - RUNS_FOR < record.started_at <= now
        and not (record.finished_at or record.signed_at or record.set_aside_at)
    )


def latest_drafts(*, actor: Actor, most: int) -> list[ApplicationRecord]:
    """Return the drafts on fields, the latest work first."""
    rows = book(actor=actor, state="draft").filter(field__isnull=False)
    return list(
        rows.select_related("rig", "field__customer", "applicator").order_by("-book_at", "-id")[
            :most
        ]
    )


def fields_in_hand(
    *,
    actor: Actor,
    drafts: Iterable[ApplicationRecord],
    seen: Iterable[Examination],
    closed: Sequence[Closed],
    customer_id: UUID | None,
    most_open: int,
    now: datetime,
) -> list[InHand]:
    """Return the lines of the day: what runs, what is open, what lacks something, what is closed.

    Open are drafts without a start, and fields on which nothing is going on, of the customer or, if
    there are none, of all: those longest without work first, of them `most_open`.
    """
    actor.must(Right.SEE)
    looked = {one.record.pk: one for one in seen}
    lines = [_of_draft(draft, looked.get(draft.pk), now) for draft in drafts]
    busy = {line.field.pk for line in lines}
    shut = {one.record.field_id: one for one in closed if one.record.field_id not in busy}
    lines += [
        InHand(field=one.record.field, state=State.CLOSED, record=one.record, at=one.ends_at)
        for one in shut.values()
    ]
    free: list[Field] = []
    for of in dict.fromkeys((customer_id, None)):
        rows = fields_to_start(actor=actor, customer_id=of)
        free = free or list(rows.exclude(pk__in=[*busy, *shut])[:most_open])
    lines += [InHand(field=field, state=State.OPEN) for field in free]
    return sorted(lines, key=lambda line: [*State].index(line.state))


def _of_draft(draft: ApplicationRecord, seen: Examination | None, now: datetime) -> InHand:
    if draft.started_at is None:
        return InHand(field=draft.field, state=State.OPEN, record=draft)
    if is_running(draft, now=now):
        return InHand(field=draft.field, state=State.RUNNING, record=draft, at=draft.started_at)
    lacking = unsaid(seen) if seen else []
    blank = sum(one.severity is Severity.MISSING for one in lacking)
    return InHand(
        field=draft.field,
        state=State.LACKING if lacking else State.READY,
        record=draft,
        blank=blank,
        off=len(lacking) - blank,
    )


def fields_to_start(*, actor: Actor, customer_id: UUID | None = None) -> QuerySet[Field]:
    """Return the fields of a customer, or of all, those longest without work first."""
    actor.must(Right.SEE)
    rows: QuerySet[Field] = Field.objects.within(actor.business).select_related("customer")
    if customer_id:
        rows = rows.filter(customer_id=customer_id)
    work = ApplicationRecord.objects.filter(field=OuterRef("pk"), finished_at__isnull=False)
    last = work.order_by("-finished_at").values("finished_at")[:1]
    return rows.annotate(last_work=Subquery(last)).order_by(
        F("last_work").asc(nulls_first=True), "name", "id"
    )


def fields_to_choose(
    *, actor: Actor, closed: Iterable[Closed], now: datetime, most: int
) -> list[InHand]:
    """Return all fields, those longest without work first, and which run or are closed."""
    shut = {one.record.field_id: one for one in closed}
    runs = {
        one.field_id: one
        for one in book(actor=actor, state="draft").filter(started_at__gt=now - RUNS_FOR)
        if is_running(one, now=now)
    }
    found = []
    for field in fields_to_start(actor=actor)[:most]:
        state, record, at = State.OPEN, None, None
        if job := runs.get(field.pk):
            state, record, at = State.RUNNING, job, job.started_at
        elif end := shut.get(field.pk):
            state, record, at = State.CLOSED, end.record, end.ends_at
        found.append(InHand(field=field, state=state, record=record, at=at))
    return found


def last_jobs(*, actor: Actor, now: datetime, most: int) -> list[ApplicationRecord]:
    """Return the jobs that a next one may repeat, each rig and mix once: the actor's own first.

    One corrected since is left out for what corrected it.
    """
    actor.must(Right.SEE)
    rows = book(actor=actor).filter(rig__isnull=False, book_at__lte=now)
    rows = rows.exclude(amendment__signed_at__isnull=False)
    rows = rows.select_related("rig", "seal", "customer", "field").order_by("-book_at", "-id")
    mine = rows.filter(Q(created_by=actor.user) | Q(applicator__user=actor.user))
    found: dict[Any, ApplicationRecord] = {}
    for job in (*mine[:JOBS_LOOKED_AT], *rows[:JOBS_LOOKED_AT]):
        mix = tuple((line.product_id, str(line.planned_rate)) for line in job.products.all())
        found.setdefault((job.rig_id, mix, str(job.planned_carrier)), job)
    return list(found.values())[:most]
