"""A number is read alike at every door, as people type it: form, API, rate check, sheet."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from logbook.catalog.models import Field
from logbook.catalog.sheets import jobs
from logbook.records.models import ApplicationRecord
from tests import factories as make
from tests.logbook.api.conftest import Caller
from tests.logbook.web.posts import answer, as_shown

pytestmark = pytest.mark.django_db

READ = [
    ("6,5 mph", "6.5 mph"),
    ("6.5 MPH", "6.5 mph"),
    ("6.5mph", "6.5 mph"),
    ("6½ mph", "6.5 mph"),
]
TWO_WAYS = "can be read in two ways; write 1234 or 1.234."


@pytest.fixture
def browser(owner: Any) -> Client:
    client = Client()
    client.force_login(owner.user)
    return client


@pytest.fixture
def as_owner(owner: Any) -> Caller:
    return Caller(owner.user)


@pytest.fixture
def visitor() -> Caller:
    return Caller()


def post(client: Client, record: Any, number: str, unit: str) -> Any:
    address = f"/book/{record.pk}/edit/"
    sent = as_shown(client, address) | answer("speed", number, unit)
    return client.post(address, sent)


@pytest.mark.parametrize(("typed", "read"), READ)
def test_the_form_reads_it_with_its_unit_behind_or_beside_it(
    typed: str, read: str, browser: Client, clean_draft: Any
) -> None:
    for unit in ("", "mph"):
        assert post(browser, clean_draft, typed, unit).status_code == 302
        assert str(ApplicationRecord.objects.get(pk=clean_draft.pk).speed) == read


def test_the_form_asks_which_of_two_units_is_meant(browser: Client, clean_draft: Any) -> None:
    page = post(browser, clean_draft, "6.5 km/h", "mph").content.decode()
    assert "6.5 km/h has another unit than the mph beside it; choose one." in page
    assert TWO_WAYS in post(browser, clean_draft, "1,234", "mph").content.decode()


@pytest.mark.parametrize(("typed", "read"), READ)
def test_the_api_and_the_rate_check_read_it(
    typed: str, read: str, as_owner: Any, visitor: Any, clean_draft: Any
) -> None:
    address = f"records/{clean_draft.pk}/"
    for speed in (typed, {"value": typed[: typed.lower().index("m")].strip(), "unit": "MPH"}):
        body = {"revision": as_owner.get(address).json()["revision"], "speed": speed}
        served = as_owner.patch(address, body)
        assert served.status_code == 200, served.content
        assert f"{served.json()['speed']['value']} {served.json()['speed']['unit']}" == read
    rows = [{"known_flow": 1, "spacing": 50, "speed": text} for text in (typed, read)]
    first, second = visitor.post("rate-check/", {"settings": rows}).json()["results"]
    assert first == second


def test_no_door_guesses_what_may_stand_for_thousands(
    as_owner: Any, visitor: Any, clean_draft: Any
) -> None:
    address = f"records/{clean_draft.pk}/"
    revision = as_owner.get(address).json()["revision"]
    for speed in ("1,234 mph", {"value": "1,234", "unit": "mph"}):
        refused = as_owner.patch(address, {"revision": revision, "speed": speed})
        assert TWO_WAYS in refused.json()["errors"]["speed"][0]
    body = {"known_flow": 1, "spacing": 50, "speed": "1,234 mph"}
    assert TWO_WAYS in visitor.post("rate-check/", body).json()["errors"]["speed"][0]


def test_a_sheet_reads_it_with_its_unit_in_the_cell_or_in_the_next(owner: Any, now: Any) -> None:
    make.CustomerFactory(business=owner.business, name="Flat Creek")
    file = jobs.keep_file(
        business=owner.business,
        user=owner.user,
        kind="fields",
        name="fields.csv",
        content=(
            "customer;name;place;planted_size;planted_size_unit\n"
            "Flat Creek;A;US-ND;80,5 AC;\nFlat Creek;B;US-ND;80½;ac\n"
        ).encode(),
        options={},
        now=now,
    )
    list(jobs.look_at(file=file))
    file.refresh_from_db()
    assert file.report["problems"] == []
    list(jobs.write(file=file, change=False))
    assert [str(field.planted_size) for field in Field.objects.order_by("name")] == [
        "80.5 ac",
        "80.5 ac",
    ]
