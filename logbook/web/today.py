"""Today: the fields in hand with the one thing to do next, and what else is due."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from logbook.accounts.rights import Actor, Right
from logbook.accounts.services import expiring_licences
from logbook.catalog.selectors import stale_catch_tests
from logbook.localization.today import today_of
from logbook.records.reading import inhand, selectors
from logbook.records.reading.deadlines import outlook
from logbook.records.reading.examine import examined, unsaid
from logbook.records.reading.inhand import InHand, State
from logbook.web.book.fieldlines import field_lines, job_asked
from logbook.web.book.views import new_record_id, uuid_or_none
from logbook.web.catalog.firststeps import first_steps
from logbook.web.duties.present import due_shown
from logbook.web.viewbase import BookRequest, front_door

SHOWN = 20
DUE_SHOWN = 6
IN_HAND = 12
"""So many drafts stand among the fields in hand; the others wait in the list beneath."""
OPEN_SHOWN = 4
"""So many open fields are offered on the first screen; *another field* leads to all."""


@require_safe
@front_door(Right.READ)
def today(request: BookRequest) -> HttpResponse:
    """What needs somebody today; those from outside begin with what they came to see."""
    actor, now = request.actor, timezone.now()
    if not actor.may(Right.SEE):
        return redirect("audit")
    day = today_of(actor.business, now=now)
    drafts = selectors.drafts(actor=actor)
    shown = list(drafts[:SHOWN])
    latest = inhand.latest_drafts(actor=actor, most=IN_HAND)
    seen = examined(actor=actor, drafts=[*shown, *latest])
    closed = selectors.closed_fields(actor=actor, now=now)
    job = job_asked(actor, uuid_or_none(request.GET.get("like", "")), now)
    lines = inhand.fields_in_hand(
        actor=actor,
        drafts=latest,
        seen=seen,
        closed=closed,
        customer_id=job.record.customer_id if job else None,
        most_open=OPEN_SHOWN,
        now=now,
    )
    shown_lines = field_lines(lines, system=actor.user.unit_system)
    running = next((line.record for line in lines if _is_mine(line, actor)), None)
    ahead = outlook(actor=actor, now=now, shown=DUE_SHOWN)
    of_shown = {draft.pk for draft in shown}
    context = {
        "lines": shown_lines,
        "running": running,
        # While a job of one's own runs, its end and its wind are what is at hand.
        "chosen": running is None
        and actor.may(Right.DRAFT)
        and any(line.chosen for line in shown_lines),
        "job": job,
        "drafts": shown,
        "draft_count": drafts.count(),
        "due": [
            (task, *due_shown([task.item], zone=task.time_zone, now=now)) for task in ahead.first
        ],
        "overdue": ahead.overdue,
        "closed": closed,
        "licences": expiring_licences(actor=actor, today=day),
        "steps": first_steps(actor=actor),
        "stale": stale_catch_tests(business=actor.business, today=day),
        "now": now,
        "today": day,
        "unexplained": [
            (one.record, len(asked))
            for one in seen
            if one.record.pk in of_shown and (asked := unsaid(one))
        ],
        "aside_count": selectors.book(actor=actor, state="aside").count(),
        "new_id": new_record_id(),
        "start_id": new_record_id(),
    }
    return render(request, "pages/today.html", context)


def _is_mine(line: InHand, actor: Actor) -> bool:
    """Return whether a line is a running job of the person's own."""
    record = line.record
    return (
        line.state is State.RUNNING
        and record is not None
        and (
            record.created_by_id == actor.user.pk
            or bool(record.applicator and record.applicator.user_id == actor.user.pk)
        )
    )
