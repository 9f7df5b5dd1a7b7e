"""Too many wrong passwords close the login, however the address is spelled."""

from __future__ import annotations

from typing import Any

from django.test import Client
from django.urls import reverse

from tests import factories as make


def attempt(client: Client, email: str, password: str) -> Any:
    return client.post(reverse("login"), {"username": email, "password": password})


def test_the_lock_holds_for_every_spelling_of_the_address(
    settings: Any, client: Client, db: None
) -> None:
    settings.AXES_ENABLED = True
    user = make.UserFactory(email="someone@example.test")
    spellings = ["someone@example.test", "Someone@Example.test", "SOMEONE@EXAMPLE.TEST"]
    for place in range(settings.AXES_FAILURE_LIMIT):
        attempt(client, spellings[place % 3], "wrong")
    answer = attempt(client, user.email, make.PASSWORD)
    assert answer.status_code == 429
    assert "_auth_user_id" not in client.session


def test_before_the_limit_the_right_password_opens(settings: Any, client: Client, db: None) -> None:
    settings.AXES_ENABLED = True
    user = make.UserFactory(email="someone@example.test")
    attempt(client, user.email, "wrong")
    assert attempt(client, user.email, make.PASSWORD).status_code == 302
