"""Setting a draft aside: with its reason, not deleted, and it can be brought back."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from logbook.accounts.rights import Actor, Right
from logbook.errors.exceptions import NotAllowed, Refused, RefusedInput
from logbook.records.models import ApplicationRecord, SetAside
from logbook.records.writing.draft import locked_record

LEAST_REASON, LONGEST_REASON = 3, 500


def may_set_aside(actor: Actor, record: ApplicationRecord) -> bool:
    """Return whether the actor may set this draft aside: one's own, or any with the right."""
    if record.signed_at or not actor.may(Right.DRAFT):
        return False
    return record.created_by_id == actor.user.pk or actor.may(Right.SET_ASIDE)


def set_aside(*, actor: Actor, record_id: UUID, reason: str, now: datetime) -> ApplicationRecord:
    """Return the draft, set aside: no list, total or deadline counts it, and nothing of it is lost.

    Asking twice keeps the first reason.
    Raises: NotAllowed; NotThere; Refused if it is signed; RefusedInput naming the reason.
    """
    with transaction.atomic():
        record = _draft(actor, record_id)
        if record.set_aside_at:
            return record
        reason = reason.strip()
        if not LEAST_REASON <= len(reason) <= LONGEST_REASON:
            said = _("Say in a sentence why the draft is set aside: %(least)d to %(most)d letters.")
            raise RefusedInput({"reason": [said % {"least": LEAST_REASON, "most": LONGEST_REASON}]})
        SetAside.objects.create(record=record, at=now, by=actor.user, reason=reason)
        return _written(record, now)


def bring_back(*, actor: Actor, record_id: UUID, now: datetime) -> ApplicationRecord:
    """Return the draft, back in the book; who threw it away, when and why stays written down.

    Raises: NotAllowed; NotThere; Refused if it is signed.
    """
    with transaction.atomic():
        record = _draft(actor, record_id)
        if record.set_aside_at is None:
            return record
        record.set_asides.filter(back_at__isnull=True).update(back_at=now, back_by=actor.user)
        return _written(record, None)


def _draft(actor: Actor, record_id: UUID) -> ApplicationRecord:
    actor.must(Right.DRAFT)
    record = locked_record(actor=actor, record_id=record_id)
    if record.signed_at:
        raise Refused(
            _("This record is signed and sealed; begin an amendment. It is never set aside.")
        )
    if not may_set_aside(actor, record):
        raise NotAllowed(
            _("This draft was begun by somebody else; ask its writer, the office or the owner.")
        )
    return record


def _written(record: ApplicationRecord, at: datetime | None) -> ApplicationRecord:
    record.set_aside_at = at
    record.revision = F("revision") + 1
    record.save(update_fields=["set_aside_at", "revision", "updated_at"])
    record.refresh_from_db()
    return record
