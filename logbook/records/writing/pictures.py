"""Pictures put to a draft as evidence, and taken from it again."""

from __future__ import annotations

from base64 import b64decode
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from logbook.accounts.rights import Actor, Right
from logbook.errors.exceptions import Conflict, NotThere, Refused, RefusedInput
from logbook.facts.choices import PICTURED
from logbook.localization.locale import count
from logbook.readers import MAX_PICTURE_BYTES
from logbook.records.models import ApplicationRecord, Picture
from logbook.records.sealing import pictures
from logbook.records.writing.draft import draft_for_change
from logbook.records.writing.saving import Refusals
from logbook.uploads import read_confined

MOST = 12
"""Pictures of one record. Our own measure, no source."""


def add_picture(
    *,
    actor: Actor,
    record_id: UUID,
    picture_id: UUID,
    shows: str,
    caption: str,
    raw: bytes,
    keep_time_and_place: bool,
    now: datetime,
) -> Picture:
    """Return the picture, made anew from the bytes of a file; the draft is one revision on.

    Asking twice makes one picture.

    Args: shows, a word of `PICTURED`; keep_time_and_place, whether what the camera says of time and
    place is kept in the record; the stored picture never holds it.
    Raises: NotAllowed; Refused if it is signed, set aside or not there; Conflict if the id stands
    for another picture; RefusedInput naming the file, or what it shows.
    """
    actor.must(Right.DRAFT)
    if len(raw) > MAX_PICTURE_BYTES:
        said = _("The picture has %(bytes)s bytes; at most %(most)s are read.")
        raise RefusedInput(
            {"file": [said % {"bytes": count(len(raw)), "most": count(MAX_PICTURE_BYTES)}]}
        )
    try:
        (made,) = read_confined("picture", raw)
    except Refused as refusal:
        raise RefusedInput({"file": [str(refusal)]}) from None
    jpeg = b64decode(made["jpeg"])
    picture = Picture(
        id=picture_id,
        shows=shows,
        caption=caption.strip(),
        sha256=pictures.digest_of(jpeg),
        taken=made["taken"] if keep_time_and_place else "",
        place=made["place"] if keep_time_and_place else "",
        added_by=actor.user,
        added_at=now,
    )
    errors = Refusals()
    if shows not in PICTURED:
        allowed = {"given": shows, "allowed": ", ".join(PICTURED)}
        errors.add("shows", _("“%(given)s” is not one of %(allowed)s.") % allowed)
    else:
        errors.clean(picture)
    if errors:
        raise RefusedInput(errors)
    with transaction.atomic():
        record = draft_for_change(actor=actor, record_id=record_id)
        if standing := Picture.objects.filter(pk=picture_id).first():
            same = ("record_id", "shows", "caption", "sha256", "taken", "place")
            picture.record = record
            if any(getattr(standing, name) != getattr(picture, name) for name in same):
                raise Conflict(_("This id is taken; choose another."))
            return standing
        if record.pictures.count() >= MOST:
            said = _("A record takes at most %(most)s pictures.") % {"most": MOST}
            raise RefusedInput({"file": [said]})
        picture.record = record
        picture.save(force_insert=True)
        _moved_on(record)
        # Last: a file without its row is only lost room, a row without its file a lost picture.
        pictures.keep(business_id=actor.business.pk, picture_id=picture_id, jpeg=jpeg)
    return picture


def remove_picture(*, actor: Actor, record_id: UUID, picture_id: UUID) -> None:
    """Take a picture from a draft, with its stored bytes; the draft is one revision on.

    Raises: NotAllowed; Refused if it is signed or set aside; NotThere.
    """
    actor.must(Right.DRAFT)
    with transaction.atomic():
        record = draft_for_change(actor=actor, record_id=record_id)
        picture = record.pictures.filter(pk=picture_id).first()
        if picture is None:
            raise NotThere(_("There is no such picture."))
        picture.delete()
        _moved_on(record)
        throw_away_after(record, [picture_id])


def throw_away_after(record: ApplicationRecord, picture_ids: list[UUID]) -> None:
    """Delete the stored bytes once what takes the pictures away is on the disk."""
    business_id = record.business_id
    transaction.on_commit(
        lambda: pictures.throw_away(business_id=business_id, picture_ids=picture_ids)
    )


def _moved_on(record: ApplicationRecord) -> None:
    record.revision = F("revision") + 1
    record.save(update_fields=["revision", "updated_at"])
