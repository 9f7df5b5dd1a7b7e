"""SVG of the drawings: described, scaling, and without a single inline style."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from django.contrib.staticfiles import finders

from calc.droplets import CLASS_COLOURS
from calc.nozzle import SIZES
from logbook.checks.assessment import assess
from logbook.documents.drawing import (
    Circle,
    Curve,
    Drawing,
    Line,
    Polygon,
    Rect,
    Text,
)
from logbook.documents.paint import INKS
from logbook.documents.sketch import field_sketch
from logbook.documents.strip import rate_strip
from logbook.documents.svg import to_svg
from logbook.documents.window import SYSTEMS, draw_window, window_of
from tests.logbook.checks.build import L_SHAPE, clean
from tests.logbook.documents.sealed import rate_line

NAMESPACE = "{http://www.w3.org/2000/svg}"


def drawings():
    snapshot = clean()
    window = window_of(snapshot, assess(snapshot))
    return [
        rate_strip(rate_line()),
        draw_window(window, units=SYSTEMS["us"]),
        field_sketch(L_SHAPE, name="North L", wind_from_deg=300.0, system="us"),
    ]


@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_drawing_is_an_image_with_a_title_and_a_description(place):
    drawing = drawings()[place]
    svg = ET.fromstring(to_svg(drawing, key="one"))
    assert svg.attrib["role"] == "img"
    assert svg.attrib["aria-labelledby"] == "one-title one-desc"
    title, desc = svg.find(f"{NAMESPACE}title"), svg.find(f"{NAMESPACE}desc")
    assert (title.attrib["id"], title.text) == ("one-title", drawing.title)
    assert (desc.attrib["id"], desc.text) == ("one-desc", drawing.description)
    assert svg.attrib["viewBox"] == f"0 0 {drawing.width:g} {round(drawing.height, 2):g}"
    assert not {"width", "height"} & svg.attrib.keys()
    assert len(list(svg)) == 2 + len(drawing.shapes)


@pytest.mark.parametrize("place", [0, 1, 2])
def test_nothing_is_styled_inline(place):
    svg = to_svg(drawings()[place], key="one")
    assert "style" not in svg
    assert not re.search(r"\b(fill|stroke)=", svg)
    assert "<script" not in svg


def test_text_is_escaped():
    drawing = Drawing(10, 10, "<b>", "a & b", (Text(1, 2, "<script>", 3),))
    svg = to_svg(drawing, key="k")
    assert "<script>" not in svg
    assert "&lt;script&gt;" in svg
    assert '<title id="k-title">&lt;b&gt;</title>' in svg


def test_every_shape_carries_its_geometry_and_roles():
    drawing = Drawing(
        *(20, 10, "t", "d"),
        (
            Line(1, 2, 3, 4, "rule", 0.5),
            Curve(((0, 0), (1.255, 2)), "ink"),
            Rect(1, 2, 3, 4, "shade"),
            Rect(1, 2, 3, 4, "", "ink"),
            Polygon((((0, 0), (1, 0), (1, 1)), ((2, 2), (3, 2), (3, 3))), "ink", "rule"),
            Circle(5, 5, 1, "breach", "ground"),
            Text(1, 2, "15", 7, "quiet", "end", True),
        ),
    )
    line, curve, filled, empty, polygon, circle, text = list(
        ET.fromstring(to_svg(drawing, key="k"))
    )[2:]
    assert (line.attrib["x1"], line.attrib["y2"], line.attrib["class"]) == ("1", "4", "line-rule")
    assert line.attrib["stroke-width"] == "0.5"
    assert curve.attrib["points"] in ("0,0 1.25,2", "0,0 1.26,2")
    assert filled.attrib["class"] == "fill-shade"
    assert empty.attrib["class"] == "line-ink"
    assert polygon.attrib["d"] == "M0,0 1,0 1,1Z M2,2 3,2 3,3Z"
    assert polygon.attrib["fill-rule"] == "evenodd"
    assert circle.attrib["class"] == "fill-breach line-ground"
    assert (text.text, text.attrib["text-anchor"]) == ("15", "end")
    assert text.attrib["class"] == "fill-quiet bold"


def style_sheet():
    return Path(finders.find("documents/drawing.css")).read_text()


def test_the_style_sheet_has_a_rule_for_every_role_of_the_paper():
    css = style_sheet()
    for role in INKS:
        assert f".fill-{role} {{" in css
        if not role.startswith("swatch"):
            assert f".line-{role} {{" in css


def test_the_style_sheet_has_the_colours_of_the_two_standards():
    css = style_sheet()
    for each, shown in CLASS_COLOURS.items():
        assert f".fill-swatch-class-{each.name} {{ fill: {shown.swatch}; }}" in css
    for size in SIZES.values():
        assert f".fill-swatch-size-{size.designation} {{ fill: {size.swatch}; }}" in css


def test_page_and_paper_use_the_same_inks_in_the_light():
    css = style_sheet()
    for role, colour in INKS.items():
        if not role.startswith("swatch") and role != "ground":
            assert f"--drawing-{role}: var(--{role}, {colour});" in css
