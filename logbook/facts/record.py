"""The frozen facts of one application record, as every check, seal and paper sees them.

`records.snapshot` builds them from the rows; nothing here can reach the database, so a check
cannot see more than what is sealed. Times are aware UTC datetimes with the field's zone beside
them. `Answer` is a quantity as entered, a word (none, not applicable, not measured) or blank.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from calc.flow import SPECIFIC_GRAVITY_RANGE
from logbook.facts.choices import (
    ADJUVANT_FUNCTIONS,
    DROPLET_CLASSES,
    LOCATION_KINDS,
    NOZZLE_KINDS,
    PATTERNS,
    PRODUCT_KINDS,
    SIGNS,
    WORKER_WARNINGS,
)
from logbook.facts.duty import Asked, Deadline, Retention
from logbook.facts.messages import marked
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
    Values,
    fact,
)
from logbook.facts.units import (
    ABOVE_GROUND,
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

MOST_REENTRY_H, MOST_PREHARVEST_DAYS = 8784, 1096
"""No re-entry interval is longer than a year, no pre-harvest interval longer than three (common
practice, no source): a label that seems to say so was misread."""

ANY_COUNT = 32767
"""The most that a column of small whole numbers holds."""

US_UNITS = frozenset({"gal/ac", "qt/ac", "pt/ac", "fl oz/ac", "psi", "mph", "ac", "ft2"})
"""What tells that a setting was entered in the units of the United States."""

CLASS_NOTE = "Symbol of ASABE S572 / ISO 25358; empty: label is silent."
ACCURACY_HELP = marked(
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


@dataclass(frozen=True, kw_only=True)
class LicenceFacts:
    """One licence or certificate of a person."""

    number: str = fact(marked("number"), kind=Text(max_length=60))
    authority: str = fact(
        marked("authority"), kind=Text(max_length=200), help=marked("Who issued it.")
    )
    place: str = fact(
        marked("place"), kind=Text(max_length=6), help=marked('ISO 3166-2, such as "US-ND".')
    )
    categories: tuple[str, ...] = fact(
        marked("categories"),
        kind=Text(max_length=300),
        help=marked("As printed on the licence, separated by commas."),
    )
    # May apply restricted-use products.
    certified: bool = fact(marked("certified applicator"), kind=Flag())
    valid_from: date = fact(marked("valid from"), kind=Day())
    expires_on: date = fact(marked("expires on"), kind=Day())


@dataclass(frozen=True, kw_only=True)
class TrainingFacts:
    """One training of a helper who works under supervision."""

    trained_on: date = fact(marked("trained on"), kind=Day())
    trainer: str = fact(marked("trainer"), kind=Text(max_length=150))
    content: str = fact(marked("what was taught"), kind=Text(max_length=300))
    expires_on: date | None = fact(marked("expires on"), kind=Day())


@dataclass(frozen=True, kw_only=True)
class PersonFacts:
    """A person who sprays or answers for the spraying."""

    id: str
    name: str = fact(marked("name"), kind=Text(max_length=150))
    licences: tuple[LicenceFacts, ...] = fact(marked("licences"), kind=Row(many=True), default=())
    trainings: tuple[TrainingFacts, ...] = fact(
        marked("trainings"), kind=Row(many=True), default=()
    )


@dataclass(frozen=True, kw_only=True)
class CustomerFacts:
    """The person for whom the work is done."""

    id: str
    name: str = fact(marked("name"), kind=Text(max_length=200))
    address: str = fact(marked("address"), kind=Text(max_length=2000, lines=True))


@dataclass(frozen=True, kw_only=True)
class LocationFacts:
    """One way of saying where the field is."""

    kind: str = fact(marked("kind"), kind=Choice(LOCATION_KINDS))
    text: str = fact(marked("text"), kind=Text(max_length=2000, lines=True))


@dataclass(frozen=True, kw_only=True)
class FieldFacts:
    """The field: where it is and how large it is."""

    id: str
    name: str = fact(marked("name"), kind=Text(max_length=200))
    place: str = fact(
        marked("state or province"),
        kind=Text(max_length=6),
        help=marked('ISO 3166-2, such as "US-ND". The law of this place decides.'),
    )
    time_zone: str = fact(
        marked("time zone"),
        kind=Text(max_length=60),
        help=marked('Such as "America/Chicago".'),
        note="A name of the IANA time zone database.",
    )
    locations: tuple[LocationFacts, ...] = fact(marked("locations"), kind=Row(many=True))
    boundary: dict[str, Any] | None = fact(
        marked("boundary"),
        kind=Outline(),
        help=marked("GeoJSON Polygon or MultiPolygon; longitude first, WGS 84 (RFC 7946)."),
    )
    area_ha: float | None = fact(
        marked("area from the boundary (ha)"),
        kind=Computed(),
        note="Measured on the ellipsoid.",
    )
    planted_size: Answer = fact(
        marked("planted size"), kind=Amount(dimensions=("area",), words=False, above=0)
    )
    latitude: float | None = fact(marked("latitude"), kind=Computed())
    longitude: float | None = fact(marked("longitude"), kind=Computed())


@dataclass(frozen=True, kw_only=True)
class CropFacts:
    """What stood on the field."""

    name: str = fact(marked("crop"), kind=Text(max_length=120), column="crop")
    eppo_code: str = fact(
        marked("EPPO code"),
        kind=Text(max_length=6),
        note='Such as "GLXMA"; empty where it was not entered.',
    )
    planted_on: date | None = fact(marked("planted on"), kind=Day())
    growth_stage_bbch: int | None = fact(
        marked("growth stage (BBCH)"),
        kind=Count(at_least=0, at_most=99),
        section=Section.WHERE,
        short=marked("growth stage"),
        column="growth_stage",
        resumed=True,
        help=marked(
            "The two-digit scale of crop stages, 00 to 99. Many labels allow a product only up "
            "to a stage, and some laws ask for it."
        ),
    )


@dataclass(frozen=True, kw_only=True)
class IngredientFacts:
    """An active ingredient: content per volume or % w/w, and acid equivalent where printed."""

    name: str = fact(marked("name"), kind=Text(max_length=120))
    content: Quantity = fact(
        marked("content"), kind=Amount(dimensions=CONTENT, words=False, above=0)
    )
    acid_equivalent: Quantity | None = fact(
        marked("acid equivalent, as the label prints it"),
        kind=Amount(dimensions=CONTENT, words=False, above=0),
    )


@dataclass(frozen=True, kw_only=True)
class LabelFacts:
    """A dated label edition. A limit that is null: the label is silent on it."""

    id: str
    edition: str = fact(
        marked("edition"),
        kind=Text(max_length=80),
        help=marked("As printed, such as a date or a number."),
    )
    in_force_from: date = fact(marked("in force from"), kind=Day())
    in_force_to: date | None = fact(marked("in force to"), kind=Day())
    restricted_use: bool = fact(marked("restricted-use product"), kind=Flag())
    supervised_use_allowed: bool = fact(
        marked("a helper may apply it under supervision"), kind=Flag()
    )
    required_category: str = fact(marked("licence category asked for"), kind=Text(max_length=80))
    rate_min: Quantity | None = fact(
        marked("lowest rate"), kind=Amount(dimensions=PRODUCT_RATE, words=False, above=0)
    )
    rate_max: Quantity | None = fact(
        marked("highest rate"), kind=Amount(dimensions=PRODUCT_RATE, words=False, above=0)
    )
    carrier_min: Quantity | None = fact(
        marked("least carrier"),
        kind=Amount(dimensions=("volume_rate",), words=False, above=0, units=CARRIER),
    )
    carrier_max: Quantity | None = fact(
        marked("most carrier"),
        kind=Amount(dimensions=("volume_rate",), words=False, above=0, units=CARRIER),
    )
    finest_class: str = fact(
        marked("finest droplet class allowed"),
        kind=Choice(DROPLET_CLASSES, blank=True),
        note=CLASS_NOTE,
    )
    coarsest_class: str = fact(
        marked("coarsest droplet class allowed"),
        kind=Choice(DROPLET_CLASSES, blank=True),
        note=CLASS_NOTE,
    )
    wind_min: Quantity | None = fact(
        marked("least wind"), kind=Amount(dimensions=("speed",), words=False, at_least=0)
    )
    wind_max: Quantity | None = fact(
        marked("most wind"), kind=Amount(dimensions=("speed",), words=False, above=0)
    )
    temperature_min: Quantity | None = fact(
        marked("lowest temperature"), kind=Amount(dimensions=("temperature",), words=False)
    )
    temperature_max: Quantity | None = fact(
        marked("highest temperature"), kind=Amount(dimensions=("temperature",), words=False)
    )
    boom_height_max: Quantity | None = fact(
        marked("highest boom above the target"),
        kind=Amount(dimensions=("length",), words=False, above=0, units=SHORT),
    )
    minutes_after_sunrise: int | None = fact(
        marked("not before (minutes after sunrise)"), kind=Count(at_least=-240, at_most=720)
    )
    minutes_before_sunset: int | None = fact(
        marked("not after (minutes before sunset)"), kind=Count(at_least=-240, at_most=720)
    )
    inversion_forbidden: bool = fact(marked("forbids spraying in an inversion"), kind=Flag())
    reentry_hours: Decimal | None = fact(
        marked("re-entry interval (hours)"),
        kind=Number(digits=6, places=1, at_least=Decimal(0), at_most=Decimal(MOST_REENTRY_H)),
    )
    preharvest_days: int | None = fact(
        marked("pre-harvest interval (days)"),
        kind=Count(at_least=0, at_most=MOST_PREHARVEST_DAYS),
    )
    season_max: Quantity | None = fact(
        marked("most in a season"), kind=Amount(dimensions=PER_AREA, words=False, above=0)
    )
    applications_max: int | None = fact(
        marked("most applications in a season"), kind=Count(at_least=1, at_most=ANY_COUNT)
    )
    interval_days: int | None = fact(
        marked("days between applications"), kind=Count(at_least=0, at_most=ANY_COUNT)
    )
    no_drift_reducer_with_air_induction: bool = fact(
        marked("no drift-reducing adjuvant with an air-induction nozzle"), kind=Flag()
    )
    required_adjuvants: tuple[str, ...] = fact(
        marked("required adjuvants"), kind=Values(ADJUVANT_FUNCTIONS)
    )
    forbidden_adjuvants: tuple[str, ...] = fact(
        marked("forbidden adjuvants"), kind=Values(ADJUVANT_FUNCTIONS)
    )
    ingredients: tuple[IngredientFacts, ...] = fact(marked("ingredients"), kind=Row(many=True))
    # What the label adds to the law, in the shape of a duty set; classes are values of
    # duty.Products.
    classes: tuple[str, ...] = fact(
        marked("classes that laws name"), kind=Values(), column="duty_classes", default=()
    )
    asks: tuple[Asked, ...] = fact(
        marked("asked for by the label"), kind=Row(many=True), default=()
    )
    deadlines: tuple[Deadline, ...] = fact(
        marked("time limits of the label"), kind=Row(many=True), default=()
    )
    retention: tuple[Retention, ...] = fact(
        marked("how long the label wants the record kept"), kind=Row(many=True), default=()
    )
    worker_warning: str = fact(
        marked("warning of workers"),
        kind=Choice(WORKER_WARNINGS, blank=True),
        default="",
        help=marked(
            "Whether it tells the farm to warn workers orally and by signs, both. Blank: not "
            "looked up yet."
        ),
    )
    training: str = fact(
        marked("training asked of whoever applies it"),
        kind=Text(max_length=200),
        default="",
        help=marked("As the label names it; blank when it asks for none."),
    )


@dataclass(frozen=True, kw_only=True)
class ProductFacts:
    """One product line of the record. Rate, total and ingredient are separate facts."""

    product_id: str
    name: str = fact(marked("name"), kind=Text(max_length=200))
    registration_number: str = fact(
        marked("registration number"),
        kind=Text(max_length=60),
        note="Or authorisation number.",
    )
    registrant: str = fact(marked("company on the label"), kind=Text(max_length=200))
    kind: str = fact(marked("kind"), kind=Choice(PRODUCT_KINDS))
    adjuvant_functions: tuple[str, ...] = fact(
        marked("adjuvant functions"),
        kind=Choice(ADJUVANT_FUNCTIONS, many=True),
        help=marked("For an adjuvant: what it does."),
    )
    label: LabelFacts | None = fact(
        marked("label edition"), kind=Row(), section=Section.WHAT, short=marked("label")
    )
    planned_rate: Answer = fact(
        marked("planned rate"),
        kind=Amount(dimensions=PRODUCT_RATE, above=0, units=RATE),
        section=Section.WHAT,
        help=marked(
            "Product per area as you mean to apply it, or per volume of mix. The label’s rate "
            "is the law: never above it."
        ),
    )
    total_used: Answer = fact(
        marked("total used, undiluted"),
        kind=Amount(dimensions=("volume", "mass"), at_least=0),
        section=Section.WHAT,
        short=marked("total used"),
        help=marked(
            "The product itself on this field, without water, as measured out; not computed."
        ),
    )
    target: str = fact(
        marked("target pest"),
        kind=Text(max_length=200),
        section=Section.WHAT,
        short=marked("target"),
    )


@dataclass(frozen=True, kw_only=True)
class ClassRow:
    """One line of the nozzle's own table: at this pressure, this droplet class."""

    pressure: Quantity = fact(
        marked("pressure"), kind=Amount(dimensions=("pressure",), words=False, above=0)
    )
    droplet_class: str = fact(
        marked("droplet class"),
        kind=Choice(DROPLET_CLASSES),
        note="Symbol of ASABE S572 / ISO 25358.",
    )


