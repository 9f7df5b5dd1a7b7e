"""What was put on the field, line by line: the numbers of the rate strip and the window drawing.

`assess` never fails: what cannot be computed is named in `not_computed`. The lines themselves raise
`CannotRun` with the facts that lack, so that the checks of `delivery` say the same thing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from calc.delivery import product_rate
from calc.dose import concentration_per_l
from calc.errors import OutOfRange
from calc.flow import speed_window
from calc.uncertainty import COVERAGE_FACTOR, relative_from_relative_accuracy
from calc.units import convert, dimension_of, reference_unit
from calc.verdict import judge_target, judge_within
from logbook.checks.core import CannotRun
from logbook.checks.label import carrier_window, comparable, contradictory
from logbook.checks.requirements import Requirements
from logbook.checks.setting import (
    NozzleState,
    Setting,
    class_of,
    nozzle_state,
    nozzle_width,
    setting,
)
from logbook.checks.zone import exclusion_zone
from logbook.facts.messages import Message, msg
from logbook.facts.quantity import Absence, Answer, Nothing, Quantity
from logbook.facts.record import BusinessFacts, LoadFacts, ProductFacts, Snapshot
from logbook.facts.terms import of_calc, out_of_range
from logbook.facts.wording import listed

T = TypeVar("T")


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
    expanded: float | None  # U, k = 2
    against_planned: str  # a value of calc.verdict.Outcome, "" when there is nothing to compare
    against_label: str
    look_again: bool
    basis: str  # one sentence: where flow, pressure and concentration came from


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


@dataclass(frozen=True)
class Concentration:
    """What is in a litre of the mix, in the reference unit of the amount, and where it is from."""

    per_l: float
    relative_u: float
    basis: str


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
    if classes is not None and not classes.candidates:
        why = of_calc(classes.why, classes.values)
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
    )


def _mix_flow(state: NozzleState) -> float:
    return state.mix_flow_l_min


def carrier_line(s: Snapshot, laid: Setting | None) -> RateLine:
    """Return the line of the carrier; without `laid`, of plan and label alone."""
    planned = _number(s.record.planned_carrier)
    asked = carrier_window(s, Requirements())
    unit = _unit(planned, asked.low if asked else None, asked.high if asked else None) or "L/ha"
    usable = asked if asked and not contradictory(asked) else None
    return _line(
        s.business,
        subject="carrier",
        path="planned_carrier",
        unit=unit,
        planned=planned,
        label=(usable.low, usable.high) if usable else (None, None),
        delivered=convert(laid.laid.rate_l_ha, from_unit="L/ha", to_unit=unit) if laid else None,
        expanded=convert(laid.laid.expanded_l_ha, from_unit="L/ha", to_unit=unit) if laid else None,
        basis=laid.basis + "." if laid else "",
    )


def product_line(s: Snapshot, place: int, laid: Setting | None) -> RateLine:
    """Return the line of one product; a rate per area needs `laid`, or stands there undelivered.

    Raises: CannotRun if neither plan nor label say a rate, or the concentration is not known.
    """
    ask = Requirements()
    product = s.products[place]
    path = f"products.{place}.planned_rate"
    planned = _number(product.planned_rate)
    label = product.label
    limits = (label.rate_min, label.rate_max) if label else (None, None)
    unit = _unit(planned, *limits)
    if unit is None:
        ask.number(product.planned_rate, path, msg("the planned rate of {name}", name=product.name))
        raise ask.lack()
    if planned is not None and label is not None and not comparable(planned, product, label, ask):
        limits = (None, None)
    held = concentration(s, place, unit)
    if per_area(unit):
        delivered, expanded = _per_area(held, laid, unit)
        where = laid.basis if laid else msg("No carrier rate")
        basis: str = msg("{where}; {basis}.", where=where, basis=held.basis)
    else:
        # Per litre of mix: L/L is per cent by volume / 100, the mass is in kg/L.
        if dimension_of(unit) == "volume_per_volume":
            delivered = convert(100.0 * held.per_l, from_unit="% v/v", to_unit=unit)
        else:
            delivered = convert(held.per_l, from_unit="kg/L", to_unit=unit)
        expanded = COVERAGE_FACTOR * held.relative_u * delivered
        basis = Message("{basis:begin}.", {"basis": held.basis})
    return _line(
        s.business,
        subject=product.name,
        path=path,
        unit=unit,
        planned=planned,
        label=limits,
        delivered=delivered,
        expanded=expanded,
        basis=basis,
    )


def per_area(unit: str) -> bool:
    """Return whether a product rate in `unit` is an amount per area, not per volume of mix."""
    return dimension_of(unit) in ("volume_rate", "mass_rate")


def concentration(s: Snapshot, place: int, unit: str) -> Concentration:
    """Return what is in a litre of the mix: from the loads, the totals or, last, the plan.

    Args: place of the product in the record; unit of its rate, which says volume or mass.
    Raises: CannotRun, naming the facts that lack or the amounts that are of another kind.
    """
    product = s.products[place]
    asked = "volume" if dimension_of(unit).startswith("volume") else "mass"
    tank_u = 0.0
    if s.rig is not None:
        tank_u = relative_from_relative_accuracy(
            accuracy=float(s.rig.tank_accuracy_percent) / 100.0
        )
    parts = [
        part.amount
        for load in s.loads
        for part in load.parts
        if part.product_id == product.product_id
    ]
    total, mix = _number(product.total_used), _number(s.record.mix_used)
    if parts:
        _of_one_kind(product, parts, asked, unit)
        amount, volume, weighed = _of_the_loads(s, product)
        return Concentration(
            per_l=concentration_per_l(amount=amount, mix_volume_l=volume),
            relative_u=tank_u,
            basis=msg("concentration from the loads, weighed by {weighed}", weighed=weighed),
        )
    if total is not None and mix is not None and mix.si > 0.0:
        _of_one_kind(product, [total], asked, unit)
        return Concentration(
            per_l=concentration_per_l(amount=total.si, mix_volume_l=mix.si),
            relative_u=tank_u,
            basis=msg("concentration from the total used and the mix used"),
        )
    ask = Requirements()
    planned = ask.number(
        product.planned_rate,
        f"products.{place}.planned_rate",
        msg("the planned rate of {name}", name=product.name),
    )
    if per_area(unit):
        carrier = ask.number(s.record.planned_carrier, "planned_carrier")
        if planned is None or carrier is None:
            raise ask.lack()
        return Concentration(
            per_l=concentration_per_l(amount=planned.si, mix_volume_l=carrier.si),
            relative_u=0.0,
            basis=msg("concentration as planned, so that this only restates the carrier"),
        )
    ask.number(
        product.total_used,
        f"products.{place}.total_used",
        msg("the total of {name} used", name=product.name),
    )
    ask.number(s.record.mix_used, "mix_used")
    raise ask.lack()


def _of_the_loads(s: Snapshot, product: ProductFacts) -> tuple[float, float, str]:
    """Return the product and the mix that the loads brought here, and what they are weighed by.

    Two loads of unlike strength lay down what was used here of each, not what was mixed.
    """
    used = [_used_here_l(load) for load in s.loads]
    blank = [place for place, litres in enumerate(used, 1) if litres is None]
    weights = [
        load.mixed_volume.si if litres is None else litres
        for load, litres in zip(s.loads, used, strict=True)
    ]
    if sum(weights) <= 0.0:
        weights = [load.mixed_volume.si for load in s.loads]
        weighed = msg("what was mixed, as nothing of them was used here")
    elif not blank:
        weighed = msg("what was used here of each")
    elif len(blank) == len(used):
        weighed = msg("what was mixed, as what was used here of each is not known")
    else:
        weighed = msg(
            "what was used here of each, or mixed where that is not known (load {loads})",
            loads=listed(map(str, blank)),
        )
    amount = sum(
        weight * part.amount.si / load.mixed_volume.si
        for load, weight in zip(s.loads, weights, strict=True)
        for part in load.parts
        if part.product_id == product.product_id
    )
    return amount, sum(weights), weighed


def _used_here_l(load: LoadFacts) -> float | None:
    """Return what was used here of a load; None where that is blank or was not measured. [L]"""
    used = load.used_here
    if isinstance(used, Nothing) and used.kind is Absence.NONE:
        return 0.0
    return used.si if isinstance(used, Quantity) else None


def _of_one_kind(product: ProductFacts, amounts: list[Quantity], asked: str, unit: str) -> None:
    for amount in amounts:
        if amount.dimension != asked:
            raise CannotRun(
                why=msg(
                    "{name} is planned in {unit} and entered in {other}",
                    name=product.name,
                    unit=unit,
                    other=amount.unit,
                )
            )


def _per_area(
    held: Concentration, laid: Setting | None, unit: str
) -> tuple[float | None, float | None]:
    """Return the delivered rate and its expanded uncertainty in `unit`; None without a carrier."""
    if laid is None:
        return None, None
    rate = product_rate(
        delivered=laid.laid, concentration_per_l=held.per_l, u_concentration=held.relative_u
    )
    reference = reference_unit(dimension_of(unit))
    return (
        convert(rate.rate_per_ha, from_unit=reference, to_unit=unit),
        convert(rate.expanded_per_ha, from_unit=reference, to_unit=unit),
    )


def _line(
    business: BusinessFacts,
    *,
    subject: str,
    path: str,
    unit: str,
    planned: Quantity | None,
    label: tuple[Quantity | None, Quantity | None],
    delivered: float | None,
    expanded: float | None,
    basis: str,
) -> RateLine:
    """Return a line with its two judgements, where there is something to compare."""
    target = planned.to(unit) if planned is not None else None
    low, high = (None if limit is None else limit.to(unit) for limit in label)
    against_planned, against_label, look_again = "", "", False
    if delivered is not None and expanded is not None:
        if target is not None:
            judged = judge_target(
                value=delivered,
                expanded=expanded,
                target=target,
                look_again=float(business.look_again_percent) / 100.0,
                disagree=float(business.disagree_percent) / 100.0,
            )
            against_planned, look_again = judged.outcome.value, judged.look_again
        if low is not None or high is not None:
            against_label = judge_within(
                value=delivered, expanded=expanded, low=low, high=high
            ).value
    return RateLine(
        subject=subject,
        path=path,
        unit=unit,
        planned=target,
        label_min=low,
        label_max=high,
        delivered=delivered,
        expanded=expanded,
        against_planned=against_planned,
        against_label=against_label,
        look_again=look_again,
        basis=basis,
    )


def _number(answer: Answer) -> Quantity | None:
    return answer if isinstance(answer, Quantity) else None


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
