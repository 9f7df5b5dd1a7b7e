"""The API as Schemathesis meets it: in this process, with one owner's rows, without its quotas."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest


def pytest_ignore_collect(collection_path: Path, config: Any) -> bool | None:
    """Leave the schema unread in a run that does not ask for the contract."""
    return True if "not contract" in config.option.markexpr else None


@pytest.fixture
def book(
    owner: Any, clean_draft: Any, yard: Any, monkeypatch: Any, one_connection: None
) -> Iterator[SimpleNamespace]:
    """A business with a draft, its shelf, and the ways in: a token and a session of the owner."""
    from django.core.cache import cache
    from django.middleware.csrf import _get_new_csrf_string
    from django.test import Client
    from django.utils import timezone
    from rest_framework.throttling import SimpleRateThrottle

    from logbook.accounts.rights import Scope
    from logbook.accounts.services import Confirmation
    from logbook.accounts.tokens import make_token

    for scope in SimpleRateThrottle.THROTTLE_RATES:
        monkeypatch.setitem(SimpleRateThrottle.THROTTLE_RATES, scope, "1000000/min")
    cache.clear()
    _, secret = make_token(
        actor=owner,
        name="contract",
        scopes=[scope.value for scope in Scope],
        days=1,
        confirmation=Confirmation(user=owner.user),
        now=timezone.now(),
    )
    client = Client()
    client.force_login(owner.user, backend="django.contrib.auth.backends.ModelBackend")
    csrf = _get_new_csrf_string()
    yield SimpleNamespace(
        token={"Authorization": f"Bearer {secret}"},
        session={
            "Cookie": f"sessionid={client.cookies['sessionid'].value}; csrftoken={csrf}",
            "X-CSRFToken": csrf,
        },
        cases=itertools.count(),
        record=clean_draft,
        row=yard.customer,
    )
    cache.clear()
