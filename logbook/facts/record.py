"""The frozen facts of one application record, as every check, seal and paper sees them.

`records.sealing` builds them from the rows; nothing here can reach the database, so a check
cannot see more than what is sealed. Times are aware UTC datetimes with the field's zone beside
them. `Answer` is a quantity as entered, a word (none, not applicable, not measured) or blank.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from calc.air import ELEVATION_RANGE_M
from calc.flow import SPECIFIC_GRAVITY_RANGE
from logbook.facts.choices import (
    ADJUVANT_FUNCTIONS,
    DROPLET_CLASSES,
    LOCATION_KINDS,
    NONE_SEEN,
    NOZZLE_KINDS,
    PATTERNS,
    PICTURED,
    PRODUCT_KINDS,
    SIGNS,
    TEST_GAUGES,
    WORKER_WARNINGS,
)
from logbook.facts.days import days_of_work
from logbook.facts.duty import Asked, Deadline, Retention
from logbook.facts.messages import gettext_noop, joined, term
from logbook.facts.quantity import Answer, Quantity
from logbook.facts.spec import (
    Amount,
    Choice,
    Computed,
    Count,
    Day,
    Flag,
    Instant,
    Number,
    Outline,
    Prefill,
    Row,
    Section,
    Statements,
    Text,
    Usual,
    Values,
    fact,
)
from logbook.facts.units import (
    ABOVE_GROUND,
    ABOVE_SEA,
    ALONG,
    CARRIER,
    DENSITY,
    DRIVEN,
    MIX,
    RATE,
    SHORT,
    SPACING,
)

PER_AREA = ("volume_rate", "mass_rate")
PRODUCT_RATE = (*PER_AREA, "volume_per_volume", "mass_per_volume")
"""The dimensions of a rate of product: per area, or per volume of mix."""

CONTENT = ("mass_per_volume", "mass_per_mass")
"""The dimensions of what a product holds of an ingredient."""

BOOM_PRESSURE = (Usual(70, 1500, "kPa"),)
CARRIERS = (Usual(30, 1500, "L/ha"),)
OF_PRODUCT = (Usual(0.001, 50_000, "L"), Usual(0.001, 50_000, "kg"))
OF_MIX = (Usual(1, 50_000, "L"),)
ABOVE_TARGET = (Usual(0.1, 2.5, "m"),)
WIND = (Usual(0, 70, "km/h"),)
"""Usual ranges that several facts share: wide enough for ordinary work of a ground rig, and narrow
enough that a number in the wrong unit mostly falls out of them."""

MAX_REENTRY_H, MAX_PREHARVEST_DAYS = 8784, 1096
"""No re-entry interval is longer than a year, no pre-harvest interval longer than three (common
practice, no source): a label that seems to say so was misread."""

ANY_COUNT = 32767
"""The most that a column of small whole numbers holds."""

SYSTEMS = ("us", "metric")

US_UNITS = frozenset({"gal/ac", "qt/ac", "pt/ac", "fl oz/ac", "psi", "mph", "ac", "ft2"})
"""What tells that a setting was entered in the units of the United States."""

CLASS_NOTE = "Symbol of ASABE S572 / ISO 25358; empty: label is silent."
ACCURACY_HELP = gettext_noop(
    "Half-width, as a quantity or in %: a gauge good to within 0.2 bar is “0.2 bar”."
)


def _percent(low: str, high: int) -> Number:
    """Return the kind of an accuracy in %, between two bounds."""
    return Number(digits=4, places=1, at_least=Decimal(low), at_most=Decimal(high))


@dataclass(frozen=True, kw_only=True)
class BusinessFacts:
    """The licensed for-hire operator and its own settings for the checks."""

    id: str = fact("the business's number at the origin", kind=Computed())
    name: str
    address: str
    licence_number: str
    look_again_percent: Decimal = Decimal(5)
    disagree_percent: Decimal = Decimal(10)
    catch_test_max_days: int = 365
    phone: str = ""
    # "us" or "metric": the units of its papers; "", those in which each record was entered.
    unit_system: str = ""


@dataclass(frozen=True, kw_only=True)
class LicenceFacts:
    """One licence or certificate of a person."""

    number: str = fact(gettext_noop("number"), kind=Text(max_length=60))
    authority: str = fact(
        gettext_noop("authority"), kind=Text(max_length=200), help=gettext_noop("Who issued it.")
    )
    place: str = fact(
        gettext_noop("place"),
        kind=Text(max_length=6),
        help=gettext_noop('ISO 3166-2, such as "US-ND".'),
    )
    categories: tuple[str, ...] = fact(
        gettext_noop("categories"),
        kind=Text(max_length=300),
        help=gettext_noop("As printed on the licence, separated by commas."),
    )
    # May apply restricted-use products.
    certified: bool | None = fact(gettext_noop("certified applicator"), kind=Flag())
    valid_from: date = fact(gettext_noop("valid from"), kind=Day())
    expires_on: date = fact(gettext_noop("expires on"), kind=Day())


@dataclass(frozen=True, kw_only=True)
class TrainingFacts:
    """One training of a helper who works under supervision."""

    trained_on: date = fact(gettext_noop("trained on"), kind=Day())
    trainer: str = fact(gettext_noop("trainer"), kind=Text(max_length=150))
    content: str = fact(gettext_noop("what was taught"), kind=Text(max_length=300))
    expires_on: date | None = fact(gettext_noop("expires on"), kind=Day())


@dataclass(frozen=True, kw_only=True)
class PersonFacts:
    """A person who sprays or answers for the spraying."""

    id: str
    name: str = fact(gettext_noop("name"), kind=Text(max_length=150))
    licences: tuple[LicenceFacts, ...] = fact(
        gettext_noop("licences"), kind=Row(many=True), default=()
    )
    trainings: tuple[TrainingFacts, ...] = fact(
        gettext_noop("trainings"), kind=Row(many=True), default=()
    )


@dataclass(frozen=True, kw_only=True)
class CustomerFacts:
    """The person for whom the work is done."""

    id: str
    name: str = fact(gettext_noop("name"), kind=Text(max_length=200))
    address: str = fact(gettext_noop("address"), kind=Text(max_length=2000, lines=True))


@dataclass(frozen=True, kw_only=True)
class LocationFacts:
    """One way of saying where the field is."""

    kind: str = fact(gettext_noop("kind"), kind=Choice(LOCATION_KINDS))
    text: str = fact(gettext_noop("text"), kind=Text(max_length=2000, lines=True))


@dataclass(frozen=True, kw_only=True)
class FieldFacts:
    """The field: where it is and how large it is."""

    id: str
    name: str = fact(gettext_noop("name"), kind=Text(max_length=200))
    place: str = fact(
        gettext_noop("state or province"),
        kind=Text(max_length=6),
        help=gettext_noop('ISO 3166-2, such as "US-ND". The law of this place decides.'),
    )
    time_zone: str = fact(
        gettext_noop("time zone"),
        kind=Text(max_length=60),
        help=gettext_noop('Such as "America/Chicago".'),
        note="A name of the IANA time zone database.",
    )
    locations: tuple[LocationFacts, ...] = fact(gettext_noop("locations"), kind=Row(many=True))
    boundary: dict[str, Any] | None = fact(
        gettext_noop("boundary"),
        kind=Outline(),
        help=gettext_noop("GeoJSON Polygon or MultiPolygon; longitude first, WGS 84 (RFC 7946)."),
    )
    area_ha: float | None = fact(
        gettext_noop("area from the boundary (ha)"),
        kind=Computed(),
        note="Measured on the ellipsoid.",
    )
    planted_size: Answer = fact(
        gettext_noop("planted size"),
        kind=Amount(dimensions=("area",), words=False, above=0, usual=(Usual(0.01, 5000, "ha"),)),
    )
    elevation: Quantity | None = fact(
        gettext_noop("elevation above the sea"),
        kind=Amount(
            dimensions=("length",),
            words=False,
            at_least=ELEVATION_RANGE_M[0],
            at_most=ELEVATION_RANGE_M[1],
            units=ABOVE_SEA,
        ),
        default=None,
        help=gettext_noop(
            "Of the field, from a map; to the nearest 300 ft (100 m) is enough. Thinner air dries "
            "drops faster: Delta T is computed with it."
        ),
    )
    latitude: float | None = fact(gettext_noop("latitude"), kind=Computed())
    longitude: float | None = fact(gettext_noop("longitude"), kind=Computed())


@dataclass(frozen=True, kw_only=True)
class CropFacts:
    """What stood on the field."""

    name: str = fact(gettext_noop("crop"), kind=Text(max_length=120), column="crop")
    eppo_code: str = fact(
        gettext_noop("EPPO code"),
        kind=Text(max_length=6),
        note='Such as "GLXMA"; empty where it was not entered.',
    )
    planted_on: date | None = fact(gettext_noop("planted on"), kind=Day())
    growth_stage_bbch: int | None = fact(
        gettext_noop("growth stage (BBCH)"),
        kind=Count(at_least=0, at_most=99),
        section=Section.WHERE,
        short=gettext_noop("growth stage"),
        column="growth_stage",
        resumed=True,
        help=gettext_noop(
            "The two-digit scale of crop stages, 00 to 99. Many labels allow a product only up "
            "to a stage, and some laws ask for it."
        ),
    )


@dataclass(frozen=True, kw_only=True)
class IngredientFacts:
    """An active ingredient: content per volume or % w/w, and acid equivalent where printed."""

    name: str = fact(gettext_noop("name"), kind=Text(max_length=120))
    content: Quantity = fact(
        gettext_noop("content"),
        kind=Amount(
            dimensions=CONTENT,
            words=False,
            above=0,
            usual=(Usual(0.5, 1500, "g/L"), Usual(0.01, 100, "% w/w")),
        ),
    )
    acid_equivalent: Quantity | None = fact(
        gettext_noop("acid equivalent, as the label prints it"),
        kind=Amount(
            dimensions=CONTENT,
            words=False,
            above=0,
            usual=(Usual(0.5, 1500, "g/L"), Usual(0.01, 100, "% w/w")),
        ),
    )


@dataclass(frozen=True, kw_only=True)
class LabelFacts:
    """A dated label edition. A limit that is null: the label is silent on it."""

    id: str
    edition: str = fact(
        gettext_noop("edition"),
        kind=Text(max_length=80),
        help=gettext_noop("As printed, such as a date or a number."),
    )
    in_force_from: date = fact(gettext_noop("in force from"), kind=Day())
    in_force_to: date | None = fact(gettext_noop("in force to"), kind=Day())
    restricted_use: bool | None = fact(gettext_noop("restricted-use product"), kind=Flag())
    supervised_use_allowed: bool | None = fact(
        gettext_noop("a helper may apply it under supervision"), kind=Flag()
    )
    required_category: str = fact(
        gettext_noop("licence category asked for"), kind=Text(max_length=80)
    )
    rate_min: Quantity | None = fact(
        gettext_noop("lowest rate"), kind=Amount(dimensions=PRODUCT_RATE, words=False, above=0)
    )
    rate_max: Quantity | None = fact(
        gettext_noop("highest rate"), kind=Amount(dimensions=PRODUCT_RATE, words=False, above=0)
    )
    carrier_min: Quantity | None = fact(
        gettext_noop("least carrier"),
        kind=Amount(
            dimensions=("volume_rate",), words=False, above=0, units=CARRIER, usual=CARRIERS
        ),
    )
    carrier_max: Quantity | None = fact(
        gettext_noop("most carrier"),
        kind=Amount(
            dimensions=("volume_rate",), words=False, above=0, units=CARRIER, usual=CARRIERS
        ),
    )
    finest_class: str = fact(
        gettext_noop("finest droplet class allowed"),
        kind=Choice(DROPLET_CLASSES, blank=True),
        note=CLASS_NOTE,
    )
    coarsest_class: str = fact(
        gettext_noop("coarsest droplet class allowed"),
        kind=Choice(DROPLET_CLASSES, blank=True),
        note=CLASS_NOTE,
    )
    wind_min: Quantity | None = fact(
        gettext_noop("least wind"),
        kind=Amount(dimensions=("speed",), words=False, at_least=0, usual=(Usual(0, 20, "km/h"),)),
    )
    wind_max: Quantity | None = fact(
        gettext_noop("most wind"),
        kind=Amount(dimensions=("speed",), words=False, above=0, usual=(Usual(5, 50, "km/h"),)),
    )
    temperature_min: Quantity | None = fact(
        gettext_noop("lowest temperature"),
        kind=Amount(dimensions=("temperature",), words=False, usual=(Usual(-5, 25, "°C"),)),
    )
    temperature_max: Quantity | None = fact(
        gettext_noop("highest temperature"),
        kind=Amount(dimensions=("temperature",), words=False, usual=(Usual(15, 50, "°C"),)),
    )
    boom_height_max: Quantity | None = fact(
        gettext_noop("highest boom above the target"),
        kind=Amount(dimensions=("length",), words=False, above=0, units=SHORT, usual=ABOVE_TARGET),
    )
    minutes_after_sunrise: int | None = fact(
        gettext_noop("not before (minutes after sunrise)"), kind=Count(at_least=-240, at_most=720)
    )
    minutes_before_sunset: int | None = fact(
        gettext_noop("not after (minutes before sunset)"), kind=Count(at_least=-240, at_most=720)
    )
    inversion_forbidden: bool | None = fact(
        gettext_noop("forbids spraying in an inversion"), kind=Flag()
    )
    reentry_hours: Decimal | None = fact(
        gettext_noop("re-entry interval (hours)"),
        kind=Number(digits=6, places=1, at_least=Decimal(0), at_most=Decimal(MAX_REENTRY_H)),
    )
    preharvest_days: int | None = fact(
        gettext_noop("pre-harvest interval (days)"),
        kind=Count(at_least=0, at_most=MAX_PREHARVEST_DAYS),
    )
    season_max: Quantity | None = fact(
        gettext_noop("most in a season"), kind=Amount(dimensions=PER_AREA, words=False, above=0)
    )
    applications_max: int | None = fact(
        gettext_noop("most applications in a season"), kind=Count(at_least=1, at_most=ANY_COUNT)
    )
    interval_days: int | None = fact(
        gettext_noop("days between applications"), kind=Count(at_least=0, at_most=ANY_COUNT)
    )
    no_drift_reducer_with_air_induction: bool | None = fact(
        gettext_noop("no drift-reducing adjuvant with an air-induction nozzle"), kind=Flag()
    )
    required_adjuvants: tuple[str, ...] = fact(
        gettext_noop("required adjuvants"), kind=Values(ADJUVANT_FUNCTIONS)
    )
    forbidden_adjuvants: tuple[str, ...] = fact(
        gettext_noop("forbidden adjuvants"), kind=Values(ADJUVANT_FUNCTIONS)
    )
    ingredients: tuple[IngredientFacts, ...] = fact(
        gettext_noop("ingredients"), kind=Row(many=True)
    )
    # What the label adds to the law, in the shape of a duty set; classes are values of
    # duty.Products.
    classes: tuple[str, ...] = fact(
        gettext_noop("classes that laws name"), kind=Values(), column="duty_classes", default=()
    )
    asks: tuple[Asked, ...] = fact(
        gettext_noop("asked for by the label"), kind=Row(many=True), default=()
    )
    deadlines: tuple[Deadline, ...] = fact(
        gettext_noop("time limits of the label"), kind=Row(many=True), default=()
    )
    retention: tuple[Retention, ...] = fact(
        gettext_noop("how long the label wants the record kept"), kind=Row(many=True), default=()
    )
    worker_warning: str = fact(
        gettext_noop("warning of workers"),
        kind=Choice(WORKER_WARNINGS, blank=True),
        default="",
        help=gettext_noop(
            "Whether it tells the farm to warn workers orally and by signs, both. Blank: not "
            "looked up yet."
        ),
    )
    training: str = fact(
        gettext_noop("training asked of whoever applies it"),
        kind=Text(max_length=200),
        default="",
        help=gettext_noop("As the label names it; blank when it asks for none."),
    )


@dataclass(frozen=True, kw_only=True)
class ProductFacts:
    """One product line of the record. Rate, total and ingredient are separate facts."""

    product_id: str
    name: str = fact(gettext_noop("name"), kind=Text(max_length=200))
    registration_number: str = fact(
        gettext_noop("registration number"),
        kind=Text(max_length=60),
        note="Or authorisation number.",
    )
    registrant: str = fact(gettext_noop("company on the label"), kind=Text(max_length=200))
    kind: str = fact(gettext_noop("kind"), kind=Choice(PRODUCT_KINDS))
    adjuvant_functions: tuple[str, ...] = fact(
        gettext_noop("adjuvant functions"),
        kind=Choice(ADJUVANT_FUNCTIONS, many=True),
        help=gettext_noop("For an adjuvant: what it does."),
    )
    label: LabelFacts | None = fact(
        gettext_noop("label edition"), kind=Row(), section=Section.WHAT, short=gettext_noop("label")
    )
    planned_rate: Answer = fact(
        gettext_noop("planned rate"),
        kind=Amount(dimensions=PRODUCT_RATE, above=0, units=RATE),
        section=Section.WHAT,
        help=gettext_noop(
            "Product per area as you mean to apply it, or per volume of mix. The label’s rate "
            "is the law: never above it."
        ),
    )
    total_used: Answer = fact(
        gettext_noop("total used, undiluted"),
        kind=Amount(dimensions=("volume", "mass"), at_least=0, usual=OF_PRODUCT),
        section=Section.WHAT,
        short=gettext_noop("total used"),
        help=gettext_noop(
            "The product itself on this field, without water, as measured out; not computed."
        ),
    )
    target: str = fact(
        gettext_noop("target pest"),
        kind=Text(max_length=200),
        section=Section.WHAT,
        short=gettext_noop("target"),
    )


@dataclass(frozen=True, kw_only=True)
class ClassRow:
    """One line of the nozzle's own table: at this pressure, this droplet class."""

    pressure: Quantity = fact(
        gettext_noop("pressure"),
        kind=Amount(
            dimensions=("pressure",), words=False, above=0, usual=(Usual(50, 3000, "kPa"),)
        ),
    )
    droplet_class: str = fact(
        gettext_noop("droplet class"),
        kind=Choice(DROPLET_CLASSES),
        note="Symbol of ASABE S572 / ISO 25358.",
    )


