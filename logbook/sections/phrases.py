"""Facts of a record as messages: people, labels, the rig, a catch test, deadlines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from calc.calibration import EVENNESS_LIMIT
from calc.droplets import parse_class
from calc.errors import OutOfRange
from calc.nozzle import SIZES
from calc.units import convert
from logbook.checks.label import KINDS_WITHOUT_LABEL
from logbook.checks.setting import caught
from logbook.facts.duty import Clock, Deadline, Party, Since
from logbook.facts.messages import Figure, Said, joined, say, told, with_unit
from logbook.facts.quantity import Quantity
from logbook.facts.record import (
    CatchTestFacts,
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
)
from logbook.facts.terms import out_of_range
from logbook.facts.units import usual_unit
from logbook.facts.wording import limits, listed, three
from logbook.law.elements import ELEMENTS

BLANK, RESTRICTED_USE = say("blank"), say("RESTRICTED USE")


def papers(one: PersonFacts) -> str:
    """Return the licences and trainings of a person that are on file."""
    held = [*map(_licence, one.licences), *map(_training, one.trainings)]
    return joined("; ", held) if held else say("no licence and no training on file")


def _licence(one: LicenceFacts) -> str:
    categories = (
        say("categories {categories}", categories=", ".join(one.categories))
        if one.categories
        else say("no category")
    )
    return say(
        "licence {number}, {authority}, {place}, {categories}, {certified}, valid {start} to {end}",
        number=one.number,
        authority=one.authority,
        place=one.place,
        categories=categories,
        certified=say("certified for restricted use")
        if one.certified
        else say("not certified for restricted use"),
        start=one.valid_from,
        end=one.expires_on,
    )


def _training(one: TrainingFacts) -> str:
    trained = say(
        "trained {day} by {trainer}: {content}",
        day=one.trained_on,
        trainer=one.trainer,
        content=one.content,
    )
    return trained + say(", valid to {day}", day=one.expires_on) if one.expires_on else trained


def address(text: str) -> str:
    """Return an address, which may have been entered on several lines, on one."""
    lines = (line.strip() for line in text.splitlines())
    return ", ".join(line for line in lines if line) or say("address blank")


def trimmed(number: Decimal) -> str:
    """Return a number without zeros at its end that say nothing: "12", "0.5"."""
    return Figure(f"{number.normalize():f}")


def percent(number: Decimal) -> str:
    """Return a share in per cent: "1.5 %"."""
    return with_unit(trimmed(number), "%")


def converted(value: float, unit: str, to_unit: str) -> str:
    """Return a computed value in another unit, three figures."""
    return with_unit(three(convert(value, from_unit=unit, to_unit=to_unit)), to_unit)


def both_systems(quantity: Quantity) -> str:
    """Return a quantity as entered, with the other system in brackets: "30 psi (2.07 bar)"."""
    template = "{entered} ({other})" if quantity.other else "{entered}"
    return Said(template, {"entered": quantity, "other": Figure(quantity.other)})


def rig_accuracy(rig: RigFacts) -> str:
    """Return the accuracies of a rig, as half-widths."""
    return say(
        "gauge ±{gauge}, speed ±{speed}, spacing ±{spacing}, tank ±{tank}",
        gauge=rig.gauge_accuracy,
        speed=rig.speed_accuracy,
        spacing=percent(rig.spacing_accuracy_percent),
        tank=percent(rig.tank_accuracy_percent),
    )


def nozzle_size(size: str) -> str:
    """Return a size with the word of its ISO 10625 colour, "size 04, red"."""
    if known := SIZES.get(size):
        return say("size {size}, {colour}", size=size, colour=told(known.colour))
    return say("size {size}", size=size) if size else say("no ISO 10625 size")


def nozzle_sheet(nozzle: NozzleFacts) -> str:
    """Return what the data sheet of a nozzle states."""
    classes = [
        say("{symbol} at {pressure}", symbol=row.droplet_class, pressure=row.pressure)
        for row in nozzle.class_table
    ]
    return say(
        "rated {flow} at {pressure} ±{accuracy}, for {range}, flow by pressure to the power "
        "{exponent}; {classes}",
        flow=nozzle.rated_flow,
        pressure=nozzle.rated_pressure,
        accuracy=percent(nozzle.flow_accuracy_percent),
        range=limits(nozzle.pressure_min, nozzle.pressure_max),
        exponent=trimmed(nozzle.exponent),
        classes=say("droplets {classes}", classes=joined(", ", classes))
        if classes
        else say("no droplet classes"),
    )


def catch_test(test: CatchTestFacts, nozzle: NozzleFacts | None, system: str) -> str:
    """Return a catch test: when, by whom, mean and spread, and the nozzles that stand out.

    What each nozzle gave stands in the seal.

    Args: system of units of the mean, "us" or "metric".
    """
    return say(
        "{day} by {who}, {count} nozzles for {time} at {pressure}, ±{accuracy}: {result}",
        day=test.tested_on,
        who=test.tested_by or BLANK,
        count=len(test.volumes),
        time=test.time,
        pressure=test.pressure,
        accuracy=percent(test.accuracy_percent),
        result=_caught(test, nozzle, usual_unit(("flow",), system=system)),
    )


def _caught(test: CatchTestFacts, nozzle: NozzleFacts | None, unit: str) -> str:
    try:
        shown = caught(test, new=nozzle)
    except OutOfRange as refusal:
        return say("not evaluated, {why}", why=out_of_range(refusal))
    share = with_unit(Figure(f"{100.0 * EVENNESS_LIMIT:.0f}"), "%")
    if shown.uneven:
        even = say("{nozzles} outside ±{share} of it", nozzles=_numbered(shown.uneven), share=share)
    else:
        even = say("all within ±{share} of it", share=share)
    if shown.worn is None:
        worn = say("wear not known")
    elif shown.worn:
        worn = say("{nozzles} worn", nozzles=_numbered(shown.worn))
    else:
        worn = say("none worn")
    mean = converted(shown.mean_l_min, "L/min", unit)
    return say(
        "mean {mean}, CV {cv:.1f} %; {even}; {worn}",
        mean=mean,
        cv=100.0 * shown.cv,
        even=even,
        worn=worn,
    )


def _numbered(numbers: Sequence[int]) -> str:
    if len(numbers) > 1:
        return say("nozzles {numbers}", numbers=listed(map(str, numbers)))
    return say("nozzle {number}", number=numbers[0])


def earlier_use(use: EarlierUse, product: str) -> str:
    """Return an earlier use on the same field."""
    told_of = say("record no. {number}", number=use.record_number)
    return say(
        "{day} {product}, {rate} ({record})",
        day=use.applied_on,
        product=product,
        rate=use.rate or say("rate blank"),
        record=joined(", ", (told_of, say("the same job"))) if use.same_job else told_of,
    )


def edition(label: LabelFacts) -> str:
    """Return a label edition and the days it is in force."""
    dates = {"edition": label.edition, "start": label.in_force_from, "end": label.in_force_to}
    if label.in_force_to:
        return say("edition {edition}, in force {start} to {end}", **dates)
    return say("edition {edition}, in force {start} on", **dates)


def label_says(label: LabelFacts) -> str:
    """Return all that a label edition sets, as one line; a label silent on all says so."""
    return joined("; ", _label(label)) or say("sets no limit on file")


def _label(label: LabelFacts) -> Iterator[str]:
    if label.ingredients:
        yield joined(", ", map(ingredient, label.ingredients))
    if label.rate_min or label.rate_max:
        yield say("rate {limits}", limits=limits(label.rate_min, label.rate_max))
    if label.carrier_min or label.carrier_max:
        yield say("carrier {limits}", limits=limits(label.carrier_min, label.carrier_max))
    if classes := _classes(label):
        yield classes
    if label.wind_min or label.wind_max:
        yield say("wind {limits}", limits=limits(label.wind_min, label.wind_max))
    if label.temperature_min or label.temperature_max:
        yield say("air {limits}", limits=limits(label.temperature_min, label.temperature_max))
    if label.boom_height_max:
        yield say("boom at most {height} above the target", height=label.boom_height_max)
    if label.minutes_after_sunrise is not None:
        yield say("not before {minutes} min after sunrise", minutes=label.minutes_after_sunrise)
    if label.minutes_before_sunset is not None:
        yield say("not later than {minutes} min before sunset", minutes=label.minutes_before_sunset)
    if label.inversion_forbidden:
        yield say("not in an inversion")
    if label.reentry_hours is not None:
        yield say("re-entry {hours} h", hours=trimmed(label.reentry_hours))
    if label.worker_warning == "both":
        yield say("workers warned orally and by signs, both")
    if label.preharvest_days is not None:
        yield say("before harvest {days} d", days=label.preharvest_days)
    if label.season_max:
        yield say("at most {amount} a season", amount=label.season_max)
    if label.applications_max is not None:
        yield say("at most {count} applications", count=label.applications_max)
    if label.interval_days is not None:
        yield say("{days} d between applications", days=label.interval_days)
    if label.required_adjuvants:
        yield say("with {adjuvants}", adjuvants=_words(label.required_adjuvants))
    if label.forbidden_adjuvants:
        yield say("without {adjuvants}", adjuvants=_words(label.forbidden_adjuvants))
    if label.no_drift_reducer_with_air_induction:
        yield say("no drift reducer with air-induction nozzles")
    if label.required_category:
        yield say("category {category}", category=label.required_category)
    if not label.supervised_use_allowed:
        yield say("not by a helper under supervision")
    if label.classes:
        yield say("of the class {classes}", classes=_words(label.classes))
    if label.training:
        yield say("training {training}", training=label.training)
    if label.asks:
        asked = (element(one.name, one.detail) for one in label.asks)
        yield say("wants recorded {elements}", elements=joined(", ", asked))
    yield from map(_due, label.deadlines)
    for keep in label.retention:
        yield say("kept {years} years from the {since}", years=keep.years, since=told(keep.since))


def _words(words: Sequence[str]) -> str:
    return joined(", ", map(told, words))


def element(name: str, detail: str = "") -> str:
    """Return what an element of the record is called, with what the law or label says of it."""
    title = told(ELEMENTS[name].title) if name in ELEMENTS else name
    return Said("{title} ({detail})", {"title": title, "detail": detail}) if detail else title


def _due(one: Deadline) -> str:
    """Return a deadline: "copy to the customer within 30 calendar days from the end"."""
    kind = told(one.kind)
    if one.to is Party.SELF:
        due = joined(" ", (kind, counted(one)))
    else:
        due = say(
            "{kind} to the {party} {by_when}", kind=kind, party=told(one.to), by_when=counted(one)
        )
    return joined(", ", (due, one.detail)) if one.detail else due


def counted(one: Deadline) -> str:
    """Return how a deadline counts: "within 72 hours from the end"."""
    match one.clock:
        case Clock.HOURS if one.since is Since.BEFORE_START and one.count:
            return say("{count} hours before the start", count=one.count)
        case Clock.HOURS if one.since is Since.BEFORE_START:
            return say("before the start")
        case Clock.HOURS | Clock.DAYS | Clock.WORKING_DAYS:
            return say(
                "within {count} {unit} from the {since}",
                count=one.count,
                unit=told(one.clock),
                since=told(one.since),
            )
        case Clock.SAME_DAY:
            return say("on the same local day")
        case Clock.FIXED_DATE if one.month:
            day = Figure(f"{one.month:02d}-{one.day or 1:02d}")
            return say("by {day} of the next year", day=day)
        case Clock.FIXED_DATE:
            return say("by day {day} of the next month", day=one.day or 1)
        case Clock.NO_COUNT:
            return say("with no time stated")
        case _:
            return told(one.clock)


def ingredient(one: IngredientFacts) -> str:
    """Return an active ingredient with its content."""
    content = Said("{name} {content}", {"name": one.name, "content": one.content})
    if one.acid_equivalent is None:
        return content
    return content + say(" (acid equivalent {content})", content=one.acid_equivalent)


def _classes(label: LabelFacts) -> str:
    finest, coarsest = (
        told(parse_class(symbol).words) if symbol else ""
        for symbol in (label.finest_class, label.coarsest_class)
    )
    if finest and coarsest:
        return say("droplets {finest} to {coarsest}", finest=finest, coarsest=coarsest)
    if finest:
        return say("droplets {finest} or coarser", finest=finest)
    return say("droplets {coarsest} or finer", coarsest=coarsest) if coarsest else ""


def product_kind(product: ProductFacts) -> str:
    """Return what kind of product it is, with what an adjuvant does."""
    return _words((product.kind, *product.adjuvant_functions))


def not_counted(s: Snapshot) -> str:
    """Return which products have no label here and so no interval; "" if there are none."""
    names = [
        product.name
        for product in s.products
        if product.label is None and product.kind not in KINDS_WITHOUT_LABEL
    ]
    if not names:
        return ""
    return say("not counted, for the label is blank: {products}", products=listed(names))
