"""Text of a file into plain values, strictly: what two readers could read in two ways is refused.

Refused besides what is no JSON or CSV at all: a file over its size, bytes that are not UTF-8, and
all that `facts.strict_json` refuses.
"""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from django.utils.translation import gettext as _

from logbook.errors.exceptions import Refused
from logbook.facts import strict_json
from logbook.localization.locale import count, localized

MAX_DIGITS = 15
"""More digits than this do not survive in a float, and no whole number of a record needs them."""

MAX_ROWS = 100_000
MAX_COLUMNS = 200
MAX_IN_A_CELL = 131_072  # characters


def decoded(raw: bytes, *, most_bytes: int) -> str:
    """Return the text of the bytes, without a byte order mark.

    Raises: Refused, saying at which byte it stops being UTF-8, or how large a file may be.
    """
    if len(raw) > most_bytes:
        raise Refused(
            _(
                "The file has %(bytes)s bytes; at most %(most)s are read at once. Export a "
                "shorter period, or one customer at a time."
            )
            % {"bytes": count(len(raw)), "most": count(most_bytes)}
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as bad:
        raise Refused(
            _("The file is not UTF-8: byte %(place)d fits no character.") % {"place": bad.start + 1}
        ) from None
    if not text.strip():
        raise Refused(_("The file is empty."))
    return text


def json_value(text: str) -> Any:
    """Return the value of a JSON text (RFC 8259).

    Raises: Refused, saying where it stops being JSON or what in it is not taken.
    """
    try:
        return strict_json.json_value(text, max_digits=MAX_DIGITS)
    except strict_json.NotJson as bad:
        why = localized(bad.why)
        if bad.paths:
            place = ascii(strict_json.from_root(bad.paths[0]))[1:-1]
            raise Refused(f"{place}: {why}.") from None
        raise Refused(_("This is not JSON that can be read: %(why)s.") % {"why": why}) from None


def compact(value: Any) -> str:
    """Return the JSON text of a value, without blanks."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def csv_rows(text: str) -> list[tuple[int, list[str]]]:
    """Return the rows of a CSV text (RFC 4180), each with the number of its last line.

    Raises: Refused, naming the row.
    """
    if "\0" in text:
        raise Refused(_("The file holds a NUL, which no text of a record can."))
    # The limit is one for the process; sheets read cells that are longer.
    csv.field_size_limit(MAX_IN_A_CELL)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            if cells:
                rows.append((reader.line_num, cells))
            if len(rows) > MAX_ROWS or len(cells) > MAX_COLUMNS:
                raise Refused(
                    _(
                        "At most %(rows)s rows of %(columns)d columns are read at once. Export a "
                        "shorter period, or one customer at a time."
                    )
                    % {"rows": count(MAX_ROWS), "columns": MAX_COLUMNS}
                )
    except csv.Error as bad:
        raise Refused(
            _("Line %(line)s: this is not CSV that can be read: %(why)s.")
            % {"line": reader.line_num, "why": bad}
        ) from None
    return rows
