"""The closed lists of the shelf, in the trade's own words."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.facts.duty import Clock, Kind, Products, Since, When


class WorkerWarning(models.TextChoices):
    """What a label says of warning workers (40 CFR 156.210(b)); blank is not looked up."""

    BOTH = "both", _("both, orally and by posted signs")
    NOT_BOTH = "not both", _("it does not ask for both")


class LocationKind(models.TextChoices):
    """The typed formats in which a law may ask where a field is."""

    LEGAL = "legal description", _("legal land description (with meridian)")
    ADDRESS = "address", _("postal address")
    COORDINATES = "coordinates", _("coordinates (one point, or an outline of three or more)")
    PARCEL = "parcel", _("parcel number")
    MAP = "map", _("map kept with the record")
    DESCRIPTION = "description", _("description")


class ProductKind(models.TextChoices):
    SOIL_HERBICIDE = "soil herbicide", _("herbicide, to the soil")
    FOLIAR_HERBICIDE = "foliar herbicide", _("herbicide, to the leaf")
    FUNGICIDE = "fungicide", _("fungicide")
    INSECTICIDE = "insecticide", _("insecticide")
    FERTILIZER = "fertilizer", _("liquid fertilizer")
    ADJUVANT = "adjuvant", _("adjuvant")
    OTHER = "other", _("other")


class AdjuvantFunction(models.TextChoices):
    """Adjuvant functions as the trade names them (terms of ASTM E1519, from memory)."""

    DRIFT_REDUCER = "drift reducer", _("drift-reducing adjuvant")
    NONIONIC = "nonionic surfactant", _("nonionic surfactant")
    CROP_OIL = "crop oil concentrate", _("crop oil concentrate")
    SEED_OIL = "methylated seed oil", _("methylated seed oil")
    CONDITIONER = "water conditioner", _("water conditioner")
    DEFOAMER = "defoamer", _("defoamer")
    AMMONIUM_SULFATE = "ammonium sulfate", _("ammonium sulfate")


class NozzleKind(models.TextChoices):
    """Kinds of nozzle; the values are those of `calc.chooser.NozzleKind`."""

    FLAT_FAN = "flat fan", _("flat fan")
    PRE_ORIFICE = "pre-orifice flat fan", _("pre-orifice flat fan")
    AIR_INDUCTION = "air-induction flat fan", _("air-induction flat fan")
    TWIN_FAN = "twin flat fan", _("twin flat fan")
    AIR_INDUCTION_TWIN = "air-induction twin flat fan", _("air-induction twin flat fan")
    FLOODING = "flooding fan", _("flooding fan")
    HOLLOW_CONE = "hollow cone", _("hollow cone")
    FULL_CONE = "full cone", _("full cone")
    STREAMER = "streamer", _("streamer")


class DropletClassChoice(models.TextChoices):
    """Droplet size classes of ASABE S572 / ISO 25358, finest first; symbols of `calc.droplets`."""

    XF = "XF", _("extremely fine")
    VF = "VF", _("very fine")
    F = "F", _("fine")
    M = "M", _("medium")
    C = "C", _("coarse")
    VC = "VC", _("very coarse")
    XC = "XC", _("extremely coarse")
    UC = "UC", _("ultra coarse")


class DutyClass(models.TextChoices):
    """Classes that laws name and a label does not show by its limits; values of `Products`."""

    STATE_RESTRICTED = Products.STATE_RESTRICTED.value, _("restricted by the state")
    AUXIN = Products.AUXIN.value, _("auxin herbicide")
    DICAMBA = Products.DICAMBA_OVER_THE_TOP.value, _("dicamba over the top")
    ATRAZINE = Products.ATRAZINE.value, _("holds atrazine")


class LabelWhen(models.TextChoices):
    """When a label asks for an element."""

    ALWAYS = When.ALWAYS.value, _("always")
    OUTDOORS = When.OUTDOORS.value, _("outdoors")
    HELPER = When.HELPER.value, _("with a helper under supervision")
    SEVERAL_PRODUCTS = When.SEVERAL_PRODUCTS.value, _("with several products in the tank")
    WHERE_IT_APPLIES = When.WHERE_IT_APPLIES.value, _("where it applies")


class LabelDuty(models.TextChoices):
    """What a label may set a time for."""

    RECORD = Kind.RECORD.value, _("the record")
    NOTICE_BEFORE = Kind.NOTICE_BEFORE.value, _("notice before the work")
    NOTICE_AFTER = Kind.NOTICE_AFTER.value, _("notice after the work")
    DISPLAY = Kind.DISPLAY.value, _("posting")
    COPY = Kind.COPY.value, _("copy to the customer")
    REPORT = Kind.REPORT.value, _("report")


class LabelClock(models.TextChoices):
    """How a label's time counts."""

    HOURS = Clock.HOURS.value, _("hours")
    DAYS = Clock.DAYS.value, _("calendar days")
    WORKING_DAYS = Clock.WORKING_DAYS.value, _("working days")
    SAME_DAY = Clock.SAME_DAY.value, _("the same day at the field")


class LabelSince(models.TextChoices):
    """From when a label's time counts."""

    END = Since.END.value, _("the end of the work")
    START = Since.START.value, _("the start of the work")
    BEFORE_START = Since.BEFORE_START.value, _("before the start")
    DAY_OF_WORK = Since.DAY_OF_WORK.value, _("the day of the work")


class SensitiveKind(models.TextChoices):
    """What spray must not reach, in the trade's words."""

    WATER = "water", _("water")
    DWELLING = "dwelling", _("dwelling")
    SCHOOL = "school", _("school")
    APIARY = "apiary", _("apiary")
    ORGANIC = "organic crop", _("organic crop")
    CROP = "sensitive crop", _("sensitive crop")
    OTHER = "other", _("other")
