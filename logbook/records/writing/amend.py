"""Beginning an amendment: a new draft that points back at the sealed record and says why."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db import models, transaction
from django.utils.translation import gettext as _

from logbook.accounts.rights import Actor, Right
from logbook.errors.exceptions import Conflict, NotThere, Refused, RefusedInput
from logbook.records.models import ApplicationRecord, Load, LoadPart, LoadUse, Picture
from logbook.records.reading import duesheets
from logbook.records.sealing import pictures

LEAST_REASON = 5


class AlreadyBegun(Refused):
    """Somebody began an amendment of the record before, for another reason."""

    def __init__(self, standing: ApplicationRecord) -> None:
        self.standing = standing
        if standing.set_aside_at:
            super().__init__(
                _("A correction of this record was begun and set aside; bring that draft back.")
            )
            return
        super().__init__(
            _(
                "A correction of this record was begun already: “%(reason)s”. Write your reason "
                "there."
            )
            % {"reason": standing.amend_reason}
        )


def begin_amendment(
    *, actor: Actor, record_id: UUID, new_id: UUID, reason: str
) -> ApplicationRecord:
    """Return the draft that will correct the sealed record; asking twice returns the same draft.

    Raises: NotAllowed; Refused if there is no such record, it is not signed, or it is amended
    already by a signed record (then that one is to be amended); AlreadyBegun if a draft stands with
    another reason; Conflict if the id is taken; RefusedInput naming the reason.
    """
    actor.must(Right.AMEND)
    reason = reason.strip()
    if len(reason) < LEAST_REASON:
        raise RefusedInput(
            {"reason": [_("Say what is wrong in the sealed record, in a sentence.")]}
        )
    with transaction.atomic():
        sealed = (
            ApplicationRecord.objects.within(actor.business)
            .select_for_update(of=("self",))
            .filter(id=record_id)
            .first()
        )
        if sealed is None:
            raise NotThere(_("There is no such record."))
        if sealed.signed_at is None:
            raise Refused(_("This record is still a draft; change it directly."))
        standing: ApplicationRecord | None = ApplicationRecord.objects.filter(amends=sealed).first()
        if standing and standing.signed_at:
            raise Refused(_("This record was amended already; amend the amendment."))
        if standing:
            if standing.set_aside_at or standing.amend_reason != reason:
                raise AlreadyBegun(standing)
            return standing
        if ApplicationRecord.objects.filter(pk=new_id).exists():
            raise Conflict(_("This id is taken; choose another."))
        draft = _copy(sealed, actor, new_id, reason)
        duesheets.say_when_they_may_go(draft)
        return draft


def _copy(sealed: ApplicationRecord, actor: Actor, new_id: UUID, reason: str) -> ApplicationRecord:
    record = ApplicationRecord(
        **_columns(sealed, without={"id", "signed_at", "revision", "created_by", "amends"})
    )
    record.id = new_id
    record.amends = sealed
    record.amend_reason = reason
    record.created_by = actor.user
    record.save(force_insert=True)
    # What was said about the findings comes along; the page of signing says where it is from.
    for name in ("products", "weather", "crew", "explanations"):
        rows = getattr(sealed, name)
        rows.model.objects.bulk_create(
            rows.model(**_columns(row, without={"id", "record"}), record=record)
            for row in rows.all()
        )
    for use in sealed.load_uses.select_related("load__copy_of").prefetch_related("load__parts"):
        _copy_load(use, record)
    for picture in sealed.pictures.all():
        _copy_picture(picture, record)
    return record


def _copy_picture(picture: Picture, record: ApplicationRecord) -> None:
    """Give the amendment a picture of its own; one whose bytes are lost does not come along."""
    jpeg = pictures.as_kept(
        business_id=record.business_id, picture_id=picture.pk, sha256=picture.sha256
    )
    if jpeg is not None:
        copy = Picture(**_columns(picture, without={"record"}), record=record)
        copy.save(force_insert=True)
        pictures.keep(business_id=record.business_id, picture_id=copy.pk, jpeg=jpeg)


def _copy_load(use: LoadUse, record: ApplicationRecord) -> None:
    """Give the amendment a load of its own: the sealed one cannot be corrected in place.

    It points at the load that was mixed, however often it was corrected since: with that one it is
    known which other fields were sprayed from it.
    """
    load = Load(
        **_columns(use.load, without={"id", "copy_of"}), copy_of=use.load.copy_of or use.load
    )
    load.save(force_insert=True)
    LoadPart.objects.bulk_create(
        LoadPart(**_columns(part, without={"id", "load"}), load=load)
        for part in use.load.parts.all()
    )
    LoadUse.objects.create(
        **_columns(use, without={"id", "record", "load"}), record=record, load=load
    )


def _columns(row: models.Model, *, without: set[str]) -> dict[str, Any]:
    return {
        column.attname: getattr(row, column.attname)
        for column in row._meta.concrete_fields
        if column.name not in without and column.editable
    }
