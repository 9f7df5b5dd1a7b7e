"""The front door: who is let in, and what a refusal of a service becomes."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.contrib.messages.storage.cookie import CookieStorage
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.test import Client, RequestFactory
from django.urls import reverse

from logbook.accounts.rights import Right
from logbook.errors.exceptions import Conflict, NotAllowed, NotThere
from logbook.web.viewbase import front_door

ID = "5f0a7f5e-0d1c-4b8e-9a0e-0c7d6a3b2f10"
SITE = "http://testserver"


def asked(actor: Any, method: str = "post", came_from: str = "", htmx: bool = False) -> Any:
    made = getattr(RequestFactory(), method)(f"/book/{ID}/sign/", headers={"referer": came_from})
    made.actor = actor
    made.htmx = htmx
    made._messages = CookieStorage(made)
    return made


def door(refusal: Exception | None = None, right: Right = Right.SIGN) -> Any:
    @front_door(right)
    def view(request: Any) -> HttpResponse:
        if refusal:
            raise refusal
        return HttpResponse(request.actor.role)

    return view


@pytest.fixture
def signer() -> Any:
    def must(right: Right) -> None:
        if right is Right.PEOPLE:
            raise NotAllowed("As applicator you may not.")

    return SimpleNamespace(role="applicator", must=must)


def test_a_member_with_the_right_comes_in(signer: Any) -> None:
    assert door()(asked(signer)).content == b"applicator"


def test_the_view_keeps_its_name(signer: Any) -> None:
    assert door().__name__ == "view"


def test_a_user_of_no_business_stays_out() -> None:
    with pytest.raises(PermissionDenied, match="belongs to no business yet"):
        door()(asked(None))


def test_a_role_without_the_right_stays_out(signer: Any) -> None:
    with pytest.raises(PermissionDenied, match="As applicator you may not"):
        door(right=Right.PEOPLE)(asked(signer))


def test_a_service_that_finds_nothing_makes_a_missing_page(signer: Any) -> None:
    with pytest.raises(Http404, match="There is no such record"):
        door(NotThere("There is no such record."))(asked(signer))


def test_a_service_that_does_not_allow_it_makes_a_closed_page(signer: Any) -> None:
    with pytest.raises(PermissionDenied, match="Not you"):
        door(NotAllowed("Not you."))(asked(signer))


@pytest.mark.parametrize(
    ("method", "came_from", "target"),
    [
        ("post", f"{SITE}/keeping/?show=all", f"{SITE}/keeping/?show=all"),
        ("post", f"{SITE}/book/{ID}/sign/", f"{SITE}/book/{ID}/sign/"),
        ("get", f"{SITE}/book/{ID}/sign/", "/"),
        # Addresses that take nothing but a form: to be sent there is a bare 405.
        ("post", f"{SITE}/keeping/hold/", "/"),
        ("post", f"{SITE}/book/{ID}/resume/", "/"),
        ("post", f"{SITE}/nowhere/", "/"),
        ("post", "https://elsewhere.test/", "/"),
        ("post", "", "/"),
    ],
)
def test_any_other_refusal_leads_back_with_its_sentence(
    method: str, came_from: str, target: str, signer: Any
) -> None:
    request = asked(signer, method, came_from)
    response = door(Conflict("Somebody else changed it."))(request)
    assert response.status_code == 303
    assert response["Location"] == target
    assert [str(message) for message in get_messages(request)] == ["Somebody else changed it."]


def test_a_refusal_to_a_part_of_a_page_loads_the_whole_page(signer: Any) -> None:
    request = asked(signer, came_from=f"{SITE}/book/{ID}/", htmx=True)
    response = door(Conflict("Somebody else changed it."))(request)
    assert response["HX-Redirect"] == f"{SITE}/book/{ID}/"


@pytest.mark.parametrize("name", ["today", "book", "season", "deadlines", "plan", "shelf"])
def test_head_is_answered_wherever_get_is(browser: Client, name: str) -> None:
    """RFC 9110, 9.1: all general-purpose servers must support GET and HEAD."""
    answer = browser.head(reverse(name))
    assert answer.status_code == browser.get(reverse(name)).status_code == 200
    assert answer.content == b""
