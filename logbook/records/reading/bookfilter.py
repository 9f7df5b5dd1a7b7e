"""How the book is narrowed and sorted: what can be asked, and the rows that fit.

Pages, API, files and print ask the same things under the same names. Whatever is asked, a page of a
million records has to come as fast as one of a hundred. So what is asked by a name, a product or a
flag is looked up first: where few records fit, they are taken by their ids; where many do, a walk
through the book in its order meets enough of them soon.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import chain
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _

from logbook.accounts.models import Person
from logbook.accounts.rights import Actor, Right
from logbook.catalog.models import Customer, Field, Product, Rig
from logbook.errors.exceptions import RefusedInput
from logbook.facts.messages import gettext_noop
from logbook.localization.locale import format_day, translate_word
from logbook.pagination import Key
from logbook.records.models import ApplicationRecord, ProductLine, Seal, SealedName
from logbook.records.reading.examine import lacking_words
from logbook.records.reading.visible import visible
from logbook.validators import FIRST_YEAR, LAST_YEAR

STATES = (
    gettext_noop("draft"),
    gettext_noop("signed"),
    gettext_noop("superseded"),
    gettext_noop("aside"),
)
WHOLE = "whole"
"""The state that asks for the drafts set aside too; every other but "aside" leaves them out."""

FLAGS = ("breach", "mismatch", "missing", "unexplained", "finding", "clean")
"""By what the seal counts: at least one breach, mismatch, missing fact, finding about which nothing
was said, any finding, no finding. "unexplained" finds drafts, too: those of work begun with a
finding that has to be explained before signing and is not."""

NAMED = (
    gettext_noop("state"),
    gettext_noop("year"),
    gettext_noop("flag"),
    gettext_noop("sort"),
    gettext_noop("from"),
    gettext_noop("to"),
)
"""Other names that an address uses, as a refusal has them."""

_PLACE: tuple[Key, ...] = (("book_at", datetime), ("id", UUID))
SORTS: dict[str, tuple[Key, ...]] = {
    "day": _PLACE,
    "number": (("seal__number", int),),
    "field": (("field__name", str), ("field_id", UUID), *_PLACE),
    "customer": (("customer__name", str), ("customer_id", UUID), *_PLACE),
}
"""The columns behind each order. By number there are signed records alone, and by field or customer
those that name one: a record without has no place in that order. The order of names is that of the
shelf today: records of one field stand together whatever it was called when they were sealed."""

LONGEST_SEARCH = 200

FEW = 5_000
"""So many records are taken by their ids."""

MAX_DRAFTS = 100
"""So many drafts are looked at with all checks for their findings: no row holds what is found."""

MAX_NAMES = 1_000
"""So many names that a search finds are taken by their ids."""


@dataclass(frozen=True, kw_only=True)
class BookFilter:
    """What is asked of the book; what is blank narrows nothing.

    Attributes: search, in names of field, customer and product, as sealed or as on the shelf today,
    or a record's number; days, local at the field, of the start of the work, both counted; sort,
    one of `SORTS`, after a minus the other way round.
    """

    state: str = ""
    search: str = ""
    customer_id: UUID | None = None
    field_id: UUID | None = None
    product_id: UUID | None = None
    applicator_id: UUID | None = None
    rig_id: UUID | None = None
    year: int | None = None
    day_from: date | None = None
    day_to: date | None = None
    flag: str = ""
    sort: str = "-day"

    @property
    def keys(self) -> tuple[Key, ...]:
        """The columns of the order."""
        return SORTS[self.sort.removeprefix("-")]

    @property
    def descending(self) -> bool:
        """Whether the order goes down."""
        return self.sort.startswith("-")

    @property
    def narrows(self) -> bool:
        """Whether anything but an order is asked."""
        return self != BookFilter(sort=self.sort)

    def days(self) -> tuple[date | None, date | None]:
        """Return the first and the last day that are asked for, the year's among them."""
        first, last = self.day_from, self.day_to
        if self.year is not None:
            first = max(first or date.min, date(self.year, 1, 1))
            last = min(last or date.max, date(self.year, 12, 31))
        return first, last


IDS = (
    gettext_noop("customer"),
    gettext_noop("field"),
    gettext_noop("product"),
    gettext_noop("applicator"),
    gettext_noop("rig"),
)
"""What is asked by the id of a row."""


