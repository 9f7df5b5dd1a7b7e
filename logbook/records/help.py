"""What the words of the form mean, with the caution that goes with each; one place for the text.

Meanings are the trade's own, in our words: common practice, no source, but where one is named.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True, kw_only=True)
class Help:
    """One word that no input of the form bears: what it means, and what to mind."""

    word: str | Promise
    means: str | Promise


def _help(word: str | Promise, means: str | Promise) -> Help:
    return Help(word=word, means=means)


BESIDE: dict[str, str | Promise] = {
    "growth_stage": _(
        "The two-digit scale of crop stages, 00 to 99. Many labels allow a product only up "
        "to a stage, and some laws ask for it."
    ),
    "planned_rate": _(
        "Product per area as you mean to apply it, or per volume of mix. The label’s rate "
        "is the law: never above it."
    ),
    "total_used": _(
        "The product itself on this field, without water, as measured out; not computed."
    ),
    "pressure": _(
        "As read while spraying (psi, bar). What the rig loses on the way to the nozzle is "
        "taken off by the rig’s line loss. Twice the flow needs four times the pressure."
    ),
    "speed": _(
        "While spraying, measured over ground (mph, km/h). At the same pressure, twice the "
        "speed lays down half the rate."
    ),
    "boom_height": _(
        "From nozzle tip to crop or weed top (in, cm), not to the soil under a crop. Too "
        "high drifts, too low stripes."
    ),
    "duty": _("Share of the time a pulsing valve is open, in %; without one, not applicable."),
    "density": _(
        "Water is 8.34 lb/gal (1 kg/L): not applicable. Liquid fertilizer is heavier, and "
        "a nozzle then lets less through."
    ),
    "band_width": _(
        "Width of the sprayed strip at the target (in, cm), measured over the row. Read whether "
        "the label’s rate is per acre of band or of field."
    ),
    "row_spacing": _(
        "From the middle of one row to the middle of the next (in, cm). With the band width it "
        "says what share of the field is sprayed."
    ),
    "nozzles_per_row": _(
        "How many nozzles spray one row together; their flows are added up. One that drips or is "
        "blocked falsifies the rate of its row."
    ),
    "planned_carrier": _(
        "The whole mix per area as planned (gal/ac, L/ha), water and product together."
    ),
    "treated_area": _(
        "What was sprayed in this job, from a counter or map; not the size of the field."
    ),
    "mix_used": _(
        "As measured at the tank. With the treated area it shows what was truly laid down."
    ),
    "distance": _(
        "Driven with the boom on (mi, km), from the rig’s counter or a map; turns with the boom "
        "off are left out. Times the swath it must come to the treated area."
    ),
    "wind_from": _(
        "The direction it blows from, degrees from true north: 270 is a west wind. Look "
        "what lies downwind."
    ),
    "wind_speed": _(
        "Measured at the field at the height you give (mph, km/h, m/s, knots). The label’s "
        "limits hold, at both ends; calm is not safe."
    ),
    "gust": _(
        "The strongest wind while you measured, in the same place (mph, km/h, m/s, knots). Drift "
        "follows the gust: where it passes the label’s limit, stop."
    ),
    "temperature": _(
        "Air in the shade at the field (°F, °C); sun or a warm engine makes it read too high. "
        "Where the label names a temperature, stop at it."
    ),
    "humidity": _(
        "Of the air, in %, read together with the temperature. In dry air drops shrink on their "
        "way and drift farther."
    ),
    "cloud": _(
        "Share of the sky that clouds cover, by eye, in %. A clear sky in the evening or at dawn "
        "goes with inversions."
    ),
    "height": _(
        "Of the instrument above the ground (ft, m). Wind is slower near the ground; measure at "
        "the height that the label names, if it names one."
    ),
    "signs": _(
        "Cool air under warm: smoke or dust hanging in a layer, dew, fog, a clear calm "
        "evening or dawn. Fine drops stay up and travel far. Where the label forbids it, "
        "stop."
    ),
    "mixed_volume": _(
        "Water and product together in the tank after filling (gal, L), read on level ground at "
        "the tank’s own scale or a meter."
    ),
    "used": _(
        "What of this load went on this field (gal, L), read before and after. What is left over "
        "is sprayed only where a label allows it."
    ),
    "part": _(
        "Of this product in this whole load, undiluted, as measured out. Wear what its label "
        "names for mixing and loading."
    ),
}
"""By input of the form; "part" stands for each product put into a load."""

HELP: dict[str, tuple[Help, ...]] = {
    "what": (
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
    ),
    "weather": (
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
            _("Local rules"),
            _(
                "Buffers, notices, times of day and bees: state, county or district may ask more "
                "than the label. Ask before you spray."
            ),
        ),
    ),
}
"""Words that bear on a section of the form."""
