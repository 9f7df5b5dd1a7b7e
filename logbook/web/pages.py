"""Today, Season and Plan."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any
from zoneinfo import ZoneInfo

from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from logbook.accounts.rights import Right
from logbook.accounts.services import expiring_licences
from logbook.base.refusals import RefusedInput
from logbook.base.validators import FIRST_YEAR, LAST_YEAR
from logbook.catalog.choice import choose_on_shelf
from logbook.catalog.planform import PlanForm
from logbook.catalog.selectors import mounted_sets, stale_catch_tests
from logbook.records import bookrows, selectors
from logbook.records.due import outlook
from logbook.records.services.examine import unexplained
from logbook.web import choices
from logbook.web.book.views import new_record_id
from logbook.web.doors import BookRequest, front_door
from logbook.web.duties.present import due_shown
from logbook.web.firststeps import first_steps
from logbook.web.listing import FILES, heads, query_with

SHOWN = 20
DUE_SHOWN = 6


@require_GET
@front_door(Right.READ)
def today(request: BookRequest) -> HttpResponse:
    """What needs somebody today; those from outside begin with what they came to see."""
    actor, now = request.actor, timezone.now()
    if not actor.may(Right.SEE):
        return redirect("audit")
    drafts = selectors.drafts(actor=actor)
    ahead = outlook(actor=actor, now=now, shown=DUE_SHOWN)
    context = {
        "drafts": drafts[:SHOWN],
        "draft_count": drafts.count(),
        "due": [
            (task, *due_shown([task.item], zone=task.time_zone, now=now)) for task in ahead.first
        ],
        "overdue": ahead.overdue,
        "closed": selectors.closed_fields(actor=actor, now=now),
        "licences": expiring_licences(actor=actor, today=now.date()),
        "steps": first_steps(actor=actor),
        "stale": stale_catch_tests(business=actor.business, today=now.date()),
        "now": now,
        "unexplained": unexplained(actor=actor, drafts=list(drafts[:SHOWN])),
        "aside_count": selectors.book(actor=actor, state="aside").count(),
        "new_id": new_record_id(),
    }
    return render(request, "pages/today.html", context)


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


def _season(request: BookRequest) -> Season:
    """Return what an address asks of the season; a year or name it cannot read narrows nothing."""
    asked = request.GET.get("year", "")
    plain = re.fullmatch(r"[0-9]{4}", asked)
    year = int(asked) if plain and FIRST_YEAR <= int(asked) <= LAST_YEAR else timezone.now().year
    found = selectors.season(actor=request.actor, year=year)
    customers = dict(sorted(((one.customer_id, one.customer) for one in found), key=_by_name))
    products = sorted({one.product for one in found}, key=str.casefold)
    customer, product = request.GET.get("customer", ""), request.GET.get("product", "")
    sort = request.GET.get("sort", "")
    word = request.GET.get("q", "").strip()
    season = Season(
        year=year,
        sort=sort if sort.removeprefix("-") in SEASON_SORTS else "customer",
        word=word,
        customer=customer if customer in customers else "",
        product=product if product in products else "",
        customers=customers,
        products=products,
        any=bool(found),
        lines=[],
    )
    lines = [
        line
        for line in found
        if season.customer in ("", line.customer_id)
        and season.product in ("", line.product)
        and word.casefold() in f"{line.field}\n{line.product}".casefold()
    ]
    key = _season_key(season.sort.removeprefix("-"))
    return replace(season, lines=sorted(lines, key=key, reverse=season.sort.startswith("-")))


def _season_key(sort: str) -> Callable[[selectors.SeasonLine], Any]:
    """Return what lines are sorted by; what is equal then stays by customer, field and product."""
    keys: dict[str, Callable[[selectors.SeasonLine], Any]] = {
        "customer": lambda line: line.customer.casefold(),
        "field": lambda line: line.field.casefold(),
        "product": lambda line: line.product.casefold(),
        "last": lambda line: line.last_on,
        "times": lambda line: line.applications,
    }
    return keys[sort]


@require_GET
@front_door(Right.SEE)
def season(request: BookRequest) -> HttpResponse:
    """The totals of a year by customer, field and product, narrowed and sorted."""
    found = _season(request)
    columns = (
        *(("customer", _("Customer")), ("field", _("Field")), ("", _("Crop"))),
        *(("product", _("Product")), ("times", _("Times")), ("last", _("Last"))),
        *(("", _("Total used")), ("", _("No entry before")), ("", _("No harvest before"))),
    )
    context = {
        "season": found,
        "year": found.year,
        "lines": found.lines[:SEASON_SHOWN],
        "shown": SEASON_SHOWN,
        "count": len(found.lines),
        "heads": heads(request, columns, sort=found.sort, down_first=("last", "times")),
        "query": query_with(request, year=str(found.year)),
    }
    return render(request, "pages/season.html", context)


@require_GET
@front_door(Right.SEE)
def season_file(request: BookRequest, ending: str) -> HttpResponseBase:
    """The season for a spreadsheet program, as it is narrowed and sorted."""
    found = _season(request)
    table = (bookrows.SEASON_HEAD, bookrows.season_table(found.lines))
    return FILES[ending](table, name=f"season-{found.year}")


def _by_name(pair: tuple[str, str]) -> str:
    return pair[1].casefold()


@require_GET
@front_door(Right.SEE)
def plan(request: BookRequest) -> HttpResponse:
    """Which nozzle, at which pressure and speed, meets a label on a rig."""
    actor = request.actor
    asked = request.GET if request.GET else None
    today = timezone.localdate(timezone=ZoneInfo(actor.business.time_zone))
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
        context |= choices.shown(
            found,
            wish=form.wish(),
            system=actor.user.unit_system,
            purpose=form.cleaned_data["purpose"],
        )
        rig = form.cleaned_data["rig"]
        sets = mounted_sets(business=actor.business, today=today, rig_id=rig and rig.pk)
        context["fits"] = [
            replace(one, mounted=tuple(sets.get(one.nozzle.pk, ()))) for one in context["fits"]
        ]
        context["label"] = form.cleaned_data["label"]
        context["new_id"] = new_record_id()
    return render(request, "pages/plan.html", context)
