"""The papers of one record by their names, for whoever may see it: for the pages and the API."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any
from uuid import UUID

from logbook.accounts.rights import Actor
from logbook.documents.notices import notice_before, notice_completed
from logbook.documents.posting import posting_sheet
from logbook.documents.record import Amended, render_copy
from logbook.documents.source import Delivery, Source
from logbook.facts.duty import Kind
from logbook.localization.locale import plain_english
from logbook.records.models import Seal
from logbook.records.reading import deadlines, selectors
from logbook.records.reading.audit import open_among
from logbook.records.reading.examine import examine
from logbook.records.sealing.sealed import read_seal

COPY = "copy"
FROM_SOURCE: dict[str, Callable[..., bytes]] = {
    "notice-before": notice_before,
    "posting": posting_sheet,
    "notice-completed": notice_completed,
}
"""The papers that can be made from a draft as it stands, and from a seal."""

KIND_OF = {
    "notice-before": Kind.NOTICE_BEFORE,
    "posting": Kind.DISPLAY,
    "notice-completed": Kind.NOTICE_AFTER,
}

PAPERS = (*FROM_SOURCE, COPY)


def source_of(*, actor: Actor, record_id: UUID, kind: Kind, now: datetime) -> Source:
    """Return what the papers of a record are made from: its seal, or the draft as it stands.

    Args: kind of the paper, of which it tells what was given; now, when it is printed.
    Raises: NotAllowed; NotThere.
    """
    row = selectors.existing(actor=actor, record_id=record_id)
    given = tuple(map(_delivery, _given(row, kind)))
    if row.signed_at:
        sealed = read_seal(selectors.seal_of(actor=actor, record_id=record_id))
        return replace(Source.of(sealed, printed_at=now), given=given)
    facts = examine(actor=actor, record_id=record_id).snapshot
    return Source(facts=facts, dated=now, given=given)


def paper_of(*, actor: Actor, record_id: UUID, name: str, now: datetime) -> tuple[bytes, str]:
    """Return a paper of a record as PDF, and its file name.

    Args: name, one of `PAPERS`; the customer's copy is made from a seal alone.
    Raises: NotAllowed; NotThere.
    """
    size = actor.business.paper_size
    if name != COPY:
        source = source_of(actor=actor, record_id=record_id, kind=KIND_OF[name], now=now)
        number = source.number or "draft"
        return FROM_SOURCE[name](source, paper=size), f"{name}-{number}.pdf"
    seal = selectors.seal_of(actor=actor, record_id=record_id)
    content = render_copy(
        read_seal(seal),
        deliveries=[_delivery(entry) for entry in _given(seal.record, Kind.COPY)],
        printed_at=now,
        amended_by=corrections(actor=actor, later=selectors.amendments_of(seal=seal)),
        paper=size,
    )
    return content, f"copy-{seal.number}.pdf"


def corrections(*, actor: Actor, later: Iterable[Seal]) -> list[Amended]:
    """Return how later seals, which correct another, are named to the actor.

    Of one outside the scope of a guest nothing but the number.
    """
    seals = list(later)
    if not seals:
        return []
    opened = open_among(actor=actor, record_ids=[seal.record_id for seal in seals])
    named = [(Amended.of(read_seal(seal)), seal.record_id in opened) for seal in seals]
    return [one if inside else replace(one, reason=None) for one, inside in named]


def _given(record: Any, kind: Kind) -> list[Any]:
    """Return the entries of what was given of a kind; what strikes one stands beside it."""
    entries = deadlines.entries_of(record)
    return [one for one in entries if one.kind == kind and one.gives and one.strikes_id is None]


@plain_english()
def _delivery(entry: Any) -> Delivery:
    strike = getattr(entry, "struck_by", None)
    return Delivery(
        to_whom=entry.to_whom,
        how=entry.get_how_display(),
        given_at=entry.given_at,
        consent_on=entry.consent_on,
        note=entry.note,
        by=str(entry.by),
        struck=strike.note if strike else "",
    )
