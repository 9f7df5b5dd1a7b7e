"""Drafts through the API: begin, read, replace, change, narrow; a refusal changes nothing."""

from __future__ import annotations

import copy
import json
import uuid
from datetime import UTC, datetime
from typing import Any

import pytest

from logbook.records.models import ApplicationRecord
from tests import factories as make
from tests.logbook.api.conftest import problem_of


@pytest.fixture
def body(yard) -> dict[str, Any]:
    """A complete entry as a program would send it; `clean_data` is the same for the services."""
    return {
        "field": str(yard.field.pk),
        "planting": yard.planting.pk,
        "growth_stage": 14,
        "purpose": "broad-leaved weeds",
        "pattern": "broadcast",
        "band_width": "not applicable",
        "row_spacing": {"nothing": "not applicable"},
        "applicator": str(yard.person.pk),
        "rig": str(yard.rig.pk),
        "nozzle_set": str(yard.nozzle_set.pk),
        "started_at": "2026-06-12T09:30",
        "finished_at": "2026-06-12T12:00:00-05:00",
        "treated_area": "125.1 ac",
        "planned_carrier": {"value": "15.0", "unit": "gal/ac"},
        "pressure": {"value": 40, "unit": "psi"},
        "speed": {"value": 7.9, "unit": "mph"},
        "boom_height": "20 in",
        "duty": "not applicable",
        "density": "not applicable",
        "distance": {"nothing": "not measured", "reason": "no counter"},
        "mix_used": "1880 gal",
        "products": [
            {
                "product": str(yard.product.pk),
                "planned_rate": "22 fl oz/ac",
                "total_used": "2752 fl oz",
                "target": "volunteer weeds",
            }
        ],
        "loads": [
            {
                "mixed_volume": "700 gal",
                "used": "700 gal",
                "parts": [{"product": str(yard.product.pk), "amount": "1024 fl oz"}],
            }
        ],
        "weather": [
            {"read_at": "2026-06-12T09:30", "wind_speed": "8 mph", "signs": ["dew"]},
        ],
    }


@pytest.fixture
def draft(as_owner, body) -> dict[str, Any]:
    """The record as the API serves it after it was begun with `body`."""
    response = as_owner.post("records/", {"id": str(uuid.uuid4()), **body})
    assert response.status_code == 201, response.content
    return response.json()


def writable(record: dict[str, Any]) -> dict[str, Any]:
    """Return what of a served record may be sent back."""
    served = "state number created_at updated_at signed_at amends amended_by time_zone carried"
    kept = {name: value for name, value in record.items() if name not in served.split()}
    for line in kept["products"]:
        line.pop("name")
        line.pop("label")
    return kept


def test_a_draft_begins_empty_under_the_id_that_the_client_chose(as_helper, business):
    new = str(uuid.uuid4())
    response = as_helper.post("records/", {"id": new})
    assert response.status_code == 201
    record = response.json()
    assert (record["id"], record["state"], record["revision"]) == (new, "draft", 1)
    assert record["time_zone"] == "America/Chicago"
    assert record["speed"] is None
    assert (record["density"], record["duty"]) == (None, None)
    assert response["ETag"] == '"1"'
    assert ApplicationRecord.objects.get(pk=new).business == business


def test_beginning_twice_makes_one_draft(as_owner, rows):
    new = {"id": str(uuid.uuid4())}
    first = as_owner.post("records/", new)
    after = rows()
    second = as_owner.post("records/", new)
    assert (first.status_code, second.status_code) == (201, 200)
    assert second.json() == first.json()
    assert rows() == after


