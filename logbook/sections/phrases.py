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
from logbook.facts.messages import Figure, Message, joined, msg, term, with_unit
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
from logbook.facts.used import Basis
from logbook.facts.wording import limits, listed, three
from logbook.law.elements import ELEMENTS

BLANK, NOT_SAID, RESTRICTED_USE = msg("blank"), msg("not said"), msg("RESTRICTED USE")


def papers(one: PersonFacts) -> str:
    """Return the licences and trainings of a person that are on file."""
    held = [*map(_licence, one.licences), *map(_training, one.trainings)]
    return joined("; ", held) if held else msg("no licence and no training on file")


_CERTIFIED = {
    True: msg("certified for restricted use"),
    False: msg("not certified for restricted use"),
    None: msg("not said whether certified for restricted use"),
}


def _licence(one: LicenceFacts) -> str:
    categories = (
        msg("categories {categories}", categories=", ".join(one.categories))
        if one.categories
        else msg("no category")
    )
    return msg(
        "licence {number}, {authority}, {place}, {categories}, {certified}, valid {start} to {end}",
        number=one.number,
        authority=one.authority,
        place=one.place,
        categories=categories,
        certified=_CERTIFIED[one.certified],
        start=one.valid_from,
        end=one.expires_on,
    )


def _training(one: TrainingFacts) -> str:
    trained = msg(
        "trained {day} by {trainer}: {content}",
        day=one.trained_on,
        trainer=one.trainer,
        content=one.content,
    )
    return trained + msg(", valid to {day}", day=one.expires_on) if one.expires_on else trained


def address(text: str) -> str:
    """Return an address, which may have been entered on several lines, on one."""
    lines = (line.strip() for line in text.splitlines())
    return ", ".join(line for line in lines if line) or msg("address blank")


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
    return Message(template, {"entered": quantity, "other": Figure(quantity.other)})


def rig_accuracy(rig: RigFacts) -> str:
    """Return the accuracies of a rig, as half-widths."""
    known = msg(
        "gauge ±{gauge}, speed ±{speed}, spacing ±{spacing}, tank ±{tank}",
        gauge=rig.gauge_accuracy,
        speed=rig.speed_accuracy,
        spacing=percent(rig.spacing_accuracy_percent),
        tank=percent(rig.tank_accuracy_percent),
    )
    if rig.gauge_repeatability is None:
        return known
    return msg("{known}, gauge repeats ±{gauge}", known=known, gauge=rig.gauge_repeatability)


def nozzle_size(size: str) -> str:
    """Return a size with the word of its ISO 10625 colour, "size 04, red"."""
    if known := SIZES.get(size):
        return msg("size {size}, {colour}", size=size, colour=term(known.colour))
    return msg("size {size}", size=size) if size else msg("no ISO 10625 size")


def nozzle_sheet(nozzle: NozzleFacts) -> str:
    """Return what the data sheet of a nozzle states."""
    classes = [
        msg("{symbol} at {pressure}", symbol=row.droplet_class, pressure=row.pressure)
        for row in nozzle.class_table
    ]
    return msg(
        "rated {flow} at {pressure} ±{accuracy}, for {range}, flow by pressure to the power "
        "{exponent}; {classes}",
        flow=nozzle.rated_flow,
        pressure=nozzle.rated_pressure,
        accuracy=percent(nozzle.flow_accuracy_percent),
        range=limits(nozzle.pressure_min, nozzle.pressure_max),
        exponent=trimmed(nozzle.exponent),
        classes=msg("droplets {classes}", classes=joined(", ", classes))
        if classes
        else msg("no droplet classes"),
    )


def catch_test(test: CatchTestFacts, nozzle: NozzleFacts | None, system: str) -> str:
    """Return a catch test: when, by whom, mean and spread, and the nozzles that stand out.

    What each nozzle gave stands in the seal.

    Args: system of units of the mean, "us" or "metric".
    """
    at: str = Message("{pressure}", {"pressure": test.pressure})
    if test.gauge == "own":
        at = msg("{pressure} on the rig’s own gauge", pressure=test.pressure)
    elif test.gauge_accuracy is not None:
        at = msg(
            "{pressure} on another gauge, ±{gauge}",
            pressure=test.pressure,
            gauge=test.gauge_accuracy,
        )
    elif test.gauge:
        at = msg("{pressure} on another gauge", pressure=test.pressure)
    return msg(
        "{day} by {who}, {count} nozzles for {time} at {pressure}, ±{accuracy}: {result}",
        day=test.tested_on,
        who=test.tested_by or BLANK,
        count=len(test.volumes),
        time=test.time,
        pressure=at,
        accuracy=percent(test.accuracy_percent),
        result=_caught(test, nozzle, usual_unit(("flow",), system=system)),
    )


