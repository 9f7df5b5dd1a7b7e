"""The number of queries does not grow with the number of rows."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from logbook.records.reading.examine import examine
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.sign import sign
from tests import factories as make
from tests.conftest import clean_data, said_of
from tests.logbook.api.conftest import Caller

FEW, MANY = 3, 30


def queries(caller: Caller, path: str) -> int:
    with CaptureQueriesContext(connection) as seen:
        response = caller.get(path)
    assert response.status_code == 200, response.content
    return len(seen)


def full_field(business: Any) -> None:
    field = make.FieldFactory(business=business)
    make.FieldLocationFactory(field=field)
    make.PlantingFactory(field=field)


def full_label(business: Any) -> None:
    make.IngredientFactory(edition__product__business=business)


def full_product(business: Any) -> None:
    make.LabelEditionFactory(product__business=business)


def full_person(business: Any) -> None:
    make.PersonFactory(business=business, licensed=True, trained=True)


MAKERS: dict[str, Callable[[Any], Any]] = {
    "customers": lambda business: make.CustomerFactory(business=business),
    "fields": full_field,
    "products": full_product,
    "labels": full_label,
    "nozzles": lambda business: make.NozzleClassRowFactory(nozzle__business=business),
    "rigs": lambda business: make.RigFactory(business=business),
    "nozzle-sets": lambda business: make.NozzleSetFactory(business=business),
    "catch-tests": lambda business: make.CatchTestFactory(nozzle_set__business=business),
    "people": full_person,
}


@pytest.mark.parametrize("kind", list(MAKERS))
def test_a_shelf_of_thirty_costs_what_a_shelf_of_three_costs(as_owner, business, kind):
    for _ in range(FEW):
        MAKERS[kind](business)
    few = queries(as_owner, f"shelf/{kind}/")
    for _ in range(MANY - FEW):
        MAKERS[kind](business)
    assert len(as_owner.get(f"shelf/{kind}/").json()["results"]) >= MANY
    assert queries(as_owner, f"shelf/{kind}/") == few


def sealed(owner: Any, entry: dict[str, Any], confirmed: Any, now: Any) -> Any:
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    draft = save_draft(actor=owner, record_id=draft.pk, revision=1, data=entry)
    found = examine(actor=owner, record_id=draft.pk).report.must_be_explained()
    keys = {finding.key: said_of(finding, "Agreed with the customer.") for finding in found}
    return sign(
        actor=owner,
        record_id=draft.pk,
        revision=draft.revision,
        explanations=keys,
        confirmation=confirmed(owner),
        now=now,
    )


@pytest.mark.parametrize("path", ["records/", "seals/", "season/?year=2026", "log/verify/"])
def test_a_book_of_many_costs_what_a_book_of_few_costs(
    as_owner, owner, entry, confirmed, now, path
):
    for _ in range(FEW):
        sealed(owner, entry, confirmed, now)
    few = queries(as_owner, path)
    for _ in range(9):
        sealed(owner, entry, confirmed, now)
    assert queries(as_owner, path) == few


def test_a_record_of_many_lines_costs_what_one_of_few_costs(as_owner, owner, yard):
    def with_lines(count: int) -> str:
        data = clean_data(yard)
        products = [make.ProductFactory(business=owner.business) for _ in range(count)]
        data["products"] = [{"product": product.pk} for product in products]
        parts = [{"product": one.pk, "amount": make.q("1 gal")} for one in products]
        data["loads"] = [{**data["loads"][0], "parts": parts} for _ in range(count)]
        data["weather"] = [data["weather"][0]] * count
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        save_draft(actor=owner, record_id=draft.pk, revision=1, data=data)
        return f"records/{draft.pk}/"

    few, many = with_lines(FEW), with_lines(MANY)
    assert queries(as_owner, many) == queries(as_owner, few)
    assert queries(as_owner, f"{many}check/") == queries(as_owner, f"{few}check/")


def test_a_choice_among_many_nozzles_costs_what_one_among_few_costs(as_owner, business):
    wish = {"spacing": "20 in", "speed_low": "7 mph", "speed_high": "9 mph"}
    wish["wished_carrier"] = "15 gal/ac"

    def cost() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert as_owner.post("nozzle-choice/", wish).status_code == 200
        return len(seen)

    for number in range(FEW):
        make.NozzleModelFactory(business=business, name=f"Fan {number}")
    few = cost()
    for number in range(FEW, MANY):
        make.NozzleModelFactory(business=business, name=f"Fan {number}")
    assert cost() == few


def test_the_book_asks_a_handful_of_queries(as_owner, business, django_assert_max_num_queries):
    for _ in range(MANY):
        make.ProductLineFactory(record__business=business)
    with django_assert_max_num_queries(6):
        assert len(as_owner.get("records/").json()["results"]) == MANY


def test_the_open_addresses_ask_none(visitor, db, django_assert_num_queries):
    with django_assert_num_queries(0):
        visitor.post("rate-check/", {"known_flow": 1, "speed": 12, "spacing": 50})
        visitor.get("schema/")
        visitor.get("")
