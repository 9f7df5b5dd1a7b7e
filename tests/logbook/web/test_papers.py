"""The papers of a record and the totals by product: who gets them, and what is refused."""

from __future__ import annotations

import csv
import io
import json
import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime
from html import unescape
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from logbook.records.writing.draft import begin_draft
from logbook.records.writing.entries import add_duty_entry, strike_duty_entry
from tests import factories as make
from tests.logbook.documents.reading import Page, has, whole

OF_A_RECORD = ("record-notice-before", "record-posting", "record-copy", "record-notice-completed")
FILES = ("season-totals-pdf", "season-totals-csv", "season-totals-json")
SIGNED_IN = {"from": "2026-06-01", "to": "2026-06-30"}


def text_of(answer: Any) -> Page:
    assert answer["Content-Type"] == "application/pdf"
    return whole(answer.content)


class TestDoors:
    @pytest.mark.parametrize("name", OF_A_RECORD)
    def test_a_visitor_is_sent_to_the_login(self, client: Client, signed: Any, name: str) -> None:
        answer = client.get(reverse(name, args=[signed.pk]))
        assert answer.status_code == 302
        assert answer["Location"].startswith(reverse("login"))

    @pytest.mark.parametrize("name", ["season-totals", *FILES])
    def test_the_totals_need_a_login_too(self, db: None, client: Client, name: str) -> None:
        assert client.get(reverse(name)).status_code == 302

    @pytest.mark.parametrize("name", OF_A_RECORD)
    def test_another_business_finds_nothing(
        self, stranger: Any, signed: Any, browser_of: Callable[[Any], Client], name: str
    ) -> None:
        address = reverse(name, args=[signed.pk])
        assert browser_of(stranger).get(address).status_code == 404

    @pytest.mark.parametrize("name", OF_A_RECORD)
    def test_a_record_that_is_not_there_is_not_found(self, browser: Client, name: str) -> None:
        assert browser.get(reverse(name, args=[uuid.uuid4()])).status_code == 404

    @pytest.mark.parametrize("name", OF_A_RECORD)
    def test_every_member_may_print(
        self, helper: Any, signed: Any, browser_of: Callable[[Any], Client], name: str
    ) -> None:
        assert browser_of(helper).get(reverse(name, args=[signed.pk])).status_code == 200

    @pytest.mark.parametrize("name", OF_A_RECORD)
    def test_a_paper_is_only_fetched(self, browser: Client, signed: Any, name: str) -> None:
        assert browser.post(reverse(name, args=[signed.pk])).status_code == 405

    @pytest.mark.parametrize("name", FILES)
    def test_another_business_has_other_totals(
        self, stranger: Any, signed: Any, browser_of: Callable[[Any], Client], name: str
    ) -> None:
        answer = browser_of(stranger).get(reverse(name), SIGNED_IN)
        assert answer.status_code == 200
        shown = text_of(answer) if name.endswith("pdf") else answer.content.decode()
        assert "Leafkill" not in shown

    def test_a_customer_of_another_business_is_not_found(
        self, stranger: Any, yard: Any, browser_of: Callable[[Any], Client]
    ) -> None:
        query = {**SIGNED_IN, "customer": str(yard.customer.pk)}
        for name in ("season-totals", *FILES):
            assert browser_of(stranger).get(reverse(name), query).status_code == 404


