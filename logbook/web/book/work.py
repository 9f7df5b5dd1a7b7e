"""The work as it happens, from the cab: it starts, runs, has its wind taken, and stops."""

from __future__ import annotations

import uuid
from datetime import timedelta
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from logbook.accounts.rights import Right
from logbook.errors.exceptions import Refused, RefusedInput
from logbook.localization.locale import instant
from logbook.records.reading import selectors
from logbook.records.reading.examine import facts_of_draft
from logbook.records.reading.inhand import fields_to_choose, is_running, last_jobs
from logbook.records.writing.draft import Closed, add_reading, why_closed
from logbook.records.writing.forms import WindForm
from logbook.records.writing.inputs import wall_clock
from logbook.records.writing.work import start_work, stop_work
from logbook.web.book.fieldlines import field_lines, job_asked, job_of
from logbook.web.book.formview import written
from logbook.web.book.running import running_shown, wind_shown
from logbook.web.book.views import given_back, new_record_id, uuid_or_none
from logbook.web.viewbase import BookRequest, front_door

OVER_FOR = timedelta(minutes=30)
"""So long after its end a draft's work counts as over: a reading is no longer one of now. Our own
measure, no source."""


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.DRAFT)
def wind(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """One weather reading with the time it is now, added to the draft."""
    actor, now = request.actor, timezone.now()
    row = selectors.existing(actor=actor, record_id=record_id)
    if request.method != "POST" and why_closed(row):
        return redirect("record", record_id)
    # A reading of work that is over was not taken now.
    over = row.finished_at is not None and row.finished_at < now - OVER_FOR
    shown_at = request.POST.get("shown_at", "" if over else now.isoformat())
    last = row.weather.last()
    initial = {
        "shown_at": shown_at,
        "read_at": None if over else wall_clock(now, row.time_zone),
        "height": last and last.height,
    }
    form = WindForm(
        request.POST if request.method == "POST" else None,
        zone=row.time_zone,
        actor=actor,
        initial=initial,
    )
    if form.is_bound and (why := why_closed(row)):
        return given_back(request, row, why, written(form))
    if form.is_bound and form.is_valid():
        try:
            add_reading(actor=actor, record_id=record_id, data=form.data_for_service())
        except RefusedInput as refusal:
            for name, texts in refusal.errors.items():
                form.add_error(name if name in form.fields else None, texts)
        except Closed as refusal:
            return given_back(request, row, str(refusal), written(form))
        else:
            if is_running(row, now=now):
                return redirect("today-running", record_id)  # which shows it
            messages.success(request, _("The reading is saved."))
            return redirect(resolve_url("record-edit", record_id) + "#section-weather")
    context = {
        "record": row,
        "form": form,
        "over": over,
        "running": is_running(row, now=now),
        "more_wrong": form.errors.keys() & {"read_at", "hour"},
        **wind_shown(
            facts_of_draft(actor=actor, record_id=record_id)[1], system=actor.user.unit_system
        ),
    }
    return render(request, "book/wind.html", context, status=422 if form.errors else 200)


@require_POST
@front_door(Right.DRAFT)
def start(request: BookRequest) -> HttpResponse:
    """Begin the draft of a job under the id that the page brought, and its work with it."""
    chosen, _space, draft = request.POST.get("field", "").partition(" ")
    field_id = uuid_or_none(chosen)
    if field_id is None:
        raise Refused(_("Choose the field on which the work starts."))
    job = start_work(
        actor=request.actor,
        record_id=uuid_or_none(draft or request.POST.get("id", "")) or uuid.uuid4(),
        field_id=field_id,
        like=uuid_or_none(request.POST.get("like", "")),
        now=timezone.now(),
    )
    return redirect("today-running", job.pk)


@require_safe
@front_door(Right.DRAFT)
def running(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """The page of a running job; one that does not run leads to its draft."""
    now = timezone.now()
    row, facts = facts_of_draft(actor=request.actor, record_id=record_id)
    if not is_running(row, now=now):
        return redirect("record" if why_closed(row) else "record-edit", record_id)
    minutes = int((now - row.started_at).total_seconds() // 60)
    context = {
        "record": row,
        "now": now,
        "elapsed": f"{minutes // 60}:{minutes % 60:02d}",
        **running_shown(facts, business=request.actor.business),
    }
    return render(request, "job/running.html", context)


@require_POST
@front_door(Right.DRAFT)
def stop(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """Write the end of the work, and lead to what is still to be said of it."""
    job = stop_work(actor=request.actor, record_id=record_id, now=timezone.now())
    ended = instant(job.finished_at, ZoneInfo(job.time_zone))
    messages.success(request, _("The work ended %(end)s.") % {"end": ended})
    return redirect("record-edit", record_id)


FIELDS_SHOWN = 400
"""More lines than a person reads; those longest without work come first."""


@require_safe
@front_door(Right.DRAFT)
def fields(request: BookRequest) -> HttpResponse:
    """All fields, to start on one; the same job as a record, if one is named."""
    actor, now = request.actor, timezone.now()
    closed = selectors.closed_fields(actor=actor, now=now)
    lines = fields_to_choose(actor=actor, closed=closed, now=now, most=FIELDS_SHOWN + 1)
    context = {
        "lines": field_lines(lines[:FIELDS_SHOWN], system=actor.user.unit_system),
        "more": len(lines) > FIELDS_SHOWN,
        "job": job_asked(actor, uuid_or_none(request.GET.get("like", "")), now),
        "start_id": new_record_id(),
        "now": now,
        "shown": FIELDS_SHOWN,
    }
    return render(request, "job/fields.html", context)


JOBS_SHOWN = 12


@require_safe
@front_door(Right.DRAFT)
def jobs(request: BookRequest) -> HttpResponse:
    """The jobs of late, each rig and mix once, to repeat one of them."""
    found = last_jobs(actor=request.actor, now=timezone.now(), most=JOBS_SHOWN)
    return render(request, "job/jobs.html", {"jobs": [job_of(one) for one in found]})
