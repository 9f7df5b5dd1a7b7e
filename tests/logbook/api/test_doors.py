"""Who is let in: every address of the API for visitors, every role, and another tenant."""

from __future__ import annotations

import json
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import get_resolver

from logbook.accounts.rights import INSIDE, TABLE, Right
from logbook.accounts.services import actor_for
from logbook.api import urls
from logbook.api.viewbase import Door, PublicDoor
from tests import factories as make
from tests.factories import PASSWORD
from tests.logbook.api.conftest import ROOT, Caller, problem_of

VERBS = ("GET", "POST", "PUT", "PATCH")
PUBLIC = {"api", "api-schema", "api-rate-check"}
SOME_ID = uuid.UUID(int=7)
QUERIES = {
    "api-season": "?year=2026",
    "api-totals": "?from=2026-01-01&to=2026-12-31",
}
"""What an address cannot be read without."""


def addresses() -> list[tuple[str, str]]:
    """Return (name, path) of every address, with an id where one belongs."""
    found = []
    for pattern in urls.urlpatterns:
        if pattern.name:
            route = str(pattern.pattern)
            for part in ("record_id", "row_id", "entry_id", "picture_id"):
                route = route.replace(f"<uuid:{part}>", str(SOME_ID))
            found.append((pattern.name, ROOT + route))
    return found


def view_of(path: str) -> Any:
    return getattr(get_resolver().resolve(path).func, "cls", None)


def verbs_of(view: Any) -> list[str]:
    return [verb for verb in VERBS if hasattr(view, verb.lower())]


CLOSED = [
    (name, verb, path)
    for name, path in addresses()
    if name not in PUBLIC
    for verb in verbs_of(view_of(path))
]


def right_of(path: str, verb: str) -> Right:
    match = get_resolver().resolve(path)
    attribute = "right_to_read" if verb == "GET" else "right_to_write"
    return match.func.initkwargs.get(attribute) or getattr(match.func.cls, attribute)


def test_the_walk_meets_every_address_of_the_task():
    paths = {path.removeprefix(ROOT).replace(str(SOME_ID), "{id}") for _, path in addresses()}
    shelf = ["customers", "fields", "products", "labels", "nozzles"]
    shelf += ["rigs", "nozzle-sets", "catch-tests", "people"]
    assert paths == {
        "",
        "schema/",
        "rate-check/",
        "shelf/history/",
        "nozzle-choice/",
        "records/",
        "records/{id}/",
        "records/{id}/check/",
        "records/{id}/sign/",
        "records/{id}/amend/",
        "records/{id}/seal/",
        "records/{id}/record.pdf",
        "records/{id}/pictures/",
        "records/{id}/pictures/{id}.jpg",
        "records/{id}/duties/",
        "records/{id}/duty-entries/",
        "records/{id}/duty-entries/{id}/strike/",
        *(f"records/{{id}}/papers/{name}.pdf" for name in ("notice-before", "posting")),
        *(f"records/{{id}}/papers/{name}.pdf" for name in ("notice-completed", "copy")),
        "deadlines/",
        "totals/",
        "export/records.json",
        "export/records.csv",
        "seals/",
        "log/verify/",
        "season/",
        *(f"shelf/{kind}/" for kind in shelf),
        *(f"shelf/{kind}/{{id}}/" for kind in shelf),
    }
    assert len(CLOSED) == 3 + 9 * 5 + 11 + 15


@pytest.mark.parametrize(("name", "verb", "path"), CLOSED)
def test_a_visitor_is_asked_to_log_in(visitor, db, name, verb, path):
    response = visitor(verb, path, {})
    problem_of(response, 401)
    assert response["WWW-Authenticate"].startswith("Bearer")


@pytest.mark.parametrize(("name", "verb", "path"), CLOSED)
def test_a_user_of_no_business_is_let_in_nowhere(db, name, verb, path):
    problem_of(Caller(make.UserFactory())(verb, path, {}), 403)


@pytest.mark.parametrize("role", INSIDE)
def test_a_role_enters_where_the_table_of_rights_lets_it(business, role, rows):
    user = make.UserFactory()
    make.MembershipFactory(user=user, business=business, role=role.value)
    caller = Caller(user)
    before = rows()
    for name, verb, path in CLOSED:
        response = caller(verb, path, {})
        allowed = right_of(path, verb) in TABLE[role]
        assert (response.status_code != 403) is allowed, (name, verb, response.content)
        assert response.status_code < 500
        if not allowed:
            problem_of(response, 403)
    assert rows() == before


def test_an_address_that_names_no_right_is_closed_to_everybody(owner, rf):
    request = rf.get("/")
    request.user, request.actor = owner.user, owner

    class Forgotten(Door):
        authentication_classes = ()

        def get(self, request: Any) -> Any:
            raise AssertionError("the door was open")

    assert Forgotten.as_view()(request).status_code == 403


