"""Pages for those outside the business: what was sprayed, what the law asks, the log verified."""

from __future__ import annotations

import re
import uuid
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_safe

from logbook.accounts.grants import other_belongings
from logbook.accounts.rights import Right, Role
from logbook.base import locale
from logbook.base.today import today_of
from logbook.base.validators import FIRST_YEAR, LAST_YEAR
from logbook.records import seals, selectors
from logbook.records.audit import fields_worked, sealed_work
from logbook.records.law import as_sealed
from logbook.records.sealed import SealedRecord, read_seal
from logbook.rules.intervals import intervals
from logbook.web.book import drawings, present
from logbook.web.doors import BookRequest, front_door
from logbook.web.duties.present import CAUTIONS, SetShown, no_set, sets_of

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
    no_duty_set: str
    silence: present.Silence


@require_safe
@front_door(Right.READ)
def audit(request: BookRequest) -> HttpResponse:
    """The sealed records open to the person, by field and year, with their rates and findings."""
    actor, now = request.actor, timezone.now()
    fields = fields_worked(actor=actor)
    year = _year(request.GET.get("year", ""), usual=today_of(actor.business, now=now).year)
    field_id = _field(request.GET.get("field", ""), [pk for pk, _ in fields])
    rows = sealed_work(actor=actor, year=year, field_id=field_id)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "kept": f"{urlencode({'year': year, 'field': field_id or ''})}&",
        "audited": [_audited(place, record) for place, record in enumerate(page)],
        "fields": fields,
        "field_id": field_id,
        "year": year,
        "season": [
            line
            for line in selectors.season(actor=actor, year=year)
            if field_id is None or line.field_id == str(field_id)
        ],
        "closed": [
            one
            for one in selectors.closed_fields(actor=actor, now=now)
            if field_id is None or one.record.field_id == field_id
        ],
        "inspecting": actor.role is Role.INSPECTOR,
        "duty_cautions": CAUTIONS,
        "others": other_belongings(actor=actor, now=now),
    }
    return render(request, "audit/audit.html", context)


def _year(text: str, *, usual: int) -> int:
    plain = re.fullmatch(r"[0-9]{4}", text)
    return int(text) if plain and FIRST_YEAR <= int(text) <= LAST_YEAR else usual


def _field(text: str, known: list[uuid.UUID]) -> uuid.UUID | None:
    return next((pk for pk in known if str(pk) == text), None)


def _audited(place: int, record: Any) -> Audited:
    """Return a record as its seal states it, whatever its rows say."""
    sealed = read_seal(record.seal)
    facts = sealed.snapshot
    ends = intervals(facts)
    law = as_sealed(sealed)
    return Audited(
        record=record,
        sealed=sealed,
        day=locale.day(facts.local_day()),
        crop=facts.crop.name if facts.crop else "",
        products=", ".join(product.name for product in facts.products),
        strips=drawings.strips(sealed.assessment, facts.business, key=f"record-{place}-"),
        findings=present.noted(sealed.findings, sealed.explanations),
        entry_from=present.local(ends.entry_from, facts) if ends and ends.entry_from else "",
        harvest_from=locale.day(ends.harvest_from) if ends and ends.harvest_from else "",
        law_note=law.note,
        duty_sets=sets_of(facts, law.sets),
        no_duty_set=no_set(facts, law.sets),
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
        "found": seals.verify(business=actor.business),
        "now": timezone.now(),
        "zone": actor.business.time_zone,
    }
    return render(request, "audit/log.html", context)


urlpatterns = [
    path("audit/", audit, name="audit"),
    path("audit/log/", log, name="audit-log"),
]
