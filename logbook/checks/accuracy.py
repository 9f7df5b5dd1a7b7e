"""Whether a rig measures finely enough for the yardstick of its business, and what would.

A rate that is known no better than a third of the yardstick cannot be told from one beyond it
(capability index 1.5, `calc.verdict`). That is one thing about the rig, said once.
"""

from __future__ import annotations

import math

from calc.uncertainty import combined
from calc.units import convert
from calc.verdict import LEAST_CAPABILITY
from logbook.checks.setting import Setting
from logbook.facts.messages import Figure, gettext_noop, msg, with_unit
from logbook.facts.wording import either

PARTS = {
    "flow": ("flow",),
    "gauge": ("gauge", "reading", "reading of the test"),
    "speed": ("speed",),
    "spacing": ("spacing",),
}
"""The sources of doubt that one instrument or one measurement adds, by what is to be bettered."""

LEAST_ACCURACY = 0.005
"""Half-width below which no instrument on a rig is asked for; common practice, no source."""


def too_coarse(laid: Setting, *, off_plan: float, relative_u: float | None = None) -> str:
    """Return that the rig cannot tell a rate on plan from one off plan, and what would; else "".

    Args: laid, the setting; off_plan, the yardstick of the business [1]; relative_u of all evidence
        together [1], that of the settings if it is not given.
    """
    enough = off_plan / (2.0 * LEAST_CAPABILITY)
    sources = laid.laid.sources
    u = laid.laid.relative_u
    if (u if relative_u is None else relative_u) <= enough:
        return ""
    ways = [way for part in PARTS if (way := _way(laid, part, enough))]
    if ways:
        would = msg("{ways:begin} would do.", ways=either(ways))
    else:
        would = msg(
            "No single one would do: the accuracies of flow, gauge, speed and spacing would each "
            "have to be {share:.0f} % of what they are.",
            share=math.floor(100.0 * enough / combined(sources=sources)),
        )
    return msg(
        "The rate of this rig is known to {whole:.1f} %, which is too coarse for a yardstick of "
        "{off:.0f} %: whether the plan was kept cannot be decided. {would}",
        whole=100.0 * laid.laid.k * u,
        off=100.0 * off_plan,
        would=would,
    )


def sharper(laid: Setting, part: str, enough: float) -> float | None:
    """Return the half-width with which one part alone makes the rate good enough. [1]

    Args: part, a key of `PARTS`; enough, the relative standard uncertainty to come to [1].
    None if the other parts already add more, or no instrument is as good as that.
    """
    rest = {name: one for name, one in laid.laid.sources.items() if name not in PARTS[part]}
    room = enough**2 - combined(sources=rest) ** 2
    if room <= 0.0:
        return None
    half_width = math.sqrt(3.0 * room)
    if part == "gauge":
        half_width /= laid.state.exponent
    return half_width if half_width >= LEAST_ACCURACY else None


def _way(laid: Setting, part: str, enough: float) -> str:
    """Return what one part would have to be good to, in the reader's units; "" if it cannot be."""
    half_width = sharper(laid, part, enough)
    if half_width is None or half_width >= 1.0:
        return ""
    percent = with_unit(_down(100.0 * half_width), "%")
    if part == "flow":
        words = gettext_noop("a catch test good to within {accuracy}")
        return msg(words, accuracy=percent)
    if part == "spacing":
        return msg("a nozzle spacing measured to within {accuracy}", accuracy=percent)
    state = laid.state
    if part == "gauge":
        unit = state.gauge.unit
        there = convert(half_width * state.gauge.si, from_unit="kPa", to_unit=unit)
        return msg("a gauge good to within {accuracy}", accuracy=with_unit(_down(there), unit))
    unit = laid.speed.unit
    there = convert(half_width * laid.speed.si, from_unit="km/h", to_unit=unit)
    return msg("a ground speed good to within {accuracy}", accuracy=with_unit(_down(there), unit))


def _down(value: float) -> str:
    """Return two figures, never more than the value: what is asked for has to be enough."""
    digits = 1 - math.floor(math.log10(value))
    return Figure(f"{math.floor(value * 10**digits) / 10**digits:.{max(digits, 0)}f}")
