"""What a cab reads while a job runs: the table, the boom, the wind, what lies downwind, loads."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from calc.droplets import CLASS_COLOURS, Allowed
from calc.errors import OutOfRange
from calc.units import convert
from logbook.catalog.nearby import places_near
from logbook.checks import label
from logbook.checks.core import CannotRun
from logbook.checks.requirements import Requirements
from logbook.checks.setting import catch_test_in_force, caught
from logbook.documents import cab, fieldmap, svg
from logbook.documents.window import SYSTEMS
from logbook.facts.quantity import Nothing, Quantity
from logbook.facts.record import Snapshot, WeatherFacts
from logbook.facts.wording import limits, listed
from logbook.localization.compass import point_of
from logbook.localization.locale import (
    clock_time,
    format_number,
    format_value,
    localized,
    translate_word,
)
from logbook.sections.cab import CabTable, cab_table
from logbook.web.present import Mark, colour_class

PLACES_SHOWN = 2


@dataclass(frozen=True, kw_only=True)
class Said:
    """One ruled line of the page: what stands, and what belongs to it in quiet ink."""

    what: str
    more: str
    mark: Mark | None = None


def running_shown(s: Snapshot, *, business: Any) -> dict[str, Any]:
    """Return what the page of a running job shows of its facts."""
    last = s.weather[-1] if s.weather else None
    from_deg = last.wind_from.to("°") if last and isinstance(last.wind_from, Quantity) else None
    name = s.field.name if s.field else ""
    ring = cab.wind_ring(s.field.boundary if s.field else None, name=name, wind_from_deg=from_deg)
    return {
        "ring": svg.to_svg(ring, key="ring"),
        **_table(s),
        "boom": _boom(s),
        "boom_colour": colour_class(s.nozzle.size) if s.nozzle else "",
        "said_lines": (_wind(s, last), _downwind(s, business, from_deg), _loads(s)),
    }


def _table(s: Snapshot) -> dict[str, Any]:
    """Return the table of speed and pressure, or why there is none."""
    units = SYSTEMS[s.system]
    try:
        table = cab_table(s, speed_unit=units.speed, pressure_unit=units.pressure)
    except CannotRun as lack:
        why = localized(listed(lack.needs.values()) if lack.needs else lack.why)
        return {
            "no_table": _("For the table of speed and pressure enter: %(facts)s.") % {"facts": why}
        }
    except OutOfRange as bad:
        return {"no_table": localized(bad)}
    return {"table": table, "table_notes": list(_notes(table))}


def _notes(table: CabTable) -> Any:
    """Yield what has to be known beside the table: its classes in words, its ends, its basis."""
    classes = sorted({one for step in table.steps for one in step.classes})
    if classes:
        yield ", ".join(
            f"{one.name} {translate_word(CLASS_COLOURS[one].words).lower()}" for one in classes
        )
    if any(not step.classes for step in table.steps):
        yield _("–: the nozzle’s data sheet names no droplet class there.")
    if any(step.allowed is Allowed.FAILS for step in table.steps):
        yield _("■ is a droplet class that the label does not allow.")
    if any(step.allowed is Allowed.UNKNOWN for step in table.steps):
        yield _("? may be a droplet class that the label does not allow.")
    yield _(
        "Outside %(slowest)s to %(fastest)s %(speed)s the nozzle leaves its rated %(low)s to "
        "%(high)s %(pressure)s."
    ) % {
        "slowest": format_number(table.slowest),
        "fastest": format_number(table.fastest),
        "speed": table.speed_unit,
        "low": format_number(table.low),
        "high": format_number(table.high),
        "pressure": table.pressure_unit,
    }
    if not table.at_gauge:
        yield _(
            "This is the pressure at the nozzle. What is lost on the way from the gauge is not "
            "known: the gauge has to show more."
        )


def _boom(s: Snapshot) -> dict[str, str] | None:
    """Return the boom with what its last catch test says of single tips."""
    if s.rig is None or s.nozzle is None:
        return None
    found = None
    test = catch_test_in_force(s)
    with suppress(OutOfRange):  # A check of its own says what is wrong with the test.
        found = caught(test) if test else None
    off = [one for one in (found.uneven if found else ()) if one <= s.rig.nozzle_count]
    drawing = cab.boom(count=s.rig.nozzle_count, size=s.nozzle.size, off=off)
    words = drawing.description
    if found is None:
        words += "; " + _("no catch test in force")
    for number in off[:3]:
        share = found.deviations[number - 1] * 100.0 if found else 0.0
        said = (
            _("tip %(number)d flows %(share).0f %% high")
            if share > 0
            else _("tip %(number)d flows %(share).0f %% low")
        )
        words += "; " + said % {"number": number, "share": abs(share)}
    if len(off) > 3:
        more = len(off) - 3
        words += "; " + ngettext("%(n)d more is off", "%(n)d more are off", more) % {"n": more}
    return {"drawing": svg.to_svg(drawing, key="boom"), "words": words}


def wind_window(s: Snapshot) -> label.Window | None:
    """Return the strictest wind limits of the labels of a mix, None where all are silent."""
    asked = label.labels(s, Requirements())
    return label.window(asked, low=lambda one: one.wind_min, high=lambda one: one.wind_max)


def _wind(s: Snapshot, last: WeatherFacts | None) -> Said:
    """Return the last reading beside what the labels allow."""
    asked = wind_window(s)
    allowed = ""
    if asked:
        unit = last.wind_speed.unit if last and isinstance(last.wind_speed, Quantity) else ""
        words = localized(limits(asked.low, asked.high, unit=unit))
        allowed = _("The label allows %(limits)s.") % {"limits": words}
    if last is None:
        return Said(what=_("No wind taken yet"), more=allowed, mark=Mark(kind="missing"))
    told = [_("calm")] if isinstance(last.wind_from, Nothing) else []
    if isinstance(last.wind_from, Quantity):
        told.append(_("from %(point)s") % {"point": point_of(last.wind_from.to("°"))})
    speed = last.wind_speed
    if speed is not None:
        told.append(format_value(speed))
    mark = None
    if asked and isinstance(speed, Quantity):
        mark = Mark(kind="agrees" if asked.holds(speed) else "breach")
    at = clock_time(last.read_at.astimezone(s.zone))
    return Said(
        what=_("Wind %(told)s") % {"told": ", ".join(told) or _("not said")},
        more=f"{at}. {allowed}".strip(),
        mark=mark,
    )


SLIDES = {"mph": 20.0, "km/h": 32.0}
"""How far the slide of the wind's speed reaches: beyond what any label allows, common practice."""