def test_a_draft_begins_with_all_that_is_given(draft, yard):
    assert draft["customer"] == str(yard.customer.pk)
    assert draft["planned_carrier"] == {
        "value": "15.0",
        "unit": "gal/ac",
        # 1 gal/ac = 3.785411784 L / 0.40468564224 ha (NIST SP 811, App. B).
        "si": {"value": pytest.approx(140.309, abs=0.001), "unit": "L/ha"},
    }
    assert draft["speed"]["value"] == "7.9"
    assert draft["distance"] == {"nothing": "not measured", "reason": "no counter"}
    # 09:30 on the wall in Chicago in June is 14:30 UTC (CDT, UTC−5).
    assert draft["started_at"] == "2026-06-12T14:30:00Z"
    assert draft["finished_at"] == "2026-06-12T17:00:00Z"
    (line,) = draft["products"]
    assert (line["name"], line["label"]) == ("Leafkill", str(yard.label.pk))
    (load,) = draft["loads"]
    assert load["parts"][0]["amount"]["value"] == "1024"
    assert draft["weather"][0]["signs"] == ["dew"]
    assert draft["weather"][0]["gust"] is None


def test_signs_not_said_are_told_from_none_seen(as_owner, clean_draft):
    draft = as_owner.get(f"records/{clean_draft.pk}/").json()
    readings = [{**one, "signs": None} for one in draft["weather"]]
    del readings[0]["signs"]
    readings[1]["signs"], readings[2]["signs"] = [], ["dew"]
    sent = {"revision": draft["revision"], "weather": readings}
    answer = as_owner.patch(f"records/{clean_draft.pk}/", sent)
    assert answer.status_code == 200, answer.json()
    assert [one["signs"] for one in answer.json()["weather"]] == [None, [], ["dew"], None]


def test_sending_the_same_beginning_again_changes_nothing(as_owner, draft, body, rows):
    before = rows()
    response = as_owner.post("records/", {"id": draft["id"], **body})
    assert response.status_code == 200
    assert response.json() == draft
    assert rows() == before


def test_customer_and_rig_may_be_left_to_the_field_and_the_nozzles(as_owner, body, yard, rows):
    new = {"id": str(uuid.uuid4()), **body, "customer": None, "rig": None}
    first = as_owner.post("records/", new)
    assert first.status_code == 201
    assert first.json()["customer"] == str(yard.customer.pk)
    assert first.json()["rig"] == str(yard.rig.pk)
    before = rows()
    assert as_owner.post("records/", new).status_code == 200
    assert rows() == before


def test_a_draft_begun_empty_takes_what_a_second_beginning_brings(as_owner, body):
    new = str(uuid.uuid4())
    as_owner.post("records/", {"id": new})
    filled = as_owner.post("records/", {"id": new, **body})
    assert filled.status_code == 200
    assert filled.json()["speed"]["value"] == "7.9"


def test_another_beginning_under_the_same_id_is_refused(as_owner, draft, body, rows):
    before = rows()
    other = {"id": draft["id"], **body, "speed": "8.0 mph"}
    assert "PUT" in problem_of(as_owner.post("records/", other), 409)["title"]
    assert rows() == before


def test_a_beginning_that_cannot_be_taken_leaves_no_draft(as_owner, body, rows):
    before = rows()
    new = {"id": str(uuid.uuid4()), **body, "speed": "80 mph"}
    errors = problem_of(as_owner.post("records/", new), 422)["errors"]
    assert errors == {"speed": ["80 mph is not possible; it must be at most 37.28 mph."]}
    assert rows() == before


def test_an_id_of_another_business_is_taken(as_stranger, draft, rows):
    before = rows()
    problem_of(as_stranger.post("records/", {"id": draft["id"]}), 409)
    assert rows() == before


def test_a_draft_without_an_id_is_refused_by_name(as_owner):
    assert list(problem_of(as_owner.post("records/", {}), 422)["errors"]) == ["id"]


def test_what_is_served_can_be_sent_back_and_stays(as_owner, draft):
    response = as_owner.put(f"records/{draft['id']}/", writable(copy.deepcopy(draft)))
    assert response.status_code == 200, response.content
    again = response.json()
    assert again.pop("revision") == draft["revision"] + 1
    assert response["ETag"] == f'"{draft["revision"] + 1}"'
    for record in (again, draft):
        record.pop("updated_at")
    assert again == {name: value for name, value in draft.items() if name != "revision"}


