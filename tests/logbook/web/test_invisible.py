"""A name that turns text around, or holds what cannot be seen, is read on pages as on paper."""

from __future__ import annotations

import csv
import io
import re
from types import SimpleNamespace
from typing import Any

import icalendar
import pytest
import time_machine
from django.core import mail
from django.core.management import call_command
from django.http import HttpResponse, StreamingHttpResponse
from django.test import Client
from django.urls import reverse

from logbook.accounts.invitations import invite
from logbook.accounts.rights import Role
from logbook.accounts.services import actor_for
from logbook.records.writing.feeds import make_feed
from logbook.web.middleware import InvisibleMiddleware
from tests.conftest import NOW, clean_data, sealed_by, written
from tests.logbook.documents.reading import whole
from tests.logbook.web.posts import as_shown
from tests.logbook.web.test_hostile_text import OF_DRAFT, OF_RECORDS, PAGES, body

NAME = "Elm \u202egnip\u202c\u200b & Co"
READ = "Elm [U+202E]gnip[U+202C][U+200B] & Co"
MARKS = re.compile("[\u202e\u202c\u200b]")


@pytest.fixture(autouse=True)
def _afternoon() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def season(owner: Any, yard: SimpleNamespace) -> SimpleNamespace:
    for row in (yard.customer, yard.field, yard.product, yard.rig, yard.nozzle, yard.person):
        type(row).objects.filter(pk=row.pk).update(name=NAME)
    for row in (owner.business, owner.user):
        type(row).objects.filter(pk=row.pk).update(name=NAME)
    owner = actor_for(type(owner.user).objects.get(pk=owner.user.pk))
    data = clean_data(yard) | {"note": NAME, "purpose": NAME}
    sealed = sealed_by(owner, written(owner, data))
    return SimpleNamespace(owner=owner, sealed=sealed, draft=written(owner, data), yard=yard)


def test_every_page_shows_the_marks(browser_of: Any, season: Any) -> None:
    browser: Client = browser_of(season.owner)
    items = [("customers", season.yard.customer), ("fields", season.yard.field)]
    addresses = [
        *map(reverse, PAGES),
        *(reverse(name, args=[season.sealed.pk]) for name in OF_RECORDS),
        *(reverse(name, args=[season.draft.pk]) for name in OF_DRAFT),
        *(reverse(name, args=[kind, row.pk]) for kind, row in items for name in ("shelf-item",)),
        *(reverse("shelf-edit", args=[kind, row.pk]) for kind, row in items),
        reverse("shelf-list", args=["customers"]),
    ]
    escaped = READ.replace("&", "&amp;")
    for address in addresses:
        page = browser.get(address).text
        assert escaped in page, address
        # What is left stands in inputs, which send it back as it was entered.
        inputs = r"<textarea\b.*?</textarea>|<input\b[^>]*>"
        assert not MARKS.search(re.sub(inputs, "", page, flags=re.DOTALL)), address


def test_what_is_not_touched_comes_back_as_it_was(browser_of: Any, season: Any) -> None:
    browser, customer = browser_of(season.owner), season.yard.customer
    address = reverse("shelf-edit", args=["customers", customer.pk])
    sent = as_shown(browser, address)
    assert sent["name"] == NAME
    assert browser.post(address, sent | {"phone": "555 0100"}).status_code == 302
    customer.refresh_from_db()
    assert (customer.name, customer.phone) == (NAME, "555 0100")


def test_letters_and_calendars_show_them(season: Any, client: Client) -> None:
    call_command("remind", stdout=io.StringIO())
    invite(
        actor=season.owner,
        email="new@example.test",
        role=Role.HELPER,
        link=lambda token: f"https://book.example/invitation/{token}/",
        now=NOW,
    )
    assert len(mail.outbox) == 2
    for letter in mail.outbox:
        assert READ in letter.subject
        assert READ in letter.body
        assert not MARKS.search(letter.subject + letter.body)
    secret = make_feed(actor=season.owner, now=NOW)
    raw = client.get(reverse("deadlines-ics", args=[secret])).content
    events = icalendar.Calendar.from_ical(raw).walk("VEVENT")
    assert events
    for event in events:
        assert READ in event["summary"]
        assert READ in event["description"]
    assert not MARKS.search(raw.decode())


def test_paper_reads_the_same(browser_of: Any, season: Any) -> None:
    answer = browser_of(season.owner).get(reverse("record-pdf", args=[season.sealed.pk]))
    assert "".join(READ.split()) in re.sub(r"\s", "", whole(answer.content))


def test_files_hold_what_was_entered(browser_of: Any, season: Any) -> None:
    """A file is read by programs, and may come back: there a number would be another name."""
    browser = browser_of(season.owner)
    text = body(browser.get(reverse("shelf-csv", args=["customers"]))).decode("utf-8-sig")
    assert any(NAME in cell for row in csv.reader(io.StringIO(text)) for cell in row)
    assert NAME in body(browser.get(reverse("exchange-json"))).decode()


def shown(page: str, kind: str = "text/html; charset=utf-8") -> str:
    answer = InvisibleMiddleware(lambda _request: HttpResponse(page, content_type=kind))
    return answer(None).content.decode()  # type: ignore[arg-type]


def test_where_a_mark_is_shown_and_where_it_stays() -> None:
    assert shown("<p>a\u202eb</p>") == "<p>a[U+202E]b</p>"
    assert shown('<p title="\u202eb" data-label="\u202ec">') == (
        '<p title="[U+202E]b" data-label="[U+202E]c">'
    )
    for kept in (
        '<input value="a\u202eb" name="n">',
        "<textarea rows=3>a\u202e &lt;b</textarea>",
        '<a href="/?q=\u202e">',
    ):
        assert shown(kept) == kept
    assert shown("<p>a\u202eb</p>", "application/json") == "<p>a\u202eb</p>"
    assert shown("<p>می\u200cخواهم</p>") == "<p>می\u200cخواهم</p>"


def test_a_page_that_streams_is_shown_alike() -> None:
    pieces = ["<p>a\u202eb</p>", "<p>plain</p>"]
    answer: Any = InvisibleMiddleware(lambda _request: StreamingHttpResponse(iter(pieces)))(
        None  # type: ignore[arg-type]
    )
    assert answer.getvalue().decode() == "<p>a[U+202E]b</p><p>plain</p>"


def test_length_and_packing_are_those_of_what_is_sent(browser_of: Any, season: Any) -> None:
    answer = browser_of(season.owner).get("/members/")
    assert int(answer["Content-Length"]) == len(answer.content)
