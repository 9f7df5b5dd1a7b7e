"""Signed records out, as a stream: a log of any length needs the memory of one chunk."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db.models import Prefetch, QuerySet
from django.utils.translation import gettext as _

from logbook.accounts.rights import Actor, Right
from logbook.errors.exceptions import Refused
from logbook.localization import locale
from logbook.localization.locale import plain_english
from logbook.records.exchange import columns
from logbook.records.exchange.layout import FORMAT, VERSION, Json, application_of, rates_used
from logbook.records.exchange.strict import compact
from logbook.records.models import LoadUse, Seal
from logbook.records.reading.selectors import seals_of

AT_ONCE = 200
"""How many seals are fetched from the database at once."""

BYTE_ORDER_MARK = "\ufeff"
"""Before a CSV: without it the common spreadsheet takes UTF-8 for another code and spoils "°"."""


@dataclass(frozen=True, kw_only=True)
class Selection:
    """Which signed records; days are those of the start at the field, both included."""

    day_from: date | None = None
    day_to: date | None = None
    customer_id: UUID | None = None
    field_id: UUID | None = None

    def __post_init__(self) -> None:
        if self.day_from and self.day_to and self.day_to < self.day_from:
            raise Refused(
                _("The period ends on %(last)s, before it begins on %(first)s.")
                % {
                    "last": locale.format_day(self.day_to),
                    "first": locale.format_day(self.day_from),
                }
            )


def json_pieces(
    *, actor: Actor, selection: Selection, now: datetime, schema_url: str
) -> Iterator[str]:
    """Return the JSON file, piece by piece, in the order of the seals.

    Args: schema_url: where the schema is served; a reader does not have to fetch it.
    Raises: NotAllowed, before the first piece.
    """
    actor.must(Right.SEE)
    head = {
        "$schema": schema_url,
        "format": FORMAT,
        "version": VERSION,
        "software": f"spray-logbook {settings.SOFTWARE_VERSION}",
        "exported_at": now.isoformat(),
        "selection": {
            "day_from": selection.day_from and selection.day_from.isoformat(),
            "day_to": selection.day_to and selection.day_to.isoformat(),
            "customer": selection.customer_id and str(selection.customer_id),
            "field": selection.field_id and str(selection.field_id),
        },
    }
    return _json(head, _seals(actor, selection))


def _json(head: Json, seals: Iterator[Seal]) -> Iterator[str]:
    yield f'{compact(head)[:-1]},"records":['
    for place, seal in enumerate(seals):
        yield f"{',' if place else ''}\n{compact(record_of(seal))}"
    yield "\n]}\n"


def csv_pieces(*, actor: Actor, selection: Selection) -> Iterator[str]:
    """Return the CSV file, row by row: `columns.COLUMNS`, one row per record and product.

    Raises: NotAllowed, before the first piece.
    """
    actor.must(Right.SEE)
    return _csv(_seals(actor, selection))


def _csv(seals: Iterator[Seal]) -> Iterator[str]:
    # A writer onto something whose `write` gives the line back, so that each can be handed on.
    line = csv.writer(_Echo(), lineterminator="\r\n").writerow
    yield BYTE_ORDER_MARK + line(column.name for column in columns.COLUMNS)
    for seal in seals:
        for row in columns.rows_of(record_of(seal)):
            yield line(row)


class _Echo:
    def write(self, line: str) -> str:
        return line


@plain_english()
def record_of(seal: Seal) -> Json:
    """Return one record of the file from a seal fetched by `_seals`."""
    stated: Json = json.loads(seal.text)
    facts = stated.pop("facts")
    return {
        "id": facts["record"]["id"],
        "application": application_of(facts, rates_used(facts, stated)),
        "facts": facts,
        "loads": [_load(use) for use in seal.record.load_uses.all()],
        "seal": {
            "stated": stated,
            "leaf": seal.leaf,
            "previous": seal.previous,
            "link": seal.link,
        },
        "superseded_by": seal.record.superseded_by,
    }


def _load(use: LoadUse) -> Json:
    # An amendment has a copy of its load; for the other fields of that load it is the same one.
    load = use.load
    return {"id": str(load.copy_of_id or load.id), "entered_at": load.created_at.isoformat()}


def _seals(actor: Actor, selection: Selection) -> Iterator[Seal]:
    for seal in _query(actor, selection).iterator(chunk_size=AT_ONCE):
        day = seal.record.day
        after = selection.day_from is None or (day is not None and day >= selection.day_from)
        before = selection.day_to is None or (day is not None and day <= selection.day_to)
        if after and before:
            yield seal


def _query(actor: Actor, selection: Selection) -> QuerySet[Seal]:
    rows: QuerySet[Any] = seals_of(actor).filter(purged_at__isnull=True)
    # The day at the field is at most one off the day in UTC; the rest is read record by record.
    if selection.day_from:
        earliest = selection.day_from - timedelta(days=1)
        rows = rows.filter(record__started_at__date__gte=earliest)
    if selection.day_to:
        latest = selection.day_to + timedelta(days=1)
        rows = rows.filter(record__started_at__date__lte=latest)
    if selection.customer_id:
        rows = rows.filter(record__customer_id=selection.customer_id)
    if selection.field_id:
        rows = rows.filter(record__field_id=selection.field_id)
    return (
        rows.select_related("record__amendment__seal")
        .defer("record__amendment__seal__text")
        .prefetch_related(Prefetch("record__load_uses", LoadUse.objects.select_related("load")))
        .order_by("number")
    )
