"""The rate used of each product of a record, with the delivered rate where no total stands."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from decimal import Decimal

from logbook.checks.assessment import RateLine
from logbook.facts.quantity import Answer, Quantity
from logbook.facts.record import Snapshot
from logbook.facts.used import Basis, RateUsed, in_carrier, rate_used

Lines = Callable[[], Iterable[RateLine]]
"""The lines of an assessment, computed or read when they are asked for."""


def used_of(s: Snapshot, place: int, lines: Lines) -> RateUsed | None:
    """Return the rate used of the product at a place of the record; None where nothing says it.

    Args: lines, of the assessment of the record, as computed or as sealed; asked for only where
    there is no total over a treated area.
    """
    product, r = s.products[place], s.record
    return used_from(
        place,
        lines,
        planned=product.planned_rate,
        total=product.total_used,
        area=r.treated_area,
        carrier=r.planned_carrier,
    )


def used_from(place: int, lines: Lines, **known: Answer) -> RateUsed | None:
    """Return the rate used as `used_of` does, of the answers that `rate_used` asks for."""
    found = rate_used(**known)
    if found is not None and found.basis is Basis.TOTAL:
        return found
    return rate_used(**known, delivered=_delivered(lines(), place))


def used_of_product(s: Snapshot, lines: Lines, product_id: str) -> RateUsed | None:
    """Return the rate used of a product by its id; None where it is not in the record."""
    places = (place for place, one in enumerate(s.products) if one.product_id == product_id)
    return next((used_of(s, place, lines) for place in places), None)


def _delivered(lines: Iterable[RateLine], place: int) -> Quantity | None:
    """Return the delivered rate of a product per area, from its line and that of the carrier."""
    rates = {
        one.path: Quantity(Decimal(f"{one.delivered:.4g}") + 0, one.unit)
        for one in lines
        if one.delivered is not None and 1e-6 <= one.delivered < 1e12
    }
    rate = rates.get(f"products.{place}.planned_rate")
    return in_carrier(rate, rates.get("planned_carrier")) if rate else None
