"""The form of the nozzle choice: a label or a band of one's own, a rig, and the speeds to drive."""

from __future__ import annotations

from typing import Any

from django import forms

from calc.chooser import Purpose
from logbook.base.forms import AnswerFormField
from logbook.catalog.choice import Wish
from logbook.catalog.choices import DropletClassChoice
from logbook.catalog.models import LabelEdition, Rig
from logbook.rules.quantity import Quantity

_CLASSES = [("", "no limit"), *DropletClassChoice.choices]


def _amount(dimension: str, label: str) -> AnswerFormField:
    return AnswerFormField(dimensions=(dimension,), words=False, required=False, label=label)


class PlanForm(forms.Form):
    """What the label asks for, on which rig, at which speeds."""

    purpose = forms.ChoiceField(
        choices=[("", "not said"), *((p.value, p.value) for p in Purpose)], required=False
    )
    carrier_min = _amount("volume_rate", "least carrier")
    carrier_max = _amount("volume_rate", "most carrier")
    wished_carrier = _amount("volume_rate", "carrier wished for")
    finest_class = forms.ChoiceField(choices=_CLASSES, required=False, label="finest class")
    coarsest_class = forms.ChoiceField(choices=_CLASSES, required=False, label="coarsest class")
    spacing = _amount("length", "nozzle spacing")
    speed_low = _amount("speed", "slowest speed")
    speed_high = _amount("speed", "fastest speed")
    density = _amount("mass_per_volume", "density of the mix")

    def __init__(self, *args: Any, business: Any, unit_system: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        labels = LabelEdition.objects.within(business).select_related("product")
        rigs = Rig.objects.within(business)
        self.fields = {
            "label": forms.ModelChoiceField(labels, required=False, empty_label="no label chosen"),
            "rig": forms.ModelChoiceField(rigs, required=False, empty_label="no rig chosen"),
            **self.fields,
        }
        us = unit_system == "us"
        for name, unit in {
            "carrier_min": "gal/ac" if us else "L/ha",
            "carrier_max": "gal/ac" if us else "L/ha",
            "wished_carrier": "gal/ac" if us else "L/ha",
            "spacing": "in" if us else "cm",
            "speed_low": "mph" if us else "km/h",
            "speed_high": "mph" if us else "km/h",
            "density": "lb/gal" if us else "kg/L",
        }.items():
            amount = self.fields[name]
            if isinstance(amount, AnswerFormField):
                amount.offer_unit(unit)
        self.fields["density"].help_text = "Empty for water as the carrier."
        self.fields["carrier_min"].help_text = "Empty to take it from the label chosen."
        self.fields["spacing"].help_text = "Empty to take it from the rig chosen."

    def clean(self) -> dict[str, Any]:
        """Fill in what the chosen label and rig say, where nothing was typed over them."""
        values = super().clean() or {}
        label, rig = values.get("label"), values.get("rig")
        for name in ("carrier_min", "carrier_max", "finest_class", "coarsest_class"):
            if label and not values.get(name):
                values[name] = getattr(label, name)
        if rig and not values.get("spacing"):
            values["spacing"] = rig.spacing
        for name in ("spacing", "speed_low", "speed_high"):
            if not values.get(name) and name not in self.errors:
                self.add_error(name, "This is needed to choose a nozzle.")
        return values

    def wish(self) -> Wish:
        """Return what is asked of the shelf."""
        values = self.cleaned_data
        density: Quantity | None = values["density"]
        return Wish(
            **{
                name: values[name]
                for name in (
                    "carrier_min",
                    "carrier_max",
                    "finest_class",
                    "coarsest_class",
                    "spacing",
                    "speed_low",
                    "speed_high",
                    "wished_carrier",
                )
            },
            specific_gravity=density.to("SG") if density else 1.0,
        )
