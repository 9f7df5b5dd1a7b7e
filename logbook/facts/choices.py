"""The closed lists of the facts: each word as it is stored, and how it is shown."""

from __future__ import annotations

from logbook.facts.messages import gettext_noop

PATTERNS = {
    "broadcast": gettext_noop("broadcast"),
    "banded": gettext_noop("in bands"),
    "directed": gettext_noop("directed at the row"),
}
"""How the spray lies on the land; it decides the width that one nozzle serves."""

BROADCAST = "broadcast"

PICTURED = {
    "label": gettext_noop("label"),
    "tank": gettext_noop("tank"),
    "gauge": gettext_noop("gauge or monitor"),
    "field": gettext_noop("field"),
    "other": gettext_noop("something else"),
}
"""What a picture shows that is put to a record."""

SIGNS = {
    "smoke layer": gettext_noop("smoke or dust hangs in a layer"),
    "mist": gettext_noop("mist or fog"),
    "dew": gettext_noop("dew"),
    "frost": gettext_noop("frost"),
    "cumulus": gettext_noop("cumulus clouds forming"),
    "rain": gettext_noop("steady rain"),
}
"""Signs for or against an inversion that a person can see."""

NONE_SEEN = gettext_noop("none seen")
"""What a reading says in which nobody saw any of them."""

LOCATION_KINDS = {
    "legal description": gettext_noop("legal land description (with meridian)"),
    "address": gettext_noop("postal address"),
    "coordinates": gettext_noop("coordinates (one point, or an outline of three or more)"),
    "parcel": gettext_noop("parcel number"),
    "map": gettext_noop("map kept with the record"),
    "description": gettext_noop("description"),
}
"""The typed formats in which a law may ask where a field is; words of `duty.LocationFormat`."""

PRODUCT_KINDS = {
    "soil herbicide": gettext_noop("herbicide, to the soil"),
    "foliar herbicide": gettext_noop("herbicide, to the leaf"),
    "fungicide": gettext_noop("fungicide"),
    "insecticide": gettext_noop("insecticide"),
    "fertilizer": gettext_noop("liquid fertilizer"),
    "adjuvant": gettext_noop("adjuvant"),
    "other": gettext_noop("other"),
}

ADJUVANT_FUNCTIONS = {
    "drift reducer": gettext_noop("drift-reducing adjuvant"),
    "nonionic surfactant": gettext_noop("nonionic surfactant"),
    "crop oil concentrate": gettext_noop("crop oil concentrate"),
    "methylated seed oil": gettext_noop("methylated seed oil"),
    "water conditioner": gettext_noop("water conditioner"),
    "defoamer": gettext_noop("defoamer"),
    "ammonium sulfate": gettext_noop("ammonium sulfate"),
}
"""Adjuvant functions as the trade names them (terms of ASTM E1519, from memory)."""

TEST_GAUGES = {
    "own": gettext_noop("this rig’s own gauge"),
    "other": gettext_noop("another gauge"),
}
"""On which gauge the pressure of a catch test was read."""

NOZZLE_KINDS = {
    "flat fan": gettext_noop("flat fan"),
    "pre-orifice flat fan": gettext_noop("pre-orifice flat fan"),
    "air-induction flat fan": gettext_noop("air-induction flat fan"),
    "twin flat fan": gettext_noop("twin flat fan"),
    "air-induction twin flat fan": gettext_noop("air-induction twin flat fan"),
    "flooding fan": gettext_noop("flooding fan"),
    "hollow cone": gettext_noop("hollow cone"),
    "full cone": gettext_noop("full cone"),
    "streamer": gettext_noop("streamer"),
}
"""Kinds of nozzle; the words are those of `calc.chooser.NozzleKind`."""

DROPLET_CLASSES = {
    "XF": gettext_noop("extremely fine"),
    "VF": gettext_noop("very fine"),
    "F": gettext_noop("fine"),
    "M": gettext_noop("medium"),
    "C": gettext_noop("coarse"),
    "VC": gettext_noop("very coarse"),
    "XC": gettext_noop("extremely coarse"),
    "UC": gettext_noop("ultra coarse"),
}
"""Droplet size classes of ASABE S572 / ISO 25358, finest first; symbols of `calc.droplets`."""

WORKER_WARNINGS = {
    "both": gettext_noop("both, orally and by posted signs"),
    "not both": gettext_noop("it does not ask for both"),
}
"""What a label says of warning workers (40 CFR 156.210(b)); blank is not looked up."""
