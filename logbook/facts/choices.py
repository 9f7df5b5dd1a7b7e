"""The closed lists of the facts: each word as it is stored, and how it is shown."""

from __future__ import annotations

from logbook.facts.messages import marked

PATTERNS = {
    "broadcast": marked("broadcast"),
    "banded": marked("in bands"),
    "directed": marked("directed at the row"),
}
"""How the spray lies on the land; it decides the width that one nozzle serves."""

BROADCAST = "broadcast"

SIGNS = {
    "smoke layer": marked("smoke or dust hangs in a layer"),
    "mist": marked("mist or fog"),
    "dew": marked("dew"),
    "frost": marked("frost"),
    "cumulus": marked("cumulus clouds forming"),
    "rain": marked("steady rain"),
}
"""Signs for or against an inversion that a person can see."""

LOCATION_KINDS = {
    "legal description": marked("legal land description (with meridian)"),
    "address": marked("postal address"),
    "coordinates": marked("coordinates (one point, or an outline of three or more)"),
    "parcel": marked("parcel number"),
    "map": marked("map kept with the record"),
    "description": marked("description"),
}
"""The typed formats in which a law may ask where a field is; words of `duty.LocationFormat`."""

PRODUCT_KINDS = {
    "soil herbicide": marked("herbicide, to the soil"),
    "foliar herbicide": marked("herbicide, to the leaf"),
    "fungicide": marked("fungicide"),
    "insecticide": marked("insecticide"),
    "fertilizer": marked("liquid fertilizer"),
    "adjuvant": marked("adjuvant"),
    "other": marked("other"),
}

ADJUVANT_FUNCTIONS = {
    "drift reducer": marked("drift-reducing adjuvant"),
    "nonionic surfactant": marked("nonionic surfactant"),
    "crop oil concentrate": marked("crop oil concentrate"),
    "methylated seed oil": marked("methylated seed oil"),
    "water conditioner": marked("water conditioner"),
    "defoamer": marked("defoamer"),
    "ammonium sulfate": marked("ammonium sulfate"),
}
"""Adjuvant functions as the trade names them (terms of ASTM E1519, from memory)."""

NOZZLE_KINDS = {
    "flat fan": marked("flat fan"),
    "pre-orifice flat fan": marked("pre-orifice flat fan"),
    "air-induction flat fan": marked("air-induction flat fan"),
    "twin flat fan": marked("twin flat fan"),
    "air-induction twin flat fan": marked("air-induction twin flat fan"),
    "flooding fan": marked("flooding fan"),
    "hollow cone": marked("hollow cone"),
    "full cone": marked("full cone"),
    "streamer": marked("streamer"),
}
"""Kinds of nozzle; the words are those of `calc.chooser.NozzleKind`."""

DROPLET_CLASSES = {
    "XF": marked("extremely fine"),
    "VF": marked("very fine"),
    "F": marked("fine"),
    "M": marked("medium"),
    "C": marked("coarse"),
    "VC": marked("very coarse"),
    "XC": marked("extremely coarse"),
    "UC": marked("ultra coarse"),
}
"""Droplet size classes of ASABE S572 / ISO 25358, finest first; symbols of `calc.droplets`."""

WORKER_WARNINGS = {
    "both": marked("both, orally and by posted signs"),
    "not both": marked("it does not ask for both"),
}
"""What a label says of warning workers (40 CFR 156.210(b)); blank is not looked up."""
