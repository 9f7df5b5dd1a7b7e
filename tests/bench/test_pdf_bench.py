"""Cost of a signed record as PDF, in ms and as a ratio to a plain canvas.

The yardstick sets the same texts and strokes of the same pages, already laid out, straight on a
canvas: no measuring, no wrapping, no colours, no curves. Run with `pytest -m bench tests/bench -s`.
"""

from __future__ import annotations

import io
import statistics
import time
from collections.abc import Callable

import pytest
from reportlab.pdfgen.canvas import Canvas

from logbook.documents.drawing import Line, Text
from logbook.documents.page import Placed
from logbook.documents.record import lay_out, render_record
from logbook.documents.typeface import REGULAR
from tests.logbook.documents.sealed import seal

REPEATS = 30
MAX_MS = 150.0
MOST = 4.0

Page = tuple[list[tuple[float, float, str, float]], list[tuple[float, float, float, float]]]


def laid_out(sealed) -> list[Page]:
    """Return the texts and strokes of each page, in the canvas's own coordinates."""
    sheet = lay_out(sealed, amended_by=(), paper="letter")
    pages: list[Page] = []
    for page in sheet.pages:
        texts, strokes = [], []
        for shape in page:
            left, top, shapes = 0.0, sheet.height, [shape]
            if isinstance(shape, Placed):
                left, top = shape.x, sheet.height - shape.y
                shapes = getattr(shape.drawing, "shapes", ())
            for one in shapes:
                if isinstance(one, Text):
                    texts.append((left + one.x, top - one.y, one.text, one.size))
                elif isinstance(one, Line):
                    strokes.append((left + one.x1, top - one.y1, left + one.x2, top - one.y2))
        pages.append((texts, strokes))
    return pages


def plain(pages: list[Page]) -> bytes:
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(612.0, 792.0), invariant=1)
    for texts, strokes in pages:
        for x, y, text, size in texts:
            canvas.setFont(REGULAR, size)
            canvas.drawString(x, y, text)
        for stroke in strokes:
            canvas.line(*stroke)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def median_ms(work: Callable[[], object]) -> float:
    taken = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        taken.append(1000.0 * (time.perf_counter() - start))
    return statistics.median(taken)


@pytest.mark.bench
def test_a_record_costs_little_more_than_its_strokes():
    sealed = seal()
    pages = laid_out(sealed)
    plain(pages)
    render_record(sealed)
    floor, ours = median_ms(lambda: plain(pages)), median_ms(lambda: render_record(sealed))
    print(f"\nrecord as PDF: {ours:.1f} ms, plain canvas {floor:.1f} ms, ratio {ours / floor:.2f}")
    assert ours < MAX_MS
    assert ours / floor < MOST
