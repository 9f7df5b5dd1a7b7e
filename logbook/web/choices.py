"""The nozzle choice in words and drawings, in the person's own unit system."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc.chooser import (
    ANGLE_NOTE,
    GUIDANCE,
    INSIDE_ONE_LIMIT,
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
from logbook.facts.messages import with_unit
from logbook.facts.wording import bounds, three
from logbook.localization.locale import format_number, localized, translate_word
from logbook.localization.locale import format_value as as_entered
from logbook.sections.phrases import nozzle_size
from logbook.web.present import colour_class

DRAWN = 6
"""The best choices are drawn; more drawings than this make a phone page long, not clearer."""


STREAMS = gettext_lazy(
    "Streams are for liquid fertilizer; they cover nothing else (common practice)."
)


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
    begins: tuple[tuple[Any, UUID], ...] = ()
    """The sets of this model that are on a rig today, each with the id of the draft it may begin:
    with one id for all, a second choice would open the draft of the first."""


@dataclass(frozen=True, kw_only=True)
class Refused:
    """One nozzle that does not fit, and the limit that says so, in numbers."""

    nozzle: Any
    why: str


def choice_context(found: ShelfChoice, *, wish: Any, system: str, purpose: str) -> dict[str, Any]:
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
        "rate": _rate(found, wish, units),
        "rate_from": _rate_from(wish),
        "fits": [
            _fit(found, one, units, wish, drawn=place < DRAWN) for place, one in enumerate(fits)
        ],
        "refused": [
            *(
                Refused(nozzle=found.nozzles[one.candidate.name], why=str(STREAMS))
                for one in refused
            ),
            *(
                Refused(
                    nozzle=found.nozzles[one.candidate.name],
                    why=str(STREAMS)
                    if _streams(one) and purpose and not fertilizer
                    else _why(one, units),
                )
                for one in choice.rejected
            ),
        ],
        "directions": [
            {"change": translate_word(one.change), "shift": translate_word(one.shift)}
            for one in DIRECTIONS
        ],
        "angle_note": translate_word(ANGLE_NOTE),
    }


def _rate(found: ShelfChoice, wish: Any, units: System) -> str:
    """Return the carrier rate with its unit and a decimal point, as the draft takes it: the one
    wished for as it was entered.
    """
    if wish.wished_carrier:
        return str(wish.wished_carrier)
    return f"{_in(found.choice.rate_l_ha, 'L/ha', units.rate)} {units.rate}"


def _rate_from(wish: Any) -> str:
    """Return why the nozzles were looked for at this carrier rate."""
    low, high = wish.carrier_min, wish.carrier_max
    if wish.wished_carrier:
        return _("The carrier you wished for.")
    ends = {
        "low": low and as_entered(low),
        "high": high and as_entered(high),
        "factor": format_number(f"{INSIDE_ONE_LIMIT:g}"),
    }
    if low and high and low.si == high.si:
        said = _("Least and most carrier are both %(low)s.")
    elif low and high:
        said = _(
            "You wished for no carrier, so this is the middle, by ratio, between the least, "
            "%(low)s, and the most, %(high)s."
        )
    elif low:
        said = _("You wished for no carrier, so this is the least, %(low)s, times %(factor)s.")
    else:
        said = _("You wished for no carrier, so this is the most, %(high)s, divided by %(factor)s.")
    return said % ends


def _streams(one: Accepted | Rejected) -> bool:
    return one.candidate.kind is NozzleKind.STREAMER


def guidance_for(purpose: str) -> Any:
    """Return the usual choice for a purpose, in the page's words; None when none is said."""
    one = next((one for one in GUIDANCE if one.purpose.value == purpose), None)
    return one and {
        "purpose": {"value": translate_word(one.purpose.value)},
        "kinds": [translate_word(kind.value) for kind in one.kinds],
        "finest": {"words": translate_word(one.finest.words)},
        "coarsest": {"words": translate_word(one.coarsest.words)},
        "note": translate_word(one.note),
        "basis": translate_word(one.basis),
    }