@dataclass(frozen=True, kw_only=True)
class NozzleFacts:
    """The nozzle model as its data sheet states it."""

    name: str = fact(
        marked("name"),
        kind=Text(max_length=120),
        help=marked("How you call it, such as “AI 11004”."),
    )
    kind: str = fact(marked("kind"), kind=Choice(NOZZLE_KINDS))
    size: str = fact(
        marked("size (ISO 10625)"),
        kind=Text(max_length=4),
        note="Empty where the nozzle has none.",
    )
    angle: int | None = fact(marked("fan angle (°)"), kind=Count(at_least=10, at_most=180))
    rated_flow: Quantity = fact(
        marked("rated flow"), kind=Amount(dimensions=("flow",), words=False, above=0)
    )
    rated_pressure: Quantity = fact(
        marked("rated pressure"), kind=Amount(dimensions=("pressure",), words=False, above=0)
    )
    exponent: Decimal = fact(
        marked("pressure exponent"),
        kind=Number(digits=4, places=3, at_least=Decimal("0.4"), at_most=Decimal("0.6")),
        help=marked("0.5 unless the data sheet or your own tests say otherwise."),
    )
    flow_accuracy_percent: Decimal = fact(
        marked("flow of a new nozzle within (%)"), kind=_percent("0.1", 50)
    )
    pressure_min: Quantity = fact(
        marked("lowest rated pressure"), kind=Amount(dimensions=("pressure",), words=False, above=0)
    )
    pressure_max: Quantity = fact(
        marked("highest rated pressure"),
        kind=Amount(dimensions=("pressure",), words=False, above=0),
    )
    class_table: tuple[ClassRow, ...] = fact(
        marked("class table"), kind=Row(many=True), column="class_rows"
    )


