"""A job starts on a field and stops: what is taken over, once, and by whom."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest

from logbook.accounts.grants import give_grant
from logbook.accounts.rights import Actor, Role
from logbook.errors.exceptions import Conflict, NotAllowed, NotThere, Refused, RefusedInput
from logbook.records.models import ApplicationRecord
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.work import start_work, stop_work
from tests import factories as make
from tests.conftest import sealed_by


@pytest.fixture
def south(business: Any, yard: Any) -> Any:
    """Another field, of another customer, with one crop of its own."""
    field = make.FieldFactory(business=business, name="South", time_zone="America/Denver")
    make.PlantingFactory(field=field, crop="rye")
    return field


def start(actor: Any, field: Any, now: Any, *, like: Any = None, new: Any = None) -> Any:
    return start_work(
        actor=actor,
        record_id=new or uuid.uuid4(),
        field_id=field.pk,
        like=like and like.pk,
        now=now,
    )


def test_a_job_starts_on_another_field_with_what_the_last_one_had(
    owner: Any, signed: Any, south: Any, now: Any
) -> None:
    job = start(owner, south, now, like=signed)
    assert (job.field, job.customer, job.time_zone) == (south, south.customer, "America/Denver")
    assert job.started_at == now.replace(microsecond=0)
    assert job.finished_at is None
    assert (job.rig, job.nozzle_set) == (signed.rig, signed.nozzle_set)
    assert job.planned_carrier == make.q("15 gal/ac")
    line = job.products.get()
    assert (line.product_id, line.planned_rate) == (
        signed.products.get().product_id,
        make.q("22 fl oz/ac"),
    )
    # The crop is the field's own; nothing that was read or measured comes along.
    assert job.planting.crop == "rye"
    assert (job.pressure, job.speed, job.treated_area, job.mix_used) == (None,) * 4
    assert not job.weather.exists()
    # What came along counts as taken over until somebody confirms it; the field was chosen.
    assert {"products", "planned_carrier", "nozzle_set"} <= set(job.carried)
    assert not {"field", "started_at"} & set(job.carried)


def test_two_taps_on_start_make_one_draft_with_one_start(
    owner: Any, signed: Any, south: Any, now: Any
) -> None:
    new = uuid.uuid4()
    first = start(owner, south, now, like=signed, new=new)
    again = start(owner, south, now + timedelta(seconds=2), like=signed, new=new)
    assert (first.pk, first.revision, first.started_at) == (
        again.pk,
        again.revision,
        again.started_at,
    )
    assert ApplicationRecord.objects.filter(field=south).count() == 1


def test_the_id_of_another_job_starts_nothing(
    owner: Any, signed: Any, south: Any, yard: Any, now: Any
) -> None:
    job = start(owner, south, now, like=signed)
    with pytest.raises(Refused, match="for another job"):
        start(owner, yard.field, now, new=job.pk)
    stop_work(actor=owner, record_id=job.pk, now=now + timedelta(hours=1))
    with pytest.raises(Refused, match="for another job"):
        start(owner, south, now + timedelta(hours=2), new=job.pk)
    job.refresh_from_db()
    assert job.started_at == now.replace(microsecond=0)


def test_the_first_job_of_a_person_starts_with_the_field_and_the_only_rig(
    office: Any, south: Any, now: Any
) -> None:
    job = start(office, south, now)
    assert (job.field, job.customer, job.planting.crop) == (south, south.customer, "rye")
    assert job.started_at == now.replace(microsecond=0)
    assert job.rig is not None
    assert job.carried["nozzle_set"] == {"only": True}
    assert job.products.count() == 0


def test_without_a_record_to_repeat_rig_and_people_come_from_the_last_job(
    owner: Any, signed: Any, south: Any, now: Any
) -> None:
    job = start(owner, south, now)
    assert (job.rig, job.applicator) == (signed.rig, signed.applicator)
    assert (job.products.count(), job.planned_carrier) == (0, None)
    assert job.planting.crop == "rye"


def test_a_draft_written_ahead_gets_its_start_and_keeps_what_it_has(
    owner: Any, yard: Any, now: Any
) -> None:
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    data = {"field": yard.field.pk, "purpose": "written the evening before"}
    save_draft(actor=owner, record_id=draft.pk, revision=draft.revision, data=data)
    job = start(owner, yard.field, now, new=draft.pk)
    assert (job.started_at, job.purpose) == (
        now.replace(microsecond=0),
        "written the evening before",
    )
    assert job.carried == {}


def test_a_job_stops_once(owner: Any, south: Any, now: Any) -> None:
    job = start(owner, south, now)
    end = now + timedelta(minutes=50)
    assert stop_work(actor=owner, record_id=job.pk, now=end).finished_at == end.replace(
        microsecond=0
    )
    later = stop_work(actor=owner, record_id=job.pk, now=end + timedelta(minutes=5))
    assert later.finished_at == end.replace(microsecond=0)


def test_what_has_not_started_is_not_stopped(owner: Any, south: Any, now: Any) -> None:
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    with pytest.raises(Refused, match="no start yet"):
        stop_work(actor=owner, record_id=draft.pk, now=now)
    job = start(owner, south, now)
    with pytest.raises(RefusedInput, match="cannot end before it starts"):
        stop_work(actor=owner, record_id=job.pk, now=now - timedelta(minutes=1))


def test_a_sealed_record_neither_starts_nor_stops(owner: Any, clean_draft: Any, now: Any) -> None:
    sealed = sealed_by(owner, clean_draft)
    with pytest.raises(Refused, match="signed and sealed"):
        start(owner, sealed.field, now, new=sealed.pk)
    with pytest.raises(Refused, match="signed and sealed"):
        stop_work(actor=owner, record_id=sealed.pk, now=now)


@pytest.mark.parametrize("who", ["owner", "office", "applicator", "helper"])
def test_every_member_starts_and_stops(
    request: pytest.FixtureRequest, who: str, south: Any, now: Any
) -> None:
    actor = request.getfixturevalue(who)  # the table of rights: all members write drafts
    job = start(actor, south, now)
    assert job.created_by == actor.user
    assert stop_work(actor=actor, record_id=job.pk, now=now).finished_at


def test_a_guest_starts_nothing(owner: Any, south: Any, now: Any) -> None:
    user = make.UserFactory(email="fern@farm.test")
    grant = give_grant(
        actor=owner,
        email=user.email,
        role=Role.FARM_MANAGER,
        customer_ids=[south.customer.pk],
        now=now,
    )
    guest = Actor(user=user, business=owner.business, role=Role.FARM_MANAGER, grant=grant)
    job = start(owner, south, now)
    for deed in (
        lambda: start(guest, south, now),
        lambda: stop_work(actor=guest, record_id=job.pk, now=now),
    ):
        with pytest.raises(NotAllowed):
            deed()


def test_nothing_of_another_business_is_reached(
    owner: Any, stranger: Any, signed: Any, south: Any, now: Any
) -> None:
    theirs = make.FieldFactory(business=stranger.business)
    with pytest.raises(NotThere):
        start(owner, theirs, now)
    with pytest.raises(NotThere):
        start(stranger, theirs, now, like=signed)
    job = start(owner, south, now)
    with pytest.raises(NotThere):
        stop_work(actor=stranger, record_id=job.pk, now=now)
    with pytest.raises(Conflict):
        start(stranger, theirs, now, new=job.pk)
    assert not ApplicationRecord.objects.within(stranger.business).exists()
