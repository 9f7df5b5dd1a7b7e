"""Typed ways of saying where a field is: each is read as its kind, and refused as no other."""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from logbook.base.refusals import RefusedInput
from logbook.catalog.models.customer import location_fault
from logbook.catalog.services import save_on_shelf

GOOD = [
    ("coordinates", "47.1034, -97.1987"),
    ("coordinates", "-33.9;151.2"),
    ("legal description", "SW 1/4, section 14, township 140 N, range 53 W, 5th principal meridian"),
    ("parcel", "12-44-0071"),
    ("address", "Section road 4, Stillwater Flats"),
    ("map", "sketch A, kept with the record"),
    ("description", "north of the elevator, along the creek"),
]


@pytest.mark.parametrize(("kind", "text"), GOOD)
def test_a_text_of_its_kind_is_taken(kind: str, text: str) -> None:
    assert location_fault(kind=kind, text=text, place="US-ND") == ""


@pytest.mark.parametrize(
    ("kind", "text", "why"),
    [
        ("coordinates", "north of the elevator", "not a latitude and a longitude"),
        ("coordinates", "91.0, 10.0", "not a latitude and a longitude"),
        ("coordinates", "47.1, -180.5", "not a latitude and a longitude"),
        ("coordinates", "47.1", "not a latitude and a longitude"),
        ("legal description", "the old Hollow place", "by number"),
        ("parcel", "no number", "A parcel has a number"),
        ("parcel", "12\n13", "on one line"),
        ("parcel", "1" * 81, "at most 80 characters"),
    ],
)
def test_a_text_of_another_kind_is_refused(kind: str, text: str, why: str) -> None:
    assert why in location_fault(kind=kind, text=text, place="US-ND")


def test_new_york_wants_the_zip_code() -> None:
    # ECL 33-1205: address with the five-digit ZIP code.
    assert "ZIP" in location_fault(kind="address", text="Mill Road, Arbor", place="US-NY")
    assert location_fault(kind="address", text="Mill Road, Arbor 10001", place="US-NY") == ""


def test_the_shelf_refuses_it_by_its_path(business: Any, yard: Any) -> None:
    with pytest.raises(RefusedInput) as refusal:
        save_on_shelf(
            business=business,
            shelf="fields",
            row_id=yard.field.pk,
            data={
                "locations": [
                    {"kind": "parcel", "text": "12-44"},
                    {"kind": "coordinates", "text": "by the creek"},
                ]
            },
        )
    assert list(refusal.value.errors) == ["locations.1.text"]
    assert yard.field.locations.get().kind == "legal description"


def test_a_field_keeps_several(business: Any, yard: Any) -> None:
    saved = save_on_shelf(
        business=business,
        shelf="fields",
        row_id=yard.field.pk,
        data={"locations": [{"kind": kind, "text": text} for kind, text in GOOD]},
    )
    assert saved.locations.count() == len(GOOD)
    assert uuid.UUID(str(saved.pk)) == yard.field.pk