def test_patch_changes_what_is_given_and_keeps_the_rest(as_owner, draft):
    change = {"revision": draft["revision"], "speed": "8.1 mph", "note": "Wind came up."}
    changed = as_owner.patch(f"records/{draft['id']}/", change).json()
    assert changed["speed"]["value"] == "8.1"
    assert changed["note"] == "Wind came up."
    assert changed["pressure"] == draft["pressure"]
    assert changed["loads"] == draft["loads"]


def test_put_makes_blank_what_is_not_given(as_owner, draft, body):
    put = {"id": draft["id"], "revision": draft["revision"], "field": body["field"]}
    replaced = as_owner.put(f"records/{draft['id']}/", put).json()
    assert replaced["field"] == body["field"]
    assert replaced["speed"] is None
    assert replaced["products"] == replaced["loads"] == replaced["weather"] == []


def test_the_etag_in_if_match_stands_for_the_revision(as_owner, draft):
    tag = as_owner.get(f"records/{draft['id']}/")["ETag"]
    response = as_owner.patch(f"records/{draft['id']}/", {"note": "x"}, If_Match=tag)
    assert response.status_code == 200
    assert response["ETag"] != tag


@pytest.mark.parametrize("tag", ['"1"', '"999999"', "*", 'W/"2"', '"2", "3"', "2", '"two"'])
def test_an_if_match_that_is_not_this_revision_fails(as_owner, draft, rows, tag):
    assert draft["revision"] == 2
    before = rows()
    refused = as_owner.patch(f"records/{draft['id']}/", {"note": "x"}, If_Match=tag)
    problem_of(refused, 412)
    assert rows() == before


def test_if_match_and_body_that_contradict_each_other_fail(as_owner, draft, rows):
    before = rows()
    change = {"note": "x", "revision": 1}
    problem_of(as_owner.patch(f"records/{draft['id']}/", change, If_Match='"2"'), 412)
    assert rows() == before


def test_a_change_that_names_no_revision_is_asked_for_it(as_owner, draft, rows):
    before = rows()
    problem_of(as_owner.patch(f"records/{draft['id']}/", {"note": "x"}), 428)
    assert rows() == before


def test_a_change_from_an_older_revision_is_a_conflict(as_owner, as_helper, draft, rows):
    change = {"revision": draft["revision"], "note": "mine"}
    assert as_helper.patch(f"records/{draft['id']}/", change).status_code == 200
    before = rows()
    refused = problem_of(as_owner.patch(f"records/{draft['id']}/", change), 409)
    assert "revision 3" in refused["title"]
    assert rows() == before


def test_the_id_in_the_body_must_be_that_of_the_address(as_owner, draft, rows):
    before = rows()
    change = {"id": str(uuid.uuid4()), "revision": draft["revision"]}
    assert "id" in problem_of(as_owner.patch(f"records/{draft['id']}/", change), 422)["errors"]
    assert rows() == before


