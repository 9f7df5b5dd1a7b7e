"""A job broken off and resumed: a further record, with an area of its own, that names the first."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from logbook.accounts.rights import Actor, Right
from logbook.errors.exceptions import NotThere, Refused
from logbook.facts.sets import resumed
from logbook.records.models import ApplicationRecord, CrewMember, ProductLine
from logbook.records.reading import duesheets
from logbook.records.writing.draft import begin_draft


def begin_resumption(*, actor: Actor, record_id: UUID, new_id: UUID) -> ApplicationRecord:
    """Return the draft of the job resumed; asking twice with one id makes one.

    One record per place and per day: Neb. Rev. Stat. 2-2643 and 25 NAC 2-006 want two records,
    each with its own area, where a job is broken off and resumed on the next day.

    Raises: NotAllowed; NotThere; Refused if the job has no field or no start yet, is set aside, or
    is corrected by another record.
    """
    actor.must(Right.DRAFT)
    with transaction.atomic():
        before = (
            ApplicationRecord.objects.within(actor.business)
            .select_related("amendment__seal")
            .filter(id=record_id)
            .first()
        )
        if before is None:
            raise NotThere(_("There is no such record."))
        if before.superseded_by:
            raise Refused(
                _("This record is corrected by no. %(number)s; resume that.")
                % {"number": before.superseded_by}
            )
        if before.set_aside_at:
            raise Refused(_("This draft is set aside; bring it back to go on with it."))
        if before.field_id is None or before.started_at is None:
            raise Refused(_("The job that was broken off needs its field and its start first."))
        record = begin_draft(actor=actor, record_id=new_id)
        if record.continues_id == before.pk:
            return record
        if record.signed_at or record.field_id or record.revision > 1:
            raise Refused(_("This draft is another job already."))
        for name in ("time_zone", *resumed()):
            setattr(record, name, getattr(before, name))
        record.continues = before
        record.save()
        duesheets.say_when_they_may_go(record)
        ProductLine.objects.bulk_create(
            ProductLine(
                record=record,
                position=line.position,
                product_id=line.product_id,
                label_id=line.label_id,
                planned_rate=line.planned_rate,
                target=line.target,
            )
            for line in before.products.all()
        )
        CrewMember.objects.bulk_create(
            CrewMember(record=record, person_id=member.person_id) for member in before.crew.all()
        )
    return record
