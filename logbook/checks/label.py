"""Checks against the label: edition, rates as planned, droplet class, boom, adjuvants.

A limit of the label is data of the label edition; where the label is silent there is nothing to
check. A label maximum is hard: nothing is added to it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from logbook.checks.core import Finding, Severity, check
from logbook.checks.requirements import Requirements
from logbook.facts.messages import msg
from logbook.facts.quantity import Quantity
from logbook.facts.record import LabelFacts, ProductFacts, Snapshot
from logbook.facts.wording import (
    MISREAD,
    edition,
    inside,
    limits,
    listed,
    settled,
    unit_of,
)

KINDS_WITHOUT_LABEL = ("adjuvant", "fertilizer")
"""Product kinds that need not have a registered label; one that is on record is looked at."""

AIR_INDUCTION = ("air-induction flat fan", "air-induction twin flat fan")
DRIFT_REDUCER = "drift reducer"

NO_LABEL = msg("no label on the shelf")
SILENT = msg("the label is silent")

Labelled = tuple[int, ProductFacts, LabelFacts]
"""A product's place in the record, the product and its label edition."""


Of = Callable[[LabelFacts], Quantity | None]


@dataclass(frozen=True)
class Window:
    """The strictest limits that the labels of a mix set together, and the labels they stand on."""

    low: Quantity | None
    high: Quantity | None
    basis: str

    def words(self, entry: Quantity | None) -> str:
        """Return how the limits read, beside an entry if one is given: "15 to 20 gal/ac"."""
        if entry is None:
            return limits(self.low, self.high)
        return limits(self.low, self.high, unit=entry.unit, entered=float(entry.value))

    def holds(self, value: Quantity) -> bool:
        """Return whether a value of the same dimension is within the limits."""
        return inside(value, self.low, self.high)


def labels(s: Snapshot, ask: Requirements) -> list[Labelled]:
    """Return the products with their labels; remember the products whose label is blank.

    Without any there is nothing to look at; a check that looks at something else says so.
    """
    ask.fact(s.products or None, "products")
    found = []
    for place, product in enumerate(s.products):
        if product.label is not None:
            found.append((place, product, product.label))
        elif product.kind not in KINDS_WITHOUT_LABEL:
            ask.fact(
                None,
                f"products.{place}.label",
                msg("the label edition of {name}", name=product.name),
            )
    if not found:
        ask.nothing(NO_LABEL)
    return found


def window(
    asked: list[Labelled], *, low: Of | None = None, high: Of | None = None
) -> Window | None:
    """Return the highest minimum and the lowest maximum of the labels; None if all are silent."""
    least = max(_set(asked, low), key=_size, default=None)
    most = min(_set(asked, high), key=_size, default=None)
    if least is None and most is None:
        return None
    return Window(
        low=least[0] if least else None,
        high=most[0] if most else None,
        basis=listed(one[1] for one in (least, most) if one),
    )


def _set(asked: list[Labelled], of: Of | None) -> list[tuple[Quantity, str]]:
    return [
        (quantity, edition(product, label))
        for _, product, label in asked
        if of is not None and (quantity := of(label)) is not None
    ]


def _size(limit: tuple[Quantity, str]) -> float:
    return limit[0].si


