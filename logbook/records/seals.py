"""Hashes of a seal, appending to the chain, and verification of a whole log."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

import rfc8785
from django.db.models import Count, Exists, OuterRef, Subquery
from django.db.models.functions import Coalesce

from logbook.records.law import texts_that_hold
from logbook.records.models import NO_SEAL_YET, ApplicationRecord, Chain, Purge, Seal
from logbook.records.restated import otherwise, rows_of_sealed
from logbook.rules.said import say, told

AT_ONCE = 200
"""How many seals are fetched from the database at once when a log is verified."""

UNREADABLE = (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError)
"""What reading a row or a text raises that was put there by hand and makes no sense."""


def canonical(value: Any) -> str:
    """Return the canonical JSON text of `value` (RFC 8785)."""
    return rfc8785.dumps(value).decode()


def leaf_hash(text: str) -> str:
    """Return SHA-256(0x00 ‖ text) in hex; source: RFC 6962 section 2.1, leaf hash."""
    return hashlib.sha256(b"\x00" + text.encode()).hexdigest()


def link_hash(previous: str, leaf: str) -> str:
    """Return SHA-256(0x01 ‖ previous ‖ leaf) in hex; source: RFC 6962 section 2.1, node hash."""
    return hashlib.sha256(b"\x01" + bytes.fromhex(previous) + bytes.fromhex(leaf)).hexdigest()


def append(
    *, chain: Chain, record: ApplicationRecord, content: dict[str, Any], signer: Any, now: datetime
) -> Seal:
    """Return the new seal of `content`, next in `chain`, whose row the caller holds locked."""
    number = chain.last_number + 1
    until = content["keep_until"]
    text = canonical({**content, "number": number})
    leaf = leaf_hash(text)
    link = link_hash(chain.last_link, leaf)
    seal = Seal.objects.create(
        business_id=chain.business_id,
        record=record,
        number=number,
        text=text,
        leaf=leaf,
        previous=chain.last_link,
        link=link,
        sealed_at=now,
        signer=signer,
        keep_until=until and date.fromisoformat(until),
        **counted(content),
    )
    chain.last_number, chain.last_link = number, link
    chain.save(update_fields=["last_number", "last_link"])
    return seal


def counted(content: dict[str, Any]) -> dict[str, int]:
    """Return how many findings a sealed content holds, by the column of the seal that says so."""
    found = content["findings"]
    weights = Counter(one["severity"] for one in found)
    said = content["explanations"]
    return {
        "findings": len(found),
        "breaches": weights["breach"],
        "mismatches": weights["mismatch"],
        "missing": weights["missing"],
        "unexplained": sum(f"{one['code']}@{one['about']}" not in said for one in found),
    }


@dataclass(frozen=True, kw_only=True)
class Broken:
    """The first entry of a log that does not hold, and why."""

    number: int
    why: str


@dataclass(frozen=True, kw_only=True)
class Verification:
    """What came of reading a whole log."""

    checked: int
    last_link: str
    broken: Broken | None
    purged: int = 0  # of those checked, how many stand by their leaf alone


@dataclass(frozen=True, kw_only=True)
class Expected:
    """A number and its link, kept elsewhere, such as those in the code of a printed record."""

    number: int
    link: str


@dataclass(frozen=True, kw_only=True)
class _Entry:
    """One seal with what the tables say beside it; None where they say nothing.

    A text in place of a row says why the row cannot be read.
    """

    number: int
    seal: dict[str, Any] | str
    record: ApplicationRecord | str | None = None
    purge: dict[str, Any] | str | None = None


def verify(
    *,
    business: Any,
    progress: Callable[[int], None] | None = None,
    expected: Expected | None = None,
) -> Verification:
    """Return whether every seal of `business` still says what was sealed, in unbroken order.

    The columns of each seal, the rows of its record and the digests of the law that was sealed with
    it are compared with the sealed text and the texts of law that are kept. A purged
    seal has no text any more; it is checked by its leaf, its link, its place and what says who
    purged it, and counted apart. Reads the log in pieces of `AT_ONCE`: one of a million entries
    needs no more memory than that.

    A log that was cut short together with all its records is whole as far as it can know; only
    `expected`, which was kept elsewhere, shows that.

    Read to the end of the chain as it is at the beginning: what is signed meanwhile is counted at
    the end and is no fault.

    Args: progress: told now and then how many entries have been read.
    """
    checked, purged, previous = 0, 0, NO_SEAL_YET
    chain = Chain.objects.filter(business=business).first()
    end = chain.last_number if chain else 0
    law = texts_that_hold()

    def found(why: str | None, number: int) -> Verification:
        broken = Broken(number=number, why=why) if why else None
        return Verification(checked=checked, last_link=previous, broken=broken, purged=purged)

    for entry in _entries(business, end):
        seal = entry.seal
        if isinstance(seal, str):
            return found(say("it cannot be read: {why}", why=seal), checked + 1)
        try:
            faults = _faults(
                entry, seal, business.pk, expected=checked + 1, previous=previous, law=law
            )
            why = next(faults, None)
        except UNREADABLE as error:
            why = say("it cannot be read: {why}", why=_said(error))
        if expected and entry.number == expected.number and seal["link"] != expected.link:
            why = why or say("its link is not {link}, the one expected", link=expected.link)
        if why:
            return found(why, checked + 1)
        checked, previous = checked + 1, seal["link"]
        purged += seal["purged_at"] is not None
        if progress and checked % AT_ONCE == 0:
            progress(checked)
    why, number = _of_the_end(business, chain, checked, previous, expected) or (None, 0)
    return found(why, number)


def _of_the_end(
    business: Any, chain: Chain | None, checked: int, last_link: str, expected: Expected | None
) -> tuple[str, int] | None:
    """Return what is wrong with a log whose entries hold one by one, and at which number.

    Args: chain, as it was before the first entry was read.
    """
    counted, there = _counts(business)
    if counted != there:
        why = say(
            "the chain counts {counted} seals, {there} are there", counted=counted, there=there
        )
        return why, min(counted, checked) + 1
    if checked != (chain.last_number if chain else 0):
        return say("no. {number} is gone", number=checked + 1), checked + 1
    if chain and chain.last_link != last_link:
        return say("the chain's end is not this seal's link"), checked
    if expected and expected.number > checked:
        why = say(
            "no. {number} was expected, the log ends with no. {last}",
            number=expected.number,
            last=checked,
        )
        return why, checked + 1
    seals = Seal.objects.filter(record_id=OuterRef("pk"), business_id=OuterRef("business_id"))
    signed = ApplicationRecord.objects.within(business).filter(signed_at__isnull=False)
    unsealed = signed.exclude(Exists(seals)).order_by("pk").values_list("pk", flat=True).first()
    if unsealed:
        why = say("the record {record} is marked as signed and has no seal", record=str(unsealed))
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
    after: dict[str, int] = {}
    while numbers := list(seals.filter(**after).values_list("number", flat=True)[:AT_ONCE]):
        after = {"number__gt": numbers[-1]}
        rows = _each(numbers, lambda some: _by("number", seals.filter(number__in=some).values()))
        read = [row for row in rows.values() if isinstance(row, dict)]
        records = _each(
            [row["record_id"] for row in read],
            lambda some: {one.pk: one for one in rows_of_sealed(some)},
        )
        purges = _each(
            [row["id"] for row in read],
            lambda some: _by("seal_id", Purge.objects.filter(seal__in=some).values()),
        )
        for number in numbers:
            row = rows.get(number, "it is gone")
            if isinstance(row, str):
                yield _Entry(number=number, seal=row)
                continue
            yield _Entry(
                number=number,
                seal=row,
                record=records.get(row["record_id"]),
                purge=purges.get(row["id"]),
            )


def _by(key: str, rows: Iterable[dict[str, Any]]) -> dict[Any, Any]:
    return {row[key]: row for row in rows}


def _each(keys: list[Any], fetch: Callable[[list[Any]], dict[Any, Any]]) -> dict[Any, Any]:
    """Return what `fetch` gives; for a key of a row that cannot be read, the reason as a text."""
    try:
        return fetch(keys) if keys else {}
    except UNREADABLE as error:
        if len(keys) == 1:
            return {keys[0]: _said(error)}
    return {key: row for one in keys for key, row in _each([one], fetch).items()}


def _said(error: BaseException) -> str:
    return f"{type(error).__name__}: {error}"


# --- one entry -----------------------------------------------------------------------------------


def _faults(
    entry: _Entry,
    seal: dict[str, Any],
    business_id: Any,
    *,
    expected: int,
    previous: str,
    law: dict[str, bool],
) -> Iterator[str]:
    if seal["number"] != expected:
        yield say("no. {number} is gone", number=expected)
    if seal["previous"] != previous:
        yield say("it does not follow the seal before it")
    if seal["purged_at"] is None and leaf_hash(seal["text"]) != seal["leaf"]:
        yield say("its text was changed after sealing")
    if link_hash(previous, seal["leaf"]) != seal["link"]:
        yield say("its link does not match its text and the seal before it")
    if seal["purged_at"] is not None:
        yield from _faults_of_a_purge(entry, seal)
        return
    content = json.loads(seal["text"])
    named = content["number"], content["facts"]["record"]["id"]
    if named != (seal["number"], str(seal["record_id"])):
        yield say("it was moved to another number or record")
    for name, value in _columns(content).items():
        if seal[name] != value:
            yield say(
                "its column {name} says {row}, its text says {text}",
                name=name,
                row=str(seal[name]),
                text=str(value),
            )
    if entry.purge is not None:
        yield say("a row says that it was purged, and it was not")
    yield from _faults_of_the_record(entry.record, seal, content, business_id)
    yield from _faults_of_the_law(content, law)


def _faults_of_the_law(content: dict[str, Any], law: dict[str, bool]) -> Iterator[str]:
    """Yield what is wrong with the texts of law that a seal names; one of before names none."""
    for one in content.get("law") or ():
        holds = law.get(one["digest"])
        if holds is None:
            yield say("the text of the law {id} as sealed with it is gone", id=one["id"])
        elif not holds:
            yield say("the text of the law {id} as sealed with it was changed", id=one["id"])


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
        yield say("its record is gone")
        return
    if isinstance(record, str):
        yield say("its record cannot be read: {why}", why=record)
        return
    if record.signed_at is None:
        yield say("its record is no longer marked as signed")
    if record.signed_at != seal["sealed_at"]:
        yield say("its record says that it was signed {when}", when=str(record.signed_at))
    if record.business_id != business_id:
        yield say("its record belongs to another business")
    for what in otherwise(record, content):
        yield say("the rows of its record say otherwise than its text: {what}", what=told(what))


def _faults_of_a_purge(entry: _Entry, seal: dict[str, Any]) -> Iterator[str]:
    purge = entry.purge
    if purge is None:
        yield say("its text is gone, and nothing says who purged it and why")
        return
    if isinstance(purge, str):
        yield say("what says who purged it cannot be read: {why}", why=purge)
        return
    if seal["text"] or entry.record is not None:
        yield say("it says that it was purged, but its text or its record is still there")
    if (purge["purged_at"], purge["business_id"]) != (seal["purged_at"], seal["business_id"]):
        yield say("what says who purged it names another time or business")
    until, day = seal["keep_until"], purge["purged_at"].astimezone(UTC).date()
    if until is None or not until <= purge["keep_until"] < day:
        yield say(
            "it was purged on {day}, and was to be kept until {until}",
            day=day,
            until=until or say("no day was sealed"),
        )
