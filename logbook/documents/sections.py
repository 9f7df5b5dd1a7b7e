"""The sections of the signed record on paper, written from its document."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from logbook.checks.core import Finding, RunState
from logbook.documents import strip, words
from logbook.documents.drawing import Drawing
from logbook.documents.ledger import Fact, Ledger, beside
from logbook.documents.page import LEFT, SMALL, Beside, Cell, Row, Run, Runs
from logbook.documents.sketch import field_sketch, mean_wind_from
from logbook.documents.window import draw_window, units_of, window_of
from logbook.facts.spec import Section
from logbook.records.sealing.sealed import SealedRecord
from logbook.sections import document, phrases
from logbook.sections.document import AGREES, Document, DocumentSection, Line, Mark

SKETCH = {"width": 124.0, "height": 64.0, "size": SMALL}
WINDOW = {"width": 190.0, "height": 80.0, "size": SMALL}

AS_SOLD = "Rates are of the product as sold, totals undiluted."

SHARES = {
    Section.WHAT.id: (0.28, 0.34, 0.14, 0.24),
    Section.WEATHER.id: (0.17, 0.1, 0.14, 0.14, 0.12, 0.08, 0.07, 0.1, 0.08),
    Section.AMOUNTS.id: (0.11, 0.11, 0.13, 0.11, 0.09, 0.3, 0.15),
    Section.LOADS.id: (0.09, 0.13, 0.13, 0.48, 0.17),
}
"""The shares of the width that the columns of a table take, by section."""

BY_POINT = {Section.AMOUNTS.id: (1, 2, 4)}
"""The columns whose decimal points stand under each other."""

DRAWN_AT = 5
"""The column of the amounts in which the strip of a rate is drawn."""


class Sections:
    """The sections of one record, filling a sheet."""

    def __init__(self, ledger: Ledger, sealed: SealedRecord, shown: Document) -> None:
        self.ledger = ledger
        self.sheet = ledger.sheet
        self.sealed = sealed
        self.shown = shown

    def put_all(self) -> None:
        """Put every section, in order."""
        for section in self.shown.sections:
            drawing = self._drawing(section.id)
            title = section.title if section.lines else ""
            self.sheet.section(title, keep=drawing.height if drawing else 40.0)
            self.ledger.facts_beside([self._fact(line) for line in section.lines], drawing)
            if section.rows:
                self._table(section)
            if section.id == Section.AMOUNTS.id:
                told = " ".join((AS_SOLD, strip.LEGEND, *self._bases()))
                self.ledger.text(*words.quiet(told), size=self.sheet.small)
        self.check()

    def _drawing(self, section: str) -> Drawing | None:
        """Return what is drawn beside the lines of a section: the field, or the nozzle's window."""
        s = self.sealed.snapshot
        if section == Section.WHERE.id and s.field and s.field.boundary:
            return field_sketch(
                s.field.boundary,
                name=s.field.name,
                wind_from_deg=mean_wind_from(s.weather),
                system=s.system,
                **SKETCH,
            )
        window = window_of(s, self.sealed.assessment) if section == Section.WITH.id else None
        return draw_window(window, units=units_of(s), **WINDOW) if window else None

    def _fact(self, line: Line) -> Fact:
        return words.fact(line, self.shown.facts, marks=self._marks(line))

    def _marks(self, *lines: Line | document.Row | None) -> tuple[Mark, ...]:
        return self.shown.margin.beside(*(path for line in lines if line for path in line.about))

    def _table(self, section: DocumentSection) -> None:
        amounts = section.id == Section.AMOUNTS.id
        heads = [words.begun(head) for head in section.heads]
        if amounts:
            heads.insert(DRAWN_AT, "")
        shares = [*zip(heads, SHARES[section.id], strict=True)]
        columns = self.ledger.columns(shares, by_point=BY_POINT.get(section.id, ()))
        if not section.lines:
            columns[0] = replace(columns[0], title=section.title)
        rows: list[Row] = []
        for row in section.rows:
            cells: list[Cell] = [
                words.of(cell, self.shown.facts, in_table=True) for cell in row.cells
            ]
            if amounts:
                drawn: Cell = words.quiet("nothing to draw")
                if row.rate:
                    room = columns[DRAWN_AT].width
                    drawn = strip.rate_strip(row.rate, width=room, size=self.sheet.small, gap=0.6)
                cells.insert(DRAWN_AT, drawn)
            rows.append(Row(tuple(cells), beside(self._marks(row, *row.cells, row.below))))
            if row.below:
                below = self._fact(row.below)
                rows.append(Row(((Run(f"{below.name} ", "quiet"), *below.value),), spans=True))
        dense = section.id in (Section.WEATHER.id, Section.LOADS.id)
        self.sheet.table(
            columns,
            rows,
            size=self.sheet.small if dense else None,
            gap=0.6 if dense else 1.2,
            ruled=not dense,
        )

    def _bases(self) -> Iterator[str]:
        """Yield what the rates stand on, each clause once."""
        told: set[str] = set()
        for line in self.sealed.assessment.lines:
            for clause in line.basis.rstrip(".").split("; "):
                if clause and clause.lower() not in told:
                    told.add(clause.lower())
                    yield f"{clause[0].upper()}{clause[1:]}."

    def check(self) -> None:
        """Put what the checks found and what the signer said, what agreed, and what could not."""
        business = self.sealed.snapshot.business
        self.sheet.section("Check", keep=40.0)
        for number, finding in enumerate(self.sealed.findings, start=1):
            mark = beside([Mark(finding.mark, number)])
            self.ledger.text(*self._finding(finding), marks=mark)
            self.sheet.y += 3.0
        runs = self.sealed.runs
        agreed = sum(run.state is RunState.AGREED for run in runs)
        nothing_there = sum(run.state is RunState.NOTHING for run in runs)
        had = f", {nothing_there} had nothing to look at" if nothing_there else ""
        listed = f"{agreed} looked and agreed{had}; the sealed record lists them."
        if self.sealed.findings:
            self.ledger.text(Run("Other checks: "), *words.quiet(listed), size=self.sheet.small)
        else:
            tick = Beside(AGREES, 0, LEFT - 3.0)
            nothing = Run("Every check that could look agreed. ", bold=True)
            self.ledger.text(nothing, *words.quiet(listed), marks=(tick,))
        not_run = [f"{run.title} ({run.why})" for run in runs if run.state is RunState.NOT_RUN]
        again, off = map(phrases.percent, (business.look_again_percent, business.disagree_percent))
        measure = (
            f"look again beyond {again} off plan, does not agree beyond {off}; a catch test holds "
            f"{business.catch_test_max_days} days; doubt at about 95 %."
        )
        for name, told in (
            (f"Could not be looked at ({len(not_run)})", "; ".join(not_run)),
            ("Not computed", " ".join(self.sealed.assessment.not_computed)),
            ("Not decided", self.sealed.assessment.undecided),
            ("Goes with this setting", " ".join(self.sealed.assessment.statements)),
            ("Measures of this business", measure),
        ):
            if told:
                self.ledger.text(Run(f"{name}: "), *words.quiet(told), size=self.sheet.small)

    def _finding(self, finding: Finding) -> Runs:
        kind = finding.severity.value
        word = f"{kind.capitalize()}{', cannot be decided' if finding.undecided else ''}. "
        basis = f"{finding.ground.rstrip('.')}. To settle: {finding.settle}"
        told = [(Run(word, kind, True), Run(finding.sentence)), words.quiet(basis)]
        for one in finding.leads:
            follows = f"{one.severity.value.capitalize()}, follows from it: {one.sentence}"
            told.append(words.quiet(follows))
        explained = self.sealed.explanations.get(finding.key)
        if explained or finding.severity.must_be_explained:
            told.append((Run("The signer says: ", bold=True), *words.text_or_blank(explained)))
        return words.lines(*told)
