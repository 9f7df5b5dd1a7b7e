"""What an item page shows beyond the columns: areas, and what a catch test comes to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from calc.calibration import EVENNESS_LIMIT, WEAR_LIMIT
from calc.errors import OutOfRange
from calc.units import convert
from logbook.checks.setting import caught
from logbook.facts.wording import three
from logbook.localization.locale import format_number, localized


@dataclass(frozen=True, kw_only=True)
class Catch:
    """One nozzle of a catch test: its number, the volume as read, and where it stands."""

    number: int
    volume: str
    deviation: str
    wear: str
    uneven: bool
    worn: bool


@dataclass(frozen=True, kw_only=True)
class CatchResult:
    """What a catch test comes to, in words and figures ready to print."""

    mean: str
    mean_other: str
    rated: str
    wear: str
    cv: str
    uneven: tuple[int, ...]
    worn: tuple[int, ...]
    catches: tuple[Catch, ...]
    evenness_limit: str = f"{EVENNESS_LIMIT:.0%}"
    wear_limit: str = f"{WEAR_LIMIT:.0%}"


def catch_result(row: Any) -> CatchResult | str:
    """Return what the catch test comes to, or the sentence that says why it comes to nothing."""
    nozzle = row.nozzle_set.nozzle
    try:
        found = caught(row, new=nozzle)
    except OutOfRange as bad:
        return _("This cannot be computed: %(why)s") % {"why": localized(bad)}
    wears = found.wear or ()
    rated = found.flows_l_min[0] / (1.0 + wears[0])
    return CatchResult(
        mean=f"{format_number(three(found.mean_l_min))} L/min",
        mean_other=f"{_gallons(found.mean_l_min)} gal/min",
        rated=f"{format_number(three(rated))} L/min ({_gallons(rated)} gal/min)",
        wear=_percent(found.mean_l_min / rated - 1.0),
        cv=format_number(f"{found.cv * 100:.1f} %"),
        uneven=found.uneven,
        worn=found.worn or (),
        catches=tuple(
            Catch(
                number=number,
                volume=format_number(str(volume)),
                deviation=_percent(deviation),
                wear=_percent(wear),
                uneven=number in found.uneven,
                worn=number in (found.worn or ()),
            )
            for number, (volume, deviation, wear) in enumerate(
                zip(row.volumes, found.deviations, wears, strict=True), start=1
            )
        ),
    )


def count_differs(row: Any) -> str:
    """Return a sentence where the catches are not as many as the rig's nozzles; else ""."""
    there, caught_from = row.nozzle_set.rig.nozzle_count, len(row.volumes)
    if there == caught_from:
        return ""
    return _("%(caught)d catches are written down, but %(rig)s has %(nozzles)d nozzles.") % {
        "caught": caught_from,
        "rig": row.nozzle_set.rig,
        "nozzles": there,
    }


def areas(area_ha: float, *, system: str) -> str:
    """Return an area in both systems, the person's own first, one digit after the point."""
    hectares = format_number(f"{area_ha:.1f} ha")
    acres = format_number(f"{convert(area_ha, from_unit='ha', to_unit='ac'):.1f} ac")
    own, other = (acres, hectares) if system == "us" else (hectares, acres)
    return f"{own} ({other})"


def _gallons(flow_l_min: float) -> str:
    return format_number(three(convert(flow_l_min, from_unit="L/min", to_unit="gal/min")))


def _percent(share: float) -> str:
    text = f"{share * 100:+.1f}"
    return format_number("0.0 %" if float(text) == 0 else f"{text} %".replace("-", "−"))


def spot(shape: dict[str, Any]) -> str:
    """Return where a place is, in words: latitude and longitude of a point, or its shape's kind."""
    if shape.get("type") == "Point":
        longitude, latitude = shape["coordinates"][:2]
        return _("latitude %(latitude)s, longitude %(longitude)s") % {
            "latitude": latitude,
            "longitude": longitude,
        }
    return _("an outline or line of GeoJSON (%(type)s)") % {"type": shape.get("type")}