@dataclass(frozen=True, kw_only=True)
class NozzleFacts:
    """The nozzle model as its data sheet states it."""

    name: str = fact(
        gettext_noop("name"),
        kind=Text(max_length=120),
        help=gettext_noop("How you call it, such as “AI 11004”."),
    )
    kind: str = fact(gettext_noop("kind"), kind=Choice(NOZZLE_KINDS))
    size: str = fact(
        gettext_noop("size (ISO 10625)"),
        kind=Text(max_length=4),
        note="Empty where the nozzle has none.",
    )
    angle: int | None = fact(gettext_noop("fan angle (°)"), kind=Count(at_least=10, at_most=180))
    rated_flow: Quantity = fact(
        gettext_noop("rated flow"),
        kind=Amount(dimensions=("flow",), words=False, above=0, usual=(Usual(0.05, 40, "L/min"),)),
    )
    rated_pressure: Quantity = fact(
        gettext_noop("rated pressure"),
        kind=Amount(
            dimensions=("pressure",), words=False, above=0, usual=(Usual(50, 2000, "kPa"),)
        ),
    )
    exponent: Decimal = fact(
        gettext_noop("pressure exponent"),
        kind=Number(digits=4, places=3, at_least=Decimal("0.4"), at_most=Decimal("0.6")),
        help=gettext_noop("0.5 unless the data sheet or your own tests say otherwise."),
    )
    flow_accuracy_percent: Decimal = fact(
        gettext_noop("flow of a new nozzle within (%)"), kind=_percent("0.1", 50)
    )
    pressure_min: Quantity = fact(
        gettext_noop("lowest rated pressure"),
        kind=Amount(
            dimensions=("pressure",), words=False, above=0, usual=(Usual(30, 1000, "kPa"),)
        ),
    )
    pressure_max: Quantity = fact(
        gettext_noop("highest rated pressure"),
        kind=Amount(
            dimensions=("pressure",), words=False, above=0, usual=(Usual(100, 3000, "kPa"),)
        ),
    )
    class_table: tuple[ClassRow, ...] = fact(
        gettext_noop("class table"), kind=Row(many=True), column="class_rows"
    )


