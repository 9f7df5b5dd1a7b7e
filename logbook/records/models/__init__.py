"""The book: application records, what hangs on them, and their seals."""

from logbook.records.choices import Pattern, WeatherSign
from logbook.records.models.record import (
    ApplicationRecord,
    Explanation,
    Load,
    LoadPart,
    LoadUse,
    ProductLine,
    WeatherReading,
)
from logbook.records.models.seal import NO_SEAL_YET, Chain, Seal

__all__ = [
    "NO_SEAL_YET",
    "ApplicationRecord",
    "Chain",
    "Explanation",
    "Load",
    "LoadPart",
    "LoadUse",
    "Pattern",
    "ProductLine",
    "Seal",
    "WeatherReading",
    "WeatherSign",
]
