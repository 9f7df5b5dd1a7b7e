"""The pages for records as a file: take out, look at what would come in, bring it in."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from logbook.readers import tables
from logbook.records.exchange import schema
from logbook.records.exchange.importing import AT_THE_DOOR
from logbook.records.models import ApplicationRecord
from logbook.web import exchange as pages
from tests import factories as make
from tests.logbook.records.exchange import (
    exported,
    exported_csv,
    member_of_new_business,
    unsealed,
)

BrowserOf = Callable[[Any], Client]


def upload(browser: Client, raw: bytes, name: str = "records.json") -> Any:
    """Return the answer to a chosen file."""
    return browser.post(reverse("exchange-look"), {"file": SimpleUploadedFile(name, raw)})


def streamed(answer: Any) -> str:
    """Return the text of a streamed file."""
    assert answer.streaming
    return b"".join(answer.streaming_content).decode()


@pytest.fixture
def raw(owner: Any, signed: Any) -> bytes:
    return json.dumps(exported(owner)).encode()


@pytest.fixture
def newcomer(raw: bytes) -> Any:
    return member_of_new_business()


class TestTakeOut:
    def test_the_page_offers_period_customer_field_and_explains_the_columns(
        self, browser: Client, signed: Any, yard: Any
    ) -> None:
        page = browser.get(reverse("exchange")).content.decode()
        assert f'<option value="{yard.customer.pk}">' in page
        assert f"{yard.field.name}, {yard.customer.name}</option>" in page
        assert "authorisation_number" in page
        assert reverse("exchange-schema") in page
        assert "JSON brings back every fact that was sealed." in page
        assert 'enctype="multipart/form-data"' in page

    def test_season_and_shelf_lead_to_it(self, browser: Client) -> None:
        for name in ("season", "shelf"):
            assert f'href="{reverse("exchange")}"' in browser.get(reverse(name)).content.decode()

    def test_json_comes_as_a_file_with_the_address_of_its_schema(
        self, browser: Client, signed: Any
    ) -> None:
        answer = browser.get(
            reverse("exchange-json"), {"from": "2026-06-01", "to": "2026-06-30", "customer": ""}
        )
        assert answer["Content-Type"] == "application/json"
        assert answer["Content-Disposition"] == (
            'attachment; filename="records-2026-06-01-2026-06-30.json"'
        )
        assert answer["Cache-Control"] == "no-store"
        file = json.loads(streamed(answer))
        assert [record["id"] for record in file["records"]] == [str(signed.pk)]
        assert file["$schema"] == "http://testserver/exchange/records.schema.json"

    def test_csv_comes_as_a_file(self, browser: Client, owner: Any, signed: Any) -> None:
        answer = browser.get(reverse("exchange-csv"))
        assert answer["Content-Type"] == "text/csv; charset=utf-8"
        assert answer["Content-Disposition"] == 'attachment; filename="records.csv"'
        assert streamed(answer) == exported_csv(owner)

    def test_it_is_narrowed(self, browser: Client, signed: Any, yard: Any) -> None:
        def count(**asked: Any) -> int:
            answer = browser.get(reverse("exchange-json"), asked)
            return len(json.loads(streamed(answer))["records"])

        other = make.FieldFactory(business=signed.business)
        assert count(customer=yard.customer.pk, field=yard.field.pk) == 1
        assert count(field=other.pk) == 0
        assert count(**{"from": "2026-06-13"}) == 0

    @pytest.mark.parametrize(
        ("asked", "said"),
        [
            (
                {"from": "June"},
                "“June” cannot be read as “from”; a day such as 2026-04-01, from 1990 to 2200 is.",
            ),
            ({"to": "9999-12-31"}, "“9999-12-31” cannot be read as “to”"),
            ({"from": "0001-01-01"}, "“0001-01-01” cannot be read as “from”"),
            ({"customer": "x"}, "“x” cannot be read as “customer”; one of the list is."),
            ({"from": "2026-06-02", "to": "2026-06-01"}, "before it begins on 2026-06-02"),
        ],
    )
    def test_what_cannot_be_read_leads_back_with_the_reason(
        self, browser: Client, asked: dict[str, str], said: str
    ) -> None:
        answer = browser.get(
            reverse("exchange-json"), asked, headers={"referer": "http://testserver/exchange/"}
        )
        assert (answer.status_code, answer["Location"]) == (303, "http://testserver/exchange/")
        assert said in browser.get("/exchange/").content.decode()

    def test_another_business_finds_nothing_of_it(
        self, browser_of: BrowserOf, stranger: Any, signed: Any, yard: Any
    ) -> None:
        browser = browser_of(stranger)
        assert json.loads(streamed(browser.get(reverse("exchange-json"))))["records"] == []
        assert str(yard.customer.pk) not in browser.get(reverse("exchange")).content.decode()

    def test_the_schema_is_there_for_anybody(self, db: None) -> None:
        answer = Client().get(reverse("exchange-schema"))
        assert answer["Content-Type"] == "application/schema+json"
        assert json.loads(streamed(answer)) == schema.schema()

    @pytest.mark.parametrize("name", ["exchange", "exchange-json", "exchange-csv"])
    def test_the_rest_is_behind_the_login(self, db: None, name: str) -> None:
        assert Client().get(reverse(name)).status_code == 302
        assert Client().post(reverse("exchange-look")).status_code == 302


class TestBringIn:
    def test_looking_tells_what_would_be_and_writes_nothing(
        self, browser_of: BrowserOf, newcomer: Any, raw: bytes
    ) -> None:
        answer = upload(browser_of(newcomer), raw)
        page = answer.content.decode()
        assert answer.status_code == 200
        assert "Nothing is written yet: 1 new draft, 0 there already." in page
        assert "no. 1, North L, 2026-06-12" in page
        assert "Write 1 draft" in page
        assert not ApplicationRecord.objects.within(newcomer.business).exists()

    def test_confirmed_it_is_written_and_again_it_is_there(
        self, browser_of: BrowserOf, newcomer: Any, raw: bytes
    ) -> None:
        browser = browser_of(newcomer)
        seen = upload(browser, raw).context
        posted = {"carried": seen["carried"], "name": "records.json"}
        page = browser.post(reverse("exchange-import"), posted).content.decode()
        draft = ApplicationRecord.objects.within(newcomer.business).get()
        assert "1 draft written" in page
        assert reverse("record", args=[draft.pk]) in page
        browser.post(reverse("exchange-import"), posted)
        assert ApplicationRecord.objects.within(newcomer.business).get() == draft
        again = upload(browser, raw)
        assert again.context["carried"] == ""
        assert "there already, as a draft" in again.content.decode()

    def test_csv_is_taken_the_same_way(
        self, browser_of: BrowserOf, owner: Any, newcomer: Any
    ) -> None:
        browser = browser_of(newcomer)
        seen = upload(browser, exported_csv(owner).encode(), "records.csv").context
        browser.post(reverse("exchange-import"), {"carried": seen["carried"]})
        draft = ApplicationRecord.objects.within(newcomer.business).get()
        assert draft.field.name == "North L"

    def test_every_bad_place_is_on_the_page(
        self, browser_of: BrowserOf, newcomer: Any, raw: bytes
    ) -> None:
        file = unsealed(json.loads(raw))
        file["records"][0]["facts"]["record"]["speed"] = {"value": "300", "unit": "<b>"}
        answer = upload(browser_of(newcomer), json.dumps(file).encode())
        page = answer.content.decode()
        assert answer.status_code == 422
        assert "$.records[0].facts.record.speed.unit" in page
        assert "&quot;&lt;b&gt;&quot;" in page
        assert "Nothing was written" in page
        assert "Write 1 draft" not in page

    def test_differences_and_unknown_members_are_on_the_page(
        self, browser_of: BrowserOf, newcomer: Any, raw: bytes
    ) -> None:
        file = unsealed(json.loads(raw))
        file["mood"] = "good"
        plate = file["records"][0]["facts"]["rig"]["plate"]
        make.RigFactory(business=newcomer.business, plate=plate, tank=make.q("500 gal"))
        page = upload(browser_of(newcomer), json.dumps(file).encode()).content.decode()
        assert "$.mood" in page
        assert "now 500 gal" in page
        assert "1 draft</span> will not say quite what the file says" in page

    def test_as_many_records_as_are_taken_have_fewer_values_than_are_read(self, raw: bytes) -> None:
        most = AT_THE_DOOR.most_records
        for mark, limit in (
            (b"{", tables.MAX_OBJECTS),
            (b"[", tables.MAX_LISTS),
            (b",", tables.MAX_VALUES),
        ):
            assert raw.count(mark) * most < limit

    def test_a_file_of_more_values_than_can_be_held_is_refused_unread(
        self, browser: Client, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(pages, "import_records", lambda **_: pytest.fail("read"))
        answer = upload(browser, b'{"records": [' + b"{}," * tables.MAX_OBJECTS + b"{}]}")
        page = browser.get(answer["Location"]).content.decode()
        assert "more values than are read at once" in page

    def test_a_file_that_is_none_leads_back(self, browser: Client) -> None:
        for raw, said in (
            (b"{}", "This is not a file of records"),
            (b"\xff", "neither the JSON nor the CSV"),
        ):
            assert upload(browser, raw).status_code == 303
            assert said in browser.get(reverse("today")).content.decode()
        assert browser.post(reverse("exchange-look")).status_code == 303
        assert "Choose the file first." in browser.get(reverse("today")).content.decode()

    def test_a_file_that_is_too_large_is_refused_unread(
        self, browser: Client, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        limits = pages.AT_THE_DOOR
        answer = upload(browser, b"x" * (limits.most_bytes + 1))
        assert answer.status_code == 303
        assert "bytes; at most 8,000,000 are read" in browser.get("/").content.decode()

    def test_a_file_that_does_not_fit_into_the_page_is_refused(
        self,
        browser_of: BrowserOf,
        newcomer: Any,
        raw: bytes,
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        browser = browser_of(newcomer)
        monkeypatch.setattr(pages, "MAX_CARRIED", 100)
        upload(browser, raw)
        assert "too long to be kept while you look" in browser.get("/").content.decode()

    def test_what_was_looked_at_an_hour_ago_is_looked_at_again(
        self, browser_of: BrowserOf, newcomer: Any, raw: bytes
    ) -> None:
        browser = browser_of(newcomer)
        with time_machine.travel("2026-12-01T08:00:00Z"):
            carried = upload(browser, raw).context["carried"]
        browser.force_login(newcomer.user)
        with time_machine.travel("2026-12-01T09:00:05Z"):
            answer = browser.post(reverse("exchange-import"), {"carried": carried})
        assert answer.status_code == 303
        assert not ApplicationRecord.objects.within(newcomer.business).exists()

    @pytest.mark.parametrize("carried", ["", "forged", "a:b:c"])
    def test_a_forged_file_is_refused(self, browser: Client, carried: str) -> None:
        answer = browser.post(reverse("exchange-import"), {"carried": carried})
        assert answer.status_code == 303
        assert "choose it again" in browser.get("/").content.decode()

    def test_what_one_person_looked_at_no_other_can_write(
        self, browser_of: BrowserOf, newcomer: Any, stranger: Any, raw: bytes
    ) -> None:
        carried = upload(browser_of(newcomer), raw).context["carried"]
        answer = browser_of(stranger).post(reverse("exchange-import"), {"carried": carried})
        assert answer.status_code == 303
        assert not ApplicationRecord.objects.within(stranger.business).exists()

    def test_a_helper_may_take_out_but_not_bring_in(
        self, browser_of: BrowserOf, helper: Any, raw: bytes
    ) -> None:
        browser = browser_of(helper)
        assert len(json.loads(streamed(browser.get(reverse("exchange-json"))))["records"]) == 1
        page = browser.get(reverse("exchange")).content.decode()
        assert "Ask the owner." in page
        assert 'type="file"' not in page
        assert upload(browser, raw).status_code == 403
        assert browser.post(reverse("exchange-import"), {"carried": "x"}).status_code == 403
