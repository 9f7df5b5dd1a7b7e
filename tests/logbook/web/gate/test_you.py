"""A person's own page: settings, password, devices."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import timedelta
from typing import Any
from unittest.mock import patch

import pytest
import time_machine
from django.contrib.auth.tokens import default_token_generator
from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlsafe_base64_encode

from logbook.accounts.devices import in_words, seen
from logbook.accounts.models import Device
from logbook.records.writing.feeds import make_feed
from tests import factories as make
from tests.factories import PASSWORD
from tests.logbook.web.gate.conftest import is_in, opens

pytestmark = pytest.mark.django_db
NEW = "long-boom-over-wheat"
PHONE = (
    "Mozilla/5.0 (Android 14; Mobile; rv:127.0) Gecko/127.0 Firefox/127.0"  # Mozilla's own example
)


def test_name_and_units_are_the_persons_own(browser: Client, owner: Any) -> None:
    assert b'href="/you/"' in browser.get("/").content
    browser.post("/you/", {"name": "O. Therwise", "unit_system": "metric"})
    owner.user.refresh_from_db()
    assert (owner.user.name, owner.user.unit_system) == ("O. Therwise", "metric")


@pytest.mark.parametrize(
    "changed", [{"name": ""}, {"unit_system": "furlongs"}, {"name": "x" * 151}]
)
def test_bad_settings_change_nothing(browser: Client, owner: Any, changed: dict[str, str]) -> None:
    answer = browser.post("/you/", {"name": "Other", "unit_system": "metric"} | changed)
    assert answer.status_code == 422
    before = owner.user.name
    owner.user.refresh_from_db()
    assert (owner.user.name, owner.user.unit_system) == (before, "us")


def test_the_language_is_chosen_here_too(browser: Client, owner: Any) -> None:
    assert 'id="language-you"' in browser.get("/you/").text
    answer = browser.post("/you/language/", {"language": "es", "next": "/you/"}, follow=True)
    assert '<html lang="es">' in answer.text
    owner.user.refresh_from_db()
    assert owner.user.language == "es"


def test_a_login_of_no_business_has_its_page(browser_of: Any) -> None:
    page = browser_of(make.UserFactory()).get("/you/")
    assert page.status_code == 200
    assert "What this login belongs to" in page.content.decode()


def test_a_visitor_has_none(client: Client) -> None:
    for address in ("/you/", "/you/password/", "/you/second-factor/", "/you/second-factor/set-up/"):
        assert client.get(address)["Location"].startswith("/login/")


def test_a_changed_password_logs_out_the_others(
    browser: Client, browser_of: Any, owner: Any
) -> None:
    other = browser_of(owner)
    data = {"old_password": PASSWORD, "new_password1": NEW, "new_password2": NEW}
    assert browser.post("/you/password/", data)["Location"] == "/you/"
    assert other.get("/").status_code == 302
    page = browser.get("/you/").content.decode()
    assert "other devices are logged out" in page
    assert Device.objects.filter(user=owner.user).count() == 1


def test_the_old_password_is_asked(browser: Client, browser_of: Any, owner: Any) -> None:
    other = browser_of(owner)
    data = {"old_password": "wrong", "new_password1": NEW, "new_password2": NEW}
    assert browser.post("/you/password/", data).status_code == 200
    owner.user.refresh_from_db()
    assert owner.user.check_password(PASSWORD)
    assert other.get("/").status_code == 200


def test_guessing_the_old_password_is_locked(settings: Any, browser: Client, owner: Any) -> None:
    settings.AXES_ENABLED = True
    data = {"old_password": "wrong", "new_password1": NEW, "new_password2": NEW}
    for _ in range(settings.AXES_FAILURE_LIMIT):
        answer = browser.post("/you/password/", data)
    assert answer.status_code == 429
    assert browser.post("/you/password/", data | {"old_password": PASSWORD}).status_code == 429
    owner.user.refresh_from_db()
    assert owner.user.check_password(PASSWORD)


# --- devices -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (PHONE, "Firefox Mobile on Android"),
        ("", "unknown browser"),
        ("something of its own", "unknown browser"),
    ],
)
def test_a_user_agent_is_said_in_words(agent: str, words: str) -> None:
    assert in_words(agent) == words


def log_in(user: Any, **headers: Any) -> Client:
    client = Client(**headers)
    client.post("/login/", {"username": user.email, "password": PASSWORD})
    assert is_in(client)
    return client


def test_every_login_is_listed(owner: Any) -> None:
    log_in(owner.user, HTTP_USER_AGENT=PHONE, REMOTE_ADDR="198.51.100.7")
    here = log_in(owner.user)
    page = here.get("/you/").content.decode()
    assert "Firefox Mobile on Android" in page
    assert "198.51.100.7" in page
    assert page.count("Log out there") == 1


def test_the_session_key_is_not_on_the_page(owner: Any) -> None:
    other = log_in(owner.user)
    here = log_in(owner.user)
    page = here.get("/you/").content.decode()
    assert other.session.session_key not in page
    assert here.session.session_key not in page


def test_one_is_logged_out_and_the_others_stay(owner: Any) -> None:
    here, lost, third = (log_in(owner.user) for _ in range(3))
    row = Device.objects.get(session_id=lost.session.session_key)
    here.post(reverse("you-device-out", args=[row.pk]))
    assert lost.get("/").status_code == 302
    assert third.get("/").status_code == 200
    assert here.get("/").status_code == 200


def test_all_others_are_logged_out(owner: Any, office: Any) -> None:
    here, lost, third = (log_in(owner.user) for _ in range(3))
    somebody = log_in(office.user)
    here.post(reverse("you-devices-out"))
    assert [client.get("/").status_code for client in (here, lost, third)] == [200, 302, 302]
    assert somebody.get("/").status_code == 200


def test_all_tokens_are_revoked_in_every_business(
    browser: Client, owner: Any, office: Any, other_business: Any, api_token: Any
) -> None:
    make.MembershipFactory(user=owner.user, business=other_business)
    here, there = api_token(owner), api_token(replace(owner, business=other_business))
    of_another = api_token(office)
    browser.post(reverse("you-devices-out"))
    assert opens(here)
    page = browser.get("/you/").content.decode()
    assert here[:10] in page
    assert there[:10] in page
    assert str(other_business) in page
    assert of_another[:10] not in page
    said = browser.post(reverse("you-tokens-out"), follow=True).content.decode()
    assert "2 tokens are revoked." in said
    assert "Revoke all tokens" not in said
    assert [opens(secret) for secret in (here, there, of_another)] == [False, False, True]


def test_nobody_logs_out_somebody_else(owner: Any, office: Any) -> None:
    other = log_in(office.user)
    row = Device.objects.get(user=office.user)
    assert log_in(owner.user).post(reverse("you-device-out", args=[row.pk])).status_code == 404
    assert other.get("/").status_code == 200


def test_logging_out_takes_the_row_along(owner: Any) -> None:
    here = log_in(owner.user)
    here.post("/logout/")
    assert not Device.objects.exists()
    assert not Session.objects.filter(device__user=owner.user).exists()


def test_last_seen_is_written_every_five_minutes(owner: Any) -> None:
    here = log_in(owner.user)
    start = Device.objects.get().last_seen
    here.get("/")
    assert Device.objects.get().last_seen == start
    with time_machine.travel(timezone.now() + timedelta(minutes=6)):
        here.get("/")
    row = Device.objects.get()
    assert row.last_seen > start + timedelta(minutes=5)
    assert row.since == start


def test_a_session_from_before_is_listed_once_it_is_used(browser: Client, owner: Any) -> None:
    Device.objects.all().delete()
    session = browser.session
    session.pop("device_seen", None)
    session.save()
    browser.get("/")
    assert Device.objects.filter(user=owner.user).count() == 1


def test_a_session_signed_out_under_way_is_not_brought_back(owner: Any, rf: Any) -> None:
    here = log_in(owner.user)
    request = rf.get("/")
    request.session, request.user = here.session, owner.user
    assert request.session["_auth_user_id"]
    Session.objects.all().delete()
    seen(request, now=timezone.now() + timedelta(hours=1))
    assert not Session.objects.exists()
    assert not Device.objects.exists()


def test_an_address_behind_a_proxy_is_the_one_the_proxy_saw(settings: Any, owner: Any) -> None:
    forged = {"HTTP_X_FORWARDED_FOR": "203.0.113.9, 198.51.100.7", "REMOTE_ADDR": "127.0.0.1"}
    log_in(owner.user, **forged)
    assert Device.objects.get().address == "127.0.0.1"
    settings.BEHIND_PROXY = True
    Device.objects.all().delete()
    log_in(owner.user, **forged)
    assert Device.objects.get().address == "198.51.100.7"


def test_a_page_for_everybody_opens_no_session(client: Client) -> None:
    client.get("/login/")
    assert not Session.objects.exists()


# --- calendar links ------------------------------------------------------------------------------


def shows(secret: str) -> bool:
    return Client().get(reverse("deadlines-ics", args=[secret])).status_code == 200


@pytest.fixture
def links(owner: Any, office: Any, other_business: Any) -> tuple[list[str], str]:
    """The owner's calendar links in two businesses, and that of somebody else."""
    make.MembershipFactory(user=owner.user, business=other_business)
    now = timezone.now()
    there = replace(owner, business=other_business)
    own = [make_feed(actor=actor, now=now) for actor in (owner, there)]
    return own, make_feed(actor=office, now=now)