WRONG = [
    ({"sped": "8 mph"}, "sped", "There is no such field"),
    ({"state": "signed"}, "state", "The service sets this"),
    ({"number": 3}, "number", "The service sets this"),
    ({"speed": "8 psi"}, "speed", '"psi" is not a unit for this; allowed are km/h, m/s, mph, kn.'),
    ({"speed": "fast"}, "speed", "such as 12.5 km/h"),
    ({"speed": 8}, "speed", "one of km/h, m/s, mph, kn"),
    ({"speed": True}, "speed", "This is no answer"),
    ({"speed": []}, "speed", "This is no answer"),
    ({"speed": {"value": "8"}}, "speed", "This is no answer"),
    ({"speed": {"value": True, "unit": "mph"}}, "speed", "This is no answer"),
    ({"speed": {"value": "8", "unit": ["mph"]}}, "speed", "This is no answer"),
    ({"speed": {"value": "8", "unit": "mph", "was": 7}}, "speed", "This is no answer"),
    ({"speed": {"value": "8;1", "unit": "mph"}}, "speed", "not a number"),
    ({"speed": {"value": "NaN", "unit": "mph"}}, "speed", "not a number"),
    ({"speed": {"value": "1_0", "unit": "mph"}}, "speed", "not a number"),
    ({"speed": {"value": "1e3", "unit": "mph"}}, "speed", "not a number"),
    ({"speed": {"value": 10**30, "unit": "mph"}}, "speed", "too many digits"),
    ({"speed": {"value": 0, "unit": "mph"}}, "speed", "must be more than 0 mph"),
    ({"speed": {"nothing": "not measured"}}, "speed", "needs the reason"),
    ({"speed": {"nothing": "unknown"}}, "speed", "This is no answer"),
    ({"speed": "not measured"}, "speed", "needs the reason"),
    ({"speed": f"not measured: {'x' * 300}"}, "speed", "at most 200 characters"),
    ({"speed": {"value": "8", "unit": "mph", "si": {"value": 9, "unit": "km/h"}}}, "speed", "si"),
    ({"pattern": "sideways"}, "pattern", "broadcast, banded, directed"),
    ({"pattern": 3}, "pattern", "broadcast, banded, directed"),
    ({"pattern": "x" * 100}, "pattern", "broadcast, banded, directed"),
    ({"growth_stage": 100}, "growth_stage", "99"),
    ({"growth_stage": "late"}, "growth_stage", "integer"),
    ({"field": "the north one"}, "field", "UUID"),
    ({"field": 7}, "field", "UUID"),
    ({"field": str(uuid.UUID(int=1))}, "field", "There is no such field"),
    ({"planting": 10**30}, "planting", "9223372036854775807"),
    ({"planting": 999_999}, "planting", "There is no such"),
    ({"started_at": "yesterday"}, "started_at", "2026-05-14T07:30:00-05:00"),
    ({"started_at": "0001-01-01T00:00:00+14:00"}, "started_at", "1900"),
    ({"started_at": "2026-02-30T08:00"}, "started_at", "not an instant"),
    ({"started_at": 5}, "started_at", "not an instant"),
    ({"started_at": "2200-12-31T23:59:59-12:00"}, "started_at", "in the year 2201 UTC"),
    ({"started_at": "1900-01-01T00:00:00+14:00"}, "started_at", "in the year 1899 UTC"),
    ({"started_at": "1990-01-01T00:00:00+01:00"}, "started_at", "at the field and in UTC"),
    ({"finished_at": "9999-12-31T23:59:59-12:00"}, "finished_at", "not an instant between"),
    # A day alone would be read as its midnight.
    ({"started_at": "2026-06-12"}, "started_at", "not an instant"),
    ({"started_at": "2026-06-12T08:00+23:59"}, "started_at", "-14:00 to +14:00"),
    ({"started_at": "2026-06-12T08:00-14:01"}, "started_at", "-14:00 to +14:00"),
    ({"finished_at": "2026-06-12T08:00"}, "finished_at", "cannot end before it starts"),
    ({"started_at": "2026-03-08T02:30"}, "started_at", "the clocks went forward"),
    ({"note": "x" * 10_001}, "note", "10000 characters"),
    ({"note": ["x"]}, "note", "Not a valid string"),
    ({"products": {}}, "products", "list"),
    ({"products": ["x"]}, "products.0", "dictionary"),
    ({"products": [{}]}, "products.0.product", "required"),
    ({"products": [{"product": str(uuid.UUID(int=1))}]}, "products.0.product", "no such"),
    ({"weather": [{"read_at": "2026-06-12T09:30", "gusts": 1}]}, "weather.0.gusts", "gust"),
    ({"weather": [{}]}, "weather.0.read_at", "required"),
    (
        {"weather": [{"read_at": "2026-06-12T09:30", "signs": ["fog"]}]},
        "weather.0.signs.0",
        "smoke layer",
    ),
    ({"loads": [{}]}, "loads.0.mixed_volume", "required"),
    ({"loads": [{"mixed_volume": None}]}, "loads.0.mixed_volume", "null"),
    ({"loads": [{"mixed_volume": "9 gal", "load": str(uuid.UUID(int=1))}]}, "loads.0.load", "no"),
    ({"loads": [{"mixed_volume": "9 gal", "parts": [{}]}]}, "loads.0.parts.0.amount", "required"),
    ({"weather": [{"read_at": "2026-06-12T09:30"}] * 41}, "weather", "40"),
]


