"""Duties, entries, papers, totals and export: what the pages show, for a program."""

from __future__ import annotations

import csv
import json
import uuid
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from logbook.catalog.choices import DutyClass, LabelSince
from logbook.documents.papers import PAPERS
from logbook.law.elements import ELEMENTS
from logbook.records.exchange import schema as exchange
from logbook.records.models import DueSheet, DutyEntry
from tests.conftest import sealed_by, written
from tests.logbook.api.conftest import problem_of

NEW = str(uuid.UUID(int=11))
ENTRY = {
    "id": NEW,
    "kind": "copy",
    "to_whom": "Customer at Stillwater Flats",
    "how": "by hand",
    "given_at": "2026-06-12T14:00",
}


@pytest.fixture
def path(signed: Any) -> str:
    return f"records/{signed.pk}/"


def test_every_set_says_why_and_where_each_element_stands(as_owner, path):
    said = as_owner.get(f"{path}duties/").json()
    assert said["none_applies"] == ""
    assert said["not_carried"].startswith("Of the rules of North Dakota a part is carried here")
    # North Dakota is carried, and the record answers to it on its day.
    assert any(one["citation"] for one in said["sets"])
    for one in said["sets"]:
        assert one["why"]
        for element in one["elements"]:
            assert element["state"] != "given" or element["where"]
    assert said["keeping"]["keep_until"] > "2026-06-12"
    assert said["keeping"]["held"] is False
    # N.D. Admin. Code 60-03-01-07(2): three years, from memory.
    assert said["keeping"]["in_doubt"] is True
    assert said["keeping"]["may_go_after"] is None
    assert len(said["cautions"]) == 2


def test_a_refusal_is_in_the_callers_language_and_what_is_served_is_not(as_owner, path):
    spanish = {"accept_language": "es"}
    refused = as_owner.get(f"records/{uuid.UUID(int=1)}/duties/", **spanish)
    assert refused.status_code == 404
    assert refused.json()["title"] == "No existe ese registro."
    english = as_owner.get(f"{path}duties/").json()
    assert as_owner.get(f"{path}duties/", **spanish).json() == english


def test_a_draft_has_duties_too_but_no_day_to_be_kept_until(as_owner, clean_draft):
    said = as_owner.get(f"records/{clean_draft.pk}/duties/").json()
    assert said["sets"]
    assert said["keeping"] is None


def test_a_record_without_a_field_says_that_no_set_is_known(as_owner):
    as_owner.post("records/", {"id": NEW})
    said = as_owner.get(f"records/{NEW}/duties/").json()
    assert said["sets"] == []
    assert said["none_applies"]


def test_an_entry_is_written_once_and_shows_as_done(as_owner, path, rows):
    made = as_owner.post(f"{path}duty-entries/", ENTRY)
    assert made.status_code == 201, made.content
    # 14:00 on the clock in Chicago in June is 19:00 in UTC.
    assert made.json()["given_at"] == "2026-06-12T19:00:00Z"
    before = rows()
    again = as_owner.post(f"{path}duty-entries/", ENTRY)
    assert again.status_code == 200
    problem_of(as_owner.post(f"{path}duty-entries/", {**ENTRY, "to_whom": "B"}), 409)
    assert rows() == before
    entries = as_owner.get(f"{path}duties/").json()["entries"]
    assert [one["id"] for one in entries] == [NEW]


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"given_at": "2999-01-01T00:00Z"}, "given_at"),
        ({"given_at": "2150-01-01T00:00Z"}, "given_at"),
        ({"kind": "record"}, "kind"),
        ({"how": "pigeon"}, "how"),
        ({"how": "not owed"}, "note"),
        ({"consent_on": "2026-06-01"}, "consent_on"),
        ({"to_whom": ""}, "to_whom"),
        ({"by": "me"}, "by"),
    ],
)
def test_an_entry_that_cannot_be_is_refused_by_name(as_owner, path, rows, change, name):
    before = rows()
    problem = problem_of(as_owner.post(f"{path}duty-entries/", {**ENTRY, **change}), 422)
    assert name in problem["errors"]
    assert rows() == before


def test_a_mistaken_entry_is_struck_by_a_further_one(as_owner, path):
    as_owner.post(f"{path}duty-entries/", ENTRY)
    strike = {"id": str(uuid.UUID(int=12)), "reason": "It went to the neighbour."}
    struck = as_owner.post(f"{path}duty-entries/{NEW}/strike/", strike)
    assert struck.status_code == 201
    assert struck.json()["strikes"] == NEW
    other = {**strike, "id": str(uuid.UUID(int=13))}
    problem_of(as_owner.post(f"{path}duty-entries/{NEW}/strike/", other), 409)
    problem_of(as_owner.post(f"{path}duty-entries/{uuid.UUID(int=14)}/strike/", other), 404)
    first, second = as_owner.get(f"{path}duties/").json()["entries"]
    assert (first["struck_by"], second["struck_by"]) == (strike["id"], None)
    assert DutyEntry.objects.count() == 2


def test_an_entry_of_another_record_is_not_struck_here(as_owner, path):
    as_owner.post(f"{path}duty-entries/", ENTRY)
    as_owner.post("records/", {"id": str(uuid.UUID(int=20))})
    strike = {"id": str(uuid.UUID(int=12)), "reason": "It went to the neighbour."}
    address = f"records/{uuid.UUID(int=20)}/duty-entries/{NEW}/strike/"
    problem_of(as_owner.post(address, strike), 404)


def test_a_helper_writes_no_entry(as_helper, path, rows):
    before = rows()
    problem_of(as_helper.post(f"{path}duty-entries/", ENTRY), 403)
    assert rows() == before