@dataclass(frozen=True, kw_only=True)
class CatchTestFacts:
    """Water caught per nozzle in the stated time at the stated pressure at the nozzle."""

    tested_on: date = fact(gettext_noop("tested on"), kind=Day())
    tested_by: str = fact(gettext_noop("tested by"), kind=Text(max_length=150))
    pressure: Quantity = fact(
        gettext_noop("pressure at the nozzle"),
        kind=Amount(dimensions=("pressure",), words=False, above=0, usual=BOOM_PRESSURE),
    )
    time: Quantity = fact(
        gettext_noop("time caught"),
        kind=Amount(dimensions=("time",), words=False, above=0, usual=(Usual(5, 900, "s"),)),
    )
    volumes: tuple[Decimal, ...] = fact(
        gettext_noop("volumes"),
        kind=Values(),
        help=gettext_noop("One volume per nozzle, as read, in order."),
    )
    volume_unit: str = fact(gettext_noop("volume unit"), kind=Text(max_length=10))
    accuracy_percent: Decimal = fact(
        gettext_noop("catch and clock together within (%)"), kind=_percent("0.1", 20)
    )
    gauge: str = fact(
        gettext_noop("pressure read on"),
        kind=Choice(TEST_GAUGES, blank=True),
        default="",
        help=gettext_noop(
            "What the rig’s own gauge reads wrong cancels when the test is read on it too; only how"
            " well it repeats itself counts then."
        ),
    )
    gauge_accuracy: Quantity | None = fact(
        gettext_noop("that other gauge good to within"),
        kind=Amount(dimensions=("pressure", "fraction"), words=False, above=0),
        default=None,
        help=ACCURACY_HELP,
    )


