"""What a paper is made from: the facts of a sealed record, or of a draft as it stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from logbook import __version__
from logbook.documents import words
from logbook.documents.file import About
from logbook.facts.record import Snapshot
from logbook.records.sealing.sealed import SealedRecord


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """The facts, and where they come from.

    Attributes: number and link of the seal, None and "" for a draft; dated, the instant of the
    sealing, or for a draft the one at which the paper is made.
    """

    facts: Snapshot
    dated: datetime
    number: int | None = None
    link: str = ""
    software: str = f"spray-logbook {__version__}"

    @classmethod
    def of(cls, sealed: SealedRecord) -> Source:
        """Return the source that a sealed record is."""
        return cls(
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