def wind_shown(s: Snapshot, *, system: str) -> dict[str, Any]:
    """Return the ring and the slide of the wind's page, in the units of a person's system."""
    last = s.weather[-1] if s.weather else None
    from_deg = last.wind_from.to("°") if last and isinstance(last.wind_from, Quantity) else None
    boundary, name = (s.field.boundary, s.field.name) if s.field else (None, "")
    ring = cab.wind_ring(boundary, name=name, wind_from_deg=from_deg, earlier=True)
    unit = SYSTEMS[system].speed
    asked = wind_window(s)
    ends = (asked.low, asked.high) if asked else (None, None)
    low, high = (None if end is None else end.to(unit) for end in ends)
    words = localized(limits(asked.low, asked.high, unit=unit)) if asked else ""
    slide = cab.speed_slide(most=SLIDES[unit], unit=unit, low=low, high=high, words=words)
    earlier = ""
    if last and from_deg is not None:
        earlier = _("Grey: the reading of %(time)s, from %(point)s, %(degrees).0f°.") % {
            "time": clock_time(last.read_at.astimezone(s.zone)),
            "point": point_of(from_deg),
            "degrees": from_deg,
        }
    return {
        "ring": svg.to_svg(ring, key="ring"),
        "earlier": earlier,
        "slide": svg.to_svg(slide, key="slide-scale"),
        "slide_unit": unit,
        "slide_most": f"{SLIDES[unit]:g}",
        "label_limits": slide.description,
    }


def _downwind(s: Snapshot, business: Any, from_deg: float | None) -> Said:
    """Return the sensitive places to which the wind goes, the nearest first."""
    look = _("Look yourself: only what was written down is here.")
    if s.field is None or not s.field.boundary:
        said = _("The field has no outline here, so what is downwind is not known.")
        return Said(what=_("Downwind: not known"), more=f"{said} {look}", mark=Mark(kind="missing"))
    near = places_near(business=business, boundary=s.field.boundary)
    if from_deg is None:
        names = [_place(one, None, s) for one in near[:PLACES_SHOWN]]
        what = (
            _("Nearest: %(places)s") % {"places": "; ".join(names)}
            if names
            else _("No sensitive place is written down near it")
        )
        # A reading without a direction: the air stood still.
        calm = _("In calm air spray may drift to any side.") if s.weather else ""
        return Said(what=what, more=calm or _("Take the wind to see what lies downwind."))
    down = [
        one
        for one in near
        if fieldmap.side(bearing_deg=one.bearing_deg, wind_from_deg=from_deg) == "downwind"
    ]
    if not down:
        return Said(what=_("Downwind: no place written down"), more=look)
    names = [_place(one, from_deg, s) for one in down[:PLACES_SHOWN]]
    if (more := len(down) - PLACES_SHOWN) > 0:
        names.append(ngettext("%(n)d more", "%(n)d more", more) % {"n": more})
    return Said(
        what=_("Downwind now: %(places)s") % {"places": "; ".join(names)},
        more=look,
        mark=Mark(kind="caution"),
    )


def _place(place: Any, from_deg: float | None, s: Snapshot) -> str:
    where = fieldmap.where(place, wind_from_deg=None, system=s.system)
    told = f"{place.name}, {where}"
    if place.too_near:
        told += ", " + _("nearer than the distance to keep")
    return told


def _loads(s: Snapshot) -> Said:
    """Return the loads written down, and how many tanks the whole field takes as planned."""
    volumes = [load.mixed_volume for load in s.loads]
    carrier, rig, field = s.record.planned_carrier, s.rig, s.field
    plan = ""
    area = s.record.treated_area if isinstance(s.record.treated_area, Quantity) else None
    if area is None and field:
        area = field.planted_size if isinstance(field.planted_size, Quantity) else None
    if isinstance(carrier, Quantity) and rig and area:
        litres = carrier.si * area.si
        tanks = math.ceil(litres / rig.tank.si - 1e-9)
        total = convert(litres, from_unit="L", to_unit=rig.tank.unit)
        plan = ngettext(
            "%(area)s at %(carrier)s takes %(total)s: %(n)d tank of %(tank)s.",
            "%(area)s at %(carrier)s takes %(total)s: %(n)d tanks of %(tank)s.",
            tanks,
        ) % {
            "area": format_value(area),
            "carrier": format_value(carrier),
            "total": format_number(f"{total:.0f} {rig.tank.unit}"),
            "n": tanks,
            "tank": format_value(rig.tank),
        }
    if not volumes:
        return Said(what=_("No load written down yet"), more=plan)
    what = ngettext("%(n)d load: %(loads)s", "%(n)d loads: %(loads)s", len(volumes)) % {
        "n": len(volumes),
        "loads": ", ".join(map(format_value, volumes)),
    }
    return Said(what=what, more=plan)
