"""How sure the entries are from which a rate can be estimated, and the swath of a rig."""

from __future__ import annotations

from calc.coverage import EffectiveWidth
from calc.uncertainty import (
    relative_from_relative_accuracy,
)
from logbook.facts.record import RigFacts

AREA_ACCURACY = 0.01
"""Half-width of an entered area; common practice, no source."""


DISTANCE_ACCURACY = 0.01
"""Half-width of a distance driven, from wheel or satellite; common practice, no source."""


def swath_m(rig: RigFacts, width: EffectiveWidth) -> float:
    """Return the sprayed width of the boom. [m]"""
    return rig.nozzle_count * width.width_cm / 100.0


def swath_u(rig: RigFacts) -> float:
    """Return the relative standard uncertainty of that width. [1]"""
    return relative_from_relative_accuracy(accuracy=float(rig.spacing_accuracy_percent) / 100.0)


def tank_u(rig: RigFacts | None) -> float:
    """Return the relative standard uncertainty of a volume read at the tank. [1]"""
    if rig is None:
        return 0.0
    return relative_from_relative_accuracy(accuracy=float(rig.tank_accuracy_percent) / 100.0)


def area_u() -> float:
    """Return the relative standard uncertainty of an entered area. [1]"""
    return relative_from_relative_accuracy(accuracy=AREA_ACCURACY)


def length_unit(rig: RigFacts) -> str:
    """Return the unit in which the swath of a rig is told."""
    return "ft" if rig.spacing.unit in ("in", "ft") else "m"