def by_the_page(owner: Any, browser: Client) -> None:
    data = {"old_password": PASSWORD, "new_password1": NEW, "new_password2": NEW}
    assert browser.post("/you/password/", data).status_code == 302


def by_the_link_of_a_mail(owner: Any, browser: Client) -> None:
    uid = urlsafe_base64_encode(str(owner.user.pk).encode())
    token = default_token_generator.make_token(owner.user)
    client = Client()
    form = client.get(reverse("reset-confirm", args=[uid, token]))["Location"]
    client.post(form, {"new_password1": NEW, "new_password2": NEW})


def by_the_command(owner: Any, browser: Client) -> None:
    with patch("getpass.getpass", return_value=NEW):
        call_command("changepassword", owner.user.email, stdout=io.StringIO())


def by_the_admin(owner: Any, browser: Client) -> None:
    admin = Client()
    admin.force_login(make.UserFactory(is_staff=True, is_superuser=True))
    address = reverse("admin:auth_user_password_change", args=[owner.user.pk])
    data = {"usable_password": "true", "password1": NEW, "password2": NEW}
    assert admin.post(address, data).status_code == 302


def by_taking_the_password_away(owner: Any, browser: Client) -> None:
    owner.user.set_unusable_password()
    owner.user.save()


def by_logging_out_everywhere(owner: Any, browser: Client) -> None:
    assert "Log out everywhere but here" in browser.get("/you/").text
    said = browser.post("/you/devices/out/", follow=True).text
    assert "Your calendar links have ended." in said
    assert "Log out everywhere but here" not in said


