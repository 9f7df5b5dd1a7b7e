"""The window drawing: pressure across, speed up, and what a nozzle lays down at each.

Every line of equal carrier rate is rate = flow · 60000 / (speed · width), with the flow of the
nozzle at its pressure. Only what lies in the rated range of the nozzle is drawn as a line.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from django.utils.translation import gettext as _

from calc.coverage import delivered_rate_l_ha, ground_speed_km_h, nozzle_flow_l_min
from calc.droplets import DropletClass, parse_class
from calc.errors import OutOfRange
from calc.flow import flow_at_pressure, pressure_for_flow
from calc.units import convert
from logbook.checks.assessment import Assessment
from logbook.checks.requirements import Requirements
from logbook.checks.setting import nozzle_width
from logbook.documents.drawing import (
    Box,
    Circle,
    Curve,
    Drawing,
    Labels,
    Line,
    Point,
    Rect,
    Shape,
    Text,
    box_of,
    hatch,
    ticks,
)
from logbook.documents.drawing import inside as within_edges
from logbook.facts.messages import gettext_noop, joined, msg, term, with_unit
from logbook.facts.quantity import Quantity
from logbook.facts.record import Snapshot
from logbook.facts.wording import as_given, bounds, short_number, three
from logbook.localization import locale
from logbook.localization.locale import format_number, localized

USUAL_SPEED_KM_H = (6.0, 25.0)
"""Speeds shown where nothing else says which; common practice, no source."""

CURVE_STEPS = 24


@dataclass(frozen=True, slots=True)
class System:
    """The units in which a drawing is read, and the round carrier rates that it offers."""

    name: str
    pressure: str
    speed: str
    rate: str
    length: str
    rates: tuple[float, ...]


SYSTEMS = {
    "us": System(
        *("us", "psi", "mph", "gal/ac", "ft"),
        (2, 3, 4, 5, 6, 8, 10, 12.5, 15, 17.5, 20, 25, 30, 35, 40, 50, 60, 80, 100, 150, 200),
    ),
    "metric": System(
        *("metric", "bar", "km/h", "L/ha", "m"),
        (20, 30, 40, 50, 60, 80, 100, 125, 150, 175, 200, 250, 300, 400, 500, 600, 800, 1000, 1500),
    ),
}
"""The two systems, by the word that a caller gives."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Window:
    """What a window drawing shows.

    Attributes: flow_l_min of one nozzle at flow_at_kpa, with its exponent; width_cm that one nozzle
    covers; rated_kpa, its range of pressures; classes, its table of (kPa, class); carrier_l_ha,
    the label's band, None where it sets no end; ran_at, the pressure at the nozzle and the speed
    (kPa, km/h) of a rig, None where none ran.
    """

    flow_l_min: float
    flow_at_kpa: float
    exponent: float
    width_cm: float
    rated_kpa: tuple[float, float]
    classes: tuple[tuple[float, DropletClass], ...] = ()
    carrier_l_ha: tuple[float | None, float | None] = (None, None)
    ran_at: tuple[float, float] | None = None
    ran: bool = True  # whether a rig ran there; else it is the setting suggested

    def flow(self, pressure_kpa: float) -> float:
        """Return the flow of one nozzle at a pressure. [L/min]"""
        return flow_at_pressure(
            rated_flow_l_min=self.flow_l_min,
            rated_pressure_kpa=self.flow_at_kpa,
            pressure_kpa=pressure_kpa,
            exponent=self.exponent,
        )

    def speed(self, pressure_kpa: float, rate_l_ha: float) -> float:
        """Return the speed that lays down a rate at a pressure. [km/h]"""
        return ground_speed_km_h(
            flow_l_min=self.flow(pressure_kpa), rate_l_ha=rate_l_ha, spacing_cm=self.width_cm
        )

    def pressure(self, rate_l_ha: float, speed_km_h: float) -> float:
        """Return the pressure that lays down a rate at a speed. [kPa]"""
        flow = nozzle_flow_l_min(
            rate_l_ha=rate_l_ha, speed_km_h=speed_km_h, spacing_cm=self.width_cm
        )
        return pressure_for_flow(
            rated_flow_l_min=self.flow_l_min,
            rated_pressure_kpa=self.flow_at_kpa,
            flow_l_min=flow,
            exponent=self.exponent,
        )

    def rate(self, pressure_kpa: float, speed_km_h: float) -> float:
        """Return the rate laid down at a pressure and speed. [L/ha]"""
        return delivered_rate_l_ha(
            flow_l_min=self.flow(pressure_kpa), speed_km_h=speed_km_h, spacing_cm=self.width_cm
        )


