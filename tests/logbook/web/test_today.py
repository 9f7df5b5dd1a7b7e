"""Today is the day of the clock of the business, not of UTC.

In Chicago it is six hours earlier than in UTC in winter (IANA time zone database,
America/Chicago), so both instants here are of the evening before.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from logbook.accounts.grants import give_grant
from logbook.accounts.rights import Role
from logbook.base.today import today_of
from tests import factories as make

NEW_YEAR = datetime(2027, 1, 1, 3, tzinfo=UTC)


@pytest.mark.parametrize(
    ("zone", "day"),
    [
        ("America/Chicago", date(2026, 12, 31)),
        ("UTC", date(2027, 1, 1)),
        ("Pacific/Auckland", date(2027, 1, 1)),
    ],
)
def test_the_day_is_that_of_the_clock_of_the_business(zone: str, day: date) -> None:
    assert today_of(make.BusinessFactory.build(time_zone=zone), now=NEW_YEAR) == day


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("season", "<h1>Season 2026</h1>"),
        ("exchange", 'name="from" type="date" value="2026-01-01"'),
        ("season-totals", 'value="2026-12-31"'),
    ],
)
def test_the_usual_year_is_that_of_the_business(
    browser_of: Callable[[Any], Client], owner: Any, name: str, said: str
) -> None:
    with time_machine.travel(NEW_YEAR, tick=False):
        assert said in browser_of(owner).get(reverse(name)).content.decode()


def test_a_guest_begins_with_the_year_of_the_business(
    browser_of: Callable[[Any], Client], owner: Any, yard: Any
) -> None:
    with time_machine.travel(NEW_YEAR, tick=False):
        fern = make.UserFactory(email="fern@farm.test")
        give_grant(
            actor=owner,
            email=fern.email,
            role=Role.FARM_MANAGER,
            customer_ids=[yard.customer.pk],
            now=NEW_YEAR,
        )
        text = browser_of(fern).get(reverse("audit")).content.decode()
    assert 'name="year" inputmode="numeric" value="2026"' in text


def test_a_licence_ends_when_its_last_day_is_over_there(
    browser_of: Callable[[Any], Client], owner: Any, business: Any
) -> None:
    person = make.PersonFactory(business=business)
    make.LicenceFactory(person=person, valid_from="2024-01-01", expires_on="2026-12-31")
    with time_machine.travel(NEW_YEAR, tick=False):
        assert "ends 2026-12-31" in browser_of(owner).get(reverse("today")).content.decode()
    with time_machine.travel("2027-01-01T07:00Z", tick=False):
        assert "2026-12-31" not in browser_of(owner).get(reverse("today")).content.decode()
