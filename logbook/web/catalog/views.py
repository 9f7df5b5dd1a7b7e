"""Pages of the shelf: lists, items, and the forms that change them."""

from __future__ import annotations

import copy
import uuid
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from logbook.accounts.forms import BusinessForm
from logbook.accounts.rights import Right
from logbook.accounts.services import save_business
from logbook.catalog.selectors import begun_with
from logbook.catalog.sheets import shapes
from logbook.errors.exceptions import NotThere, Refused, RefusedInput
from logbook.forms.area import WORK_OUT, AreaForm
from logbook.forms.rows import ADD_ROW, Sheet
from logbook.localization.today import today_of
from logbook.records.reading.accuracy import accuracy_of_rig
from logbook.tenancy.rows import Elsewhere, fingerprint
from logbook.web.book.drawings import field_map
from logbook.web.catalog.files import table_of
from logbook.web.catalog.firststeps import next_step
from logbook.web.catalog.kinds import KINDS, Kind, kind_of
from logbook.web.catalog.present import areas, catch_result, count_differs, spot
from logbook.web.listing import FILES, query_with
from logbook.web.viewbase import BookRequest, front_door

PER_PAGE = 50
MAX_HANGING = 50
"""Rows shown on an item's page; the list page has the rest."""

DRAWN = ("boundary", "shape", "volumes")
"""Columns that an item's page shows as a drawing or a table of its own."""


@require_safe
@front_door(Right.SEE)
def shelf(request: BookRequest) -> HttpResponse:
    """Show what stands on the shelf, and how many of each."""
    counted = [(kind, kind.rows(actor=request.actor).count()) for kind in KINDS.values()]
    return render(
        request,
        "shelf/shelf.html",
        {"counted": counted, "may_change_business": request.actor.may(Right.BUSINESS)},
    )


@require_safe
@front_door(Right.SEE)
def shelf_list(request: BookRequest, kind: str) -> HttpResponse:
    """Show the rows of a kind, page by page, narrowed by a search."""
    found = kind_of(kind)
    search = request.GET.get("q", "").strip()
    sort = request.GET.get("sort", "").strip()
    rows = _sorted(found.rows(actor=request.actor, search=search), sort)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    system = request.actor.user.unit_system
    lines = [(row, [(label, read(row, system)) for label, read in found.columns]) for row in page]
    return render(
        request,
        "shelf/list.html",
        {
            "kind": found,
            "lines": lines,
            "page": page,
            "search": search,
            "sort": sort,
            "sorts": [(name, word, query_with(request, sort=name)) for name, word in _sorts()],
            "query": query_with(request),
            "before": f"{query_with(request, page=str(page.number - 1))}",
            "next": f"{query_with(request, page=str(page.number + 1))}",
            "may_change": request.actor.may(found.change),
        },
    )


def _sorts() -> list[tuple[str, str]]:
    return [
        ("", _("in the order of the shelf")),
        ("reverse", _("the other way round")),
        ("newest", _("the last written down first")),
    ]


def _sorted(rows: Any, sort: str) -> Any:
    """Return the rows in an order.

    Raises: RefusedInput naming it if there is none of that name.
    """
    if sort == "newest":
        return rows.order_by("-created_at", "-pk")
    if sort == "reverse":
        return rows.reverse()
    if sort:
        said = _("“%(value)s” is not taken for sort; allowed are reverse, newest.")
        raise RefusedInput({"sort": [said % {"value": sort[:60]}]})
    return rows


@require_safe
@front_door(Right.SEE)
def shelf_file(request: BookRequest, kind: str, ending: str) -> HttpResponseBase:
    """The list as a file for a spreadsheet program, as it is searched and sorted."""
    found = kind_of(kind)
    rows = found.rows(actor=request.actor, search=request.GET.get("q", "").strip())
    rows = _sorted(rows, request.GET.get("sort", "").strip())
    return FILES[ending](table_of(found, rows), name=found.slug)


@require_safe
@front_door(Right.SEE)
def item(request: BookRequest, kind: str, row_id: UUID) -> HttpResponse:
    """Show one row, what hangs on it, and what follows from it by computation."""
    found = kind_of(kind)
    row = found.get(actor=request.actor, row_id=row_id)
    return render(
        request,
        "shelf/item.html",
        {
            "kind": found,
            "row": row,
            "sections": [
                (title, [fact for fact in facts if fact.name not in DRAWN])
                for title, facts in found.form.read(row)
            ],
            "lists": [
                (
                    rows.many,
                    _columns(rows),
                    [_cells(rows, child) for child in getattr(row, name).all()],
                )
                for name, rows in found.lists.items()
            ],
            "hanging": [
                (KINDS[slug], column, _hanging(request, slug, column, row))
                for slug, column in found.hanging.items()
            ],
            "may_change": request.actor.may(found.change),
            "next_step": next_step(actor=request.actor),
            **_computed(request, found, row),
        },
    )


def _columns(rows: Any) -> list[str]:
    return [str(rows.form.base_fields[name].label) for name in rows.form.columns()]


def _cells(rows: Any, child: Any) -> list[Any]:
    return [fact for _, facts in rows.form.read(child) for fact in facts]


