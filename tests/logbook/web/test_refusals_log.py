"""A refused page is one line of the log, whatever was asked for; a link that opens is in none."""

from __future__ import annotations

import io
import logging
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from logbook.accounts import invitations
from logbook.accounts.grants import give_grant
from logbook.accounts.models import Visit
from logbook.accounts.rights import Role
from logbook.records.writing.feeds import make_feed
from tests import factories as make

pytestmark = pytest.mark.django_db
TOKEN = "AbCdEfGhIjKlMnOpQrStUvWxYz0123456789-_AbCdE"
ATTACK = "x\r\nWARNING django.request: forged\u2028two\u0085three\u202eeruces"


@pytest.fixture
def log() -> Iterator[io.StringIO]:
    """What is written by the handler that the settings made, the only one outside of tests."""
    (handler,) = (one for one in logging.getLogger().handlers if type(one) is logging.StreamHandler)
    before = handler.setStream(io.StringIO())
    yield handler.stream
    handler.setStream(before)


def one_line(log: io.StringIO) -> str:
    (line,) = log.getvalue().splitlines()
    return line


def test_no_such_page(browser: Client, log: io.StringIO) -> None:
    assert browser.get("/no/%0D%0AWARNING forged%E2%80%AEx").status_code == 404
    assert one_line(log).startswith("WARNING django.request: Not Found: /no/")
    assert "\u202e" not in log.getvalue()


def test_no_such_row(browser: Client, stranger: Any, log: io.StringIO) -> None:
    customer = make.CustomerFactory(business=stranger.business, name=ATTACK)
    address = reverse("shelf-item", args=["customers", customer.pk])
    assert browser.get(address).status_code == 404
    assert one_line(log) == f"WARNING django.request: Not Found: {address}"


def test_not_yours_to_do(browser_of: Any, helper: Any, log: io.StringIO) -> None:
    assert browser_of(helper).get("/members/").status_code == 403
    assert one_line(log) == ("WARNING django.request: Forbidden (Permission denied): /members/")


def test_a_refusal_that_names_what_was_typed(
    browser_of: Any, owner: Any, stranger: Any, log: io.StringIO
) -> None:
    """The sentence of the refusal holds names; it is for the page."""
    secret: list[str] = []
    invitations.invite(
        actor=owner,
        email="new@hand.test",
        role=Role.HELPER,
        link=lambda token: secret.append(token) or token,  # type: ignore[func-returns-value]
        now=timezone.now(),
    )
    type(stranger.user).objects.filter(pk=stranger.user.pk).update(name=ATTACK)
    answer = browser_of(stranger).post(reverse("invitation", args=secret))
    assert answer.status_code == 403
    assert one_line(log) == (
        "WARNING django.request: Forbidden (Permission denied): /invitation/…/"
    )


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"HTTP_ORIGIN": f"https://{ATTACK}"},
        {"HTTP_REFERER": f"https://elsewhere.test/{ATTACK}", "wsgi.url_scheme": "https"},
    ],
)
def test_a_form_that_is_not_ours(owner: Any, log: io.StringIO, headers: dict[str, str]) -> None:
    client = Client(enforce_csrf_checks=True, **headers)
    client.force_login(owner.user)
    assert client.post("/members/", {"email": ATTACK, "role": "helper"}).status_code == 403
    assert one_line(log).startswith("WARNING django.security.csrf: Forbidden (")


def test_a_host_that_is_not_ours(log: io.StringIO) -> None:
    assert Client(HTTP_HOST=ATTACK).get("/login/").status_code == 400
    assert "Invalid HTTP_HOST header" in one_line(log)


def test_too_much_in_a_form(browser: Client, settings: Any, log: io.StringIO) -> None:
    settings.DATA_UPLOAD_MAX_NUMBER_FIELDS = 3
    fields = {f"{ATTACK}{number}": "1" for number in range(9)}
    assert browser.post("/members/", fields).status_code == 400
    assert "DATA_UPLOAD_MAX_NUMBER_FIELDS" in one_line(log)


def test_a_form_that_cannot_be_read(browser: Client, log: io.StringIO) -> None:
    kind = "multipart/form-data; boundary=\u00ff"
    assert browser.post("/members/", b"x", content_type=kind).status_code == 400
    assert one_line(log).startswith("WARNING django.request: Bad request")


def test_a_character_that_cannot_be_stored(browser: Client, log: io.StringIO) -> None:
    assert browser.post("/members/", {"email": f"\x00{ATTACK}"}).status_code == 400
    assert one_line(log) == "WARNING django.request: Bad Request: /members/"


def test_a_fault_keeps_its_trace(log: io.StringIO) -> None:
    try:
        raise RuntimeError("pump")
    except RuntimeError as fault:
        logging.getLogger("django.request").error(
            "Internal Server Error: %s", "/", exc_info=fault, extra={"status_code": 500}
        )
    assert "Traceback" in log.getvalue()


@pytest.mark.parametrize(
    ("address", "shown"),
    [
        (f"/invitation/{TOKEN}/", "/invitation/…/"),
        (f"/reset/MQ/c8z2p1-{'0f' * 16}/", "/reset/MQ/…/"),
        (f"/deadlines/{TOKEN}.ics", "/deadlines/…"),
        ("/deadlines/feed/", "/deadlines/feed/"),
        ("/reset/sent/", "/reset/sent/"),
    ],
)
@pytest.mark.parametrize("logger", ["django.request", "django.server", "django.security.csrf"])
def test_no_line_holds_a_link_that_opens(
    log: io.StringIO, logger: str, address: str, shown: str
) -> None:
    # As Django's development server says it, and as a refusal does.
    for said in (f'"GET {address} HTTP/1.1" 200 5', f"Forbidden (CSRF cookie not set.): {address}"):
        logging.getLogger(logger).info(said)
    lines = log.getvalue()
    assert lines.count(shown) == 2
    assert TOKEN not in lines
    assert "0f0f" not in lines


def test_a_calendar_link_that_ended_is_not_told(
    client: Client, owner: Any, log: io.StringIO
) -> None:
    secret = make_feed(actor=owner, now=timezone.now())
    make_feed(actor=owner, now=timezone.now())
    assert client.get(reverse("deadlines-ics", args=[secret])).status_code == 404
    assert one_line(log) == "WARNING django.request: Not Found: /deadlines/…"


def test_what_a_guest_followed_is_not_told_to_others(
    browser_of: Any, owner: Any, stranger: Any
) -> None:
    """A business sees what its guests asked for, and one of them is invited by another business."""
    guest = make.UserFactory(email="guest@farm.test")
    give_grant(
        actor=owner,
        email=guest.email,
        role=Role.FARM_MANAGER,
        customer_ids=[make.CustomerFactory(business=owner.business).pk],
        field_ids=[],
        every_customer=False,
        reason="",
        day_from=None,
        day_to=None,
        begins_on=None,
        ends_on=None,
        now=timezone.now(),
    )
    secret: list[str] = []
    invitations.invite(
        actor=stranger,
        email="somebody@else.test",
        role=Role.HELPER,
        link=lambda token: secret.append(token) or token,  # type: ignore[func-returns-value]
        now=timezone.now(),
    )
    browser_of(guest).get(reverse("invitation", args=secret))
    assert Visit.objects.filter(user=guest, path="/invitation/…/").exists()
    assert not Visit.objects.filter(path__contains=secret[0]).exists()
