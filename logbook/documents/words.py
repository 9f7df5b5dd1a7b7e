"""Pieces of text: answers as entered, blanks, times at the field, swatches and marks."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from calc.wind import sector
from logbook.documents.ledger import Fact
from logbook.documents.page import NBSP, Run, Runs
from logbook.facts.messages import rendered
from logbook.facts.quantity import Answer, Nothing, Quantity
from logbook.facts.record import Snapshot
from logbook.facts.units import system_of
from logbook.sections.document import Line, Mark, Piece

BLANK = Run("blank", "missing")
"""What stands where nothing was said: never an empty cell."""


def text_or_blank(text: str | None) -> Runs:
    """Return a text as entered, or that it is blank."""
    return (Run(text),) if text and text.strip() else (BLANK,)


def printed(text: str) -> str:
    """Return a message in plain English, with no line break between a number and its unit."""
    return rendered(text, translate=_whole, show=_shown)


def begun(label: str) -> str:
    """Return a label in plain English as it stands at the beginning of a line."""
    text = printed(label)
    return f"{text[:1].upper()}{text[1:]}"


def _whole(template: str) -> str:
    return f"{{figure}}{NBSP}{{unit}}" if template == "{figure} {unit}" else template


def _shown(value: Any, how: str) -> str:
    return text_of(value) if isinstance(value, Quantity) else format(value, how)


def of(line: Line, s: Snapshot, *, in_table: bool = False) -> Runs:
    """Return what a line of the document says; in a table times have no offset from UTC."""
    runs: list[Run] = []
    for piece in line.pieces:
        if runs:
            runs.append(Run(line.between, piece.look if piece.look == "quiet" else "ink"))
        runs += _piece(piece, s, in_table)
    return tuple(runs)


def fact(line: Line, s: Snapshot, *, name: str = "", marks: tuple[Mark, ...] = ()) -> Fact:
    """Return a line of the document as it is printed.

    Args: name, in place of its label; marks that stand beside it.
    """
    return Fact(name or begun(line.label), of(line, s), marks)


def _piece(piece: Piece, s: Snapshot, in_table: bool) -> Runs:
    value, look = piece
    match value:
        case None | "":
            return (BLANK,)
        case Quantity() | Nothing():
            return answer(value, system=s.business.unit_system)
        case datetime() if in_table:
            there = value.astimezone(s.zone)
            text = f"{there:%Y-%m-%d %H:%M} {there:%Z}"
        case datetime():
            text = local(value, s.zone)
        case date():
            text = value.isoformat()
        case _:
            text = printed(value)
    if look in ("", "strong", "quiet"):
        return (Run(text, look if look == "quiet" else "ink", look == "strong"),)
    before = swatch(f"swatch-{look}") if "-" in look else mark(look)
    return (before, Run(f"{NBSP}{text}"))


def answer(given: Answer, *, system: str = "") -> Runs:
    """Return an answer as entered, in brackets how it reads otherwise.

    Args: system of units of the business, in which it speaks; what was entered in the other one
    stands beside it then.
    """
    if given is None:
        return (BLANK,)
    if isinstance(given, Nothing):
        return (Run(str(given)),)
    other = sector(direction_deg=given.si) if given.dimension == "angle" else given.other
    if other and system and system_of(given.unit) not in ("", system):
        number, unit = other.split(" ", 1)
        said = f" (entered as {text_of(given)})"
        return (Run(number), Run(f"{NBSP}{kept(unit)}", "quiet"), Run(said, "quiet"))
    return (*entered(given), Run(f" ({kept(other)})", "quiet")) if other else entered(given)


def entered(quantity: Quantity) -> Runs:
    """Return a quantity as entered: the number in ink, its unit quiet."""
    between = "" if quantity.unit == "°" else NBSP
    return (Run(f"{quantity.value:f}"), Run(f"{between}{kept(quantity.unit)}", "quiet"))


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


def text_of(quantity: Quantity) -> str:
    """Return a quantity as entered, as text."""
    return f"{quantity.value:f}{NBSP}{kept(quantity.unit)}"


def kept(unit: str) -> str:
    """Return a unit that no line break parts."""
    return unit.replace(" ", NBSP)


def field_name(s: Snapshot) -> str:
    """Return the name of the field, or that it is blank."""
    return s.field.name if s.field else "field blank"


def customer_name(s: Snapshot) -> str:
    """Return the name of the customer, or that it is blank."""
    return s.customer.name if s.customer else "customer blank"


def day_of(s: Snapshot) -> str:
    """Return the local day of the work, both where it goes over midnight, or that it is blank."""
    return " to ".join(map(str, s.days)) or "day blank"
