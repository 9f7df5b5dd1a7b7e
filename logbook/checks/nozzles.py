"""Checks of the nozzles: which were mounted, and what their catch test shows."""

from __future__ import annotations

from collections.abc import Iterator

from calc.calibration import EVENNESS_LIMIT, WEAR_LIMIT
from calc.delivery import caught_flow_verdict
from calc.limits import DISAGREE
from calc.uncertainty import (
    relative_from_relative_accuracy,
    standard_from_half_width,
)
from calc.units import convert
from logbook.checks.core import CannotRun, Finding, Severity, check
from logbook.checks.requirements import Requirements
from logbook.checks.setting import (
    caught,
    gauge_half_width_kpa,
)
from logbook.facts.messages import msg, with_unit
from logbook.facts.record import CatchTestFacts, Snapshot
from logbook.facts.wording import (
    listed,
    more_or_less,
    three,
)


@check(
    "catch-test",
    title=msg("a catch test of the nozzles, young enough"),
    about=("catch_test", "nozzle", "started_at"),
)
def catch_test(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    nozzle = ask.fact(s.nozzle, "nozzle")
    day = ask.fact(s.local_day(), "started_at")
    if nozzle is None or day is None:
        raise ask.lack()
    test, most = s.catch_test, s.business.catch_test_max_days
    age = None if test is None else (day - test.tested_on).days
    if test is None or age is None:
        said = msg("These nozzles have no catch test")
    elif age > most:
        said = msg(
            "The catch test of {day} was {age} days old, more than {most}",
            day=test.tested_on,
            age=age,
            most=most,
        )
    elif age < 0:
        said = msg(
            "The catch test of {tested_on} was done after the spraying of {day}",
            tested_on=test.tested_on,
            day=day,
        )
    else:
        return
    yield catch_test.finding(
        Severity.CAUTION,
        about="catch_test",
        sentence=msg(
            "{said}; the flow is taken as rated, {flow} at {pressure}, within {accuracy:f} %.",
            said=said,
            flow=nozzle.rated_flow,
            pressure=nozzle.rated_pressure,
            accuracy=nozzle.flow_accuracy_percent,
        ),
        basis=msg("Good practice: calibrate at least once a season"),
        settle=msg("Catch-test the nozzles."),
    )


@check(
    "nozzles-mounted",
    title=msg("the nozzles mounted on the rig on the day"),
    about=("nozzle", "started_at"),
)
def nozzles_mounted(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    nozzle = ask.fact(s.nozzle, "nozzle")
    day = ask.fact(s.local_day(), "started_at")
    mounted = s.nozzle_mounted_on
    if nozzle is not None:
        ask.fact(mounted, "nozzle", msg("the day on which the nozzles were mounted"))
    if nozzle is None or day is None or mounted is None:
        raise ask.lack()
    start = s.record.started_at
    first = start.astimezone(s.zone).date() if start else day
    removed = s.nozzle_removed_on
    if first < mounted:
        said = msg(
            "The nozzles {nozzle} were mounted on {mounted}, after the spraying of {day}.",
            nozzle=nozzle.name,
            mounted=mounted,
            day=first,
        )
    elif removed is not None and removed < day:
        said = msg(
            "The nozzles {nozzle} were taken off on {removed}, before the spraying of {day}.",
            nozzle=nozzle.name,
            removed=removed,
            day=day,
        )
    else:
        return
    yield nozzles_mounted.finding(
        Severity.MISMATCH,
        about="nozzle",
        sentence=said,
        basis=msg("The nozzles of the rig as entered on the shelf"),
        settle=msg(
            "Choose the nozzles that were on the rig on the day, or correct the day on the shelf."
        ),
    )


@check(
    "nozzle-evenness",
    title=msg("every nozzle of the catch test against the mean of the boom"),
    about=("catch_test",),
)
def nozzle_evenness(s: Snapshot) -> Iterator[Finding]:
    test = _test(s)
    shown = caught(test)
    if shown.uneven:
        unit = s.nozzle.rated_flow.unit if s.nozzle else "L/min"
        mean = three(convert(shown.mean_l_min, from_unit="L/min", to_unit=unit))
        yield nozzle_evenness.finding(
            Severity.CAUTION,
            about="catch_test",
            sentence=msg(
                "In the catch test of {day}, {nozzles} than the mean, {mean}; {yardstick:.0f} % is "
                "the yardstick.",
                day=test.tested_on,
                nozzles=_nozzles(shown.uneven, shown.deviations),
                mean=with_unit(mean, unit),
                yardstick=100.0 * EVENNESS_LIMIT,
            ),
            basis=msg("Alberta, Montana (MT 2000-14) and Nebraska Extension"),
            settle=msg("Clean the nozzles that give too little, replace those that give too much."),
        )


@check(
    "nozzle-wear",
    title=msg("every nozzle of the catch test against a new one"),
    about=("catch_test", "nozzle"),
)
def nozzle_wear(s: Snapshot) -> Iterator[Finding]:
    test = _test(s)
    ask = Requirements()
    nozzle = ask.fact(s.nozzle, "nozzle")
    if nozzle is None:
        raise ask.lack()
    shown = caught(test, new=nozzle)
    if shown.worn and shown.wear:
        yield nozzle_wear.finding(
            Severity.CAUTION,
            about="catch_test",
            sentence=msg(
                "In the catch test of {day}, {nozzles} than a new one at {pressure}; from "
                "{worn:.0f} % more on a nozzle is worn.",
                day=test.tested_on,
                nozzles=_nozzles(shown.worn, shown.wear),
                pressure=test.pressure,
                worn=100.0 * WEAR_LIMIT,
            ),
            basis=msg("Nebraska (Klein) and Ohio State Extension"),
            settle=msg("Replace the worn nozzles, and better the whole set."),
        )


@check(
    "caught-flow",
    title=msg("the mean flow caught against the rated flow"),
    about=("catch_test", "nozzle"),
)
def caught_flow(s: Snapshot) -> Iterator[Finding]:
    test = _test(s)
    ask = Requirements()
    nozzle = ask.fact(s.nozzle, "nozzle")
    rig = ask.fact(s.rig, "rig")
    if nozzle is None or rig is None:
        raise ask.lack()
    verdict = caught_flow_verdict(
        caught_l_min=caught(test).mean_l_min,
        u_caught=relative_from_relative_accuracy(accuracy=float(test.accuracy_percent) / 100.0),
        pressure_kpa=test.pressure.si,
        u_pressure_kpa=standard_from_half_width(
            half_width=gauge_half_width_kpa(rig, test.pressure)
        ),
        rated_flow_l_min=nozzle.rated_flow.si,
        rated_pressure_kpa=nozzle.rated_pressure.si,
        exponent=float(nozzle.exponent),
    )
    rated = ((verdict.low or 0.0) + (verdict.high or 0.0)) / 2.0
    if abs(verdict.value / rated - 1.0) > DISAGREE:
        unit = nozzle.rated_flow.unit
        caught_words, rated_words = (
            three(convert(flow, from_unit="L/min", to_unit=unit)) for flow in (verdict.value, rated)
        )
        yield caught_flow.finding(
            Severity.MISMATCH,
            about="catch_test",
            sentence=msg(
                "The catch test of {day} gave {caught} on average at {pressure}; rated is "
                "{rated}, {difference}.",
                day=test.tested_on,
                caught=with_unit(caught_words, unit),
                pressure=test.pressure,
                rated=with_unit(rated_words, unit),
                difference=more_or_less(verdict.value / rated - 1.0),
            ),
            basis=msg(
                "Data sheet of {name}; Nebraska (Klein) and Ohio State Extension", name=nozzle.name
            ),
            settle=msg("Check that the right nozzles are fitted and clean; replace worn ones."),
        )


def _test(s: Snapshot) -> CatchTestFacts:
    if s.catch_test is None:
        ask = Requirements()
        if ask.fact(s.nozzle, "nozzle") is None:
            raise ask.lack()
        raise CannotRun(why=msg("these nozzles have no catch test"))
    return s.catch_test


def _nozzles(numbers: tuple[int, ...], shares: tuple[float, ...]) -> str:
    """Return which nozzles are off by how much: "nozzle 5 gave 8.3 % more"."""
    each = [
        msg(
            "nozzle {number} gave {difference}",
            number=number,
            difference=more_or_less(shares[number - 1]),
        )
        for number in numbers
    ]
    return listed(each)
