"""Text of a file into plain values, strictly: what two readers could read in two ways is refused.

Refused besides what is no JSON or CSV at all: a file over its size, bytes that are not UTF-8, NUL
and half a surrogate pair, NaN and numbers no float holds, a name given twice, nesting without end.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext as _

from logbook.base.locale import count
from logbook.base.refusals import Refused

MOST_DIGITS = 15
"""More digits than this do not survive in a float, and no whole number of a record needs them."""

MOST_DEPTH = 40
"""Deeper than any member of the layout by far."""

MOST_ROWS = 100_000
MOST_COLUMNS = 200
MOST_IN_A_CELL = 131_072  # characters

_HALF_CHARACTER = re.compile("[\0\ud800-\udfff]")


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
        value = json.loads(
            text,
            parse_constant=_no_constant,
            parse_int=_whole,
            parse_float=_number,
            object_pairs_hook=_once_each,
        )
    except RecursionError:
        raise Refused(_("This is not a file of records: it is nested too deep.")) from None
    except ValueError as bad:
        raise Refused(_("This is not JSON that can be read: %(why)s.") % {"why": bad}) from None
    _refuse_depth_and_half_characters(value)
    return value


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
    csv.field_size_limit(MOST_IN_A_CELL)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            if cells:
                rows.append((reader.line_num, cells))
            if len(rows) > MOST_ROWS or len(cells) > MOST_COLUMNS:
                raise Refused(
                    _(
                        "At most %(rows)s rows of %(columns)d columns are read at once. Export a "
                        "shorter period, or one customer at a time."
                    )
                    % {"rows": count(MOST_ROWS), "columns": MOST_COLUMNS}
                )
    except csv.Error as bad:
        raise Refused(
            _("Line %(line)s: this is not CSV that can be read: %(why)s.")
            % {"line": reader.line_num, "why": bad}
        ) from None
    return rows


def _no_constant(name: str) -> None:
    raise ValueError(_("%(name)s is not a number of JSON") % {"name": name})


def _whole(digits: str) -> int:
    if len(digits.lstrip("-")) > MOST_DIGITS:
        raise ValueError(
            _("%(digits)s has more than %(most)d digits")
            % {"digits": digits[:20], "most": MOST_DIGITS}
        )
    return int(digits)


def _number(digits: str) -> float:
    number = float(digits)
    if math.isinf(number):
        raise ValueError(_("%(digits)s is too large a number") % {"digits": digits[:20]})
    return number


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            raise ValueError(
                _("%(name)s is given twice in one object") % {"name": ascii(name)[:80]}
            )
        found[name] = value
    return found


def _refuse_depth_and_half_characters(value: Any) -> None:
    """Look at every value, one after another: a walk by recursion would meet the depth itself.

    UTF-8 and the parser refuse half a character by themselves; only an escape brings it in.
    """
    place: list[str] = []
    open_items: list[Iterator[tuple[str, Any]]] = [iter([("$", value)])]
    while open_items:
        step = next(open_items[-1], None)
        if step is None:
            open_items.pop()
            del place[len(open_items) - 1 :]
            continue
        name, item = step
        place[len(open_items) - 1 :] = [name]
        if len(open_items) > MOST_DEPTH:
            raise Refused(_("This is not a file of records: it is nested too deep."))
        if _HALF_CHARACTER.search(name) or (isinstance(item, str) and _HALF_CHARACTER.search(item)):
            at = ascii("".join(place))[1:-1]
            raise Refused(
                _("%(place)s: a text cannot hold a NUL or half of a surrogate pair.")
                % {"place": at}
            )
        if isinstance(item, list):
            open_items.append((f"[{number}]", each) for number, each in enumerate(item))
        elif isinstance(item, dict):
            open_items.append((f".{key}", each) for key, each in item.items())
