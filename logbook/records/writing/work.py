"""The work as it happens: a job starts on a field, and it stops."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from logbook.accounts.rights import Actor, Right
from logbook.catalog.selectors import from_shelf
from logbook.errors.exceptions import Refused
from logbook.records.models import ApplicationRecord
from logbook.records.writing.draft import begin_draft, draft_for_change, save_draft
from logbook.records.writing.prefill import begin_like, prefill


def start_work(
    *, actor: Actor, record_id: UUID, field_id: UUID, like: UUID | None, now: datetime
) -> ApplicationRecord:
    """Return the draft of the job that starts on a field now; asking twice with one id makes one.

    A new draft takes over from the record `like`, or without one from the last of who writes. One
    that stands on the field already and has no start gets its start.

    Raises: NotAllowed; NotThere for a field or record that is not the business's; Closed; Refused
    if the id is that of another job.
    """
    actor.must(Right.DRAFT)
    with transaction.atomic():
        field = from_shelf(business=actor.business, shelf="fields", row_id=field_id)
        begin_draft(actor=actor, record_id=record_id)
        record = draft_for_change(actor=actor, record_id=record_id)
        if record.field_id is None and record.revision == 1:
            if like:
                record = begin_like(
                    actor=actor, record_id=like, new_id=record_id, now=now, field=field
                )
            else:
                # Before the field is known, the last job anywhere says rig, nozzles and people.
                prefill(actor=actor, record_id=record_id, now=now)
                record.refresh_from_db()
                data = {"field": field.pk}
                save_draft(actor=actor, record_id=record_id, revision=record.revision, data=data)
                prefill(actor=actor, record_id=record_id, now=now)
                record.refresh_from_db()
        if record.field_id != field.pk or record.finished_at:
            raise Refused(
                _("This page was sent before, for another job. Start this one from here.")
            )
        if record.started_at:
            return record
        return _now(actor, record, "started_at", now)


def stop_work(*, actor: Actor, record_id: UUID, now: datetime) -> ApplicationRecord:
    """Return the draft with the end of its work; one that has its end keeps it.

    Raises: NotAllowed; NotThere; Closed; Refused if the work has not started; RefusedInput if it
    starts later than now.
    """
    actor.must(Right.DRAFT)
    with transaction.atomic():
        record = draft_for_change(actor=actor, record_id=record_id)
        if record.started_at is None:
            raise Refused(_("This job has no start yet, so it cannot be stopped."))
        if record.finished_at:
            return record
        return _now(actor, record, "finished_at", now)


def _now(actor: Actor, record: ApplicationRecord, name: str, now: datetime) -> ApplicationRecord:
    # To the second, as a clock shows it.
    data = {name: now.replace(microsecond=0)}
    return save_draft(actor=actor, record_id=record.pk, revision=record.revision, data=data)
