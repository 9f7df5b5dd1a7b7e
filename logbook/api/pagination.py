"""Pages by cursor: page 20,000 costs what page 1 costs."""

from __future__ import annotations

from datetime import UTC
from typing import Any

from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _
from rest_framework.exceptions import NotFound, ValidationError
from rest_framework.pagination import Cursor, CursorPagination
from rest_framework.request import Request


class ByCursor(CursorPagination):
    """Newest first; the cursor is opaque and the links say where to go on."""

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200
    ordering: tuple[str, ...] = ("-created_at", "-id")
    page_size_query_description = "How many results on a page; 50, and at most 200."
    cursor_query_description = "Where to go on, out of “next” or “previous”."

    def get_page_size(self, request: Request) -> int:
        """Return how many results were asked for.

        Raises: ValidationError naming page_size if that is no number from 1 to the most allowed.
        """
        given = request.query_params.get(self.page_size_query_param)
        if given is None:
            return self.page_size
        # What is read is what was looked at; Python reads no number of thousands of digits.
        plain = len(given) <= 9 and given.isascii() and given.isdigit()
        if not (plain and 1 <= int(given) <= self.max_page_size):
            said = _("Give a whole number from 1 to %(most)d.") % {"most": self.max_page_size}
            raise ValidationError({self.page_size_query_param: [said]})
        return int(given)

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:
        """Return the parameters of a page."""
        cursor, size = super().get_schema_operation_parameters(view)
        size["schema"] |= {"minimum": 1, "maximum": self.max_page_size, "default": self.page_size}
        return [cursor, size]

    def decode_cursor(self, request: Request) -> Cursor | None:
        """Return where to go on.

        Raises: NotFound for a cursor that this service has not made.
        """
        cursor = super().decode_cursor(request)
        position = None if cursor is None else cursor.position
        if position is not None and not self.known(str(position)):
            raise NotFound(self.invalid_cursor_message)
        return cursor

    def known(self, position: str) -> bool:
        """Return whether a position is one of the ordering column."""
        try:
            instant = parse_datetime(position)
            return (
                instant is not None and instant.tzinfo is not None and bool(instant.astimezone(UTC))
            )
        except (ValueError, OverflowError):
            return False

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """Return the schema of a page."""
        link = {"type": ["string", "null"], "format": "uri"}
        return {
            "type": "object",
            "required": ["next", "previous", "results"],
            "properties": {"next": link, "previous": link, "results": schema},
        }


class ByBook(ByCursor):
    """In the order of the book: the newest work first."""

    ordering = ("-book_at", "-id")


class ByNumber(ByCursor):
    """The highest number first."""

    ordering = ("-number",)

    def known(self, position: str) -> bool:
        """Return whether a position is a number that fits its column."""
        return position.isascii() and position.isdigit() and int(position) < 2**31


class ByDue(ByCursor):
    """The first due first; what waits without an instant comes last."""

    ordering = ("due_or_last", "record_id")
