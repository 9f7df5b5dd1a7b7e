"""The forms of the shelf. They read what a person typed; `catalog.services` decides and saves."""

from __future__ import annotations

import re
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.functional import lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc.errors import OutOfRange
from calc.nozzle import SIZES, Designation, parse_designation
from logbook.catalog.choices import DutyClass
from logbook.catalog.models import (
    CatchTest,
    Customer,
    Field,
    FieldLocation,
    Ingredient,
    LabelAsk,
    LabelDeadline,
    LabelEdition,
    NozzleClassRow,
    NozzleModel,
    NozzleSet,
    Planting,
    Product,
    Rig,
    SensitivePlace,
)
from logbook.catalog.outlines import BoundaryField, ShapeField, text_of_file
from logbook.facts.choices import ADJUVANT_FUNCTIONS
from logbook.facts.messages import gettext_noop
from logbook.forms.rows import RowForm, Words, row_list
from logbook.law.elements import ELEMENTS
from logbook.localization.locale import format_value, translate_word
from logbook.localization.places import PlaceField
from logbook.localization.today import today_of
from logbook.quantities.columns import choices_of

_lazily = lazy(translate_word, str)

WORDS = (
    gettext_noop("locations"),
    gettext_noop("plantings"),
    gettext_noop("ingredients"),
    gettext_noop("asks"),
    gettext_noop("deadlines"),
    gettext_noop("class rows"),
    gettext_noop("text"),
    gettext_noop("kind"),
    gettext_noop("season"),
    gettext_noop("planted on"),
    gettext_noop("name"),
    gettext_noop("content"),
    gettext_noop("acid equivalent"),
    gettext_noop("element"),
    gettext_noop("when"),
    gettext_noop("detail"),
    gettext_noop("clock"),
    gettext_noop("count"),
    gettext_noop("since"),
    gettext_noop("pressure"),
    gettext_noop("droplet class"),
    gettext_noop("nozzle"),
    gettext_noop("drift reducer"),
    gettext_noop("atrazine"),
)
"""Names of lists and columns in a refusal's path, and values of closed lists as they are shown."""


def _size_words(designation: str) -> str:
    return f"{designation} {translate_word(SIZES[designation].colour)}"


_size = lazy(_size_words, str)


def _functions(label: Any, help_text: Any = "") -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        choices=choices_of(ADJUVANT_FUNCTIONS),
        widget=forms.CheckboxSelectMultiple,
        required=False,
        label=label,
        help_text=help_text,
    )


class CustomerForm(RowForm):
    class Meta:
        model = Customer
        fields = ("name", "address", "phone", "email")
        labels: ClassVar[dict[str, Words]] = {
            "name": gettext_lazy("Name"),
            "address": gettext_lazy("Address"),
            "phone": gettext_lazy("Phone"),
        }


class FieldForm(RowForm):
    """A field; a chosen file goes before a pasted boundary."""

    place = PlaceField()
    boundary = BoundaryField(
        label=gettext_lazy("Boundary"),
        required=False,
        help_text=gettext_lazy(
            "Paste GeoJSON: a Polygon or MultiPolygon, longitude first, WGS 84 (RFC 7946)."
        ),
    )
    boundary_file = forms.FileField(
        required=False,
        label=gettext_lazy("Or a file: GeoJSON, KML, or a zipped shapefile"),
        help_text=gettext_lazy(
            "Coordinates of a shapefile are brought to WGS 84 by its .prj. Several shapes become "
            "one boundary."
        ),
        widget=forms.FileInput,
    )

    class Meta:
        model = Field
        fields = (
            "customer",
            "name",
            "place",
            "time_zone",
            "planted_size",
            "elevation",
            "boundary",
            "blank_because",
            "blank_said_on",
        )
        labels: ClassVar[dict[str, Words]] = {
            "customer": gettext_lazy("Customer"),
            "name": gettext_lazy("Name"),
            "time_zone": gettext_lazy("Time zone"),
            "planted_size": gettext_lazy("Planted size"),
        }

    field_order = (*Meta.fields[:-2], "boundary_file", *Meta.fields[-2:])

    def __init__(self, data: Any = None, files: Any = None, **kwargs: Any) -> None:
        chosen = (files or {}).get("boundary_file")
        text, self.file_refusal = text_of_file(chosen) if chosen else ("", "")
        if text:
            # From here on the file is as if pasted, so that it is still there when the form is
            # shown again: a browser does not keep a chosen file.
            data = data.copy()
            data["boundary"] = text
        super().__init__(data, files, **kwargs)
        if self.instance._state.adding:
            self.initial.setdefault("time_zone", self.business.time_zone)

    def clean_boundary_file(self) -> None:
        if self.file_refusal:
            raise ValidationError(self.file_refusal)


