"""Checking, signing, amending, reading seals and the log, the season; all through the API."""

from __future__ import annotations

import hashlib
import json
import uuid
from typing import Any

import pytest
from django.db import connection

from logbook.accounts.models import Journal
from logbook.api.serializers.records import RecordLineSerializer, lines_of
from logbook.records.models import LegalHold, Seal
from logbook.records.reading.bookfilter import WHOLE, BookFilter
from logbook.records.reading.bookrows import TOLD, lines
from logbook.records.reading.selectors import book
from logbook.records.sealing import freeze
from logbook.records.writing.holds import set_hold
from tests import factories as make
from tests.conftest import NOW
from tests.factories import PASSWORD
from tests.logbook.api.conftest import Caller, problem_of


@pytest.fixture(autouse=True)
def _that_afternoon(time_machine: Any) -> None:
    """The clock stands in the afternoon of the day that was sprayed."""
    time_machine.move_to(NOW, tick=False)


def sign(caller: Caller, record: Any, **change: Any) -> Any:
    body = {"password": PASSWORD, "revision": record.revision, **change}
    return caller.post(f"records/{record.pk}/sign/", body)


# --- check ---------------------------------------------------------------------------------------


def test_the_check_says_what_was_looked_at_and_what_was_computed(as_helper, clean_draft):
    seen = as_helper.get(f"records/{clean_draft.pk}/check/").json()
    assert seen["revision"] == clean_draft.revision
    assert seen["findings"] == []
    assert {run["state"] for run in seen["runs"]} >= {"looked and agreed"}
    carrier = seen["assessment"]["lines"][0]
    assert (carrier["subject"], carrier["unit"]) == ("carrier", "gal/ac")
    # 5940 × 0.40 gal/min / (7.9 mph × 20 in) = 15.04 gal/ac (UF/IFAS WG013, the 5940 formula);
    # the catch test of the yard reads within 1 % of 0.40 gal/min.
    assert carrier["delivered"] == pytest.approx(15.04, rel=0.01)
    assert carrier["against_label"] == "agrees"


def test_the_check_names_a_breach_and_its_key(as_owner, clean_draft):
    change = {"revision": clean_draft.revision, "boom_height": "40 in"}
    assert as_owner.patch(f"records/{clean_draft.pk}/", change).status_code == 200
    findings = as_owner.get(f"records/{clean_draft.pk}/check/").json()["findings"]
    breach = next(one for one in findings if one["severity"] == "breach")
    assert breach["about"] == "boom_height"
    assert breach["key"] == f"{breach['code']}@boom_height"
    assert breach["must_be_explained"] is True
    assert "40 in" in breach["sentence"]


# --- sign ----------------------------------------------------------------------------------------


def test_signing_seals_the_record_and_says_the_hashes(as_applicator, clean_draft):
    response = sign(as_applicator, clean_draft)
    assert response.status_code == 201, response.content
    seal = response.json()
    assert (seal["number"], seal["record"]) == (1, str(clean_draft.pk))
    assert seal["signer"] == "The applicator"
    assert seal["sealed_at"] == "2026-06-12T20:00:00Z"
    # RFC 6962, 2.1: leaf = SHA-256(0x00 ‖ text), node = SHA-256(0x01 ‖ left ‖ right).
    leaf = hashlib.sha256(b"\x00" + seal["text"].encode()).hexdigest()
    node = b"\x01" + bytes.fromhex("00" * 32) + bytes.fromhex(leaf)
    assert seal["leaf"] == leaf
    assert seal["link"] == hashlib.sha256(node).hexdigest()
    assert json.loads(seal["text"])["facts"]["record"]["speed"] == {"value": "7.9", "unit": "mph"}


def test_a_wrong_password_signs_nothing(as_owner, clean_draft, rows):
    before = rows()
    refused = sign(as_owner, clean_draft, password="not mine")
    assert problem_of(refused, 422)["errors"] == {"password": ["This is not your password."]}
    assert rows() == before


