"""What is due for whom and when: open, overdue, done in time, done late; drafts too."""

from __future__ import annotations

import json
import uuid
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import translation

from logbook.errors.exceptions import NotAllowed
from logbook.facts.duty import Clock, Deadline, HowRead, Kind, Since
from logbook.facts.messages import from_data, msg, to_data
from logbook.law.clocks import Standing
from logbook.law.reader import duty_sets
from logbook.records.models import ApplicationRecord, DueSheet
from logbook.records.reading import deadlines, duesheets, keeping, owed
from logbook.records.sealing.snapshot import snapshot_of, with_everything
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.draft import begin_draft
from logbook.records.writing.entries import add_duty_entry, strike_duty_entry
from tests import factories as make
from tests.conftest import sealed_by, written

START = datetime(2026, 6, 12, 14, 30, tzinfo=UTC)  # 09:30 CDT, of the clean draft
END = datetime(2026, 6, 12, 17, 0, tzinfo=UTC)


def tell(actor: Any, record: Any, kind: str, at: datetime, **data: Any) -> Any:
    return add_duty_entry(
        actor=actor,
        record_id=record.pk,
        entry_id=uuid.uuid4(),
        data={"kind": kind, "to_whom": "Farm", "how": "telephone", "given_at": at, **data},
        now=max(at, END),
    )


def sheet_items(record: Any) -> dict[str, owed.Item]:
    return {item.kind: item for item in duesheets.items_on(DueSheet.objects.get(record=record))}


class TestSheet:
    def test_signing_writes_the_strictest_time_of_each_kind(self, owner: Any, signed: Any) -> None:
        items = sheet_items(signed)
        # 40 CFR 170: the farm is told before the spraying starts.
        assert items["notice before"].due == START
        assert items["notice before"].set_id == "us-40-cfr-170"
        # N.D. Admin. Code 60-03-01-07, 24 hours: from memory.
        assert items["record"].due == END + timedelta(hours=24)
        assert items["record"].how_read is HowRead.MEMORY
        assert items["record"].done_at == signed.signed_at

    def test_a_record_signed_in_time_is_done_in_time(self, signed: Any, now: datetime) -> None:
        assert sheet_items(signed)["record"].standing(now) is Standing.DONE
        assert DueSheet.objects.get().late_count == 0

    def test_a_record_signed_late_is_late_for_good(self, owner: Any, clean_draft: Any) -> None:
        late = END + timedelta(hours=24, seconds=1)
        sealed_by(owner, clean_draft, now=late)
        item = sheet_items(clean_draft)["record"]
        assert item.standing(late + timedelta(days=900)) is Standing.LATE
        assert DueSheet.objects.get().late_count == 1

    def test_a_notice_in_time_and_one_too_late(self, owner: Any, signed: Any) -> None:
        tell(owner, signed, "notice before", START + timedelta(minutes=1))
        assert sheet_items(signed)["notice before"].standing(END) is Standing.LATE
        tell(owner, signed, "notice before", START - timedelta(hours=2))
        # The last notice counts: what changed since was told again, after the start.
        assert sheet_items(signed)["notice before"].standing(END) is Standing.LATE

    def test_a_change_told_before_the_start_is_in_time(self, owner: Any, signed: Any) -> None:
        tell(owner, signed, "notice before", START - timedelta(hours=12))
        tell(owner, signed, "notice before", START)
        item = sheet_items(signed)["notice before"]
        assert item.done_at == START
        assert item.standing(END) is Standing.DONE

    def test_of_several_copies_the_first_counts(self, owner: Any, signed: Any, yard: Any) -> None:
        first, second = END + timedelta(days=2), END + timedelta(days=40)
        tell(owner, signed, "copy", second)
        tell(owner, signed, "copy", first)
        entries = owed.standing_entries(deadlines.entries_of(signed))
        assert owed.done_at(entries, recorded_at=None)["copy"] == first

    def test_a_struck_entry_opens_it_again(self, owner: Any, signed: Any) -> None:
        entry = tell(owner, signed, "notice before", START - timedelta(hours=1))
        assert DueSheet.objects.get().next_due_at is None
        strike_duty_entry(
            actor=owner,
            record_id=entry.record_id,
            entry_id=entry.pk,
            new_id=uuid.uuid4(),
            reason="The wrong farm was called.",
            now=END,
        )
        assert DueSheet.objects.get().next_due_at == START

    def test_what_is_not_owed_here_is_closed_with_its_reason(self, owner: Any, signed: Any) -> None:
        tell(owner, signed, "notice before", END, how="not owed", note="Nobody works on this farm.")
        item = sheet_items(signed)["notice before"]
        assert (item.open, item.not_owed) == (False, "Nobody works on this farm.")
        assert item.standing(END) is Standing.DONE
        assert DueSheet.objects.get().next_due_at is None
        assert DueSheet.objects.get().late_count == 0

    def test_a_restricted_product_makes_a_copy_due_in_thirty_days(
        self, owner: Any, clean_draft: Any, yard: Any
    ) -> None:
        # 7 U.S.C. 136i-1: a copy to the customer within 30 days, for restricted-use products.
        yard.label.restricted_use = True
        yard.label.save()
        sealed_by(owner, clean_draft, now=END)
        item = sheet_items(clean_draft)["copy"]
        assert item.due is not None
        # Through the last moment of the thirtieth day at the field: 12 July, 24:00 CDT.
        assert timedelta() < datetime(2026, 7, 13, 5, tzinfo=UTC) - item.due < timedelta(seconds=1)


