"""A draft is set aside with its reason, counted nowhere, and brought back."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from logbook.errors.exceptions import NotAllowed, NotThere, Refused, RefusedInput
from logbook.records.models import ApplicationRecord
from logbook.records.reading import deadlines, selectors
from logbook.records.writing.amend import AlreadyBegun, begin_amendment
from logbook.records.writing.discard import bring_back, set_aside
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.resume import begin_resumption
from logbook.records.writing.sign import sign


def aside(actor: Any, draft: Any, now: Any, reason: str = "begun twice by mistake") -> Any:
    return set_aside(actor=actor, record_id=draft.pk, reason=reason, now=now)


def test_no_list_or_deadline_counts_it_and_the_trace_stays(
    owner: Any, clean_draft: Any, now: Any
) -> None:
    assert list(selectors.drafts(actor=owner)) == [clean_draft]
    assert deadlines.draft_tasks(actor=owner, now=now)
    assert selectors.closed_fields(actor=owner, now=now)
    set_away = aside(owner, clean_draft, now)
    assert set_away.get_state() == "set aside"
    assert set_away.revision == clean_draft.revision + 1
    assert not selectors.book(actor=owner).exists()
    assert not selectors.drafts(actor=owner).exists()
    assert deadlines.draft_tasks(actor=owner, now=now) == []
    assert selectors.closed_fields(actor=owner, now=now) == []
    assert list(selectors.book(actor=owner, state="aside")) == [clean_draft]
    (trace,) = set_away.set_asides.all()
    assert (trace.by, trace.at, trace.reason) == (owner.user, now, "begun twice by mistake")
    assert set_away.products.count() == 1
    assert set_away.weather.count() == 4


def test_it_comes_back_as_it_was_and_may_go_again(owner: Any, clean_draft: Any, now: Any) -> None:
    aside(owner, clean_draft, now)
    back = bring_back(actor=owner, record_id=clean_draft.pk, now=now)
    assert back.get_state() == "draft"
    assert list(selectors.drafts(actor=owner)) == [clean_draft]
    aside(owner, clean_draft, now, "not sprayed after all")
    first, second = back.set_asides.all()
    assert (first.back_by, first.back_at) == (owner.user, now)
    assert second.back_at is None


def test_asking_twice_keeps_the_first_reason(owner: Any, clean_draft: Any, now: Any) -> None:
    aside(owner, clean_draft, now)
    again = aside(owner, clean_draft, now, "another reason")
    assert [trace.reason for trace in again.set_asides.all()] == ["begun twice by mistake"]


@pytest.mark.parametrize("reason", ["", "  ", "no", "x" * 501])
def test_a_reason_is_needed(owner: Any, clean_draft: Any, now: Any, reason: str) -> None:
    with pytest.raises(RefusedInput, match="3 to 500 letters"):
        aside(owner, clean_draft, now, reason)
    clean_draft.refresh_from_db()
    assert clean_draft.set_aside_at is None


def test_while_it_is_set_aside_it_is_neither_changed_nor_signed(
    owner: Any, clean_draft: Any, confirmed: Any, now: Any
) -> None:
    draft = aside(owner, clean_draft, now)
    with pytest.raises(Refused, match="set aside"):
        save_draft(actor=owner, record_id=draft.pk, revision=draft.revision, data={"note": "x"})
    with pytest.raises(Refused, match="set aside"):
        sign(
            actor=owner,
            record_id=draft.pk,
            revision=draft.revision,
            explanations={},
            confirmation=confirmed(owner),
            now=now,
        )
    with pytest.raises(IntegrityError), transaction.atomic():
        ApplicationRecord.objects.filter(pk=draft.pk).update(signed_at=now)


def test_a_signed_record_is_never_set_aside(owner: Any, signed: Any, now: Any) -> None:
    with pytest.raises(Refused, match="signed and sealed"):
        aside(owner, signed, now)


def test_one_throws_away_ones_own_and_the_office_any(
    helper: Any, applicator: Any, office: Any, owner: Any, now: Any
) -> None:
    own = begin_draft(actor=helper, record_id=uuid.uuid4())
    with pytest.raises(NotAllowed, match="somebody else"):
        aside(applicator, own, now)
    aside(helper, own, now)
    of_owner = begin_draft(actor=owner, record_id=uuid.uuid4())
    with pytest.raises(NotAllowed, match="somebody else"):
        aside(helper, of_owner, now)
    aside(office, of_owner, now)
    with pytest.raises(NotAllowed):
        bring_back(actor=helper, record_id=of_owner.pk, now=now)


def test_it_is_not_there_for_another_business(stranger: Any, clean_draft: Any, now: Any) -> None:
    with pytest.raises(NotThere):
        aside(stranger, clean_draft, now)
    with pytest.raises(NotThere):
        bring_back(actor=stranger, record_id=clean_draft.pk, now=now)


def test_a_job_set_aside_is_not_resumed(owner: Any, clean_draft: Any, now: Any) -> None:
    asked = {"actor": owner, "record_id": clean_draft.pk, "new_id": uuid.uuid4()}
    aside(owner, clean_draft, now)
    with pytest.raises(Refused, match="set aside; bring it back"):
        begin_resumption(**asked)
    bring_back(actor=owner, record_id=clean_draft.pk, now=now)
    assert begin_resumption(**asked).continues == clean_draft


def test_a_correction_set_aside_is_brought_back_not_begun_again(
    owner: Any, signed: Any, now: Any
) -> None:
    asked = {"actor": owner, "record_id": signed.pk, "reason": "the speed was mistyped"}
    draft = begin_amendment(new_id=uuid.uuid4(), **asked)
    aside(owner, draft, now)
    with pytest.raises(AlreadyBegun, match="bring that draft back") as refusal:
        begin_amendment(new_id=uuid.uuid4(), **asked)
    assert refusal.value.standing == draft
    # The sealed record counts as before.
    assert list(selectors.book(actor=owner)) == [signed]
