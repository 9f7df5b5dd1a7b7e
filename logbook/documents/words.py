"""Pieces of text: answers as entered, blanks, times at the field, swatches and marks."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from calc.units import convert, other_system
from logbook.documents.page import NBSP, Run, Runs
from logbook.facts.quantity import Answer, Nothing, Quantity
from logbook.rules.wording import three

BLANK = Run("blank", "missing")
"""What stands where nothing was said: never an empty cell."""


def said(text: str | None) -> Runs:
    """Return a text as entered, or that it is blank."""
    return (Run(text),) if text and text.strip() else (BLANK,)


def answer(given: Answer) -> Runs:
    """Return an answer as entered, the other system in quiet ink after it."""
    if given is None:
        return (BLANK,)
    if isinstance(given, Nothing):
        return (Run(str(given)),)
    return (*entered(given), *other(given))


def entered(quantity: Quantity) -> Runs:
    """Return a quantity as entered: the number in ink, its unit quiet."""
    between = "" if quantity.unit == "°" else NBSP
    return (Run(f"{quantity.value:f}"), Run(f"{between}{kept(quantity.unit)}", "quiet"))


def other(quantity: Quantity) -> Runs:
    """Return the quantity in the other system, in quiet ink; nothing where both use one unit."""
    unit = other_system(quantity.unit)
    if unit == quantity.unit:
        return ()
    return (Run(f" ({three(quantity.to(unit))}{NBSP}{kept(unit)})", "quiet"),)


def swatch(role: str) -> Run:
    """Return the place of a colour swatch; its word always follows."""
    return Run("■", role, drawn="swatch")


def mark(kind: str) -> Run:
    """Return the place of one of the checker's marks; its word always follows."""
    return Run("■", kind, drawn="mark")


def lines(*cells: Runs) -> Runs:
    """Return runs under each other."""
    stacked: list[Run] = []
    for cell in cells:
        if stacked and cell:
            stacked.append(Run("\n"))
        stacked += cell
    return tuple(stacked)


def quiet(text: str) -> Runs:
    """Return a text in quiet ink."""
    return (Run(text, "quiet"),)


def at_field(instant: datetime | None, zone: ZoneInfo) -> Runs:
    """Return a time at the field with its zone: "2026-06-10 09:00 CDT (UTC−05:00)"."""
    return (BLANK,) if instant is None else (Run(local(instant, zone)),)


def local(instant: datetime, zone: ZoneInfo) -> str:
    """Return a time at the field, its zone by abbreviation, if it has one, and by offset."""
    there = instant.astimezone(zone)
    sign, hours, minutes = f"{there:%z}"[0], f"{there:%z}"[1:3], f"{there:%z}"[3:5]
    offset = f"UTC{'−' if sign == '-' else sign}{hours}:{minutes}"
    name = f"{there:%Z}"
    if name != "UTC":
        name = f"{name} ({offset})" if name.isalpha() else offset
    return f"{there:%Y-%m-%d %H:%M} {name}"


def trimmed(number: Decimal) -> str:
    """Return a number without zeros at its end that say nothing: "12", "0.5"."""
    return f"{number.normalize():f}"


def percent(number: Decimal) -> str:
    """Return a share in per cent: "1.5 %"."""
    return f"{trimmed(number)}{NBSP}%"


def text_of(quantity: Quantity) -> str:
    """Return a quantity as entered, as text."""
    return f"{quantity.value:f}{NBSP}{kept(quantity.unit)}"


def kept(unit: str) -> str:
    """Return a unit that no line break parts."""
    return unit.replace(" ", NBSP)


def computed(value: float, unit: str, shown_in: str) -> Runs:
    """Return a computed value in the unit of the paper, three figures."""
    shown = three(convert(value, from_unit=unit, to_unit=shown_in))
    return (Run(shown), *quiet(f"{NBSP}{kept(shown_in)}"))
