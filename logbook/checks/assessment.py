"""What was put on the field, line by line: the numbers of the rate strip and the window drawing.

`assess` never fails: what cannot be computed is named in `not_computed`. The lines themselves raise
`CannotRun` with the facts that lack, so that the checks of `delivery` say the same thing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeVar

from calc.errors import OutOfRange
from calc.evidence import Estimate
from calc.flow import speed_window
from calc.uncertainty import interval, worst_case
from calc.units import convert, dimension_of, reference_unit
from calc.verdict import VERDICTS, Judgement, Verdict, judge_rate
from logbook.checks.accuracy import too_coarse
from logbook.checks.core import CannotRun
from logbook.checks.estimates import (
    DISTANCE,
    MIX,
    SETTINGS,
    Evidence,
    concentration,
    evidence,
    number,
    per_area,
    product_estimate,
    product_u,
    total_of,
)
from logbook.checks.label import carrier_window, comparable, contradictory
from logbook.checks.requirements import Requirements
from logbook.checks.setting import (
    NozzleState,
    Setting,
    class_of,
    nozzle_state,
    nozzle_width,
    setting,
    why_not_one,
)
from logbook.checks.zone import exclusion_zone
from logbook.facts.messages import Message, gettext_noop, msg
from logbook.facts.quantity import Quantity
from logbook.facts.record import BusinessFacts, Snapshot
from logbook.facts.terms import out_of_range
from logbook.facts.wording import listed

T = TypeVar("T")

MARKED = (Verdict.MISMATCH, Verdict.BREACH)
"""The verdicts that carry a mark."""

MARKS_OF = {
    Verdict.AGREES.value: "agrees",
    Verdict.LOOK_AGAIN.value: "agrees",
    Verdict.UNDECIDED.value: "undecided",
    Verdict.MISMATCH.value: "mismatch",
    Verdict.BREACH.value: "breach",
}
"""The mark of each verdict."""


@dataclass(frozen=True, kw_only=True)
class RateLine:
    """One line of the rate strip; every figure is in `unit`, None where there is none."""

    subject: str  # "carrier" or the name of the product
    path: str  # the input it stands beside
    unit: str  # of the planned rate as entered
    planned: float | None
    label_min: float | None
    label_max: float | None
    delivered: float | None
    expanded: float | None  # U = k u
    against_planned: str  # a value of calc.verdict.Verdict, "" when there is nothing to compare
    against_label: str
    look_again: bool
    basis: str  # one sentence: where flow, pressure and concentration came from
    # The heavier of the two; "" where there is none, and in what was sealed before the rule of
    # calc.verdict: there a label that the rate "does not agree" with was broken.
    verdict: str = ""
    at_limit: str = ""  # quiet words of a rate at the label's limit
    k: float = 2.0
    least: float | None = None  # the ends between which the truth lies with 95 %
    most: float | None = None  # None beside `least`: no upper end

    @property
    def ends(self) -> tuple[float, float | None] | None:
        """The ends between which the truth lies; the upper may be open. None if not computed."""
        if self.least is not None:
            return self.least, self.most
        if self.delivered is None or self.expanded is None:
            return None
        return self.delivered - self.expanded, self.delivered + self.expanded

    @property
    def marks(self) -> tuple[str, str]:
        """The marks against label and plan: "breach", "mismatch", "undecided", "agrees", ""."""
        label = MARKS_OF.get(self.against_label, "")
        plan = MARKS_OF.get(self.against_planned, "")
        if not self.verdict:
            return "breach" if label == "mismatch" else label, plan
        # What cannot be decided is said once for the record, and is no mark.
        return label.replace("undecided", ""), plan.replace("undecided", "")


@dataclass(frozen=True, kw_only=True)
class Assessment:
    """All that was computed of the setting, as it is sealed and drawn."""

    lines: tuple[RateLine, ...]
    nozzle_flow_l_min: float | None  # of the mix
    nozzle_pressure_kpa: float | None
    classes: tuple[str, ...]  # candidate droplet classes at that pressure, finest first
    pressure_window_kpa: tuple[float, float] | None  # the nozzle's rated range
    speed_window_km_h: tuple[float, float] | None  # for the planned carrier over that range
    flow_basis: str
    statements: tuple[str, ...]  # cautions that go with this setting; no findings
    not_computed: tuple[str, ...]
    undecided: str = ""  # that this accuracy is too coarse, and what would do; said once


def assess(s: Snapshot) -> Assessment:
    """Return all that can be computed of the setting; what cannot is named."""
    lacking: dict[str, None] = {}

    def attempt(what: str, compute: Callable[[], T]) -> T | None:
        try:
            return compute()
        except CannotRun as lack:
            why = (
                msg("needs {facts}", facts=listed(lack.needs.values())) if lack.needs else lack.why
            )
            lacking[msg("{what}: {why}.", what=what, why=why)] = None
        except OutOfRange as refusal:
            lacking[msg("{what}: {why}", what=what, why=out_of_range(refusal))] = None
        return None

    state = attempt(msg("Nozzle flow and pressure"), partial(nozzle_state, s))
    laid = attempt(msg("Delivered carrier rate"), partial(setting, s))
    lines = [attempt(msg("Carrier"), partial(carrier_line, s, laid))]
    for place, product in enumerate(s.products):
        line = partial(product_line, s, place, laid)
        lines.append(attempt(msg("Delivered rate of {name}", name=product.name), line))
    flow = classes = speeds = None
    if state is not None:
        flow = attempt(msg("Nozzle flow"), partial(_mix_flow, state))
        classes = attempt(msg("Droplet class"), partial(class_of, state))
        speeds = attempt(msg("Speed window"), partial(_speeds, s, state))
    if state is not None and classes is not None and not classes.candidates:
        why = why_not_one(classes, state.gauge.unit)
        lacking[msg("Droplet class: {reason}.", reason=why)] = None
    finer = classes.finer if classes else None
    statements = attempt(msg("Exclusion zone"), partial(exclusion_zone, s, finer))
    return Assessment(
        lines=tuple(line for line in lines if line is not None),
        nozzle_flow_l_min=flow,
        nozzle_pressure_kpa=state.pressure_kpa if state else None,
        classes=tuple(one.name for one in classes.candidates) if classes else (),
        pressure_window_kpa=_rated_range(s),
        speed_window_km_h=speeds,
        flow_basis=state.basis if state else "",
        statements=statements or (),
        not_computed=tuple(lacking),
        undecided=_undecided(s, laid) if laid and lines[0] else "",
    )


def _undecided(s: Snapshot, laid: Setting) -> str:
    seen = evidence(s)
    return too_coarse(
        laid,
        off_plan=float(s.business.disagree_percent) / 100.0,
        relative_u=seen.best.relative_u if seen else None,
    )


def _mix_flow(state: NozzleState) -> float:
    return state.mix_flow_l_min


def carrier_line(s: Snapshot, laid: Setting | None) -> RateLine:
    """Return the line of the carrier; without `laid`, of plan and label alone."""
    planned = number(s.record.planned_carrier)
    asked = carrier_window(s, Requirements())
    unit = _unit(planned, asked.low if asked else None, asked.high if asked else None) or "L/ha"
    usable = asked if asked and not contradictory(asked) else None
    seen = evidence(s) if laid else None
    return _line(
        s.business,
        subject="carrier",
        path="planned_carrier",
        unit=unit,
        planned=planned,
        label=(usable.low, usable.high) if usable else (None, None),
        best=_in(unit, "L/ha", seen.best) if seen else None,
        basis=_basis(laid, seen) if laid and seen else "",
    )


def _basis(laid: Setting, seen: Evidence) -> str:
    """Return where the carrier rate is from: flow and pressure, and what else was evidence."""
    names = seen.best.weights
    others = [words for name, words in _OTHERS.items() if name in names]
    if any(name.startswith("products.") for name in names):
        others.append(msg("products over area"))
    if not others:
        return Message("{basis}.", {"basis": laid.basis})
    if SETTINGS not in names:
        return msg("By {others}; the settings contradict them.", others=listed(others))
    return msg("{basis}, with {others}.", basis=laid.basis, others=listed(others))


_OTHERS = {MIX: msg("mix over area"), DISTANCE: msg("mix over distance")}
"""What else than the settings is evidence of the carrier rate."""


def _in(unit: str, reference: str, best: Estimate) -> Estimate:
    """Return an estimate in another unit."""
    return Estimate(best.name, convert(best.value, from_unit=reference, to_unit=unit), best.sources)


def product_line(s: Snapshot, place: int, laid: Setting | None) -> RateLine:
    """Return the line of one product; a rate per area needs `laid`, or stands there undelivered.

    Raises: CannotRun if neither plan nor label say a rate, or the concentration is not known.
    """
    ask = Requirements()
    product = s.products[place]
    path = f"products.{place}.planned_rate"
    planned = number(product.planned_rate)
    label = product.label
    limits = (label.rate_min, label.rate_max) if label else (None, None)
    unit = _unit(planned, *limits)
    if unit is None:
        ask.number(product.planned_rate, path, msg("the planned rate of {name}", name=product.name))
        raise ask.lack()
    if planned is not None and label is not None and not comparable(planned, product, label, ask):
        limits = (None, None)
    held = concentration(s, place, unit)
    best: Estimate | None = None
    basis: str = Message("{basis:begin}.", {"basis": held.basis})
    if per_area(unit):
        rate = product_estimate(s, place, held) if laid else None
        where = laid.basis if laid else msg("No carrier rate")
        basis = msg("{where}; {basis}.", where=where, basis=held.basis)
        if rate is not None:
            best = _in(unit, reference_unit(dimension_of(unit)), rate)
            own = msg("its total over the area")
            if [*rate.weights] == [total_of(place)]:
                basis = Message("{basis:begin}.", {"basis": own})
            elif total_of(place) in rate.weights:
                basis = msg("{where}; {basis}; {own}.", where=where, basis=held.basis, own=own)
    else:
        # Per litre of mix: L/L is per cent by volume / 100, the mass is in kg/L.
        if dimension_of(unit) == "volume_per_volume":
            value = convert(100.0 * held.per_l, from_unit="% v/v", to_unit=unit)
        else:
            value = convert(held.per_l, from_unit="kg/L", to_unit=unit)
        # What was measured into the tank, and the tank.
        best = Estimate(path, value, {total_of(place): product_u(), "tank": held.relative_u})
    return _line(
        s.business,
        subject=product.name,
        path=path,
        unit=unit,
        planned=planned,
        label=limits,
        best=best,
        basis=basis,
    )


def _line(
    business: BusinessFacts,
    *,
    subject: str,
    path: str,
    unit: str,
    planned: Quantity | None,
    label: tuple[Quantity | None, Quantity | None],
    best: Estimate | None,
    basis: str,
) -> RateLine:
    """Return a line with its judgement, where there is something to compare.

    Args: best, the delivered rate in `unit`, None where there is none.
    """
    target = planned.to(unit) if planned is not None else None
    low, high = (None if limit is None else limit.to(unit) for limit in label)
    line = RateLine(
        subject=subject,
        path=path,
        unit=unit,
        planned=target,
        label_min=low,
        label_max=high,
        delivered=None,
        expanded=None,
        against_planned="",
        against_label="",
        look_again=False,
        basis=basis,
    )
    if best is None:
        return line
    least, most = interval(estimate=best.value, relative_u=best.relative_u, k=best.k)
    line = replace(
        line,
        delivered=best.value,
        expanded=best.k * best.relative_u * best.value,
        k=best.k,
        least=least,
        most=most if math.isfinite(most) else None,
    )
    worst_low, worst_high = worst_case(estimate=best.value, sources=best.sources)
    judged = partial(
        judge_rate,
        estimate=best.value,
        relative_u=best.relative_u,
        look_again=float(business.look_again_percent) / 100.0,
        off_plan=float(business.disagree_percent) / 100.0,
        worst_low=worst_low,
        worst_high=worst_high,
    )
    verdicts = []
    if target is not None:
        plan = judged(low=None, high=None, plan=target).verdict
        verdicts.append(plan)
        line = replace(line, against_planned=plan.value, look_again=plan is Verdict.LOOK_AGAIN)
    if low is not None or high is not None:
        found = judged(low=low, high=high, plan=None)
        verdicts.append(found.verdict)
        line = replace(line, against_label=found.verdict.value, at_limit=_at_limit(found))
    return replace(line, verdict=max(verdicts, key=VERDICTS.index).value if verdicts else "")


def _at_limit(found: Judgement) -> str:
    """Return the quiet words of a rate at the label's limit; "" where it is not, or is marked."""
    if found.verdict in MARKED or found.beyond is None or found.probability is None:
        return ""
    high, inside = found.at_limit == "high", found.beyond < 0.0
    where = msg(
        gettext_noop("{percent:.1f} % below it")
        if high == inside
        else gettext_noop("{percent:.1f} % above it"),
        percent=100.0 * abs(found.beyond),
    )
    words = gettext_noop("at the label’s limit: best estimate {where}, {chance:.0f} % likely below")
    if high:
        words = gettext_noop(
            "at the label’s limit: best estimate {where}, {chance:.0f} % likely above"
        )
    return msg(words, where=where, chance=100.0 * found.probability)


def _unit(*quantities: Quantity | None) -> str | None:
    """Return the unit of the first quantity that is there."""
    return next((one.unit for one in quantities if one is not None), None)


def _rated_range(s: Snapshot) -> tuple[float, float] | None:
    return (s.nozzle.pressure_min.si, s.nozzle.pressure_max.si) if s.nozzle else None


def _speeds(s: Snapshot, state: NozzleState) -> tuple[float, float]:
    """Return the slowest and fastest speed for the planned carrier over the rated range. [km/h]"""
    ask = Requirements()
    planned = ask.number(s.record.planned_carrier, "planned_carrier")
    width = nozzle_width(s, ask)
    if planned is None or width is None:
        raise ask.lack()
    window = speed_window(
        rated_flow_l_min=state.mix_flow_at_known_l_min,
        rated_pressure_kpa=state.known_at_kpa,
        low_kpa=state.nozzle.pressure_min.si,
        high_kpa=state.nozzle.pressure_max.si,
        rate_l_ha=planned.si,
        spacing_cm=width.width_cm,
        exponent=state.exponent,
    )
    return window.slowest_km_h, window.fastest_km_h
