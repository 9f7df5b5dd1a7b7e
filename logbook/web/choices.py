"""The nozzle choice in words and drawings, in the person's own unit system."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from calc.chooser import (
    ANGLE_NOTE,
    GUIDANCE,
    KIND_NOTES,
    Accepted,
    Choice,
    Limit,
    NozzleKind,
    Purpose,
    Rejected,
)
from calc.droplets import DIRECTIONS, DropletClass
from calc.units import convert
from logbook.catalog.choice import ShelfChoice
from logbook.documents import svg
from logbook.documents.window import SYSTEMS, System, Window, draw_window
from logbook.rules.wording import three
from logbook.web.book.present import colour_class, size_words

DRAWN = 6
"""The best choices are drawn; more drawings than this make a phone page long, not clearer."""


STREAMS = "Streams are for liquid fertilizer; they cover nothing else (common practice)."


@dataclass(frozen=True, kw_only=True)
class Shown:
    """One nozzle that fits."""

    nozzle: Any
    swatch: str
    size: str
    pressure: str
    speed: str
    suggestion: str
    classes: tuple[DropletClass, ...]
    room: str
    note: str
    drawing: str
    mounted: tuple[Any, ...] = ()  # the sets of this model that are on a rig today


@dataclass(frozen=True, kw_only=True)
class Refused:
    """One nozzle that does not fit, and the limit that says so, in numbers."""

    nozzle: Any
    why: str


def shown(found: ShelfChoice, *, wish: Any, system: str, purpose: str) -> dict[str, Any]:
    """Return what the page shows of a choice.

    Streams come last where no purpose is said, and do not fit any but liquid fertilizer.
    """
    units = SYSTEMS[system]
    choice = found.choice
    fertilizer = purpose == Purpose.LIQUID_FERTILIZER
    fits = [one for one in choice.accepted if not purpose or fertilizer or not _streams(one)]
    refused = [one for one in choice.accepted if one not in fits]
    if not purpose:
        fits.sort(key=_streams)
    return {
        "rate": f"{_in(choice.rate_l_ha, 'L/ha', units.rate)} {units.rate}",
        "fits": [
            _fit(found, one, units, wish, drawn=place < DRAWN) for place, one in enumerate(fits)
        ],
        "refused": [
            *(Refused(nozzle=found.nozzles[one.candidate.name], why=STREAMS) for one in refused),
            *(
                Refused(
                    nozzle=found.nozzles[one.candidate.name],
                    why=STREAMS
                    if _streams(one) and purpose and not fertilizer
                    else _why(one, units),
                )
                for one in choice.rejected
            ),
        ],
        "directions": DIRECTIONS,
        "angle_note": ANGLE_NOTE,
    }


def _streams(one: Accepted | Rejected) -> bool:
    return one.candidate.kind is NozzleKind.STREAMER


def guidance_for(purpose: str) -> Any:
    """Return the usual choice for a purpose, None when none is said."""
    return next((one for one in GUIDANCE if one.purpose.value == purpose), None)


def _in(value: float, unit: str, wanted: str) -> str:
    return three(float(convert(value, from_unit=unit, to_unit=wanted)))


def _range(low: float, high: float, unit: str, wanted: str) -> str:
    return f"{_in(low, unit, wanted)} to {_in(high, unit, wanted)} {wanted}"


def _fit(found: ShelfChoice, one: Accepted, units: System, wish: Any, *, drawn: bool) -> Shown:
    return Shown(
        nozzle=found.nozzles[one.candidate.name],
        swatch=colour_class(one.candidate.size),
        size=size_words(one.candidate.size),
        pressure=_range(one.pressure_low_kpa, one.pressure_high_kpa, "kPa", units.pressure),
        speed=_range(one.speed_low_km_h, one.speed_high_km_h, "km/h", units.speed),
        suggestion=f"{_in(one.pressure_kpa, 'kPa', units.pressure)} {units.pressure} at the "
        f"nozzle and {_in(one.speed_km_h, 'km/h', units.speed)} {units.speed}; add the pressure "
        "your rig loses between gauge and nozzle.",
        classes=one.classes,
        room=f"At the same rate, {one.margin * 100:.0f} % faster or "
        f"{(1.0 - 1.0 / (1.0 + one.margin)) * 100:.0f} % slower still keeps this nozzle within its "
        "limits.",
        note=KIND_NOTES.get(one.candidate.kind, ""),
        drawing=_drawing(one, found.choice, wish, units) if drawn else "",
    )


def _drawing(one: Accepted, choice: Choice, wish: Any, units: System) -> str:
    nozzle = one.candidate
    window = Window(
        flow_l_min=nozzle.rated_flow_l_min / wish.specific_gravity**0.5,
        flow_at_kpa=nozzle.rated_pressure_kpa,
        exponent=nozzle.exponent,
        width_cm=wish.spacing.to("cm"),
        rated_kpa=(nozzle.low_kpa, nozzle.high_kpa),
        classes=nozzle.classes,
        carrier_l_ha=(
            wish.carrier_min and wish.carrier_min.si,
            wish.carrier_max and wish.carrier_max.si,
        ),
        ran_at=(one.pressure_kpa, one.speed_km_h),
        ran=False,
    )
    key = f"window-{choice.accepted.index(one)}"
    return svg.to_svg(draw_window(window, system=units.name), key=key)


def _why(one: Rejected, units: System) -> str:
    needed = _range(one.needed_low_kpa, one.needed_high_kpa, "kPa", units.pressure)
    held = ""
    if one.limit_low_kpa is not None and one.limit_high_kpa is not None:
        held = _range(one.limit_low_kpa, one.limit_high_kpa, "kPa", units.pressure)
    classes = ", ".join(c.words for c in one.classes)
    return {
        Limit.BELOW_RATED: f"It would need {needed}, less than its rated {held}: too large.",
        Limit.ABOVE_RATED: f"It would need {needed}, more than its rated {held}: too small.",
        Limit.BELOW_INDUCTION: f"It would need {needed}, but draws air only at {held}.",
        Limit.ABOVE_INDUCTION: f"It would need {needed}, but draws air only at {held}.",
        Limit.CLASS_NOT_LISTED: f"Its data sheet names no droplet class at {needed}"
        + (f"; it lists {held}." if held else "."),
        Limit.CLASS_NOT_ALLOWED: f"At {needed} it sprays {classes}; the label does not allow it.",
    }[one.limit]