def test_only_the_public_addresses_are_public():
    open_ones = {
        name
        for name, path in addresses()
        if view_of(path) is None or issubclass(view_of(path), PublicDoor)
    }
    assert open_ones == PUBLIC


OF_ONE_ROW = [(name, verb, path) for name, verb, path in CLOSED if str(SOME_ID) in path]


def real_path(path: str, signed: Any, yard: Any) -> str:
    """Return the path with the id of a row of the business in it."""
    row = {
        "customers": yard.customer,
        "fields": yard.field,
        "products": yard.product,
        "labels": yard.label,
        "nozzles": yard.nozzle,
        "rigs": yard.rig,
        "nozzle-sets": yard.nozzle_set,
        "catch-tests": yard.catch_test,
        "people": yard.person,
    }.get(path.removeprefix(ROOT).split("/")[1], signed)
    return path.replace(str(SOME_ID), str(row.pk))


def test_another_tenant_finds_nothing_and_changes_nothing(as_stranger, signed, yard, rows):
    before = rows()
    for name, verb, path in OF_ONE_ROW:
        body = {
            "api-record-sign": {"password": PASSWORD, "revision": 1},
            "api-record-amend": {"id": str(uuid.uuid4()), "reason": "The speed is wrong."},
        }.get(name, {"revision": 1})
        response = as_stranger(verb, real_path(path, signed, yard), body)
        assert response.status_code == 404, (name, verb, response.content)
        problem_of(response, 404)
    assert rows() == before


def test_another_tenant_sees_none_of_the_rows_in_any_list(
    as_stranger, stranger, other_business, signed, yard
):
    own = other_business.pk
    for name, path in addresses():
        if name in PUBLIC or str(SOME_ID) in path or "GET" not in verbs_of(view_of(path)):
            continue
        response = as_stranger.get(path + QUERIES.get(name, ""))
        assert response.status_code == 200, getattr(response, "content", name)
        if name == "api-export-csv":
            assert len(response.getvalue().splitlines()) == 1
            continue
        shown = json.loads(response.getvalue())
        assert not shown.get("records"), name
        assert not shown.get("products"), name
        # The history of the shelf begins with the stranger's own business.
        theirs = [one for one in shown.get("results", ()) if one.get("row") != str(own)]
        assert not theirs, name
        assert not shown.get("lines"), name
        assert shown.get("checked", 0) == 0


@pytest.mark.parametrize(("name", "path"), [(n, p) for n, p in addresses() if n != "api"])
def test_a_verb_that_an_address_does_not_know_is_refused(as_helper, name, path):
    known = verbs_of(view_of(path))
    for verb in ("DELETE", "OPTIONS", "TRACE", *(v for v in VERBS if v not in known)):
        response = as_helper(verb, path, {})
        problem_of(response, 405)
        assert set(known) <= set(response["Allow"].split(", "))


def test_a_session_without_the_csrf_token_changes_nothing(owner, rows):
    before = rows()
    new = {"id": str(uuid.uuid4())}
    refused = Caller(owner.user, csrf=True).post("records/", new)
    assert "CSRF" in problem_of(refused, 403)["title"]
    assert rows() == before


def test_a_session_with_the_csrf_token_begins_a_draft(owner):
    caller = Caller(owner.user, csrf=True)
    token = "t" * 32
    caller.client.cookies["csrftoken"] = token
    new = {"id": str(uuid.uuid4())}
    assert caller.post("records/", new, X_CSRFToken=token).status_code == 201


def test_what_a_member_is_shown_stays_out_of_caches(as_owner):
    assert as_owner.get("records/")["Cache-Control"] == "no-store"


def test_json_is_answered_whatever_is_accepted(as_owner):
    response = as_owner.get("records/", Accept="text/html")
    assert response.status_code == 200
    assert response["Content-Type"] == "application/json"


@pytest.mark.parametrize("path", ["nothing/", "records", "records/7/", "shelf/tractors/"])
def test_an_address_that_is_none_is_a_problem_and_no_page(visitor, db, path):
    assert "slash" in problem_of(visitor.get(path), 404)["title"]


def test_too_many_requests_are_slowed_down(visitor, db, settings):
    allowed = int(settings.REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"]["rate-check"].split("/")[0])
    body = {"known_flow": 24, "speed": 12, "spacing": 1200}
    for _ in range(allowed):
        assert visitor.post("rate-check/", body).status_code == 200
    refused = visitor.post("rate-check/", body)
    problem_of(refused, 429)
    assert int(refused["Retry-After"]) > 0


def test_a_user_of_two_businesses_acts_in_the_first(owner, other_business):
    make.MembershipFactory(user=owner.user, business=other_business)
    assert actor_for(owner.user).business == owner.business


def test_the_session_cookie_is_what_opens_the_door(owner, db):
    client = Client()
    assert client.get(f"{ROOT}records/").status_code == 401
    client.force_login(owner.user, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get(f"{ROOT}records/").status_code == 200
