"""Sign-up, password reset, and following an invitation, as a visitor's browser sees them."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any
from unittest.mock import Mock

import pytest
import time_machine
from django.contrib.auth.forms import PasswordResetForm
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone, translation

from logbook import mail as mail_of_ours
from logbook.accounts import invitations
from logbook.accounts.models import Business, Invitation, Membership, User
from tests import factories as make
from tests.factories import PASSWORD
from tests.logbook.web.gate.conftest import is_in, opens

pytestmark = pytest.mark.django_db
NEW = "long-boom-over-wheat"
ENTRY = {
    "business_name": "New Furrow Spraying",
    "address": "Box 1",
    "time_zone": "America/Chicago",
    "paper_size": "letter",
    "name": "N. Owner",
    "email": "own@furrow.test",
    "unit_system": "us",
    "password": NEW,
    "password2": NEW,
}


@pytest.fixture(autouse=True)
def _open(settings: Any) -> None:
    settings.OPEN_SIGN_UP = True


# --- sign-up -------------------------------------------------------------------------------------


def test_a_visitor_opens_a_business_and_is_its_owner(client: Client) -> None:
    assert b'href="/sign-up/"' in client.get("/login/").content
    answer = client.post("/sign-up/", ENTRY, follow=True)
    assert answer.redirect_chain[-1][0] == "/"
    page = answer.content.decode()
    assert "owner of New Furrow Spraying" in page
    assert "Before the first record" in page
    assert 'href="/shelf/customers/new/"' in page
    assert Business.objects.get().time_zone == "America/Chicago"
    assert not User.objects.get().is_staff


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"business_name": ""}, "This field is required."),
        ({"time_zone": "Somewhere/Else"}, "Select a valid choice"),
        ({"email": "nobody"}, "Enter a valid email address."),
        ({"password2": "other"}, "The two passwords are not the same."),
        ({"password": "12345678", "password2": "12345678"}, "This password is"),
    ],
)
def test_bad_entries_open_nothing(client: Client, changed: dict[str, str], said: str) -> None:
    answer = client.post("/sign-up/", ENTRY | changed)
    assert said in answer.content.decode()
    assert NEW not in answer.content.decode()
    assert not Business.objects.exists()
    assert not is_in(client)


def test_an_address_with_a_login_opens_no_second(client: Client, owner: Any) -> None:
    answer = client.post("/sign-up/", ENTRY | {"email": owner.user.email.upper()})
    assert "There is a login of this e-mail address already." in answer.content.decode()
    assert not Business.objects.filter(name="New Furrow Spraying").exists()


def test_where_it_is_closed_nobody_signs_up(settings: Any, client: Client) -> None:
    settings.OPEN_SIGN_UP = False
    assert b"/sign-up/" not in client.get("/login/").content
    answer = client.get("/sign-up/")
    assert answer.status_code == 404
    assert "This address leads nowhere in the book." in answer.text
    assert "Http404" not in answer.text
    assert client.post("/sign-up/", ENTRY).status_code == 404
    assert not Business.objects.exists()


def test_a_weak_password_is_refused_in_the_language_of_the_page(client: Client) -> None:
    """The sentences are those that Django ships in Spanish."""
    weak = ENTRY | {"password": "12345678", "password2": "12345678"}
    page = client.post("/sign-up/", weak, headers={"accept-language": "es"}).text
    assert "Esta contraseña es demasiado común." in page
    assert "Esta contraseña es completamente numérica." in page
    assert not Business.objects.exists()


def test_what_is_no_address_is_refused_in_the_language_of_the_page(client: Client) -> None:
    page = client.post(
        "/sign-up/", ENTRY | {"email": "no address"}, headers={"accept-language": "es"}
    ).text
    assert "Introduzca una dirección de correo electrónico válida." in page


def test_too_many_sign_ups_from_one_address_are_stopped(settings: Any) -> None:
    settings.AXES_ENABLED = True
    for number in range(settings.AXES_FAILURE_LIMIT):
        Client().post("/sign-up/", ENTRY | {"email": f"n{number}@furrow.test"})
    before = Business.objects.count()
    assert Client().post("/sign-up/", ENTRY).status_code == 429
    assert Business.objects.count() == before
    elsewhere = Client(REMOTE_ADDR="198.51.100.7")
    assert elsewhere.post("/sign-up/", ENTRY).status_code == 302


def test_a_member_has_no_use_for_it(browser: Client) -> None:
    assert browser.get("/sign-up/")["Location"] == "/"


# --- password reset ------------------------------------------------------------------------------


def link_in(body: str) -> str:
    return re.search(r"https?://[^/]+(/\S+)", body).group(1)  # type: ignore[union-attr]


def test_the_link_sets_a_new_password_and_ends_every_session(
    client: Client, owner: Any, browser: Client, letters: Callable[[], Any], log_in: Any
) -> None:
    client.post("/reset/", {"email": owner.user.email.upper()})
    (letter,) = letters()
    page = client.get(link_in(letter.body), follow=True)
    form = page.redirect_chain[-1][0]
    done = client.post(form, {"new_password1": NEW, "new_password2": NEW})
    assert done["Location"] == "/login/"
    assert browser.get("/").status_code == 302
    assert not owner.user.devices.exists()
    log_in(client, owner.user.email, NEW)
    assert is_in(client)


def test_the_link_revokes_the_tokens_made_with_the_old_password(
    client: Client, owner: Any, office: Any, api_token: Any, letters: Callable[[], Any]
) -> None:
    lost, of_another = api_token(owner), api_token(office)
    client.post("/reset/", {"email": owner.user.email})
    form = client.get(link_in(letters()[0].body))["Location"]
    client.post(form, {"new_password1": NEW, "new_password2": "not the same"})
    assert opens(lost)
    client.post(form, {"new_password1": NEW, "new_password2": NEW})
    assert not opens(lost)
    assert opens(of_another)


def test_the_link_works_once(client: Client, owner: Any, letters: Callable[[], Any]) -> None:
    client.post("/reset/", {"email": owner.user.email})
    link = link_in(letters()[0].body)
    form = client.get(link)["Location"]
    client.post(form, {"new_password1": NEW, "new_password2": NEW})
    assert "This link opens nothing" in Client().get(link, follow=True).content.decode()


@pytest.mark.parametrize(
    ("chosen", "page", "read"), [("es", "en", "es"), ("", "es", "es"), ("en-gb", "es", "en-gb")]
)
def test_the_letter_is_written_for_who_reads_it(
    client: Client,
    owner: Any,
    letters: Callable[[], Any],
    monkeypatch: pytest.MonkeyPatch,
    chosen: str,
    page: str,
    read: str,
) -> None:
    """It is written in a thread, which begins in the service's own language."""
    spoken: list[str | None] = []
    monkeypatch.setattr(
        PasswordResetForm,
        "send_mail",
        lambda *_args, **_more: spoken.append(translation.get_language()),
    )
    User.objects.filter(pk=owner.user.pk).update(language=chosen)
    client.post("/reset/", {"email": owner.user.email}, headers={"accept-language": page})
    letters()
    assert spoken == [read]


