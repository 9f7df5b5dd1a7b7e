"""What was delivered, estimated in every way that a record allows, and combined.

The carrier rate follows from the settings, from the mix used over the treated area, from each
product used over that area and its strength in the mix, and from the mix used over distance and
swath. Each estimate is named by the path of its own entry, and names the sources of its doubt, so
that an entry that two of them rest on counts once (`calc.evidence`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from calc.coverage import EffectiveWidth
from calc.dose import concentration_per_l
from calc.evidence import Combined, Estimate, combine
from calc.uncertainty import relative_from_relative_accuracy
from calc.units import dimension_of
from logbook.checks.core import CannotRun
from logbook.checks.requirements import Requirements
from logbook.checks.setting import kept, nozzle_width, setting
from logbook.facts.messages import msg
from logbook.facts.quantity import Absence, Answer, Nothing, Quantity
from logbook.facts.record import LoadFacts, ProductFacts, RigFacts, Snapshot
from logbook.facts.wording import listed

AREA_ACCURACY = 0.01
"""Half-width of an entered area; common practice, no source."""

DISTANCE_ACCURACY = 0.01
"""Half-width of a distance driven, from wheel or satellite; common practice, no source."""

PRODUCT_ACCURACY = 0.02
"""Half-width of a product measured out; common practice, no source."""

SETTINGS, MIX, DISTANCE = "settings", "mix_used", "distance"
"""Names of estimates; that of a product is the path of its total."""


@dataclass(frozen=True)
class Evidence:
    """All estimates of the carrier rate, and what they come to.

    Attributes: estimates [L/ha]; best, of those that agree; against, what came of all of them where
    they contradict one another, else None. Without `SETTINGS` among them it is what was used alone.
    """

    estimates: tuple[Estimate, ...]
    best: Combined
    against: Combined | None

    @property
    def odd(self) -> str:
        """The name of the one estimate that the others contradict; "" if none can be named."""
        return self.against.odd[0] if self.against and len(self.against.odd) == 1 else ""


@dataclass(frozen=True)
class Concentration:
    """What is in a litre of the mix, in the reference unit of the amount, and where it is from."""

    per_l: float
    relative_u: float
    basis: str
    measured: bool = True  # not merely planned
    of_totals: bool = False  # from the total used and the mix used


@kept
def evidence(s: Snapshot) -> Evidence | None:
    """Return what all entries say of the carrier rate; None if none says anything."""
    estimates = []
    try:
        laid = setting(s)
        estimates = [Estimate(SETTINGS, laid.laid.rate_l_ha, laid.laid.sources)]
    except CannotRun:
        pass
    mix, area, rig = number(s.record.mix_used), number(s.record.treated_area), s.rig
    if mix is not None and mix.si > 0.0:
        tank = {"tank": tank_u(rig)}
        if area is not None:
            estimates.append(Estimate(MIX, mix.si / area.si, {**tank, "area": area_u()}))
        distance, width = number(s.record.distance), nozzle_width(s, Requirements())
        if distance is not None and rig is not None and width is not None:
            sprayed_ha = distance.si * swath_m(rig, width) / 10_000.0
            # The swath is as wide as the spacing makes it, and so is the strip of one nozzle.
            wide = {"distance": distance_u(), "spacing": swath_u(rig)}
            estimates.append(Estimate(DISTANCE, mix.si / sprayed_ha, {**tank, **wide}))
    if area is not None:
        estimates += _of_products(s, area)
    if not estimates:
        return None
    both = combine(estimates)
    if both.consistent:
        return Evidence(tuple(estimates), both, None)
    # Settings alone where none can be named: the others rest on what people wrote down later.
    rest = [one for one in estimates if one.name not in both.odd] if len(both.odd) == 1 else []
    return Evidence(tuple(estimates), combine(rest or estimates[:1]), both)


def _of_products(s: Snapshot, area: Quantity) -> Iterable[Estimate]:
    """Yield the carrier rate by each product's total and its strength in the mix. [L/ha]"""
    for place, product in enumerate(s.products):
        total, name = number(product.total_used), total_of(place)
        strength = _strength(s, place, total.dimension) if total else None
        if total is not None and total.si > 0.0 and strength is not None and strength.per_l > 0.0:
            yield Estimate(
                name,
                total.si / (area.si * strength.per_l),
                {name: product_u(), f"strength of {place}": strength.relative_u, "area": area_u()},
            )


def _strength(s: Snapshot, place: int, asked: str) -> Concentration | None:
    """Return what loads, or else the plan, put of a product in a litre of the mix.

    Args: asked, "volume" or "mass". None where neither says it: a strength that was reckoned from
    the total used would only say the mix used once more.
    """
    product = s.products[place]
    if parts_of(s, product):
        try:
            return of_the_loads(s, product, asked)
        except CannotRun:
            return None
    planned, carrier = number(product.planned_rate), number(s.record.planned_carrier)
    if planned is None or not planned.dimension.startswith(f"{asked}_"):
        return None
    if not per_area(planned.unit):
        return Concentration(per_l(planned), tank_u(s.rig), "", measured=False)
    if carrier is None:
        return None
    return as_planned(s, planned, carrier)