def _caught(test: CatchTestFacts, nozzle: NozzleFacts | None, unit: str) -> str:
    try:
        shown = caught(test, new=nozzle)
    except OutOfRange as refusal:
        return msg("not evaluated, {why}", why=out_of_range(refusal))
    share = with_unit(Figure(f"{100.0 * EVENNESS_LIMIT:.0f}"), "%")
    if shown.uneven:
        even = msg("{nozzles} outside ±{share} of it", nozzles=_numbered(shown.uneven), share=share)
    else:
        even = msg("all within ±{share} of it", share=share)
    if shown.worn is None:
        worn = msg("wear not known")
    elif shown.worn:
        worn = msg("{nozzles} worn", nozzles=_numbered(shown.worn))
    else:
        worn = msg("none worn")
    mean = converted(shown.mean_l_min, "L/min", unit)
    return msg(
        "mean {mean}, CV {cv:.1f} %; {even}; {worn}",
        mean=mean,
        cv=100.0 * shown.cv,
        even=even,
        worn=worn,
    )


def _numbered(numbers: Sequence[int]) -> str:
    if len(numbers) > 1:
        return msg("nozzles {numbers}", numbers=listed(map(str, numbers)))
    return msg("nozzle {number}", number=numbers[0])


def earlier_use(use: EarlierUse, product: str) -> str:
    """Return an earlier use on the same field."""
    told_of = msg("record no. {number}", number=use.record_number)
    return msg(
        "{day} {product}, {rate} ({record})",
        day=use.applied_on,
        product=product,
        rate=_rate_used(use),
        record=joined(", ", (told_of, msg("the same job"))) if use.same_job else told_of,
    )


def _rate_used(use: EarlierUse) -> str:
    if use.rate is None:
        return msg("rate blank")
    if use.basis == Basis.PLANNED:
        return msg("{rate} planned", rate=use.rate)
    rate = with_unit(three(float(use.rate.value)), use.rate.unit)
    if use.basis == Basis.DELIVERED:
        return msg("{rate} delivered, as computed", rate=rate)
    return msg("{rate} used", rate=rate)


def edition(label: LabelFacts) -> str:
    """Return a label edition and the days it is in force."""
    dates = {"edition": label.edition, "start": label.in_force_from, "end": label.in_force_to}
    if label.in_force_to:
        return msg("edition {edition}, in force {start} to {end}", **dates)
    return msg("edition {edition}, in force {start} on", **dates)


def label_says(label: LabelFacts) -> str:
    """Return all that a label edition sets, as one line; a label silent on all says so."""
    return joined("; ", _label(label)) or msg("sets no limit on file")


