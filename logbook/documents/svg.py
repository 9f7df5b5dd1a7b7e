"""Drawings on a web page: SVG without a single inline style, described for a screen reader."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from django.utils.html import format_html, format_html_join
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


def to_svg(drawing: Drawing, *, key: str) -> SafeString:
    """Return the drawing as SVG that scales to the room it has.

    Args: key, unique on the page; the ids of title and description begin with it.
    """
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
        shapes=format_html_join("", "{}", ((_shape(shape),) for shape in drawing.shapes)),
    )


def _shape(shape: Shape) -> SafeString:
    match shape:
        case Line():
            return format_html(
                '<line x1="{}" y1="{}" x2="{}" y2="{}" class="line-{}" stroke-width="{}"/>',
                *(_n(shape.x1), _n(shape.y1), _n(shape.x2), _n(shape.y2)),
                *(shape.role, _n(shape.width)),
            )
        case Curve():
            return format_html(
                '<polyline points="{}" class="line-{}" stroke-width="{}"/>',
                *(_points(shape.points), shape.role, _n(shape.width)),
            )
        case Rect():
            return format_html(
                '<rect x="{}" y="{}" width="{}" height="{}" class="{}" stroke-width="{}"/>',
                *(_n(shape.x), _n(shape.y), _n(shape.width), _n(shape.height)),
                *(_classes(shape.role, shape.outline), _n(shape.stroke)),
            )
        case Polygon():
            path = " ".join(f"M{_points(ring)}Z" for ring in shape.rings)
            return format_html(
                '<path d="{}" class="{}" fill-rule="evenodd" stroke-width="{}"/>',
                *(path, _classes(shape.role, shape.outline), _n(shape.stroke)),
            )
        case Circle():
            return format_html(
                '<circle cx="{}" cy="{}" r="{}" class="{}" stroke-width="{}"/>',
                *(_n(shape.x), _n(shape.y), _n(shape.radius)),
                *(_classes(shape.role, shape.outline), _n(shape.stroke)),
            )
        case _:
            weight = " bold" if shape.bold else ""
            return format_html(
                '<text x="{}" y="{}" font-size="{}" text-anchor="{}" class="fill-{}{}">{}</text>',
                *(_n(shape.x), _n(shape.y), _n(shape.size), shape.anchor),
                *(shape.role, weight, shape.text),
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
