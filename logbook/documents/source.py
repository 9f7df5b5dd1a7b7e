"""What a paper is made from: the facts of a sealed record, or of a draft as it stands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from logbook import __version__
from logbook.documents import words
from logbook.documents.file import About
from logbook.documents.ledger import Ledger
from logbook.documents.page import Row, Run, Runs
from logbook.facts.record import Snapshot
from logbook.records.sealing.sealed import SealedRecord


@dataclass(frozen=True, kw_only=True, slots=True)
class Delivery:
    """That a paper was given: to whom, how, when, on whose written consent, and who says so.

    struck: why the entry was struck, "" while it stands.
    """

    to_whom: str
    how: str
    given_at: datetime
    consent_on: date | None
    note: str
    by: str
    struck: str = ""


def put_deliveries(ledger: Ledger, deliveries: Sequence[Delivery], zone: ZoneInfo) -> None:
    """Put to whom, how and when each was given, one line each."""
    shares = (
        *(("To whom", 0.2), ("How", 0.14), ("When, at the field", 0.2), ("Consent of", 0.12)),
        *(("Note", 0.19), ("Entered by", 0.15)),
    )
    rows = [Row(tuple(_delivery(one, zone))) for one in deliveries]
    ledger.sheet.table(ledger.columns(shares), rows, gap=1.0)


def _delivery(one: Delivery, zone: ZoneInfo) -> Iterator[Runs]:
    struck = (Run(f" struck: {one.struck}", "breach", True),) if one.struck else ()
    yield (Run(one.to_whom, bold=True), *struck)
    yield (Run(one.how),)
    yield words.at_field(one.given_at, zone)
    yield (Run(one.consent_on.isoformat()),) if one.consent_on else (words.BLANK,)
    yield (Run(one.note),) if one.note else words.quiet("none")
    yield (Run(one.by),)


def printed_words(printed_at: datetime, zone: ZoneInfo) -> str:
    """Return when a paper was printed, and that it says what was known then."""
    return f"Printed {words.local(printed_at, zone)}; what was written down later is not here."


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """The facts, and where they come from.

    Attributes: number and link of the seal, None and "" for a draft; dated, the instant of the
    sealing, or for a draft the one at which the paper is made; printed_at, when it is printed, if
    not then; given, what was written down as given of this paper's kind, in order.
    """

    facts: Snapshot
    dated: datetime
    number: int | None = None
    link: str = ""
    software: str = f"spray-logbook {__version__}"
    printed_at: datetime | None = None
    given: tuple[Delivery, ...] = ()

    @property
    def printed(self) -> datetime:
        """When the paper is printed."""
        return self.printed_at or self.dated

    @property
    def begun(self) -> bool:
        """Whether the work has begun when the paper is printed."""
        started = self.facts.record.started_at
        return self.number is not None or (started is not None and started <= self.printed)

    @classmethod
    def of(cls, sealed: SealedRecord, *, printed_at: datetime | None = None) -> Source:
        """Return the source that a sealed record is."""
        return cls(
            printed_at=printed_at,
            facts=sealed.snapshot,
            dated=sealed.sealed_at,
            number=sealed.number,
            link=sealed.link,
            software=sealed.software,
        )

    @property
    def from_what(self) -> str:
        """Where the facts come from, in words."""
        if self.number is not None:
            return f"from record no. {self.number}, seal {self.link}"
        stood = words.local(self.dated, self.facts.zone)
        return f"from a draft as it stood {stood}; not signed"

    def about(self, name: str, subject: str) -> About:
        """Return what a paper of this name, made from it, says of itself."""
        return About(
            name=name,
            business=self.facts.business.name,
            where=(words.field_name(self.facts), words.day_of(self.facts)),
            foot=self.from_what,
            subject=f"{subject} for {words.customer_name(self.facts)}",
            keywords=(subject,),
            software=self.software,
            dated=self.dated,
        )
