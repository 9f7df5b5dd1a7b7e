"""The duties of a job that was broken off and resumed: each day its record, each with its clocks.

25 NAC 2-006.01D (legal text): "If an application is suspended for any reason, the proper procedure
is that a separate application record is made for each day of application with the specific area
treated for each separate date clearly recorded."
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from logbook.accounts.services import Confirmation
from logbook.facts.duty import HowRead
from logbook.records.models import DueSheet
from logbook.records.reading import duesheets, owed
from logbook.records.reading.examine import examine
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.entries import add_duty_entry
from logbook.records.writing.resume import begin_resumption
from logbook.records.writing.sign import sign
from tests import factories as make
from tests.conftest import said_of

ZONE = ZoneInfo("America/Chicago")  # of the yard's field
PRESENT = {"loads": [], "weather": []}


def at(text: str) -> datetime:
    """Return what the clock on the wall at the field shows."""
    return datetime.fromisoformat(text)


def local(instant: datetime | None) -> str:
    assert instant is not None
    return f"{instant.astimezone(ZONE):%Y-%m-%d %H:%M:%S}"


@pytest.fixture
def job(owner: Any, yard: Any, entry: dict[str, Any]) -> Callable[..., list[Any]]:
    """Return the drafts of a job in a state: one for each pair of start and end, in order."""

    def made(place: str, *days: tuple[str, str], restricted: bool = True) -> list[Any]:
        yard.field.place = place
        yard.field.save()
        yard.label.restricted_use = restricted
        yard.label.save()
        records: list[Any] = []
        for start, end in days:
            new_id = uuid.uuid4()
            if records:
                draft = begin_resumption(actor=owner, record_id=records[-1].pk, new_id=new_id)
                data = {"treated_area": make.q("40 ac"), "mix_used": make.q("600 gal")}
            else:
                draft = begin_draft(actor=owner, record_id=new_id)
                data = entry | PRESENT
            data |= {"started_at": at(start), "finished_at": at(end)}
            records.append(
                save_draft(actor=owner, record_id=draft.pk, revision=draft.revision, data=data)
            )
        return records

    return made


def signed(actor: Any, draft: Any, when: str) -> Any:
    draft.refresh_from_db()
    findings = examine(actor=actor, record_id=draft.pk).report.findings
    sign(
        actor=actor,
        record_id=draft.pk,
        revision=draft.revision,
        explanations={one.key: said_of(one, "As it was then.") for one in findings},
        confirmation=Confirmation(user=actor.user),
        now=at(when).replace(tzinfo=ZONE),
    )
    draft.refresh_from_db()
    return draft


def item(record: Any, kind: str) -> owed.Item:
    (found,) = [
        one for one in duesheets.items_on(DueSheet.objects.get(record=record)) if one.kind == kind
    ]
    return found


def codes(actor: Any, draft: Any) -> set[str]:
    return {one.code for one in examine(actor=actor, record_id=draft.pk).report.findings}


EVENING, MORNING = (
    ("2026-06-12 14:00", "2026-06-12 20:30"),
    ("2026-06-13 06:00", "2026-06-13 09:15"),
)


def test_each_day_is_a_record_with_an_area_and_clocks_of_its_own(
    owner: Any, job: Callable[..., list[Any]]
) -> None:
    first, rest = job("US-NE", EVENING, MORNING)
    assert (str(first.treated_area), str(rest.treated_area)) == ("125.1 ac", "40 ac")
    assert "one-record-each" not in codes(owner, first) | codes(owner, rest)
    for record, end in ((first, "2026-06-12"), (rest, "2026-06-13")):
        signed(owner, record, "2026-06-13 12:00")
        assert record.finished_at.astimezone(ZONE).date().isoformat() == end
    # 25 NAC 2-006, the 48 hours of commercial applicators: from memory.
    assert local(item(first, "record").due) == "2026-06-14 20:30:00"
    assert local(item(rest, "record").due) == "2026-06-15 09:15:00"
    # 7 U.S.C. 136i-1(a)(2): within 30 days of an application; each day is one.
    assert local(item(first, "copy").due) == "2026-07-12 23:59:59"
    assert local(item(rest, "copy").due) == "2026-07-13 23:59:59"


def test_the_farm_is_told_before_each_start(owner: Any, job: Callable[..., list[Any]]) -> None:
    # 40 CFR 170.313 by way of EPA's fact sheet: before the application; each has its own times.
    first, rest = job("US-NE", EVENING, MORNING)
    for record in (first, rest):
        signed(owner, record, "2026-06-13 12:00")
    told = at("2026-06-12 08:00").replace(tzinfo=ZONE)
    data = {"kind": "notice before", "to_whom": "Farm", "how": "telephone", "given_at": told}
    add_duty_entry(
        actor=owner, record_id=first.pk, entry_id=uuid.uuid4(), data=data, now=first.signed_at
    )
    assert not item(first, "notice before").open
    assert item(rest, "notice before").open
    assert local(item(rest, "notice before").due) == "2026-06-13 06:00:00"


def test_a_night_in_one_record_is_a_breach_and_in_two_it_is_none(
    owner: Any, job: Callable[..., list[Any]]
) -> None:
    (night,) = job("US-NE", ("2026-06-12 21:00", "2026-06-13 02:00"))
    assert "one-record-each" in codes(owner, night)
    before, after = job(
        "US-NE", ("2026-06-12 21:00", "2026-06-12 23:59"), ("2026-06-13 00:00", "2026-06-13 02:00")
    )
    assert "one-record-each" not in codes(owner, before) | codes(owner, after)


def test_at_the_close_of_each_day_two_records_of_a_night_close_with_their_own(
    owner: Any, job: Callable[..., list[Any]]
) -> None:
    # South Dakota's checklist for commercial applicators: current at the close of each day.
    before, after = job(
        "US-SD", ("2026-06-12 21:00", "2026-06-12 23:59"), ("2026-06-13 00:00", "2026-06-13 02:00")
    )
    signed(owner, before, "2026-06-13 02:30")
    signed(owner, after, "2026-06-13 02:30")
    assert local(item(before, "record").due) == "2026-06-12 23:59:59"
    assert local(item(after, "record").due) == "2026-06-13 23:59:59"
    # Signed when the night was over, the record of the first day is late, and stays so.
    assert DueSheet.objects.get(record=before).late_count == 1
    assert DueSheet.objects.get(record=after).late_count == 0


def test_hours_run_on_over_the_change_of_clocks_from_the_end_of_each_day(
    owner: Any, job: Callable[..., list[Any]]
) -> None:
    # Clocks in Chicago went from 2:00 to 3:00 on 8 March 2026. N.D. Admin. Code 60-03-01-07(2):
    # 24 hours, from memory.
    first, rest = job(
        "US-ND", ("2026-03-07 13:00", "2026-03-07 15:00"), ("2026-03-08 08:00", "2026-03-08 10:00")
    )
    for record in (first, rest):
        signed(owner, record, "2026-03-08 12:00")
    assert local(item(first, "record").due) == "2026-03-08 16:00:00"
    assert local(item(rest, "record").due) == "2026-03-09 10:00:00"


def test_a_job_resumed_in_the_hour_that_the_clocks_repeat_begins_after_it_was_broken_off(
    owner: Any, job: Callable[..., list[Any]]
) -> None:
    # Clocks in Chicago go from 2:00 back to 1:00 on 1 November 2026: 1:10 comes twice.
    first, rest = job(
        "US-SD", ("2026-11-01 00:20", "2026-11-01 01:40"), ("2026-11-01 01:10", "2026-11-01 01:50")
    )
    assert rest.started_at - first.finished_at == timedelta(minutes=30)
    assert rest.finished_at - rest.started_at == timedelta(minutes=40)


def test_the_strictest_clock_holds_for_each_day(
    owner: Any, yard: Any, job: Callable[..., list[Any]]
) -> None:
    # A label's own 12 hours beside the 48 of 25 NAC 2-006, from memory.
    first, rest = job("US-NE", EVENING, MORNING)
    yard.label.deadlines.create(kind="record", clock="hours", count=12, since="end")
    for record in (first, rest):
        signed(owner, record, "2026-06-13 10:00")
    assert local(item(first, "record").due) == "2026-06-13 08:30:00"
    assert local(item(rest, "record").due) == "2026-06-13 21:15:00"
    assert item(first, "record").set_id.startswith("label-")
    assert [DueSheet.objects.get(record=one).late_count for one in (first, rest)] == [1, 0]


def test_south_dakota_gives_the_customer_a_copy_of_each_day_where_the_product_is_restricted(
    owner: Any, job: Callable[..., list[Any]]
) -> None:
    # South Dakota's checklist for commercial applicators: "within 30 days of the date of
    # application"; 7 U.S.C. 136i-1(a)(2) gives the same days.
    records = [signed(owner, one, "2026-06-13 12:00") for one in job("US-SD", EVENING, MORNING)]
    assert [local(item(one, "copy").due) for one in records] == [
        "2026-07-12 23:59:59",
        "2026-07-13 23:59:59",
    ]
    assert {item(one, "copy").how_read for one in records} <= {
        HowRead.AGENCY_PAGE,
        HowRead.LEGAL_TEXT,
    }
    given = {"kind": "copy", "to_whom": "The customer", "how": "post"}
    add_duty_entry(
        actor=owner,
        record_id=records[0].pk,
        entry_id=uuid.uuid4(),
        data=given | {"given_at": records[0].signed_at},
        now=records[0].signed_at,
    )
    # A copy of the first day's record is none of the second's.
    assert [item(one, "copy").open for one in records] == [False, True]


def test_without_a_restricted_product_a_copy_is_due_to_who_asks_alone(
    owner: Any, job: Callable[..., list[Any]]
) -> None:
    # ARSD 12:56:07:04: upon written request.
    (record,) = job("US-SD", EVENING, restricted=False)
    signed(owner, record, "2026-06-12 22:00")
    assert "copy" not in {
        one.kind for one in duesheets.items_on(DueSheet.objects.get(record=record))
    }