def test_wrong_passwords_without_end_are_locked_out_with_a_problem(
    as_owner, clean_draft, settings, rows
):
    settings.AXES_ENABLED = True
    before = rows()
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        problem_of(sign(as_owner, clean_draft, password="guess"), 422)
    problem_of(sign(as_owner, clean_draft, password="guess"), 429)
    problem_of(sign(as_owner, clean_draft), 429)
    assert rows() == before


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"password": None}, "password"),
        ({"revision": None}, "revision"),
        ({"revision": "x"}, "revision"),
        ({"explanations": []}, "explanations"),
        ({"explanations": {"a": 5.5, "b": []}}, "explanations.b"),
        ({"pasword": "x"}, "pasword"),
    ],
)
def test_a_signature_that_lacks_something_is_refused_by_name(
    as_owner, clean_draft, rows, change, name
):
    before = rows()
    assert name in problem_of(sign(as_owner, clean_draft, **change), 422)["errors"]
    assert rows() == before


def test_an_older_revision_is_not_signed(as_owner, clean_draft, rows):
    before = rows()
    problem_of(sign(as_owner, clean_draft, revision=1), 409)
    assert rows() == before


def test_the_office_signs_nothing_even_with_its_password(as_office, clean_draft, rows):
    before = rows()
    problem_of(sign(as_office, clean_draft), 403)
    assert rows() == before


def test_a_breach_is_signed_only_when_it_is_explained(as_owner, clean_draft, rows):
    change = {"revision": clean_draft.revision, "boom_height": "40 in"}
    as_owner.patch(f"records/{clean_draft.pk}/", change)
    clean_draft.refresh_from_db()
    before = rows()
    lacking = problem_of(sign(as_owner, clean_draft), 422)["errors"]
    (key,) = lacking
    assert key.endswith("@boom_height")
    assert rows() == before
    said = {key: "The left boom section would not go down."}
    seal = sign(as_owner, clean_draft, explanations=said)
    assert seal.status_code == 201
    assert json.loads(seal.json()["text"])["explanations"] == said
    assert seal.json()["breaches"] == 1


def test_a_record_is_signed_once(as_owner, signed, rows):
    before = rows()
    problem_of(sign(as_owner, signed), 409)
    assert rows() == before


# --- amend ---------------------------------------------------------------------------------------


def test_an_amendment_begins_as_a_draft_that_points_back(as_office, signed, rows):
    new = {"id": str(uuid.uuid4()), "reason": "The speed was written down wrong."}
    response = as_office.post(f"records/{signed.pk}/amend/", new)
    assert response.status_code == 201, response.content
    draft = response.json()
    assert (draft["id"], draft["amends"], draft["state"]) == (new["id"], str(signed.pk), "draft")
    assert draft["amend_reason"] == new["reason"]
    assert draft["speed"]["value"] == "7.9"
    assert as_office.get(f"records/{signed.pk}/").json()["amended_by"] == new["id"]
    before = rows()
    again = as_office.post(f"records/{signed.pk}/amend/", new)
    assert (again.status_code, again.json()["id"]) == (200, new["id"])
    assert rows() == before


def test_an_amendment_of_a_draft_is_refused(as_owner, clean_draft, rows):
    before = rows()
    new = {"id": str(uuid.uuid4()), "reason": "The speed is wrong."}
    problem_of(as_owner.post(f"records/{clean_draft.pk}/amend/", new), 409)
    assert rows() == before


@pytest.mark.parametrize(
    ("new", "name"),
    [
        ({"reason": "The speed is wrong."}, "id"),
        ({"id": str(uuid.UUID(int=3))}, "reason"),
        ({"id": str(uuid.UUID(int=3)), "reason": "no"}, "reason"),
        ({"id": "7", "reason": "The speed is wrong."}, "id"),
    ],
)
def test_an_amendment_that_lacks_something_is_refused_by_name(as_owner, signed, rows, new, name):
    before = rows()
    assert name in problem_of(as_owner.post(f"records/{signed.pk}/amend/", new), 422)["errors"]
    assert rows() == before


