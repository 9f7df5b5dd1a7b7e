"""The work as it happens, from the cab: a reading of the wind."""

from __future__ import annotations

import uuid
from datetime import timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from logbook.accounts.rights import Right
from logbook.errors.exceptions import RefusedInput
from logbook.records.reading import selectors
from logbook.records.writing.draft import Closed, add_reading, why_closed
from logbook.records.writing.forms import WindForm, wall_clock
from logbook.web.book.formview import written
from logbook.web.book.views import given_back
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
            messages.success(request, _("The reading is saved."))
            return redirect(resolve_url("record-edit", record_id) + "#section-weather")
    rows = [form[name] for name in form.MEASURED]
    context = {"record": row, "form": form, "rows": rows, "over": over}
    return render(request, "book/wind.html", context, status=422 if form.errors else 200)
