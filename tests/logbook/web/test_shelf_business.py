"""The business changes itself: its owner alone, within bounds."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from logbook.accounts.rights import Right
from logbook.accounts.services import save_business
from logbook.errors.exceptions import NotAllowed, RefusedInput

pytestmark = pytest.mark.django_db

POST = {
    "name": "Long Furrow Spraying",
    "address": "Box 14, Stillwater Flats",
    "phone": "",
    "licence_number": "B-7781",
    "time_zone": "America/Chicago",
    "paper_size": "a4",
    "look_again_percent": "4",
    "disagree_percent": "8",
    "catch_test_max_days": "180",
}


def test_the_owner_changes_paper_and_yardsticks(browser: Client, business: Any) -> None:
    response = browser.post("/shelf/business/", POST)
    assert response.status_code == 302
    assert response["Location"] == "/shelf/"
    business.refresh_from_db()
    assert (business.paper_size, business.disagree_percent) == ("a4", Decimal(8))
    assert business.address == "Box 14, Stillwater Flats"


def test_the_form_shows_what_holds_now(browser: Client) -> None:
    text = browser.get("/shelf/business/").content.decode()
    assert 'name="disagree_percent" value="10.0"' in text


@pytest.mark.parametrize("role", ["office", "applicator", "helper"])
def test_nobody_else_may(role: str, request: Any, browser_of: Any, business: Any) -> None:
    client = browser_of(request.getfixturevalue(role))
    assert client.get("/shelf/business/").status_code == 403
    response = client.post("/shelf/business/", POST)
    assert response.status_code == 403
    assert (
        f"As {role} you may not change the business and its yardsticks.".encode()
        in response.content
    )
    business.refresh_from_db()
    assert business.paper_size == "letter"


@pytest.mark.parametrize(
    ("column", "value", "sentence"),
    [
        ("disagree_percent", "2", "must be more than 0 and not beyond"),
        ("look_again_percent", "0", "greater than or equal to 0.1"),
        ("time_zone", "Chicago", "is not a time zone; write it like"),
        ("paper_size", "foolscap", "foolscap is not one of the available choices"),
        ("name", "", "Name is needed."),
    ],
)
def test_values_out_of_bounds_are_refused_and_nothing_changes(
    column: str, value: str, sentence: str, browser: Client, business: Any
) -> None:
    response = browser.post("/shelf/business/", {**POST, column: value})
    assert response.status_code == 422
    assert sentence in response.content.decode()
    business.refresh_from_db()
    assert business.address == "Box 12, Stillwater Flats"
    assert business.paper_size == "letter"


def test_a_refused_name_does_not_stand_in_the_head_of_the_page(browser: Client) -> None:
    response = browser.post("/shelf/business/", {**POST, "name": "Other", "time_zone": "x"})
    assert '<span class="quiet">Long Furrow Spraying</span>' in response.content.decode()


def test_the_service_refuses_by_itself(owner: Any, office: Any) -> None:
    with pytest.raises(NotAllowed, match="As office you may not change the business"):
        save_business(actor=office, data={"name": "Mine"})
    with pytest.raises(RefusedInput, match="time_zone"):
        save_business(actor=owner, data={"time_zone": "Chicago"})
    assert owner.may(Right.BUSINESS)
