"""Reading a whole log again: the first seal or journal entry that does not hold."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from django.db.models import Count, Exists, OuterRef, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from logbook.facts.codec import from_json
from logbook.facts.messages import msg, term
from logbook.facts.record import Snapshot
from logbook.hashing import leaf_hash, link_hash
from logbook.records.models import NO_SEAL_YET, ApplicationRecord, Chain, Purge, Seal
from logbook.records.reading import duesheets
from logbook.records.sealing import journaled, pictures
from logbook.records.sealing.differences import differences, differences_beside, rows_of_sealed
from logbook.records.sealing.journaled import Broken, Expected, JournalRead
from logbook.records.sealing.law import texts_that_hold
from logbook.records.sealing.pieces import UNREADABLE, each, words_of
from logbook.records.sealing.seals import counted

AT_ONCE = 200
"""How many seals are fetched from the database at once when a log is verified."""

Entry = dict[str, Any]
"""The columns of one entry of the journal."""


@dataclass(frozen=True, kw_only=True)
class Verification:
    """What came of reading a whole log."""

    checked: int
    last_link: str
    broken: Broken | None
    journal: JournalRead
    purged: int = 0  # of those checked, how many stand by their leaf alone

    @property
    def whole(self) -> bool:
        """Whether both the seals and the journal hold."""
        return self.broken is None and self.journal.broken is None


@dataclass(frozen=True, kw_only=True)
class _Entry:
    """One seal with what the tables say beside it; None where they say nothing.

    A text in place of a row says why the row cannot be read.
    """

    number: int
    seal: dict[str, Any] | str
    record: ApplicationRecord | str | None = None
    purge: dict[str, Any] | str | None = None
    journaled: Entry | str | None = None  # what the journal says of the seal
    purge_journaled: Entry | str | None = None
    due: duesheets.SheetAndSources | None = None
    journal_link: str | None = None  # the journal's own, at the number that the seal names


@dataclass(kw_only=True)
class _Reading:
    """How far a log was read, and what the seals to come are held against."""

    business_id: Any
    now: datetime
    law: dict[str, bool]
    taken_in: int  # up to this entry of the journal, seals are of before it
    checked: int = 0
    purged: int = 0
    previous: str = NO_SEAL_YET
    sealed_at: datetime | None = None
    named: int = 0  # the entry of the journal that the last seal names
    # The first whose due sheet is wrong; told last, for a sheet hangs on later records too.
    sheet: Broken | None = None


def verify(
    *,
    business: Any,
    now: datetime | None = None,
    progress: Callable[[int], None] | None = None,
    expected: Expected | None = None,
    journal_expected: Expected | None = None,
) -> Verification:
    """Return whether every seal of `business` still says what was sealed, in unbroken order, and
    whether its journal holds.

    The columns of each seal, the rows of its record, its pictures, its due sheet and the digests of
    the law that was sealed with it are compared with the sealed text, the journal and the texts of
    law that are kept. A purged seal has no text any more; it is checked by its leaf, its link, its
    place and what says, in a row and in the journal, who purged it, and counted apart. Reads the
    log in pieces of `AT_ONCE`: one of a million entries needs no more memory than that.

    A log that was cut short together with all its records is whole as far as it can know; only
    `expected`, which was kept elsewhere, shows that.

    Read to the end of the chain as it is at the beginning: what is signed meanwhile is counted at
    the end and is no fault.

    Args: now, after which nothing can have been purged, None for the clock's; progress: told now
    and then how many entries have been read; journal_expected, of the journal, kept elsewhere.
    """
    chain = Chain.objects.filter(business=business).first()
    reading = _Reading(
        business_id=business.pk,
        now=now or timezone.now(),
        law=texts_that_hold(),
        taken_in=journaled.taken_in(business),
    )
    broken = _first_broken(business, chain, reading, progress, expected)
    return Verification(
        checked=reading.checked,
        last_link=reading.previous,
        broken=broken,
        purged=reading.purged,
        journal=journaled.read(
            business=business, at_once=AT_ONCE, progress=progress, expected=journal_expected
        ),
    )


def _first_broken(
    business: Any,
    chain: Chain | None,
    reading: _Reading,
    progress: Callable[[int], None] | None,
    expected: Expected | None,
) -> Broken | None:
    for entry in _entries(business, chain.last_number if chain else 0):
        seal = entry.seal
        if isinstance(seal, str):
            why: str | None = msg("it cannot be read: {why}", why=seal)
            return Broken(number=reading.checked + 1, why=why or "")
        try:
            why = next(_faults(entry, seal, reading), None)
            late = why is None and reading.sheet is None and _of_the_sheet(entry, seal)
        except UNREADABLE as error:
            why = msg("it cannot be read: {why}", why=words_of(error))
        if expected and entry.number == expected.number and seal["link"] != expected.link:
            why = why or msg("its link is not {link}, the one expected", link=expected.link)
        if why:
            return Broken(number=reading.checked + 1, why=why)
        reading.checked, reading.previous = reading.checked + 1, seal["link"]
        if late:
            late = msg("its due sheet says otherwise than its text and entries: {name}", name=late)
            reading.sheet = Broken(number=reading.checked, why=late)
        reading.purged += seal["purged_at"] is not None
        if progress and reading.checked % AT_ONCE == 0:
            progress(reading.checked)
    end = _of_the_end(business, chain, reading.checked, reading.previous, expected)
    return Broken(why=end[0], number=end[1]) if end else reading.sheet


def _of_the_end(
    business: Any, chain: Chain | None, checked: int, last_link: str, expected: Expected | None
) -> tuple[str, int] | None:
    """Return what is wrong with a log whose entries hold one by one, and at which number.

    Args: chain, as it was before the first entry was read.
    """
    counted, there = _counts(business)
    if counted != there:
        why = msg(
            "the chain counts {counted} seals, {there} are there", counted=counted, there=there
        )
        return why, min(counted, checked) + 1
    if checked != (chain.last_number if chain else 0):
        return msg("no. {number} is gone", number=checked + 1), checked + 1
    if chain and chain.last_link != last_link:
        return msg("the chain's end is not this seal's link"), checked
    if expected and expected.number > checked:
        why = msg(
            "no. {number} was expected, the log ends with no. {last}",
            number=expected.number,
            last=checked,
        )
        return why, checked + 1
    seals = Seal.objects.filter(record_id=OuterRef("pk"), business_id=OuterRef("business_id"))
    signed = ApplicationRecord.objects.within(business).filter(signed_at__isnull=False)
    unsealed = signed.exclude(Exists(seals)).order_by("pk").values_list("pk", flat=True).first()
    if unsealed:
        why = msg("the record {record} is marked as signed and has no seal", record=str(unsealed))
        return why, checked + 1
    return None


def _counts(business: Any) -> tuple[int, int]:
    """Return how many seals the chain counts and how many are there, asked in one statement.

    Two would be of two moments, and a signature between them a fault.
    """
    seals = Seal.objects.within(business).order_by().values("business")
    there = seals.annotate(count=Count("pk")).values("count")
    chain = Chain.objects.filter(business=business).annotate(there=Coalesce(Subquery(there), 0))
    found = chain.values_list("last_number", "there").first()
    return found or (0, Seal.objects.within(business).count())


# --- reading, a piece at a time ------------------------------------------------------------------


def _entries(business: Any, end: int) -> Iterator[_Entry]:
    """Yield the log in order of number, up to `end`; each piece takes the same few queries."""
    seals = Seal.objects.within(business).filter(number__lte=end).order_by("number")
    about_all = journaled.entries_about(business)
    about = about_all.filter(kind__in=[journaled.SEAL.name, journaled.PURGE.name])
    after: dict[str, int] = {}
    while numbers := list(seals.filter(**after).values_list("number", flat=True)[:AT_ONCE]):
        after = {"number__gt": numbers[-1]}
        rows = each(numbers, lambda some: _by("number", seals.filter(number__in=some).values()))
        read = [row for row in rows.values() if isinstance(row, dict)]
        records = each(
            [row["record_id"] for row in read],
            lambda some: {one.pk: one for one in rows_of_sealed(some)},
        )
        purges = each(
            [row["id"] for row in read],
            lambda some: _by("seal_id", Purge.objects.filter(seal__in=some).values()),
        )
        told_of = [row["id"] for row in read]
        told_of += [row["id"] for row in purges.values() if isinstance(row, dict)]
        entries = each(
            told_of,
            lambda some: _by("row_id", about.filter(row_id__in=some).values(*journaled.COLUMNS)),
        )
        named = {row["number"]: _named(row) for row in read}
        ends = about_all.filter(number__in={one for one in named.values() if one})
        links = dict(ends.values_list("number", "link"))
        sheets = _sheets(business, records)
        for number in numbers:
            row = rows.get(number, "it is gone")
            if isinstance(row, str):
                yield _Entry(number=number, seal=row)
                continue
            purge = purges.get(row["id"])
            yield _Entry(
                number=number,
                seal=row,
                record=records.get(row["record_id"]),
                purge=purge,
                journaled=entries.get(row["id"]),
                purge_journaled=entries.get(purge["id"]) if isinstance(purge, dict) else None,
                due=sheets.get(row["record_id"]),
                journal_link=links.get(named[number] or 0),
            )


def _named(seal: dict[str, Any]) -> int | None:
    """Return the number of the journal's end as a seal names it; None where it names none."""
    try:
        return int(json.loads(seal["text"])["journal"]["number"])
    except UNREADABLE:  # It is told when its turn comes.
        return None


