"""The lines of a page on which a field is chosen: the fields, and the job that goes on there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from calc.geometry import bounds
from calc.units import convert
from logbook.accounts.rights import Actor
from logbook.documents import cab, svg
from logbook.facts.quantity import Quantity
from logbook.facts.units import usual_unit
from logbook.localization.locale import format_number, format_value
from logbook.records.reading import inhand, selectors
from logbook.records.reading.inhand import InHand, State
from logbook.web.present import Mark


@dataclass(frozen=True, kw_only=True)
class FieldLine:
    """A line of the fields in hand as the page shows it."""

    at: InHand
    drawing: str
    size: str
    chosen: bool
    box: str  # west, south, east, north of its outline, by which a browser finds the nearest

    @property
    def mark(self) -> Mark | None:
        """What the checker has to say of its draft."""
        if self.at.state is State.READY:
            return Mark(kind="agrees")
        if self.at.state is State.LACKING:
            return Mark(kind="breach" if self.at.off else "missing")
        return None

    @property
    def chosen_by(self) -> str:
        """What *Start* sends for it: the field, and the draft that stands on it already."""
        draft = f" {self.at.record.pk}" if self.at.record and self.at.state is State.OPEN else ""
        return f"{self.at.field.pk}{draft}"


_FILLS: dict[State, cab.Fill] = {
    State.RUNNING: "hatched",
    State.LACKING: "hatched",
    State.READY: "shaded",
    State.CLOSED: "crossed",
    State.OPEN: "",
}


def field_lines(lines: Iterable[InHand], *, system: str) -> list[FieldLine]:
    """Return the lines of fields, each drawn small; the first that is open is the one chosen."""
    found: list[FieldLine] = []
    for line in lines:
        chosen = line.state is State.OPEN and not any(one.chosen for one in found)
        found.append(_field_line(line, system=system, chosen=chosen))
    return found


def _field_line(at: InHand, *, system: str, chosen: bool) -> FieldLine:
    boundary = at.field.boundary
    return FieldLine(
        at=at,
        chosen=chosen,
        drawing=svg.to_svg(cab.small_field(boundary, fill=_FILLS[at.state])),
        size=size_of(at.field, system=system),
        box=box_of(boundary),
    )


def size_of(field: Any, *, system: str) -> str:
    """Return a field's planted size as entered, else the area of its outline, "" without either."""
    if isinstance(field.planted_size, Quantity):
        return format_value(field.planted_size)
    if field.area_ha is None:
        return ""
    unit = usual_unit(("area",), system=system)
    return format_number(f"{convert(field.area_ha, from_unit='ha', to_unit=unit):.1f} {unit}")


def box_of(boundary: dict[str, Any] | None) -> str:
    """Return the rectangle around an outline in degrees, "" without one."""
    return " ".join(f"{one:.5f}" for one in bounds(place=boundary)) if boundary else ""


@dataclass(frozen=True, kw_only=True)
class Job:
    """A job that may be repeated: its record, and what is said of it."""

    record: Any
    what: str
    how: str

    @property
    def title(self) -> str:
        """Which job it is."""
        if self.record.signed_at:
            return _("Same job as no. %(number)s") % {"number": self.record.seal.number}
        return _("Same job as the draft on %(field)s") % {
            "field": self.record.field_name.name or _("no field yet")
        }


def job_of(record: Any) -> Job:
    """Return what is said of a job: its products with their rates, the carrier and the rig."""
    lines = record.products.all()
    rates = ", ".join(format_value(one.planned_rate) for one in lines if one.planned_rate)
    how = _("no rate said")
    if record.planned_carrier and rates:
        how = _("%(rate)s in %(carrier)s") % {
            "rate": rates,
            "carrier": format_value(record.planned_carrier),
        }
    elif record.planned_carrier or rates:
        how = rates or format_value(record.planned_carrier)
    return Job(
        record=record,
        what=", ".join(one.named.name for one in lines) or _("no product"),
        how=f"{how}; {record.rig}" if record.rig else how,
    )


def job_asked(actor: Actor, like: UUID | None, now: datetime) -> Job | None:
    """Return the job that *Start* repeats: the one asked for, or the last."""
    if like:
        return job_of(selectors.existing(actor=actor, record_id=like))
    return next((job_of(one) for one in inhand.last_jobs(actor=actor, now=now, most=1)), None)