@dataclass(frozen=True, kw_only=True)
class RigFacts:
    """The ground rig; accuracies are half-widths, absolute or in %."""

    id: str
    name: str = fact(gettext_noop("name"), kind=Text(max_length=120))
    plate: str = fact(gettext_noop("licence plate or number"), kind=Text(max_length=40))
    tank: Quantity = fact(
        gettext_noop("tank"),
        kind=Amount(
            dimensions=("volume",), words=False, above=0, units=MIX, usual=(Usual(40, 20_000, "L"),)
        ),
    )
    spacing: Quantity = fact(
        gettext_noop("nozzle spacing"),
        kind=Amount(
            dimensions=("length",),
            words=False,
            above=0,
            at_most=30,
            units=SPACING,
            usual=(Usual(0.15, 1.6, "m"),),
        ),
    )
    nozzle_count: int = fact(
        gettext_noop("nozzle count"), kind=Count(at_least=1, at_most=ANY_COUNT)
    )
    gauge_accuracy: Quantity = fact(
        gettext_noop("pressure gauge good to within"),
        kind=Amount(
            dimensions=("pressure", "fraction"),
            words=False,
            above=0,
            usual=(Usual(1, 100, "kPa"), Usual(0.1, 25, "%")),
        ),
        help=ACCURACY_HELP,
    )
    speed_accuracy: Quantity = fact(
        gettext_noop("ground speed good to within"),
        kind=Amount(
            dimensions=("speed", "fraction"),
            words=False,
            above=0,
            usual=(Usual(0.01, 3, "km/h"), Usual(0.1, 25, "%")),
        ),
        help=ACCURACY_HELP,
    )
    spacing_accuracy_percent: Decimal = fact(
        gettext_noop("nozzle spacing within (%)"), kind=_percent("0", 20)
    )
    tank_accuracy_percent: Decimal = fact(
        gettext_noop("tank marks within (%)"), kind=_percent("0", 50)
    )
    line_loss: Answer = fact(
        gettext_noop("pressure lost between gauge and nozzle"),
        kind=Amount(dimensions=("pressure",), at_least=0, usual=(Usual(0, 300, "kPa"),)),
        section=Section.WITH,
        short=gettext_noop("line loss"),
        path="rig.line_loss",
    )
    line_loss_flow: Answer = fact(
        gettext_noop("boom flow at which the pressure loss was measured"),
        kind=Amount(dimensions=("flow",), above=0, usual=(Usual(0.5, 2000, "L/min"),)),
        section=Section.WITH,
        path="rig.line_loss_flow",
    )
    gauge_repeatability: Quantity | None = fact(
        gettext_noop("pressure gauge repeats itself within"),
        kind=Amount(dimensions=("pressure", "fraction"), words=False, above=0),
        default=None,
        help=gettext_noop(
            "Half-width, as a quantity or in %: how far two readings of one pressure lie apart. "
            "Blank: not known."
        ),
    )

    @property
    def swath_m(self) -> float:
        """The sprayed width of the whole boom in a broadcast job. [m]"""
        return self.nozzle_count * self.spacing.to("m")


