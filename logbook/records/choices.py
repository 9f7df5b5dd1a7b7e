"""The closed lists of the book, in the trade's own words."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.facts.duty import Kind


class DutyKind(models.TextChoices):
    """What is done for a record beside writing it; the values are those of the duties' `Kind`."""

    NOTICE_BEFORE = Kind.NOTICE_BEFORE.value, _("notice before the work")
    NOTICE_AFTER = Kind.NOTICE_AFTER.value, _("notice of the completed work")
    DISPLAY = Kind.DISPLAY.value, _("shown or posted for workers")
    COPY = Kind.COPY.value, _("copy handed over")
    REPORT = Kind.REPORT.value, _("report sent")


class Delivery(models.TextChoices):
    """How a notice, copy or report went."""

    BY_HAND = "by hand", _("by hand")
    POST = "post", _("by post")
    EMAIL = "e-mail", _("by e-mail")
    ELECTRONIC = "electronic", _("electronically, otherwise")
    TELEPHONE = "telephone", _("by telephone")
    SPOKEN = "spoken", _("in person, spoken")
    PUT_UP = "put up", _("put up at the place")
    ASKED = "asked for", _("nothing given yet: somebody asked for it")
    AROSE = "case arose", _("nothing given yet: the case of the law arose, as the note says")
    NOT_OWED = "not owed", _("not owed here, for the reason in the note")
