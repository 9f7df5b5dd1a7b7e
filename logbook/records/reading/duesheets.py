"""The sheet on which stands what is due for a signed record.

A signed record's facts never change, so what is due for it is computed once, from its seal, and
stands on a sheet; the sheet is written anew with each entry and amendment, and where the data of
the law changed since.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from importlib.metadata import version
from typing import Any
from uuid import UUID

from logbook.errors.faults import by_the_way
from logbook.facts.codec import from_json, to_json
from logbook.facts.duty import DutySet
from logbook.facts.record import Snapshot
from logbook.law.places import places
from logbook.law.reader import duty_sets
from logbook.law.retention import doubt, kept
from logbook.records.models import (
    ApplicationRecord,
    DueSheet,
    DutyEntry,
)
from logbook.records.reading.owed import Item, items
from logbook.records.reading.related import TOGETHER, VERSIONS, linked_records, together, versions
from logbook.records.sealing.sealed import facts_of

REFRESHED_AT_ONCE = 200
"""So many sheets of older law are written anew when somebody looks."""


SHEET = 3
"""Raised when the program says something else of the same facts on a sheet: each is then written
anew when somebody looks, and none that stood before is taken for a forged one."""


@lru_cache(maxsize=1)
def law() -> str:
    """Return a text that changes whenever what a sheet is computed by does: the data of the law,
    the table of places, the public holidays, the program.
    """
    by = f"{SHEET} {version('holidays')} {duty_sets()!r} {places()!r}"
    return hashlib.sha256(by.encode()).hexdigest()


def refresh(*, record_id: UUID) -> DueSheet | None:
    """Return the sheet of a record, written anew; None for a draft, for which there is none.

    A record that was amended has nothing left to do: its amendment has. Both are kept.
    """
    sheet = _computed(record_id)
    if sheet is not None:
        _keep(sheet)
    return sheet


COMPUTED = (
    *("law", "items", "next_due_at", "late_count", "waiting", "report_of"),
    *("keep_until", "kept_by", "place", "in_doubt"),
)
"""The columns of a sheet that its seal, the entries and the data of the law give."""


def _computed(record_id: UUID) -> DueSheet | None:
    """Return the sheet of a record as it is today, not written down."""
    record = ApplicationRecord.objects.select_related("seal").filter(pk=record_id).first()
    if record is None or record.signed_at is None or record.seal.purged_at:
        return None
    every = versions(record)
    columns = _sheet(
        record,
        facts_of(record.seal),
        sealed_at=record.seal.sealed_at,
        every=every,
        entries=DutyEntry.objects.filter(record__in=every).select_related("record"),
    )
    return DueSheet(record=record, **columns)


def _keep(sheet: DueSheet) -> None:
    """Write a sheet down, and on all that belong together when they may go."""
    DueSheet.objects.update_or_create(
        record=sheet.record, defaults={name: getattr(sheet, name) for name in COMPUTED}
    )
    say_when_they_may_go(sheet.record)


def sheet_of_today(record: ApplicationRecord) -> DueSheet | None:
    """Return the sheet by the law of today; shown, too, where it cannot be written down now."""
    sheet = DueSheet.objects.filter(record=record, law=law()).first()
    if sheet is None and (computed := _computed(record.pk)):
        by_the_way(lambda: _keep(computed))
        return computed
    return sheet


def _sheet(
    record: ApplicationRecord,
    facts: Snapshot,
    *,
    sealed_at: datetime,
    every: Iterable[ApplicationRecord],
    entries: Iterable[DutyEntry],
) -> dict[str, Any]:
    """Return what the sheet of a record says, by column.

    Args: every, the record with all its versions; entries, those of any of them.
    """
    signed = [one for one in every if one.signed_at]
    found: tuple[Item, ...] = ()
    if not any(one.amends_id == record.pk for one in signed):
        first_sealed = min(one.signed_at for one in signed if one.signed_at)
        found = items(facts, entries, recorded_at=first_sealed)
    own = [item for item in found if not item.period]
    open_ = [item.due for item in own if item.due and item.open]
    late = [item for item in own if item.due and item.done_at and item.done_at > item.due]
    every_kept = kept(facts, recorded_at=sealed_at)
    longest = every_kept[0] if every_kept else None
    place = facts.field.place if facts.field else ""
    return {
        "law": law(),
        "items": to_json(list(found)),
        "next_due_at": min(open_, default=None),
        "late_count": len(late),
        "waiting": sum(item.open and item.called_at is not None for item in own),
        "report_of": next((item.period for item in found if item.period), ""),
        "keep_until": longest.until if longest else None,
        "kept_by": _law_of(longest.duty_set) if longest else "",
        "place": place,
        "in_doubt": bool(doubt(place, every_kept)),
    }


def _law_of(found: DutySet) -> str:
    """Return the title and citation of a set; of a label both are one, and it is said once."""
    if found.title == found.citation:
        return found.citation
    return f"{found.title}: {found.citation}"


def say_when_they_may_go(record: ApplicationRecord) -> None:
    """Write on the sheets of all that belong together when the last of them may go.

    None of them may while a draft is among them, be it set aside, or the period of one is in doubt.
    """
    group = together(record)
    sheets = DueSheet.objects.filter(record__in=group)
    until = [None if sheet.in_doubt else sheet.keep_until for sheet in sheets]
    known = [day for day in until if day is not None]
    whole = len(known) == len(group)
    sheets.update(may_go_after=max(known) if whole else None)


@dataclass(frozen=True, kw_only=True)
class SheetAndSources:
    """The sheet of a signed record, and what it is computed from beside the seal."""

    sheet: DueSheet
    versions: tuple[ApplicationRecord, ...]
    entries: tuple[DutyEntry, ...]
    may_go_after: date | None  # of all that belong together; None while one of them is a draft
    in_doubt: bool  # how long one of them is kept


def sheets_of_today(
    *, business: Any, records: Iterable[ApplicationRecord]
) -> dict[UUID, SheetAndSources]:
    """Return the sheets that are computed by the law of today, by record, with their sources.

    One of older law is written anew when somebody looks, whatever it says; so is one that is gone.
    """
    among = ApplicationRecord.objects.within(business).only(
        "business_id", "created_at", "signed_at", "time_zone", *TOGETHER
    )
    linked = {one.pk: one for one in linked_records(records, TOGETHER, among)}
    sheets = {one.record_id: one for one in DueSheet.objects.filter(record__in=linked)}
    entries = list(DutyEntry.objects.filter(record__in=linked))
    for entry in entries:
        entry.record = linked[entry.record_id]
    found = {}
    jobs, versions_of = (_grouped(linked.values(), names) for names in (TOGETHER, VERSIONS))
    for record in records:
        sheet = sheets.get(record.pk)
        if sheet is None or sheet.law != law():
            continue
        until = [
            sheets[pk].keep_until if pk in sheets and not sheets[pk].in_doubt else None
            for pk in jobs[record.pk]
        ]
        known = [day for day in until if day is not None]
        same = versions_of[record.pk]
        found[record.pk] = SheetAndSources(
            sheet=sheet,
            versions=tuple(linked[pk] for pk in same),
            entries=tuple(one for one in entries if one.record_id in same),
            may_go_after=max(known) if len(known) == len(until) else None,
            in_doubt=any(sheets[pk].in_doubt for pk in jobs[record.pk] if pk in sheets),
        )
    return found


def _grouped(records: Iterable[ApplicationRecord], names: tuple[str, ...]) -> dict[UUID, set[UUID]]:
    """Return, for each record, the ids of all that hang together with it by these columns."""
    groups = {one.pk: {one.pk} for one in records}
    for one in records:
        for other in {getattr(one, name) for name in names} & groups.keys():
            whole = groups[one.pk] | groups[other]
            groups |= dict.fromkeys(whole, whole)
    return groups


def sheet_differences(
    found: SheetAndSources, *, facts: Snapshot, sealed_at: datetime
) -> Iterator[str]:
    """Yield the name of each column of a sheet that says otherwise than it is computed.

    `may_go_after` is one only where it is too early: a purge computes it anew, and a draft that
    joined the job since makes it later.
    """
    record = next(one for one in found.versions if one.pk == found.sheet.record_id)
    columns = _sheet(
        record, facts, sealed_at=sealed_at, every=found.versions, entries=found.entries
    )
    for name, value in columns.items():
        if getattr(found.sheet, name) != value:
            yield name
    goes, least = found.sheet.may_go_after, found.may_go_after
    if goes and (found.in_doubt or (least and goes < least)):
        yield "may_go_after"


def refresh_stale(*, business: Any, at_once: int = REFRESHED_AT_ONCE) -> int:
    """Return how many sheets were written: none was there, or the data of the law changed.

    Where they cannot be written now, none are, and lists show the sheets that stand.
    """
    stale = (
        ApplicationRecord.objects.within(business)
        .filter(signed_at__isnull=False)
        .exclude(due_sheet__law=law())
        .values_list("pk", flat=True)[:at_once]
    )
    pks = list(stale)
    if pks and by_the_way(lambda: [refresh(record_id=pk) for pk in pks]):
        return len(pks)
    return 0


def items_on(sheet: DueSheet) -> tuple[Item, ...]:
    """Return what a sheet says is due."""
    found: tuple[Item, ...] = from_json(sheet.items, tuple[Item, ...])
    return found
