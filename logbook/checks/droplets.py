"""Checks of pressure and droplet class: what reaches the nozzle, and what it makes of it."""

from __future__ import annotations

from collections.abc import Iterator

from calc.droplets import (
    Allowed,
    DropletClass,
    allowed,
    parse_class,
    this_or_coarser,
    this_or_finer,
)
from calc.limits import Outcome, judge_within
from calc.uncertainty import (
    COVERAGE_FACTOR,
    standard_from_half_width,
)
from calc.units import convert
from logbook.checks.core import CannotRun, Finding, Severity, check
from logbook.checks.label import SILENT, labels
from logbook.checks.requirements import Requirements
from logbook.checks.setting import (
    class_of,
    gauge_half_width_kpa,
    nozzle_state,
    why_not_one,
)
from logbook.facts.messages import Message, gettext_noop, msg, term, with_unit
from logbook.facts.quantity import Absence, Nothing
from logbook.facts.record import Snapshot
from logbook.facts.wording import (
    MISREAD,
    beside,
    edition,
    either,
    limits,
    listed,
    settled,
    three,
)

LINE_LOSS_LIMIT = 0.10
"""Share of the gauge pressure that may be lost before the nozzle; ISO 16122-2, from memory."""


@check(
    "nozzle-pressure",
    title=msg("pressure at the nozzle within its rated range"),
    about=("pressure", "rig", "nozzle"),
)
def nozzle_pressure(s: Snapshot) -> Iterator[Finding]:
    state = nozzle_state(s)
    nozzle, unit = state.nozzle, state.gauge.unit
    half_width = gauge_half_width_kpa(state.rig, state.gauge)
    outcome = judge_within(
        value=state.pressure_kpa,
        expanded=COVERAGE_FACTOR * standard_from_half_width(half_width=half_width),
        low=nozzle.pressure_min.si,
        high=nozzle.pressure_max.si,
    )
    # At the edge of the range the gauge cannot tell, which is no mark; what is surely outside is.
    if outcome is Outcome.DISAGREES:
        at_nozzle = three(convert(state.pressure_kpa, from_unit="kPa", to_unit=unit))
        rated = limits(nozzle.pressure_min, nozzle.pressure_max, unit=unit)
        yield nozzle_pressure.finding(
            Severity.MISMATCH,
            about="pressure",
            sentence=msg(
                "Pressure at the nozzle {pressure}; {nozzle} is rated for {limits}.",
                pressure=with_unit(at_nozzle, unit),
                nozzle=nozzle.name,
                limits=rated,
            ),
            basis=msg("Data sheet of {name}", name=nozzle.name),
            settle=settled(
                s,
                ahead=msg("Change speed or nozzle size so that the pressure comes into the range."),
                done=MISREAD,
            ),
        )