@pytest.mark.parametrize(("change", "path", "says"), WRONG)
def test_what_cannot_be_taken_is_named_by_its_path(as_owner, draft, rows, change, path, says):
    before = rows()
    response = as_owner.patch(f"records/{draft['id']}/", {"revision": draft["revision"], **change})
    errors = problem_of(response, 422)["errors"]
    assert says in " ".join(errors[path]), errors
    assert rows() == before


def test_who_is_in_the_crew_is_not_made_the_applicator_beside_it(as_owner, draft, business):
    mate = make.PersonFactory(business=business, name="C. Berg")
    change = {"crew": [str(mate.pk)]}
    tag = f'"{draft["revision"]}"'
    with_mate = as_owner.patch(f"records/{draft['id']}/", change, If_Match=tag).json()
    tag = f'"{with_mate["revision"]}"'
    for name in ("applicator", "supervisor"):
        change = {name: str(mate.pk)}
        refused = as_owner.patch(f"records/{draft['id']}/", change, If_Match=tag)
        assert problem_of(refused, 422)["errors"] == {
            name: ["C. Berg is named twice in this record."]
        }
    assert as_owner.get(f"records/{draft['id']}/").json() == with_mate
    # Message together, the two are one change.
    change = {"applicator": str(mate.pk), "crew": []}
    assert as_owner.patch(f"records/{draft['id']}/", change, If_Match=tag).status_code == 200


def test_all_that_is_wrong_is_named_at_once(as_owner, draft):
    change = {"revision": 2, "sped": 1, "speed": 8, "products": [{}], "growth_stage": -1}
    errors = problem_of(as_owner.patch(f"records/{draft['id']}/", change), 422)["errors"]
    assert set(errors) == {"sped", "speed", "products.0.product", "growth_stage"}


@pytest.mark.parametrize("whole", [[], "x", 7, None, True])
def test_a_body_that_is_no_object_is_refused(as_owner, draft, rows, whole):
    before = rows()
    for verb in ("PUT", "PATCH"):
        raw = json.dumps(whole).encode()
        problem_of(as_owner(verb, f"records/{draft['id']}/", raw), 422)
    problem_of(as_owner("POST", "records/", json.dumps(whole).encode()), 422)
    assert rows() == before


def test_references_to_rows_of_another_business_are_not_there(
    as_owner, draft, other_business, rows
):
    theirs = make.FieldFactory(business=other_business)
    before = rows()
    change = {"revision": draft["revision"], "field": str(theirs.pk)}
    errors = problem_of(as_owner.patch(f"records/{draft['id']}/", change), 422)["errors"]
    assert errors == {"field": [f"There is no such field: {theirs.pk}."]}
    assert rows() == before


def test_a_signed_record_is_not_changed(as_owner, signed, rows):
    before = rows()
    change = {"revision": signed.revision, "note": "later"}
    refused = as_owner.patch(f"records/{signed.pk}/", change)
    assert "amendment" in problem_of(refused, 409)["title"]
    assert rows() == before


# --- the book ------------------------------------------------------------------------------------


def ids(response: Any) -> list[str]:
    assert response.status_code == 200, response.content
    return [line["id"] for line in response.json()["results"]]


