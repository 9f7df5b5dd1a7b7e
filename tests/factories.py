"""Rows for tests, all in one business unless told otherwise. Invented names and numbers."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import factory
from factory.django import DjangoModelFactory

from calc.units import UNITS
from logbook.accounts.models import Business, Licence, Membership, Person, Training, User
from logbook.accounts.rights import Role
from logbook.catalog import models as shelf
from logbook.facts.quantity import Answer, parse_answer
from logbook.records import models as book

PASSWORD = "field-book-2026"

# An L of 50.63 ha (125.12 ac): a block with its north-east quarter left out.
L_SHAPE: dict[str, Any] = {
    "type": "Polygon",
    "coordinates": [
        [
            [-97.20, 47.10],
            [-97.19, 47.10],
            [-97.19, 47.104],
            [-97.195, 47.104],
            [-97.195, 47.108],
            [-97.20, 47.108],
            [-97.20, 47.10],
        ]
    ],
}


def q(text: str) -> Answer:
    """Return the answer that the text stands for: "15.0 gal/ac", "none", "not measured: why"."""
    return parse_answer(text, dimensions=tuple({unit.dimension for unit in UNITS.values()}))


class Rows(DjangoModelFactory):
    class Meta:
        abstract = True
        skip_postgeneration_save = True


# --- accounts ------------------------------------------------------------------------------------


class UserFactory(Rows):
    """A user; `password=None` makes one that cannot log in."""

    class Meta:
        model = User

    name = factory.Sequence(lambda n: f"Person {n}")
    email = factory.Sequence(lambda n: f"person{n}@example.test")
    password = PASSWORD

    @classmethod
    def _create(cls, model_class: Any, *args: Any, **kwargs: Any) -> User:
        return User.objects.create_user(*args, **kwargs)


class BusinessFactory(Rows):
    """The one business of a test; another name makes another business."""

    class Meta:
        model = Business
        django_get_or_create = ("name",)

    name = "Long Furrow Spraying"
    address = "Box 12, Stillwater Flats"
    licence_number = "B-7781"
    time_zone = "America/Chicago"


class MembershipFactory(Rows):
    class Meta:
        model = Membership

    user = factory.SubFactory(UserFactory)
    business = factory.SubFactory(BusinessFactory)
    role = Role.OWNER.value


class PersonFactory(Rows):
    """A person without papers; `licensed=True` and `trained=True` add them."""

    class Meta:
        model = Person

    class Params:
        licensed = factory.Trait(
            licence=factory.RelatedFactory("tests.factories.LicenceFactory", "person")
        )
        trained = factory.Trait(
            training=factory.RelatedFactory("tests.factories.TrainingFactory", "person")
        )

    business = factory.SubFactory(BusinessFactory)
    name = factory.Sequence(lambda n: f"Sprayer {n}")


class LicenceFactory(Rows):
    class Meta:
        model = Licence

    person = factory.SubFactory(PersonFactory)
    number = factory.Sequence(lambda n: f"C-{4000 + n}")
    authority = "State agriculture department"
    place = "US-ND"
    categories = "agricultural, right-of-way"
    certified = True
    valid_from = date(2025, 4, 1)
    expires_on = date(2028, 3, 31)


class TrainingFactory(Rows):
    class Meta:
        model = Training

    person = factory.SubFactory(PersonFactory)
    trained_on = date(2026, 3, 3)
    trainer = "R. Holm"
    content = "Handling, drift, first aid and what the label asks"
    expires_on = date(2027, 3, 3)


# --- shelf ---------------------------------------------------------------------------------------


class CustomerFactory(Rows):
    class Meta:
        model = shelf.Customer

    business = factory.SubFactory(BusinessFactory)
    name = factory.Sequence(lambda n: f"Customer {n}")
    address = "Section road 4, Stillwater Flats"


class FieldFactory(Rows):
    class Meta:
        model = shelf.Field

    business = factory.SubFactory(BusinessFactory)
    customer = factory.SubFactory(CustomerFactory, business=factory.SelfAttribute("..business"))
    name = factory.Sequence(lambda n: f"Field {n}")
    place = "US-ND"
    time_zone = "America/Chicago"
    boundary = factory.LazyFunction(lambda: L_SHAPE)
    planted_size = q("125.0 ac")


class SensitivePlaceFactory(Rows):
    class Meta:
        model = shelf.SensitivePlace

    business = factory.SubFactory(BusinessFactory)
    name = factory.Sequence(lambda n: f"Place {n}")
    kind = "water"
    shape = factory.LazyFunction(lambda: {"type": "Point", "coordinates": [-97.185, 47.102]})
    keep_off = q("100 ft")


class FieldLocationFactory(Rows):
    class Meta:
        model = shelf.FieldLocation

    field = factory.SubFactory(FieldFactory)
    kind = "legal description"
    text = "SW 1/4, section 14, township 140 N, range 53 W, 5th principal meridian"


class PlantingFactory(Rows):
    class Meta:
        model = shelf.Planting

    field = factory.SubFactory(FieldFactory)
    season = 2026
    crop = "soybean"
    eppo_code = "GLXMA"
    planted_on = date(2026, 5, 12)


class ProductFactory(Rows):
    class Meta:
        model = shelf.Product

    business = factory.SubFactory(BusinessFactory)
    name = factory.Sequence(lambda n: f"Leafkill {n}")
    registration_number = factory.Sequence(lambda n: f"TEST-{100 + n}")
    registrant = "Invented Crop Care"
    kind = "foliar herbicide"


class LabelEditionFactory(Rows):
    """A label with a limit of every common kind; give None to make it silent on one."""

    class Meta:
        model = shelf.LabelEdition

    product = factory.SubFactory(ProductFactory)
    business = factory.SelfAttribute("product.business")
    edition = "2025-11"
    in_force_from = date(2025, 11, 1)
    restricted_use = False
    supervised_use_allowed = True
    no_drift_reducer_with_air_induction = False
    rate_min = q("16 fl oz/ac")
    rate_max = q("32 fl oz/ac")
    carrier_min = q("10 gal/ac")
    carrier_max = q("20 gal/ac")
    finest_class = "M"
    wind_min = q("3 mph")
    wind_max = q("15 mph")
    temperature_max = q("90 °F")
    boom_height_max = q("24 in")
    inversion_forbidden = True
    reentry_hours = Decimal(12)
    preharvest_days = 30
    season_max = q("64 fl oz/ac")
    applications_max = 2
    interval_days = 14


class IngredientFactory(Rows):
    class Meta:
        model = shelf.Ingredient

    edition = factory.SubFactory(LabelEditionFactory)
    name = "inventium"
    content = q("3.8 lb/gal")


class NozzleModelFactory(Rows):
    """A 110-degree 04 flat fan without its class table (`NozzleClassRowFactory`)."""

    class Meta:
        model = shelf.NozzleModel

    business = factory.SubFactory(BusinessFactory)
    name = "Flat fan 11004"
    kind = "flat fan"
    size = "04"
    angle = 110
    rated_flow = q("0.40 gal/min")
    rated_pressure = q("40 psi")
    pressure_min = q("15 psi")
    pressure_max = q("60 psi")


class NozzleClassRowFactory(Rows):
    class Meta:
        model = shelf.NozzleClassRow

    nozzle = factory.SubFactory(NozzleModelFactory)
    pressure = q("40 psi")
    droplet_class = "M"


CLASS_TABLE = (("15 psi", "C"), ("20 psi", "C"), ("30 psi", "M"), ("40 psi", "M"), ("60 psi", "F"))
"""Pressures and classes of the flat fan 11004: coarser when slow, as fans are; invented."""


class RigFactory(Rows):
    """48 nozzles 20 in apart (80 ft), an 800 gal tank, no pressure lost on the way."""

    class Meta:
        model = shelf.Rig

    business = factory.SubFactory(BusinessFactory)
    name = "Rig 1"
    plate = "SP-118"
    tank = q("800 gal")
    spacing = q("20 in")
    nozzle_count = 48
    gauge_accuracy = q("1 psi")
    speed_accuracy = q("0.1 mph")
    line_loss = q("none")


class NozzleSetFactory(Rows):
    class Meta:
        model = shelf.NozzleSet

    business = factory.SubFactory(BusinessFactory)
    rig = factory.SubFactory(RigFactory, business=factory.SelfAttribute("..business"))
    nozzle = factory.SubFactory(NozzleModelFactory, business=factory.SelfAttribute("..business"))
    mounted_on = date(2026, 4, 2)


class CatchTestFactory(Rows):
    """All 48 nozzles within 1 % of the rated 0.40 gal/min (1514 mL/min) at 40 psi."""

    class Meta:
        model = shelf.CatchTest

    nozzle_set = factory.SubFactory(NozzleSetFactory)
    business = factory.SelfAttribute("nozzle_set.business")
    tested_on = date(2026, 5, 4)
    tested_by = "R. Holm"
    pressure = q("40 psi")
    time = q("60 s")
    volumes = factory.LazyFunction(lambda: [str(1514 + 3 * (n % 7 - 3)) for n in range(48)])
    volume_unit = "mL"


# --- the book ------------------------------------------------------------------------------------


class ApplicationRecordFactory(Rows):
    """An empty draft of the business; the fixture `clean_draft` is a filled one."""

    class Meta:
        model = book.ApplicationRecord

    business = factory.SubFactory(BusinessFactory)
    time_zone = "America/Chicago"


class ProductLineFactory(Rows):
    class Meta:
        model = book.ProductLine

    record = factory.SubFactory(ApplicationRecordFactory)
    position = factory.Sequence(lambda n: n)
    product = factory.SubFactory(
        ProductFactory, business=factory.SelfAttribute("..record.business")
    )
    planned_rate = q("22 fl oz/ac")


class WeatherReadingFactory(Rows):
    class Meta:
        model = book.WeatherReading

    record = factory.SubFactory(ApplicationRecordFactory)
    read_at = datetime(2026, 6, 12, 14, 30, tzinfo=UTC)
    height = q("40 in")
    wind_from = q("290 °")
    wind_speed = q("8 mph")
    gust = q("10 mph")
    temperature = q("72 °F")
    humidity = q("55 %")
    cloud = q("40 %")


class LoadFactory(Rows):
    class Meta:
        model = book.Load

    business = factory.SubFactory(BusinessFactory)
    rig = factory.SubFactory(RigFactory, business=factory.SelfAttribute("..business"))
    mixed_volume = q("700 gal")


class LoadPartFactory(Rows):
    class Meta:
        model = book.LoadPart

    load = factory.SubFactory(LoadFactory)
    product = factory.SubFactory(ProductFactory, business=factory.SelfAttribute("..load.business"))
    amount = q("1024 fl oz")


class LoadUseFactory(Rows):
    class Meta:
        model = book.LoadUse

    record = factory.SubFactory(ApplicationRecordFactory)
    load = factory.SubFactory(LoadFactory, business=factory.SelfAttribute("..record.business"))
    order = 1
    used = q("700 gal")
