"""Too many wrong passwords close the login, however the address is spelled."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from logbook.accounts.locks import network
from logbook.accounts.services import confirm_password
from logbook.errors.exceptions import RefusedInput
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


# --- one password, many names --------------------------------------------------------------------

START = datetime(2026, 6, 12, 20, 0, tzinfo=UTC)
LATER = timedelta(minutes=16)
"""Longer than the cool-off."""


@pytest.fixture
def sprayed(settings: Any, db: None) -> Iterator[time_machine.Traveller]:
    """One password was just tried on many names, from the network of the tests' client."""
    settings.AXES_ENABLED = True
    with time_machine.travel(START, tick=False) as clock:
        for number in range(settings.LOCK_AFTER_NAMES):
            guess = attempt(Client(), f"name{number}@example.test", "Spring2026!")
            assert guess.status_code == 200
        yield clock


def enters(email: str, **client: Any) -> bool:
    browser = Client(**client)
    attempt(browser, email, make.PASSWORD)
    return "_auth_user_id" in browser.session


def test_many_names_close_the_network_to_the_next(sprayed: Any) -> None:
    user = make.UserFactory()
    answer = attempt(Client(), user.email, make.PASSWORD)
    assert answer.status_code == 429
    assert "another network" in answer.content.decode()
    assert not enters(user.email)
    assert enters(user.email, REMOTE_ADDR="198.51.100.7")


def test_the_network_opens_again_by_itself(sprayed: Any) -> None:
    user = make.UserFactory()
    sprayed.move_to(START + LATER)
    assert enters(user.email)


def test_knocking_at_the_closed_door_does_not_keep_it_closed(sprayed: Any, settings: Any) -> None:
    user = make.UserFactory()
    for minute in range(15):
        sprayed.move_to(START + timedelta(minutes=minute))
        assert attempt(Client(), f"more{minute}@example.test", "x").status_code == 429
    sprayed.move_to(START + LATER)
    assert enters(user.email)


def test_knocking_does_not_keep_one_name_closed_either(settings: Any, db: None) -> None:
    settings.AXES_ENABLED = True
    user = make.UserFactory()
    with time_machine.travel(START, tick=False) as clock:
        for _ in range(settings.AXES_FAILURE_LIMIT):
            attempt(Client(), user.email, "wrong")
        for minute in range(15):
            clock.move_to(START + timedelta(minutes=minute))
            assert attempt(Client(), user.email, make.PASSWORD).status_code == 429
        clock.move_to(START + LATER)
        assert enters(user.email)


def test_who_has_logged_in_from_there_lately_still_does(settings: Any, db: None) -> None:
    settings.AXES_ENABLED = True
    known, long_ago = make.UserFactory(email="Known@Example.test"), make.UserFactory()
    with time_machine.travel(START - timedelta(days=31), tick=False) as clock:
        assert enters(long_ago.email)
        clock.move_to(START - timedelta(days=29))
        assert enters(known.email)
        clock.move_to(START)
        for number in range(settings.LOCK_AFTER_NAMES):
            attempt(Client(), f"name{number}@example.test", "Spring2026!")
        assert enters(known.email.lower())
        assert not enters(long_ago.email)
        # The limit of one name holds all the same.
        for _ in range(settings.AXES_FAILURE_LIMIT):
            attempt(Client(), known.email, "wrong")
        assert not enters(known.email)


def test_who_is_logged_in_goes_on_signing(sprayed: Any, owner: Any, rf: Any) -> None:
    """A phone that has come into the network asks for its own password, and for no other."""
    request = rf.post("/")
    request.user = owner.user
    assert confirm_password(request, user=owner.user, password=make.PASSWORD).user == owner.user
    other = rf.post("/")
    other.user = make.UserFactory()
    with pytest.raises(RefusedInput):
        confirm_password(other, user=owner.user, password=make.PASSWORD)


def test_a_login_of_another_name_opens_nothing(settings: Any, db: None) -> None:
    """A guesser with a login of their own does not begin anew by using it."""
    settings.AXES_ENABLED = True
    own, victim = make.UserFactory(), make.UserFactory()
    assert enters(own.email)
    for number in range(settings.LOCK_AFTER_NAMES):
        attempt(Client(), f"name{number}@example.test", "Spring2026!")
    assert enters(own.email)
    assert not enters(victim.email)


def test_resets_and_links_have_their_own_count(sprayed: Any, client: Client) -> None:
    assert client.post("/reset/", {"email": "somebody@example.test"}).status_code == 302
    assert client.get("/invitation/guess/").status_code == 404


def test_fewer_names_close_nothing(settings: Any, db: None) -> None:
    settings.AXES_ENABLED = True
    for number in range(settings.LOCK_AFTER_NAMES - 1):
        attempt(Client(), f"name{number}@example.test", "mistyped")
    assert enters(make.UserFactory().email)


@pytest.mark.parametrize(
    ("address", "counted"),
    [
        ("198.51.100.7", "198.51.100.7"),
        # RFC 3849 keeps 2001:db8::/32 for examples; RFC 6177 gives a line at least a /64.
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::"),
        ("2001:db8:1:2:ffff::", "2001:db8:1:2::"),
        ("2001:db8:1:3::1", "2001:db8:1:3::"),
        ("::ffff:198.51.100.7", "::ffff:198.51.100.7"),
        ("no address", "no address"),
    ],
)
def test_an_ipv6_line_is_one_network(rf: Any, address: str, counted: str) -> None:
    assert network(rf.get("/", REMOTE_ADDR=address)) == counted


def test_one_line_is_not_many_by_its_many_addresses(settings: Any, db: None) -> None:
    settings.AXES_ENABLED = True
    user = make.UserFactory()
    for number in range(settings.AXES_FAILURE_LIMIT):
        attempt(Client(REMOTE_ADDR=f"2001:db8:1:2::{number}"), user.email, "wrong")
    assert not enters(user.email, REMOTE_ADDR="2001:db8:1:2::99")
    assert enters(user.email, REMOTE_ADDR="2001:db8:1:3::1")
