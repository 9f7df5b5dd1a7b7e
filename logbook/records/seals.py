"""Hashes of a seal, appending to the chain, and verification of a whole log."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import rfc8785
from django.db.models import Exists, OuterRef

from logbook.records.models import NO_SEAL_YET, ApplicationRecord, Chain, Purge, Seal

AT_ONCE = 500
"""How many seals are fetched from the database at once when a log is verified."""


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
        findings=len(content["findings"]),
        breaches=sum(finding["severity"] == "breach" for finding in content["findings"]),
    )
    chain.last_number, chain.last_link = number, link
    chain.save(update_fields=["last_number", "last_link"])
    return seal


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


def verify(*, business: Any, progress: Callable[[int], None] | None = None) -> Verification:
    """Return whether every seal of `business` still says what was sealed, in unbroken order.

    A purged seal has no text any more; it is checked by its leaf, its link and its place alone, and
    counted apart. Reads the seals as a stream: a log of a million entries needs no more memory than
    one.

    Args: progress: told now and then how many entries have been read.
    """
    checked, purged, previous = 0, 0, NO_SEAL_YET
    records = ApplicationRecord.objects.filter(pk=OuterRef("record_id"))
    rows = (
        Seal.objects.within(business)
        .order_by("number")
        .annotate(
            signed=Exists(records.filter(signed_at__isnull=False)),
            standing=Exists(records),
            said_so=Exists(Purge.objects.filter(seal=OuterRef("pk"))),
        )
        .values(
            *("number", "text", "leaf", "previous", "link", "record_id", "purged_at"),
            *("signed", "standing", "said_so"),
        )
    )
    for row in rows.iterator(chunk_size=AT_ONCE):
        why = next(_faults(row, expected=checked + 1, previous=previous), None)
        if why:
            return Verification(
                checked=checked,
                last_link=previous,
                broken=Broken(number=checked + 1, why=why),
                purged=purged,
            )
        checked, previous = checked + 1, row["link"]
        purged += row["purged_at"] is not None
        if progress and checked % AT_ONCE == 0:
            progress(checked)
    chain = Chain.objects.filter(business=business).first()
    counted = chain.last_number if chain else 0
    broken = None
    if counted != checked:
        broken = Broken(
            number=min(counted, checked) + 1,
            why=f"the chain counts {counted} seals, {checked} are there",
        )
    elif chain and chain.last_link != previous:
        broken = Broken(number=checked, why="the chain's end is not this seal's link")
    return Verification(checked=checked, last_link=previous, broken=broken, purged=purged)


def _faults(row: dict[str, Any], *, expected: int, previous: str) -> Iterator[str]:
    if row["number"] != expected:
        yield f"no. {expected} is gone"
    if row["previous"] != previous:
        yield "it does not follow the seal before it"
    if row["purged_at"] is None and leaf_hash(row["text"]) != row["leaf"]:
        yield "its text was changed after sealing"
    if link_hash(previous, row["leaf"]) != row["link"]:
        yield "its link does not match its text and the seal before it"
    if row["purged_at"] is not None:
        yield from _faults_of_a_purge(row)
        return
    content = json.loads(row["text"])
    named = content["number"], content["facts"]["record"]["id"]
    if named != (row["number"], str(row["record_id"])):
        yield "it was moved to another number or record"
    if not row["signed"]:
        yield "its record is no longer marked as signed"


def _faults_of_a_purge(row: dict[str, Any]) -> Iterator[str]:
    if not row["said_so"]:
        yield "its text is gone, and nothing says who purged it and why"
    if row["text"] or row["standing"]:
        yield "it says that it was purged, but its text or its record is still there"
