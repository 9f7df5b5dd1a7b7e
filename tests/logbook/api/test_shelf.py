"""The shelf through the API, kind by kind: add, read, replace, change; a refusal keeps all."""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from logbook.accounts.rights import INSIDE, TABLE, Right
from logbook.api.serializers.catalog import KINDS
from tests import factories as make
from tests.logbook.api.conftest import Caller, problem_of

NEW = str(uuid.UUID(int=21))
RING = [[-97.2, 47.1], [-97.19, 47.1], [-97.19, 47.104], [-97.2, 47.104], [-97.2, 47.1]]


@pytest.fixture
def bodies(yard) -> dict[str, dict[str, Any]]:
    """The least that each kind needs."""
    return {
        "customers": {"name": "Reed Brothers", "address": "Section road 9"},
        "fields": {
            "customer": str(yard.customer.pk),
            "name": "East quarter",
            "place": "US-ND",
            "time_zone": "America/Chicago",
        },
        "products": {"name": "Rootguard", "kind": "soil herbicide"},
        "labels": {
            "product": str(yard.product.pk),
            "edition": "2026-03",
            "in_force_from": "2026-03-01",
        },
        "nozzles": {
            "name": "AI 11004",
            "kind": "air-induction flat fan",
            "rated_flow": "0.40 gal/min",
            "rated_pressure": "40 psi",
            "pressure_min": "30 psi",
            "pressure_max": "90 psi",
        },
        "rigs": {
            "name": "Rig 2",
            "tank": "1200 gal",
            "spacing": "20 in",
            "nozzle_count": 54,
            "gauge_accuracy": "2 %",
            "speed_accuracy": "0.2 km/h",
        },
        "nozzle-sets": {
            "rig": str(yard.rig.pk),
            "nozzle": str(yard.nozzle.pk),
            "mounted_on": "2026-05-01",
        },
        "catch-tests": {
            "nozzle_set": str(yard.nozzle_set.pk),
            "tested_on": "2026-05-20",
            "tested_by": "R. Holm",
            "pressure": "40 psi",
            "time": "60 s",
            "volumes": ["1514", 1517, 1511.5],
            "volume_unit": "mL",
        },
        "people": {"name": "K. Vale"},
    }


