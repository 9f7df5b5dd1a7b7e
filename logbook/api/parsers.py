"""Strict JSON in: what another reader would read differently, or a database refuse, is refused."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from rest_framework import status
from rest_framework.exceptions import APIException, ParseError, ValidationError
from rest_framework.parsers import BaseParser

from logbook.facts.strict_json import NotJson, dotted, json_value
from logbook.localization.locale import localized
from logbook.readers import MAX_PICTURE_BYTES

MAX_BYTES = 1_000_000
MAX_BYTES_OF_MANY = 12_000_000
"""Room for 10,000 settings with a value and a unit in every field."""


class TooLarge(APIException):
    """The body is longer than this address reads."""

    status_code = status.HTTP_413_REQUEST_ENTITY_TOO_LARGE
    default_code = "too_large"


class StrictJSONParser(BaseParser):
    """Reads JSON in UTF-8, strictly (`facts.strict_json`)."""

    media_type = "application/json"
    most_bytes = MAX_BYTES

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
            return json_value(raw.decode("utf-8"))
        except UnicodeDecodeError as bad:
            why = str(bad)
        except NotJson as bad:
            why = localized(bad.why)
            if bad.paths:
                raise ValidationError({dotted(at) or "body": [why] for at in bad.paths}) from None
        raise ParseError(_("This is not JSON that can be read: %(why)s.") % {"why": why})


class PictureParser(StrictJSONParser):
    """Reads a body with a picture in base64, which takes four letters for three bytes."""

    most_bytes = MAX_PICTURE_BYTES * 4 // 3 + 10_000


class ManyRowsParser(StrictJSONParser):
    """Reads a body with many rows."""

    most_bytes = MAX_BYTES_OF_MANY
