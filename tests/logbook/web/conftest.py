"""A browser that is logged in as a member of the business."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client


@pytest.fixture
def browser_of() -> Callable[[Any], Client]:
    """Return what makes a browser in which an actor, or a user, is logged in."""

    def made(actor: Any) -> Client:
        client = Client()
        client.force_login(getattr(actor, "user", actor))
        return client

    return made


@pytest.fixture
def browser(browser_of: Callable[[Any], Client], owner: Any) -> Client:
    """The owner's browser."""
    return browser_of(owner)
