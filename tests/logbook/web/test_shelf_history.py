"""Every change of the shelf is written down: who, what, when, before, after; for good."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.apps import apps
from django.contrib.auth.models import AbstractBaseUser
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from logbook.accounts.history import changes
from logbook.accounts.models import ShelfChange
from logbook.accounts.services import PEOPLE, save_business, save_person
from logbook.accounts.tokens import make_token
from logbook.catalog.models import Customer, Field, Planting
from logbook.catalog.services import SHELVES, save_on_shelf
from logbook.catalog.sheets import jobs
from logbook.errors.exceptions import NotAllowed, RefusedInput
from logbook.tenancy import history
from logbook.tenancy.history import acting
from tests import factories as make
from tests.logbook.web.posts import as_shown


def of(row: Any) -> list[ShelfChange]:
    """Return what became of a row, the first first."""
    return list(ShelfChange.objects.filter(of=str(row.pk)).order_by("created_at"))


def last(row: Any) -> ShelfChange:
    return of(row)[-1]


def test_a_change_on_a_page_says_who_what_when_before_and_after(
    browser: Client, owner: Any, yard: Any
) -> None:
    earliest = datetime.now(UTC)
    address = reverse("shelf-edit", args=["customers", yard.customer.pk])
    was = yard.customer.name
    answer = browser.post(address, as_shown(browser, address) | {"name": "Far farm"})
    assert answer.status_code == 302, answer.content.decode()[:2000]
    change = last(yard.customer)
    assert (change.by, change.deed, change.model) == (owner.user, "changed", "catalog.customer")
    assert (change.before, change.after) == ({"name": was}, {"name": "Far farm"})
    assert (change.name, change.key) == ("Far farm", str(yard.customer.pk))
    assert earliest <= change.created_at <= datetime.now(UTC)


def test_a_new_row_and_what_hangs_on_it_are_added(owner: Any, yard: Any) -> None:
    field_id = uuid.uuid4()
    with acting(lambda: owner.user):
        save_on_shelf(
            business=owner.business,
            shelf="fields",
            row_id=field_id,
            data={
                "name": "Ash corner",
                "customer": yard.customer.pk,
                "place": "US-ND",
                "time_zone": "America/Chicago",
                "planted_size": make.q("12.50 ac"),
                "plantings": [{"season": 2026, "crop": "oat"}],
            },
        )
    row, planting = ShelfChange.objects.filter(of=str(field_id)).order_by("created_at")
    assert (row.model, row.deed, row.before) == ("catalog.field", "added", {})
    # Another row by its name, a quantity to the last digit; what is blank is left out.
    assert row.after == {
        "name": "Ash corner",
        "customer": yard.customer.name,
        "place": "US-ND",
        "time_zone": "America/Chicago",
        "planted_size": "12.50 ac",
    }
    assert (planting.model, planting.name) == ("catalog.planting", "Ash corner")
    assert planting.after == {"season": 2026, "crop": "oat"}


def test_a_row_taken_out_of_a_list_is_removed_and_the_others_are_untouched(
    owner: Any, yard: Any
) -> None:
    other = make.PlantingFactory(field=yard.field, season=2025, crop="wheat")
    count = len(of(yard.field))
    save_on_shelf(
        business=owner.business,
        shelf="fields",
        row_id=yard.field.pk,
        data={"plantings": [{"id": yard.planting.pk, "crop": yard.planting.crop}]},
    )
    (change,) = of(yard.field)[count:]
    assert (change.deed, change.model, change.key) == ("removed", "catalog.planting", f"{other.pk}")
    assert (change.before["crop"], change.after) == ("wheat", {})


def test_saving_what_stands_already_is_no_change(owner: Any, yard: Any) -> None:
    count = ShelfChange.objects.count()
    for row in (yard.label, yard.rig, yard.field, yard.planting, yard.catch_test, owner.business):
        row = type(row)._default_manager.get(pk=row.pk)
        row.save()
    assert ShelfChange.objects.count() == count


def test_a_refused_change_leaves_no_line(owner: Any, yard: Any) -> None:
    count = ShelfChange.objects.count()
    with pytest.raises(RefusedInput):
        save_on_shelf(
            business=owner.business, shelf="customers", row_id=yard.customer.pk, data={"name": ""}
        )
    assert ShelfChange.objects.count() == count


def test_the_business_and_people_with_their_licences_are_followed(owner: Any, yard: Any) -> None:
    with acting(lambda: owner.user):
        save_business(actor=owner, data={"catch_test_max_days": 200})
        licence = yard.person.licences.get()
        save_person(
            actor=owner,
            person_id=yard.person.pk,
            data={"licences": [{"id": licence.pk, "number": "C-9999"}]},
        )
    change = ShelfChange.objects.filter(model="accounts.business").latest("created_at")
    assert (change.before, change.after) == (
        {"catch_test_max_days": 365},
        {"catch_test_max_days": 200},
    )
    assert (last(yard.person).model, last(yard.person).after) == (
        "accounts.licence",
        {"number": "C-9999"},
    )


def test_a_change_by_the_api_names_the_person_of_the_token(
    client: Client, owner: Any, yard: Any, confirmed: Any
) -> None:
    _, secret = make_token(
        actor=owner,
        name="Office program",
        scopes=["read", "shelf"],
        days=30,
        confirmation=confirmed(owner),
        now=datetime.now(UTC),
    )
    answer = client.patch(
        reverse("api-products-item", args=[yard.product.pk]),
        {"name": "Leafkill Pro"},
        content_type="application/json",
        headers={"Authorization": f"Bearer {secret}"},
    )
    assert answer.status_code == 200, answer.content
    change = last(yard.product)
    assert (change.by, change.after) == (owner.user, {"name": "Leafkill Pro"})


def test_a_sheet_says_who_brought_it_in_for_each_row(owner: Any, browser: Client) -> None:
    make.CustomerFactory(business=owner.business, name="Fir farm", address="Road 1")
    file = jobs.keep_file(
        business=owner.business,
        user=owner.user,
        kind="customers",
        name="customers.csv",
        content=b"name,address,phone\nElm farm,Road 2,\nFir farm,Road 1,555 0100\n",
        options={},
        now=datetime.now(UTC),
    )
    list(jobs.look_at(file=file))
    answer = browser.post(reverse("sheets-write", args=[file.pk]), {"change": "yes"})
    b"".join(answer.streaming_content)
    new, old = (Customer.objects.get(name=name) for name in ("Elm farm", "Fir farm"))
    assert (last(new).by, last(new).deed) == (owner.user, "added")
    assert last(new).after == {"name": "Elm farm", "address": "Road 2"}
    assert (last(old).by, last(old).before, last(old).after) == (
        owner.user,
        {"phone": ""},
        {"phone": "555 0100"},
    )


def test_the_rows_of_a_sheet_take_no_query_each(owner: Any) -> None:
    def queries(count: int) -> int:
        rows = "".join(f"Farm {count} {n},Road\n" for n in range(count)).encode()
        file = jobs.keep_file(
            business=owner.business,
            user=owner.user,
            kind="customers",
            name="c.csv",
            content=b"name,address\n" + rows,
            options={},
            now=datetime.now(UTC),
        )
        list(jobs.look_at(file=file))
        with CaptureQueriesContext(connection) as seen:
            list(jobs.write(file=file, change=False))
        return len(seen)

    assert queries(2) == queries(60)
    assert ShelfChange.objects.filter(name__startswith="Farm", by=owner.user).count() == 62


def test_the_admin_is_seen_too(client: Client, yard: Any) -> None:
    chief = make.UserFactory(name="Chief", email="chief@example.test")
    chief.is_staff = chief.is_superuser = True
    chief.save()
    client.force_login(chief)
    spare = make.CustomerFactory(business=yard.customer.business, name="Spare")
    answer = client.post(reverse("admin:catalog_customer_delete", args=[spare.pk]), {"post": "yes"})
    assert answer.status_code == 302
    assert (last(spare).deed, last(spare).by, last(spare).name) == ("removed", chief, "Spare")


def test_outside_a_request_nobody_is_named(yard: Any) -> None:
    assert {change.by for change in of(yard.field)} == {None}


FOLLOWED = {
    *("customer", "field", "fieldlocation", "planting", "sensitiveplace", "product"),
    *("labeledition", "ingredient", "labelask", "labeldeadline", "nozzlemodel", "nozzleclassrow"),
    *("rig", "nozzleset", "catchtest"),
}


def test_everything_of_the_shelf_is_followed() -> None:
    """The models of the catalog are the shelf, but for the file on its way in."""
    models = set(apps.get_app_config("catalog").get_models())
    assert {model._meta.model_name for model in models} == FOLLOWED | {"importfile"}
    shapes = (*SHELVES.values(), PEOPLE)
    shelf = {model for shape in shapes for model in (shape.model, *shape.children.values())}
    assert set(history._parents) == shelf | {apps.get_model("accounts", "Business")}


def test_no_followed_column_holds_a_secret() -> None:
    for model in history._parents:
        assert not issubclass(model, AbstractBaseUser)
        names = {column.name for column in history._columns(model)}
        assert not names & {"password", "hashed", "secret", "token", "key"}, model


@pytest.mark.parametrize("deed", ["update", "delete"])
def test_the_database_refuses_a_change_of_the_history(yard: Any, deed: str) -> None:
    rows = ShelfChange.objects.filter(of=str(yard.field.pk))
    with pytest.raises(IntegrityError, match="history of the shelf"), transaction.atomic():
        rows.update(after={}) if deed == "update" else rows.delete()
    with pytest.raises(IntegrityError, match="history of the shelf"), transaction.atomic():
        ShelfChange.objects.bulk_create(
            [ShelfChange(pk=rows[0].pk, business=yard.field.business, of="", name="", deed="added")]
        )


# --- pages and API -------------------------------------------------------------------------------


def test_the_page_of_a_row_leads_to_its_history(browser: Client, owner: Any, yard: Any) -> None:
    with acting(lambda: owner.user):
        yard.label.rate_max = make.q("40 fl oz/ac")
        yard.label.finest_class = "C"
        yard.label.save()
        make.IngredientFactory(edition=yard.label, name="adjunctium")
    item = browser.get(reverse("shelf-item", args=["labels", yard.label.pk])).content.decode()
    address = reverse("shelf-item-history", args=["labels", yard.label.pk])
    assert f'href="{address}"' in item
    answer = browser.get(address)
    told = {one.name: one for one in answer.context["changes"][1][2]}
    assert (str(told["rate_max"].before), str(told["rate_max"].after)) == (
        "32 fl oz/ac",
        "40 fl oz/ac",
    )
    assert (told["finest_class"].before, told["finest_class"].after) == ("M", "C")
    text = answer.content.decode()
    assert "by The owner" in text
    assert "adjunctium" in text
    assert "label edition changed" in text


def test_a_boundary_that_moves_shows_its_area_before_and_after(browser: Client, yard: Any) -> None:
    shape = yard.field.boundary
    east = [[-97.188 if lon == -97.19 else lon, lat] for lon, lat in shape["coordinates"][0]]
    yard.field.boundary = {**shape, "coordinates": [east]}
    yard.field.save()
    answer = browser.get(reverse("shelf-item-history", args=["fields", yard.field.pk]))
    ((told,),) = [columns for _one, _noun, columns in answer.context["changes"][:1]]
    # 125.12 ac: the area of the factory's L, as it says; computed, no source.
    assert told.before.startswith("a shape of 7 points, 125.1")
    assert told.after.startswith("a shape of 7 points, ")
    assert told.after != told.before


@pytest.mark.parametrize("kind", [*SHELVES, "people"])
def test_every_kind_has_its_page(browser: Client, yard: Any, kind: str) -> None:
    row = {
        **{"customers": yard.customer, "fields": yard.field, "places": yard.place},
        **{"products": yard.product, "labels": yard.label, "nozzles": yard.nozzle},
        **{"rigs": yard.rig, "nozzle-sets": yard.nozzle_set, "catch-tests": yard.catch_test},
        "people": yard.person,
    }[kind]
    answer = browser.get(reverse("shelf-item-history", args=[kind, row.pk]))
    assert answer.status_code == 200
    assert len(answer.context["changes"]) == len(of(row))


def test_the_history_of_a_row_that_is_gone_stays(browser: Client, yard: Any) -> None:
    spare = make.CustomerFactory(business=yard.customer.business, name="Spare farm")
    pk, address = spare.pk, reverse("shelf-item-history", args=["customers", spare.pk])
    spare.delete()
    answer = browser.get(address)
    assert answer.status_code == 200
    assert "Spare farm" in answer.content.decode()
    # By another kind's address it is nothing.
    assert browser.get(reverse("shelf-item-history", args=["rigs", pk])).status_code == 404


def test_the_business_has_a_page_and_the_shelf_one_of_all(browser: Client, owner: Any) -> None:
    save_business(actor=owner, data={"phone": "555 0142"})
    for address in ("shelf-business-history", "shelf-history"):
        assert "555 0142" in browser.get(reverse(address)).content.decode()


def test_it_goes_page_by_page_and_takes_no_query_a_line(
    browser: Client, business: Any, yard: Any
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            browser.get(reverse("shelf-history"))
        return len(seen)

    queries()
    before = queries()
    for n in range(60):
        make.CustomerFactory(business=business, name=f"Page {n}")
    assert queries() == before
    page = browser.get(reverse("shelf-history"))
    assert len(page.context["changes"]) == 50
    older = browser.get(reverse("shelf-history") + page.context["pages"]["after"])
    names = [change.name for change, *_ in (*page.context["changes"], *older.context["changes"])]
    assert [name for name in names if name.startswith("Page")] == [
        f"Page {n}" for n in reversed(range(60))
    ]


def test_the_api_lists_the_changes_of_a_row(browser: Client, owner: Any, yard: Any) -> None:
    with acting(lambda: owner.user):
        yard.planting.crop = "pea"
        yard.planting.save()
    answer = browser.get(reverse("api-shelf-history"), {"row": str(yard.field.pk)}).json()
    first = answer["results"][0]
    assert (first["by"], first["kind"], first["deed"]) == ("The owner", "planting", "changed")
    assert (first["before"], first["after"]) == ({"crop": "soybean"}, {"crop": "pea"})
    assert {one["row"] for one in answer["results"]} == {str(yard.field.pk)}
    every = browser.get(reverse("api-shelf-history")).json()["results"]
    assert len({one["row"] for one in every}) > 3


def test_another_business_sees_none_of_it(browser_of: Any, stranger: Any, yard: Any) -> None:
    other = browser_of(stranger)
    assert (
        other.get(reverse("shelf-item-history", args=["fields", yard.field.pk])).status_code == 404
    )
    answer = other.get(reverse("api-shelf-history"), {"row": str(yard.field.pk)})
    assert answer.json()["results"] == []
    assert not changes(actor=stranger).exclude(business=stranger.business).exists()


def test_a_guest_may_not_read_it(owner: Any, yard: Any) -> None:
    from logbook.accounts.grants import give_grant
    from logbook.accounts.rights import Role
    from logbook.accounts.services import actor_for

    user = make.UserFactory()
    now = datetime.now(UTC) - timedelta(hours=1)
    give_grant(
        actor=owner,
        email=user.email,
        role=Role.FARM_MANAGER,
        customer_ids=[yard.customer.pk],
        now=now,
    )
    guest = actor_for(user)
    assert guest is not None
    with pytest.raises(NotAllowed):
        changes(actor=guest)


def test_a_command_names_whom_it_acts_for(owner: Any, signed: Any, tmp_path: Any) -> None:
    """Records brought in by the command put the shelf they name there, as that member."""
    from logbook.records.exchange.export import Selection, json_pieces

    file = tmp_path / "records.json"
    pieces = json_pieces(
        actor=owner, selection=Selection(), now=datetime.now(UTC), schema_url="https://x.test/s"
    )
    file.write_text("".join(pieces), encoding="utf-8")
    there = make.BusinessFactory(name="Third Furrow")
    member = make.UserFactory(email="third@example.test")
    make.MembershipFactory(user=member, business=there, role="owner")
    call_command("import_records", str(file), email="third@example.test", write=True, verbosity=0)
    made = ShelfChange.objects.filter(business=there, model="catalog.field")
    assert [one.by for one in made] == [member]
    assert Field.objects.within(there).count() == 1
    assert Planting.objects.filter(field__business=there).count() == 1