@dataclass(frozen=True, kw_only=True)
class CatchTestFacts:
    """Water caught per nozzle in the stated time at the stated pressure at the nozzle."""

    tested_on: date = fact(marked("tested on"), kind=Day())
    tested_by: str = fact(marked("tested by"), kind=Text(max_length=150))
    pressure: Quantity = fact(
        marked("pressure at the nozzle"),
        kind=Amount(dimensions=("pressure",), words=False, above=0),
    )
    time: Quantity = fact(
        marked("time caught"), kind=Amount(dimensions=("time",), words=False, above=0)
    )
    volumes: tuple[Decimal, ...] = fact(
        marked("volumes"), kind=Values(), help=marked("One volume per nozzle, as read, in order.")
    )
    volume_unit: str = fact(marked("volume unit"), kind=Text(max_length=10))
    accuracy_percent: Decimal = fact(
        marked("catch and clock together within (%)"), kind=_percent("0.1", 20)
    )


@dataclass(frozen=True, kw_only=True)
class RigFacts:
    """The ground rig; accuracies are half-widths, absolute or in %."""

    id: str
    name: str = fact(marked("name"), kind=Text(max_length=120))
    plate: str = fact(marked("licence plate or number"), kind=Text(max_length=40))
    tank: Quantity = fact(
        marked("tank"), kind=Amount(dimensions=("volume",), words=False, above=0, units=MIX)
    )
    spacing: Quantity = fact(
        marked("nozzle spacing"),
        kind=Amount(dimensions=("length",), words=False, above=0, at_most=30, units=SPACING),
    )
    nozzle_count: int = fact(marked("nozzle count"), kind=Count(at_least=1, at_most=ANY_COUNT))
    gauge_accuracy: Quantity = fact(
        marked("pressure gauge good to within"),
        kind=Amount(dimensions=("pressure", "fraction"), words=False, above=0),
        help=ACCURACY_HELP,
    )
    speed_accuracy: Quantity = fact(
        marked("ground speed good to within"),
        kind=Amount(dimensions=("speed", "fraction"), words=False, above=0),
        help=ACCURACY_HELP,
    )
    spacing_accuracy_percent: Decimal = fact(
        marked("nozzle spacing within (%)"), kind=_percent("0", 20)
    )
    tank_accuracy_percent: Decimal = fact(marked("tank marks within (%)"), kind=_percent("0", 50))
    line_loss: Answer = fact(
        marked("pressure lost between gauge and nozzle"),
        kind=Amount(dimensions=("pressure",), at_least=0),
        section=Section.WITH,
        short=marked("line loss"),
        path="rig.line_loss",
    )
    line_loss_flow: Answer = fact(
        marked("boom flow at which the pressure loss was measured"),
        kind=Amount(dimensions=("flow",), above=0),
        section=Section.WITH,
        path="rig.line_loss_flow",
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
        marked("amount"), kind=Amount(dimensions=("volume", "mass"), words=False, above=0)
    )


