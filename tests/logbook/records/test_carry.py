"""What a new record takes over from an earlier one, and how it stops counting as taken over."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest

from logbook.errors.exceptions import NotAllowed, NotThere, Refused, RefusedInput
from logbook.records.models import ApplicationRecord
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.prefill import begin_like, prefill, take_plan
from logbook.records.writing.sign import sign
from tests import factories as make


def begun(actor: Any, now: Any) -> Any:
    draft = begin_draft(actor=actor, record_id=uuid.uuid4())
    prefill(actor=actor, record_id=draft.pk, now=now)
    return ApplicationRecord.objects.get(pk=draft.pk)


def saved(actor: Any, record: Any, now: Any, **data: Any) -> Any:
    """Save as the form does: what is not changed is sent as it stands."""
    record.refresh_from_db()
    save_draft(actor=actor, record_id=record.pk, revision=record.revision, data=data)
    return ApplicationRecord.objects.get(pk=record.pk)


def test_a_new_record_takes_rig_nozzles_boom_height_and_crew_of_the_last_one(
    owner: Any, signed: Any, now: Any
) -> None:
    make.FieldFactory(business=owner.business, name="South")
    new = begun(owner, now)
    assert (new.nozzle_set, new.rig) == (signed.nozzle_set, signed.rig)
    assert new.boom_height == make.q("20 in")
    assert new.applicator == signed.applicator
    assert new.carried["boom_height"] == {
        "record": str(signed.pk),
        "number": 1,
        "day": "2026-06-12",
    }
    # Nothing that is of the job itself; of two fields none is chosen.
    for name in ("field", "planting", "pressure", "speed", "treated_area", "mix_used"):
        assert getattr(new, name) is None, name
    assert new.started_at is None
    assert not new.weather.exists()
    assert not new.products.exists()


def test_who_is_named_beside_the_applicator_is_not_taken_over_as_the_applicator(
    owner: Any, signed: Any, yard: Any, now: Any
) -> None:
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    crew = [str(signed.applicator_id)]
    draft = saved(owner, draft, now, crew=crew, field=yard.field.pk)
    assert prefill(actor=owner, record_id=draft.pk, now=now)
    draft.refresh_from_db()
    assert draft.applicator is None
    assert "applicator" not in draft.carried
    # The form sends its crew each time; it must not be refused for what was taken over.
    saved(owner, draft, now, crew=crew, applicator=None)


def two_of_each(yard: Any) -> None:
    """Add a second field, rig and person to the shelf, so that none is the only one."""
    make.FieldFactory(business=yard.field.business, name="South")
    make.PersonFactory(business=yard.field.business, name="Second Person")
    rig = make.RigFactory(business=yard.field.business, name="Rig 2")
    make.NozzleSetFactory(rig=rig, nozzle=yard.nozzle)


def test_the_first_record_of_a_person_takes_nothing(
    office: Any, signed: Any, yard: Any, now: Any
) -> None:
    two_of_each(yard)
    new = begun(office, now)
    assert new.carried == {}
    assert new.nozzle_set is None
    assert new.revision == 1


def test_what_is_the_only_one_on_the_shelf_fills_itself_in(owner: Any, yard: Any, now: Any) -> None:
    new = begun(owner, now)
    assert (new.field, new.customer, new.planting) == (yard.field, yard.customer, yard.planting)
    assert (new.nozzle_set, new.rig) == (yard.nozzle_set, yard.rig)
    assert new.applicator == yard.person
    only = {"only": True}
    assert new.carried == {
        "field": only,
        "nozzle_set": only,
        "applicator": only,
        "planting": {"season": 2026},
    }
    # Only into a new draft: a field taken out again stays out.
    saved(owner, new, now, field=None)
    prefill(actor=owner, record_id=new.pk, now=now)
    new.refresh_from_db()
    assert new.field is None


def test_the_sprayer_is_the_person_who_writes_if_licensed(
    owner: Any, signed: Any, yard: Any, now: Any
) -> None:
    two_of_each(yard)
    me = make.PersonFactory(business=owner.business, name="Myself", user=owner.user)
    assert begun(owner, now).applicator == signed.applicator
    make.LicenceFactory(person=me, valid_from="2026-01-01", expires_on="2026-12-31")
    new = begun(owner, now)
    assert (new.applicator, new.carried["applicator"]) == (me, {"login": True})
    me.licences.update(valid_from="2024-01-01", expires_on="2025-12-31")
    assert begun(owner, now).applicator == signed.applicator


def test_who_writes_does_not_stand_twice_in_a_new_record(
    owner: Any, signed: Any, yard: Any, now: Any
) -> None:
    me = make.PersonFactory(business=owner.business, name="Myself", user=owner.user)
    make.LicenceFactory(person=me, valid_from="2026-01-01", expires_on="2026-12-31")
    last = begun(owner, now)
    times = {"started_at": now - timedelta(hours=2)}
    saved(owner, last, now, applicator=yard.person.pk, supervisor=me.pk, **times)
    new = begun(owner, now)
    assert (new.applicator, new.supervisor) == (me, None)


def test_another_field_changes_neither_nozzles_nor_sprayer_that_stand(
    owner: Any, signed: Any, yard: Any, now: Any
) -> None:
    two_of_each(yard)
    other = make.PersonFactory(business=owner.business, name="Third Person")
    sets = make.NozzleSetFactory(rig=yard.rig, nozzle=yard.nozzle)
    last = begun(owner, now)
    times = {"started_at": now - timedelta(hours=1)}
    saved(owner, last, now, nozzle_set=sets.pk, applicator=other.pk, **times)
    new = begun(owner, now)
    assert (new.nozzle_set, new.applicator) == (sets, other)
    saved(owner, new, now, field=yard.field.pk)
    prefill(actor=owner, record_id=new.pk, now=now)
    new.refresh_from_db()
    # The last record on this field had other nozzles of the same rig, and another sprayer.
    assert (signed.nozzle_set, signed.applicator) != (sets, other)
    assert (new.nozzle_set, new.applicator) == (sets, other)
    assert new.planting == yard.planting


def test_another_business_gives_nothing(stranger: Any, signed: Any, now: Any) -> None:
    assert begun(stranger, now).carried == {}
    with pytest.raises(NotThere):
        begin_like(actor=stranger, record_id=signed.pk, new_id=uuid.uuid4(), now=now)


def test_a_field_brings_what_stood_there_the_last_time_and_its_only_crop(
    owner: Any, signed: Any, yard: Any, now: Any
) -> None:
    elsewhere = make.FieldFactory(business=owner.business, name="South")
    later = begun(owner, now)
    saved(
        owner,
        later,
        now,
        field=elsewhere.pk,
        boom_height=make.q("30 in"),
        started_at=now - timedelta(hours=1),
    )
    new = begun(owner, now)
    assert new.boom_height == make.q("30 in")
    saved(owner, new, now, field=yard.field.pk)
    assert prefill(actor=owner, record_id=new.pk, now=now)
    new.refresh_from_db()
    assert new.boom_height == make.q("20 in")
    assert new.carried["boom_height"]["number"] == 1
    assert new.planting == yard.planting
    assert new.carried["planting"]["number"] == 1


def test_the_only_crop_of_a_field_is_chosen_and_of_two_none(
    owner: Any, yard: Any, now: Any
) -> None:
    new = begun(owner, now)
    saved(owner, new, now, field=yard.field.pk)
    prefill(actor=owner, record_id=new.pk, now=now)
    new.refresh_from_db()
    assert new.planting == yard.planting
    assert new.carried["planting"] == {"season": 2026}
    make.PlantingFactory(field=yard.field, crop="rye")
    other = begun(owner, now)
    saved(owner, other, now, field=yard.field.pk)
    prefill(actor=owner, record_id=other.pk, now=now)
    other.refresh_from_db()
    assert other.planting is None


def test_what_was_typed_is_never_written_over(owner: Any, signed: Any, yard: Any, now: Any) -> None:
    new = begin_draft(actor=owner, record_id=uuid.uuid4())
    new = saved(
        owner,
        new,
        now,
        boom_height=make.q("31 in"),
        density=make.q("1.1 kg/L"),
        field=yard.field.pk,
    )
    prefill(actor=owner, record_id=new.pk, now=now)
    new.refresh_from_db()
    assert new.boom_height == make.q("31 in")
    assert new.density == make.q("1.1 kg/L")
    assert new.nozzle_set == yard.nozzle_set


def test_nozzles_taken_off_since_are_not_taken_over(
    owner: Any, signed: Any, yard: Any, now: Any
) -> None:
    yard.nozzle_set.removed_on = now.date()
    yard.nozzle_set.save()
    assert begun(owner, now).nozzle_set is None


def test_nozzles_that_come_off_tomorrow_at_the_field_are_taken_over(
    owner: Any, signed: Any, yard: Any, now: Any
) -> None:
    # IANA zone database: Chicago is behind UTC, so at 01:00 UTC its day is still the one before.
    assert owner.business.time_zone == "America/Chicago"
    late = (now + timedelta(days=1)).replace(hour=1)
    yard.nozzle_set.removed_on = late.date()
    yard.nozzle_set.save()
    assert begun(owner, late).nozzle_set == yard.nozzle_set


def test_a_value_sent_as_it_stands_stays_taken_over_and_a_touched_one_does_not(
    owner: Any, signed: Any, yard: Any, now: Any
) -> None:
    new = begun(owner, now)
    same = saved(owner, new, now, boom_height=make.q("20 in"), applicator=yard.person.pk)
    assert {"boom_height", "applicator"} <= same.carried.keys()
    touched = saved(owner, new, now, boom_height=make.q("22 in"))
    assert "boom_height" not in touched.carried
    confirmed = saved(owner, new, now, confirmed=["applicator"])
    assert "applicator" not in confirmed.carried
    assert "nozzle_set" in confirmed.carried


def test_a_record_like_another_has_its_field_and_products_but_not_its_amounts(
    owner: Any, signed: Any, yard: Any, now: Any
) -> None:
    new_id = uuid.uuid4()
    new = begin_like(actor=owner, record_id=signed.pk, new_id=new_id, now=now)
    assert begin_like(actor=owner, record_id=signed.pk, new_id=new_id, now=now) == new
    (line,) = new.products.all()
    assert (line.product, line.planned_rate) == (yard.product, make.q("22 fl oz/ac"))
    assert (line.total_used, line.label) == (None, yard.label)
    assert (new.field, new.customer, new.planting) == (yard.field, yard.customer, yard.planting)
    assert new.time_zone == "America/Chicago"
    assert (new.treated_area, new.pressure, new.started_at) == (None, None, None)
    assert {"field", "products", "planned_carrier"} <= new.carried.keys()
    line = {
        "product": yard.product.pk,
        "planned_rate": make.q("20 fl oz/ac"),
        "target": line.target,
    }
    assert "products" not in saved(owner, new, now, products=[line]).carried


def test_a_draft_that_is_another_job_is_not_written_over(
    owner: Any, signed: Any, clean_draft: Any, now: Any
) -> None:
    other = begin_draft(actor=owner, record_id=uuid.uuid4())
    saved(owner, other, now, purpose="thistles")
    with pytest.raises(Refused, match="another job"):
        begin_like(actor=owner, record_id=signed.pk, new_id=other.pk, now=now)


def test_signing_asks_whether_what_was_taken_over_is_true(
    owner: Any, clean_draft: Any, confirmed: Any, now: Any
) -> None:
    ApplicationRecord.objects.filter(pk=clean_draft.pk).update(
        carried={"boom_height": {"record": "", "number": 4, "day": "2026-06-01"}}
    )
    asked = {
        "actor": owner,
        "record_id": clean_draft.pk,
        "revision": clean_draft.revision,
        "explanations": {},
        "confirmation": confirmed(owner),
        "now": now,
    }
    with pytest.raises(RefusedInput) as refusal:
        sign(**asked)
    assert list(refusal.value.errors) == ["carried"]
    assert sign(**asked, carried_confirmed=True).number == 1
    clean_draft.refresh_from_db()
    assert clean_draft.carried == {}


def test_the_number_of_queries_does_not_grow_with_the_book(
    owner: Any, signed: Any, yard: Any, now: Any, django_assert_num_queries: Any
) -> None:
    for _ in range(20):
        make.ApplicationRecordFactory(business=owner.business, created_by=owner.user)
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    with django_assert_num_queries(13):
        prefill(actor=owner, record_id=draft.pk, now=now)


def test_who_may_not_write_takes_nothing_over(owner: Any, monkeypatch: Any, now: Any) -> None:
    from logbook.accounts import rights

    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    monkeypatch.setitem(rights.TABLE, owner.role, frozenset({rights.Right.SEE}))
    with pytest.raises(NotAllowed):
        prefill(actor=owner, record_id=draft.pk, now=now)


def planned(actor: Any, yard: Any, now: Any, record: Any = None) -> Any:
    draft = record or begun(actor, now)
    take_plan(
        actor=actor,
        record_id=draft.pk,
        nozzle_set=yard.nozzle_set.pk,
        planned_carrier=make.q("15 gal/ac"),
        label=yard.label.pk,
    )
    return ApplicationRecord.objects.get(pk=draft.pk)


def test_the_product_of_a_planned_label_counts_as_taken_over_until_it_is_touched(
    owner: Any, yard: Any, now: Any
) -> None:
    two_of_each(yard)
    new = planned(owner, yard, now)
    assert (new.nozzle_set, new.planned_carrier) == (yard.nozzle_set, make.q("15 gal/ac"))
    assert new.carried == {"products": {"label": "2025-11"}}
    (line,) = new.products.all()
    assert (line.product, line.planned_rate, line.total_used) == (yard.product, None, None)
    item: dict[str, Any] = {"product": line.product_id}
    assert "products" in saved(owner, new, now, products=[item]).carried
    item["planned_rate"] = make.q("22 fl oz/ac")
    assert "products" not in saved(owner, new, now, products=[item]).carried


def test_a_plan_leaves_the_products_that_stand_in_the_draft(
    owner: Any, yard: Any, now: Any
) -> None:
    other = make.ProductFactory(business=owner.business, name="Sticker")
    new = saved(owner, begun(owner, now), now, products=[{"product": other.pk}])
    (line,) = planned(owner, yard, now, new).products.all()
    assert line.product == other


def test_a_plan_takes_no_label_of_another_business(stranger: Any, yard: Any, now: Any) -> None:
    with pytest.raises(RefusedInput) as refusal:
        planned(stranger, yard, now)
    assert list(refusal.value.errors) == ["label"]
