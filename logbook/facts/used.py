"""The rate at which a product was used on a field, and what it is known from."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from functools import cache

from calc.units import UNITS, dimension_of, reference_unit
from logbook.facts.messages import gettext_noop
from logbook.facts.quantity import Absence, Answer, Nothing, Quantity


class Basis(StrEnum):
    """What a rate used is known from, the surest first."""

    TOTAL = "total"
    DELIVERED = "delivered"
    PLANNED = "planned"


BASIS_WORDS = {
    Basis.TOTAL: gettext_noop("total used over treated area"),
    Basis.DELIVERED: gettext_noop(
        "delivered rate as computed; total used or treated area is not given"
    ),
    Basis.PLANNED: gettext_noop("planned rate; total used or treated area is not given"),
}


@dataclass(frozen=True, slots=True)
class RateUsed:
    """Product per treated area, and what it is known from."""

    rate: Quantity
    basis: Basis

    @property
    def none(self) -> bool:
        """Whether a total says that nothing of the product was used."""
        return self.basis is Basis.TOTAL and not self.rate.value


def rate_used(
    *,
    planned: Answer,
    total: Answer,
    area: Answer,
    carrier: Answer = None,
    delivered: Answer = None,
) -> RateUsed | None:
    """Return the product per area that was used; None where nothing says it.

    The total over the treated area where both stand, exactly; else the delivered rate; the planned
    rate only where nothing else is. A total of "none" is one of 0.
    Args: planned, per area or per volume of mix; total, undiluted; area, treated; carrier, planned;
        delivered, per area, as computed.
    Source: definition of a rate; that what was used goes before what was meant is common practice,
        no source.
    """
    wanted = planned.unit if isinstance(planned, Quantity) else ""
    if isinstance(area, Quantity) and area.value > 0:
        if isinstance(total, Quantity) and (used := _over(total, area, wanted)):
            return RateUsed(used, Basis.TOTAL)
        if isinstance(total, Nothing) and total.kind is Absence.NONE and per_area(wanted):
            return RateUsed(Quantity(Decimal(0), wanted), Basis.TOTAL)
    if isinstance(delivered, Quantity):
        return RateUsed(delivered, Basis.DELIVERED)
    if isinstance(planned, Quantity) and (meant := in_carrier(planned, carrier)):
        return RateUsed(meant, Basis.PLANNED)
    return None


def per_area(unit: str) -> bool:
    """Return whether a unit, which may be "", is an amount per area."""
    return unit in UNITS and dimension_of(unit) in ("volume_rate", "mass_rate")


def in_carrier(rate: Quantity, carrier: Answer) -> Quantity | None:
    """Return a rate per area as it is; one per volume of mix times the carrier, or None without."""
    if per_area(rate.unit):
        return rate
    dimension = {"volume_per_volume": "volume_rate", "mass_per_volume": "mass_rate"}
    if rate.dimension not in dimension or not isinstance(carrier, Quantity):
        return None
    unit = reference_unit(dimension[rate.dimension])
    # Reference units: % v/v, g/L and L/ha; so hundredths of a litre, or grams, per litre of mix.
    part = Fraction(1, 100 if rate.dimension == "volume_per_volume" else 1000)
    factor = part * UNITS[rate.unit].factor * UNITS[carrier.unit].factor / UNITS[unit].factor
    (n, d), (cn, cd) = rate.value.as_integer_ratio(), carrier.value.as_integer_ratio()
    return _quantity(n * cn, d * cd, factor, unit)


def _over(total: Quantity, area: Quantity, wanted: str) -> Quantity | None:
    """Return a total over an area, in the unit `wanted` if it is of the kind."""
    unit, factor = _quotient(total.unit, area.unit, wanted)
    (n, d), (an, ad) = total.value.as_integer_ratio(), area.value.as_integer_ratio()
    return _quantity(n * ad, d * an, factor, unit)


@cache
def _quotient(amount: str, area: str, wanted: str) -> tuple[str, Fraction]:
    """Return the unit of an amount over an area, and what the quotient is to be multiplied by."""
    dimension = f"{dimension_of(amount)}_rate"
    units = (wanted, f"{amount}/{area}", reference_unit(dimension))
    unit = next(one for one in units if one in UNITS and dimension_of(one) == dimension)
    return unit, UNITS[amount].factor / UNITS[area].factor / UNITS[unit].factor


def _quantity(n: int, d: int, factor: Fraction, unit: str) -> Quantity | None:
    """Return n / d times a factor as a decimal of `unit`; None if it is too large.

    Cut off after nine decimals, not rounded: thirds of a limit must not come to more than it.
    """
    cut = n * factor.numerator * 10**9 // (d * factor.denominator)
    if cut >= 10**21:
        return None
    return Quantity(Decimal(cut).scaleb(-9).normalize() + 0, unit)  # 1E+2 + 0 is 100