def _in(value: float, unit: str, wanted: str) -> str:
    return three(float(convert(value, from_unit=unit, to_unit=wanted)))


def _with(value: float, unit: str, wanted: str) -> str:
    return f"{format_number(_in(value, unit, wanted))} {wanted}"


def _range(low: float, high: float, unit: str, wanted: str) -> str:
    figures = (_in(value, unit, wanted) for value in (low, high))
    return localized(with_unit(bounds(*figures), wanted))


def _fit(found: ShelfChoice, one: Accepted, units: System, wish: Any, *, drawn: bool) -> Shown:
    return Shown(
        nozzle=found.nozzles[one.candidate.name],
        swatch=colour_class(one.candidate.size),
        size=localized(nozzle_size(one.candidate.size)) if one.candidate.size else "",
        pressure=_range(one.pressure_low_kpa, one.pressure_high_kpa, "kPa", units.pressure),
        speed=_range(one.speed_low_km_h, one.speed_high_km_h, "km/h", units.speed),
        suggestion=_(
            "%(pressure)s at the nozzle and %(speed)s; add the pressure your rig loses between "
            "gauge and nozzle."
        )
        % {
            "pressure": _with(one.pressure_kpa, "kPa", units.pressure),
            "speed": _with(one.speed_km_h, "km/h", units.speed),
        },
        classes=one.classes,
        room=_room(one, wish),
        note=translate_word(KIND_NOTES.get(one.candidate.kind, "")),
        drawing=_drawing(one, found.choice, wish, units) if drawn else "",
    )


def _room(one: Accepted, wish: Any) -> str:
    """Return how far from the set point the nozzle still does, and whether that was asked for."""
    factor = 1.0 + one.margin
    said = _(
        "At the same rate, %(faster)s %% faster or %(slower)s %% slower still keeps this "
        "nozzle within its limits."
    ) % {
        "faster": f"{one.margin * 100:.0f}",
        "slower": f"{(1.0 - 1.0 / factor) * 100:.0f}",
    }
    low, high = one.speed_km_h / factor, one.speed_km_h * factor
    if wish.speed_low.si <= low and high <= wish.speed_high.si:
        return said
    beyond = _("Part of that is beyond the speeds you named, %(low)s to %(high)s.")
    return f"{said} " + beyond % {
        "low": as_entered(wish.speed_low),
        "high": as_entered(wish.speed_high),
    }


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
    return svg.to_svg(draw_window(window, units=units), key=key)


def _why(one: Rejected, units: System) -> str:
    needed = _range(one.needed_low_kpa, one.needed_high_kpa, "kPa", units.pressure)
    held = ""
    if one.limit_low_kpa is not None and one.limit_high_kpa is not None:
        held = _range(one.limit_low_kpa, one.limit_high_kpa, "kPa", units.pressure)
    classes = ", ".join(translate_word(c.words) for c in one.classes)
    too_little = _("It would need %(needed)s, but draws air only at %(held)s.")
    unlisted = _("Its data sheet names no droplet class at %(needed)s.")
    if held:
        unlisted = _("Its data sheet names no droplet class at %(needed)s; it lists %(held)s.")
    words = {
        Limit.BELOW_RATED: _("It would need %(needed)s, less than its rated %(held)s: too large."),
        Limit.ABOVE_RATED: _("It would need %(needed)s, more than its rated %(held)s: too small."),
        Limit.BELOW_INDUCTION: too_little,
        Limit.ABOVE_INDUCTION: too_little,
        Limit.CLASS_NOT_LISTED: unlisted,
        Limit.CLASS_NOT_ALLOWED: _(
            "At %(needed)s it sprays %(classes)s; the label does not allow it."
        ),
    }[one.limit]
    return words % {"needed": needed, "held": held, "classes": classes}