@pytest.mark.parametrize(
    "way",
    [
        *(by_the_page, by_the_link_of_a_mail, by_the_command, by_the_admin),
        *(by_taking_the_password_away, by_logging_out_everywhere),
    ],
)
def test_a_calendar_link_ends(way: Any, owner: Any, browser: Client, links: Any) -> None:
    own, of_another = links
    assert all(map(shows, own))
    way(owner, browser)
    assert [shows(secret) for secret in own] == [False, False]
    assert shows(of_another)


def test_a_calendar_link_stays_while_the_password_does(
    settings: Any, owner: Any, browser: Client, links: Any
) -> None:
    settings.PASSWORD_HASHERS = [
        "django.contrib.auth.hashers.PBKDF2PasswordHasher",
        *settings.PASSWORD_HASHERS,
    ]
    before = owner.user.password
    # A login hashes the same password anew where the way of hashing has changed.
    log_in(owner.user)
    owner.user.refresh_from_db()
    assert owner.user.password != before
    browser.post("/you/", {"name": "O. Therwise", "unit_system": "metric"})
    data = {"old_password": "wrong", "new_password1": NEW, "new_password2": NEW}
    browser.post("/you/password/", data)
    assert all(map(shows, links[0]))


def test_the_pages_say_that_it_ends(browser: Client, links: Any) -> None:
    for address in ("/you/", "/you/password/", "/you/second-factor/"):
        assert "calendar links" in browser.get(address).text, address
    assert "when you log out everywhere" in browser.get("/deadlines/feed/").text
