"""Every list, search and total of the book. Superseded records count as their amendments say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import F, Prefetch, Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from calc.dose import reentry_end
from logbook.accounts.rights import Actor, Right
from logbook.catalog.models import Product
from logbook.checks.used import used_of
from logbook.errors.exceptions import NotThere, RefusedInput
from logbook.facts.intervals import intervals
from logbook.facts.messages import msg, term, with_unit
from logbook.facts.quantity import Quantity
from logbook.facts.record import Snapshot
from logbook.facts.used import BASIS_WORDS, Basis, RateUsed
from logbook.facts.wording import three
from logbook.records.models import ApplicationRecord, Load, LoadUse, Seal
from logbook.records.names import SHELF, Named, now_called
from logbook.records.reading.bookfilter import BookFilter, narrowed
from logbook.records.reading.visible import the_one, visible
from logbook.records.sealing.pictures import as_kept
from logbook.records.sealing.sealed import Rates, facts_and_rates, facts_of


def book(
    *, actor: Actor, asked: BookFilter | None = None, **narrow: Any
) -> QuerySet[ApplicationRecord]:
    """Return the records of the business, the newest work first, narrowed.

    Args: asked, or its attributes one by one: `book(actor=actor, state="draft")`.
    """
    return narrowed(
        records_seen(actor=actor), business=actor.business, asked=replace(asked or ALL, **narrow)
    ).prefetch_related("products__product")


ALL = BookFilter()


def records_seen(*, actor: Actor) -> QuerySet[ApplicationRecord]:
    """Return every record that the actor may see, with what a line of the book shows of others."""
    actor.must(Right.READ)
    return ApplicationRecord.objects.filter(visible(actor)).select_related(
        "customer", "field", "planting", "seal", "amends__seal", "amendment__seal"
    )


def counted(*, actor: Actor, asked: BookFilter, most: int) -> tuple[int, int]:
    """Return how many signed records and how many drafts fit, each counted to one above `most`."""
    rows = book(actor=actor, asked=replace(asked, sort="-day")).order_by()
    signed, drafts = (
        rows.filter(signed_at__isnull=draft).values("pk")[: most + 1].count()
        for draft in (False, True)
    )
    return signed, drafts


def sealed_part(
    *, actor: Actor, asked: BookFilter, first: int, count: int
) -> list[tuple[Seal, tuple[Seal, ...]]]:
    """Return some of the seals that fit, from the one after `first` on, in the order asked for;
    each with those that correct it, as `amendments_of` does.

    The number of queries depends on how often a record was corrected, not on how many there are.
    """
    signed = book(actor=actor, asked=asked).prefetch_related(None).filter(signed_at__isnull=False)
    ids = list(signed.values_list("pk", flat=True)[first : first + count])
    rows = Seal.objects.within(actor.business).filter(purged_at__isnull=True)
    seals = {seal.record_id: seal for seal in rows.filter(record_id__in=ids)}
    later: dict[UUID, Seal] = {}
    fresh = list(seals)
    while fresh:
        found = rows.filter(record__amends_id__in=fresh).select_related("record")
        step = {seal.record.amends_id: seal for seal in found}
        later |= step
        fresh = [seal.record_id for seal in step.values()]
    return [(seals[pk], tuple(_following(pk, later))) for pk in ids if pk in seals]


def _following(pk: UUID, later: dict[UUID, Seal]) -> Iterator[Seal]:
    while seal := later.get(pk):
        yield seal
        pk = seal.record_id


def seal_of(*, actor: Actor, record_id: UUID) -> Seal:
    """Return the seal of a signed record.

    Raises: Refused if there is no such record or it is a draft.
    """
    actor.must(Right.READ)
    seal: Seal | None = (
        seals_of(actor)
        .select_related("record__amendment__seal", "record__amends__seal")
        .filter(record_id=record_id)
        .first()
    )
    if seal is None:
        raise NotThere(_("There is no such signed record."))
    return seal


def seals_of(actor: Actor) -> QuerySet[Seal]:
    """Return the seals open to the actor; of those purged, which have no record, members' alone."""
    rows: QuerySet[Seal] = Seal.objects.within(actor.business)
    return rows.filter(visible(actor, via="record__")) if actor.grant else rows


