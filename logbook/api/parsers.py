"""Strict JSON in: what another reader would read differently, or a database refuse, is refused."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext as _
from rest_framework import status
from rest_framework.exceptions import APIException, ParseError, ValidationError
from rest_framework.parsers import BaseParser

MOST_BYTES = 1_000_000
MOST_BYTES_OF_MANY = 12_000_000
"""Room for 10,000 settings with a value and a unit in every field."""


class TooLarge(APIException):
    """The body is longer than this address reads."""

    status_code = status.HTTP_413_REQUEST_ENTITY_TOO_LARGE
    default_code = "too_large"


class StrictJSONParser(BaseParser):
    """Reads RFC 8259 JSON in UTF-8.

    Refused besides: NaN and Infinity, a name given twice in one object, a NUL or half a surrogate
    pair in a text, and nesting that no body of this API has.
    """

    media_type = "application/json"
    most_bytes = MOST_BYTES

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        """Return the parsed body.

        Raises: TooLarge; ParseError if it is not JSON; ValidationError naming a text by its path.
        """
        raw = stream.read(self.most_bytes + 1)
        if len(raw) > self.most_bytes:
            raise TooLarge(
                _("The body is too long; at most %(most)d bytes are read here.")
                % {"most": self.most_bytes}
            )
        try:
            text = raw.decode("utf-8")
            body = json.loads(text, parse_constant=_no_constant, object_pairs_hook=_once_each)
        except RecursionError:
            raise ParseError(
                _("This is not JSON that can be read: it is nested too deep.")
            ) from None
        except ValueError as bad:
            raise ParseError(
                _("This is not JSON that can be read: %(why)s") % {"why": bad}
            ) from None
        # Only an escape can bring in a NUL or a lone surrogate: UTF-8 and the parser refuse both.
        if "\\u" in text:
            bad_texts = {
                path: [_("A text cannot hold a NUL or half of a surrogate pair.")]
                for path, value in _texts(body)
                if "\0" in value or any("\ud800" <= letter <= "\udfff" for letter in value)
            }
            if bad_texts:
                raise ValidationError(bad_texts)
        return body


class ManyRowsParser(StrictJSONParser):
    """Reads a body with many rows."""

    most_bytes = MOST_BYTES_OF_MANY


def _no_constant(name: str) -> None:
    raise ValueError(_("%(name)s is not a number of JSON") % {"name": name})


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        counts = Counter(name for name, _ in pairs)
        twice = next(name for name, count in counts.items() if count > 1)
        raise ValueError(_("%(name)s is given twice in one object") % {"name": ascii(twice)[:80]})
    return found


def _texts(value: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """Yield every text of a body under its path; a name counts as a text of its object."""
    if isinstance(value, str):
        yield path or "body", value
    elif isinstance(value, list):
        for place, item in enumerate(value):
            yield from _texts(item, f"{path}.{place}" if path else str(place))
    elif isinstance(value, dict):
        for name, item in value.items():
            yield path or "body", name
            yield from _texts(item, f"{path}.{name}" if path else name)
