"""Callers of the API by role, and the state of all rows: a refusal changes none."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.apps import apps
from django.core.cache import cache
from django.test import Client

ROOT = "/api/v1/"


class Caller:
    """Somebody at the API: speaks JSON, and keeps the last answer readable."""

    def __init__(self, user: Any = None, *, csrf: bool = False) -> None:
        self.client = Client(enforce_csrf_checks=csrf, raise_request_exception=True)
        if user is not None:
            self.client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")

    def __call__(self, verb: str, path: str, body: Any = None, **headers: str) -> Any:
        """Return the response; `body` is sent as JSON, bytes are sent as they are."""
        data = body if isinstance(body, (bytes, str)) else json.dumps(body)
        if body is None:
            data = ""
        return self.client.generic(
            verb.upper(),
            path if path.startswith("/") else ROOT + path,
            data,
            content_type="application/json",
            headers={name.replace("_", "-"): value for name, value in headers.items()},
        )

    def get(self, path: str, **headers: str) -> Any:
        return self("GET", path, **headers)

    def post(self, path: str, body: Any, **headers: str) -> Any:
        return self("POST", path, body, **headers)

    def put(self, path: str, body: Any, **headers: str) -> Any:
        return self("PUT", path, body, **headers)

    def patch(self, path: str, body: Any, **headers: str) -> Any:
        return self("PATCH", path, body, **headers)


@pytest.fixture(autouse=True)
def _fresh_throttles() -> Iterator[None]:
    """Count the requests of every test from zero."""
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def visitor() -> Caller:
    return Caller()


@pytest.fixture
def as_owner(owner: Any) -> Caller:
    return Caller(owner.user)


@pytest.fixture
def as_helper(helper: Any) -> Caller:
    return Caller(helper.user)


@pytest.fixture
def as_office(office: Any) -> Caller:
    return Caller(office.user)


@pytest.fixture
def as_applicator(applicator: Any) -> Caller:
    return Caller(applicator.user)


@pytest.fixture
def as_stranger(stranger: Any) -> Caller:
    return Caller(stranger.user)


@pytest.fixture
def rows(db: None) -> Callable[[], dict[str, list[Any]]]:
    """Return a function that returns every row of the book, the shelf and the people."""
    labels = ("accounts", "catalog", "records")
    models = [m for label in labels for m in apps.get_app_config(label).get_models()]

    def now() -> dict[str, list[Any]]:
        return {
            model._meta.label: sorted(map(repr, model.objects.values().order_by("pk")))
            for model in models
            # Logging in stamps the user and the device; that is no change of the book.
            if model._meta.label not in ("accounts.User", "accounts.Device")
        }

    return now


def problem_of(response: Any, *statuses: int) -> dict[str, Any]:
    """Return the problem details of a refusal with that status, or one of those."""
    assert response.status_code in statuses, response.content
    assert response["Content-Type"] == "application/problem+json"
    problem: dict[str, Any] = response.json()
    assert problem["type"] == "about:blank"
    assert problem["status"] == response.status_code
    assert problem["title"]
    return problem