class TestRequests:
    """N.D. Admin. Code, Wis. Adm. Code and others: due only to who asks, or only in a case."""

    def at(self, place: str, record: Any, entries: list[Any]) -> list[owed.Item]:
        row = with_everything(ApplicationRecord.objects.filter(pk=record.pk)).get()
        facts = snapshot_of(row)
        assert facts.field is not None
        moved = replace(facts, field=replace(facts.field, place=place))
        return list(owed.items(moved, entries, recorded_at=END))

    def test_nothing_is_due_until_somebody_asks(self, signed: Any) -> None:
        # 21.17.50.10 NMAC: a copy to the customer on written request, no number of days.
        assert [one for one in self.at("US-NM", signed, []) if one.kind == "copy"] == []

    def test_a_request_without_a_number_of_days_waits_until_it_is_answered(
        self, owner: Any, signed: Any
    ) -> None:
        asked = END + timedelta(days=3)
        tell(owner, signed, "copy", END + timedelta(days=1))
        tell(owner, signed, "copy", asked, how="asked for", to_whom="C. Dahl")
        entries = owed.standing_entries(deadlines.entries_of(signed))
        (copy,) = [one for one in self.at("US-NM", signed, entries) if one.kind == "copy"]
        # What was given before the request is no answer to it.
        assert (copy.due, copy.done_at, copy.called_for) == (None, None, "C. Dahl")
        assert copy.standing(asked + timedelta(days=900)) is Standing.OPEN
        answered = tell(owner, signed, "copy", asked + timedelta(days=1))
        entries = owed.standing_entries(deadlines.entries_of(signed))
        (copy,) = [one for one in self.at("US-NM", signed, entries) if one.kind == "copy"]
        assert (copy.done_at, copy.standing(END)) == (answered.given_at, Standing.DONE)

    def test_a_request_in_oregon_counts_forty_days_from_the_work(
        self, owner: Any, signed: Any
    ) -> None:
        # ORS 634.146: a written statement within 40 days of the application, to who asks.
        tell(owner, signed, "copy", END + timedelta(days=39), how="asked for")
        entries = owed.standing_entries(deadlines.entries_of(signed))
        (copy,) = [one for one in self.at("US-OR", signed, entries) if one.kind == "copy"]
        last = datetime(2026, 7, 23, 5, tzinfo=UTC)  # 40 days after 12 June, midnight CDT
        assert copy.due is not None
        assert timedelta() < last - copy.due < timedelta(seconds=1)
        assert copy.standing(last) is Standing.OVERDUE

    def test_an_incident_in_north_dakota_starts_its_own_twenty_four_hours(
        self, owner: Any, signed: Any
    ) -> None:
        # N.D. Admin. Code 60-03-01-09: an incident report within 24 hours.
        arose = END + timedelta(days=2)
        tell(owner, signed, "report", arose, how="case arose", note="Drift onto the shelterbelt.")
        (report,) = [
            one for one in duesheets.items_on(DueSheet.objects.get()) if one.kind == "report"
        ]
        assert report.due == arose + timedelta(hours=24)
        assert report.called_for == "Drift onto the shelterbelt."
        late = tell(owner, signed, "report", arose + timedelta(hours=24, seconds=1))
        (report,) = [
            one for one in duesheets.items_on(DueSheet.objects.get()) if one.kind == "report"
        ]
        assert report.standing(END) is Standing.LATE
        strike_duty_entry(
            actor=owner,
            record_id=late.record_id,
            entry_id=late.pk,
            new_id=uuid.uuid4(),
            reason="That was another record.",
            now=arose + timedelta(days=3),
        )
        (report,) = [
            one for one in duesheets.items_on(DueSheet.objects.get()) if one.kind == "report"
        ]
        assert report.done_at is None

    def test_work_that_differed_from_the_notice_is_told_within_two_hours_of_its_end(
        self, owner: Any, signed: Any
    ) -> None:
        # 40 CFR 170.313: other changes within 2 hours after the end.
        tell(owner, signed, "notice after", END, how="case arose", note="Two more acres.")
        item = sheet_items(signed)["notice after"]
        assert item.due == END + timedelta(hours=2)

    def test_a_request_that_no_law_gives_an_instant_stands_on_the_list(
        self, owner: Any, signed: Any, yard: Any, monkeypatch: Any
    ) -> None:
        tell(owner, signed, "notice before", START - timedelta(hours=1))
        assert not deadlines.open_sheets(actor=owner)
        DueSheet.objects.update(waiting=1)
        assert deadlines.open_sheets(actor=owner).count() == 1
        tell(owner, signed, "copy", END, how="asked for")
        # No set of North Dakota speaks of a request, so nothing waits.
        assert DueSheet.objects.get().waiting == 0

    def test_a_struck_request_is_none(self, owner: Any, signed: Any) -> None:
        entry = tell(owner, signed, "copy", END, how="asked for")
        strike_duty_entry(
            actor=owner,
            record_id=entry.record_id,
            entry_id=entry.pk,
            new_id=uuid.uuid4(),
            reason="Nobody asked.",
            now=END,
        )
        entries = owed.standing_entries(deadlines.entries_of(signed))
        assert [one for one in self.at("US-NM", signed, entries) if one.kind == "copy"] == []


