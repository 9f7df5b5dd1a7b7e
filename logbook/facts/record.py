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
from logbook.facts.duty import Asked, Deadline, Retention
from logbook.facts.messages import marked
from logbook.facts.quantity import Answer, Quantity
from logbook.facts.spec import (
    Amount,
    Choice,
    Count,
    Instant,
    Prefill,
    Row,
    Section,
    Statements,
    Text,
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

PATTERNS = {
    "broadcast": marked("broadcast"),
    "banded": marked("in bands"),
    "directed": marked("directed at the row"),
}
"""How the spray lies on the land; it decides the width that one nozzle serves."""

BROADCAST = "broadcast"

US_UNITS = frozenset({"gal/ac", "qt/ac", "pt/ac", "fl oz/ac", "psi", "mph", "ac", "ft2"})
"""What tells that a setting was entered in the units of the United States."""

SIGNS = {
    "smoke layer": marked("smoke or dust hangs in a layer"),
    "mist": marked("mist or fog"),
    "dew": marked("dew"),
    "frost": marked("frost"),
    "cumulus": marked("cumulus clouds forming"),
    "rain": marked("steady rain"),
}
"""Signs for or against an inversion that a person can see."""


@dataclass(frozen=True, kw_only=True)
class BusinessFacts:
    """The licensed for-hire operator and its own settings for the checks."""

    id: str
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

    number: str
    authority: str
    place: str  # ISO 3166-2
    categories: tuple[str, ...]
    certified: bool  # may apply restricted-use products
    valid_from: date
    expires_on: date


@dataclass(frozen=True, kw_only=True)
class TrainingFacts:
    """One training of a helper who works under supervision."""

    trained_on: date
    trainer: str
    content: str
    expires_on: date | None


@dataclass(frozen=True, kw_only=True)
class PersonFacts:
    """A person who sprays or answers for the spraying."""

    id: str
    name: str
    licences: tuple[LicenceFacts, ...] = ()
    trainings: tuple[TrainingFacts, ...] = ()


@dataclass(frozen=True, kw_only=True)
class CustomerFacts:
    """The person for whom the work is done."""

    id: str
    name: str
    address: str


@dataclass(frozen=True, kw_only=True)
class LocationFacts:
    """One way of saying where the field is; `kind` is one of catalog's typed formats."""

    kind: str
    text: str


@dataclass(frozen=True, kw_only=True)
class FieldFacts:
    """The field: where it is and how large it is."""

    id: str
    name: str
    place: str  # ISO 3166-2
    time_zone: str
    locations: tuple[LocationFacts, ...]
    boundary: dict[str, Any] | None  # GeoJSON geometry, lon/lat WGS 84
    area_ha: float | None  # geodesic, from the boundary
    planted_size: Answer
    latitude: float | None
    longitude: float | None


@dataclass(frozen=True, kw_only=True)
class CropFacts:
    """What stood on the field."""

    name: str
    eppo_code: str
    planted_on: date | None
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

    name: str
    content: Quantity
    acid_equivalent: Quantity | None


@dataclass(frozen=True, kw_only=True)
class LabelFacts:
    """A dated label edition. A limit that is None is one on which the label is silent."""

    id: str
    edition: str
    in_force_from: date
    in_force_to: date | None
    restricted_use: bool
    supervised_use_allowed: bool  # False: the label forbids a helper under supervision
    required_category: str  # licence category the label or law asks for; "" when none
    rate_min: Quantity | None
    rate_max: Quantity | None
    carrier_min: Quantity | None
    carrier_max: Quantity | None
    finest_class: str  # symbol of ASABE S572, "" when silent
    coarsest_class: str
    wind_min: Quantity | None
    wind_max: Quantity | None
    temperature_min: Quantity | None
    temperature_max: Quantity | None
    boom_height_max: Quantity | None  # above the target
    minutes_after_sunrise: int | None  # not before this many minutes after sunrise
    minutes_before_sunset: int | None  # not later than this many minutes before sunset
    inversion_forbidden: bool
    reentry_hours: Decimal | None
    preharvest_days: int | None
    season_max: Quantity | None  # of product per area, in the season
    applications_max: int | None
    interval_days: int | None
    no_drift_reducer_with_air_induction: bool
    required_adjuvants: tuple[str, ...]  # functions, for example "nonionic surfactant"
    forbidden_adjuvants: tuple[str, ...]
    ingredients: tuple[IngredientFacts, ...]
    # What the label adds to the law, in the shape of a duty set.
    classes: tuple[str, ...] = ()  # classes that laws name, values of duty.Products
    asks: tuple[Asked, ...] = ()
    deadlines: tuple[Deadline, ...] = ()
    retention: tuple[Retention, ...] = ()
    # "both": workers are warned orally and by signs (40 CFR 156.210(b)); "" when not looked up.
    worker_warning: str = ""
    training: str = ""  # the dated training it asks of whoever applies, "" when silent


@dataclass(frozen=True, kw_only=True)
class ProductFacts:
    """One product line of the record. Rate, total and ingredient are separate facts."""

    product_id: str
    name: str
    registration_number: str
    registrant: str
    kind: str  # catalog.ProductKind value
    adjuvant_functions: tuple[str, ...]
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

    pressure: Quantity
    droplet_class: str


@dataclass(frozen=True, kw_only=True)
class NozzleFacts:
    """The nozzle model as its data sheet states it."""

    name: str
    kind: str  # calc.chooser.NozzleKind value
    size: str  # ISO 10625 size, "" when the nozzle has none
    angle: int | None
    rated_flow: Quantity
    rated_pressure: Quantity
    exponent: Decimal
    flow_accuracy_percent: Decimal
    pressure_min: Quantity
    pressure_max: Quantity
    class_table: tuple[ClassRow, ...]


@dataclass(frozen=True, kw_only=True)
class CatchTestFacts:
    """Water caught per nozzle in the stated time at the stated pressure at the nozzle."""

    tested_on: date
    tested_by: str
    pressure: Quantity
    time: Quantity
    volumes: tuple[Decimal, ...]
    volume_unit: str
    accuracy_percent: Decimal


@dataclass(frozen=True, kw_only=True)
class RigFacts:
    """The ground rig; accuracies are half-widths, absolute or in %."""

    id: str
    name: str
    plate: str
    tank: Quantity
    spacing: Quantity
    nozzle_count: int
    gauge_accuracy: Quantity
    speed_accuracy: Quantity
    spacing_accuracy_percent: Decimal
    tank_accuracy_percent: Decimal
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
    amount: Quantity


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
    parts: tuple[LoadPartFacts, ...]
    shared: bool  # the load served other fields too
    places_elsewhere: tuple[int, ...] = ()  # in that order, held by other fields


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

    id: str
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
        kind=Choice(PATTERNS, start=BROADCAST),
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
    number: int | None  # of its seal; None while it is a draft
    day: date | None  # on which it began, at the field


@dataclass(frozen=True, kw_only=True)
class Snapshot:
    """Everything that a check may look at, and all that a seal holds of the facts."""

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
    nozzle_mounted_on: date | None
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
    nozzle_removed_on: date | None = None

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