def units_of(snapshot: Snapshot) -> System:
    """Return the units of a record's drawing: those that its pressure and speed were entered in,
    and for the rest those of its system.

    Who writes L/ha may read psi off the gauge; the axis is read beside that entry.
    """
    units, record = SYSTEMS[snapshot.system], snapshot.record
    pressure, speed = (
        answer.unit if isinstance(answer, Quantity) else default
        for answer, default in ((record.pressure, units.pressure), (record.speed, units.speed))
    )
    return replace(units, pressure=pressure, speed=speed)


def window_of(snapshot: Snapshot, assessment: Assessment) -> Window | None:
    """Return the window of a record; None if the nozzle or the width it covers is not known.

    Where the setting could not be computed the flow is the rated one, and no rig is marked.
    """
    nozzle = snapshot.nozzle
    try:
        width = nozzle_width(snapshot, Requirements())
    except OutOfRange:
        return None  # a band wider than its row; the checks say so
    if nozzle is None or width is None:
        return None
    flow, pressure = assessment.nozzle_flow_l_min, assessment.nozzle_pressure_kpa
    if flow is None or pressure is None:
        flow, pressure, speed = nozzle.rated_flow.si, nozzle.rated_pressure.si, None
    else:
        speed = snapshot.record.speed
    carrier = next((line for line in assessment.lines if line.subject == "carrier"), None)
    limits: tuple[float | None, float | None] = (None, None)
    if carrier is not None:
        low, high = (
            None if limit is None else float(convert(limit, from_unit=carrier.unit, to_unit="L/ha"))
            for limit in (carrier.label_min, carrier.label_max)
        )
        limits = (low, high)
    return Window(
        flow_l_min=flow,
        flow_at_kpa=pressure,
        exponent=float(nozzle.exponent),
        width_cm=width.width_cm,
        rated_kpa=(nozzle.pressure_min.si, nozzle.pressure_max.si),
        classes=tuple(
            (row.pressure.si, parse_class(row.droplet_class)) for row in nozzle.class_table
        ),
        carrier_l_ha=limits,
        ran_at=(pressure, speed.si) if isinstance(speed, Quantity) else None,
    )


def describe(window: Window, *, units: System) -> str:
    """Return the drawing in sentences, for a reader who cannot see it."""
    low, high = (_shown(each, "kPa", units.pressure) for each in window.rated_kpa)
    parts: list[str] = [
        msg("Rated from {low} to {high}.", low=low, high=with_unit(high, units.pressure))
    ]
    least, most = window.carrier_l_ha
    if least is not None or most is not None:
        limits = with_unit(_carrier_words(window, units), units.rate)
        parts.append(msg("Label asks {limits}.", limits=limits))
    if window.ran_at is not None:
        pressure, speed = window.ran_at
        words = gettext_noop(
            "The setting suggested is {pressure} and {speed}, which lays down {rate}."
        )
        if window.ran:
            words = gettext_noop("This rig ran at {pressure} and {speed}, which lays down {rate}.")
        rate = _three(window.rate(pressure, speed), "L/ha", units.rate)
        parts.append(
            msg(
                words,
                pressure=with_unit(_three(pressure, "kPa", units.pressure), units.pressure),
                speed=with_unit(_three(speed, "km/h", units.speed), units.speed),
                rate=with_unit(rate, units.rate),
            )
        )
    listed = [
        msg(
            "{class_} at {pressure}",
            class_=term(each.words),
            pressure=_shown(kpa, "kPa", units.pressure),
        )
        for kpa, each in sorted(window.classes)
    ]
    if listed:
        classes = with_unit(joined(", ", listed), units.pressure)
        parts.append(msg("Droplet class: {reason}.", reason=classes))
    else:
        parts.append(msg("Droplet class: the nozzle has no table of classes."))
    return localized(joined(" ", parts))


def _carrier_words(window: Window, units: System) -> str:
    low, high = (
        None if limit is None else _shown(limit, "L/ha", units.rate)
        for limit in window.carrier_l_ha
    )
    return bounds(low, high)


def _shown(value: float, from_unit: str, unit: str) -> str:
    """Return a limit in a unit: in the digits it was given, at most four, or else in three."""
    return as_given(convert(value, from_unit=from_unit, to_unit=unit), most=4)


def _three(value: float, from_unit: str, unit: str) -> str:
    return three(convert(value, from_unit=from_unit, to_unit=unit))