def test_the_answer_does_not_tell_whether_there_is_a_login(
    owner: Any, letters: Callable[[], Any]
) -> None:
    there, not_there = Client(), Client()
    answers = [
        there.post("/reset/", {"email": owner.user.email}, follow=True),
        not_there.post("/reset/", {"email": "nobody@example.test"}, follow=True),
    ]
    assert len(letters()) == 1
    assert answers[0].redirect_chain == answers[1].redirect_chain
    # Django masks the token of the form of languages anew on every page.
    masked = re.compile(r'(name="csrfmiddlewaretoken" value=")[^"]*')
    texts = {masked.sub(r"\1", answer.text) for answer in answers}
    assert len(texts) == 1


def test_the_link_is_of_the_configured_site(
    settings: Any, client: Client, owner: Any, letters: Callable[[], Any]
) -> None:
    settings.SITE_ADDRESS = "https://book.example"
    client.post("/reset/", {"email": owner.user.email})
    assert "https://book.example/reset/" in letters()[0].body


def test_a_weak_password_is_refused(client: Client, owner: Any, letters: Any) -> None:
    client.post("/reset/", {"email": owner.user.email})
    form = client.get(link_in(letters()[0].body))["Location"]
    answer = client.post(form, {"new_password1": "spray", "new_password2": "spray"})
    assert "too short" in answer.content.decode()
    owner.user.refresh_from_db()
    assert owner.user.check_password(PASSWORD)