class TestPapersOfARecord:
    def test_the_notice_before_comes_from_the_draft_as_it_stands(
        self, browser: Client, clean_draft: Any
    ) -> None:
        answer = browser.get(reverse("record-notice-before", args=[clean_draft.pk]))
        has(text_of(answer), "Notice before spraying", "Leafkill", "from a draft as it stood")
        assert answer["Content-Disposition"] == 'inline; filename="notice-before-draft.pdf"'

    def test_an_empty_draft_prints_its_blanks(self, browser: Client, owner: Any) -> None:
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        for name in ("record-notice-before", "record-posting"):
            assert "blank" in text_of(browser.get(reverse(name, args=[draft.pk])))

    def test_a_signed_record_s_papers_come_from_its_seal(
        self, browser: Client, signed: Any, yard: Any
    ) -> None:
        yard.product.name = "Renamed since"
        yard.product.save()
        for name in OF_A_RECORD:
            answer = browser.get(reverse(name, args=[signed.pk]))
            text = text_of(answer)
            has(text, "Leafkill", f"seal {signed.seal.link}")
            assert "Renamed since" not in text
            assert answer["Content-Disposition"].endswith('-1.pdf"')

    def test_the_paper_is_that_of_the_business(
        self, browser: Client, owner: Any, signed: Any
    ) -> None:
        owner.business.paper_size = "a4"
        owner.business.save()
        answer = browser.get(reverse("record-posting", args=[signed.pk]))
        assert b"595.28 841.89" in answer.content

    def test_a_draft_has_no_customer_s_copy(self, browser: Client, clean_draft: Any) -> None:
        address = reverse("record-copy", args=[clean_draft.pk])
        assert browser.get(address).status_code == 404

    def test_work_that_has_not_ended_is_not_told_of_as_completed(
        self, browser: Client, owner: Any
    ) -> None:
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        page = reverse("record", args=[draft.pk])
        answer = browser.get(
            reverse("record-notice-completed", args=[draft.pk]),
            headers={"referer": f"http://testserver{page}"},
        )
        assert (answer.status_code, answer["Location"]) == (303, f"http://testserver{page}")
        told = browser.get(page).content.decode()
        assert "a notice of completed application states it" in told

    def test_the_copy_proves_its_delivery(
        self, browser: Client, owner: Any, signed: Any, now: datetime
    ) -> None:
        facts = {
            "to_whom": "C. Dahl",
            "given_at": datetime(2026, 6, 12, 19, 0, tzinfo=UTC),
            "how": "e-mail",
        }
        given = {
            "copy": {**facts, "kind": "copy", "consent_on": date(2026, 3, 1)},
            "wrong": {**facts, "kind": "copy", "to_whom": "D. Holt", "how": "by hand"},
            "notice": {**facts, "kind": "notice after", "to_whom": "E. Notice"},
        }
        entries = {
            name: add_duty_entry(
                actor=owner, record_id=signed.pk, entry_id=uuid.uuid4(), data=data, now=now
            )
            for name, data in given.items()
        }
        strike_duty_entry(
            actor=owner,
            record_id=signed.pk,
            entry_id=entries["wrong"].pk,
            new_id=uuid.uuid4(),
            reason="It went to another farm.",
            now=now,
        )
        text = text_of(browser.get(reverse("record-copy", args=[signed.pk])))
        has(text, "C. Dahl by e-mail 2026-06-12 14:00 CDT (UTC−05:00) 2026-03-01 none The owner")
        has(text, "D. Holt struck: It went to another farm. by hand")
        assert "E. Notice" not in text
        assert text.count("It went to another farm.") == 1

    def test_the_record_page_links_what_can_be_printed(
        self, browser: Client, owner: Any, signed: Any
    ) -> None:
        page = browser.get(reverse("record", args=[signed.pk])).content.decode()
        for name in OF_A_RECORD:
            assert reverse(name, args=[signed.pk]) in page
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        page = browser.get(reverse("record", args=[draft.pk])).content.decode()
        assert reverse("record-notice-before", args=[draft.pk]) in page
        assert reverse("record-copy", args=[draft.pk]) not in page
        assert reverse("record-notice-completed", args=[draft.pk]) not in page