@dataclass(frozen=True, kw_only=True)
class LoadPartFacts:
    """An amount of one product put in one load."""

    product_id: str
    amount: Quantity = fact(
        gettext_noop("amount"),
        kind=Amount(dimensions=("volume", "mass"), words=False, above=0, usual=OF_PRODUCT),
    )


@dataclass(frozen=True, kw_only=True)
class LoadFacts:
    """A tank fill, and what of it went on this field."""

    mixed_volume: Quantity = fact(
        gettext_noop("volume mixed"),
        kind=Amount(dimensions=("volume",), words=False, above=0, units=MIX, usual=OF_MIX),
        section=Section.LOADS,
        short=gettext_noop("mixed"),
        help=gettext_noop(
            "Water and product together in the tank after filling (gal, L), read on level "
            "ground at the tank’s own scale or a meter."
        ),
    )
    used_here: Answer = fact(
        gettext_noop("volume used here"),
        kind=Amount(dimensions=("volume",), at_least=0, units=MIX, usual=OF_MIX),
        section=Section.LOADS,
        short=gettext_noop("used here"),
        column="used",
        path="used_here",
        help=gettext_noop(
            "What of this load went on this field (gal, L), read before and after. What is left"
            " over is sprayed only where a label allows it."
        ),
    )
    order: int = fact(
        gettext_noop("this field's place in the order"),
        kind=Count(at_least=1, at_most=1000),
        section=Section.LOADS,
        short=gettext_noop("order of fields"),
        help=gettext_noop("Left blank: the next free place."),
    )
    parts: tuple[LoadPartFacts, ...] = fact(gettext_noop("parts"), kind=Row(many=True))
    shared: bool = fact(gettext_noop("served other fields too"), kind=Computed())
    places_elsewhere: tuple[int, ...] = fact(
        gettext_noop("the places in that order that other fields hold"), kind=Computed(), default=()
    )