def test_too_many_requests_for_a_link_are_stopped(
    settings: Any, client: Client, owner: Any, letters: Callable[[], Any]
) -> None:
    settings.AXES_ENABLED = True
    codes = [
        client.post("/reset/", {"email": owner.user.email}).status_code
        for _ in range(settings.AXES_FAILURE_LIMIT + 2)
    ]
    assert codes[0] == 302
    assert codes[-2:] == [429, 429]
    assert len(letters()) <= settings.AXES_FAILURE_LIMIT


def test_a_reset_does_not_go_around_the_second_factor(
    client: Client, owner: Any, with_factor: Any, letters: Callable[[], Any], log_in: Any
) -> None:
    with_factor(owner.user)
    client.post("/reset/", {"email": owner.user.email})
    form = client.get(link_in(letters()[0].body))["Location"]
    client.post(form, {"new_password1": NEW, "new_password2": NEW})
    assert not is_in(client)
    assert log_in(client, owner.user.email, NEW)["Location"] == "/login/code/"
    assert not is_in(client)


# --- invitations ---------------------------------------------------------------------------------

LOGIN = {"name": "New Hand", "unit_system": "metric", "password": NEW, "password2": NEW}


def invited(browser: Client, email: str = "new@hand.test", role: str = "applicator") -> str:
    """Invite by the page, and return the link of the e-mail."""
    answer = browser.post("/members/", {"email": email, "role": role})
    assert answer.status_code == 302, answer.content.decode()
    return link_in(mail.outbox[-1].body)


def test_an_invited_person_makes_a_login_and_is_in(browser: Client, owner: Any) -> None:
    link = invited(browser)
    visitor = Client()
    assert "new@hand.test" in visitor.get(link).content.decode()
    answer = visitor.post(link, LOGIN, follow=True)
    assert "You have joined" in answer.content.decode()
    assert f"applicator of {owner.business}" in answer.content.decode()
    assert Client().get(link).status_code == 404


def test_looking_at_the_link_uses_nothing_up(browser: Client) -> None:
    link = invited(browser)
    for _ in range(3):
        assert Client().get(link).status_code == 200
    assert Invitation.objects.get().accepted_at is None


def test_who_has_a_login_is_led_to_it_and_joins(
    browser: Client, owner: Any, stranger: Any, log_in: Any
) -> None:
    link = invited(browser, stranger.user.email, "office")
    visitor = Client()
    page = visitor.get(link).content.decode()
    assert "has a login already" in page
    assert 'name="password"' not in page
    # Posting the form that is not shown makes no second login and takes nothing over.
    visitor.post(link, LOGIN)
    assert not is_in(visitor)
    log_in(visitor, stranger.user.email, next=link)
    assert "Join" in visitor.get(link).content.decode()
    page = visitor.post(link, follow=True).content.decode()
    assert f"office of {owner.business}" in page
    # Both businesses are theirs, and they change between them.
    visitor.post(reverse("acting"), {"as": f"member-{stranger.business.pk}"})
    assert f"owner of {stranger.business}" in visitor.get("/").content.decode()


def test_somebody_else_who_is_logged_in_does_not_join(
    browser: Client, browser_of: Any, stranger: Any
) -> None:
    link = invited(browser)
    other = browser_of(stranger)
    page = other.get(link).content.decode()
    assert "Log out below" in page
    assert other.post(link).status_code == 403
    assert Invitation.objects.get().accepted_at is None


def test_wrong_links_are_counted(settings: Any, browser: Client) -> None:
    link = invited(browser)
    settings.AXES_ENABLED = True
    guesser = Client()
    for number in range(settings.AXES_FAILURE_LIMIT):
        guesser.get(f"/invitation/guess-{number}/")
    assert guesser.get(link).status_code == 429
    assert Client(REMOTE_ADDR="198.51.100.7").get(link).status_code == 200


