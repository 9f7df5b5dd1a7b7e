"""Whatever a view raises becomes a problem with a sentence; a fault of ours stays a fault."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError
from django.http import Http404
from rest_framework.exceptions import NotFound, ValidationError

from logbook.api.errors import answer
from logbook.errors.exceptions import Conflict, NotAllowed, NotThere, Refused, RefusedInput


@pytest.mark.parametrize(
    ("error", "status", "title"),
    [
        (RefusedInput({"speed": ["Too fast."]}), 422, "Some input cannot be taken."),
        (NotAllowed("As helper you may not sign records."), 403, "As helper you may not"),
        (PermissionDenied(), 403, "permission"),
        (NotThere("There is no such record."), 404, "There is no such record."),
        (NotFound("Invalid cursor"), 404, "Invalid cursor"),
        (Http404(), 404, "Not found."),
        (Refused("This record is signed."), 409, "This record is signed."),
        (Conflict("Changed elsewhere."), 409, "Changed elsewhere."),
        (IntegrityError("UNIQUE constraint failed: secret_table"), 409, "nothing was changed"),
    ],
)
def test_a_refusal_is_a_problem_with_its_sentence(error, status, title):
    response = answer(error, {})
    assert response.status_code == response.data["status"] == status
    assert title in response.data["title"]
    assert "secret" not in str(response.data)
    assert response.content_type == "application/problem+json"


@pytest.mark.parametrize(
    ("detail", "errors"),
    [
        ({"a": ["x"]}, {"a": ["x"]}),
        ("x", {"body": ["x"]}),
        ({"a": {"0": {"b": ["x"]}}}, {"a.0.b": ["x"]}),
        ({"a": [{}, {"b": ["x", "y"]}]}, {"a.1.b": ["x", "y"]}),
        ({"a": {"non_field_errors": ["x"]}}, {"a": ["x"]}),
        ({"non_field_errors": ["x"]}, {"body": ["x"]}),
        ([{"a": ["x"]}], {"0.a": ["x"]}),
    ],
)
def test_what_is_wrong_stands_under_the_path_of_its_input(detail, errors):
    assert answer(ValidationError(detail), {}).data["errors"] == errors


def test_a_fault_of_ours_is_not_dressed_up_as_a_refusal():
    assert answer(ZeroDivisionError(), {}) is None
