"""The list of the book: narrowed, sorted, page by page, as files, and printed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from html import escape
from typing import Any

from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from logbook.accounts.rights import Right
from logbook.documents.papers import corrections
from logbook.documents.volume import render_volume
from logbook.errors.exceptions import RefusedInput
from logbook.localization import locale
from logbook.pagination import Page, page_of
from logbook.records.reading import bookrows, selectors
from logbook.records.reading.bookfilter import (
    FLAGS,
    IDS,
    SORTS,
    STATES,
    BookFilter,
    choices,
    names_asked,
    read_filter,
)
from logbook.records.sealing.sealed import read_seal
from logbook.web.book.views import new_record_id
from logbook.web.listing import csv_answer, error_lines, heads, pages, query_with, xlsx_answer
from logbook.web.templatetags.book import named, now
from logbook.web.viewbase import BookRequest, front_door

PER_PAGE = 50
MAX_XLSX = 50_000
"""Records of one XLSX file, which cannot be sent before it is whole; CSV has no end."""

PART = 100
"""Records of one printed file."""

MAX_PARTS = 100
"""Parts that are offered; beyond them the list is to be narrowed."""


def _words() -> dict[str, str]:
    return {
        "state": _("state"),
        "customer": _("customer"),
        "field": _("field"),
        "product": _("product"),
        "applicator": _("applicator"),
        "rig": _("rig"),
        "year": _("year"),
        "from": _("from day"),
        "to": _("to day"),
        "flag": _("flagged"),
        "q": _("with"),
    }


def _state_words() -> dict[str, str]:
    words = {one: locale.translate_word(one) for one in STATES}
    return words | {"aside": _("set aside")}


def _flag_words() -> dict[str, str]:
    return {
        "breach": _("with a breach"),
        "mismatch": _("with a mismatch"),
        "missing": _("with a missing fact"),
        "unexplained": _("with a finding without explanation"),
        "finding": _("with any finding"),
        "clean": _("without finding"),
    }


@dataclass(frozen=True, slots=True)
class Chip:
    """One thing that the list is narrowed by, and the query without it."""

    word: str
    value: str
    without: str


def _chips(request: BookRequest, names: dict[str, str]) -> Iterator[Chip]:
    for name, word in _words().items():
        if value := request.GET.get(name, "").strip():
            shown = names.get(name) or _shown(name, value)
            yield Chip(word, shown, query_with(request, **{name: ""}))


def _shown(name: str, value: str) -> str:
    """Return what was asked for as the page has it."""
    if name == "flag":
        return _flag_words().get(value, "")
    if name == "state":
        return _state_words().get(value, value)
    if name in ("from", "to"):
        with suppress(ValueError):  # what is no day is refused beside it
            return locale.format_day(date.fromisoformat(value))
    return value


@require_safe
@front_door(Right.SEE)
def book(request: BookRequest) -> HttpResponse:
    """The list of records; what it shows stands in its address."""
    errors: dict[str, list[str]] = {}
    asked, names, page = BookFilter(), {}, Page([], "", "")
    try:
        asked = read_filter(request.GET)
        names = names_asked(actor=request.actor, asked=asked)
        page = page_of(
            bookrows.lines(actor=request.actor, asked=asked),
            keys=asked.keys,
            descending=asked.descending,
            query=request.GET,
            size=PER_PAGE,
        )
    except RefusedInput as refusal:
        errors = refusal.errors
    context = {
        "lines": _lines(page.rows),
        "count": len(page.rows),
        "page": page,
        "pages": pages(request, page),
        "asked": asked,
        "q": request.GET.get("q", ""),
        "state": request.GET.get("state", ""),
        "states": _state_words().items(),
        "kept": _kept(request, ("q", "state")),
        "heads": heads(
            request,
            (
                ("number", _("No.")),
                ("day", _("Day")),
                ("field", _("Field")),
                ("customer", _("Customer")),
                ("", _("Products")),
                ("", _("State")),
            ),
            sort=asked.sort,
            down_first=("number", "day"),
        ),
        "chips": list(_chips(request, names)),
        "query": query_with(request),
        "printable": asked.state not in ("draft", "aside"),
        "errors": error_lines(errors),
        "left_out": _left_out(asked),
        "new_id": new_record_id(),
    }
    return render(request, "book/list.html", context, status=422 if errors else 200)


def _left_out(asked: BookFilter) -> str:
    """Return which records have no place in an order; "" if all have."""
    return {
        "number": _("In the order of numbers there are signed records alone."),
        "field": _(
            "The order is that of the names on the shelf today. A record that names no field yet "
            "has no place in it."
        ),
        "customer": _(
            "The order is that of the names on the shelf today. A record that names no customer "
            "yet has no place in it."
        ),
    }.get(asked.sort.removeprefix("-"), "")


def _kept(request: BookRequest, own: tuple[str, ...]) -> list[tuple[str, str]]:
    """Return what a form of some inputs has to carry along of the address."""
    names = [*_words(), "sort"]
    return [(name, value) for name in names if name not in own and (value := request.GET.get(name))]


LINE = (
    '<tr><td data-label="{no}">%s</td><td data-label="{day}"><time>%s</time></td>'
    '<td data-label="{field}"><a href="/book/%s/">%s</a>%s</td><td data-label="{customer}">%s</td>'
    '<td data-label="{products}">%s</td><td data-label="{state}">%s</td></tr>'
)


class _Words:
    """The words of the lines of one page, in its language, ready as HTML."""

    def __init__(self) -> None:
        def quiet(words: str) -> str:
            return f'<span class="quiet">{escape(words)}</span>'

        heads = {
            "no": _("No."),
            "day": _("Day"),
            "field": _("Field"),
            "customer": _("Customer"),
            "products": _("Products"),
            "state": _("State"),
        }
        # A percent sign of a word is none of the pattern.
        said = {name: escape(word).replace("%", "%%") for name, word in heads.items()}
        self.line = LINE.format(**said)
        self.blank, self.draft = quiet(_("blank")), quiet(_("draft"))
        self.no_field = escape(_("no field yet"))
        self.signed, self.unsigned = escape(_("signed")), quiet(_("not signed"))


def _lines(rows: list[dict[str, Any]]) -> SafeString:
    """Return the lines of the table.

    Written here and not in a template, with each word translated once: fifty lines are half of what
    the page costs. Every text out of a row goes through `escape`.
    """
    products = bookrows.products_of(row["id"] for row in rows)
    words = _Words()
    return mark_safe(  # noqa: S308
        "\n".join(
            words.line
            % (
                row["seal__number"] if row["signed_at"] else words.draft,
                escape(_day(row)) or words.blank,
                row["id"],
                escape(field.name) or words.no_field,
                now(field),
                named(customer) or words.blank,
                ", ".join(named(name) for (name,) in products.get(row["id"], ())) or words.blank,
                _state(row, words),
            )
            for row in rows
            for field, customer in [(bookrows.named(row, "field"), bookrows.named(row, "customer"))]
        )
    )


def _day(row: dict[str, Any]) -> str:
    return locale.format_days(bookrows.days_of(row))


def _state(row: dict[str, Any], words: _Words) -> str:
    if not row["signed_at"]:
        return words.unsigned
    said = words.signed
    if count := row["seal__breaches"]:
        breaches = _("%(count)s breaches") if count > 1 else _("%(count)s breach")
        told_so = escape(breaches % {"count": count})
        said += (
            f' <span class="mark mark-breach"><span aria-hidden="true">■</span> {told_so}</span>'
        )
    elif count := row["seal__findings"]:
        findings = _("%(count)s findings") if count > 1 else _("%(count)s finding")
        said += f' <span class="quiet">{escape(findings % {"count": count})}</span>'
    if row["amends_id"]:
        number = row["amends__seal__number"]
        said += f", {escape(_('amends no. %(number)s') % {'number': number})}"
    if row["amendment__signed_at"]:
        number = row["amendment__seal__number"]
        said += f", {escape(_('corrected by no. %(number)s') % {'number': number})}"
    return said


@require_safe
@front_door(Right.SEE)
def narrow(request: BookRequest) -> HttpResponse:
    """Everything that the list can be narrowed and sorted by, in one form."""
    found = choices(actor=request.actor)
    chosen = {name: request.GET.get(name, "") for name in (*_words(), "sort")}
    context = {
        "chosen": chosen,
        "choices": [(name, _words()[name], chosen[name], found[name]) for name in IDS],
        "states": _state_words().items(),
        "flags": [(name, _flag_words()[name]) for name in FLAGS],
        "sorts": [
            (f"{sign}{name}", word)
            for name, both in _sort_words().items()
            for sign, word in zip(("-", ""), both, strict=True)
        ],
    }
    return render(request, "book/narrow.html", context)


def _sort_words() -> dict[str, tuple[str, str]]:
    words = {
        "day": (_("day, the newest first"), _("day, the oldest first")),
        "number": (_("number, the highest first"), _("number, the lowest first")),
        "field": (_("field, from Z to A"), _("field, from A to Z")),
        "customer": (_("customer, from Z to A"), _("customer, from A to Z")),
    }
    return {name: words[name] for name in SORTS}


# --- as files ------------------------------------------------------------------------------------


@require_safe
@front_door(Right.SEE)
def as_csv(request: BookRequest) -> HttpResponseBase:
    """The list for a spreadsheet program, as it is narrowed and sorted; sent as it is read."""
    asked = read_filter(request.GET)
    return csv_answer(
        (bookrows.HEAD, bookrows.table(actor=request.actor, asked=asked)), name="book"
    )


@require_safe
@front_door(Right.SEE)
def as_xlsx(request: BookRequest) -> HttpResponseBase:
    """The list as a workbook."""
    asked = read_filter(request.GET)
    if selectors.book(actor=request.actor, asked=asked)[MAX_XLSX : MAX_XLSX + 1].exists():
        said = _(
            "More than %(most)s records fit; a workbook holds at most so many. Narrow the list, or "
            "take CSV, which has no such end."
        )
        raise RefusedInput({"xlsx": [said % {"most": MAX_XLSX}]})
    return xlsx_answer(
        (bookrows.HEAD, bookrows.table(actor=request.actor, asked=asked)), name="book"
    )


# --- on paper ------------------------------------------------------------------------------------


@require_safe
@front_door(Right.PRINT)
def prints(request: BookRequest) -> HttpResponse:
    """The printed records of the list: how many, which are left out, the files to print."""
    errors: dict[str, list[str]] = {}
    context: dict[str, Any] = {}
    try:
        asked = read_filter(request.GET)
        names = names_asked(actor=request.actor, asked=asked)
        most = PART * MAX_PARTS
        signed, drafts = selectors.counted(actor=request.actor, asked=asked, most=most)
        context = {
            "chips": list(_chips(request, names)),
            "signed": min(signed, most),
            "drafts": min(drafts, most),
            "more": signed > most,
            "more_drafts": drafts > most,
            "parts": [
                (first + 1, min(first + PART, signed), query_with(request, part=str(number)))
                for number, first in enumerate(range(0, min(signed, most), PART), start=1)
            ],
            "part": PART,
        }
    except RefusedInput as refusal:
        errors = refusal.errors
    context |= {"errors": error_lines(errors), "query": query_with(request)}
    return render(request, "book/print.html", context, status=422 if errors else 200)


@require_safe
@front_door(Right.PRINT)
def print_pdf(request: BookRequest) -> HttpResponse:
    """One part of the sealed records of the list, in its order, as one file."""
    asked = read_filter(request.GET)
    text = request.GET.get("part", "1")
    plain = len(text) <= 9 and text.isascii() and text.isdigit()
    if not (plain and 1 <= int(text) <= MAX_PARTS):
        said = _("“%(value)s” is not taken for part; allowed is a whole number from 1 to %(most)s.")
        raise RefusedInput({"part": [said % {"value": text[:20], "most": MAX_PARTS}]})
    part = int(text)
    found = selectors.sealed_part(
        actor=request.actor, asked=asked, first=(part - 1) * PART, count=PART
    )
    if not found:
        raise RefusedInput({"part": [_("No signed record of the list stands in this part.")]})
    every = [one for _seal, later in found for one in later]
    named = dict(zip(every, corrections(actor=request.actor, later=every), strict=True))
    records = [(read_seal(seal), [named[one] for one in later]) for seal, later in found]
    content = render_volume(records, paper=request.actor.business.paper_size)
    answer = HttpResponse(content, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="records-{part}.pdf"'
    return answer
