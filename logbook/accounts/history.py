"""What became of the shelf, read again; `tenancy.history` writes it."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from logbook.accounts.models import ShelfChange
from logbook.accounts.rights import Actor, Right


def changes(*, actor: Actor, of: Any = None) -> QuerySet[ShelfChange]:
    """Return the changes of one row of the shelf with what hangs on it, or of all; the last first.

    Args: of, the id of the row, which may be gone, or that of the business itself.
    """
    actor.must(Right.SEE)
    rows: QuerySet[ShelfChange] = ShelfChange.objects.within(actor.business).select_related("by")
    if of is not None:
        rows = rows.filter(of=str(of))
    return rows.order_by("-created_at", "-id")