class TestConsent:
    """Wis. Adm. Code ATCP 29.22: electronic only with the customer's written consent beforehand."""

    at = TestRequests.at

    def copy(self, place: str, signed: Any) -> owed.Item:
        entries = owed.standing_entries(deadlines.entries_of(signed))
        (item,) = [one for one in self.at(place, signed, entries) if one.kind == "copy"]
        return item

    @pytest.mark.parametrize(
        ("how", "consent", "counts"),
        [
            ("post", None, True),
            ("e-mail", None, False),
            ("electronic", None, False),
            ("e-mail", date(2026, 6, 13), True),
            ("e-mail", date(2026, 6, 14), True),
            ("e-mail", date(2026, 6, 15), False),
        ],
    )
    def test_a_delivery_without_it_is_kept_and_does_not_count(
        self, owner: Any, signed: Any, how: str, consent: date | None, counts: bool
    ) -> None:
        sent = datetime(2026, 6, 15, 4, 59, tzinfo=UTC)  # 14 June, 23:59 at the field
        later = datetime(2026, 6, 20, tzinfo=UTC)
        data = {"kind": "copy", "to_whom": "C. Dahl", "how": how, "given_at": sent}
        add_duty_entry(
            actor=owner,
            record_id=signed.pk,
            entry_id=uuid.uuid4(),
            data={**data, "consent_on": consent},
            now=later,
        )
        item = self.copy("US-WI", signed)
        assert (item.done_at == sent) is counts
        assert ("does not count" in item.short) is not counts
        assert deadlines.entries_of(signed).count() == 1
        if not counts:
            assert "ATCP 29" in item.short
            assert item.standing(sent) is Standing.OPEN
            tell(owner, signed, "copy", later, how="by hand")
            assert self.copy("US-WI", signed).done_at == later
            assert self.copy("US-WI", signed).short == ""

    def test_where_no_set_asks_for_it_an_electronic_delivery_counts(
        self, owner: Any, signed: Any
    ) -> None:
        # Minn. Stat. 18B.37 subd. 2 says nothing of how the copy goes.
        tell(owner, signed, "copy", END, how="e-mail")
        item = self.copy("US-MN", signed)
        assert (item.done_at, item.short) == (END, "")