def record_of_number(*, actor: Actor, number: str) -> UUID:
    """Return the record that is sealed under a number.

    Raises: RefusedInput naming the number if there is none, or it was purged.
    """
    actor.must(Right.READ)
    wanted = int(number) if number.isdecimal() and len(number) < 10 else 0
    seal = seals_of(actor).filter(number=wanted, purged_at__isnull=True)
    found = seal.values_list("record_id", flat=True).first()
    if found is None:
        raise RefusedInput(
            {"number": [_('There is no signed record no. "%(number)s".') % {"number": number}]}
        )
    return UUID(str(found))


def amendments_of(*, seal: Seal) -> tuple[Seal, ...]:
    """Return the seals that correct this one, in order: each amends the one before it."""
    found = []
    record = getattr(seal.record, "amendment", None)
    while record is not None and record.signed_at:
        found.append(record.seal)
        record = getattr(record, "amendment", None)
    return tuple(found)


RESUMED_WITHIN = timedelta(days=14)


def resumable(*, record: ApplicationRecord) -> QuerySet[ApplicationRecord]:
    """Return the records of the same field that this one may resume, the latest first.

    Jobs begun up to two weeks before this one (or now, while it has no start), and the one that it
    names already.
    """
    until = record.started_at or timezone.now()
    rows = ApplicationRecord.objects.within(record.business_id).select_related("seal")
    lately = Q(
        field_id=record.field_id, started_at__lt=until, started_at__gt=until - RESUMED_WITHIN
    )
    # Neither itself, nor what it corrects, nor what was corrected since.
    corrected = Q(pk=record.pk) | Q(amendment__signed_at__isnull=False)
    corrected |= Q(set_aside_at__isnull=False)
    if record.amends_id:
        corrected |= Q(pk=record.amends_id)
    fits = (lately & ~corrected) | Q(pk=record.continues_id)
    return rows.filter(fits).order_by("-started_at")


def tanks(*, actor: Actor, rig_id: UUID | None, about: datetime, own: Sequence[UUID]) -> list[Load]:
    """Return the loads that a record may name, with their products and the fields they went on.

    Those of the rig used within two days of `about`, to take more from; and before them its own,
    for an older one, or that of an amendment, is not among those.
    Args: own, the ids of the loads that the record names already, in its order.
    """
    near = LoadUse.objects.filter(
        record__business=actor.business,
        record__book_at__range=(about - timedelta(days=2), about + timedelta(days=2)),
        record__set_aside_at__isnull=True,
        load__rig=rig_id,
        load__copy_of__isnull=True,
    )
    ids = {*own, *near.order_by().values_list("load_id", flat=True)}
    uses = LoadUse.objects.select_related("record__field")
    found = Load.objects.within(actor.business).filter(pk__in=ids)
    places = {pk: place for place, pk in enumerate(own)}
    return sorted(
        found.prefetch_related("parts", Prefetch("uses", uses)),
        key=lambda load: places.get(load.pk, len(own)),
    )


@dataclass(frozen=True, kw_only=True)
class SeasonLine:
    """What one product came to on one field in a year."""

    customer: Named  # as sealed with the last application, like all names
    customer_id: str
    field: Named
    field_id: str
    crop: Named  # "" where none was said
    product: Named
    applications: int
    last_on: date
    total: tuple[Quantity, ...]  # as entered, one sum per unit
    used: tuple[Quantity, ...]  # the rates used, likewise, as if all were on the same ground
    used_from: tuple[str, ...]  # what the rates are known from, where not from a total
    reentry_ends: datetime | None
    harvest_from: date | None
    time_zone: str
    record_ids: tuple[UUID, ...]

    @property
    def now_called(self) -> list[dict[str, str]]:
        """What is called otherwise by now."""
        names = ("customer", "field", "crop", "product")
        return now_called((what, getattr(self, what)) for what in names)

    @property
    def used_shown(self) -> tuple[str, ...]:
        """The rates used, to three figures, as computed numbers deserve."""
        return tuple(with_unit(three(float(one.value)), one.unit) for one in self.used)

    @property
    def last_record_id(self) -> UUID:
        """The record of the last application."""
        return self.record_ids[-1]

    @property
    def local_reentry(self) -> str:
        """The end of the re-entry interval as the clock at the field shows it."""
        return at_field(self.reentry_ends, self.time_zone) if self.reentry_ends else ""


