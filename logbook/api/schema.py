"""The OpenAPI schema: what drf-spectacular reads off the views, and the refusals."""

from __future__ import annotations

from functools import cache
from typing import Any

from drf_spectacular.authentication import SessionScheme
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import build_array_type
from drf_spectacular.utils import Direction
from rest_framework import serializers

from calc.units import UNITS
from logbook.accounts.rights import SCOPES
from logbook.api.serializers.base import Strict
from logbook.errors.faults import PROBLEM
from logbook.localization.locale import plain_english


class Problem(serializers.Serializer[Any]):
    """A refusal as problem details (RFC 9457)."""

    type = serializers.CharField()
    title = serializers.CharField(help_text="The refusal in a sentence.")
    status = serializers.IntegerField()
    detail = serializers.CharField(
        required=False, help_text="What was left of the request, and what to do."
    )
    errors = serializers.DictField(  # type: ignore[assignment]
        child=serializers.ListField(child=serializers.CharField()),
        required=False,
        help_text='What is wrong, by the path of the input: "products.0.planned_rate".',
    )


REFUSALS = {
    "400": "The body is no JSON, or a parameter cannot be read; “errors” names it.",
    "401": "Nobody is logged in, or the token opens nothing.",
    "403": "Role or scopes do not carry the right, or the CSRF token of a session is missing.",
    "404": "Nothing of that id is in the business.",
    "409": "It does not fit what is there already. Nothing was changed.",
    "412": "The record is no longer at the revision that If-Match names.",
    "413": "The body is too long.",
    "415": "The body is not application/json.",
    "422": "Some input cannot be taken; “errors” names each by its path. Nothing was changed.",
    "428": "Say from which revision the change was made.",
    "429": "Too many requests; Retry-After says for how many seconds.",
    "503": "Disk, database or cache fail; “detail” says what to do. Retry-After stands where it "
    "may pass by itself.",
}


def _links(followers: dict[str, str]) -> dict[str, Any]:
    """Return links to operations by the id that an answer holds, under the name of the id there.

    Args: followers, the name in the address by operation.
    """
    return {
        operation: {
            "operationId": operation,
            "parameters": {name: "$response.body#/id"},
        }
        for operation, name in followers.items()
    }


def _headers(code: str) -> dict[str, Any]:
    """Return the headers of an answer with that status."""
    text = {"type": "string"}
    found: dict[str, Any] = {
        "RateLimit-Policy": {
            "description": "The quotas: q requests in w seconds.",
            "schema": text,
            "example": '"member";q=1200;w=60',
        },
        "RateLimit": {
            "description": "What is left: r requests in the next t seconds.",
            "schema": text,
            "example": '"member";r=1199;t=42',
        },
    }
    if code == "401":
        found = {"WWW-Authenticate": {"schema": text, "example": 'Bearer realm="logbook"'}}
    if code == "503":
        found = {}
    if code in ("429", "503"):
        found["Retry-After"] = {
            "description": "Seconds until the next request is taken.",
            "schema": {"type": "integer", "minimum": 0},
        }
    return found


class LogbookSchema(AutoSchema):
    """Adds to every operation the refusals it may answer with, a tag and a summary."""

    def get_tags(self) -> list[str]:
        """Return the group of the operation."""
        parts = self.path.removeprefix("/api/v1/").split("/")
        return [" ".join(part for part in parts[: 2 if parts[0] == "shelf" else 1] if part)]

    def get_operation_id(self) -> str:
        """Return the name of the operation, fit to be a name in a program."""
        return str(super().get_operation_id()).replace(".pdf", "")

    def get_summary(self) -> str | None:
        """Return what the operation does, from the view's table by verb."""
        said: dict[str, str] = getattr(self.view, "says", {})
        what = said.get(self.method)
        about = {name: getattr(self.view, name, "") for name in ("shelf", "paper")}
        return what.format(kind=about["shelf"], paper=about["paper"]) if what else None

    def get_description(self) -> str:  # type: ignore[override]
        """Return the docstring of the view."""
        return " ".join((type(self.view).__doc__ or "").split())

    def _map_basic_serializer(self, serializer: Any, direction: Direction) -> Any:
        schema = super()._map_basic_serializer(serializer, direction)  # type: ignore[no-untyped-call]
        if isinstance(serializer, Strict):
            schema["additionalProperties"] = False
        return schema

    def _get_response_bodies(self, direction: Direction = "response") -> dict[str, Any]:
        bodies: dict[str, Any] = super()._get_response_bodies(direction)
        if getattr(self.view, "idempotent", False) and self.method == "POST":
            bodies["201"]["description"] = "Made."
            bodies["200"] = {**bodies["201"], "description": "It was there and says the same."}
        for code in self._refusals():
            body = self._get_response_for_code(  # type: ignore[no-untyped-call]
                Problem, code, [PROBLEM], direction
            )
            bodies[code] = {**body, "description": REFUSALS[code]}
        for code, followers in getattr(self.view, "leads_to", {}).get(self.method, {}).items():
            bodies[code]["links"] = _links(followers)
        for code, body in bodies.items():
            body["headers"] = {**body.get("headers", {}), **_headers(code)}
        return bodies

    def _refusals(self) -> list[str]:
        codes = ["429", "503"]
        writes = self.method in ("POST", "PUT", "PATCH")
        if self.view.authentication_classes:
            codes += ["401", "403"]
        if writes:
            codes += ["400", "413", "415"]
            if self.view.authentication_classes and not getattr(self.view, "stateless", False):
                codes += ["409"]
            codes += ["422"]
        elif self.get_override_parameters() or self._is_list_view():
            codes += ["400", *getattr(self.view, "also_refuses", ())]
        if "{" in self.path or self._is_list_view():
            codes += ["404"]
        if getattr(self.view, "guards_revision", False) and self.method in ("PUT", "PATCH"):
            codes += ["412", "428"]
        return sorted(set(codes))


class TokenLoginScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """Describes the token of a person."""

    target_class = "logbook.api.viewbase.TokenLogin"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:
        """Return the scheme, with the scopes in words: OpenAPI has no list of them for this one."""
        return {
            "type": "http",
            "scheme": "bearer",
            "description": "A token that a person made under “Tokens for programs”. Scopes: "
            + "; ".join(
                f"{scope.value}: {', '.join(sorted(right.value for right in rights))}"
                for scope, rights in SCOPES.items()
            )
            + ". No more than the person's own role. No scope signs: that takes a login.",
        }


class SessionLoginScheme(SessionScheme):  # type: ignore[no-untyped-call]
    """Describes the session cookie."""

    target_class = "logbook.api.viewbase.SessionLogin"
    name = "session"
    priority = 0


@cache
@plain_english()
def the_schema() -> dict[str, Any]:
    """Return the OpenAPI schema, made once: it depends on the code alone."""
    generator = SchemaGenerator()  # type: ignore[no-untyped-call]
    schema: dict[str, Any] = generator.get_schema(  # type: ignore[no-untyped-call]
        request=None, public=True
    )
    return schema


def array_of(schema: dict[str, Any], *, at_most: int) -> dict[str, Any]:
    """Return the schema of a list of one to `at_most` items."""
    return {**build_array_type(schema), "minItems": 1, "maxItems": at_most}


def units_by_dimension() -> dict[str, list[str]]:
    """Return all unit codes by dimension."""
    found: dict[str, list[str]] = {}
    for code, unit in UNITS.items():
        found.setdefault(unit.dimension.replace("_", " "), []).append(code)
    return found