@dataclass(frozen=True, slots=True)
class Plot:
    """The box of the diagram, and the pressures [kPa] and speeds [km/h] at its edges."""

    left: float
    top: float
    right: float
    bottom: float
    low_kpa: float
    high_kpa: float
    low_km_h: float
    high_km_h: float

    def x(self, pressure_kpa: float) -> float:
        """Return where a pressure stands."""
        share = (pressure_kpa - self.low_kpa) / (self.high_kpa - self.low_kpa)
        return self.left + share * (self.right - self.left)

    def y(self, speed_km_h: float) -> float:
        """Return where a speed stands."""
        share = (speed_km_h - self.low_km_h) / (self.high_km_h - self.low_km_h)
        return self.bottom - share * (self.bottom - self.top)


def edges(window: Window) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the pressures [kPa] and the speeds [km/h] that the drawing runs between."""
    pressures = [*window.rated_kpa]
    speeds = []
    if window.ran_at is not None:
        pressures.append(window.ran_at[0])
        speeds.append(window.ran_at[1])
    for rate in window.carrier_l_ha:
        if rate is not None:
            speeds += [window.speed(kpa, rate) for kpa in window.rated_kpa]
    slow, fast = (min(speeds), max(speeds)) if speeds else USUAL_SPEED_KM_H
    if window.ran_at is None or None in window.carrier_l_ha:
        # A lone point or line says nothing of the speeds around it.
        slow, fast = min(slow, 0.6 * fast), max(fast, 1.6 * slow)
    # A nozzle rated at one pressure alone has a range of none; the drawing needs some room.
    across = (max(pressures) - min(pressures)) or 0.2 * max(pressures)
    low = max(min(pressures) - 0.1 * across, 0.0)
    room = 0.12 * (fast - slow)
    return (low, max(pressures) + 0.05 * across), (max(slow - room, 0.0), fast + room)


def draw_window(
    window: Window,
    *,
    units: System,
    width: float = 340.0,
    height: float = 250.0,
    size: float = 11.0,
) -> Drawing:
    """Return the drawing, `width` wide; `height` is the diagram's, the droplet classes come below.

    Args: units in which it is read; size of the numbers.
    """
    (low_kpa, high_kpa), (low_km_h, high_km_h) = edges(window)
    plot = Plot(
        left=2.8 * size,
        top=2.6 * size,
        right=width - 3.0 * size,
        bottom=height - 2.8 * size,
        low_kpa=low_kpa,
        high_kpa=high_kpa,
        low_km_h=low_km_h,
        high_km_h=high_km_h,
    )
    lanes = _lanes(window, plot, top=height, size=size, width=width)
    bottom = height + LANE * size * max(len(_classes(window)), 1)
    labels = Labels(within=Box(0.0, 0.0, width, height))
    shapes: list[Shape] = [*_ground(window, plot, size)]
    shapes += _axes(plot, units, labels, size=size, width=width, height=height)
    shapes += _rates(window, plot, units, labels, size)
    if window.ran_at is not None:
        shapes += _cross(window, window.ran_at, plot, units, labels, size)
    return Drawing(
        width=width,
        height=bottom,
        title=_("Window of the nozzle: carrier rate by pressure and speed"),
        description=describe(window, units=units),
        shapes=(*shapes, *labels.texts, *lanes),
    )


def _ground(window: Window, plot: Plot, size: float) -> Iterator[Shape]:
    """Yield the rated range, and in it the label's band between its two lines."""
    left, right = (plot.x(kpa) for kpa in window.rated_kpa)
    yield Rect(left, plot.top, right - left, plot.bottom - plot.top, "shade")
    least, most = window.carrier_l_ha
    if least is not None or most is not None:
        # The least rate is the fastest speed; an end the label leaves open runs to the edge.
        above = [(left, plot.top), (right, plot.top)]
        below = [(left, plot.bottom), (right, plot.bottom)]
        if least is not None:
            above = _line(window, plot, least, window.rated_kpa)
        if most is not None:
            below = _line(window, plot, most, window.rated_kpa)
        ring = [(x, min(max(y, plot.top), plot.bottom)) for x, y in (*above, *reversed(below))]
        yield from hatch([ring], gap=0.45 * size, width=0.05 * size)


