"""The book: application records, what hangs on them, and their seals."""

from logbook.records.choices import Delivery, DutyKind
from logbook.records.models.duty import DueSheet, DutyEntry, FeedKey, LawText, LegalHold, Purge
from logbook.records.models.record import (
    ApplicationRecord,
    CrewMember,
    Explanation,
    Load,
    LoadPart,
    LoadUse,
    Picture,
    ProductLine,
    SetAside,
    WeatherReading,
)
from logbook.records.models.seal import NO_SEAL_YET, Chain, Seal, SealedName

__all__ = [
    "NO_SEAL_YET",
    "ApplicationRecord",
    "Chain",
    "CrewMember",
    "Delivery",
    "DueSheet",
    "DutyEntry",
    "DutyKind",
    "Explanation",
    "FeedKey",
    "LawText",
    "LegalHold",
    "Load",
    "LoadPart",
    "LoadUse",
    "Picture",
    "ProductLine",
    "Purge",
    "Seal",
    "SealedName",
    "SetAside",
    "WeatherReading",
]
