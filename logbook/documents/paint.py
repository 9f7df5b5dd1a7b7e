"""Drawings on paper: the same primitives through reportlab, in the same roles."""

from __future__ import annotations

from functools import cache
from typing import Any

from reportlab.lib.colors import Color, HexColor

from calc.droplets import CLASS_COLOURS
from calc.nozzle import SIZES
from logbook.documents.drawing import (
    Circle,
    Curve,
    Drawing,
    Line,
    Polygon,
    Rect,
    Shape,
    Text,
)
from logbook.documents.typeface import BOLD, REGULAR

INKS = {
    "ink": "#1C2224",
    "quiet": "#5A5F5C",
    "rule": "#8C897F",
    "hatch": "#5A5F5C",
    "shade": "#EEECE4",
    "ground": "#FFFFFF",
    "breach": "#9A2A1C",
    "mismatch": "#845200",
    "caution": "#22577F",
    "missing": "#5A5560",
    "agrees": "#2A6041",
    **{f"swatch-class-{each.name}": shown.swatch for each, shown in CLASS_COLOURS.items()},
    **{f"swatch-size-{size.designation}": size.swatch for size in SIZES.values()},
}
"""The ink of each role on white paper; the page's style sheet names the same roles."""


@cache
def ink(role: str) -> Color:
    """Return the ink of a role."""
    return HexColor(INKS[role])


def paint(canvas: Any, drawing: Drawing, *, x: float, y: float) -> None:
    """Put a drawing on the canvas, its upper left corner at `x`, `y` of the page, y up."""
    for shape in drawing.shapes:
        paint_shape(canvas, shape, left=x, top=y)


def paint_shape(canvas: Any, shape: Shape, *, left: float, top: float) -> None:
    """Put one shape on the canvas, its origin at `left`, `top` of the page, y up."""
    match shape:
        case Text():
            draw = {
                "start": canvas.drawString,
                "middle": canvas.drawCentredString,
                "end": canvas.drawRightString,
            }[shape.anchor]
            canvas.setFillColor(ink(shape.role))
            canvas.setFont(BOLD if shape.bold else REGULAR, shape.size)
            draw(left + shape.x, top - shape.y, shape.text)
        case Line():
            canvas.setStrokeColor(ink(shape.role))
            canvas.setLineWidth(shape.width)
            canvas.line(left + shape.x1, top - shape.y1, left + shape.x2, top - shape.y2)
        case Curve():
            canvas.setStrokeColor(ink(shape.role))
            canvas.setLineWidth(shape.width)
            path = canvas.beginPath()
            _trace(path, shape.points, left, top)
            canvas.drawPath(path)
        case Rect():
            stroke, fill = _inks(canvas, shape)
            canvas.rect(
                left + shape.x,
                top - shape.y - shape.height,
                shape.width,
                shape.height,
                stroke=stroke,
                fill=fill,
            )
        case Polygon():
            stroke, fill = _inks(canvas, shape)
            path = canvas.beginPath()
            for ring in shape.rings:
                _trace(path, ring, left, top)
                path.close()
            canvas.drawPath(path, stroke=stroke, fill=fill, fillMode=0)
        case _:
            stroke, fill = _inks(canvas, shape)
            canvas.circle(left + shape.x, top - shape.y, shape.radius, stroke=stroke, fill=fill)


def _inks(canvas: Any, shape: Rect | Polygon | Circle) -> tuple[int, int]:
    """Set the inks of a closed shape; return whether it is stroked and filled."""
    if shape.role:
        canvas.setFillColor(ink(shape.role))
    if shape.outline:
        canvas.setStrokeColor(ink(shape.outline))
        canvas.setLineWidth(shape.stroke)
    return int(bool(shape.outline)), int(bool(shape.role))


def _trace(path: Any, points: Any, left: float, top: float) -> None:
    first, *rest = points
    path.moveTo(left + first[0], top - first[1])
    for x, y in rest:
        path.lineTo(left + x, top - y)