@dataclass(frozen=True, kw_only=True)
class WeatherFacts:
    """One weather reading. Wind is the direction it comes from, degrees from true north."""

    read_at: datetime = fact(
        gettext_noop("read at"), kind=Instant(), section=Section.WEATHER, short=gettext_noop("time")
    )
    wind_from: Answer = fact(
        gettext_noop("wind from"),
        kind=Amount(dimensions=("angle",), at_least=0, at_most=360),
        section=Section.WEATHER,
        help=gettext_noop(
            "The direction it blows from, degrees from true north: 270 is a west wind. Look "
            "what lies downwind."
        ),
    )
    wind_speed: Answer = fact(
        gettext_noop("wind speed"),
        kind=Amount(dimensions=("speed",), at_least=0, at_most=200, usual=WIND),
        section=Section.WEATHER,
        short=gettext_noop("wind"),
        help=gettext_noop(
            "Measured at the field at the height you give (mph, km/h, m/s, knots). The label’s "
            "limits hold, at both ends; calm is not safe."
        ),
    )
    gust: Answer = fact(
        gettext_noop("gust"),
        kind=Amount(dimensions=("speed",), at_least=0, at_most=200, usual=(Usual(0, 100, "km/h"),)),
        section=Section.WEATHER,
        help=gettext_noop(
            "The strongest wind while you measured, in the same place (mph, km/h, m/s, knots). "
            "Drift follows the gust: where it passes the label’s limit, stop."
        ),
    )
    temperature: Answer = fact(
        gettext_noop("air temperature"),
        kind=Amount(
            dimensions=("temperature",), at_least=-50, at_most=60, usual=(Usual(-2, 45, "°C"),)
        ),
        section=Section.WEATHER,
        short=gettext_noop("air"),
        help=gettext_noop(
            "Air in the shade at the field (°F, °C); sun or a warm engine makes it read too "
            "high. Where the label names a temperature, stop at it."
        ),
    )
    humidity: Answer = fact(
        gettext_noop("relative humidity"),
        kind=Amount(dimensions=("fraction",), at_least=0, at_most=100, usual=(Usual(5, 100, "%"),)),
        section=Section.WEATHER,
        short=gettext_noop("humidity"),
        help=gettext_noop(
            "Of the air, in %, read together with the temperature. In dry air drops shrink on "
            "their way and drift farther."
        ),
    )
    cloud: Answer = fact(
        gettext_noop("sky covered"),
        kind=Amount(dimensions=("fraction",), at_least=0, at_most=100),
        section=Section.WEATHER,
        short=gettext_noop("cloud"),
        help=gettext_noop(
            "Share of the sky that clouds cover, by eye, in %. A clear sky in the evening or at"
            " dawn goes with inversions."
        ),
    )
    height: Answer = fact(
        gettext_noop("height of the reading"),
        kind=Amount(
            dimensions=("length",),
            above=0,
            at_most=100,
            units=ABOVE_GROUND,
            usual=(Usual(0.3, 12, "m"),),
        ),
        section=Section.WEATHER,
        short=gettext_noop("at height"),
        help=gettext_noop(
            "Of the instrument above the ground (ft, m). Wind is slower near the ground; "
            "measure at the height that the label names, if it names one."
        ),
    )
    signs: tuple[str, ...] | None = fact(
        gettext_noop("signs of an inversion seen"),
        kind=Choice(SIGNS, many=True, none=NONE_SEEN),
        section=Section.WEATHER,
        default=None,
        short=gettext_noop("signs"),
        note="An empty list: none seen; null: not said.",
        help=gettext_noop(
            "Cool air under warm: smoke or dust hanging in a layer, dew, fog, a clear calm "
            "evening or dawn. Fine drops stay up and travel far. Where the label forbids it, "
            "stop."
        ),
    )


@dataclass(frozen=True, kw_only=True)
class EarlierUse:
    """Another sealed application of one of the products to the same field, within a year.

    Any that is sealed when the facts are gathered counts, whichever was sprayed first: a season is
    counted whole.
    """

    product_id: str
    applied_on: date  # local day on which it began; sealed before: on which it ended
    rate: Quantity | None  # product per area, as used
    record_number: int
    same_job: bool = False  # this job, broken off and resumed
    treated_area: Answer = None
    basis: str = "planned"  # of the rate, `used.Basis`; what was sealed before counted the plan

    @property
    def none(self) -> bool:
        """Whether a total says that nothing of the product was used."""
        return self.basis == "total" and self.rate is not None and not self.rate.value


