"""Pages of what is due, of what was done, and of how long records are kept."""

from __future__ import annotations

import uuid
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from logbook.accounts.rights import Right
from logbook.accounts.services import confirm_password
from logbook.errors.exceptions import Conflict, NotThere, Refused, RefusedInput
from logbook.law.clocks import Standing
from logbook.law.coverage import lacking_of
from logbook.localization.locale import plain_english
from logbook.localization.today import today_of
from logbook.pagination import Page
from logbook.records.reading import deadlines as due
from logbook.records.reading import keeping as kept
from logbook.records.reading import related, selectors
from logbook.records.reading.examine import examine
from logbook.records.sealing.law import as_sealed
from logbook.records.sealing.sealed import read_seal
from logbook.records.writing.entries import add_duty_entry, strike_duty_entry
from logbook.records.writing.entryforms import DutyEntryForm
from logbook.records.writing.feeds import actor_of_feed, feed_since, make_feed, revoke_feed
from logbook.records.writing.holds import lift_hold, set_hold
from logbook.records.writing.inputs import wall_clock
from logbook.records.writing.purge import Stated, purge
from logbook.records.writing.resume import begin_resumption
from logbook.web.duties import present
from logbook.web.duties.calendar import calendar_of
from logbook.web.listing import error_lines, pages
from logbook.web.viewbase import SENT_BEFORE, BookRequest, front_door

PER_PAGE = 50
MAX_EVENTS = 500


def _id_or_new(text: str) -> uuid.UUID:
    try:
        return uuid.UUID(text)
    except ValueError:
        return uuid.uuid4()


# --- deadlines -----------------------------------------------------------------------------------


@require_safe
@front_door(Right.SEE)
def deadlines(request: BookRequest) -> HttpResponse:
    """What is due, the first due first; or what was done late."""
    actor, now = request.actor, timezone.now()
    late = request.GET.get("show") == "late"
    errors: dict[str, list[str]] = {}
    page, tasks = Page([], "", ""), list[due.Task]()
    try:
        page, tasks = due.deadline_page(
            actor=actor, now=now, late=late, query=request.GET, size=PER_PAGE
        )
    except RefusedInput as refusal:
        errors = refusal.errors
    wanted = (Standing.LATE,) if late else (Standing.OPEN, Standing.OVERDUE)
    shown = [
        (task, *present.due_shown([task.item], zone=task.time_zone, now=now))
        for task in due.by_due(task for task in tasks if task.standing in wanted)
    ]
    context = {
        "page": page,
        "pages": pages(request, page),
        "errors": error_lines(errors),
        "tasks": shown,
        "late": late,
        "not_carried": lacking_of(one.place for one in tasks if one.standing in wanted),
        "cautions": present.CAUTIONS,
        "feed_since": feed_since(actor=actor),
    }
    return render(request, "duties/deadlines.html", context, status=422 if errors else 200)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.SEE)
def feed(request: BookRequest) -> HttpResponse:
    """Make the link to one's own calendar, see it once, revoke it."""
    actor, now = request.actor, timezone.now()
    address = ""
    if request.method == "POST" and request.POST.get("deed") == "revoke":
        revoke_feed(actor=actor, now=now)
        messages.success(request, _("The link is revoked; it opens nothing any longer."))
        return redirect("deadlines-feed")
    if request.method == "POST":
        secret = make_feed(actor=actor, now=now)
        address = request.build_absolute_uri(reverse("deadlines-ics", args=[secret]))
    context = {"address": address, "since": feed_since(actor=actor)}
    return render(request, "duties/feed.html", context)


@never_cache
@login_not_required
@require_safe
@plain_english()
def ics(request: HttpRequest, token: str) -> HttpResponse:
    """The calendar behind a person's secret link: what is open, for the business as of today."""
    try:
        actor = actor_of_feed(secret=token)
    except NotThere as refusal:
        raise Http404(str(refusal)) from None
    now = timezone.now()
    sheets = due.open_sheets(actor=actor)[:MAX_EVENTS]
    tasks = [*due.tasks_of(sheets, now=now), *due.draft_tasks(actor=actor, now=now)]
    tasks += due.period_tasks(actor=actor, now=now)
    content = calendar_of(
        (task for task in due.by_due(tasks) if task.item.open),
        name=f"Due: {actor.business}",
        base=request.build_absolute_uri("/").rstrip("/"),
        now=now,
    )
    return HttpResponse(content, content_type="text/calendar; charset=utf-8")