class TestKinds:
    def test_the_strictest_of_a_kind_is_kept_whoever_it_goes_to(
        self, owner: Any, clean_draft: Any, yard: Any
    ) -> None:
        # The statute gives a copy 30 days; this label gives it hours.
        yard.label.restricted_use = True
        yard.label.save()
        for kind, hours in (("copy", 48), ("copy", 72), ("notice after", 6)):
            yard.label.deadlines.create(kind=kind, clock="hours", count=hours, since="end")
        rows = with_everything(ApplicationRecord.objects.filter(pk=clean_draft.pk))
        items = owed.items(snapshot_of(rows.get()), [], recorded_at=None)
        found = {item.kind: item for item in items}
        assert found["copy"].due == END + timedelta(hours=48)
        assert found["notice after"].due == END + timedelta(hours=6)

    def test_of_one_kind_to_several_the_first_due_counts(self) -> None:
        def one(at: datetime | None) -> Any:
            return SimpleNamespace(due=at)

        assert owed._before(one(START), one(END))
        assert not owed._before(one(END), one(START))
        assert owed._before(one(START), one(None))
        assert not owed._before(one(None), one(START))

    def test_a_duty_without_an_instant_is_open_till_it_is_done(self) -> None:
        item = owed.Item(
            kind="record",
            due=None,
            set_id="eu",
            title="t",
            citation="c",
            how_read=HowRead.LEGAL_TEXT,
            clock="without delay",
            detail="",
            done_at=None,
        )
        assert item.standing(END) is Standing.NOT_COUNTED
        assert replace(item, done_at=END).standing(END) is Standing.DONE


class TestAmended:
    def test_the_record_was_made_when_it_was_first_sealed(self, owner: Any, signed: Any) -> None:
        tell(owner, signed, "notice before", START - timedelta(hours=1))
        draft = begin_amendment(
            actor=owner, record_id=signed.pk, new_id=uuid.uuid4(), reason="The note was wrong."
        )
        sealed_by(owner, draft, now=END + timedelta(days=30))
        items = sheet_items(draft)
        assert items["record"].done_at == signed.signed_at
        assert items["notice before"].done_at == START - timedelta(hours=1)
        assert duesheets.items_on(DueSheet.objects.get(record=signed)) == ()


