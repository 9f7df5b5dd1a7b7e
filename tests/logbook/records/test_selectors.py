"""Lists and totals of the book: what counts once, what is not seen, what stays open."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from logbook.errors.exceptions import NotAllowed, NotThere
from logbook.facts.quantity import Absence, Nothing, Quantity
from logbook.records.reading import deadlines, duesheets, selectors
from logbook.records.reading.audit import sealed_work
from logbook.records.reading.totals import totals
from logbook.records.writing.draft import begin_draft
from tests import factories as make
from tests.conftest import said_of, sealed_by, written


class TestClosedFields:
    def test_a_field_is_closed_from_the_end_until_the_longest_interval_of_the_mix_is_over(
        self, owner: Any, yard: Any, now: datetime, request: pytest.FixtureRequest
    ) -> None:
        # The clean draft ended at 12:00 CDT on 12 June 2026 (17:00 UTC).
        yard.label.reentry_hours = Decimal(48)
        yard.label.save()
        signed = request.getfixturevalue("signed")
        # What was sealed holds, whatever is written on the shelf afterwards.
        yard.label.reentry_hours = Decimal(0)
        yard.label.save()
        (closed,) = selectors.closed_fields(actor=owner, now=now)
        assert closed.ends_at == signed.finished_at + timedelta(hours=48)
        assert closed.products == ("Leafkill",)
        assert selectors.closed_fields(actor=owner, now=closed.ends_at) == []

    def test_the_interval_counts_in_elapsed_hours_across_a_change_of_clocks(
        self, owner: Any, entry: dict[str, Any], yard: Any
    ) -> None:
        # Ended 2025-11-01 18:00 CDT, 12 h: open at 05:00 CST, computed; 40 CFR 170 counts hours
        # from the end.
        from logbook.records.writing.draft import save_draft

        yard.label.reentry_hours = Decimal(12)
        yard.label.in_force_from = datetime(2025, 1, 1).date()  # noqa: DTZ001
        yard.label.save()
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        entry |= {
            "started_at": datetime(2025, 11, 1, 16),  # noqa: DTZ001
            "finished_at": datetime(2025, 11, 1, 18),  # noqa: DTZ001
            "weather": [],
        }
        saved = save_draft(actor=owner, record_id=draft.pk, revision=1, data=entry)
        (closed,) = selectors.closed_fields(
            actor=owner, now=saved.finished_at + timedelta(minutes=1)
        )
        assert closed.ends_at == datetime(2025, 11, 2, 11, tzinfo=UTC)  # 05:00 CST

    def test_a_label_without_an_interval_closes_nothing(
        self, owner: Any, yard: Any, now: datetime, request: pytest.FixtureRequest
    ) -> None:
        yard.label.reentry_hours = None
        yard.label.save()
        request.getfixturevalue("signed")
        assert selectors.closed_fields(actor=owner, now=now) == []


class TestSeason:
    def test_it_sums_the_totals_entered_unit_by_unit(self) -> None:
        answers = [
            Quantity(Decimal("1.50"), "gal"),
            Quantity(Decimal("2.25"), "gal"),
            Quantity(Decimal(3), "L"),
            Nothing(Absence.NONE),
            None,
        ]
        assert [str(total) for total in selectors.sums(answers)] == ["3.75 gal", "3 L"]

    def test_a_draft_does_not_count(self, owner: Any, clean_draft: Any) -> None:
        assert selectors.season(actor=owner, year=2026) == []

    def test_a_signed_record_counts_in_its_year_alone(self, owner: Any, signed: Any) -> None:
        (line,) = selectors.season(actor=owner, year=2026)
        # 2752 fl oz on 125.1 ac; definition of a rate.
        assert [str(rate) for rate in line.used] == ["21.998401278 fl oz/ac"]
        assert [str(rate) for rate in line.used_shown] == ["22.0 fl oz/ac"]
        assert line.used_from == ()
        assert (line.field.name, line.product.name) == ("North L", "Leafkill")
        assert line.applications == 1
        assert [str(total) for total in line.total] == ["2752 fl oz"]
        assert line.last_record_id == signed.pk
        assert selectors.season(actor=owner, year=2025) == []

    def test_the_year_is_that_of_the_clock_at_the_field(
        self, owner: Any, entry: dict[str, Any], request: pytest.FixtureRequest, confirmed: Any
    ) -> None:
        # 19:30 on 31 December in Chicago is 01:30 of the next year in UTC.
        from logbook.records.reading.examine import examine
        from logbook.records.writing.draft import save_draft
        from logbook.records.writing.sign import sign

        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        times = {
            "started_at": datetime(2025, 12, 31, 19, 30),  # noqa: DTZ001
            "finished_at": datetime(2025, 12, 31, 20, 30),  # noqa: DTZ001
        }
        saved = save_draft(
            actor=owner, record_id=draft.pk, revision=1, data=entry | times | {"weather": []}
        )
        found = examine(actor=owner, record_id=draft.pk).report.findings
        sign(
            actor=owner,
            record_id=draft.pk,
            revision=saved.revision,
            explanations={
                finding.key: said_of(finding, "Made for this test.") for finding in found
            },
            confirmation=confirmed(owner),
            now=datetime(2026, 1, 2, tzinfo=UTC),
        )
        assert len(selectors.season(actor=owner, year=2025)) == 1
        assert selectors.season(actor=owner, year=2026) == []

    def test_it_is_narrowed_to_a_customer(
        self, owner: Any, business: Any, signed: Any, yard: Any
    ) -> None:
        other = make.CustomerFactory(business=business)
        assert selectors.season(actor=owner, year=2026, customer_id=other.pk) == []
        assert len(selectors.season(actor=owner, year=2026, customer_id=yard.customer.pk)) == 1

    def test_the_intervals_of_the_last_use_stand_beside_it(
        self, owner: Any, yard: Any, request: pytest.FixtureRequest
    ) -> None:
        yard.label.preharvest_days = 21
        yard.label.reentry_hours = None
        yard.label.save()
        signed = request.getfixturevalue("signed")
        (line,) = selectors.season(actor=owner, year=2026)
        # Pre-harvest: the day it ended plus the interval; the day itself is never day 1 (NPIC).
        assert line.harvest_from == (signed.finished_at + timedelta(days=21)).date()
        assert line.reentry_ends is None
        assert line.local_reentry == ""

    def test_a_field_that_changed_hands_stands_once_for_each_customer(
        self, owner: Any, entry: dict[str, Any], yard: Any, signed: Any
    ) -> None:
        # By name the buyer comes before the seller, by time after it.
        buyer = make.CustomerFactory(business=owner.business, name="Adam farm")
        assert yard.customer.name > buyer.name
        yard.field.customer = buyer
        yard.field.save()
        later = worked(owner, {**entry, "customer": buyer.pk}, datetime(2026, 7, 13, 9))  # noqa: DTZ001
        first, second = selectors.season(actor=owner, year=2026)
        assert (first.customer.name, first.customer_id) == ("Adam farm", str(buyer.pk))
        assert second.customer_id == str(yard.customer.pk)
        assert second.customer.name == yard.customer.name
        assert (first.record_ids, second.record_ids) == ((later.pk,), (signed.pk,))
        assert [str(one.total[0]) for one in (first, second)] == ["2752 fl oz", "2752 fl oz"]
        assert [f"{one.last_on}" for one in (first, second)] == ["2026-07-13", "2026-06-12"]

    @pytest.mark.parametrize("signed_last", ["the later work", "the earlier work"])
    def test_a_longer_interval_of_an_earlier_edition_holds_to_its_end(
        self, owner: Any, entry: dict[str, Any], yard: Any, signed_last: str
    ) -> None:
        def work(month: int, day: int, *, preharvest: int, hours: int) -> Any:
            yard.label.preharvest_days, yard.label.reentry_hours = preharvest, Decimal(hours)
            yard.label.save()
            return worked(owner, entry, datetime(2026, month, day, 9))  # noqa: DTZ001

        works = [
            lambda: work(6, 12, preharvest=90, hours=24 * 60),
            lambda: work(7, 13, preharvest=7, hours=4),
        ]
        done = [one() for one in (works if signed_last == "the later work" else works[::-1])]
        early, late = sorted(done, key=lambda record: record.started_at)
        (line,) = selectors.season(actor=owner, year=2026)
        # Computed: 12 June and 90 days is 10 September; 13 July and 7 days is 20 July.
        assert f"{line.harvest_from}" == "2026-09-10"
        assert line.reentry_ends == early.finished_at + timedelta(days=60)
        assert (line.last_record_id, f"{line.last_on}") == (late.pk, "2026-07-13")
        assert (line.applications, str(line.total[0])) == (2, "5504 fl oz")

    def test_a_work_of_new_year_s_night_counts_once_by_the_day_on_which_it_began(
        self, owner: Any, entry: dict[str, Any]
    ) -> None:
        record = worked(owner, entry, datetime(2025, 12, 31, 23, 30))  # noqa: DTZ001
        for year, counted in ((2025, 1), (2026, 0)):
            asked = {"day_from": date(year, 1, 1), "day_to": date(year, 12, 31)}
            assert len(selectors.season(actor=owner, year=year)) == counted
            assert totals(actor=owner, **asked).records == counted
            assert list(sealed_work(actor=owner, year=year)) == [record] * counted

    def test_the_number_of_queries_does_not_depend_on_the_rows(
        self, owner: Any, entry: dict[str, Any], signed: Any, now: datetime
    ) -> None:
        def asked() -> int:
            with CaptureQueriesContext(connection) as queries:
                selectors.season(actor=owner, year=2026)
                selectors.closed_fields(actor=owner, now=now)
                deadlines.tasks_of(deadlines.open_sheets(actor=owner), now=now)
            return len(queries)

        asked()
        few = asked()
        for day in (10, 11):
            worked(owner, entry, datetime(2026, 6, day, 9))  # noqa: DTZ001
        duesheets.refresh_stale(business=owner.business)
        assert asked() == few
        assert selectors.season(actor=owner, year=2026)[0].applications == 3


def worked(owner: Any, entry: dict[str, Any], begin: datetime) -> Any:
    """Return a sealed record of an hour's work from `begin` on, by the clock at the field."""
    times = {"started_at": begin, "finished_at": begin + timedelta(hours=1), "weather": []}
    signed_at = datetime(2026, 8, 1, tzinfo=UTC)
    return sealed_by(owner, written(owner, entry | times), now=signed_at, explained="For the test.")


