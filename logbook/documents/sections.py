"""The sections of the signed record, in the order of the page on screen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from calc.droplets import parse_class
from calc.verdict import Outcome
from logbook.documents import marks, phrases, strip, words
from logbook.documents.drawing import Drawing
from logbook.documents.ledger import ONE, TWO, Fact, Group, Ledger
from logbook.documents.page import LEFT, NBSP, SMALL, Beside, Row, Run, Runs, Sheet
from logbook.documents.sketch import field_sketch, mean_wind_from
from logbook.documents.window import draw_window, units_of, window_of
from logbook.facts.quantity import Answer, Quantity
from logbook.facts.record import FieldFacts, ProductFacts, RecordFacts, RigFacts
from logbook.records.sealed import SealedRecord
from logbook.rules.assessment import RateLine
from logbook.rules.core import Finding, RunState
from logbook.rules.duties.elements import ELEMENTS
from logbook.rules.wording import three

SKETCH = {"width": 124.0, "height": 78.0, "size": SMALL}
WINDOW = {"width": 190.0, "height": 88.0, "size": SMALL}

AS_SOLD = "Rates are of the product as sold, totals undiluted."

SHORT_NOTE = 60
"""Letters of a note that stand in half the width."""

PATTERN = ("pattern", "band_width", "row_spacing", "nozzles_per_row")


class Sections:
    """The sections of one record, filling a sheet."""

    def __init__(self, sheet: Sheet, sealed: SealedRecord) -> None:
        self.sheet = sheet
        self.sealed = sealed
        self.facts = sealed.snapshot
        self.assessment = sealed.assessment
        self.zone = self.facts.zone
        self.units = units_of(self.facts)
        self.system = self.units.name
        self.flow_unit = "gal/min" if self.system == "us" else "L/min"
        self.ledger = Ledger(sheet, sealed.findings)

    def put_all(self) -> None:
        """Put every section, in order."""
        self.where()
        self.what()
        self.with_what()
        self.when_and_weather()
        self.amounts()
        self.check()

    def where(self) -> None:
        """Put where it was, for whom and by whom, beside a sketch of the field."""
        field = self.facts.field
        drawing = None
        if field is not None and field.boundary is not None:
            drawing = field_sketch(
                field.boundary,
                name=field.name,
                wind_from_deg=mean_wind_from(self.facts.weather),
                system=self.system,
                **SKETCH,
            )
        self.sheet.section("Where, for whom, by whom", keep=drawing.height if drawing else 40.0)
        # A supervisor's papers need the whole width, "nobody named" does not.
        shares = ONE if self.facts.supervisor else TWO
        groups = [Group(list(self._where())), Group(list(self._size_and_supervisor()), shares)]
        self.ledger.facts_beside(groups, drawing)

    def _where(self) -> Iterator[Fact]:
        s = self.facts
        business, customer = s.business, s.customer
        licence = f", licence {business.licence_number or 'blank'}"
        # Name, address and contact details: Pesticides Regulation 2017 (NSW) cl. 36(1)(f).
        licence += f", telephone {business.phone}" if business.phone else ""
        yield Fact(
            "Done by", (*phrases.named(business.name, business.address), Run(licence, "quiet"))
        )
        who = phrases.named(customer.name, customer.address) if customer else (words.BLANK,)
        yield Fact("For", who, ("customer",))
        if s.field is None:
            yield Fact("Field", (words.BLANK,), ("field",))
        else:
            yield from self._field(s.field)
        yield Fact("Crop", phrases.crop(s.crop) if s.crop else (words.BLANK,), ("crop",))
        yield Fact("Sprayed by", phrases.person(s.applicator), ("applicator",))
        for place, member in enumerate(s.crew):
            yield Fact("And by", phrases.person(member), (f"crew.{place}",))

    def _size_and_supervisor(self) -> Iterator[Fact]:
        supervisor, field = self.facts.supervisor, self.facts.field
        if field is not None:
            size = words.answer(field.planted_size)
            if field.area_ha is not None:
                unit = "ac" if self.system == "us" else "ha"
                outline = words.computed(field.area_ha, "ha", unit)
                size += (*words.quiet("; by the outline "), *outline)
            yield Fact("Planted size", size)
        told = phrases.person(supervisor) if supervisor else (Run("nobody named"),)
        yield Fact("Supervised by", told, ("supervisor",))

    def _field(self, field: FieldFacts) -> Iterator[Fact]:
        name: Runs = (
            Run(field.name, bold=True),
            *words.quiet(f" in {field.place}, {field.time_zone}"),
        )
        if field.boundary is None:
            name += words.quiet(", outline blank")
        if field.latitude is not None and field.longitude is not None:
            middle = f"; middle {field.latitude:.5f}, {field.longitude:.5f} (WGS 84)"
            name += words.quiet(middle)
        yield Fact("Field", name, ("field",))
        for place in field.locations:
            yield Fact(place.kind.capitalize(), (Run(place.text),))

    def what(self) -> None:
        """Put the products, with all that their label editions ask."""
        self.sheet.section("What", keep=50.0)
        shares = ("Product", 0.28), ("Kind, registrant", 0.34), ("Registration no.", 0.14)
        columns = self.ledger.columns((*shares, ("Against", 0.24)))
        rows = [row for place in range(len(self.facts.products)) for row in self._product(place)]
        if rows:
            rows[0] = _also(rows[0], self.ledger.beside_whole("products"))
            self.sheet.table(columns, rows, gap=1.2, ruled=True)
        else:
            blank = Fact("Products", (words.BLANK,), ("products",))
            self.ledger.facts([blank], room=self.ledger.room)
        record, names = self.facts.record, self._names()
        facts = [
            Fact("Purpose", words.said(record.purpose), ("purpose",)),
            Fact("Note", words.said(record.note), ("note",)),
        ]
        if record.statements:
            told = (self._stated(name) for name in sorted(record.statements, key=_place_of))
            facts.append(Fact("Stated", words.lines(*told), ("statements",)))
        if self.facts.earlier:
            uses = "; ".join(
                phrases.earlier_use(use, names.get(use.product_id, "a product not in this mix"))
                for use in self.facts.earlier
            )
            facts.append(Fact("Other uses here", (Run(uses),)))
        # A long note has the whole width.
        halves = TWO if len(record.note) <= SHORT_NOTE else ONE
        self.ledger.facts(facts[:2], room=self.ledger.room, shares=halves)
        if len(facts) > 2:
            self.ledger.facts(facts[2:], room=self.ledger.room)

    def _stated(self, name: str) -> Runs:
        """Return what a person stated in words, because the law or a label wants it recorded."""
        said = words.said(self.facts.record.statements[name])
        return (*words.quiet(f"{phrases.element(name)}: "), *said)

    def _names(self) -> dict[str, str]:
        return {product.product_id: product.name for product in self.facts.products}

    def _product(self, place: int) -> Iterator[Row]:
        """Yield the row of a product, and below it what its label asks."""
        product, path = self.facts.products[place], f"products.{place}"
        label = product.label
        name: Runs = (Run(product.name, bold=True),)
        if label is not None and label.restricted_use:
            name += (Run(" RESTRICTED USE", bold=True),)
        kind = f"{phrases.product_kind(product)}; {product.registrant or 'registrant blank'}"
        amounts = self.ledger.beside(*_amounts_of(path))
        beside = tuple(one for one in self.ledger.beside(path) if one not in amounts)
        number, target = words.said(product.registration_number), words.said(product.target)
        yield Row((name, (Run(kind),), number, target), beside)
        if label is None:
            yield Row(((Run("Label: ", "quiet"), words.BLANK),), spans=True)
        else:
            asks = words.quiet(f": {phrases.label_says(label)}.")
            yield Row(((Run(f"Label {phrases.edition(label)}"), *asks),), spans=True)

    def with_what(self) -> None:
        """Put the rig and its setting, beside the window of its nozzle."""
        window = window_of(self.facts, self.assessment)
        drawing = draw_window(window, units=self.units, **WINDOW) if window else None
        self.sheet.section("With what", keep=drawing.height if drawing else 40.0)
        groups = [Group(list(self._with_what())), Group(list(self._settings()), TWO)]
        self.ledger.facts_beside(groups, drawing)

    def _with_what(self) -> Iterator[Fact]:
        s = self.facts
        nozzle, test = s.nozzle, s.catch_test
        if s.rig is None:
            yield Fact("Rig", (words.BLANK,), ("rig",))
        else:
            yield from self._rig(s.rig)
        told = tuple(phrases.nozzle(nozzle, s.nozzle_mounted_on)) if nozzle else (words.BLANK,)
        yield Fact("Nozzle", told, ("nozzle", "nozzle_mounted_on"))
        caught = phrases.catch_test(test, nozzle, self.flow_unit) if test else "none on file"
        yield Fact("Catch test", (Run(caught),), ("catch_test",))

    def _settings(self) -> Iterator[Fact]:
        r = self.facts.record
        yield Fact("Gauge pressure", words.answer(r.pressure), ("pressure",))
        yield Fact("Ground speed", words.answer(r.speed), ("speed",))
        yield Fact("Boom to target", words.answer(r.boom_height), ("boom_height",))
        yield Fact("Pattern", tuple(_pattern(r)), PATTERN)
        yield Fact("Pulse duty", words.answer(r.duty), ("duty",))
        yield Fact("Mix density", words.answer(r.density), ("density",))
        yield Fact("At the nozzle", self._at_nozzle())
        yield Fact("Droplet class", tuple(self._classes()))

    def _rig(self, rig: RigFacts) -> Iterator[Fact]:
        plate = words.quiet(f", plate {rig.plate or 'blank'}, tank ")
        about = (Run(rig.name, bold=True), *plate, *words.entered(rig.tank))
        yield Fact("Rig", about, ("rig",))
        swath = words.computed(rig.swath_m, "m", self.units.length)
        nozzles: Runs = (Run(f"{rig.nozzle_count} nozzles at "), *words.entered(rig.spacing))
        sureness = words.quiet(f"; {phrases.rig_sureness(rig)}")
        yield Fact("Boom", (*nozzles, Run(", swath "), *swath, *sureness))
        loss = words.answer(rig.line_loss)
        if isinstance(rig.line_loss, Quantity):
            loss = (*loss, Run(" at "), *words.answer(rig.line_loss_flow))
        yield Fact("Line loss", loss)

    def _at_nozzle(self) -> Runs:
        flow, pressure = self.assessment.nozzle_flow_l_min, self.assessment.nozzle_pressure_kpa
        if flow is None or pressure is None:
            return (Run("not computed"),)
        return (
            *words.computed(pressure, "kPa", self.units.pressure),
            Run(", "),
            *words.computed(flow, "L/min", self.flow_unit),
            *words.quiet(" each"),
        )

    def _classes(self) -> Iterator[Run]:
        if not self.assessment.classes:
            yield Run("not known from the nozzle's own table")
        for place, symbol in enumerate(self.assessment.classes):
            if place:
                yield Run(" or ")
            yield words.swatch(f"swatch-class-{symbol}")
            yield Run(f"{NBSP}{parse_class(symbol).words}")

    def when_and_weather(self) -> None:
        """Put the times at the field, the intervals that follow, and every reading."""
        s, sheet = self.facts, self.sheet
        sheet.section("When and weather", keep=50.0)
        if s.continues is not None:
            goes_on = Fact("Goes on from", (Run(phrases.continued(s.continues)),), ("continues",))
            self.ledger.facts([goes_on], room=self.ledger.room)
        started = words.at_field(s.record.started_at, self.zone)
        ended = words.at_field(s.record.finished_at, self.zone)
        self.ledger.facts(
            [
                Fact("Started", started, ("started_at",)),
                Fact("Ended", ended, ("finished_at",)),
                Fact("Re-entry from", phrases.reentry(s, self.zone)),
                Fact("Harvest from", phrases.harvest(s, self.zone)),
            ],
            room=self.ledger.room,
            shares=(0.34, 0.66),
        )
        shares = (
            *(("Readings", 0.16), ("Height", 0.11), ("Wind from", 0.09), ("Speed", 0.13)),
            *(("Gust", 0.13), ("Air", 0.12), ("Humidity", 0.08), ("Cloud", 0.07), ("Signs", 0.11)),
        )
        rows = [
            Row(phrases.reading(reading, self.zone), self.ledger.beside(f"weather.{place}"))
            for place, reading in enumerate(s.weather)
        ]
        if rows:
            rows[0] = _also(rows[0], self.ledger.beside_whole("weather"))
            sheet.table(self.ledger.columns(shares), rows, size=SMALL, gap=0.6)
        else:
            blank = Fact("Readings", (words.BLANK,), ("weather",))
            self.ledger.facts([blank], room=self.ledger.room)

    def amounts(self) -> None:
        """Put what was planned, asked, delivered and used, line by line, each with its strip."""
        s, sheet = self.facts, self.sheet
        r = s.record
        sheet.section("Amounts", keep=80.0)
        self.ledger.facts(
            [
                Fact("Treated area", words.answer(r.treated_area), ("treated_area",)),
                Fact("Sprayed over", words.answer(r.distance), ("distance",)),
                Fact("Mix used here", words.answer(r.mix_used), ("mix_used",)),
            ],
            room=self.ledger.room,
            shares=(1 / 3, 1 / 3, 1 / 3),
        )
        shares = (
            *(("Line", 0.20), ("Planned", 0.12), ("Label asks", 0.12), ("Delivered", 0.12)),
            *(("Rate strip", 0.29), ("Against label and plan", 0.15)),
        )
        columns = self.ledger.columns(shares, by_point=(1, 3))
        room = columns[4].width
        lines = {line.path: line for line in self.assessment.lines}
        rows = [self._carrier(lines.get("planned_carrier"), room)]
        for place, product in enumerate(s.products):
            path = f"products.{place}"
            line = lines.get(f"{path}.planned_rate")
            beside = self.ledger.beside(*_amounts_of(path))
            rows.append(
                _amount(_used(product), product.planned_rate, _asks(product), line, room, beside)
            )
        sheet.table(columns, rows, gap=1.2, ruled=True)
        told = " ".join((AS_SOLD, strip.LEGEND, *self._bases()))
        self.ledger.text(*words.quiet(told), size=SMALL)
        sheet.y += 1.0
        self._loads()

    def _bases(self) -> Iterator[str]:
        """Yield what the lines stand on, each clause once."""
        told: set[str] = set()
        for line in self.assessment.lines:
            for clause in line.basis.rstrip(".").split("; "):
                if clause and clause.lower() not in told:
                    told.add(clause.lower())
                    yield f"{clause[0].upper()}{clause[1:]}."

    def _carrier(self, line: RateLine | None, room: float) -> Row:
        asks = "silent"
        if line is not None and (line.label_min is not None or line.label_max is not None):
            asks = f"{strip.asked(line)}{NBSP}{words.kept(line.unit)}"
        subject = words.lines((Run("Carrier", bold=True),), words.quiet("the mix as sprayed"))
        planned, beside = self.facts.record.planned_carrier, self.ledger.beside("planned_carrier")
        return _amount(subject, planned, asks, line, room, beside)

    def _loads(self) -> None:
        names = self._names()
        rows = []
        for place, load in enumerate(self.facts.loads):
            put_in: list[Run] = []
            for part in load.parts:
                name = names.get(part.product_id, "a product not in this record")
                put_in += (Run(f"{'; ' if put_in else ''}{name} "), *words.answer(part.amount))
            order = f"field {load.order}, load {'shared' if load.shared else 'not shared'}"
            cells: tuple[Runs, ...] = (
                (Run(f"{place + 1}"),),
                words.answer(load.mixed_volume),
                words.answer(load.used_here),
                tuple(put_in) or (words.BLANK,),
                (Run(order),),
            )
            rows.append(Row(cells, self.ledger.beside(f"loads.{place}")))
        if rows:
            rows[0] = _also(rows[0], self.ledger.beside_whole("loads"))
            shares = ("Loads", 0.05), ("Mixed", 0.14), ("Used here", 0.14), ("Put in", 0.49)
            columns = self.ledger.columns((*shares, ("Order of fields", 0.18)))
            self.sheet.table(columns, rows, size=SMALL, gap=0.6)
        else:
            blank = Fact("Loads", (words.BLANK,), ("loads",))
            self.ledger.facts([blank], room=self.ledger.room)

    def check(self) -> None:
        """Put what the checks found and what the signer said, what agreed, and what could not."""
        business = self.facts.business
        self.sheet.section("Check", keep=40.0)
        for finding, beside in self.ledger.all_beside():
            self.ledger.text(*self._finding(finding), marks=(beside,))
            self.sheet.y += 3.0
        runs = self.sealed.runs
        agreed = sum(run.state is RunState.AGREED for run in runs)
        listed = f"{agreed} looked and agreed; the sealed record lists them."
        if self.sealed.findings:
            self.ledger.text(Run("Other checks: "), *words.quiet(listed), size=SMALL)
        else:
            tick = Beside(marks.AGREES, 0, LEFT - 3.0)
            nothing = Run("Every check that could look agreed. ", bold=True)
            self.ledger.text(nothing, *words.quiet(listed), marks=(tick,))
        not_run = [f"{run.title} ({run.why})" for run in runs if run.state is RunState.NOT_RUN]
        again, off = map(words.percent, (business.look_again_percent, business.disagree_percent))
        measure = (
            f"look again beyond {again} off plan, does not agree beyond {off}; a catch test holds "
            f"{business.catch_test_max_days} days; uncertainty with k = 2."
        )
        for name, told in (
            (f"Could not be looked at ({len(not_run)})", "; ".join(not_run)),
            ("Not computed", " ".join(self.assessment.not_computed)),
            ("Goes with this setting", " ".join(self.assessment.statements)),
            ("Measures of this business", measure),
        ):
            if told:
                self.ledger.text(Run(f"{name}: "), *words.quiet(told), size=SMALL)

    def _finding(self, finding: Finding) -> Runs:
        kind = finding.severity.value
        word = f"{kind.capitalize()}{', cannot be decided' if finding.undecided else ''}. "
        basis = f"{finding.ground.rstrip('.')}. To settle: {finding.settle}"
        told = [(Run(word, kind, True), Run(finding.sentence)), words.quiet(basis)]
        explained = self.sealed.explanations.get(finding.key)
        if explained or finding.severity.must_be_explained:
            told.append((Run("The signer says: ", bold=True), *words.said(explained)))
        return words.lines(*told)


def _place_of(element: str) -> int:
    """Return the place of an element among all, the last one for a name no longer in use."""
    names = list(ELEMENTS)
    return names.index(element) if element in names else len(names)


def _also(row: Row, beside: tuple[Beside, ...]) -> Row:
    return replace(row, marks=beside + row.marks)


def _amounts_of(path: str) -> Sequence[str]:
    return f"{path}.planned_rate", f"{path}.total_used"


def _pattern(record: RecordFacts) -> Iterator[Run]:
    """Yield how the spray lay; the measures of bands and rows where any was entered or asked."""
    yield from words.said(record.pattern)
    measures = (record.band_width, record.row_spacing)
    if record.pattern == "broadcast" and not any(isinstance(one, Quantity) for one in measures):
        return
    yield Run("; band ", "quiet")
    yield from words.answer(record.band_width)
    yield Run(", rows ", "quiet")
    yield from words.answer(record.row_spacing)
    yield Run(", nozzles per row ", "quiet")
    yield from words.said(str(record.nozzles_per_row or ""))


def _used(product: ProductFacts) -> Runs:
    return words.lines(
        (Run(product.name, bold=True),),
        (*words.quiet("used "), *words.answer(product.total_used)),
    )


def _asks(product: ProductFacts) -> str:
    if product.label is None:
        return "label blank"
    return phrases.asked((product.label.rate_min, product.label.rate_max))


def _amount(
    subject: Runs,
    planned: Answer,
    asks: str,
    line: RateLine | None,
    room: float,
    beside: tuple[Beside, ...],
) -> Row:
    """Return a row of the table of amounts; a rate that was not computed says so."""
    rate = words.answer(planned)
    if isinstance(planned, Quantity):
        rate = words.lines(words.entered(planned), words.other(planned))
    delivered: Runs = (Run("not computed"),)
    drawn: Drawing | Runs = (Run("nothing to draw", "quiet"),)
    outcome: Runs = (Run("nothing to compare", "quiet"),)
    if line is not None:
        drawn = strip.rate_strip(line, width=room, size=SMALL, gap=0.6)
        outcome = _outcome(line) or outcome
        if line.delivered is not None:
            delivered = (Run(three(line.delivered)), *words.quiet(f"{NBSP}{words.kept(line.unit)}"))
            if line.expanded is not None:
                low, high = line.delivered - line.expanded, line.delivered + line.expanded
                between = words.quiet(f"{three(low)} to {three(high)}")
                delivered = words.lines(delivered, between)
    return Row((subject, rate, (Run(asks),), delivered, drawn, outcome), beside)


def _outcome(line: RateLine) -> Runs:
    """Return how the delivered rate stands, a mark before each answer; empty if to nothing."""
    told: list[Runs] = []
    for name, outcome in (("label", line.against_label), ("plan", line.against_planned)):
        if outcome:
            kind = marks.OF_OUTCOME[outcome]
            if name == "label" and outcome == Outcome.DISAGREES:
                kind = "breach"
            told.append((words.mark(kind), Run(f"{NBSP}{name}: {outcome}")))
    if line.look_again:
        told.append((Run("look again"),))
    return words.lines(*told)
