"""What is written down as done: once, by whom it was, never changed, struck by a further entry."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from logbook.errors.exceptions import Conflict, NotAllowed, NotThere, Refused, RefusedInput
from logbook.records.models import ApplicationRecord, DueSheet, DutyEntry
from logbook.records.reading import deadlines, duesheets, owed
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.draft import begin_draft
from logbook.records.writing.entries import add_duty_entry, strike_duty_entry
from logbook.records.writing.entryforms import DutyEntryForm
from logbook.records.writing.sign import sign
from tests.conftest import sealed_by

TOLD = {"kind": "notice after", "to_whom": "Customer 1", "how": "telephone", "note": ""}


def add(actor: Any, record: Any, now: datetime, entry_id: Any = None, **data: Any) -> DutyEntry:
    return add_duty_entry(
        actor=actor,
        record_id=record.pk,
        entry_id=entry_id or uuid.uuid4(),
        data={**TOLD, "given_at": now, **data},
        now=now,
    )


CALLED = "The wrong farm was called."


def strike(actor: Any, entry: DutyEntry, now: datetime, **changes: Any) -> DutyEntry:
    asked = {"record_id": entry.record_id, "new_id": uuid.uuid4(), "reason": CALLED} | changes
    return strike_duty_entry(actor=actor, entry_id=entry.pk, now=now, **asked)


class TestAdding:
    def test_it_says_what_to_whom_how_when_and_by_whom(
        self, office: Any, signed: Any, now: datetime
    ) -> None:
        entry = add(office, signed, now)
        assert (entry.kind, entry.to_whom, entry.how) == (
            "notice after",
            "Customer 1",
            "telephone",
        )
        assert entry.given_at == now
        assert entry.by == office.user
        assert str(entry) == "notice of the completed work, Customer 1"

    def test_a_draft_takes_a_notice_before_the_work(
        self, owner: Any, clean_draft: Any, now: datetime
    ) -> None:
        given = clean_draft.started_at - timedelta(hours=2)
        add(owner, clean_draft, now, kind="notice before", given_at=given)
        assert clean_draft.duty_entries.count() == 1

    def test_a_naive_time_is_the_clock_at_the_field(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        entry = add(owner, signed, now, given_at=datetime(2026, 6, 12, 13, 5))  # noqa: DTZ001
        assert entry.given_at == datetime(2026, 6, 12, 18, 5, tzinfo=UTC)

    def test_asking_twice_makes_one(self, owner: Any, signed: Any, now: datetime) -> None:
        entry_id = uuid.uuid4()
        assert add(owner, signed, now, entry_id) == add(owner, signed, now, entry_id)
        assert DutyEntry.objects.count() == 1

    @pytest.mark.parametrize(
        ("data", "path", "why"),
        [
            ({"kind": "wave"}, "kind", "not a valid choice"),
            ({"how": "by drum"}, "how", "not a valid choice"),
            ({"to_whom": ""}, "to_whom", "blank"),
            ({"given_at": None}, "given_at", "null"),
            (
                {"given_at": None, "how": "e-mail", "consent_on": date(2026, 6, 1)},
                "given_at",
                "null",
            ),
            # The hour that the clocks leave out in spring.
            ({"given_at": datetime(2026, 3, 8, 2, 30)}, "given_at", "does not exist"),  # noqa: DTZ001
            ({"how": "not owed"}, "note", "why it is not owed"),
        ],
    )
    def test_what_cannot_be_taken_is_named(
        self, owner: Any, signed: Any, now: datetime, data: dict[str, Any], path: str, why: str
    ) -> None:
        with pytest.raises(RefusedInput, match=why) as refusal:
            add(owner, signed, now, **data)
        assert path in refusal.value.errors
        assert not DutyEntry.objects.exists()

    def test_what_is_still_to_come_is_refused(self, owner: Any, signed: Any, now: datetime) -> None:
        with pytest.raises(RefusedInput, match="still to come"):
            add(owner, signed, now, given_at=now + timedelta(minutes=1))

    def test_consent_is_kept_as_the_true_day_and_is_asked_of_electronic_delivery_alone(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        # ATCP 29.22: electronic delivery only with the customer's written consent beforehand.
        day = now.date()
        copy = {"kind": "copy", "how": "e-mail"}
        with pytest.raises(RefusedInput, match="still to come"):
            add(owner, signed, now, **copy, consent_on=day + timedelta(days=1))
        with pytest.raises(RefusedInput, match="not electronic"):
            add(owner, signed, now, kind="copy", how="post", consent_on=day)
        assert add(owner, signed, now, **copy, consent_on=day).consent_on == day
        # A delivery before the consent is recorded as it was; it is the deadline that counts it.
        late = {**copy, "consent_on": day + timedelta(days=1), "given_at": now}
        early = add(owner, signed, now + timedelta(days=2), **late)
        assert (early.consent_on, early.lacks_consent) == (day + timedelta(days=1), True)

    def test_a_copy_of_work_that_had_not_begun_is_refused(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        early = signed.started_at - timedelta(minutes=1)
        with pytest.raises(RefusedInput, match="before the work started") as refusal:
            add(owner, signed, now, kind="copy", given_at=early)
        assert "2026-06-12 09:29 CDT" in refusal.value.errors["given_at"][0]
        assert not DutyEntry.objects.exists()
        # A notice before the work, and a sheet put up for it, may well come first.
        add(owner, signed, now, kind="notice before", given_at=early)
        add(owner, signed, now, kind="display", given_at=early)

    def test_a_consent_of_an_impossible_year_is_refused(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        with pytest.raises(RefusedInput, match="1990 or later"):
            add(owner, signed, now, kind="copy", how="e-mail", consent_on=date(1, 1, 1))

    def test_a_case_that_arose_is_told_in_the_note(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        with pytest.raises(RefusedInput, match="which case arose") as refusal:
            add(owner, signed, now, kind="report", how="case arose", note=" ")
        assert "note" in refusal.value.errors

    def test_a_helper_and_a_stranger_write_nothing_down(
        self, helper: Any, stranger: Any, signed: Any, now: datetime
    ) -> None:
        with pytest.raises(NotAllowed):
            add(helper, signed, now)
        with pytest.raises(NotThere):
            add(stranger, signed, now)
        assert not DutyEntry.objects.exists()

    def test_an_id_of_another_business_is_refused(
        self, owner: Any, stranger: Any, signed: Any, now: datetime
    ) -> None:
        entry = add(owner, signed, now)
        with pytest.raises(Conflict):
            add(stranger, signed, now, entry.pk)
        with pytest.raises(Conflict):
            strike(stranger, entry, now, new_id=entry.pk, reason="Not mine.")

    @pytest.mark.parametrize(
        "change",
        [
            {"to_whom": "Customer 2"},
            {"how": "by hand"},
            {"note": "They were out."},
            {"given_at": datetime(2026, 6, 12, 13, 5)},  # noqa: DTZ001
        ],
    )
    def test_the_same_id_with_other_content_is_refused(
        self, owner: Any, signed: Any, now: datetime, change: dict[str, Any]
    ) -> None:
        entry = add(owner, signed, now)
        with pytest.raises(Conflict, match="says something else"):
            add(owner, signed, now, entry.pk, **change)
        assert DutyEntry.objects.get().to_whom == "Customer 1"

    def test_the_same_id_for_another_record_is_refused(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        entry = add(owner, signed, now, kind="notice before")
        other = begin_draft(actor=owner, record_id=uuid.uuid4())
        with pytest.raises(Conflict, match="says something else"):
            add(owner, other, now, entry.pk, kind="notice before")


class TestFrozen:
    @pytest.mark.parametrize(
        "sql",
        [
            "UPDATE records_dutyentry SET to_whom = 'nobody'",
            "DELETE FROM records_dutyentry",
        ],
    )
    def test_plain_sql_cannot_change_or_delete_it(
        self, owner: Any, clean_draft: Any, now: datetime, sql: str
    ) -> None:
        add(owner, clean_draft, now)
        with (
            pytest.raises(IntegrityError, match="an entry cannot be changed"),
            transaction.atomic(),
            connection.cursor() as cursor,
        ):
            cursor.execute(sql)

    def test_the_orm_cannot_either(self, owner: Any, signed: Any, now: datetime) -> None:
        entry = add(owner, signed, now)
        entry.note = "never said"
        with pytest.raises(IntegrityError), transaction.atomic():
            entry.save()
        with pytest.raises(IntegrityError), transaction.atomic():
            entry.delete()


class TestStriking:
    def test_a_mistake_is_struck_by_a_further_entry_and_both_stay(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        mistaken = add(owner, signed, now)
        assert strike(owner, mistaken, now).strikes == mistaken
        assert signed.duty_entries.count() == 2
        assert owed.standing_entries(signed.duty_entries.all()) == []

    def test_it_is_struck_once_and_a_strike_never(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        mistaken = add(owner, signed, now)
        further = strike(owner, mistaken, now)
        assert strike(owner, mistaken, now, new_id=further.pk) == further
        for entry in (mistaken, further):
            with pytest.raises(Refused, match="struck already"):
                strike(owner, entry, now)

    def test_the_same_id_for_another_strike_is_refused(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        mistaken, other = add(owner, signed, now), add(owner, signed, now)
        further = strike(owner, mistaken, now)
        for entry, reason in ((other, CALLED), (mistaken, "It was the day before.")):
            with pytest.raises(Conflict, match="says something else"):
                strike(owner, entry, now, new_id=further.pk, reason=reason)

    def test_an_entry_of_another_record_is_not_struck(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        entry = add(owner, signed, now)
        other = begin_draft(actor=owner, record_id=uuid.uuid4())
        with pytest.raises(NotThere, match="no such entry of this record"):
            strike(owner, entry, now, record_id=other.pk)
        assert DutyEntry.objects.count() == 1

    def test_a_reason_is_needed_and_rights_hold(
        self, owner: Any, helper: Any, stranger: Any, signed: Any, now: datetime
    ) -> None:
        mistaken = add(owner, signed, now)
        with pytest.raises(RefusedInput, match="what was wrong"):
            strike(owner, mistaken, now, reason="no")
        with pytest.raises(NotAllowed):
            strike(helper, mistaken, now)
        with pytest.raises(NotThere):
            strike(stranger, mistaken, now)


def _locks_before_it_writes(asked: CaptureQueriesContext) -> bool:
    sql = [query["sql"] for query in asked.captured_queries]
    lock = next(n for n, text in enumerate(sql) if "FOR UPDATE" in text)
    write = next(n for n, text in enumerate(sql) if text.startswith("INSERT"))
    return "records_applicationrecord" in sql[lock] and lock < write


class TestAmended:
    def test_what_was_done_for_the_first_counts_for_its_amendment(
        self, owner: Any, signed: Any, now: datetime, confirmed: Any
    ) -> None:
        add(owner, signed, now, kind="copy", how="by hand")
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
        assert [entry.kind for entry in deadlines.entries_of(draft)] == ["copy"]
        with pytest.raises(Refused, match=r"corrected by no\. 2; write it there"):
            add(owner, signed, now)

    def test_an_entry_and_its_strike_reach_the_sheet_of_every_version(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        def open_on(record: Any) -> list[str]:
            return [item.kind for item in duesheets.items_on(record.due_sheet) if item.open]

        draft = begin_amendment(
            actor=owner, record_id=signed.pk, new_id=uuid.uuid4(), reason="The note was wrong."
        )
        assert open_on(DueSheet.objects.get().record) == ["notice before"]
        given = signed.started_at - timedelta(hours=1)
        told = add(owner, draft, now, kind="notice before", given_at=given)
        assert open_on(DueSheet.objects.get().record) == []
        of_first = add(owner, signed, now, kind="notice before", given_at=given)
        sealed_by(owner, draft, now=now)
        reason = "The wrong farm was called."
        for entry, still_open in ((told, []), (of_first, ["notice before"])):
            strike_duty_entry(
                actor=owner,
                record_id=entry.record_id,
                entry_id=entry.pk,
                new_id=uuid.uuid4(),
                reason=reason,
                now=now,
            )
            assert open_on(ApplicationRecord.objects.get(pk=draft.pk)) == still_open

    if connection.vendor == "postgresql":

        def test_all_versions_are_locked_while_an_entry_is_written(
            self, owner: Any, signed: Any, now: datetime
        ) -> None:
            # PostgreSQL manual, 13.3.2: rows locked FOR UPDATE wait for one another.
            with CaptureQueriesContext(connection) as asked:
                entry = add(owner, signed, now)
            assert _locks_before_it_writes(asked)
            with CaptureQueriesContext(connection) as asked:
                strike_duty_entry(
                    actor=owner,
                    record_id=signed.pk,
                    entry_id=entry.pk,
                    new_id=uuid.uuid4(),
                    reason="Wrong.",
                    now=now,
                )
            assert _locks_before_it_writes(asked)

    def test_the_day_of_consent_is_a_date(self, owner: Any, signed: Any, now: datetime) -> None:
        entry = add(owner, signed, now, kind="copy", how="e-mail", consent_on=date(2026, 1, 5))
        assert str(entry.consent_on) == "2026-01-05"


class TestTheHourThatTheClocksRepeat:
    """Central time, 1 November 2026: 01:30 is 06:30 and 07:30 UTC (IANA tz database)."""

    def form(self, **data: str) -> DutyEntryForm:
        typed = {"kind": "copy", "to_whom": "Farm", "how": "e-mail", **data}
        return DutyEntryForm(typed, zone="America/Chicago")

    def test_the_choice_is_there_only_where_the_minute_is_there_twice(self) -> None:
        assert "hour" not in self.form(given_at="2026-11-01T02:30").fields
        assert "hour" not in self.form(given_at="2026-03-08T02:30").fields
        assert "hour" not in self.form(given_at="no time").fields
        asked = list(self.form(given_at="2026-11-01T01:30").fields)
        assert asked[asked.index("given_at") + 1] == "hour"

    @pytest.mark.parametrize(("hour", "utc"), [("0", 6), ("1", 7)])
    def test_the_pass_chosen_is_the_instant_that_is_kept(self, hour: str, utc: int) -> None:
        form = self.form(given_at="2026-11-01T01:30", hour=hour)
        assert form.is_valid(), form.errors
        data = form.data_for_service()
        assert "hour" not in data
        assert data["given_at"].astimezone(UTC) == datetime(2026, 11, 1, utc, 30, tzinfo=UTC)

    @pytest.mark.parametrize("typed", [{}, {"hour": ""}, {"hour": "2"}])
    def test_it_is_asked_and_not_supposed(self, typed: dict[str, str]) -> None:
        form = self.form(given_at="2026-11-01T01:30", **typed)
        assert not form.is_valid()
        assert list(form.errors) == ["hour"]

    def test_a_page_drawn_in_the_second_pass_shows_the_second(self) -> None:
        shown = {"given_at": datetime(2026, 11, 1, 1, 30), "hour": 1}  # noqa: DTZ001
        form = DutyEntryForm(initial=shown, zone="America/Chicago")
        assert '<option value="1" selected>the second, CST (UTC-0600)</option>' in str(form["hour"])
