"""The admin: everything is listed; what is sealed, and every draft, can only be looked at."""

from __future__ import annotations

from typing import Any

import pytest
from django.apps import apps
from django.contrib import admin
from django.test import Client

from tests import factories as make

pytestmark = pytest.mark.django_db

OURS = [
    model
    for name in ("accounts", "catalog", "records")
    for model in apps.get_app_config(name).get_models()
]
BOOK = list(apps.get_app_config("records").get_models())


def address(model: Any, *parts: Any) -> str:
    return "/".join(["/admin", model._meta.app_label, model._meta.model_name, *map(str, parts), ""])


@pytest.fixture
def root(signed: Any) -> Client:
    """A superuser's browser; one record is sealed."""
    user = make.UserFactory(is_staff=True, is_superuser=True)
    client = Client()
    client.force_login(user)
    return client


def test_everything_is_registered() -> None:
    assert {model for model in OURS if not admin.site.is_registered(model)} == set()


@pytest.mark.parametrize("model", OURS, ids=lambda model: model.__name__)
def test_everything_is_listed_and_opens(model: Any, root: Client) -> None:
    response = root.get(address(model) + "?q=a")
    assert response.status_code == 200
    row = model.objects.first()
    if row is not None:
        assert root.get(address(model, row.pk, "change")).status_code == 200


@pytest.mark.parametrize("model", BOOK, ids=lambda model: model.__name__)
def test_the_book_can_be_neither_added_to_nor_changed_nor_removed_from(
    model: Any, root: Client
) -> None:
    assert root.get(address(model, "add")).status_code == 403
    row = model.objects.first()
    if row is not None:
        assert root.post(address(model, row.pk, "change"), {}).status_code == 403
        assert root.post(address(model, row.pk, "delete"), {"post": "yes"}).status_code == 403
    count = model.objects.count()
    root.post(
        address(model),
        {"action": "delete_selected", "_selected_action": [row.pk if row else 0], "post": "yes"},
    )
    assert model.objects.count() == count


def test_a_row_of_the_shelf_can_be_changed_with_its_list(root: Client, yard: Any) -> None:
    page = root.get(address(type(yard.rig), yard.rig.pk, "change"))
    assert 'value="800"' in page.content.decode()


def test_a_user_can_be_made(root: Client) -> None:
    entry = {
        "email": "new@example.test",
        "name": "New Person",
        "usable_password": "true",
        "password1": make.PASSWORD,
        "password2": make.PASSWORD,
        "memberships-TOTAL_FORMS": "0",
        "memberships-INITIAL_FORMS": "0",
    }
    response = root.post("/admin/accounts/user/add/", entry)
    assert response.status_code == 302, response.content.decode()


def test_an_owner_of_a_business_does_not_get_in(owner: Any) -> None:
    client = Client()
    client.force_login(owner.user)
    response = client.get("/admin/")
    assert response.status_code == 302
    assert response["Location"].startswith("/admin/login/")
