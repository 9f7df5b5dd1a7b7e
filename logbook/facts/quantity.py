"""A quantity as a person entered it, and the kinds of nothing a person can answer instead.

The decimal and the unit are kept as entered; every other unit is offered, never stored over it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cache

from calc.units import UNITS, convert, dimension_of, other_system, reference_unit
from logbook.facts.messages import Figure, gettext_noop, joined, msg, with_unit

_REFERENCES = {code: reference_unit(unit.dimension) for code, unit in UNITS.items()}


class BadAnswer(ValueError):
    """An entered answer that cannot be read; the message says what is allowed."""


class Absence(StrEnum):
    """The three answers that are words, not numbers; blank (None) is no answer at all."""

    NONE = gettext_noop("none")
    NOT_APPLICABLE = gettext_noop("not applicable")
    NOT_MEASURED = gettext_noop("not measured")


@dataclass(frozen=True, slots=True)
class Nothing:
    """An answer that is a word; "not measured" carries its reason."""

    kind: Absence
    reason: str = ""

    def __post_init__(self) -> None:
        if self.kind is Absence.NOT_MEASURED and not self.reason.strip():
            raise BadAnswer(msg('"not measured" needs the reason why it was not measured.'))

    def __str__(self) -> str:
        return f"{self.kind.value}: {self.reason}" if self.reason else self.kind.value


@dataclass(frozen=True, slots=True)
class Quantity:
    """A decimal and a unit code of `calc.units`, as entered."""

    value: Decimal
    unit: str

    def __post_init__(self) -> None:
        if self.unit not in UNITS:
            raise BadAnswer(
                msg(
                    '"{unit}" is not a unit; allowed are {units}.',
                    unit=self.unit,
                    units=joined(", ", UNITS),
                )
            )
        if not self.value.is_finite():
            raise BadAnswer(msg("{value} is not a number.", value=self.value))
        if abs(self.value) >= 10**12 or -int(self.value.as_tuple().exponent) > 12:
            raise BadAnswer(
                msg(
                    "{value} has too many digits; allowed are 12 before and 12 after the point.",
                    value=self.value,
                )
            )

    def __str__(self) -> str:
        return f"{self.value:f} {self.unit}"

    @property
    def dimension(self) -> str:
        """The dimension of the unit, for example "pressure"."""
        return dimension_of(self.unit)

    @property
    def si(self) -> float:
        """The value in the reference unit of its dimension (L/ha, km/h, kPa, m, ha, L, kg …)."""
        return self.to(_REFERENCES[self.unit])

    @property
    def other(self) -> str:
        """The same in the other unit system, to the digits that were entered; "" if it has none."""
        unit = other_system(self.unit)
        if unit == self.unit:
            return ""
        digits = max(3, min(6, len(self.value.as_tuple().digits)))
        return f"{Decimal(f'{self.to(unit):.{digits}g}'):f} {unit}"

    def to(self, unit: str) -> float:
        """Return the value in `unit`, of the same dimension."""
        return float(convert(float(self.value), from_unit=self.unit, to_unit=unit))


Answer = Quantity | Nothing | None
"""What stands in a field for a quantity: a quantity, a word, or blank."""

MAX_DIGITS = 24
"""The most characters of a number."""

_PARTS = {"½": "5", "¼": "25", "¾": "75", "⅛": "125", "⅜": "375", "⅝": "625", "⅞": "875"}
"""Fractions of one character that are whole decimals, by what stands behind the point."""

_TYPED = re.compile(rf"([+-]?[0-9.,]*[{''.join(_PARTS)}]?)\s*(.*)", re.DOTALL)
_NUMBER = re.compile(r"[+-]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)")
_PART = re.compile(rf"([+-]?[0-9]*)([{''.join(_PARTS)}])")

_ABBREVIATED = {"gpa": "gal/ac", "gpm": "gal/min", "kph": "km/h"}
_UNITS = {code.casefold(): code for code in UNITS} | _ABBREVIATED


def unit_meant(text: str) -> str:
    """Return the code of a unit as a person writes it ("MPH", "gal / ac", "gpa"), else the text."""
    return text if text in UNITS else _UNITS.get(re.sub(r"\s*/\s*", "/", text).casefold(), text)


def number_and_unit(text: str) -> tuple[str, str]:
    """Return the number that a text begins with and what follows: "6,5 MPH" as "6,5" and "MPH"."""
    match = _TYPED.fullmatch(text.strip())
    return (match[1], match[2]) if match else ("", text)


def plain_number(text: str, *, mark: str = ".") -> str:
    """Return a number as typed with the point as its decimal mark; "6½" is 6.5.

    Point and comma are both decimal marks ("1.5", "1,5"), but the one that is not the reader's own
    may stand for thousands, and then it is refused, not guessed: "1,200 gal" read as 1.2 gal is a
    thousand times wrong.

    Args: mark, the reader's own.
    Raises: BadAnswer, saying how to write it.
    """
    if len(text) > MAX_DIGITS:
        raise BadAnswer(
            msg(
                "{number}… has too many digits; at most {most}.",
                number=text[:MAX_DIGITS],
                most=MAX_DIGITS,
            )
        )
    other = "." if mark == "," else ","
    if _thousands(other, mark).fullmatch(text):
        read: str = Figure(text.replace(other, "").replace(mark, "."))
        if text.count(other) == 1 and mark not in text:
            read = msg("{whole} or {broken}", whole=read, broken=Figure(text.replace(other, ".")))
        raise BadAnswer(
            msg('"{text}" can be read in two ways; write {read}.', text=text, read=read)
        )
    if part := _PART.fullmatch(text):
        return f"{part[1]}.{_PARTS[part[2]]}"
    if not _NUMBER.fullmatch(text):
        raise BadAnswer(
            msg(
                '"{value}" is not a number; write it like {example}.',
                value=text,
                example=Figure("12.5"),
            )
        )
    return text.replace(",", ".")


@cache
def _thousands(group: str, mark: str) -> re.Pattern[str]:
    """Return the shape of a number whose thousands may be set apart by `group`."""
    thousands = rf"({re.escape(group)}[0-9]{{3}})+"
    return re.compile(rf"[+-]?[0-9]{{1,3}}{thousands}({re.escape(mark)}[0-9]*)?")


def parse_answer(text: str, *, dimensions: tuple[str, ...], words: bool = True) -> Answer:
    """Return the answer that `text` ("15.0 gal/ac", "none", "not measured: no meter") stands for.

    Args: dimensions allowed for a number; words: whether an absence is allowed.
    Raises: BadAnswer, saying what is allowed.
    """
    text = text.strip()
    if not text:
        return None
    word, _, reason = text.partition(":")
    if word.strip().lower() in set(Absence):
        if not words:
            raise BadAnswer(
                msg('"{text}" is not allowed here; a number with its unit is needed.', text=text)
            )
        return Nothing(Absence(word.strip().lower()), reason.strip())
    number, unit = number_and_unit(text)
    if not number.strip("+-.,"):
        raise BadAnswer(
            msg(
                '"{text}" is not a number with a unit, such as {example}.',
                text=text,
                example=example(dimensions),
            )
        )
    return make_quantity(number, unit, dimensions=dimensions)


def make_quantity(
    value: str, unit: str, *, dimensions: tuple[str, ...], mark: str = "."
) -> Quantity:
    """Return the quantity of the two entered texts.

    Args: mark, the reader's own decimal mark; see `plain_number`.
    Raises: BadAnswer if the number or unit cannot be read or the dimension is not allowed.
    """
    number, unit = Decimal(plain_number(value.strip(), mark=mark)), unit_meant(unit.strip())
    if unit not in UNITS or dimension_of(unit) not in dimensions:
        allowed = [code for code, one in UNITS.items() if one.dimension in dimensions]
        raise BadAnswer(
            msg(
                '"{unit}" is not a unit for this; allowed are {allowed}.',
                unit=unit,
                allowed=joined(", ", allowed),
            )
        )
    return Quantity(number, unit)


def example(dimensions: tuple[str, ...]) -> str:
    """Return an example of an entry, for a message."""
    return with_unit(Figure("12.5"), reference_unit(dimensions[0]))
