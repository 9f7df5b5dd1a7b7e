"""Lines of the log: what a person typed begins no line of its own."""

from __future__ import annotations

import logging
import re

_ENDS = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]")


class OneLine(logging.Formatter):
    """Writes the ends of lines and other control characters of a message as escapes (CWE-117).

    The trace of a fault keeps its lines.
    """

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802
        return _ENDS.sub(_escaped, super().formatMessage(record))


def _escaped(found: re.Match[str]) -> str:
    return found.group().encode("unicode_escape").decode()


class NotAFault(logging.Filter):
    """Leaves out what `base.faults` has told in one line with its cause: no trace beside it."""

    def filter(self, record: logging.LogRecord) -> bool:
        return not hasattr(getattr(record, "request", None), "fault")
