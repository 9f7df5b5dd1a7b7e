"""The closed lists of the book, in the trade's own words."""

from __future__ import annotations

from django.db import models

from logbook.rules.duties.model import Kind


class Pattern(models.TextChoices):
    """How the spray lies on the land; it decides the width that one nozzle serves."""

    BROADCAST = "broadcast", "broadcast"
    BANDED = "banded", "in bands"
    DIRECTED = "directed", "directed at the row"


class WeatherSign(models.TextChoices):
    """Signs of an inversion that a person can see."""

    SMOKE_LAYER = "smoke layer", "smoke or dust hangs in a layer"
    MIST = "mist", "mist or fog"
    DEW = "dew", "dew"
    FROST = "frost", "frost"
    CUMULUS = "cumulus", "cumulus clouds forming"
    RAIN = "rain", "steady rain"


class DutyKind(models.TextChoices):
    """What is done for a record beside writing it; the values are those of the duties' `Kind`."""

    NOTICE_BEFORE = Kind.NOTICE_BEFORE.value, "notice before the work"
    NOTICE_AFTER = Kind.NOTICE_AFTER.value, "notice of the completed work"
    DISPLAY = Kind.DISPLAY.value, "shown or posted for workers"
    COPY = Kind.COPY.value, "copy handed over"
    REPORT = Kind.REPORT.value, "report sent"


class Delivery(models.TextChoices):
    """How a notice, copy or report went."""

    BY_HAND = "by hand", "by hand"
    POST = "post", "by post"
    EMAIL = "e-mail", "by e-mail"
    ELECTRONIC = "electronic", "electronically, otherwise"
    TELEPHONE = "telephone", "by telephone"
    SPOKEN = "spoken", "in person, spoken"
    PUT_UP = "put up", "put up at the place"
    ASKED = "asked for", "nothing given yet: somebody asked for it"
    AROSE = "case arose", "nothing given yet: the case of the law arose, as the note says"
    NOT_OWED = "not owed", "not owed here, for the reason in the note"
