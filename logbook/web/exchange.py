"""Records as a file that machines read: taking one out, and bringing one in after a dry run."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any, cast
from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.core import signing
from django.http import FileResponse, HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from logbook.accounts.rights import Right
from logbook.catalog.selectors import on_shelf
from logbook.catalog.sheets.kinds import SHEETS
from logbook.errors.exceptions import Refused
from logbook.localization.locale import count, translate_word
from logbook.localization.today import today_of
from logbook.records.exchange import schema
from logbook.records.exchange.columns import COLUMNS
from logbook.records.exchange.export import Selection, csv_pieces, json_pieces
from logbook.records.exchange.importing import AT_THE_DOOR, CORRECTED, NEW, STANDING, import_records
from logbook.records.exchange.spreadsheet import as_text
from logbook.validators import FIRST_YEAR, LAST_YEAR
from logbook.web import sheets
from logbook.web.catalog.kinds import KINDS
from logbook.web.viewbase import BookRequest, front_door

MAX_CARRIED = 2_000_000
"""Characters of the packed file in the page of a dry run; a form of that size is still taken."""

CARRIED_FOR = 3600
"""Seconds for which the page of a dry run can be confirmed."""


@require_safe
@front_door(Right.SEE)
def exchange(request: BookRequest) -> HttpResponse:
    """Show what can be taken out, and the way in."""
    business = request.actor.business
    context = {
        "year": today_of(business, now=timezone.now()).year,
        "customers": on_shelf(business=business, shelf="customers"),
        "fields": on_shelf(business=business, shelf="fields"),
        "columns": COLUMNS,
        "sheets": SHEETS.values(),
        "may_shelve": request.actor.may(Right.SHELF),
        "most_records": AT_THE_DOOR.most_records,
        "most_megabytes": AT_THE_DOOR.most_bytes // 1_000_000,
        "may_import": request.actor.may(Right.SHELF) and request.actor.may(Right.DRAFT),
    }
    return render(request, "exchange/exchange.html", context)


@require_safe
@front_door(Right.SEE)
def records_json(request: BookRequest) -> HttpResponse:
    """Hand out the chosen records as JSON."""
    selection = _selection(request)
    pieces = json_pieces(
        actor=request.actor,
        selection=selection,
        now=timezone.now(),
        schema_url=request.build_absolute_uri(reverse("exchange-schema")),
    )
    return _file(pieces, "application/json", _name(selection, "json"))


@require_safe
@front_door(Right.SEE)
def records_csv(request: BookRequest) -> HttpResponse:
    """Hand out the chosen records as CSV."""
    selection = _selection(request)
    pieces = csv_pieces(actor=request.actor, selection=selection)
    return _file(pieces, "text/csv; charset=utf-8", _name(selection, "csv"))


def _file(pieces: Iterator[str], kind: str, name: str) -> HttpResponse:
    response = StreamingHttpResponse(pieces, content_type=kind)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["Cache-Control"] = "no-store"
    # The door speaks of HttpResponse; nobody between here and the client reads its content.
    return cast("HttpResponse", response)


def _name(selection: Selection, suffix: str) -> str:
    days = [day.isoformat() for day in (selection.day_from, selection.day_to) if day]
    return "-".join(["records", *days]) + f".{suffix}"


def _selection(request: HttpRequest) -> Selection:
    """Return what the address asks for.

    Raises: Refused, naming what cannot be read.
    """
    a_day = _("a day such as %(day)s, from %(first)s to %(last)s") % {
        "day": "2026-04-01",
        "first": FIRST_YEAR,
        "last": LAST_YEAR,
    }
    return Selection(
        day_from=_read(request, "from", _day, a_day),
        day_to=_read(request, "to", _day, a_day),
        customer_id=_read(request, "customer", UUID, _("one of the list")),
        field_id=_read(request, "field", UUID, _("one of the list")),
    )


def _day(text: str) -> date:
    found = date.fromisoformat(text)
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise ValueError(text)
    return found


def _read(request: HttpRequest, name: str, kind: Any, allowed: str) -> Any:
    given = request.GET.get(name, "").strip()
    try:
        return kind(given) if given else None
    except ValueError:
        raise Refused(
            _("“%(given)s” cannot be read as “%(name)s”; %(allowed)s is.")
            % {"given": given[:40], "name": name, "allowed": allowed}
        ) from None


@require_safe
@login_not_required
def records_schema(request: HttpRequest) -> HttpResponseBase:
    """Hand out the JSON Schema, to anybody."""
    response = FileResponse(schema.FILE.open("rb"), content_type="application/schema+json")
    response["Cache-Control"] = "public, max-age=3600"
    return response


@require_POST
@front_door(Right.SHELF)
def look(request: BookRequest) -> HttpResponse:
    """Say what a file would come to; nothing is written. The file goes into the page, signed."""
    file = request.FILES.get("file")
    if file is None:
        raise Refused(_("Choose the file first."))
    if (file.size or 0) > AT_THE_DOOR.most_bytes:
        raise Refused(
            _(
                "The file has %(bytes)s bytes; at most %(most)s are read at once. Export a "
                "shorter period, or one customer at a time."
            )
            % {"bytes": count(file.size or 0), "most": count(AT_THE_DOOR.most_bytes)}
        )
    raw = as_text(file.read(), most_records=AT_THE_DOOR.most_records)
    report = import_records(actor=request.actor, raw=raw, write=False, limits=AT_THE_DOOR)
    carried = ""
    if not report.problems and report.count(NEW):
        carried = signing.dumps(raw.decode(), salt=_salt(request), compress=True)
        if len(carried) > MAX_CARRIED:
            raise Refused(
                _("The file is too long to be kept while you look; export fewer records.")
            )
    return _report(request, report, carried=carried, name=file.name)


@require_POST
@front_door(Right.SHELF)
def take_in(request: BookRequest) -> HttpResponse:
    """Write the drafts of the file that was looked at."""
    try:
        text = signing.loads(
            request.POST.get("carried", ""), salt=_salt(request), max_age=CARRIED_FOR
        )
    except signing.BadSignature:
        raise Refused(
            _("It is too long ago that you looked at the file; choose it again.")
        ) from None
    report = import_records(actor=request.actor, raw=text.encode(), write=True, limits=AT_THE_DOOR)
    return _report(request, report, carried="", name=request.POST.get("name", ""))


def _salt(request: BookRequest) -> str:
    """Return what ties a file in a page to this person in this business."""
    return f"exchange/{request.actor.business.pk}/{request.actor.user.pk}"


def _report(request: BookRequest, report: Any, *, carried: str, name: str | None) -> HttpResponse:
    context = {
        "report": report,
        "carried": carried,
        "name": name or _("the file"),
        "shelf": [
            (KINDS[kind].many if kind in KINDS else translate_word(kind), rows)
            for kind, rows in report.shelf.items()
        ],
        "new": report.count(NEW),
        "standing": report.count(STANDING),
        "corrected": report.count(CORRECTED),
        "different": sum(1 for outcome in report.outcomes if outcome.differs),
    }
    status = 422 if report.problems else 200
    return render(request, "exchange/report.html", context, status=status)


urlpatterns = [
    path("", exchange, name="exchange"),
    path("records.json", records_json, name="exchange-json"),
    path("records.csv", records_csv, name="exchange-csv"),
    path("records.schema.json", records_schema, name="exchange-schema"),
    path("look/", look, name="exchange-look"),
    path("import/", take_in, name="exchange-import"),
    *sheets.urlpatterns,
]
