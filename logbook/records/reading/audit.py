"""What somebody from outside looks at: sealed records of a field and a year, the newest first."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from logbook.accounts.rights import Actor, Right
from logbook.records.models import ApplicationRecord
from logbook.records.reading.selectors import book
from logbook.records.reading.visible import visible


def sealed_work(
    *, actor: Actor, year: int | None = None, field_id: UUID | None = None
) -> QuerySet[ApplicationRecord]:
    """Return the sealed records open to the actor, the newest work first, narrowed.

    Args: year, of the day of the work.
    """
    rows = book(actor=actor, state="signed", field_id=field_id, year=year)
    return rows.defer("amends__seal__text", "amendment__seal__text")


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
