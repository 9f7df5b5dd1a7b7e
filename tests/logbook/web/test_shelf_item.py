"""The page of one row: its columns, what hangs on it, and what follows by computation."""

from __future__ import annotations

import re
from html import unescape
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from logbook.web.catalog.kinds import KINDS
from tests import factories as make
from tests.factories import q

pytestmark = pytest.mark.django_db


def address(kind: str, row: Any) -> str:
    return f"/shelf/{kind}/{row.pk}/"


def words(client: Client, kind: str, row: Any) -> str:
    """Return the words of an item's page with single blanks between them."""
    response = client.get(address(kind, row))
    assert response.status_code == 200
    return re.sub(r"(<[^>]*>|\s)+", " ", unescape(response.content.decode()))


def rows_of(yard: SimpleNamespace) -> dict[str, Any]:
    return {
        "places": yard.place,
        "customers": yard.customer,
        "fields": yard.field,
        "products": yard.product,
        "labels": yard.label,
        "nozzles": yard.nozzle,
        "rigs": yard.rig,
        "nozzle-sets": yard.nozzle_set,
        "catch-tests": yard.catch_test,
        "people": yard.person,
    }


@pytest.mark.parametrize("kind", KINDS)
def test_a_member_sees_the_row_and_a_stranger_finds_nothing(
    kind: str, yard: Any, browser: Client, browser_of: Any, stranger: Any
) -> None:
    row = rows_of(yard)[kind]
    assert str(row).lower() in words(browser, kind, row).lower()
    assert browser_of(stranger).get(address(kind, row)).status_code == 404


@pytest.mark.parametrize(
    ("kind", "more"),
    [
        ("customers", lambda yard: make.FieldFactory(customer=yard.customer)),
        ("fields", lambda yard: make.PlantingFactory(field=yard.field, season=2020)),
        ("products", lambda yard: make.LabelEditionFactory(product=yard.product, edition="x")),
        ("labels", lambda yard: make.IngredientFactory(edition=yard.label)),
        ("nozzles", lambda yard: make.NozzleSetFactory(nozzle=yard.nozzle, rig=yard.rig)),
        ("rigs", lambda yard: make.NozzleSetFactory(nozzle=yard.nozzle, rig=yard.rig)),
        ("nozzle-sets", lambda yard: make.CatchTestFactory(nozzle_set=yard.nozzle_set)),
        ("people", lambda yard: make.LicenceFactory(person=yard.person)),
    ],
)
def test_an_item_takes_the_same_number_of_queries_whatever_hangs_on_it(
    kind: str, more: Any, yard: Any, browser: Client
) -> None:
    row = rows_of(yard)[kind]
    more(yard)
    browser.get(address(kind, row))
    with CaptureQueriesContext(connection) as few:
        browser.get(address(kind, row))
    if kind == "products":
        make.LabelEditionFactory(product=yard.product, edition="y")
    else:
        more(yard)
    with CaptureQueriesContext(connection) as many:
        browser.get(address(kind, row))
    assert len(many) == len(few)


def test_a_quantity_stands_as_entered_with_the_other_system_beside_it(
    yard: Any, browser: Client
) -> None:
    # 20 in is 50.8 cm exactly; 800 gal is 3028 L, shown to three figures.
    text = words(browser, "rigs", yard.rig)
    assert "20 in 50.8 cm" in text
    assert "800 gal 3030 L" in text


def test_the_kinds_of_nothing_are_words(business: Any, browser: Client) -> None:
    rig = make.RigFactory(
        business=business, line_loss=q("not measured: no second gauge"), line_loss_flow=None
    )
    text = words(browser, "rigs", rig)
    assert "Pressure lost between gauge and nozzle not measured: no second gauge" in text
    assert "Boom flow at which the pressure loss was measured not said" in text


def test_a_label_says_what_it_is_silent_on(yard: Any, browser: Client) -> None:
    text = words(browser, "labels", yard.label)
    assert "Coarsest droplet class allowed not said" in text
    assert "In force to no end yet" in text
    assert "Finest droplet class allowed medium (M)" in text
    assert "inventium" in text


def test_a_field_shows_its_measured_area_and_its_outline(yard: Any, browser: Client) -> None:
    response = browser.get(address("fields", yard.field))
    text = response.content.decode()
    # The L of the factory is 50.63 ha (125.12 ac) by the geodesic of pyproj.
    assert "125.1 ac (50.6 ha)" in text
    assert 'role="img"' in text


