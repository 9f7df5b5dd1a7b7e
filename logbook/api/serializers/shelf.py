"""The shelf: customers, fields, products and labels, nozzles, rigs, catch tests, people."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.apps import apps
from rest_framework import serializers

from calc.nozzle import SIZES
from logbook.api.fields import (
    PRODUCT_RATE,
    AnswerField,
    BoundaryField,
    DayField,
    EmailAddress,
    Flag,
    InstantField,
    OneOf,
    Reading,
    ReferenceField,
    RowField,
    RowId,
    line,
    maybe,
    number,
)
from logbook.api.serializers.base import Strict
from logbook.base.validators import MOST_PREHARVEST_DAYS, MOST_REENTRY_H
from logbook.catalog.choices import (
    AdjuvantFunction,
    DropletClassChoice,
    DutyClass,
    LabelClock,
    LabelDuty,
    LabelSince,
    LabelWhen,
    LocationKind,
    NozzleKind,
    ProductKind,
    WorkerWarning,
)
from logbook.rules.duties.elements import ELEMENTS

CONTENT = ("mass_per_volume", "mass_per_mass")
VOLUME_UNITS = ("mL", "L", "fl oz", "pt", "qt", "gal")


def quantity(*dimensions: str, **kwargs: Any) -> AnswerField:
    """Return a number with its unit that may be blank."""
    return AnswerField(*dimensions, allow_null=True, default=None, **kwargs)


def needed(*dimensions: str, **kwargs: Any) -> AnswerField:
    """Return a number with its unit that must be given."""
    return AnswerField(*dimensions, **kwargs)


def percent(usual: str, low: str, high: str, **kwargs: Any) -> serializers.DecimalField:
    """Return a share in % with one decimal."""
    return serializers.DecimalField(
        max_digits=4,
        decimal_places=1,
        min_value=Decimal(low),
        max_value=Decimal(high),
        default=Decimal(usual),
        **kwargs,
    )


def day(**kwargs: Any) -> DayField:
    """Return a day that may be blank."""
    return DayField(allow_null=True, default=None, **kwargs)


def count(low: int, high: int, **kwargs: Any) -> serializers.IntegerField:
    """Return a whole number that may be blank."""
    return number(low, high, allow_null=True, default=None, **kwargs)


class ShelfRow(Strict):
    """A row of the shelf; the client chooses its id, so that asking twice makes one row."""

    id = RowId(help_text="Chosen by the client; asking twice makes one row.")
    created_at = serializers.DateTimeField(read_only=True)


class HangingRow(Strict):
    """A row that hangs on another; with its id it is kept, without it is new."""

    id = RowField(required=False, help_text="Of a row that is there already; leave it out for new.")


class CustomerSerializer(ShelfRow):
    name = line(200)
    address = line(2000)
    phone = maybe(60)
    email = EmailAddress(allow_blank=True, default="", max_length=254)


class LocationSerializer(HangingRow):
    kind = OneOf(LocationKind.choices)
    text = line(2000)


class PlantingSerializer(HangingRow):
    season = number(1990, 2200)
    crop = line(120)
    eppo_code = maybe(6, help_text='EPPO code, such as "GLXMA".')
    planted_on = day()


class FieldSerializer(ShelfRow):
    customer = ReferenceField()
    name = line(200)
    place = line(6, help_text='ISO 3166-2, such as "US-ND". The law of this place decides.')
    time_zone = line(60, help_text='Such as "America/Chicago".')
    boundary = BoundaryField(
        allow_null=True,
        default=None,
        help_text="GeoJSON Polygon or MultiPolygon, WGS 84, longitude first (RFC 7946).",
    )
    area_ha = serializers.FloatField(
        read_only=True,
        allow_null=True,
        help_text="Measured on the ellipsoid from the boundary.",
    )
    planted_size = quantity("area")
    locations = LocationSerializer(many=True, default=list, max_length=50)
    plantings = PlantingSerializer(many=True, default=list, max_length=400)


class EditionBriefSerializer(Strict):
    """A label edition, named."""

    id = serializers.UUIDField()
    edition = serializers.CharField()
    in_force_from = DayField()
    in_force_to = DayField(allow_null=True)


class ProductSerializer(ShelfRow):
    name = line(200)
    registration_number = maybe(60)
    registrant = maybe(200, help_text="The company on the label.")
    kind = OneOf(ProductKind.choices)
    adjuvant_functions = serializers.ListField(
        child=OneOf(AdjuvantFunction.choices), default=list, max_length=20
    )
    editions = EditionBriefSerializer(many=True, read_only=True)


class IngredientSerializer(HangingRow):
    name = line(120)
    content = needed(*CONTENT)
    acid_equivalent = quantity(*CONTENT, help_text="As the label prints it.")


class LabelAskSerializer(HangingRow):
    """An element that the label wants in the record, beside what the law asks."""

    element = OneOf([(name, name) for name in ELEMENTS])
    when = OneOf(LabelWhen.choices, default=LabelWhen.ALWAYS.value)
    detail = maybe(300, help_text="As the label says it.")


class LabelDeadlineSerializer(HangingRow):
    """A thing that the label wants done by a certain time."""

    kind = OneOf(LabelDuty.choices)
    clock = OneOf(LabelClock.choices)
    count = count(1, 32767, help_text="Of hours or days; null for the same day.")
    since = OneOf(LabelSince.choices, default=LabelSince.END.value)
    detail = maybe(300, help_text="As the label says it.")


class LabelSerializer(ShelfRow):
    """What one dated edition of a label allows; null means that the label is silent."""

    product = ReferenceField()
    edition = line(80, help_text="As printed, such as a date or a number.")
    in_force_from = DayField()
    in_force_to = day()
    restricted_use = Flag(default=False)
    supervised_use_allowed = Flag(default=True)
    required_category = maybe(80, help_text="Licence category asked for.")
    rate_min = quantity(*PRODUCT_RATE)
    rate_max = quantity(*PRODUCT_RATE)
    carrier_min = quantity("volume_rate")
    carrier_max = quantity("volume_rate")
    finest_class = OneOf(DropletClassChoice.choices, allow_blank=True, default="")
    coarsest_class = OneOf(DropletClassChoice.choices, allow_blank=True, default="")
    wind_min = quantity("speed")
    wind_max = quantity("speed")
    temperature_min = quantity("temperature")
    temperature_max = quantity("temperature")
    boom_height_max = quantity("length", help_text="Above the target.")
    minutes_after_sunrise = count(-240, 720)
    minutes_before_sunset = count(-240, 720)
    inversion_forbidden = Flag(default=False)
    reentry_hours = serializers.DecimalField(
        max_digits=6,
        decimal_places=1,
        min_value=0,
        max_value=MOST_REENTRY_H,
        allow_null=True,
        default=None,
    )
    worker_warning = OneOf(
        WorkerWarning.choices,
        allow_blank=True,
        default="",
        help_text="Whether the label asks for both oral and posted warning; blank: not looked up.",
    )
    preharvest_days = count(0, MOST_PREHARVEST_DAYS)
    season_max = quantity("volume_rate", "mass_rate")
    applications_max = count(1, 32767)
    interval_days = count(0, 32767)
    no_drift_reducer_with_air_induction = Flag(default=False)
    required_adjuvants = serializers.ListField(
        child=OneOf(AdjuvantFunction.choices), default=list, max_length=20
    )
    forbidden_adjuvants = serializers.ListField(
        child=OneOf(AdjuvantFunction.choices), default=list, max_length=20
    )
    duty_classes = serializers.ListField(
        child=OneOf(DutyClass.choices),
        default=list,
        max_length=20,
        help_text="Classes that laws name; restricted use is said above.",
    )
    training = maybe(200, help_text="Asked of whoever applies it, as the label names it.")
    keep_years = count(1, 50, help_text="To keep the record, counted from the application.")
    ingredients = IngredientSerializer(many=True, default=list, max_length=50)
    asks = LabelAskSerializer(many=True, default=list, max_length=100)
    deadlines = LabelDeadlineSerializer(many=True, default=list, max_length=50)


class ClassRowSerializer(HangingRow):
    pressure = needed("pressure")
    droplet_class = OneOf(DropletClassChoice.choices, help_text="ASABE S572 / ISO 25358 symbol.")


class NozzleSerializer(ShelfRow):
    """A nozzle as its data sheet states it; the droplet class comes from its own table alone."""

    name = line(120)
    kind = OneOf(NozzleKind.choices)
    size = OneOf(
        [(size, size) for size in SIZES], allow_blank=True, default="", help_text="ISO 10625."
    )
    angle = count(10, 180, help_text="Fan angle in degrees.")
    rated_flow = needed("flow")
    rated_pressure = needed("pressure")
    exponent = serializers.DecimalField(
        max_digits=4,
        decimal_places=3,
        min_value=Decimal("0.3"),
        max_value=Decimal("0.7"),
        default=Decimal("0.5"),
        help_text="Of the pressure law; 0.5 unless the data sheet or your own tests say otherwise.",
    )
    flow_accuracy_percent = percent("5.0", "0.1", "50")
    pressure_min = needed("pressure")
    pressure_max = needed("pressure")
    class_rows = ClassRowSerializer(many=True, default=list, max_length=100)


class RigSerializer(ShelfRow):
    name = line(120)
    plate = maybe(40)
    tank = needed("volume")
    spacing = needed("length", help_text="Between the nozzles.")
    nozzle_count = number(1, 32767)
    gauge_accuracy = needed("pressure", "fraction", help_text="Good to within this, either way.")
    speed_accuracy = needed("speed", "fraction", help_text="Good to within this, either way.")
    spacing_accuracy_percent = percent("1.0", "0", "20")
    tank_accuracy_percent = percent("3.0", "0", "50")
    line_loss = quantity("pressure", words=True, help_text="Lost between gauge and nozzle …")
    line_loss_flow = quantity("flow", words=True, help_text="… at this flow of the boom.")


class NozzleSetSerializer(ShelfRow):
    rig = ReferenceField()
    nozzle = ReferenceField()
    mounted_on = DayField()
    removed_on = day()


class CatchTestSerializer(ShelfRow):
    nozzle_set = ReferenceField()
    tested_on = DayField()
    tested_by = line(150)
    pressure = needed("pressure", help_text="At the nozzle.")
    time = needed("time")
    volumes = serializers.ListField(
        child=Reading(), max_length=400, help_text="One volume per nozzle, as read, in order."
    )
    volume_unit = OneOf([(unit, unit) for unit in VOLUME_UNITS])
    accuracy_percent = percent("2.0", "0.1", "20")


class LicenceSerializer(HangingRow):
    number = line(60)
    authority = line(200)
    place = line(6, help_text='ISO 3166-2, such as "US-ND".')
    categories = line(300, help_text="As printed, separated by commas.")
    certified = Flag(default=True)
    valid_from = DayField()
    expires_on = DayField()


class TrainingSerializer(HangingRow):
    trained_on = DayField()
    trainer = line(150)
    content = line(300)
    expires_on = day()


class PersonSerializer(ShelfRow):
    """Someone who sprays, supervises or helps."""

    name = line(150)
    address = maybe(2000)
    phone = maybe(60)
    licences = LicenceSerializer(many=True, default=list, max_length=50)
    trainings = TrainingSerializer(many=True, default=list, max_length=50)


class ShelfChangeSerializer(Strict):
    """One row written, changed or removed."""

    id = serializers.UUIDField()
    at = InstantField(source="created_at")
    by = serializers.CharField(
        source="by.name", allow_null=True, default=None, help_text="Null: nobody was logged in."
    )
    row = serializers.CharField(
        source="of", help_text="Id of the row of the shelf that it is, or hangs on."
    )
    name = serializers.CharField(help_text="What that row was called then.")
    kind = serializers.SerializerMethodField(help_text="Such as “field” or “planting”.")
    key = serializers.CharField(help_text="Id of the row itself.")
    deed = OneOf([(deed, deed) for deed in ("added", "changed", "removed")])
    before = serializers.DictField(help_text="By column what stood there; what changed alone.")
    after = serializers.DictField(help_text="The same after it; a row is told by its name.")

    def get_kind(self, change: Any) -> str:
        return str(apps.get_model(change.model)._meta.verbose_name_raw)


KINDS: dict[str, type[ShelfRow]] = {
    "customers": CustomerSerializer,
    "fields": FieldSerializer,
    "products": ProductSerializer,
    "labels": LabelSerializer,
    "nozzles": NozzleSerializer,
    "rigs": RigSerializer,
    "nozzle-sets": NozzleSetSerializer,
    "catch-tests": CatchTestSerializer,
    "people": PersonSerializer,
}
