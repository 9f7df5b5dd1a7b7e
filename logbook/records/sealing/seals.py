"""A seal is appended to the chain of its business: its text, the leaf of it, and the link."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime
from typing import Any

from logbook.hashing import canonical, leaf_hash, link_hash
from logbook.records.models import ApplicationRecord, Chain, Seal


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
