"""Shelf, season and deadlines: sorted, as files, page by page."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from logbook.records.reading import deadlines
from logbook.web.catalog.kinds import KINDS
from tests import factories as make


def table(answer: Any) -> list[dict[str, str]]:
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.mark.parametrize("kind", KINDS)
def test_every_shelf_is_a_file_of_its_columns(browser: Client, yard: Any, kind: str) -> None:
    rows = table(browser.get(reverse("shelf-csv", args=[kind])))
    assert rows
    book = b"".join(browser.get(reverse("shelf-xlsx", args=[kind])).streaming_content)
    assert book.startswith(b"PK")


def test_a_quantity_of_the_shelf_has_its_unit_in_its_own_column(browser: Client, yard: Any) -> None:
    (row,) = table(browser.get(reverse("shelf-csv", args=["rigs"])))
    assert row["Name"] == "Rig 1"
    units = {head: cell for head, cell in row.items() if head.endswith(" unit")}
    assert "gal" in units.values()
    assert "800" in row.values()


def test_the_file_of_a_shelf_is_searched_and_sorted_as_its_page(
    browser: Client, business: Any
) -> None:
    for name in ("Elm", "Fir", "Oak elm"):
        make.CustomerFactory(business=business, name=name)
    address = reverse("shelf-csv", args=["customers"])
    rows = table(browser.get(address, {"q": "elm", "sort": "reverse"}))
    assert [row["Name"] for row in rows] == ["Oak elm", "Elm"]
    page = browser.get(reverse("shelf-list", args=["customers"]), {"sort": "newest"})
    assert [row.name for row, _ in page.context["lines"]] == ["Oak elm", "Fir", "Elm"]


def test_an_order_that_is_none_is_refused_by_name(browser: Client, business: Any) -> None:
    answer = browser.get(reverse("shelf-list", args=["customers"]), {"sort": "odd"})
    assert answer.status_code == 303
    text = browser.get(answer["Location"]).content.decode()
    assert "“odd” is not taken for sort; allowed are reverse, newest." in text


def test_the_shelf_of_another_business_is_in_no_file(
    browser_of: Any, stranger: Any, yard: Any
) -> None:
    for kind in KINDS:
        assert table(browser_of(stranger).get(reverse("shelf-csv", args=[kind]))) == []


def test_the_season_is_a_file_with_totals_as_entered(browser: Client, signed: Any) -> None:
    (row,) = table(browser.get(reverse("season-csv"), {"year": "2026"}))
    assert (row["product"], row["total used"], row["total used unit"]) == (
        "Leafkill",
        "2752",
        "fl oz",
    )
    assert table(browser.get(reverse("season-csv"), {"year": "2025"})) == []
    page = browser.get(reverse("season"), {"year": "2026", "product": "Leafkill", "sort": "-last"})
    assert page.context["count"] == 1
    assert "as XLSX" in page.content.decode()


class TestDeadlines:
    @pytest.fixture
    def drafts(self, business: Any, now: datetime) -> list[Any]:
        """Twelve drafts of work done day by day."""
        field = make.FieldFactory(business=business)
        return [
            make.ApplicationRecordFactory(
                business=business,
                field=field,
                customer=field.customer,
                started_at=datetime(2026, 6, 1, 12, tzinfo=UTC) - timedelta(days=n),
                finished_at=datetime(2026, 6, 1, 13, tzinfo=UTC) - timedelta(days=n),
            )
            for n in range(12)
        ]

    def test_drafts_are_met_page_by_page_each_once_and_back(
        self, owner: Any, drafts: list[Any], now: datetime
    ) -> None:
        seen, query = [], {}
        while True:
            page, _ = deadlines.deadline_page(actor=owner, now=now, late=False, query=query, size=5)
            assert len(page.rows) <= 5
            seen += [row.record_id for row in page.rows]
            if not page.after:
                break
            query = {"after": page.after}
        assert (
            len(seen) == len(set(seen)) == len(deadlines.draft_sheets(actor=owner, now=now)) == 12
        )
        page, _ = deadlines.deadline_page(
            actor=owner, now=now, late=False, query={"before": page.before}, size=5
        )
        assert [row.record_id for row in page.rows] == seen[5:10]

    def test_a_place_that_is_none_is_refused(self, browser: Client, business: Any) -> None:
        answer = browser.get(reverse("deadlines"), {"after": "x"})
        assert answer.status_code == 422
        assert "follow the links" in answer.content.decode()