class TestLists:
    def test_the_first_due_comes_first_and_late_ones_have_a_list(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        (sheet,) = deadlines.open_sheets(actor=owner)
        (task,) = deadlines.tasks_of([sheet], now=now)
        assert (task.item.kind, task.standing) == ("notice before", Standing.OVERDUE)
        assert (task.number, task.field.name) == (1, "North L")
        assert task.local_due == "2026-06-12 09:30 CDT"
        assert not deadlines.open_sheets(actor=owner, late=True)
        tell(owner, signed, "notice before", START + timedelta(minutes=5))
        assert not deadlines.open_sheets(actor=owner)
        (late,) = deadlines.tasks_of(deadlines.open_sheets(actor=owner, late=True), now=now)
        assert late.item.done_at == START + timedelta(minutes=5)

    def test_a_draft_is_due_by_the_strictest_clock(
        self, owner: Any, clean_draft: Any, now: datetime
    ) -> None:
        tasks = {task.item.kind: task for task in deadlines.draft_tasks(actor=owner, now=now)}
        assert tasks["record"].standing is Standing.OPEN
        assert tasks["record"].number is None
        late = now + timedelta(days=2)
        tasks = {task.item.kind: task for task in deadlines.draft_tasks(actor=owner, now=late)}
        assert tasks["record"].standing is Standing.OVERDUE

    def test_a_draft_without_day_or_field_is_under_no_law_yet(
        self, owner: Any, now: datetime
    ) -> None:
        begin_draft(actor=owner, record_id=uuid.uuid4())
        assert deadlines.draft_tasks(actor=owner, now=now) == []

    def test_the_outlook_counts_records_and_shows_the_first(
        self, owner: Any, signed: Any, now: datetime
    ) -> None:
        ahead = deadlines.outlook(actor=owner, now=now, shown=3)
        assert ahead.overdue == 1
        assert [task.item.kind for task in ahead.first] == ["notice before"]

    def test_what_waits_without_an_instant_comes_after_all_that_has_one(
        self, owner: Any, yard: Any, entry: dict[str, Any], now: datetime
    ) -> None:
        # 4 Tex. Admin. Code 7.33: a record is given to the department on request, by no set time.
        waiting = {_in(owner, yard, entry, "US-TX").pk for _ in range(3)}
        for pk in waiting:
            record = ApplicationRecord.objects.get(pk=pk)
            tell(owner, record, "notice before", START - timedelta(hours=1))
            tell(owner, record, "report", END, how="asked for", to_whom="The department")
        overdue = {_in(owner, yard, entry, "US-ND").pk for _ in range(2)}
        draft = written(owner, entry)
        assert set(DueSheet.objects.filter(next_due_at=None).values_list("pk", flat=True)) == (
            waiting
        )
        # The farm was told before the work of none of these three.
        told_late = {*overdue, draft.pk}
        ahead = deadlines.outlook(actor=owner, now=now, shown=3)
        assert (ahead.overdue, {task.record_id for task in ahead.first}) == (3, told_late)

        pages, place = [], {}
        while not pages or place["after"]:
            page, _tasks = deadlines.deadline_page(
                actor=owner, now=now, late=False, query=place, size=2
            )
            pages.append(page)
            place = {"after": page.after}
        seen = [one.record_id for page in pages for one in page.rows]
        assert len(seen) == 6
        assert (set(seen[:3]), set(seen[3:])) == (told_late, waiting)
        page, _tasks = deadlines.deadline_page(
            actor=owner, now=now, late=False, query={"before": page.before}, size=2
        )
        assert len(page.rows) == 2

    def test_nobody_sees_another_business(
        self, stranger: Any, signed: Any, clean_draft: Any, now: datetime
    ) -> None:
        assert not deadlines.open_sheets(actor=stranger)
        assert deadlines.draft_tasks(actor=stranger, now=now) == []
        assert deadlines.outlook(actor=stranger, now=now, shown=3).overdue == 0
        assert not keeping.kept_records(actor=stranger, today=date(2040, 1, 1), may_go=True)

    def test_every_list_asks_for_the_right_to_see(self, business: Any, now: datetime) -> None:
        from dataclasses import dataclass

        @dataclass(frozen=True)
        class Blind:
            business: Any

            def must(self, right: Any) -> None:
                raise NotAllowed(right.value)

        blind: Any = Blind(business)
        for ask in (
            lambda: deadlines.open_sheets(actor=blind),
            lambda: deadlines.draft_tasks(actor=blind, now=now),
            lambda: keeping.kept_records(actor=blind, today=now.date(), may_go=True),
            lambda: keeping.holds(actor=blind),
            lambda: keeping.purged(actor=blind),
        ):
            with pytest.raises(NotAllowed):
                ask()


class TestFresh:
    def test_a_sheet_of_older_law_is_written_anew_when_somebody_looks(
        self, owner: Any, signed: Any
    ) -> None:
        DueSheet.objects.update(law="older", items=[], next_due_at=None)
        (sheet,) = deadlines.open_sheets(actor=owner)
        assert (sheet.law, sheet.next_due_at) == (duesheets.law(), START)

    def test_a_record_that_has_none_gets_one(self, owner: Any, signed: Any) -> None:
        DueSheet.objects.all().delete()
        assert duesheets.refresh_stale(business=owner.business) == 1
        assert duesheets.refresh_stale(business=owner.business) == 0
        assert DueSheet.objects.get().record == signed

    def test_a_draft_has_no_sheet(self, clean_draft: Any) -> None:
        assert duesheets.refresh(record_id=clean_draft.pk) is None
        assert duesheets.refresh(record_id=uuid.uuid4()) is None


def _in(owner: Any, yard: Any, entry: dict[str, Any], place: str) -> Any:
    """Return a record signed for a field of its own in this place."""
    field = make.FieldFactory(business=owner.business, customer=yard.customer, place=place)
    make.FieldLocationFactory(field=field)
    planting = make.PlantingFactory(field=field).pk
    draft = written(owner, {**entry, "field": field.pk, "planting": planting})
    return sealed_by(owner, draft, now=END, explained="Looked at again.")


def _sealed(owner: Any, yard: Any, entry: Any, number: int) -> None:
    for _ in range(number):
        field = make.FieldFactory(business=owner.business, customer=yard.customer)
        make.FieldLocationFactory(field=field)
        data = {**entry, "field": field.pk, "planting": make.PlantingFactory(field=field).pk}
        for signed in (True, False):
            draft = written(owner, data)
            if signed:
                sealed_by(owner, draft, now=END)


def test_the_number_of_queries_does_not_grow_with_the_book(
    owner: Any,
    yard: Any,
    entry: dict[str, Any],
    now: datetime,
) -> None:
    yard.label.applications_max = None
    yard.label.interval_days = None
    yard.label.season_max = None
    yard.label.reentry_hours = Decimal(12)
    yard.label.save()

    def count() -> int:
        with CaptureQueriesContext(
            connection,
        ) as asked:
            deadlines.tasks_of(deadlines.open_sheets(actor=owner), now=now)
            deadlines.draft_tasks(actor=owner, now=now)
            list(keeping.kept_records(actor=owner, today=now.date(), may_go=False))
        return len(asked)

    _sealed(owner, yard, entry, 1)
    few = count()
    _sealed(owner, yard, entry, 3)
    assert len(deadlines.draft_tasks(actor=owner, now=now)) == 8
    assert count() == few


@pytest.mark.parametrize(
    ("deadline", "words"),
    [
        ({"clock": "hours", "count": 24, "since": "end"}, "24 hours, from the end"),
        ({"clock": "hours", "count": 0, "since": "before start"}, "before the start"),
        ({"clock": "hours", "count": 24, "since": "before start"}, "24 h before the start"),
        (
            {"clock": "same local day", "since": "day of work"},
            "same local day, from the day of work",
        ),
        ({"clock": "fixed date", "day": 10}, "by day 10 of the next month"),
        ({"clock": "fixed date", "day": 31, "month": 1}, "by day 31 of January of the next year"),
    ],
)
def test_how_a_deadline_counts_is_said_in_words(deadline: dict[str, Any], words: str) -> None:
    made = Deadline(
        kind=Kind.RECORD,
        clock=Clock(deadline["clock"]),
        how_read=HowRead.LEGAL_TEXT,
        since=Since(deadline.get("since", "end")),
        count=deadline.get("count"),
        month=deadline.get("month"),
        day=deadline.get("day"),
    )
    assert owed.clock_words(made) == words


class TestToldAgain:
    """A sheet keeps English; a page tells it again in the language of who reads."""

    def test_every_clock_of_the_duty_sets_comes_back_as_it_was_kept(self) -> None:
        clocks = [owed.clock_words(one) for each in duty_sets() for one in each.deadlines]
        assert clocks
        for said in clocks:
            again = from_data(json.loads(json.dumps(to_data(said))))
            assert (again, again.template) == (said, said.template)

    def test_an_edition_is_a_name_and_not_a_number(self) -> None:
        said = msg("Label of {name}, edition {edition}", name="Sorghum Guard", edition="3.1")
        assert type(from_data(to_data(said)).values["edition"]) is str

    def test_a_value_that_cannot_be_kept_is_refused(self) -> None:
        with pytest.raises(TypeError, match="cannot be kept as part of a message"):
            to_data(msg("{one}", one=object()))

    def test_a_sheet_is_the_same_whoever_has_it_written(self, signed: Any) -> None:
        before = DueSheet.objects.get(record=signed).items
        with translation.override("es"):
            duesheets.refresh(record_id=signed.pk)
        assert DueSheet.objects.get(record=signed).items == before