def test_the_book_lists_records_as_lines(as_helper, signed, yard):
    (line,) = as_helper.get("records/").json()["results"]
    assert line["number"] == 1
    assert line["state"] == "signed"
    assert line["customer_name"] == yard.customer.name
    assert line["field_name"] == "North L"
    assert line["crop"] == "soybean"
    assert line["products"] == ["Leafkill"]
    assert line["superseded_by"] is None


@pytest.fixture
def some(business, yard, signed) -> dict[str, str]:
    """The sealed record, a draft of another field in July, and an empty draft."""
    other = make.FieldFactory(business=business, name="Mill field")
    july = make.ApplicationRecordFactory(
        business=business,
        customer=other.customer,
        field=other,
        started_at=datetime(2026, 7, 4, 12, tzinfo=UTC),
    )
    empty = make.ApplicationRecordFactory(business=business)
    return {"signed": str(signed.pk), "july": str(july.pk), "empty": str(empty.pk)}


@pytest.mark.parametrize(
    ("query", "names"),
    [
        ("", ["empty", "july", "signed"]),
        ("state=draft", ["empty", "july"]),
        ("state=signed", ["signed"]),
        ("state=superseded", []),
        ("search=mill", ["july"]),
        ("search=leafkill", ["signed"]),
        ("search=", ["empty", "july", "signed"]),
        ("from=2026-07-01", ["july"]),
        ("to=2026-06-30", ["signed"]),
        ("from=2026-06-12&to=2026-06-12", ["signed"]),
    ],
)
def test_the_book_is_narrowed(as_owner, some, query, names):
    assert ids(as_owner.get(f"records/?{query}")) == [some[name] for name in names]


def test_the_book_is_narrowed_to_a_customer_and_a_field(as_owner, some, yard):
    assert ids(as_owner.get(f"records/?customer={yard.customer.pk}")) == [some["signed"]]
    assert ids(as_owner.get(f"records/?field={yard.field.pk}")) == [some["signed"]]


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ("custmer=1", "custmer"),
        ("state=lost", "state"),
        ("customer=7", "customer"),
        ("from=June", "from"),
        ("to=2026-13-01", "to"),
        ("search=%00", "search"),
        ("search=" + "x" * 201, "search"),
        ("page_size=0", "page_size"),
        ("page_size=201", "page_size"),
        ("page_size=all", "page_size"),
        ("page_size=9999999999999", "page_size"),
        ("page_size=0000000019999", "page_size"),
        (f"page_size=1{'0' * 5000}", "page_size"),
    ],
)
def test_a_question_that_is_not_understood_is_refused_by_name(as_owner, query, name):
    assert name in problem_of(as_owner.get(f"records/?{query}"), 400)["errors"]


def test_pages_follow_each_other_without_gap_or_double(as_owner, business):
    made = [str(make.ApplicationRecordFactory(business=business).pk) for _ in range(7)]
    found, path = [], "records/?page_size=3"
    while path:
        page = as_owner.get(path)
        found += ids(page)
        path = page.json()["next"]
        if path:
            path = "/" + path.split("/", 3)[3]
    assert found == made[::-1]


@pytest.mark.parametrize(
    "cursor",
    [
        "x",
        "cD1hYmM=",
        "cD0yMDI2LTAxLTAx",
        "cD0lMDA=",
        "bz05OTk5OTk5OTk5OTk5OQ==",
        "cj14",
        "é",
        "cD0yMDI2LTEzLTQ1VDAwOjAwOjAwWg==",
        "cD05OTk5LTEyLTMxVDIzOjU5OjU5LTE0OjAw",  # 9999-12-31T23:59:59-14:00
    ],
)
def test_a_cursor_that_was_not_made_here_is_not_there(as_owner, cursor):
    response = as_owner.get(f"records/?cursor={cursor}")
    # An offset beyond all is an empty page; every other forgery leads nowhere.
    assert response.status_code == 404 or response.json()["results"] == []
