"""The question turned round: which nozzle, at which pressure and speed, meets the label.

For each candidate the speeds of the rig ask for a stretch of pressure. That stretch is narrowed by
the rated range, by the nozzle's own air-induction range, and to the pressures at which every class
it may spray is allowed. What is left is the window; where nothing is left, the limit that closed it
is named with its numbers. The guidance by purpose is a starting point: the label decides.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from calc.coverage import ground_speed_km_h, nozzle_flow_l_min
from calc.droplets import Allowed, DropletClass, allowed, class_at_pressure
from calc.errors import OutOfRange, positive, within
from calc.flow import EXPONENT_RANGE, density_factor, flow_at_pressure, pressure_for_flow
from calc.limits import Outcome, judge_within

INSIDE_ONE_LIMIT = 1.1
"""How far inside the only limit of a label the rate is aimed; common practice, no source."""

Stretch = tuple[float, float]
"""Pressures from … to [kPa]."""


class NozzleKind(StrEnum):
    """Kinds of nozzle in the words of the trade."""

    FLAT_FAN = "flat fan"
    PRE_ORIFICE_FLAT_FAN = "pre-orifice flat fan"
    AIR_INDUCTION_FLAT_FAN = "air-induction flat fan"
    TWIN_FLAT_FAN = "twin flat fan"
    AIR_INDUCTION_TWIN_FLAT_FAN = "air-induction twin flat fan"
    FLOODING_FAN = "flooding fan"
    HOLLOW_CONE = "hollow cone"
    FULL_CONE = "full cone"
    STREAMER = "streamer"


class Purpose(StrEnum):
    """What is sprayed, as far as it matters to the choice of a nozzle."""

    SOIL_HERBICIDE = "soil-applied herbicide"
    CONTACT_HERBICIDE = "contact herbicide"
    SYSTEMIC_HERBICIDE = "systemic herbicide"
    CANOPY_FUNGICIDE = "fungicide into the canopy"
    INSECTICIDE = "insecticide"
    LIQUID_FERTILIZER = "liquid fertilizer"


@dataclass(frozen=True, slots=True)
class Guidance:
    """What is usually chosen for a purpose.

    Attributes: purpose; kinds, the usual first; finest and coarsest class of the usual range; note;
    basis.
    """

    purpose: Purpose
    kinds: tuple[NozzleKind, ...]
    finest: DropletClass
    coarsest: DropletClass
    note: str
    basis: str = "common practice, no source"


GUIDANCE: tuple[Guidance, ...] = (
    Guidance(
        Purpose.SOIL_HERBICIDE,
        (
            NozzleKind.AIR_INDUCTION_FLAT_FAN,
            NozzleKind.FLOODING_FAN,
            NozzleKind.PRE_ORIFICE_FLAT_FAN,
        ),
        DropletClass.C,
        DropletClass.UC,
        "Bare soil takes large drops; small ones only drift.",
    ),
    Guidance(
        Purpose.CONTACT_HERBICIDE,
        (NozzleKind.FLAT_FAN, NozzleKind.PRE_ORIFICE_FLAT_FAN, NozzleKind.TWIN_FLAT_FAN),
        DropletClass.M,
        DropletClass.C,
        "It works where it lands, so it needs cover: more drops, more carrier.",
    ),
    Guidance(
        Purpose.SYSTEMIC_HERBICIDE,
        (NozzleKind.AIR_INDUCTION_FLAT_FAN, NozzleKind.PRE_ORIFICE_FLAT_FAN),
        DropletClass.C,
        DropletClass.XC,
        "The plant moves it, so coarser drops do; some labels allow nothing finer.",
    ),
    Guidance(
        Purpose.CANOPY_FUNGICIDE,
        (
            NozzleKind.TWIN_FLAT_FAN,
            NozzleKind.AIR_INDUCTION_TWIN_FLAT_FAN,
            NozzleKind.FLAT_FAN,
        ),
        DropletClass.M,
        DropletClass.C,
        "Two fans, one forward and one back, reach both sides of ears and stems.",
    ),
    Guidance(
        Purpose.INSECTICIDE,
        (NozzleKind.FLAT_FAN, NozzleKind.TWIN_FLAT_FAN, NozzleKind.HOLLOW_CONE),
        DropletClass.M,
        DropletClass.C,
        "Finer only where the label asks for it and nobody is downwind.",
    ),
    Guidance(
        Purpose.LIQUID_FERTILIZER,
        (NozzleKind.STREAMER, NozzleKind.FLOODING_FAN),
        DropletClass.VC,
        DropletClass.UC,
        "Streams run off the leaf instead of scorching it; a stream has no droplet class.",
    ),
)
"""A starting point by purpose, [NOZZLE-GUIDANCE]; the label outranks it."""

KIND_NOTES: dict[NozzleKind, str] = {
    NozzleKind.AIR_INDUCTION_FLAT_FAN: (
        "Wants its own, higher pressure, and no drift-retardant adjuvant, which stops the air."
    ),
    NozzleKind.AIR_INDUCTION_TWIN_FLAT_FAN: (
        "Wants its own, higher pressure, and no drift-retardant adjuvant, which stops the air."
    ),
    NozzleKind.TWIN_FLAT_FAN: "Its two fans are each half the size, and finer for it.",
    NozzleKind.STREAMER: "For liquid fertilizer; it covers nothing else.",
}
"""What to know about a kind; common practice, [NOZZLE-GUIDANCE]."""

ANGLE_NOTE = "A wider angle allows a lower boom, and a lower boom drifts less."
"""Common practice, no source; a wider angle also makes finer drops."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What the label asks for; None where it names no such limit.

    Attributes: low_l_ha and high_l_ha, carrier rate [L/ha]; classes allowed; product_low_per_ha and
    product_high_per_ha, product rate, in any unit of amount per hectare.
    """

    low_l_ha: float | None
    high_l_ha: float | None
    classes: frozenset[DropletClass] | None
    product_low_per_ha: float | None
    product_high_per_ha: float | None

    def __post_init__(self) -> None:
        """Refuse limits that are not positive or in the wrong order, and an empty set."""
        _ordered("low_l_ha", self.low_l_ha, "high_l_ha", self.high_l_ha)
        _ordered(
            "product_low_per_ha",
            self.product_low_per_ha,
            "product_high_per_ha",
            self.product_high_per_ha,
        )
        if self.classes is not None and not self.classes:
            raise OutOfRange("classes", set(), "one class or more, or None where none is named")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """The rig.

    Attributes: spacing_cm, the width one nozzle covers [cm] > 0; low_km_h and high_km_h, the ground
    speeds to be driven [km/h] > 0; equal for one speed.
    """

    spacing_cm: float
    low_km_h: float
    high_km_h: float

    def __post_init__(self) -> None:
        """Refuse numbers that are not positive or in the wrong order."""
        positive("spacing_cm", self.spacing_cm)
        _ordered("low_km_h", self.low_km_h, "high_km_h", self.high_km_h)


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A nozzle model.

    Attributes: name, unique among the candidates; kind; size and angle_deg [°], None where the kind
    has none; rated_flow_l_min of water [L/min] at rated_pressure_kpa [kPa]; exponent [1]; low_kpa
    and high_kpa, the rated range [kPa]; induction_kpa, the narrower range in which an air-induction
    nozzle draws air [kPa], None where there is none; classes, the model's own table of (pressure
    [kPa], class), which may be empty.
    """

    name: str
    kind: NozzleKind
    size: str
    angle_deg: float | None
    rated_flow_l_min: float
    rated_pressure_kpa: float
    exponent: float
    low_kpa: float
    high_kpa: float
    induction_kpa: Stretch | None
    classes: tuple[tuple[float, DropletClass], ...]

    def __post_init__(self) -> None:
        """Refuse ranges that are not ranges."""
        positive("rated_flow_l_min", self.rated_flow_l_min)
        positive("rated_pressure_kpa", self.rated_pressure_kpa)
        within("exponent", self.exponent, *EXPONENT_RANGE, "")
        for kpa, _ in self.classes:
            positive("pressure in classes", kpa)
        positive("low_kpa", self.low_kpa)
        positive("high_kpa", self.high_kpa)
        if not self.low_kpa < self.high_kpa:
            raise OutOfRange(
                "high_kpa", self.high_kpa, "above low_kpa = {low_kpa}", low_kpa=f"{self.low_kpa!r}"
            )
        if self.induction_kpa is not None:
            low, high = self.induction_kpa
            if not self.low_kpa <= low < high <= self.high_kpa:
                raise OutOfRange(
                    "induction_kpa",
                    self.induction_kpa,
                    "a range within {low_kpa}–{high_kpa} kPa",
                    low_kpa=f"{self.low_kpa:g}",
                    high_kpa=f"{self.high_kpa:g}",
                )


