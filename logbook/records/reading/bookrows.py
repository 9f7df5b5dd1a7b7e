"""The book as lines: of a page, and of a file for a spreadsheet program.

Lines are read as columns, not as rows of the database with all that hangs on them: a page of fifty
takes two queries whatever it shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from functools import cache
from itertools import zip_longest
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from logbook.accounts.rights import Actor, Right
from logbook.facts.days import days_of_work
from logbook.facts.quantity import Answer, Quantity
from logbook.records.models import ApplicationRecord, ProductLine
from logbook.records.names import SHELF, Named, now_called
from logbook.records.reading.bookfilter import BookFilter, narrowed
from logbook.records.reading.selectors import SeasonLine
from logbook.records.reading.visible import visible
from logbook.tables.files import Cell, in_parts

SHOWN = (
    *("id", "book_at", "started_at", "finished_at", "time_zone", "signed_at"),
    *("field__name", "customer__name"),
    *("sealed_field", "sealed_customer"),
    *("seal__number", "seal__breaches", "seal__findings", "amends_id", "amends__seal__number"),
    *("amendment__signed_at", "amendment__seal__number", "set_aside_at"),
)
"""What a line of the page reads."""

TOLD = (
    *("id", "book_at", "revision", "signed_at", "set_aside_at", "seal__number", "customer_id"),
    *("customer__name", "field_id", "field__name", "planting__crop", "started_at", "finished_at"),
    *("time_zone", "amends_id", "amendment__signed_at", "amendment__seal__number", "created_at"),
    *("sealed_customer", "sealed_field", "sealed_crop"),
)
"""What a line of the API reads."""


def lines(
    *, actor: Actor, asked: BookFilter, columns: tuple[str, ...] = SHOWN
) -> QuerySet[Any, Any]:
    """Return the lines of the book that fit what is asked, as dicts, in its order.

    Args: columns, what is read besides the columns of the order.
    """
    actor.must(Right.READ)
    keys = (name for name, _ in asked.keys)
    rows = _of_all(tuple(dict.fromkeys((*columns, *keys)))).filter(visible(actor))
    return narrowed(rows, business=actor.business, asked=asked)


@cache
def _of_all(columns: tuple[str, ...]) -> QuerySet[Any, Any]:
    """Return the columns of every record, not read: which tables they join is found out once."""
    rows: QuerySet[Any, Any] = ApplicationRecord.objects.values(*columns)
    return rows


def state_of(line: dict[str, Any]) -> str:
    """Return what `ApplicationRecord.get_state` says of the record of a line."""
    if line["set_aside_at"]:
        return "set aside"
    return "signed" if line["signed_at"] else "draft"


def days_of(line: dict[str, Any]) -> tuple[date, ...]:
    """Return the first and the last local day of the work of a line: `days_of_work`."""
    return days_of_work(line["started_at"], line["finished_at"], ZoneInfo(line["time_zone"]))


def _clock(line: dict[str, Any], name: str) -> str:
    if line[name] is None:
        return ""
    return f"{line[name].astimezone(ZoneInfo(line['time_zone'])):%Y-%m-%d %H:%M}"


def named(line: dict[str, Any], what: str) -> Named:
    """Return what the record of a line calls one thing of `names.SHELF`."""
    return Named.of(line[f"sealed_{what}"], line[SHELF[what]])


def products_of(record_ids: Iterable[UUID], *columns: str) -> dict[UUID, list[tuple[Any, ...]]]:
    """Return the names, and further columns, of the products of records, in their order."""
    found: dict[UUID, list[tuple[Any, ...]]] = {}
    rows = ProductLine.objects.filter(record_id__in=list(record_ids)).order_by("position", "id")
    names = ("sealed_product", "product__name")
    for record_id, sealed, shelf, *rest in rows.values_list("record_id", *names, *columns):
        found.setdefault(record_id, []).append((Named.of(sealed, shelf), *rest))
    return found


# --- as a file -----------------------------------------------------------------------------------

HEAD = (
    *("number", "state", "corrects", "corrected by", "day", "started", "finished", "time zone"),
    *("customer", "field", "crop", "applicator", "rig", "purpose"),
    *("treated area", "treated area unit", "planned carrier", "planned carrier unit"),
    *("mix used", "mix used unit", "breaches", "mismatches", "missing facts", "findings"),
    "findings without explanation",
    *("product", "planned rate", "planned rate unit", "total used", "total used unit"),
    "now called",
)
"""One line a product; what is said of the record stands on each of its lines."""

COUNTED = ("breaches", "mismatches", "missing", "findings", "unexplained")
"""What a seal counts, in the order of the head."""

_FURTHER = (
    *("planting__crop", "applicator__name", "rig__name", "purpose"),
    *("treated_area", "planned_carrier", "mix_used"),
    *("sealed_crop", "sealed_applicator", "sealed_rig"),
    *(f"seal__{name}" for name in COUNTED),
)
AT_ONCE = 500
"""So many records are held at a time."""


def table(*, actor: Actor, asked: BookFilter) -> Iterator[tuple[Cell, ...]]:
    """Return the lines of the file, read as they are asked for; numbers as they were entered.

    Names are those that were sealed, as on the page and on paper; a draft has those of the shelf.
    """
    rows = lines(actor=actor, asked=asked, columns=(*SHOWN, *_FURTHER))
    return _table(rows)


def _table(rows: QuerySet[Any, Any]) -> Iterator[tuple[Cell, ...]]:
    for some in in_parts(rows.iterator(chunk_size=AT_ONCE), AT_ONCE):
        products = products_of((line["id"] for line in some), "planned_rate", "total_used")
        for line in some:
            said = tuple(_record(line))
            names = [(what, named(line, what)) for what in SHELF]
            for product, rate, total in products.get(line["id"], [(Named(""), None, None)]):
                now = _now_called(now_called([*names, ("product", product)]))
                yield (*said, product.name, *_answer(rate), *_answer(total), now)


def _now_called(found: Iterable[Mapping[str, str]]) -> str:
    return "; ".join(f"{one['what']}: {one['now']}" for one in found)


def _record(line: dict[str, Any]) -> Iterator[Cell]:
    yield line["seal__number"]
    yield state_of(line)
    yield line["amends__seal__number"]
    yield line["amendment__seal__number"] if line["amendment__signed_at"] else None
    yield next((day.isoformat() for day in days_of(line)), "")
    yield _clock(line, "started_at")
    yield _clock(line, "finished_at")
    yield line["time_zone"]
    for what in SHELF:
        yield named(line, what).name
    yield line["purpose"]
    for name in ("treated_area", "planned_carrier", "mix_used"):
        yield from _answer(line[name])
    for name in COUNTED:
        yield line[f"seal__{name}"]


def _answer(answer: Answer) -> tuple[Cell, Cell]:
    """Return an answer's value and unit; a word stands where the value would."""
    if isinstance(answer, Quantity):
        return answer.value, answer.unit
    return (None if answer is None else str(answer)), None


SEASON_HEAD = (
    *("customer", "field", "crop", "product", "applications", "last on"),
    *("total used", "total used unit", "no entry before", "no harvest before", "time zone"),
    *("now called", "rates used, summed", "rates used unit", "rates known from"),
)
"""One line a unit of a total: sums as entered are kept apart by their unit."""


def season_table(season: Iterable[SeasonLine]) -> Iterator[tuple[Cell, ...]]:
    """Return the totals of a season as lines of a file."""
    for one in season:
        names = (one.customer.name, one.field.name, one.crop.name, one.product.name)
        said: tuple[Cell, ...] = (*names, one.applications, one.last_on)
        ends = (one.local_reentry, one.harvest_from, one.time_zone, _now_called(one.now_called))
        known_from = "; ".join(one.used_from)
        for total, used in zip_longest(one.total or (None,), one.used):
            yield (*said, *_answer(total), *ends, *_answer(used), known_from)
