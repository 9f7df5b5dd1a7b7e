"""The OpenAPI schema is valid and complete; the page that shows it asks nobody else."""

from __future__ import annotations

import json
import re
import uuid
from html.parser import HTMLParser
from typing import Any

import pytest
from django.core.management import call_command
from jsonschema import Draft202012Validator

from calc.units import UNITS
from logbook.api.schema import the_schema
from logbook.api.serializers.catalog import KINDS
from logbook.checks.ratecheck import COLUMNS
from tests.logbook.api.conftest import ROOT, Caller


@pytest.fixture
def schema(visitor: Caller, db: None) -> dict[str, Any]:
    response = visitor.get("schema/")
    assert response.status_code == 200
    assert response["Cache-Control"] == "public, max-age=300"
    return response.json()


def operations(schema: dict[str, Any]) -> list[tuple[str, str, dict[str, Any]]]:
    return [
        (path, verb, operation)
        for path, verbs in schema["paths"].items()
        for verb, operation in verbs.items()
    ]


def test_the_schema_is_valid_and_without_a_warning(tmp_path):
    file = tmp_path / "schema.json"
    call_command("spectacular", "--validate", "--fail-on-warn", "--format=openapi-json", file=file)
    assert json.loads(file.read_text())["openapi"].startswith("3.1")


def test_the_schema_that_is_served_is_the_one_that_is_validated(schema):
    assert schema == json.loads(json.dumps(the_schema()))


def test_every_operation_has_a_name_a_summary_and_a_description(schema):
    found = operations(schema)
    assert len({operation["operationId"] for _, _, operation in found}) == len(found)
    for path, verb, operation in found:
        assert operation["summary"], (path, verb)
        assert operation["description"], (path, verb)
        assert len(operation["tags"]) == 1


def test_every_refusal_is_a_problem(schema):
    for path, verb, operation in operations(schema):
        refusals = {code: what for code, what in operation["responses"].items() if code >= "400"}
        assert "429" in refusals, (path, verb)
        for what in refusals.values():
            (media_type,) = what["content"]
            assert media_type == "application/problem+json"
            assert what["description"]
        if any(operation["security"]):
            assert {"401", "403"} <= set(refusals)


def test_only_two_operations_are_open(schema):
    open_ones = {path for path, _, one in operations(schema) if not any(one["security"])}
    assert open_ones == {f"{ROOT}schema/", f"{ROOT}rate-check/"}


def test_every_answer_lists_the_units_of_its_dimension(schema):
    shapes = schema["components"]["schemas"]
    speeds = [code for code, unit in UNITS.items() if unit.dimension == "speed"]
    for name in ("SpeedAnswer", "SpeedQuantity"):
        entered = shapes[name]["anyOf"][0]
        assert entered["properties"]["unit"]["enum"] == speeds
        assert entered["additionalProperties"] is False
    words = shapes["SpeedAnswer"]["anyOf"][-1]["properties"]["nothing"]["enum"]
    assert words == ["none", "not applicable", "not measured"]
    assert "nothing" not in json.dumps(shapes["SpeedQuantity"])


def test_the_rate_check_names_units_ranges_and_examples(schema):
    body = schema["paths"][f"{ROOT}rate-check/"]["post"]["requestBody"]["content"]
    (content,) = body.values()
    single, many = content["schema"]["oneOf"]
    assert set(single["properties"]) == {*COLUMNS, "unit"}
    assert set(many["properties"]["settings"]["items"]["properties"]) == set(COLUMNS)
    assert single["required"] == ["known_flow", "speed", "spacing"]
    speed = single["properties"]["speed"]
    assert speed["anyOf"][1]["properties"]["unit"]["enum"] == ["km/h", "m/s", "mph", "kn"]
    assert "between 0.1 and 60 km/h" in speed["description"]
    assert len(content["examples"]) == 2


def test_the_examples_of_the_rate_check_are_answered(visitor, schema):
    body = schema["paths"][f"{ROOT}rate-check/"]["post"]["requestBody"]["content"]
    for example in body["application/json"]["examples"].values():
        assert visitor.post("rate-check/", example["value"]).status_code == 200


def test_a_shape_admits_no_other_names(schema):
    for name in ("Record", "Field", "Licence", "Sign"):
        assert schema["components"]["schemas"][name]["additionalProperties"] is False


# --- the page ------------------------------------------------------------------------------------


