"""Facts that duties ask for: statements in words, several applicators, a job resumed."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from logbook.errors.exceptions import NotAllowed, NotThere, Refused, RefusedInput
from logbook.records.models import CrewMember
from logbook.records.reading.examine import examine
from logbook.records.sealing.sealed import read_seal
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.resume import begin_resumption
from tests import factories as make


def save(actor: Any, draft: Any, **data: Any) -> Any:
    draft.refresh_from_db()
    return save_draft(actor=actor, record_id=draft.pk, revision=draft.revision, data=data)


class TestStatements:
    @pytest.mark.parametrize(
        "text", ["none", "not applicable", "not measured: no meter", "rinsed on the field"]
    )
    def test_a_text_or_a_word_is_kept_as_entered(
        self, owner: Any, clean_draft: Any, text: str
    ) -> None:
        saved = save(owner, clean_draft, statements={"rinsate-note": text})
        assert saved.statements == {"rinsate-note": text}
        seen = examine(actor=owner, record_id=saved.pk)
        assert seen.snapshot.record.statements == {"rinsate-note": text}
        assert "record-elements" not in {f.code for f in seen.report.must_be_explained()}

    def test_left_out_it_is_a_missing_fact(self, owner: Any, clean_draft: Any) -> None:
        # N.D. Admin. Code 60-03-01-07(2): the use or disposal of all rinsate.
        save(owner, clean_draft, statements={})
        (finding,) = examine(actor=owner, record_id=clean_draft.pk).report.must_be_explained()
        assert finding.about == "statements.rinsate-note"

    @pytest.mark.parametrize(
        ("statements", "why"),
        [
            ({"moonlight": "full"}, "is not an element that is stated in words"),
            ({"rinsate-note": "not measured"}, "needs the reason"),
            ({"rinsate-note": "x" * 501}, "at most 500"),
        ],
    )
    def test_what_cannot_be_taken_is_refused_by_its_path(
        self, owner: Any, clean_draft: Any, statements: dict[str, str], why: str
    ) -> None:
        with pytest.raises(RefusedInput, match=why) as refusal:
            save(owner, clean_draft, statements=statements)
        assert list(refusal.value.errors) == [f"statements.{next(iter(statements))}"]
        clean_draft.refresh_from_db()
        assert clean_draft.statements == {"rinsate-note": "none"}


class TestCrew:
    def test_further_people_who_sprayed_go_into_the_seal(
        self, owner: Any, business: Any, clean_draft: Any, confirmed: Any, now: datetime
    ) -> None:
        from logbook.records.writing.sign import sign

        other = make.PersonFactory(business=business, name="B. Lind", licensed=True)
        saved = save(owner, clean_draft, crew=[other.pk])
        seal = sign(
            actor=owner,
            record_id=saved.pk,
            revision=saved.revision,
            explanations={},
            confirmation=confirmed(owner),
            now=now,
        )
        (facts,) = read_seal(seal).snapshot.crew
        assert facts.name == "B. Lind"
        assert len(facts.licences) == 1
        with pytest.raises(IntegrityError, match="belongs to a sealed"), transaction.atomic():
            CrewMember.objects.all().delete()

    def test_a_stranger_and_a_person_named_twice_are_refused(
        self, owner: Any, other_business: Any, clean_draft: Any, yard: Any
    ) -> None:
        stranger = make.PersonFactory(business=other_business)
        with pytest.raises(RefusedInput, match="no such person"):
            save(owner, clean_draft, crew=[stranger.pk])
        with pytest.raises(RefusedInput, match="named twice"):
            save(owner, clean_draft, crew=[yard.person.pk])
        assert not clean_draft.crew.exists()

    def test_an_amendment_copies_it(
        self, owner: Any, business: Any, clean_draft: Any, confirmed: Any, now: datetime
    ) -> None:
        from logbook.records.writing.sign import sign

        other = make.PersonFactory(business=business, licensed=True)
        saved = save(owner, clean_draft, crew=[other.pk])
        sign(
            actor=owner,
            record_id=saved.pk,
            revision=saved.revision,
            explanations={},
            confirmation=confirmed(owner),
            now=now,
        )
        amendment = begin_amendment(
            actor=owner, record_id=saved.pk, new_id=uuid.uuid4(), reason="The area was wrong."
        )
        assert [member.person for member in amendment.crew.all()] == [other]
        assert amendment.statements == {"rinsate-note": "none"}


class TestResumed:
    def test_the_rest_of_a_job_is_a_record_of_its_own_with_an_area_of_its_own(
        self, owner: Any, signed: Any, yard: Any
    ) -> None:
        # Neb. Rev. Stat. 2-2643, 25 NAC 2-006: one record per unique place and unique date.
        rest = begin_resumption(actor=owner, record_id=signed.pk, new_id=uuid.uuid4())
        assert rest.continues == signed
        assert (rest.field, rest.nozzle_set, rest.applicator) == (
            yard.field,
            yard.nozzle_set,
            yard.person,
        )
        assert [str(line.planned_rate) for line in rest.products.all()] == ["22 fl oz/ac"]
        assert rest.treated_area is None
        assert rest.mix_used is None
        assert rest.started_at is None
        assert rest.products.get().total_used is None
        facts = examine(actor=owner, record_id=rest.pk).snapshot.continues
        assert facts is not None
        assert (facts.number, str(facts.day)) == (signed.seal.number, "2026-06-12")

    def test_asking_twice_makes_one(self, owner: Any, signed: Any) -> None:
        new_id = uuid.uuid4()
        first = begin_resumption(actor=owner, record_id=signed.pk, new_id=new_id)
        assert begin_resumption(actor=owner, record_id=signed.pk, new_id=new_id) == first
        assert signed.continued_by.count() == 1
        assert first.products.count() == 1

    def test_a_draft_can_be_resumed_too(self, owner: Any, clean_draft: Any) -> None:
        rest = begin_resumption(actor=owner, record_id=clean_draft.pk, new_id=uuid.uuid4())
        assert examine(actor=owner, record_id=rest.pk).snapshot.continues.number is None

    def test_a_job_without_its_start_is_refused(self, owner: Any) -> None:
        empty = begin_draft(actor=owner, record_id=uuid.uuid4())
        with pytest.raises(Refused, match="needs its field and its start"):
            begin_resumption(actor=owner, record_id=empty.pk, new_id=uuid.uuid4())

    def test_a_record_that_was_corrected_names_the_one_to_resume(
        self, owner: Any, signed: Any, confirmed: Any, now: datetime
    ) -> None:
        from logbook.records.writing.sign import sign

        draft = begin_amendment(
            actor=owner, record_id=signed.pk, new_id=uuid.uuid4(), reason="The note was wrong."
        )
        sign(
            actor=owner,
            record_id=draft.pk,
            revision=draft.revision,
            explanations={},
            confirmation=confirmed(owner),
            now=now,
        )
        with pytest.raises(Refused, match=r"corrected by no\. 2; resume that"):
            begin_resumption(actor=owner, record_id=signed.pk, new_id=uuid.uuid4())

    def test_a_draft_of_another_job_is_not_taken_for_it(
        self, owner: Any, signed: Any, entry: dict[str, Any]
    ) -> None:
        other = begin_draft(actor=owner, record_id=uuid.uuid4())
        save(owner, other, **entry)
        with pytest.raises(Refused, match="another job already"):
            begin_resumption(actor=owner, record_id=signed.pk, new_id=other.pk)

    def test_another_business_has_no_such_record(self, stranger: Any, signed: Any) -> None:
        with pytest.raises(NotThere):
            begin_resumption(actor=stranger, record_id=signed.pk, new_id=uuid.uuid4())

    def test_it_is_resumed_on_the_same_field_and_later(
        self, owner: Any, business: Any, yard: Any, signed: Any, entry: dict[str, Any]
    ) -> None:
        rest = begin_resumption(actor=owner, record_id=signed.pk, new_id=uuid.uuid4())
        elsewhere = make.FieldFactory(business=business, customer=yard.customer)
        with pytest.raises(RefusedInput, match="on the field on which it was broken off"):
            save(owner, rest, field=elsewhere.pk, planting=None)
        before = entry["started_at"] - timedelta(days=1)
        with pytest.raises(RefusedInput, match="begins no earlier"):
            save(owner, rest, started_at=before)
        with pytest.raises(RefusedInput, match=r"cannot continue itself|begins no earlier"):
            save(owner, rest, started_at=before, continues=rest.pk)

    def test_nobody_without_the_right_resumes_a_job(self, signed: Any, business: Any) -> None:
        from dataclasses import dataclass

        @dataclass(frozen=True)
        class Visitor:
            business: Any

            def must(self, right: Any) -> None:
                raise NotAllowed(right.value)

        visitor: Any = Visitor(business)
        with pytest.raises(NotAllowed):
            begin_resumption(actor=visitor, record_id=signed.pk, new_id=uuid.uuid4())
