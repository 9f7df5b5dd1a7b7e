"""Season and Plan."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from logbook.accounts.rights import Actor, Right
from logbook.catalog.choice import choose_on_shelf
from logbook.catalog.planform import PlanForm
from logbook.catalog.selectors import mounted_sets
from logbook.errors.exceptions import RefusedInput
from logbook.localization.today import today_of
from logbook.records.reading import bookrows, selectors
from logbook.records.reading.bookfilter import names_asked, read_filter
from logbook.web import choices
from logbook.web.book.views import new_record_id
from logbook.web.listing import FILES, error_lines, heads, query_with
from logbook.web.viewbase import BookRequest, front_door

SEASON_SORTS = ("customer", "field", "product", "last", "times")
SEASON_SHOWN = 500
"""Lines of a page; the files hold all."""


@dataclass(frozen=True, kw_only=True)
class Season:
    """The lines of a year that are asked for, out of all of it."""

    year: int
    sort: str
    word: str
    customer: str
    product: str
    customers: dict[str, str]
    products: list[str]
    any: bool
    lines: list[selectors.SeasonLine]


def _season(actor: Actor, query: Mapping[str, str]) -> Season:
    """Return what an address asks of the season; this year where it names none.

    A customer or product without work in the year stays asked, and nothing fits.

    Raises: RefusedInput naming a year or customer that is none, its value and what is allowed.
    """
    asked = read_filter({name: query.get(name, "") for name in ("year", "customer", "q")})
    year = asked.year or today_of(actor.business, now=timezone.now()).year
    found = selectors.season(actor=actor, year=year)
    names = {one.customer_id: one.customer.name for one in found}
    customer = str(asked.customer_id or "")
    if customer and customer not in names:
        names[customer] = names_asked(actor=actor, asked=asked)["customer"]
    product = query.get("product", "")
    products = {one.product.name for one in found} | ({product} if product else set())
    sort = query.get("sort", "")
    season = Season(
        year=year,
        sort=sort if sort.removeprefix("-") in SEASON_SORTS else "customer",
        word=asked.search,
        customer=customer,
        product=product,
        customers=dict(sorted(names.items(), key=_by_name)),
        products=sorted(products, key=str.casefold),
        any=bool(found),
        lines=[],
    )
    lines = [
        line
        for line in found
        if season.customer in ("", line.customer_id)
        and season.product in ("", line.product.name)
        and season.word.casefold() in "\n".join((*line.field, *line.product)).casefold()
    ]
    key = _season_key(season.sort.removeprefix("-"))
    return replace(season, lines=sorted(lines, key=key, reverse=season.sort.startswith("-")))


def _season_or_why(actor: Actor, query: Mapping[str, str]) -> tuple[Season, dict[str, list[str]]]:
    """Return the season, and what is refused of it: no line then, but all else that was asked."""
    try:
        return _season(actor, query), {}
    except RefusedInput as refusal:
        left = {name: text for name, text in query.items() if name not in refusal.errors}
        found, errors = _season_or_why(actor, left)
        return replace(found, lines=[]), refusal.errors | errors


def _season_key(sort: str) -> Callable[[selectors.SeasonLine], Any]:
    """Return what lines are sorted by; what is equal then stays by customer, field and product."""
    keys: dict[str, Callable[[selectors.SeasonLine], Any]] = {
        "customer": lambda line: line.customer.name.casefold(),
        "field": lambda line: line.field.name.casefold(),
        "product": lambda line: line.product.name.casefold(),
        "last": lambda line: line.last_on,
        "times": lambda line: line.applications,
    }
    return keys[sort]


@require_safe
@front_door(Right.SEE)
def season(request: BookRequest) -> HttpResponse:
    """The totals of a year by customer, field and product, narrowed and sorted."""
    found, errors = _season_or_why(request.actor, request.GET.dict())
    columns = (
        *(("customer", _("Customer")), ("field", _("Field")), ("", _("Crop"))),
        *(("product", _("Product")), ("times", _("Times")), ("last", _("Last"))),
        *(("", _("Total used")), ("", _("Rates used, summed"))),
        *(("", _("No entry before")), ("", _("No harvest before"))),
    )
    context = {
        "season": found,
        "errors": error_lines(errors),
        "year": found.year,
        "lines": found.lines[:SEASON_SHOWN],
        "shown": SEASON_SHOWN,
        "count": len(found.lines),
        "heads": heads(request, columns, sort=found.sort, down_first=("last", "times")),
        "query": query_with(request, year=str(found.year)),
    }
    return render(request, "pages/season.html", context, status=422 if errors else 200)


@require_safe
@front_door(Right.SEE)
def season_file(request: BookRequest, ending: str) -> HttpResponseBase:
    """The season for a spreadsheet program, as it is narrowed and sorted."""
    found = _season(request.actor, request.GET)
    table = (bookrows.SEASON_HEAD, bookrows.season_table(found.lines))
    return FILES[ending](table, name=f"season-{found.year}")


def _by_name(pair: tuple[str, str]) -> str:
    return pair[1].casefold()


@require_safe
@front_door(Right.SEE)
def plan(request: BookRequest) -> HttpResponse:
    """Which nozzle, at which pressure and speed, meets a label on a rig."""
    actor = request.actor
    asked = request.GET if request.GET else None
    today = today_of(actor.business, now=timezone.now())
    form = PlanForm(asked, business=actor.business, unit_system=actor.user.unit_system, today=today)
    found = None
    if form.is_bound and form.is_valid():
        try:
            found = choose_on_shelf(business=actor.business, wish=form.wish())
        except RefusedInput as refusal:
            form.take(refusal)
    context: dict[str, Any] = {
        "form": form,
        "guidance": choices.guidance_for(request.GET.get("purpose", "")),
    }
    if found:
        context |= choices.choice_context(
            found,
            wish=form.wish(),
            system=actor.user.unit_system,
            purpose=form.cleaned_data["purpose"],
        )
        rig = form.cleaned_data["rig"]
        sets = mounted_sets(business=actor.business, today=today, rig_id=rig and rig.pk)
        context["fits"] = [
            replace(one, begins=tuple((of, new_record_id()) for of in sets.get(one.nozzle.pk, ())))
            for one in context["fits"]
        ]
        context["label"] = form.cleaned_data["label"]
    return render(request, "pages/plan.html", context)