class FieldLocationForm(RowForm):
    class Meta:
        model = FieldLocation
        fields = ("kind", "text")
        labels: ClassVar[dict[str, Words]] = {
            "kind": gettext_lazy("Kind"),
            "text": gettext_lazy("Text"),
        }


class PlantingForm(RowForm):
    class Meta:
        model = Planting
        fields = ("season", "crop", "eppo_code", "planted_on")
        labels: ClassVar[dict[str, Words]] = {
            "season": gettext_lazy("Season"),
            "crop": gettext_lazy("Crop"),
            "planted_on": gettext_lazy("Planted on"),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance._state.adding:
            today = today_of(self.business, now=timezone.now())
            self.initial.setdefault("season", today.year)


class SensitivePlaceForm(RowForm):
    """A place that spray must not reach."""

    shape = ShapeField(
        label=gettext_lazy("Where it is"),
        help_text=gettext_lazy(
            "Latitude and longitude, such as “47.1034, -97.19”, or GeoJSON: a Point, LineString "
            "or Polygon, longitude first, WGS 84 (RFC 7946)."
        ),
    )

    class Meta:
        model = SensitivePlace
        fields = ("name", "kind", "shape", "keep_off", "note")
        labels: ClassVar[dict[str, Words]] = {
            "name": gettext_lazy("Name"),
            "kind": gettext_lazy("Kind"),
            "note": gettext_lazy("Note"),
        }


class ProductForm(RowForm):
    adjuvant_functions = _functions(gettext_lazy("For an adjuvant: what it does"))

    class Meta:
        model = Product
        fields = ("name", "kind", "registration_number", "registrant", "adjuvant_functions")
        labels: ClassVar[dict[str, Words]] = {
            "name": gettext_lazy("Name"),
            "kind": gettext_lazy("Kind"),
            "registration_number": gettext_lazy("Registration number"),
        }


class LabelForm(RowForm):
    required_adjuvants = _functions(gettext_lazy("Adjuvants the label asks for"))
    forbidden_adjuvants = _functions(gettext_lazy("Adjuvants the label forbids"))
    duty_classes = forms.MultipleChoiceField(
        choices=DutyClass.choices,
        widget=forms.CheckboxSelectMultiple,
        required=False,
        label=gettext_lazy("Classes that laws name"),
        help_text=gettext_lazy("Some laws ask more of these. Restricted use is said above."),
    )

    sections: ClassVar[tuple[tuple[Words, tuple[str, ...]], ...]] = (
        (gettext_lazy("The edition"), ("product", "edition", "in_force_from", "in_force_to")),
        (
            gettext_lazy("Who may apply it"),
            ("restricted_use", "supervised_use_allowed", "required_category"),
        ),
        (gettext_lazy("Amounts"), ("rate_min", "rate_max", "carrier_min", "carrier_max")),
        (
            gettext_lazy("Droplets and boom"),
            (
                "finest_class",
                "coarsest_class",
                "boom_height_max",
                "no_drift_reducer_with_air_induction",
            ),
        ),
        (
            gettext_lazy("Weather and time of day"),
            (
                "wind_min",
                "wind_max",
                "temperature_min",
                "temperature_max",
                "inversion_forbidden",
                "minutes_after_sunrise",
                "minutes_before_sunset",
            ),
        ),
        (
            gettext_lazy("Intervals and season"),
            (
                "reentry_hours",
                "worker_warning",
                "preharvest_days",
                "season_max",
                "applications_max",
                "interval_days",
            ),
        ),
        (gettext_lazy("Adjuvants"), ("required_adjuvants", "forbidden_adjuvants")),
        (gettext_lazy("Duties beyond the field"), ("duty_classes", "training", "keep_years")),
    )

    class Meta:
        model = LabelEdition
        fields = (
            "product",
            "edition",
            "in_force_from",
            "in_force_to",
            "restricted_use",
            "supervised_use_allowed",
            "required_category",
            "rate_min",
            "rate_max",
            "carrier_min",
            "carrier_max",
            "finest_class",
            "coarsest_class",
            "wind_min",
            "wind_max",
            "temperature_min",
            "temperature_max",
            "boom_height_max",
            "minutes_after_sunrise",
            "minutes_before_sunset",
            "inversion_forbidden",
            "reentry_hours",
            "worker_warning",
            "preharvest_days",
            "season_max",
            "applications_max",
            "interval_days",
            "no_drift_reducer_with_air_induction",
            "required_adjuvants",
            "forbidden_adjuvants",
            "duty_classes",
            "training",
            "keep_years",
        )
        labels: ClassVar[dict[str, Words]] = {
            "product": gettext_lazy("Product"),
            "edition": gettext_lazy("Edition"),
            "in_force_from": gettext_lazy("In force from"),
            "in_force_to": gettext_lazy("In force to"),
        }


class IngredientForm(RowForm):
    class Meta:
        model = Ingredient
        fields = ("name", "content", "acid_equivalent")
        labels: ClassVar[dict[str, Words]] = {
            "name": gettext_lazy("Name"),
            "content": gettext_lazy("Content"),
        }


class LabelAskForm(RowForm):
    element = forms.ChoiceField(
        choices=[
            ("", gettext_lazy("choose")),
            *((name, _lazily(one.title)) for name, one in ELEMENTS.items()),
        ],
        label=gettext_lazy("What the record has to state"),
    )

    class Meta:
        model = LabelAsk
        fields = ("element", "when", "detail")
        labels: ClassVar[dict[str, Words]] = {
            "when": gettext_lazy("When"),
        }


class LabelDeadlineForm(RowForm):
    class Meta:
        model = LabelDeadline
        fields = ("kind", "clock", "count", "since", "detail")


class NozzleForm(RowForm):
    """A nozzle model; size and angle are read off a name such as "AI 11004" where left blank."""

    size = forms.ChoiceField(
        choices=[
            ("", gettext_lazy("as the name says, or none")),
            *((size.designation, _size(size.designation)) for size in SIZES.values()),
        ],
        required=False,
        label=gettext_lazy("Size (ISO 10625)"),
    )

    sections: ClassVar[tuple[tuple[Words, tuple[str, ...]], ...]] = (
        (gettext_lazy("The nozzle"), ("name", "kind", "size", "angle")),
        (
            gettext_lazy("From its data sheet"),
            (
                "rated_flow",
                "rated_pressure",
                "pressure_min",
                "pressure_max",
                "exponent",
                "flow_accuracy_percent",
            ),
        ),
    )

    class Meta:
        model = NozzleModel
        fields = (
            "name",
            "kind",
            "size",
            "angle",
            "rated_flow",
            "rated_pressure",
            "pressure_min",
            "pressure_max",
            "exponent",
            "flow_accuracy_percent",
        )
        labels: ClassVar[dict[str, Words]] = {
            "name": gettext_lazy("Name"),
            "kind": gettext_lazy("Kind"),
            "rated_flow": gettext_lazy("Rated flow"),
            "rated_pressure": gettext_lazy("Rated pressure"),
        }

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        stamped = stamped_on(cleaned.get("name", ""))
        if stamped and not cleaned.get("size"):
            cleaned["size"] = stamped.size.designation
        if stamped and cleaned.get("angle") is None and "angle" not in self.errors:
            cleaned["angle"] = stamped.angle_deg
        low, high = cleaned.get("pressure_min"), cleaned.get("pressure_max")
        if low and high and high.si <= low.si:
            self.add_error(
                "pressure_max",
                _("%(high)s is not above the lowest pressure, %(low)s.")
                % {"high": format_value(high), "low": format_value(low)},
            )
        return cleaned


def stamped_on(name: str) -> Designation | None:
    """Return the angle and size in a nozzle's name, or None where it states none or several."""
    found = set()
    for number in re.findall(r"(?<![\d.])\d{2,3}-?\d{2,4}(?![\d.])", name):
        try:
            found.add(parse_designation(number))
        except OutOfRange:
            continue
    return found.pop() if len(found) == 1 else None


class NozzleClassRowForm(RowForm):
    class Meta:
        model = NozzleClassRow
        fields = ("pressure", "droplet_class")
        labels: ClassVar[dict[str, Words]] = {
            "pressure": gettext_lazy("Pressure"),
            "droplet_class": gettext_lazy("Droplet class"),
        }


class RigForm(RowForm):
    sections: ClassVar[tuple[tuple[Words, tuple[str, ...]], ...]] = (
        (gettext_lazy("The rig"), ("name", "plate", "tank", "spacing", "nozzle_count")),
        (
            gettext_lazy("How well it measures"),
            (
                "gauge_accuracy",
                "gauge_repeatability",
                "speed_accuracy",
                "spacing_accuracy_percent",
                "tank_accuracy_percent",
            ),
        ),
        (gettext_lazy("From the gauge to the nozzle"), ("line_loss", "line_loss_flow")),
        (gettext_lazy("What stays blank"), ("blank_because", "blank_said_on")),
    )

    class Meta:
        model = Rig
        fields = (
            "name",
            "plate",
            "tank",
            "spacing",
            "nozzle_count",
            "gauge_accuracy",
            "gauge_repeatability",
            "speed_accuracy",
            "spacing_accuracy_percent",
            "tank_accuracy_percent",
            "line_loss",
            "line_loss_flow",
            "blank_because",
            "blank_said_on",
        )
        labels: ClassVar[dict[str, Words]] = {
            "name": gettext_lazy("Name"),
            "nozzle_count": gettext_lazy("Nozzle count"),
        }


class NozzleSetForm(RowForm):
    class Meta:
        model = NozzleSet
        fields = ("rig", "nozzle", "mounted_on", "removed_on")
        labels: ClassVar[dict[str, Words]] = {
            "rig": gettext_lazy("Rig"),
            "nozzle": gettext_lazy("Nozzle"),
            "mounted_on": gettext_lazy("Mounted on"),
            "removed_on": gettext_lazy("Removed on"),
        }


class VolumesField(forms.CharField):
    """Volumes as read, one per nozzle: each on a line, or separated by commas or blanks."""

    widget = forms.Textarea

    def prepare_value(self, value: Any) -> Any:
        return "\n".join(map(str, value)) if isinstance(value, list) else value

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value) or ""
        if re.search(r"\d,\d", text):
            raise ValidationError(
                _(
                    "A comma between two digits can be read in two ways. Write 1.43 with a point, "
                    "and a blank after a comma that separates two volumes."
                )
            )
        found = [part for part in re.split(r"[\s,;]+", text.strip()) if part]
        bad = [
            _("nozzle %(number)d: “%(volume)s” is not a volume.")
            % {"number": place, "volume": volume[:20]}
            for place, volume in enumerate(found, start=1)
            if not _VOLUME.match(volume)
        ]
        if bad:
            raise ValidationError([*bad, _("Write each as digits, with a point: 1514 or 51.2.")])
        return found


