"""The papers that the law asks for, and the totals by product: pages and files."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import path
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from logbook.accounts.rights import Right
from logbook.catalog.selectors import on_shelf, places_of_fields
from logbook.documents.papers import PAPERS, paper_of
from logbook.documents.totals import render_totals
from logbook.errors.exceptions import RefusedInput
from logbook.facts.quantity import BadAnswer, Quantity, parse_answer
from logbook.localization.locale import format_number, localized
from logbook.localization.today import today_of
from logbook.records.reading.totals import (
    LITRE_RULES,
    LitreRule,
    Totals,
    remarks,
    rows_of,
    to_csv,
    to_json_text,
    totals,
)
from logbook.validators import FIRST_YEAR, LAST_YEAR
from logbook.web.viewbase import BookRequest, front_door

# --- papers of one record ------------------------------------------------------------------------


@require_safe
@front_door(Right.PRINT)
def paper(request: BookRequest, record_id: uuid.UUID, name: str) -> HttpResponse:
    """A paper of a record, from the draft as it stands or from the seal."""
    content, file = paper_of(
        actor=request.actor, record_id=record_id, name=name, now=timezone.now()
    )
    return _pdf(content, file)


def _pdf(content: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(content, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    return answer


# --- totals by product ---------------------------------------------------------------------------


@dataclass
class Asked:
    """What was asked for: the period, whose work, and how volumes become kilograms."""

    day_from: date
    day_to: date
    customer_id: uuid.UUID | None = None
    rule: LitreRule | None = None
    place: str = ""
    densities: dict[str, Quantity] = field(default_factory=dict)
    errors: dict[str, list[str]] = field(default_factory=dict)

    def found(self, request: BookRequest) -> Totals:
        """Return the totals.

        Raises: RefusedInput if something asked cannot be read; NotThere.
        """
        if self.errors:
            raise RefusedInput(self.errors)
        return totals(
            actor=request.actor,
            day_from=self.day_from,
            day_to=self.day_to,
            customer_id=self.customer_id,
            densities=self.densities,
            rule=self.rule,
            place=self.place,
        )


DENSITY = "density-"
"""A density is asked under this and the id of its product."""


def asked(query: QueryDict, *, today: date) -> Asked:
    """Return what a query asks for; the calendar year of `today` where it names no day."""
    errors: dict[str, list[str]] = {}

    def day(name: str, usual: date) -> date:
        try:
            found = date.fromisoformat(query.get(name, "").strip() or usual.isoformat())
        except ValueError:
            found = date.min
        if FIRST_YEAR <= found.year <= LAST_YEAR:
            return found
        errors[name] = [
            _('"%(text)s" is not a day from %(first)d to %(last)d; write it like %(usual)s.')
            % {
                "text": query.get(name),
                "first": FIRST_YEAR,
                "last": LAST_YEAR,
                "usual": usual.isoformat(),
            }
        ]
        return usual

    one = Asked(
        day_from=day("from", date(today.year, 1, 1)),
        day_to=day("to", date(today.year, 12, 31)),
        errors=errors,
    )
    if customer := query.get("customer", "").strip():
        try:
            one.customer_id = uuid.UUID(customer)
        except ValueError:
            errors["customer"] = [_('"%(text)s" is not a customer.') % {"text": customer}]
    one.place = query.get("place", "").strip()
    if rule := query.get("rule", ""):
        one.rule = LITRE_RULES.get(rule)
        if one.rule is None:
            errors["rule"] = [
                _('"%(text)s" is not a rule; carried are %(rules)s.')
                % {"text": rule, "rules": ", ".join(LITRE_RULES)}
            ]
    for name in query:
        text = query.get(name, "").strip()
        if name.startswith(DENSITY) and text:
            _read_density(one, name, text)
    return one


def _asked(request: BookRequest) -> Asked:
    return asked(request.GET, today=today_of(request.actor.business, now=timezone.now()))


def _read_density(one: Asked, name: str, text: str) -> None:
    try:
        found = parse_answer(text, dimensions=("mass_per_volume",), words=False)
    except BadAnswer as bad:
        one.errors[name] = [localized(bad)]
        return
    if not isinstance(found, Quantity) or not LEAST_G_L <= found.si <= MAX_G_L:
        one.errors[name] = [
            _('"%(text)s" is not the density of a product; allowed are %(least)s to %(most)s kg/L.')
            % {"text": text, "least": format_number("0.5"), "most": "3"}
        ]
        return
    one.densities[name.removeprefix(DENSITY)] = found


LEAST_G_L, MAX_G_L = 500.0, 3000.0
"""Densities beyond these are slips of the pen: no product as sold is lighter or heavier."""


@require_safe
@front_door(Right.SEE)
def totals_page(request: BookRequest) -> HttpResponse:
    """The totals by product on screen, with what they are asked by, and the files of them."""
    wish = _asked(request)
    errors, found = wish.errors, None
    try:
        found = wish.found(request)
    except RefusedInput as refusal:
        errors = refusal.errors
    lines = [(one, list(rows_of(one))) for one in found.products] if found else []
    context = {
        "wish": wish,
        "errors": errors,
        "customers": on_shelf(business=request.actor.business, shelf="customers"),
        "rules": LITRE_RULES.values(),
        "places": places_of_fields(business=request.actor.business),
        "found": found,
        "lines": lines,
        "densities": _density_inputs(request, found, errors),
        "remarks": remarks(found) if found else (),
        "query": request.GET.urlencode(),
    }
    return render(request, "papers/totals.html", context, status=422 if errors else 200)


def _density_inputs(
    request: BookRequest, found: Totals | None, errors: dict[str, list[str]]
) -> list[dict[str, Any]]:
    """Return the inputs of density: of each product that was counted by volume, or was asked.

    Where something is refused nothing is counted, and every input that was sent comes back.
    """
    query = request.GET
    names = {
        f"{DENSITY}{one.product_id}": one.name
        for one in (found.products if found else ())
        if any(entered.dimension == "volume" for entered in one.entered)
    }
    sent = [name for name in query if name.startswith(DENSITY) and name not in names]
    known = _products_of(request, sent)
    names |= {
        name: known.get(name, _("a product"))
        for name in sent
        if query[name].strip() or (found is None and name in known)
    }
    return [
        {"name": name, "product": product, "value": query.get(name, ""), "errors": errors.get(name)}
        for name, product in names.items()
    ]


def _products_of(request: BookRequest, inputs: Iterable[str]) -> dict[str, str]:
    """Return the names of the products of the business by the inputs of their density."""
    ids: dict[uuid.UUID, str] = {}
    for name in inputs:
        with suppress(ValueError):
            ids[uuid.UUID(name.removeprefix(DENSITY))] = name
    rows = on_shelf(business=request.actor.business, shelf="products").prefetch_related(None)
    return {ids[pk]: name for pk, name in rows.filter(pk__in=ids).values_list("pk", "name")}


@require_safe
@front_door(Right.SEE)
def totals_pdf(request: BookRequest) -> HttpResponse:
    """The totals on paper."""
    now = timezone.now()
    found = _asked(request).found(request)
    content = render_totals(found, now=now, paper=request.actor.business.paper_size)
    return _pdf(content, f"{_name(found)}.pdf")


@require_safe
@front_door(Right.SEE)
def totals_csv(request: BookRequest) -> HttpResponse:
    """The totals for a spreadsheet program."""
    found = _asked(request).found(request)
    return _download(to_csv(found), "text/csv; charset=utf-8", f"{_name(found)}.csv")


@require_safe
@front_door(Right.SEE)
def totals_json(request: BookRequest) -> HttpResponse:
    """The totals for a program."""
    found = _asked(request).found(request)
    return _download(to_json_text(found), "application/json", f"{_name(found)}.json")


def _name(found: Totals) -> str:
    return f"totals-{found.day_from}-{found.day_to}"


def _download(text: str, kind: str, name: str) -> HttpResponse:
    answer = HttpResponse(text.encode(), content_type=kind)
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


urlpatterns = [
    *(
        path(f"book/<uuid:record_id>/{name}.pdf", paper, {"name": name}, name=f"record-{name}")
        for name in PAPERS
    ),
    path("season/totals/", totals_page, name="season-totals"),
    path("season/totals.pdf", totals_pdf, name="season-totals-pdf"),
    path("season/totals.csv", totals_csv, name="season-totals-csv"),
    path("season/totals.json", totals_json, name="season-totals-json"),
]
