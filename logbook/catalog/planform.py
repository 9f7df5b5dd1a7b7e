"""The form of the nozzle choice: a label or a band of one's own, a rig, and the speeds to drive."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.functional import Promise, lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc.chooser import Purpose
from calc.droplets import DropletClass
from calc.flow import SPECIFIC_GRAVITY_RANGE
from calc.units import convert
from logbook.catalog.choice import NOZZLE, Wish
from logbook.catalog.models import Rig
from logbook.catalog.selectors import Standing, labels_by_standing
from logbook.errors.exceptions import RefusedInput
from logbook.facts.choices import DROPLET_CLASSES
from logbook.facts.quantity import Quantity
from logbook.facts.units import CARRIER, DENSITY, DRIVEN, SPACING, Units
from logbook.facts.wording import three
from logbook.localization.locale import format_number, format_value, translate_word
from logbook.quantities.columns import choices_of
from logbook.quantities.inputs import AnswerFormField

AMOUNTS = (
    *("carrier_min", "carrier_max", "wished_carrier"),
    *("spacing", "speed_low", "speed_high", "density"),
)

SAME = 1e-9
"""How near two limits may be and count as one, relative: float arithmetic, not measurement."""

_lazily = lazy(translate_word, str)

_CLASSES: list[Any] = [("", gettext_lazy("no limit")), *choices_of(DROPLET_CLASSES)]


if TYPE_CHECKING:
    RowChoice = forms.ModelChoiceField[Any]
else:
    RowChoice = forms.ModelChoiceField


def _amount(
    dimension: str, label: str | Promise, units: Units | None = None, *, required: bool = False
) -> AnswerFormField:
    return AnswerFormField(
        dimensions=(dimension,),
        words=False,
        required=required,
        label=label,
        units=units,
        error_messages={"required": gettext_lazy("This is needed to choose a nozzle.")},
    )


class LabelChoice(RowChoice):
    """Label editions; one that is not in force says so."""

    def label_from_instance(self, obj: Any) -> str:
        said = {
            Standing.NOT_YET: _("%(label)s (not yet in force)"),
            Standing.NO_LONGER: _("%(label)s (no longer in force)"),
        }.get(obj.standing, "%(label)s")
        return said % {"label": obj}


class PlanForm(forms.Form):
    """What the label asks for, on which rig, at which speeds."""

    purpose = forms.ChoiceField(
        label=gettext_lazy("Purpose"),
        choices=[
            ("", gettext_lazy("not said")),
            *((p.value, _lazily(p.value)) for p in Purpose),
        ],
        required=False,
    )
    carrier_min = _amount("volume_rate", gettext_lazy("least carrier"), CARRIER)
    carrier_max = _amount("volume_rate", gettext_lazy("most carrier"), CARRIER)
    wished_carrier = _amount("volume_rate", gettext_lazy("carrier wished for"), CARRIER)
    finest_class = forms.ChoiceField(
        choices=_CLASSES, required=False, label=gettext_lazy("finest class")
    )
    coarsest_class = forms.ChoiceField(
        choices=_CLASSES, required=False, label=gettext_lazy("coarsest class")
    )
    spacing = _amount("length", gettext_lazy("nozzle spacing"), SPACING)
    speed_low = _amount("speed", gettext_lazy("slowest speed"), DRIVEN, required=True)
    speed_high = _amount("speed", gettext_lazy("fastest speed"), DRIVEN, required=True)
    density = _amount("mass_per_volume", gettext_lazy("density of the mix"), DENSITY)

    def __init__(
        self, *args: Any, business: Any, unit_system: str, today: date, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        labels = labels_by_standing(business=business, today=today)
        rigs = Rig.objects.within(business)
        self.fields = {
            "label": LabelChoice(
                labels, required=False, label=_("Label"), empty_label=_("no label chosen")
            ),
            "rig": forms.ModelChoiceField(
                rigs, required=False, label=_("Rig"), empty_label=_("no rig chosen")
            ),
            **self.fields,
        }
        for amount in self.fields.values():
            if isinstance(amount, AnswerFormField):
                amount.offer_unit(unit_system)
        self.fields["density"].help_text = _("Empty for water as the carrier.")
        self.fields["carrier_min"].help_text = _("Empty to take it from the label chosen.")
        self.fields["rig"].help_text = _("Needed, unless you enter the nozzle spacing.")
        self.fields["spacing"].help_text = _(
            "Needed where no rig is chosen; empty to take it from the rig."
        )
        self.fields["wished_carrier"].help_text = _(
            "Needed where no label and no limit above names a carrier."
        )

    def clean(self) -> dict[str, Any]:
        """Fill in what the chosen label and rig say, where nothing was typed over them."""
        values = super().clean() or {}
        label, rig = values.get("label"), values.get("rig")
        for name in ("carrier_min", "carrier_max", "finest_class", "coarsest_class"):
            if label and not values.get(name):
                values[name] = getattr(label, name)
        if rig and not values.get("spacing"):
            values["spacing"] = rig.spacing
        if not values.get("spacing") and not {"spacing", "rig"} & self.errors.keys():
            self.add_error("spacing", _("Choose a rig, or enter the spacing."))
        for name in AMOUNTS:
            amount = values.get(name)
            if amount and amount.si <= 0:
                self.add_error(
                    name,
                    _("%(amount)s is not possible; it must be more than zero.")
                    % {"amount": format_value(amount)},
                )
        if not self.errors:
            self._agree(values)
        return values

    def _agree(self, values: dict[str, Any]) -> None:
        """Refuse amounts that contradict each other, in the words and units they were given in."""
        low, high, wished = (values[name] for name in AMOUNTS[:3])
        slow, fast = values["speed_low"], values["speed_high"]
        less = _("%(given)s is less than the least carrier, %(limit)s.")
        if _below(fast, slow):
            slower = _("%(given)s is slower than the slowest speed, %(limit)s.")
            self.add_error("speed_high", slower % _pair(fast, slow))
        if _below(high, low):
            self.add_error("carrier_max", less % _pair(high, low))
        elif _below(wished, low):
            self.add_error("wished_carrier", less % _pair(wished, low))
        elif _below(high, wished):
            more = _("%(given)s is more than the most carrier, %(limit)s.")
            self.add_error("wished_carrier", more % _pair(wished, high))
        if not (low or high or wished):
            self.add_error(
                "wished_carrier", _("Say which carrier is wished for; no label here limits it.")
            )
        finest, coarsest = values["finest_class"], values["coarsest_class"]
        if finest and coarsest and DropletClass[coarsest] < DropletClass[finest]:
            finer = _("%(given)s is finer than the finest, %(limit)s.")
            words = {
                "given": translate_word(DropletClass[coarsest].words),
                "limit": translate_word(DropletClass[finest].words),
            }
            self.add_error("coarsest_class", finer % words)
        density = values["density"]
        least, most = SPECIFIC_GRAVITY_RANGE
        if density and not least <= density.to("SG") <= most:
            ends = [
                three(convert(end, from_unit="SG", to_unit=density.unit)) for end in (least, most)
            ]
            self.add_error(
                "density",
                _(
                    "%(density)s is no density of a spray mix; from %(least)s to %(most)s "
                    "%(unit)s is taken."
                )
                % {
                    "density": format_value(density),
                    "least": format_number(ends[0]),
                    "most": format_number(ends[1]),
                    "unit": density.unit,
                },
            )

    def take(self, refusal: RefusedInput) -> None:
        """Say what the choice could not compute with; calc's words name no line of this form."""
        for name, texts in refusal.errors.items():
            if name == NOZZLE:
                self.add_error(None, texts)
            elif name in self.fields:
                self.add_error(
                    name, _("Nothing can be computed with this; look at number and unit.")
                )
            else:
                self.add_error(
                    None,
                    _(
                        "A nozzle of the shelf has a flow, a pressure or an exponent that nothing "
                        "can be computed with. Look through the nozzle models."
                    ),
                )

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


def _pair(given: Quantity, limit: Quantity) -> dict[str, str]:
    return {"given": format_value(given), "limit": format_value(limit)}


def _below(one: Quantity | None, other: Quantity | None) -> bool:
    """Return whether both are given and the one is truly less."""
    return bool(one and other and one.si < other.si * (1.0 - SAME))
