"""Which records belong together: a record with its amendments, and with the rest of its job."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from logbook.records.models import (
    ApplicationRecord,
)


def together(record: ApplicationRecord) -> list[ApplicationRecord]:
    """Return the record, what it amends or continues, and what amends or continues it, and on."""
    return linked_records([record], TOGETHER, _rows_of(record))


def versions(record: ApplicationRecord) -> list[ApplicationRecord]:
    """Return the record with all it amends and all that amend it."""
    return linked_records([record], VERSIONS, _rows_of(record))


TOGETHER, VERSIONS = ("amends_id", "continues_id"), ("amends_id",)


def _rows_of(record: ApplicationRecord) -> QuerySet[ApplicationRecord]:
    rows: QuerySet[ApplicationRecord] = ApplicationRecord.objects.within(record.business_id)
    return rows


def linked_records(
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