def _sheets(
    business: Any, records: dict[Any, ApplicationRecord | str]
) -> dict[Any, duesheets.SheetAndSources]:
    """Return the due sheets of the records; none where one of their sources cannot be read."""
    signed = [one for one in records.values() if isinstance(one, ApplicationRecord)]
    try:
        return duesheets.sheets_of_today(business=business, records=signed)
    except UNREADABLE:  # The journal names the entry that cannot be read.
        return {}


def _by(key: str, rows: Iterable[dict[str, Any]]) -> dict[Any, Any]:
    return {row[key]: row for row in rows}


# --- one entry -----------------------------------------------------------------------------------


def _faults(entry: _Entry, seal: dict[str, Any], reading: _Reading) -> Iterator[str]:
    """Yield what is wrong with a seal; a sound one moves the reading on."""
    previous = reading.previous
    if seal["number"] != reading.checked + 1:
        yield msg("no. {number} is gone", number=reading.checked + 1)
    if seal["previous"] != previous:
        yield msg("it does not follow the seal before it")
    if seal["purged_at"] is None and leaf_hash(seal["text"]) != seal["leaf"]:
        yield msg("its text was changed after sealing")
    if link_hash(previous, seal["leaf"]) != seal["link"]:
        yield msg("its link does not match its text and the seal before it")
    if seal["purged_at"] is not None:
        yield from _faults_of_a_purge(entry, seal, reading.now, reading.business_id)
        yield from _faults_of_the_journal(entry, seal, None, reading)
        return
    content = json.loads(seal["text"])
    named = content["number"], content["facts"]["record"]["id"]
    if named != (seal["number"], str(seal["record_id"])):
        yield msg("it was moved to another number or record")
    for name, value in _columns(content).items():
        if seal[name] != value:
            yield msg(
                "its column {name} says {row}, its text says {text}",
                name=name,
                row=str(seal[name]),
                text=str(value),
            )
    if entry.purge is not None:
        yield msg("a row says that it was purged, and it was not")
    yield from _faults_of_the_record(entry.record, seal, content, reading.business_id)
    yield from _faults_of_the_pictures(content["facts"], reading.business_id)
    yield from _faults_of_the_law(content, reading.law)
    yield from _faults_of_the_journal(entry, seal, content, reading)


