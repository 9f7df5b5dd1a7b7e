"""Pictures on pages and by the API: put to a draft, shown by right, found by no address."""

from __future__ import annotations

import json
import uuid
from base64 import b64encode
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from logbook.accounts.grants import give_grant
from logbook.accounts.rights import Role
from logbook.records.models import Picture
from tests import factories as make
from tests.conftest import sealed_by
from tests.pictures import from_a_camera, picture

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(clean_draft: Any) -> str:
    return f"/book/{clean_draft.pk}/pictures/"


@pytest.fixture
def api(clean_draft: Any) -> str:
    return f"/api/v1/records/{clean_draft.pk}/pictures/"


def chosen(raw: bytes | None = None, **changes: Any) -> dict[str, Any]:
    """Return what the form sends."""
    file = SimpleUploadedFile("IMG_0001.JPG", raw or picture(), content_type="image/jpeg")
    words = {"id": str(uuid.uuid4()), "shows": "label", "caption": "rate table"}
    return {"file": file, **words, **changes}


def sent(raw: bytes | None = None, **changes: Any) -> dict[str, Any]:
    """Return what a program sends."""
    words = {"id": str(uuid.uuid4()), "shows": "label", "caption": "rate table"}
    return {"file": b64encode(raw or picture()).decode(), **words, **changes}


class TestPage:
    def test_it_is_put_to_the_draft_and_shown_there(
        self, browser: Client, page: str, clean_draft: Any
    ) -> None:
        assert browser.post(page, chosen())["Location"] == page
        one = Picture.objects.get()
        address = f"/book/{clean_draft.pk}/pictures/{one.pk}.jpg"
        for where in (page, f"/book/{clean_draft.pk}/", f"/book/{clean_draft.pk}/sign/"):
            shown = browser.get(where).content.decode()
            assert f'src="{address}"' in shown
            assert one.sha256 in shown
            assert "Label: rate table" in shown

    def test_it_is_served_as_a_picture_and_nothing_else(
        self, browser: Client, page: str, clean_draft: Any
    ) -> None:
        browser.post(page, chosen())
        one = Picture.objects.get()
        answer = browser.get(f"/book/{clean_draft.pk}/pictures/{one.pk}.jpg")
        assert answer["Content-Type"] == "image/jpeg"
        assert answer["Content-Disposition"] == f'inline; filename="picture-{one.pk}.jpg"'
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert "private" in answer["Cache-Control"]
        assert "default-src 'none'" in answer["Content-Security-Policy"]
        assert answer.content.startswith(b"\xff\xd8\xff")

    def test_no_address_leads_to_the_folder_of_files(
        self, browser: Client, page: str, business: Any
    ) -> None:
        browser.post(page, chosen())
        name = f"{business.pk}/{Picture.objects.get().pk}.jpg"
        for address in (f"/{name}", f"/media/{name}", f"/pictures/{name}", f"/static/{name}"):
            assert browser.get(address).status_code == 404

    @pytest.mark.parametrize(
        ("changes", "said"),
        [
            ({"raw": b"no picture"}, "This is no picture that can be read"),
            ({"shows": ""}, "This field is required"),
            ({"shows": "sky"}, "sky is not one of the available choices"),
            ({"caption": "x" * 201}, "at most 200 characters"),
            ({"file": ""}, "This field is required"),
            ({"id": "1"}, "Enter a valid UUID"),
        ],
    )
    def test_what_cannot_be_taken_is_said_beside_its_input(
        self, browser: Client, page: str, changes: dict[str, Any], said: str
    ) -> None:
        answer = browser.post(page, chosen(**changes))
        assert answer.status_code == 422
        assert said in answer.content.decode()
        assert not Picture.objects.exists()

    def test_time_and_place_are_kept_where_the_box_is_ticked(
        self, browser: Client, page: str
    ) -> None:
        browser.post(page, chosen(from_a_camera()))
        browser.post(page, chosen(from_a_camera(), keep_time_and_place="on"))
        left, kept = Picture.objects.order_by("added_at")
        assert (left.taken, left.place) == ("", "")
        assert kept.place == "47.10500, -97.19500"
        assert "taken 2026-06-12 09:31:05 -05:00" in browser.get(page).content.decode()

    def test_what_was_written_of_it_is_text(
        self, browser: Client, page: str, clean_draft: Any
    ) -> None:
        browser.post(page, chosen(caption='"><script>alert(1)</script>\u202e'))
        for where in (page, f"/book/{clean_draft.pk}/"):
            shown = browser.get(where).content.decode()
            assert "<script>alert" not in shown
            assert "\u202e" not in shown
            assert "[U+202E]" in shown

    def test_it_is_deleted_from_a_draft(self, browser: Client, page: str) -> None:
        browser.post(page, chosen())
        one = Picture.objects.get()
        assert browser.get(f"{page}{one.pk}/delete/").status_code == 405
        browser.post(f"{page}{one.pk}/delete/")
        assert not Picture.objects.exists()
        assert browser.post(f"{page}{one.pk}/delete/").status_code == 404

    def test_a_sealed_record_keeps_its_pictures(
        self, browser: Client, page: str, owner: Any, clean_draft: Any
    ) -> None:
        browser.post(page, chosen())
        sealed_by(owner, clean_draft)
        one = Picture.objects.get()
        assert browser.get(page)["Location"] == f"/book/{clean_draft.pk}/"
        browser.post(page, chosen())
        browser.post(f"{page}{one.pk}/delete/")
        assert list(Picture.objects.all()) == [one]

    def test_from_outside_it_is_seen_within_the_scope_and_the_visit_is_written_down(
        self,
        browser: Client,
        page: str,
        owner: Any,
        yard: Any,
        clean_draft: Any,
        browser_of: Callable[[Any], Client],
    ) -> None:
        browser.post(page, chosen())
        address = f"{page}{Picture.objects.get().pk}.jpg"
        now = timezone.now()
        inside = given(owner, [yard.customer.pk], now)
        outside = given(owner, [make.CustomerFactory(business=owner.business).pk], now)
        assert browser_of(inside).get(address).status_code == 404  # a draft
        sealed_by(owner, clean_draft)
        assert browser_of(inside).get(address).status_code == 200
        assert browser_of(outside).get(address).status_code == 404
        assert "a picture of a record" in browser.get("/access/visits/").content.decode()

    def test_the_page_of_a_record_asks_no_more_for_more_pictures(
        self, browser: Client, page: str, clean_draft: Any, django_assert_max_num_queries: Any
    ) -> None:
        counts = []
        for _ in range(2):
            browser.post(page, chosen())
            with django_assert_max_num_queries(200) as asked:
                browser.get(f"/book/{clean_draft.pk}/")
            counts.append(len(asked))
        assert counts[0] == counts[1]


