"""JSON (RFC 8259) read strictly: what two programs could read in two ways is refused.

Refused besides what is no JSON at all: NaN, Infinity and numbers that no float holds, a name given
twice in one object, NUL and half a surrogate pair, nesting without end.
"""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Iterator
from functools import partial
from typing import Any

from logbook.facts.messages import msg, term

MAX_DEPTH = 40
"""Deeper than anything that is read here by far."""

Path = tuple[str | int, ...]

_NESTED = frozenset((dict, list))
_DIGITS = bytes.maketrans(b"123456789+E", b"0000000000e")
_HALF_CHARACTER = re.compile("[\0\ud800-\udfff]")


class NotJson(ValueError):
    """A text that is not read: why, as a message, and the paths of the texts it is about, if any.

    A path that ends in the name of a member is about the member, or about that name itself.
    """

    def __init__(self, why: str, paths: tuple[Path, ...] = ()) -> None:
        super().__init__(term(why))
        self.why, self.paths = term(why), paths


def json_value(text: str, *, max_digits: int | None = None) -> Any:
    """Return the value of a JSON text.

    Args: max_digits that a whole number may have; None, as many as Python reads.
    Raises: NotJson.
    """
    try:
        value = json.loads(
            text,
            parse_constant=_no_constant,
            parse_int=partial(_whole, max_digits) if max_digits else None,
            parse_float=_number if _may_overflow(text) else None,
            object_pairs_hook=_once_each,
        )
        _check_depth(value)
    except RecursionError:
        raise NotJson(msg("it is nested too deep")) from None
    except NotJson:
        raise
    except ValueError as bad:
        raise NotJson(str(bad)) from None
    # UTF-8 and the parser refuse half a character by themselves; only an escape brings it in.
    if "\\" in text and (paths := tuple(_half_characters(value))):
        raise NotJson(msg("a text cannot hold a NUL or half of a surrogate pair"), paths)
    return value


def dotted(path: Path) -> str:
    """Return a path as "products.0.target", without a name that is itself no text."""
    return ".".join(str(part) for part in path if not _HALF_CHARACTER.search(str(part)))


def from_root(path: Path) -> str:
    """Return a path as "$.products[0].target"."""
    return "".join(("$", *(f"[{part}]" if isinstance(part, int) else f".{part}" for part in path)))


def _no_constant(name: str) -> None:
    raise NotJson(msg("{name} is not a number of JSON", name=name))


def _whole(max_digits: int, digits: str) -> int:
    if len(digits.lstrip("-")) > max_digits:
        raise NotJson(
            msg("{digits} has more than {most} digits", digits=digits[:20], most=max_digits)
        )
    return int(digits)


def _may_overflow(text: str) -> bool:
    """Return whether a number is so long, or has so large an exponent, that it may be no float.

    Looking at each number as it is read would take longer than reading it.
    """
    rough = text.encode(errors="replace").translate(_DIGITS)
    # From the end, so that the rare "e" is looked for and not the digit behind it.
    return rough.rfind(b"e000") >= 0 or b"0" * 309 in rough


def _number(digits: str) -> float:
    number = float(digits)
    if math.isinf(number):
        raise NotJson(msg("{digits} is too large a number", digits=digits[:20]))
    return number


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        counts = Counter(name for name, _value in pairs)
        twice = next(name for name, count in counts.items() if count > 1)
        raise NotJson(msg("{name} is given twice in one object", name=ascii(twice)[:80]))
    return found


def _check_depth(value: Any) -> None:
    level: list[Any] = [[value]]
    for _depth in range(MAX_DEPTH + 1):
        within = (item.values() if type(item) is dict else item for item in level)
        level = [item for items in within for item in items if type(item) in _NESTED]
    if level:
        raise RecursionError


def _half_characters(value: Any, path: Path = ()) -> Iterator[Path]:
    """Yield the path of every text, or name, with a NUL or half a surrogate pair in it."""
    if isinstance(value, str):
        if _HALF_CHARACTER.search(value):
            yield path
    elif isinstance(value, list):
        for place, item in enumerate(value):
            yield from _half_characters(item, (*path, place))
    elif isinstance(value, dict):
        for name, item in value.items():
            if _HALF_CHARACTER.search(name):
                yield (*path, name)
            yield from _half_characters(item, (*path, name))