def test_the_members_page_withdraws_and_sends_again(browser: Client) -> None:
    link = invited(browser)
    row = Invitation.objects.get()
    assert "new@hand.test" in browser.get("/members/").content.decode()
    with time_machine.travel(timezone.now() + timedelta(minutes=11)):
        browser.post(reverse("member-invitation-again", args=[row.pk]))
    again = link_in(mail.outbox[-1].body)
    assert Client().get(link).status_code == 404
    assert Client().get(again).status_code == 200
    browser.post(reverse("member-invitation-withdraw", args=[row.pk]))
    assert Client().get(again).status_code == 404
    assert "Nobody is invited" in browser.get("/members/").content.decode()


def test_a_refused_invitation_is_said_beside_its_line(browser: Client, owner: Any) -> None:
    answer = browser.post("/members/", {"email": owner.user.email, "role": "helper"})
    assert answer.status_code == 422
    assert "a member already" in answer.content.decode()
    assert browser.post("/members/", {"email": "a@b.test", "role": "king"}).status_code == 422


def test_the_office_is_not_offered_what_it_may_not_give(browser_of: Any, office: Any) -> None:
    browser = browser_of(office)
    assert 'value="owner"' not in browser.get("/members/").content.decode()
    answer = browser.post("/members/", {"email": "a@b.test", "role": "owner"})
    assert answer.status_code == 422
    assert not mail.outbox


def test_what_could_not_be_invited_stays_typed_and_what_was_not_sent_waits(
    browser: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = {"email": "new@hand.test", "role": "helper"}
    monkeypatch.setattr(invitations, "A_DAY", 0)
    answer = browser.post("/members/", form)
    assert answer.status_code == 422
    assert "0 invitations were sent within a day; go on tomorrow." in answer.content.decode()
    assert 'value="new@hand.test"' in answer.content.decode()
    monkeypatch.setattr(invitations, "A_DAY", 1)
    monkeypatch.setattr(mail_of_ours, "send", Mock(side_effect=ConnectionRefusedError))
    text = browser.post("/members/", form, follow=True).content.decode()
    assert "could not be sent" in text
    assert 'value="new@hand.test"' not in text


def test_the_members_page_is_for_owner_and_office(
    browser_of: Any, helper: Any, applicator: Any
) -> None:
    for actor in (helper, applicator):
        assert browser_of(actor).get("/members/").status_code == 403
        assert browser_of(actor).post("/members/", {"email": "a@b.test"}).status_code == 403


def test_a_role_is_changed_and_a_member_taken_out(browser: Client, helper: Any) -> None:
    row = Membership.objects.get(user=helper.user)
    address = reverse("member", args=[row.pk])
    assert browser.get(address).status_code == 200
    browser.post(address, {"role": "applicator"})
    row.refresh_from_db()
    assert row.role == "applicator"
    browser.post(reverse("member-out", args=[row.pk]))
    assert not Membership.objects.filter(pk=row.pk).exists()


def test_the_last_owner_is_told_why_they_stay(browser: Client, owner: Any) -> None:
    row = Membership.objects.get(user=owner.user)
    address = reverse("member", args=[row.pk])
    for deed in (address, reverse("member-out", args=[row.pk])):
        assert browser.post(deed, {"role": "helper"}).status_code == 303
        assert "is the last owner" in browser.get(address).content.decode()
    assert Membership.objects.filter(pk=row.pk, role="owner").exists()


def test_members_of_another_business_are_not_there(browser: Client, stranger: Any) -> None:
    row = Membership.objects.get(user=stranger.user)
    for address in (reverse("member", args=[row.pk]), "/members/99999999999999999999/"):
        assert browser.get(address).status_code == 404
    assert browser.post(reverse("member-out", args=[row.pk])).status_code == 404
    assert Membership.objects.filter(pk=row.pk).exists()


def test_the_list_takes_as_many_queries_for_many_as_for_one(
    browser: Client, owner: Any, django_assert_max_num_queries: Any
) -> None:
    for _ in range(60):
        make.MembershipFactory(business=owner.business, role="helper")
    with django_assert_max_num_queries(10):
        page = browser.get("/members/").content.decode()
    assert "Page 1 of 2" in page
