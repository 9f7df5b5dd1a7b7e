"""How numbers, limits and times read in a finding: with a unit, never finer than they are."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from calc.limits import Outcome, judge_within
from calc.units import convert, dimension_of
from logbook.facts.messages import Figure, Message, joined, msg, with_unit
from logbook.facts.quantity import Answer, Quantity
from logbook.facts.record import LabelFacts, ProductFacts, Snapshot


def three(value: float) -> str:
    """Return `value` with three significant figures, as a computed number deserves: "17.6"."""
    return Figure(format(Decimal(f"{value:.2e}"), "f"))


def apart(value: float, *others: float | None) -> str:
    """Return `value` to three figures, or as many more, up to six, as tell it from the others.

    A sentence that says "18.0 against 18" says nothing: where two values differ, so do their
    figures.
    """
    for figures in range(3, 7):
        shown = Decimal(f"{value:.{figures - 1}e}")
        if all(
            other is None
            or math.isclose(other, value, rel_tol=1e-9)
            or not math.isclose(float(shown), float(f"{other:.{figures - 1}e}"), rel_tol=1e-9)
            for other in others
        ):
            break
    return Figure(format(shown, "f"))


def short_number(value: float) -> str:
    """Return a limit without trailing zeros, at most four significant figures: "15"."""
    return Figure(format(Decimal(f"{value:.4g}"), "f"))


def as_given(value: float, *, most: int = 6) -> str:
    """Return an entry in its own digits, at most so many: "12.25"; one reckoned from another unit
    has three, without trailing zeros: 10 gal/ac is "93.5" L/ha.
    """
    entered = f"{value:.{most}g}"
    if math.isclose(float(entered), value, rel_tol=1e-12, abs_tol=0.0):
        return Figure(format(Decimal(entered), "f"))
    return short_number(float(three(value)))


def bounds(low: str | None, high: str | None, unit: str = "") -> str:
    """Return how two printed limits read, one of them given: "15 to 20 gal/ac", "at most 20 °C".

    Two that are one are said once: "1.5 pt/ac".
    """
    if low == high:
        words = Message("{low}", {"low": _sure(low, unit)})
    elif low is None:
        words = msg("at most {high}", high=_sure(high, unit))
    elif high is None:
        words = msg("at least {low}", low=_sure(low, unit))
    else:
        words = msg("{low} to {high}", low=low, high=_sure(high, unit))
    return words


def _sure(limit: str | None, unit: str) -> str | None:
    return with_unit(limit, unit) if unit else limit


def limits(
    low: Quantity | None, high: Quantity | None, *, unit: str = "", entered: float | None = None
) -> str:
    """Return how two limits read as the label prints them, one of them given.

    Args: unit of the entry that is held to them; limits in another one are repeated in it, in
        brackets: "at most 10 mph (16.1 km/h)"; entered, what stands there, from which they are
        told apart: 1.75 L/ha is less than "1.5 pt/ac (1.754 L/ha)".
    """
    if low is not None and low == high:
        return beside(low, unit, entered)
    if low is not None and high is not None and low.unit == high.unit:
        printed = msg("{low} to {high}", low=Figure(f"{low.value:f}"), high=high)
        if not _converts(low, unit):
            return printed
        return msg(
            "{printed} ({low} to {high})",
            printed=printed,
            low=apart(low.to(unit), entered),
            high=with_unit(apart(high.to(unit), entered), unit),
        )
    return bounds(
        beside(low, unit, entered) if low else None, beside(high, unit, entered) if high else None
    )


def beside(value: Quantity, unit: str, entered: float | None = None) -> str:
    """Return a quantity as entered, repeated in `unit` where that is another: "3 bar (43.5 psi)".

    Args: unit, which may be "" or of another kind; nothing is repeated then; entered, as `limits`.
    """
    there = with_unit(apart(value.to(unit), entered), unit) if _converts(value, unit) else ""
    return Message("{value} ({there})" if there else "{value}", {"value": value, "there": there})


def in_unit(value: float, from_unit: str, unit: str) -> str:
    """Return a value told in another unit of its kind, to three figures: "43.5 psi"."""
    return with_unit(three(convert(value, from_unit=from_unit, to_unit=unit)), unit)


def _converts(value: Quantity, unit: str) -> bool:
    return unit not in ("", value.unit) and dimension_of(unit) == value.dimension


def unit_of(answer: Answer) -> str:
    """Return the unit of an answer, "" if it has none."""
    return answer.unit if isinstance(answer, Quantity) else ""


def by_step(value: float, half_width: float) -> str:
    """Return `value` no finer than an instrument shows it that is right to within `half_width`."""
    if half_width <= 0.0:
        return three(value)
    digits = -round(math.log10(half_width))
    return Figure(f"{round(value, digits):.{max(digits, 0)}f}")


def settled(s: Snapshot, *, ahead: str, done: str) -> str:
    """Return what would settle it: `ahead` while the work goes on, `done` once it has its end."""
    return ahead if s.record.finished_at is None else done


MISREAD = msg("Correct the entry if it was misread.")


def inside(value: Quantity, low: Quantity | None, high: Quantity | None) -> bool:
    """Return whether `value` is within the limits of its own dimension, both ends allowed."""
    at_least = low is None or _holds(value, low=low.si, high=None)
    return at_least and (high is None or _holds(value, low=None, high=high.si))


def _holds(value: Quantity, *, low: float | None, high: float | None) -> bool:
    return judge_within(value=value.si, expanded=0.0, low=low, high=high) is Outcome.AGREES


def listed(words: Iterable[str]) -> str:
    """Return the different words as one list, in their order: "A, B and C"."""
    *most, last = dict.fromkeys(words)
    return msg("{most} and {last}", most=joined(", ", most), last=last) if most else last


def either(words: Iterable[str]) -> str:
    """Return the words as a choice: "A or B or C"; "" for none."""
    first, *others = [*words] or [""]
    for one in others:
        first = msg("{first} or {other}", first=first, other=one)
    return first


def more_or_less(deviation: float) -> str:
    """Return how a relative deviation reads: "17.0 % more"; from tenfold on "12.5 times"."""
    percent = 100.0 * deviation
    if percent >= 900.0:
        return msg("{factor} times", factor=three(1.0 + deviation))
    if percent >= 0.0:
        return msg("{percent:.1f} % more", percent=percent)
    return msg("{percent:.1f} % less", percent=-percent)


def clock_at(instant: datetime, zone: ZoneInfo) -> str:
    """Return the time of day at the field: "09:05"."""
    return Message("{time:%H:%M}", {"time": instant.astimezone(zone)})


def edition(product: ProductFacts, label: LabelFacts) -> str:
    """Return how a label is named as the basis of a finding."""
    return msg("Label of {name}, edition {edition}", name=product.name, edition=label.edition)