# --- what was done for a record ------------------------------------------------------------------


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.SEE)
def record_duties(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """What is due for one record, what was written down as done, and a form for the next."""
    actor, now = request.actor, timezone.now()
    if request.method == "POST":
        actor.must(Right.DUTIES)
    row = selectors.existing(actor=actor, record_id=record_id)
    form = DutyEntryForm(
        request.POST or None,
        zone=row.time_zone,
        initial={
            "kind": request.GET.get("kind", ""),
            "to_whom": row.customer.name if row.customer else "",
            "given_at": wall_clock(now, row.time_zone),
            "hour": now.astimezone(ZoneInfo(row.time_zone)).fold,
        },
    )
    if request.method == "POST" and form.is_valid():
        try:
            entry = add_duty_entry(
                actor=actor,
                record_id=record_id,
                entry_id=_id_or_new(request.POST.get("id", "")),
                data=form.data_for_service(),
                now=now,
            )
        except RefusedInput as refusal:
            form.take(refusal.errors)
        except Conflict:
            form.add_error(None, str(SENT_BEFORE))
        else:
            messages.success(request, _("Written down: %(entry)s.") % {"entry": entry})
            return redirect("record-duties", record_id)
    return _duties_page(request, row, form, status=422 if form.errors else 200)


def _duties_page(
    request: BookRequest, row: Any, form: DutyEntryForm, *, status: int, striking: Any = None
) -> HttpResponse:
    law = None
    if row.signed_at:
        sealed = read_seal(selectors.seal_of(actor=request.actor, record_id=row.id))
        facts, law = sealed.snapshot, as_sealed(sealed)
    else:
        facts = examine(actor=request.actor, record_id=row.id).snapshot
    found, entries = due.of_record(record=row, snapshot=facts)
    context = {
        "record": row,
        "facts": facts,
        "form": form,
        "new_id": uuid.uuid4(),
        "striking": striking,
        **present.of_record(facts, found, entries, timezone.now(), law),
    }
    return render(request, "duties/record.html", context, status=status)


@require_POST
@front_door(Right.DUTIES)
def strike(request: BookRequest, record_id: uuid.UUID, entry_id: uuid.UUID) -> HttpResponse:
    """Strike a mistaken entry by a further one."""
    row = selectors.existing(actor=request.actor, record_id=record_id)
    try:
        strike_duty_entry(
            actor=request.actor,
            record_id=record_id,
            entry_id=entry_id,
            new_id=_id_or_new(request.POST.get("id", "")),
            reason=request.POST.get("reason", ""),
            now=timezone.now(),
        )
    except RefusedInput as refusal:
        why = [text for texts in refusal.errors.values() for text in texts]
        striking = {"entry": entry_id, "typed": request.POST, "why": why}
        form = DutyEntryForm(zone=row.time_zone)
        return _duties_page(request, row, form, status=422, striking=striking)
    messages.success(request, _("Struck. Both entries stay readable."))
    return redirect("record-duties", record_id)


@require_POST
@front_door(Right.DRAFT)
def resume(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """Begin the record of a job broken off and resumed."""
    draft = begin_resumption(
        actor=request.actor,
        record_id=record_id,
        new_id=_id_or_new(request.POST.get("id", "")),
    )
    return redirect("record-edit", draft.id)


# --- keeping -------------------------------------------------------------------------------------


@require_safe
@front_door(Right.SEE)
def keeping(request: BookRequest) -> HttpResponse:
    """Until when records are kept and by which set, what is held, what may go, what went."""
    return _keeping_page(request)


def _keeping_page(request: BookRequest, *, refused: bool = False, **typed: Any) -> HttpResponse:
    """Return the page; a refused form stands in it as it was typed, with what is wrong."""
    actor, now = request.actor, timezone.now()
    # A purge waits until the day is over in UTC, too: what it would refuse is not offered.
    today = min(today_of(actor.business, now=now), now.date())
    every = request.GET.get("show") == "all"
    rows = kept.kept_records(actor=actor, today=today, may_go=not every)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "every": every,
        "holds": kept.holds(actor=actor),
        "purged": kept.purged(actor=actor)[:PER_PAGE],
        "new_id": uuid.uuid4(),
        "not_carried": lacking_of(sheet.place for sheet in page),
        "cautions": present.CAUTIONS,
        **typed,
    }
    return render(request, "duties/keeping.html", context, status=422 if refused else 200)


@require_POST
@front_door(Right.HOLD)
def hold(request: BookRequest) -> HttpResponse:
    """Hold one signed record, or the whole book."""
    number = request.POST.get("number", "").strip()
    try:
        record_id = None
        if number:
            record_id = selectors.record_of_number(actor=request.actor, number=number)
        set_hold(
            actor=request.actor,
            hold_id=_id_or_new(request.POST.get("id", "")),
            record_id=record_id,
            reason=request.POST.get("reason", ""),
            now=timezone.now(),
        )
    except RefusedInput as refusal:
        return _keeping_page(request, refused=True, errors=refusal.errors, typed=request.POST)
    except Conflict:
        errors = {"id": [str(SENT_BEFORE)]}
        return _keeping_page(request, refused=True, errors=errors, typed=request.POST)
    messages.success(request, _("Held. Nothing of it goes until the hold is lifted."))
    return redirect("keeping")


@require_POST
@front_door(Right.PURGE)
def lift(request: BookRequest, hold_id: uuid.UUID) -> HttpResponse:
    """Lift a hold, saying why."""
    try:
        lift_hold(
            actor=request.actor,
            hold_id=hold_id,
            reason=request.POST.get("reason", ""),
            now=timezone.now(),
        )
    except RefusedInput as refusal:
        lifting = {"hold": hold_id, "typed": request.POST, "why": refusal.errors["reason"]}
        return _keeping_page(request, refused=True, lifting=lifting)
    messages.success(request, _("The hold is lifted."))
    return redirect("keeping")


def _stated(request: BookRequest) -> Stated | None:
    """Return how long the owner says that records are kept; None where nothing is said.

    Raises: RefusedInput.
    """
    years, source = (request.POST.get(name, "").strip() for name in ("years", "source"))
    if not years and not source:
        return None
    try:
        return Stated(years=int(years), source=source)
    except ValueError:
        raise RefusedInput(
            {"years": [_("“%(text)s” is not a whole number of years.") % {"text": years}]}
        ) from None


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.PURGE)
def purge_record(request: BookRequest, record_id: uuid.UUID) -> HttpResponse:
    """Let a record go for good, with what belongs to it; the password is asked once more."""
    row = selectors.existing(actor=request.actor, record_id=record_id)
    errors: dict[str, list[str]] = {}
    if request.method == "POST":
        try:
            purges = purge(
                actor=request.actor,
                record_id=record_id,
                reason=request.POST.get("reason", ""),
                stated=_stated(request),
                confirmation=confirm_password(
                    request, user=request.actor.user, password=request.POST.get("password", "")
                ),
                now=timezone.now(),
            )
        except RefusedInput as refusal:
            errors = refusal.errors
        except Refused as refusal:
            errors = {"record": [str(refusal)]}
        else:
            numbers = ", ".join(_("no. %(number)d") % {"number": one.seal.number} for one in purges)
            said = _("Purged: %(numbers)s. The log still verifies.") % {"numbers": numbers}
            messages.success(request, said)
            return redirect("keeping")
    found = kept.periods(row)
    context = {
        "record": row,
        "together": related.together(row),
        "periods": present.periods_shown(found),
        "in_doubt": any(one.doubt for one in found),
        "not_carried": lacking_of(one.place for one in found),
        "cautions": present.CAUTIONS,
        "errors": errors,
        "typed": request.POST,
    }
    return render(request, "duties/purge.html", context, status=422 if errors else 200)