@dataclass(frozen=True, slots=True)
class Accepted:
    """A candidate that meets the label.

    Attributes: candidate; pressure_low_kpa and pressure_high_kpa, the window at the rig's speeds;
    speed_low_km_h and speed_high_km_h, the speeds of that window at the aimed rate; pressure_kpa
    and speed_km_h suggested; classes that it may spray there, finest first; margin: speed or rate
    may be multiplied or divided by 1 + margin before the nozzle leaves its allowed pressures.
    """

    candidate: Candidate
    pressure_low_kpa: float
    pressure_high_kpa: float
    speed_low_km_h: float
    speed_high_km_h: float
    pressure_kpa: float
    speed_km_h: float
    classes: tuple[DropletClass, ...]
    margin: float


class Limit(StrEnum):
    """Which limit rejects a candidate."""

    BELOW_RATED = "needs less pressure than its rated range"
    ABOVE_RATED = "needs more pressure than its rated range"
    BELOW_INDUCTION = "needs less pressure than it draws air at"
    ABOVE_INDUCTION = "needs more pressure than it draws air at"
    CLASS_NOT_LISTED = "its droplet class is not known at these pressures"
    CLASS_NOT_ALLOWED = "its droplet class is not allowed at these pressures"


@dataclass(frozen=True, slots=True)
class Rejected:
    """A candidate that does not meet the label, and the limit that says so.

    Attributes: candidate; limit; needed_low_kpa and needed_high_kpa, what the rig's speeds ask for,
    within the limits passed before; limit_low_kpa and limit_high_kpa, the range it is held against,
    None without a class table; classes that it may spray there, finest first, for a limit of class;
    sentence, in metric units.
    """

    candidate: Candidate
    limit: Limit
    needed_low_kpa: float
    needed_high_kpa: float
    limit_low_kpa: float | None
    limit_high_kpa: float | None
    classes: tuple[DropletClass, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Choice:
    """What there is to choose from.

    Attributes: rate_l_ha aimed at; rate_margin, how far it is inside the label as a fraction of it,
    None where the label names no carrier rate; concentration_per_l, from … to, the amount of
    product in a litre of mix that keeps the product within its own rates, None where a side is
    open; accepted, best first; rejected, by name.
    """

    rate_l_ha: float
    rate_margin: float | None
    concentration_per_l: tuple[float | None, float | None]
    accepted: tuple[Accepted, ...]
    rejected: tuple[Rejected, ...]


def choose(
    *,
    label: Label,
    rig: Rig,
    candidates: Sequence[Candidate],
    specific_gravity: float,
    wished_l_ha: float | None,
) -> Choice:
    """Return which candidates meet the label on this rig, and why the others do not.

    Accepted ones come with the larger margin first, then nearest to the middle of the rig's speeds,
    then by name: the order does not depend on the order of the candidates.

    Args: label, rig and candidates, each name once; specific_gravity of the mix [1] from 0.75 to
        1.95; wished_l_ha, a carrier rate within the label's [L/ha], None for the middle of the
        label's.
    Raises: OutOfRange if the wish is outside the label, neither names a rate, a name comes twice,
        or a number is out of its range.
    Source: [ORIFICE-LAW], [RATE-IDENTITY], [UNL-2016], [CLASS-BETWEEN]; the order is ours.
    """
    rate = _aimed_rate(label, wished_l_ha)
    names = [candidate.name for candidate in candidates]
    for name in names:
        if names.count(name) > 1:
            raise OutOfRange("candidates", name, "named once each")
    found = [_judge(label, rig, candidate, specific_gravity, rate) for candidate in candidates]
    middle = math.sqrt(rig.low_km_h * rig.high_km_h)
    accepted = [one for one in found if isinstance(one, Accepted)]
    accepted.sort(
        key=lambda one: (
            # Rounded, so that equal margins computed along two paths are equal here too.
            -round(one.margin, 9),
            round(abs(math.log(one.speed_km_h / middle)), 9),
            one.candidate.name,
        )
    )
    rejected = [one for one in found if isinstance(one, Rejected)]
    rejected.sort(key=lambda one: one.candidate.name)
    inside = [
        *([] if label.low_l_ha is None else [1.0 - label.low_l_ha / rate]),
        *([] if label.high_l_ha is None else [label.high_l_ha / rate - 1.0]),
    ]
    low, high = label.product_low_per_ha, label.product_high_per_ha
    return Choice(
        rate_l_ha=rate,
        rate_margin=min(inside) if inside else None,
        concentration_per_l=(
            None if low is None else low / rate,
            None if high is None else high / rate,
        ),
        accepted=tuple(accepted),
        rejected=tuple(rejected),
    )


def _ordered(low_name: str, low: float | None, high_name: str, high: float | None) -> None:
    """Refuse two limits that are not positive or in the wrong order."""
    if low is not None:
        positive(low_name, low)
    if high is not None:
        positive(high_name, high)
    if low is not None and high is not None and low > high:
        raise OutOfRange(
            high_name, high, "{low_name} = {low} or more", low_name=low_name, low=f"{low!r}"
        )


def _aimed_rate(label: Label, wished_l_ha: float | None) -> float:
    """Return the rate to aim at: the wish, or the middle of what the label allows. [L/ha]"""
    low, high = label.low_l_ha, label.high_l_ha
    if wished_l_ha is not None:
        positive("wished_l_ha", wished_l_ha)
        if (low is not None or high is not None) and (
            judge_within(value=wished_l_ha, expanded=0.0, low=low, high=high) is Outcome.DISAGREES
        ):
            raise OutOfRange(
                "wished_l_ha", wished_l_ha, "within the label, {band}", band=_band(low, high)
            )
        return wished_l_ha
    if low is not None and high is not None:
        return math.sqrt(low * high)
    if low is not None:
        return low * INSIDE_ONE_LIMIT
    if high is not None:
        return high / INSIDE_ONE_LIMIT
    raise OutOfRange("wished_l_ha", None, "given where the label names no carrier rate")


def _judge(
    label: Label, rig: Rig, candidate: Candidate, specific_gravity: float, rate: float
) -> Accepted | Rejected:
    """Return how one candidate fares."""
    heavier = density_factor(specific_gravity=specific_gravity)

    def pressure_at(speed_km_h: float) -> float:
        mix = nozzle_flow_l_min(rate_l_ha=rate, speed_km_h=speed_km_h, spacing_cm=rig.spacing_cm)
        return pressure_for_flow(
            rated_flow_l_min=candidate.rated_flow_l_min,
            rated_pressure_kpa=candidate.rated_pressure_kpa,
            flow_l_min=mix * heavier,
            exponent=candidate.exponent,
        )

    def speed_at(pressure_kpa: float) -> float:
        water = flow_at_pressure(
            rated_flow_l_min=candidate.rated_flow_l_min,
            rated_pressure_kpa=candidate.rated_pressure_kpa,
            pressure_kpa=pressure_kpa,
            exponent=candidate.exponent,
        )
        return ground_speed_km_h(
            flow_l_min=water / heavier, rate_l_ha=rate, spacing_cm=rig.spacing_cm
        )

    needed: Stretch = pressure_at(rig.low_km_h), pressure_at(rig.high_km_h)

    def reject(
        limit: Limit, held: Stretch | None, classes: tuple[DropletClass, ...], last: str
    ) -> Rejected:
        first = (
            f"At {_numbers(rig.low_km_h, rig.high_km_h, '.1f')} km/h and {rate:.0f} L/ha it needs "
            f"{_numbers(*needed, '.0f')} kPa"
        )
        return Rejected(
            candidate=candidate,
            limit=limit,
            needed_low_kpa=needed[0],
            needed_high_kpa=needed[1],
            limit_low_kpa=None if held is None else held[0],
            limit_high_kpa=None if held is None else held[1],
            classes=classes,
            sentence=f"{first}; {last}.",
        )

    room = candidate.low_kpa, candidate.high_kpa
    if not _overlap(needed, room):
        limit = Limit.BELOW_RATED if needed[1] <= room[0] else Limit.ABOVE_RATED
        return reject(limit, room, (), f"its rated range is {_numbers(*room, '.0f')} kPa")
    if candidate.induction_kpa is not None:
        room = candidate.induction_kpa
        if not _overlap(needed, room):
            limit = Limit.BELOW_INDUCTION if needed[1] <= room[0] else Limit.ABOVE_INDUCTION
            return reject(limit, room, (), f"it draws air at {_numbers(*room, '.0f')} kPa")

    runs = [room]
    if label.classes is not None:
        needed = _common(needed, room)
        table = sorted(candidate.classes)
        listed = (table[0][0], table[-1][0]) if table else None
        if listed is None or listed[0] == listed[1] or not _overlap(needed, listed):
            last = (
                "its class table is empty"
                if listed is None
                else f"its class table covers {_numbers(listed[0], listed[1], '.0f')} kPa"
            )
            return reject(Limit.CLASS_NOT_LISTED, listed, (), last)
        runs = [
            _common(run, room)
            for run in _allowed_runs(table, label.classes)
            if _overlap(run, needed)
        ]
        if not runs:
            sprayed = _classes_over(table, _common(needed, listed))
            last = f"there it may spray {_words(sprayed)}, the label allows {_words(label.classes)}"
            return reject(Limit.CLASS_NOT_ALLOWED, listed, sprayed, last)

    margin, pressure, run = max(_best(run, needed, candidate.exponent) for run in runs)
    window = _common(needed, run)
    return Accepted(
        candidate=candidate,
        pressure_low_kpa=window[0],
        pressure_high_kpa=window[1],
        speed_low_km_h=speed_at(window[0]),
        speed_high_km_h=speed_at(window[1]),
        pressure_kpa=pressure,
        speed_km_h=speed_at(pressure),
        classes=(
            class_at_pressure(rows=candidate.classes, pressure_kpa=pressure).candidates
            if candidate.classes
            else ()
        ),
        margin=margin,
    )


def _overlap(needed: Stretch, room: Stretch) -> bool:
    """Return whether some of `needed` lies inside `room` with space to both sides."""
    return needed[0] < room[1] and needed[1] > room[0]


def _common(one: Stretch, other: Stretch) -> Stretch:
    """Return what two overlapping stretches share."""
    return max(one[0], other[0]), min(one[1], other[1])


def _best(run: Stretch, needed: Stretch, exponent: float) -> tuple[float, float, Stretch]:
    """Return the margin, the suggested pressure and the run itself."""
    low, high = _common(needed, run)
    # The geometric middle has the same factor to both ends; the rig's speeds may not reach it.
    pressure = min(max(math.sqrt(run[0] * run[1]), low), high)
    factor = min(pressure / run[0], run[1] / pressure)
    return float(factor**exponent) - 1.0, pressure, run


def _allowed_runs(
    table: Sequence[tuple[float, DropletClass]], classes: frozenset[DropletClass]
) -> list[Stretch]:
    """Return the stretches of a class table on which every possible class is allowed."""
    runs: list[Stretch] = []
    for (below, _), (above, _) in pairwise(table):
        between = class_at_pressure(rows=table, pressure_kpa=0.5 * (below + above))
        if allowed(candidates=between.candidates, allowed_classes=classes) is not Allowed.PASSES:
            continue
        if runs and runs[-1][1] == below:
            runs[-1] = (runs[-1][0], above)
        else:
            runs.append((below, above))
    return runs


def _classes_over(
    table: Sequence[tuple[float, DropletClass]], stretch: Stretch
) -> tuple[DropletClass, ...]:
    """Return the classes that may be sprayed on a stretch within the table, finest first."""
    low, high = stretch
    stops = sorted({low, high, *(kpa for kpa, _ in table if low < kpa < high)})
    pressures = [*stops, *(0.5 * (below + above) for below, above in pairwise(stops))]
    return tuple(
        sorted(
            {
                each
                for pressure in pressures
                for each in class_at_pressure(rows=table, pressure_kpa=pressure).candidates
            }
        )
    )


def _words(classes: Iterable[DropletClass]) -> str:
    """Return class names, finest first."""
    return ", ".join(each.words for each in sorted(classes))


def _numbers(low: float, high: float, shape: str) -> str:
    """Return "low–high", or one number where both are written alike."""
    first, last = format(low, shape), format(high, shape)
    return first if first == last else f"{first}–{last}"


def _band(low: float | None, high: float | None) -> str:
    """Return a band of rates in words."""
    if low is None:
        return f"at most {high:g} L/ha"
    return f"at least {low:g} L/ha" if high is None else f"{low:g}–{high:g} L/ha"
