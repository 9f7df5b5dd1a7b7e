"""Which records an actor may see: the one place, for pages, API, papers and files alike."""

from __future__ import annotations

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from logbook.accounts.rights import Actor
from logbook.errors.exceptions import NotThere
from logbook.records.models import ApplicationRecord


def visible(actor: Actor, *, via: str = "") -> Q:
    """Return the condition that a record is of the actor's business and open to the actor.

    Members see every record, drafts too. A guest sees sealed records inside the scope of the grant
    by which it acts: by the columns of the record, which are frozen with its seal.
    Args: via, the way from the row asked for to its record: "", "record__".
    """
    condition = Q(**{f"{via}business": actor.business})
    if actor.grant is None:
        return condition
    scope = actor.grant.scope
    condition &= Q(**{f"{via}signed_at__isnull": False})
    if not scope.every_customer:
        condition &= Q(**{f"{via}customer__in": scope.customer_ids})
    if scope.field_ids:
        condition &= Q(**{f"{via}field__in": scope.field_ids})
    if scope.started_from:
        condition &= Q(**{f"{via}started_at__gte": scope.started_from})
    if scope.started_before:
        condition &= Q(**{f"{via}started_at__lt": scope.started_before})
    return condition


def the_one(rows: QuerySet[ApplicationRecord]) -> ApplicationRecord:
    """Return the record that a query by id finds.

    Asked for without an order: Django sets an order up anew against every column of the row, which
    costs more than the reading does.
    Raises: NotThere if there is none.
    """
    try:
        return rows.get()
    except ApplicationRecord.DoesNotExist:
        raise NotThere(_("There is no such record.")) from None