def _line(
    window: Window, plot: Plot, rate_l_ha: float, between_kpa: tuple[float, float]
) -> list[Point]:
    """Return the line of one carrier rate between two pressures, bent where it leaves the plot."""
    low, high = between_kpa
    pressures = {low + (high - low) * step / CURVE_STEPS for step in range(CURVE_STEPS)} | {high}
    pressures |= {kpa for kpa in _crossings(window, plot, rate_l_ha) if low < kpa < high}
    return [(plot.x(kpa), plot.y(window.speed(kpa, rate_l_ha))) for kpa in sorted(pressures)]


def _crossings(window: Window, plot: Plot, rate_l_ha: float) -> tuple[float, float]:
    """Return the pressures [kPa] at which a rate's line meets the lower and the upper edge."""
    low = window.pressure(rate_l_ha, plot.low_km_h) if plot.low_km_h > 0.0 else 0.0
    return low, window.pressure(rate_l_ha, plot.high_km_h)


def _axes(
    plot: Plot, units: System, labels: Labels, *, size: float, width: float, height: float
) -> Iterator[Shape]:
    rule = 0.06 * size
    yield Line(plot.left, plot.bottom, plot.right, plot.bottom, "rule", rule)
    yield Line(plot.left, plot.top, plot.left, plot.bottom, "rule", rule)
    caption = height - 0.4 * size
    labels.put(
        Text(
            width,
            caption,
            _("%(unit)s at the nozzle") % {"unit": units.pressure},
            size,
            "quiet",
            "end",
        )
    )
    labels.put(Text(0.0, caption, _("droplet class"), size, "quiet"))
    labels.put(Text(0.0, 0.9 * size, units.speed, size, "quiet"))
    labels.put(Text(width, 0.9 * size, units.rate, size, "quiet", "end"))
    most = max(int((plot.right - plot.left) / (4.0 * size)), 2)
    for tick, kpa in _ticks(plot.low_kpa, plot.high_kpa, "kPa", units.pressure, most):
        x = plot.x(kpa)
        yield Line(x, plot.bottom, x, plot.bottom + 0.35 * size, "rule", rule)
        labels.put(Text(x, plot.bottom + 1.3 * size, tick, size, anchor="middle"))
    most = max(int((plot.bottom - plot.top) / (2.6 * size)), 2)
    for tick, km_h in _ticks(plot.low_km_h, plot.high_km_h, "km/h", units.speed, most):
        y = plot.y(km_h)
        yield Line(plot.left - 0.35 * size, y, plot.left, y, "rule", rule)
        labels.put(Text(plot.left - 0.6 * size, y + 0.33 * size, tick, size, anchor="end"))


def _ticks(low: float, high: float, base: str, unit: str, most: int) -> Iterator[tuple[str, float]]:
    """Yield the round numbers in `unit` between two values in `base`, each with its value there."""
    ends = (float(convert(end, from_unit=base, to_unit=unit)) for end in (low, high))
    for tick in ticks(*ends, most=most):
        yield format_number(short_number(tick)), float(convert(tick, from_unit=unit, to_unit=base))


def _rates(
    window: Window, plot: Plot, units: System, labels: Labels, size: float
) -> Iterator[Shape]:
    """Yield the lines of equal rate: the label's own first, then the round ones with room.

    The number of a line stands at its end: to the right of the rated range, or over the diagram
    where the line leaves it. A line whose number has no room is not drawn.
    """
    limits = [rate for rate in window.carrier_l_ha if rate is not None]
    named = [(rate, True) for rate in limits]
    for value in units.rates:
        rate = float(convert(float(value), from_unit=units.rate, to_unit="L/ha"))
        if all(abs(rate / limit - 1.0) > 0.02 for limit in limits):
            named.append((rate, False))
    for rate, of_label in named:
        enters, leaves = _crossings(window, plot, rate)
        low, high = max(window.rated_kpa[0], enters), min(window.rated_kpa[1], leaves)
        if low >= high:
            continue
        line = _line(window, plot, rate, (low, high))
        x, y = line[-1]
        role = "ink" if of_label else "quiet"
        number = Text(
            x, y, format_number(_shown(rate, "L/ha", units.rate)), size, role, bold=of_label
        )
        if leaves < window.rated_kpa[1]:
            places = [replace(number, y=plot.top - 0.4 * size, anchor="middle")]
        else:
            # The label's two numbers are always there: where the band is narrow they step aside.
            steps = (0.0, 0.6, -0.6, 1.2, -1.2) if of_label else (0.0,)
            beside = replace(number, x=x + 0.4 * size)
            places = [replace(beside, y=y + (0.33 + step) * size) for step in steps]
        if labels.put(*places):
            yield Curve(tuple(line), role, (0.14 if of_label else 0.06) * size)


