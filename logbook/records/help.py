"""What the words of the form mean, with the caution that goes with each; one place for the text.

Meanings are the trade's own, in our words: common practice, no source, but where one is named.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True, kw_only=True)
class Help:
    """One word of the form: what it means, in which unit, and what to mind."""

    word: str | Promise
    means: str | Promise


def _help(word: str | Promise, means: str | Promise) -> Help:
    return Help(word=word, means=means)


HELP: dict[str, tuple[Help, ...]] = {
    "where": (
        _help(
            _("Growth stage (BBCH)"),
            _(
                "The two-digit scale of crop stages, 00 to 99. Many labels allow a product only up "
                "to a stage, and some laws ask for it."
            ),
        ),
    ),
    "what": (
        _help(
            _("Planned rate"),
            _(
                "Product per area as you mean to apply it, or per volume of mix. The label’s rate "
                "is the law: never above it."
            ),
        ),
        _help(
            _("Total used, undiluted"),
            _("The product itself on this field, without water, as measured out; not computed."),
        ),
        _help(
            _("REI and PHI"),
            _(
                "Re-entry interval: nobody enters without the label’s protective equipment before "
                "it is over. Pre-harvest interval: days from the last spraying to the harvest. Of "
                "a mix the longest counts."
            ),
        ),
        _help(
            _("Protective equipment"),
            _(
                "What the label names for mixing, loading, spraying and early entry; the strictest "
                "of the mix. Mixing is where most exposure happens."
            ),
        ),
    ),
    "with": (
        _help(
            _("Pressure at the gauge"),
            _(
                "As read while spraying (psi, bar). What the rig loses on the way to the nozzle is "
                "taken off by the rig’s line loss. Twice the flow needs four times the pressure."
            ),
        ),
        _help(
            _("Ground speed"),
            _(
                "While spraying, measured over ground (mph, km/h). At the same pressure, twice the "
                "speed lays down half the rate."
            ),
        ),
        _help(
            _("Boom height above the target"),
            _(
                "From nozzle tip to crop or weed top (in, cm), not to the soil under a crop. Too "
                "high drifts, too low stripes."
            ),
        ),
        _help(
            _("Nozzle spacing"),
            _("Between neighbouring nozzles on the boom (in, cm); it is a fact of the rig."),
        ),
        _help(
            _("Droplet class"),
            _(
                "From extremely fine to ultra coarse (ASABE S572), out of the nozzle’s own table "
                "at its pressure. Finer covers better and drifts farther."
            ),
        ),
        _help(
            _("VMD"),
            _(
                "Volume median diameter: half of the spray volume is in smaller drops. This book "
                "keeps to the class, for a VMD depends on how it was measured."
            ),
        ),
        _help(
            _("Pulse-width duty"),
            _("Share of the time a pulsing valve is open, in %; without one, not applicable."),
        ),
        _help(
            _("Density of the mix"),
            _(
                "Water is 8.34 lb/gal (1 kg/L): not applicable. Liquid fertilizer is heavier, and "
                "a nozzle then lets less through."
            ),
        ),
    ),
    "weather": (
        _help(
            _("Wind from"),
            _(
                "The direction it blows from, degrees from true north: 270 is a west wind. Look "
                "what lies downwind."
            ),
        ),
        _help(
            _("Wind speed and gust"),
            _(
                "Measured at the field at the height you give (mph, km/h, m/s, knots). The label’s "
                "limits hold, at both ends; calm is not safe."
            ),
        ),
        _help(
            _("Signs of an inversion"),
            _(
                "Cool air under warm: smoke or dust hanging in a layer, dew, fog, a clear calm "
                "evening or dawn. Fine drops stay up and travel far. Where the label forbids it, "
                "stop."
            ),
        ),
        _help(
            _("Delta T"),
            _(
                "Air temperature less wet-bulb temperature, computed from temperature and "
                "humidity. From 2 to 8 °C is usual; above, drops dry up, below they hang."
            ),
        ),
    ),
    "amounts": (
        _help(
            _("Carrier volume"),
            _("The whole mix per area as planned (gal/ac, L/ha), water and product together."),
        ),
        _help(
            _("Treated area"),
            _("What was sprayed in this job, from a counter or map; not the size of the field."),
        ),
        _help(
            _("Spray mix used on this field"),
            _("As measured at the tank. With the treated area it shows what was truly laid down."),
        ),
        _help(
            _("Local rules"),
            _(
                "Buffers, notices, times of day and bees: state, county or district may ask more "
                "than the label. Ask before you spray."
            ),
        ),
    ),
}
"""By section of the form."""