@check(
    "droplet-class",
    title=msg("droplet class at the pressure used against the labels"),
    about=("pressure", "nozzle", "products.*.label"),
)
def droplet_class(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = [
        (p, label) for _, p, label in labels(s, ask) if label.finest_class or label.coarsest_class
    ]
    if not asked:
        ask.nothing(SILENT)
        ask.done()
        return
    try:
        state = nozzle_state(s)
    except CannotRun as lack:
        raise ask.lack(lack) from None
    finest = max(
        (parse_class(one.finest_class) for _, one in asked if one.finest_class), default=None
    )
    coarsest = min(
        (parse_class(one.coarsest_class) for _, one in asked if one.coarsest_class), default=None
    )
    between = this_or_coarser(finest or DropletClass.XF) & this_or_finer(
        coarsest or DropletClass.UC
    )
    words = _class_words(finest, coarsest)
    basis = msg("{labels}; classes of ASABE S572", labels=listed(edition(*one) for one in asked))
    if not between:
        yield droplet_class.finding(
            Severity.BREACH,
            about="pressure",
            sentence=msg(
                "No droplet class suits all labels: they ask {classes} together.", classes=words
            ),
            basis=basis,
            settle=settled(
                s,
                ahead=msg("Do not mix these products; spray them apart."),
                done=msg(
                    "Correct the products if they are not those of the mix; spray them apart "
                    "from now on."
                ),
            ),
        )
        ask.done()
        return
    found = class_of(state)
    verdict = allowed(candidates=found.candidates, allowed_classes=between)
    if verdict is not Allowed.PASSES:
        unit = state.gauge.unit
        at = with_unit(three(convert(state.pressure_kpa, from_unit="kPa", to_unit=unit)), unit)
        good = [
            row for row in state.nozzle.class_table if parse_class(row.droplet_class) in between
        ]
        pressures = sorted((row.pressure for row in good), key=lambda pressure: pressure.si)
        classes = either(term(one.words) for one in found.candidates)
        said = msg("has no known droplet class")
        if found.candidates:
            one_class = len(found.candidates) == 1
            said = msg(
                gettext_noop("sprays {classes}")
                if one_class
                else gettext_noop("may spray {classes}"),
                classes=classes,
            )
        if found.why:
            reason = why_not_one(found, unit)
            said = Message("{said} ({reason})", {"said": said, "reason": reason})
        yield droplet_class.finding(
            Severity.BREACH if verdict is Allowed.FAILS else Severity.CAUTION,
            about="pressure",
            sentence=msg(
                "At {pressure} {nozzle} {sprays}, label asks {classes}.",
                pressure=at,
                nozzle=state.nozzle.name,
                sprays=said,
                classes=words,
            ),
            basis=basis,
            settle=_to_a_class(s, [beside(pressure, unit) for pressure in pressures]),
            undecided=verdict is Allowed.UNKNOWN,
        )
    ask.done()


@check(
    "line-loss",
    title=msg("pressure lost between gauge and nozzle"),
    about=("rig", "pressure"),
)
def line_loss(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    rig = ask.fact(s.rig, "rig")
    if rig is None:
        raise ask.lack()
    if isinstance(rig.line_loss, Nothing) and rig.line_loss.kind is not Absence.NOT_MEASURED:
        return
    ask.number(rig.line_loss, "rig.line_loss")
    ask.done()
    state = nozzle_state(s)
    share = state.line_loss_kpa / state.gauge.si
    if share > LINE_LOSS_LIMIT:
        unit = state.gauge.unit
        lost = three(convert(state.line_loss_kpa, from_unit="kPa", to_unit=unit))
        yield line_loss.finding(
            Severity.CAUTION,
            about="pressure",
            sentence=msg(
                "{lost} of {gauge} is lost before the nozzle, {share:.0f} %; at most "
                "{usual:.0f} % is usual.",
                lost=with_unit(lost, unit),
                gauge=state.gauge,
                share=100.0 * share,
                usual=100.0 * LINE_LOSS_LIMIT,
            ),
            basis=msg("ISO 16122-2, inspection of sprayers in use"),
            settle=msg("Look for a clogged strainer or a narrow hose."),
        )


def _to_a_class(s: Snapshot, pressures: list[str]) -> str:
    """Return what would bring an allowed droplet class, by the nozzle's own table."""
    if not pressures:
        ahead = msg("Fit a nozzle whose table gives a class that is allowed.")
        return settled(s, ahead=ahead, done=msg("Correct the nozzle if it is the wrong one."))
    return settled(
        s,
        ahead=msg(
            "Run at {pressures}, where its table gives a class that is allowed.",
            pressures=listed(pressures),
        ),
        done=msg(
            "At {pressures} its table gives a class that is allowed; correct the entry if "
            "it was misread.",
            pressures=listed(pressures),
        ),
    )


def _class_words(finest: DropletClass | None, coarsest: DropletClass | None) -> str:
    if coarsest is None and finest is not None:
        return msg("{class_} or coarser", class_=term(finest.words))
    if finest is None and coarsest is not None:
        return msg("{class_} or finer", class_=term(coarsest.words))
    return msg(
        "{finest} to {coarsest}",
        finest=term(finest.words) if finest else "",
        coarsest=term(coarsest.words) if coarsest else "",
    )
