"""People on the shelf: a right of their own, and logins of this business alone."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from logbook.accounts.models import Person
from tests import factories as make
from tests.logbook.web.posts import as_shown, good_post

pytestmark = pytest.mark.django_db


def test_the_office_may_change_people(browser_of: Any, office: Any, yard: Any) -> None:
    client = browser_of(office)
    address = f"/shelf/people/{yard.person.pk}/edit/"
    post = {**as_shown(client, address), "name": "B. Lind"}
    assert client.post(address, post).status_code == 302
    yard.person.refresh_from_db()
    assert yard.person.name == "B. Lind"


def test_an_applicator_may_look_at_people_but_not_change_them(
    browser_of: Any, applicator: Any, yard: Any
) -> None:
    client = browser_of(applicator)
    assert client.get(f"/shelf/people/{yard.person.pk}/").status_code == 200
    response = client.post(f"/shelf/people/{yard.person.pk}/edit/", good_post("people", yard))
    assert response.status_code == 403
    assert b"As applicator you may not change people and their licences." in response.content
    yard.person.refresh_from_db()
    assert yard.person.name == "A. Lund"


def test_a_person_is_tied_to_a_login_of_the_business(
    browser: Client, applicator: Any, yard: Any
) -> None:
    post = {**good_post("people", yard), "user": applicator.user.pk}
    assert browser.post("/shelf/people/new/", post).status_code == 302
    assert Person.objects.get(name="B. Lind").user == applicator.user


def test_a_login_of_another_business_is_neither_offered_nor_taken(
    browser: Client, stranger: Any, yard: Any
) -> None:
    offered = f'<option value="{stranger.user.pk}">'
    assert offered not in browser.get("/shelf/people/new/").content.decode()
    response = browser.post(
        "/shelf/people/new/", {**good_post("people", yard), "user": stranger.user.pk}
    )
    assert response.status_code == 422
    assert b"There is no such login here." in response.content
    assert not Person.objects.filter(name="B. Lind").exists()


def test_a_licence_that_expires_before_it_starts_is_refused(browser: Client, yard: Any) -> None:
    post = {**good_post("people", yard), "licences-0-expires_on": "2025-01-01"}
    response = browser.post("/shelf/people/new/", post)
    assert response.status_code == 422
    assert b"A licence cannot expire before it starts." in response.content


def test_a_place_that_is_no_code_is_refused(browser: Client, yard: Any) -> None:
    post = {**good_post("people", yard), "licences-0-place": "N DAK"}
    response = browser.post("/shelf/people/new/", post)
    assert response.status_code == 422
    assert b"write its name, such as North Dakota" in response.content


def test_a_person_page_lists_licences_and_training(browser: Client, business: Any) -> None:
    person = make.PersonFactory(business=business, licensed=True, trained=True)
    text = browser.get(f"/shelf/people/{person.pk}/").content.decode()
    assert "2028-03-31" in text
    assert "Handling, drift, first aid and what the label asks" in text