@pytest.fixture
def standing(yard) -> dict[str, Any]:
    """A row of each kind."""
    return {
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


def writable(kind: str, served: dict[str, Any]) -> dict[str, Any]:
    """Return what of a served row may be sent back."""
    fields = KINDS[kind]().fields
    return {name: value for name, value in served.items() if not fields[name].read_only}


every_kind = pytest.mark.parametrize("kind", list(KINDS))


@every_kind
def test_a_row_is_added_and_read_again(as_owner, bodies, kind):
    made = as_owner.post(f"shelf/{kind}/", {"id": NEW, **bodies[kind]})
    assert made.status_code == 201, made.content
    assert made.json()["id"] == NEW
    read = as_owner.get(f"shelf/{kind}/{NEW}/")
    assert read.json() == made.json()
    listed = as_owner.get(f"shelf/{kind}/").json()["results"]
    assert listed[0] == made.json()


@every_kind
def test_adding_twice_makes_one_row(as_owner, bodies, kind, rows):
    body = {"id": NEW, **bodies[kind]}
    first = as_owner.post(f"shelf/{kind}/", body)
    before = rows()
    again = as_owner.post(f"shelf/{kind}/", body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json() == first.json()
    assert rows() == before


@every_kind
def test_something_else_under_an_id_that_is_there_is_refused(
    as_owner, bodies, standing, kind, rows
):
    before = rows()
    body = {"id": str(standing[kind].pk), **bodies[kind]}
    problem_of(as_owner.post(f"shelf/{kind}/", body), 409)
    assert rows() == before


@pytest.mark.parametrize("kind", ["customers", "products", "nozzles", "rigs", "people"])
def test_an_id_of_another_business_is_taken(as_stranger, bodies, standing, kind, rows):
    before = rows()
    body = {"id": str(standing[kind].pk), **bodies[kind]}
    taken = problem_of(as_stranger.post(f"shelf/{kind}/", body), 409)
    assert taken["title"] == "This id is taken; choose another."
    assert rows() == before


@pytest.mark.parametrize("kind", ["fields", "labels", "nozzle-sets", "catch-tests"])
def test_rows_of_another_business_cannot_be_referred_to(as_stranger, bodies, kind, rows):
    before = rows()
    errors = problem_of(as_stranger.post(f"shelf/{kind}/", {"id": NEW, **bodies[kind]}), 422)
    assert "There is no such" in str(errors)
    assert rows() == before


@every_kind
def test_what_is_served_can_be_sent_back_and_stays(as_owner, standing, kind, rows):
    path = f"shelf/{kind}/{standing[kind].pk}/"
    served = as_owner.get(path).json()
    before = rows()
    replaced = as_owner.put(path, writable(kind, served))
    assert replaced.status_code == 200, replaced.content
    assert replaced.json() == served
    assert rows() == before


@every_kind
def test_patch_keeps_what_is_not_given(as_owner, standing, kind):
    path = f"shelf/{kind}/{standing[kind].pk}/"
    served = as_owner.get(path).json()
    name, value = {
        "labels": ("edition", "2025-12"),
        "nozzle-sets": ("removed_on", "2026-09-30"),
        "catch-tests": ("tested_by", "A. Lund"),
    }.get(kind, ("name", "Another name"))
    changed = as_owner.patch(path, {name: value})
    assert changed.status_code == 200, changed.content
    assert changed.json() == {**served, name: value}


@every_kind
def test_a_name_that_is_not_known_is_refused(as_owner, bodies, standing, kind, rows):
    before = rows()
    typo = {"id": NEW, **bodies[kind], "nmae": "x"}
    for response in (
        as_owner.post(f"shelf/{kind}/", typo),
        as_owner.patch(f"shelf/{kind}/{standing[kind].pk}/", {"nmae": "x"}),
    ):
        assert "There is no such field" in problem_of(response, 422)["errors"]["nmae"][0]
    stamped = as_owner.patch(f"shelf/{kind}/{standing[kind].pk}/", {"created_at": "2026-01-01"})
    assert "created_at" in problem_of(stamped, 422)["errors"]
    assert rows() == before


@every_kind
def test_all_that_is_needed_is_named_at_once(as_owner, bodies, kind, rows):
    before = rows()
    errors = problem_of(as_owner.post(f"shelf/{kind}/", {}), 422)["errors"]
    assert set(errors) == {"id", *bodies[kind]}
    assert rows() == before


@every_kind
def test_a_row_that_is_not_there_is_not_made_by_a_change(as_owner, bodies, kind, rows):
    before = rows()
    problem_of(as_owner.put(f"shelf/{kind}/{NEW}/", {"id": NEW, **bodies[kind]}), 404)
    problem_of(as_owner.patch(f"shelf/{kind}/{NEW}/", {}), 404)
    problem_of(as_owner.get(f"shelf/{kind}/{NEW}/"), 404)
    assert rows() == before


@every_kind
def test_an_id_never_changes(as_owner, standing, kind, rows):
    before = rows()
    response = as_owner.patch(f"shelf/{kind}/{standing[kind].pk}/", {"id": NEW})
    assert list(problem_of(response, 422)["errors"]) == ["id"]
    assert rows() == before


@every_kind
@pytest.mark.parametrize("role", INSIDE)
def test_a_role_changes_what_its_rights_allow(business, bodies, standing, kind, role, rows):
    user = make.UserFactory()
    make.MembershipFactory(user=user, business=business, role=role.value)
    caller = Caller(user)
    right = Right.PEOPLE if kind == "people" else Right.SHELF
    before = rows()
    added = caller.post(f"shelf/{kind}/", {"id": NEW, **bodies[kind]})
    changed = caller.patch(f"shelf/{kind}/{standing[kind].pk}/", {})
    if right in TABLE[role]:
        assert (added.status_code, changed.status_code) == (201, 200)
    else:
        problem_of(added, 403)
        problem_of(changed, 403)
        assert rows() == before
    assert caller.get(f"shelf/{kind}/").status_code == 200


@every_kind
def test_a_shelf_is_searched(as_owner, standing, kind):
    words = {"labels": "2025-11", "nozzle-sets": "11004", "catch-tests": "Holm"}
    row = standing[kind]
    word = words.get(kind) or row.name
    found = as_owner.get(f"shelf/{kind}/?search={word}").json()["results"]
    assert str(row.pk) in [one["id"] for one in found]
    assert as_owner.get(f"shelf/{kind}/?search=nowhere+at+all").json()["results"] == []
    assert "serach" in problem_of(as_owner.get(f"shelf/{kind}/?serach=x"), 400)["errors"]


WRONG = [
    ("customers", {"email": "nobody"}, "email", "valid email"),
    ("customers", {"name": ""}, "name", "blank"),
    ("customers", {"name": "x" * 201}, "name", "200"),
    ("customers", {"address": "x" * 2001}, "address", "2000"),
    ("fields", {"place": "North Dakota"}, "place", "6 characters"),
    ("fields", {"place": "us-nd"}, "place", "ISO 3166-2"),
    ("fields", {"time_zone": "Mars/North"}, "time_zone", "America/Chicago"),
    ("fields", {"time_zone": "Factory"}, "time_zone", "America/Chicago"),
    ("fields", {"customer": NEW}, "customer", "There is no such customer"),
    ("fields", {"planted_size": "10 in"}, "planted_size", "allowed are ha, m2, ac, ft2"),
    ("fields", {"planted_size": "not measured: no map"}, "planted_size", "a number with its unit"),
    ("fields", {"planted_size": "-1 ac"}, "planted_size", "must be more than 0 ac"),
    ("fields", {"boundary": {"type": "Point", "coordinates": [1, 2]}}, "boundary", "Polygon"),
    ("fields", {"boundary": {"type": ["Polygon"], "coordinates": []}}, "boundary", "Polygon"),
    ("fields", {"boundary": {"type": "Polygon", "coordinates": "x"}}, "boundary", "rings"),
    ("fields", {"boundary": {"type": "Polygon", "coordinates": [[["a", 1]]]}}, "boundary", "rings"),
    ("fields", {"boundary": {"type": "Polygon", "coordinates": [RING[:3]]}}, "boundary", "4"),
    (
        "fields",
        {"boundary": {"type": "Polygon", "coordinates": [RING], "crs": "x"}},
        "boundary",
        "nothing else",
    ),
    ("fields", {"boundary": []}, "boundary", "Polygon"),
    ("fields", {"area_ha": 5}, "area_ha", "The service sets this"),
    ("fields", {"locations": [{"text": "x"}]}, "locations.0.kind", "required"),
    ("fields", {"locations": [{"kind": "sketch", "text": "x"}]}, "locations.0.kind", "parcel"),
    (
        "fields",
        {"locations": [{"id": 10**9, "kind": "parcel", "text": "x"}]},
        "locations.0.id",
        "no such row",
    ),
    ("fields", {"plantings": [{"season": 1889, "crop": "x"}]}, "plantings.0.season", "1990"),
    (
        "fields",
        {"plantings": [{"season": 2026, "crop": "x", "eppo_code": "glxma"}]},
        "plantings.0.eppo_code",
        "GLXMA",
    ),
    ("products", {"kind": "potion"}, "kind", "soil herbicide, foliar herbicide"),
    ("products", {"adjuvant_functions": ["shine"]}, "adjuvant_functions.0", "crop oil"),
    ("products", {"adjuvant_functions": "defoamer"}, "adjuvant_functions", "list"),
    ("products", {"editions": []}, "editions", "The service sets this"),
    ("labels", {"rate_max": "10 fl oz/ac"}, "rate_max", "less than the lower limit"),
    ("labels", {"carrier_max": "10 lb/ac"}, "carrier_max", "not a unit for this"),
    ("labels", {"finest_class": "MEDIUM"}, "finest_class", "XF, VF, F, M, C, VC, XC, UC"),
    ("labels", {"coarsest_class": "F"}, "coarsest_class", "finer than the finest"),
    ("labels", {"restricted_use": "yes"}, "restricted_use", "boolean"),
    ("labels", {"in_force_from": "March"}, "in_force_from", "2026-05-14"),
    ("labels", {"in_force_from": "9999-12-31"}, "in_force_from", "2200"),
    ("labels", {"in_force_to": "2020-01-01"}, "row", "cannot end before"),
    ("labels", {"reentry_hours": "-1"}, "reentry_hours", "0"),
    ("labels", {"reentry_hours": "NaN"}, "reentry_hours", "number"),
    ("labels", {"ingredients": [{"name": "x"}]}, "ingredients.0.content", "required"),
    (
        "labels",
        {"ingredients": [{"name": "x", "content": "3 %"}]},
        "ingredients.0.content",
        "% w/w",
    ),
    ("nozzles", {"size": "99"}, "size", "02"),
    ("nozzles", {"exponent": "0.9"}, "exponent", "0.6"),
    ("nozzles", {"pressure_max": "5 psi"}, "pressure_max", "5 psi is not above the lowest"),
    ("nozzles", {"pressure_max": "15 psi"}, "pressure_max", "15 psi is not above the lowest"),
    ("labels", {"preharvest_days": 3000}, "preharvest_days", "1096"),
    ("labels", {"reentry_hours": "9000"}, "reentry_hours", "8784"),
    ("nozzles", {"rated_flow": None}, "rated_flow", "null"),
    ("nozzles", {"class_rows": [{"pressure": "40 psi"}]}, "class_rows.0.droplet_class", "required"),
    ("rigs", {"tank": ""}, "tank", "An answer is needed; give"),
    (
        "rigs",
        {"tank": {"value": "800", "unit": "gal", "si": {"value": 10**400, "unit": "L"}}},
        "tank",
        "si contradicts the value",
    ),
    (
        "rigs",
        {"tank": {"value": "1", "unit": "L", "si": {"value": True, "unit": "L"}}},
        "tank",
        "si contradicts the value",
    ),
    ("rigs", {"tank": {"nothing": "none"}}, "tank", 'or the text "12.5 L".'),
    ("rigs", {"line_loss": 5}, "line_loss", "or null for blank."),
    ("rigs", {"nozzle_count": 0}, "nozzle_count", "1"),
    ("rigs", {"gauge_accuracy": "2 mph"}, "gauge_accuracy", "kPa, bar, psi, %"),
    ("rigs", {"spacing": "31 m"}, "spacing", "at most 30 m"),
    ("nozzle-sets", {"rig": NEW}, "rig", "There is no such rig"),
    ("nozzle-sets", {"removed_on": "2020-01-01"}, "row", "before they are mounted"),
    ("catch-tests", {"volumes": []}, "volumes", "one volume per nozzle"),
    ("catch-tests", {"volumes": ["1514", "0"]}, "volumes", "nozzle 2"),
    ("catch-tests", {"volumes": ["1514", "much"]}, "volumes.1", "not a number"),
    ("catch-tests", {"volumes": [True]}, "volumes.0", "not a number"),
    ("catch-tests", {"volumes": ["1" * 21]}, "volumes.0", "20 digits"),
    ("catch-tests", {"volumes": [1] * 401}, "volumes", "400"),
    ("catch-tests", {"volume_unit": "cup"}, "volume_unit", "mL, L, fl oz, pt, qt, gal"),
    ("catch-tests", {"time": "0 s"}, "time", "more than 0 s"),
    ("people", {"licences": [{"number": "C-1"}]}, "licences.0.expires_on", "required"),
    ("people", {"licences": {}}, "licences", "list"),
    ("people", {"trainings": [7]}, "trainings.0", "dictionary"),
]


@pytest.mark.parametrize(("kind", "change", "path", "says"), WRONG)
def test_what_cannot_be_taken_is_named_by_its_path(
    as_owner, standing, rows, kind, change, path, says
):
    before = rows()
    response = as_owner.patch(f"shelf/{kind}/{standing[kind].pk}/", change)
    errors = problem_of(response, 422)["errors"]
    assert says in " ".join(errors[path]), errors
    assert rows() == before


def test_a_list_keeps_rows_with_their_id_and_replaces_the_others(as_owner, yard):
    path = f"shelf/fields/{yard.field.pk}/"
    (kept,) = as_owner.get(path).json()["locations"]
    new = {"kind": "parcel", "text": "12-034"}
    first = as_owner.patch(path, {"locations": [kept, new]}).json()["locations"]
    assert first[0] == kept
    assert first[1]["text"] == "12-034"
    second = as_owner.patch(path, {"locations": [first[1]]}).json()["locations"]
    assert second == [first[1]]


def test_a_planting_that_a_record_uses_stays(as_owner, signed, yard, rows):
    before = rows()
    problem_of(as_owner.patch(f"shelf/fields/{yard.field.pk}/", {"plantings": []}), 409)
    assert rows() == before


def test_a_boundary_is_measured(as_owner, yard):
    shape = {"type": "Polygon", "coordinates": [RING]}
    field = as_owner.patch(f"shelf/fields/{yard.field.pk}/", {"boundary": shape}).json()
    assert field["boundary"] == shape
    # 0.01° × 0.004° at 47.1° N: 758.9 m × 444.8 m on WGS 84 (geographiclib says 33.749 ha).
    from geographiclib.geodesic import Geodesic

    polygon = Geodesic.WGS84.Polygon()
    for longitude, latitude in RING[:-1]:
        polygon.AddPoint(latitude, longitude)
    assert field["area_ha"] == pytest.approx(abs(polygon.Compute()[2]) / 1e4, rel=1e-9)


def test_a_whole_person_comes_with_licences_and_trainings(as_office):
    licence = {
        "number": "C-77",
        "authority": "State agriculture department",
        "place": "US-ND",
        "categories": "agricultural",
        "valid_from": "2026-01-01",
        "expires_on": "2028-12-31",
    }
    training = {"trained_on": "2026-02-02", "trainer": "R. Holm", "content": "Handling"}
    body = {"id": NEW, "name": "K. Vale", "licences": [licence], "trainings": [training]}
    person = as_office.post("shelf/people/", body).json()
    assert person["licences"][0].items() >= licence.items()
    assert person["licences"][0]["certified"] is None  # nobody said so
    assert person["trainings"][0]["expires_on"] is None
    assert as_office.post("shelf/people/", body).status_code == 200


def test_readings_keep_their_digits(as_owner, bodies):
    made = as_owner.post("shelf/catch-tests/", {"id": NEW, **bodies["catch-tests"]}).json()
    assert made["volumes"] == ["1514", "1517", "1511.5"]


def test_a_product_lists_its_label_editions(as_owner, yard):
    product = as_owner.get(f"shelf/products/{yard.product.pk}/").json()
    (edition,) = product["editions"]
    assert edition["id"] == str(yard.label.pk)
    assert edition["in_force_from"] == "2025-11-01"


@pytest.mark.parametrize(
    ("kind", "change", "name"),
    [
        ("products", {"name": 0}, "name"),
        ("products", {"id": 7}, "id"),
        ("customers", {"email": 5}, "email"),
        ("rigs", {"nozzle_count": "54"}, "nozzle_count"),
    ],
)
def test_a_value_of_another_type_is_not_turned_into_one(as_owner, bodies, rows, kind, change, name):
    before = rows()
    answer = as_owner.post(f"shelf/{kind}/", {"id": NEW, **bodies[kind], **change})
    assert name in problem_of(answer, 422)["errors"]
    assert rows() == before


def test_a_number_outside_its_usual_range_is_kept_and_asked_about(as_owner, bodies) -> None:
    body = {**bodies["nozzles"], "id": NEW, "rated_pressure": "3 psi"}
    body["class_rows"] = [{"pressure": "40 bar", "droplet_class": "C"}]
    served = as_owner.post("shelf/nozzles/", body)
    assert served.status_code == 201, served.content
    served = served.json()
    assert served["rated_pressure"]["value"] == "3"
    assert {path: said.rpartition(". ")[2] for path, said in served["questions"].items()} == {
        "rated_pressure": "Was 3 bar meant?",
        "class_rows.0.pressure": "Was 40 psi meant?",
    }
    rig = {**bodies["rigs"], "id": NEW, "spacing": "50 m"}
    problem = problem_of(as_owner.post("shelf/rigs/", rig), 422)
    assert problem["errors"]["spacing"] == [
        "50 m is not possible; it must be at most 30 m. Was 50 cm meant?"
    ]
