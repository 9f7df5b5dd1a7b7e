"""The facts of a record as they read on paper: people, labels, the rig, intervals, weather."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from zoneinfo import ZoneInfo

from calc.calibration import EVENNESS_LIMIT
from calc.dose import earliest_harvest, reentry_end
from calc.droplets import parse_class
from calc.errors import OutOfRange
from calc.nozzle import SIZES
from calc.units import convert
from calc.wind import sector
from logbook.documents import words
from logbook.documents.page import NBSP, Run, Runs
from logbook.documents.words import kept, percent, text_of, trimmed
from logbook.facts.duty import Clock, Deadline, Party, Since
from logbook.facts.quantity import Quantity
from logbook.facts.record import (
    CatchTestFacts,
    ContinuedFacts,
    CropFacts,
    EarlierUse,
    IngredientFacts,
    LabelFacts,
    LicenceFacts,
    NozzleFacts,
    PersonFacts,
    ProductFacts,
    RigFacts,
    Snapshot,
    TrainingFacts,
    WeatherFacts,
)
from logbook.rules.duties.elements import ELEMENTS
from logbook.rules.label import KINDS_WITHOUT_LABEL
from logbook.rules.setting import caught
from logbook.rules.wording import limits, listed, three

HARVEST_COUNT = "day 1 being the day after the end"


def field_name(s: Snapshot) -> str:
    """Return the name of the field, or that it is blank."""
    return s.field.name if s.field else "field blank"


def customer_name(s: Snapshot) -> str:
    """Return the name of the customer, or that it is blank."""
    return s.customer.name if s.customer else "customer blank"


def day(s: Snapshot) -> str:
    """Return the local day of the work, or that it is blank."""
    local = s.local_day()
    return local.isoformat() if local else "day blank"


def licence(one: LicenceFacts) -> str:
    """Return a licence in a line."""
    categories = f"categories {', '.join(one.categories)}" if one.categories else "no category"
    certified = "certified for restricted use" if one.certified else "not certified"
    return (
        f"licence {one.number}, {one.authority}, {one.place}, {categories}, {certified}, "
        f"valid {one.valid_from} to {one.expires_on}"
    )


def training(one: TrainingFacts) -> str:
    """Return a training in a line."""
    until = f", valid to {one.expires_on}" if one.expires_on else ""
    return f"trained {one.trained_on} by {one.trainer}: {one.content}{until}"


def crop(one: CropFacts) -> Runs:
    """Return what stood on the field."""
    stage = "blank" if one.growth_stage_bbch is None else f"{one.growth_stage_bbch:02d}"
    planted = one.planted_on or "blank"
    code = f" ({one.eppo_code})" if one.eppo_code else ""
    return (Run(one.name), Run(f"{code}, planted {planted}, growth stage BBCH {stage}", "quiet"))


def rig_sureness(rig: RigFacts) -> str:
    """Return the accuracies of a rig, as half-widths."""
    return (
        f"gauge ±{text_of(rig.gauge_accuracy)}, speed ±{text_of(rig.speed_accuracy)}, spacing "
        f"±{percent(rig.spacing_accuracy_percent)}, tank ±{percent(rig.tank_accuracy_percent)}"
    )


def nozzle_sheet(nozzle: NozzleFacts) -> str:
    """Return what the data sheet of a nozzle states."""
    return (
        f"rated {text_of(nozzle.rated_flow)} at {text_of(nozzle.rated_pressure)} "
        f"±{percent(nozzle.flow_accuracy_percent)}, for "
        f"{limits(nozzle.pressure_min, nozzle.pressure_max)}, flow by pressure to the power "
        f"{trimmed(nozzle.exponent)}{_class_table(nozzle)}"
    )


def _class_table(nozzle: NozzleFacts) -> str:
    listed_at = (f"{row.droplet_class} at {text_of(row.pressure)}" for row in nozzle.class_table)
    return f"; droplets {', '.join(listed_at)}" if nozzle.class_table else "; no droplet classes"


def catch_test(test: CatchTestFacts, nozzle: NozzleFacts | None, unit: str) -> str:
    """Return a catch test: when, by whom, mean and spread, and the nozzles that stand out.

    What each nozzle gave stands in the seal.

    Args: unit of the mean, a unit of flow.
    """
    done = (
        f"{test.tested_on} by {test.tested_by or 'blank'}, {len(test.volumes)} nozzles for "
        f"{text_of(test.time)} at {text_of(test.pressure)}, ±{percent(test.accuracy_percent)}: "
    )
    try:
        shown = caught(test, new=nozzle)
    except OutOfRange as refusal:
        return f"{done}not evaluated, {refusal}"
    mean = three(convert(shown.mean_l_min, from_unit="L/min", to_unit=unit))
    done += f"mean {mean}{NBSP}{unit}, CV {100.0 * shown.cv:.1f}{NBSP}%"
    evenness = f"{100.0 * EVENNESS_LIMIT:.0f}{NBSP}% of it"
    done += (
        f"; {_named(shown.uneven)} outside ±{evenness}"
        if shown.uneven
        else f"; all within ±{evenness}"
    )
    if shown.worn is None:
        return f"{done}; wear not known"
    return f"{done}; {_named(shown.worn)} worn" if shown.worn else f"{done}, none worn"


def _named(numbers: Sequence[int]) -> str:
    """Return nozzles by their numbers."""
    return f"nozzle{'s' if len(numbers) > 1 else ''} {listed(map(str, numbers))}"


def earlier_use(use: EarlierUse, product: str) -> str:
    """Return an earlier use on the same field."""
    rate = text_of(use.rate) if use.rate else "rate blank"
    job = ", the same job" if use.same_job else ""
    return f"{use.applied_on} {product}, {rate} (record no. {use.record_number}{job})"


def edition(label: LabelFacts) -> str:
    """Return a label edition and the days it is in force."""
    until = f"to {label.in_force_to}" if label.in_force_to else "on"
    return f"edition {label.edition}, in force {label.in_force_from} {until}"


def label_says(label: LabelFacts) -> str:
    """Return all that a label edition sets, as one line; a label silent on all says so."""
    return "; ".join(_label(label)) or "sets no limit on file"


def _label(label: LabelFacts) -> Iterator[str]:
    if label.ingredients:
        yield ", ".join(ingredient(one) for one in label.ingredients)
    for name, low, high in (
        ("rate", label.rate_min, label.rate_max),
        ("carrier", label.carrier_min, label.carrier_max),
    ):
        if low or high:
            yield f"{name} {limits(low, high)}"
    if classes := _classes(label):
        yield classes
    for name, low, high in (
        ("wind", label.wind_min, label.wind_max),
        ("air", label.temperature_min, label.temperature_max),
    ):
        if low or high:
            yield f"{name} {limits(low, high)}"
    if label.boom_height_max:
        yield f"boom at most {text_of(label.boom_height_max)} above the target"
    if label.minutes_after_sunrise is not None:
        yield f"not before {label.minutes_after_sunrise} min after sunrise"
    if label.minutes_before_sunset is not None:
        yield f"not later than {label.minutes_before_sunset} min before sunset"
    if label.inversion_forbidden:
        yield "not in an inversion"
    if label.reentry_hours is not None:
        yield f"re-entry {trimmed(label.reentry_hours)} h"
    if label.worker_warning == "both":
        yield "workers warned orally and by signs, both"
    if label.preharvest_days is not None:
        yield f"before harvest {label.preharvest_days} d"
    if label.season_max:
        yield f"at most {text_of(label.season_max)} a season"
    if label.applications_max is not None:
        yield f"at most {label.applications_max} applications"
    if label.interval_days is not None:
        yield f"{label.interval_days} d between applications"
    if label.required_adjuvants:
        yield f"with {', '.join(label.required_adjuvants)}"
    if label.forbidden_adjuvants:
        yield f"without {', '.join(label.forbidden_adjuvants)}"
    if label.no_drift_reducer_with_air_induction:
        yield "no drift reducer with air-induction nozzles"
    if label.required_category:
        yield f"category {label.required_category}"
    if not label.supervised_use_allowed:
        yield "not by a helper under supervision"
    if label.classes:
        yield f"of the class {', '.join(label.classes)}"
    if label.training:
        yield f"training {label.training}"
    if label.asks:
        yield f"wants recorded {', '.join(element(one.name, one.detail) for one in label.asks)}"
    for deadline in label.deadlines:
        yield due_words(deadline)
    for keep in label.retention:
        yield f"kept {keep.years} years from the {keep.since}"


def element(name: str, detail: str = "") -> str:
    """Return what an element of the record is called, with what the law or label says of it."""
    title = ELEMENTS[name].title if name in ELEMENTS else name
    return f"{title} ({detail})" if detail else title


def due_words(one: Deadline) -> str:
    """Return a deadline in words: "copy to the customer within 30 calendar days from the end"."""
    to = "" if one.to is Party.SELF else f" to the {one.to}"
    detail = f", {one.detail}" if one.detail else ""
    return f"{one.kind}{to} {counted(one)}{detail}"


def counted(one: Deadline) -> str:
    """Return how a deadline counts, in words: "within 72 hours from the end"."""
    before = one.since is Since.BEFORE_START
    match one.clock:
        case Clock.HOURS if before:
            return f"{one.count} hours before the start" if one.count else "before the start"
        case Clock.HOURS | Clock.DAYS | Clock.WORKING_DAYS:
            return f"within {one.count} {one.clock} from the {one.since}"
        case Clock.SAME_DAY:
            return f"on the {one.clock}"
        case Clock.FIXED_DATE if one.month:
            return f"by {one.month:02d}-{one.day or 1:02d} of the next year"
        case Clock.FIXED_DATE:
            return f"by day {one.day or 1} of the next month"
        case Clock.NO_COUNT:
            return "with no time stated"
        case _:
            return one.clock.value


def ingredient(one: IngredientFacts) -> str:
    """Return an active ingredient with its content."""
    acid = f" (acid equivalent {text_of(one.acid_equivalent)})" if one.acid_equivalent else ""
    return f"{one.name} {text_of(one.content)}{acid}"


def _classes(label: LabelFacts) -> str:
    finest, coarsest = (
        parse_class(symbol).words if symbol else ""
        for symbol in (label.finest_class, label.coarsest_class)
    )
    if finest and coarsest:
        return f"droplets {finest} to {coarsest}"
    if finest:
        return f"droplets {finest} or coarser"
    return f"droplets {coarsest} or finer" if coarsest else ""


def product_kind(product: ProductFacts) -> str:
    """Return what kind of product it is, with what an adjuvant does."""
    return ", ".join((product.kind, *product.adjuvant_functions))


def named(name: str, address: str) -> Runs:
    """Return a name with its address, which may have been entered on several lines."""
    lines = [line.strip() for line in address.splitlines() if line.strip()]
    return (Run(name, bold=True), Run(f", {', '.join(lines) or 'address blank'}"))


def person(one: PersonFacts | None) -> Runs:
    """Return a person with the licences and trainings on file."""
    if one is None:
        return (words.BLANK,)
    papers = [licence(each) for each in one.licences]
    papers += [training(each) for each in one.trainings]
    held = "; ".join(papers) or "no licence and no training on file"
    return (Run(one.name, bold=True), *words.quiet(f", {held}"))


def continued(one: ContinuedFacts) -> str:
    """Return which record a resumed job goes on from."""
    number = f"record no. {one.number}" if one.number else "a draft not yet signed"
    return f"{number}, begun {one.day or 'on a day left blank'}"


def nozzle(one: NozzleFacts, mounted: date | None) -> Iterator[Run]:
    """Yield a nozzle with the swatch and word of its ISO 10625 colour."""
    yield Run(one.name, bold=True)
    angle = f", {one.angle}°" if one.angle is not None else ""
    yield Run(f", {one.kind}{angle}, ")
    if size := SIZES.get(one.size):
        yield words.swatch(f"swatch-size-{size.designation}")
        yield Run(f"{NBSP}size {size.designation}, {size.colour}")
    else:
        yield Run(f"size {one.size}" if one.size else "no ISO 10625 size")
    yield Run(f", mounted {mounted or 'blank'}; {nozzle_sheet(one)}", "quiet")


def reentry(s: Snapshot, zone: ZoneInfo) -> Runs:
    """Return when the field may be entered again, by the longest interval of the mix."""
    hours = [
        (product.label.reentry_hours, product.name)
        for product in s.products
        if product.label is not None and product.label.reentry_hours is not None
    ]
    left_out = words.quiet(not_counted(s))
    if not hours:
        return (Run("no interval on the labels on file"), *left_out)
    if s.record.finished_at is None:
        return (Run("not computed: the end of the spraying is blank"), *left_out)
    longest = max(hour for hour, _ in hours)
    ends = reentry_end(
        ended_at=s.record.finished_at, intervals_h=[float(hour) for hour, _ in hours]
    )
    names = listed(name for hour, name in hours if hour == longest)
    basis = words.quiet(f"; {trimmed(longest)}{NBSP}h from the end, by {names}")
    return (Run(words.local(ends, zone), bold=True), *basis, *left_out)


def harvest(s: Snapshot, zone: ZoneInfo) -> Runs:
    """Return the earliest day of harvest, by the longest interval of the mix."""
    days = [
        (product.label.preharvest_days, product.name)
        for product in s.products
        if product.label is not None and product.label.preharvest_days is not None
    ]
    left_out = words.quiet(not_counted(s))
    if not days:
        return (Run("no interval on the labels on file"), *left_out)
    if s.record.finished_at is None:
        return (Run("not computed: the end of the spraying is blank"), *left_out)
    longest = max(days)[0]
    ended = s.record.finished_at.astimezone(zone).date()
    first = earliest_harvest(ended_on=ended, interval_days=longest)
    names = listed(name for count, name in days if count == longest)
    basis = words.quiet(f"; {longest}{NBSP}d by {names}, {HARVEST_COUNT}")
    return (Run(first.isoformat(), bold=True), *basis, *left_out)


def not_counted(s: Snapshot) -> str:
    """Return which products have no label here and so no interval; "" if there are none."""
    names = [
        product.name
        for product in s.products
        if product.label is None and product.kind not in KINDS_WITHOUT_LABEL
    ]
    return f"; not counted, for the label is blank: {listed(names)}" if names else ""


def reading(one: WeatherFacts, zone: ZoneInfo) -> tuple[Runs, ...]:
    """Return the cells of a weather reading: time, height, wind, gust, air, cloud, signs."""
    there = one.read_at.astimezone(zone)
    wind_from = words.answer(one.wind_from)
    if isinstance(one.wind_from, Quantity):
        point = sector(direction_deg=one.wind_from.si)
        wind_from = (*words.entered(one.wind_from), *words.quiet(f" {point}"))
    return (
        (Run(f"{there:%Y-%m-%d %H:%M} {there:%Z}"),),
        words.answer(one.height),
        wind_from,
        words.answer(one.wind_speed),
        words.answer(one.gust),
        words.answer(one.temperature),
        words.answer(one.humidity),
        words.answer(one.cloud),
        (Run(", ".join(one.signs) or "none noted"),),
    )


def asked(ends: tuple[Quantity | None, Quantity | None]) -> str:
    """Return what two limits of a label ask, or that it is silent."""
    text = limits(*ends) if any(ends) else "silent"
    for unit in {end.unit for end in ends if end is not None}:
        text = text.replace(f" {unit}", f"{NBSP}{kept(unit)}")
    return text