@dataclass(frozen=True, kw_only=True)
class LoadFacts:
    """A tank fill, and what of it went on this field."""

    mixed_volume: Quantity = fact(
        marked("volume mixed"),
        kind=Amount(dimensions=("volume",), words=False, above=0, units=MIX),
        section=Section.LOADS,
        short=marked("mixed"),
        help=marked(
            "Water and product together in the tank after filling (gal, L), read on level "
            "ground at the tank’s own scale or a meter."
        ),
    )
    used_here: Answer = fact(
        marked("volume used here"),
        kind=Amount(dimensions=("volume",), at_least=0, units=MIX),
        section=Section.LOADS,
        short=marked("used here"),
        column="used",
        path="used_here",
        help=marked(
            "What of this load went on this field (gal, L), read before and after. What is left"
            " over is sprayed only where a label allows it."
        ),
    )
    order: int = fact(
        marked("this field's place in the order"),
        kind=Count(at_least=1, at_most=1000),
        section=Section.LOADS,
        short=marked("order of fields"),
        help=marked("Left blank: the next free place."),
    )
    parts: tuple[LoadPartFacts, ...] = fact(marked("parts"), kind=Row(many=True))
    shared: bool = fact(marked("served other fields too"), kind=Computed())
    places_elsewhere: tuple[int, ...] = fact(
        marked("the places in that order that other fields hold"), kind=Computed(), default=()
    )