@dataclass(frozen=True, kw_only=True)
class RecordFacts:
    """What was done, as entered."""

    id: str = fact("the id of the record at the origin", kind=Computed())
    started_at: datetime | None = fact(
        gettext_noop("start of the spraying"),
        kind=Instant(),
        section=Section.WHEN,
        short=gettext_noop("started"),
    )
    finished_at: datetime | None = fact(
        gettext_noop("end of the spraying"),
        kind=Instant(),
        section=Section.WHEN,
        short=gettext_noop("finished"),
    )
    purpose: str = fact(
        gettext_noop("purpose"),
        kind=Text(max_length=200),
        section=Section.WHAT,
        prefill=Prefill.SAME_JOB,
        resumed=True,
    )
    pressure: Answer = fact(
        gettext_noop("pressure at the gauge"),
        kind=Amount(dimensions=("pressure",), above=0, usual=BOOM_PRESSURE),
        section=Section.WITH,
        short=gettext_noop("gauge pressure"),
        help=gettext_noop(
            "As read while spraying (psi, bar). What the rig loses on the way to the nozzle is "
            "taken off by the rig’s line loss. Twice the flow needs four times the pressure."
        ),
    )
    speed: Answer = fact(
        gettext_noop("ground speed"),
        kind=Amount(
            dimensions=("speed",), above=0, at_most=60, units=DRIVEN, usual=(Usual(2, 34, "km/h"),)
        ),
        section=Section.WITH,
        help=gettext_noop(
            "While spraying, measured over ground (mph, km/h). At the same pressure, twice the "
            "speed lays down half the rate."
        ),
    )
    boom_height: Answer = fact(
        gettext_noop("boom height above the target"),
        kind=Amount(dimensions=("length",), above=0, at_most=10, units=SHORT, usual=ABOVE_TARGET),
        section=Section.WITH,
        short=gettext_noop("boom height"),
        prefill=Prefill.SAME_RIG,
        resumed=True,
        help=gettext_noop(
            "From nozzle tip to crop or weed top (in, cm), not to the soil under a crop. Too "
            "high drifts, too low stripes."
        ),
    )
    duty: Answer = fact(
        gettext_noop("pulse-width duty"),
        kind=Amount(dimensions=("fraction",), above=0, at_most=100, usual=(Usual(10, 100, "%"),)),
        section=Section.WITH,
        prefill=Prefill.SAME_RIG,
        resumed=True,
        folded=True,
        help=gettext_noop(
            "Share of the time a pulsing valve is open, in %; without one, not applicable. Left "
            "blank, 100 % is taken."
        ),
    )
    density: Answer = fact(
        gettext_noop("density of the spray mix"),
        kind=Amount(
            dimensions=("mass_per_volume",),
            at_least=1000 * SPECIFIC_GRAVITY_RANGE[0],
            at_most=1000 * SPECIFIC_GRAVITY_RANGE[1],
            units=DENSITY,
            usual=(Usual(780, 1500, "g/L"),),
        ),
        section=Section.WITH,
        short=gettext_noop("mix density"),
        prefill=Prefill.SAME_RIG,
        resumed=True,
        folded=True,
        help=gettext_noop(
            "Water is 8.34 lb/gal (1 kg/L): not applicable. Liquid fertilizer is heavier, and a"
            " nozzle then lets less through. Left blank, water is taken."
        ),
    )
    pattern: str = fact(
        gettext_noop("pattern"),
        kind=Choice(PATTERNS),
        section=Section.WITH,
        prefill=Prefill.SAME_RIG,
        has_start_value=True,
        resumed=True,
        folded=True,
    )
    band_width: Answer = fact(
        gettext_noop("band width"),
        kind=Amount(dimensions=("length",), above=0, units=SPACING, usual=(Usual(0.05, 1.5, "m"),)),
        section=Section.WITH,
        prefill=Prefill.SAME_RIG,
        resumed=True,
        banded=True,
        folded=True,
        help=gettext_noop(
            "Width of the sprayed strip at the target (in, cm), measured over the row. Read "
            "whether the label’s rate is per acre of band or of field."
        ),
    )
    row_spacing: Answer = fact(
        gettext_noop("row spacing"),
        kind=Amount(dimensions=("length",), above=0, units=SPACING, usual=(Usual(0.1, 6, "m"),)),
        section=Section.WITH,
        prefill=Prefill.SAME_RIG,
        resumed=True,
        banded=True,
        folded=True,
        help=gettext_noop(
            "From the middle of one row to the middle of the next (in, cm). With the band width"
            " it says what share of the field is sprayed."
        ),
    )
    nozzles_per_row: int | None = fact(
        gettext_noop("nozzles per row"),
        kind=Count(at_least=1, at_most=20),
        section=Section.WITH,
        prefill=Prefill.SAME_RIG,
        resumed=True,
        banded=True,
        folded=True,
        help=gettext_noop(
            "How many nozzles spray one row together; their flows are added up. One that drips "
            "or is blocked falsifies the rate of its row."
        ),
    )
    planned_carrier: Answer = fact(
        gettext_noop("planned carrier"),
        kind=Amount(dimensions=("volume_rate",), above=0, units=CARRIER, usual=CARRIERS),
        section=Section.AMOUNTS,
        prefill=Prefill.SAME_JOB,
        resumed=True,
        help=gettext_noop(
            "The whole mix per area as planned (gal/ac, L/ha), water and product together."
        ),
    )
    treated_area: Answer = fact(
        gettext_noop("treated area"),
        kind=Amount(dimensions=("area",), above=0, usual=(Usual(0.01, 800, "ha"),)),
        section=Section.AMOUNTS,
        help=gettext_noop(
            "What was sprayed in this job, from a counter or map; not the size of the field."
        ),
    )
    mix_used: Answer = fact(
        gettext_noop("spray mix used on this field"),
        kind=Amount(dimensions=("volume",), at_least=0, units=MIX, usual=OF_MIX),
        section=Section.AMOUNTS,
        short=gettext_noop("mix used here"),
        help=gettext_noop(
            "As measured at the tank. With the treated area it shows what was truly laid down."
        ),
    )
    distance: Answer = fact(
        gettext_noop("distance driven with the boom on"),
        kind=Amount(dimensions=("length",), above=0, units=ALONG, usual=(Usual(0.05, 500, "km"),)),
        section=Section.AMOUNTS,
        short=gettext_noop("sprayed over"),
        help=gettext_noop(
            "Driven with the boom on (mi, km), from the rig’s counter or a map; turns with the "
            "boom off are left out. Times the swath it must come to the treated area."
        ),
    )
    note: str = fact(
        gettext_noop("note"),
        kind=Text(max_length=10_000, lines=True),
        section=Section.NOTES,
    )
    # Element name of the law -> the text as entered; "none", "not applicable" and "not measured:
    # why" are answers there as in any other entry, a name that is absent is blank.
    statements: dict[str, str] = fact(
        gettext_noop("statements"),
        kind=Statements(),
        section=Section.ASKED,
        resumed=True,
        default_factory=dict,
    )


