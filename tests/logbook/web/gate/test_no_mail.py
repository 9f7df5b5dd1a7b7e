"""Without a mail server the pages say so, and no link is written where others read it."""

from __future__ import annotations

import html
import logging
import re
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from logbook.accounts.models import Invitation, Membership, User
from tests import factories as make

pytestmark = pytest.mark.django_db
NEW = "long-boom-over-wheat"
LOGIN = {"name": "New Hand", "unit_system": "metric", "password": NEW, "password2": NEW}


@pytest.fixture(autouse=True, params=["console", "dummy"])
def _no_mail(settings: Any, request: pytest.FixtureRequest) -> None:
    settings.EMAIL_BACKEND = f"django.core.mail.backends.{request.param}.EmailBackend"


@pytest.fixture(autouse=True)
def _nothing_is_printed(capfd: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture) -> Any:
    caplog.set_level(logging.DEBUG, "logbook")
    yield
    printed = "".join(capfd.readouterr()) + caplog.text
    assert "/invitation/" not in printed
    assert "/reset/" not in printed
    assert mail.outbox == []


def link_on(answer: Any) -> str:
    """Return the path of the link that a page shows."""
    assert answer.status_code == 200
    assert "no-store" in answer["Cache-Control"]
    found = re.search(r"<code>https?://[^/]+(/invitation/[^<]+)</code>", answer.text)
    assert found, answer.text
    return html.unescape(found[1])


def test_who_invites_gets_the_link_once_and_hands_it_over(browser: Client, owner: Any) -> None:
    assert "This service sends no e-mail" in browser.get("/members/").text
    answer = browser.post("/members/", {"email": "new@hand.test", "role": "applicator"})
    link = link_on(answer)
    assert "This service sends no e-mail, so new@hand.test has not been written to." in answer.text
    page = browser.get("/members/").text
    assert "new@hand.test is invited" not in page
    assert link not in page
    Client().post(link, LOGIN)
    user = User.objects.get(email="new@hand.test")
    assert Membership.objects.get(user=user).business == owner.business
    assert Client().get(link).status_code == 404


def test_a_link_that_was_lost_is_made_anew_at_once(browser: Client) -> None:
    old = link_on(browser.post("/members/", {"email": "new@hand.test", "role": "helper"}))
    page = browser.get("/members/").text
    assert "Make a new link" in page
    assert "Send again" not in page
    row = Invitation.objects.get()
    # Nobody's letter box is filled by it, so there is nothing to wait for.
    new = link_on(browser.post(reverse("member-invitation-again", args=[row.pk])))
    assert Client().get(old).status_code == 404
    assert Client().get(new).status_code == 200


def test_access_from_outside_is_handed_over_too(browser: Client, owner: Any) -> None:
    customer = make.CustomerFactory(business=owner.business)
    form = {"email": "fern@farm.test", "role": "farm manager", "customers": customer.pk}
    answer = browser.post(reverse("access-give"), form)
    link = link_on(answer)
    assert f'href="{reverse("access")}"' in answer.text
    page = browser.get(reverse("access")).text
    assert "fern@farm.test" in page
    assert link not in page
    row = Invitation.objects.get()
    again = reverse("member-invitation-again", args=[row.pk])
    assert link_on(browser.post(again, {"back": "access"})) != link


def test_a_forgotten_password_is_for_who_runs_the_service(owner: Any) -> None:
    page = Client().get("/reset/").text
    assert "This service sends no e-mail" in page
    assert 'name="email"' not in page
    answers = [
        Client().post("/reset/", {"email": email})
        for email in (owner.user.email, "nobody@example.test")
    ]
    assert {answer.status_code for answer in answers} == {200}
    # Django masks the token of the form of languages anew on every page.
    masked = re.compile(r'name="csrfmiddlewaretoken" value="[^"]*"')
    texts = {masked.sub("", answer.text) for answer in answers}
    assert len(texts) == 1
    assert "Ask the one who runs this service" in texts.pop()