@dataclass(frozen=True, kw_only=True)
class WeatherFacts:
    """One weather reading. Wind is the direction it comes from, degrees from true north."""

    read_at: datetime = fact(
        marked("read at"), kind=Instant(), section=Section.WEATHER, short=marked("time")
    )
    wind_from: Answer = fact(
        marked("wind from"),
        kind=Amount(dimensions=("angle",), at_least=0, at_most=360),
        section=Section.WEATHER,
        help=marked(
            "The direction it blows from, degrees from true north: 270 is a west wind. Look "
            "what lies downwind."
        ),
    )
    wind_speed: Answer = fact(
        marked("wind speed"),
        kind=Amount(dimensions=("speed",), at_least=0, at_most=200),
        section=Section.WEATHER,
        short=marked("wind"),
        help=marked(
            "Measured at the field at the height you give (mph, km/h, m/s, knots). The label’s "
            "limits hold, at both ends; calm is not safe."
        ),
    )
    gust: Answer = fact(
        marked("gust"),
        kind=Amount(dimensions=("speed",), at_least=0, at_most=200),
        section=Section.WEATHER,
        help=marked(
            "The strongest wind while you measured, in the same place (mph, km/h, m/s, knots). "
            "Drift follows the gust: where it passes the label’s limit, stop."
        ),
    )
    temperature: Answer = fact(
        marked("air temperature"),
        kind=Amount(dimensions=("temperature",), at_least=-50, at_most=60),
        section=Section.WEATHER,
        short=marked("air"),
        help=marked(
            "Air in the shade at the field (°F, °C); sun or a warm engine makes it read too "
            "high. Where the label names a temperature, stop at it."
        ),
    )
    humidity: Answer = fact(
        marked("relative humidity"),
        kind=Amount(dimensions=("fraction",), at_least=0, at_most=100),
        section=Section.WEATHER,
        short=marked("humidity"),
        help=marked(
            "Of the air, in %, read together with the temperature. In dry air drops shrink on "
            "their way and drift farther."
        ),
    )
    cloud: Answer = fact(
        marked("sky covered"),
        kind=Amount(dimensions=("fraction",), at_least=0, at_most=100),
        section=Section.WEATHER,
        short=marked("cloud"),
        help=marked(
            "Share of the sky that clouds cover, by eye, in %. A clear sky in the evening or at"
            " dawn goes with inversions."
        ),
    )
    height: Answer = fact(
        marked("height of the reading"),
        kind=Amount(dimensions=("length",), above=0, at_most=100, units=ABOVE_GROUND),
        section=Section.WEATHER,
        short=marked("at height"),
        help=marked(
            "Of the instrument above the ground (ft, m). Wind is slower near the ground; "
            "measure at the height that the label names, if it names one."
        ),
    )
    signs: tuple[str, ...] = fact(
        marked("signs of an inversion seen"),
        kind=Choice(SIGNS, many=True),
        section=Section.WEATHER,
        short=marked("signs"),
        help=marked(
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
    applied_on: date  # local day of its end, or of its start while the end is not known
    rate: Quantity | None  # product per area
    record_number: int
    same_job: bool = False  # this job, broken off and resumed
    treated_area: Answer = None


@dataclass(frozen=True, kw_only=True)
class RecordFacts:
    """What was done, as entered."""

    id: str = fact("the id of the record at the origin", kind=Computed())
    started_at: datetime | None = fact(
        marked("start of the spraying"),
        kind=Instant(),
        section=Section.WHEN,
        short=marked("started"),
    )
    finished_at: datetime | None = fact(
        marked("end of the spraying"),
        kind=Instant(),
        section=Section.WHEN,
        short=marked("finished"),
    )
    purpose: str = fact(
        marked("purpose"),
        kind=Text(max_length=200),
        section=Section.WHAT,
        prefill=Prefill.SAME_JOB,
        resumed=True,
    )
    pressure: Answer = fact(
        marked("pressure at the gauge"),
        kind=Amount(dimensions=("pressure",), above=0),
        section=Section.WITH,
        short=marked("gauge pressure"),
        help=marked(
            "As read while spraying (psi, bar). What the rig loses on the way to the nozzle is "
            "taken off by the rig’s line loss. Twice the flow needs four times the pressure."
        ),
    )
    speed: Answer = fact(
        marked("ground speed"),
        kind=Amount(dimensions=("speed",), above=0, at_most=60, units=DRIVEN),
        section=Section.WITH,
        help=marked(
            "While spraying, measured over ground (mph, km/h). At the same pressure, twice the "
            "speed lays down half the rate."
        ),
    )
    boom_height: Answer = fact(
        marked("boom height above the target"),
        kind=Amount(dimensions=("length",), above=0, at_most=10, units=SHORT),
        section=Section.WITH,
        short=marked("boom height"),
        prefill=Prefill.SAME_RIG,
        resumed=True,
        help=marked(
            "From nozzle tip to crop or weed top (in, cm), not to the soil under a crop. Too "
            "high drifts, too low stripes."
        ),
    )
    duty: Answer = fact(
        marked("pulse-width duty"),
        kind=Amount(dimensions=("fraction",), above=0, at_most=100),
        section=Section.WITH,
        prefill=Prefill.SAME_RIG,
        has_start_value=True,
        resumed=True,
        folded=True,
        help=marked(
            "Share of the time a pulsing valve is open, in %; without one, not applicable."
        ),
    )
    density: Answer = fact(
        marked("density of the spray mix"),
        kind=Amount(
            dimensions=("mass_per_volume",),
            at_least=1000 * SPECIFIC_GRAVITY_RANGE[0],
            at_most=1000 * SPECIFIC_GRAVITY_RANGE[1],
            units=DENSITY,
        ),
        section=Section.WITH,
        short=marked("mix density"),
        prefill=Prefill.SAME_RIG,
        has_start_value=True,
        resumed=True,
        folded=True,
        help=marked(
            "Water is 8.34 lb/gal (1 kg/L): not applicable. Liquid fertilizer is heavier, and a"
            " nozzle then lets less through."
        ),
    )
    pattern: str = fact(
        marked("pattern"),
        kind=Choice(PATTERNS),
        section=Section.WITH,
        prefill=Prefill.SAME_RIG,
        has_start_value=True,
        resumed=True,
        folded=True,
    )
    band_width: Answer = fact(
        marked("band width"),
        kind=Amount(dimensions=("length",), above=0, units=SPACING),
        section=Section.WITH,
        prefill=Prefill.SAME_RIG,
        resumed=True,
        banded=True,
        folded=True,
        help=marked(
            "Width of the sprayed strip at the target (in, cm), measured over the row. Read "
            "whether the label’s rate is per acre of band or of field."
        ),
    )
    row_spacing: Answer = fact(
        marked("row spacing"),
        kind=Amount(dimensions=("length",), above=0, units=SPACING),
        section=Section.WITH,
        prefill=Prefill.SAME_RIG,
        resumed=True,
        banded=True,
        folded=True,
        help=marked(
            "From the middle of one row to the middle of the next (in, cm). With the band width"
            " it says what share of the field is sprayed."
        ),
    )
    nozzles_per_row: int | None = fact(
        marked("nozzles per row"),
        kind=Count(at_least=1, at_most=20),
        section=Section.WITH,
        prefill=Prefill.SAME_RIG,
        resumed=True,
        banded=True,
        folded=True,
        help=marked(
            "How many nozzles spray one row together; their flows are added up. One that drips "
            "or is blocked falsifies the rate of its row."
        ),
    )
    planned_carrier: Answer = fact(
        marked("planned carrier"),
        kind=Amount(dimensions=("volume_rate",), above=0, units=CARRIER),
        section=Section.AMOUNTS,
        prefill=Prefill.SAME_JOB,
        resumed=True,
        help=marked(
            "The whole mix per area as planned (gal/ac, L/ha), water and product together."
        ),
    )
    treated_area: Answer = fact(
        marked("treated area"),
        kind=Amount(dimensions=("area",), above=0),
        section=Section.AMOUNTS,
        help=marked(
            "What was sprayed in this job, from a counter or map; not the size of the field."
        ),
    )
    mix_used: Answer = fact(
        marked("spray mix used on this field"),
        kind=Amount(dimensions=("volume",), at_least=0, units=MIX),
        section=Section.AMOUNTS,
        short=marked("mix used here"),
        help=marked(
            "As measured at the tank. With the treated area it shows what was truly laid down."
        ),
    )
    distance: Answer = fact(
        marked("distance driven with the boom on"),
        kind=Amount(dimensions=("length",), above=0, units=ALONG),
        section=Section.AMOUNTS,
        short=marked("sprayed over"),
        help=marked(
            "Driven with the boom on (mi, km), from the rig’s counter or a map; turns with the "
            "boom off are left out. Times the swath it must come to the treated area."
        ),
    )
    note: str = fact(
        marked("note"),
        kind=Text(max_length=10_000, lines=True),
        section=Section.NOTES,
    )
    # Element name of the law -> the text as entered; "none", "not applicable" and "not measured:
    # why" are answers there as in any other entry, a name that is absent is blank.
    statements: dict[str, str] = fact(
        marked("statements"),
        kind=Statements(),
        section=Section.ASKED,
        resumed=True,
        default_factory=dict,
    )


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
        marked("number"), kind=Computed(), note="Of its seal; null while it is a draft."
    )
    day: date | None = fact(marked("day"), kind=Computed(), note="On which it began, at the field.")


@dataclass(frozen=True, kw_only=True)
class Snapshot:
    """Everything that a check may look at, and all that is sealed; null is blank, not yet said."""

    business: BusinessFacts
    record: RecordFacts
    customer: CustomerFacts | None = fact(
        marked("customer"),
        kind=Row(),
        section=Section.WHERE,
        resumed=True,
    )
    field: FieldFacts | None = fact(
        marked("field"),
        kind=Row(),
        section=Section.WHERE,
        prefill=Prefill.SAME_JOB,
        resumed=True,
    )
    crop: CropFacts | None = fact(
        marked("crop"),
        kind=Row(),
        section=Section.WHERE,
        column="planting",
        path="crop",
        prefill=Prefill.SAME_FIELD,
        resumed=True,
    )
    applicator: PersonFacts | None = fact(
        marked("applicator"),
        kind=Row(),
        section=Section.WHEN,
        short=marked("sprayed by"),
        prefill=Prefill.SAME_RIG,
        resumed=True,
    )
    supervisor: PersonFacts | None = fact(
        marked("supervisor"),
        kind=Row(),
        section=Section.WHEN,
        short=marked("supervised by"),
        prefill=Prefill.SAME_RIG,
        resumed=True,
    )
    rig: RigFacts | None = fact(
        marked("rig"),
        kind=Row(),
        section=Section.WITH,
        resumed=True,
    )
    nozzle: NozzleFacts | None = fact(
        marked("nozzles"),
        kind=Row(),
        section=Section.WITH,
        short=marked("nozzle"),
        column="nozzle_set",
        path="nozzle",
        prefill=Prefill.SAME_RIG,
        resumed=True,
    )
    nozzle_mounted_on: date | None = fact(marked("nozzle mounted on"), kind=Day())
    catch_test: CatchTestFacts | None = fact(
        marked("catch test"),
        kind=Row(found=True),
        section=Section.WITH,
    )
    products: tuple[ProductFacts, ...] = fact(
        marked("products"),
        kind=Row(many=True),
        section=Section.WHAT,
        default=(),
        prefill=Prefill.SAME_JOB,
        resumed=True,
    )
    loads: tuple[LoadFacts, ...] = fact(
        marked("loads"),
        kind=Row(many=True),
        section=Section.LOADS,
        default=(),
    )
    weather: tuple[WeatherFacts, ...] = fact(
        marked("weather readings"),
        kind=Row(many=True),
        section=Section.WEATHER,
        default=(),
        short=marked("readings"),
    )
    earlier: tuple[EarlierUse, ...] = ()
    amends: AmendmentFacts | None = None
    crew: tuple[PersonFacts, ...] = fact(
        marked("also sprayed by"),
        kind=Row(many=True),
        section=Section.WHEN,
        default=(),
        prefill=Prefill.SAME_RIG,
        resumed=True,
        folded=True,
    )
    continues: ContinuedFacts | None = fact(
        marked("resumes the job of"), kind=Row(), section=Section.WHEN, default=None, folded=True
    )
    nozzle_removed_on: date | None = fact(marked("nozzle removed on"), kind=Day(), default=None)

    @property
    def zone(self) -> ZoneInfo:
        """The time zone at the field; UTC while no field is chosen."""
        return ZoneInfo(self.field.time_zone if self.field else "UTC")

    @property
    def system(self) -> str:
        """The system of units in which the setting was entered: "us" or "metric"."""
        r = self.record
        answers = (r.planned_carrier, r.pressure, r.speed, r.treated_area)
        first = next((one for one in answers if isinstance(one, Quantity)), None)
        if first is None:
            return "us" if self.field and self.field.place.startswith("US") else "metric"
        return "us" if first.unit in US_UNITS else "metric"

    def local_day(self) -> date | None:
        """Return the local date at the field on which the spraying ended (or started)."""
        instant = self.record.finished_at or self.record.started_at
        return instant.astimezone(self.zone).date() if instant else None
