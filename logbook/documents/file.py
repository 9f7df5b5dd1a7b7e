"""A paper as a file: what every page repeats, what the document says of itself, and its bytes."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from reportlab.pdfgen.canvas import Canvas

from logbook.documents.drawing import Shape, Text
from logbook.documents.page import BODY, SMALL, TITLE, Sheet
from logbook.documents.typeface import printable, register, width


@dataclass(frozen=True, kw_only=True, slots=True)
class About:
    """What a paper is: its head and foot, and what its file says of itself.

    Attributes: name, the title of the paper; business and where (place, day), the rest of its head;
    foot; subject; keywords; software that made it; dated, the instant that the file bears, so that
    the same facts give the same bytes.
    """

    name: str
    business: str
    where: tuple[str, ...]
    foot: str
    subject: str
    keywords: tuple[str, ...] = ()
    software: str
    dated: datetime


def to_pdf(sheet: Sheet, about: About) -> bytes:
    """Return the PDF of pages that are laid out."""
    register()
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(sheet.width, sheet.height), invariant=1, lang="en-US")
    canvas.setTitle(f"{about.name}: {', '.join(about.where)}")
    canvas.setAuthor(about.business)
    canvas.setSubject(about.subject)
    canvas.setKeywords(list(about.keywords))
    canvas.setCreator(about.software)
    canvas.setViewerPreference("DisplayDocTitle", "true")
    stamp = about.dated.astimezone(UTC)
    canvas.setDateFormatter(lambda *_: f"D:{stamp:%Y%m%d%H%M%S}Z")
    sheet.paint(canvas, lambda page, pages: _furniture(sheet, about, page, pages))
    canvas.save()
    return out.getvalue()


def _furniture(sheet: Sheet, about: About, page: int, pages: int) -> Iterator[Shape]:
    """Yield the head and the foot that every page repeats."""
    left, right = sheet.left, sheet.right
    pages_of = f"page {page} of {pages}"
    room = right - left - width(about.name, TITLE, True) - 12.0
    yield Text(left, 29.0, about.name, TITLE, bold=True)
    business = _shortened(about.business, room, BODY, bold=True)
    yield Text(right, 29.0, business, BODY, anchor="end", bold=True)
    room = right - left - width(pages_of, BODY) - 12.0
    yield Text(left, 40.0, _shortened(" · ".join(about.where), room, BODY), BODY)
    yield Text(right, 40.0, pages_of, BODY, "quiet", "end")
    yield Text(left, sheet.height - 19.0, about.foot, SMALL, "quiet")


def _shortened(text: str, room: float, size: float, *, bold: bool = False) -> str:
    """Return a name as the head has room for it; the whole of it stands in the ledger."""
    text = printable(" ".join(text.split()))
    if width(text, size, bold) <= room:
        return text
    while text and width(f"{text}…", size, bold) > room:
        text = text[:-1]
    return f"{text.rstrip()}…"
