"""Today is the day of the clock of the business, not of UTC.

In Chicago it is six hours earlier than in UTC in winter (IANA time zone database,
America/Chicago), so both instants here are of the evening before.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from logbook.accounts.grants import give_grant
from logbook.accounts.rights import Role
from logbook.localization.today import today_of
from logbook.records.writing.holds import lift_hold, set_hold
from tests import factories as make
from tests.conftest import sealed_by

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


def let_in(owner: Any, yard: Any, *, now: datetime) -> Any:
    """Return somebody who audits one customer's fields from `now` on."""
    fern = make.UserFactory(email="fern@farm.test")
    customers = [yard.customer.pk]
    give_grant(
        actor=owner, email=fern.email, role=Role.FARM_MANAGER, customer_ids=customers, now=now
    )
    return fern


def test_a_guest_begins_with_the_year_of_the_business(
    browser_of: Callable[[Any], Client], owner: Any, yard: Any
) -> None:
    with time_machine.travel(NEW_YEAR, tick=False):
        fern = let_in(owner, yard, now=NEW_YEAR)
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


EVENING = datetime(2026, 6, 13, 3, tzinfo=UTC)
"""Ten in the evening of the twelfth in Chicago, five hours behind UTC in summer."""


def test_an_access_begins_on_the_day_it_was_given_there(
    browser_of: Callable[[Any], Client], owner: Any, yard: Any
) -> None:
    with time_machine.travel(EVENING, tick=False):
        fern = let_in(owner, yard, now=EVENING)
        assert ", from 2026-06-12" in browser_of(owner).get(reverse("access")).content.decode()
        assert "access on 2026-06-12" in browser_of(fern).get(reverse("audit")).content.decode()


def test_an_offer_is_told_in_the_words_and_days_of_the_page(
    browser_of: Callable[[Any], Client], owner: Any, yard: Any
) -> None:
    with time_machine.travel(EVENING, tick=False):
        browser = browser_of(owner)
        form = {"email": "ives@state.test", "role": "inspector", "every_customer": "on"}
        form |= {"reason": "A complaint", "day_from": "2026-05-01", "ends_on": "2026-06-30"}
        browser.post(reverse("access-give"), form)
        form = {"email": "f@farm.test", "role": "farm manager", "customers": yard.customer.pk}
        browser.post(reverse("access-give"), form)
        type(owner.user).objects.filter(pk=owner.user.pk).update(language="es")
        text = browser_of(owner).get(reverse("access")).content.decode()
    for day in ("1 may 2026", "12 jun 2026", "30 jun 2026"):
        assert day in text
    assert "13 jun 2026" not in text
    assert "administrador agrícola:" in text
    assert "farm manager" not in text


def test_an_invitation_is_sent_on_the_day_there(
    browser_of: Callable[[Any], Client], owner: Any
) -> None:
    with time_machine.travel(EVENING, tick=False):
        browser = browser_of(owner)
        browser.post(reverse("members"), {"email": "new@farm.test", "role": "helper"})
        text = browser.get(reverse("members")).content.decode()
    assert "on 2026-06-12" in text
    assert "holds until 2026-06-19" in text


def test_a_hold_is_set_and_lifted_on_the_day_there(
    browser_of: Callable[[Any], Client], owner: Any, clean_draft: Any
) -> None:
    with time_machine.travel(EVENING, tick=False):
        sealed_by(owner, clean_draft)
        hold = set_hold(actor=owner, hold_id=uuid4(), record_id=None, reason="Asked", now=EVENING)
        lift_hold(actor=owner, hold_id=hold.pk, reason="It is over and done", now=EVENING)
        text = browser_of(owner).get(reverse("keeping")).content.decode()
    assert text.count("on 2026-06-12") == 2