@pytest.mark.parametrize("name", PAPERS)
def test_papers_are_the_pages_own(as_owner, as_stranger, signed, name):
    answer = as_owner.get(f"records/{signed.pk}/papers/{name}.pdf")
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/pdf"
    page = as_owner.get(f"/book/{signed.pk}/{name}.pdf")
    assert answer.content == page.content
    problem_of(as_stranger.get(f"records/{signed.pk}/papers/{name}.pdf"), 404)


def test_a_draft_has_no_copy(as_owner, clean_draft):
    problem_of(as_owner.get(f"records/{clean_draft.pk}/papers/copy.pdf"), 404)


def test_what_is_due_is_listed_with_its_time(as_owner, as_stranger, yard, request):
    label = {"deadlines": [{"kind": "copy", "clock": "calendar days", "count": 30}]}
    assert as_owner.patch(f"shelf/labels/{yard.label.pk}/", label).status_code == 200
    signed = request.getfixturevalue("signed")
    (line,) = as_owner.get("deadlines/").json()["results"]
    assert line["record"] == str(signed.pk)
    (copy,) = [item for item in line["due"] if item["kind"] == "copy"]
    # 30 calendar days from the day of 12 June 2026; the last instant before midnight in Chicago.
    assert copy["due"] == "2026-07-13T04:59:59.999999Z"
    assert copy["standing"] in ("open", "overdue")
    assert as_stranger.get("deadlines/").json()["results"] == []


def test_what_waits_without_an_instant_is_listed_after_what_is_due(as_owner, signed, owner, entry):
    other = sealed_by(owner, written(owner, entry), explained="Looked at again.")
    DueSheet.objects.filter(record=signed).update(next_due_at=None, waiting=1)
    first = as_owner.get("deadlines/?page_size=1").json()
    second = as_owner.get(first["next"].partition("/v1/")[2]).json()
    assert [one["record"] for one in first["results"] + second["results"]] == [
        str(other.pk),
        str(signed.pk),
    ]
    assert second["next"] is None


def test_totals_are_those_of_the_page(as_owner, signed):
    query = "from=2026-01-01&to=2026-12-31"
    total = as_owner.get(f"totals/?{query}").json()
    assert total == as_owner.get(f"/season/totals.json?{query}").json()
    assert total["products"][0]["as_entered"] == [{"value": "2752", "unit": "fl oz"}]


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ("from=2026-01-01", "to"),
        ("from=x&to=2026-12-31", "from"),
        ("from=2026-12-31&to=2026-01-01", "to"),
        ("from=2026-01-01&to=2026-12-31&rule=moon", "rule"),
        ("from=2026-01-01&to=2026-12-31&place=moon", "place"),
        ("from=2026-01-01&to=2026-12-31&years=2", "years"),
    ],
)
def test_a_period_that_cannot_be_is_refused_by_name(as_owner, query, name):
    assert name in problem_of(as_owner.get(f"totals/?{query}"), 400, 422)["errors"]


def test_the_export_is_what_its_schema_says(as_owner, as_stranger, signed):
    def read(caller: Any, name: str) -> str:
        return b"".join(caller.get(f"export/{name}").streaming_content).decode()

    taken = json.loads(read(as_owner, "records.json"))
    Draft202012Validator(exchange.schema()).validate(taken)
    assert [one["id"] for one in taken["records"]] == [str(signed.pk)]
    assert json.loads(read(as_stranger, "records.json"))["records"] == []
    table = list(csv.reader(read(as_owner, "records.csv").splitlines()))
    assert len(table) == 2
    answer = as_owner.get("export/records.json?from=2026-06-13")
    assert json.loads(b"".join(answer.streaming_content))["records"] == []
    problem_of(as_owner.get("export/records.json?from=2026-06-13&to=2026-06-01"), 409)


def test_the_duties_of_a_label_are_written_and_read(as_owner, yard):
    path = f"shelf/labels/{yard.label.pk}/"
    change = {
        "duty_classes": [DutyClass.AUXIN.value],
        "training": "auxin training of the year",
        "keep_years": 3,
        "asks": [
            {"element": next(iter(ELEMENTS)), "when": "outdoors", "detail": "Gusts at the field."}
        ],
        "deadlines": [{"kind": "record", "clock": "hours", "count": 72}],
    }
    answer = as_owner.patch(path, change)
    assert answer.status_code == 200, answer.content
    said = as_owner.get(path).json()
    for name in ("duty_classes", "training", "keep_years"):
        assert said[name] == change[name]
    assert said["asks"][0]["detail"] == "Gusts at the field."
    assert said["deadlines"][0]["since"] == LabelSince.END.value
    kept = as_owner.patch(path, {"asks": said["asks"], "training": ""}).json()
    assert kept["asks"] == said["asks"]
    assert kept["deadlines"] == said["deadlines"]


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"duty_classes": ["any"]}, "duty_classes.0"),
        ({"keep_years": 51}, "keep_years"),
        ({"asks": [{"element": "shoe-size"}]}, "asks.0.element"),
        ({"deadlines": [{"kind": "record", "clock": "hours"}]}, "deadlines.0"),
    ],
)
def test_a_duty_of_a_label_that_cannot_be_is_refused_by_name(as_owner, yard, rows, change, name):
    before = rows()
    answer = as_owner.patch(f"shelf/labels/{yard.label.pk}/", change)
    errors = problem_of(answer, 422)["errors"]
    assert [path for path in errors if path.startswith(name)], errors
    assert rows() == before