def _faults_of_the_journal(
    entry: _Entry, seal: dict[str, Any], content: dict[str, Any] | None, reading: _Reading
) -> Iterator[str]:
    """Yield what is wrong between a seal and the journal, and with the time of sealing.

    Args: content, the sealed text, read; None of a purged seal.
    """
    one = entry.journaled
    if not isinstance(one, dict):
        yield msg("the journal has no entry of it")
        return
    stated = json.loads(one["text"])
    # Until the journal was begun nothing held the clock to its course.
    new = one["number"] > reading.taken_in
    if new and reading.sealed_at and seal["sealed_at"] < reading.sealed_at:
        yield msg("it was sealed at {when}, before the seal before it", when=str(seal["sealed_at"]))
    reading.sealed_at = seal["sealed_at"]
    if content is None:
        return
    if isinstance(entry.record, ApplicationRecord) and stated["beside"]:
        for what in differences_beside(entry.record, stated["beside"]):
            yield msg("the rows of its record say otherwise than the journal: {what}", what=what)
    if named := content.get("journal"):
        if named["number"] < reading.named:
            yield msg("it names an earlier end of the journal than the seal before it")
        if named["number"] and entry.journal_link != named["link"]:
            yield msg("the journal has no entry {number} as it names it", number=named["number"])
        reading.named = named["number"]


