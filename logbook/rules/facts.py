"""The frozen facts of one application record, as every check, seal and paper sees them.

`records.snapshot` builds them from the rows; nothing here can reach the database, so a check
cannot see more than what is sealed. Times are aware UTC datetimes with the field's zone beside
them. `Answer` is a quantity as entered, a word (none, not applicable, not measured) or blank.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from logbook.rules.duties.model import Asked, Deadline, Retention
from logbook.rules.quantity import Answer, Quantity


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
    growth_stage_bbch: int | None


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
    classes: tuple[str, ...] = ()  # classes that laws name, values of duties.model.Products
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
    label: LabelFacts | None
    planned_rate: Answer
    total_used: Answer  # undiluted product on this field
    target: str


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
    line_loss: Answer  # pressure lost between gauge and nozzle, at line_loss_flow of the boom
    line_loss_flow: Answer

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

    order: int  # the place of this field in the order of fields from this load
    mixed_volume: Quantity
    used_here: Answer
    parts: tuple[LoadPartFacts, ...]
    shared: bool  # the load served other fields too
    places_elsewhere: tuple[int, ...] = ()  # in that order, held by other fields


@dataclass(frozen=True, kw_only=True)
class WeatherFacts:
    """One weather reading. Wind is the direction it comes from, degrees from true north."""

    read_at: datetime
    height: Answer
    wind_from: Answer
    wind_speed: Answer
    gust: Answer
    temperature: Answer
    humidity: Answer
    cloud: Answer
    signs: tuple[str, ...]  # inversion signs seen, catalogued in records.WeatherSign


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
    started_at: datetime | None
    finished_at: datetime | None
    purpose: str
    pattern: str  # "broadcast", "banded" or "directed"
    band_width: Answer
    row_spacing: Answer
    nozzles_per_row: int | None
    treated_area: Answer
    planned_carrier: Answer
    pressure: Answer  # at the gauge
    speed: Answer
    boom_height: Answer  # above the target
    duty: Answer  # pulse-width duty, %
    density: Answer  # of the spray solution
    distance: Answer  # driven with the boom on
    mix_used: Answer  # carrier and product together, on this field
    note: str
    # Element name of duties.elements -> the text as entered; "none", "not applicable" and
    # "not measured: why" are answers there as in any other entry, a name that is absent is blank.
    statements: dict[str, str] = field(default_factory=dict)


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
    customer: CustomerFacts | None
    field: FieldFacts | None
    crop: CropFacts | None
    applicator: PersonFacts | None
    supervisor: PersonFacts | None
    rig: RigFacts | None
    nozzle: NozzleFacts | None
    nozzle_mounted_on: date | None
    catch_test: CatchTestFacts | None
    products: tuple[ProductFacts, ...] = ()
    loads: tuple[LoadFacts, ...] = ()
    weather: tuple[WeatherFacts, ...] = ()
    earlier: tuple[EarlierUse, ...] = ()
    amends: AmendmentFacts | None = None
    crew: tuple[PersonFacts, ...] = ()  # who sprayed beside the applicator
    continues: ContinuedFacts | None = None
    nozzle_removed_on: date | None = None

    @property
    def zone(self) -> ZoneInfo:
        """The time zone at the field; UTC while no field is chosen."""
        return ZoneInfo(self.field.time_zone if self.field else "UTC")

    def local_day(self) -> date | None:
        """Return the local date at the field on which the spraying ended (or started)."""
        instant = self.record.finished_at or self.record.started_at
        return instant.astimezone(self.zone).date() if instant else None
