"""A sealed record stays; what was wrong in it is corrected by a new one that names it."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import translation

from logbook.accounts.services import Confirmation
from logbook.errors.exceptions import NotAllowed, NotThere, Refused, RefusedInput
from logbook.localization.locale import localized
from logbook.records.models import ApplicationRecord
from logbook.records.reading.examine import examine
from logbook.records.reading.selectors import amendments_of, book, seal_of, season
from logbook.records.sealing.sealed import read_seal
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.draft import save_draft
from logbook.records.writing.explain import keep_explanations, taken_over
from logbook.records.writing.sign import pending_changes, sign
from tests import factories as make
from tests.conftest import said_of

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
        explanations={f.key: said_of(f, "As it was then.") for f in seen.report.findings},
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
        assert "Ground speed: 7.9 mph, now 7.8 mph" in sealed.changes
        assert "Note: blank, now corrected" in sealed.changes
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
            assert "7,8 mph" in localized(told)
            sealed = read_seal(sign_it(owner, draft, now)).snapshot.amends
        assert sealed.changes == ("Ground speed: 7.9 mph, now 7.8 mph",)

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


@pytest.fixture
def explained(owner: Any, clean_draft: Any, now: datetime) -> Any:
    """A sealed record in 22 mph of wind, whose signer said why."""
    weather = [
        {
            "read_at": clean_draft.weather.first().read_at,
            "height": make.q("6 ft"),
            "wind_from": make.q("225 °"),
            "wind_speed": make.q("22 mph"),
        }
    ]
    save_draft(
        actor=owner,
        record_id=clean_draft.pk,
        revision=clean_draft.revision,
        data={"weather": weather},
    )
    sign_it(owner, clean_draft, now)
    clean_draft.refresh_from_db()
    return clean_draft


class TestExplanations:
    def test_what_was_said_is_offered_again_and_says_where_it_is_from(
        self, owner: Any, explained: Any
    ) -> None:
        draft = amend(owner, explained)
        said = {one.finding: one.text for one in draft.explanations.all()}
        assert said == read_seal(explained.seal).explanations
        assert len(said) > 1
        seen = examine(actor=owner, record_id=draft.pk)
        found = taken_over(seen, said)
        assert found.keys() == {finding.key for finding in seen.report.findings}
        assert {(one.number, one.sentence) for one in found.values()} == {(1, "")}

    def test_where_the_finding_reads_otherwise_the_earlier_one_is_told(
        self, owner: Any, explained: Any
    ) -> None:
        draft = amend(owner, explained)
        reading = draft.weather.get()
        reading.wind_speed = make.q("20 mph")
        reading.save()
        said = {one.finding: one.text for one in draft.explanations.all()}
        found = taken_over(examine(actor=owner, record_id=draft.pk), said)
        changed = [one.sentence for one in found.values() if one.sentence]
        assert changed
        assert all("22 mph" in sentence for sentence in changed)

    def test_a_text_of_ones_own_is_not_said_to_be_taken_over(
        self, owner: Any, explained: Any
    ) -> None:
        draft = amend(owner, explained)
        said = {one.finding: f"{one.text} Seen again." for one in draft.explanations.all()}
        assert taken_over(examine(actor=owner, record_id=draft.pk), said) == {}

    def test_what_was_emptied_is_not_offered_again(self, owner: Any, explained: Any) -> None:
        draft = amend(owner, explained)
        kept, *_ = draft.explanations.all()
        keep_explanations(
            actor=owner,
            record_id=draft.pk,
            explanations={kept.finding: ""},
            seen=[kept.finding],
        )
        assert amend(owner, explained) == draft
        assert kept.finding not in {one.finding for one in draft.explanations.all()}

    def test_a_record_that_amends_nothing_takes_nothing_over(
        self, owner: Any, clean_draft: Any
    ) -> None:
        seen = examine(actor=owner, record_id=clean_draft.pk)
        assert taken_over(seen, {"any@speed": "As it was."}) == {}

    def test_the_page_of_signing_shows_it(self, owner: Any, explained: Any) -> None:
        draft = amend(owner, explained)
        browser = Client()
        browser.force_login(owner.user, backend="django.contrib.auth.backends.ModelBackend")
        page = browser.get(reverse("record-sign", args=[draft.pk])).content.decode()
        assert page.count("As in no. 1. Read whether it still holds") == page.count(
            ">As it was then."
        )
        assert ">As it was then." in page


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