class Page(HTMLParser):
    """Collects what a page loads, links and names."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.loads: list[str] = []
        self.links: list[str] = []
        self.ids: list[str] = []
        self.inline: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in ("script", "img", "iframe", "link", "source"):
            self.loads.append(given.get("src") or given.get("href") or "")
        if tag == "a":
            self.links.append(given.get("href") or "")
        if tag == "style" or (tag == "script" and not given.get("src")):
            self.inline.append(tag)
        self.inline += [name for name in given if name == "style" or name.startswith("on")]
        if given.get("id"):
            self.ids.append(str(given["id"]))


@pytest.fixture
def page(visitor: Caller, db: None) -> Page:
    response = visitor.get("")
    assert response.status_code == 200
    policy = response["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    return Page(response.content.decode())


def test_the_page_loads_nothing_from_elsewhere_and_nothing_inline(page):
    assert page.loads
    assert all(re.match(r"/static/", address) for address in page.loads), page.loads
    assert page.inline == []


def test_every_link_within_the_page_leads_somewhere(page):
    assert len(set(page.ids)) == len(page.ids)
    inner = [link.removeprefix("#") for link in page.links if link.startswith("#")]
    assert len(inner) > 100
    assert set(inner) <= set(page.ids)
    outer = [link for link in page.links if not link.startswith(("#", "/"))]
    assert outer == []


def test_the_page_shows_every_address_and_every_unit(visitor, schema):
    text = visitor.get("").content.decode()
    for path, verb, operation in operations(schema):
        assert f"{verb.upper()} {path}" in text
        assert operation["summary"] in text
    for code in UNITS:
        assert code in text


def test_the_page_takes_no_other_verb(visitor, db):
    assert visitor.post("", {}).status_code == 405


def test_a_member_reads_the_page_too(as_helper):
    assert as_helper.get("").status_code == 200


# --- what is served is what the schema says ------------------------------------------------------


def assert_as_described(schema: dict[str, Any], verb: str, template: str, response: Any) -> None:
    """Assert that a response is one that the schema describes for its address and verb."""
    described = schema["paths"][ROOT + template][verb.lower()]["responses"]
    content = described[str(response.status_code)]["content"]
    (media_type,) = content
    assert response["Content-Type"] == media_type
    # "nullable" is of OpenAPI 3.0 and would be passed over in 3.1.
    assert '"nullable"' not in json.dumps(schema)
    described = {"$ref": "#/here", "here": content[media_type]["schema"]}
    validator = Draft202012Validator(
        {**described, "components": schema["components"]},
        format_checker=Draft202012Validator.FORMAT_CHECKER,
    )
    validator.validate(response.json())


def test_records_are_served_as_described(as_owner, schema, clean_draft):
    for query in ("", "?state=draft"):
        response = as_owner.get(f"records/{query}")
        assert_as_described(schema, "GET", "records/", response)
    path = f"records/{clean_draft.pk}/"
    assert_as_described(schema, "GET", "records/{record_id}/", as_owner.get(path))
    change = {"revision": clean_draft.revision, "boom_height": "40 in", "distance": None}
    assert_as_described(schema, "PATCH", "records/{record_id}/", as_owner.patch(path, change))
    check = as_owner.get(f"{path}check/")
    assert check.json()["findings"]
    assert_as_described(schema, "GET", "records/{record_id}/check/", check)
    empty = as_owner.post("records/", {"id": str(uuid.UUID(int=5))})
    assert_as_described(schema, "POST", "records/", empty)
    bare = as_owner.get(f"records/{uuid.UUID(int=5)}/check/")
    assert_as_described(schema, "GET", "records/{record_id}/check/", bare)


def test_seals_log_and_season_are_served_as_described(as_owner, schema, signed):
    seal = as_owner.get(f"records/{signed.pk}/seal/")
    assert_as_described(schema, "GET", "records/{record_id}/seal/", seal)
    for address in ("seals/", "log/verify/"):
        assert_as_described(schema, "GET", address, as_owner.get(address))
    assert_as_described(schema, "GET", "season/", as_owner.get("season/?year=2026"))
    new = {"id": str(uuid.UUID(int=5)), "reason": "The speed was written down wrong."}
    draft = as_owner.post(f"records/{signed.pk}/amend/", new)
    assert_as_described(schema, "POST", "records/{record_id}/amend/", draft)
    assert_as_described(
        schema, "GET", "records/{record_id}/", as_owner.get(f"records/{signed.pk}/")
    )


@pytest.mark.parametrize("kind", list(KINDS))
def test_a_shelf_is_served_as_described(as_owner, schema, yard, kind):
    shelf = as_owner.get(f"shelf/{kind}/")
    assert shelf.json()["results"]
    assert_as_described(schema, "GET", f"shelf/{kind}/", shelf)


def test_computations_and_refusals_are_served_as_described(as_owner, visitor, schema, yard):
    wish = {"spacing": "20 in", "speed_low": "7 mph", "speed_high": "9 mph"}
    for change in ({"wished_carrier": "15 gal/ac"}, {"wished_carrier": "150 gal/ac"}, {}):
        response = as_owner.post("nozzle-choice/", {**wish, **change})
        assert_as_described(schema, "POST", "nozzle-choice/", response)
    for body in ({"known_flow": 24, "speed": 12, "spacing": 1200, "planned": 100}, {}):
        assert_as_described(schema, "POST", "rate-check/", visitor.post("rate-check/", body))
    assert_as_described(schema, "GET", "records/", visitor.get("records/"))
    assert_as_described(schema, "GET", "records/", as_owner.get("records/?sate=draft"))
