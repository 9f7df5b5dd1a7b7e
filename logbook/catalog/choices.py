"""The closed lists of the shelf that no fact of a record holds, in the trade's own words."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.facts.duty import Clock, Kind, Products, Since, When


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
