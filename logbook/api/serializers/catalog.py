"""The shelf: customers, fields, products and labels, nozzles, rigs, catch tests, people.

The fields are those of the models' columns, with their bounds, defaults and help.
"""

from __future__ import annotations

from typing import Any, ClassVar

from django.apps import apps
from rest_framework import serializers

from calc.nozzle import SIZES
from logbook.api.fields import DayField, InstantField, OneOf, Reading, RowField, RowId
from logbook.api.serializers.base import Strict
from logbook.api.serializers.columns import fields_of_columns
from logbook.catalog.choices import DutyClass
from logbook.law.elements import ELEMENTS
from logbook.quantities.columns import asked


class FromColumns(Strict):
    """Has a field for each column of `of`, in their order, after its id and before its lists.

    of: the model, of which nothing but the columns is looked at; without: columns that are not
    served. A field that is written out in the class stands in place of the column's own.
    """

    of: ClassVar[str]
    without: ClassVar[tuple[str, ...]] = ("business",)

    def get_fields(self) -> dict[str, Any]:
        """Return the fields."""
        written = super().get_fields()
        first = {name: written.pop(name) for name in ("id", "created_at") if name in written}
        model = apps.get_model(self.of)
        columns = fields_of_columns(model, without={*self.without, *first, *written})
        names = [column.name for column in model._meta.concrete_fields]
        everything = {**columns, **written}
        ordered = [*filter(everything.__contains__, names), *written]
        return first | {name: everything[name] for name in ordered}


class ShelfRow(FromColumns):
    """A row of the shelf; the client chooses its id, so that asking twice makes one row."""

    id = RowId(help_text="Chosen by the client; asking twice makes one row.")
    created_at = serializers.DateTimeField(read_only=True)
    questions = serializers.SerializerMethodField(
        help_text="By field, what is asked about a number outside its usual range: most often a "
        "slip of the unit. It is kept as it was given."
    )

    def get_questions(self, row: Any) -> dict[str, str]:
        """Return what is asked about the row, and about what hangs on it."""
        found = asked(row)
        for name, field in self.fields.items():
            if isinstance(getattr(field, "child", None), HangingRow):
                for place, one in enumerate(getattr(row, name).all()):
                    found |= {f"{name}.{place}.{of}": said for of, said in asked(one).items()}
        return found


class HangingRow(FromColumns):
    """A row that hangs on another; with its id it is kept, without it is new."""

    id = RowField(required=False, help_text="Of a row that is there already; leave it out for new.")


class CustomerSerializer(ShelfRow):
    of = "catalog.Customer"


class LocationSerializer(HangingRow):
    of = "catalog.FieldLocation"
    without = ("field",)


class PlantingSerializer(HangingRow):
    of = "catalog.Planting"
    without = ("field",)


class FieldSerializer(ShelfRow):
    of = "catalog.Field"
    locations = LocationSerializer(many=True, default=list, max_length=50)
    plantings = PlantingSerializer(many=True, default=list, max_length=400)


class EditionBriefSerializer(Strict):
    """A label edition, named."""

    id = serializers.UUIDField()
    edition = serializers.CharField()
    in_force_from = DayField()
    in_force_to = DayField(allow_null=True)


class ProductSerializer(ShelfRow):
    of = "catalog.Product"
    editions = EditionBriefSerializer(many=True, read_only=True)


class IngredientSerializer(HangingRow):
    of = "catalog.Ingredient"
    without = ("edition",)


class LabelAskSerializer(HangingRow):
    """An element that the label wants in the record, beside what the law asks."""

    of = "catalog.LabelAsk"
    without = ("edition",)
    element = OneOf([(name, name) for name in ELEMENTS])


class LabelDeadlineSerializer(HangingRow):
    """A thing that the label wants done by a certain time."""

    of = "catalog.LabelDeadline"
    without = ("edition",)


class LabelSerializer(ShelfRow):
    """What one dated edition of a label allows; null means that the label is silent."""

    of = "catalog.LabelEdition"
    duty_classes = serializers.ListField(
        child=OneOf(DutyClass.choices),
        default=list,
        max_length=20,
        help_text="Classes that laws name; restricted use is said above.",
    )
    ingredients = IngredientSerializer(many=True, default=list, max_length=50)
    asks = LabelAskSerializer(many=True, default=list, max_length=100)
    deadlines = LabelDeadlineSerializer(many=True, default=list, max_length=50)


class ClassRowSerializer(HangingRow):
    of = "catalog.NozzleClassRow"
    without = ("nozzle",)


class NozzleSerializer(ShelfRow):
    """A nozzle as its data sheet states it; the droplet class comes from its own table alone."""

    of = "catalog.NozzleModel"
    size = OneOf(
        [(size, size) for size in SIZES], allow_blank=True, default="", help_text="ISO 10625."
    )
    class_rows = ClassRowSerializer(many=True, default=list, max_length=100)


class RigSerializer(ShelfRow):
    of = "catalog.Rig"


class NozzleSetSerializer(ShelfRow):
    of = "catalog.NozzleSet"


class CatchTestSerializer(ShelfRow):
    of = "catalog.CatchTest"
    volumes = serializers.ListField(
        child=Reading(), max_length=400, help_text="One volume per nozzle, as read, in order."
    )


class LicenceSerializer(HangingRow):
    of = "accounts.Licence"
    without = ("person",)


class TrainingSerializer(HangingRow):
    of = "accounts.Training"
    without = ("person",)


class PersonSerializer(ShelfRow):
    """Someone who sprays, supervises or helps."""

    of = "accounts.Person"
    without = ("business", "user")
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
