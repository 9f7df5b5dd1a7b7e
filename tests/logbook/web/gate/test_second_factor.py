"""The second factor: set up with the password, asked at every way in, used up and locked."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django_otp.oath import totp
from django_otp.plugins.otp_static.models import StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from logbook.accounts import second_factor
from logbook.accounts.services import Confirmation
from logbook.accounts.tokens import make_token
from tests import factories as make
from tests.factories import PASSWORD
from tests.logbook.web.gate.conftest import is_in

pytestmark = pytest.mark.django_db
SETTLE = "/you/second-factor/"
SET_UP = "/you/second-factor/set-up/"
CODE = "/login/code/"


def test_the_codes_are_those_of_the_standard() -> None:
    # RFC 6238, appendix B: SHA-1, secret "12345678901234567890", eight digits; we show six.
    for seconds, code in ((59, "94287082"), (1111111109, "07081804"), (2000000000, "69279037")):
        with time_machine.travel(seconds, tick=False):
            device = TOTPDevice(key=b"12345678901234567890".hex())
            assert f"{totp(device.bin_key):06}" == code[2:]


def test_it_is_set_up_with_password_and_code(
    owner: Any, browser: Client, code_of: Callable[..., str]
) -> None:
    begun = browser.post(SETTLE, {"password": PASSWORD, "deed": "begin"}, follow=True)
    page = begun.content.decode()
    assert "<svg" in page
    assert " style=" not in page
    secret = second_factor.set_up(owner.user)
    assert secret
    assert secret.secret in page
    assert not second_factor.stands(owner.user)
    shown = browser.post(SET_UP, {"code": code_of(owner.user)})
    codes = shown.content.decode()
    assert shown["Cache-Control"].count("no-store")
    assert second_factor.stands(owner.user)
    assert second_factor.codes_left(owner.user) == 10
    stored = list(StaticToken.objects.values_list("token", flat=True))
    assert not any(token.lower() in codes.lower() for token in stored)
    # Shown once: the page itself leads away now.
    assert browser.get(SET_UP)["Location"] == SETTLE


@pytest.mark.parametrize("deed", ["begin", "codes", "off"])
def test_nothing_is_done_without_the_password(
    owner: Any, browser: Client, with_factor: Any, deed: str
) -> None:
    if deed != "begin":
        with_factor(owner.user)
    before = list(StaticToken.objects.values_list("pk", flat=True))
    answer = browser.post(SETTLE, {"password": "wrong", "deed": deed})
    assert answer.status_code == 422
    assert "This is not your password." in answer.content.decode()
    assert second_factor.stands(owner.user) is (deed != "begin")
    assert second_factor.set_up(owner.user) is None
    assert list(StaticToken.objects.values_list("pk", flat=True)) == before


def test_a_wrong_code_does_not_switch_it_on(owner: Any, browser: Client) -> None:
    browser.post(SETTLE, {"password": PASSWORD, "deed": "begin"})
    answer = browser.post(SET_UP, {"code": "000000"})
    assert answer.status_code == 422
    assert "does not fit" in answer.content.decode()
    assert not second_factor.stands(owner.user)


def test_the_secret_is_not_shown_to_who_has_not_just_given_the_password(
    owner: Any, browser: Client, browser_of: Any
) -> None:
    browser.post(SETTLE, {"password": PASSWORD, "deed": "begin"})
    assert browser_of(owner).get(SET_UP)["Location"] == SETTLE
    assert browser.get(SET_UP).status_code == 200
    with time_machine.travel("2031-01-01", tick=False):
        assert browser.get(SET_UP).status_code == 302


def test_a_login_takes_password_and_code(
    owner: Any, client: Client, with_factor: Any, code_of: Callable[..., str], log_in: Any
) -> None:
    with_factor(owner.user)
    first = log_in(client, owner.user.email, next="/shelf/rigs/")
    assert first["Location"] == CODE
    assert not is_in(client)
    assert client.get("/")["Location"].startswith("/login/")
    assert client.get("/api/v1/records/").status_code == 401
    assert client.post(CODE, {"code": "000000"}).status_code == 200
    assert not is_in(client)
    code = code_of(owner.user)
    assert client.post(CODE, {"code": f"{code[:3]} {code[3:]}"})["Location"] == "/shelf/rigs/"
    assert is_in(client)


def test_a_code_is_not_taken_twice(
    owner: Any, with_factor: Any, code_of: Callable[..., str], log_in: Any
) -> None:
    with_factor(owner.user)
    code = code_of(owner.user)
    first, second = Client(), Client()
    for browser in (first, second):
        log_in(browser, owner.user.email)
        browser.post(CODE, {"code": code})
    assert is_in(first)
    assert not is_in(second)


def test_a_recovery_code_opens_once(owner: Any, with_factor: Any, log_in: Any) -> None:
    codes = with_factor(owner.user)
    for typed, opened in ((codes[0].upper(), True), (codes[0], False), (codes[1], True)):
        browser = Client()
        log_in(browser, owner.user.email)
        browser.post(CODE, {"code": typed})
        assert is_in(browser) is opened
    assert second_factor.codes_left(owner.user) == 8


def test_somebody_elses_codes_do_not_open(
    owner: Any, office: Any, with_factor: Any, code_of: Callable[..., str], log_in: Any
) -> None:
    with_factor(owner.user)
    others = with_factor(office.user)
    browser = Client()
    log_in(browser, owner.user.email)
    for code in (others[0], code_of(office.user)):
        browser.post(CODE, {"code": code})
        assert not is_in(browser)
    assert second_factor.codes_left(office.user) == 10


def test_the_code_page_is_closed_without_a_password(client: Client, with_factor: Any) -> None:
    user = make.UserFactory()
    with_factor(user)
    assert client.get(CODE)["Location"] == "/login/"
    assert client.post(CODE, {"code": "123456"})["Location"] == "/login/"


def test_the_password_step_ends_after_ten_minutes_and_with_the_password(
    owner: Any, client: Client, with_factor: Any, code_of: Callable[..., str], log_in: Any
) -> None:
    with_factor(owner.user)
    log_in(client, owner.user.email)
    owner.user.set_password("another-long-boom")
    owner.user.save()
    assert client.post(CODE, {"code": code_of(owner.user)})["Location"] == "/login/"
    log_in(client, owner.user.email, "another-long-boom")
    assert client.get(CODE).status_code == 200
    with time_machine.travel(datetime.now(UTC) + timedelta(minutes=11)):
        assert client.get(CODE).status_code == 302


def test_too_many_codes_lock_the_login(
    settings: Any, owner: Any, with_factor: Any, code_of: Callable[..., str], log_in: Any
) -> None:
    with_factor(owner.user)
    settings.AXES_ENABLED = True
    browser = Client()
    log_in(browser, owner.user.email)
    answers = [
        browser.post(CODE, {"code": "000000"}).status_code
        for _ in range(settings.AXES_FAILURE_LIMIT)
    ]
    assert answers[0] == 200
    assert answers[-1] == 429
    assert browser.post(CODE, {"code": code_of(owner.user)}).status_code == 429
    assert not is_in(browser)
    assert log_in(Client(), owner.user.email).status_code == 429


def test_the_password_alone_does_not_wipe_the_count(
    settings: Any, owner: Any, with_factor: Any, log_in: Any
) -> None:
    with_factor(owner.user)
    settings.AXES_ENABLED = True
    for _ in range(settings.AXES_FAILURE_LIMIT):
        browser = Client()
        log_in(browser, owner.user.email)
        browser.post(CODE, {"code": "000000"})
    assert log_in(Client(), owner.user.email).status_code == 429


def test_what_was_typed_is_not_kept_with_the_count(
    settings: Any, owner: Any, with_factor: Any, log_in: Any
) -> None:
    from axes.models import AccessAttempt

    codes = with_factor(owner.user)
    settings.AXES_ENABLED = True
    browser = Client()
    log_in(browser, owner.user.email)
    browser.post(CODE, {"code": f"{codes[0]}x"})
    attempt = AccessAttempt.objects.get()
    assert codes[0] not in attempt.post_data


def test_after_a_wrong_code_the_next_has_to_wait(
    settings: Any, owner: Any, client: Client, with_factor: Any, code_of: Any, log_in: Any
) -> None:
    with_factor(owner.user)
    settings.OTP_TOTP_THROTTLE_FACTOR = 10
    log_in(client, owner.user.email)
    client.post(CODE, {"code": "000000"})
    answer = client.post(CODE, {"code": code_of(owner.user)})
    assert "too soon" in answer.content.decode()
    assert not is_in(client)


def test_new_codes_take_the_place_of_the_old(
    owner: Any, browser: Client, with_factor: Any, log_in: Any
) -> None:
    old = with_factor(owner.user)
    page = browser.post(SETTLE, {"password": PASSWORD, "deed": "codes"}).content.decode()
    assert second_factor.codes_left(owner.user) == 10
    assert old[0] not in page
    other = Client()
    log_in(other, owner.user.email)
    other.post(CODE, {"code": old[0]})
    assert not is_in(other)


def test_switched_off_the_password_is_enough(
    owner: Any, browser: Client, with_factor: Any, log_in: Any
) -> None:
    with_factor(owner.user)
    browser.post(SETTLE, {"password": PASSWORD, "deed": "off"})
    assert not StaticToken.objects.exists()
    other = Client()
    log_in(other, owner.user.email)
    assert is_in(other)


def test_switching_it_on_logs_out_the_others(
    owner: Any, browser: Client, browser_of: Any, code_of: Callable[..., str]
) -> None:
    other = browser_of(owner)
    browser.post(SETTLE, {"password": PASSWORD, "deed": "begin"})
    browser.post(SET_UP, {"code": code_of(owner.user)})
    assert other.get("/").status_code == 302
    assert browser.get("/").status_code == 200


def test_tokens_go_on_without_a_code_which_the_pages_say_beside_the_way_to_revoke_them(
    owner: Any, browser: Client, code_of: Callable[..., str]
) -> None:
    assert "revoke" not in browser.get(SETTLE).content.decode().lower()
    proof, now = Confirmation(user=owner.user), datetime.now(UTC)
    words: Any = {"name": "<i>kitchen</i> screen", "scopes": ["read"], "days": 9}
    token, _secret = make_token(actor=owner, confirmation=proof, now=now, **words)
    page = browser.get(SETTLE).content.decode()
    assert "&lt;i&gt;kitchen&lt;/i&gt; screen" in page
    assert "A token asks for no code" in page
    assert 'action="/you/tokens/out/"' in page
    browser.post(SETTLE, {"password": PASSWORD, "deed": "begin"})
    shown = browser.post(SET_UP, {"code": code_of(owner.user)}).content.decode()
    assert "1 token still acts for you" in shown
    token.refresh_from_db()
    assert token.revoked_at is None
    browser.post("/you/tokens/out/")
    token.refresh_from_db()
    assert token.revoked_at is not None


def test_the_admin_asks_for_it_too(
    client: Client, with_factor: Any, code_of: Callable[..., str], log_in: Any
) -> None:
    root = make.UserFactory(is_staff=True, is_superuser=True)
    with_factor(root)
    step = client.get("/admin/", follow=True)
    assert step.redirect_chain[-1][0] == "/login/?next=%2Fadmin%2F"
    # The admin's own form is not there to be posted to.
    data = {"username": root.email, "password": PASSWORD}
    assert client.post("/admin/login/", data).status_code == 405
    assert not is_in(client)
    log_in(client, root.email, next="/admin/")
    assert client.get("/admin/").status_code == 302
    assert client.post(CODE, {"code": code_of(root)})["Location"] == "/admin/"
    assert client.get("/admin/").status_code == 200


def test_who_may_not_enter_the_admin_is_told_so(browser: Client) -> None:
    assert browser.get("/admin/", follow=True).status_code == 403


def test_the_admin_does_not_show_the_secret(client: Client, with_factor: Any) -> None:
    root = make.UserFactory(is_staff=True, is_superuser=True)
    with_factor(root)
    client.force_login(root)
    device = TOTPDevice.objects.get()
    page = client.get(f"/admin/otp_totp/totpdevice/{device.pk}/change/")
    assert page.status_code == 200
    assert device.key not in page.content.decode()


def test_a_record_is_still_signed_with_the_password(
    owner: Any, browser: Client, clean_draft: Any, with_factor: Any
) -> None:
    with_factor(owner.user)
    data = {"revision": clean_draft.revision, "password": PASSWORD}
    browser.post(f"/book/{clean_draft.pk}/sign/", data)
    clean_draft.refresh_from_db()
    assert clean_draft.signed_at
