"""The window drawing: its lines obey the rate equation, its labels keep apart."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise

import pytest

from calc.droplets import DropletClass
from logbook.checks.assessment import assess
from logbook.documents.drawing import Circle, Curve, Line, Rect, Text, box_of
from logbook.documents.sections import WINDOW as PRINTED
from logbook.documents.window import (
    SYSTEMS,
    Plot,
    Window,
    describe,
    draw_window,
    edges,
    units_of,
    window_of,
)
from logbook.facts.record import ClassRow
from tests.logbook.checks.build import clean, given, q

US, METRIC = SYSTEMS["us"], SYSTEMS["metric"]

# 0.30 gal/min at 40 psi on 20 in: a nozzle of size 03.
WINDOW = Window(
    flow_l_min=1.1356,
    flow_at_kpa=275.79,
    exponent=0.5,
    width_cm=50.8,
    rated_kpa=(206.84, 620.53),
    classes=(
        (206.84, DropletClass.VC),
        (344.74, DropletClass.C),
        (482.63, DropletClass.C),
        (620.53, DropletClass.F),
    ),
    carrier_l_ha=(93.54, 187.08),
    ran_at=(275.79, 9.656),
)


def plot_of(window, *, width=340.0, height=250.0, size=11.0):
    (low, high), (slow, fast) = edges(window)
    return Plot(
        2.8 * size, 2.6 * size, width - 3 * size, height - 2.8 * size, low, high, slow, fast
    )


def of_kind(drawing, kind):
    return [shape for shape in drawing.shapes if isinstance(shape, kind)]


def texts(drawing):
    return {text.text: text for text in of_kind(drawing, Text)}


def rate_l_ha(window, pressure_kpa, speed_km_h):
    """rate = flow · 60000 / (speed · width), flow by the orifice law: Montana MT 2000-14."""
    flow = window.flow_l_min * (pressure_kpa / window.flow_at_kpa) ** 0.5
    return flow * 60_000.0 / (speed_km_h * window.width_cm)


@pytest.mark.parametrize(("system", "unit"), [("us", 9.35396), ("metric", 1.0)])
def test_every_point_of_a_line_gives_the_rate_that_stands_at_its_end(system, unit):
    drawing = draw_window(WINDOW, units=SYSTEMS[system])
    plot = plot_of(WINDOW)
    curves = of_kind(drawing, Curve)
    assert len(curves) >= 4
    for curve in curves:
        rates = []
        for x, y in curve.points:
            kpa = plot.low_kpa + (x - plot.left) / (plot.right - plot.left) * (
                plot.high_kpa - plot.low_kpa
            )
            km_h = plot.low_km_h + (plot.bottom - y) / (plot.bottom - plot.top) * (
                plot.high_km_h - plot.low_km_h
            )
            rates.append(rate_l_ha(WINDOW, kpa, km_h) / unit)
        assert rates == pytest.approx([rates[0]] * len(rates), rel=1e-6)
        x, y = curve.points[-1]
        end = min(
            (t for t in of_kind(drawing, Text) if t.text.replace(".", "").isdigit()),
            key=lambda text: abs(text.x - x) + abs(text.y - y),
        )
        assert float(end.text) == pytest.approx(rates[0], rel=0.005)


def test_lines_stay_inside_the_rated_range_and_the_plot():
    plot = plot_of(WINDOW)
    for curve in of_kind(draw_window(WINDOW, units=US), Curve):
        for x, y in curve.points:
            assert plot.x(206.84) - 1e-6 <= x <= plot.x(620.53) + 1e-6
            assert plot.top - 1e-6 <= y <= plot.bottom + 1e-6


def test_the_rated_range_is_shaded():
    plot = plot_of(WINDOW)
    (shade,) = (r for r in of_kind(draw_window(WINDOW, units=US), Rect) if r.role == "shade")
    assert shade.x == pytest.approx(plot.x(206.84))
    assert shade.x + shade.width == pytest.approx(plot.x(620.53))


def test_the_label_s_band_is_hatched_between_its_lines():
    plot = plot_of(WINDOW)
    strokes = [
        line
        for line in of_kind(draw_window(WINDOW, units=US), Line)
        if line.role == "hatch" and max(line.y1, line.y2) <= plot.bottom
    ]
    assert strokes
    for stroke in strokes:
        for x, y in ((stroke.x1, stroke.y1), (stroke.x2, stroke.y2)):
            kpa = plot.low_kpa + (x - plot.left) / (plot.right - plot.left) * (
                plot.high_kpa - plot.low_kpa
            )
            km_h = plot.low_km_h + (plot.bottom - y) / (plot.bottom - plot.top) * (
                plot.high_km_h - plot.low_km_h
            )
            # The edges of the hatch are chords of a slightly bent line.
            assert 93.54 * 0.995 <= rate_l_ha(WINDOW, kpa, km_h) <= 187.08 * 1.005


@pytest.mark.parametrize("carrier", [(None, 187.08), (93.54, None)])
def test_a_band_that_the_label_leaves_open_runs_to_the_edge(carrier):
    window = replace(WINDOW, carrier_l_ha=carrier)
    plot = plot_of(window)
    strokes = [
        line
        for line in of_kind(draw_window(window, units=US), Line)
        if line.role == "hatch" and max(line.y1, line.y2) <= plot.bottom + 1e-6
    ]
    levels = [y for stroke in strokes for y in (stroke.y1, stroke.y2)]
    edge = plot.top if carrier[0] is None else plot.bottom
    assert min(abs(level - edge) for level in levels) < 1e-6


def test_a_silent_label_has_no_band():
    window = replace(WINDOW, carrier_l_ha=(None, None), classes=())
    drawing = draw_window(window, units=US)
    assert not [line for line in of_kind(drawing, Line) if line.role == "hatch"]


def test_the_cross_stands_where_the_rig_ran_and_says_its_rate():
    drawing, plot = draw_window(WINDOW, units=US), plot_of(WINDOW)
    (ground,) = of_kind(drawing, Circle)
    assert (ground.x, ground.y) == pytest.approx((plot.x(275.79), plot.y(9.656)))
    # 5940 · 0.30 / (6.0 · 20) = 14.85 gal/ac (UF/IFAS WG013); the flow here is a hair less.
    assert "this rig: 14.8" in texts(drawing)


def test_a_rig_beyond_the_rated_range_is_still_named():
    for kpa in (170.0, 680.0):
        drawing = draw_window(replace(WINDOW, ran_at=(kpa, 9.656)), units=US)
        assert [text for text in texts(drawing) if text.startswith("this rig: ")]


def test_in_a_drawing_too_small_for_its_name_the_cross_still_stands():
    drawing = draw_window(WINDOW, units=US, width=120.0, height=90.0, size=11.0)
    assert of_kind(drawing, Circle)
    assert not [text for text in texts(drawing) if text.startswith("this rig")]
    assert "This rig ran at 40.0 psi" in drawing.description


def test_without_a_rig_there_is_no_cross():
    drawing = draw_window(replace(WINDOW, ran_at=None), units=US)
    assert not of_kind(drawing, Circle)
    assert not [text for text in texts(drawing) if text.startswith("this rig")]
    assert "This rig" not in drawing.description


@pytest.mark.parametrize("pressure", [180.0, 206.84, 300.0, 620.53, 700.0])
@pytest.mark.parametrize("speed", [3.0, 9.0, 30.0])
@pytest.mark.parametrize("carrier", [(None, None), (93.54, 187.08), (140.0, 143.0), (None, 93.0)])
@pytest.mark.parametrize("size", [{}, PRINTED])
def test_no_two_labels_overlap_wherever_the_rig_ran(pressure, speed, carrier, size):
    window = replace(WINDOW, ran_at=(pressure, speed), carrier_l_ha=carrier)
    for system in ("us", "metric"):
        drawing = draw_window(window, units=SYSTEMS[system], **size)
        boxes = [box_of(text) for text in of_kind(drawing, Text)]
        for one, other in combinations(boxes, 2):
            assert not one.meets(other)
        for box in boxes:
            assert box.left >= 0.0
            assert box.right <= drawing.width + 1e-6
            assert box.bottom <= drawing.height + 1e-6


@pytest.mark.parametrize("carrier", [(93.53956, 187.07913), (140.0, 141.0)])
def test_the_label_s_numbers_are_always_there(carrier):
    drawing = draw_window(replace(WINDOW, carrier_l_ha=carrier), units=METRIC)
    bold = {text.text for text in of_kind(drawing, Text) if text.bold}
    assert {f"{rate:.3g}" for rate in carrier} <= bold


def test_a_round_rate_next_to_the_label_s_own_is_not_drawn_twice():
    drawing = draw_window(replace(WINDOW, carrier_l_ha=(100.5, None)), units=METRIC)
    assert "100" not in [text.text for text in of_kind(drawing, Text) if text.role == "quiet"]


def test_a_rate_whose_line_misses_the_plot_is_not_drawn():
    drawing = draw_window(WINDOW, units=METRIC)
    slowest = edges(WINDOW)[1][0]
    assert rate_l_ha(WINDOW, 620.53, slowest) < 500.0
    assert not {"800", "1000", "1500"} & texts(drawing).keys()


def lanes(window):
    drawing, plot = draw_window(window, units=US), plot_of(window)
    return plot, [r for r in of_kind(drawing, Rect) if r.outline == "ink"], texts(drawing)


def test_each_class_has_its_word_its_swatch_and_its_pressures():
    plot, bars, said = lanes(WINDOW)
    assert {"Very Coarse", "Coarse", "Medium", "Fine"} <= said.keys()
    # Coarse is listed at two pressures in a row: sure between them, possible on both sides.
    y = said["Coarse"].y
    lane = [bar for bar in bars if y < bar.y < y + 8.0]
    spans = {(round(bar.x, 3), round(bar.x + bar.width, 3)): bar.role for bar in lane}
    assert spans[(round(plot.x(344.74), 3), round(plot.x(482.63), 3))] == "swatch-class-C"
    assert spans[(round(plot.x(206.84), 3), round(plot.x(344.74), 3))] == ""
    assert spans[(round(plot.x(482.63), 3), round(plot.x(620.53), 3))] == ""
    # Medium is listed nowhere, but lies between Coarse and Fine.
    y = said["Medium"].y
    assert [bar.role for bar in bars if y < bar.y < y + 8.0] == [""]


def test_the_classes_stand_coarsest_first():
    _, _, said = lanes(WINDOW)
    order = [said[word].y for word in ("Very Coarse", "Coarse", "Medium", "Fine")]
    assert all(above < below for above, below in pairwise(order))


def test_a_class_listed_once_shows_its_colour_at_that_pressure():
    window = replace(WINDOW, classes=((300.0, DropletClass.XC),))
    plot, bars, said = lanes(window)
    point = next(bar for bar in bars if bar.y > said["Extremely Coarse"].y)
    assert point.role == "swatch-class-XC"
    assert point.x + point.width / 2 == pytest.approx(plot.x(300.0))


def test_a_nozzle_without_a_table_says_so():
    drawing = draw_window(replace(WINDOW, classes=()), units=US)
    assert "the nozzle has no table of droplet classes" in texts(drawing)
    assert "Droplet class: the nozzle has no table of classes." in drawing.description


def test_the_units_are_those_asked_for():
    assert {"psi at the nozzle", "mph", "gal/ac"} <= texts(draw_window(WINDOW, units=US)).keys()
    metric = texts(draw_window(WINDOW, units=METRIC))
    assert {"bar at the nozzle", "km/h", "L/ha"} <= metric.keys()
    assert "3" in metric  # a round number of bar, as the gauge is read


def test_every_tick_has_its_number():
    for system in ("us", "metric"):
        drawing, plot = draw_window(WINDOW, units=SYSTEMS[system]), plot_of(WINDOW)
        ticks = [
            line
            for line in of_kind(drawing, Line)
            if line.role == "rule" and line.y1 == line.y2 and line.x2 == plot.left
        ]
        numbers = [t for t in of_kind(drawing, Text) if t.anchor == "end" and t.x < plot.left]
        assert len(ticks) == len(numbers) >= 2


def test_the_window_is_told_in_sentences():
    assert describe(WINDOW, units=US) == (
        "Rated from 30 to 90 psi. Label asks 10 to 20 gal/ac. This rig ran at 40.0 psi and "
        "6.00 mph, which lays down 14.8 gal/ac. Droplet class: Very Coarse at 30, Coarse at 50, "
        "Coarse at 70, Fine at 90 psi."
    )
    half = replace(WINDOW, carrier_l_ha=(None, 187.08))
    assert "Label asks at most 187 L/ha." in describe(half, units=METRIC)
    silent = replace(WINDOW, carrier_l_ha=(None, None))
    assert "Label" not in describe(silent, units=METRIC)


def test_the_window_of_a_record_is_what_was_computed_of_it():
    snapshot = clean()
    computed = assess(snapshot)
    window = window_of(snapshot, computed)
    assert window.ran_at == (computed.nozzle_pressure_kpa, snapshot.record.speed.si)
    assert window.carrier_l_ha == pytest.approx((93.54, 187.08), rel=1e-4)
    # 5940 · 0.303 / (6.0 · 20) = 14.9985 gal/ac (UF/IFAS WG013): what the setting delivers.
    assert window.rate(*window.ran_at) / 9.35396 == pytest.approx(14.9985, rel=1e-5)


def test_a_setting_that_could_not_be_computed_is_drawn_as_rated_without_a_rig():
    snapshot = given(record__pressure=None)
    window = window_of(snapshot, assess(snapshot))
    assert window.ran_at is None
    assert window.flow_l_min == pytest.approx(1.1356, rel=1e-4)


def test_a_speed_that_was_not_measured_leaves_no_cross():
    snapshot = given(record__speed=q("not measured: no meter"))
    assert window_of(snapshot, assess(snapshot)).ran_at is None


@pytest.mark.parametrize("changes", [{"nozzle": None}, {"rig": None}])
def test_without_nozzle_or_rig_there_is_no_window(changes):
    snapshot = given(**changes)
    assert window_of(snapshot, assess(snapshot)) is None


def test_a_label_silent_on_the_carrier_leaves_the_band_open():
    snapshot = given(products__0__label__carrier_min=None)
    assert window_of(snapshot, assess(snapshot)).carrier_l_ha[0] is None
    bare = window_of(clean(), replace(assess(clean()), lines=()))
    assert bare.carrier_l_ha == (None, None)


def test_a_nozzle_without_classes_gives_a_window_without_them():
    snapshot = given(nozzle__class_table=())
    assert window_of(snapshot, assess(snapshot)).classes == ()
    one = given(nozzle__class_table=(ClassRow(pressure=q("2 bar"), droplet_class="M"),))
    assert window_of(one, assess(one)).classes == ((200.0, DropletClass.M),)


@pytest.mark.parametrize(
    ("changes", "system"),
    [
        ({}, "us"),
        ({"record__planned_carrier": q("140 L/ha")}, "metric"),
        ({"record__planned_carrier": None, "record__pressure": q("3 bar")}, "metric"),
        ({"record__planned_carrier": q("none"), "record__pressure": None}, "us"),
    ],
)
def test_the_system_is_that_in_which_the_setting_was_entered(changes, system):
    assert given(**changes).system == system


@pytest.mark.parametrize(
    ("changes", "units"),
    [
        ({}, ("psi", "mph", "gal/ac")),
        ({"record__planned_carrier": q("140 L/ha")}, ("psi", "mph", "L/ha")),
        ({"record__pressure": q("300 kPa")}, ("kPa", "mph", "gal/ac")),
        (
            {
                "record__planned_carrier": q("140 L/ha"),
                "record__pressure": q("not measured: no gauge"),
                "record__speed": None,
            },
            ("bar", "km/h", "L/ha"),
        ),
    ],
)
def test_the_axes_are_in_the_units_that_the_setting_was_entered_in(changes, units):
    found = units_of(given(**changes))
    assert (found.pressure, found.speed, found.rate) == units
    assert {f"{units[0]} at the nozzle", *units[1:]} <= texts(
        draw_window(WINDOW, units=found)
    ).keys()


@pytest.mark.parametrize(("place", "system"), [("US-ND", "us"), ("AU-NSW", "metric")])
def test_where_nothing_was_entered_the_place_decides(place, system):
    blank = dict.fromkeys(("planned_carrier", "pressure", "speed", "treated_area"))
    changes = {f"record__{name}": None for name in blank}
    assert given(**changes, field__place=place).system == system
    assert given(**changes, field=None).system == "metric"


def test_a_band_wider_than_its_row_is_no_drawing_and_no_fault():
    """The two numbers swapped: the checks name the slip, and the page opens to mend it."""
    swapped = given(
        record__pattern="banded", record__band_width=q("40 in"), record__row_spacing=q("30 in")
    )
    assert window_of(swapped, assess(swapped)) is None


def test_a_nozzle_rated_at_one_pressure_alone_is_drawn():
    one = given(nozzle__pressure_min=q("40 psi"), nozzle__pressure_max=q("40 psi"))
    window = window_of(one, assess(one))
    (low, high), _speeds = edges(window)
    assert low < q("40 psi").si < high
    assert draw_window(window, units=SYSTEMS["us"]).shapes
