"""The order of the fields that one load serves: the next free place, and two fields in one place.

4 TAC 7.33(c) (legal text) and the page of the New South Wales EPA on what licensed users add ask
for it. A field has one place, however many records its job takes.
"""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

import pytest

from logbook.checks.core import Finding
from logbook.records.reading.examine import examine
from logbook.records.sealing.sealed import read_seal
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.discard import set_aside
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.forms import LoadForm
from tests import factories as make
from tests.conftest import sealed_by


def save(actor: Any, draft: Any, **data: Any) -> Any:
    draft.refresh_from_db()
    return save_draft(actor=actor, record_id=draft.pk, revision=draft.revision, data=data)


def found(actor: Any, draft: Any) -> list[Finding]:
    findings = examine(actor=actor, record_id=draft.pk).report.findings
    return [one for one in findings if one.code == "load-order"]


@pytest.fixture
def another(owner: Any, business: Any, clean_draft: Any, yard: Any) -> Any:
    """Return how a draft on another field, or on the field that is named, takes from the load."""
    load = clean_draft.load_uses.first().load

    def made(field: Any = None, **item: Any) -> Any:
        field = field or make.FieldFactory(business=business, customer=yard.customer)
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        taking = {"load": load.pk, "used": make.q("10 gal"), **item}
        return save(owner, draft, field=field.pk, nozzle_set=yard.nozzle_set.pk, loads=[taking])

    return made


def place(draft: Any) -> int:
    order: int = draft.load_uses.get().order
    return order


def test_a_field_of_which_no_place_is_said_takes_the_next_free_one(another: Any) -> None:
    assert place(another()) == 2
    assert place(another(order=5)) == 5
    assert place(another()) == 6


def test_a_place_that_stands_is_kept_when_none_is_said(owner: Any, another: Any) -> None:
    second = another(order=4)
    use = second.load_uses.get()
    save(owner, second, loads=[{"load": use.load_id, "used": make.q("12 gal")}])
    assert place(second) == 4


def test_a_new_load_begins_with_this_field(owner: Any, clean_draft: Any) -> None:
    save(owner, clean_draft, loads=[{"mixed_volume": make.q("100 gal"), "used": make.q("9 gal")}])
    assert place(clean_draft) == 1


def test_a_job_that_goes_on_the_next_day_is_the_same_field_once_more(
    owner: Any, clean_draft: Any, another: Any, yard: Any
) -> None:
    again = another(field=yard.field)
    assert place(again) == 1
    assert found(owner, again) == found(owner, clean_draft) == []


def test_a_draft_that_was_set_aside_holds_no_place(owner: Any, another: Any, now: datetime) -> None:
    aside = another(order=2)
    set_aside(actor=owner, record_id=aside.pk, reason="Not sprayed.", now=now)
    third = another()
    assert place(third) == 2
    assert found(owner, third) == []


def test_two_fields_in_one_place_are_found_on_both_records(
    owner: Any, clean_draft: Any, another: Any
) -> None:
    second = another(order=1)
    assert [one.about for one in found(owner, second)] == ["loads.0.order"]
    assert [one.about for one in found(owner, clean_draft)] == ["loads.0.order"]


def test_the_order_of_two_fields_can_be_changed_one_after_the_other(
    owner: Any, clean_draft: Any, another: Any
) -> None:
    second = another()
    items = [
        {"load": use.load_id, "mixed_volume": use.load.mixed_volume, "used": use.used, "order": 2}
        for use in clean_draft.load_uses.all()
    ]
    save(owner, clean_draft, loads=items)
    assert found(owner, second) != []
    use = second.load_uses.get()
    save(owner, second, loads=[{"load": use.load_id, "used": use.used, "order": 1}])
    assert found(owner, second) == found(owner, clean_draft) == []


def test_a_record_that_says_so_is_signed_with_its_explanation(
    owner: Any, clean_draft: Any, another: Any, now: datetime
) -> None:
    another(order=1)
    sealed_by(owner, clean_draft, now=now, explained="As it was then.")
    clean_draft.refresh_from_db()
    sealed = read_seal(clean_draft.seal)
    assert [load.places_elsewhere for load in sealed.snapshot.loads] == [(1,), (), ()]
    assert "load-order" in {one.code for one in sealed.findings}


def test_a_record_that_was_corrected_holds_its_place_no_more(
    owner: Any, signed: Any, another: Any, now: datetime
) -> None:
    second = another(order=1)
    assert found(owner, second) != []
    amendment = begin_amendment(
        actor=owner, record_id=signed.pk, new_id=uuid.uuid4(), reason="The order was wrong."
    )
    # A copy of what was sealed, on the same field, does not contradict it.
    assert [load.places_elsewhere for load in loads(owner, amendment)] == [(1,), (), ()]
    items = [
        {"load": use.load_id, "mixed_volume": use.load.mixed_volume, "used": use.used, "order": 2}
        for use in amendment.load_uses.select_related("load")
    ]
    save(owner, amendment, loads=items)
    assert found(owner, amendment) == []
    assert found(owner, second) != []
    sealed_by(owner, amendment, now=now, explained="As it was then.")
    assert found(owner, second) == []


def test_two_amendments_that_contradict_only_each_other_are_found(
    owner: Any, signed: Any, another: Any, entry: dict[str, Any], now: datetime
) -> None:
    second = another()
    needed = ("products", "started_at", "finished_at", "applicator")
    save(owner, second, **{name: entry[name] for name in needed})
    sealed_by(owner, second, now=now, explained="As it was then.")
    amendments = [
        begin_amendment(actor=owner, record_id=one.pk, new_id=uuid.uuid4(), reason="Another order.")
        for one in (signed, second)
    ]
    for amendment in amendments:
        uses = amendment.load_uses.select_related("load")
        items = [
            {"load": use.load_id, "mixed_volume": use.load.mixed_volume, "used": use.used}
            for use in uses
        ]
        save(owner, amendment, loads=[item | {"order": 3} for item in items])
        # Neither is against what was sealed: there the places are 1 and 2.
        assert found(owner, amendment) == []
    sealed_by(owner, amendments[0], now=now, explained="As it was then.")
    assert [one.about for one in found(owner, amendments[1])] == ["loads.0.order"]


def loads(actor: Any, draft: Any) -> Any:
    return examine(actor=actor, record_id=draft.pk).snapshot.loads


def test_the_form_proposes_no_place_of_its_own(owner: Any) -> None:
    """A new row showed "1", which then stood as if someone had said it."""
    shown = LoadForm(None, prefix="loads-0", initial={}, actor=owner, loads=[], products=[])
    assert shown["order"].value() is None
    given = {"loads-0-mixed_volume_value": "700", "loads-0-mixed_volume_unit": "gal"}
    form = LoadForm(given, prefix="loads-0", initial={}, actor=owner, loads=[], products=[])
    assert form.is_valid(), form.errors
    item = form.item()
    assert item is not None
    assert item["order"] is None