def _label(label: LabelFacts) -> Iterator[str]:
    if label.restricted_use is None:
        yield msg("not said whether for restricted use")
    if label.ingredients:
        yield joined(", ", map(ingredient, label.ingredients))
    if label.rate_min or label.rate_max:
        yield msg("rate {limits}", limits=limits(label.rate_min, label.rate_max))
    if label.carrier_min or label.carrier_max:
        yield msg("carrier {limits}", limits=limits(label.carrier_min, label.carrier_max))
    if classes := _classes(label):
        yield classes
    if label.wind_min or label.wind_max:
        yield msg("wind {limits}", limits=limits(label.wind_min, label.wind_max))
    if label.temperature_min or label.temperature_max:
        yield msg("air {limits}", limits=limits(label.temperature_min, label.temperature_max))
    if label.boom_height_max:
        yield msg("boom at most {height} above the target", height=label.boom_height_max)
    if label.minutes_after_sunrise is not None:
        yield msg("not before {minutes} min after sunrise", minutes=label.minutes_after_sunrise)
    if label.minutes_before_sunset is not None:
        yield msg("not later than {minutes} min before sunset", minutes=label.minutes_before_sunset)
    if label.inversion_forbidden:
        yield msg("not in an inversion")
    if label.reentry_hours is not None:
        yield msg("re-entry {hours} h", hours=trimmed(label.reentry_hours))
    if label.worker_warning == "both":
        yield msg("workers warned orally and by signs, both")
    if label.preharvest_days is not None:
        yield msg("before harvest {days} d", days=label.preharvest_days)
    if label.season_max:
        yield msg("at most {amount} a season", amount=label.season_max)
    if label.applications_max is not None:
        yield msg("at most {count} applications", count=label.applications_max)
    if label.interval_days is not None:
        yield msg("{days} d between applications", days=label.interval_days)
    if label.required_adjuvants:
        yield msg("with {adjuvants}", adjuvants=_words(label.required_adjuvants))
    if label.forbidden_adjuvants:
        yield msg("without {adjuvants}", adjuvants=_words(label.forbidden_adjuvants))
    if label.no_drift_reducer_with_air_induction:
        yield msg("no drift reducer with air-induction nozzles")
    if label.required_category:
        yield msg("category {category}", category=label.required_category)
    if label.supervised_use_allowed is False:
        yield msg("not by a helper under supervision")
    if label.classes:
        yield msg("of the class {classes}", classes=_words(label.classes))
    if label.training:
        yield msg("training {training}", training=label.training)
    if label.asks:
        asked = (element(one.name, one.detail) for one in label.asks)
        yield msg("wants recorded {elements}", elements=joined(", ", asked))
    yield from map(_due, label.deadlines)
    for keep in label.retention:
        yield msg("kept {years} years from the {since}", years=keep.years, since=term(keep.since))


def _words(words: Sequence[str]) -> str:
    return joined(", ", map(term, words))


def element(name: str, detail: str = "") -> str:
    """Return what an element of the record is called, with what the law or label says of it."""
    title = term(ELEMENTS[name].title) if name in ELEMENTS else name
    return Message("{title} ({detail})", {"title": title, "detail": detail}) if detail else title


def _due(one: Deadline) -> str:
    """Return a deadline: "copy to the customer within 30 calendar days from the end"."""
    kind = term(one.kind)
    if one.to is Party.SELF:
        due = joined(" ", (kind, counted(one)))
    else:
        due = msg(
            "{kind} to the {party} {by_when}", kind=kind, party=term(one.to), by_when=counted(one)
        )
    return joined(", ", (due, one.detail)) if one.detail else due


def counted(one: Deadline) -> str:
    """Return how a deadline counts: "within 72 hours from the end"."""
    match one.clock:
        case Clock.HOURS if one.since is Since.BEFORE_START and one.count:
            return msg("{count} hours before the start", count=one.count)
        case Clock.HOURS if one.since is Since.BEFORE_START:
            return msg("before the start")
        case Clock.HOURS if not one.count:
            return msg("by the end of the work")
        case Clock.HOURS | Clock.DAYS | Clock.WORKING_DAYS:
            return msg(
                "within {count} {unit} from the {since}",
                count=one.count,
                unit=term(one.clock),
                since=term(one.since),
            )
        case Clock.SAME_DAY:
            return msg("on the same local day")
        case Clock.FIXED_DATE if one.month:
            day = Figure(f"{one.month:02d}-{one.day or 1:02d}")
            return msg("by {day} of the next year", day=day)
        case Clock.FIXED_DATE:
            return msg("by day {day} of the next month", day=one.day or 1)
        case Clock.NO_COUNT:
            return msg("with no time stated")
        case _:
            return term(one.clock)


def ingredient(one: IngredientFacts) -> str:
    """Return an active ingredient with its content."""
    content = Message("{name} {content}", {"name": one.name, "content": one.content})
    if one.acid_equivalent is None:
        return content
    return content + msg(" (acid equivalent {content})", content=one.acid_equivalent)


def _classes(label: LabelFacts) -> str:
    finest, coarsest = (
        term(parse_class(symbol).words) if symbol else ""
        for symbol in (label.finest_class, label.coarsest_class)
    )
    if finest and coarsest:
        return msg("droplets {finest} to {coarsest}", finest=finest, coarsest=coarsest)
    if finest:
        return msg("droplets {finest} or coarser", finest=finest)
    return msg("droplets {coarsest} or finer", coarsest=coarsest) if coarsest else ""


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
    return msg("not counted, for the label is blank: {products}", products=listed(names))