def at_field(instant: datetime, time_zone: str) -> str:
    """Return the instant as the clock in `time_zone` shows it, with the zone's short name."""
    return f"{instant.astimezone(ZoneInfo(time_zone)):%Y-%m-%d %H:%M %Z}"


def season(*, actor: Actor, year: int, customer_id: UUID | None = None) -> list[SeasonLine]:
    """Return the totals of a calendar year by customer, field and product, as the seals state.

    The day of a work is `Snapshot.local_day`, as for the law and the totals. A field that changed
    hands stands once for each customer. Totals are sums of the totals entered, unit by unit: a
    total is never derived from a rate.
    """
    actor.must(Right.READ)
    today = {f"{what}_now": F(f"record__{SHELF[what]}") for what in ("customer", "field", "crop")}
    seals = seals_of(actor).only("record_id", "text").annotate(**today)
    seals = seals.order_by("record__started_at", "number")
    if customer_id:
        seals = seals.filter(record__customer_id=customer_id)
    rows = Product.objects.within(actor.business).values_list("pk", "name")
    products = {str(pk): name for pk, name in rows}
    groups: dict[tuple[str, str, str], list[SeasonLine]] = {}
    for seal, facts, rates in work_of(seals, date(year, 1, 1), date(year, 12, 31)):
        for place, product in enumerate(facts.products):
            line = _season_line(seal, facts, rates, place, products.get(product.product_id))
            key = (line.customer_id, line.field_id, product.product_id)
            groups.setdefault(key, []).append(line)
    lines = [_joined(group) for group in groups.values()]
    return sorted(lines, key=lambda line: (line.customer, line.field, line.product))


def work_of(
    seals: QuerySet[Seal], first: date, last: date
) -> Iterator[tuple[Seal, Snapshot, Rates]]:
    """Yield the seals of work of a period, both days counted, with the facts and rates they hold.

    The day is `Snapshot.local_day`. A corrected record counts as its last amendment says; what a
    purged one held is gone.
    """
    # A local day lies within a day of the same date in UTC.
    begin = datetime.combine(first, time(), UTC) - timedelta(days=1)
    end = datetime.combine(last, time(), UTC) + timedelta(days=2)
    standing = seals.filter(record__started_at__range=(begin, end), purged_at__isnull=True)
    standing = standing.exclude(record__amendment__signed_at__isnull=False)
    for seal in standing.iterator(chunk_size=500):
        facts, rates = facts_and_rates(seal.text)
        day = facts.local_day()
        # No record is signed without its field and the start of the work.
        if day is not None and first <= day <= last:
            yield seal, facts, rates


def _season_line(
    seal: Any, facts: Snapshot, rates: Rates, place: int, product_now: str | None
) -> SeasonLine:
    """Return the line of one application; names and intervals as they were sealed."""
    product, used = facts.products[place], used_of(facts, place, rates)
    ends = intervals(replace(facts, products=(product,)))
    day = facts.local_day()
    if facts.field is None or facts.customer is None or day is None:
        raise LookupError(f"Signed record {seal.record_id} lacks field, customer or time.")
    return SeasonLine(
        customer=Named.of(facts.customer.name, seal.customer_now),
        customer_id=facts.customer.id,
        field=Named.of(facts.field.name, seal.field_now),
        field_id=facts.field.id,
        crop=Named.of(facts.crop.name, seal.crop_now) if facts.crop else Named(""),
        product=Named.of(product.name, product_now),
        applications=1,
        last_on=day,
        total=sums([product.total_used]),
        used=(used.rate,) if used else (),
        used_from=() if used and used.basis is Basis.TOTAL else (known_from(used),),
        reentry_ends=ends.entry_from,
        harvest_from=ends.harvest_from,
        time_zone=facts.field.time_zone,
        record_ids=(seal.record_id,),
    )


def known_from(used: RateUsed | None) -> str:
    """Return what a rate used is known from, in words."""
    return term(BASIS_WORDS[used.basis]) if used else msg("rate not known")


def _joined(lines: list[SeasonLine]) -> SeasonLine:
    """Return the line of several applications, given in order of time: the last one's, summed.

    An interval holds to its own end: that of an earlier application, by another edition of the
    label, may be the last to end.
    """
    entries = [line.reentry_ends for line in lines if line.reentry_ends]
    harvests = [line.harvest_from for line in lines if line.harvest_from]
    return replace(
        lines[-1],
        applications=len(lines),
        total=sums(one for line in lines for one in line.total),
        used=sums(one for line in lines for one in line.used),
        used_from=tuple(dict.fromkeys(one for line in lines for one in line.used_from)),
        reentry_ends=max(entries, default=None),
        harvest_from=max(harvests, default=None),
        record_ids=tuple(line.record_ids[0] for line in lines),
    )


