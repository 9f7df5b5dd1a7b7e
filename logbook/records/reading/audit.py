"""What somebody from outside looks at: sealed records of a field and a year, the newest first."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet
from django.db.models.functions import Coalesce

from logbook.accounts.rights import Actor, Right
from logbook.records.models import ApplicationRecord
from logbook.records.reading.selectors import around, book
from logbook.records.reading.visible import visible


def sealed_work(
    *, actor: Actor, year: int | None = None, field_id: UUID | None = None
) -> QuerySet[ApplicationRecord]:
    """Return the sealed records open to the actor, the newest work first, narrowed.

    Args: year, of the local day at the field, as `ApplicationRecord.local_day` says it.
    """
    rows = book(actor=actor, state="signed", field_id=field_id)
    rows = rows.defer("amends__seal__text", "amendment__seal__text")
    if year is None:
        return rows
    rows = rows.filter(around(date(year, 1, 1), date(year, 12, 31)))
    rows = rows.alias(ended=Coalesce("finished_at", "started_at"))
    within = Q(pk__in=[])
    for name in rows.order_by().values_list("time_zone", flat=True).distinct():
        begin, end = (datetime(one, 1, 1, tzinfo=ZoneInfo(name)) for one in (year, year + 1))
        within |= Q(time_zone=name, ended__gte=begin, ended__lt=end)
    return rows.filter(within)


def fields_worked(*, actor: Actor) -> list[tuple[UUID, str]]:
    """Return id and name, with the customer's, of every field with a record open to the actor."""
    actor.must(Right.READ)
    rows: Any = ApplicationRecord.objects.filter(
        visible(actor), signed_at__isnull=False, field__isnull=False
    )
    found = rows.order_by("field__name", "customer__name").values_list(
        "field_id", "field__name", "customer__name"
    )
    return [(pk, f"{name}, {customer}") for pk, name, customer in found.distinct()]


def open_among(*, actor: Actor, record_ids: list[UUID]) -> set[UUID]:
    """Return those of the records that are open to the actor."""
    actor.must(Right.READ)
    rows = ApplicationRecord.objects.filter(visible(actor), pk__in=record_ids)
    return set(rows.values_list("pk", flat=True))
