"""Rows fetched some at a time, where one that cannot be read must not hide the others."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

UNREADABLE = (
    ValueError,
    TypeError,
    LookupError,
    AttributeError,
    ArithmeticError,
    RecursionError,
)
"""What reading a row or a text raises that was put there by hand and makes no sense."""


def each(keys: list[Any], fetch: Callable[[list[Any]], dict[Any, Any]]) -> dict[Any, Any]:
    """Return what `fetch` gives; for a key of a row that cannot be read, the reason as a text."""
    try:
        return fetch(keys) if keys else {}
    except UNREADABLE as error:
        if len(keys) == 1:
            return {keys[0]: words_of(error)}
    return {key: row for one in keys for key, row in each([one], fetch).items()}


def words_of(error: BaseException) -> str:
    """Return what an error says, with its kind."""
    return f"{type(error).__name__}: {error}"