def product_estimate(s: Snapshot, place: int, held: Concentration) -> Combined | None:
    """Return the best estimate of a product's rate per area, in the reference unit of its amount.

    Its own total over the area enters directly, the other estimates of the carrier times what the
    mix holds. None without a carrier rate.

    Args: held, what is in a litre of the mix.
    """
    product, name = s.products[place], total_of(place)
    total, area = number(product.total_used), number(s.record.treated_area)
    seen = evidence(s)
    own = []
    if total is not None and area is not None and total.si > 0.0:
        own = [Estimate(name, total.si / area.si, {name: product_u(), "area": area_u()})]
    if own and (held.of_totals or not held.measured):
        # Strength and total are one entry then, or the strength is what was meant to be mixed.
        return combine(own)
    if seen is None:
        return combine(own) if own else None
    agree = set(seen.best.weights)
    others = [
        replace(
            one,
            value=one.value * held.per_l,
            sources={**one.sources, f"strength of {place}": held.relative_u},
        )
        for one in seen.estimates
        if one.name in agree and one.name in (SETTINGS, MIX, DISTANCE)
    ]
    if own and (name in agree or seen.against is None or not seen.odd):
        both = combine([*own, *others])
        return both if both.consistent else combine(own)
    return combine(others) if others else None


def concentration(s: Snapshot, place: int, unit: str) -> Concentration:
    """Return what is in a litre of the mix: from the loads, the totals or, last, the plan.

    Args: place of the product in the record; unit of its rate, which says volume or mass.
    Raises: CannotRun, naming the facts that lack or the amounts that are of another kind.
    """
    product = s.products[place]
    asked = "volume" if dimension_of(unit).startswith("volume") else "mass"
    if parts_of(s, product):
        return of_the_loads(s, product, asked, unit)
    total, mix = number(product.total_used), number(s.record.mix_used)
    if total is not None and mix is not None and mix.si > 0.0:
        _of_one_kind(product, [total], asked, unit)
        return Concentration(
            per_l=concentration_per_l(amount=total.si, mix_volume_l=mix.si),
            relative_u=tank_u(s.rig),
            basis=msg("concentration from the total used and the mix used"),
            of_totals=True,
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
        return as_planned(s, planned, carrier)
    ask.number(
        product.total_used,
        f"products.{place}.total_used",
        msg("the total of {name} used", name=product.name),
    )
    ask.number(s.record.mix_used, "mix_used")
    raise ask.lack()


def as_planned(s: Snapshot, planned: Quantity, carrier: Quantity) -> Concentration:
    """Return what a litre of the mix holds by the plan."""
    return Concentration(
        per_l=concentration_per_l(amount=planned.si, mix_volume_l=carrier.si),
        relative_u=tank_u(s.rig),
        basis=msg("concentration as planned, so that this only restates the carrier"),
        measured=False,
    )


def parts_of(s: Snapshot, product: ProductFacts) -> list[Quantity]:
    """Return the amounts of a product in the loads."""
    return [
        part.amount
        for load in s.loads
        for part in load.parts
        if part.product_id == product.product_id
    ]


def of_the_loads(s: Snapshot, product: ProductFacts, asked: str, unit: str = "") -> Concentration:
    """Return the product and the mix that the loads brought here, and what they are weighed by.

    Two loads of unlike strength lay down what was used here of each, not what was mixed.

    Raises: CannotRun if an amount is not of the kind that is asked.
    """
    _of_one_kind(product, parts_of(s, product), asked, unit)
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
    return Concentration(
        per_l=concentration_per_l(amount=amount, mix_volume_l=sum(weights)),
        relative_u=tank_u(s.rig),
        basis=msg("concentration from the loads, weighed by {weighed}", weighed=weighed),
    )


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


def number(answer: Answer) -> Quantity | None:
    """Return an answer that is a number; None for a word or a blank."""
    return answer if isinstance(answer, Quantity) else None


def per_area(unit: str) -> bool:
    """Return whether a product rate in `unit` is an amount per area, not per volume of mix."""
    return dimension_of(unit) in ("volume_rate", "mass_rate")


def per_l(rate: Quantity) -> float:
    """Return a rate per volume of mix as L or kg in a litre of mix."""
    if rate.dimension == "volume_per_volume":
        return rate.to("% v/v") / 100.0
    return rate.to("kg/L")


def total_of(place: int) -> str:
    """Return the path of a product's total, which is the name of its estimate."""
    return f"products.{place}.total_used"


def swath_m(rig: RigFacts, width: EffectiveWidth) -> float:
    """Return the sprayed width of the boom. [m]"""
    return rig.nozzle_count * width.width_cm / 100.0


def swath_u(rig: RigFacts) -> float:
    """Return the relative standard uncertainty of that width. [1]"""
    return relative_from_relative_accuracy(accuracy=float(rig.spacing_accuracy_percent) / 100.0)


def tank_u(rig: RigFacts | None) -> float:
    """Return the relative standard uncertainty of a volume read at the tank. [1]"""
    if rig is None:
        return 0.0
    return relative_from_relative_accuracy(accuracy=float(rig.tank_accuracy_percent) / 100.0)


def area_u() -> float:
    """Return the relative standard uncertainty of an entered area. [1]"""
    return relative_from_relative_accuracy(accuracy=AREA_ACCURACY)


def distance_u() -> float:
    """Return the relative standard uncertainty of a distance driven. [1]"""
    return relative_from_relative_accuracy(accuracy=DISTANCE_ACCURACY)


def product_u() -> float:
    """Return the relative standard uncertainty of a product measured out. [1]"""
    return relative_from_relative_accuracy(accuracy=PRODUCT_ACCURACY)


def length_unit(rig: RigFacts) -> str:
    """Return the unit in which the swath of a rig is told."""
    return "ft" if rig.spacing.unit in ("in", "ft") else "m"
