"""Errors as problem details (RFC 9457): one shape for every refusal, naming each field."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from typing import Any

from django.db import IntegrityError
from django.utils.translation import gettext
from rest_framework import exceptions, status
from rest_framework.permissions import SAFE_METHODS
from rest_framework.response import Response
from rest_framework.views import exception_handler

from logbook.checks.ratecheck import BadRows
from logbook.errors.exceptions import NotAllowed, NotThere, Refused, RefusedInput
from logbook.errors.faults import PROBLEM
from logbook.facts.messages import gettext_noop, msg
from logbook.localization.locale import localized

LOG_IN = gettext_noop("Log in or send a token: this is for members of a business.")
INPUT = msg("This cannot be asked so.")
CONTENT = msg("Some input cannot be taken.")

logger = logging.getLogger(__name__)


class PreconditionFailed(exceptions.APIException):
    """The row is no longer at the revision that If-Match names."""

    status_code = status.HTTP_412_PRECONDITION_FAILED


class PreconditionRequired(exceptions.APIException):
    """A change needs to say from which revision it was made."""

    status_code = status.HTTP_428_PRECONDITION_REQUIRED


def answer(error: Exception, context: dict[str, Any]) -> Response | None:
    """Return the response for what a view raised.

    None for every other exception: `errors.faults` answers a database that is gone or full, with
    problem details too, and what nobody foresaw is a real 500.
    """
    if isinstance(error, (RefusedInput, BadRows)):
        # It could be read and cannot be followed: RFC 9110, 15.5.21.
        return problem(422, CONTENT, errors=error.errors)
    if isinstance(error, NotAllowed):
        return problem(403, str(error))
    if isinstance(error, NotThere):
        return problem(404, str(error))
    if isinstance(error, Refused):
        return problem(409, str(error))
    if isinstance(error, IntegrityError):
        # The database is the last to refuse; that it had to is worth a line in the log.
        logger.warning("Refused by the database: %s", error)
        return problem(409, msg("It does not fit what is there already; nothing was changed."))
    if isinstance(error, exceptions.NotAuthenticated):
        error.detail = exceptions.ErrorDetail(gettext(LOG_IN))
    if isinstance(error, exceptions.ValidationError):
        # What is asked in the address is refused with it; a body was read, and refused by name.
        asked = getattr(context.get("request"), "method", "GET") in SAFE_METHODS
        status, title = (400, INPUT) if asked else (422, CONTENT)
        return problem(status, title, errors=dict(_paths(error.detail)))
    response = exception_handler(error, context)
    if response is None:
        return None
    named = problem(response.status_code, str(response.data["detail"]))
    for header in ("WWW-Authenticate", "Retry-After", "Allow"):
        if header in response.headers:
            named[header] = response.headers[header]
    return named


def problem(status: int, title: str, *, errors: dict[str, list[str]] | None = None) -> Response:
    """Return a problem-details response; `errors` maps the path of an input to what is wrong."""
    body: dict[str, Any] = {"type": "about:blank", "title": localized(title), "status": status}
    if errors:
        body["errors"] = {path: [localized(text) for text in said] for path, said in errors.items()}
    return Response(body, status=status, content_type=PROBLEM)


def _paths(detail: Any, path: str = "") -> Iterator[tuple[str, list[str]]]:
    """Yield every refusal under the path of its input."""
    if isinstance(detail, dict):
        for key, item in detail.items():
            # What concerns an object as a whole stands under the object's own path.
            part = "" if key == "non_field_errors" else str(key)
            yield from _paths(item, ".".join(filter(None, (path, part))))
    elif isinstance(detail, list) and any(isinstance(item, (dict, list)) for item in detail):
        for place, item in enumerate(detail):
            yield from _paths(item, f"{path}.{place}" if path else str(place))
    else:
        yield (
            path or "body",
            [str(text) for text in (detail if isinstance(detail, list) else [detail])],
        )