def _hanging(request: BookRequest, slug: str, column: str, row: Any) -> Any:
    rows = KINDS[slug].rows(actor=request.actor)
    return rows.filter(**{column: row})[:MAX_HANGING]


def _computed(request: BookRequest, kind: Kind, row: Any) -> dict[str, Any]:
    system, business = request.actor.user.unit_system, request.actor.business
    if kind.slug == "rigs":
        today = today_of(business, now=timezone.now())
        return {
            "too_coarse": accuracy_of_rig(business=business, rig=row, today=today, system=system)
        }
    if kind.slug == "fields" and row.boundary:
        return {
            "area": areas(row.area_ha, system=system),
            "endings": shapes.FORMATS,
            **field_map(
                business=row.business_id,
                boundary=row.boundary,
                name=row.name,
                wind_from_deg=None,
                system=system,
            ),
        }
    if kind.slug == "places":
        return {"spot": spot(row.shape)}
    if kind.slug == "catch-tests":
        result = catch_result(row)
        if isinstance(result, str):
            return {"no_result": result}
        return {"result": result, "count_differs": count_differs(row)}
    return {}


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.SEE)
def new(request: BookRequest, kind: str) -> HttpResponse:
    """Write down a new row. The id is made with the page, so that sending twice makes one row, and
    going back to send something else changes none.
    """
    found = kind_of(kind)
    request.actor.must(found.change)
    row_id = _id_of(request.POST.get("row_id"))
    return _write(request, found, row_id=row_id, row=_standing(request, found, row_id), create=True)


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.SEE)
def edit(request: BookRequest, kind: str, row_id: UUID) -> HttpResponse:
    """Change a row, if it is still as the page showed it. Signed records keep their sealed copy."""
    found = kind_of(kind)
    request.actor.must(found.change)
    row = found.get(actor=request.actor, row_id=row_id)
    return _write(request, found, row_id=row_id, row=row, create=False)


def _standing(request: BookRequest, kind: Kind, row_id: UUID) -> Any:
    """Return the row that an earlier sending of the same form made, or None."""
    if request.method != "POST":
        return None
    try:
        return kind.get(actor=request.actor, row_id=row_id)
    except NotThere:
        return None


def _write(
    request: BookRequest, kind: Kind, *, row_id: UUID, row: Any, create: bool
) -> HttpResponse:
    posted = request.method == "POST"
    # Before the form reads anything: it writes what it reads into the row it is given.
    stands = fingerprint(row, kind.lists) if row else ""
    seen = "" if create else request.POST.get("seen", "") if posted else stands
    sheet = Sheet(
        kind.form,
        kind.lists,
        business=request.actor.business,
        system=request.actor.user.unit_system,
        row=row,
        data=request.POST if posted else None,
        files=request.FILES if posted else None,
        initial={
            **(begun_with(business=request.actor.business, shelf=kind.slug) if create else {}),
            **{name: request.GET[name] for name in kind.form.base_fields if name in request.GET},
        },
        new=create,
    )
    elsewhere = ""
    works_out = posted and f"{ADD_ROW}{WORK_OUT}" in request.POST
    if works_out:
        sheet.hush()
    elif posted and not sheet.adds_a_row:
        try:
            if sheet.is_valid():
                saved = kind.save(
                    actor=request.actor,
                    row_id=row_id,
                    data=sheet.data_for_service(),
                    create=create,
                    seen=seen,
                )
                messages.success(request, _("%(row)s is written down.") % {"row": saved})
                return redirect("shelf-item", kind.slug, saved.pk)
            if stands != seen:
                raise Elsewhere(str(kind.one), new=create)
        except Elsewhere as moved:
            elsewhere = str(moved)
            sheet.hush()
        except Refused as refusal:
            sheet.take(refusal)
    failed = sheet.has_errors() and not works_out
    return render(
        request,
        "shelf/form.html",
        {
            "kind": kind,
            "row": None if create else row,
            "row_id": row_id,
            "seen": seen,
            "sheet": sheet,
            "failed": failed,
            "elsewhere": elsewhere,
            "area": kind.slug == "fields"
            and AreaForm(
                request.POST if works_out else None, system=request.actor.user.unit_system
            ),
        },
        status=409 if elsewhere else 422 if posted and failed else 200,
    )


def _id_of(text: str | None) -> UUID:
    """Return the id the form carried, or a new one for a new form."""
    try:
        return uuid.UUID(text or "")
    except ValueError:
        return uuid.uuid4()


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.BUSINESS)
def business(request: BookRequest) -> HttpResponse:
    """Change the business itself: how it stands on records, its paper and its yardsticks."""
    posted = request.method == "POST"
    sheet = Sheet(
        BusinessForm,
        {},
        business=request.actor.business,
        system=request.actor.user.unit_system,
        # A copy: what was typed must not stand in the head of the page before it is saved.
        row=copy.copy(request.actor.business),
        data=request.POST if posted else None,
    )
    if posted and sheet.is_valid():
        saved = save_business(actor=request.actor, data=sheet.data_for_service())
        messages.success(request, _("%(row)s is written down.") % {"row": saved})
        return redirect("shelf")
    return render(
        request,
        "shelf/business.html",
        {"sheet": sheet, "failed": sheet.has_errors()},
        status=422 if posted else 200,
    )
