"""Which licences are said to end soon."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from logbook.accounts.services import expiring_licences
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = date(2026, 6, 12)


def licence(person: Any, number: str, start: str, end: str, place: str = "US-ND") -> Any:
    return person.licences.create(
        number=number,
        authority="State agriculture department",
        place=place,
        categories="agricultural",
        valid_from=date.fromisoformat(start),
        expires_on=date.fromisoformat(end),
    )


def listed(actor: Any) -> list[str]:
    return [found.number for found in expiring_licences(actor=actor, today=TODAY)]


@pytest.fixture
def person(business: Any) -> Any:
    found = make.PersonFactory(business=business)
    licence(found, "old", "2023-04-01", "2026-03-31")
    return found


def test_an_expired_licence_is_listed(owner: Any, person: Any) -> None:
    assert listed(owner) == ["old"]


def test_an_expired_one_is_not_listed_beside_a_valid_one(owner: Any, person: Any) -> None:
    licence(person, "new", "2026-04-01", "2029-03-31")
    assert listed(owner) == []


def test_another_place_another_person_or_a_later_start_does_not_help(
    owner: Any, business: Any, person: Any
) -> None:
    licence(person, "elsewhere", "2026-04-01", "2029-03-31", place="US-MN")
    licence(person, "not yet", "2026-07-01", "2029-03-31")
    licence(make.PersonFactory(business=business), "other's", "2026-04-01", "2029-03-31")
    assert listed(owner) == ["old"]


def test_one_that_ends_soon_is_listed_though_the_old_one_is_not(owner: Any, person: Any) -> None:
    licence(person, "short", "2026-04-01", "2026-06-30")
    assert listed(owner) == ["short"]


def test_nothing_of_another_business_is_listed(stranger: Any, person: Any) -> None:
    assert listed(stranger) == []
