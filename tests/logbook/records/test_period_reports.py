"""A report to an authority by a fixed date: one for all records of the period, settled once."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from logbook.law.clocks import Standing
from logbook.records.models import DueSheet, DutyEntry
from logbook.records.reading import deadlines, verification
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.draft import save_draft
from logbook.records.writing.entries import add_duty_entry, strike_duty_entry
from logbook.records.writing.purge import purge
from tests.conftest import sealed_by, written
from tests.logbook.records.test_deadlines import tell

# ECL 33-1205(1): all applications of a year, by 1 February of the next.
LAST = datetime(2027, 2, 2, 5, 0, tzinfo=UTC) - timedelta(microseconds=1)
SENT = datetime(2027, 1, 20, 15, 0, tzinfo=UTC)


@pytest.fixture
def new_york(yard: Any) -> None:
    yard.field.place, yard.field.time_zone = "US-NY", "America/New_York"
    yard.field.save()
    yard.person.licences.update(place="US-NY")


@pytest.fixture
def seal_in(owner: Any, entry: dict[str, Any], new_york: None) -> Callable[..., Any]:
    def sealed(month: int, year: int = 2026, at: datetime | None = None) -> Any:
        work = {
            name: entry[name].replace(year=year, month=month)
            for name in ("started_at", "finished_at")
        }
        draft = written(owner, entry | work | {"weather": []})
        now = at or datetime(year, month, 12, 20, tzinfo=UTC)
        return sealed_by(owner, draft, now=now, explained="Looked at again.")

    return sealed


def test_it_is_one_task_that_lists_its_records(owner: Any, seal_in: Any) -> None:
    first, second = seal_in(4), seal_in(6)
    (task,) = deadlines.period_tasks(actor=owner, now=SENT)
    assert (task.record_id, task.numbers) == (first.pk, (1, 2))
    assert (task.item.due, task.standing) == (LAST, Standing.OPEN)
    assert task.of_what == "2026, no. 1 to 2"
    assert deadlines.period_tasks(actor=owner, now=LAST + timedelta(seconds=1))[0].standing is (
        Standing.OVERDUE
    )
    # It stands on no line of a record, and once in the list.
    assert not deadlines.tasks_of(DueSheet.objects.filter(record=second), now=SENT) or all(
        one.item.kind != "report"
        for one in deadlines.tasks_of(DueSheet.objects.filter(record=second), now=SENT)
    )
    _page, tasks = deadlines.deadline_page(actor=owner, now=SENT, late=False, query={}, size=50)
    assert [one.numbers for one in tasks if one.item.kind == "report"] == [(1, 2)]


def test_it_is_settled_once_for_all_that_were_signed_by_then(owner: Any, seal_in: Any) -> None:
    first, second = seal_in(4), seal_in(6)
    entry = tell(owner, second, "report", SENT)
    assert deadlines.period_tasks(actor=owner, now=SENT) == []
    items, _entries = deadlines.of_record(record=first, snapshot=None)  # type: ignore[arg-type]
    (report,) = [item for item in items if item.period]
    assert (report.done_at, report.standing(LAST)) == (SENT, Standing.DONE)
    # One that was signed later is not in what was sent.
    late = seal_in(10, at=SENT + timedelta(days=1))
    (task,) = deadlines.period_tasks(actor=owner, now=SENT)
    assert (task.record_id, task.numbers) == (late.pk, (1, 2, 3))
    tell(owner, late, "report", SENT + timedelta(days=2))
    assert deadlines.period_tasks(actor=owner, now=SENT) == []
    strike_duty_entry(
        actor=owner,
        record_id=second.pk,
        entry_id=entry.pk,
        new_id=uuid.uuid4(),
        reason="It was not sent.",
        now=SENT + timedelta(days=3),
    )
    assert deadlines.period_tasks(actor=owner, now=SENT) == []
    assert verification.verify(business=owner.business).broken is None


def test_each_year_has_its_own_and_a_correction_opens_none(owner: Any, seal_in: Any) -> None:
    first = seal_in(4)
    seal_in(4, 2027)
    periods = [one.item.period for one in deadlines.period_tasks(actor=owner, now=SENT)]
    assert periods == ["us-ny 2026", "us-ny 2027"]
    tell(owner, first, "report", SENT)
    amendment = begin_amendment(
        actor=owner, record_id=first.pk, new_id=uuid.uuid4(), reason="The note was wrong."
    )
    amendment = save_draft(
        actor=owner,
        record_id=amendment.pk,
        revision=amendment.revision,
        data={"note": "As it should read."},
    )
    sealed_by(owner, amendment, now=SENT + timedelta(days=99), explained="Looked at again.")
    assert [one.item.period for one in deadlines.period_tasks(actor=owner, now=SENT)] == [
        "us-ny 2027"
    ]


def test_what_was_sent_stays_written_down_when_its_record_is_purged(
    owner: Any, seal_in: Any, confirmed: Any
) -> None:
    first, second = seal_in(4, 2018), seal_in(6, 2018)
    sent = datetime(2019, 1, 20, 15, tzinfo=UTC)
    tell(owner, first, "report", sent, note="By the form.")
    purge(
        actor=owner,
        record_id=first.pk,
        reason="Its days of keeping are over.",
        confirmation=confirmed(owner),
        now=datetime(2024, 1, 1, tzinfo=UTC),
    )
    assert deadlines.period_tasks(actor=owner, now=SENT) == []
    entry = DutyEntry.objects.get()
    assert (entry.record_id, entry.given_at) == (second.pk, sent)
    assert "it stood with no. 1, which was purged. By the form." in entry.note
    assert verification.verify(business=owner.business).broken is None


def test_a_draft_waits_for_its_signature_and_nothing_is_asked_where_no_set_does(
    owner: Any, entry: dict[str, Any], signed: Any
) -> None:
    # N.D. Admin. Code 60-03-01: no report by a fixed date.
    assert deadlines.period_tasks(actor=owner, now=SENT) == []
    assert DueSheet.objects.get().report_of == ""


def test_the_count_of_queries_does_not_grow_with_the_records(owner: Any, seal_in: Any) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as found:
            deadlines.period_tasks(actor=owner, now=SENT)
        return len(found)

    seal_in(4)
    before = asked()
    for month in (5, 6, 7):
        seal_in(month)
    assert asked() == before


def test_pages_and_api_show_one_line_and_take_one_entry(owner: Any, seal_in: Any) -> None:
    browser = Client()
    browser.force_login(owner.user, backend="django.contrib.auth.backends.ModelBackend")
    first, _second = seal_in(4), seal_in(6)
    page = browser.get("/deadlines/").text
    assert "2026: 2 records" in page
    assert "no. 1 to 2" in page
    (line,) = browser.get("/api/v1/deadlines/reports/").json()["results"]
    assert (line["period"], line["numbers"], line["record"]) == ("2026", [1, 2], str(first.pk))
    assert line["due"]["kind"] == "report"
    assert "One report for all records of 2026" in browser.get(f"/book/{first.pk}/duties/").text
    add_duty_entry(
        actor=owner,
        record_id=first.pk,
        entry_id=uuid.uuid4(),
        data={"kind": "report", "to_whom": "DEC", "how": "post", "given_at": SENT},
        now=SENT,
    )
    assert "2026: 2 records" not in browser.get("/deadlines/").text
    assert browser.get("/api/v1/deadlines/reports/").json()["results"] == []


@pytest.mark.parametrize(
    ("numbers", "said"), [((1,), "no. 1"), ((1, 2, 3, 5), "no. 1 to 3, 5"), ((2, 4), "no. 2, 4")]
)
def test_numbers_are_said_in_short(numbers: tuple[int, ...], said: str) -> None:
    assert deadlines.spans(numbers) == said