class TestTotals:
    def test_the_page_shows_each_measure(self, browser: Client, signed: Any) -> None:
        page = browser.get(reverse("season-totals"), SIGNED_IN).content.decode()
        # 2752 fl oz = 21.5 gal; × 3.8 lb/gal = 81.7 lb = 37.058 kg, by hand.
        for part in ("Leafkill", "2752", "not convertible: density not given", "37.058"):
            assert part in page

    def test_the_files_carry_the_same_numbers(self, browser: Client, signed: Any) -> None:
        answers = {name: browser.get(reverse(name), SIGNED_IN) for name in FILES}
        has(text_of(answers["season-totals-pdf"]), "Leafkill", "2752 fl oz", "37.058 kg")
        table = answers["season-totals-csv"]
        assert table["Content-Type"] == "text/csv; charset=utf-8"
        assert table["Content-Disposition"] == (
            'attachment; filename="totals-2026-06-01-2026-06-30.csv"'
        )
        rows = list(csv.DictReader(io.StringIO(table.content.decode())))
        assert [row["value"] for row in rows] == ["2752", "2752", "", "37.058"]
        content = json.loads(answers["season-totals-json"].content)
        (one,) = content["products"]
        assert one["active_ingredients"][0]["kilograms"]["value"] == "37.058"
        assert answers["season-totals-json"]["Content-Type"] == "application/json"

    def test_a_name_that_begins_a_formula_is_neutral_in_the_csv(
        self, browser: Client, yard: Any, request: pytest.FixtureRequest
    ) -> None:
        yard.product.name = "=HYPERLINK(1)"
        yard.product.save()
        request.getfixturevalue("signed")
        table = browser.get(reverse("season-totals-csv"), SIGNED_IN).content.decode()
        rows = list(csv.DictReader(io.StringIO(table)))
        assert {row["product"] for row in rows} == {"'=HYPERLINK(1)"}

    def test_a_stated_density_and_a_rule_make_kilograms(
        self, browser: Client, signed: Any, yard: Any
    ) -> None:
        def kilograms(**query: str) -> str:
            answer = browser.get(reverse("season-totals-json"), SIGNED_IN | query)
            return str(json.loads(answer.content)["products"][0]["kilograms"]["value"])

        # 21.5 gal = 81.386353 L, by hand; × 1.1 kg/L = 89.525 kg.
        assert kilograms(rule="ca-bc") == "81.386"
        assert kilograms(**{f"density-{yard.product.pk}": "1.1 kg/L"}) == "89.525"
        page = browser.get(reverse("season-totals"), SIGNED_IN).content.decode()
        assert f'name="density-{yard.product.pk}"' in page

    def test_the_place_is_chosen_among_those_of_the_fields(
        self, browser: Client, signed: Any
    ) -> None:
        page = browser.get(reverse("season-totals"), SIGNED_IN).content.decode()
        assert "<option>US-ND</option>" in page
        for place, there in (("US-ND", True), ("CA-BC", False)):
            page = browser.get(reverse("season-totals"), SIGNED_IN | {"place": place})
            assert ("2752" in page.content.decode()) is there

    def test_the_year_is_asked_where_no_day_is_named(self, browser: Client, signed: Any) -> None:
        page = browser.get(reverse("season-totals")).content.decode()
        assert page.count('type="date" value="') == 2

    def test_an_empty_period_says_what_to_do(self, browser: Client) -> None:
        query = {"from": "2020-01-01", "to": "2020-12-31"}
        page = browser.get(reverse("season-totals"), query).content.decode()
        assert "No signed record lies in this period." in page

    @pytest.mark.parametrize(
        ("query", "told"),
        [
            ({"from": "2026-13-01"}, '"2026-13-01" is not a day'),
            ({"to": "1066-10-14"}, "is not a day from 1990 to 2200"),
            ({"from": "2026-02-01", "to": "2026-01-01"}, "is before the first"),
            ({"customer": "me"}, "is not a customer"),
            ({"rule": "any"}, "is not a rule; carried are ca-bc"),
            ({"place": "Dakota"}, '"Dakota" is not a place; write it as ISO 3166-2 does'),
            ({"density-x": "heavy"}, "is not a number with a unit"),
            ({"density-x": "9 kg/L"}, "allowed are 0.5 to 3 kg/L"),
        ],
    )
    def test_what_cannot_be_read_is_refused_with_a_sentence(
        self, browser: Client, query: dict[str, str], told: str
    ) -> None:
        answer = browser.get(reverse("season-totals"), query)
        assert answer.status_code == 422
        assert told in unescape(answer.content.decode())
        for name in FILES:
            refused = browser.get(reverse(name), query)
            assert refused.status_code == 303
            assert told in unescape(browser.get(refused["Location"]).content.decode())

    def test_a_density_refused_leaves_the_others_with_their_products(
        self, browser: Client, signed: Any, yard: Any, stranger: Any
    ) -> None:
        second = make.ProductFactory(business=signed.business, name="Vine Guard")
        third = make.ProductFactory(business=signed.business, name="Root Aid")
        theirs = make.ProductFactory(business=stranger.business, name="Not Ours")
        query = {
            f"density-{yard.product.pk}": "heavy",
            f"density-{second.pk}": "1.1 kg/L",
            f"density-{third.pk}": "",
            f"density-{theirs.pk}": "1.2 kg/L",
        }
        answer = browser.get(reverse("season-totals"), SIGNED_IN | query)
        assert answer.status_code == 422
        found = {one["product"]: one["value"] for one in answer.context["densities"]}
        kept = {yard.product.name: "heavy", "Vine Guard": "1.1 kg/L", "Root Aid": ""}
        assert found == kept | {"a product": "1.2 kg/L"}
        text = answer.content.decode()
        assert "Density of Vine Guard" in text
        assert "Not Ours" not in text
        # Beside another mistake they stay, too.
        answer = browser.get(reverse("season-totals"), query | {"rule": "any"})
        assert f'name="density-{second.pk}" value="1.1 kg/L"' in answer.content.decode()

    def test_the_season_page_links_the_totals(self, browser: Client) -> None:
        page = browser.get(reverse("season"), {"year": "2026"}).content.decode()
        assert f"{reverse('season-totals')}?from=2026-01-01&amp;to=2026-12-31" in page

    def test_the_links_to_the_files_ask_the_same(self, browser: Client, signed: Any) -> None:
        page = browser.get(reverse("season-totals"), SIGNED_IN | {"rule": "ca-bc"})
        for name in FILES:
            address = f"{reverse(name)}?from=2026-06-01&amp;to=2026-06-30&amp;rule=ca-bc"
            assert address in page.content.decode()

    def test_the_page_asks_a_fixed_number_of_queries(
        self, browser: Client, signed: Any, owner: Any
    ) -> None:
        counts = []
        for _ in range(2):
            with CaptureQueriesContext(connection) as seen:
                browser.get(reverse("season-totals"), SIGNED_IN)
            counts.append(len(seen))
            make.ProductFactory(business=owner.business)
        assert counts[0] == counts[1]
