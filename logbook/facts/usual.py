"""What is asked about a quantity outside its usual range: mostly it is a slip of the unit."""

from __future__ import annotations

from collections.abc import Iterator

from calc.units import convert, dimension_of
from logbook.facts.messages import msg, with_unit
from logbook.facts.quantity import Answer, Quantity
from logbook.facts.spec import Amount, Fact, Usual
from logbook.facts.units import is_decimal, menu
from logbook.facts.wording import as_given


def range_of(answer: Answer, kind: object) -> Usual | None:
    """Return the usual range that the answer lies outside of; None where there is no question."""
    if not isinstance(answer, Quantity) or not isinstance(kind, Amount):
        return None
    return next((one for one in kind.usual if _outside(answer, one)), None)


def question(answer: Answer, fact: Fact) -> str:
    """Return what to ask about the answer, with the usual range in its unit; "" for nothing.

    With the value that was likely meant, where a slip of the unit explains it.
    """
    usual = range_of(answer, fact.kind)
    if usual is None or not isinstance(answer, Quantity) or not isinstance(fact.kind, Amount):
        return ""
    low, high = (
        as_given(float(convert(end, from_unit=usual.unit, to_unit=answer.unit)))
        for end in (usual.low, usual.high)
    )
    said = msg(
        "{value} is outside what is usual, {low} to {high}.",
        value=answer,
        low=low,
        high=with_unit(high, answer.unit),
    )
    meant = likely(answer, fact.kind)
    return msg("{said} Was {meant} meant?", said=said, meant=meant) if meant else said


def likely(answer: Answer, kind: object) -> str:
    """Return the value within the usual range that a slip of the unit made this one of; "" if none.

    The same number in another unit in use here, or 60 % for 0.6 %.
    """
    if not isinstance(kind, Amount) or not isinstance(answer, Quantity):
        return ""
    own = [one for one in kind.usual if dimension_of(one.unit) == answer.dimension]
    fits = (one for one in _slips(answer, kind) if own and not _outside(one, own[0]))
    return next((with_unit(as_given(float(one.value)), one.unit) for one in fits), "")


def _slips(answer: Quantity, kind: Amount) -> Iterator[Quantity]:
    """Yield what may have been meant; a number of 0 is 0 in every unit."""
    if answer.unit == "%" and 0 < answer.value <= 1:
        yield Quantity(answer.value * 100, "%")
    if answer.value:
        units = menu((answer.dimension,), kind.units)
        # Whoever writes in feet more likely meant inches than centimetres.
        units.sort(key=lambda unit: is_decimal(unit) is not is_decimal(answer.unit))
        yield from (Quantity(answer.value, unit) for unit in units)


def _outside(quantity: Quantity, usual: Usual) -> bool:
    if dimension_of(usual.unit) != quantity.dimension:
        return False
    # A difference of the last bits is one of conversion: 2 gal/ac stands at the end of its range.
    slack = 1e-9 * max(abs(usual.low), abs(usual.high))
    return not usual.low - slack <= quantity.to(usual.unit) <= usual.high + slack
