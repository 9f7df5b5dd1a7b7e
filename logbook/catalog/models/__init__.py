"""The shelf: customers and fields, products and labels, nozzles, rigs and catch tests."""

from logbook.catalog.models.customer import Customer, Field, FieldLocation, Planting
from logbook.catalog.models.importfile import ImportFile
from logbook.catalog.models.place import SensitivePlace
from logbook.catalog.models.product import (
    Ingredient,
    LabelAsk,
    LabelDeadline,
    LabelEdition,
    Product,
)
from logbook.catalog.models.rig import CatchTest, NozzleClassRow, NozzleModel, NozzleSet, Rig

__all__ = [
    "CatchTest",
    "Customer",
    "Field",
    "FieldLocation",
    "ImportFile",
    "Ingredient",
    "LabelAsk",
    "LabelDeadline",
    "LabelEdition",
    "NozzleClassRow",
    "NozzleModel",
    "NozzleSet",
    "Planting",
    "Product",
    "Rig",
    "SensitivePlace",
]
