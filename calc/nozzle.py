"""Nozzle sizes and their ISO 10625 colours, and the designation stamped on a tip.

A size states two nominal points that do not agree: N/10 US gal/min at 40 psi, and 0.4 L/min per
size unit at 300 kPa, which is 1.3 % more than the square-root law makes of the first. A model's own
rated point is therefore kept with the model; the size is only a fall-back.

The colour of a size means nothing for the droplet class, which has colours of the same names: the
word is always shown with the colour.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from calc.errors import N, OutOfRange
from calc.flow import flow_at_pressure
from calc.units import convert

RATED_PRESSURE_KPA = convert(40.0, from_unit="psi", to_unit="kPa")
"""Pressure at which the size number states the flow: 40 psi. Source: [AZ-NOZZLE]."""

ISO_PRESSURE_KPA = 300.0
"""Pressure at which the standard states the nominal flow. Source: [ISO-10625]."""


@dataclass(frozen=True, slots=True)
class NozzleSize:
    """A nozzle size.

    Attributes: designation; flow_gal_min at 40 psi [US gal/min]; colour, the word of ISO 10625;
    swatch, our rendering of that colour; iso_flow_l_min, nominal at 300 kPa [L/min]; source, the
    key for colour and 40-psi flow (the nominal flow at 300 kPa is from memory throughout).
    """

    designation: str
    flow_gal_min: float
    colour: str
    swatch: str
    iso_flow_l_min: float
    source: str

    @property
    def rated_flow_l_min(self) -> float:
        """Flow at 40 psi. [L/min]."""
        return convert(self.flow_gal_min, from_unit="gal/min", to_unit="L/min")


SIZES: dict[str, NozzleSize] = {
    size.designation: size
    for size in (
        NozzleSize("0075", 0.075, "pink", "#E58FB1", 0.3, "ISO-10625"),
        NozzleSize("01", 0.10, "orange", "#E9791F", 0.4, "AZ-NOZZLE"),
        NozzleSize("015", 0.15, "green", "#2F8A3E", 0.6, "AZ-NOZZLE"),
        NozzleSize("02", 0.20, "yellow", "#F0C818", 0.8, "AZ-NOZZLE"),
        NozzleSize("025", 0.25, "lilac", "#9C7BC0", 1.0, "AZ-NOZZLE"),
        NozzleSize("03", 0.30, "blue", "#1F5FA8", 1.2, "AZ-NOZZLE"),
        NozzleSize("035", 0.35, "brown-red", "#8C2F26", 1.4, "ISO-10625"),
        NozzleSize("04", 0.40, "red", "#C9282D", 1.6, "AZ-NOZZLE"),
        NozzleSize("05", 0.50, "brown", "#7A4B28", 2.0, "AZ-NOZZLE"),
        NozzleSize("06", 0.60, "grey", "#8A8F92", 2.4, "AZ-NOZZLE"),
        NozzleSize("08", 0.80, "white", "#FFFFFF", 3.2, "AZ-NOZZLE"),
        NozzleSize("10", 1.00, "light blue", "#7DB7E0", 4.0, "ISO-10625"),
        NozzleSize("15", 1.50, "light green", "#93CE7C", 6.0, "ISO-10625"),
        NozzleSize("20", 2.00, "black", "#16181A", 8.0, "ISO-10625"),
    )
}
"""The sizes of ISO 10625, smallest first, keyed by designation."""

ANGLES = (25, 40, 50, 65, 73, 80, 90, 95, 100, 110, 120, 130, 140)
"""Fan angles [°] that appear before a size on a tip. Source: [TRADE-DESIGNATION]."""


@dataclass(frozen=True, slots=True)
class Designation:
    """What a stamped designation says: the fan angle at the rated pressure [°] and the size."""

    angle_deg: int
    size: NozzleSize


def size_of(designation: str) -> NozzleSize:
    """Return the nozzle size of a size number such as `04`.

    Raises: OutOfRange if the size is not in the table.
    Source: [AZ-NOZZLE], [ISO-10625].
    """
    if designation not in SIZES:
        raise OutOfRange(
            "designation", designation, "one of the sizes {list}", list=", ".join(SIZES)
        )
    return SIZES[designation]


def parse_designation(text: str) -> Designation:
    """Return the angle [°] and the size that a designation such as `11004` or `110-04` states.

    A maker's prefix or suffix letters are refused: they name the kind of nozzle, which a number
    does not tell.

    Args: text, the angle in degrees, then the size number, with at most a hyphen or a space
        between them.
    Raises: OutOfRange if the text is anything else, or the angle or the size is not known.
    Source: [TRADE-DESIGNATION], [AZ-NOZZLE].
    """
    known = [
        Designation(angle, size)
        for angle in ANGLES
        for size in SIZES.values()
        if re.fullmatch(f"{angle}[- ]?{size.designation}", text.strip())
    ]
    if len(known) != 1:
        raise OutOfRange(
            "designation",
            text,
            "an angle ({angles}) and a size ({sizes}), such as 11004, without letters",
            angles=", ".join(map(str, ANGLES)),
            sizes=", ".join(SIZES),
        )
    return known[0]


def nominal_flow_l_min(*, size: NozzleSize, pressure_kpa: N) -> N:
    """Return the flow of a size at a pressure, by the square-root law from 40 psi. [L/min]

    Args: size; pressure_kpa at the nozzle [kPa] > 0.
    Raises: OutOfRange if the pressure is not positive and finite.
    Source: [AZ-NOZZLE], [ORIFICE-LAW].
    """
    return flow_at_pressure(
        rated_flow_l_min=size.rated_flow_l_min,
        rated_pressure_kpa=RATED_PRESSURE_KPA,
        pressure_kpa=pressure_kpa,
    )
