"""The page of keeping: until when, by which set, holds, and the purge behind a password."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime
from typing import Any

import pytest
import time_machine
from django.test import Client

from logbook.records.models import ApplicationRecord, LegalHold, Purge
from logbook.records.reading import keeping
from logbook.web.duties import views
from tests.conftest import sealed_by, written
from tests.factories import PASSWORD

pytestmark = pytest.mark.usefixtures("in_iowa")


@pytest.fixture
def old(owner: Any, entry: dict[str, Any]) -> Any:
    """A sealed record of 2018, whose days of keeping are over."""
    data = entry | {
        "started_at": datetime(2018, 6, 12, 9, 30),  # noqa: DTZ001
        "finished_at": datetime(2018, 6, 12, 12, 0),  # noqa: DTZ001
    }
    draft = written(owner, data)
    return sealed_by(
        owner, draft, now=datetime(2018, 6, 12, 20, 0, tzinfo=UTC), explained="Looked at again."
    )


def page(browser: Client, address: str = "/keeping/") -> str:
    answer = browser.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


class TestList:
    def test_what_may_go_stands_with_its_day_and_its_set(self, browser: Client, old: Any) -> None:
        text = page(browser)
        assert "2021-06-12" in text
        assert "Iowa" in text
        assert f"/book/{old.pk}/purge/" in text

    @pytest.mark.parametrize(
        ("zone", "now", "offered"),
        [
            ("America/Chicago", "2021-06-13T03:00Z", False),
            ("America/Chicago", "2021-06-13T06:00Z", True),
            ("Pacific/Auckland", "2021-06-12T13:00Z", False),
        ],
    )
    def test_none_may_go_before_its_last_day_is_over_there_and_in_utc(
        self, browser_of: Any, owner: Any, old: Any, zone: str, now: str, offered: bool
    ) -> None:
        # UTC-5 in Chicago and UTC+12 in Auckland in June (IANA time zone database).
        type(owner.business).objects.update(time_zone=zone)
        with time_machine.travel(now, tick=False):
            assert (f"/book/{old.pk}/purge/" in page(browser_of(owner))) is offered

    def test_what_is_still_kept_stands_among_all(self, browser: Client, signed: Any) -> None:
        assert "No record may go yet" in page(browser)
        assert "2029-06-12" in page(browser, "/keeping/?show=all")

    def test_only_the_owner_is_offered_the_purge(
        self, browser_of: Any, office: Any, helper: Any, old: Any
    ) -> None:
        for actor in (office, helper):
            assert "/purge/" not in page(browser_of(actor))
            assert browser_of(actor).get(f"/book/{old.pk}/purge/").status_code == 403

    def test_another_business_sees_nothing(self, browser_of: Any, stranger: Any, old: Any) -> None:
        assert "No record is signed yet" in page(browser_of(stranger), "/keeping/?show=all")
        assert browser_of(stranger).get(f"/book/{old.pk}/purge/").status_code == 404


class TestHold:
    def test_a_record_is_held_by_its_number_and_lifted_with_a_reason(
        self, browser: Client, old: Any
    ) -> None:
        data = {"number": "1", "reason": "A neighbour asks."}
        assert browser.post("/keeping/hold/", data).status_code == 302
        text = page(browser)
        assert "No record may go yet" in text
        assert "A neighbour asks." in text
        hold = LegalHold.objects.get()
        lift = f"/keeping/holds/{hold.pk}/lift/"
        assert browser.post(lift, {"reason": ""}).status_code == 422
        assert browser.post(lift, {"reason": "It is settled."}).status_code == 302
        text = page(browser)
        assert "It is settled." in text
        assert "/purge/" in text

    def test_without_a_number_the_whole_book_is_held(self, browser: Client, old: Any) -> None:
        browser.post("/keeping/hold/", {"number": "", "reason": "The inspector is coming."})
        assert "The whole book" in page(browser)
        assert LegalHold.objects.get().seal is None

    @pytest.mark.parametrize(
        ("data", "why"),
        [
            ({"number": "9", "reason": "A neighbour asks."}, "no signed record no."),
            ({"number": "one", "reason": "A neighbour asks."}, "no signed record no."),
            ({"number": "1", "reason": ""}, "why it has to be kept"),
        ],
    )
    def test_what_cannot_be_held_is_said(
        self, browser: Client, old: Any, data: dict[str, str], why: str
    ) -> None:
        answer = browser.post("/keeping/hold/", data)
        assert answer.status_code == 422
        assert why in answer.content.decode()
        assert not LegalHold.objects.exists()

    def test_the_page_sent_again_with_another_record_is_refused_and_what_was_typed_stays(
        self, browser: Client, old: Any
    ) -> None:
        data = {"id": str(uuid.uuid4()), "number": "1", "reason": "A neighbour asks."}
        for _ in range(2):
            assert browser.post("/keeping/hold/", data).status_code == 302
        answer = browser.post("/keeping/hold/", data | {"number": "", "reason": "All of it."})
        assert answer.status_code == 422
        text = answer.content.decode()
        assert "This page was sent before and said something else" in text
        assert ">All of it.</textarea>" in text
        assert f'value="{data["id"]}"' not in text  # sent again, it writes
        assert LegalHold.objects.get().reason == "A neighbour asks."

    def test_the_reason_of_a_refused_lift_stays_at_its_own_hold(
        self, browser: Client, old: Any
    ) -> None:
        for reason in ("A neighbour asks.", "A claim is open."):
            browser.post("/keeping/hold/", {"number": "1", "reason": reason})
        hold, other = LegalHold.objects.order_by("reason")
        answer = browser.post(f"/keeping/holds/{hold.pk}/lift/", {"reason": "no"})
        assert answer.status_code == 422
        text = answer.content.decode()
        assert text.count('value="no"') == text.count("Say why it need not be held") == 1
        assert f'aria-describedby="lift-why-{hold.pk}"' in text
        assert f"lift-why-{other.pk}" not in text
        assert "required></textarea>" in text

    def test_the_pages_of_the_list_are_asked_for_where_pages_are(
        self, browser: Client, owner: Any, old: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(views, "PER_PAGE", 1)
        rows = [*keeping.kept_records(actor=owner, today=date(2024, 1, 1), may_go=True)] * 2
        monkeypatch.setattr(views.kept, "kept_records", lambda **_: rows)
        text = browser.post("/keeping/hold/", {"reason": ""}).content.decode()
        assert 'href="/keeping/?page=2"' in text

    def test_rights_and_tenants_hold(
        self, browser: Client, browser_of: Any, office: Any, helper: Any, stranger: Any, old: Any
    ) -> None:
        data = {"number": "1", "reason": "A neighbour asks."}
        assert browser_of(helper).post("/keeping/hold/", data).status_code == 403
        assert browser_of(stranger).post("/keeping/hold/", data).status_code == 422
        browser_of(office).post("/keeping/hold/", data)
        lift = f"/keeping/holds/{LegalHold.objects.get().pk}/lift/"
        assert browser_of(office).post(lift, {"reason": "Settled now."}).status_code == 403
        assert browser_of(stranger).post(lift, {"reason": "Settled now."}).status_code == 404


class TestPurge:
    def test_with_reason_and_password_it_goes_and_its_number_stays(
        self, browser: Client, old: Any
    ) -> None:
        address = f"/book/{old.pk}/purge/"
        assert "gone for good" in page(browser, address)
        data = {"reason": "Its days are over.", "password": PASSWORD}
        assert browser.post(address, data).headers["Location"] == "/keeping/"
        assert not ApplicationRecord.objects.exists()
        text = page(browser)
        assert "Purged: no. 1. The log still verifies." in text
        assert "Its days are over." in text
        assert browser.get(f"/book/{old.pk}/").status_code == 404
        assert browser.get(f"/book/{old.pk}/duties/").status_code == 404

    @pytest.mark.parametrize(
        ("data", "why"),
        [
            ({"reason": "", "password": PASSWORD}, "Say why it goes"),
            ({"reason": "Its days are over.", "password": "wrong"}, "not your password"),
        ],
    )
    def test_without_either_it_stays(
        self, browser: Client, old: Any, data: dict[str, str], why: str
    ) -> None:
        answer = browser.post(f"/book/{old.pk}/purge/", data)
        assert answer.status_code == 422
        assert why in answer.content.decode()
        assert not Purge.objects.exists()

    def test_what_is_still_to_be_kept_is_refused_with_the_day(
        self, browser: Client, signed: Any
    ) -> None:
        data = {"reason": "No room left.", "password": PASSWORD}
        answer = browser.post(f"/book/{signed.pk}/purge/", data)
        assert answer.status_code == 422
        assert "is kept until 2029-06-12" in answer.content.decode()

    def test_what_is_held_is_refused(self, browser: Client, old: Any) -> None:
        browser.post("/keeping/hold/", {"number": "1", "reason": "A neighbour asks."})
        data = {"reason": "Its days are over.", "password": PASSWORD}
        answer = browser.post(f"/book/{old.pk}/purge/", data)
        assert answer.status_code == 422
        assert "No. 1 is held: A neighbour asks." in answer.content.decode()

    def test_the_page_shows_the_period_the_set_how_it_was_read_and_the_cautions(
        self, browser: Client, old: Any
    ) -> None:
        text = page(browser, f"/book/{old.pk}/purge/")
        # Iowa Code 206.15: three years, read in the text.
        assert "3 years from the application" in text
        assert "Iowa Code 206.15; 21 IAC 45.26(206) (legal text, last read 2026-11-25)" in text
        assert "Of the rules of Iowa a part is carried here" in text
        assert "It is not legal advice." in text
        assert 'name="years"' not in text

    def test_where_the_period_is_in_doubt_it_is_asked_for_and_never_offered(
        self, browser: Client, owner: Any, yard: Any, entry: dict[str, Any]
    ) -> None:
        # N.D. Admin. Code 60-03-01-07: three years, from memory.
        yard.field.place = "US-ND"
        yard.field.save()
        yard.person.licences.update(place="US-ND")
        work = {name: entry[name].replace(year=2018) for name in ("started_at", "finished_at")}
        then = datetime(2018, 6, 12, 20, 0, tzinfo=UTC)
        record = sealed_by(
            owner, written(owner, entry | work), now=then, explained="Looked at again."
        )
        address = f"/book/{record.pk}/purge/"
        assert address not in page(browser)
        assert address in page(browser, "/keeping/?show=all")
        text = page(browser, address)
        assert "North Dakota is known as “from memory” alone" in text
        assert 'name="years"' in text
        data = {"reason": "Its days are over.", "password": PASSWORD}
        assert "State how long no. 1 is kept" in browser.post(address, data).content.decode()
        for typed, why in (("x", "is not a whole number"), ("0", "from 1 to 100")):
            answer = browser.post(address, data | {"years": typed, "source": "the department"})
            assert answer.status_code == 422
            assert why in answer.content.decode()
        stated = {"years": "3", "source": "the department, by telephone"}
        assert browser.post(address, data | stated).status_code == 302
        assert "the department, by telephone" in Purge.objects.get().allowed_by
