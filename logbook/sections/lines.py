"""The lines of a record, from the declarations of its facts; by hand where one is composed.

Labels are those of the declarations. A value is given as it is, a sentence as a message.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from calc.droplets import parse_class
from calc.nozzle import SIZES
from calc.verdict import Verdict
from logbook.checks.assessment import Assessment, RateLine
from logbook.checks.core import Finding, Run
from logbook.checks.used import used_of
from logbook.facts.choices import BROADCAST
from logbook.facts.intervals import intervals
from logbook.facts.messages import joined, msg, term, with_unit
from logbook.facts.quantity import Answer, Quantity
from logbook.facts.record import (
    CatchTestFacts,
    ContinuedFacts,
    CropFacts,
    CustomerFacts,
    FieldFacts,
    LoadFacts,
    NozzleFacts,
    PersonFacts,
    ProductFacts,
    RecordFacts,
    RigFacts,
    Snapshot,
    WeatherFacts,
)
from logbook.facts.sets import OF_A_RECORD, VALUES
from logbook.facts.spec import Choice, Fact, Section, declared
from logbook.facts.units import ABOVE_GROUND, usual_unit
from logbook.facts.used import Basis
from logbook.facts.wording import as_given, bounds, limits, three
from logbook.law.elements import ELEMENTS
from logbook.sections import phrases
from logbook.sections.document import (
    BLANK,
    Document,
    DocumentSection,
    Line,
    Margin,
    Piece,
    Row,
    Value,
)
from logbook.sections.phrases import both_systems, converted

NO_ENTRY, NO_HARVEST = msg("No entry before"), msg("No harvest before")

OF_THE_RECORD, OF_A_RIG = declared(RecordFacts), declared(RigFacts)
OF_A_PRODUCT, OF_A_LOAD = declared(ProductFacts), declared(LoadFacts)
OF_A_READING = declared(WeatherFacts)

BANDED = tuple(one for one in OF_THE_RECORD.values() if one.banded)


@dataclass(frozen=True)
class _Seen:
    """What the lines are made from."""

    s: Snapshot
    assessment: Assessment

    def holder(self, one: Fact) -> Snapshot | RecordFacts | CropFacts | None:
        """Return the facts that hold a declared one."""
        if one.holder is CropFacts:
            return self.s.crop
        return self.s if one.holder is Snapshot else self.s.record

    def unit(self, dimension: str) -> str:
        """Return the usual unit of a dimension in the system of the entries."""
        return usual_unit((dimension,), system=self.s.system)


Lines = Iterable[Line]


def document(
    s: Snapshot,
    assessment: Assessment,
    *,
    findings: Iterable[Finding] = (),
    runs: Iterable[Run] = (),
) -> Document:
    """Return a record as a document.

    Args: findings and runs of its checks, whose marks stand in the margin.
    """
    seen = _Seen(s, assessment)
    made = (_section(seen, section) for section in Section if section is not Section.NOTES)
    sections = tuple(one for one in made if one.lines or one.rows)
    named = {path: where for section in sections for path, where in section.named()}
    # The law's own name of a statement would lead a reader back to where the law asks for it.
    named |= {path: Section.ASKED.value for path in named if path.startswith("statements")}
    margin = Margin(findings, runs, named, unsaid=unsaid(s))
    return Document(facts=s, sections=sections, margin=margin, named=named)


def unsaid(s: Snapshot) -> frozenset[str]:
    """Return the paths of the values that nobody gave; no check agreed with one of them."""
    return frozenset(
        one.path
        for one in VALUES
        if getattr(s.crop if one.holder is CropFacts else s.record, one.name, None) is None
    )


def _section(seen: _Seen, section: Section) -> DocumentSection:
    lines = [_business(seen)] if section is Section.WHERE else []
    # A note alone is no section.
    held = (section, Section.NOTES) if section is Section.WHAT else (section,)
    for one in OF_A_RECORD:
        if one.section not in held:
            continue
        value = getattr(seen.holder(one), one.name, None)
        if one.name in NEEDED and not value:
            lines.append(_fact(one, None))
        else:
            lines += BY_HAND.get(one.name, _as_declared)(seen, one, value)
    rows = tuple(TABLES[section](seen)) if section in TABLES else ()
    return DocumentSection(id=section.id, title=section.value, lines=tuple(lines), rows=rows)


def line(
    label: str, *pieces: Piece | Value, about: Iterable[str] = (), between: str = ", "
) -> Line:
    """Return a line; a bare value looks as usual, and an empty text is blank.

    Args: as the attributes of `Line`.
    """
    made = (one if isinstance(one, Piece) else Piece(one or None) for one in pieces)
    return Line(label=label, pieces=tuple(made), about=tuple(about), between=between)


def strong(value: Value) -> Piece:
    """Return a piece in strong ink."""
    return Piece(value, "strong")


def quiet(value: Value) -> Piece:
    """Return a piece in quiet ink."""
    return Piece(value, "quiet")


def _fact(one: Fact, value: Any, *about: str) -> Line:
    """Return the line or cell of a declared fact.

    Args: about, the paths at which it stands, where that is not its own.
    """
    if isinstance(one.kind, Choice) and one.kind.many:
        if value is None:
            return line(one.heading, quiet(phrases.NOT_SAID), about=about or (one.path,))
        value = joined(", ", map(term, value or (one.kind.none,)))
    elif isinstance(one.kind, Choice):
        value = value and term(value)
    elif isinstance(value, int):
        value = str(value)
    return line(one.heading, value, about=about or (one.path,))


def _row_path(name: str, place: int) -> tuple[str, ...]:
    """Return the path of a row of a list; the first row stands for the list as a whole too."""
    return (f"{name}.{place}",) if place else (f"{name}.{place}", name)


def _as_declared(seen: _Seen, one: Fact, value: Any) -> Lines:
    if not one.banded or _in_bands(seen):
        yield _fact(one, value)


def _in_bands(seen: _Seen) -> bool:
    """Return whether the spray lay in bands, or a measure of bands was entered all the same."""
    r = seen.s.record
    measures = (r.band_width, r.row_spacing)
    return r.pattern != BROADCAST or any(isinstance(one, Quantity) for one in measures)


def _in_the_table(_seen: _Seen, _one: Fact, _value: Any) -> Lines:
    """Return no line: the fact stands in a table."""
    return ()


# --- where and for whom --------------------------------------------------------------------------


def named(name: str, address: str) -> tuple[Piece, Piece]:
    """Return a name with its address."""
    return strong(name), Piece(phrases.address(address))


def _business(seen: _Seen) -> Line:
    # Name, address and contact details: Pesticides Regulation 2017 (NSW) cl. 36(1)(f).
    one = seen.s.business
    licence = msg("licence {number}", number=one.licence_number or phrases.BLANK)
    phone = msg("telephone {number}", number=one.phone or phrases.BLANK)
    who = named(one.name, one.address)
    return line(msg("Done by"), *who, quiet(licence), quiet(phone), about=("business",))


def _customer(seen: _Seen, one: Fact, who: CustomerFacts) -> Lines:
    yield line(one.heading, *named(who.name, who.address), about=(one.path,))


def _field(seen: _Seen, one: Fact, field: FieldFacts) -> Lines:
    pieces = [strong(field.name), quiet(field.place), quiet(field.time_zone)]
    if field.boundary is None:
        pieces.append(quiet(msg("outline blank")))
    if field.latitude is not None and field.longitude is not None:
        middle = msg(
            "middle {latitude:.5f}, {longitude:.5f} (WGS 84)",
            latitude=field.latitude,
            longitude=field.longitude,
        )
        pieces.append(quiet(middle))
    if field.elevation is not None:
        above = msg("{elevation} above the sea", elevation=both_systems(field.elevation))
        pieces.append(quiet(above))
    yield line(one.heading, *pieces, about=(one.path, "field.boundary"))
    for place, location in enumerate(field.locations):
        about = _row_path("field.locations", place)
        yield line(term(location.kind), location.text, about=about)
    size = [Piece(field.planted_size)]
    if field.area_ha is not None:
        area = converted(field.area_ha, "ha", seen.unit("area"))
        size.append(quiet(msg("by the outline {area}", area=area)))
    yield line(msg("Planted size"), *size, about=("field.planted_size",))


def _crop(seen: _Seen, one: Fact, crop: CropFacts) -> Lines:
    name = f"{crop.name} ({crop.eppo_code})" if crop.eppo_code else crop.name
    planted = msg("planted {day}", day=crop.planted_on or phrases.BLANK)
    yield line(one.heading, name, quiet(planted), about=(one.path,))


def _growth_stage(seen: _Seen, one: Fact, stage: int | None) -> Lines:
    yield _fact(one, None if stage is None else msg("BBCH {stage:02d}", stage=stage))
    names = _product_names(seen)
    other = msg("a product not in this mix")
    uses = [phrases.earlier_use(use, names.get(use.product_id, other)) for use in seen.s.earlier]
    if uses:
        yield line(msg("Other uses here"), joined("; ", uses), about=("earlier",))


def _product_names(seen: _Seen) -> dict[str, str]:
    return {product.product_id: product.name for product in seen.s.products}


# --- what and with what --------------------------------------------------------------------------


def _products(seen: _Seen) -> Iterator[Row]:
    for place, product in enumerate(seen.s.products):
        path, label = f"products.{place}", product.label
        name = [strong(product.name)]
        if label and label.restricted_use:
            name.append(strong(phrases.RESTRICTED_USE))
        kind = phrases.product_kind(product)
        edition: tuple[Piece, ...] = (BLANK,)
        if label:
            edition = (Piece(phrases.edition(label)), quiet(phrases.label_says(label)))
        yield Row(
            (
                line(msg("Product"), *name),
                line(msg("Kind, registrant"), kind, product.registrant or msg("registrant blank")),
                line(
                    msg("Registration no."),
                    product.registration_number,
                    about=(f"{path}.registration_number",),
                ),
                _fact(OF_A_PRODUCT["target"], product.target, f"{path}.target"),
            ),
            about=_row_path("products", place),
            below=line(
                OF_A_PRODUCT["label"].heading, *edition, about=(f"{path}.label",), between=": "
            ),
        )


def _rig(seen: _Seen, one: Fact, rig: RigFacts) -> Lines:
    plate = msg("plate {plate}", plate=rig.plate or phrases.BLANK)
    tank = msg("tank {tank}", tank=both_systems(rig.tank))
    yield line(one.heading, strong(rig.name), quiet(plate), tank, about=(one.path,))
    nozzles = msg(
        "{count} nozzles at {spacing}", count=rig.nozzle_count, spacing=both_systems(rig.spacing)
    )
    metre_or_foot = usual_unit(("length",), system=seen.s.system, units=ABOVE_GROUND)
    swath = msg("swath {width}", width=converted(rig.swath_m, "m", metre_or_foot))
    yield line(msg("Boom"), nozzles, swath, quiet(phrases.rig_accuracy(rig)))
    loss, flow = OF_A_RIG["line_loss"], rig.line_loss_flow
    pieces = [Piece(rig.line_loss)]
    if isinstance(rig.line_loss, Quantity):
        at = both_systems(flow) if isinstance(flow, Quantity) else flow or phrases.BLANK
        pieces.append(Piece(msg("at {flow}", flow=at)))
    yield line(loss.heading, *pieces, about=(loss.path, OF_A_RIG["line_loss_flow"].path))


def _nozzle(seen: _Seen, one: Fact, nozzle: NozzleFacts) -> Lines:
    pieces = [strong(nozzle.name), Piece(term(nozzle.kind))]
    if nozzle.angle is not None:
        pieces.append(Piece(f"{nozzle.angle}°"))
    swatch = f"size-{nozzle.size}" if nozzle.size in SIZES else ""
    pieces.append(Piece(phrases.nozzle_size(nozzle.size), swatch))
    mounted = msg("mounted {day}", day=seen.s.nozzle_mounted_on or phrases.BLANK)
    pieces += [quiet(mounted), quiet(phrases.nozzle_sheet(nozzle))]
    yield line(one.heading, *pieces, about=(one.path, "nozzle_mounted_on"))


def _catch_test(seen: _Seen, one: Fact, test: CatchTestFacts | None) -> Lines:
    s = seen.s
    found = phrases.catch_test(test, s.nozzle, s.system) if test else msg("none on file")
    yield line(one.heading, found, about=(one.path,))


def _duty(seen: _Seen, one: Fact, duty: Answer) -> Lines:
    yield _assumed(seen, one, duty, msg("computed with 100 %, no valve pulsing"))


def _assumed(seen: _Seen, one: Fact, answer: Answer, taken: str) -> Line:
    """Return the line of an answer; where nobody gave it, what the flow was computed with."""
    if answer is not None or seen.assessment.nozzle_flow_l_min is None:
        return _fact(one, answer)
    return line(one.heading, quiet(phrases.NOT_SAID), quiet(taken), about=(one.path,))


def _density(seen: _Seen, one: Fact, density: Answer) -> Lines:
    yield _assumed(seen, one, density, msg("computed as water"))
    # What follows from the setting stands before the pattern, which the bands follow.
    flow, pressure = seen.assessment.nozzle_flow_l_min, seen.assessment.nozzle_pressure_kpa
    at_nozzle: list[str] = [msg("not computed")]
    if flow is not None and pressure is not None:
        read = seen.s.record.pressure
        unit = seen.unit("pressure")
        if isinstance(read, Quantity) and not seen.s.business.unit_system:
            unit = read.unit
        each = msg("{flow} each", flow=converted(flow, "L/min", seen.unit("flow")))
        at_nozzle = [converted(pressure, "kPa", unit), each]
    yield line(msg("At the nozzle"), *at_nozzle)
    classes = [
        Piece(term(parse_class(symbol).words), f"class-{symbol}")
        for symbol in seen.assessment.classes
    ] or [Piece(msg("not known from the nozzle's own table"))]
    yield line(msg("Droplet class"), *classes, between=msg(" or "))


def _pattern(seen: _Seen, one: Fact, pattern: str) -> Lines:
    hidden = () if _in_bands(seen) else (fact.path for fact in BANDED)
    yield _fact(one, pattern, one.path, *hidden)


# --- when and by whom ----------------------------------------------------------------------------


def person(one: PersonFacts) -> tuple[Piece, Piece]:
    """Return a person with the licences and trainings on file."""
    return strong(one.name), quiet(phrases.papers(one))


def _person(_seen: _Seen, one: Fact, who: PersonFacts | None) -> Lines:
    yield line(one.heading, *(person(who) if who else (msg("nobody named"),)), about=(one.path,))


def _crew(seen: _Seen, one: Fact, crew: Iterable[PersonFacts]) -> Lines:
    for place, member in enumerate(crew):
        yield line(one.heading, *person(member), about=_row_path(one.path, place))


def _continues(seen: _Seen, one: Fact, before: ContinuedFacts | None) -> Lines:
    if before:
        number = msg("a draft not yet signed")
        if before.number:
            number = msg("record no. {number}", number=before.number)
        begun = msg("begun on a day left blank")
        if before.day:
            begun = msg("begun {day}", day=before.day)
        yield line(one.heading, number, begun, about=(one.path,))


def _finished(seen: _Seen, one: Fact, end: datetime | None) -> Lines:
    yield _fact(one, end)
    yield from waiting(seen.s)


def waiting(s: Snapshot) -> Iterator[Line]:
    """Yield until when the field is closed to workers and to harvest, and how that was counted."""
    ends = intervals(s)
    entry = harvest = ""
    if ends.entry_hours is not None:
        entry = msg(
            "{hours} h from the end, by {products}",
            hours=phrases.trimmed(ends.entry_hours),
            products=ends.entry_product,
        )
    if ends.harvest_days is not None:
        harvest = msg(
            "{days} d by {products}, day 1 being the day after the end",
            days=ends.harvest_days,
            products=ends.harvest_product,
        )
    yield _interval(s, NO_ENTRY, ends.entry_from, entry)
    yield _interval(s, NO_HARVEST, ends.harvest_from, harvest)


def _interval(s: Snapshot, label: str, end: datetime | date | None, counted: str) -> Line:
    if end:
        pieces = [strong(end), quiet(counted)]
    elif counted:
        pieces = [Piece(msg("not computed: the end of the spraying is blank"))]
    else:
        pieces = [Piece(msg("no interval on the labels on file"))]
    if left_out := phrases.not_counted(s):
        pieces.append(quiet(left_out))
    return line(label, *pieces)


def _readings(seen: _Seen) -> Iterator[Row]:
    for place, reading in enumerate(seen.s.weather):
        path = f"weather.{place}"
        cells = (
            _fact(one, getattr(reading, name), f"{path}.{one.path}")
            for name, one in OF_A_READING.items()
        )
        yield Row(tuple(cells), about=_row_path("weather", place))


# --- amounts and loads ---------------------------------------------------------------------------


def _rates(seen: _Seen) -> Iterator[Row]:
    """Yield what was planned, used, asked and delivered, of the mix and of each product."""
    rates = {rate.path: rate for rate in seen.assessment.lines}
    r, carrier = seen.s.record, rates.get("planned_carrier")
    yield _rate(
        (strong(msg("Carrier")), quiet(msg("the mix as sprayed"))),
        _fact(OF_THE_RECORD["planned_carrier"], r.planned_carrier),
        _fact(OF_THE_RECORD["mix_used"], r.mix_used),
        asked(carrier, carrier.unit) if carrier else "",
        carrier,
    )
    for place, product in enumerate(seen.s.products):
        path, label = f"products.{place}", product.label
        planned, used = (f"{path}.{name}" for name in ("planned_rate", "total_used"))
        ends = (label.rate_min, label.rate_max) if label else ()
        asks = limits(*ends) if any(ends) else ""
        yield _rate(
            (strong(product.name),),
            _fact(OF_A_PRODUCT["planned_rate"], product.planned_rate, planned),
            _used(seen.s, place, _fact(OF_A_PRODUCT["total_used"], product.total_used, used)),
            asks if label else msg("label blank"),
            rates.get(planned),
        )


def _used(s: Snapshot, place: int, total: Line) -> Line:
    """Return the cell of a total with the rate that it comes to on the treated area."""
    used = used_of(s, place, tuple)
    if used is None or used.basis is not Basis.TOTAL:
        return total
    rate = with_unit(three(float(used.rate.value)), used.rate.unit)
    return replace(total, pieces=(*total.pieces, quiet(rate)), between="\n")


def asked(rate: RateLine, unit: str = "") -> str:
    """Return what the label asks of a rate, "15 to 20" or "at most 20"; "" where it is silent."""
    low, high = (None if end is None else as_given(end) for end in (rate.label_min, rate.label_max))
    return bounds(low, high, unit) if low or high else ""


def _rate(
    subject: Iterable[Piece], planned: Line, used: Line, asks: str, rate: RateLine | None
) -> Row:
    delivered = [Piece(msg("not computed"))]
    if rate and rate.delivered is not None:
        delivered = [Piece(with_unit(three(rate.delivered), rate.unit))]
        if rate.ends is not None:
            low, high = rate.ends
            delivered.append(quiet(bounds(three(low), None if high is None else three(high))))
    outcomes = [*_outcomes(rate)] if rate else []
    against = outcomes or [quiet(msg("nothing to compare"))]
    return Row(
        (
            line(msg("Line"), *subject, between="\n"),
            planned,
            used,
            line(msg("Label asks"), asks or msg("silent")),
            line(msg("Delivered"), *delivered, between="\n"),
            line(msg("Against label and plan"), *against, between="\n"),
        ),
        rate=rate,
    )


def _outcomes(rate: RateLine) -> Iterator[Piece]:
    """Yield how the delivered rate stands, each answer with its mark."""
    of_label, of_plan = (mark or "quiet" for mark in rate.marks)
    if label := rate.against_label:
        yield Piece(msg("label: {outcome}", outcome=term(label)), of_label)
    if rate.at_limit:
        yield quiet(rate.at_limit)
    if plan := rate.against_planned:
        yield Piece(msg("plan: {outcome}", outcome=term(plan)), of_plan)
    if rate.look_again and plan != Verdict.LOOK_AGAIN:
        yield Piece(msg("look again"))


def _loads(seen: _Seen) -> Iterator[Row]:
    names, other = _product_names(seen), msg("a product not in this record")
    for place, load in enumerate(seen.s.loads):
        path = f"loads.{place}"
        parts = [(names.get(one.product_id, other), both_systems(one.amount)) for one in load.parts]
        put_in: list[Piece | str] = [joined(" ", pair) for pair in parts]
        shared = msg("load shared") if load.shared else msg("load not shared")
        order = OF_A_LOAD["order"]
        yield Row(
            (
                line(msg("Load"), str(place + 1)),
                *(
                    _fact(one, getattr(load, one.name), f"{path}.{one.path}")
                    for one in (OF_A_LOAD["mixed_volume"], OF_A_LOAD["used_here"])
                ),
                line(msg("Put in"), *put_in or [BLANK], between="; "),
                line(
                    order.heading,
                    msg("field {place}", place=load.order),
                    shared,
                    about=(f"{path}.{order.path}",),
                ),
            ),
            about=_row_path("loads", place),
        )


# --- what a law or a label asks to be stated -----------------------------------------------------


def _statements(seen: _Seen, one: Fact, given: dict[str, str]) -> Lines:
    order = list(ELEMENTS)
    names = sorted(given, key=lambda name: order.index(name) if name in order else len(order))
    for place, name in enumerate(names):
        about = (f"{one.path}.{name}", *(() if place else (one.path,)))
        yield line(phrases.element(name), given[name], about=about)


BY_HAND: dict[str, Callable[[_Seen, Fact, Any], Lines]] = {
    "customer": _customer,
    "field": _field,
    "crop": _crop,
    "growth_stage_bbch": _growth_stage,
    "products": _in_the_table,
    "rig": _rig,
    "nozzle": _nozzle,
    "catch_test": _catch_test,
    "duty": _duty,
    "density": _density,
    "pattern": _pattern,
    "applicator": _person,
    "supervisor": _person,
    "crew": _crew,
    "continues": _continues,
    "finished_at": _finished,
    "weather": _in_the_table,
    "planned_carrier": _in_the_table,
    "mix_used": _in_the_table,
    "loads": _in_the_table,
    "statements": _statements,
}
"""The lines that are more than a plain value, by the name of the fact at which they stand."""

NEEDED = frozenset(
    ["customer", "field", "crop", "applicator", "rig", "nozzle", "products", "weather", "loads"]
)
"""The rows that a record has to have: their lines say that they are blank."""

TABLES = {
    Section.WHAT: _products,
    Section.WEATHER: _readings,
    Section.AMOUNTS: _rates,
    Section.LOADS: _loads,
}
