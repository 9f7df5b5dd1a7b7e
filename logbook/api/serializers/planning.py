"""Which nozzle for a label: what is asked and what comes back."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from logbook.api.fields import AnswerField, OneOf, quantity
from logbook.api.serializers.base import Strict
from logbook.facts.choices import DROPLET_CLASSES


class NozzleWishSerializer(Strict):
    """What is to be sprayed and how fast; null is a limit that the label does not name."""

    spacing = AnswerField("length", help_text="Width that one nozzle covers.")
    speed_low = AnswerField("speed")
    speed_high = AnswerField("speed")
    wished_carrier = quantity("volume_rate", help_text="null for the middle of the label's.")
    carrier_min = quantity("volume_rate", help_text="Least that the label allows.")
    carrier_max = quantity("volume_rate", help_text="Most that the label allows.")
    finest_class = OneOf([*DROPLET_CLASSES.items()], allow_blank=True, default="")
    coarsest_class = OneOf([*DROPLET_CLASSES.items()], allow_blank=True, default="")
    density = quantity("mass_per_volume", help_text="Of the mix; null for water.")


class JudgedNozzleSerializer(Strict):
    """A nozzle of the shelf."""

    nozzle = serializers.SerializerMethodField()
    name = serializers.CharField(source="candidate.name")

    def get_nozzle(self, judged: Any) -> str:
        """Return the id of the nozzle on the shelf."""
        return str(self.context["nozzles"][judged.candidate.name].pk)


class FitsSerializer(JudgedNozzleSerializer):
    """A nozzle that meets the label."""

    pressure_kpa = serializers.FloatField(help_text="Suggested.")
    speed_km_h = serializers.FloatField(help_text="Suggested.")
    pressure_low_kpa = serializers.FloatField()
    pressure_high_kpa = serializers.FloatField()
    speed_low_km_h = serializers.FloatField()
    speed_high_km_h = serializers.FloatField()
    classes = serializers.SerializerMethodField(
        help_text="Droplet classes that it may spray at the suggested pressure, finest first."
    )
    margin = serializers.FloatField(
        help_text="Fraction by which speed or rate can rise, or be divided, before the nozzle "
        "leaves its allowed pressures."
    )

    def get_classes(self, fits: Any) -> list[str]:
        """Return the symbols of the classes."""
        return [one.name for one in fits.classes]


class FailsSerializer(JudgedNozzleSerializer):
    """A nozzle that does not meet the label, and why."""

    limit = serializers.CharField(source="limit.value")
    sentence = serializers.CharField()


class NozzleChoiceSerializer(Strict):
    """What the shelf has to offer; the label and a catch test decide."""

    rate_l_ha = serializers.FloatField(source="choice.rate_l_ha", help_text="Aimed at.")
    fits = FitsSerializer(source="choice.accepted", many=True, help_text="The best first.")
    fails = FailsSerializer(source="choice.rejected", many=True, help_text="By name.")
