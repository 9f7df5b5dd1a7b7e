"""A paper as a file: what every page repeats, what the document says of itself, and its bytes."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial

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
    return bound([(sheet, about)], about)


def bound(papers: Sequence[tuple[Sheet, About]], about: About, *, volume: bool = False) -> bytes:
    """Return papers, each laid out by itself, as one PDF.

    Args: about, what the file says of itself; volume, whether its pages are numbered through, and
    each paper is found in the reader's own list of contents.
    """
    register()
    out = io.BytesIO()
    canvas = Canvas(
        out, pagesize=(papers[0][0].width, papers[0][0].height), invariant=1, lang="en-US"
    )
    canvas.setTitle(f"{about.name}: {', '.join(about.where)}")
    canvas.setAuthor(about.business)
    canvas.setSubject(about.subject)
    canvas.setKeywords(list(about.keywords))
    canvas.setCreator(about.software)
    canvas.setViewerPreference("DisplayDocTitle", "true")
    stamp = about.dated.astimezone(UTC)
    canvas.setDateFormatter(lambda *_: f"D:{stamp:%Y%m%d%H%M%S}Z")
    whole = sum(len(sheet.pages) for sheet, _ in papers)
    before = 0
    for number, (sheet, paper) in enumerate(papers):
        if volume:
            canvas.bookmarkPage(f"paper-{number}")
            canvas.addOutlineEntry(f"{paper.name}: {', '.join(paper.where)}", f"paper-{number}")
        through = (before, whole) if volume else None
        sheet.paint(canvas, partial(_furniture, sheet, paper, through))
        before += len(sheet.pages)
    canvas.save()
    return out.getvalue()


def _furniture(
    sheet: Sheet, about: About, through: tuple[int, int] | None, page: int, pages: int
) -> Iterator[Shape]:
    """Yield the head and the foot that every page repeats.

    Args: through, how many pages of the volume stand before the paper, and how many it has.
    """
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
    if through:
        told = f"{through[0] + page} of {through[1]} in this file"
        yield Text(right, sheet.height - 19.0, told, SMALL, "quiet", "end")


def _shortened(text: str, room: float, size: float, *, bold: bool = False) -> str:
    """Return a name as the head has room for it; the whole of it stands in the ledger."""
    text = printable(" ".join(text.split()))
    if width(text, size, bold) <= room:
        return text
    while text and width(f"{text}…", size, bold) > room:
        text = text[:-1]
    return f"{text.rstrip()}…"
