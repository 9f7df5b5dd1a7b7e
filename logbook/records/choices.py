"""The closed lists of the book, in the trade's own words."""

from __future__ import annotations

from django.db import models


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