def sums(answers: Iterable[Any]) -> tuple[Quantity, ...]:
    """Return the sums of the quantities among the answers, one per unit, in order of first use."""
    totals: dict[str, Quantity] = {}
    for answer in answers:
        if isinstance(answer, Quantity):
            standing = totals.get(answer.unit)
            value = answer.value + (standing.value if standing else 0)
            totals[answer.unit] = Quantity(value, answer.unit)
    return tuple(totals.values())


@dataclass(frozen=True, kw_only=True)
class Closed:
    """A field that may not be entered yet, by the longest interval of the mix."""

    record: ApplicationRecord
    products: tuple[str, ...]
    ends_at: datetime


def closed_fields(*, actor: Actor, now: datetime) -> list[Closed]:
    """Return the fields still under a re-entry interval, the first to open first.

    The longest interval of a mix counts, from the end of the work (40 CFR 170; longest of the mix:
    § 170.112(a)(3) of the 2007 text).
    """
    actor.must(Right.READ)
    records = (
        ApplicationRecord.objects.filter(visible(actor))
        .filter(finished_at__lte=now, finished_at__gt=now - timedelta(days=60))
        .filter(set_aside_at__isnull=True)
        .exclude(amendment__signed_at__isnull=False)
        .select_related("field__customer", "customer", "seal")
        .prefetch_related("products__product", "products__label")
    )
    found = [closed for record in records if (closed := _closed(record)) and closed.ends_at > now]
    return sorted(found, key=lambda closed: closed.ends_at)


def _closed(record: ApplicationRecord) -> Closed | None:
    """Return until when the field is closed: as sealed, whatever the label's row says today."""
    if record.signed_at:
        ends = intervals(facts_of(record.seal))
        if ends.entry_from is None:
            return None
        return Closed(record=record, products=(ends.entry_product,), ends_at=ends.entry_from)
    hours = [
        (float(line.label.reentry_hours), line.product.name)
        for line in record.products.all()
        if line.label and line.label.reentry_hours is not None
    ]
    if not hours or record.finished_at is None:
        return None
    longest = max(hour for hour, _ in hours)
    return Closed(
        record=record,
        products=tuple(name for hour, name in hours if hour == longest),
        ends_at=reentry_end(ended_at=record.finished_at, intervals_h=[longest]),
    )


def drafts(*, actor: Actor) -> QuerySet[ApplicationRecord]:
    """Return the drafts of the business, the oldest work first."""
    return book(actor=actor, state="draft").order_by("book_at", "id")


def existing(*, actor: Actor, record_id: UUID) -> ApplicationRecord:
    """Return a record of the business as a row.

    Raises: Refused if there is none.
    """
    return the_one(book(actor=actor, state="whole").filter(id=record_id))


def picture(*, actor: Actor, record_id: UUID, picture_id: UUID) -> bytes:
    """Return the stored bytes of a picture of a record.

    Raises: NotThere if there is none, or its bytes are lost or are not those that were put there.
    """
    record = existing(actor=actor, record_id=record_id)
    row = record.pictures.filter(pk=picture_id).first()
    if row is None:
        raise NotThere(_("There is no such picture."))
    jpeg = as_kept(business_id=record.business_id, picture_id=picture_id, sha256=row.sha256)
    if jpeg is None:
        raise NotThere(_("The stored picture is gone or was changed. Tell who runs the service."))
    return jpeg


def of_the_form(*, actor: Actor, record_id: UUID) -> ApplicationRecord:
    """Return a record of the business with what its form asks of it, and no more.

    Raises: Refused if there is none.
    """
    actor.must(Right.READ)
    rows = ApplicationRecord.objects.filter(visible(actor), id=record_id)
    return the_one(rows.prefetch_related("products", "crew"))


def log(*, actor: Actor) -> QuerySet[Seal]:
    """Return the seals of the business, the newest first; their texts are left in the database."""
    actor.must(Right.READ)
    seals = seals_of(actor).select_related("signer").defer("text")
    return seals.order_by("-number")
