"""How numbers, limits and times read in a finding: with a unit, never finer than they are."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from calc.verdict import Outcome, judge_within
from logbook.rules.facts import LabelFacts, ProductFacts
from logbook.rules.quantity import Quantity


def three(value: float) -> str:
    """Return `value` with three significant figures, as a computed number deserves: "17.6"."""
    return format(Decimal(f"{value:.2e}"), "f")


def plain(value: float) -> str:
    """Return a limit without trailing zeros, at most four significant figures: "15"."""
    return format(Decimal(f"{value:.4g}"), "f")


def bounds(low: str | None, high: str | None, unit: str = "") -> str:
    """Return how two printed limits read, one of them given: "15 to 20 gal/ac", "at most 20 °C"."""
    if low is None:
        words = f"at most {high}"
    elif high is None:
        words = f"at least {low}"
    else:
        words = f"{low} to {high}"
    return f"{words} {unit}".rstrip()


def limits(low: Quantity | None, high: Quantity | None) -> str:
    """Return how two limits read as the label prints them, one of them given."""
    if low is not None and high is not None and low.unit == high.unit:
        return f"{low.value:f} to {high}"
    return bounds(str(low) if low else None, str(high) if high else None)


def inside(value: Quantity, low: Quantity | None, high: Quantity | None) -> bool:
    """Return whether `value` is within the limits of its own dimension, both ends allowed."""
    at_least = low is None or _holds(value, low=low.si, high=None)
    return at_least and (high is None or _holds(value, low=None, high=high.si))


def _holds(value: Quantity, *, low: float | None, high: float | None) -> bool:
    return judge_within(value=value.si, expanded=0.0, low=low, high=high) is Outcome.AGREES


def listed(words: Iterable[str]) -> str:
    """Return the different words as one list, in their order: "A, B and C"."""
    *most, last = dict.fromkeys(words)
    return f"{', '.join(most)} and {last}" if most else last


def clock(instant: datetime, zone: ZoneInfo) -> str:
    """Return the time of day at the field: "09:05"."""
    return f"{instant.astimezone(zone):%H:%M}"


def edition(product: ProductFacts, label: LabelFacts) -> str:
    """Return how a label is named as the basis of a finding."""
    return f"Label of {product.name}, edition {label.edition}"
