"""A sealed record stays; what was wrong in it is corrected by a new one that names it."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

import pytest
from django.utils import translation

from logbook.accounts.services import Confirmation
from logbook.base.locale import spoken
from logbook.base.refusals import NotAllowed, NotThere, Refused, RefusedInput
from logbook.records.models import ApplicationRecord
from logbook.records.sealed import read_seal
from logbook.records.selectors import amendments_of, book, seal_of, season
from logbook.records.services.amend import begin_amendment
from logbook.records.services.draft import save_draft
from logbook.records.services.examine import examine
from logbook.records.services.sign import pending_changes, sign
from tests import factories as make

REASON = "The speed was read off the wrong rig."


def amend(actor: Any, record: Any, reason: str = REASON) -> Any:
    return begin_amendment(actor=actor, record_id=record.pk, new_id=uuid.uuid4(), reason=reason)


def sign_it(actor: Any, draft: Any, now: datetime) -> Any:
    draft.refresh_from_db()
    seen = examine(actor=actor, record_id=draft.pk)
    return sign(
        actor=actor,
        record_id=draft.pk,
        revision=draft.revision,
        explanations={f.key: "As it was." for f in seen.report.findings},
        confirmation=Confirmation(user=actor.user),
        now=now,
    )


class TestBegin:
    def test_it_starts_as_a_copy_of_all_that_was_entered(self, owner: Any, signed: Any) -> None:
        draft = amend(owner, signed)
        before = read_seal(signed.seal).snapshot
        after = examine(actor=owner, record_id=draft.pk).snapshot
        assert (after.record.speed, after.record.started_at) == (
            before.record.speed,
            before.record.started_at,
        )
        assert after.products == before.products
        assert after.weather == before.weather
        assert after.loads == before.loads
        assert draft.signed_at is None
        assert draft.created_by == owner.user

    def test_asking_twice_returns_the_same_draft(self, owner: Any, signed: Any) -> None:
        assert amend(owner, signed) == amend(owner, signed)
        assert ApplicationRecord.objects.count() == 2

    def test_its_loads_can_be_corrected_though_the_sealed_ones_cannot(
        self, owner: Any, signed: Any, yard: Any
    ) -> None:
        draft = amend(owner, signed)
        use = draft.load_uses.first()
        saved = save_draft(
            actor=owner,
            record_id=draft.pk,
            revision=draft.revision,
            data={
                "loads": [
                    {
                        "load": use.load_id,
                        "mixed_volume": make.q("690 gal"),
                        "used": make.q("690 gal"),
                    }
                ]
            },
        )
        assert str(saved.load_uses.get().load.mixed_volume) == "690 gal"
        assert str(signed.load_uses.first().load.mixed_volume) == "700 gal"


class TestSigned:
    def test_it_names_what_changed_and_why(self, owner: Any, signed: Any, now: datetime) -> None:
        draft = amend(owner, signed)
        save_draft(
            actor=owner,
            record_id=draft.pk,
            revision=draft.revision,
            data={"speed": make.q("7.8 mph"), "note": "corrected"},
        )
        sealed = read_seal(sign_it(owner, draft, now)).snapshot.amends
        assert (sealed.number, sealed.reason) == (1, REASON)
        assert sealed.seal_sha256 == signed.seal.link
        assert "speed: 7.9 mph, now 7.8 mph" in sealed.changes
        assert "note: blank, now corrected" in sealed.changes
        assert len(sealed.changes) == 2

    def test_what_changed_is_told_in_the_language_of_the_page_and_sealed_in_english(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        draft = amend(owner, signed)
        save_draft(
            actor=owner,
            record_id=draft.pk,
            revision=draft.revision,
            data={"speed": make.q("7.8 mph")},
        )
        with translation.override("es-es"):
            (told,) = pending_changes(examine(actor=owner, record_id=draft.pk))
            assert "7,8 mph" in spoken(told)
            sealed = read_seal(sign_it(owner, draft, now)).snapshot.amends
        assert sealed.changes == ("speed: 7.9 mph, now 7.8 mph",)

    def test_the_two_name_each_other(self, owner: Any, signed: Any, now: datetime) -> None:
        seal = sign_it(owner, amend(owner, signed), now)
        first = seal_of(actor=owner, record_id=signed.pk)
        assert amendments_of(seal=first) == (seal,)
        rows = {row.pk: row for row in book(actor=owner)}
        assert rows[signed.pk].superseded_by == 2
        assert rows[seal.record_id].superseded_by is None
        assert [row.pk for row in book(actor=owner, state="superseded")] == [signed.pk]

    def test_an_amendment_is_amended_in_its_turn(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        second = sign_it(owner, amend(owner, signed), now)
        third = sign_it(owner, amend(owner, second.record), now)
        first = seal_of(actor=owner, record_id=signed.pk)
        assert [seal.number for seal in amendments_of(seal=first)] == [2, 3]
        assert third.number == 3

    def test_the_season_counts_the_work_once(self, owner: Any, signed: Any, now: datetime) -> None:
        before = season(actor=owner, year=2026)
        sign_it(owner, amend(owner, signed), now)
        after = season(actor=owner, year=2026)
        assert [line.applications for line in after] == [1]
        assert after[0].total == before[0].total

    def test_the_record_it_corrects_is_no_earlier_use_of_the_product(
        self, owner: Any, signed: Any
    ) -> None:
        draft = amend(owner, signed)
        assert examine(actor=owner, record_id=draft.pk).snapshot.earlier == ()


class TestRefusals:
    def test_a_helper_may_not(self, helper: Any, signed: Any) -> None:
        with pytest.raises(NotAllowed, match="may not begin an amendment"):
            amend(helper, signed)

    def test_another_business_does_not_see_it(self, stranger: Any, signed: Any) -> None:
        with pytest.raises(NotThere):
            amend(stranger, signed)

    def test_a_draft_is_changed_directly(self, owner: Any, clean_draft: Any) -> None:
        with pytest.raises(Refused, match="still a draft"):
            amend(owner, clean_draft)

    @pytest.mark.parametrize("reason", ["", "   ", "typo"])
    def test_it_needs_a_reason(self, owner: Any, signed: Any, reason: str) -> None:
        with pytest.raises(RefusedInput) as refused:
            amend(owner, signed, reason)
        assert list(refused.value.errors) == ["reason"]

    def test_a_corrected_record_is_not_corrected_again(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        sign_it(owner, amend(owner, signed), now)
        with pytest.raises(Refused, match="amend the amendment"):
            amend(owner, signed)