_VOLUME = re.compile(r"[0-9]{1,6}(\.[0-9]{0,6})?\Z")
"""Digits and a point; below a million of the smallest unit, a millilitre: a cubic metre."""


class CatchTestForm(RowForm):
    volumes = VolumesField(
        label=gettext_lazy("Volumes"),
        help_text=gettext_lazy(
            "As read, in the order of the nozzles: one on each line, or with commas."
        ),
    )
    joined: ClassVar[dict[str, tuple[str, ...]]] = {"nozzle_set": ("nozzle", "rig")}

    class Meta:
        model = CatchTest
        fields = (
            "nozzle_set",
            "tested_on",
            "tested_by",
            "pressure",
            "gauge",
            "gauge_accuracy",
            "time",
            "volume_unit",
            "volumes",
            "accuracy_percent",
        )
        labels: ClassVar[dict[str, Words]] = {
            "nozzle_set": gettext_lazy("Nozzle set"),
            "tested_on": gettext_lazy("Tested on"),
            "tested_by": gettext_lazy("Tested by"),
            "volume_unit": gettext_lazy("Volume unit"),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["volumes"].widget.attrs["rows"] = 12


LOCATIONS = row_list(
    Field,
    FieldLocationForm,
    one=gettext_lazy("location"),
    many=gettext_lazy("ways to say where it is"),
)
PLANTINGS = row_list(
    Field, PlantingForm, one=gettext_lazy("crop"), many=gettext_lazy("crops by season")
)
INGREDIENTS = row_list(
    LabelEdition,
    IngredientForm,
    one=gettext_lazy("active ingredient"),
    many=gettext_lazy("active ingredients"),
)
LABEL_ASKS = row_list(
    LabelEdition,
    LabelAskForm,
    one=gettext_lazy("thing to record"),
    many=gettext_lazy("what the label wants in the record"),
)
LABEL_DEADLINES = row_list(
    LabelEdition,
    LabelDeadlineForm,
    one=gettext_lazy("time limit"),
    many=gettext_lazy("time limits of the label"),
)
CLASS_ROWS = row_list(
    NozzleModel,
    NozzleClassRowForm,
    one=gettext_lazy("line of the droplet table"),
    many=gettext_lazy("droplet table"),
)