@check(
    "label-edition",
    title=msg("a label edition in force on the day, for every product"),
    about=("products.*.label",),
)
def label_edition(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    day = ask.fact(s.local_day(), "started_at")
    for place, product, label in labels(s, ask):
        if day is None:
            continue
        ended = label.in_force_to is not None and label.in_force_to < day
        if ended or day < label.in_force_from:
            start, end = label.in_force_from, label.in_force_to
            span = (
                msg("{start} to {end}", start=start, end=end)
                if end
                else msg("{start} on", start=start)
            )
            yield label_edition.finding(
                Severity.BREACH,
                about=f"products.{place}.label",
                sentence=msg(
                    "{product} was used on {day}; label edition {edition} is in force from {span}.",
                    product=product.name,
                    day=day,
                    edition=label.edition,
                    span=span,
                ),
                basis=edition(product, label),
                settle=msg("Choose the label edition that was in force on the day."),
            )
    ask.done()


@check(
    "planned-rate",
    title=msg("the planned rate of every product against its label"),
    about=("products.*.planned_rate", "products.*.label"),
)
def planned_rate(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = labels(s, ask)
    if not any(label.rate_min or label.rate_max for _, _, label in asked):
        ask.nothing(SILENT)
    for place, product, label in asked:
        if label.rate_min is None and label.rate_max is None:
            continue
        path = f"products.{place}.planned_rate"
        rate = ask.number(
            product.planned_rate, path, msg("the planned rate of {name}", name=product.name)
        )
        if rate is None:
            continue
        other = _of_another_kind(rate, label)
        if other is not None:
            yield _not_comparable(path, rate, other, product, label)
            continue
        if not inside(rate, label.rate_min, label.rate_max):
            yield planned_rate.finding(
                Severity.BREACH,
                about=path,
                sentence=msg(
                    "{name} is planned at {rate}, label asks {limits}.",
                    name=product.name,
                    rate=rate,
                    limits=limits(
                        label.rate_min, label.rate_max, unit=rate.unit, entered=float(rate.value)
                    ),
                ),
                basis=edition(product, label),
                settle=settled(
                    s,
                    ahead=msg("Plan a rate within the label; correct the rate if it is mistyped."),
                    done=msg("Correct the rate if it is mistyped."),
                ),
            )
    ask.done()


def comparable(rate: Quantity, product: ProductFacts, label: LabelFacts, ask: Requirements) -> bool:
    """Return whether a rate and its label limits are of one kind; remember it if they are not."""
    limit = _of_another_kind(rate, label)
    if limit is not None:
        ask.refuse(
            msg(
                "the rate of {name} is planned in {unit} and limited in {other}",
                name=product.name,
                unit=rate.unit,
                other=limit.unit,
            )
        )
    return limit is None


def _of_another_kind(rate: Quantity, label: LabelFacts) -> Quantity | None:
    """Return the limit of the label that a rate of this kind cannot be held to, if there is one."""
    for limit in (label.rate_min, label.rate_max):
        if limit is not None and limit.dimension != rate.dimension:
            return limit
    return None


def _not_comparable(
    path: str, rate: Quantity, limit: Quantity, product: ProductFacts, label: LabelFacts
) -> Finding:
    """Return the finding of a rate that says another kind of thing than its label.

    A mass against a volume is a mistake in one of the two; a strength of the mix against an amount
    per area is not, but leaves the label unjudged.
    """
    same_amount = rate.dimension.partition("_")[0] == limit.dimension.partition("_")[0]
    weighed = {rate.dimension, limit.dimension} == {"mass_rate", "volume_rate"}
    without = msg(" without the density of the product, which is not on file") if weighed else ""
    return planned_rate.finding(
        Severity.CAUTION if same_amount else Severity.MISMATCH,
        about=path,
        sentence=msg(
            "{name} is planned at {rate}, but its label limits the rate in {unit}; whether "
            "the plan is within the label cannot be decided{without}.",
            name=product.name,
            rate=rate,
            unit=limit.unit,
            without=without,
        ),
        basis=edition(product, label),
        settle=msg(
            "Enter the planned rate in {unit}, or correct the label edition on the shelf "
            "if its limits are entered in the wrong unit.",
            unit=limit.unit,
        ),
        undecided=True,
    )


@check(
    "planned-carrier",
    title=msg("the planned carrier volume against the labels"),
    about=("planned_carrier", "products.*.label"),
)
def planned_carrier(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = carrier_window(s, ask)
    if asked:
        planned = ask.number(s.record.planned_carrier, "planned_carrier")
        if contradictory(asked):
            yield planned_carrier.finding(
                Severity.BREACH,
                about="planned_carrier",
                sentence=msg(
                    "No carrier volume suits all labels: one asks {low}, another {high}.",
                    low=limits(asked.low, None, unit=unit_of(planned)),
                    high=limits(None, asked.high, unit=unit_of(planned)),
                ),
                basis=asked.basis,
                settle=settled(
                    s,
                    ahead=msg("Do not mix these products; spray them apart."),
                    done=msg(
                        "Correct the products if they are not those of the mix; spray them apart "
                        "from now on."
                    ),
                ),
            )
        elif planned is not None and not asked.holds(planned):
            yield planned_carrier.finding(
                Severity.BREACH,
                about="planned_carrier",
                sentence=msg(
                    "Planned carrier {planned}, label asks {limits}.",
                    planned=planned,
                    limits=asked.words(planned),
                ),
                basis=asked.basis,
                settle=settled(
                    s, ahead=msg("Plan a carrier volume within the labels."), done=MISREAD
                ),
            )
    else:
        ask.nothing(SILENT)
    ask.done()


def carrier_window(s: Snapshot, ask: Requirements) -> Window | None:
    """Return the carrier volumes that all labels allow; remember the labels that are blank."""
    return window(
        labels(s, ask), low=lambda label: label.carrier_min, high=lambda label: label.carrier_max
    )


def contradictory(asked: Window) -> bool:
    """Return whether the labels of a mix leave no value between them."""
    return asked.low is not None and not inside(asked.low, None, asked.high)


@check(
    "boom-height",
    title=msg("boom height above the target against the labels"),
    about=("boom_height", "products.*.label"),
)
def boom_height(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = window(labels(s, ask), high=lambda label: label.boom_height_max)
    if asked:
        height = ask.number(s.record.boom_height, "boom_height")
        if height is not None and not asked.holds(height):
            yield boom_height.finding(
                Severity.BREACH,
                about="boom_height",
                sentence=msg(
                    "Boom height {height} above the target, label asks {limits}.",
                    height=height,
                    limits=asked.words(height),
                ),
                basis=asked.basis,
                settle=settled(
                    s,
                    ahead=msg(
                        "Lower the boom to {high} or less; correct the entry if it was misread.",
                        high=asked.high,
                    ),
                    done=MISREAD,
                ),
            )
    else:
        ask.nothing(SILENT)
    ask.done()


@check(
    "required-adjuvants",
    title=msg("the adjuvants that the labels ask for"),
    about=("products", "products.*.label"),
)
def required_adjuvants(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    present = {function for product in s.products for function in product.adjuvant_functions}
    asked = labels(s, ask)
    if not any(label.required_adjuvants for _, _, label in asked):
        ask.nothing(SILENT)
    for place, product, label in asked:
        lacking = [function for function in label.required_adjuvants if function not in present]
        if lacking:
            yield required_adjuvants.finding(
                Severity.BREACH,
                about=f"products.{place}",
                sentence=msg(
                    "The label of {name} asks for {lacking}; no product of this record is one.",
                    name=product.name,
                    lacking=listed(lacking),
                ),
                basis=edition(product, label),
                settle=settled(
                    s,
                    ahead=msg("Add the adjuvant before spraying, or enter the one in the mix."),
                    done=msg("Enter the adjuvant that was in the mix."),
                ),
            )
    ask.done()


@check(
    "forbidden-adjuvants",
    title=msg("no adjuvant that a label forbids"),
    about=("products", "products.*.label"),
)
def forbidden_adjuvants(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = labels(s, ask)
    if not any(label.forbidden_adjuvants for _, _, label in asked):
        ask.nothing(SILENT)
    for place, adjuvant in enumerate(s.products):
        against = [
            (product, label, function)
            for _, product, label in asked
            for function in label.forbidden_adjuvants
            if function in adjuvant.adjuvant_functions
        ]
        if against:
            yield forbidden_adjuvants.finding(
                Severity.BREACH,
                about=f"products.{place}",
                sentence=msg(
                    "{name} counts as {kinds}, which the label of {products} forbids in the mix.",
                    name=adjuvant.name,
                    kinds=listed(one[2] for one in against),
                    products=listed(one[0].name for one in against),
                ),
                basis=listed(edition(one[0], one[1]) for one in against),
                settle=settled(
                    s,
                    ahead=msg(
                        "Leave it out of the mix; correct the product if it is the wrong one."
                    ),
                    done=msg("Correct the product if it is the wrong one."),
                ),
            )
    ask.done()


@check(
    "drift-reducer",
    title=msg("no drift reducer with air-induction nozzles where a label forbids it"),
    about=("nozzle", "products", "products.*.label"),
)
def drift_reducer(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    forbidding = [
        (p, label) for _, p, label in labels(s, ask) if label.no_drift_reducer_with_air_induction
    ]
    if not forbidding:
        ask.nothing(SILENT)
    for place, product in enumerate(s.products):
        if forbidding and DRIFT_REDUCER in product.adjuvant_functions:
            nozzle = ask.fact(s.nozzle, "nozzle")
            if nozzle is not None and nozzle.kind in AIR_INDUCTION:
                yield drift_reducer.finding(
                    Severity.BREACH,
                    about=f"products.{place}",
                    sentence=msg(
                        "{name} is a drift reducer and {nozzle} draws in air; the label of "
                        "{products} forbids them together.",
                        name=product.name,
                        nozzle=nozzle.name,
                        products=listed(p.name for p, _ in forbidding),
                    ),
                    basis=listed(edition(*one) for one in forbidding),
                    settle=settled(
                        s,
                        ahead=msg(
                            "Leave out the drift reducer, or fit nozzles that draw in no air."
                        ),
                        done=msg("Correct the product or the nozzle if it is the wrong one."),
                    ),
                )
    ask.done()