def read_filter(query: Mapping[str, str]) -> BookFilter:
    """Return what an address asks of the book, by the names that every address uses.

    Raises: RefusedInput naming each that cannot be read, its value and what is allowed.
    """
    errors: dict[str, list[str]] = {}

    def read(name: str, made: Callable[[str], Any], allowed: str) -> Any:
        text = query.get(name, "").strip()
        try:
            return made(text) if text else None
        except ValueError:
            shown = text if len(text) <= 60 else f"{text[:60]}…"
            said = _("“%(value)s” is not taken for %(name)s; %(allowed)s.")
            errors[name] = [
                said % {"value": shown, "name": translate_word(name), "allowed": allowed}
            ]
            return None

    one_of = _("allowed are %(words)s")
    a_day = _("write a day like %(day)s, from %(first)s to %(last)s") % {
        "day": "2026-06-12",
        "first": FIRST_YEAR,
        "last": LAST_YEAR,
    }
    orders = [sign + name for name in SORTS for sign in ("", "-")]
    ids = {f"{name}_id": read(name, uuid.UUID, _("choose one of the list")) for name in IDS}
    found = BookFilter(
        state=read("state", _among(STATES), one_of % {"words": ", ".join(STATES)}) or "",
        flag=read("flag", _among(FLAGS), one_of % {"words": ", ".join(FLAGS)}) or "",
        sort=read("sort", _among(orders), one_of % {"words": ", ".join(orders)}) or "-day",
        search=read(
            "q", _short, _("at most %(count)s characters are allowed") % {"count": LONGEST_SEARCH}
        )
        or "",
        year=read(
            "year",
            _year,
            _("write a year from %(first)s to %(last)s") % {"first": FIRST_YEAR, "last": LAST_YEAR},
        ),
        day_from=read("from", _day, a_day),
        day_to=read("to", _day, a_day),
        **ids,
    )
    if found.day_from and found.day_to and found.day_to < found.day_from:
        said = _("The last day, %(last)s, is before the first, %(first)s; give a later one.")
        errors["to"] = [
            said % {"last": format_day(found.day_to), "first": format_day(found.day_from)}
        ]
    if errors:
        raise RefusedInput(errors)
    return found


def _among(words: Iterable[str]) -> Callable[[str], str]:
    allowed = set(words)

    def read(text: str) -> str:
        if text not in allowed:
            raise ValueError(text)
        return text

    return read


def _short(text: str) -> str:
    if len(text) > LONGEST_SEARCH:
        raise ValueError(text)
    return text


def _year(text: str) -> int:
    if not re.fullmatch(r"[0-9]{4}", text) or not FIRST_YEAR <= int(text) <= LAST_YEAR:
        raise ValueError(text)
    return int(text)


def _day(text: str) -> date:
    # The module reads more than one way to write a day; an address has one.
    if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
        raise ValueError(text)
    found = date.fromisoformat(text)
    _year(f"{found.year:04}")
    return found


# --- what can be chosen --------------------------------------------------------------------------

_MODELS = {
    "customer": Customer,
    "field": Field,
    "product": Product,
    "applicator": Person,
    "rig": Rig,
}
MAX_CHOICES = 1_000
"""So many of a kind can be chosen from a list; beyond them a search finds the name."""


def choices(*, actor: Actor) -> dict[str, list[tuple[UUID, str]]]:
    """Return the rows that the book can be narrowed by, by what they are asked as."""
    actor.must(Right.SEE)
    return {
        name: list(
            model.objects.within(actor.business)
            .order_by("name", "id")
            .values_list("pk", "name")[:MAX_CHOICES]
        )
        for name, model in _MODELS.items()
    }


def names_asked(*, actor: Actor, asked: BookFilter) -> dict[str, str]:
    """Return the names of the rows that are asked for by id.

    Raises: RefusedInput naming each that the business does not have.
    """
    actor.must(Right.READ)
    names, errors = {}, {}
    for name, model in _MODELS.items():
        if pk := getattr(asked, f"{name}_id"):
            rows = model.objects.within(actor.business).filter(pk=pk)
            if actor.grant is not None:
                # A guest learns no name but those of the records that are open to it.
                way = "products__product_id" if name == "product" else f"{name}_id"
                if not ApplicationRecord.objects.filter(visible(actor), **{way: pk}).exists():
                    rows = rows.none()
            if (found := rows.values_list("name", flat=True).first()) is None:
                said = _("“%(value)s” is not taken for %(name)s; choose one of the list.")
                errors[name] = [said % {"value": pk, "name": translate_word(name)}]
            else:
                names[name] = found
    if errors:
        raise RefusedInput(errors)
    return names


