"""A quantity as a person entered it, and the kinds of nothing a person can answer instead.

The decimal and the unit are kept as entered; every other unit is offered, never stored over it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum

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

_NUMBER = re.compile(r"^\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*(.*?)\s*$")


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
    match = _NUMBER.match(text)
    if match is None:
        raise BadAnswer(
            msg(
                '"{text}" is not a number with a unit, such as {example}.',
                text=text,
                example=example(dimensions),
            )
        )
    return make_quantity(match[1], match[2], dimensions=dimensions)


def make_quantity(value: str, unit: str, *, dimensions: tuple[str, ...]) -> Quantity:
    """Return the quantity of the two entered texts.

    Raises: BadAnswer if the number or unit cannot be read or the dimension is not allowed.
    """
    try:
        number = Decimal(value.strip())
    except InvalidOperation:
        raise BadAnswer(
            msg(
                '"{value}" is not a number; write it like {example}.',
                value=value,
                example=Figure("12.5"),
            )
        ) from None
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
