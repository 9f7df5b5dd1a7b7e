"""Droplet size classes: their order, and the class of a nozzle at a pressure.

A class is relative to reference nozzles measured on the same instrument; it is no range of
micrometres. It comes from the nozzle model's own table of pressures and classes and from nowhere
else: never extrapolated, never derived from an estimated diameter. "Unknown" is an answer.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from enum import IntEnum, StrEnum
from itertools import pairwise

from calc.errors import N, OutOfRange, positive


class DropletClass(IntEnum):
    """Droplet size classes, finest first: finer < coarser. [ASABE-S572], [ISO-25358]."""

    XF = 1
    VF = 2
    F = 3
    M = 4
    C = 5
    VC = 6
    XC = 7
    UC = 8

    @property
    def words(self) -> str:
        """The name of the class in words."""
        return CLASS_COLOURS[self].words


@dataclass(frozen=True, slots=True)
class ClassColour:
    """How a class is shown.

    Attributes: words, its name; colour, the word of S572; swatch, our rendering of that colour;
    source of the colour; how_read.
    """

    words: str
    colour: str
    swatch: str
    source: str
    how_read: str


_EXCERPT = "read in excerpt"
_MEMORY = "from memory"

CLASS_COLOURS = {
    DropletClass.XF: ClassColour("Extremely Fine", "violet", "#7A4FA3", "ASABE-S572", _MEMORY),
    DropletClass.VF: ClassColour("Very Fine", "red", "#C9282D", "GRAINEWS", _EXCERPT),
    DropletClass.F: ClassColour("Fine", "orange", "#E9791F", "GRAINEWS", _EXCERPT),
    DropletClass.M: ClassColour("Medium", "yellow", "#F0C818", "GRAINEWS", _EXCERPT),
    DropletClass.C: ClassColour("Coarse", "blue", "#1F5FA8", "GRAINEWS", _EXCERPT),
    DropletClass.VC: ClassColour("Very Coarse", "green", "#2F8A3E", "GRAINEWS", _EXCERPT),
    DropletClass.XC: ClassColour("Extremely Coarse", "white", "#FFFFFF", "GRAINEWS", _EXCERPT),
    DropletClass.UC: ClassColour("Ultra Coarse", "black", "#16181A", "ASABE-S572", _MEMORY),
}
"""Name and colour of each class; never shown without the word."""

_NAMES = {
    name.casefold(): droplet_class
    for droplet_class, shown in CLASS_COLOURS.items()
    for name in (droplet_class.name, shown.words)
}


class Allowed(StrEnum):
    """Whether a class is among those that a label allows."""

    PASSES = "passes"
    FAILS = "fails"
    UNKNOWN = "unknown"


BETWEEN = "between the listed {low} and {high} kPa"
OUTSIDE = "outside the table, which runs from {low} to {high} kPa"


@dataclass(frozen=True, slots=True)
class ClassAtPressure:
    """The class of a nozzle at a pressure, as far as its table tells.

    Attributes: candidates, finest first: one where the table decides, several between two listed
    pressures of differing class, none outside the table; why it is not one, "" where it is, with
    places for the pressures [kPa] in between.
    """

    candidates: tuple[DropletClass, ...]
    why: str = ""
    between_kpa: tuple[float, ...] = ()

    @property
    def values(self) -> dict[str, str]:
        """What stands in the places of `why`."""
        return dict(zip(("low", "high"), (f"{one:g}" for one in self.between_kpa), strict=False))

    @property
    def reason(self) -> str:
        """Why it is not one class, as a sentence; "" where it is."""
        return self.why.format(**self.values)

    @property
    def finer(self) -> DropletClass | None:
        """The class to take for a question of drift; None if unknown. [CLASS-BETWEEN]."""
        return self.candidates[0] if self.candidates else None

    @property
    def coarser(self) -> DropletClass | None:
        """The class to take for a question of efficacy; None if unknown. [CLASS-BETWEEN]."""
        return self.candidates[-1] if self.candidates else None


class Shift(StrEnum):
    """Which way the droplets go, and with them the drift."""

    FINER = "finer droplets, more drift"
    COARSER = "coarser droplets, less drift"


@dataclass(frozen=True, slots=True)
class DirectionOfChange:
    """One change at the nozzle, what it does, source key, how it was read."""

    change: str
    shift: Shift
    source: str
    how_read: str


DIRECTIONS = (
    DirectionOfChange("higher pressure", Shift.FINER, "DROP-DIRECTION", _MEMORY),
    DirectionOfChange("larger orifice", Shift.COARSER, "DROP-DIRECTION", _MEMORY),
    DirectionOfChange("wider fan angle", Shift.FINER, "DROP-DIRECTION", _MEMORY),
    DirectionOfChange("air induction", Shift.COARSER, "DROP-DIRECTION", _MEMORY),
    DirectionOfChange("pre-orifice", Shift.COARSER, "DROP-DIRECTION", _MEMORY),
    DirectionOfChange("oil adjuvant", Shift.FINER, "DROP-DIRECTION", _MEMORY),
    DirectionOfChange("surfactant, most of them", Shift.FINER, "DROP-DIRECTION", _MEMORY),
    DirectionOfChange("drift retardant, some of them", Shift.COARSER, "DROP-DIRECTION", _MEMORY),
)
"""Which way a change moves the class; a drift retardant can spoil an air-induction nozzle."""


@dataclass(frozen=True, slots=True)
class DiameterExponent:
    """Exponent in diameter ∝ quantity^exponent, as a range; for comparison in words only."""

    quantity: str
    low: float
    high: float
    source: str
    how_read: str


DIAMETER_EXPONENTS = (
    DiameterExponent("pressure", -0.4, -0.2, "SRIVASTAVA", _MEMORY),
    DiameterExponent("pressure, air induction", -0.3, -0.15, "SRIVASTAVA", _MEMORY),
    DiameterExponent("orifice diameter", 2 / 3, 2 / 3, "SRIVASTAVA", _MEMORY),
)
"""Order of magnitude of the change of volume median diameter. It decides no class."""

ZONE_RULE_FROM = date(2024, 12, 3)
"""Day from which the present text of 40 CFR 170.405(a)(1) holds. Source: [CFR-170.405]."""


def parse_class(text: str) -> DropletClass:
    """Return the droplet size class of a symbol or a name, in any case: "M", "very coarse".

    Raises: OutOfRange if the text is neither.
    Source: [ASABE-S572].
    """
    name = re.sub(r"[\s-]+", " ", text.strip()).casefold()
    if name not in _NAMES:
        known = ", ".join(f"{each.name} ({each.words})" for each in DropletClass)
        raise OutOfRange("droplet class", text, "one of {list}", list=known)
    return _NAMES[name]


def this_or_coarser(droplet_class: DropletClass) -> frozenset[DropletClass]:
    """Return the classes that "… or coarser" allows. Source: [CLASS-INEQUALITY]."""
    return frozenset(each for each in DropletClass if each >= droplet_class)


def this_or_finer(droplet_class: DropletClass) -> frozenset[DropletClass]:
    """Return the classes that "… or finer" allows. Source: [CLASS-INEQUALITY]."""
    return frozenset(each for each in DropletClass if each <= droplet_class)


def allowed(
    *, candidates: Sequence[DropletClass], allowed_classes: Collection[DropletClass]
) -> Allowed:
    """Return whether what a nozzle may spray is within what a label allows.

    It passes only if every candidate is allowed and fails only if none is.

    Args: candidates, the classes that are possible, none where the class is unknown;
        allowed_classes of the label, one or more.
    Raises: OutOfRange if no class is allowed.
    Source: [CLASS-INEQUALITY], [CLASS-BETWEEN].
    """
    if not allowed_classes:
        raise OutOfRange("allowed_classes", list(allowed_classes), "one class or more")
    hits = [each in allowed_classes for each in candidates]
    if not hits or (any(hits) and not all(hits)):
        return Allowed.UNKNOWN
    return Allowed.PASSES if all(hits) else Allowed.FAILS


def class_at_pressure(
    *, rows: Sequence[tuple[float, DropletClass]], pressure_kpa: float
) -> ClassAtPressure:
    """Return the class of a nozzle at a pressure, from the model's own table.

    Between two listed pressures of differing class every class from the one to the other is a
    candidate. Outside the table the class is unknown.

    Args: rows of (pressure [kPa] > 0, class), one or more, no pressure twice; pressure_kpa at the
        nozzle [kPa] > 0.
    Raises: OutOfRange if the table is empty, lists a pressure twice, or a pressure is not positive
        and finite.
    Source: [CLASS-BETWEEN].
    """
    positive("pressure_kpa", pressure_kpa)
    if not rows:
        raise OutOfRange("rows", list(rows), "one row of pressure and class or more")
    table = sorted((positive("pressure of a row", kpa), each) for kpa, each in rows)
    for (below, _), (above, _) in pairwise(table):
        if _same(below, above):
            raise OutOfRange("rows", below, "a table that lists each pressure once")
    for kpa, listed in table:
        if _same(kpa, pressure_kpa):
            return ClassAtPressure((listed,))
    for (below, one), (above, other) in pairwise(table):
        if below < pressure_kpa < above:
            between = tuple(DropletClass(n) for n in range(min(one, other), max(one, other) + 1))
            why = BETWEEN if one != other else ""
            return ClassAtPressure(between, why, (below, above) if why else ())
    return ClassAtPressure((), OUTSIDE, (table[0][0], table[-1][0]))


def drop_count_factor(*, diameter_um: N, new_diameter_um: N) -> N:
    """Return how many times as many drops the same volume makes at another diameter.

    Args: diameter_um now and new_diameter_um [µm] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [VT-442-032]; the number goes with diameter^−3.
    """
    ratio = positive("diameter_um", diameter_um) / positive("new_diameter_um", new_diameter_um)
    return ratio * ratio * ratio


def exclusion_zone_ft(
    *, day: date, droplet_class: DropletClass | None, height_in: float | None
) -> float:
    """Return the application exclusion zone of an outdoor ground spray with nozzles. [ft]

    Air-blast, fumigant, smoke, mist and fog applications have 100 ft whatever the class, and are
    not asked about here. Where the class lies between two, the finer one is given. Where class or
    height is not known, the larger distance holds.

    Args: day of the application, 3 December 2024 or later; droplet_class; height_in of the nozzle
        above the soil or planting medium, not above the crop [in] > 0. None is not known.
    Raises: OutOfRange if the day is earlier, under the text before, or the height is not positive
        and finite.
    Source: [CFR-170.405].
    """
    if day < ZONE_RULE_FROM:
        bound = "{day} or later, when this text of the rule took effect"
        raise OutOfRange("day", day.isoformat(), bound, day=ZONE_RULE_FROM.isoformat())
    if height_in is not None:
        positive("height_in", height_in)
    if droplet_class is None or droplet_class < DropletClass.M:
        return 100.0
    return 25.0 if height_in is None or height_in > 12.0 else 0.0


def _same(pressure_kpa: float, other_kpa: float) -> bool:
    """Return whether two pressures are one but for the rounding of a conversion."""
    return math.isclose(pressure_kpa, other_kpa, rel_tol=1e-9)
