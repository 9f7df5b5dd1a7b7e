"""Slips of the pen: the wrong unit beside a number that was read rightly, and swapped digits.

Each says by what factor the entered value then differs from the true one. That a slip would explain
a contradiction is a question to the person who entered it, never a correction.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from calc.units import convert

TAKEN_FOR_EACH_OTHER = (
    ("mph", "km/h"),
    ("psi", "bar"),
    ("psi", "kPa"),
    ("bar", "kPa"),
    ("in", "cm"),
    ("ft", "m"),
    ("ac", "ha"),
    ("gal", "L"),
    ("gal", "imp gal"),
    ("fl oz", "pt"),
    ("pt", "gal"),
    ("qt", "gal"),
    ("lb", "kg"),
)
"""Units of which one is written for the other; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Slip:
    """A number read in one unit and written down in another.

    Attributes: read and written, the unit codes, read is "1" for a share of one; factor,
    entered / true [1].
    """

    read: str
    written: str
    factor: float


def slips_into(*, written: str) -> tuple[Slip, ...]:
    """Return the slips that put a number beside the unit `written`; none for most units.

    Args: written, a code of `calc.units`.
    Source: factors [NIST-SP811]; which units are taken for each other, common practice.
    """
    if written == "%":
        return (Slip("1", "%", 0.01),)
    others = [
        one if other == written else other
        for one, other in TAKEN_FOR_EACH_OTHER
        if written in (one, other)
    ]
    return tuple(
        Slip(read, written, convert(1.0, from_unit=written, to_unit=read)) for read in others
    )


def with_swapped_digits(*, entered: str) -> tuple[str, ...]:
    """Return the numbers that two neighbouring digits of `entered`, swapped, would have been.

    Args: entered, a number as typed, digits with at most one decimal mark. No number is made that
        begins with a zero before a further digit.
    Source: entered and true then differ by a multiple of 9 in the last place; computed.
    """
    places = [place for place, sign in enumerate(entered) if sign.isdigit()]
    made = []
    for left, right in pairwise(places):
        signs = list(entered)
        signs[left], signs[right] = signs[right], signs[left]
        text = "".join(signs)
        if text != entered and not (text[0] == "0" and text[1].isdigit()):
            made.append(text)
    return tuple(made)
