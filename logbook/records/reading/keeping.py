"""Until when the records of a business are kept, and what keeps them longer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from logbook.accounts.rights import Actor, Right
from logbook.law.retention import Kept, doubt, kept
from logbook.records.models import (
    ApplicationRecord,
    DueSheet,
    LegalHold,
    Purge,
    Seal,
)
from logbook.records.reading.duesheets import refresh_stale, sheet_of_today
from logbook.records.reading.related import together
from logbook.records.reading.visible import visible
from logbook.records.sealing.sealed import facts_of


def kept_records(*, actor: Actor, today: date, may_go: bool) -> QuerySet[DueSheet]:
    """Return the sheets of the records that may go now, or of all, the first to go first.

    Each carries `held`: how many holds stand on its record or on the whole book.
    """
    actor.must(Right.SEE)
    refresh_stale(business=actor.business)
    standing = LegalHold.objects.filter(business=actor.business, lifted_at__isnull=True)
    rows = (
        DueSheet.objects.filter(visible(actor, via="record__"))
        .select_related("record__field", "record__customer", "record__seal")
        .defer("record__seal__text")
        .annotate(
            held=Exists(
                standing.filter(Q(seal__isnull=True) | Q(seal__record_id=OuterRef("record_id")))
            )
        )
    )
    if may_go:
        return rows.filter(may_go_after__lt=today, held=False).order_by("may_go_after", "record_id")
    # Those that no set lets go come last, on either database.
    return rows.order_by(F("keep_until").asc(nulls_last=True), "record_id")


@dataclass(frozen=True, kw_only=True)
class Keeping:
    """Until when a signed record stays, by what law; it goes with all that belongs to it."""

    keep_until: date | None
    kept_by: str
    may_go_after: date | None
    held: bool
    in_doubt: bool  # the period is not sure enough to let the record go by it


def keeping_of(record: ApplicationRecord) -> Keeping | None:
    """Return until when a signed record is kept; None for a draft."""
    sheet = sheet_of_today(record)
    if sheet is None:
        return None
    standing = LegalHold.objects.filter(business=record.business_id, lifted_at__isnull=True)
    held = standing.filter(Q(seal__isnull=True) | Q(seal__record=record)).exists()
    return Keeping(
        keep_until=sheet.keep_until,
        kept_by=sheet.kept_by,
        may_go_after=sheet.may_go_after,
        held=held,
        in_doubt=sheet.in_doubt,
    )


@dataclass(frozen=True, kw_only=True)
class Period:
    """How long one signed record is kept, by every set that says so, and how sure that is."""

    record: ApplicationRecord
    number: int
    kept: tuple[Kept, ...]  # the longest first: it decides
    doubt: str  # why the record is not let go by it; "" where it may
    place: str  # of the field as sealed, ISO 3166-2


def _seals_of(record: ApplicationRecord) -> QuerySet[Seal]:
    sealed = Seal.objects.filter(record__in=together(record), purged_at__isnull=True)
    return sealed.select_related("record")


def periods(record: ApplicationRecord) -> list[Period]:
    """Return the period of each signed record that belongs to a record, computed from its seal."""
    found = []
    for seal in _seals_of(record):
        facts = facts_of(seal)
        every = kept(facts, recorded_at=seal.sealed_at)
        place = facts.field.place if facts.field else ""
        found.append(
            Period(
                record=seal.record,
                number=seal.number,
                kept=every,
                doubt=doubt(place, every),
                place=place,
            )
        )
    return sorted(found, key=lambda one: one.number)


def holds(*, actor: Actor) -> QuerySet[LegalHold]:
    """Return all holds, those that stand first."""
    actor.must(Right.SEE)
    rows = LegalHold.objects.within(actor.business).select_related("seal", "set_by", "lifted_by")
    return rows.order_by(F("lifted_at").desc(nulls_first=True), "-set_at")


def purged(*, actor: Actor) -> QuerySet[Any]:
    """Return what was purged, the last first."""
    actor.must(Right.SEE)
    return Purge.objects.within(actor.business).select_related("seal", "purged_by")
