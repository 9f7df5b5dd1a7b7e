"""What words of the form mean that no input bears, with the caution that goes with each.

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
