"""What tests of getting in share: an app that makes codes, and e-mails that were sent."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django_otp.oath import totp
from django_otp.plugins.otp_totp.models import TOTPDevice

from logbook.accounts import second_factor
from logbook.accounts.services import Confirmation
from logbook.accounts.tokens import make_token
from tests.factories import PASSWORD


@pytest.fixture(autouse=True)
def _gate_settings(settings: Any) -> None:
    # Waiting after a wrong code is django-otp's; one test looks at it, the others do not wait.
    settings.OTP_TOTP_THROTTLE_FACTOR = 0
    settings.OTP_STATIC_THROTTLE_FACTOR = 0


@pytest.fixture
def code_of() -> Callable[[Any], str]:
    """Return the app: the code of now, or some steps of 30 s on, of a user's secret."""

    def code(user: Any, steps: int = 0) -> str:
        device = TOTPDevice.objects.get(user=user)
        return f"{totp(device.bin_key, drift=steps):06}"

    return code


@pytest.fixture
def with_factor(rf: Any, code_of: Callable[..., str]) -> Callable[[Any], list[str]]:
    """Return what gives a user a second factor; it returns the recovery codes."""

    def given(user: Any) -> list[str]:
        second_factor.begin(confirmation=Confirmation(user=user))
        # The code of the step before, so that the one of now is still fresh; the clock stands, so
        # that a slow machine does not make it the one before that.
        with time_machine.travel(timezone.now(), tick=False):
            return second_factor.finish(rf.post("/"), user=user, code=code_of(user, -1))

    return given


@pytest.fixture
def log_in() -> Callable[..., Any]:
    """Return the first step of a login."""

    def step(client: Client, email: str, password: str = PASSWORD, **more: str) -> Any:
        return client.post(reverse("login"), {"username": email, "password": password, **more})

    return step


@pytest.fixture
def letters() -> Callable[[], list[Any]]:
    """Return the e-mails sent, once those under way are through."""

    def through() -> list[Any]:
        for thread in threading.enumerate():
            if thread.name == "reset mail":
                thread.join(10)
        return mail.outbox

    return through


@pytest.fixture
def api_token(confirmed: Any) -> Callable[[Any], str]:
    """Return what makes a token of an actor that stands today; it returns the secret."""

    def made(actor: Any) -> str:
        _token, secret = make_token(
            actor=actor,
            name="weather station",
            scopes=["read"],
            days=30,
            confirmation=confirmed(actor),
            now=timezone.now(),
        )
        return secret

    return made


def opens(secret: str) -> bool:
    """Return whether a program is let in with the token."""
    headers = {"Authorization": f"Bearer {secret}"}
    return Client().get("/api/v1/records/", headers=headers).status_code == 200


def is_in(client: Client) -> bool:
    return "_auth_user_id" in client.session