# --- which rows fit ------------------------------------------------------------------------------


def narrowed(
    rows: QuerySet[ApplicationRecord], *, business: Any, asked: BookFilter
) -> QuerySet[ApplicationRecord]:
    """Return the rows, of records of `business`, that fit what is asked, in its order.

    It looks up names, products and flags at once; the number of look-ups depends on what is asked,
    not on how much there is.

    Raises: RefusedInput naming the flag if more drafts fit than can be looked at.
    """
    for name in ("customer_id", "field_id", "applicator_id", "rig_id"):
        if value := getattr(asked, name):
            rows = rows.filter(**{name: value})
    found: list[Q] = []
    if asked.state == "superseded":
        found.append(_superseded(business))
    elif asked.state in ("draft", "signed"):
        rows = rows.filter(signed_at__isnull=asked.state == "draft")
    if asked.state != WHOLE:
        rows = rows.filter(set_aside_at__isnull=asked.state != "aside")
    if asked.product_id:
        found.append(_with_products(business, [asked.product_id]))
    if asked.flag and asked.flag != "unexplained":
        found.append(_flagged(business, asked.flag))
    if asked.search:
        found.append(_searched(business, asked.search))
    if any(asked.days()):
        found.append(_on_days(business, *asked.days()))
    for condition in found:
        rows = rows.filter(condition)
    if asked.flag == "unexplained":
        flagged = _flagged(business, asked.flag)
        if asked.state != "signed":
            # Drafts are looked at one by one, so only those that fit all else.
            flagged |= _unexplained_drafts(rows)
        rows = rows.filter(flagged)
    if asked.sort.endswith("number"):
        # Message of the seal, too: its own index is then walked in order.
        rows = rows.filter(seal__business=business)
    elif asked.sort.endswith(("field", "customer")):
        name = asked.sort.removeprefix("-")
        rows = rows.filter(**{f"{name}__business": business})
    sign = "-" if asked.descending else ""
    return rows.order_by(*(sign + name for name, _ in asked.keys))


def _few_or(many: Q, *sources: QuerySet[Any]) -> Q:
    """Return the records that the sources give by id, or if they are not few, those of `many`."""
    ids = set(chain.from_iterable(source[: FEW + 1] for source in sources))
    return Q(pk__in=ids) if len(ids) <= FEW else many


def _superseded(business: Any) -> Q:
    amendments = ApplicationRecord.objects.within(business).filter(
        amends__isnull=False, signed_at__isnull=False
    )
    many = Exists(ApplicationRecord.objects.filter(amends=OuterRef("pk"), signed_at__isnull=False))
    return _few_or(Q(many), amendments.values_list("amends_id", flat=True))


def _flagged(business: Any, flag: str) -> Q:
    counted = {
        "breach": {"breaches__gt": 0},
        "mismatch": {"mismatches__gt": 0},
        "missing": {"missing__gt": 0},
        "unexplained": {"unexplained__gt": 0},
        "finding": {"findings__gt": 0},
        "clean": {"findings": 0},
    }[flag]
    seals = Seal.objects.within(business).filter(**counted)
    many = Q(**{f"seal__{name}": value for name, value in counted.items()})
    return _few_or(many, seals.values_list("record_id", flat=True))


def _unexplained_drafts(rows: QuerySet[Any, Any]) -> Q:
    begun = rows.filter(signed_at__isnull=True, started_at__isnull=False)
    ids = _ids(begun)[: MAX_DRAFTS + 1]
    if len(ids) > MAX_DRAFTS:
        said = _(
            "More than %(most)s drafts fit, and each would be looked at with all checks for "
            "“unexplained”; narrow by customer, field or days, or to the signed records."
        )
        raise RefusedInput({"flag": [said % {"most": MAX_DRAFTS}]})
    drafts = ApplicationRecord.objects.filter(pk__in=list(ids))
    return Q(pk__in=[draft.pk for draft, _count in lacking_words(drafts)])


def _lines_of(product_ids: Iterable[UUID], **further: Any) -> QuerySet[Any]:
    return ProductLine.objects.filter(product_id__in=product_ids, **further).order_by()


