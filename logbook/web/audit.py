"""Pages for those outside the business: what was sprayed, what the law asks, the log verified."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_safe

from logbook.accounts.grants import other_belongings
from logbook.accounts.rights import Actor, Right, Role
from logbook.errors.exceptions import RefusedInput
from logbook.facts.intervals import intervals
from logbook.localization import locale
from logbook.localization.today import today_of
from logbook.records.reading import selectors, verification
from logbook.records.reading.audit import fields_worked, sealed_work
from logbook.records.reading.bookfilter import BookFilter, names_asked, read_filter
from logbook.records.sealing.law import as_sealed
from logbook.records.sealing.sealed import SealedRecord, read_seal
from logbook.web import present
from logbook.web.book import drawings
from logbook.web.duties.present import CAUTIONS, SetShown, not_carried, sets_of
from logbook.web.listing import error_lines
from logbook.web.viewbase import BookRequest, front_door

PER_PAGE = 5
"""Records on a page: each draws its rates, and a page stays under 150 kB."""
SEALS_PER_PAGE = 50


@dataclass(frozen=True, kw_only=True)
class Audited:
    """One sealed record as the page of an audit shows it."""

    record: Any
    sealed: SealedRecord
    day: str
    crop: str
    products: str
    strips: list[drawings.Strip]
    findings: list[present.Noted]
    entry_from: str
    harvest_from: str
    law_note: str
    duty_sets: list[SetShown]
    not_carried: list[str]
    silence: present.Silence


@require_safe
@front_door(Right.READ)
def audit(request: BookRequest) -> HttpResponse:
    """The sealed records open to the person, by field and year, with their rates and findings."""
    actor, now = request.actor, timezone.now()
    asked, errors = _asked(actor, request.GET)
    year = asked.year or today_of(actor.business, now=now).year
    field_id = asked.field_id
    # What cannot be told narrows to nothing: a page meant for one field must not show them all.
    rows = sealed_work(actor=actor, year=year, field_id=field_id)
    page = Paginator(rows.none() if errors else rows, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "kept": f"{urlencode({'year': year, 'field': field_id or ''})}&",
        "audited": [_audited(place, record) for place, record in enumerate(page)],
        "errors": error_lines(errors),
        "fields": fields_worked(actor=actor),
        "field_id": field_id,
        "year": year,
        "season": [
            line
            for line in selectors.season(actor=actor, year=year)
            if not errors and field_id in (None, UUID(line.field_id))
        ],
        "closed": [
            one
            for one in selectors.closed_fields(actor=actor, now=now)
            if not errors and field_id in (None, one.record.field_id)
        ],
        "inspecting": actor.role is Role.INSPECTOR,
        "duty_cautions": CAUTIONS,
        "others": other_belongings(actor=actor, now=now),
    }
    return render(request, "audit/audit.html", context, status=422 if errors else 200)


def _asked(actor: Actor, query: Mapping[str, str]) -> tuple[BookFilter, dict[str, list[str]]]:
    """Return the year and field asked for, and what is refused of them."""
    try:
        asked = read_filter({name: query.get(name, "") for name in ("year", "field")})
        names_asked(actor=actor, asked=asked)
    except RefusedInput as refusal:
        return BookFilter(), refusal.errors
    return asked, {}


def _audited(place: int, record: Any) -> Audited:
    """Return a record as its seal states it, whatever its rows say."""
    sealed = read_seal(record.seal)
    facts = sealed.snapshot
    ends = intervals(facts)
    law = as_sealed(sealed)
    return Audited(
        record=record,
        sealed=sealed,
        day=locale.format_days(facts.days),
        crop=facts.crop.name if facts.crop else "",
        products=", ".join(product.name for product in facts.products),
        strips=drawings.strips(sealed.assessment, facts.business, key=f"record-{place}-"),
        findings=present.noted(sealed.findings, sealed.explanations),
        entry_from=present.local(ends.entry_from, facts) if ends.entry_from else "",
        harvest_from=locale.format_day(ends.harvest_from) if ends.harvest_from else "",
        law_note=law.note,
        duty_sets=sets_of(facts, law.sets),
        not_carried=not_carried(facts, law.sets),
        silence=present.silence(sealed.runs),
    )


@require_safe
@front_door(Right.VERIFY)
def log(request: BookRequest) -> HttpResponse:
    """The seals open to the person, and what verifying the whole log says now."""
    actor = request.actor
    page = Paginator(selectors.log(actor=actor), SEALS_PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "found": verification.verify(business=actor.business),
        "now": timezone.now(),
        "zone": actor.business.time_zone,
    }
    return render(request, "audit/log.html", context)


urlpatterns = [
    path("audit/", audit, name="audit"),
    path("audit/log/", log, name="audit-log"),
]
