"""What is no good JSON is refused before anything reads it, and is never a fault of ours."""

from __future__ import annotations

import json
import uuid
from typing import Any

import pytest

from logbook.api.parsers import MAX_BYTES, MAX_BYTES_OF_MANY
from tests.logbook.api.conftest import problem_of

NEW = uuid.UUID(int=11)

BROKEN = [
    (b"{", "not JSON"),
    (b'{"id": }', "not JSON"),
    (b"{'id': 1}", "not JSON"),
    (b'{"id": 1} x', "not JSON"),
    (b'{"id": NaN}', "NaN is not a number of JSON"),
    (b'{"id": Infinity}', "Infinity is not a number of JSON"),
    (b'{"id": -Infinity}', "-Infinity is not a number of JSON"),
    (b'{"id": 1, "id": 2}', "'id' is given twice in one object"),
    (b'{"a": {"b": 1, "b": 1}}', "'b' is given twice in one object"),
    (b'{"note": "a\x00b"}', "not JSON"),
    (b'{"note": "\xff"}', "not JSON"),
    (b'{"note": "\xed\xa0\x80"}', "not JSON"),  # a surrogate written as if it were a letter
    (b"\xef\xbb\xbf{}", "not JSON"),  # a byte order mark, which RFC 8259 8.1 forbids to send
    ('{"note": "é"}'.encode("utf-16"), "not JSON"),
    (b"[" * 100_000, "nested too deep"),
    (b'{"a":' * 50_000, "nested too deep"),
    (b"1" * 5000, "not JSON"),
]


@pytest.mark.parametrize(("raw", "says"), BROKEN)
@pytest.mark.parametrize("address", ["records/", "shelf/customers/"])
def test_what_is_no_json_is_refused(as_owner, rows, address, raw, says):
    before = rows()
    assert says in problem_of(as_owner.post(address, raw), 400)["title"]
    assert rows() == before


def test_an_empty_body_is_told_what_is_needed(as_owner, visitor, rows):
    before = rows()
    assert "id" in problem_of(as_owner.post("records/", b""), 422)["errors"]
    assert "speed" in problem_of(visitor.post("rate-check/", b""), 422)["errors"]
    assert rows() == before


@pytest.mark.parametrize(("raw", "says"), BROKEN)
def test_the_open_address_refuses_it_too(visitor, db, raw, says):
    assert says in problem_of(visitor.post("rate-check/", raw), 400)["title"]


@pytest.mark.parametrize(
    ("text", "path"),
    [
        (r'{"note": "a\u0000b"}', "note"),
        (r'{"note": "half \ud83d"}', "note"),
        (r'{"note": "\udc00\ud83d"}', "note"),
        (r'{"products": [{"target": "\u0000"}]}', "products.0.target"),
        (r'{"a\u0000b": 1}', "body"),
        (r'{"boundary": {"type": "\ud800"}}', "boundary.type"),
    ],
)
def test_a_text_that_no_database_keeps_is_named_by_its_path(as_owner, rows, text, path):
    before = rows()
    assert list(problem_of(as_owner.post("records/", text), 422)["errors"]) == [path]
    assert rows() == before


def test_letters_of_all_scripts_and_whole_surrogate_pairs_are_kept(as_owner):
    name = "Žitné pole · 小麦 🌾"
    new = {"id": str(NEW), "name": name, "address": "Box 12"}
    for raw in (json.dumps(new), json.dumps(new, ensure_ascii=False)):
        response = as_owner.post("shelf/customers/", raw)
        assert response.status_code in (200, 201)
        assert response.json()["name"] == name


def test_a_body_that_is_too_long_is_not_read_to_its_end(as_owner, visitor, rows):
    before = rows()
    long = b'{"note": "' + b"x" * MAX_BYTES + b'"}'
    assert str(MAX_BYTES) in problem_of(as_owner.post("records/", long), 413)["title"]
    problem_of(visitor.post("rate-check/", b" " * (MAX_BYTES_OF_MANY + 1)), 413)
    assert rows() == before


@pytest.mark.parametrize(
    "media_type", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""]
)
def test_another_media_type_is_refused(as_owner, rows, media_type):
    before = rows()
    response = as_owner.client.generic(
        "POST", "/api/v1/records/", '{"id": "1"}', content_type=media_type
    )
    problem_of(response, 415)
    assert rows() == before


def test_the_charset_in_the_media_type_does_not_matter(as_owner):
    response = as_owner.client.generic(
        "POST",
        "/api/v1/records/",
        json.dumps({"id": str(NEW)}),
        content_type="Application/JSON; charset=utf-8",
    )
    assert response.status_code == 201


HUGE: list[Any] = [10**400, -(10**400), 1e308, 1e-308, 2**63, 2**31, -1, 0.123456, "9" * 400]


@pytest.mark.parametrize("number", HUGE)
@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("rigs", "nozzle_count"),
        ("rigs", "tank_accuracy_percent"),
        ("nozzles", "exponent"),
        ("nozzles", "angle"),
        ("labels", "reentry_hours"),
        ("labels", "preharvest_days"),
    ],
)
def test_a_number_beyond_its_column_is_named(as_owner, rows, kind, name, number):
    before = rows()
    raw = json.dumps({"id": str(NEW), name: number})
    assert name in problem_of(as_owner.post(f"shelf/{kind}/", raw), 422)["errors"]
    assert rows() == before


def test_a_number_that_overflows_to_infinity_is_refused(as_owner, yard, rows):
    before = rows()
    ring = "[[-97.2,47.1],[-97.19,47.1],[-97.19,47.104,1e999],[-97.2,47.1]]"
    raw = f'{{"boundary": {{"type": "Polygon", "coordinates": [{ring}]}}}}'
    problem = problem_of(as_owner.patch(f"shelf/fields/{yard.field.pk}/", raw), 400)
    assert "1e999 is too large a number" in problem["title"]
    assert rows() == before