def given(owner: Any, customers: list[Any], now: Any) -> Any:
    """Return an inspector who may see the records of some customers."""
    return give_grant(
        actor=owner,
        email=make.UserFactory().email,
        role=Role.INSPECTOR,
        customer_ids=customers,
        reason="A complaint about drift",
        ends_on=(now + timedelta(days=20)).date(),
        now=now,
    ).user


class TestApi:
    def post(self, client: Client, address: str, body: dict[str, Any]) -> Any:
        return client.post(address, json.dumps(body), content_type="application/json")

    def test_it_is_put_listed_and_read(self, browser: Client, api: str) -> None:
        body = sent(from_a_camera(), keep_time_and_place=True)
        answer = self.post(browser, api, body)
        assert answer.status_code == 201
        told = answer.json()
        assert told["taken"] == "2026-06-12 09:31:05 -05:00"
        assert "file" not in told
        assert browser.get(api).json() == {"pictures": [told]}
        shown = browser.get(f"{api}{told['id']}.jpg")
        assert shown["Content-Type"] == "image/jpeg"
        assert shown["Content-Disposition"].startswith("attachment")
        assert self.post(browser, api, body).status_code == 200
        assert Picture.objects.count() == 1

    @pytest.mark.parametrize(
        ("changes", "path", "said"),
        [
            ({"file": "%%%"}, "file", "not base64"),
            ({"file": b64encode(b"words").decode()}, "file", "no picture that can be read"),
            ({"shows": "sky"}, "shows", "sky"),
            ({"caption": "x" * 201}, "caption", "200"),
            ({"sha256": "0" * 64}, "sha256", "service sets this"),
            ({"id": None}, "id", ""),
        ],
    )
    def test_what_cannot_be_taken_is_named(
        self, browser: Client, api: str, changes: dict[str, Any], path: str, said: str
    ) -> None:
        answer = self.post(browser, api, sent(**changes))
        assert answer.status_code == 422
        assert said in answer.json()["errors"][path][0]
        assert not Picture.objects.exists()

    def test_an_id_stands_for_one_picture(self, browser: Client, api: str) -> None:
        body = sent()
        self.post(browser, api, body)
        assert self.post(browser, api, {**body, "caption": "another"}).status_code == 409

    def test_a_body_beyond_the_limit_is_not_read(self, browser: Client, api: str) -> None:
        assert self.post(browser, api, sent(file="A" * 20_100_000)).status_code == 413

    def test_another_business_finds_nothing(
        self, browser: Client, api: str, stranger: Any, browser_of: Callable[[Any], Client]
    ) -> None:
        told = self.post(browser, api, sent()).json()
        other = browser_of(stranger)
        assert other.get(api).status_code == 404
        assert self.post(other, api, sent()).status_code == 404
        assert other.get(f"{api}{told['id']}.jpg").status_code == 404
