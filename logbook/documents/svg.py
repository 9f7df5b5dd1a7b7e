"""Drawings on a web page: SVG without a single inline style, described for a screen reader."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from django.utils.html import escape, format_html
from django.utils.safestring import SafeString

from logbook.documents.drawing import (
    Circle,
    Curve,
    Drawing,
    Line,
    Point,
    Polygon,
    Rect,
    Shape,
)


def to_svg(drawing: Drawing, *, key: str = "") -> SafeString:
    """Return the drawing as SVG that scales to the room it has.

    Args: key, unique on the page; the ids of title and description begin with it. Without one the
        drawing is an ornament, for it says nothing that does not stand beside it.
    """
    # Numbers, and names of our own; the words are escaped one by one.
    shapes = SafeString("".join(map(_shape, drawing.shapes)))
    if not key:
        return format_html(
            '<svg class="drawing" aria-hidden="true" viewBox="0 0 {} {}" '
            'xmlns="http://www.w3.org/2000/svg">{}</svg>',
            _n(drawing.width),
            _n(drawing.height),
            shapes,
        )
    return format_html(
        '<svg class="drawing" role="img" viewBox="0 0 {width} {height}" '
        'aria-labelledby="{key}-title {key}-desc" xmlns="http://www.w3.org/2000/svg">'
        '<title id="{key}-title">{title}</title><desc id="{key}-desc">{desc}</desc>'
        "{shapes}</svg>",
        width=_n(drawing.width),
        height=_n(drawing.height),
        key=key,
        title=drawing.title,
        desc=drawing.description,
        shapes=shapes,
    )


def _shape(shape: Shape) -> str:
    match shape:
        case Line():
            return (
                f'<line x1="{_n(shape.x1)}" y1="{_n(shape.y1)}" x2="{_n(shape.x2)}"'
                f' y2="{_n(shape.y2)}" class="line-{shape.role}" stroke-width="{_n(shape.width)}"/>'
            )
        case Curve():
            return (
                f'<polyline points="{_points(shape.points)}" class="line-{shape.role}"'
                f' stroke-width="{_n(shape.width)}"/>'
            )
        case Rect():
            return (
                f'<rect x="{_n(shape.x)}" y="{_n(shape.y)}" width="{_n(shape.width)}"'
                f' height="{_n(shape.height)}" class="{_classes(shape.role, shape.outline)}"'
                f' stroke-width="{_n(shape.stroke)}"/>'
            )
        case Polygon():
            path = " ".join(f"M{_points(ring)}Z" for ring in shape.rings)
            return (
                f'<path d="{path}" class="{_classes(shape.role, shape.outline)}"'
                f' fill-rule="evenodd" stroke-width="{_n(shape.stroke)}"/>'
            )
        case Circle():
            return (
                f'<circle cx="{_n(shape.x)}" cy="{_n(shape.y)}" r="{_n(shape.radius)}"'
                f' class="{_classes(shape.role, shape.outline)}"'
                f' stroke-width="{_n(shape.stroke)}"/>'
            )
        case _:
            weight = " bold" if shape.bold else ""
            return (
                f'<text x="{_n(shape.x)}" y="{_n(shape.y)}" font-size="{_n(shape.size)}"'
                f' text-anchor="{shape.anchor}" class="fill-{shape.role}{weight}">'
                f"{escape(shape.text)}</text>"
            )


def _classes(role: str, outline: str) -> str:
    return " ".join(_names(role, outline))


def _names(role: str, outline: str) -> Iterator[str]:
    if role:
        yield f"fill-{role}"
    if outline:
        yield f"line-{outline}"


def _points(points: Iterable[Point]) -> str:
    return " ".join(f"{_n(x)},{_n(y)}" for x, y in points)


def _n(value: float) -> str:
    """Return a coordinate to a hundredth: finer than any screen shows."""
    return f"{value:.2f}".rstrip("0").rstrip(".")