def test_a_field_without_a_boundary_has_neither(business: Any, browser: Client) -> None:
    text = words(browser, "fields", make.FieldFactory(business=business, boundary=None))
    assert "Area from the boundary" not in text


def test_a_product_lists_its_label_editions_and_offers_a_new_one(
    yard: Any, browser: Client
) -> None:
    text = browser.get(address("products", yard.product)).content.decode()
    assert f'href="{address("labels", yard.label)}"' in text
    assert f'href="/shelf/labels/new/?product={yard.product.pk}"' in text


def test_a_nozzle_shows_the_standards_colours_with_their_words(yard: Any, browser: Client) -> None:
    text = browser.get(address("nozzles", yard.nozzle)).content.decode()
    assert '<span class="swatch iso-red" aria-hidden="true"></span>04 red' in text
    assert '<span class="swatch s572-C" aria-hidden="true"></span>coarse (C)' in text


def worn_boom(business: Any, volumes: list[str], **changes: Any) -> Any:
    nozzle = make.NozzleModelFactory(
        business=business, rated_flow=q("1.00 L/min"), rated_pressure=q("300 kPa")
    )
    rig = make.RigFactory(business=business, nozzle_count=4)
    mounted = make.NozzleSetFactory(business=business, rig=rig, nozzle=nozzle)
    return make.CatchTestFactory(
        nozzle_set=mounted, pressure=q("300 kPa"), time=q("60 s"), volumes=volumes, **changes
    )


def test_a_catch_test_comes_to_mean_unevenness_and_wear(business: Any, browser: Client) -> None:
    """By hand: mean (3 · 1000 + 1200) / 4 = 1050 mL; deviations −50, −50, −50, +150 mL, so the
    sample standard deviation is √(30 000 / 3) = 100 mL and the CV 100 / 1050 = 9.5 %; nozzle 4 is
    14.3 % over the mean and 20 % over new. Limits: ±5 % and 10 %, as extension services teach.
    """
    test = worn_boom(business, ["1000", "1000", "1000", "1200"])
    text = words(browser, "catch-tests", test)
    assert "Mean flow of a nozzle 1.05 L/min 0.277 gal/min" in text
    assert "A new nozzle at this pressure 1.00 L/min (0.264 gal/min)" in text
    assert "Mean over new +5.0 %" in text
    assert "Unevenness (coefficient of variation) 9.5 %" in text
    assert "1 of 4: nozzle 4. Clean or replace." in text
    assert "1 of 4: nozzle 4. Replace." in text
    assert "look at this one: 4 1200 +14.3 % +20.0 %" in text
    assert "Nebraska and Ohio State extension" in text
    assert "catches are written down" not in text


def test_an_even_boom_agrees(business: Any, browser: Client) -> None:
    text = words(browser, "catch-tests", worn_boom(business, ["1000"] * 4))
    assert "✓ agrees: none" in text
    assert "look at this one" not in text
    assert "Mean over new 0.0 %" in text


def test_catches_that_are_not_as_many_as_the_nozzles_are_a_mismatch(
    business: Any, browser: Client
) -> None:
    text = words(browser, "catch-tests", worn_boom(business, ["1000"] * 3))
    assert "3 catches are written down, but Rig 1 has 4 nozzles." in text


def test_a_single_catch_comes_to_nothing_and_says_why(business: Any, browser: Client) -> None:
    text = words(browser, "catch-tests", worn_boom(business, ["1000"]))
    assert "This cannot be computed:" in text
    assert "the catches of two nozzles or more" in text


def test_a_row_that_is_not_there_is_no_page(browser: Client, yard: Any) -> None:
    response = browser.get(f"/shelf/rigs/{yard.field.pk}/")
    assert response.status_code == 404
    assert b"There is no such rig." in response.content


def test_a_number_outside_its_usual_range_is_asked_about_beside_it(
    yard: Any, browser: Client
) -> None:
    assert "what is usual" not in words(browser, "rigs", yard.rig)
    yard.rig.spacing = q("20 ft")
    yard.rig.save()
    assert "20 ft is outside what is usual, 0.492 to 5.25 ft. Was 20 in meant?" in words(
        browser, "rigs", yard.rig
    )
    make.NozzleClassRowFactory(nozzle=yard.nozzle, pressure=q("40 bar"), droplet_class="M")
    assert "Was 40 psi meant?" in words(browser, "nozzles", yard.nozzle)