def _cross(
    window: Window,
    ran_at: tuple[float, float],
    plot: Plot,
    units: System,
    labels: Labels,
    size: float,
) -> Iterator[Shape]:
    """Yield the cross where a rig ran, and the rule from it down to the pressure."""
    x, y, arm = plot.x(ran_at[0]), plot.y(ran_at[1]), 0.45 * size
    yield Line(x, y, x, plot.bottom, "quiet", 0.06 * size)
    yield Circle(x, y, 0.75 * size, "ground")
    yield Line(x - arm, y - arm, x + arm, y + arm, "ink", 0.2 * size)
    yield Line(x - arm, y + arm, x + arm, y - arm, "ink", 0.2 * size)
    labels.keep_free(Box(x - arm, y - arm, x + arm, y + arm))
    words = gettext_noop("this rig: {rate}") if window.ran else gettext_noop("set to: {rate}")
    told = localized(msg(words, rate=_three(window.rate(*ran_at), "L/ha", units.rate)))
    places: list[Text] = []
    for level in (y - 0.9 * size, y + 1.6 * size, y + 0.33 * size, y - 2.2 * size, y + 2.9 * size):
        places.append(Text(x + size, level, told, size, bold=True))
        places += [
            # Next to the cross, or farther in where the numbers of the lines stand in between.
            Text(x - away * size, level, told, size, anchor="end", bold=True)
            for away in (1.0, 4.5)
        ]
    within = Box(plot.left, plot.top, plot.right, plot.bottom)
    kept = [text for text in places if _lies_in(box_of(text), within)]
    if labels.put(*kept):
        box = box_of(labels.texts[-1])
        yield Rect(box.left, box.top, box.right - box.left, box.bottom - box.top, "ground")


def _lies_in(box: Box, outer: Box) -> bool:
    across = outer.left <= box.left and box.right <= outer.right
    return across and outer.top <= box.top and box.bottom <= outer.bottom


LANE = 1.6
"""Height of the lane of one droplet class, in sizes of the text."""


def _classes(window: Window) -> list[DropletClass]:
    """Return the classes that the table names or passes between, coarsest first."""
    listed = [each for _, each in window.classes]
    if not listed:
        return []
    return [each for each in reversed(DropletClass) if min(listed) <= each <= max(listed)]


def _lanes(window: Window, plot: Plot, *, top: float, size: float, width: float) -> Iterator[Shape]:
    """Yield one lane a class: solid where the table says it, hatched where it may be.

    Between two listed pressures of differing class every class from one to the other may be.
    """
    table = sorted(window.classes)
    if not table:
        words = _("the nozzle has no table of droplet classes")
        yield Text(plot.left, top + 1.2 * size, words, size, "quiet")
    for place, each in enumerate(_classes(window)):
        y = top + LANE * size * place
        bar_top, bar = y + 1.05 * size, 0.4 * size
        spans = [
            (plot.x(low), plot.x(high), one == other)
            for (low, one), (high, other) in pairwise(table)
            if min(one, other) <= each <= max(one, other)
        ]
        points = [plot.x(kpa) for kpa, listed in table if listed is each]
        for left, right, sure in spans:
            role = f"swatch-class-{each.name}" if sure else ""
            yield Rect(left, bar_top, right - left, bar, role, "ink", 0.05 * size)
            if not sure:
                ring = [
                    (left, bar_top),
                    (right, bar_top),
                    (right, bar_top + bar),
                    (left, bar_top + bar),
                ]
                yield from hatch([ring], gap=0.25 * size, width=0.05 * size)
        for x in points:
            # Where a class is listed at one pressure alone, that pressure still shows its colour.
            role = f"swatch-class-{each.name}"
            yield Rect(x - 0.2 * size, bar_top, 0.4 * size, bar, role, "ink", 0.05 * size)
        if window.ran_at is not None:
            x = plot.x(window.ran_at[0])
            if any(left <= x <= right for left, right, _ in spans) or x in points:
                yield Line(x, bar_top, x, bar_top + bar + 0.2 * size, "ink", 0.2 * size)
        starts = [left for left, _, _ in spans] + points
        side = 0.62 * size
        word = Text(
            min(starts) + side + 0.35 * size,
            y + 0.85 * size,
            locale.translate_word(each.words),
            size,
        )
        word = within_edges(word, left=plot.left + side, right=width)
        yield word
        swatch = box_of(word).left - 0.35 * size - side
        role = f"swatch-class-{each.name}"
        yield Rect(swatch, y + 0.22 * size, side, side, role, "ink", 0.05 * size)
