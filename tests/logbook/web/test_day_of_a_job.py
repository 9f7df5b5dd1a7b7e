"""A job over midnight, at the year's end: every surface has it on the day on which it began."""

from __future__ import annotations

import csv
import io
import uuid
from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from logbook.documents.record import render_record
from logbook.records.exchange.export import Selection, csv_pieces
from logbook.records.reading import selectors
from logbook.records.reading.audit import sealed_work
from logbook.records.reading.examine import examine
from logbook.records.reading.totals import totals
from logbook.records.sealing.sealed import read_seal
from logbook.records.writing.draft import begin_draft, save_draft
from tests.conftest import sealed_by, written
from tests.logbook.documents.reading import whole

pytestmark = pytest.mark.django_db

BEGAN, ENDED = date(2025, 12, 31), date(2026, 1, 1)


@pytest.fixture
def job(owner: Any, entry: dict[str, Any]) -> Any:
    """A sealed job from 22:30 on New Year's Eve to 01:30, by the clock at the field."""
    times = {
        "started_at": datetime(2025, 12, 31, 22, 30),  # noqa: DTZ001
        "finished_at": datetime(2026, 1, 1, 1, 30),  # noqa: DTZ001
    }
    draft = written(owner, entry | times | {"weather": []})
    return sealed_by(owner, draft, now=datetime(2026, 8, 1, tzinfo=UTC), explained="For a test.")


@pytest.mark.parametrize(("day", "counted"), [(BEGAN, 1), (ENDED, 0)])
def test_it_is_found_counted_and_handed_out_by_the_day_on_which_it_began(
    owner: Any, browser: Client, job: Any, day: date, counted: int
) -> None:
    span = {"day_from": day, "day_to": day}
    assert selectors.book(actor=owner, **span).count() == counted
    assert selectors.book(actor=owner, year=day.year).count() == counted
    assert len(selectors.season(actor=owner, year=day.year)) == counted
    assert totals(actor=owner, **span).records == counted
    assert sealed_work(actor=owner, year=day.year).count() == counted
    rows = csv.DictReader(
        io.StringIO("".join(csv_pieces(actor=owner, selection=Selection(**span))))
    )
    assert [row["date"] for row in rows] == [str(BEGAN)] * counted
    assert (
        len(browser.get("/api/v1/records/", {"from": day, "to": day}).json()["results"]) == counted
    )


def test_pages_and_paper_show_both_days(browser: Client, job: Any) -> None:
    both = f"{BEGAN} to {ENDED}"
    for address in (reverse("book"), reverse("record", args=[job.pk])):
        assert both in browser.get(address, headers={"Accept-Language": "en"}).content.decode()
    paper = whole(render_record(read_seal(job.seal)))
    assert both in paper


def test_the_file_of_the_book_has_the_first_day_and_both_times(browser: Client, job: Any) -> None:
    text = b"".join(browser.get(reverse("book-csv"))).decode("utf-8-sig")
    (row,) = csv.DictReader(io.StringIO(text))
    assert row["day"] == str(BEGAN)
    assert (row["started"], row["finished"]) == ("2025-12-31 22:30", "2026-01-01 01:30")


def test_a_later_record_counts_it_in_the_year_in_which_it_began(
    owner: Any, entry: dict[str, Any], job: Any
) -> None:
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    times = {
        "started_at": datetime(2026, 1, 10, 9, 0),  # noqa: DTZ001
        "finished_at": datetime(2026, 1, 10, 10, 0),  # noqa: DTZ001
    }
    save_draft(actor=owner, record_id=draft.pk, revision=1, data=entry | times | {"weather": []})
    (use,) = examine(actor=owner, record_id=draft.pk).snapshot.earlier
    assert use.applied_on == BEGAN


def test_a_draft_with_an_end_alone_is_found_on_the_day_of_its_end(
    owner: Any, entry: dict[str, Any]
) -> None:
    ended = datetime(2026, 1, 1, 1, 30)  # noqa: DTZ001
    draft = written(owner, entry | {"started_at": None, "finished_at": ended, "weather": []})
    assert draft.day == ENDED
    for day, counted in ((BEGAN, 0), (ENDED, 1)):
        assert selectors.book(actor=owner, day_from=day, day_to=day).count() == counted