def _contains(product_ids: Iterable[UUID], **further: Any) -> Exists:
    return Exists(_lines_of(product_ids, **further).filter(record_id=OuterRef("pk")))


def _with_products(business: Any, product_ids: Iterable[UUID]) -> Q:
    # A product of another business would be looked through in vain.
    known = list(_ids(Product.objects.within(business).filter(pk__in=product_ids)))
    return _few_or(Q(_contains(known)), _lines_of(known).values_list("record_id", flat=True))


def _ids(rows: QuerySet[Any]) -> QuerySet[Any]:
    return rows.order_by().values_list("pk", flat=True)


def _searched(business: Any, search: str) -> Q:
    """Return the records whose field, customer or product has `search` in its name, the one sealed
    or that of today, or the one of that number.

    The shelf and the names that were sealed are few and searched first; a million records are not.
    """
    names = [
        _ids(model.objects.within(business).filter(name__icontains=search))
        for model in (Field, Customer, Product)
    ]
    other = SealedName.objects.within(business).filter(name__icontains=search)
    for found in names:
        other = other.exclude(of__in=found)
    names.append(other.order_by().values_list("of", flat=True))
    fields, customers, products, renamed = ([*found[: MAX_NAMES + 1]] for found in names)
    wide = Q(field_id__in=names[0]) | Q(customer_id__in=names[1]) | Q(_contains(names[2]))
    wide |= Q(field_id__in=names[3], sealed_field__icontains=search)
    wide |= Q(customer_id__in=names[3], sealed_customer__icontains=search)
    wide |= Q(_contains(names[3], sealed_product__icontains=search))
    number = int(search) if re.fullmatch(r"[0-9]{1,9}", search) else None
    numbered = Seal.objects.within(business).filter(number=number, purged_at__isnull=True)
    if number is not None:
        wide |= Q(seal__number=number)
    if max(map(len, (fields, customers, products, renamed))) > MAX_NAMES:
        return wide
    records = ApplicationRecord.objects
    sources = [
        _ids(records.filter(field_id__in=fields)),
        _ids(records.filter(customer_id__in=customers)),
        _lines_of(products).values_list("record_id", flat=True),
    ]
    if renamed:
        with_it = _lines_of(renamed, sealed_product__icontains=search)
        sources += [
            _ids(records.filter(field_id__in=renamed, sealed_field__icontains=search)),
            _ids(records.filter(customer_id__in=renamed, sealed_customer__icontains=search)),
            with_it.values_list("record_id", flat=True),
        ]
    if number is not None:
        sources.append(numbered.values_list("record_id", flat=True))
    return _few_or(wide, *sources)


# Clocks of the world stand between UTC-12 and UTC+14.
_EASTERNMOST, _WESTERNMOST = timedelta(hours=14), timedelta(hours=12)


def _on_days(business: Any, first: date | None, last: date | None) -> Q:
    """Return the records whose work began on these days by the clock at the field.

    Midnight is another instant at every field; which clocks there are matters only for the work
    begun while it was midnight somewhere.
    """
    condition = Q(started_at__isnull=False) | Q(finished_at__isnull=False)
    # Beyond these days no instant can be reckoned, and nobody sprayed.
    first = first if first and first.year > 1 else None
    last = last if last and last.year < date.max.year else None
    if first:
        condition &= _begun(business, first, later=True)
    if last:
        condition &= _begun(business, last + timedelta(days=1), later=False)
    return condition


def _begun(business: Any, day: date, *, later: bool) -> Q:
    """Return the records begun at or after (or else before) the local midnight that opens a day."""
    midnight = datetime.combine(day, time(), UTC)
    opens, over = midnight - _EASTERNMOST, midnight + _WESTERNMOST
    zones = (
        ApplicationRecord.objects.within(business)
        .filter(book_at__gte=opens, book_at__lte=over)
        .order_by()
        .values_list("time_zone", flat=True)
        .distinct()
    )
    # The place in the book is the start of the work (its end where no start is said), and has the
    # index.
    outside = Q(book_at__gt=over) if later else Q(book_at__lt=opens)
    within = Q(book_at__gte=opens) if later else Q(book_at__lte=over)
    for zone in zones:
        local = datetime.combine(day, time(), ZoneInfo(zone)).astimezone(UTC)
        begun = Q(book_at__gte=local) if later else Q(book_at__lt=local)
        outside |= Q(time_zone=zone) & begun
    return within & outside
