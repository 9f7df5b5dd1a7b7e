"""The closed lists of the shelf, in the trade's own words."""

from __future__ import annotations

from django.db import models


class LocationKind(models.TextChoices):
    """The typed formats in which a law may ask where a field is."""

    LEGAL = "legal description", "legal land description (with meridian)"
    ADDRESS = "address", "postal address"
    COORDINATES = "coordinates", "coordinates"
    PARCEL = "parcel", "parcel number"
    DESCRIPTION = "description", "description"


class ProductKind(models.TextChoices):
    SOIL_HERBICIDE = "soil herbicide", "herbicide, to the soil"
    FOLIAR_HERBICIDE = "foliar herbicide", "herbicide, to the leaf"
    FUNGICIDE = "fungicide", "fungicide"
    INSECTICIDE = "insecticide", "insecticide"
    FERTILIZER = "fertilizer", "liquid fertilizer"
    ADJUVANT = "adjuvant", "adjuvant"
    OTHER = "other", "other"


class AdjuvantFunction(models.TextChoices):
    """Adjuvant functions as the trade names them (terms of ASTM E1519, from memory)."""

    DRIFT_REDUCER = "drift reducer", "drift-reducing adjuvant"
    NONIONIC = "nonionic surfactant", "nonionic surfactant"
    CROP_OIL = "crop oil concentrate", "crop oil concentrate"
    SEED_OIL = "methylated seed oil", "methylated seed oil"
    CONDITIONER = "water conditioner", "water conditioner"
    DEFOAMER = "defoamer", "defoamer"
    AMMONIUM_SULFATE = "ammonium sulfate", "ammonium sulfate"


class NozzleKind(models.TextChoices):
    """Kinds of nozzle; the values are those of `calc.chooser.NozzleKind`."""

    FLAT_FAN = "flat fan", "flat fan"
    PRE_ORIFICE = "pre-orifice flat fan", "pre-orifice flat fan"
    AIR_INDUCTION = "air-induction flat fan", "air-induction flat fan"
    TWIN_FAN = "twin flat fan", "twin flat fan"
    AIR_INDUCTION_TWIN = "air-induction twin flat fan", "air-induction twin flat fan"
    FLOODING = "flooding fan", "flooding fan"
    HOLLOW_CONE = "hollow cone", "hollow cone"
    FULL_CONE = "full cone", "full cone"
    STREAMER = "streamer", "streamer"


class DropletClassChoice(models.TextChoices):
    """Droplet size classes of ASABE S572 / ISO 25358, finest first; symbols of `calc.droplets`."""

    XF = "XF", "extremely fine"
    VF = "VF", "very fine"
    F = "F", "fine"
    M = "M", "medium"
    C = "C", "coarse"
    VC = "VC", "very coarse"
    XC = "XC", "extremely coarse"
    UC = "UC", "ultra coarse"
