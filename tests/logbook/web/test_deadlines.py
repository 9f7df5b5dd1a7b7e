"""The pages of what is due: deadlines, the tile on Today, and the calendar behind a secret link."""

from __future__ import annotations

import re
import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from icalendar import Calendar

from logbook.accounts.models import Membership
from logbook.records.models import FeedKey
from logbook.records.writing.entries import add_duty_entry
from logbook.records.writing.feeds import make_feed
from tests.conftest import NOW, sealed_by, written

START = datetime(2026, 6, 12, 14, 30, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _afternoon() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


def page(browser: Client, address: str) -> str:
    answer = browser.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def term(owner: Any, record: Any, at: datetime) -> None:
    add_duty_entry(
        actor=owner,
        record_id=record.pk,
        entry_id=uuid.uuid4(),
        data={"kind": "notice before", "to_whom": "Farm", "how": "telephone", "given_at": at},
        now=NOW,
    )


class TestDeadlines:
    def test_it_says_what_is_overdue_since_when_and_by_which_law(
        self, browser: Client, signed: Any
    ) -> None:
        text = page(browser, "/deadlines/")
        assert "Notice before the work" in text
        assert "2026-06-12 09:30 CDT" in text
        assert "overdue, by 5 h 30 min" in text
        assert "40 CFR 170" in text
        assert "It is not legal advice." in text

    def test_what_waits_without_an_instant_stands_after_what_is_due(
        self, browser: Client, owner: Any, yard: Any, entry: dict[str, Any]
    ) -> None:
        # 4 Tex. Admin. Code 7.33: a record is given to the department on request, by no set time.
        overdue = sealed_by(owner, written(owner, entry), explained="Looked at again.")
        yard.field.place = "US-TX"
        yard.field.save()
        record = sealed_by(owner, written(owner, entry), explained="Looked at again.")
        term(owner, record, START - timedelta(hours=1))
        asked = {"kind": "report", "to_whom": "The department", "how": "asked for"}
        add_duty_entry(
            actor=owner,
            record_id=record.pk,
            entry_id=uuid.uuid4(),
            data={**asked, "given_at": NOW},
            now=NOW,
        )
        for address in ("/deadlines/", "/"):
            text = page(browser, address).split("something overdue")[-1]
            assert text.index(f"/book/{overdue.pk}") < text.index(f"/book/{record.pk}")

    def test_a_draft_stands_there_too(self, browser: Client, clean_draft: Any) -> None:
        text = page(browser, "/deadlines/")
        assert "The record itself" in text
        # The 24 hours of North Dakota are from memory.
        assert "confirm with your authority" in text

    def test_what_was_done_late_has_a_page_of_its_own(
        self, browser: Client, owner: Any, signed: Any
    ) -> None:
        term(owner, signed, START + timedelta(minutes=25))
        assert "Nothing is due" in page(browser, "/deadlines/")
        text = page(browser, "/deadlines/?show=late")
        assert "done late, by 25 min" in text

    def test_nothing_due_says_so(self, browser: Client) -> None:
        assert "Nothing is due" in page(browser, "/deadlines/")
        assert "Nothing was done late" in page(browser, "/deadlines/?show=late")

    def test_today_shows_the_first(self, browser: Client, signed: Any) -> None:
        text = page(browser, "/")
        assert "1 record with something overdue" in text
        assert "overdue by 5 h 30 min" in text

    def test_every_role_may_look_and_no_other_business(
        self, browser_of: Any, helper: Any, stranger: Any, signed: Any
    ) -> None:
        assert "North L" in page(browser_of(helper), "/deadlines/")
        assert "North L" not in page(browser_of(stranger), "/deadlines/")

    def test_a_visitor_is_sent_to_the_login(self, db: None) -> None:
        for address in ("/deadlines/", "/deadlines/feed/"):
            assert Client().get(address).headers["Location"].startswith("/login/")

    def test_the_page_asks_as_many_queries_with_one_record_as_with_many(
        self, browser: Client, owner: Any, signed: Any
    ) -> None:
        from logbook.records.writing.resume import begin_resumption

        page(browser, "/deadlines/")
        with CaptureQueriesContext(connection) as one:
            page(browser, "/deadlines/")
        for _ in range(3):
            begin_resumption(actor=owner, record_id=signed.pk, new_id=uuid.uuid4())
        with CaptureQueriesContext(connection) as several:
            page(browser, "/deadlines/")
        assert len(several) == len(one)


class TestFeed:
    def make(self, browser: Client) -> str:
        answer = browser.post("/deadlines/feed/", {"deed": "make"})
        found = re.search(r"http://testserver(/deadlines/[^<]+\.ics)", answer.content.decode())
        assert found
        assert "no-store" in answer.headers["Cache-Control"]
        return found[1]

    def calendar(self, address: str) -> Calendar:
        answer = Client().get(address)
        assert answer.status_code == 200
        assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
        assert "no-store" in answer.headers["Cache-Control"]
        # RFC 5545, 3.1: lines end in CRLF and have at most 75 octets.
        lines = answer.content.split(b"\r\n")
        assert b"\n" not in b"".join(lines)
        assert max(map(len, lines)) <= 75
        return Calendar.from_ical(answer.content)

    def test_the_link_opens_a_calendar_without_a_login(self, browser: Client, signed: Any) -> None:
        calendar = self.calendar(self.make(browser))
        # RFC 5545, 3.6: VERSION and PRODID are asked for; 3.6.1: UID, DTSTAMP, DTSTART.
        assert calendar["VERSION"] == "2.0"
        assert calendar["PRODID"]
        (event,) = calendar.walk("VEVENT")
        assert str(event["UID"]) == f"{signed.pk}.notice-before@spray-logbook"
        assert event["DTSTART"].dt == START
        assert event["DTSTAMP"].dt == NOW
        assert str(event["SUMMARY"]) == "Notice before the work: North L"
        assert "40 CFR 170" in str(event["DESCRIPTION"])

    def test_an_event_keeps_its_uid_and_goes_when_it_is_done(
        self, browser: Client, owner: Any, signed: Any
    ) -> None:
        address = self.make(browser)
        uids = [str(e["UID"]) for e in self.calendar(address).walk("VEVENT")]
        assert uids == [str(e["UID"]) for e in self.calendar(address).walk("VEVENT")]
        term(owner, signed, START)
        assert self.calendar(address).walk("VEVENT") == []

    def test_the_secret_is_kept_as_a_hash_and_shown_once(
        self, browser: Client, signed: Any
    ) -> None:
        address = self.make(browser)
        secret = address.removeprefix("/deadlines/").removesuffix(".ics")
        assert len(secret) >= 43  # 32 random bytes in base64
        key = FeedKey.objects.get()
        assert secret not in (key.hashed, str(key))
        assert secret not in page(browser, "/deadlines/feed/")

    def test_a_revoked_link_opens_nothing(self, browser: Client, signed: Any) -> None:
        address = self.make(browser)
        assert browser.post("/deadlines/feed/", {"deed": "revoke"}).status_code == 302
        assert Client().get(address).status_code == 404
        assert "You have no link yet" in page(browser, "/deadlines/feed/")

    def test_a_new_link_takes_the_place_of_the_old(self, browser: Client, signed: Any) -> None:
        old, new = self.make(browser), self.make(browser)
        assert Client().get(old).status_code == 404
        assert Client().get(new).status_code == 200

    def test_who_left_the_business_or_was_shut_out_sees_nothing(
        self, browser: Client, owner: Any, signed: Any
    ) -> None:
        address = self.make(browser)
        owner.user.is_active = False
        owner.user.save()
        assert Client().get(address).status_code == 404
        owner.user.is_active = True
        owner.user.save()
        Membership.objects.filter(user=owner.user).delete()
        assert Client().get(address).status_code == 404

    def test_who_changed_the_business_sees_nothing_of_the_new_one(
        self, browser: Client, owner: Any, other_business: Any, signed: Any
    ) -> None:
        address = self.make(browser)
        Membership.objects.filter(user=owner.user).update(business=other_business)
        assert Client().get(address).status_code == 404

    def test_a_guess_opens_nothing(self, db: None) -> None:
        assert Client().get("/deadlines/guess.ics").status_code == 404

    def test_two_people_have_links_of_their_own(
        self, browser: Client, browser_of: Any, applicator: Any, signed: Any
    ) -> None:
        first, second = self.make(browser), self.make(browser_of(applicator))
        assert Client().get(first).status_code == Client().get(second).status_code == 200
        browser_of(applicator).post("/deadlines/feed/", {"deed": "revoke"})
        assert Client().get(first).status_code == 200


def test_the_deadlines_are_in_the_readers_language_and_the_calendar_is_not(
    browser: Client, owner: Any, signed: Any
) -> None:
    spanish = {"accept-language": "es"}
    text = browser.get("/deadlines/", headers=spanish).text
    assert "12 jun 2026 09:30 CDT" in text
    assert "Aviso antes del trabajo" in text
    assert "Notice before the work" not in text
    secret = make_feed(actor=owner, now=NOW)
    calendar = Client().get(f"/deadlines/{secret}.ics", headers=spanish).content.decode()
    assert "SUMMARY:Notice before the work" in calendar