def test_an_amendment_under_an_id_that_is_taken_is_refused(as_owner, signed, rows):
    before = rows()
    new = {"id": str(signed.pk), "reason": "The speed was written down wrong."}
    problem_of(as_owner.post(f"records/{signed.pk}/amend/", new), 409)
    assert rows() == before


def test_a_helper_begins_no_amendment(as_helper, signed, rows):
    before = rows()
    new = {"id": str(uuid.uuid4()), "reason": "The speed was written down wrong."}
    problem_of(as_helper.post(f"records/{signed.pk}/amend/", new), 403)
    assert rows() == before


@pytest.fixture
def amended(as_owner, signed) -> str:
    """The id of a signed amendment of the sealed record."""
    new = {"id": str(uuid.uuid4()), "reason": "The speed was written down wrong."}
    draft = as_owner.post(f"records/{signed.pk}/amend/", new).json()
    change = {"revision": draft["revision"], "speed": "7.8 mph"}
    draft = as_owner.patch(f"records/{draft['id']}/", change).json()
    body = {"password": PASSWORD, "revision": draft["revision"]}
    assert as_owner.post(f"records/{draft['id']}/sign/", body).status_code == 201
    return draft["id"]


def test_both_seals_name_each_other(as_owner, signed, amended):
    before = as_owner.get(f"records/{signed.pk}/seal/").json()
    after = as_owner.get(f"records/{amended}/seal/").json()
    assert (before["number"], before["amends"], before["amended_by"]) == (1, None, [2])
    assert (after["number"], after["amends"], after["amended_by"]) == (2, 1, [])
    assert after["previous"] == before["link"]
    changes = json.loads(after["text"])["facts"]["amends"]["changes"]
    assert "Ground speed: 7.9 mph, now 7.8 mph" in changes


def test_the_book_says_what_superseded_a_record(as_owner, signed, amended):
    lines = {line["id"]: line for line in as_owner.get("records/").json()["results"]}
    assert lines[str(signed.pk)]["superseded_by"] == 2
    assert lines[amended]["amends"] == str(signed.pk)
    superseded = as_owner.get("records/?state=superseded").json()["results"]
    assert [line["id"] for line in superseded] == [str(signed.pk)]


def test_a_line_of_the_list_says_what_its_serializer_says(owner, signed, amended, business, now):
    empty = make.ApplicationRecordFactory(business=business)
    aside = make.ApplicationRecordFactory(business=business, set_aside_at=now)
    told_so = list(lines_of(lines(actor=owner, asked=BookFilter(state=WHOLE), columns=TOLD)))
    said = RecordLineSerializer(book(actor=owner, state=WHOLE), many=True).data
    assert {line["id"] for line in told_so} >= {str(signed.pk), amended, str(empty.pk)}
    assert {line["state"] for line in told_so} == {"signed", "draft", "set aside"}
    assert {line["superseded_by"] for line in told_so} == {None, 2}
    assert str(aside.pk) in {line["id"] for line in told_so}
    assert [list(line.items()) for line in told_so] == [list(line.items()) for line in said]


# --- seals, log, paper, season -------------------------------------------------------------------


def test_a_seal_is_served_byte_for_byte(as_helper, signed):
    served = as_helper.get(f"records/{signed.pk}/seal/").json()
    assert served["text"] == Seal.objects.get().text


def test_a_draft_has_no_seal_and_no_paper(as_owner, clean_draft):
    problem_of(as_owner.get(f"records/{clean_draft.pk}/seal/"), 404)
    problem_of(as_owner.get(f"records/{clean_draft.pk}/record.pdf"), 404)


def test_the_log_lists_the_highest_number_first(as_helper, signed, amended):
    first = as_helper.get("seals/?page_size=1").json()
    assert [seal["number"] for seal in first["results"]] == [2]
    assert "text" not in first["results"][0]
    second = as_helper.get("/" + first["next"].split("/", 3)[3]).json()
    assert [seal["number"] for seal in second["results"]] == [1]
    assert second["next"] is None


