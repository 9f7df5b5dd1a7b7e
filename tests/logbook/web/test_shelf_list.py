"""The lists of the shelf: what stands on them, for whom, and in how many queries."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils.html import escape

from logbook.web.catalog.kinds import KINDS
from tests import factories as make

pytestmark = pytest.mark.django_db

MADE: dict[str, Callable[[Any], Any]] = {
    "places": lambda business: make.SensitivePlaceFactory(business=business),
    "customers": lambda business: make.CustomerFactory(business=business),
    "fields": lambda business: make.PlantingFactory(
        field=make.FieldLocationFactory(field=make.FieldFactory(business=business)).field
    ),
    "products": lambda business: make.LabelEditionFactory(
        product=make.ProductFactory(business=business)
    ),
    "labels": lambda business: make.IngredientFactory(
        edition=make.LabelEditionFactory(product=make.ProductFactory(business=business))
    ),
    "nozzles": lambda business: make.NozzleClassRowFactory(
        nozzle=make.NozzleModelFactory(business=business)
    ),
    "rigs": lambda business: make.RigFactory(business=business),
    "nozzle-sets": lambda business: make.NozzleSetFactory(business=business),
    "catch-tests": lambda business: make.CatchTestFactory(
        nozzle_set=make.NozzleSetFactory(business=business)
    ),
    "people": lambda business: make.PersonFactory(business=business, licensed=True, trained=True),
}


def page(client: Client, address: str, status: int = 200) -> str:
    response = client.get(address)
    assert response.status_code == status, response.content
    return response.content.decode()


def test_every_kind_has_its_test_row() -> None:
    assert set(MADE) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_an_empty_list_says_what_to_do_next(kind: str, browser: Client) -> None:
    text = page(browser, f"/shelf/{kind}/")
    assert f"No {KINDS[kind].many} yet." in text
    assert escape(str(KINDS[kind].empty)) in text


@pytest.mark.parametrize("kind", KINDS)
def test_a_list_names_each_row_and_leads_to_it(kind: str, browser: Client, owner: Any) -> None:
    MADE[kind](owner.business)
    row = KINDS[kind].rows(actor=owner)[0]
    text = page(browser, f"/shelf/{kind}/")
    assert f'<a href="/shelf/{kind}/{row.pk}/">{row}</a>' in text


@pytest.mark.parametrize("kind", KINDS)
def test_a_list_takes_the_same_number_of_queries_for_one_row_and_for_many(
    kind: str, browser: Client, business: Any
) -> None:
    MADE[kind](business)
    page(browser, f"/shelf/{kind}/")
    with CaptureQueriesContext(connection) as few:
        page(browser, f"/shelf/{kind}/")
    for _ in range(6):
        MADE[kind](business)
    with CaptureQueriesContext(connection) as many:
        page(browser, f"/shelf/{kind}/")
    assert len(many) == len(few)


@pytest.mark.parametrize("kind", KINDS)
def test_rows_of_another_business_are_not_seen(
    kind: str, browser: Client, other_business: Any
) -> None:
    MADE[kind](other_business)
    assert f"No {KINDS[kind].many} yet." in page(browser, f"/shelf/{kind}/")


@pytest.mark.parametrize("kind", KINDS)
def test_a_search_that_finds_nothing_says_so_and_offers_the_whole_list(
    kind: str, browser: Client, business: Any
) -> None:
    MADE[kind](business)
    text = page(browser, f"/shelf/{kind}/?q=zzz")
    assert f"None of the {KINDS[kind].many} has “zzz” in it." in text
    assert f'<a href="/shelf/{kind}/">Show all</a>' in text


def test_a_search_narrows_the_list(browser: Client, business: Any) -> None:
    make.CustomerFactory(business=business, name="Alder Farm")
    make.CustomerFactory(business=business, name="Birch Farm")
    text = page(browser, "/shelf/customers/?q=alder")
    assert "Alder Farm" in text
    assert "Birch Farm" not in text
    assert "1 customer with “alder”" in text


@pytest.mark.parametrize("kind", KINDS)
def test_a_search_for_what_no_text_holds_is_refused(kind: str, browser: Client) -> None:
    assert browser.get(f"/shelf/{kind}/", {"q": "a\x00b"}).status_code == 400


@pytest.mark.parametrize(
    ("system", "shown"), [("us", "125.1 ac (50.6 ha)"), ("metric", "50.6 ha (125.1 ac)")]
)
def test_an_area_stands_in_the_units_of_the_person_first(
    system: str, shown: str, browser: Client, owner: Any, yard: Any
) -> None:
    # The factory's L: 50.63 ha by pyproj; / 0.404 685 642 24 ha/ac (SP 811) is 125.1 ac.
    owner.user.unit_system = system
    owner.user.save()
    assert shown in page(browser, "/shelf/fields/")
    assert shown in page(browser, f"/shelf/fields/{yard.field.pk}/")


def test_a_list_has_fifty_rows_on_a_page(browser: Client, business: Any) -> None:
    for number in range(51):
        make.CustomerFactory(business=business, name=f"C{number:02}")
    first, second = (page(browser, f"/shelf/customers/?page={n}") for n in (1, 2))
    assert "Page 1 of 2" in first
    assert "C49" in first
    assert "C50" not in first
    assert "C50" in second
    assert "51 customers" in second


def test_the_shelf_counts_each_kind(browser: Client, yard: Any) -> None:
    response = browser.get("/shelf/")
    counted = {kind.slug: count for kind, count in response.context["counted"]}
    assert counted == dict.fromkeys(KINDS, 1)


def test_a_helper_sees_the_shelf_but_is_offered_no_change(
    browser_of: Any, helper: Any, yard: Any
) -> None:
    client = browser_of(helper)
    assert "New rig" not in page(client, "/shelf/rigs/")
    assert "Rig 1" in page(client, "/shelf/rigs/")
    assert "Change this rig" not in page(client, f"/shelf/rigs/{yard.rig.pk}/")
    assert "Name, paper and yardsticks" not in page(client, "/shelf/")


def test_an_applicator_may_change_rigs_but_not_people(browser_of: Any, applicator: Any) -> None:
    client = browser_of(applicator)
    assert "New rig" in page(client, "/shelf/rigs/")
    assert "New person" not in page(client, "/shelf/people/")


def test_a_visitor_is_sent_to_the_login(client: Client, db: None) -> None:
    response = client.get("/shelf/rigs/")
    assert response.status_code == 302
    assert response["Location"] == "/login/?next=/shelf/rigs/"


def test_a_login_without_a_business_is_told_so(browser_of: Any) -> None:
    text = page(browser_of(make.UserFactory()), "/shelf/rigs/", status=403)
    assert "This login belongs to no business yet; ask its owner." in text


def test_a_kind_that_is_not_there_is_no_page(browser: Client) -> None:
    assert "There is no such shelf." in page(browser, "/shelf/tractors/", status=404)


def test_a_list_cannot_be_posted_to(browser: Client) -> None:
    assert browser.post("/shelf/rigs/").status_code == 405
