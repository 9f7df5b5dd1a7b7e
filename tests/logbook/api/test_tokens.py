"""Who sends a token acts by it alone: no cookie, no CSRF token, and no more than its scopes."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from logbook.accounts.models import ApiToken
from logbook.accounts.services import Confirmation
from logbook.accounts.tokens import make_token
from tests.factories import PASSWORD
from tests.logbook.api.conftest import Caller, problem_of


@pytest.fixture
def by_token(db: None) -> Any:
    """Return what makes a caller with a token of an actor; it refuses a request without CSRF."""

    def made(actor: Any, *scopes: str) -> Any:
        _, secret = make_token(
            actor=actor,
            name="a program",
            scopes=scopes or ("read",),
            days=1,
            confirmation=Confirmation(user=actor.user),
            now=timezone.now(),
        )
        caller = Caller(csrf=True)
        caller.client.defaults["HTTP_AUTHORIZATION"] = f"Bearer {secret}"
        return caller

    return made


def test_a_token_reads_and_writes_drafts_without_csrf(by_token, owner):
    caller = by_token(owner, "drafts")
    new = caller.post("records/", {"id": str(uuid.UUID(int=9))})
    assert new.status_code == 201
    assert caller.get(f"records/{uuid.UUID(int=9)}/check/").status_code == 200
    assert ApiToken.objects.get().last_used_at


@pytest.mark.parametrize("scope", ["read", "drafts", "duties"])
def test_a_scope_that_lacks_the_right_is_refused(by_token, owner, rows, scope):
    caller = by_token(owner, scope)
    caller.get("seals/")
    before = rows()
    body = {"id": str(uuid.uuid4()), "name": "New", "address": "Road 1"}
    assert "scopes" in problem_of(caller.post("shelf/customers/", body), 403)["title"]
    assert rows() == before


def test_the_role_still_decides(by_token, helper):
    body = {"id": str(uuid.uuid4()), "name": "New", "address": "Road 1"}
    answer = by_token(helper, "shelf").post("shelf/customers/", body)
    assert "role" in problem_of(answer, 403)["title"]


def test_a_token_signs_nothing_even_with_the_password(by_token, owner, clean_draft):
    caller = by_token(owner, "read", "drafts", "shelf", "duties")
    body = {"password": PASSWORD, "revision": clean_draft.revision}
    problem_of(caller.post(f"records/{clean_draft.pk}/sign/", body), 403)
    clean_draft.refresh_from_db()
    assert clean_draft.signed_at is None


@pytest.mark.parametrize("given", ["Bearer", "Bearer x", "bearer sblog_x", "Bearer \xff"])
def test_a_wrong_token_is_refused_whatever_session_there_is(as_owner, given):
    answer = as_owner.get("records/", Authorization=given)
    problem_of(answer, 401)
    assert answer["WWW-Authenticate"].startswith('Bearer realm="logbook"')


def test_expired_and_revoked_tokens_say_so_in_the_challenge(by_token, owner):
    caller = by_token(owner)
    assert caller.get("records/").status_code == 200
    for change in (
        {"revoked_at": timezone.now()},
        {"revoked_at": None, "made_at": timezone.now() - timedelta(days=2)}
        | {"expires_at": timezone.now() - timedelta(days=1)},
    ):
        ApiToken.objects.update(**change)
        answer = caller.get("records/")
        problem_of(answer, 401)
        # RFC 6750, 3.1.
        assert 'error="invalid_token"' in answer["WWW-Authenticate"]


def test_another_scheme_is_no_token(as_owner):
    assert as_owner.get("records/", Authorization="Basic eDp5").status_code == 200


def test_a_token_of_another_business_sees_none_of_the_rows(by_token, stranger, clean_draft):
    caller = by_token(stranger)
    assert caller.get("records/").json()["results"] == []
    problem_of(caller.get(f"records/{clean_draft.pk}/duties/"), 404)


def test_quota_and_rest_are_in_every_answer(by_token, owner, visitor):
    answer = by_token(owner).get("records/")
    # draft-ietf-httpapi-ratelimit-headers-08: "name";q=quota;w=seconds and "name";r=rest;t=seconds.
    assert answer["RateLimit-Policy"] == '"member";q=1200;w=60'
    name, rest, until = answer["RateLimit"].split(";")
    assert (name, rest) == ('"member"', "r=1199")
    assert 1 <= int(until.removeprefix("t=")) <= 60
    again = by_token(owner).get("records/")
    assert ";r=1198;" in again["RateLimit"]
    refused = visitor.get("records/")
    assert '"visitor"' not in answer["RateLimit"]
    assert refused.status_code == 401
    body = {"known_flow": 24, "speed": 12, "spacing": 1200}
    assert visitor.post("rate-check/", body)["RateLimit-Policy"] == '"rate-check";q=60;w=60'


def test_a_429_says_when_to_come_again(visitor, db, monkeypatch):
    from rest_framework.throttling import SimpleRateThrottle

    monkeypatch.setitem(SimpleRateThrottle.THROTTLE_RATES, "rate-check", "1/min")
    body = {"known_flow": 24, "speed": 12, "spacing": 1200}
    assert visitor.post("rate-check/", body).status_code == 200
    refused = visitor.post("rate-check/", body)
    problem_of(refused, 429)
    assert ";r=0;" in refused["RateLimit"]
    assert 1 <= int(refused["Retry-After"]) <= 60
