"""The page of a person's tokens: a secret is shown once, others' tokens are not there."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from logbook.accounts.models import ApiToken
from tests.factories import PASSWORD

PAGE = "/you/tokens/"
GOOD = {"name": "Weather <station>", "scopes": ["read"], "days": "30", "password": PASSWORD}


def test_a_token_is_made_and_its_secret_shown_once(browser):
    assert "You have no token yet" in browser.get(PAGE).content.decode()
    answer = browser.post(PAGE, GOOD)
    (secret,) = re.findall(r"<code>(sblog_[\w-]{43})</code>", answer.content.decode())
    assert "no-store" in answer["Cache-Control"]
    assert "Weather &lt;station&gt;" in answer.content.decode()
    page = browser.get(PAGE).content.decode()
    assert secret not in page
    assert ApiToken.objects.get().start in page
    assert browser.get("/api/v1/records/", headers={"Authorization": f"Bearer {secret}"})


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"password": "guess"}, "This is not your password."),
        ({"name": ""}, "This field is required."),
        ({"scopes": ["sign"]}, "sign is not one of the available choices"),
        ({"days": "366"}, "366 is not one of the available choices"),
    ],
)
def test_what_cannot_be_taken_is_said_and_makes_nothing(browser, change, says):
    answer = browser.post(PAGE, {**GOOD, **change})
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not ApiToken.objects.exists()


def test_a_token_is_revoked_by_its_person_alone(browser, browser_of, office, stranger):
    browser.post(PAGE, GOOD)
    token = ApiToken.objects.get()
    address = reverse("token-revoke", args=[token.pk])
    for other in (office, stranger):
        assert browser_of(other).post(address).status_code == 404
        assert "Weather" not in browser_of(other).get(PAGE).content.decode()
    assert browser.get(address).status_code == 405
    assert "opens nothing any longer" in browser.post(address, follow=True).content.decode()
    token.refresh_from_db()
    assert token.revoked_at
    assert f"revoked {token.revoked_at:%Y-%m-%d %H:%M} UTC" in browser.get(PAGE).content.decode()


def test_a_visitor_is_sent_to_log_in(client, db):
    assert client.get(PAGE).status_code == 302


def test_queries_do_not_grow_with_tokens(browser, django_assert_max_num_queries):
    for _ in range(3):
        browser.post(PAGE, GOOD)
    with django_assert_max_num_queries(6):
        browser.get(PAGE)
