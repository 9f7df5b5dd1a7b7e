"""Typed ways of saying where a field is: each is read as its kind, and refused as no other."""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from logbook.catalog.locations import is_outline, location_fault
from logbook.catalog.services import save_on_shelf
from logbook.errors.exceptions import RefusedInput

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
        ("parcel", "no number", "a parcel has a number"),
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


PLSS = "NE 1/4, section 14, township 140 N, range 49 W, 5th principal meridian"


@pytest.mark.parametrize(
    ("place", "text"),
    [
        # 43 U.S.C. 751: townships of 36 sections, from a principal meridian; the ways to write it
        # are common practice, no source.
        ("US-ND", PLSS),
        ("US-ND", "S 1/2 of S 1/2, Sec. 10, T140N, R49W, 5th P.M."),
        ("US-CA", "Fresno county, section 3, township 13 south, range 20 east, Mount Diablo"),
        ("US-CA", "Fresno, S03 T13S R20E MDB&M"),
        ("US-CO", "sections 13 and 14, T. 8 N., R. 52 W., Sixth Principal Meridian"),
        # Lots of a plat have no meridian, and other surveys none either.
        ("US-ND", "lot 5, block 2, Mill addition"),
        ("US-TX", "section 12, block 34, T-2-N, railway survey"),
        ("US-OH", "section 4, town 3, range 2"),
        ("DE", "Flur 3, Flurstück 12/4"),
        # The Dominion Land Survey, from memory: 36 sections, ranges west of a numbered meridian.
        ("CA-SK", "NE-14-120-20-W3"),
        ("CA-AB", "SW 1/4 of section 9, township 52, range 25, west of the 4th meridian"),
        ("CA-MB", "NW 14-12-20 WPM"),
        ("CA-MB", "lot 3, plan 5521"),
    ],
)
def test_a_legal_description_of_its_own_survey_is_taken(place: str, text: str) -> None:
    assert location_fault(kind="legal description", text=text, place=place) == ""


@pytest.mark.parametrize(
    ("place", "text", "why"),
    [
        # 3 CCR 6624 asks for section, township, range, base and meridian.
        ("US-CA", "section 3, township 13 S, range 20 E", "lacks its principal meridian"),
        ("US-ND", "section 37, T140N, R49W, 5th PM", "lacks a section from 1 to 36"),
        ("US-ND", "T140N, R49W, 5th PM", "lacks a section from 1 to 36"),
        ("US-ND", "section 14, township 140, range 49 W, 5th PM", "lacks its township with N or S"),
        ("US-ND", "section 14, T140N, 5th PM", "lacks its range with E or W"),
        ("CA-SK", "NE-14-120-20", "the meridian it lies west of"),
        ("CA-SK", "NE-37-12-20-W3", "section from 1 to 36"),
        ("CA-AB", "NE-14-127-20-W4", "township from 1 to 126"),
        ("CA-AB", "section 9 by the creek", "Dominion Land Survey"),
    ],
)
def test_a_legal_description_without_a_part_of_its_survey_is_refused(
    place: str, text: str, why: str
) -> None:
    said = location_fault(kind="legal description", text=text, place=place)
    assert why in said
    assert f"“{text}”" in said
    assert "such as" in said


def test_coordinates_are_one_point_or_an_outline() -> None:
    # F.A.C. 5E-9.032 accepts points that outline the area.
    outline = "47.1, -97.2; 47.1, -97.1; 47.2, -97.1"
    assert location_fault(kind="coordinates", text=outline, place="US-FL") == ""
    assert is_outline(outline)
    assert not is_outline("47.1; -97.2")
    two = location_fault(kind="coordinates", text="47.1, -97.2; 47.1, -97.1", place="US-FL")
    assert "three or more" in two
    wrong = location_fault(kind="coordinates", text="47.1, -97.2; x; 47.2, -97.1", place="US-FL")
    assert wrong.startswith("“x” is not a latitude")


def test_a_row_from_before_stays_readable_and_a_new_one_is_refused(
    business: Any, yard: Any
) -> None:
    old = yard.field.locations.get()
    text = "section 14, township 140 N, range 49 W"
    type(old).objects.filter(pk=old.pk).update(text=text)

    def save(*rows: dict[str, Any]) -> Any:
        data = {"locations": list(rows)}
        return save_on_shelf(business=business, shelf="fields", row_id=yard.field.pk, data=data)

    kept = {"id": old.pk, "kind": old.kind, "text": text}
    assert save(kept).locations.get().text == text
    with pytest.raises(RefusedInput) as refusal:
        save({**kept, "text": f"{text}, by the creek"})
    assert "principal meridian" in refusal.value.errors["locations.0.text"][0]
    assert yard.field.locations.get().text == text
