"""Lines of the log: one for a refusal, none made by what a person typed, and no secret in them."""

from __future__ import annotations

import logging
import re
from copy import copy

from logbook.localization.invisible import made_visible

_ENDS = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]")
_SECRETS = re.compile(r"(/invitation/|/reset/[^/\s]+/|/deadlines/(?=[^/\s]+\.ics))[^/\s?\"']+")
"""The part of an address that opens something to whoever holds it."""


def without_secret(address: str) -> str:
    """Return an address, or a text with addresses, without what would open something."""
    return _SECRETS.sub(r"\1…", address)


class OneLine(logging.Formatter):
    """Writes the ends of lines and other control characters of a message as escapes (CWE-117).

    The trace of a fault keeps its lines; a refusal (400 to 499) is no fault and has none.
    """

    def format(self, record: logging.LogRecord) -> str:
        if _refused(record):
            record = copy(record)
            record.exc_info = record.exc_text = None
        return super().format(record)

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802
        message = made_visible(without_secret(super().formatMessage(record)))
        return _ENDS.sub(_escaped, message)


def _refused(record: logging.LogRecord) -> bool:
    return 400 <= getattr(record, "status_code", 0) < 500


def _escaped(found: re.Match[str]) -> str:
    return found.group().encode("unicode_escape").decode()


class NotAFault(logging.Filter):
    """Leaves out what `errors.faults` has told in one line with its cause: no trace beside it."""

    def filter(self, record: logging.LogRecord) -> bool:
        return not hasattr(getattr(record, "request", None), "fault")
