"""Holds: keeping a record, or the whole book, for a reason that outweighs the calendar."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from logbook.accounts import journal
from logbook.accounts.rights import Actor, Right
from logbook.errors.exceptions import Conflict, NotThere, Refused, RefusedInput
from logbook.records.models import Chain, LegalHold, Seal
from logbook.records.sealing.journaled import HOLD

LEAST_REASON = 5


def set_hold(
    *, actor: Actor, hold_id: UUID, record_id: UUID | None, reason: str, now: datetime
) -> LegalHold:
    """Return the new hold on one sealed record, or on the whole book where `record_id` is None.

    Asking twice makes one. Raises: NotAllowed; NotThere; RefusedInput naming the reason; Conflict
    if the id is taken by a hold that says something else.
    """
    actor.must(Right.HOLD)
    with transaction.atomic():
        standing: LegalHold | None = LegalHold.objects.filter(id=hold_id).first()
        if standing and standing.business_id != actor.business.pk:
            raise Conflict(_("This id is taken; choose another."))
        if standing:
            held = standing.seal and standing.seal.record_id
            if (held, standing.reason) != (record_id, reason.strip()):
                raise Conflict(
                    _("This id is there already and says something else; choose another.")
                )
            return standing
        # The chain's row is the lock: no record goes while it is being held.
        Chain.objects.select_for_update().filter(business=actor.business).first()
        seal = None
        if record_id is not None:
            seal = Seal.objects.within(actor.business).filter(record_id=record_id).first()
            if seal is None or seal.purged_at:
                raise NotThere(_("There is no such signed record."))
        hold: LegalHold = LegalHold.objects.create(
            id=hold_id,
            business=actor.business,
            seal=seal,
            reason=_said(reason, _("Say why it has to be kept, in a sentence.")),
            set_at=now,
            set_by=actor.user,
        )
        journal.append(HOLD, hold)
    return hold


def lift_hold(*, actor: Actor, hold_id: UUID, reason: str, now: datetime) -> LegalHold:
    """Return the lifted hold; it stays readable, with who lifted it and why.

    Raises: NotAllowed; NotThere; Refused if it was lifted already; RefusedInput.
    """
    actor.must(Right.PURGE)
    reason = _said(reason, _("Say why it need not be held any longer, in a sentence."))
    with transaction.atomic():
        holds = LegalHold.objects.within(actor.business).select_for_update(of=("self",))
        found: LegalHold | None = holds.filter(id=hold_id).first()
        if found is None:
            raise NotThere(_("There is no such hold."))
        if found.lifted_at:
            raise Refused(_("This hold was lifted already."))
        found.lifted_at, found.lifted_by, found.lift_reason = now, actor.user, reason
        found.save(update_fields=["lifted_at", "lifted_by", "lift_reason"])
        journal.append(HOLD, found)
    return found


def _said(reason: str, ask: str) -> str:
    reason = reason.strip()
    if len(reason) < LEAST_REASON:
        raise RefusedInput({"reason": [ask]})
    return reason