def _of_the_sheet(entry: _Entry, seal: dict[str, Any]) -> str | None:
    """Return the first column of a due sheet that says otherwise than it is computed."""
    if entry.due is None:
        return None
    facts: Snapshot = from_json(json.loads(seal["text"])["facts"], Snapshot)
    return next(
        duesheets.sheet_differences(entry.due, facts=facts, sealed_at=seal["sealed_at"]), None
    )


def _faults_of_the_law(content: dict[str, Any], law: dict[str, bool]) -> Iterator[str]:
    """Yield what is wrong with the texts of law that a seal names; one of before names none."""
    for one in content.get("law") or ():
        holds = law.get(one["digest"])
        if holds is None:
            yield msg("the text of the law {id} as sealed with it is gone", id=one["id"])
        elif not holds:
            yield msg("the text of the law {id} as sealed with it was changed", id=one["id"])


def _columns(content: dict[str, Any]) -> dict[str, Any]:
    """Return what the columns of a seal must say beside its text."""
    # Seals of before the day of keeping was sealed have none.
    until = content.get("keep_until")
    return {
        "sealed_at": datetime.fromisoformat(content["sealed_at"]),
        "signer_id": int(content["signer"]["id"]),
        "keep_until": until and date.fromisoformat(until),
        **counted(content),
    }


def _faults_of_the_record(
    record: ApplicationRecord | str | None,
    seal: dict[str, Any],
    content: dict[str, Any],
    business_id: Any,
) -> Iterator[str]:
    if record is None:
        yield msg("its record is gone")
        return
    if isinstance(record, str):
        yield msg("its record cannot be read: {why}", why=record)
        return
    if record.signed_at is None:
        yield msg("its record is no longer marked as signed")
    if record.signed_at != seal["sealed_at"]:
        yield msg("its record says that it was signed {when}", when=str(record.signed_at))
    if record.business_id != business_id:
        yield msg("its record belongs to another business")
    for what in differences(record, content):
        yield msg("the rows of its record say otherwise than its text: {what}", what=term(what))


def _faults_of_the_pictures(facts: dict[str, Any], business_id: Any) -> Iterator[str]:
    """Yield which stored pictures are not those whose digests were sealed."""
    for number, one in enumerate(facts.get("pictures", ()), start=1):
        jpeg = pictures.stored(business_id=business_id, picture_id=one["id"])
        if jpeg is None:
            yield msg("its picture {number} is gone", number=number)
        elif pictures.digest_of(jpeg) != one["sha256"]:
            yield msg("its picture {number} is not the one that was sealed", number=number)


def _faults_of_a_purge(
    entry: _Entry, seal: dict[str, Any], now: datetime, business_id: Any
) -> Iterator[str]:
    purge = entry.purge
    if purge is None:
        yield msg("its text is gone, and nothing says who purged it and why")
        return
    if isinstance(purge, str):
        yield msg("what says who purged it cannot be read: {why}", why=purge)
        return
    if seal["text"] or entry.record is not None:
        yield msg("it says that it was purged, but its text or its record is still there")
    if (purge["purged_at"], purge["business_id"]) != (seal["purged_at"], seal["business_id"]):
        yield msg("what says who purged it names another time or business")
    until, day = seal["keep_until"], purge["purged_at"].astimezone(UTC).date()
    if until is None or not until <= purge["keep_until"] < day:
        yield msg(
            "it was purged on {day}, and was to be kept until {until}",
            day=day,
            until=until or msg("no day was sealed"),
        )
    if not seal["sealed_at"] <= purge["purged_at"] <= now:
        yield msg(
            "it was purged at {when}, before it was sealed or after today",
            when=str(purge["purged_at"]),
        )
    if not isinstance(entry.purge_journaled, dict):
        yield msg("the journal has no entry of its purge")
    if isinstance(entry.journaled, dict):
        beside = json.loads(entry.journaled["text"])["beside"] or {}
        for number, one in enumerate(beside.get("pictures", ()), start=1):
            if pictures.stored(business_id=business_id, picture_id=one["id"]) is not None:
                yield msg("it was purged, and its picture {number} is still stored", number=number)
