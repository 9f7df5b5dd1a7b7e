"""Whether a rig measures finely enough for its business, told on its own page."""

from __future__ import annotations

import dataclasses
from datetime import date
from decimal import Decimal
from typing import Any

from calc.errors import OutOfRange
from logbook.catalog.models import CatchTest
from logbook.catalog.selectors import mounted_sets
from logbook.checks.accuracy import too_coarse
from logbook.checks.core import CannotRun
from logbook.checks.setting import setting
from logbook.facts.choices import BROADCAST
from logbook.facts.messages import msg
from logbook.facts.quantity import Absence, Nothing, Quantity
from logbook.facts.record import RecordFacts, Snapshot
from logbook.localization.locale import localized
from logbook.records.models import ApplicationRecord
from logbook.records.sealing.snapshot import (
    business_facts,
    catch_test_facts,
    nozzle_facts,
    rig_facts,
)

USUAL_SPEED = {"us": Quantity(Decimal(6), "mph"), "metric": Quantity(Decimal(10), "km/h")}
"""At which speed a rig is looked at that was not driven yet; common practice, no source."""


def accuracy_of_rig(*, business: Any, rig: Any, today: date, system: str) -> str:
    """Return that a rig is too coarse for the yardstick and what would do, "" where it is not.

    It is looked at with the nozzles mounted today, as on its last sealed job, or else at the rated
    pressure. "" also while nothing is mounted.

    Args: system of units of the reader, "us" or "metric".
    """
    mounted = mounted_sets(business=business, today=today, rig_id=rig.pk)
    nozzle_set = next((one for sets in mounted.values() for one in sets), None)
    if nozzle_set is None:
        return ""
    test = CatchTest.objects.filter(nozzle_set=nozzle_set, tested_on__lte=today).first()
    last = (
        ApplicationRecord.objects.filter(business=business, rig=rig, signed_at__isnull=False)
        .order_by("-started_at", "-id")
        .values_list("pressure", "speed")
        .first()
    ) or (None, None)
    pressure, speed = (one if isinstance(one, Quantity) else None for one in last)
    facts = _at_work(
        business=business_facts(business),
        rig=rig_facts(rig),
        nozzle=nozzle_facts(nozzle_set.nozzle),
        catch_test=test and catch_test_facts(test),
        pressure=pressure or nozzle_set.nozzle.rated_pressure,
        speed=speed or USUAL_SPEED[system],
    )
    try:
        laid = setting(facts)
    except (CannotRun, OutOfRange):
        return ""
    said = too_coarse(laid, off_plan=float(business.disagree_percent) / 100.0)
    if not said:
        return ""
    at = msg("At {pressure} and {speed}:", pressure=laid.state.gauge, speed=laid.speed)
    return f"{localized(at)} {localized(said)}"


def _at_work(*, pressure: Quantity, speed: Quantity, **rows: Any) -> Snapshot:
    """Return the facts of a job of which nothing is known but how the rig is set."""
    blank: dict[str, Any] = {one.name: None for one in dataclasses.fields(RecordFacts)}
    nothing = Nothing(Absence.NOT_APPLICABLE)
    record = RecordFacts(
        **blank
        | {"pattern": BROADCAST, "pressure": pressure, "speed": speed}
        | {"duty": nothing, "density": nothing}
    )
    absent = ("customer", "field", "crop", "applicator", "supervisor", "nozzle_mounted_on")
    rows |= dict.fromkeys(absent)
    return Snapshot(record=record, **rows)
