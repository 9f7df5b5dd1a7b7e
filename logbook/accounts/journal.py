"""The journal: a chain, beside that of the seals, of what must not go or change unnoticed either.

A grant, a visit, a notice, a hold, a purge and a seal each have an entry that states their row,
written in the same transaction. Every seal names the end of the journal, so whoever rewrites an
entry has to rewrite all seals since, and the codes of the papers printed from them.

It is a chain of its own, because every request of a guest is written down and must not wait for
somebody's signature: its row is locked last in a transaction, for three statements.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.accounts.models import Journal, JournalEntry
from logbook.errors.exceptions import Refused
from logbook.facts.messages import gettext_noop
from logbook.hashing import canonical, leaf_hash, link_hash

BEGIN = "begin"
"""The kind of the first entry. It says how many entries after it are of rows that stood before the
journal was begun: of those only the journal knows when they were taken in."""

MAX_BEHIND = timedelta(minutes=2)
"""So far may a time lie before the one written down last: it waited for the lock, or a clock was
set. Common practice, no source."""


def in_order(now: datetime, *, after: datetime | None) -> datetime:
    """Return `now`, or `after` where that is a little later: times of a chain never decrease.

    A time that waited for the lock is put in its place. A clock that was set back is refused:
    what is sealed with a wrong time cannot be taken back.

    Raises: Refused if `now` is more than `MAX_BEHIND` before `after`.
    """
    if after is None or now >= after:
        return now
    if after - now > MAX_BEHIND:
        raise Refused(
            _(
                "The clock of the server says %(now)s UTC, but something was signed or written "
                "down at %(last)s UTC already. Let the clock be set right, then try again."
            )
            % {
                "now": f"{now.astimezone(UTC):%Y-%m-%d %H:%M:%S}",
                "last": f"{after.astimezone(UTC):%Y-%m-%d %H:%M:%S}",
            }
        )
    return after


@dataclass(frozen=True, kw_only=True)
class Kind:
    """Rows of one model, and how an entry states them."""

    name: str
    model: str
    leaves_out: tuple[str, ...] = ()
    filled_in: tuple[str, ...] = ()  # columns that a deed of later fills in, with its own entry
    # Of a row that may be purged only these are legible; a digest stands for all its columns.
    legible: tuple[str, ...] = ()
    lists: Mapping[str, str] | None = None  # related rows: name of the relation -> column

    def states(self, row: Any, *, columns_then: Iterable[str] = ()) -> dict[str, Any]:
        """Return what an entry states of `row`, as plain JSON.

        Args: columns_then, those of which an older entry has a digest; one may have come since.
        """
        names = columns_then or [one.attname for one in row._meta.concrete_fields]
        columns = {one: plain(getattr(row, one)) for one in names if one not in self.leaves_out}
        for relation, column in (self.lists or {}).items():
            columns[relation] = sorted(
                str(getattr(one, column)) for one in getattr(row, relation).all()
            )
        if not self.legible:
            return {"row": columns}
        return {
            "row": {name: columns[name] for name in self.legible},
            "columns": sorted(columns),
            "digest": leaf_hash(canonical(columns)),
        }


GRANT = Kind(
    name=gettext_noop("grant"),
    model="accounts.Grant",
    filled_in=("withdrawn_at", "withdrawn_by_id"),
    lists={"customers": "customer_id", "fields": "field_id"},
)
VISIT = Kind(name=gettext_noop("visit"), model="accounts.Visit")


def plain(value: Any) -> Any:
    """Return a column's value as JSON has it: ids as text, instants in UTC, days in ISO 8601."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    return str(value) if isinstance(value, (UUID, str)) else value


def append(kind: Kind, row: Any, **also: Any) -> None:
    """Write down what `row` says, in the transaction that wrote it, as its last deed.

    The time is that of the clock, not one of the caller's, which may be of the past.

    Args: also, what else the entry states.
    Raises: Refused if the clock was set back.
    """
    head = _locked(row.business_id)
    stated = {**kind.states(row), **also}
    _write(head, kind=kind.name, row_id=row.pk, stated=stated)


def end_of(business: Any) -> dict[str, Any]:
    """Return the number and link of the last entry, as a seal names it; 0 where there is none."""
    head = Journal.objects.filter(business=business).first() or Journal()
    return {"number": head.last_number, "link": head.last_link}


def entry(
    *, number: int, previous: str, kind: str, at: datetime, stated: dict[str, Any]
) -> dict[str, Any]:
    """Return the columns of the entry that follows the link `previous`."""
    text = canonical({"kind": kind, "number": number, "at": plain(at), **stated})
    leaf = leaf_hash(text)
    link = link_hash(previous, leaf)
    columns = {"number": number, "kind": kind, "text": text, "leaf": leaf}
    return {**columns, "previous": previous, "link": link}


def _locked(business_id: Any) -> Journal:
    """Return the end of the journal, locked; a journal that is not there is begun.

    No row that stands already is taken in then: a migration did that once, and a row without an
    entry is a fault.
    """
    heads = Journal.objects.select_for_update().filter(business_id=business_id)
    head = heads.first()
    if head is None:
        Journal.objects.get_or_create(business_id=business_id)
        head = heads.get()
    if head.last_number == 0:
        _write(head, kind=BEGIN, row_id=None, stated={"stood": 0})
    return head


def _write(head: Journal, *, kind: str, row_id: UUID | None, stated: dict[str, Any]) -> None:
    number, at = head.last_number + 1, in_order(timezone.now(), after=head.last_at)
    columns = entry(number=number, previous=head.last_link, kind=kind, at=at, stated=stated)
    JournalEntry.objects.create(business_id=head.business_id, row_id=row_id, **columns)
    head.last_number, head.last_link, head.last_at = number, columns["link"], at
    head.save(update_fields=["last_number", "last_link", "last_at"])
