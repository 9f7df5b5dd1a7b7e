"""How far from a ground rig nobody may be while it sprays a pesticide."""

from __future__ import annotations

from calc.droplets import ZONE_RULE_FROM, DropletClass, exclusion_zone_ft
from calc.units import convert
from logbook.facts.messages import msg
from logbook.facts.quantity import Quantity
from logbook.facts.record import Snapshot
from logbook.facts.wording import three
from logbook.law.applicability import NOT_PESTICIDES


def exclusion_zone(s: Snapshot, finer: DropletClass | None) -> tuple[str, ...]:
    """Return the application exclusion zone in words, where the rule holds and a pesticide is used.

    The rule measures the height above the soil; the record has it above the target, so the zone
    that would end at 12 in is stated with that condition.

    Args: finer, of the droplet classes that are possible; None while it is not known: the larger
        distance holds then, and it is said why.
    """
    day, boom = s.local_day(), s.record.boom_height
    height = boom if isinstance(boom, Quantity) else None
    if day is None or day < ZONE_RULE_FROM or not s.field or not s.field.place.startswith("US"):
        return ()
    if all(product.kind in NOT_PESTICIDES for product in s.products):
        return ()
    zone = exclusion_zone_ft(
        day=day, droplet_class=finer, height_in=height.to("in") if height else None
    )
    if zone == 0.0:
        text = msg(
            "25 ft (7.62 m) if the nozzles were more than 12 in (30.5 cm) above the soil, else none"
        )
    else:
        metres = three(convert(zone, from_unit="ft", to_unit="m"))
        text = msg("{zone:.0f} ft ({metres} m)", zone=zone, metres=metres)
    if finer is None:
        why = msg("the larger distance, for the droplet class is not known")
    elif height is None:
        why = msg("class {symbol}, boom height not known", symbol=finer.name)
    else:
        why = msg(
            "class {symbol}, boom {height} above the target", symbol=finer.name, height=height
        )
    return (
        msg(
            "Application exclusion zone: {zone} ({why}; 40 CFR 170.405(a)(1)). Keep people out of "
            "it; the label and local law decide.",
            zone=text,
            why=why,
        ),
    )
