"""The drawings of a record for its page; the same layouts are printed on paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from logbook.catalog.nearby import places_near
from logbook.checks.assessment import Assessment, RateLine
from logbook.documents import fieldmap, strip, svg
from logbook.documents import sketch as sketches
from logbook.documents import window as windows
from logbook.facts.quantity import Quantity
from logbook.facts.record import BusinessFacts, Snapshot
from logbook.web.present import Mark


@dataclass(frozen=True, kw_only=True)
class Strip:
    """One rate strip with its words."""

    title: str
    svg: str
    words: str
    basis: str
    mark: Mark | None


def strips(
    assessment: Assessment, business: BusinessFacts | None = None, *, key: str = ""
) -> list[Strip]:
    """Return the strips of the carrier and of every product.

    Args: key, before the ids in the drawings, where a page holds those of several records.
    """
    return [
        Strip(
            title=_("Carrier") if line.subject == "carrier" else line.subject,
            svg=svg.to_svg(strip.rate_strip(line, business=business), key=f"{key}strip-{place}"),
            words=strip.describe(line, business=business),
            basis=line.basis,
            mark=_mark(line),
        )
        for place, line in enumerate(assessment.lines)
    ]


def _mark(line: RateLine) -> Mark | None:
    """Return the mark of the heavier of the two comparisons."""
    grave = ("breach", "mismatch", "undecided", "agrees")
    return next((Mark(kind=kind) for kind in grave if kind in line.marks), None)


def window(facts: Snapshot, assessment: Assessment) -> str:
    """Return the picture of pressure against speed, "" where there is nothing to draw."""
    shown = windows.window_of(facts, assessment)
    if shown is None:
        return ""
    return svg.to_svg(windows.draw_window(shown, units=windows.units_of(facts)), key="window")


def field_map(
    *, business: Any, boundary: Any, name: str, wind_from_deg: float | None, system: str
) -> dict[str, Any]:
    """Return the map of a field and the list of what is near it, for `shelf/_near.html`."""
    places = places_near(business=business, boundary=boundary)
    drawing = fieldmap.field_map(
        boundary, places, name=name, wind_from_deg=wind_from_deg, system=system
    )
    return {
        "sketch": svg.to_svg(drawing, key="map"),
        "near": [
            (place, fieldmap.where(place, wind_from_deg=wind_from_deg, system=system))
            for place in places
        ],
        "near_shown": True,
    }


def map_of_draft(facts: Snapshot, *, business: Any) -> dict[str, Any]:
    """Return the map of a draft's field with the wind of its readings, nothing without one."""
    if facts.field is None or not facts.field.boundary:
        return {}
    return field_map(
        business=business,
        boundary=facts.field.boundary,
        name=facts.field.name,
        wind_from_deg=sketches.mean_wind_from(facts.weather),
        system=facts.system,
    )


def wind_drawn(facts: Snapshot) -> str:
    """Return what tells whether the map of a draft's form shows the wind of its readings."""
    mean = sketches.mean_wind_from(facts.weather)
    return "" if mean is None else f"{mean:.0f}"


def sketch(facts: Snapshot) -> str:
    """Return the outline of the field with north and the first wind, "" without a boundary."""
    if facts.field is None or not facts.field.boundary:
        return ""
    winds = [r.wind_from for r in facts.weather if isinstance(r.wind_from, Quantity)]
    return svg.to_svg(
        sketches.field_sketch(
            facts.field.boundary,
            name=facts.field.name,
            wind_from_deg=winds[0].to("°") if winds else None,
            system=facts.system,
        ),
        key="sketch",
    )