@pytest.mark.parametrize("cursor", ["cD14", "cD05OTk5OTk5OTk5OTk5OTk5OTk5OTk=", "cD3CsQ=="])
def test_the_log_knows_no_forged_cursor(as_owner, cursor):
    problem_of(as_owner.get(f"seals/?cursor={cursor}"), 404)


def test_the_log_refuses_a_question_it_does_not_know(as_owner):
    assert "year" in problem_of(as_owner.get("seals/?year=2026"), 400)["errors"]


def test_a_whole_log_verifies(as_helper, signed, amended):
    found = as_helper.get("log/verify/").json()
    last = as_helper.get("seals/").json()["results"][0]["link"]
    assert found == {
        "whole": True,
        "checked": 2,
        "last_link": last,
        "broken": None,
        # Where it begins, and the two seals.
        "journal": {"checked": 3, "last_link": Journal.objects.get().last_link, "broken": None},
    }


def test_a_log_that_was_tampered_with_says_where_it_breaks(as_owner, signed, amended):
    freeze.remove(connection)
    seal = Seal.objects.get(number=2)
    Seal.objects.filter(pk=seal.pk).update(text=seal.text.replace("7.8", "7.9"))
    freeze.install(connection)
    found = as_owner.get("log/verify/").json()
    assert (found["whole"], found["checked"]) == (False, 1)
    assert found["broken"] == {"number": 2, "why": "its text was changed after sealing"}


def test_a_log_whose_journal_was_tampered_with_says_so(as_owner, signed, owner, now):
    hold = set_hold(
        actor=owner, hold_id=uuid.uuid4(), record_id=signed.pk, reason="A claim.", now=now
    )
    freeze.remove(connection)
    LegalHold.objects.update(reason="Another claim.")
    freeze.install(connection)
    found = as_owner.get("log/verify/").json()
    assert (found["whole"], found["broken"]) == (False, None)
    assert found["journal"]["broken"] == {
        "number": 3,
        "why": f"the hold {hold.pk} says reason Another claim., the entry says A claim.",
    }


def test_the_paper_is_a_pdf_of_the_same_bytes_every_time(as_helper, signed):
    first = as_helper.get(f"records/{signed.pk}/record.pdf", Accept="application/pdf")
    assert first.status_code == 200
    assert first["Content-Type"] == "application/pdf"
    assert first["Content-Disposition"] == 'attachment; filename="record-1.pdf"'
    assert first["Cache-Control"] == "no-store"
    assert first.content.startswith(b"%PDF-")
    assert as_helper.get(f"records/{signed.pk}/record.pdf").content == first.content


def test_the_season_totals_what_was_sealed(as_helper, signed, yard):
    season = as_helper.get("season/?year=2026").json()
    (line,) = season["lines"]
    assert (season["year"], line["field"], line["product"]) == (2026, "North L", "Leafkill")
    assert line["applications"] == 1
    assert [total["value"] for total in line["total"]] == ["2752"]
    # 12 h re-entry from the end of the work at 12:00 CDT; 30 days pre-harvest from that day.
    assert line["reentry_ends"] == "2026-06-13T05:00:00Z"
    assert line["harvest_from"] == "2026-07-12"
    assert line["record_ids"] == [str(signed.pk)]


def test_the_season_of_another_year_or_customer_is_empty(as_owner, signed):
    assert as_owner.get("season/?year=2025").json()["lines"] == []
    nobody = uuid.UUID(int=9)
    assert as_owner.get(f"season/?year=2026&customer={nobody}").json()["lines"] == []


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ("", "year"),
        ("year=", "year"),
        ("year=26", "year"),
        ("year=99999999999", "year"),
        ("year=2026&crop=soybean", "crop"),
        ("year=2026&customer=me", "customer"),
    ],
)
def test_a_season_that_is_not_understood_is_refused_by_name(as_owner, query, name):
    assert name in problem_of(as_owner.get(f"season/?{query}"), 400)["errors"]