class TestTenants:
    def test_no_list_shows_another_business(
        self, stranger: Any, owner: Any, signed: Any, now: datetime
    ) -> None:
        assert not selectors.book(actor=stranger).exists()
        assert selectors.season(actor=stranger, year=2026) == []
        assert selectors.closed_fields(actor=stranger, now=now) == []
        assert not selectors.drafts(actor=stranger).exists()
        own = [use.load_id for use in signed.load_uses.all()]
        asked = {"rig_id": signed.rig_id, "about": signed.started_at, "own": own}
        assert own
        assert [load.pk for load in selectors.tanks(actor=owner, **asked)] == own
        assert selectors.tanks(actor=stranger, **asked) == []
        with pytest.raises(NotThere):
            selectors.seal_of(actor=stranger, record_id=signed.pk)
        with pytest.raises(NotThere):
            selectors.existing(actor=stranger, record_id=signed.pk)

    def test_a_draft_has_no_seal(self, owner: Any, clean_draft: Any) -> None:
        with pytest.raises(NotThere):
            selectors.seal_of(actor=owner, record_id=clean_draft.pk)


class TestBook:
    def test_the_newest_work_comes_first(self, owner: Any, clean_draft: Any) -> None:
        undated = begin_draft(actor=owner, record_id=uuid.uuid4())
        assert list(selectors.book(actor=owner)) == [undated, clean_draft]

    def test_days_narrow_it(self, owner: Any, clean_draft: Any) -> None:
        day = clean_draft.started_at.date()
        rows = selectors.book(actor=owner, day_from=day, day_to=day)
        assert list(rows) == [clean_draft]
        assert not selectors.book(actor=owner, day_from=day + timedelta(days=1)).exists()
        assert not selectors.book(actor=owner, day_to=day - timedelta(days=1)).exists()

    def test_it_is_narrowed_to_a_field(self, owner: Any, clean_draft: Any, yard: Any) -> None:
        assert selectors.book(actor=owner, field_id=yard.field.pk).count() == 1
        assert selectors.book(actor=owner, field_id=uuid.uuid4()).count() == 0

    def test_every_list_asks_for_the_right_to_see(self, owner: Any, now: datetime) -> None:
        from dataclasses import dataclass

        @dataclass(frozen=True)
        class Blind:
            business: Any

            def must(self, right: Any) -> None:
                raise NotAllowed(right.value)

        blind: Any = Blind(owner.business)
        for ask in (
            lambda: selectors.book(actor=blind),
            lambda: selectors.season(actor=blind, year=2026),
            lambda: selectors.closed_fields(actor=blind, now=now),
            lambda: selectors.seal_of(actor=blind, record_id=uuid.uuid4()),
        ):
            with pytest.raises(NotAllowed):
                ask()
