"""The area of a simple shape, worked out inside the forms of a field and of a draft."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from logbook.catalog.models import Field
from logbook.forms.area import AreaForm
from logbook.records.models import ApplicationRecord

pytestmark = pytest.mark.django_db


def sent(shape: str, *measures: str, angle: str = "", unit: str = "ft") -> dict[str, str]:
    names = ("first", "second", "third")
    found = {"area-shape": shape, "area-angle_value": angle, "area-angle_unit": "°"}
    for name, value in zip(names, [*measures, "", "", ""], strict=False):
        found |= {f"area-{name}_value": value, f"area-{name}_unit": unit}
    return found


@pytest.mark.parametrize(
    ("data", "area"),
    [
        # 43,560 ft² are an acre [NIST Handbook 44, Appendix C]; the products by hand.
        (sent("rectangle", "660", "66"), "1.00 ac (0.405 ha)"),
        (sent("triangle", "1320", "660"), "10.0 ac (4.05 ha)"),
        (sent("trapezoid", "1320", "660", "440"), "10.0 ac (4.05 ha)"),
        # Heron's 13, 14, 15 with an area of 84, in hundreds of metres: 84 ha.
        (sent("sides", "1300", "1400", "1500", unit="m"), "208 ac (84.0 ha)"),
        (sent("circle", "1320"), "126 ac (50.9 ha)"),
        (sent("sector", "1320", angle="90"), "31.4 ac (12.7 ha)"),
    ],
)
def test_each_shape_is_worked_out(data: dict[str, str], area: str) -> None:
    assert AreaForm(data, system="us").found == area


@pytest.mark.parametrize(
    ("data", "place", "said"),
    [
        (sent("rectangle", "660"), "second", "blank is not possible"),
        (sent("rectangle", "660", "-3"), "second", "-3 ft is not possible"),
        (sent("circle", "660", "66"), "second", "leave it blank"),
        (sent("sector", "660", angle="400"), "angle", "400 ° is not possible"),
        (sent("rectangle", "a mile", "66"), "first", "is not a number"),
        (sent("sides", "1", "2", "9"), "__all__", "No triangle has these sides"),
        (sent("blob", "1"), "shape", "blob"),
    ],
)
def test_what_cannot_be_is_named(data: dict[str, str], place: str, said: str) -> None:
    form = AreaForm(data, system="us")
    assert form.found == ""
    assert said in " ".join(form.errors[place])


def test_in_the_form_of_a_field_it_is_said_and_nothing_is_saved(browser: Client, yard: Any) -> None:
    before = Field.objects.count()
    answer = browser.post(
        reverse("shelf-new", args=["fields"]),
        {"name": "Half typed", "add-row-area": "area"} | sent("rectangle", "660", "66"),
    )
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "1.00 ac" in page
    assert 'value="Half typed"' in page
    assert Field.objects.count() == before
    assert "work-out-area" not in browser.get(reverse("shelf-new", args=["rigs"])).content.decode()


def test_in_the_form_of_a_draft_it_is_said_and_the_treated_area_stays(
    browser: Client, clean_draft: Any
) -> None:
    area = clean_draft.treated_area
    address = reverse("record-edit", args=[clean_draft.pk])
    assert "work-out-area" in browser.get(address).content.decode()
    answer = browser.post(
        address, {"revision": clean_draft.revision, "add": "area"} | sent("circle", "1320")
    )
    assert answer.status_code == 200
    assert "126 ac" in answer.content.decode()
    assert ApplicationRecord.objects.get(pk=clean_draft.pk).treated_area == area
