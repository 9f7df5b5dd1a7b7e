"""What a new record takes over from an earlier one: never silently, each with where it is from.

Taken over is what seldom changes from one job to the next. Weather, times, amounts and the settings
as read (pressure, speed) are those of the job itself and are never taken over.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.utils.translation import gettext as _

from logbook.accounts.models import Person
from logbook.accounts.rights import Actor, Right
from logbook.catalog.models import Field, LabelEdition, NozzleSet, Planting
from logbook.errors.exceptions import NotThere, Refused, RefusedInput
from logbook.facts.choices import BROADCAST
from logbook.facts.quantity import Answer
from logbook.facts.sets import BY_COLUMN, prefilled
from logbook.facts.spec import Prefill
from logbook.records.models import ApplicationRecord, CrewMember, ProductLine
from logbook.records.writing.draft import (
    begin_draft,
    draft_for_change,
    refresh_labels,
    save_draft,
)
from logbook.records.writing.saving import Refusals, Rows

PEOPLE = ("applicator", "supervisor")

STANDING = ("nozzle_set", *PEOPLE)
"""What another field does not change: the rig is driven there by whoever drives it."""

LOOKED_BACK = timedelta(days=400)
"""A season and a bit: what stood a year before is no longer "as the last time"."""


def prefill(*, actor: Actor, record_id: UUID, now: datetime) -> bool:
    """Return whether the draft took anything over, one revision on if it did.

    From the last record on its rig and field; while it has no field, from the last record of the
    person who writes. Only a blank is filled, and what was taken over before and not touched since
    is taken anew, but for nozzles and people: those that stand, stay. A new draft is sprayed by the
    person who writes, if licensed, and has what is the only one on the shelf. The crop is chosen
    where the field has just one in the season. An amendment and a job resumed have their own.

    Raises: NotAllowed; Refused if it is signed, set aside or not there.
    """
    actor.must(Right.DRAFT)
    with transaction.atomic():
        record = draft_for_change(actor=actor, record_id=record_id)
        if record.amends_id or record.continues_id:
            return False
        new = record.revision == 1
        if new:
            _choose_who_writes(actor, record, now)
        before = _last_like(actor, record, now)
        if before:
            _take(record, before, Prefill.SAME_FIELD if record.field_id else Prefill.SAME_RIG, now)
        if new:
            mounted = Q(removed_on__isnull=True) | Q(removed_on__gt=_day(record, now))
            sets = NozzleSet.objects.within(actor.business).filter(mounted).select_related("rig")
            _choose_the_only(record, "nozzle_set", sets)
            _choose_the_only(record, "applicator", Person.objects.within(actor.business))
            _choose_the_only(record, "field", Field.objects.within(actor.business))
        _choose_the_only_crop(record, now)
        return _written(record)


def begin_like(
    *,
    actor: Actor,
    record_id: UUID,
    new_id: UUID,
    now: datetime,
    field: Field | None = None,
) -> ApplicationRecord:
    """Return a new draft with the field, products, nozzles and people of another record.

    Asking twice with one id makes one.
    Args: field, where the job goes on instead; nothing of the other field is taken over then.
    Raises: NotAllowed; NotThere; Refused if the id is another job's.
    """
    actor.must(Right.DRAFT)
    with transaction.atomic():
        before = _records(actor).filter(id=record_id).first()
        if before is None:
            raise NotThere(_("There is no such record."))
        record = begin_draft(actor=actor, record_id=new_id)
        if any(one.get("record") == str(before.pk) for one in record.carried.values()):
            return record
        if record.signed_at or record.field_id or record.revision > 1:
            raise Refused(_("This draft is another job already."))
        record.field = field
        _take(record, before, Prefill.SAME_JOB, now)
        if record.field:
            record.time_zone = record.field.time_zone
            record.customer = record.field.customer
        _choose_the_only_crop(record, now)
        lines = [
            ProductLine(
                record=record,
                position=line.position,
                product_id=line.product_id,
                planned_rate=line.planned_rate,
                target=line.target,
            )
            for line in before.products.all()
        ]
        if lines:
            record.carried["products"] = _from(before)
        _written(record)
        ProductLine.objects.bulk_create(lines)
        refresh_labels(record)
    record.refresh_from_db()
    return record


def take_plan(
    *, actor: Actor, record_id: UUID, nozzle_set: Any, planned_carrier: Answer, label: Any
) -> None:
    """Write a choice of the plan into a draft: nozzles, carrier, and the product of the label.

    The product counts as taken over; its rate stays blank, for the plan asks for none. Pressure and
    speed are read at the work.

    Args: nozzle_set and label, ids; label may be blank.
    Raises: NotAllowed; Refused if it is signed, set aside or not there; RefusedInput.
    """
    actor.must(Right.DRAFT)
    errors = Refusals()
    edition: Any = Rows(actor.business).find(LabelEdition, label, "label", errors)
    if errors:
        raise RefusedInput(errors)
    with transaction.atomic():
        record = draft_for_change(actor=actor, record_id=record_id)
        data: dict[str, Any] = {"nozzle_set": nozzle_set}
        if planned_carrier:
            data["planned_carrier"] = planned_carrier
        took = edition is not None and not record.products.exists()
        if took:
            data["products"] = [{"product": edition.product_id}]
        record = save_draft(actor=actor, record_id=record_id, revision=record.revision, data=data)
        if took:
            record.carried["products"] = {"label": edition.edition}
            record.save(update_fields=["carried"])


def _records(actor: Actor) -> QuerySet[ApplicationRecord]:
    rows = ApplicationRecord.objects.within(actor.business)
    return rows.select_related("seal", "nozzle_set", "field__customer", "planting")


def _last_like(actor: Actor, record: ApplicationRecord, now: datetime) -> ApplicationRecord | None:
    rows = (
        _records(actor)
        .filter(set_aside_at__isnull=True, book_at__gt=now - LOOKED_BACK, book_at__lte=now)
        .exclude(pk=record.pk)
        .exclude(amendment__signed_at__isnull=False)
        .order_by("-book_at", "-id")
    )
    if record.field_id is None:
        mine = Q(created_by=actor.user) | Q(applicator__user=actor.user)
        return rows.filter(mine, rig__isnull=False).first()
    rows = rows.filter(field_id=record.field_id)
    return rows.filter(rig_id=record.rig_id).first() if record.rig_id else rows.first()


def _take(
    record: ApplicationRecord, before: ApplicationRecord, widest: Prefill, now: datetime
) -> None:
    new = record.revision == 1
    there = set() if new else {member.person_id for member in record.crew.all()}
    for name in prefilled(widest):
        if BY_COLUMN[name].banded and before.pattern == BROADCAST:
            continue
        value, stands = getattr(before, name), getattr(record, name)
        if name in STANDING and stands is not None and value != stands:
            continue
        open_ = name in record.carried or (
            new if BY_COLUMN[name].has_start_value else stands is None or stands == ""
        )
        if not open_ or value is None or value == "" or value == stands:
            if name in record.carried and value == stands:
                record.carried[name] = _from(before)
            continue
        if name == "nozzle_set" and value.removed_on and value.removed_on <= _day(record, now):
            continue
        if name in PEOPLE and value.pk in {*there, record.applicator_id, record.supervisor_id}:
            continue  # nobody stands twice in one record
        if name == "planting" and not _stands_there(record, value, now):
            continue
        setattr(record, name, value)
        record.carried[name] = _from(before)
        if name == "nozzle_set":
            record.rig = before.rig
    crew = [member.person_id for member in before.crew.all()]
    named = (record.applicator_id, record.supervisor_id)
    if crew and "crew" not in record.carried and not there:
        CrewMember.objects.bulk_create(
            CrewMember(record=record, person_id=pk) for pk in crew if pk not in named
        )
        record.carried["crew"] = _from(before)


def _choose_who_writes(actor: Actor, record: ApplicationRecord, now: datetime) -> None:
    """Choose the person who writes as the applicator, if licensed on the day."""
    day = _day(record, now)
    licensed = Q(licences__valid_from__lte=day, licences__expires_on__gte=day)
    mine = Person.objects.within(actor.business).filter(licensed, user=actor.user).distinct()
    _choose_the_only(record, "applicator", mine, {"login": True})


def _choose_the_only(
    record: ApplicationRecord, name: str, rows: QuerySet[Any], source: dict[str, Any] | None = None
) -> None:
    """Choose the row where there is just one and nothing stands yet."""
    if getattr(record, f"{name}_id") is not None:
        return
    found = list(rows[:2])
    if len(found) != 1:
        return
    setattr(record, name, found[0])
    record.carried[name] = source or {"only": True}
    if name == "nozzle_set":
        record.rig = found[0].rig
    if name == "field":
        record.time_zone, record.customer = found[0].time_zone, found[0].customer


def _stands_there(record: ApplicationRecord, crop: Planting, now: datetime) -> bool:
    return crop.field_id == record.field_id and crop.season == _day(record, now).year


def _choose_the_only_crop(record: ApplicationRecord, now: datetime) -> None:
    if record.field_id is None or record.planting_id:
        return
    season = _day(record, now).year
    there = list(Planting.objects.filter(field_id=record.field_id, season=season)[:2])
    if len(there) == 1:
        record.planting = there[0]
        record.carried["planting"] = {"season": season}


def _day(record: ApplicationRecord, now: datetime) -> date:
    """Return the local day of the work, today's while it has none."""
    return record.day or now.astimezone(ZoneInfo(record.time_zone)).date()


def _from(before: ApplicationRecord) -> dict[str, Any]:
    return {
        "record": str(before.pk),
        "number": before.seal.number if before.signed_at else None,
        "day": before.day.isoformat() if before.day else None,
    }


def _written(record: ApplicationRecord) -> bool:
    """Write the draft if it took something over that it did not have."""
    stands = ApplicationRecord.objects.get(pk=record.pk)
    names = (*prefilled(Prefill.SAME_JOB), "carried")
    if all(getattr(stands, name) == getattr(record, name) for name in names):
        return False
    record.revision = F("revision") + 1
    record.save()
    return True
