"""The rows that the journal speaks of, and whether they still say what it says.

Read is the chain of the journal itself, each row that an entry states, and whether a row stands
there that no entry states.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db.models import Count, Exists, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from logbook.accounts.journal import BEGIN, GRANT, VISIT, Kind
from logbook.accounts.models import Journal, JournalEntry
from logbook.facts.messages import gettext_noop, msg, term
from logbook.hashing import NOTHING_YET, leaf_hash, link_hash
from logbook.records.models import Seal
from logbook.records.sealing.pieces import UNREADABLE, each, words_of

SEAL = Kind(name=gettext_noop("seal"), model="records.Seal", leaves_out=("text", "purged_at"))
PURGE = Kind(name=gettext_noop("purge"), model="records.Purge")
DUTY_ENTRY = Kind(
    name=gettext_noop("duty entry"),
    model="records.DutyEntry",
    # It goes with its record: to whom a copy went must not stay legible in the journal.
    legible=("id", "business_id", "created_at", "record_id"),
)
HOLD = Kind(
    name=gettext_noop("hold"),
    model="records.LegalHold",
    filled_in=("lifted_at", "lifted_by_id", "lift_reason"),
)
KINDS = {one.name: one for one in (SEAL, PURGE, DUTY_ENTRY, HOLD, GRANT, VISIT)}

DATED_BACK = timedelta(hours=1)
"""A row made longer than this before the entry that stands before its own was dated back; in less
time a transaction may wait for another. Common practice, no source."""

COLUMNS = ("number", "kind", "row_id", "text", "leaf", "previous", "link")


@dataclass(frozen=True, kw_only=True)
class Broken:
    """The first entry of a log that does not hold, and why."""

    number: int
    why: str


@dataclass(frozen=True, kw_only=True)
class Expected:
    """A number and its link, kept elsewhere, such as those in the code of a printed record."""

    number: int
    link: str


@dataclass(frozen=True, kw_only=True)
class JournalRead:
    """What came of reading a whole journal."""

    checked: int
    last_link: str
    broken: Broken | None


@dataclass(kw_only=True)
class _Reading:
    """How far a journal was read, and what the entries to come are held against."""

    business_id: Any
    stood: int = 0  # so many entries after the first are of rows of before it
    checked: int = 0
    previous: str = NOTHING_YET
    at: datetime | None = None
    # Rows of which a column was filled in, and the entry that says so was not met yet.
    waiting: dict[UUID, int] = field(default_factory=dict)


def entries_about(business: Any) -> QuerySet[JournalEntry]:
    """Return the entries of the journal of a business."""
    rows: QuerySet[JournalEntry] = JournalEntry.objects.within(business)
    return rows


def taken_in(business: Any) -> int:
    """Return the number of the last entry that is of a row of before the journal was begun."""
    first = entries_about(business).filter(number=1, kind=BEGIN).values_list("text", flat=True)
    try:
        return 1 + int(json.loads(first[0])["stood"])
    except UNREADABLE:
        return 1


def read(
    *,
    business: Any,
    at_once: int,
    progress: Callable[[int], None] | None = None,
    expected: Expected | None = None,
) -> JournalRead:
    """Return whether the journal of `business` holds, and every row says what it says.

    Read to the end as it is at the beginning; what is written meanwhile is no fault. A journal cut
    short together with its rows is whole as far as it can know: the seals that name its end, and
    `expected`, which was kept elsewhere, show that.
    """
    head = Journal.objects.filter(business=business).first()
    end = head.last_number if head else 0
    reading = _Reading(business_id=business.pk, stood=taken_in(business) - 1)

    def found(why: str | None, number: int) -> JournalRead:
        broken = Broken(number=number, why=why) if why else None
        return JournalRead(checked=reading.checked, last_link=reading.previous, broken=broken)

    for one, row in _entries(business, end, at_once):
        if isinstance(one, str):
            return found(msg("it cannot be read: {why}", why=one), reading.checked + 1)
        try:
            why = next(_faults(one, row, reading), None)
        except UNREADABLE as error:
            why = msg("it cannot be read: {why}", why=words_of(error))
        if expected and one["number"] == expected.number and one["link"] != expected.link:
            why = why or msg("its link is not {link}, the one expected", link=expected.link)
        if why:
            return found(why, reading.checked + 1)
        reading.checked, reading.previous = reading.checked + 1, one["link"]
        if progress and reading.checked % at_once == 0:
            progress(reading.checked)
    why, number = _of_the_end(business, head, reading, expected) or (None, 0)
    return found(why, number)


def _entries(business: Any, end: int, at_once: int) -> Iterator[tuple[Any, Any]]:
    """Yield each entry with its row; a text in place of either says why it cannot be read."""
    rows = entries_about(business).filter(number__lte=end).order_by("number")
    after: dict[str, int] = {}
    while numbers := list(rows.filter(**after).values_list("number", flat=True)[:at_once]):
        after = {"number__gt": numbers[-1]}

        def fetch(some: list[int]) -> dict[int, dict[str, Any]]:
            return {one["number"]: one for one in rows.filter(number__in=some).values(*COLUMNS)}

        read_ = each(numbers, fetch)
        stated = _rows([one for one in read_.values() if isinstance(one, dict)])
        for number in numbers:
            one = read_.get(number, "it is gone")
            yield one, None if isinstance(one, str) else stated.get(one["row_id"])


def _rows(entries: list[dict[str, Any]]) -> dict[UUID, Any]:
    """Return the rows that the entries are about, by id; for one that was purged, its kind."""
    found: dict[UUID, Any] = {}
    for kind in KINDS.values():
        ids = [one["row_id"] for one in entries if one["kind"] == kind.name]
        model: Any = apps.get_model(kind.model)
        rows = model.objects.defer(*kind.leaves_out).prefetch_related(*(kind.lists or ()))

        def fetch(some: list[UUID], rows: Any = rows) -> dict[UUID, Any]:
            return {row.pk: row for row in rows.filter(pk__in=some)}

        found |= each(ids, fetch)
        gone = set(ids) - found.keys()
        if kind is DUTY_ENTRY and gone:
            found |= _purged([one for one in entries if one["row_id"] in gone])
    return found


def _purged(entries: list[dict[str, Any]]) -> dict[UUID, Kind]:
    """Return which of these went with a record that was purged."""
    records: dict[UUID, UUID] = {}
    for one in entries:
        try:
            records[one["row_id"]] = UUID(json.loads(one["text"])["row"]["record_id"])
        except UNREADABLE:  # It is told when its turn comes.
            continue
    purged = Seal.objects.filter(record_id__in=records.values(), purged_at__isnull=False)
    went = set(purged.values_list("record_id", flat=True))
    return {row_id: DUTY_ENTRY for row_id, record_id in records.items() if record_id in went}


def _faults(one: dict[str, Any], row: Any, reading: _Reading) -> Iterator[str]:
    """Yield what is wrong with an entry; a sound one moves the reading on."""
    number = reading.checked + 1
    if one["number"] != number:
        yield msg("no. {number} is gone", number=number)
    if one["previous"] != reading.previous:
        yield msg("it does not follow the entry before it")
    if leaf_hash(one["text"]) != one["leaf"]:
        yield msg("its text was changed after it was written")
    if link_hash(reading.previous, one["leaf"]) != one["link"]:
        yield msg("its link does not match its text and the entry before it")
    stated = json.loads(one["text"])
    if (stated["number"], stated["kind"]) != (number, one["kind"]):
        yield msg("it was moved to another number or kind")
    at = datetime.fromisoformat(stated["at"])
    if reading.at and at < reading.at:
        yield msg("it was written at {when}, before the entry before it", when=str(at))
    if (one["kind"] == BEGIN) != (number == 1):
        yield msg("a journal begins with its first entry, and once")
    if number > 1:
        yield from _faults_of_the_row(one, stated, row, reading)
    reading.at = at


def _faults_of_the_row(
    one: dict[str, Any], stated: dict[str, Any], row: Any, reading: _Reading
) -> Iterator[str]:
    kind, told_of, row_id = KINDS[one["kind"]], stated["row"], one["row_id"]
    named = {"kind": term(kind.name), "id": str(row_id)}
    if (told_of["id"], told_of["business_id"]) != (str(row_id), reading.business_id):
        yield msg("it was moved to another row or business")
    made = datetime.fromisoformat(told_of["created_at"])
    new = one["number"] > 1 + reading.stood
    first = not any(told_of[name] for name in kind.filled_in)
    if new and first and reading.at and made < reading.at - DATED_BACK:
        yield msg("the {kind} {id} was dated back to {when}", **named, when=str(made))
    if row is None:
        yield msg("the {kind} {id} is gone", **named)
        return
    if isinstance(row, str):
        yield msg("the {kind} {id} cannot be read: {why}", **named, why=row)
        return
    if isinstance(row, Kind):
        return
    says = kind.states(row, columns_then=stated.get("columns", ()))
    reading.waiting.pop(row_id, None)
    for name, value in told_of.items():
        now = says["row"].get(name)
        if name in kind.filled_in and value in (None, "") and now != value:
            reading.waiting[row_id] = one["number"]
        elif now != value:
            yield msg(
                "the {kind} {id} says {name} {row}, the entry says {text}",
                **named,
                name=name,
                row=str(now),
                text=str(value),
            )
    if says.get("digest") != stated.get("digest"):
        yield msg("the {kind} {id} was changed after it was written", **named)


def _of_the_end(
    business: Any, head: Journal | None, reading: _Reading, expected: Expected | None
) -> tuple[str, int] | None:
    """Return what is wrong with a journal whose entries hold one by one, and at which number."""
    checked = reading.checked
    counted, there = _counts(business)
    if counted != there:
        why = msg(
            "the journal counts {counted} entries, {there} are there", counted=counted, there=there
        )
        return why, min(counted, checked) + 1
    if checked != (head.last_number if head else 0):
        return msg("no. {number} is gone", number=checked + 1), checked + 1
    if head and head.last_link != reading.previous:
        return msg("the journal's end is not this entry's link"), checked
    if expected and expected.number > checked:
        why = msg(
            "no. {number} was expected, the log ends with no. {last}",
            number=expected.number,
            last=checked,
        )
        return why, checked + 1
    # What was filled in while the journal was read has its entry beyond the end.
    later = entries_about(business).filter(number__gt=checked, row_id__in=list(reading.waiting))
    for row_id in later.values_list("row_id", flat=True):
        reading.waiting.pop(row_id or UUID(int=0), None)
    if reading.waiting:
        row_id, number = min(reading.waiting.items(), key=lambda one: one[1])
        return msg("the row {id} was lifted or withdrawn, and no entry says so", id=str(row_id)), (
            number
        )
    for kind in KINDS.values():
        model: Any = apps.get_model(kind.model)
        about = entries_about(business).filter(kind=kind.name, row_id=OuterRef("pk"))
        bare = model.objects.within(business).exclude(Exists(about)).order_by("pk")
        if pk := bare.values_list("pk", flat=True).first():
            why = msg("no entry speaks of the {kind} {id}", kind=term(kind.name), id=str(pk))
            return why, checked + 1
    return None


def _counts(business: Any) -> tuple[int, int]:
    """Return how many entries the journal counts and how many are there, in one statement."""
    rows = entries_about(business).order_by().values("business")
    there = rows.annotate(count=Count("pk")).values("count")
    heads = Journal.objects.filter(business=business)
    counted = heads.annotate(there=Coalesce(Subquery(there), 0))
    found = counted.values_list("last_number", "there").first()
    return found or (0, entries_about(business).count())
