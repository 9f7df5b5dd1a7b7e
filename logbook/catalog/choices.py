"""The closed lists of the shelf, in the trade's own words."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.rules.duties.model import Clock, Kind, Products, Since, When


class WorkerWarning(models.TextChoices):
    """What a label says of warning workers (40 CFR 156.210(b)); blank is not looked up."""

    BOTH = "both", _("both, orally and by posted signs")
    NOT_BOTH = "not both", _("it does not ask for both")


class LocationKind(models.TextChoices):
    """The typed formats in which a law may ask where a field is."""

    LEGAL = "legal description", "legal land description (with meridian)"
    ADDRESS = "address", "postal address"
    COORDINATES = "coordinates", "coordinates (one point, or an outline of three or more)"
    PARCEL = "parcel", "parcel number"
    MAP = "map", "map kept with the record"
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


class DutyClass(models.TextChoices):
    """Classes that laws name and a label does not show by its limits; values of `Products`."""

    STATE_RESTRICTED = Products.STATE_RESTRICTED.value, "restricted by the state"
    AUXIN = Products.AUXIN.value, "auxin herbicide"
    DICAMBA = Products.DICAMBA_OVER_THE_TOP.value, "dicamba over the top"
    ATRAZINE = Products.ATRAZINE.value, "holds atrazine"


class LabelWhen(models.TextChoices):
    """When a label asks for an element."""

    ALWAYS = When.ALWAYS.value, "always"
    OUTDOORS = When.OUTDOORS.value, "outdoors"
    HELPER = When.HELPER.value, "with a helper under supervision"
    SEVERAL_PRODUCTS = When.SEVERAL_PRODUCTS.value, "with several products in the tank"
    WHERE_IT_APPLIES = When.WHERE_IT_APPLIES.value, "where it applies"


class LabelDuty(models.TextChoices):
    """What a label may set a time for."""

    RECORD = Kind.RECORD.value, "the record"
    NOTICE_BEFORE = Kind.NOTICE_BEFORE.value, "notice before the work"
    NOTICE_AFTER = Kind.NOTICE_AFTER.value, "notice after the work"
    DISPLAY = Kind.DISPLAY.value, "posting"
    COPY = Kind.COPY.value, "copy to the customer"
    REPORT = Kind.REPORT.value, "report"


class LabelClock(models.TextChoices):
    """How a label's time counts."""

    HOURS = Clock.HOURS.value, "hours"
    DAYS = Clock.DAYS.value, "calendar days"
    WORKING_DAYS = Clock.WORKING_DAYS.value, "working days"
    SAME_DAY = Clock.SAME_DAY.value, "the same day at the field"


class LabelSince(models.TextChoices):
    """From when a label's time counts."""

    END = Since.END.value, "the end of the work"
    START = Since.START.value, "the start of the work"
    BEFORE_START = Since.BEFORE_START.value, "before the start"
    DAY_OF_WORK = Since.DAY_OF_WORK.value, "the day of the work"


class SensitiveKind(models.TextChoices):
    """What spray must not reach, in the trade's words."""

    WATER = "water", _("water")
    DWELLING = "dwelling", _("dwelling")
    SCHOOL = "school", _("school")
    APIARY = "apiary", _("apiary")
    ORGANIC = "organic crop", _("organic crop")
    CROP = "sensitive crop", _("sensitive crop")
    OTHER = "other", _("other")