@dataclass(frozen=True, kw_only=True)
class PictureFacts:
    """A picture put to the record as evidence; its bytes are stored beside the record."""

    id: str = fact(gettext_noop("the picture's id"), kind=Computed())
    shows: str = fact(gettext_noop("what it shows"), kind=Choice(PICTURED))
    caption: str = fact(
        gettext_noop("in words"),
        kind=Text(max_length=200),
        help=gettext_noop("Such as which tank, which gauge, which corner of the field."),
    )
    sha256: str = fact(gettext_noop("SHA-256 of the stored picture"), kind=Computed())
    # As the camera says, where the person wants it kept.
    taken: str = fact(gettext_noop("taken, by the camera's clock"), kind=Text(max_length=30))
    place: str = fact(gettext_noop("taken at (latitude, longitude)"), kind=Text(max_length=30))

    @property
    def title(self) -> str:
        """What it shows, and what was written of it."""
        shown = term(PICTURED.get(self.shows, self.shows))
        return joined(": ", (shown, self.caption)) if self.caption else shown


@dataclass(frozen=True, kw_only=True)
class AmendmentFacts:
    """Which sealed record this one corrects, what it changes, and why."""

    number: int
    seal_sha256: str
    reason: str
    changes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ContinuedFacts:
    """The record of the same job, broken off before; each record has its own area."""

    id: str
    number: int | None = fact(
        gettext_noop("number"), kind=Computed(), note="Of its seal; null while it is a draft."
    )
    day: date | None = fact(
        gettext_noop("day"), kind=Computed(), note="On which it began, at the field."
    )


@dataclass(frozen=True, kw_only=True)
class Snapshot:
    """Everything that a check may look at, and all that is sealed; null is blank, not yet said."""

    business: BusinessFacts
    record: RecordFacts
    customer: CustomerFacts | None = fact(
        gettext_noop("customer"),
        kind=Row(),
        section=Section.WHERE,
        resumed=True,
    )
    field: FieldFacts | None = fact(
        gettext_noop("field"),
        kind=Row(),
        section=Section.WHERE,
        prefill=Prefill.SAME_JOB,
        resumed=True,
    )
    crop: CropFacts | None = fact(
        gettext_noop("crop"),
        kind=Row(),
        section=Section.WHERE,
        column="planting",
        path="crop",
        prefill=Prefill.SAME_FIELD,
        resumed=True,
    )
    applicator: PersonFacts | None = fact(
        gettext_noop("applicator"),
        kind=Row(),
        section=Section.WHEN,
        short=gettext_noop("sprayed by"),
        prefill=Prefill.SAME_RIG,
        resumed=True,
    )
    supervisor: PersonFacts | None = fact(
        gettext_noop("supervisor"),
        kind=Row(),
        section=Section.WHEN,
        short=gettext_noop("supervised by"),
        prefill=Prefill.SAME_RIG,
        resumed=True,
    )
    rig: RigFacts | None = fact(
        gettext_noop("rig"),
        kind=Row(),
        section=Section.WITH,
        resumed=True,
    )
    nozzle: NozzleFacts | None = fact(
        gettext_noop("nozzles"),
        kind=Row(),
        section=Section.WITH,
        short=gettext_noop("nozzle"),
        column="nozzle_set",
        path="nozzle",
        prefill=Prefill.SAME_RIG,
        resumed=True,
    )
    nozzle_mounted_on: date | None = fact(gettext_noop("nozzle mounted on"), kind=Day())
    catch_test: CatchTestFacts | None = fact(
        gettext_noop("catch test"),
        kind=Row(found=True),
        section=Section.WITH,
    )
    products: tuple[ProductFacts, ...] = fact(
        gettext_noop("products"),
        kind=Row(many=True),
        section=Section.WHAT,
        default=(),
        prefill=Prefill.SAME_JOB,
        resumed=True,
    )
    loads: tuple[LoadFacts, ...] = fact(
        gettext_noop("loads"),
        kind=Row(many=True),
        section=Section.LOADS,
        default=(),
    )
    weather: tuple[WeatherFacts, ...] = fact(
        gettext_noop("weather readings"),
        kind=Row(many=True),
        section=Section.WEATHER,
        default=(),
        short=gettext_noop("readings"),
    )
    earlier: tuple[EarlierUse, ...] = ()
    amends: AmendmentFacts | None = None
    crew: tuple[PersonFacts, ...] = fact(
        gettext_noop("also sprayed by"),
        kind=Row(many=True),
        section=Section.WHEN,
        default=(),
        prefill=Prefill.SAME_RIG,
        resumed=True,
        folded=True,
    )
    continues: ContinuedFacts | None = fact(
        gettext_noop("resumes the job of"),
        kind=Row(),
        section=Section.WHEN,
        default=None,
        folded=True,
    )
    nozzle_removed_on: date | None = fact(
        gettext_noop("nozzle removed on"), kind=Day(), default=None
    )
    pictures: tuple[PictureFacts, ...] = fact(
        gettext_noop("pictures"), kind=Row(many=True), default=()
    )

    @property
    def zone(self) -> ZoneInfo:
        """The time zone at the field; UTC while no field is chosen."""
        return ZoneInfo(self.field.time_zone if self.field else "UTC")

    @property
    def system(self) -> str:
        """The system of units, "us" or "metric": the business's, else that of the entries."""
        if self.business.unit_system in SYSTEMS:
            return self.business.unit_system
        r = self.record
        answers = (r.planned_carrier, r.pressure, r.speed, r.treated_area)
        first = next((one for one in answers if isinstance(one, Quantity)), None)
        if first is None:
            return "us" if self.field and self.field.place.startswith("US") else "metric"
        return "us" if first.unit in US_UNITS else "metric"

    @property
    def days(self) -> tuple[date, ...]:
        """The first and the last local day of the work: `days_of_work`."""
        return days_of_work(self.record.started_at, self.record.finished_at, self.zone)

    def local_day(self) -> date | None:
        """Return the day of the work, on which it began, local at the field; None if not known."""
        return next(iter(self.days), None)
