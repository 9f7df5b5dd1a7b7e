"""Pages by key: every row once, both ways, and no place that was not made here."""

from __future__ import annotations

import json
from base64 import urlsafe_b64encode
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

import pytest

from logbook.errors.exceptions import RefusedInput
from logbook.pagination import page_of, read_place
from logbook.records.models import ApplicationRecord
from tests import factories as make

KEYS = (("book_at", datetime), ("id", UUID))


@pytest.fixture
def seven(business: Any) -> list[Any]:
    """Seven records, three of them at one instant."""
    for day in (1, 2, 3, 3, 3, 4, 5):
        make.ApplicationRecordFactory(
            business=business, started_at=datetime(2026, 6, day, tzinfo=UTC)
        )
    return list(ApplicationRecord.objects.order_by("-book_at", "-id"))


def page(query: dict[str, str], *, descending: bool = True, size: int = 3) -> Any:
    rows = ApplicationRecord.objects.all()
    return page_of(rows, keys=KEYS, descending=descending, query=query, size=size)


@pytest.mark.parametrize("size", [1, 2, 3, 6, 7])
def test_every_row_is_met_once_forwards_and_back(seven: list[Any], size: int) -> None:
    seen, query = [], {}
    while True:
        one = page(query, size=size)
        seen += one.rows
        if not one.after:
            break
        query = {"after": one.after}
    assert seen == seven
    back = list(one.rows)
    while one.before:
        one = page({"before": one.before}, size=size)
        back = one.rows + back
    assert back == seven


def test_the_other_direction_is_the_other_order(seven: list[Any]) -> None:
    assert page({}, descending=False, size=10).rows == seven[::-1]
    first = page({}, descending=False)
    assert page({"after": first.after}, descending=False).rows == seven[::-1][3:6]


def test_one_page_that_holds_all_has_no_other(seven: list[Any]) -> None:
    assert page({}, size=7).alone
    assert page({"after": page({}, size=7).after or page({}, size=6).after}, size=7).before


def test_a_row_that_comes_in_between_moves_no_page(seven: list[Any], business: Any) -> None:
    first = page({})
    make.ApplicationRecordFactory(business=business, started_at=datetime(2026, 7, 1, tzinfo=UTC))
    assert page({"after": first.after}).rows == seven[3:6]


def made(*values: Any) -> str:
    return urlsafe_b64encode(json.dumps(values).encode()).decode()


ID = "0" * 32


@pytest.mark.parametrize(
    "token",
    [
        *("x", "!!", "é", "[]", "A" * 3000, made(), made("2026-06-01T00:00:00+00:00")),
        made("2026-06-01", ID),  # a time without its zone
        made("0001-01-01T00:00:00+14:00", ID),  # in UTC, before the first year
        made("2026-06-01T00:00:00+00:00", "no id"),
        made(5, ID),
        made("2026-06-01T00:00:00+00:00", ID, ID),
        urlsafe_b64encode(b"[" * 1400).decode(),
    ],
)
def test_a_place_that_was_not_made_here_is_refused_by_name(token: str) -> None:
    for name in ("after", "before"):
        with pytest.raises(RefusedInput) as refusal:
            read_place(token, KEYS, name=name)
        assert "no place in this list" in refusal.value.errors[name][0]


@pytest.mark.parametrize("number", [-1, 2**31, True, "7", 1.5, None])
def test_a_number_that_no_column_holds_is_refused(number: Any) -> None:
    with pytest.raises(RefusedInput):
        read_place(made(number), (("number", int),), name="after")


@pytest.mark.parametrize("text", ["a\x00b", "\ud800"])
def test_a_text_that_cannot_be_looked_for_is_refused(text: str) -> None:
    with pytest.raises(RefusedInput):
        read_place(made(text), (("name", str),), name="after")
