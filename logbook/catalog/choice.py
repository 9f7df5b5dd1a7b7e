"""Which nozzle of the shelf meets a label on a rig: the shelf handed to `calc.chooser`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from calc.chooser import Candidate, Choice, Label, NozzleKind, Rig, choose
from calc.droplets import DropletClass
from calc.errors import OutOfRange
from logbook.catalog.models import NozzleModel
from logbook.errors.exceptions import RefusedInput
from logbook.facts.quantity import Quantity
from logbook.localization.locale import localized


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What is asked: the label's carrier band and classes, and how the rig is to be driven."""

    carrier_min: Quantity | None
    carrier_max: Quantity | None
    finest_class: str
    coarsest_class: str
    spacing: Quantity
    speed_low: Quantity
    speed_high: Quantity
    specific_gravity: float
    wished_carrier: Quantity | None


@dataclass(frozen=True, kw_only=True)
class ShelfChoice:
    """The answer, and the nozzle models behind the names in it."""

    choice: Choice
    nozzles: dict[str, NozzleModel]


# The arguments of `calc.chooser`, as the form of the page and the API call them.
_INPUTS = {
    "low_l_ha": "carrier_min",
    "high_l_ha": "carrier_max",
    "wished_l_ha": "wished_carrier",
    "spacing_cm": "spacing",
    "low_km_h": "speed_low",
    "high_km_h": "speed_high",
    "classes": "coarsest_class",
    "specific_gravity": "density",
}


NOZZLE = "nozzle"
"""Under this a refusal names a nozzle of the shelf that nothing can be computed with."""


def choose_on_shelf(*, business: Any, wish: Wish) -> ShelfChoice:
    """Return which nozzle models of the business meet the wish, best first, and why others do not.

    Raises: RefusedInput naming the input that is not possible.
    """
    rows = NozzleModel.objects.within(business).prefetch_related("class_rows")
    nozzles: dict[str, NozzleModel] = {}
    for row in rows:
        # The choice tells nozzles apart by name; a shelf may hold two of one name.
        nozzles[f"{row.name} ({row.pk})" if row.name in nozzles else row.name] = row
    try:
        choice = choose(
            label=Label(
                low_l_ha=wish.carrier_min.si if wish.carrier_min else None,
                high_l_ha=wish.carrier_max.si if wish.carrier_max else None,
                classes=_allowed(wish.finest_class, wish.coarsest_class),
                product_low_per_ha=None,
                product_high_per_ha=None,
            ),
            rig=Rig(
                spacing_cm=wish.spacing.to("cm"),
                low_km_h=wish.speed_low.si,
                high_km_h=wish.speed_high.si,
            ),
            candidates=[_candidate(name, row) for name, row in nozzles.items()],
            specific_gravity=wish.specific_gravity,
            wished_l_ha=wish.wished_carrier.si if wish.wished_carrier else None,
        )
    except OutOfRange as bad:
        raise RefusedInput({_INPUTS.get(bad.argument, bad.argument): [localized(bad)]}) from None
    return ShelfChoice(choice=choice, nozzles=nozzles)


def _allowed(finest: str, coarsest: str) -> frozenset[DropletClass] | None:
    if not finest and not coarsest:
        return None
    low = DropletClass[finest] if finest else DropletClass.XF
    high = DropletClass[coarsest] if coarsest else DropletClass.UC
    return frozenset(c for c in DropletClass if low <= c <= high)


def _candidate(name: str, row: NozzleModel) -> Candidate:
    """Return the nozzle as the choice takes it.

    Raises: RefusedInput naming it if its data sheet was not written down whole.
    """
    pressures = [one.pressure.si for one in row.class_rows.all()]
    if len(set(pressures)) < len(pressures):
        said = _("%(nozzle)s: its table of droplet classes gives one pressure twice; mend it.")
        raise RefusedInput({NOZZLE: [said % {"nozzle": row.name}]})
    if row.pressure_max.si <= row.pressure_min.si:
        said = _("%(nozzle)s: its highest rated pressure is not above its lowest; mend it.")
        raise RefusedInput({NOZZLE: [said % {"nozzle": row.name}]})
    return Candidate(
        name=name,
        kind=NozzleKind(row.kind),
        size=row.size,
        angle_deg=row.angle,
        rated_flow_l_min=row.rated_flow.si,
        rated_pressure_kpa=row.rated_pressure.si,
        exponent=float(row.exponent),
        low_kpa=row.pressure_min.si,
        high_kpa=row.pressure_max.si,
        # The range on such a nozzle's data sheet is already the one in which it draws air.
        induction_kpa=None,
        classes=tuple(
            (class_row.pressure.si, DropletClass[class_row.droplet_class])
            for class_row in row.class_rows.all()
        ),
    )
