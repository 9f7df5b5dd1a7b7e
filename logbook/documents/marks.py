"""The checker's marks, drawn: the shape carries the meaning, the word always stands beside it."""

from __future__ import annotations

from collections.abc import Iterator

from logbook.documents.drawing import Circle, Curve, Polygon, Rect, Shape, Text


def mark(kind: str, *, x: float, y: float, size: float) -> Iterator[Shape]:
    """Yield one mark, `size` wide, around the middle `x`, `y`.

    ■ breach, ◆ mismatch, △ caution, ○ missing, ✓ agrees, ? cannot be decided.
    """
    half = size / 2.0
    line = 0.16 * size
    match kind:
        case "breach":
            yield Rect(x - 0.9 * half, y - 0.9 * half, 0.9 * size, 0.9 * size, kind)
        case "mismatch":
            corners = ((x, y - half), (x + half, y), (x, y + half), (x - half, y))
            yield Polygon((corners,), kind)
        case "caution":
            triangle = ((x, y - half), (x + half, y + 0.8 * half), (x - half, y + 0.8 * half))
            yield Polygon((triangle,), "ground", kind, line)
        case "missing":
            yield Circle(x, y, 0.85 * half, "ground", kind, line)
        case "agrees":
            points = ((x - 0.9 * half, y), (x - 0.2 * half, y + 0.8 * half), (x + half, y - half))
            yield Curve(points, kind, 1.2 * line)
        case "undecided":
            yield Text(x, y + 0.75 * half, "?", 1.3 * size, "caution", "middle", True)
        case _:
            raise ValueError(f'"{kind}" is not a kind of mark.')
