"""Today, Season and Plan."""

from __future__ import annotations

import re
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from logbook.accounts.rights import Right
from logbook.accounts.services import expiring_licences
from logbook.base.refusals import RefusedInput
from logbook.catalog.choice import choose_on_shelf
from logbook.catalog.planform import PlanForm
from logbook.catalog.selectors import stale_catch_tests
from logbook.records import selectors
from logbook.records.due import outlook
from logbook.web import choices
from logbook.web.book.views import new_record_id
from logbook.web.doors import BookRequest, front_door
from logbook.web.duties.present import due_shown
from logbook.web.firststeps import first_steps

SHOWN = 20
DUE_SHOWN = 6


@require_GET
@front_door(Right.SEE)
def today(request: BookRequest) -> HttpResponse:
    """What needs somebody today."""
    actor, now = request.actor, timezone.now()
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
        "new_id": new_record_id(),
    }
    return render(request, "pages/today.html", context)


@require_GET
@front_door(Right.SEE)
def season(request: BookRequest) -> HttpResponse:
    """The totals of a year by customer, field and product, narrowed by customer and by a word."""
    asked = request.GET.get("year", "")
    plain = re.fullmatch(r"[0-9]{4}", asked)
    year = int(asked) if plain and 1990 <= int(asked) <= 2200 else timezone.now().year
    lines = selectors.season(actor=request.actor, year=year)
    customers = dict(sorted(((one.customer_id, one.customer) for one in lines), key=_by_name))
    customer = request.GET.get("customer", "")
    customer = customer if customer in customers else ""
    word = request.GET.get("q", "").strip()
    context = {
        "year": year,
        "customers": customers,
        "customer": customer,
        "word": word,
        "any": bool(lines),
        "lines": [
            line
            for line in lines
            if customer in ("", line.customer_id)
            and word.casefold() in f"{line.field}\n{line.product}".casefold()
        ],
    }
    return render(request, "pages/season.html", context)


def _by_name(pair: tuple[str, str]) -> str:
    return pair[1].casefold()


@require_GET
@front_door(Right.SEE)
def plan(request: BookRequest) -> HttpResponse:
    """Which nozzle, at which pressure and speed, meets a label on a rig."""
    actor = request.actor
    asked = request.GET if request.GET else None
    form = PlanForm(asked, business=actor.business, unit_system=actor.user.unit_system)
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
    return render(request, "pages/plan.html", context)
