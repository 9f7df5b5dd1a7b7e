"""How long records are kept, what is held, and that what belongs together goes together."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from logbook.catalog.models import Field
from logbook.errors.exceptions import Conflict, NotAllowed, NotThere, Refused, RefusedInput
from logbook.records.models import (
    ApplicationRecord,
    DueSheet,
    DutyEntry,
    LegalHold,
    Load,
    LoadUse,
    Seal,
)
from logbook.records.reading import keeping, verification
from logbook.records.reading.examine import examine
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.discard import set_aside
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.entries import add_duty_entry, strike_duty_entry
from logbook.records.writing.holds import lift_hold, set_hold
from logbook.records.writing.purge import purge
from logbook.records.writing.resume import begin_resumption
from logbook.records.writing.sign import sign
from tests.conftest import said_of

pytestmark = pytest.mark.usefixtures("in_iowa")

THEN = datetime(2018, 6, 12, 20, 0, tzinfo=UTC)
LATER = datetime(2024, 1, 1, tzinfo=UTC)
REASON = "Its days of keeping are over."


@pytest.fixture
def seal_it(owner: Any, confirmed: Callable[[Any], Any]) -> Callable[..., Seal]:
    def sealed(draft: Any, now: datetime = THEN) -> Seal:
        draft.refresh_from_db()
        seen = examine(actor=owner, record_id=draft.pk)
        return sign(
            actor=owner,
            record_id=draft.pk,
            revision=draft.revision,
            explanations={
                f.key: said_of(f, "Looked at again.") for f in seen.report.must_be_explained()
            },
            confirmation=confirmed(owner),
            now=now,
        )

    return sealed


@pytest.fixture
def old_entry(entry: dict[str, Any]) -> dict[str, Any]:
    """The clean entry, of work done in 2018."""
    return entry | {
        "started_at": datetime(2018, 6, 12, 9, 30),  # noqa: DTZ001
        "finished_at": datetime(2018, 6, 12, 12, 0),  # noqa: DTZ001
    }


@pytest.fixture
def old(owner: Any, old_entry: dict[str, Any], seal_it: Callable[..., Seal]) -> Seal:
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    draft = save_draft(actor=owner, record_id=draft.pk, revision=1, data=old_entry)
    return seal_it(draft)


@pytest.fixture
def let_go(owner: Any, confirmed: Callable[[Any], Any]) -> Callable[[Any], Any]:
    return lambda record_id: purge(
        actor=owner,
        record_id=record_id,
        reason=REASON,
        confirmation=confirmed(owner),
        now=LATER,
    )


def hold(actor: Any, record_id: Any = None, **changes: Any) -> LegalHold:
    asked = {"hold_id": uuid.uuid4(), "reason": "A neighbour asks.", "now": THEN} | changes
    return set_hold(actor=actor, record_id=record_id, **asked)


def test_the_same_id_with_other_content_is_refused(owner: Any, old: Seal) -> None:
    held = hold(owner, old.record_id)
    assert hold(owner, old.record_id, hold_id=held.pk) == held
    for record_id, reason in ((None, held.reason), (old.record_id, "A claim is open.")):
        with pytest.raises(Conflict, match="says something else"):
            hold(owner, record_id, hold_id=held.pk, reason=reason)
    assert LegalHold.objects.get().seal == old


if connection.vendor == "postgresql":

    def test_a_hold_waits_for_a_purge_and_a_purge_for_a_hold(owner: Any, old: Seal) -> None:
        # PostgreSQL manual, 13.3.2: rows locked FOR UPDATE wait for one another.
        with CaptureQueriesContext(connection) as asked:
            hold(owner, old.record_id)
        sql = [query["sql"] for query in asked.captured_queries]
        lock = next(n for n, text in enumerate(sql) if "FOR UPDATE" in text)
        read = next(n for n, text in enumerate(sql) if 'FROM "records_seal"' in text)
        assert "records_chain" in sql[lock]
        assert lock < read


class TestKept:
    def test_the_longest_of_all_sets_decides_and_is_named(self, owner: Any, old: Seal) -> None:
        # Iowa Code 206.15: 3 years from the application; federal minimum 2 years.
        (sheet,) = keeping.kept_records(actor=owner, today=date(2020, 1, 1), may_go=False)
        assert sheet.keep_until == date(2021, 6, 12)
        assert sheet.kept_by.startswith("Iowa: Iowa Code 206.15")

    def test_a_label_with_long_names_is_named_once_and_whole(
        self, owner: Any, yard: Any, clean_draft: Any, seal_it: Callable[..., Seal], now: datetime
    ) -> None:
        yard.product.name, yard.label.edition = "N" * 200, "E" * 40
        yard.label.keep_years = 9
        yard.product.save()
        yard.label.save()
        seal_it(clean_draft, now)
        kept_by = DueSheet.objects.get().kept_by
        assert kept_by == f"Label of {'N' * 200}, edition {'E' * 40}"

    def test_it_may_go_from_the_day_after(self, owner: Any, old: Seal) -> None:
        def may_go(today: date) -> int:
            return keeping.kept_records(actor=owner, today=today, may_go=True).count()

        assert may_go(date(2021, 6, 12)) == 0
        assert may_go(date(2021, 6, 13)) == 1

    def test_a_record_for_which_no_set_speaks_is_never_offered(
        self, owner: Any, old_entry: dict[str, Any], yard: Any, seal_it: Callable[..., Seal]
    ) -> None:
        # Ontario: no duty for each application on farm land could be confirmed; none is carried.
        yard.field.place = "CA-ON"
        yard.field.save()
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        draft = save_draft(actor=owner, record_id=draft.pk, revision=1, data=old_entry)
        seal_it(draft)
        (sheet,) = keeping.kept_records(actor=owner, today=date(2090, 1, 1), may_go=False)
        assert sheet.keep_until is None
        assert not keeping.kept_records(actor=owner, today=date(2090, 1, 1), may_go=True)


class TestHolds:
    def test_a_held_record_is_not_offered(self, owner: Any, old: Seal) -> None:
        standing = hold(owner, old.record_id)
        today = LATER.date()
        assert not keeping.kept_records(actor=owner, today=today, may_go=True)
        (sheet,) = keeping.kept_records(actor=owner, today=today, may_go=False)
        assert sheet.held is True
        lift_hold(actor=owner, hold_id=standing.pk, reason="It is settled.", now=LATER)
        assert keeping.kept_records(actor=owner, today=today, may_go=True).count() == 1

    def test_the_whole_book_is_held_without_a_number(self, owner: Any, old: Seal) -> None:
        assert str(hold(owner)) == "hold on the whole book"
        assert not keeping.kept_records(actor=owner, today=LATER.date(), may_go=True)

    def test_asking_twice_makes_one(self, owner: Any, old: Seal) -> None:
        hold_id = uuid.uuid4()
        assert hold(owner, hold_id=hold_id) == hold(owner, hold_id=hold_id)
        assert LegalHold.objects.count() == 1

    def test_who_may_set_and_who_may_lift(
        self, owner: Any, office: Any, applicator: Any, helper: Any, old: Seal
    ) -> None:
        standing = hold(office, old.record_id)
        for actor in (applicator, helper):
            with pytest.raises(NotAllowed):
                hold(actor, old.record_id)
        for actor in (office, applicator, helper):
            with pytest.raises(NotAllowed):
                lift_hold(actor=actor, hold_id=standing.pk, reason="Settled now.", now=LATER)
        lifted = lift_hold(actor=owner, hold_id=standing.pk, reason="Settled now.", now=LATER)
        assert (lifted.lifted_by, lifted.lift_reason) == (owner.user, "Settled now.")

    def test_both_need_a_reason_and_lifting_is_done_once(self, owner: Any, old: Seal) -> None:
        with pytest.raises(RefusedInput, match="why it has to be kept"):
            hold(owner, reason=" ")
        standing = hold(owner)
        with pytest.raises(RefusedInput, match="need not be held"):
            lift_hold(actor=owner, hold_id=standing.pk, reason="ok", now=LATER)
        lift_hold(actor=owner, hold_id=standing.pk, reason="It is settled.", now=LATER)
        with pytest.raises(Refused, match="lifted already"):
            lift_hold(actor=owner, hold_id=standing.pk, reason="It is settled.", now=LATER)

    def test_another_business_neither_sees_nor_touches_it(
        self, owner: Any, stranger: Any, old: Seal
    ) -> None:
        standing = hold(owner)
        assert not keeping.holds(actor=stranger)
        with pytest.raises(NotThere):
            lift_hold(actor=stranger, hold_id=standing.pk, reason="It is settled.", now=LATER)
        with pytest.raises(NotThere):
            hold(stranger, old.record_id)
        with pytest.raises(Conflict):
            hold(stranger, hold_id=standing.pk)

    @pytest.mark.parametrize(
        "sql",
        [
            "UPDATE records_legalhold SET reason = 'none'",
            "UPDATE records_legalhold SET lift_reason = 'gone'",
            "DELETE FROM records_legalhold",
        ],
    )
    def test_plain_sql_cannot_change_it(self, owner: Any, old: Seal, sql: str) -> None:
        hold(owner)
        with (
            pytest.raises(IntegrityError, match="can only be lifted, once"),
            transaction.atomic(),
            connection.cursor() as cursor,
        ):
            cursor.execute(sql)

    def test_a_lifted_hold_cannot_be_set_again_by_sql(self, owner: Any, old: Seal) -> None:
        standing = hold(owner)
        lift_hold(actor=owner, hold_id=standing.pk, reason="It is settled.", now=LATER)
        with pytest.raises(IntegrityError, match="once"), transaction.atomic():
            LegalHold.objects.update(lifted_at=None, lifted_by=None, lift_reason="")


class TestTogether:
    def test_a_record_goes_with_its_amendment_and_all_that_hangs_on_them(
        self, owner: Any, old: Seal, seal_it: Callable[..., Seal], let_go: Any, business: Any
    ) -> None:
        mistaken = add_duty_entry(
            actor=owner,
            record_id=old.record_id,
            entry_id=uuid.uuid4(),
            data={"kind": "copy", "to_whom": "C", "how": "post", "given_at": THEN},
            now=THEN,
        )
        strike_duty_entry(
            actor=owner,
            record_id=mistaken.record_id,
            entry_id=mistaken.pk,
            new_id=uuid.uuid4(),
            reason="It was not sent.",
            now=THEN,
        )
        amendment = begin_amendment(
            actor=owner, record_id=old.record_id, new_id=uuid.uuid4(), reason="The note was wrong."
        )
        seal_it(amendment)
        purges = let_go(old.record_id)
        assert [one.seal.number for one in purges] == [1, 2]
        assert {one.reason for one in purges} == {REASON}
        for model in (ApplicationRecord, DueSheet, DutyEntry, Load, LoadUse):
            assert not model.objects.exists()
        result = verification.verify(business=business)
        assert (result.broken, result.checked, result.purged) == (None, 2, 2)
        assert keeping.purged(actor=owner).count() == 2

    def test_in_connecticut_an_amendment_begins_the_years_anew_for_both(
        self, owner: Any, old_entry: dict[str, Any], seal_it: Callable[..., Seal]
    ) -> None:
        # Conn. Gen. Stat. 22a-66g: five years from making or amending, whichever is later.
        Field.objects.update(place="US-CT")
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        save_draft(actor=owner, record_id=draft.pk, revision=1, data=old_entry)
        first = seal_it(draft)
        sheet = DueSheet.objects.get(record=first.record_id)
        assert (sheet.keep_until, sheet.may_go_after) == (date(2023, 6, 12), date(2023, 6, 12))
        amendment = begin_amendment(
            actor=owner, record_id=first.record_id, new_id=uuid.uuid4(), reason="Wrong note."
        )
        seal_it(amendment, now=datetime(2019, 3, 1, 20, 0, tzinfo=UTC))
        sheets = DueSheet.objects.order_by("keep_until")
        assert [one.keep_until for one in sheets] == [date(2023, 6, 12), date(2024, 3, 1)]
        assert [one.may_go_after for one in sheets] == [date(2024, 3, 1)] * 2

    def test_a_draft_set_aside_keeps_it_and_is_named(
        self, owner: Any, old: Seal, let_go: Any
    ) -> None:
        def may_go() -> int:
            return keeping.kept_records(actor=owner, today=LATER.date(), may_go=True).count()

        assert may_go() == 1
        draft = begin_amendment(
            actor=owner, record_id=old.record_id, new_id=uuid.uuid4(), reason="The note was wrong."
        )
        set_aside(actor=owner, record_id=draft.pk, reason="It was right.", now=LATER)
        assert may_go() == 0
        with pytest.raises(Refused, match=r"set aside belongs to it \(North L, 2018-06-12\)"):
            let_go(old.record_id)
        assert ApplicationRecord.objects.count() == 2

    def test_a_record_whose_job_was_resumed_is_not_on_the_list_of_what_may_go(
        self, owner: Any, old: Seal, let_go: Any
    ) -> None:
        rest = begin_resumption(actor=owner, record_id=old.record_id, new_id=uuid.uuid4())
        assert not keeping.kept_records(actor=owner, today=LATER.date(), may_go=True)
        set_aside(actor=owner, record_id=rest.pk, reason="It rained.", now=LATER)
        with pytest.raises(Refused, match=r"belongs to it \(North L\) and would be lost"):
            let_go(old.record_id)

    def test_a_draft_that_belongs_to_it_keeps_it(self, owner: Any, old: Seal, let_go: Any) -> None:
        begin_amendment(
            actor=owner, record_id=old.record_id, new_id=uuid.uuid4(), reason="The note was wrong."
        )
        with pytest.raises(Refused, match="A draft belongs to it"):
            let_go(old.record_id)
        assert ApplicationRecord.objects.count() == 2

    def test_the_rest_of_a_job_keeps_its_first_part(
        self,
        owner: Any,
        old: Seal,
        old_entry: dict[str, Any],
        seal_it: Callable[..., Seal],
        let_go: Any,
    ) -> None:
        rest = begin_resumption(actor=owner, record_id=old.record_id, new_id=uuid.uuid4())
        data = old_entry | {
            "started_at": datetime(2023, 6, 13, 9, 30),  # noqa: DTZ001
            "finished_at": datetime(2023, 6, 13, 12, 0),  # noqa: DTZ001
        }
        rest.refresh_from_db()
        save_draft(actor=owner, record_id=rest.pk, revision=rest.revision, data=data)
        seal_it(rest, now=datetime(2023, 6, 13, 20, 0, tzinfo=UTC))
        sheets = DueSheet.objects.order_by("keep_until")
        assert [sheet.may_go_after for sheet in sheets] == [date(2026, 6, 13)] * 2
        assert not keeping.kept_records(actor=owner, today=LATER.date(), may_go=True)
        with pytest.raises(Refused, match=r"No\. 2 is kept until 2026-06-13"):
            let_go(old.record_id)

    def test_a_load_that_served_another_record_stays_with_it(
        self,
        owner: Any,
        old: Seal,
        old_entry: dict[str, Any],
        yard: Any,
        seal_it: Callable[..., Seal],
        let_go: Any,
    ) -> None:
        use = LoadUse.objects.filter(record_id=old.record_id).first()
        assert use is not None
        shared = {
            "load": use.load_id,
            "mixed_volume": use.load.mixed_volume,
            "used": use.used,
            "order": 2,
            "parts": old_entry["loads"][0]["parts"],
        }
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        data = old_entry | {"loads": [shared, *old_entry["loads"][1:]]}
        draft = save_draft(actor=owner, record_id=draft.pk, revision=1, data=data)
        seal_it(draft)
        let_go(old.record_id)
        assert Load.objects.count() == 3
        assert LoadUse.objects.filter(load=use.load).count() == 1
        assert verification.verify(business=owner.business).broken is None
        let_go(draft.pk)
        assert not Load.objects.exists()

    def test_another_business_purges_nothing(
        self, stranger: Any, old: Seal, confirmed: Callable[[Any], Any]
    ) -> None:
        with pytest.raises(NotThere):
            purge(
                actor=stranger,
                record_id=old.record_id,
                reason=REASON,
                confirmation=confirmed(stranger),
                now=LATER,
            )
