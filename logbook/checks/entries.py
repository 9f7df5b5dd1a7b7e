"""Whether an entry is what was meant: what lies outside its usual range is asked about."""

from __future__ import annotations

from collections.abc import Iterator

from logbook.checks.core import Finding, Severity, check
from logbook.facts.messages import msg, term
from logbook.facts.quantity import Quantity
from logbook.facts.record import RecordFacts, Snapshot
from logbook.facts.sets import OF_A_LINE
from logbook.facts.spec import Fact, entered
from logbook.facts.usual import question, range_of
from logbook.facts.wording import beside

SETTLE = msg("Correct the number or its unit if it was misread; if it is true, leave it.")


def entries(s: Snapshot) -> Iterator[tuple[str, Fact, object]]:
    """Yield what was entered in the record itself: its path, its fact and its value."""
    for fact in entered(RecordFacts).values():
        yield fact.path, fact, getattr(s.record, fact.name)
    for name, holder in OF_A_LINE.items():
        for place, line in enumerate(getattr(s, name)):
            for fact in entered(holder).values():
                yield f"{name}.{place}.{fact.path}", fact, getattr(line, fact.name)


# It is about no line: that a number is a usual one is no sign that it agrees with anything.
@check("usual-range", title=msg("numbers against their usual range"), about=())
def usual_range(s: Snapshot) -> Iterator[Finding]:
    """Ask about each number outside its usual range, and about a band wider than its row."""
    for path, fact, value in entries(s):
        usual = range_of(value, fact.kind)  # type: ignore[arg-type]
        if usual and isinstance(value, Quantity):
            yield _asked(
                path,
                msg(
                    "{name:begin}: {question}",
                    name=term(fact.label),
                    question=question(value, fact),
                ),
                basis=msg("Usual range: {source}", source=term(usual.source)),
            )
    band, row = s.record.band_width, s.record.row_spacing
    if isinstance(band, Quantity) and isinstance(row, Quantity) and band.si > row.si * (1 + 1e-9):
        yield _asked(
            "band_width",
            msg(
                "Band width: {band} is wider than the row spacing, {row}.",
                band=band,
                row=beside(row, band.unit),
            ),
            basis=msg("A band lies within its row; wider, it is broadcast."),
        )


def _asked(path: str, sentence: str, *, basis: str) -> Finding:
    return usual_range.finding(
        Severity.CAUTION, about=path, sentence=sentence, basis=basis, settle=SETTLE
    )
